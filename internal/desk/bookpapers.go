package desk

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"strings"
	"time"

	"ribdesk/internal/books"
	"ribdesk/internal/document"
	"ribdesk/internal/einvoice"
	"ribdesk/internal/fault"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/price"
	"ribdesk/internal/store"
	"ribdesk/internal/words"
)

// The kinds of exchange files, kept as papers of their own beside the PDF.
const (
	InvoiceFile    document.Kind = "invoice-xml"
	CreditMemoFile document.Kind = "credit-memo-xml"
)

// IsExchangeFile reports whether a paper's bytes are XML and not a PDF.
func IsExchangeFile(p order.Paper) bool {
	return p.Kind == string(InvoiceFile) || p.Kind == string(CreditMemoFile)
}

// invoicePapers prints an invoice and writes its exchange file.
func (d *Desk) invoicePapers(tx *store.Tx, actor party.Actor, s *snapshot, b bill, inv books.Invoice) error {
	rules, err := readBooksRules(tx)
	if err != nil {
		return err
	}
	if _, err := d.issue(tx, actor, b.order, b.customer, s.invoicePaper(b, inv, rules, d.now(), actor)); err != nil {
		return err
	}
	file := einvoice.FromInvoice(inv, einvoice.SellerOf(s.seller), einvoice.BuyerOf(b.customer), s.handOverPlace(b.order, inv.Supplied))
	return keepFile(tx, actor, b.order, InvoiceFile, file)
}

// handOverPlace is where and when goods changed hands, for the exchange file.
func (s *snapshot) handOverPlace(o order.Order, day time.Time) einvoice.Delivery {
	to := einvoice.Delivery{Day: day, Address: s.seller.Address}
	if o.Fulfil != order.PickUp && o.ShipTo.Street != "" {
		to.Name, to.Address = o.Job, o.ShipTo
		if to.Address.Country == "" {
			to.Address.Country = s.seller.Address.Country
		}
	}
	return to
}

// keepFile keeps an exchange file that follows the standard. One that doesn't,
// because the shop's registration or an address is missing, isn't written: the
// PDF is the document, and a file that the receiver refuses helps nobody.
func keepFile(tx *store.Tx, actor party.Actor, o order.Order, kind document.Kind, file einvoice.Document) error {
	if broken := einvoice.Check(file); len(broken) > 0 {
		return tx.Log(actor, "left out exchange file", "order", o.ID, map[string]string{"number": file.Number, "why": broken[0].String()})
	}
	xml, err := einvoice.Write(file)
	if err != nil {
		return err
	}
	body, err := json.Marshal(file)
	if err != nil {
		return err
	}
	sum := sha256.Sum256(xml)
	_, err = tx.AddPaper(actor, order.Paper{OrderID: o.ID, CustomerID: o.CustomerID, Kind: string(kind), Number: file.Number, Edition: einvoice.Edition,
		Title: strings.TrimSuffix(string(kind), "-xml") + " " + file.Number + ", exchange file", Body: body, PDF: xml, SHA256: hex.EncodeToString(sum[:])})
	return err
}

// reprint makes a stored paper again from its record, and gives the edition that
// it is printed by: a paper of the same one has the same bytes.
func reprint(p order.Paper) (again []byte, edition int, err error) {
	if !IsExchangeFile(p) {
		again, err = document.Reprint(document.Kind(p.Kind), p.Body)
		return again, document.Edition, err
	}
	var file einvoice.Document
	if err := json.Unmarshal(p.Body, &file); err != nil {
		return nil, 0, fault.Invalidf("record", "this isn't the record of an exchange file").Because(err)
	}
	again, err = einvoice.Write(file)
	return again, einvoice.Edition, err
}

func (s *snapshot) invoicePaper(b bill, inv books.Invoice, rules BooksRules, now time.Time, by party.Actor) *document.Invoice {
	r := s.readerOf(b.customer)
	p := &document.Invoice{
		Head: s.head(b.order, b.customer, now, by.Name), Order: inv.Order, Ticket: inv.Ticket, Supplied: inv.Supplied, Due: inv.Due, Terms: r.Read(inv.Terms),
		Subtotal: inv.Subtotal, Total: inv.Total, Owed: inv.AmountDue, RemitTo: s.remitTo(rules), LateFee: rules.LateFee,
	}
	p.Number, p.Code, p.Revision, p.State = inv.Number, inv.Number, 0, r.T("issued")
	p.Lines, p.Charges = s.figureLines(b.billing, b.order, inv.Figures, r), figureCharges(inv.Figures, r)
	p.Taxes, p.Exempt = figureTaxes(inv.Figures, r)
	p.Paid = money.Cents(0, inv.Currency)
	for _, a := range inv.Applied {
		p.Payments = append(p.Payments, document.Payment{Date: a.Day, What: r.T("deposit"), Reference: a.Reference, Amount: a.Amount})
		p.Paid = p.Paid.Add(a.Amount)
	}
	if inv.Retained.Sign() > 0 {
		p.Retained = inv.Retained
	}
	if off, err := books.TermsDiscount(inv, nil, inv.Issued); err == nil && off.Sign() > 0 {
		p.Notes = append(p.Notes, r.T("%s %% off before tax, %s, when paid in full by %s.", inv.Terms.Discount.Percent(), off.Format(), r.Day(inv.Issued.AddDate(0, 0, inv.Terms.DiscountDays))))
	}
	return p
}

// remitTo says where to pay: as the shop set it, else its own address.
func (s *snapshot) remitTo(rules BooksRules) []string {
	if len(rules.RemitTo) > 0 {
		return rules.RemitTo
	}
	return []string{joined(", ", s.seller.Legal, s.seller.Address.Line()), joined("  ", s.seller.Phone, s.seller.Email)}
}

// figureLines turns lines of the books into those of a paper.
func (s *snapshot) figureLines(b billing, o order.Order, f books.Figures, r words.Reader) []document.Line {
	byID := map[string]price.Line{}
	for _, pl := range b.lines {
		if isGoods(pl) {
			byID[rowID(pl)] = pl
		}
	}
	out := make([]document.Line, len(f.Lines))
	for i, l := range f.Lines {
		line := document.Line{Mark: l.ID, Quantity: l.Quantity.Shorten(3), Unit: r.Read(unitWord(l.Unit)), UnitPrice: l.UnitPrice, Net: l.Net}
		pl, known := byID[l.ID]
		at, cut := placeOf(pl)
		if !known || at >= len(o.Lines) || l.PriceOnly {
			line.Name = l.Description
			out[i] = line
			continue
		}
		ol := o.Lines[at]
		line.Goods, line.Girth = s.goods(ol, r), ol.Girth
		line.Pieces, line.Length = piecesIn(pl, l.Quantity), pl.Length
		if ol.Kind == order.Accessory {
			line.Name, line.Length = ol.Name, 0
		}
		if ol.Section != nil {
			line.Note = r.Read(ol.Section.Summary())
		}
		if ol.Kind == order.Trim && cut >= 0 && cut < len(ol.Cuts) {
			line.Length = ol.Cuts[cut].Length
		}
		if cut >= 0 && cut < len(ol.Cuts) && ol.Cuts[cut].Mark != "" {
			line.Mark += " " + ol.Cuts[cut].Mark
		}
		out[i] = line
	}
	return out
}

// piecesIn gives how many pieces a quantity of a row is.
func piecesIn(pl price.Line, quantity money.Rate) int {
	one := quantityOf(pl, 1)
	if one.IsZero() {
		return 0
	}
	return int(quantity.Div(one).Shorten(0).Float())
}

// unitWord writes a unit code for people.
func unitWord(code string) string {
	switch code {
	case books.UnitLinealFoot:
		return words.Key("ft")
	case books.UnitPiece, books.UnitEach:
		return words.Key("each")
	}
	return ""
}

func figureCharges(f books.Figures, r words.Reader) []document.Charge {
	var out []document.Charge
	for _, a := range f.Adjustments {
		name, reason, _ := strings.Cut(ChargeName(a.Reason, r), ": ")
		c := document.Charge{Name: name, Reason: reason, Net: a.Amount}
		if a.Allowance {
			c.Net = a.Amount.Neg()
		}
		out = append(out, c)
	}
	return out
}

func figureTaxes(f books.Figures, r words.Reader) (taxes []document.Tax, exempt []document.Exemption) {
	for _, t := range f.Taxes {
		if !t.Base.IsZero() {
			taxes = append(taxes, document.Tax{Jurisdiction: t.Jurisdiction, Base: t.Base, Rate: t.Rate, Tax: t.Tax})
		}
	}
	for _, e := range f.Exempt {
		if !e.Base.IsZero() {
			exempt = append(exempt, document.Exemption{Base: e.Base, Reason: r.T("%s, resale or exemption certificate", e.Jurisdiction), Certificate: e.Certificate, State: e.State, Expires: e.Expires})
		}
	}
	return taxes, exempt
}

// memoPaper prints a credit memo with what it paid for at once.
func (s *snapshot) memoPaper(b billing, o order.Order, c party.Customer, m books.Memo, applied []books.Application, now time.Time, by party.Actor) *document.CreditMemo {
	r := s.readerOf(c)
	p := &document.CreditMemo{
		Head: s.head(o, c, now, by.Name), Invoice: m.Invoice, InvoiceIssued: m.InvoiceDay, Order: m.Order, Reason: m.Reason,
		Lines: s.figureLines(b, o, m.Figures, r), Charges: figureCharges(m.Figures, r), Subtotal: m.Subtotal, Total: m.Total,
		Applied: money.Cents(0, m.Currency),
	}
	p.Number, p.Code, p.Revision, p.State = m.Number, m.Number, 0, r.T("issued")
	p.Taxes, p.Exempt = figureTaxes(m.Figures, r)
	for _, a := range applied {
		p.Payments = append(p.Payments, document.Payment{Date: a.Day, What: r.T("applied to"), Reference: a.Item, Amount: a.Amount})
		p.Applied = p.Applied.Add(a.Amount)
	}
	p.Unapplied = m.Total.Sub(p.Applied)
	return p
}

// statementPaper prints what a customer owes.
func (s *snapshot) statementPaper(st books.Statement, c party.Customer, rules BooksRules, number string, now time.Time, by party.Actor) *document.Statement {
	h := s.head(order.Order{Fulfil: order.PickUp}, c, now, by.Name)
	h.Number, h.Code, h.Revision, h.State = number, number, 0, s.readerOf(c).T("issued")
	p := &document.Statement{
		Head: h, AsOf: st.AsOf, Balance: s.orZero(st.Balance), Unapplied: s.orZero(st.Credit), RemitTo: s.remitTo(rules),
		Ageing: document.Ageing{Current: s.orZero(st.Ageing.Current), To30: s.orZero(st.Ageing.To30), To60: s.orZero(st.Ageing.To60), To90: s.orZero(st.Ageing.To90), Over90: s.orZero(st.Ageing.Over90)},
	}
	if st.Retained.Sign() > 0 {
		p.Retained = st.Retained
	}
	r := s.readerOf(c)
	p.ToPay = money.Max(p.Balance.Sub(p.Unapplied), money.Cents(0, s.seller.Currency))
	for _, it := range st.Items {
		late := int(st.AsOf.Sub(books.Day(it.Due)) / (24 * time.Hour))
		what := ""
		if it.Kind != books.InvoiceItem {
			what = r.T(string(it.Kind))
		}
		p.Items = append(p.Items, document.OpenItem{Number: it.Number, What: what, Date: it.Day, Due: it.Due, PastDue: max(0, late), Original: it.Original, Open: it.Open})
	}
	for _, c := range st.Credits {
		p.Credits = append(p.Credits, document.OpenItem{Number: c.Number, What: r.T(string(c.Kind)), Date: c.Day, Original: c.Original, Open: c.Open})
	}
	return p
}

// orZero gives an empty sum the shop's currency, so that it prints as 0.00.
func (s *snapshot) orZero(a money.Amount) money.Amount {
	return a.Add(money.Cents(0, s.seller.Currency))
}
