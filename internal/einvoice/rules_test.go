package einvoice_test

import (
	"os"
	"regexp"
	"strings"
	"testing"
	"time"

	"ribdesk/internal/einvoice"
	"ribdesk/internal/money"
	"ribdesk/internal/party"
)

// whole is a document in which every rule has something to hold on to: taxed and
// exempt lines, allowances and charges on document and line, a gross price.
func whole() einvoice.Document {
	taxed := einvoice.Tax{Category: einvoice.Standard, Rate: num("8.265")}
	free := einvoice.Tax{Category: einvoice.Exempt, Rate: num("0")}
	return einvoice.Document{
		Specification: einvoice.Specification, Type: einvoice.Invoice, Number: "INV-00042", Issued: at("2026-03-02"), Due: at("2026-04-01"),
		Currency: "USD", Notes: []string{"Sales tax: one note", "another"}, Project: "Barn", PO: "PO 7", Order: "O-1", Ticket: "T-1", Terms: "net 30",
		Preceding: []einvoice.Reference{{Number: "INV-00041", Issued: at("2026-03-01")}},
		Seller:    seller(), Buyer: buyer(),
		Delivery: einvoice.Delivery{Day: at("2026-03-02"), Name: "Site 4", Address: party.Address{Street: "3 Hill", City: "Sampletown", State: "EX", Postal: "00003", Country: "US"}},
		Lines: []einvoice.Line{
			{ID: "1", Name: "Panel", Note: "30 @ 22' 4\"", Quantity: num("670"), Unit: "LF", Net: num("2042.51"), Price: num("3.05"), Gross: num("3.10"), Discount: num("0.05"), Tax: taxed,
				Adjustments: []einvoice.Adjustment{{Reason: "Seconds", Amount: num("2.00")}, {Charge: true, Reason: "Film", Percent: num("1"), Base: num("101"), Amount: num("1.01")}}},
			{ID: "2", Name: "Ridge cap", Quantity: num("11"), Unit: "H87", Net: num("288.97"), Price: num("26.27"), Tax: free},
		},
		Adjustments: []einvoice.Adjustment{
			{Reason: "Trade discount", Percent: num("10"), Base: num("100"), Amount: num("10.00"), Tax: taxed},
			{Charge: true, Reason: "Delivery", Percent: num("50"), Base: num("100"), Amount: num("50.00"), Tax: free},
		},
		Groups: []einvoice.Group{
			{Tax: taxed, Taxable: num("2032.51"), Amount: num("167.99")},
			{Tax: free, Taxable: num("338.97"), Amount: num("0"), Reason: "EX certificate R-77"},
		},
		Totals: einvoice.Totals{Lines: num("2331.48"), Allowances: num("10.00"), Charges: num("50.00"), WithoutTax: num("2371.48"), Tax: num("167.99"),
			WithTax: num("2539.47"), Prepaid: num("500.00"), Rounding: num("0.01"), Payable: num("2039.48")},
	}
}

// mutations breaks each rule in a copy of whole; more than one break of a rule
// may stand in the list.
var mutations = []struct {
	rule   string
	change func(*einvoice.Document)
}{
	{"BR-01", func(d *einvoice.Document) { d.Specification = " " }},
	{"BR-02", func(d *einvoice.Document) { d.Number = "" }},
	{"BR-03", func(d *einvoice.Document) { d.Issued = time.Time{} }},
	{"BR-04", func(d *einvoice.Document) { d.Type = "" }},
	{"BR-CL-01", func(d *einvoice.Document) { d.Type = "999" }},
	{"BR-05", func(d *einvoice.Document) { d.Currency = "" }},
	{"BR-CL-04", func(d *einvoice.Document) { d.Currency = "dollars" }},
	{"BR-06", func(d *einvoice.Document) { d.Seller.Name = "" }},
	{"BR-07", func(d *einvoice.Document) { d.Buyer.Name = "" }},
	{"BR-08", func(d *einvoice.Document) { d.Seller.Address = party.Address{} }},
	{"BR-09", func(d *einvoice.Document) { d.Seller.Address.Country = "" }},
	{"BR-10", func(d *einvoice.Document) { d.Buyer.Address = party.Address{} }},
	{"BR-11", func(d *einvoice.Document) { d.Buyer.Address.Country = "" }},
	{"BR-12", func(d *einvoice.Document) { d.Totals.Lines = einvoice.Number{} }},
	{"BR-13", func(d *einvoice.Document) { d.Totals.WithoutTax = einvoice.Number{} }},
	{"BR-14", func(d *einvoice.Document) { d.Totals.WithTax = einvoice.Number{} }},
	{"BR-15", func(d *einvoice.Document) { d.Totals.Payable = einvoice.Number{} }},
	{"BR-16", func(d *einvoice.Document) { d.Lines = nil }},
	{"BR-21", func(d *einvoice.Document) { d.Lines[0].ID = "" }},
	{"BR-22", func(d *einvoice.Document) { d.Lines[0].Quantity = einvoice.Number{} }},
	{"BR-23", func(d *einvoice.Document) { d.Lines[0].Unit = "" }},
	{"BR-CL-23", func(d *einvoice.Document) { d.Lines[0].Unit = "LNF" }},
	{"BR-24", func(d *einvoice.Document) { d.Lines[0].Net = einvoice.Number{} }},
	{"BR-25", func(d *einvoice.Document) { d.Lines[0].Name = "" }},
	{"BR-26", func(d *einvoice.Document) { d.Lines[0].Price = einvoice.Number{} }},
	{"BR-27", func(d *einvoice.Document) { d.Lines[0].Price, d.Lines[0].Quantity = num("-3.05"), num("-670") }},
	{"BR-28", func(d *einvoice.Document) { d.Lines[0].Gross = num("-1") }},
	{"BR-31", func(d *einvoice.Document) { d.Adjustments[0].Amount = einvoice.Number{} }},
	{"BR-32", func(d *einvoice.Document) { d.Adjustments[0].Tax = einvoice.Tax{} }},
	{"BR-33", func(d *einvoice.Document) { d.Adjustments[0].Reason = "" }},
	{"BR-36", func(d *einvoice.Document) { d.Adjustments[1].Amount = einvoice.Number{} }},
	{"BR-37", func(d *einvoice.Document) { d.Adjustments[1].Tax = einvoice.Tax{} }},
	{"BR-38", func(d *einvoice.Document) { d.Adjustments[1].Reason = "" }},
	{"BR-41", func(d *einvoice.Document) { d.Lines[0].Adjustments[0].Amount = einvoice.Number{} }},
	{"BR-42", func(d *einvoice.Document) { d.Lines[0].Adjustments[0].Reason = "" }},
	{"BR-43", func(d *einvoice.Document) { d.Lines[0].Adjustments[1].Amount = einvoice.Number{} }},
	{"BR-44", func(d *einvoice.Document) { d.Lines[0].Adjustments[1].Reason = "" }},
	{"BR-45", func(d *einvoice.Document) { d.Groups[0].Taxable = einvoice.Number{} }},
	{"BR-46", func(d *einvoice.Document) { d.Groups[0].Amount = einvoice.Number{} }},
	{"BR-47", func(d *einvoice.Document) { d.Groups[0].Tax.Category = "" }},
	{"BR-48", func(d *einvoice.Document) { d.Groups[0].Tax.Rate = einvoice.Number{} }},
	{"BR-55", func(d *einvoice.Document) { d.Preceding[0].Number = "" }},
	{"BR-57", func(d *einvoice.Document) { d.Delivery.Address.Country = "" }},
	{"BR-CL-14", func(d *einvoice.Document) { d.Buyer.Address.Country = "USA" }},
	{"BR-CL-14", func(d *einvoice.Document) { d.Delivery.Address.Country = "us" }},
	{"BR-CL-17", func(d *einvoice.Document) { d.Lines[0].Tax.Category = "X" }},
	{"BR-CO-04", func(d *einvoice.Document) { d.Lines[0].Tax = einvoice.Tax{} }},
	{"BR-CO-10", func(d *einvoice.Document) { d.Lines = d.Lines[:1] }},
	{"BR-CO-11", func(d *einvoice.Document) { d.Totals.Allowances = einvoice.Number{} }},
	{"BR-CO-12", func(d *einvoice.Document) { d.Totals.Charges = num("49.99") }},
	{"BR-CO-13", func(d *einvoice.Document) { d.Totals.WithoutTax = num("2371.49") }},
	{"BR-CO-14", func(d *einvoice.Document) { d.Totals.Tax = num("168.00") }},
	{"BR-CO-15", func(d *einvoice.Document) { d.Totals.WithTax = num("2539.48") }},
	{"BR-CO-16", func(d *einvoice.Document) { d.Totals.Rounding = einvoice.Number{} }},
	{"BR-CO-17", func(d *einvoice.Document) { d.Groups[0].Amount = num("167.98") }},
	{"BR-CO-18", func(d *einvoice.Document) { d.Groups = nil }},
	{"BR-CO-25", func(d *einvoice.Document) { d.Due, d.Terms = time.Time{}, "" }},
	{"BR-CO-26", func(d *einvoice.Document) { d.Seller.LegalID = "" }},
	{"BR-S-01", func(d *einvoice.Document) { d.Lines[0].Tax.Rate = num("8.25") }},
	{"BR-S-01", func(d *einvoice.Document) { d.Groups = append(d.Groups, d.Groups[0]) }},
	{"BR-S-02", func(d *einvoice.Document) { d.Seller.TaxID = "" }},
	{"BR-S-03", func(d *einvoice.Document) { d.Seller.TaxID = "" }},
	{"BR-S-04", func(d *einvoice.Document) { d.Adjustments[1].Tax, d.Seller.TaxID = d.Adjustments[0].Tax, "" }},
	{"BR-S-05", func(d *einvoice.Document) { d.Lines[0].Tax.Rate = num("0") }},
	{"BR-S-06", func(d *einvoice.Document) { d.Adjustments[0].Tax.Rate = num("0") }},
	{"BR-S-07", func(d *einvoice.Document) { d.Adjustments[1].Tax.Category = einvoice.Standard }},
	{"BR-S-08", func(d *einvoice.Document) { d.Adjustments[0].Charge = true }},
	{"BR-S-09", func(d *einvoice.Document) { d.Groups[0].Amount = num("168.00") }},
	{"BR-S-10", func(d *einvoice.Document) { d.Groups[0].Reason = "none" }},
	{"BR-E-01", func(d *einvoice.Document) { d.Groups = d.Groups[:1] }},
	{"BR-E-02", func(d *einvoice.Document) { d.Seller.TaxID = "" }},
	{"BR-E-03", func(d *einvoice.Document) { d.Adjustments[0].Tax, d.Seller.TaxID = d.Adjustments[1].Tax, "" }},
	{"BR-E-04", func(d *einvoice.Document) { d.Seller.TaxID = "" }},
	{"BR-E-05", func(d *einvoice.Document) { d.Lines[1].Tax.Rate = num("1") }},
	{"BR-E-06", func(d *einvoice.Document) { d.Adjustments[0].Tax.Category = einvoice.Exempt }},
	{"BR-E-07", func(d *einvoice.Document) { d.Adjustments[1].Tax.Rate = einvoice.Number{} }},
	{"BR-E-08", func(d *einvoice.Document) { d.Groups[1].Taxable = num("338.96") }},
	{"BR-E-09", func(d *einvoice.Document) { d.Groups[1].Amount = num("0.01") }},
	{"BR-E-10", func(d *einvoice.Document) { d.Groups[1].Reason = "" }},
	{"BR-O-01", func(d *einvoice.Document) { d.Lines[1].Tax = einvoice.Tax{Category: einvoice.Outside} }},
	{"BR-O-05", func(d *einvoice.Document) { d.Lines[1].Tax.Category = einvoice.Outside }},
	{"BR-O-06", func(d *einvoice.Document) { d.Adjustments[0].Tax.Category = einvoice.Outside }},
	{"BR-O-07", func(d *einvoice.Document) { d.Adjustments[1].Tax.Category = einvoice.Outside }},
	{"BR-O-08", func(d *einvoice.Document) { d.Groups[1].Tax = einvoice.Tax{Category: einvoice.Outside} }},
	{"BR-O-09", func(d *einvoice.Document) {
		d.Groups[1].Tax, d.Groups[1].Amount = einvoice.Tax{Category: einvoice.Outside}, num("1")
	}},
	{"BR-O-10", func(d *einvoice.Document) {
		d.Groups[1].Tax, d.Groups[1].Reason = einvoice.Tax{Category: einvoice.Outside}, ""
	}},
	{"BR-O-11", func(d *einvoice.Document) { d.Groups[1].Tax = einvoice.Tax{Category: einvoice.Outside} }},
	{"BR-O-12", func(d *einvoice.Document) { d.Groups[1].Tax = einvoice.Tax{Category: einvoice.Outside} }},
	{"BR-O-13", func(d *einvoice.Document) { d.Groups[1].Tax = einvoice.Tax{Category: einvoice.Outside} }},
	{"BR-O-14", func(d *einvoice.Document) { d.Groups[1].Tax = einvoice.Tax{Category: einvoice.Outside} }},
	{"BR-DEC-01", func(d *einvoice.Document) { d.Adjustments[0].Amount = num("10.001") }},
	{"BR-DEC-02", func(d *einvoice.Document) { d.Adjustments[0].Base = num("100.001") }},
	{"BR-DEC-05", func(d *einvoice.Document) { d.Adjustments[1].Amount = num("50.001") }},
	{"BR-DEC-06", func(d *einvoice.Document) { d.Adjustments[1].Base = num("100.001") }},
	{"BR-DEC-09", func(d *einvoice.Document) { d.Totals.Lines = num("2331.481") }},
	{"BR-DEC-10", func(d *einvoice.Document) { d.Totals.Allowances = num("10.001") }},
	{"BR-DEC-11", func(d *einvoice.Document) { d.Totals.Charges = num("50.001") }},
	{"BR-DEC-12", func(d *einvoice.Document) { d.Totals.WithoutTax = num("2371.481") }},
	{"BR-DEC-13", func(d *einvoice.Document) { d.Totals.Tax = num("167.987") }},
	{"BR-DEC-14", func(d *einvoice.Document) { d.Totals.WithTax = num("2539.471") }},
	{"BR-DEC-16", func(d *einvoice.Document) { d.Totals.Prepaid = num("500.001") }},
	{"BR-DEC-17", func(d *einvoice.Document) { d.Totals.Rounding = num("0.011") }},
	{"BR-DEC-18", func(d *einvoice.Document) { d.Totals.Payable = num("2039.481") }},
	{"BR-DEC-19", func(d *einvoice.Document) { d.Groups[0].Taxable = num("2032.511") }},
	{"BR-DEC-20", func(d *einvoice.Document) { d.Groups[0].Amount = num("167.987") }},
	{"BR-DEC-23", func(d *einvoice.Document) { d.Lines[0].Net = num("2042.511") }},
	{"BR-DEC-24", func(d *einvoice.Document) { d.Lines[0].Adjustments[0].Amount = num("2.001") }},
	{"BR-DEC-25", func(d *einvoice.Document) { d.Lines[0].Adjustments[0].Base = num("2.001") }},
	{"BR-DEC-27", func(d *einvoice.Document) { d.Lines[0].Adjustments[1].Amount = num("1.011") }},
	{"BR-DEC-28", func(d *einvoice.Document) { d.Lines[0].Adjustments[1].Base = num("101.001") }},
	{"PEPPOL-EN16931-R120", func(d *einvoice.Document) { d.Lines[1].Quantity = num("12") }},
	{"PEPPOL-EN16931-R046", func(d *einvoice.Document) { d.Lines[0].Discount = num("0.06") }},
	{"PEPPOL-EN16931-R040", func(d *einvoice.Document) { d.Adjustments[0].Percent = num("11") }},
	{"PEPPOL-EN16931-R041", func(d *einvoice.Document) { d.Adjustments[0].Base = einvoice.Number{} }},
	{"PEPPOL-EN16931-R042", func(d *einvoice.Document) { d.Adjustments[0].Percent = einvoice.Number{} }},
}

func TestEachRuleIsCaught(t *testing.T) {
	if got := einvoice.Check(whole()); len(got) > 0 {
		t.Fatalf("the unbroken document breaks %v", got)
	}
	for _, m := range mutations {
		d := whole()
		m.change(&d)
		if got := rules(einvoice.Check(d)); !strings.Contains(got, m.rule+"@") {
			t.Errorf("%s isn't told, only: %s", m.rule, got)
		}
		if b, err := einvoice.Write(d); err == nil {
			t.Errorf("%s: a broken document was written, %d bytes", m.rule, len(b))
		}
	}
}

// TestEachRuleHasAMutation reads the rule ids out of the source, so that a new
// rule can't stay untested.
func TestEachRuleHasAMutation(t *testing.T) {
	tested := map[string]bool{}
	for _, m := range mutations {
		tested[m.rule] = true
	}
	id := regexp.MustCompile(`"((?:BR|PEPPOL)-[A-Z0-9-]*[0-9])"`)
	n := 0
	for _, file := range []string{"rules.go", "taxrules.go"} {
		b, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range id.FindAllStringSubmatch(string(b), -1) {
			n++
			if !tested[m[1]] {
				t.Errorf("%s has no broken copy", m[1])
			}
		}
	}
	if n < 60 {
		t.Fatalf("found only %d rules", n)
	}
	for _, k := range []string{"S", "E"} { // those put together from parts
		for _, nth := range []string{"01", "02", "03", "04", "05", "06", "07", "08", "09", "10"} {
			if !tested["BR-"+k+"-"+nth] {
				t.Errorf("BR-%s-%s has no broken copy", k, nth)
			}
		}
	}
}

// TestHalfCentsOnCredits: the published pair rounds away from zero both ways.
func TestHalfCentsOnCredits(t *testing.T) {
	for taxable, want := range map[string]string{"625743.54": "156435.89", "-625743.54": "-156435.89"} {
		d := whole()
		d.Groups = []einvoice.Group{{Tax: einvoice.Tax{Category: einvoice.Standard, Rate: num("25")}, Taxable: num(taxable), Amount: num(want)}}
		if got := rules(einvoice.Check(d)); strings.Contains(got, "BR-CO-17") {
			t.Errorf("%s: %s", taxable, got)
		}
		d.Groups[0].Amount = einvoice.Num(money.Must(want).Sub(money.Must("0.01")))
		if got := rules(einvoice.Check(d)); !strings.Contains(got, "BR-CO-17") {
			t.Errorf("%s: a cent less passes", taxable)
		}
	}
}
