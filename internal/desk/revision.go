package desk

import (
	"fmt"
	"time"

	"ribdesk/internal/document"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/store"
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
type Differs struct{ What, Was, Is string }

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
type says struct{ what, text string }

func compareQuotes(was, is *document.Quote) (out []Differs) {
	before, after := statements(was), statements(is)
	text := map[string]string{}
	for _, s := range after {
		text[s.what] = s.text
	}
	old := map[string]bool{}
	for _, s := range before {
		old[s.what] = true
		if text[s.what] != s.text {
			out = append(out, Differs{s.what, s.text, text[s.what]})
		}
	}
	for _, s := range after {
		if !old[s.what] {
			out = append(out, Differs{What: s.what, Is: s.text})
		}
	}
	return out
}

// statements lists what a quote says; each thing has a name of its own, so that
// the same thing is found in the other quote.
func statements(q *document.Quote) (out []says) {
	times := map[string]int{}
	add := func(what, text string) {
		if times[what]++; times[what] > 1 {
			what = fmt.Sprintf("%s (%d)", what, times[what])
		}
		if text != "" {
			out = append(out, says{what, text})
		}
	}
	for _, l := range q.Lines {
		what := l.Profile
		for _, part := range []string{l.Name, l.Gauge, l.Material, l.Colour} {
			if part != "" && what != "" {
				what += ", "
			}
			what += part
		}
		if l.Length > 0 {
			what += ", " + l.Length.Pretty()
		}
		add(what, fmt.Sprintf("%d pieces at %s, %s", l.Pieces, l.UnitPrice.Fixed(2), l.Net.Format()))
	}
	for _, c := range q.Charges {
		add(c.Name, c.Net.Format())
	}
	for _, t := range q.Taxes {
		add("Tax, "+t.Jurisdiction, t.Tax.Format())
	}
	for _, e := range q.Exempt {
		add("Exempt of tax", "certificate "+e.Certificate)
	}
	if q.Sharing != nil && q.Alone != nil {
		add("Total alone", q.Alone.Total.Format())
		add("Total sharing a set-up", q.Sharing.Total.Format())
	}
	add("Total", q.Total.Format())
	add("Deposit", q.Deposit.Format())
	add("Valid until", q.ValidUntil.Format("January 2, 2006"))
	add("Lead time", q.LeadTime)
	add("Terms", q.Terms)
	add("Delivered to", q.ShipTo.Address.Line())
	add("Customer PO", q.PO)
	return out
}
