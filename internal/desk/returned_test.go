package desk_test

import (
	"encoding/json"
	"slices"
	"testing"
	"time"

	"ribdesk/internal/books"
	"ribdesk/internal/desk"
	"ribdesk/internal/document"
	"ribdesk/internal/fault"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
)

// sound holds the books to what verify checks of them.
func (w *works) sound(t *testing.T) {
	t.Helper()
	for _, name := range []string{"numbers", "journal", "invoices", "receivables", "papers"} {
		checked := 0
		if err := w.VerifyOnly(t.Context(), name, func(c desk.Checked) {
			if checked += c.Count; len(c.Wrong) > 0 {
				t.Errorf("%s: %v", c.Name, c.Wrong)
			}
		}); err != nil || checked < 2 {
			t.Errorf("%s: %d checked, %v", name, checked, err)
		}
	}
}

// today is the shop's day by its clock.
func (w *works) today(t *testing.T) time.Time {
	t.Helper()
	seller, _, err := w.Seller(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return books.Day(w.clock.Now().In(seller.Location()))
}

// A bad check opens what it paid, voids the discount it earned, and its fee is
// an item of its own; a mistyped payment goes without one.
func TestReturnedPayments(t *testing.T) {
	onBoth(t, func(t *testing.T, w *works) {
		ctx := t.Context()
		c := must[desk.CustomerFile](t)(w.CustomerFile(ctx, boss, rivalFirm)).Customer
		c.Terms = party.Terms{NetDays: 30, DiscountDays: 10, Discount: money.Must("0.02")}
		must[party.Customer](t)(w.ChangeCustomer(ctx, boss, c))
		inv := w.invoice(t, w.delivered(t, rivalFirm, 37).ID).Invoice
		off := must[money.Amount](t)(books.TermsDiscount(inv, nil, inv.Issued))
		w.pass(24 * time.Hour)
		check := must[desk.Received](t)(w.RecordPayment(ctx, clerk, desk.MoneyIn{CustomerID: rivalFirm, Amount: inv.Total.Sub(off), Method: books.ByCheck, Reference: "2077"}))
		if !check.Left.Open.IsZero() || check.Applied[0].Discount.Cmp(off) != 0 {
			t.Fatalf("paid with the discount: %+v", check)
		}
		w.pass(5 * 24 * time.Hour)
		for name, ask := range map[string]desk.ReturnAsk{
			"before it came":     {Day: check.Payment.Payment.Day.AddDate(0, 0, -1)},
			"in days to come":    {Day: check.Payment.Payment.Day.AddDate(0, 0, 30)},
			"a fee below 0":      {Fee: cash(-1)},
			"a fee on a mistake": {Fee: cash(3500), Mistake: true},
		} {
			ask.PaymentID = check.Payment.ID
			if _, err := w.ReturnPayment(ctx, keeper, ask); !fault.Is(err, fault.Invalid) {
				t.Errorf("%s: %v", name, err)
			}
		}
		back := must[desk.ReturnedPayment](t)(w.ReturnPayment(ctx, keeper, desk.ReturnAsk{PaymentID: check.Payment.ID, Fee: cash(3500)}))
		if back.Fee.Number != "BF-00001" || back.Fee.Open.Cmp(cash(3500)) != 0 {
			t.Fatalf("the fee: %+v", back.Fee)
		}
		if st := w.agree(t, rivalFirm); st.Balance.Cmp(inv.Total.Add(cash(3500))) != 0 || len(st.Items) != 2 {
			t.Fatalf("owed after the bad check: %+v", st)
		}
		// The fee is let off: its income is taken back, nothing is bad debt.
		if it := must[books.Item](t)(w.WriteOff(ctx, keeper, "BF-00001", cash(3500), "once, for a good customer")); !it.Open.IsZero() {
			t.Fatalf("let off, and %s is open", it.Open)
		}
		wrong := must[desk.Received](t)(w.RecordPayment(ctx, clerk, desk.MoneyIn{CustomerID: rivalFirm, Amount: cash(90_000), Method: books.ByCash}))
		if _, err := w.ReturnPayment(ctx, keeper, desk.ReturnAsk{PaymentID: wrong.Payment.ID}); !fault.Is(err, fault.Invalid) {
			t.Fatalf("cash bounced: %v", err)
		}
		must[desk.ReturnedPayment](t)(w.ReturnPayment(ctx, keeper, desk.ReturnAsk{PaymentID: wrong.Payment.ID, Mistake: true}))
		if st := w.agree(t, rivalFirm); st.Balance.Cmp(inv.Total) != 0 {
			t.Fatalf("owed in the end: %+v", st)
		}
		if why := must[map[string]string](t)(w.ReturnedPayments(ctx, clerk)); len(why) != 2 || why[check.Left.Number] != "returned unpaid" || why[wrong.Left.Number] != "entered wrongly" {
			t.Errorf("taken back: %v", why)
		}
		if used := must[[]books.Account](t)(w.AccountsUsed(ctx, keeper)); !slices.Contains(used, books.ReturnFees) || !slices.IsSorted(used) {
			t.Errorf("accounts that were used: %v", used)
		}
		if list := must[[]books.Posted](t)(w.Journal(ctx, keeper, desk.JournalFilter{Account: books.ReturnFees})); len(list) != 2 {
			t.Errorf("%d entries on the account of fees", len(list))
		}
		if rows := must[[]desk.TaxedDocument](t)(w.TaxReport(ctx, keeper, inv.Issued, inv.Issued)); len(rows) == 0 || rows[0].Document != inv.Number {
			t.Errorf("the tax of the day: %+v", rows)
		}
		trial := must[books.Trial](t)(w.TrialBalance(ctx, keeper, w.clock.Now()))
		for _, row := range trial.Rows {
			switch row.Account {
			case books.ReturnFees, books.BadDebt, books.Undeposited, books.TermsDiscounts, books.Unapplied:
				t.Errorf("%s is left at %s / %s", row.Account.Name(), row.Debit, row.Credit)
			}
		}
		w.sound(t)
	})
}

// A statement of a past day tells what was owed on that evening, whatever was
// paid, returned or invoiced since; days to come and another's books are refused.
func TestStatementOfAPastDay(t *testing.T) {
	w := newWorks(t)
	ctx := t.Context()
	for _, day := range []time.Time{w.clock.Now().AddDate(-1, 0, -3), w.clock.Now().AddDate(0, 0, 1)} { // a mistyped year
		_, err := w.RecordPayment(ctx, keeper, desk.MoneyIn{CustomerID: rivalFirm, Amount: cash(100), Method: books.ByCash, Day: day})
		if all := fault.All(err); len(all) != 1 || all[0].Field != "day" {
			t.Errorf("%s: %v", day.Format(time.DateOnly), err)
		}
	}
	first := w.invoice(t, w.delivered(t, rivalFirm, 21).ID).Invoice
	w.pass(24 * time.Hour)
	check := must[desk.Received](t)(w.RecordPayment(ctx, keeper, desk.MoneyIn{CustomerID: rivalFirm, Amount: cash(3_333), Method: books.ByCheck, Reference: "9"}))
	evening := w.today(t)
	then := w.agree(t, rivalFirm)
	w.pass(40 * 24 * time.Hour)
	must[desk.ReturnedPayment](t)(w.ReturnPayment(ctx, keeper, desk.ReturnAsk{PaymentID: check.Payment.ID, Banked: true, Fee: cash(2_500)}))
	w.invoice(t, w.delivered(t, rivalFirm, 3).ID)
	must[desk.Received](t)(w.RecordPayment(ctx, keeper, desk.MoneyIn{CustomerID: rivalFirm, Amount: cash(100), Method: books.ByCash}))
	if then.Balance.Cmp(first.Total.Sub(cash(3_333))) != 0 {
		t.Fatalf("on the evening %s is owed", then.Balance)
	}
	for _, asOf := range []time.Time{evening, {}, w.today(t)} {
		must[order.Paper](t)(w.IssueStatement(ctx, keeper, rivalFirm, asOf))
	}
	papers := must[[]order.Paper](t)(w.Statements(ctx, keeper, rivalFirm))
	var past document.Statement
	if err := w.store.Read(ctx, func(tx *store.Tx) error {
		p, err := tx.Paper(papers[0].ID)
		if err != nil {
			return err
		}
		return json.Unmarshal(p.Body, &past)
	}); err != nil {
		t.Fatal(err)
	}
	if past.AsOf != evening || past.Balance.Cmp(then.Balance) != 0 || len(past.Items) != 1 || past.Ageing.Current.Cmp(then.Balance) != 0 {
		t.Fatalf("of that evening: %+v", past)
	}
	_, err := w.IssueStatement(ctx, keeper, rivalFirm, w.today(t).AddDate(0, 0, 1))
	if all := fault.All(err); len(all) != 1 || all[0].Field != "as_of" {
		t.Errorf("of tomorrow: %v", err)
	}
	w.sound(t)
}

// Money to a customer's good is applied in parts as the bookkeeper says, and
// paid back in cash no further than the drawer reaches.
func TestCreditAppliedInParts(t *testing.T) {
	w := newWorks(t)
	ctx := t.Context()
	inv := w.invoice(t, w.delivered(t, rivalFirm, 40).ID).Invoice
	paid := must[desk.Received](t)(w.RecordPayment(ctx, clerk, desk.MoneyIn{CustomerID: rivalFirm, Amount: inv.Total, Method: books.ByTransfer, Keep: true}))
	use := desk.CreditUse{Credit: paid.Left.Number, Amount: cash(12_34)}
	part := must[desk.Received](t)(w.ApplyCredit(ctx, keeper, use, []string{inv.Number}))
	if len(part.Applied) != 1 || part.Applied[0].Amount.Cmp(cash(12_34)) != 0 || part.Left.Open.Cmp(inv.Total.Sub(cash(12_34))) != 0 {
		t.Fatalf("applied in part: %+v", part)
	}
	for _, amount := range []money.Amount{cash(-1), inv.Total} {
		use.Amount = amount
		_, err := w.ApplyCredit(ctx, keeper, use, nil)
		if all := fault.All(err); len(all) != 1 || all[0].Field != "amount" {
			t.Errorf("applied %s: %v", amount, err)
		}
	}
	use.Amount, use.Method = cash(100), books.ByCash
	_, err := w.Refund(ctx, keeper, use)
	if all := fault.All(err); len(all) != 1 || all[0].Field != "amount" {
		t.Errorf("cash paid back out of an empty drawer: %v", err)
	}
	use.Amount = cash(0)
	if rest := must[desk.Received](t)(w.ApplyCredit(ctx, keeper, use, nil)); !rest.Left.Open.IsZero() {
		t.Errorf("the rest: %+v", rest.Left)
	}
	w.sound(t)
}
