package desk

import (
	"context"
	"time"

	"ribdesk/internal/books"
	"ribdesk/internal/fault"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
)

// Standing is how a customer stands with the shop, for the person at the counter.
type Standing struct {
	books.Standing
	OnAccount bool         // has terms, and so buys on credit
	Deposits  money.Amount // open, for orders under way
	Asked     money.Amount // what the answer is about
}

// Standing tells how a customer stands when they buy another amount, to staff
// who deal with customers.
func (d *Desk) Standing(ctx context.Context, actor party.Actor, customerID int64, another money.Amount) (st Standing, err error) {
	if err := allow(actor, party.Owner, party.Counter, party.Bookkeeper); err != nil {
		return st, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return st, err
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		c, err := tx.Customer(customerID)
		if err != nil {
			return err
		}
		st, err = standing(tx, c, another, dayStart(d.now(), s.seller.Location()), s.seller.Currency)
		return err
	})
	return st, err
}

func standing(tx *store.Tx, c party.Customer, another money.Amount, day time.Time, currency money.Currency) (st Standing, err error) {
	rules, err := readBooksRules(tx)
	if err != nil {
		return st, err
	}
	items, err := tx.Items(store.BooksFilter{CustomerID: c.ID, OpenOnly: true})
	if err != nil {
		return st, err
	}
	credits, err := tx.Credits(store.BooksFilter{CustomerID: c.ID, OpenOnly: true})
	if err != nil {
		return st, err
	}
	zero := money.Cents(0, currency)
	st = Standing{Standing: books.Stand(c, items, credits, another, rules.LateDays, day), OnAccount: c.Terms.NetDays > 0, Deposits: zero, Asked: another}
	st.Owed, st.PastDue = st.Owed.Add(zero), st.PastDue.Add(zero)
	for _, credit := range credits {
		if credit.Kind == books.DepositCredit {
			st.Deposits = st.Deposits.Add(credit.Open)
		}
	}
	return st, nil
}

// openForOrders refuses a customer on credit hold, whoever asks; why is told to
// staff only.
func openForOrders(tx *store.Tx, actor party.Actor, customerID int64) error {
	c, err := tx.Customer(customerID)
	switch {
	case err != nil || !c.Hold:
		return err
	case !actor.Role.Staff():
		return callTheShop()
	case c.HoldReason == "":
		return fault.Conflictf("%s is on credit hold; the owner or the bookkeeper lifts it", c.Name)
	}
	return fault.Conflictf("%s is on credit hold: %s; the owner or the bookkeeper lifts it", c.Name, c.HoldReason)
}

// callTheShop is what a customer hears whose account doesn't bear an order.
func callTheShop() error {
	return fault.Conflictf("your account doesn't bear this order just now; please call the shop")
}

// mayBuy refuses an acceptance that the customer's account doesn't bear. Who
// pays before or at the hand-over buys without credit. The owner may go beyond
// the limit, and the log then says so.
func (d *Desk) mayBuy(tx *store.Tx, actor party.Actor, s *snapshot, o order.Order) error {
	if err := openForOrders(tx, actor, o.CustomerID); err != nil {
		return err
	}
	c, err := tx.Customer(o.CustomerID)
	if err != nil {
		return err
	}
	st, err := standing(tx, c, o.Charged().Total, dayStart(d.now(), s.seller.Location()), s.seller.Currency)
	if err != nil || !st.OnAccount || !st.Stop {
		return err
	}
	if actor.Role == party.Owner && actor.PersonID != 0 {
		return tx.Log(actor, "allowed beyond credit", "order", o.ID, map[string]string{"why": st.Why})
	}
	if !actor.Role.Staff() {
		return callTheShop()
	}
	return fault.Conflictf("%s can't take this on account: %s. Take a payment first, or ask the owner to accept it", c.Name, st.Why)
}
