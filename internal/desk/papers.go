package desk

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math"
	"strings"
	"time"

	"ribdesk/internal/document"
	"ribdesk/internal/drawing"
	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/metal"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/price"
	"ribdesk/internal/store"
	"ribdesk/internal/words"
)

// issue prints a paper and keeps record, bytes and hash for good, in the
// transaction of the step that it belongs to.
func (d *Desk) issue(tx *store.Tx, actor party.Actor, o order.Order, c party.Customer, doc document.Document) (order.Paper, error) {
	return issuePaper(tx, actor, order.Paper{OrderID: o.ID, CustomerID: c.ID}, doc)
}

// issuePaper is issue for papers of any subject; p brings the ids.
func issuePaper(tx *store.Tx, actor party.Actor, p order.Paper, doc document.Document) (order.Paper, error) {
	pdf, err := document.Render(doc)
	if err != nil {
		return p, err
	}
	if p.Body, err = document.Record(doc); err != nil {
		return p, err
	}
	head := document.HeadOf(doc)
	sum := sha256.Sum256(pdf)
	p.Kind, p.Number, p.Revision, p.Edition = string(doc.Kind()), head.Number, head.Revision, document.Edition
	p.PDF, p.SHA256 = pdf, hex.EncodeToString(sum[:])
	p.Title = strings.ReplaceAll(p.Kind, "-", " ") + " " + p.Number
	return tx.AddPaper(actor, p)
}

// Paper gives an issued document that the actor may look at.
func (d *Desk) Paper(ctx context.Context, actor party.Actor, id int64) (p order.Paper, err error) {
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		if p, err = tx.Paper(id); err != nil {
			return err
		}
		if actor.Role.Staff() {
			return nil
		}
		if !actor.Sees(p.CustomerID) || !forCustomers[document.Kind(p.Kind)] {
			return fault.NotFoundf("there is no such document")
		}
		return nil
	})
	if err != nil {
		return order.Paper{}, err
	}
	return p, nil
}

// PaperByLink gives a document of the order that a private link opens.
func (d *Desk) PaperByLink(ctx context.Context, token string, id int64) (p order.Paper, err error) {
	f, err := d.OpenLink(ctx, token)
	if err != nil {
		return p, err
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		p, err = tx.Paper(id)
		return err
	})
	if err == nil && (p.OrderID != f.Order.ID || !forCustomers[document.Kind(p.Kind)]) {
		return order.Paper{}, fault.NotFoundf("there is no such document")
	}
	return p, err
}

// forCustomers are the papers a customer gets; the others stay in the shop.
var forCustomers = map[document.Kind]bool{
	document.KindQuote: true, document.KindAcknowledgement: true, document.KindDeliveryTicket: true,
	document.KindTakeOff: true, document.KindInvoice: true, document.KindCreditMemo: true, document.KindStatement: true,
	InvoiceFile: true, CreditMemoFile: true,
}

// head fills what every paper of an order carries.
func (s *snapshot) head(o order.Order, c party.Customer, now time.Time, by string) document.Head {
	h := document.Head{
		Number: o.Number, Revision: o.Revision, State: s.readerOf(c).Read(o.State), Issued: now.In(s.seller.Location()), By: by, Code: o.Number,
		Language: words.Language(c.Language), Paper: s.paperSize(), Style: c.Style, Seller: s.firm(), Customer: buyerFirm(c, o), Job: o.Job, PO: o.PO,
	}
	if h.Style == "" {
		h.Style = s.seller.Style
	}
	if o.Fulfil != order.PickUp {
		h.ShipTo = document.Place{Name: o.Job, Address: o.ShipTo, Contact: o.Contact.Name, Phone: o.Contact.Phone}
	}
	return h
}

func (s *snapshot) paperSize() document.Paper {
	if s.seller.Sheet == "A4" {
		return document.A4
	}
	return document.Letter
}

func (s *snapshot) firm() document.Firm {
	f := s.seller
	return document.Firm{Name: f.Legal, Address: f.Address, Phone: f.Phone, Email: f.Email, Registration: f.Registration, TaxNumber: f.TaxNumber}
}

func buyerFirm(c party.Customer, o order.Order) document.Firm {
	return document.Firm{Name: c.Name, Contact: o.Contact.Name, Address: c.Billing, Phone: c.Phone, Email: c.Email}
}

// goods names the metal of a line: the gauge always with its decimal thickness.
func (s *snapshot) goods(l order.Line, r words.Reader) document.Goods {
	m := s.materials[l.Material]
	g := document.Goods{Profile: l.Name, Material: m.Name, Coating: m.Coating, Colour: s.colours[l.Colour].Name, ColourHex: s.colours[l.Colour].Swatch}
	if info, err := metal.Gauge(m.GaugeSystem, l.Gauge); err == nil {
		g.Gauge = r.T("%s (%s in nominal)", l.Gauge, trimZeros(info.Thickness.Decimal(measure.Inch, 4)))
	}
	if l.Rib != "" {
		g.Profile = r.T("%s, %s flat", g.Profile, words.Say(l.Rib))
	}
	if l.Kind == order.Accessory {
		return document.Goods{}
	}
	return g
}

func trimZeros(s string) string { return strings.TrimRight(strings.TrimRight(s, "0"), ".") }

// priceLines turns an offer's lines into those of a paper: goods row by row,
// and charges with their reasons.
func (s *snapshot) priceLines(o order.Order, offer price.Offer, r words.Reader) (lines []document.Line, charges []document.Charge) {
	byItem := map[string]int{}
	for i := range o.Lines {
		byItem[itemID(i)] = i
	}
	for _, pl := range offer.Lines {
		item, cut, _ := strings.Cut(pl.Item, ".")
		i, isGoods := byItem[item]
		if !isGoods || pl.Kind == price.BreakLine || pl.Kind == price.SetupLine {
			charges = append(charges, document.Charge{Name: LineName(pl, r), Reason: r.Read(chargeReason(pl)), Net: pl.Amount})
			continue
		}
		l := o.Lines[i]
		line := document.Line{
			Mark: fmt.Sprint(i + 1), Goods: s.goods(l, r), Pieces: pl.Pieces, Length: pl.Length, Girth: l.Girth,
			Quantity: pl.Quantity, Unit: r.Read(pl.Unit), UnitPrice: pl.Price, Net: pl.Amount,
		}
		if l.Kind == order.Accessory {
			line.Name, line.Pieces = l.Name, l.Count
		}
		if l.Kind == order.Trim && l.Section != nil {
			line.Note = r.Read(l.Section.Summary())
		}
		if c := cutOf(l, pl.Cut, cut); c != nil && c.Mark != "" {
			line.Mark += " " + c.Mark
		}
		lines = append(lines, line)
	}
	return lines, charges
}

// cutOf finds the cut-list row that a price line stands for.
func cutOf(l order.Line, ids ...string) *order.CutItem {
	for _, id := range ids {
		for j := range l.Cuts {
			if id == fmt.Sprint(j) {
				return &l.Cuts[j]
			}
		}
	}
	return nil
}

func chargeReason(l price.Line) string {
	switch l.Kind {
	case price.MinimumLine:
		return words.Key("difference to the smallest order")
	case price.BreakLine:
		return words.Key("quantity break on the increment")
	}
	return ""
}

func taxLines(offer price.Offer, r words.Reader) (taxes []document.Tax, exempt []document.Exemption) {
	for _, t := range offer.Taxes {
		if !t.Base.IsZero() {
			taxes = append(taxes, document.Tax{Jurisdiction: t.Label, Base: t.Base, Rate: t.Rate, Tax: t.Tax})
		}
	}
	if c := offer.Exempt; c != nil {
		exempt = []document.Exemption{{Base: offer.Goods, Reason: r.T("resale certificate"), Certificate: c.Number, State: c.State, Expires: readDay(c.Expires)}}
	}
	return taxes, exempt
}

func readDay(d price.Day) time.Time {
	t, _ := time.Parse(time.DateOnly, string(d)) // checked where it was entered
	return t
}

// pounds is the named place where a weight becomes whole pounds on a paper: up.
func pounds(r money.Rate) int { return int(math.Ceil(r.Float())) }

// quotePaper is the quote as it will be printed and kept.
func (s *snapshot) quotePaper(o order.Order, c party.Customer, priced Priced, now time.Time, by party.Actor) *document.Quote {
	offer := priced.Quote.Alone
	if o.Sharing && priced.Quote.Shared != nil {
		offer = *priced.Quote.Shared
	}
	r := s.readerOf(c)
	q := &document.Quote{
		Head: s.head(o, c, now, by.Name), ValidUntil: o.ValidTo, Subtotal: offer.Subtotal, Total: offer.Total, Deposit: offer.Deposit,
		Terms: r.Read(c.Terms), Pounds: pounds(o.Pounds()), Longest: o.Longest(), TermsVersion: s.seller.TermsVersion,
		Alone:    &document.Offer{Total: o.Alone.Total, Ready: s.local(priced.Earliest.Ready), Chosen: !o.Sharing},
		Sections: s.sections(o, r), Exclusions: []string{s.seller.Terms},
	}
	if priced.Cheapest.Found {
		q.LeadTime = r.T("estimate: %s", r.When(s.local(priced.Cheapest.Ready)))
	}
	if priced.Quote.Shared != nil {
		q.Sharing = &document.Offer{Total: o.Shared.Total, Ready: s.local(priced.Cheapest.Ready), Chosen: o.Sharing, Condition: r.Read(s.sharingCondition(priced.Quote.OnCancel))}
	}
	q.Lines, q.Charges = s.priceLines(o, offer, r)
	q.Taxes, q.Exempt = taxLines(offer, r)
	return q
}

func (s *snapshot) sharingCondition(on price.OnCancel) string {
	if on == price.Requote {
		return words.Key("runs with other orders; may be quoted anew if they are cancelled")
	}
	return words.Key("runs with other orders; the price holds even if they are cancelled")
}

func (s *snapshot) local(t time.Time) time.Time {
	if t.IsZero() {
		return t
	}
	return t.In(s.seller.Location())
}

// acknowledgement confirms an accepted quote, line by line.
func (s *snapshot) acknowledgement(o order.Order, c party.Customer, now time.Time) *document.OrderAcknowledgement {
	a := &document.OrderAcknowledgement{Head: s.head(o, c, now, o.Accepted.Name)}
	_, q, err := ReplayPrice(o)
	if err != nil {
		return a // refused by the paper's own check: it has no lines
	}
	offer := q.Alone
	if o.Sharing && q.Shared != nil {
		offer = *q.Shared
	}
	r := s.readerOf(c)
	a.Lines, a.Charges = s.priceLines(o, offer, r)
	a.Taxes, a.Exempt = taxLines(offer, r)
	a.Quote = r.T("%s revision %d", o.Number, o.Revision)
	a.Acceptance = &document.Acceptance{Name: o.Accepted.Name, Title: o.Accepted.Title, At: s.local(o.Accepted.At), Method: r.Read(o.Accepted.Method), Origin: o.Accepted.Origin, Hash: o.Accepted.Hash, Consent: true}
	a.Subtotal, a.Total, a.Deposit = offer.Subtotal, offer.Total, offer.Deposit
	a.Terms, a.TermsVersion = r.Read(c.Terms), s.seller.TermsVersion
	a.Pounds, a.Longest = pounds(o.Pounds()), o.Longest()
	a.DeliveryUntil = s.local(o.Promise)
	return a
}

// sections draws each profile and trim of an order once.
func (s *snapshot) sections(o order.Order, r words.Reader) []drawing.Section {
	var out []drawing.Section
	seen := map[string]bool{}
	for i, l := range o.Lines {
		what := l.Code
		if l.Section != nil {
			what = fmt.Sprint(l.Name, l.Colour, *l.Section)
		}
		if l.Kind == order.Accessory || seen[what] {
			continue
		}
		seen[what] = true
		if view, ok := s.SectionOf(l, fmt.Sprintf("section-%d", i), r); ok {
			out = append(out, view)
		}
	}
	return out
}

// SectionOf draws a line's section with its dimensions and its colour, as r reads.
func (s *snapshot) SectionOf(l order.Line, id string, r words.Reader) (drawing.Section, bool) {
	view := drawing.Section{ID: id, Title: l.Name, Colour: drawing.Swatch(s.colours[l.Colour].Name, s.colours[l.Colour].Swatch)}
	switch {
	case l.Kind == order.Trim && l.Section != nil:
		return trimView(view, *l.Section, r), true
	case l.Kind == order.Formed:
		return s.profileView(view, l.Code, r)
	}
	return view, false
}

// PaperKind is the kind of paper; an exchange file's is that of its paper.
func PaperKind(p order.Paper) document.Kind {
	return document.Kind(strings.TrimSuffix(p.Kind, "-xml"))
}

// CustomerPapers keeps those papers that a customer gets.
func CustomerPapers(papers []order.Paper) []order.Paper {
	var out []order.Paper
	for _, p := range papers {
		if forCustomers[document.Kind(p.Kind)] {
			out = append(out, p)
		}
	}
	return out
}
