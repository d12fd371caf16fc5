package books

import (
	"fmt"
	"slices"

	"ribdesk/internal/fault"
	"ribdesk/internal/money"
)

// ledgerCheck collects figures that don't agree with what their parts make.
type ledgerCheck struct {
	number string
	faults fault.List
}

func (c *ledgerCheck) same(field string, got, want money.Amount) {
	if got.Cents() != want.Cents() {
		c.faults.Addf(field, "%s shows %s, but its parts make %s", c.number, got.Format(), want.Format())
	}
}

func (c *ledgerCheck) sums(f Figures, currency money.Currency) {
	again := f
	again.addUp(currency)
	c.same("line_total", f.LineTotal, again.LineTotal)
	c.same("allowances", f.Allowances, again.Allowances)
	c.same("charges", f.Charges, again.Charges)
	c.same("subtotal", f.Subtotal, again.Subtotal)
	c.same("tax_total", f.TaxTotal, again.TaxTotal)
	c.same("total", f.Total, again.Total)
}

// Verify works the invoice out again from its lines and names each figure that
// doesn't agree: the check that a stored invoice must pass for ever.
func (inv Invoice) Verify() error {
	c := ledgerCheck{number: inv.Number}
	for i, line := range inv.Lines {
		net, err := extend(line.Quantity, line.UnitPrice, inv.Currency)
		c.faults.Add(fmt.Sprintf("lines.%d", i+1), err)
		c.same(fmt.Sprintf("lines.%d.net", i+1), line.Net, net)
	}
	ps := inv.parts()
	again := slices.Clone(inv.Taxes)
	c.faults.Add("taxes", inv.Basis.levy(again, ps))
	for i, t := range inv.Taxes {
		base, _ := baseOf(ps, taxedBy, t.Jurisdiction)
		c.same("taxes."+t.Jurisdiction+".base", t.Base, base)
		c.same("taxes."+t.Jurisdiction+".tax", t.Tax, again[i].Tax)
	}
	for _, e := range inv.Exempt {
		base, _ := baseOf(ps, exemptIn, e.Jurisdiction)
		c.same("exempt."+e.Jurisdiction+".base", e.Base, base)
	}
	c.sums(inv.Figures, inv.Currency)
	due := inv.Total.Sub(inv.Retained)
	for _, a := range inv.Applied {
		due = due.Sub(a.Amount)
	}
	c.same("amount_due", inv.AmountDue, due)
	return c.faults.Err()
}

// Verify adds the credit memo up again and names each figure that doesn't agree.
func (m Memo) Verify() error {
	c := ledgerCheck{number: m.Number}
	ps := m.parts()
	for _, t := range m.Taxes {
		base, _ := baseOf(ps, taxedBy, t.Jurisdiction)
		c.same("taxes."+t.Jurisdiction+".base", t.Base, base)
	}
	c.sums(m.Figures, m.Currency)
	return c.faults.Err()
}
