package einvoice

import (
	"fmt"
	"regexp"
	"strings"

	"ribdesk/internal/money"
)

// Violation is one broken rule: its id in the standard, the place, and what is
// wrong there.
type Violation struct {
	Rule  string
	Where string
	Text  string
}

func (v Violation) String() string { return v.Rule + " at " + v.Where + ": " + v.Text }

// Check holds a document against the rules of EN 16931 that a US seller's file
// touches, and against the line arithmetic of Peppol BIS Billing 3.0 (rule ids
// beginning with PEPPOL, the ids from memory), in a fixed order. Amounts are compared exactly: the
// published rule file lets a tax be wrong by up to 1.00, this doesn't. Rules
// about things a Document has no place for (payee, tax representative, card,
// attachments) can't be broken and aren't here.
func Check(d Document) []Violation {
	c := &checker{}
	c.presence(d)
	c.parties(d)
	for i, l := range d.Lines {
		c.line(fmt.Sprintf("lines.%d", i+1), l)
	}
	for i, a := range d.Adjustments {
		c.documentAdjustment(fmt.Sprintf("adjustments.%d", i+1), a)
	}
	c.breakdown(d)
	c.totals(d)
	return c.found
}

type checker struct{ found []Violation }

// need notes a violation unless ok.
func (c *checker) need(ok bool, rule, where, text string, args ...any) {
	if !ok {
		c.found = append(c.found, Violation{rule, where, fmt.Sprintf(text, args...)})
	}
}

func told(s string) bool { return strings.TrimSpace(s) != "" }

var (
	currencyForm = regexp.MustCompile(`^[A-Z]{3}$`)
	countryForm  = regexp.MustCompile(`^[A-Z]{2}$`)
)

func (c *checker) presence(d Document) {
	c.need(told(d.Specification), "BR-01", "specification", "the specification is missing")
	c.need(told(d.Number), "BR-02", "number", "the number is missing")
	c.need(!d.Issued.IsZero(), "BR-03", "issued", "the issue date is missing")
	c.need(d.Type != "", "BR-04", "type", "the type code is missing")
	c.need(d.Type == "" || d.Type == Invoice || d.Type == CreditNote, "BR-CL-01", "type", "%q isn't a type code of this shop", d.Type)
	c.need(told(d.Currency), "BR-05", "currency", "the currency is missing")
	c.need(d.Currency == "" || currencyForm.MatchString(d.Currency), "BR-CL-04", "currency", "%q isn't an ISO 4217 code", d.Currency)
	c.need(len(d.Lines) > 0, "BR-16", "lines", "there is no line")
	for i, p := range d.Preceding {
		c.need(told(p.Number), "BR-55", fmt.Sprintf("preceding.%d", i+1), "the preceding invoice has no number")
	}
	due := d.Totals.Payable.Value.Sign() > 0
	c.need(!due || !d.Due.IsZero() || told(d.Terms), "BR-CO-25", "due", "money is due, but neither due date nor payment terms are given")
}

func (c *checker) parties(d Document) {
	c.need(told(d.Seller.Name), "BR-06", "seller.name", "the seller's name is missing")
	c.need(told(d.Buyer.Name), "BR-07", "buyer.name", "the buyer's name is missing")
	for _, p := range []struct {
		where, address, country string
		party                   Party
	}{{"seller", "BR-08", "BR-09", d.Seller}, {"buyer", "BR-10", "BR-11", d.Buyer}} {
		a := p.party.Address
		c.need(told(a.Line()) || told(a.Country), p.address, p.where+".address", "the %s's postal address is missing", p.where)
		c.need(told(a.Country), p.country, p.where+".address.country", "the %s's country is missing", p.where)
		c.need(!told(a.Country) || countryForm.MatchString(a.Country), "BR-CL-14", p.where+".address.country", "%q isn't an ISO 3166-1 code", a.Country)
	}
	c.need(told(d.Seller.LegalID), "BR-CO-26", "seller.legal_id", "the seller's legal registration is missing; a tax number alone doesn't identify a US seller")
	to := d.Delivery.Address
	c.need(!told(to.Line()) || told(to.Country), "BR-57", "delivery.address.country", "the country delivered to is missing")
	c.need(!told(to.Country) || countryForm.MatchString(to.Country), "BR-CL-14", "delivery.address.country", "%q isn't an ISO 3166-1 code", to.Country)
}

// decimals refuses more than two places.
func (c *checker) decimals(rule, where string, n Number) {
	c.need(!n.Given || n.Value.Shorten(2).Cmp(n.Value) == 0, rule, where, "%s has more than two decimals", n.Value)
}

// units are the codes of UN/ECE Recommendations 20 and 21 that this shop and
// the published examples use; the whole lists have over 2,000.
var units = map[string]bool{
	"LF": true, "FOT": true, "INH": true, "EA": true, "H87": true, "C62": true, "LBR": true, "HUR": true, "SMI": true, "FTK": true,
	"XBE": true, "XCL": true, "MTR": true, "MMT": true, "KGM": true, "DAY": true, "MON": true, "KWH": true, "NAR": true,
	"KWT": true, "KW": true,
}

func (c *checker) line(at string, l Line) {
	c.need(told(l.ID), "BR-21", at+".id", "the line has no id")
	c.need(l.Quantity.Given, "BR-22", at+".quantity", "the quantity is missing")
	c.need(told(l.Unit), "BR-23", at+".unit", "the unit is missing")
	c.need(!told(l.Unit) || units[l.Unit], "BR-CL-23", at+".unit", "%q isn't a unit code this shop knows", l.Unit)
	c.need(l.Net.Given, "BR-24", at+".net", "the net amount is missing")
	c.need(told(l.Name), "BR-25", at+".name", "the item's name is missing")
	c.need(l.Price.Given, "BR-26", at+".price", "the price is missing")
	c.need(l.Price.Value.Sign() >= 0, "BR-27", at+".price", "the price is negative")
	c.need(l.Gross.Value.Sign() >= 0, "BR-28", at+".gross", "the gross price is negative")
	c.need(l.Tax.Category != "", "BR-CO-04", at+".tax", "the line has no tax category")
	c.decimals("BR-DEC-23", at+".net", l.Net)
	for i, a := range l.Adjustments {
		c.lineAdjustment(fmt.Sprintf("%s.adjustments.%d", at, i+1), a)
	}
	net := lineNet(l)
	c.need(!l.Net.Given || l.Net.Value.Cmp(net) == 0, "PEPPOL-EN16931-R120", at+".net", "%s should be %s: quantity x price + charges - allowances", l.Net.Value, net)
	c.need(!l.Gross.Given || l.Gross.Value.Sub(l.Discount.Value).Cmp(l.Price.Value) == 0, "PEPPOL-EN16931-R046", at+".price", "%s isn't gross price less discount", l.Price.Value)
}

// lineNet gives quantity x price / base quantity to the cent, then charges less
// allowances, each rounded already. The dust of a fraction of a foot is cut off
// before rounding, as on the invoice.
func lineNet(l Line) money.Rate {
	net := l.Quantity.Value.Mul(l.Price.Value)
	if l.PerQuantity.Value.Sign() > 0 {
		net = net.Div(l.PerQuantity.Value)
	}
	net = net.Shorten(12).Shorten(2)
	for _, a := range l.Adjustments {
		net = net.Add(a.signed())
	}
	return net
}

func (a Adjustment) signed() money.Rate {
	if a.Charge {
		return a.Amount.Value
	}
	return a.Amount.Value.Neg()
}

// pick gives the rule for charges or for allowances.
func (a Adjustment) pick(allowance, charge string) string {
	if a.Charge {
		return charge
	}
	return allowance
}

func (c *checker) lineAdjustment(at string, a Adjustment) {
	c.need(a.Amount.Given, a.pick("BR-41", "BR-43"), at+".amount", "the amount is missing")
	c.need(told(a.Reason), a.pick("BR-42", "BR-44"), at+".reason", "the reason is missing")
	c.decimals(a.pick("BR-DEC-24", "BR-DEC-27"), at+".amount", a.Amount)
	c.decimals(a.pick("BR-DEC-25", "BR-DEC-28"), at+".base", a.Base)
	c.percentage(at, a)
}

func (c *checker) documentAdjustment(at string, a Adjustment) {
	c.need(a.Amount.Given, a.pick("BR-31", "BR-36"), at+".amount", "the amount is missing")
	c.need(a.Tax.Category != "", a.pick("BR-32", "BR-37"), at+".tax", "the tax category is missing")
	c.need(told(a.Reason), a.pick("BR-33", "BR-38"), at+".reason", "the reason is missing")
	c.decimals(a.pick("BR-DEC-01", "BR-DEC-05"), at+".amount", a.Amount)
	c.decimals(a.pick("BR-DEC-02", "BR-DEC-06"), at+".base", a.Base)
	c.percentage(at, a)
}

func (c *checker) percentage(at string, a Adjustment) {
	c.need(!a.Percent.Given || a.Base.Given, "PEPPOL-EN16931-R041", at+".base", "a percentage needs its base")
	c.need(!a.Base.Given || a.Percent.Given, "PEPPOL-EN16931-R042", at+".percent", "a base needs its percentage")
	if a.Percent.Given && a.Base.Given {
		want := a.Base.Value.Mul(a.Percent.Value).Div(money.Int(100)).Shorten(2)
		c.need(a.Amount.Value.Cmp(want) == 0, "PEPPOL-EN16931-R040", at+".amount", "%s should be %s %% of %s", a.Amount.Value, a.Percent.Value, a.Base.Value)
	}
}

func (c *checker) totals(d Document) {
	t := d.Totals
	for _, n := range []struct {
		rule, decimals, where string
		number                Number
		must                  bool
	}{
		{"BR-12", "BR-DEC-09", "totals.lines", t.Lines, true},
		{"", "BR-DEC-10", "totals.allowances", t.Allowances, false},
		{"", "BR-DEC-11", "totals.charges", t.Charges, false},
		{"BR-13", "BR-DEC-12", "totals.without_tax", t.WithoutTax, true},
		{"", "BR-DEC-13", "totals.tax", t.Tax, false},
		{"BR-14", "BR-DEC-14", "totals.with_tax", t.WithTax, true},
		{"", "BR-DEC-16", "totals.prepaid", t.Prepaid, false},
		{"", "BR-DEC-17", "totals.rounding", t.Rounding, false},
		{"BR-15", "BR-DEC-18", "totals.payable", t.Payable, true},
	} {
		c.need(!n.must || n.number.Given, n.rule, n.where, "the sum is missing")
		c.decimals(n.decimals, n.where, n.number)
	}
	lines, allowances, charges, tax := money.Int(0), money.Int(0), money.Int(0), money.Int(0)
	for _, l := range d.Lines {
		lines = lines.Add(l.Net.Value)
	}
	for _, a := range d.Adjustments {
		if a.Charge {
			charges = charges.Add(a.Amount.Value)
		} else {
			allowances = allowances.Add(a.Amount.Value)
		}
	}
	for _, g := range d.Groups {
		tax = tax.Add(g.Amount.Value)
	}
	c.equal("BR-CO-10", "totals.lines", t.Lines, lines)
	c.equal("BR-CO-11", "totals.allowances", t.Allowances, allowances)
	c.equal("BR-CO-12", "totals.charges", t.Charges, charges)
	c.equal("BR-CO-13", "totals.without_tax", t.WithoutTax, t.Lines.Value.Sub(t.Allowances.Value).Add(t.Charges.Value))
	c.equal("BR-CO-14", "totals.tax", t.Tax, tax)
	c.equal("BR-CO-15", "totals.with_tax", t.WithTax, t.WithoutTax.Value.Add(t.Tax.Value))
	c.equal("BR-CO-16", "totals.payable", t.Payable, t.WithTax.Value.Sub(t.Prepaid.Value).Add(t.Rounding.Value))
}

// equal compares a sum with what its parts make; an absent sum counts as 0.
func (c *checker) equal(rule, where string, got Number, want money.Rate) {
	c.need(got.Value.Cmp(want) == 0, rule, where, "%s should be %s", got.Value, want)
}
