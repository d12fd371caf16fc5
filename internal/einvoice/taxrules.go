package einvoice

import (
	"fmt"

	"ribdesk/internal/money"
)

// tax gives what a group's tax should be: base x rate / 100 to the cent, half
// away from zero.
func (g Group) tax() money.Rate {
	return g.Taxable.Value.Mul(g.Tax.Rate.Value).Div(money.Int(100)).Shorten(2)
}

// same reports equal category and equal rate, however it is written.
func (t Tax) same(u Tax) bool { return t.Category == u.Category && t.Rate.Value.Cmp(u.Rate.Value) == 0 }

// taxed is anything that carries a category: a line, an allowance, a charge.
type taxed struct {
	where string
	nth   string // the ends of the rules about it: line 02 and 05, allowance 03 and 06, charge 04 and 07
	rate  string
	tax   Tax
	sum   money.Rate
}

func (d Document) taxed() (out []taxed) {
	for i, l := range d.Lines {
		out = append(out, taxed{fmt.Sprintf("lines.%d.tax", i+1), "02", "05", l.Tax, l.Net.Value})
	}
	for i, a := range d.Adjustments {
		out = append(out, taxed{fmt.Sprintf("adjustments.%d.tax", i+1), a.pick("03", "04"), a.pick("06", "07"), a.Tax, a.signed()})
	}
	return out
}

func (c *checker) breakdown(d Document) {
	c.need(len(d.Groups) > 0, "BR-CO-18", "groups", "there is no tax breakdown")
	parts := d.taxed()
	for _, p := range parts {
		c.part(d, p)
	}
	for i, g := range d.Groups {
		c.group(fmt.Sprintf("groups.%d", i+1), g, parts)
	}
	c.outside(d, parts)
}

// part checks what carries a category against the rules of that category.
func (c *checker) part(d Document, p taxed) {
	k := p.tax.Category
	switch k {
	case Standard:
		c.need(told(d.Seller.TaxID), "BR-S-"+p.nth, "seller.tax_id", "the seller's tax number is missing")
		c.need(p.tax.Rate.Value.Sign() > 0, "BR-S-"+p.rate, p.where, "a taxed part needs a rate above 0")
	case Exempt:
		c.need(told(d.Seller.TaxID), "BR-E-"+p.nth, "seller.tax_id", "the seller's tax number is missing")
		c.need(p.tax.Rate.Given && p.tax.Rate.Value.IsZero(), "BR-E-"+p.rate, p.where, "the rate of an exempt part is 0")
	case Outside:
		c.need(!p.tax.Rate.Given, "BR-O-"+p.rate, p.where, "what is outside the tax has no rate")
	case "":
		return // BR-CO-04, BR-32 and BR-37 tell
	default:
		c.need(false, "BR-CL-17", p.where, "%q isn't a category of this shop", k)
		return
	}
	n := 0
	for _, g := range d.Groups {
		if g.Tax.Category == k && (k != Standard || g.Tax.same(p.tax)) {
			n++
		}
	}
	c.need(n == 1, "BR-"+string(k)+"-01", p.where, "the breakdown has %d groups for category %s at %s", n, k, p.tax.Rate.Value)
}

func (c *checker) group(at string, g Group, parts []taxed) {
	k := g.Tax.Category
	c.need(g.Taxable.Given, "BR-45", at+".taxable", "the taxable amount is missing")
	c.need(g.Amount.Given, "BR-46", at+".amount", "the tax amount is missing")
	c.need(k != "", "BR-47", at+".tax", "the category is missing")
	c.need(g.Tax.Rate.Given || k == Outside, "BR-48", at+".tax", "the rate is missing")
	c.decimals("BR-DEC-19", at+".taxable", g.Taxable)
	c.decimals("BR-DEC-20", at+".amount", g.Amount)
	c.equal("BR-CO-17", at+".amount", g.Amount, g.tax())
	base := money.Int(0)
	for _, p := range parts {
		if p.tax.Category == k && (k != Standard || p.tax.same(g.Tax)) {
			base = base.Add(p.sum)
		}
	}
	switch k {
	case Standard:
		c.equal("BR-S-08", at+".taxable", g.Taxable, base)
		c.equal("BR-S-09", at+".amount", g.Amount, g.tax())
		c.need(!told(g.Reason), "BR-S-10", at+".reason", "what is taxed has no exemption reason")
	case Exempt, Outside:
		c.equal("BR-"+string(k)+"-08", at+".taxable", g.Taxable, base)
		c.equal("BR-"+string(k)+"-09", at+".amount", g.Amount, money.Int(0))
		c.need(told(g.Reason), "BR-"+string(k)+"-10", at+".reason", "the reason why no tax is charged is missing")
	}
}

// outside checks that a document outside the tax is so as a whole.
func (c *checker) outside(d Document, parts []taxed) {
	has := false
	for _, g := range d.Groups {
		has = has || g.Tax.Category == Outside
	}
	if !has {
		return
	}
	c.need(len(d.Groups) == 1, "BR-O-11", "groups", "what is outside the tax stands alone in the breakdown")
	for _, p := range parts {
		rule := map[string]string{"02": "BR-O-12", "03": "BR-O-13", "04": "BR-O-14"}[p.nth]
		c.need(p.tax.Category == Outside, rule, p.where, "a document outside the tax has no other category")
	}
}
