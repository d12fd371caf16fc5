package demo

import (
	"context"
	"fmt"
	"math/rand/v2"
	"time"

	"ribdesk/internal/books"
	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
)

// till is the money of the three weeks: deposits, invoices, who pays when, and
// what goes wrong with it. It draws from randomness of its own, so that the rest
// of life stays as it is whoever pays.
type till struct {
	*life
	r         *rand.Rand
	deposited map[int64]bool
	invoices  int
	checks    int
}

// planMoney puts the bookkeeper's days on the agenda.
func (l *life) planMoney() {
	t := &till{life: l, r: rand.New(rand.NewPCG(1711, 25)), deposited: map[int64]bool{}, checks: 2040}
	for day := range days + 1 {
		if l.workday(day) != day {
			continue
		}
		l.plan(l.at(day, 9, 40), t.takeDeposits)
		l.plan(l.at(day, 10, 15), t.decide)
		l.plan(l.at(day, 10, 20), t.invoice)
		l.plan(l.at(day, 16, 45), t.invoice)
		if l.at(day, 12, 0).Weekday() == time.Friday {
			l.plan(l.at(day, 16, 55), t.bank)
		}
	}
	l.plan(l.at(l.workday(15), 17, 20), t.statement)
}

// takeDeposits is walk-in customers who pay a part before their order is cut.
func (t *till) takeDeposits(ctx context.Context) error {
	for _, state := range []order.State{order.Accepted, order.Planned} {
		orders, err := t.inState(ctx, state)
		if err != nil {
			return err
		}
		for _, o := range orders {
			asks := o.Charged().Deposit
			if t.deposited[o.ID] || asks.Sign() <= 0 || !t.paysAtOnce(o) {
				continue
			}
			t.deposited[o.ID] = true
			m := desk.MoneyIn{OrderID: o.ID, Amount: asks, Method: books.ByCard, Reference: fmt.Sprintf("slip %d", 700+t.r.IntN(200))}
			if t.r.IntN(3) == 0 {
				m.Method, m.Reference = books.ByCash, ""
			}
			if _, err := t.TakeDeposit(ctx, t.as(party.Counter), m); err != nil {
				return err
			}
		}
	}
	return nil
}

func (t *till) paysAtOnce(o order.Order) bool {
	for _, c := range t.clients {
		if c.ID == o.CustomerID {
			return c.Terms.NetDays == 0
		}
	}
	return true // nobody on file
}

// decide settles what drivers brought back, a day later: one in three is made
// again.
func (t *till) decide(ctx context.Context) error {
	orders, err := t.inState(ctx, order.Delivered)
	if err != nil {
		return err
	}
	for _, o := range orders {
		f, err := t.OrderFile(ctx, t.as(party.Owner), o.ID)
		if err != nil {
			return err
		}
		for _, s := range f.Stops {
			for i, e := range s.Exceptions {
				if e.Decision != "" || e.Kind == "over" || t.clock.Now().Sub(s.SignedAt) < 12*time.Hour {
					continue
				}
				decision := pick(t.r, order.Credit, order.Credit, order.Remake)
				if _, err := t.Decide(ctx, t.as(party.Counter), s.ID, i, decision); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

// invoice bills what was handed over, and makes the customer pay some day.
func (t *till) invoice(ctx context.Context) error {
	r, err := t.Receivables(ctx, t.as(party.Bookkeeper))
	if err != nil {
		return err
	}
	for _, ready := range r.Ready {
		if ready.Why != "" {
			continue
		}
		bill, err := t.IssueInvoice(ctx, t.as(party.Bookkeeper), desk.InvoiceAsk{OrderID: ready.Order.ID})
		if fault.Is(err, fault.Conflict) {
			continue // nothing left of it to bill
		}
		if err != nil {
			return err
		}
		t.invoices++
		t.settles(bill)
	}
	return nil
}

// settles decides when and how an invoice is paid.
func (t *till) settles(bill desk.Bill) {
	inv := bill.Invoice
	if t.invoices == 4 {
		t.plan(t.inDays(1, 2), func(ctx context.Context) error { return t.allow(ctx, bill) })
	}
	terms := inv.Terms
	switch {
	case terms.NetDays == 0:
		t.plan(t.inDays(0, 2), func(ctx context.Context) error { return t.pay(ctx, bill, books.ByCard, 1) })
	case terms.DiscountDays > 0:
		t.plan(t.inDays(4, terms.DiscountDays-3), func(ctx context.Context) error { return t.pay(ctx, bill, books.ByTransfer, 1) })
	case terms.NetDays <= 15 && t.r.IntN(2) == 0:
		return // lets it go past due
	case t.r.IntN(5) == 0:
		t.plan(t.inDays(3, 8), func(ctx context.Context) error { return t.pay(ctx, bill, books.ByCheck, 2) })
	default:
		t.plan(t.inDays(6, 18), func(ctx context.Context) error { return t.pay(ctx, bill, books.ByCheck, 1) })
	}
}

// inDays is nextDays by the till's own randomness.
func (t *till) inDays(least, most int) time.Time {
	own := *t.life
	own.r = t.r
	return own.nextDays(least, most)
}

// pay pays what is open of an invoice, or a part of it.
func (t *till) pay(ctx context.Context, bill desk.Bill, by books.Method, part int64) error {
	f, err := t.InvoiceRecord(ctx, t.as(party.Bookkeeper), bill.ID)
	if err != nil || f.Item.Open.IsZero() {
		return err
	}
	today := books.Day(t.clock.Now().In(t.zone))
	amount := f.Item.Open
	if part > 1 {
		amount = money.Cents(amount.Cents()/part/10_000*10_000, amount.Currency()) // people pay round sums on account
	} else if off, err := books.TermsDiscount(bill.Invoice, nil, today); err == nil && len(f.Notes) == 0 {
		amount = amount.Sub(off)
	}
	if amount.Sign() <= 0 {
		return nil
	}
	m := desk.MoneyIn{CustomerID: bill.Invoice.Customer, Method: by, Amount: amount, Items: []string{bill.Invoice.Number}}
	switch by {
	case books.ByCheck:
		t.checks += 1 + t.r.IntN(40)
		m.Reference = fmt.Sprint(t.checks)
	case books.ByTransfer:
		m.Reference = bill.Invoice.Number
	case books.ByCard:
		m.Reference = fmt.Sprintf("slip %d", 900+t.r.IntN(90))
	}
	_, err = t.RecordPayment(ctx, t.as(party.Bookkeeper), m)
	return err
}

// allow takes something off an invoice that a customer complained about.
func (t *till) allow(ctx context.Context, bill desk.Bill) error {
	line := bill.Invoice.Lines[0]
	off := money.Cents(line.Net.Cents()/20, line.Net.Currency())
	if off.IsZero() {
		return nil
	}
	_, err := t.CreditMemo(ctx, t.as(party.Bookkeeper), desk.MemoAsk{
		InvoiceID: bill.ID, Reason: "Protective film torn on part of the panels; 5 % allowed on the line", Lines: []books.MemoLine{{ID: line.ID, Amount: off}},
	})
	if fault.Is(err, fault.Invalid) {
		return nil // paid with a discount meanwhile: not that much is left of it
	}
	return err
}

// bank pays in what lies in the drawer.
func (t *till) bank(ctx context.Context) error {
	today := books.Day(t.clock.Now().In(t.zone))
	trial, err := t.TrialBalance(ctx, t.as(party.Bookkeeper), today)
	if err != nil {
		return err
	}
	for _, row := range trial.Rows {
		if row.Account == books.Undeposited && row.Debit.Sign() > 0 {
			return t.PayIn(ctx, t.as(party.Bookkeeper), row.Debit, today, "bank bag of "+today.Format(time.DateOnly))
		}
	}
	return nil
}

// statement sends the account customer what is open.
func (t *till) statement(ctx context.Context) error {
	_, err := t.IssueStatement(ctx, t.as(party.Bookkeeper), t.firm, time.Time{})
	return err
}

// onAccount is what happens when a customer's account doesn't bear an order: the
// owner looks at it and takes it all the same.
func (l *life) onAccount(ctx context.Context, q desk.Quoted, yes desk.Yes, err error) error {
	if !fault.Is(err, fault.Conflict) {
		return err
	}
	yes.Method = "counter"
	_, err = l.AcceptOrder(ctx, l.as(party.Owner), q.Order.ID, 0, yes)
	return err
}
