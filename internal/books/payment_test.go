package books_test

import (
	"testing"
	"time"

	"ribdesk/internal/books"
	"ribdesk/internal/fault"
	"ribdesk/internal/money"
	"ribdesk/internal/party"
)

func paid(t *testing.T, number string, cents int64, on string) books.Credit {
	t.Helper()
	c, _, err := books.Payment{Number: number, Customer: 7, Day: day(on), Method: books.ByTransfer, Amount: usd(cents)}.Receive()
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func owed(number string, cents int64, on, due string) books.Item {
	return books.Item{Kind: books.InvoiceItem, Number: number, Customer: 7, Day: day(on), Due: day(due), Original: usd(cents), Open: usd(cents)}
}

func TestPaymentRefusals(t *testing.T) {
	ok := books.Payment{Number: "P-1", Customer: 7, Day: day("2026-03-02"), Method: books.ByCheck, Reference: "1001", Amount: usd(100)}
	if err := ok.Check(); err != nil {
		t.Fatal(err)
	}
	cases := []struct {
		field  string
		change func(*books.Payment)
	}{
		{"number", func(p *books.Payment) { p.Number = "" }},
		{"customer", func(p *books.Payment) { p.Customer = 0 }},
		{"day", func(p *books.Payment) { p.Day = time.Time{} }},
		{"method", func(p *books.Payment) { p.Method = "barter" }},
		{"reference", func(p *books.Payment) { p.Reference = "" }},
		{"reference", func(p *books.Payment) { p.Reference = "card 4111 1111-1111 1111" }}, // the usual test number
		{"order", func(p *books.Payment) { p.Deposit = true }},
		{"amount", func(p *books.Payment) { p.Amount = usd(0) }},
	}
	for _, c := range cases {
		p := ok
		c.change(&p)
		t.Run(c.field, func(t *testing.T) { refused(t, p.Check(), fault.Invalid, c.field) })
	}
	ok.Reference = "transfer 4111111111111112" // fails the card check digit
	if err := ok.Check(); err != nil {
		t.Error(err)
	}
}

func TestMoneyLiesWhereItsMethodPutsIt(t *testing.T) {
	for method, account := range map[books.Method]books.Account{books.ByCheck: books.Undeposited, books.ByCash: books.Undeposited,
		books.ByCard: books.Undeposited, books.ByTransfer: books.Cash} {
		_, e, err := books.Payment{Number: "P-1", Customer: 7, Day: day("2026-03-02"), Method: method, Reference: "1", Amount: usd(100)}.Receive()
		if err != nil || e.On(account).Cents() != 100 || e.On(books.Unapplied).Cents() != -100 {
			t.Errorf("%s: %s %v", method, e, err)
		}
	}
	e := must(books.Bank(usd(250), day("2026-03-03"), "slip 4"))(t)
	if e.On(books.Cash).Cents() != 250 || e.On(books.Undeposited).Cents() != -250 {
		t.Error(e)
	}
	_, err := books.Bank(usd(0), day("2026-03-03"), "")
	refused(t, err, fault.Invalid, "amount")
}

func TestSettleOldestFirstAndKeepTheRest(t *testing.T) {
	items := []books.Item{owed("INV-2", 5000, "2026-02-01", "2026-03-03"), owed("INV-1", 3000, "2026-01-01", "2026-01-31"), owed("INV-3", 9000, "2026-02-01", "2026-03-04")}
	steps, left, err := books.Settle(paid(t, "P-1", 10000, "2026-03-05"), items, day("2026-03-05"))
	if err != nil || len(steps) != 3 || !left.Open.IsZero() {
		t.Fatal(steps, left, err)
	}
	if steps[0].Item.Number != "INV-1" || !steps[1].Item.Open.IsZero() || steps[2].Item.Open.Cents() != 7000 {
		t.Fatalf("got %+v", steps)
	}
	_, left, err = books.Settle(paid(t, "P-2", 50000, "2026-03-05"), items[:1], day("2026-03-05"))
	if err != nil || left.Open.Cents() != 45000 {
		t.Fatalf("over-payment left %s, %v", left.Open, err)
	}
}

func TestApplyRefusals(t *testing.T) {
	c, it := paid(t, "P-1", 1000, "2026-03-05"), owed("INV-1", 3000, "2026-01-01", "2026-01-31")
	_, err := books.Apply(c, it, usd(1001), day("2026-03-05"))
	refused(t, err, fault.Invalid, "amount")
	_, err = books.Apply(c, it, usd(-1), day("2026-03-05"))
	refused(t, err, fault.Invalid, "amount")
	_, err = books.Apply(c, it, usd(1), day("2026-03-04"))
	refused(t, err, fault.Invalid, "day")
	it.Customer = 8
	_, err = books.Apply(c, it, usd(1), day("2026-03-05"))
	refused(t, err, fault.Conflict, "")
}

func TestReturnedCheckOpensItsItemsAgain(t *testing.T) {
	c, _, err := books.Payment{Number: "P-1", Customer: 7, Day: day("2026-03-05"), Method: books.ByCheck, Reference: "77", Amount: usd(4000)}.Receive()
	if err != nil {
		t.Fatal(err)
	}
	steps, c, err := books.Settle(c, []books.Item{owed("INV-1", 3000, "2026-01-01", "2026-01-31")}, day("2026-03-05"))
	if err != nil {
		t.Fatal(err)
	}
	got := must(books.TakeBack(c, []books.Application{steps[0].Application}, []books.Item{steps[0].Item}, books.Return{Method: books.ByCheck, Banked: true, Day: day("2026-03-09")}))(t)
	e := got.Entry
	if got.Items[0].Open.Cents() != 3000 || !got.Credit.Open.IsZero() || e.On(books.Receivable).Cents() != 3000 ||
		e.On(books.Unapplied).Cents() != 1000 || e.On(books.Cash).Cents() != -4000 {
		t.Fatalf("got %+v, %s", got.Items, e)
	}
	c, _, err = books.Refund(c, "RF-1", usd(100), books.ByCash, day("2026-03-06"))
	if err != nil {
		t.Fatal(err)
	}
	_, err = books.TakeBack(c, []books.Application{steps[0].Application}, []books.Item{steps[0].Item}, books.Return{Method: books.ByCheck, Banked: true, Day: day("2026-03-09")})
	refused(t, err, fault.Conflict, "")
}

func TestRefundKeepRecover(t *testing.T) {
	c := paid(t, "P-1", 1000, "2026-03-05")
	c, e, err := books.Refund(c, "RF-1", usd(400), books.ByTransfer, day("2026-03-06"))
	if err != nil || c.Open.Cents() != 600 || e.On(books.Cash).Cents() != -400 {
		t.Fatal(c, e, err)
	}
	_, _, err = books.Refund(c, "RF-2", usd(601), books.ByCash, day("2026-03-06"))
	refused(t, err, fault.Invalid, "amount")
	c, e, err = books.Recover(c, usd(600), "paid after all", day("2026-03-07"))
	if err != nil || !c.Open.IsZero() || e.On(books.BadDebt).Cents() != -600 {
		t.Fatal(c, e, err)
	}
	_, _, err = books.KeepDeposit(c, usd(1), "cancelled after cutting", day("2026-03-07"))
	refused(t, err, fault.Conflict, "what")
	dep, _, err := books.Payment{Number: "P-2", Customer: 7, Day: day("2026-03-02"), Method: books.ByCash, Deposit: true, Order: "O-1", Amount: usd(500)}.Receive()
	if err != nil {
		t.Fatal(err)
	}
	_, _, err = books.KeepDeposit(dep, usd(500), "", day("2026-03-07"))
	refused(t, err, fault.Invalid, "reason")
	dep, e, err = books.KeepDeposit(dep, usd(500), "cancelled after cutting", day("2026-03-07"))
	if err != nil || !dep.Open.IsZero() || e.On(books.Deposits).Cents() != 500 || e.On(books.DepositsKept).Cents() != -500 {
		t.Fatal(dep, e, err)
	}
}

func TestEarlyPaymentDiscount(t *testing.T) {
	d := draft(line("1", "1000", "1"))
	d.Terms = party.Terms{NetDays: 30, DiscountDays: 10, Discount: money.Must(".02")}
	got := must(d.Issue("INV-00001"))(t)
	for on, want := range map[string]int64{"2026-03-02": 2000, "2026-03-12": 2000, "2026-03-13": 0} {
		if a := must(books.TermsDiscount(got.Invoice, nil, day(on)))(t); a.Cents() != want {
			t.Errorf("paid %s: %s", on, a)
		}
	}
	memo := must(got.Invoice.Credit("CM-00001", books.MemoDraft{Day: day("2026-03-03"), Reason: "short", Lines: []books.MemoLine{{ID: "1", Quantity: money.Int(100)}}}, nil))(t).Memo
	if a := must(books.TermsDiscount(got.Invoice, []books.Memo{memo}, day("2026-03-12")))(t); a.Cents() != 1800 {
		t.Errorf("after a credit of 100.00: %s", a)
	}
	step := must(books.SettleWithDiscount(paid(t, "P-1", 105000, "2026-03-12"), got.Item, got.Invoice, nil, day("2026-03-14")))(t)
	if !step.Item.Open.IsZero() || !step.Credit.Open.IsZero() || step.Entry.On(books.TermsDiscounts).Cents() != 2000 {
		t.Fatalf("got %+v", step)
	}
	_, err := books.SettleWithDiscount(paid(t, "P-1", 104999, "2026-03-12"), got.Item, got.Invoice, nil, day("2026-03-12"))
	refused(t, err, fault.Invalid, "amount")
	_, err = books.SettleWithDiscount(paid(t, "P-1", 107000, "2026-03-13"), got.Item, got.Invoice, nil, day("2026-03-13"))
	refused(t, err, fault.Conflict, "")
	back := must(books.TakeBack(step.Credit, []books.Application{step.Application}, []books.Item{step.Item}, books.Return{Method: books.ByCheck, Banked: true, Day: day("2026-03-20")}))(t)
	if back.Items[0].Open.Cents() != 107000 || back.Entry.On(books.TermsDiscounts).Cents() != -2000 {
		t.Fatalf("a returned check keeps its discount: %+v", back)
	}
}

func TestFinanceCharge(t *testing.T) {
	items := []books.Item{owed("INV-1", 100000, "2026-01-01", "2026-01-31"), owed("INV-2", 50000, "2026-02-20", "2026-03-22")}
	terms := books.FinanceTerms{AgreedOn: day("2025-06-01"), YearRate: money.Must(".18"), GraceDays: 10}
	// 1,000.00 x 18 % x 18 days / 365 = 8.8767; the other item isn't late
	lines, total, err := books.FinanceOn(items, terms, time.Time{}, day("2026-02-28"))
	if err != nil || len(lines) != 1 || lines[0].Days != 18 || total.Plain() != "8.88" {
		t.Fatal(lines, total, err)
	}
	_, again, err := books.FinanceOn(items, terms, day("2026-02-28"), day("2026-02-28"))
	if err != nil || !again.IsZero() {
		t.Fatal("charged the same days twice", again, err)
	}
	it, e, err := books.ChargeFinance("FC-00001", 7, lines, day("2026-02-28"))
	if err != nil || it.Kind != books.FinanceItem || e.On(books.FinanceIncome).Cents() != -888 {
		t.Fatal(it, e, err)
	}
	if want := "Finance charge FC-00001: $8.88 for 18 days on $1,000.00 open of INV-1"; e.Memo() != want {
		t.Errorf("the entry says %q, want %q", e.Memo(), want)
	}
	if _, more, _ := books.FinanceOn([]books.Item{it}, terms, time.Time{}, day("2027-02-28")); !more.IsZero() {
		t.Fatal("a charge bore a charge")
	}
	_, _, err = books.FinanceOn(items, books.FinanceTerms{YearRate: money.Must(".18")}, time.Time{}, day("2026-02-28"))
	refused(t, err, fault.Conflict, "")
	_, _, err = books.ChargeFinance("FC-00001", 7, nil, day("2026-02-28"))
	refused(t, err, fault.Conflict, "")
}

func TestWriteOff(t *testing.T) {
	it, e, err := books.WriteOff(owed("INV-1", 1000, "2026-01-01", "2026-01-31"), usd(600), "firm closed", day("2026-09-01"))
	if err != nil || it.Open.Cents() != 400 || e.On(books.BadDebt).Cents() != 600 {
		t.Fatal(it, e, err)
	}
	_, _, err = books.WriteOff(it, usd(400), " ", day("2026-09-01"))
	refused(t, err, fault.Invalid, "reason")
	_, _, err = books.WriteOff(it, usd(401), "firm closed", day("2026-09-01"))
	refused(t, err, fault.Invalid, "amount")
}

func TestDepositSpreadOverPartInvoices(t *testing.T) {
	open, left := usd(100000), usd(300001)
	var used money.Amount
	for _, part := range []int64{100000, 100000, 100001} {
		take := must(books.DepositFor(open, usd(part), left))(t)
		open, left, used = open.Sub(take), left.Sub(usd(part)), used.Add(take)
	}
	if !open.IsZero() || used.Cents() != 100000 {
		t.Fatalf("left %s, used %s", open, used)
	}
}

// A transfer lies in the bank at once, so that is what it leaves; cash can't
// bounce, and what was entered wrongly can be taken back however it came.
func TestTakenBackFromWhereItLay(t *testing.T) {
	on := day("2026-03-09")
	for _, c := range []struct {
		r    books.Return
		from books.Account
		memo string
	}{
		{books.Return{Method: books.ByCheck, Banked: true, Day: on}, books.Cash, "Check returned unpaid"},
		{books.Return{Method: books.ByCheck, Day: on}, books.Undeposited, "Check returned unpaid"},
		{books.Return{Method: books.ByTransfer, Day: on}, books.Cash, "Transfer returned unpaid"},
		{books.Return{Method: books.ByCard, Day: on}, books.Undeposited, "Card payment charged back"},
		{books.Return{Method: books.ByCash, Mistake: true, Day: on}, books.Undeposited, "Taken back, entered wrongly"},
		{books.Return{Method: books.ByTransfer, Mistake: true, Day: on}, books.Cash, "Taken back, entered wrongly"},
	} {
		got, err := books.TakeBack(paid(t, "P-1", 4321, "2026-03-05"), nil, nil, c.r)
		if err != nil || got.Entry.On(c.from).Cents() != -4321 || got.Entry.Memo() != c.memo || !got.Credit.Open.IsZero() {
			t.Errorf("%+v: %s %v", c.r, got.Entry, err)
		}
	}
	_, err := books.TakeBack(paid(t, "P-1", 1, "2026-03-05"), nil, nil, books.Return{Method: books.ByCash, Day: on})
	refused(t, err, fault.Invalid, "why")
	_, err = books.TakeBack(paid(t, "P-1", 1, "2026-03-05"), nil, nil, books.Return{Method: books.ByCheck, Day: day("2026-03-04")})
	refused(t, err, fault.Invalid, "day")
	c := paid(t, "P-1", 3000, "2026-03-05")
	step := must(books.Apply(c, owed("INV-1", 3000, "2026-03-07", "2026-04-06"), usd(3000), day("2026-03-07")))(t)
	_, err = books.TakeBack(step.Credit, []books.Application{step.Application}, []books.Item{step.Item}, books.Return{Method: books.ByCheck, Day: day("2026-03-06")})
	refused(t, err, fault.Invalid, "day")
}

// The fee for a bad check is owed at once, bears no charge itself, and letting
// it off takes back the income and is no bad debt.
func TestFeeForAReturnedPayment(t *testing.T) {
	c := paid(t, "P-1", 4321, "2026-03-05")
	it, e, err := books.ChargeReturn("BF-00001", c, usd(3500), day("2026-03-09"))
	if err != nil || it.Open.Cents() != 3500 || it.Due != day("2026-03-09") || e.On(books.ReturnFees).Cents() != -3500 || e.On(books.Receivable).Cents() != 3500 {
		t.Fatal(it, e, err)
	}
	_, _, err = books.ChargeReturn("BF-00001", c, usd(0), day("2026-03-09"))
	refused(t, err, fault.Invalid, "fee")
	terms := books.FinanceTerms{AgreedOn: day("2025-06-01"), YearRate: money.Must(".18")}
	if _, more, err := books.FinanceOn([]books.Item{it}, terms, time.Time{}, day("2027-03-09")); err != nil || !more.IsZero() {
		t.Fatal("a fee bore a charge", more, err)
	}
	for kind, account := range map[books.ItemKind]books.Account{books.ReturnFeeItem: books.ReturnFees, books.FinanceItem: books.FinanceIncome, books.RetentionItem: books.BadDebt, books.InvoiceItem: books.BadDebt} {
		it.Kind = kind
		left, e, err := books.WriteOff(it, usd(3500), "let off once", day("2026-03-10"))
		if err != nil || !left.Open.IsZero() || e.On(account).Cents() != 3500 {
			t.Errorf("%s: %s %v", kind, e, err)
		}
	}
}

// A refund by check is written on the bank account; cash comes out of the drawer.
func TestRefundComesOutOfItsAccount(t *testing.T) {
	for method, account := range map[books.Method]books.Account{books.ByCheck: books.Cash, books.ByTransfer: books.Cash, books.ByCash: books.Undeposited, books.ByCard: books.Undeposited} {
		_, e, err := books.Refund(paid(t, "P-1", 700, "2026-03-05"), "RF-00001", usd(700), method, day("2026-03-06"))
		if err != nil || e.On(account).Cents() != -700 {
			t.Errorf("%s: %s %v", method, e, err)
		}
	}
}
