package books_test

import (
	"testing"

	"pgregory.net/rapid"

	"ribdesk/internal/books"
	"ribdesk/internal/fault"
	"ribdesk/internal/money"
)

func TestMemoTakesTaxBackAtTheOriginalRate(t *testing.T) {
	inv := must(shopOrder().Issue("INV-00001"))(t).Invoice
	got := must(inv.Credit("CM-00001", books.MemoDraft{Day: day("2026-03-05"), Reason: "two panels damaged",
		Lines: []books.MemoLine{{ID: "1", Quantity: money.Must("44.666666666666666667")}}}, nil))(t)
	// 44.6667 ft x 3.05 = 136.23; x 7 % = 9.5361
	m := got.Memo
	if m.Subtotal.Plain() != "136.23" || m.TaxTotal.Plain() != "9.54" || got.Credit.Open.Plain() != "145.77" || m.Invoice != "INV-00001" {
		t.Fatalf("got %+v", m)
	}
	if e := got.Entry; e.On(books.Sales("panels")).Cents() != 13623 || e.On(books.SalesTax("Example State")).Cents() != 954 || e.On(books.Unapplied).Cents() != -14577 {
		t.Fatalf("posted %s", e)
	}
	if err := m.Verify(); err != nil {
		t.Fatal(err)
	}
}

func TestMemoRefusals(t *testing.T) {
	inv := must(shopOrder().Issue("INV-00001"))(t).Invoice
	ok := books.MemoDraft{Day: day("2026-03-05"), Reason: "damaged"}
	one := must(inv.Credit("CM-00001", inv.Whole(nil, day("2026-03-05"), "order sent back"), nil))(t).Memo
	if one.Total != inv.Total || one.TaxTotal != inv.TaxTotal {
		t.Fatalf("the whole credit is %s of %s", one.Total, inv.Total)
	}
	cases := []struct {
		field  string
		change func(*books.MemoDraft)
		before []books.Memo
	}{
		{"reason", func(d *books.MemoDraft) { d.Reason = "" }, nil},
		{"day", func(d *books.MemoDraft) { d.Day = day("2026-03-01") }, nil},
		{"lines", func(d *books.MemoDraft) {}, nil},
		{"lines.1.id", func(d *books.MemoDraft) { d.Lines = []books.MemoLine{{ID: "9", Quantity: money.Int(1)}} }, nil},
		{"lines.2.id", func(d *books.MemoDraft) {
			d.Lines = []books.MemoLine{{ID: "1", Quantity: money.Int(1)}, {ID: "1", Quantity: money.Int(1)}}
		}, nil},
		{"lines.1.quantity", func(d *books.MemoDraft) { d.Lines = []books.MemoLine{{ID: "1", Quantity: money.Must("670.001")}} }, nil},
		{"lines.1.quantity", func(d *books.MemoDraft) { d.Lines = []books.MemoLine{{ID: "1", Quantity: money.Int(-1)}} }, nil},
		{"lines.1.quantity", func(d *books.MemoDraft) {
			d.Lines = []books.MemoLine{{ID: "1", Quantity: money.Int(1), Amount: usd(1)}}
		}, nil},
		{"lines.1.amount", func(d *books.MemoDraft) { d.Lines = []books.MemoLine{{ID: "1", Amount: usd(204351)}} }, nil},
		{"lines.1.quantity", func(d *books.MemoDraft) { d.Lines = []books.MemoLine{{ID: "1", Quantity: money.Int(1)}} }, []books.Memo{one}},
		{"adjustments.1.amount", func(d *books.MemoDraft) { d.Adjustments = []books.MemoAdjustment{{ID: "A2", Amount: usd(17341)}} }, nil},
		{"adjustments.1.id", func(d *books.MemoDraft) { d.Adjustments = []books.MemoAdjustment{{ID: "A3", Amount: usd(1)}} }, nil},
		{"lines", func(d *books.MemoDraft) { *d = inv.Whole(nil, d.Day, d.Reason); d.Forgiven = usd(1) }, nil},
	}
	for _, c := range cases {
		d := ok
		c.change(&d)
		_, err := inv.Credit("CM-00002", d, c.before)
		t.Run(c.field, func(t *testing.T) { refused(t, err, fault.Invalid, c.field) })
	}
}

func TestMemoMustGiveTheAllowanceBackToo(t *testing.T) {
	d := draft(line("1", "100", "1"))
	d.Adjustments = []books.Adjustment{{Allowance: true, Reason: "Trade discount", Class: "goods", Amount: usd(1000)}}
	inv := must(d.Issue("INV-00001"))(t).Invoice
	_, err := inv.Credit("CM-00001", books.MemoDraft{Day: day("2026-03-05"), Reason: "sent back", Lines: []books.MemoLine{{ID: "1", Quantity: money.Int(100)}}}, nil)
	refused(t, err, fault.Invalid, "lines")
	all := must(inv.Credit("CM-00001", inv.Whole(nil, day("2026-03-05"), "sent back"), nil))(t)
	if all.Memo.Total != inv.Total || all.Entry.On(books.Discounts).Cents() != -1000 {
		t.Fatalf("got %s, %s", all.Memo.Total, all.Entry)
	}
}

// TestMemoStaysWithinTheTaxedBase: the allowance was on the taxed goods, so the
// goods alone are more than was taxed, though not more than the invoice.
func TestMemoStaysWithinTheTaxedBase(t *testing.T) {
	d := draft(line("1", "100", "1"))
	d.Adjustments = []books.Adjustment{{Allowance: true, Reason: "Trade discount", Class: "goods", Amount: usd(1000)},
		{Reason: "Delivery", Class: "delivery", Account: books.Delivery, Amount: usd(5000)}}
	inv := must(d.Issue("INV-00001"))(t).Invoice
	_, err := inv.Credit("CM-00001", books.MemoDraft{Day: day("2026-03-05"), Reason: "sent back", Lines: []books.MemoLine{{ID: "1", Quantity: money.Int(100)}}}, nil)
	refused(t, err, fault.Invalid, "lines")
}

// TestMemoNeverTakesBackMoreTaxThanWasCharged: per item 3 x 0.99 at 6.5 % was
// taxed 0.18, while 2.96 at 6.5 % would be 0.19.
func TestMemoNeverTakesBackMoreTaxThanWasCharged(t *testing.T) {
	d := draft(line("1", "1", ".99"), line("2", "1", ".99"), line("3", "1", ".99"))
	d.Tax = county(".065")
	d.Tax.Basis = books.PerItem
	inv := must(d.Issue("INV-00001"))(t).Invoice
	first := must(inv.Credit("CM-00001", books.MemoDraft{Day: day("2026-03-05"), Reason: "short",
		Lines: []books.MemoLine{{ID: "1", Amount: usd(99)}, {ID: "2", Amount: usd(99)}, {ID: "3", Amount: usd(98)}}}, nil))(t).Memo
	last := must(inv.Credit("CM-00002", inv.Whole([]books.Memo{first}, day("2026-03-05"), "short"), []books.Memo{first}))(t).Memo
	if first.TaxTotal.Cents() != 18 || last.TaxTotal.Cents() != 0 {
		t.Fatalf("got %s and %s", first.TaxTotal, last.TaxTotal)
	}
}

// TestPartsOfALineAddUpToIt: ten times 1 ft at 0.334 is 3.34 together, though
// each alone is 0.33.
func TestPartsOfALineAddUpToIt(t *testing.T) {
	inv := must(draft(line("1", "10", "0.334")).Issue("INV-00001"))(t).Invoice
	var before []books.Memo
	sum := usd(0)
	for range 10 {
		m := must(inv.Credit("CM-00001", books.MemoDraft{Day: day("2026-03-05"), Reason: "short", Lines: []books.MemoLine{{ID: "1", Quantity: money.Int(1)}}}, before))(t).Memo
		before, sum = append(before, m), sum.Add(m.LineTotal)
	}
	if sum.Cents() != 334 || !inv.Left(before).IsZero() {
		t.Fatalf("parts make %s, %s left", sum, inv.Left(before))
	}
}

// TestMoneyOffIsNoGoodsBack: after two price adjustments all the goods can still
// come back, as far as they are worth anything.
func TestMoneyOffIsNoGoodsBack(t *testing.T) {
	inv := must(draft(line("1", "3", "10")).Issue("INV-00001"))(t).Invoice
	var before []books.Memo
	for _, ml := range []books.MemoLine{{ID: "1", Amount: usd(100)}, {ID: "1", Amount: usd(100)}, {ID: "1", Quantity: money.Int(2)}} {
		before = append(before, must(inv.Credit("CM-00001", books.MemoDraft{Day: day("2026-03-05"), Reason: "dented", Lines: []books.MemoLine{ml}}, before))(t).Memo)
	}
	_, err := inv.Credit("CM-00004", books.MemoDraft{Day: day("2026-03-05"), Reason: "dented", Lines: []books.MemoLine{{ID: "1", Quantity: money.Int(1)}}}, before)
	refused(t, err, fault.Invalid, "lines.1.quantity") // worth 10.00, but 8.00 are left
}

func drawInvoice(t *rapid.T) books.Invoice {
	var lines []books.Line
	for i := range rapid.IntRange(1, 5).Draw(t, "lines") {
		l := line(string(rune('a'+i)), "1", "1")
		l.Quantity = money.NewRate(rapid.Int64Range(1, 1_000_000).Draw(t, "quantity"), -3)
		l.UnitPrice = money.NewRate(rapid.Int64Range(1, 100_000).Draw(t, "price"), -3)
		l.Class = rapid.SampledFrom([]string{"goods", "labor"}).Draw(t, "class")
		lines = append(lines, l)
	}
	d := draft(lines...)
	d.Tax.Basis = rapid.SampledFrom([]books.Basis{books.PerInvoice, books.PerItem}).Draw(t, "basis")
	d.Tax.Jurisdictions = []books.Jurisdiction{
		{Name: "State", State: "EX", Rate: money.NewRate(rapid.Int64Range(0, 9000).Draw(t, "state"), -5)},
		{Name: "City", State: "EX", Rate: money.NewRate(rapid.Int64Range(0, 4000).Draw(t, "city"), -5), Classes: []string{"goods"}},
	}
	if rapid.Bool().Draw(t, "charged") {
		d.Adjustments = append(d.Adjustments, books.Adjustment{Reason: "Delivery", Class: "delivery", Account: books.Delivery, Amount: usd(rapid.Int64Range(1, 50_000).Draw(t, "delivery"))})
	}
	got, err := d.Issue("INV-00001")
	if err != nil {
		t.Skip(err)
	}
	return got.Invoice
}

// TestInvoiceLaws: lines + charges - allowances + tax = total, and the entry
// carries the same total.
func TestInvoiceLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		inv := drawInvoice(t)
		sum := usd(0)
		for _, l := range inv.Lines {
			sum = sum.Add(l.Net)
		}
		for _, x := range inv.Taxes {
			sum = sum.Add(x.Tax)
		}
		if sum.Add(inv.Charges).Sub(inv.Allowances) != inv.Total {
			t.Fatalf("%s isn't the sum of its parts", inv.Total)
		}
		if err := inv.Verify(); err != nil {
			t.Fatal(err)
		}
	})
}

// TestMemosNeverExceedTheInvoice credits random parts until nothing more is
// taken, then the rest: the memos together are the invoice to the cent, in every
// jurisdiction.
func TestMemosNeverExceedTheInvoice(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		inv := drawInvoice(t)
		var before []books.Memo
		credit := func(d books.MemoDraft) error {
			got, err := inv.Credit("CM-00001", d, before)
			if err == nil {
				before = append(before, got.Memo)
			}
			return err
		}
		for range rapid.IntRange(0, 6).Draw(t, "memos") {
			l := rapid.SampledFrom(inv.Lines).Draw(t, "line")
			ml := books.MemoLine{ID: l.ID}
			if rapid.Bool().Draw(t, "goods") {
				ml.Quantity = money.NewRate(rapid.Int64Range(1, 1_000_000).Draw(t, "back"), -3)
			} else {
				ml.Amount = usd(rapid.Int64Range(1, 100_000).Draw(t, "off"))
			}
			if err := credit(books.MemoDraft{Day: day("2026-03-05"), Reason: "short", Lines: []books.MemoLine{ml}}); err != nil && fault.KindOf(err) != fault.Invalid {
				t.Fatal(err)
			}
			if inv.Left(before).Sign() < 0 {
				t.Fatalf("credited more than the invoice: %s left", inv.Left(before))
			}
		}
		rest := inv.Whole(before, day("2026-03-06"), "all of it")
		if inv.Left(before).Sign() > 0 {
			if err := credit(rest); err != nil {
				t.Fatalf("the rest, %s, isn't taken: %v", inv.Left(before), err)
			}
		}
		if !inv.Left(before).IsZero() {
			t.Fatalf("%s left", inv.Left(before))
		}
		for _, x := range inv.Taxes {
			back := usd(0)
			for _, m := range before {
				for _, y := range m.Taxes {
					if y.Jurisdiction == x.Jurisdiction {
						back = back.Add(y.Tax)
					}
					if y.Tax.Sign() < 0 {
						t.Fatalf("negative tax on %s", m.Number)
					}
				}
			}
			if back.Cents() != x.Tax.Cents() {
				t.Fatalf("%s charged %s, got %s back", x.Jurisdiction, x.Tax, back)
			}
		}
	})
}
