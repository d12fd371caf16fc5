package desk

import (
	"context"
	"slices"
	"strings"
	"time"

	"ribdesk/internal/books"
	"ribdesk/internal/fault"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
)

// MoneyIn is money as it is received. A card is charged on a terminal of its
// own and only noted here.
type MoneyIn struct {
	CustomerID int64
	OrderID    int64     // of a deposit
	Day        time.Time // when it came; today when zero
	Method     books.Method
	Reference  string
	Amount     money.Amount
	Items      []string // what it pays, in this order; empty pays what is due first
	Keep       bool     // pays nothing yet: stays to the customer's good
	NoDiscount bool     // doesn't take the early-payment discount that terms allow
}

// Received is what became of money that came in.
type Received struct {
	Payment Payment
	Applied []books.Application
	Left    books.Credit // what is still open of it
}

// longAgo is how many days back an act may have happened: further back the year
// was mistyped.
const longAgo = 366

// dayOfAct gives the day that was typed, today when none was; a day to come, or
// one long ago, is refused at its field.
func (d *Desk) dayOfAct(s *snapshot, day time.Time) (time.Time, error) {
	today := dayStart(d.now(), s.seller.Location())
	if day.IsZero() {
		return today, nil
	}
	switch day = books.Day(day); {
	case day.After(today):
		return day, fault.Invalidf("day", "that day is still to come; give the day it happened")
	case day.Before(today.AddDate(0, 0, -longAgo)):
		return day, fault.Invalidf("day", "that is more than a year ago; check the year")
	}
	return day, nil
}

// TakeDeposit takes money for an order before the goods: it is owed to the
// customer until an invoice takes it off.
func (d *Desk) TakeDeposit(ctx context.Context, actor party.Actor, m MoneyIn) (r Received, err error) {
	if err := allow(actor, party.Owner, party.Bookkeeper, party.Counter); err != nil {
		return r, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return r, err
	}
	day, err := d.dayOfAct(s, m.Day)
	if err != nil {
		return r, err
	}
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		o, err := tx.Order(m.OrderID)
		if err != nil {
			return err
		}
		if !o.State.Reached(order.Accepted) || !o.State.Open() {
			return fault.Conflictf("order %s is %s; a deposit is taken once it is accepted and before it is closed", o.Number, o.State)
		}
		if o, err = d.openFile(tx, actor, o); err != nil {
			return err
		}
		r, err = receive(tx, actor, o.ID, books.Payment{Customer: o.CustomerID, Day: day, Method: m.Method, Reference: m.Reference, Order: o.Number, Deposit: true, Amount: m.Amount})
		return err
	})
	return r, err
}

// RecordPayment takes money from a customer and pays with it what was chosen, or
// what is due first; what is over stays to the customer's good.
func (d *Desk) RecordPayment(ctx context.Context, actor party.Actor, m MoneyIn) (r Received, err error) {
	if err := allow(actor, party.Owner, party.Bookkeeper, party.Counter); err != nil {
		return r, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return r, err
	}
	day, err := d.dayOfAct(s, m.Day)
	if err != nil {
		return r, err
	}
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		if _, err := tx.Customer(m.CustomerID); err != nil {
			return fault.Invalidf("customer", "choose the customer").Because(err)
		}
		r, err = receive(tx, actor, 0, books.Payment{Customer: m.CustomerID, Day: day, Method: m.Method, Reference: m.Reference, Amount: m.Amount})
		if err != nil || m.Keep {
			return err
		}
		r.Applied, r.Left, err = d.payWith(tx, actor, r.Left, paying{items: m.Items, discount: !m.NoDiscount}, day)
		return err
	})
	return r, err
}

// receive books a payment under the next number.
func receive(tx *store.Tx, actor party.Actor, orderID int64, p books.Payment) (r Received, err error) {
	p.Reference = strings.TrimSpace(p.Reference)
	if p.Number, err = takeNumber(tx, paymentPrefix); err != nil {
		return r, err
	}
	credit, entry, err := p.Receive()
	if err != nil {
		return r, err
	}
	if r.Payment, err = tx.AddPayment(actor, orderID, p); err != nil {
		return r, err
	}
	r.Left = credit
	if err := tx.AddCredit(credit); err != nil {
		return r, err
	}
	return r, post(tx, actor, entry)
}

// ApplyCredit pays items with what a customer has to their good: unapplied
// money, a credit memo, or a deposit whose order no longer needs it. An amount
// of 0 is as far as it reaches.
func (d *Desk) ApplyCredit(ctx context.Context, actor party.Actor, u CreditUse, items []string) (r Received, err error) {
	if err := keepsBooks(actor); err != nil {
		return r, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return r, err
	}
	day, err := d.dayOfAct(s, u.Day)
	if err != nil {
		return r, err
	}
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		c, err := tx.Credit(u.Credit)
		if err != nil {
			return err
		}
		switch {
		case u.Amount.Sign() < 0:
			return fault.Invalidf("amount", "the amount must be above 0, or empty for all")
		case c.Open.Less(u.Amount):
			return fault.Invalidf("amount", "only %s of %s is open", c.Open.Format(), c.Number)
		}
		r.Applied, r.Left, err = d.payWith(tx, actor, c, paying{items: items, discount: true, most: u.Amount}, day)
		if err == nil && len(r.Applied) == 0 {
			err = fault.Conflictf("there is nothing to pay with %s", c.Number)
		}
		if err != nil {
			return err
		}
		return tx.Log(actor, "applied", "customer", c.Customer, map[string]any{"credit": c.Number, "to": r.Applied})
	})
	return r, err
}

// paying says what a credit is spent on.
type paying struct {
	items    []string     // none: whatever is due first
	discount bool         // with the early-payment discount, where it is earned
	most     money.Amount // of the credit; 0 is all of it
}

// payWith pays items with a credit as far as it reaches: those named, in their
// order, or all that the customer owes, the one due first before the others. An
// invoice within its discount days is settled with its discount where the
// credit reaches that far.
func (d *Desk) payWith(tx *store.Tx, actor party.Actor, c books.Credit, s paying, day time.Time) ([]books.Application, books.Credit, error) {
	items, err := toPay(tx, c.Customer, s.items)
	if err != nil {
		return nil, c, err
	}
	reach := c.Open
	if s.most.Sign() > 0 {
		reach = s.most
	}
	var done []books.Application
	for _, it := range items {
		if reach.IsZero() {
			break
		}
		step, ok, err := stepFor(tx, c, it, reach, s.discount, slices.MaxFunc([]time.Time{day, c.Day, it.Day}, time.Time.Compare))
		if err != nil {
			return nil, c, err
		}
		if !ok {
			continue
		}
		if err := keepStep(tx, actor, step); err != nil {
			return nil, c, err
		}
		c, reach = step.Credit, reach.Sub(step.Application.Amount)
		done = append(done, step.Application)
	}
	for _, a := range done {
		orderID, err := tx.OrderOfItem(a.Item)
		if err == nil {
			err = d.closeIfPaid(tx, actor, orderID)
		}
		if err != nil {
			return nil, c, err
		}
	}
	return done, c, nil
}

// toPay gives the items that a credit is meant for.
func toPay(tx *store.Tx, customerID int64, numbers []string) ([]books.Item, error) {
	if len(numbers) == 0 {
		items, err := tx.Items(store.BooksFilter{CustomerID: customerID, OpenOnly: true})
		sortByDue(items)
		return items, err
	}
	var items []books.Item
	for _, number := range numbers {
		it, err := tx.Item(number)
		if err != nil {
			return nil, err
		}
		if it.Customer != customerID {
			return nil, fault.Invalidf("items", "%s belongs to another customer", number)
		}
		items = append(items, it)
	}
	return items, nil
}

// stepFor pays one item with so much of a credit, with its discount where that is
// due; ok is false for an item of which nothing is open.
func stepFor(tx *store.Tx, c books.Credit, it books.Item, reach money.Amount, discount bool, day time.Time) (step books.Step, ok bool, err error) {
	amount := money.Min(reach, it.Open)
	if amount.Sign() <= 0 {
		return step, false, nil
	}
	if discount && it.Kind == books.InvoiceItem && c.Kind == books.PaymentCredit {
		off, inv, memos, err := discountOn(tx, it, c.Day)
		if err != nil {
			return step, false, err
		}
		if off.Sign() > 0 && !reach.Less(it.Open.Sub(off)) {
			step, err = books.SettleWithDiscount(c, it, inv, memos, day)
			return step, err == nil, err
		}
	}
	step, err = books.Apply(c, it, amount, day)
	return step, err == nil, err
}

// discountOn gives the early-payment discount of an invoice on a day.
func discountOn(tx *store.Tx, it books.Item, day time.Time) (money.Amount, books.Invoice, []books.Memo, error) {
	kept, err := tx.InvoiceByNumber(it.Number)
	if err != nil {
		return money.Amount{}, books.Invoice{}, nil, err
	}
	notes, err := tx.MemosOn(it.Number)
	if err != nil {
		return money.Amount{}, books.Invoice{}, nil, err
	}
	off, err := books.TermsDiscount(kept.Invoice, memosOf(notes), day)
	return money.Min(off, it.Open), kept.Invoice, memosOf(notes), err
}

// keepStep stores one application with its entry.
func keepStep(tx *store.Tx, actor party.Actor, step books.Step) error {
	if err := tx.SaveCredit(step.Credit); err != nil {
		return err
	}
	if err := tx.SaveItem(step.Item); err != nil {
		return err
	}
	if err := tx.AddChange(actor, changeOf(step.Application)); err != nil {
		return err
	}
	return post(tx, actor, step.Entry)
}

// CreditUse is something done with an open credit other than paying items.
type CreditUse struct {
	Credit string // number
	Amount money.Amount
	Method books.Method // of a refund
	Reason string
	Day    time.Time
}

// Refund pays back part of what a customer has to their good; cash no more than
// lies in the drawer.
func (d *Desk) Refund(ctx context.Context, actor party.Actor, u CreditUse) (books.Credit, error) {
	return d.useCredit(ctx, actor, u, store.Refunded, func(tx *store.Tx, c books.Credit, day time.Time) (string, books.Credit, books.Entry, error) {
		drawer, err := tx.AccountBalance(books.Undeposited, 0, u.Amount.Currency())
		if err != nil {
			return "", c, books.Entry{}, err
		}
		if u.Method == books.ByCash && drawer.Less(u.Amount) {
			return "", c, books.Entry{}, fault.Invalidf("amount", "only %s lies in the drawer; pay it back by check or transfer", drawer.Format())
		}
		number, err := takeNumber(tx, refundPrefix)
		if err != nil {
			return "", c, books.Entry{}, err
		}
		c, e, err := books.Refund(c, number, u.Amount, u.Method, day)
		return number, c, e, err
	})
}

// KeepDeposit keeps part of a deposit, when an order was cancelled after cutting
// and the accepted terms allow it.
func (d *Desk) KeepDeposit(ctx context.Context, actor party.Actor, u CreditUse) (books.Credit, error) {
	return d.useCredit(ctx, actor, u, store.Kept, func(_ *store.Tx, c books.Credit, day time.Time) (string, books.Credit, books.Entry, error) {
		left, e, err := books.KeepDeposit(c, u.Amount, u.Reason, day)
		return c.Number, left, e, err
	})
}

// Recover books money against what was written off before.
func (d *Desk) Recover(ctx context.Context, actor party.Actor, u CreditUse) (books.Credit, error) {
	return d.useCredit(ctx, actor, u, store.Recovered, func(_ *store.Tx, c books.Credit, day time.Time) (string, books.Credit, books.Entry, error) {
		left, e, err := books.Recover(c, u.Amount, u.Reason, day)
		return c.Number, left, e, err
	})
}

func (d *Desk) useCredit(ctx context.Context, actor party.Actor, u CreditUse, what store.Use, act func(*store.Tx, books.Credit, time.Time) (string, books.Credit, books.Entry, error)) (left books.Credit, err error) {
	if err := keepsBooks(actor); err != nil {
		return left, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return left, err
	}
	day, err := d.dayOfAct(s, u.Day)
	if err != nil {
		return left, err
	}
	u.Reason = strings.TrimSpace(u.Reason)
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		c, err := tx.Credit(u.Credit)
		if err != nil {
			return err
		}
		number, after, entry, err := act(tx, c, day)
		if err != nil {
			return err
		}
		left = after
		if err := tx.SaveCredit(after); err != nil {
			return err
		}
		if err := tx.AddChange(actor, store.Change{What: what, Document: number, Credit: c.Number, Day: entry.Day(), Amount: u.Amount, Discount: money.Cents(0, u.Amount.Currency()), Note: u.Reason}); err != nil {
			return err
		}
		if err := tx.Log(actor, string(what), "customer", c.Customer, map[string]any{"credit": c.Number, "document": number, "amount": u.Amount, "reason": u.Reason}); err != nil {
			return err
		}
		return post(tx, actor, entry)
	})
	return left, err
}

// PayIn books checks, cash and card slips as paid in at the bank.
func (d *Desk) PayIn(ctx context.Context, actor party.Actor, amount money.Amount, day time.Time, reference string) error {
	if err := keepsBooks(actor); err != nil {
		return err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return err
	}
	if day, err = d.dayOfAct(s, day); err != nil {
		return err
	}
	return d.store.Write(ctx, func(tx *store.Tx) error {
		drawer, err := tx.AccountBalance(books.Undeposited, 0, s.seller.Currency)
		if err != nil {
			return err
		}
		then, err := tx.AccountBalanceOn(books.Undeposited, 0, day, s.seller.Currency)
		if err != nil {
			return err
		}
		switch {
		case drawer.Less(amount):
			return fault.Invalidf("amount", "only %s is waiting to be paid in", drawer.Format())
		case then.Less(amount):
			return fault.Invalidf("amount", "only %s was waiting on that day", then.Format())
		}
		e, err := books.Bank(amount, day, strings.TrimSpace(reference))
		if err != nil {
			return err
		}
		if err := post(tx, actor, e); err != nil {
			return err
		}
		return tx.Log(actor, "paid in", "bank", 0, map[string]any{"amount": amount, "reference": reference})
	})
}
