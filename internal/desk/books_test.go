package desk_test

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"ribdesk/internal/books"
	"ribdesk/internal/demo"
	"ribdesk/internal/desk"
	"ribdesk/internal/einvoice"
	"ribdesk/internal/fault"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
	"ribdesk/internal/store/storetest"
)

var keeper = party.Actor{PersonID: 5, Name: "Demo Bookkeeper", Role: party.Bookkeeper}

// onBoth runs a test on a furnished shop on SQLite and on PostgreSQL.
func onBoth(t *testing.T, test func(t *testing.T, w *works)) {
	t.Run("sqlite", func(t *testing.T) { test(t, newWorks(t)) })
	t.Run("postgres", func(t *testing.T) { test(t, postgresWorks(t)) })
}

// postgresWorks is a furnished shop in a PostgreSQL database of its own.
func postgresWorks(t *testing.T) *works {
	t.Helper()
	s := storetest.OpenPostgres(t)
	clock := demo.NewClock(opening)
	d := desk.New(s, desk.Options{Now: clock.Now, Random: demo.Random()})
	if _, err := demo.Furnish(t.Context(), d, clock, opening); err != nil {
		t.Fatal(err)
	}
	clock.Set(opening)
	return &works{Desk: d, store: s, clock: clock}
}

func cash(cents int64) money.Amount { return money.Cents(cents, money.USD) }

func must[T any](t testing.TB) func(T, error) T {
	return func(v T, err error) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

// delivered takes an order of shelf goods all the way to its customer.
func (w *works) delivered(t testing.TB, customer int64, count int, exceptions ...order.Exception) order.Order {
	t.Helper()
	o := asked(tubes(count))
	o.CustomerID = customer
	return w.handOver(t, w.accept(t, w.quote(t, w.take(t, o))), exceptions...)
}

func (w *works) handOver(t testing.TB, o order.Order, exceptions ...order.Exception) order.Order {
	t.Helper()
	must[order.Order](t)(w.PickFromShelf(t.Context(), clerk, o.ID))
	f := must[desk.OrderFile](t)(w.OrderFile(t.Context(), boss, o.ID))
	for _, b := range f.Bundles {
		must[order.Bundle](t)(w.CheckOff(t.Context(), clerk, o.ID, b.Code))
	}
	for i := range exceptions {
		exceptions[i].BundleID = f.Bundles[0].ID
	}
	return must[order.Order](t)(w.PickUp(t.Context(), clerk, o.ID, desk.HandOver{Key: "k" + o.Number, Receiver: "Wren", Exceptions: exceptions}))
}

func (w *works) invoice(t testing.TB, id int64) desk.Bill {
	t.Helper()
	return must[desk.Bill](t)(w.IssueInvoice(t.Context(), keeper, desk.InvoiceAsk{OrderID: id}))
}

// agree checks that items, ageing and journal say the same of a customer.
func (w *works) agree(t testing.TB, customer int64) books.Statement {
	t.Helper()
	st, err := w.Statement(t.Context(), keeper, customer)
	if err != nil {
		t.Fatal(err)
	}
	return st
}

func TestInvoicePaymentClose(t *testing.T) {
	onBoth(t, func(t *testing.T, w *works) {
		o := w.accept(t, w.quote(t, w.take(t, asked(tubes(40)))))
		paid := must[desk.Received](t)(w.TakeDeposit(t.Context(), clerk, desk.MoneyIn{OrderID: o.ID, Amount: cash(5_000), Method: books.ByCash}))
		if paid.Left.Kind != books.DepositCredit || paid.Payment.Payment.Number != "PAY-00001" {
			t.Fatalf("deposit: %+v", paid)
		}
		if _, err := w.IssueInvoice(t.Context(), keeper, desk.InvoiceAsk{OrderID: o.ID}); !fault.Is(err, fault.Conflict) {
			t.Fatalf("invoiced before anything was handed over: %v", err)
		}
		o = w.handOver(t, o)
		seen := must[desk.InvoiceView](t)(w.PreviewInvoice(t.Context(), keeper, desk.InvoiceAsk{OrderID: o.ID}))
		bill := w.invoice(t, o.ID)
		inv := bill.Invoice
		if inv.Number != "INV-00001" || inv.Total.Cmp(o.Charged().Total) != 0 || inv.AmountDue.Cmp(inv.Total.Sub(cash(5_000))) != 0 || seen.Invoice.Total.Cmp(inv.Total) != 0 {
			t.Fatalf("invoice %s of %s, due %s; the order stands at %s", inv.Number, inv.Total, inv.AmountDue, o.Charged().Total)
		}
		if _, err := w.IssueInvoice(t.Context(), keeper, desk.InvoiceAsk{OrderID: o.ID}); !fault.Is(err, fault.Conflict) {
			t.Fatalf("invoiced twice: %v", err)
		}
		st := w.agree(t, tradeFirm)
		if st.Balance.Cmp(inv.AmountDue) != 0 || st.Ageing.Current.Cmp(inv.AmountDue) != 0 || !st.Credit.IsZero() {
			t.Fatalf("statement %+v", st)
		}
		w.pass(24 * time.Hour)
		part := must[desk.Received](t)(w.RecordPayment(t.Context(), clerk, desk.MoneyIn{CustomerID: tradeFirm, Amount: cash(1_000), Method: books.ByCheck, Reference: "check 12"}))
		if len(part.Applied) != 1 || !part.Left.Open.IsZero() {
			t.Fatalf("part payment: %+v", part)
		}
		rest := inv.AmountDue.Sub(cash(1_000))
		over := must[desk.Received](t)(w.RecordPayment(t.Context(), keeper, desk.MoneyIn{CustomerID: tradeFirm, Amount: rest.Add(cash(700)), Method: books.ByTransfer}))
		if over.Left.Open.Cmp(cash(700)) != 0 {
			t.Fatalf("unapplied cash: %+v", over.Left)
		}
		if o = w.order(t, o.ID); o.State != order.Closed {
			t.Fatalf("the paid order is %s", o.State)
		}
		if _, err := w.Refund(t.Context(), keeper, desk.CreditUse{Credit: over.Left.Number, Amount: cash(701), Method: books.ByTransfer}); !fault.Is(err, fault.Invalid) {
			t.Fatalf("refunded more than there is: %v", err)
		}
		left := must[books.Credit](t)(w.Refund(t.Context(), keeper, desk.CreditUse{Credit: over.Left.Number, Amount: cash(700), Method: books.ByTransfer, Reason: "overpaid"}))
		if !left.Open.IsZero() {
			t.Fatalf("refund leaves %s", left.Open)
		}
		if st := w.agree(t, tradeFirm); !st.Balance.IsZero() || !st.Credit.IsZero() {
			t.Fatalf("settled, but %+v", st)
		}
		if trial := must[books.Trial](t)(w.TrialBalance(t.Context(), keeper, w.clock.Now())); trial.Debit.Cmp(trial.Credit) != 0 || len(trial.Rows) < 3 {
			t.Fatalf("trial balance %+v", trial)
		}
	})
}

// The same records come back as they were stored, from both databases.
func TestBooksComeBackIdentical(t *testing.T) {
	onBoth(t, func(t *testing.T, w *works) {
		o := w.delivered(t, rivalFirm, 13)
		bill := must[desk.Bill](t)(w.IssueInvoice(t.Context(), keeper, desk.InvoiceAsk{OrderID: o.ID, Retain: money.Must("0.1")}))
		f := must[desk.InvoiceRecord](t)(w.InvoiceRecord(t.Context(), keeper, bill.ID))
		if err := f.Bill.Invoice.Verify(); err != nil {
			t.Fatal(err)
		}
		a, b := fmt.Sprintf("%+v", bill.Invoice), fmt.Sprintf("%+v", f.Bill.Invoice)
		if a != b {
			t.Fatalf("stored\n%s\ncame back\n%s", a, b)
		}
		if f.Held.Cmp(bill.Invoice.Retained) != 0 || f.Held.Sign() <= 0 {
			t.Fatalf("held back %s of %s", f.Held, bill.Invoice.Total)
		}
		it := must[books.Item](t)(w.ReleaseRetention(t.Context(), keeper, bill.ID, f.Held, time.Time{}))
		if _, err := w.ReleaseRetention(t.Context(), keeper, bill.ID, cash(1), time.Time{}); !fault.Is(err, fault.Invalid) {
			t.Fatalf("released more than was held: %v", err)
		}
		must[desk.Received](t)(w.RecordPayment(t.Context(), keeper, desk.MoneyIn{CustomerID: rivalFirm, Amount: bill.Invoice.Total, Method: books.ByTransfer, Items: []string{bill.Invoice.Number, it.Number}}))
		if o := w.order(t, o.ID); o.State != order.Closed {
			t.Fatalf("paid with its retention, and %s", o.State)
		}
	})
}

// The exchange file follows the standard, its bytes are made again from its
// record, and the OASIS schema takes it where the schema is at hand.
func TestExchangeFileOfAnInvoice(t *testing.T) {
	w := newWorks(t)
	o := w.delivered(t, rivalFirm, 25)
	bill := w.invoice(t, o.ID)
	note := must[desk.Note](t)(w.CreditMemo(t.Context(), keeper, desk.MemoAsk{InvoiceID: bill.ID, Reason: "two tubes leaked", Lines: []books.MemoLine{{ID: "1", Quantity: money.Int(2)}}}))
	f := must[desk.InvoiceRecord](t)(w.InvoiceRecord(t.Context(), keeper, bill.ID))
	files := 0
	for _, p := range f.Papers {
		p = must[order.Paper](t)(w.Paper(t.Context(), keeper, p.ID))
		if !desk.IsExchangeFile(p) {
			continue
		}
		files++
		doc, err := einvoice.Read(bytes.NewReader(p.PDF))
		if err != nil {
			t.Fatal(err)
		}
		if broken := einvoice.Check(doc); len(broken) > 0 {
			t.Errorf("%s: %v", p.Number, broken)
		}
		want, schema := bill.Invoice.AmountDue, "Invoice"
		if p.Number == note.Memo.Number {
			want, schema = note.Memo.Total, "CreditNote"
		}
		if doc.Totals.Payable.Value.Cmp(want.Rate()) != 0 {
			t.Errorf("%s asks for %s, the books say %s", p.Number, doc.Totals.Payable.Value, want)
		}
		validate(t, schema, p.PDF)
	}
	if files != 2 {
		t.Fatalf("%d exchange files", files)
	}
}

func validate(t *testing.T, schema string, xml []byte) {
	dir := os.Getenv("UBL_XSD_DIR")
	if dir == "" {
		t.Log("UBL_XSD_DIR isn't set: not checked against the OASIS schema")
		return
	}
	file := filepath.Join(t.TempDir(), "file.xml")
	if err := os.WriteFile(file, xml, 0o600); err != nil {
		t.Fatal(err)
	}
	xsd, err := filepath.Glob(filepath.Join(dir, "maindoc", "UBL-"+schema+"-2.1.xsd"))
	if err != nil || len(xsd) != 1 {
		t.Fatalf("no schema in %s: %v", dir, err)
	}
	if out, err := exec.Command("xmllint", "--noout", "--nonet", "--schema", xsd[0], file).CombinedOutput(); err != nil {
		t.Errorf("%s", out)
	}
}

func TestExceptionsStayOffTheInvoice(t *testing.T) {
	w := newWorks(t)
	o := w.delivered(t, tradeFirm, 40, order.Exception{Kind: "damaged", Pieces: 3}, order.Exception{Kind: "short", Pieces: 2}, order.Exception{Kind: "over", Pieces: 9})
	bill := w.invoice(t, o.ID)
	if q := bill.Invoice.Lines[0].Quantity; q.Cmp(money.Int(35)) != 0 {
		t.Fatalf("billed %s of 40 with 5 excepted", q)
	}
	must[desk.Received](t)(w.RecordPayment(t.Context(), keeper, desk.MoneyIn{CustomerID: tradeFirm, Amount: bill.Invoice.Total, Method: books.ByTransfer}))
	if o = w.order(t, o.ID); o.State != order.Delivered {
		t.Fatalf("with exceptions nobody decided on, the order is %s", o.State)
	}
	f := must[desk.OrderFile](t)(w.OrderFile(t.Context(), boss, o.ID))
	must[order.Order](t)(w.Decide(t.Context(), clerk, f.Stops[0].ID, 0, order.Credit))
	follow := must[order.Order](t)(w.Decide(t.Context(), clerk, f.Stops[0].ID, 1, order.Remake))
	if _, err := w.CloseOrder(t.Context(), keeper, o.ID); !fault.Is(err, fault.Conflict) {
		t.Fatalf("closed while a remake is on its way: %v", err)
	}
	if follow = w.handOver(t, follow); follow.State != order.Closed {
		t.Fatalf("the remake was handed over, needs neither invoice nor payment, and is %s", follow.State)
	}
	if _, err := w.IssueInvoice(t.Context(), keeper, desk.InvoiceAsk{OrderID: follow.ID}); !fault.Is(err, fault.Conflict) {
		t.Fatalf("a remake was invoiced: %v", err)
	}
	second := w.invoice(t, o.ID)
	if q := second.Invoice.Lines[0].Quantity; q.Cmp(money.Int(2)) != 0 || second.Invoice.Charges.Sign() != 0 {
		t.Fatalf("the remade pieces: %s, and %s of charges billed again", q, second.Invoice.Charges)
	}
	must[desk.Received](t)(w.RecordPayment(t.Context(), keeper, desk.MoneyIn{CustomerID: tradeFirm, Amount: second.Invoice.Total, Method: books.ByTransfer}))
	if o = w.order(t, o.ID); o.State != order.Closed {
		t.Fatalf("all done, and the order is %s", o.State)
	}
	if follow = w.order(t, follow.ID); follow.State != order.Closed {
		t.Fatalf("the remake is %s", follow.State)
	}
}

func TestCorrections(t *testing.T) {
	onBoth(t, func(t *testing.T, w *works) {
		o := w.delivered(t, rivalFirm, 60)
		bill := w.invoice(t, o.ID)
		note := must[desk.Note](t)(w.CreditMemo(t.Context(), keeper, desk.MemoAsk{InvoiceID: bill.ID, Reason: "ten came back", Lines: []books.MemoLine{{ID: "1", Quantity: money.Int(10)}}}))
		if note.Memo.Number != "CM-00001" || note.Memo.TaxTotal.Sign() <= 0 {
			t.Fatalf("memo %s with tax %s", note.Memo.Number, note.Memo.TaxTotal)
		}
		st := w.agree(t, rivalFirm)
		if st.Balance.Cmp(bill.Invoice.Total.Sub(note.Memo.Total)) != 0 || !st.Credit.IsZero() {
			t.Fatalf("after the memo: %+v", st)
		}
		if _, err := w.IssueInvoice(t.Context(), keeper, desk.InvoiceAsk{OrderID: o.ID}); !fault.Is(err, fault.Conflict) {
			t.Fatalf("what was credited is billed again: %v", err)
		}
		if _, err := w.CreditMemo(t.Context(), keeper, desk.MemoAsk{InvoiceID: bill.ID, Reason: "too much", Lines: []books.MemoLine{{ID: "1", Quantity: money.Int(51)}}}); !fault.Is(err, fault.Invalid) {
			t.Fatalf("credited more than was billed: %v", err)
		}
		check := must[desk.Received](t)(w.RecordPayment(t.Context(), keeper, desk.MoneyIn{CustomerID: rivalFirm, Amount: st.Balance, Method: books.ByCheck, Reference: "77"}))
		w.pass(48 * time.Hour)
		must[desk.ReturnedPayment](t)(w.ReturnPayment(t.Context(), keeper, desk.ReturnAsk{PaymentID: check.Payment.ID, Banked: true}))
		if again := w.agree(t, rivalFirm); again.Balance.Cmp(st.Balance) != 0 {
			t.Fatalf("the returned check leaves %s owed of %s", again.Balance, st.Balance)
		}
		if _, err := w.ReturnPayment(t.Context(), keeper, desk.ReturnAsk{PaymentID: check.Payment.ID, Banked: true}); !fault.Is(err, fault.Conflict) {
			t.Fatalf("returned twice: %v", err)
		}
		if _, err := w.WriteOff(t.Context(), keeper, bill.Invoice.Number, st.Balance, ""); !fault.Is(err, fault.Invalid) {
			t.Fatalf("written off without a reason: %v", err)
		}
		it := must[books.Item](t)(w.WriteOff(t.Context(), keeper, bill.Invoice.Number, st.Balance, "out of business"))
		if !it.Open.IsZero() || w.agree(t, rivalFirm).Balance.Sign() != 0 {
			t.Fatalf("written off, and %s is open", it.Open)
		}
		late := must[desk.Received](t)(w.RecordPayment(t.Context(), keeper, desk.MoneyIn{CustomerID: rivalFirm, Amount: cash(900), Method: books.ByCash, Keep: true}))
		must[books.Credit](t)(w.Recover(t.Context(), keeper, desk.CreditUse{Credit: late.Left.Number, Amount: cash(900), Reason: "paid after all"}))
		w.agree(t, rivalFirm)
	})
}

// An invoice that was credited whole was wrong: what it billed is billed anew.
func TestInvoiceAnewAfterAWholeCredit(t *testing.T) {
	w := newWorks(t)
	o := w.delivered(t, rivalFirm, 12)
	wrong := w.invoice(t, o.ID)
	must[desk.Note](t)(w.CreditMemo(t.Context(), keeper, desk.MemoAsk{InvoiceID: wrong.ID, Reason: "billed to the wrong job", Whole: true}))
	again := w.invoice(t, o.ID)
	if again.Invoice.Number != "INV-00002" || again.Invoice.Total.Cmp(wrong.Invoice.Total) != 0 {
		t.Fatalf("%s of %s, at first %s", again.Invoice.Number, again.Invoice.Total, wrong.Invoice.Total)
	}
	if st := w.agree(t, rivalFirm); st.Balance.Cmp(again.Invoice.Total) != 0 {
		t.Fatalf("%s is owed of %s", st.Balance, again.Invoice.Total)
	}
}

func TestEarlyPaymentAndFinanceCharge(t *testing.T) {
	w := newWorks(t)
	c := must[desk.CustomerFile](t)(w.CustomerFile(t.Context(), boss, rivalFirm)).Customer
	c.Terms = party.Terms{NetDays: 30, DiscountDays: 10, Discount: money.Must("0.02")}
	must[party.Customer](t)(w.ChangeCustomer(t.Context(), boss, c))
	first := w.invoice(t, w.delivered(t, rivalFirm, 50).ID).Invoice
	second := w.invoice(t, w.delivered(t, rivalFirm, 20).ID).Invoice
	off, err := books.TermsDiscount(first, nil, first.Issued)
	if err != nil || off.Sign() <= 0 {
		t.Fatalf("discount %s: %v", off, err)
	}
	record := func(number string) desk.InvoiceRecord {
		for _, row := range must[[]desk.InvoiceRow](t)(w.Invoices(t.Context(), keeper, desk.BooksFilter{})) {
			if row.Invoice.Number == number {
				return must[desk.InvoiceRecord](t)(w.InvoiceRecord(t.Context(), keeper, row.ID))
			}
		}
		t.Fatalf("no %s", number)
		return desk.InvoiceRecord{}
	}
	if f := record(first.Number); f.Early.Cmp(off) != 0 || !f.EarlyBy.Equal(first.Issued.AddDate(0, 0, 10)) {
		t.Fatalf("%s can be saved by %s", f.Early, f.EarlyBy)
	}
	w.pass(9 * 24 * time.Hour)
	paid := must[desk.Received](t)(w.RecordPayment(t.Context(), clerk, desk.MoneyIn{CustomerID: rivalFirm, Amount: first.Total.Sub(off), Method: books.ByTransfer}))
	if len(paid.Applied) != 1 || paid.Applied[0].Discount.Cmp(off) != 0 || !paid.Left.Open.IsZero() {
		t.Fatalf("settled with its discount: %+v", paid)
	}
	if _, _, err := w.ChargeFinance(t.Context(), keeper, rivalFirm); !fault.Is(err, fault.Conflict) {
		t.Fatalf("charged without an agreement: %v", err)
	}
	terms := books.FinanceTerms{AgreedOn: opening.AddDate(-1, 0, 0), YearRate: money.Must("0.18"), GraceDays: 5}
	if err := w.SetFinanceTerms(t.Context(), keeper, rivalFirm, terms); err != nil {
		t.Fatal(err)
	}
	if f := record(first.Number); !f.Early.IsZero() {
		t.Fatalf("%s can still be saved on a paid invoice", f.Early)
	}
	w.pass(51 * 24 * time.Hour) // 60 days after the issue, 30 past due, 25 past grace
	it, lines, err := w.ChargeFinance(t.Context(), keeper, rivalFirm)
	if err != nil {
		t.Fatal(err)
	}
	want, _ := second.Total.Rate().Mul(money.Must("0.18")).Mul(money.Int(25)).Div(money.Int(365)).Round(money.USD)
	if len(lines) != 1 || lines[0].Days != 25 || it.Open.Cmp(want) != 0 || it.Number != "FC-00001" {
		t.Fatalf("charged %s for %+v, want %s", it.Open, lines, want)
	}
	if _, _, err := w.ChargeFinance(t.Context(), keeper, rivalFirm); !fault.Is(err, fault.Conflict) {
		t.Fatalf("charged twice for the same days: %v", err)
	}
	st := w.agree(t, rivalFirm)
	if st.Ageing.To30.Cmp(second.Total) != 0 || st.Ageing.Total().Cmp(st.Balance) != 0 {
		t.Fatalf("ageing %+v of %s", st.Ageing, st.Balance)
	}
}

func TestCreditLimitAtTheCounter(t *testing.T) {
	w := newWorks(t)
	c := must[desk.CustomerFile](t)(w.CustomerFile(t.Context(), boss, tradeFirm)).Customer
	c.CreditLimit = cash(30_000)
	must[party.Customer](t)(w.ChangeCustomer(t.Context(), boss, c))
	w.invoice(t, w.delivered(t, tradeFirm, 20).ID)
	q := w.quote(t, w.take(t, asked(tubes(60))))
	st := must[desk.Standing](t)(w.Standing(t.Context(), clerk, tradeFirm, q.Order.Charged().Total))
	if !st.Stop || st.Why == "" || !st.OnAccount {
		t.Fatalf("the counter isn't warned: %+v", st)
	}
	if _, err := w.AcceptOrder(t.Context(), clerk, q.Order.ID, 0, yes); !fault.Is(err, fault.Conflict) {
		t.Fatalf("accepted beyond the limit: %v", err)
	}
	if _, err := w.AcceptByLink(t.Context(), q.Token, yes); !fault.Is(err, fault.Conflict) {
		t.Fatalf("accepted by link beyond the limit: %v", err)
	}
	// On hold nobody takes more from them; why is the shop's own affair.
	c = must[desk.CustomerFile](t)(w.CustomerFile(t.Context(), boss, tradeFirm)).Customer
	c.Hold, c.HoldReason = true, "two bad checks"
	must[party.Customer](t)(w.ChangeCustomer(t.Context(), boss, c))
	_, err := w.AcceptOrder(t.Context(), boss, q.Order.ID, 0, yes)
	if !fault.Is(err, fault.Conflict) || !strings.Contains(err.Error(), "two bad checks") {
		t.Fatalf("accepted on hold: %v", err)
	}
	for name, ask := range map[string]func() error{
		"by link":  func() error { _, err := w.AcceptByLink(t.Context(), q.Token, yes); return err },
		"in order": func() error { _, err := w.TakeOrder(t.Context(), buyer, asked(tubes(1))); return err },
	} {
		if err := ask(); !fault.Is(err, fault.Conflict) || strings.Contains(err.Error(), "bad checks") {
			t.Errorf("%s, a customer on hold hears: %v", name, err)
		}
	}
	c = must[desk.CustomerFile](t)(w.CustomerFile(t.Context(), boss, tradeFirm)).Customer
	c.Hold = false
	must[party.Customer](t)(w.ChangeCustomer(t.Context(), boss, c))
	must[desk.Received](t)(w.RecordPayment(t.Context(), clerk, desk.MoneyIn{CustomerID: tradeFirm, Amount: cash(60_000), Method: books.ByTransfer}))
	must[order.Order](t)(w.AcceptOrder(t.Context(), clerk, q.Order.ID, 0, yes))

	// 31 days late by the shop's habit of 30: nothing more on account, whatever room there is.
	c = must[desk.CustomerFile](t)(w.CustomerFile(t.Context(), boss, rivalFirm)).Customer
	w.invoice(t, w.delivered(t, rivalFirm, 2).ID)
	w.pass(time.Duration(c.Terms.NetDays+31) * 24 * time.Hour)
	o := asked(tubes(2))
	o.CustomerID = rivalFirm
	late := w.quote(t, w.take(t, o))
	if _, err := w.AcceptOrder(t.Context(), clerk, late.Order.ID, 0, yes); !fault.Is(err, fault.Conflict) {
		t.Fatalf("accepted while past due: %v", err)
	}
	must[order.Order](t)(w.AcceptOrder(t.Context(), boss, late.Order.ID, 0, yes))
}

func TestClosedPeriodsStayClosed(t *testing.T) {
	onBoth(t, func(t *testing.T, w *works) {
		o := w.delivered(t, rivalFirm, 5)
		bill := w.invoice(t, o.ID)
		day := bill.Invoice.Issued
		if err := w.CloseBooks(t.Context(), keeper, day); !fault.Is(err, fault.Invalid) {
			t.Fatalf("closed a day that isn't over: %v", err)
		}
		w.pass(72 * time.Hour)
		if err := w.CloseBooks(t.Context(), keeper, day.AddDate(0, 0, 1)); err != nil {
			t.Fatal(err)
		}
		_, err := w.RecordPayment(t.Context(), keeper, desk.MoneyIn{CustomerID: rivalFirm, Amount: cash(100), Method: books.ByCash, Day: day})
		if !fault.Is(err, fault.Conflict) {
			t.Fatalf("posted into a closed period: %v", err)
		}
		if list := must[[]desk.Payment](t)(w.Payments(t.Context(), keeper, desk.BooksFilter{})); len(list) != 0 {
			t.Fatalf("a refused payment left %d records", len(list))
		}
		paid := must[desk.Received](t)(w.RecordPayment(t.Context(), keeper, desk.MoneyIn{CustomerID: rivalFirm, Amount: cash(100), Method: books.ByCash}))
		if paid.Payment.Payment.Number != "PAY-00001" {
			t.Fatalf("the refused payment used a number: %s", paid.Payment.Payment.Number)
		}
		if err := w.CloseBooks(t.Context(), keeper, day); !fault.Is(err, fault.Conflict) {
			t.Fatalf("closed what is closed: %v", err)
		}
	})
}

func TestBooksAuthorization(t *testing.T) {
	w := newWorks(t)
	o := w.delivered(t, tradeFirm, 8)
	bill := w.invoice(t, o.ID)
	ctx := t.Context()
	driver := party.Actor{PersonID: 4, Name: "Demo Driver", Role: party.Driver}
	for _, actor := range []party.Actor{clerk, driver, buyer, rival, visitor} {
		for what, do := range map[string]func() error{
			"invoice": func() error { _, err := w.IssueInvoice(ctx, actor, desk.InvoiceAsk{OrderID: o.ID}); return err },
			"credit": func() error {
				_, err := w.CreditMemo(ctx, actor, desk.MemoAsk{InvoiceID: bill.ID, Whole: true, Reason: "x"})
				return err
			},
			"write-off": func() error { _, err := w.WriteOff(ctx, actor, bill.Invoice.Number, cash(1), "x"); return err },
			"refund": func() error {
				_, err := w.Refund(ctx, actor, desk.CreditUse{Credit: "PAY-00001", Amount: cash(1)})
				return err
			},
			"close":     func() error { return w.CloseBooks(ctx, actor, opening.AddDate(0, 0, -9)) },
			"journal":   func() error { _, err := w.Journal(ctx, actor, desk.JournalFilter{}); return err },
			"statement": func() error { _, err := w.IssueStatement(ctx, actor, tradeFirm, time.Time{}); return err },
		} {
			if err := do(); !fault.Is(err, fault.Denied) {
				t.Errorf("%s may %s: %v", actor.Role, what, err)
			}
		}
	}
	if _, err := w.InvoiceRecord(ctx, rival, bill.ID); !fault.Is(err, fault.NotFound) {
		t.Errorf("another customer's invoice: %v", err)
	}
	must[desk.InvoiceRecord](t)(w.InvoiceRecord(ctx, buyer, bill.ID))
	if list := must[[]desk.InvoiceRow](t)(w.Invoices(ctx, rival, desk.BooksFilter{CustomerID: tradeFirm})); len(list) != 0 {
		t.Errorf("another customer's list shows %d invoices", len(list))
	}
	if st := must[books.Statement](t)(w.Statement(ctx, rival, tradeFirm)); st.Customer != rivalFirm || st.Balance.Sign() != 0 {
		t.Errorf("another customer's statement: %+v", st)
	}
	if _, err := w.RecordPayment(ctx, driver, desk.MoneyIn{CustomerID: tradeFirm, Amount: cash(1), Method: books.ByCash}); !fault.Is(err, fault.Denied) {
		t.Errorf("a driver takes money: %v", err)
	}
}

// errTorn makes a transaction fail after it took its number.
var errTorn = errors.New("torn")

// Clerks issue at once, and every third transaction fails after it has taken its
// number: the numbers of what was issued are 1 to n, none twice. The store's own
// test does this a thousand times.
func TestNumbersHaveNoGaps(t *testing.T) {
	onBoth(t, func(t *testing.T, w *works) {
		const workers, each = 6, 2
		orders := make(chan order.Order, workers*each)
		for range workers * each {
			orders <- w.delivered(t, rivalFirm, 1)
		}
		close(orders)
		var wg sync.WaitGroup
		for i := range workers {
			wg.Go(func() {
				n := i
				for o := range orders {
					if n++; n%3 == 0 {
						err := w.store.Write(t.Context(), func(tx *store.Tx) error {
							if _, err := tx.NextNumber("INV-"); err != nil {
								return err
							}
							return errTorn
						})
						if !errors.Is(err, errTorn) {
							t.Error(err)
						}
					}
					if _, err := w.IssueInvoice(t.Context(), keeper, desk.InvoiceAsk{OrderID: o.ID}); err != nil {
						t.Error(err)
					}
				}
			})
		}
		wg.Wait()
		bills := must[[]desk.InvoiceRow](t)(w.Invoices(t.Context(), keeper, desk.BooksFilter{}))
		var numbers []string
		for _, b := range bills {
			numbers = append(numbers, b.Invoice.Number)
		}
		if len(numbers) != workers*each {
			t.Fatalf("%d invoices", len(numbers))
		}
		if err := (books.Series{Prefix: "INV-", Next: workers*each + 1}).Gapless(numbers); err != nil {
			t.Fatal(err)
		}
		w.agree(t, rivalFirm)
	})
}
