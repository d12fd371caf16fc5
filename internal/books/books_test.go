package books_test

import (
	"strings"
	"testing"
	"time"

	"ribdesk/internal/books"
	"ribdesk/internal/fault"
	"ribdesk/internal/money"
	"ribdesk/internal/party"
)

func usd(cents int64) money.Amount { return money.Cents(cents, money.USD) }

func day(s string) time.Time {
	d, err := time.Parse(time.DateOnly, s)
	if err != nil {
		panic(err)
	}
	return d
}

func must[T any](v T, err error) func(*testing.T) T {
	return func(t *testing.T) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

// refused checks that err is a fault of this kind at this field.
func refused(t *testing.T, err error, kind fault.Kind, field string) {
	t.Helper()
	if !fault.Is(err, kind) {
		t.Fatalf("want a refusal (%v) at %q, got %v", kind, field, err)
	}
	for _, f := range fault.All(err) {
		if f.Field == field {
			return
		}
	}
	t.Fatalf("no refusal at %q in %v", field, err)
}

func line(id, quantity, price string) books.Line {
	return books.Line{ID: id, Description: "Panel " + id, Group: "panels", Class: "goods", Quantity: money.Must(quantity), Unit: "LF", UnitPrice: money.Must(price)}
}

func county(rate string) books.TaxRules {
	return books.TaxRules{Basis: books.PerInvoice, Jurisdictions: []books.Jurisdiction{
		{Name: "Example State", State: "EX", Rate: money.Must(rate), Classes: []string{"goods"}}}}
}

var net30 = party.Terms{NetDays: 30}

func draft(lines ...books.Line) books.Draft {
	return books.Draft{Customer: 7, Currency: money.USD, Order: "O-1", Ticket: "T-1", Issued: day("2026-03-02"), Supplied: day("2026-03-02"),
		Terms: net30, Lines: lines, Tax: county(".07")}
}

// shopOrder is the shop's worked order: 30 @ 22' 4", 18 @ 14' 8", 12 @ 9' 6" and
// eleven ridge caps, two bundles, delivery untaxed.
func shopOrder() books.Draft {
	d := draft(line("1", "670", "3.05"), line("2", "264", "3.05"), line("3", "114", "3.05"),
		books.Line{ID: "4", Description: "Ridge cap 10'", Group: "trim", Class: "goods", Quantity: money.Int(11), Unit: "H87", UnitPrice: money.Must("26.27")})
	d.Adjustments = []books.Adjustment{
		{Reason: "Bundling", Class: "goods", Account: books.Sales("packing"), Amount: usd(5000)},
		{Reason: "Delivery", Class: "delivery", Account: books.Delivery, Amount: usd(17340)},
	}
	return d
}

func TestInvoiceAddsUp(t *testing.T) {
	// The figures were worked out by hand with the shop's pricing rules.
	got := must(shopOrder().Issue("INV-00001"))(t)
	inv := got.Invoice
	want := map[string]string{"lines": "3,485.37", "subtotal": "3,708.77", "tax": "247.48", "total": "3,956.25", "base": "3,535.37"}
	have := map[string]string{"lines": inv.LineTotal.String(), "subtotal": inv.Subtotal.String(), "tax": inv.TaxTotal.String(),
		"total": inv.Total.String(), "base": inv.Taxes[0].Base.String()}
	for k, w := range want {
		if have[k] != w {
			t.Errorf("%s: got %s, want %s", k, have[k], w)
		}
	}
	if inv.Due != day("2026-04-01") || got.Item.Open != inv.Total {
		t.Errorf("due %s, open %s", inv.Due, got.Item.Open)
	}
	e := got.Entries[0]
	if e.On(books.Receivable).Cents() != 395625 || e.On(books.Delivery).Cents() != -17340 || e.On(books.SalesTax("Example State")).Cents() != -24748 {
		t.Errorf("posted %s", e)
	}
	if err := inv.Verify(); err != nil {
		t.Error(err)
	}
	inv.Total = usd(1)
	refused(t, inv.Verify(), fault.Invalid, "total")
}

func TestDepositAndBalanceMakeTheTotal(t *testing.T) {
	c, e, err := books.Payment{Number: "P-1", Customer: 7, Day: day("2026-02-20"), Method: books.ByCheck, Reference: "1001",
		Order: "O-1", Deposit: true, Amount: usd(197813)}.Receive()
	if err != nil || e.On(books.Deposits).Cents() != -197813 {
		t.Fatal(e, err)
	}
	d := shopOrder()
	d.Deposits = []books.DepositUse{{Deposit: c, Amount: usd(197813)}}
	got := must(d.Issue("INV-00001"))(t)
	if got.Invoice.AmountDue.String() != "1,978.12" || got.Item.Open != got.Invoice.AmountDue || !got.Deposits[0].Open.IsZero() {
		t.Fatalf("due %s, open %s, deposit left %s", got.Invoice.AmountDue, got.Item.Open, got.Deposits[0].Open)
	}
	d.Deposits[0].Amount = usd(197814)
	_, err = d.Issue("INV-00001")
	refused(t, err, fault.Invalid, "deposits.1.amount")
	large := c
	large.Open = usd(500000)
	for _, cents := range []int64{395626, 0, -1} {
		d.Deposits[0] = books.DepositUse{Deposit: large, Amount: usd(cents)}
		_, err = d.Issue("INV-00001")
		refused(t, err, fault.Invalid, "deposits.1.amount")
	}
}

func TestAllowanceIsPostedAsDiscount(t *testing.T) {
	d := draft(line("1", "100", "1"))
	d.Adjustments = []books.Adjustment{{Allowance: true, Reason: "Trade discount", Class: "goods", Amount: usd(1000)}}
	got := must(d.Issue("INV-00001"))(t)
	if e := got.Entries[0]; e.On(books.Discounts).Cents() != 1000 || e.On(books.Sales("panels")).Cents() != -10000 || e.On(books.Receivable).Cents() != 9630 {
		t.Fatal(e)
	}
}

func TestCertificateMustCoverTheInvoiceDay(t *testing.T) {
	cert := party.Certificate{Number: "R-77", State: "EX", Signed: day("2026-01-01"), Expires: day("2026-03-02")}
	cases := []struct {
		name, issued string
		change       func(*books.Draft)
		tax          int64
	}{
		{"covered on its last day", "2026-03-02", func(*books.Draft) {}, 0},
		{"expired the day before", "2026-03-03", func(*books.Draft) {}, 24748},
		{"another state", "2026-03-02", func(d *books.Draft) { d.Tax.Jurisdictions[0].State = "OT" }, 24748},
		{"for own use", "2026-03-02", func(d *books.Draft) {
			for i := range d.Lines {
				d.Lines[i].OwnUse = true
			}
			d.Adjustments[0].OwnUse = true
		}, 24748},
		{"revoked", "2026-03-02", func(d *books.Draft) { d.Tax.Certificates[0].Revoked = true }, 24748},
	}
	for _, c := range cases {
		d := shopOrder()
		d.Issued = day(c.issued)
		d.Tax.Certificates = []party.Certificate{cert}
		c.change(&d)
		inv := must(d.Issue("INV-00001"))(t).Invoice
		if inv.TaxTotal.Cents() != c.tax || inv.Total.Cents() != 370877+c.tax {
			t.Errorf("%s: tax %s, total %s", c.name, inv.TaxTotal, inv.Total)
		}
		if c.tax == 0 && (len(inv.Exempt) != 1 || inv.Exempt[0].Certificate != "R-77" || inv.Exempt[0].Base.Cents() != 353537 || !strings.Contains(inv.Lines[0].Tax.Why, "R-77")) {
			t.Errorf("%s: exempt %+v", c.name, inv.Exempt)
		}
	}
}

func TestDraftRefusals(t *testing.T) {
	cases := []struct {
		field  string
		change func(*books.Draft)
	}{
		{"customer", func(d *books.Draft) { d.Customer = 0 }},
		{"supplied", func(d *books.Draft) { d.Supplied = day("2026-03-03") }},
		{"issued", func(d *books.Draft) { d.Issued = time.Time{} }},
		{"po", func(d *books.Draft) { d.PO = "a\nb" }},
		{"lines", func(d *books.Draft) { d.Lines = nil }},
		{"lines.1.quantity", func(d *books.Draft) { d.Lines[0].Quantity = money.Int(0) }},
		{"lines.1.unit_price", func(d *books.Draft) { d.Lines[0].UnitPrice = money.Int(-1) }},
		{"lines.1.quantity", func(d *books.Draft) {
			d.Lines[0].Quantity, d.Lines[0].UnitPrice = money.Int(900_000_000_000_000), money.Int(900_000_000_000_000)
		}},
		{"lines.1.group", func(d *books.Draft) { d.Lines[0].Group = "" }},
		{"lines.2.id", func(d *books.Draft) { d.Lines[1].ID = "1" }},
		{"adjustments.1.reason", func(d *books.Draft) { d.Adjustments[0].Reason = " " }},
		{"adjustments.1.amount", func(d *books.Draft) { d.Adjustments[0].Amount = usd(-1) }},
		{"adjustments.1.account", func(d *books.Draft) { d.Adjustments[0].Account = books.Cash }},
		{"adjustments", func(d *books.Draft) {
			d.Adjustments = []books.Adjustment{{Allowance: true, Reason: "Too much", Class: "goods", Amount: usd(99999999)}}
		}},
		{"tax.basis", func(d *books.Draft) { d.Tax.Basis = "" }},
		{"tax.jurisdictions.1.rate", func(d *books.Draft) { d.Tax.Jurisdictions[0].Rate = money.Int(7) }},
		{"tax.jurisdictions.2.name", func(d *books.Draft) {
			d.Tax.Jurisdictions = append(d.Tax.Jurisdictions, d.Tax.Jurisdictions[0])
		}},
		{"retain", func(d *books.Draft) { d.Retain = money.Int(1) }},
		{"terms", func(d *books.Draft) { d.Terms = party.Terms{NetDays: 5, DiscountDays: 10} }},
	}
	for _, c := range cases {
		d := shopOrder()
		c.change(&d)
		_, err := d.Issue("INV-00001")
		t.Run(c.field, func(t *testing.T) { refused(t, err, fault.Invalid, c.field) })
	}
	_, err := draft(line("1", "5", "0")).Issue("INV-00001")
	refused(t, err, fault.Invalid, "lines")
	_, err = draft(line("1", "5", "1")).Issue("")
	refused(t, err, fault.Invalid, "number")
}

func TestDeliverable(t *testing.T) {
	order := []books.OrderLine{
		{Line: line("1", "670", "3.05"), Invoiced: money.Int(100), Delivered: money.Int(70)},
		{Line: line("2", "264", "3.05")},
	}
	lines := must(books.Deliverable(order))(t)
	if len(lines) != 1 || lines[0].ID != "1" || lines[0].Quantity.String() != "70" {
		t.Fatalf("got %+v", lines)
	}
	if p := books.Progress(order)[0]; p.Left.String() != "500" || p.Before.String() != "100" {
		t.Fatalf("got %+v", p)
	}
	order[0].Delivered = money.Must("570.0001")
	_, err := books.Deliverable(order)
	refused(t, err, fault.Invalid, "lines.1.delivered")
	order[0].Delivered = money.Int(0)
	_, err = books.Deliverable(order)
	refused(t, err, fault.Invalid, "lines")
}

func TestRetention(t *testing.T) {
	d := shopOrder()
	d.Retain = money.Must(".10")
	got := must(d.Issue("INV-00001"))(t)
	if got.Invoice.Retained.String() != "395.63" || got.Item.Original.String() != "3,560.62" || got.Entries[0].On(books.Retention).Cents() != 39563 {
		t.Fatalf("retained %s, owed %s", got.Invoice.Retained, got.Item.Original)
	}
	it, e, err := books.ReleaseRetention(got.Invoice, "INV-00001-R1", usd(39563), usd(0), day("2026-07-01"), day("2026-06-01"))
	if err != nil || it.Open.Cents() != 39563 || e.On(books.Retention).Cents() != -39563 {
		t.Fatal(it, e, err)
	}
	_, _, err = books.ReleaseRetention(got.Invoice, "INV-00001-R2", usd(1), usd(39563), day("2026-07-01"), day("2026-06-01"))
	refused(t, err, fault.Invalid, "amount")
}
