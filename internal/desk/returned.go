package desk

import (
	"context"
	"time"

	"ribdesk/internal/books"
	"ribdesk/internal/fault"
	"ribdesk/internal/money"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
	"ribdesk/internal/words"
)

// ReturnAsk says how a payment is taken back. Fee is what the customer is
// charged for it, 0 for nothing.
type ReturnAsk struct {
	PaymentID int64
	Banked    bool // it had been paid in at the bank
	Mistake   bool // it was entered wrongly; else the bank returned it
	Fee       money.Amount
	Day       time.Time // today when zero
}

// ReturnedPayment is a payment that was taken back, with the fee charged for it.
type ReturnedPayment struct {
	Payment Payment
	Fee     books.Item // without a number when none was charged
}

// ReturnPayment takes back a payment that the bank refused or that was entered
// wrongly: what it paid is owed again, with its old due days.
func (d *Desk) ReturnPayment(ctx context.Context, actor party.Actor, ask ReturnAsk) (t ReturnedPayment, err error) {
	if err := keepsBooks(actor); err != nil {
		return t, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return t, err
	}
	if ask.Day, err = d.dayOfAct(s, ask.Day); err != nil {
		return t, err
	}
	switch {
	case ask.Fee.Sign() < 0:
		return t, fault.Invalidf("fee", "the fee must be above 0, or empty for none")
	case ask.Mistake && ask.Fee.Sign() > 0:
		return t, fault.Invalidf("fee", "there is no fee on what was entered wrongly; leave this empty")
	}
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		if t.Payment, err = tx.Payment(ask.PaymentID); err != nil {
			return err
		}
		c, err := returnPayment(tx, actor, t.Payment, ask)
		if err != nil || ask.Fee.Sign() == 0 {
			return err
		}
		t.Fee, err = chargeReturn(tx, actor, c, ask)
		return err
	})
	return t, err
}

func returnPayment(tx *store.Tx, actor party.Actor, p Payment, ask ReturnAsk) (books.Credit, error) {
	c, err := tx.Credit(p.Payment.Number)
	if err != nil {
		return c, err
	}
	apps, items, err := paidWith(tx, c)
	if err != nil {
		return c, err
	}
	back, err := books.TakeBack(c, apps, items, books.Return{Method: p.Payment.Method, Banked: ask.Banked, Mistake: ask.Mistake, Day: ask.Day})
	if err != nil {
		return c, err
	}
	for _, a := range apps {
		ch := store.Change{What: store.Returned, Document: c.Number, Credit: c.Number, Item: a.Item, Day: ask.Day, Amount: a.Amount.Neg(), Discount: a.Discount.Neg()}
		if err := tx.AddChange(actor, ch); err != nil {
			return c, err
		}
	}
	whole := store.Change{What: store.Returned, Document: c.Number, Credit: c.Number, Day: ask.Day, Amount: c.Original, Discount: money.Cents(0, c.Original.Currency()), Note: whyReturned(ask)}
	if err := tx.AddChange(actor, whole); err != nil {
		return c, err
	}
	for _, it := range back.Items {
		if err := tx.SaveItem(it); err != nil {
			return c, err
		}
	}
	if err := tx.SaveCredit(back.Credit); err != nil {
		return c, err
	}
	if err := tx.Log(actor, whyReturned(ask), "payment", p.ID, map[string]any{"number": c.Number, "amount": c.Original, "fee": ask.Fee}); err != nil {
		return c, err
	}
	return back.Credit, post(tx, actor, back.Entry)
}

func whyReturned(ask ReturnAsk) string {
	if ask.Mistake {
		return words.Key("entered wrongly")
	}
	return words.Key("returned unpaid")
}

// paidWith gives the applications of a credit with the items they paid; one that
// was taken back already is refused.
func paidWith(tx *store.Tx, c books.Credit) (apps []books.Application, items []books.Item, err error) {
	changes, err := tx.ChangesOfCredit(c.Number)
	if err != nil {
		return nil, nil, err
	}
	for _, ch := range changes {
		switch ch.What {
		case store.Returned:
			return nil, nil, fault.Conflictf("%s was taken back already", c.Number)
		case store.Applied:
			it, err := tx.Item(ch.Item)
			if err != nil {
				return nil, nil, err
			}
			apps, items = append(apps, useOf(ch)), append(items, it)
		}
	}
	return apps, items, nil
}

// useOf gives a kept change of what is open as the books see it.
func useOf(ch store.Change) books.Application {
	return books.Application{Credit: ch.Credit, Item: ch.Item, Day: ch.Day, Amount: ch.Amount, Discount: ch.Discount}
}

// chargeReturn charges the fee for a payment that the bank returned.
func chargeReturn(tx *store.Tx, actor party.Actor, c books.Credit, ask ReturnAsk) (books.Item, error) {
	number, err := takeNumber(tx, returnFeePrefix)
	if err != nil {
		return books.Item{}, err
	}
	it, entry, err := books.ChargeReturn(number, c, ask.Fee, ask.Day)
	if err != nil {
		return it, err
	}
	if err := tx.AddItem(0, it); err != nil {
		return it, err
	}
	return it, post(tx, actor, entry)
}
