package desk

import (
	"fmt"
	"time"

	"ribdesk/internal/document"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/store"
	"ribdesk/internal/words"
)

// Revision is a quote that took the place of an earlier one, and in what they
// differ. Both stand as they were issued; the difference is read from their
// stored records.
type Revision struct {
	No      int
	At      time.Time
	PaperID int64
	Total   money.Amount
	Differs []Differs
}

// Differs is one thing that a revision says otherwise; Was or Is is empty where
// it came or went.
type Differs struct{ What, Was, Is *words.Text }

// revisions compares each quote of an order with the one before.
func revisions(tx *store.Tx, papers []order.Paper) (out []Revision, err error) {
	var quotes []order.Paper
	for _, p := range papers {
		if p.Kind == string(document.KindQuote) {
			quotes = append(quotes, p)
		}
	}
	if len(quotes) < 2 {
		return nil, nil
	}
	var before *document.Quote
	for _, p := range quotes {
		if p, err = tx.Paper(p.ID); err != nil {
			return nil, err
		}
		doc, err := document.Decode(document.KindQuote, p.Body)
		if err != nil {
			return nil, err
		}
		q, ok := doc.(*document.Quote)
		if !ok {
			return nil, fmt.Errorf("paper %d is no quote", p.ID)
		}
		if before != nil {
			out = append(out, Revision{No: p.Revision, At: p.At, PaperID: p.ID, Total: q.Total, Differs: compareQuotes(before, q)})
		}
		before = q
	}
	return out, nil
}

// says is one thing that a quote states.
type says struct{ what, text words.Text }

func compareQuotes(was, is *document.Quote) (out []Differs) {
	before, after := statements(was), statements(is)
	now, old := map[string]*words.Text{}, map[string]bool{}
	for _, s := range after {
		now[s.what.String()] = &s.text
	}
	for _, s := range before {
		old[s.what.String()] = true
		if is := now[s.what.String()]; is == nil || is.String() != s.text.String() {
			out = append(out, Differs{&s.what, &s.text, is})
		}
	}
	for _, s := range after {
		if !old[s.what.String()] {
			out = append(out, Differs{What: &s.what, Is: &s.text})
		}
	}
	return out
}

// statements lists what a quote says; each thing has a name of its own, so that
// the same thing is found in the other quote.
func statements(q *document.Quote) (out []says) {
	times := map[string]int{}
	add := func(what, text words.Text) {
		name := what.String()
		if times[name]++; times[name] > 1 {
			what = words.Say("%s (%d)", what, times[name])
		}
		if text.String() != "" {
			out = append(out, says{what, text})
		}
	}
	plain := func(s string) words.Text { return words.Say("%s", s) }
	for _, l := range q.Lines {
		what := l.Profile
		for _, part := range []string{l.Name, l.Gauge, l.Material, l.Colour} {
			if part != "" && what != "" {
				what += ", "
			}
			what += part
		}
		of := plain(what)
		if l.Length > 0 {
			of = words.Say("%s, %s", what, l.Length)
		}
		add(of, words.Say("%d pieces at %s, %s", l.Pieces, l.UnitPrice.Fixed(2), l.Net.Format()))
	}
	for _, c := range q.Charges {
		add(plain(c.Name), plain(c.Net.Format()))
	}
	for _, t := range q.Taxes {
		add(words.Say("Tax, %s", t.Jurisdiction), plain(t.Tax.Format()))
	}
	for _, e := range q.Exempt {
		add(words.Say("Exempt of tax"), words.Say("certificate %s", e.Certificate))
	}
	if q.Sharing != nil && q.Alone != nil {
		add(words.Say("Total alone"), plain(q.Alone.Total.Format()))
		add(words.Say("Total sharing a set-up"), plain(q.Sharing.Total.Format()))
	}
	add(words.Say("Total"), plain(q.Total.Format()))
	add(words.Say("Deposit"), plain(q.Deposit.Format()))
	add(words.Say("Valid until"), words.Say("%s", words.Date(q.ValidUntil)))
	add(words.Say("Lead time"), plain(q.LeadTime))
	add(words.Say("Terms"), plain(q.Terms))
	add(words.Say("Delivered to"), plain(q.ShipTo.Address.Line()))
	add(words.Say("Customer PO"), plain(q.PO))
	return out
}
