package price

import (
	"fmt"
	"slices"
	"strings"

	"ribdesk/internal/money"
)

// TaxPart is one jurisdiction's part of the tax.
type TaxPart struct {
	Jurisdiction string       `json:"jurisdiction"`
	Label        string       `json:"label"`
	Rate         money.Rate   `json:"rate"`
	Base         money.Amount `json:"base"`
	Tax          money.Amount `json:"tax"`
}

// taxable is a sum that one set of jurisdictions taxes.
type taxable struct {
	by   []int // jurisdictions, by place
	base money.Amount
	tax  money.Amount // per item, already made
}

// tax works out the tax of an offer. Jurisdictions that tax the same lines are
// summed to one rate, as section 324 of the Streamlined Sales and Use Tax
// Agreement allows, the tax is made from that, per document or per line, and
// the jurisdictions' parts of it are cut to the cent by largest remainder.
func (b *bill) tax() {
	tax, o := b.in.Shop.Tax, b.offer
	var sums []*taxable
	for _, line := range o.Lines {
		for _, t := range b.taxed(line) {
			if len(t.by) == 0 || t.base.IsZero() {
				continue
			}
			t.tax = b.cents(t.base.Rate().Mul(tax.rate(t.by)))
			i := slices.IndexFunc(sums, func(s *taxable) bool { return slices.Equal(s.by, t.by) })
			if i < 0 {
				sums = append(sums, &t)
				continue
			}
			sums[i].base, sums[i].tax = sums[i].base.Add(t.base), sums[i].tax.Add(t.tax)
		}
	}
	parts := make([]TaxPart, len(tax.Jurisdictions))
	for i, j := range tax.Jurisdictions {
		parts[i] = TaxPart{Jurisdiction: j.ID, Label: j.Label, Rate: j.Rate}
	}
	for _, s := range sums {
		if tax.Basis != PerItem {
			s.tax = b.cents(s.base.Rate().Mul(tax.rate(s.by)))
		}
		o.Tax = o.Tax.Add(s.tax)
		b.spread(parts, s)
	}
	for _, p := range parts {
		if !p.Base.IsZero() {
			o.Taxes = append(o.Taxes, p)
		}
	}
}

// spread gives each jurisdiction its part of one sum's tax.
func (b *bill) spread(parts []TaxPart, s *taxable) {
	weights := make([]money.Rate, len(s.by))
	for i, j := range s.by {
		weights[i] = b.in.Shop.Tax.Jurisdictions[j].Rate
		parts[j].Base = parts[j].Base.Add(s.base)
	}
	split, err := money.Split(s.tax, weights)
	if err != nil {
		return // every rate is 0, so is the tax
	}
	for i, j := range s.by {
		parts[j].Tax = parts[j].Tax.Add(split[i])
	}
}

func (t Tax) rate(by []int) (sum money.Rate) {
	for _, j := range by {
		sum = sum.Add(t.Jurisdictions[j].Rate)
	}
	return sum
}

// taxed gives the sums of a line and who taxes each: one sum, or for a delivery
// that is taxed as the goods are, its taxed and its untaxed parts.
func (b *bill) taxed(line Line) []taxable {
	if line.TaxClass != DeliveryLine {
		return []taxable{{by: b.by(line.TaxClass), base: line.Amount}}
	}
	// Who taxes the delivery may differ by part of the goods; so the line is
	// split as the goods are, and each part is taxed by its own jurisdictions.
	var all []int
	asGoods := false
	for i, j := range b.in.Shop.Tax.Jurisdictions {
		switch {
		case j.Delivery == DeliveryTaxed && !b.exempt(j, DeliveryLine):
			all = append(all, i)
		case j.Delivery == DeliveryAsGoods:
			asGoods = true
		}
	}
	if !asGoods {
		return []taxable{{by: all, base: line.Amount}}
	}
	return b.likeGoods(line.Amount, all)
}

// likeGoods splits a delivery charge as the goods are taxed, by their price.
func (b *bill) likeGoods(charge money.Amount, all []int) []taxable {
	var parts []taxable
	var weights []money.Rate
	for _, l := range b.offer.Lines {
		if l.Kind == HaulLine || l.Kind == TripLine {
			continue
		}
		by := slices.Clone(all)
		for _, i := range b.by(l.TaxClass) {
			if j := b.in.Shop.Tax.Jurisdictions[i]; j.Delivery == DeliveryAsGoods && !b.exempt(j, DeliveryLine) {
				by = append(by, i)
			}
		}
		slices.Sort(by)
		i := slices.IndexFunc(parts, func(t taxable) bool { return slices.Equal(t.by, by) })
		if i < 0 {
			i = len(parts)
			parts, weights = append(parts, taxable{by: by}), append(weights, money.Rate{})
		}
		weights[i] = weights[i].Add(l.Amount.Rate())
	}
	split, err := money.Split(charge, weights)
	if err != nil { // nothing is sold to go by
		return []taxable{{by: all, base: charge}}
	}
	for i := range parts {
		parts[i].base = split[i]
	}
	return parts
}

// by gives the jurisdictions that tax a class on this order.
func (b *bill) by(class string) (by []int) {
	for i, j := range b.in.Shop.Tax.Jurisdictions {
		if slices.Contains(j.Classes, class) && !b.exempt(j, class) {
			by = append(by, i)
		}
	}
	return by
}

// exempt reports whether the certificate takes this jurisdiction's tax off a
// class, and notes on the offer that it did.
func (b *bill) exempt(j Jurisdiction, class string) bool {
	cert := b.in.Order.Certificate
	if cert == nil || !cert.Holds(j.State, b.in.Order.Day) {
		return false
	}
	if len(cert.Classes) > 0 && !slices.Contains(cert.Classes, class) {
		return false
	}
	b.offer.Exempt = cert
	return true
}

// Holds reports whether the certificate is good for a state on a day.
func (c Certificate) Holds(state string, on Day) bool {
	return strings.EqualFold(c.State, state) && on <= c.Expires && (c.Signed == "" || c.Signed <= on)
}

// taxWarnings says why a certificate on file takes no tax off.
func (c *calc) taxWarnings() []Warning {
	cert := c.in.Order.Certificate
	if cert == nil {
		return nil
	}
	why := ""
	for _, j := range c.in.Shop.Tax.Jurisdictions {
		switch {
		case cert.Holds(j.State, c.in.Order.Day):
			return nil
		case !strings.EqualFold(cert.State, j.State):
			why = fmt.Sprintf("certificate %s is for %s, not for %s, so tax is charged", cert.Number, cert.State, j.State)
		case c.in.Order.Day > cert.Expires:
			why = fmt.Sprintf("certificate %s expired on %s, so tax is charged", cert.Number, cert.Expires)
		default:
			why = fmt.Sprintf("certificate %s holds from %s only, so tax is charged", cert.Number, cert.Signed)
		}
	}
	if why == "" {
		return nil
	}
	return []Warning{{Field: "order.certificate", Text: why}}
}
