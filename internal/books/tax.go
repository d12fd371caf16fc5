package books

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/money"
	"ribdesk/internal/party"
)

// Basis is how a shop rounds sales tax; it is kept with each invoice.
type Basis string

// The bases that section 324 of the Streamlined Sales and Use Tax Agreement
// lets a seller choose from, at the sum of the rates of the jurisdictions that
// tax the same goods, as it allows too. They differ: 3 x 0.99 at 6.5 % is 0.19
// per invoice and 0.18 per item.
const (
	PerInvoice Basis = "invoice" // once, on the summed base
	PerItem    Basis = "item"    // per line, charge and allowance, then added up
)

// Jurisdiction is one authority that taxes the sale: a state, county or city.
type Jurisdiction struct {
	Name    string     // the account of its tax carries this name
	State   string     // two letters; certificates are per state
	Rate    money.Rate // a share: .0625
	Classes []string   // the tax classes that it taxes; none named means all
}

func (j Jurisdiction) taxes(class string) bool {
	return len(j.Classes) == 0 || slices.Contains(j.Classes, class)
}

// TaxRules is what the place and day of a sale ask for.
type TaxRules struct {
	Basis         Basis
	Jurisdictions []Jurisdiction
	Certificates  []party.Certificate // those on file for the customer
}

// Check refuses rules that can't be computed with.
func (r TaxRules) Check() error {
	var l fault.List
	if r.Basis != PerInvoice && r.Basis != PerItem {
		l.Addf("basis", "choose tax per invoice or per item")
	}
	seen := map[string]bool{}
	for i, j := range r.Jurisdictions {
		at := fmt.Sprintf("jurisdictions.%d", i+1)
		if err := SalesTax(j.Name).Check(); err != nil {
			l.Addf(at+".name", "give the jurisdiction a plain name")
		}
		if seen[j.Name] {
			l.Addf(at+".name", "%s is named twice", j.Name)
		}
		seen[j.Name] = true
		if len(j.State) != 2 {
			l.Addf(at+".state", "give the state as two letters")
		}
		if j.Rate.Sign() < 0 || j.Rate.Cmp(money.Int(1)) >= 0 {
			l.Addf(at+".rate", "a tax rate is 0 or more and below 100 %%")
		}
	}
	return l.Err()
}

// covering gives the certificate that exempts a sale in a state on a day.
func (r TaxRules) covering(state string, day time.Time) (party.Certificate, bool) {
	for _, c := range r.Certificates {
		if c.Covers(state, day) {
			return c, true
		}
	}
	return party.Certificate{}, false
}

// Treatment is how one line, charge or allowance is taxed; it is kept with the
// line, so that a credit memo can take back exactly what was charged.
type Treatment struct {
	TaxedBy  []string   `json:"taxed_by"`  // names of jurisdictions
	ExemptIn []string   `json:"exempt_in"` // names of jurisdictions that a certificate keeps away
	Rate     money.Rate `json:"rate"`      // the rates of TaxedBy added up
	Why      string     `json:"why"`       // why any jurisdiction didn't tax it, for people
}

// treat decides how a class of goods is taxed on a day. Goods for the buyer's
// own use are taxed whatever certificate is on file.
func (r TaxRules) treat(class string, ownUse bool, day time.Time) (t Treatment) {
	var why []string
	for _, j := range r.Jurisdictions {
		certificate, covered := r.covering(j.State, day)
		switch {
		case !j.taxes(class):
			why = append(why, fmt.Sprintf("%s doesn't tax %s", j.Name, class))
		case covered && !ownUse:
			t.ExemptIn = append(t.ExemptIn, j.Name)
			why = append(why, fmt.Sprintf("%s certificate %s, holds until %s", certificate.State, certificate.Number,
				certificate.Expires.Format(time.DateOnly)))
		default:
			t.TaxedBy = append(t.TaxedBy, j.Name)
			t.Rate = t.Rate.Add(j.Rate)
		}
	}
	if len(r.Jurisdictions) == 0 {
		why = []string{"no sales tax at the place of delivery"}
	}
	t.Why = strings.Join(unique(why), "; ")
	return t
}

func unique(ss []string) []string {
	var kept []string
	for _, s := range ss {
		if !slices.Contains(kept, s) {
			kept = append(kept, s)
		}
	}
	return kept
}

// TaxLine is the part of one jurisdiction in the tax of one document.
type TaxLine struct {
	Jurisdiction string       `json:"jurisdiction"`
	State        string       `json:"state"`
	Rate         money.Rate   `json:"rate"`
	Base         money.Amount `json:"base"`
	Tax          money.Amount `json:"tax"`
}

// ExemptLine is what a certificate kept a jurisdiction from taxing.
type ExemptLine struct {
	Jurisdiction string       `json:"jurisdiction"`
	State        string       `json:"state"`
	Base         money.Amount `json:"base"`
	Certificate  string       `json:"certificate"`
	Expires      time.Time    `json:"expires"`
}

// part is one amount of a document as tax sees it; allowances are negative.
type part struct {
	net money.Amount
	tax Treatment
}

// baseOf adds up the parts that name a jurisdiction in one of their lists.
func baseOf(parts []part, in func(Treatment) []string, jurisdiction string) (base money.Amount, touched bool) {
	for _, p := range parts {
		if slices.Contains(in(p.tax), jurisdiction) {
			base, touched = base.Add(p.net), true
		}
	}
	return base, touched
}

func taxedBy(t Treatment) []string  { return t.TaxedBy }
func exemptIn(t Treatment) []string { return t.ExemptIn }

// assess taxes the parts of a document issued on day.
func (r TaxRules) assess(parts []part, day time.Time) (taxes []TaxLine, exempt []ExemptLine, err error) {
	for _, j := range r.Jurisdictions {
		base, taxed := baseOf(parts, taxedBy, j.Name)
		free, freed := baseOf(parts, exemptIn, j.Name)
		if base.Sign() < 0 || free.Sign() < 0 {
			return nil, nil, fault.Invalidf("adjustments", "the allowances are larger than what %s taxes or exempts", j.Name)
		}
		if taxed {
			taxes = append(taxes, TaxLine{Jurisdiction: j.Name, State: j.State, Rate: j.Rate, Base: base})
		}
		if freed {
			c, _ := r.covering(j.State, day)
			exempt = append(exempt, ExemptLine{j.Name, j.State, free, c.Number, c.Expires})
		}
	}
	return taxes, exempt, r.Basis.levy(taxes, parts)
}

// levy sets the tax of each line. Parts taxed by the same jurisdictions are
// taxed together at the sum of the rates, rounded once per document or per part,
// and the jurisdictions' shares of their tax cut to the cent by largest
// remainder, once.
func (b Basis) levy(taxes []TaxLine, parts []part) error {
	for i := range taxes {
		taxes[i].Tax = money.Cents(0, taxes[i].Base.Currency())
	}
	var together []part // by what taxes them; net is their base, then their tax
	for _, p := range parts {
		if b == PerItem {
			tax, err := p.levied()
			if err != nil {
				return err
			}
			p.net = tax
		}
		i := slices.IndexFunc(together, func(s part) bool { return slices.Equal(s.tax.TaxedBy, p.tax.TaxedBy) })
		if i < 0 {
			together = append(together, p)
			continue
		}
		together[i].net = together[i].net.Add(p.net)
	}
	for _, p := range together {
		tax := p.net
		if b == PerInvoice {
			var err error
			if tax, err = p.levied(); err != nil {
				return err
			}
		}
		if err := spread(taxes, p.tax.TaxedBy, tax); err != nil {
			return err
		}
	}
	return nil
}

// levied is the tax on a part, rounded to the cent.
func (p part) levied() (money.Amount, error) {
	return p.net.Rate().Mul(p.tax.Rate).Round(p.net.Currency())
}

// spread adds each named jurisdiction's share of a tax to its line.
func spread(taxes []TaxLine, names []string, tax money.Amount) error {
	if tax.IsZero() {
		return nil
	}
	weights := make([]money.Rate, len(taxes))
	for i, t := range taxes {
		if slices.Contains(names, t.Jurisdiction) {
			weights[i] = t.Rate
		}
	}
	shares, err := money.Split(tax, weights)
	for i := range shares {
		taxes[i].Tax = taxes[i].Tax.Add(shares[i])
	}
	return err
}
