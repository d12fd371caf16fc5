package desk

import (
	"context"
	"slices"
	"strings"

	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/price"
	"ribdesk/internal/store"
)

// IfCancelled says what becomes of the set-ups that an order shares when it is
// cancelled: who stays, what they pay, and what the shop carries. An order that
// shares none leaves nobody behind.
func (d *Desk) IfCancelled(ctx context.Context, actor party.Actor, id int64) (c price.Cancellation, err error) {
	if err := allow(actor, party.Owner, party.Counter); err != nil {
		return c, err
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		o, err := tx.Order(id)
		if err != nil {
			return err
		}
		c, err = leftBehind(tx, o)
		return err
	})
	return c, err
}

// leftBehind works it out among the orders that are accepted or further and not
// delivered yet.
func leftBehind(tx *store.Tx, leaving order.Order) (price.Cancellation, error) {
	in, q, err := ReplayPrice(leaving)
	if err != nil {
		return price.Cancellation{Order: leaving.Number}, nil // never priced: it shares nothing
	}
	others, err := tx.Orders(store.OrderFilter{States: []order.State{order.Accepted, order.Planned, order.Cut}, Limit: maxOpenOrders, Oldest: true})
	if err != nil {
		return price.Cancellation{}, err
	}
	run := sharedRun{leaves: leaving.Number, paid: map[string]money.Amount{}}
	run.join(leaving, in, &q.Alone)
	for _, o := range others {
		if o.ID == leaving.ID {
			continue
		}
		if oin, oq, err := ReplayPrice(o); err == nil && (names(in, o.Number) || names(oin, leaving.Number)) {
			offer := &oq.Alone
			if o.Sharing && oq.Shared != nil {
				offer = oq.Shared
			}
			run.join(o, oin, offer)
		}
	}
	return run.cancel(in.Shop.Policy.OnCancel)
}

// noteLeftBehind keeps in the log what the shop carries from now on.
func noteLeftBehind(tx *store.Tx, actor party.Actor, o order.Order) error {
	if o.Accepted == nil {
		return nil // nobody counted on it
	}
	c, err := leftBehind(tx, o)
	if err != nil || len(c.Left) == 0 {
		return err
	}
	return tx.Log(actor, "left a shared set-up; the shop carries "+c.Shop.Format(), "order", o.ID, c)
}

// names reports whether an order's set-ups are shared with another by number.
func names(in price.Input, number string) bool {
	if in.Order.Sharing == nil {
		return false
	}
	return slices.ContainsFunc(in.Order.Sharing.Setups, func(s price.SharedSetup) bool {
		return slices.ContainsFunc(s.With, func(p price.Partner) bool { return p.Order == number })
	})
}

// sharedRun is the set-ups of an order that leaves, with who else uses them and
// what those were charged for them.
type sharedRun struct {
	leaves string
	batch  price.Batch
	paid   map[string]money.Amount
}

// facilityOf names a set-up without the place it has in one order's runs, so
// that the same change is known in another's.
func facilityOf(setup string) string {
	return setup[:max(0, strings.LastIndex(setup, "/"))]
}

// join enters an order's set-ups: all of those of the one that leaves, and of
// the others those that it uses, too.
func (r *sharedRun) join(o order.Order, in price.Input, offer *price.Offer) {
	currency := offer.Total.Currency()
	paid := money.Cents(0, currency)
	joined := false
	for _, s := range offer.Setups {
		cost, err := s.Cost.Round(currency)
		part, perr := s.Value.Round(currency)
		if err != nil || perr != nil {
			continue
		}
		id := facilityOf(s.Setup)
		at := slices.IndexFunc(r.batch.Setups, func(b price.BatchSetup) bool { return b.ID == id })
		switch {
		case o.Number == r.leaves && at < 0:
			r.batch.Setups = append(r.batch.Setups, price.BatchSetup{ID: id, Label: s.Label, Cost: cost, Users: []price.User{{Order: o.Number}}})
		case o.Number == r.leaves || at < 0 || slices.ContainsFunc(r.batch.Setups[at].Users, func(u price.User) bool { return u.Order == o.Number }):
			continue
		default:
			r.batch.Setups[at].Users = append(r.batch.Setups[at].Users, price.User{Order: o.Number})
			paid = paid.Add(part)
		}
		joined = true
	}
	if joined {
		r.batch.Orders = append(r.batch.Orders, o.Number)
		r.paid[o.Number] = paid
	}
	if in.Order.Sharing != nil && r.batch.Rule == "" {
		r.batch.Rule = in.Order.Sharing.Rule
	}
}

// cancel takes the order out. What the others pay is what they were charged,
// which may be more than their share among all: then the shop carries less.
func (r *sharedRun) cancel(policy price.OnCancel) (price.Cancellation, error) {
	if len(r.batch.Orders) < 2 {
		return price.Cancellation{Order: r.leaves, Policy: policy}, nil
	}
	c, err := r.batch.Cancel(r.leaves, policy)
	if err != nil {
		return c, err
	}
	c.Shop = c.Total
	for i := range c.Left {
		left := &c.Left[i]
		left.Quoted = r.paid[left.Order]
		left.Pays = left.Quoted
		if c.Policy == price.Requote {
			left.Pays = left.Anew
		}
		c.Shop = c.Shop.Sub(left.Pays)
	}
	if c.Shop.Sign() < 0 {
		c.Shop = money.Cents(0, c.Total.Currency())
	}
	return c, nil
}
