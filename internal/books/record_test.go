package books_test

import (
	"encoding/json"
	"reflect"
	"testing"
	"time"

	"ribdesk/internal/books"
	"ribdesk/internal/fault"
	"ribdesk/internal/money"
	"ribdesk/internal/party"
)

// TestRecordSurvivesStoring: an invoice and a memo read back from JSON are the
// same to the last digit, also with feet that don't end.
func TestRecordSurvivesStoring(t *testing.T) {
	d := shopOrder()
	d.Lines[0].Quantity = money.Fraction(8039, 12)
	d.Tax.Certificates = []party.Certificate{{Number: "R-1", State: "EX", Signed: day("2026-01-01"), Expires: day("2026-12-31")}}
	d.Lines[1].OwnUse = true
	d.Retain = money.Must(".05")
	inv := must(d.Issue("INV-00001"))(t).Invoice
	memo := must(inv.Credit("CM-00001", inv.Whole(nil, day("2026-03-09"), "sent back"), nil))(t).Memo
	for _, v := range []any{inv, memo} {
		b := must(json.Marshal(v))(t)
		back := reflect.New(reflect.TypeOf(v))
		if err := json.Unmarshal(b, back.Interface()); err != nil {
			t.Fatal(err)
		}
		if again := must(json.Marshal(back.Interface()))(t); string(again) != string(b) {
			t.Fatalf("got\n%s\nwant\n%s", again, b)
		}
		if err := back.Interface().(interface{ Verify() error }).Verify(); err != nil {
			t.Fatal(err)
		}
	}
}

// TestTamperedRecordIsNamed changes each stored sum by a cent.
func TestTamperedRecordIsNamed(t *testing.T) {
	inv := must(shopOrder().Issue("INV-00001"))(t).Invoice
	memo := must(inv.Credit("CM-00001", inv.Whole(nil, day("2026-03-09"), "sent back"), nil))(t).Memo
	for field, pick := range map[string]func(*books.Figures) *money.Amount{
		"line_total": func(f *books.Figures) *money.Amount { return &f.LineTotal },
		"allowances": func(f *books.Figures) *money.Amount { return &f.Allowances },
		"charges":    func(f *books.Figures) *money.Amount { return &f.Charges },
		"subtotal":   func(f *books.Figures) *money.Amount { return &f.Subtotal },
		"tax_total":  func(f *books.Figures) *money.Amount { return &f.TaxTotal },
		"total":      func(f *books.Figures) *money.Amount { return &f.Total },
	} {
		i, m := inv, memo
		for _, f := range []*books.Figures{&i.Figures, &m.Figures} {
			*pick(f) = pick(f).Add(usd(1))
		}
		refused(t, i.Verify(), fault.Invalid, field)
		refused(t, m.Verify(), fault.Invalid, field)
	}
	i := inv
	i.AmountDue = usd(0)
	refused(t, i.Verify(), fault.Invalid, "amount_due")
	i = inv
	i.Taxes = []books.TaxLine{inv.Taxes[0]}
	i.Taxes[0].Tax = usd(24747)
	refused(t, i.Verify(), fault.Invalid, "taxes.Example State.tax")
	i.Taxes[0] = inv.Taxes[0]
	i.Taxes[0].Base = usd(1)
	refused(t, i.Verify(), fault.Invalid, "taxes.Example State.base")
	i = inv
	i.Lines = append([]books.Line(nil), inv.Lines...)
	i.Lines[2].Net = usd(1)
	refused(t, i.Verify(), fault.Invalid, "lines.3.net")
}

// TestPartsOfAFootAreInvoicedWhole: 22' 4" ordered, delivered in three parts of
// which none is a whole decimal.
func TestPartsOfAFootAreInvoicedWhole(t *testing.T) {
	o := books.OrderLine{Line: line("1", "1", "3.05")}
	o.Quantity = money.Fraction(268, 12)
	for _, inches := range []int64{89, 90, 89} {
		o.Delivered = money.Fraction(inches, 12)
		inv := must(draft(must(books.Deliverable([]books.OrderLine{o}))(t)...).Issue("INV-00001"))(t).Invoice
		o.Invoiced = o.Invoiced.Add(inv.Lines[0].Quantity)
		if _, err := inv.Credit("CM-00001", books.MemoDraft{Day: day("2026-03-09"), Reason: "short",
			Lines: []books.MemoLine{{ID: "1", Quantity: money.Fraction(inches, 12)}}}, nil); err != nil {
			t.Fatal(err)
		}
	}
	o.Delivered = money.Fraction(1, 12)
	_, err := books.Deliverable([]books.OrderLine{o})
	refused(t, err, fault.Invalid, "lines.1.delivered")
}

// TestOneCurrency: another currency is refused at its field, never added up.
func TestOneCurrency(t *testing.T) {
	cad := money.Cents(100, "CAD")
	c, it := paid(t, "P-1", 1000, "2026-03-05"), owed("INV-1", 3000, "2026-01-01", "2026-01-31")
	_, err := books.Apply(c, it, cad, day("2026-03-05"))
	refused(t, err, fault.Invalid, "amount")
	other := c
	other.Open = cad
	_, err = books.Apply(other, it, usd(1), day("2026-03-05"))
	refused(t, err, fault.Invalid, "amount")
	_, _, err = books.Refund(c, "RF-1", cad, books.ByCash, day("2026-03-06"))
	refused(t, err, fault.Invalid, "amount")
	_, _, err = books.WriteOff(it, cad, "firm closed", day("2026-03-06"))
	refused(t, err, fault.Invalid, "amount")
	d := shopOrder()
	d.Adjustments[0].Amount = cad
	_, err = d.Issue("INV-1")
	refused(t, err, fault.Invalid, "adjustments.1.amount")
	d = shopOrder()
	d.Deposits = []books.DepositUse{{Deposit: other, Amount: cad}}
	_, err = d.Issue("INV-1")
	refused(t, err, fault.Invalid, "deposits.1.amount")
	inv := must(shopOrder().Issue("INV-00001"))(t).Invoice
	_, err = inv.Credit("CM-1", books.MemoDraft{Day: day("2026-03-09"), Reason: "short", Lines: []books.MemoLine{{ID: "1", Amount: cad}}}, nil)
	refused(t, err, fault.Invalid, "lines.1.amount")
	_, _, err = books.ReleaseRetention(inv, "R-1", cad, usd(0), day("2026-07-01"), day("2026-06-01"))
	refused(t, err, fault.Invalid, "amount")
}

func BenchmarkIssue(b *testing.B) {
	d := shopOrder()
	for b.Loop() {
		if _, err := d.Issue("INV-00001"); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkTrialBalance(b *testing.B) {
	issued, err := shopOrder().Issue("INV-00001")
	if err != nil {
		b.Fatal(err)
	}
	entries := make([]books.Entry, 10_000)
	for i := range entries {
		entries[i] = issued.Entries[0]
	}
	for b.Loop() {
		if _, err := books.TrialBalance(entries, time.Date(2030, 1, 1, 0, 0, 0, 0, time.UTC)); err != nil {
			b.Fatal(err)
		}
	}
}
