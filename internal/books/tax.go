package books

import (
	"fmt"
	"strings"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/money"
	"ribdesk/internal/party"
)

// Basis is how a shop rounds sales tax; it is kept with each invoice.
type Basis string

// The bases that section 324 of the Streamlined Sales and Use Tax Agreement
// lets a seller choose from. They differ: 3 x 0.99 at 6.5 % is 0.19 per invoice
// and 0.18 per item.
const (
	PerInvoice Basis = "invoice" // once per jurisdiction, on the summed base
	PerItem    Basis = "item"    // per line, charge and allowance, then added up
)

// Jurisdiction is one authority that taxes the sale: a state, county or city.
type Jurisdiction struct {
	Name   string     // the account of its tax carries this name
	State  string     // two letters; certificates are per state
	Rate   money.Rate // a share: .0625
	Except []string   // the tax classes that it doesn't tax, such as "delivery"
}

func (j Jurisdiction) taxes(class string) bool {
	for _, c := range j.Except {
		if c == class {
			return false
		}
	}
	return true
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
	TaxedBy  []string   // names of jurisdictions
	ExemptIn []string   // names of jurisdictions that a certificate keeps away
	Rate     money.Rate // the rates of TaxedBy added up
	Why      string     // why any jurisdiction didn't tax it, for people
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
		if !contains(kept, s) {
			kept = append(kept, s)
		}
	}
	return kept
}

func contains(ss []string, s string) bool {
	for _, k := range ss {
		if k == s {
			return true
		}
	}
	return false
}

// TaxLine is the tax of one jurisdiction on one document.
type TaxLine struct {
	Jurisdiction string
	State        string
	Rate         money.Rate
	Base         money.Amount
	Tax          money.Amount
}

// ExemptLine is what a certificate kept a jurisdiction from taxing.
type ExemptLine struct {
	Jurisdiction string
	State        string
	Base         money.Amount
	Certificate  string
	Expires      time.Time
}

// part is one amount of a document as tax sees it; allowances are negative.
type part struct {
	net money.Amount
	tax Treatment
}

func baseOf(parts []part, in func(Treatment) []string, jurisdiction string) (base money.Amount, touched bool) {
	for _, p := range parts {
		if contains(in(p.tax), jurisdiction) {
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
			tax, err := r.Basis.tax(parts, base, j)
			if err != nil {
				return nil, nil, err
			}
			taxes = append(taxes, TaxLine{j.Name, j.State, j.Rate, base, tax})
		}
		if freed {
			c, _ := r.covering(j.State, day)
			exempt = append(exempt, ExemptLine{j.Name, j.State, free, c.Number, c.Expires})
		}
	}
	return taxes, exempt, nil
}

func (b Basis) tax(parts []part, base money.Amount, j Jurisdiction) (sum money.Amount, err error) {
	if b == PerInvoice {
		return base.Rate().Mul(j.Rate).Round(base.Currency())
	}
	for _, p := range parts {
		if !contains(p.tax.TaxedBy, j.Name) {
			continue
		}
		t, err := p.net.Rate().Mul(j.Rate).Round(base.Currency())
		if err != nil {
			return sum, err
		}
		sum = sum.Add(t)
	}
	return sum, nil
}
