package einvoice_test

import (
	"encoding/json"
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"ribdesk/internal/einvoice"
	"ribdesk/internal/money"
	"ribdesk/internal/party"
)

// The examples of testdata/invoice_examples.json are the numbers of 19 published
// documents: the UBL examples of the CEN/TC 434 validation artefacts 1.3.16 and
// those of Peppol BIS Billing 3.0 (2025-Q2). Parties, names and reasons aren't in
// it; invented ones are filled in here.
type example struct {
	ID       string `json:"id"`
	TypeCode string `json:"type_code"`
	Currency string `json:"currency"`
	Lines    []struct {
		Quantity    string              `json:"quantity"`
		Unit        string              `json:"unit"`
		NetPrice    string              `json:"net_price"`
		PerQuantity string              `json:"price_base_quantity"`
		Discount    string              `json:"price_discount"`
		Gross       string              `json:"gross_price"`
		Adjustments []exampleAdjustment `json:"allowances_charges"`
		Net         string              `json:"line_net"`
		exampleTax
	} `json:"lines"`
	Adjustments []exampleAdjustment `json:"document_allowances_charges"`
	Breakdown   []struct {
		Taxable string `json:"taxable"`
		Amount  string `json:"tax"`
		exampleTax
	} `json:"tax_breakdown"`
	Totals struct {
		Tax        string `json:"tax_total"`
		Lines      string `json:"sum_line_net"`
		Allowances string `json:"sum_allowances"`
		Charges    string `json:"sum_charges"`
		WithoutTax string `json:"total_without_tax"`
		WithTax    string `json:"total_with_tax"`
		Prepaid    string `json:"prepaid"`
		Rounding   string `json:"rounding"`
		Payable    string `json:"payable"`
	} `json:"totals"`
	Deviations []string `json:"known_deviations"`
}

type exampleTax struct {
	Category string `json:"tax_category"`
	Rate     string `json:"tax_rate_percent"`
}

type exampleAdjustment struct {
	Kind    string `json:"kind"`
	Amount  string `json:"amount"`
	Percent string `json:"percent"`
	Base    string `json:"base"`
	exampleTax
}

func num(s string) einvoice.Number {
	if s == "" {
		return einvoice.Number{}
	}
	return einvoice.Num(money.Must(s))
}

func (t exampleTax) tax() einvoice.Tax {
	return einvoice.Tax{Category: einvoice.Category(t.Category), Rate: num(t.Rate)}
}

func adjustments(as []exampleAdjustment) (out []einvoice.Adjustment) {
	for _, a := range as {
		out = append(out, einvoice.Adjustment{Charge: a.Kind == "charge", Reason: "Agreed", Percent: num(a.Percent), Base: num(a.Base), Amount: num(a.Amount), Tax: a.tax()})
	}
	return out
}

func at(s string) time.Time {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		panic(err)
	}
	return t
}

func seller() einvoice.Party {
	return einvoice.Party{Name: "Example Forming LLC", Trade: "Example Forming", LegalID: "EX-123456", TaxID: "ST-99-001", Phone: "555 0100",
		Address: party.Address{Street: "1 Mill Road", City: "Sampletown", State: "EX", Postal: "00001", Country: "US"}}
}

func buyer() einvoice.Party {
	return einvoice.Party{Name: "Sample Roofing Inc.", Address: party.Address{Street: "2 Ridge Street", City: "Sampletown", State: "EX", Postal: "00002", Country: "US"}}
}

func (e example) document() einvoice.Document {
	d := einvoice.Document{Specification: einvoice.Specification, Type: einvoice.Type(e.TypeCode), Number: e.ID, Issued: at("2026-03-02"),
		Currency: e.Currency, Terms: "net 30", Seller: seller(), Buyer: buyer(), Adjustments: adjustments(e.Adjustments)}
	if d.Type == einvoice.Invoice {
		d.Due = at("2026-04-01")
	} else {
		d.Preceding = []einvoice.Reference{{Number: "INV-00001", Issued: at("2026-03-01")}}
	}
	for i, l := range e.Lines {
		d.Lines = append(d.Lines, einvoice.Line{ID: fmt.Sprint(i + 1), Name: "Item", Quantity: num(l.Quantity), Unit: l.Unit, Net: num(l.Net),
			Adjustments: adjustments(l.Adjustments), Tax: l.tax(), Price: num(l.NetPrice), Discount: num(l.Discount), Gross: num(l.Gross), PerQuantity: num(l.PerQuantity)})
	}
	for _, b := range e.Breakdown {
		g := einvoice.Group{Tax: b.tax(), Taxable: num(b.Taxable), Amount: num(b.Amount)}
		if g.Tax.Category != einvoice.Standard {
			g.Reason = "Exempt by law"
		}
		d.Groups = append(d.Groups, g)
	}
	t := e.Totals
	d.Totals = einvoice.Totals{Lines: num(t.Lines), Allowances: num(t.Allowances), Charges: num(t.Charges), WithoutTax: num(t.WithoutTax),
		Tax: num(t.Tax), WithTax: num(t.WithTax), Prepaid: num(t.Prepaid), Rounding: num(t.Rounding), Payable: num(t.Payable)}
	return d
}

func examples(t testing.TB) []example {
	t.Helper()
	b, err := os.ReadFile("testdata/invoice_examples.json")
	if err != nil {
		t.Fatal(err)
	}
	var file struct {
		Invoices []example `json:"invoices"`
	}
	if err := json.Unmarshal(b, &file); err != nil || len(file.Invoices) != 19 {
		t.Fatal(len(file.Invoices), err)
	}
	return file.Invoices
}

func rules(vs []einvoice.Violation) string {
	var ids []string
	for _, v := range vs {
		ids = append(ids, v.Rule+"@"+v.Where)
	}
	return strings.Join(ids, " ")
}

// TestPublishedExamplesPass: every published document satisfies every rule. Two
// of them deviate in line data that EN 16931 itself has no rule for (the tables
// note it: line 20 of example 1 lacks a sign, and two lines of example 2 don't
// compute); those are named here and aren't asserted to be right.
func TestPublishedExamplesPass(t *testing.T) {
	noted := map[string]string{
		"ubl-tc434-example1": "PEPPOL-EN16931-R120@lines.20.net",
		"ubl-tc434-example2": "PEPPOL-EN16931-R120@lines.1.net PEPPOL-EN16931-R046@lines.3.price",
	}
	for _, e := range examples(t) {
		if got := rules(einvoice.Check(e.document())); got != noted[e.ID] {
			t.Errorf("%s: %s", e.ID, got)
		}
		if (len(e.Deviations) > 0) != (noted[e.ID] != "") {
			t.Errorf("%s: the table notes %v", e.ID, e.Deviations)
		}
	}
}

func cent(n einvoice.Number, by string) einvoice.Number {
	return einvoice.Num(n.Value.Add(money.Must(by)))
}

// TestExamplesBrokenByACent changes one figure of each published document by a
// cent either way; the rule that binds it must tell.
func TestExamplesBrokenByACent(t *testing.T) {
	type breakage struct {
		rule   string
		figure func(*einvoice.Document) *einvoice.Number
	}
	for _, e := range examples(t) {
		breakages := []breakage{
			{"BR-CO-10", func(d *einvoice.Document) *einvoice.Number { return &d.Totals.Lines }},
			{"BR-CO-11", func(d *einvoice.Document) *einvoice.Number { return &d.Totals.Allowances }},
			{"BR-CO-12", func(d *einvoice.Document) *einvoice.Number { return &d.Totals.Charges }},
			{"BR-CO-13", func(d *einvoice.Document) *einvoice.Number { return &d.Totals.WithoutTax }},
			{"BR-CO-14", func(d *einvoice.Document) *einvoice.Number { return &d.Totals.Tax }},
			{"BR-CO-15", func(d *einvoice.Document) *einvoice.Number { return &d.Totals.WithTax }},
			{"BR-CO-16", func(d *einvoice.Document) *einvoice.Number { return &d.Totals.Payable }},
			{"BR-CO-16", func(d *einvoice.Document) *einvoice.Number { return &d.Totals.Prepaid }},
			{"BR-CO-16", func(d *einvoice.Document) *einvoice.Number { return &d.Totals.Rounding }},
			{"BR-CO-10", func(d *einvoice.Document) *einvoice.Number { return &d.Lines[0].Net }},
			{"PEPPOL-EN16931-R120", func(d *einvoice.Document) *einvoice.Number { return &d.Lines[0].Net }},
		}
		for i, g := range e.Breakdown {
			breakages = append(breakages,
				breakage{"BR-CO-17", func(d *einvoice.Document) *einvoice.Number { return &d.Groups[i].Amount }},
				breakage{"BR-" + g.Category + "-09", func(d *einvoice.Document) *einvoice.Number { return &d.Groups[i].Amount }},
				breakage{"BR-" + g.Category + "-08", func(d *einvoice.Document) *einvoice.Number { return &d.Groups[i].Taxable }})
		}
		for _, b := range breakages {
			for _, by := range []string{"0.01", "-0.01"} {
				d := e.document()
				*b.figure(&d) = cent(*b.figure(&d), by)
				if got := rules(einvoice.Check(d)); !strings.Contains(got, b.rule+"@") {
					t.Errorf("%s: %s off by %s isn't told: %s", e.ID, b.rule, by, got)
				}
			}
		}
	}
}
