package einvoice

import (
	"fmt"
	"slices"
	"strings"

	"ribdesk/internal/books"
	"ribdesk/internal/money"
	"ribdesk/internal/party"
)

// SellerOf gives the shop as the seller of a file.
func SellerOf(s party.Seller) Party {
	p := Party{Name: s.Legal, LegalID: s.Registration, TaxID: s.TaxNumber, Address: s.Address, Phone: s.Phone, Email: s.Email}
	if s.Name != s.Legal {
		p.Trade = s.Name
	}
	return p
}

// BuyerOf gives a customer as the buyer of a file.
func BuyerOf(c party.Customer) Party {
	return Party{Name: c.Name, Address: c.Billing, Phone: c.Phone, Email: c.Email}
}

// FromInvoice gives the document of an issued invoice. The sum payable is the
// invoice's total less the deposits on it; what is retained by agreement is part
// of it, and a note tells how much and what is due now.
func FromInvoice(inv books.Invoice, seller, buyer Party, to Delivery) Document {
	d := fromFigures(inv.Figures)
	d.Type, d.Number, d.Issued, d.Due, d.Currency = Invoice, inv.Number, inv.Issued, inv.Due, string(inv.Currency)
	d.Project, d.PO, d.Order, d.Ticket, d.Terms = inv.Job, inv.PO, inv.Order, inv.Ticket, inv.Terms.String()
	d.Seller, d.Buyer, d.Delivery = seller, buyer, to
	if d.Delivery.Day.IsZero() {
		d.Delivery.Day = inv.Supplied
	}
	for _, a := range inv.Applied {
		d.Totals.Prepaid = Num(d.Totals.Prepaid.Value.Add(a.Amount.Rate()))
		d.Notes = append(d.Notes, fmt.Sprintf("Deposit %s of %s applied: %s", a.Reference, a.Day.Format("2006-01-02"), a.Amount.Format()))
	}
	if !inv.Retained.IsZero() {
		d.Notes = append(d.Notes, fmt.Sprintf("Retained until released: %s; due now: %s", inv.Retained.Format(), inv.AmountDue.Format()))
	}
	return d.settle(inv.Total)
}

// FromMemo gives the document of an issued credit memo; its amounts are positive.
// A memo on charges alone has them as its lines: the standard wants a line.
func FromMemo(m books.Memo, seller, buyer Party) Document {
	d := fromFigures(withLines(m.Figures))
	d.Type, d.Number, d.Issued, d.Currency = CreditNote, m.Number, m.Day, string(m.Currency)
	d.PO, d.Order, d.Terms = m.PO, m.Order, "applied to open invoices or refunded"
	d.Seller, d.Buyer = seller, buyer
	d.Preceding = []Reference{{m.Invoice, m.InvoiceDay}}
	d.Notes = append([]string{"Reason: " + m.Reason}, d.Notes...)
	return d.settle(m.Total)
}

// withLines turns charges into lines where there is no other line.
func withLines(f books.Figures) books.Figures {
	if len(f.Lines) > 0 {
		return f
	}
	var rest []books.Adjustment
	for _, a := range f.Adjustments {
		if a.Allowance {
			rest = append(rest, a)
			continue
		}
		f.Lines = append(f.Lines, books.Line{ID: a.ID, Description: a.Reason, Quantity: money.Int(1), Unit: books.UnitOne, UnitPrice: a.Amount.Rate(), Net: a.Amount, Tax: a.Tax})
	}
	f.Adjustments, f.LineTotal, f.Charges = rest, f.LineTotal.Add(f.Charges), f.Charges.Sub(f.Charges)
	return f
}

// fromFigures turns lines, charges and sums into the standard's terms.
func fromFigures(f books.Figures) Document {
	d := Document{Specification: Specification}
	if note := taxNote(f.Taxes); note != "" {
		d.Notes = append(d.Notes, note)
	}
	for _, l := range f.Lines {
		d.Lines = append(d.Lines, fromLine(l))
		d.group(taxOf(l.Tax), l.Net.Rate(), l.Tax)
	}
	for _, a := range f.Adjustments {
		signed := a.Amount.Rate()
		if a.Allowance {
			signed = signed.Neg()
		}
		d.Adjustments = append(d.Adjustments, Adjustment{Charge: !a.Allowance, Reason: a.Reason, Amount: Num(a.Amount.Rate()), Tax: taxOf(a.Tax)})
		d.group(taxOf(a.Tax), signed, a.Tax)
	}
	d.Totals = Totals{Lines: Num(f.LineTotal.Rate()), WithoutTax: Num(f.Subtotal.Rate())}
	if !f.Allowances.IsZero() {
		d.Totals.Allowances = Num(f.Allowances.Rate())
	}
	if !f.Charges.IsZero() {
		d.Totals.Charges = Num(f.Charges.Rate())
	}
	return d
}

// taxNote tells the split by jurisdiction in words.
func taxNote(taxes []books.TaxLine) string {
	var parts []string
	for _, t := range taxes {
		parts = append(parts, fmt.Sprintf("%s %s %% of %s = %s", t.Jurisdiction, t.Rate.Percent(), t.Base.Format(), t.Tax.Format()))
	}
	if len(parts) == 0 {
		return ""
	}
	return "Sales tax: " + strings.Join(parts, "; ")
}

func taxOf(t books.Treatment) Tax {
	if t.Rate.Sign() > 0 {
		return Tax{Standard, Num(t.Rate.Mul(money.Int(100)))}
	}
	return Tax{Exempt, Num(money.Int(0))}
}

func fromLine(l books.Line) Line {
	out := Line{ID: l.ID, Name: l.Description, Note: l.Detail, Quantity: Num(l.Quantity), Unit: l.Unit, Net: Num(l.Net.Rate()),
		Price: Num(l.UnitPrice), Tax: taxOf(l.Tax)}
	// Part credits of a line are rounded together, so that they add up to it; the
	// cent that a part alone would differ by is told, not hidden.
	if diff := l.Net.Rate().Sub(lineNet(out)); !diff.IsZero() {
		a := Adjustment{Charge: diff.Sign() > 0, Reason: "Rounding", Amount: Num(diff)}
		if diff.Sign() < 0 {
			a.Amount = Num(diff.Neg())
		}
		out.Adjustments = append(out.Adjustments, a)
	}
	return out
}

// group adds an amount to the breakdown group of its tax.
func (d *Document) group(tax Tax, amount money.Rate, t books.Treatment) {
	i := slices.IndexFunc(d.Groups, func(g Group) bool { return g.Tax.same(tax) })
	if i < 0 {
		i = len(d.Groups)
		d.Groups = append(d.Groups, Group{Tax: tax})
	}
	g := &d.Groups[i]
	g.Taxable = Num(g.Taxable.Value.Add(amount))
	if tax.Category == Exempt {
		g.Reason = joinReason(g.Reason, t.Why)
	}
}

// joinReason collects the reasons of one group without telling one twice.
func joinReason(have, more string) string {
	if more == "" {
		more = "the sales tax rate is 0"
	}
	if have == "" {
		return more
	}
	for _, r := range strings.Split(more, "; ") {
		if !slices.Contains(strings.Split(have, "; "), r) {
			have += "; " + r
		}
	}
	return have
}

// settle works out tax and totals as the standard asks and lets the rounding
// amount carry what the shop's own tax rounding differs by.
func (d Document) settle(total money.Amount) Document {
	tax := money.Int(0)
	for i := range d.Groups {
		d.Groups[i].Amount = Num(d.Groups[i].tax())
		tax = tax.Add(d.Groups[i].Amount.Value)
	}
	t := &d.Totals
	t.Tax = Num(tax)
	t.WithTax = Num(t.WithoutTax.Value.Add(tax))
	if diff := total.Rate().Sub(t.WithTax.Value); !diff.IsZero() {
		t.Rounding = Num(diff)
	}
	t.Payable = Num(total.Rate().Sub(t.Prepaid.Value))
	return d
}
