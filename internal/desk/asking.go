package desk

import (
	"context"
	"strings"

	"ribdesk/internal/fault"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
)

// namesOffered is how many customers the counter lists by name; the others are
// found when their name is typed.
const namesOffered = 200

// CustomerNames gives names for the counter's list.
func (d *Desk) CustomerNames(ctx context.Context, actor party.Actor) (names []string, err error) {
	if err := allow(actor, party.Owner, party.Counter, party.Bookkeeper); err != nil {
		return nil, err
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		names, err = tx.CustomerNames(namesOffered)
		return err
	})
	return names, err
}

// Asker is a customer who asks, with the sites on file that goods can go to.
type Asker struct {
	Customer party.Customer
	Sites    []party.Site
}

// AskerNamed gives the customer of exactly this name, in whatever case.
func (d *Desk) AskerNamed(ctx context.Context, actor party.Actor, name string) (Asker, error) {
	if err := allow(actor, party.Owner, party.Counter, party.Bookkeeper); err != nil {
		return Asker{}, err
	}
	return d.asker(ctx, func(tx *store.Tx) (party.Customer, error) { return customerNamed(tx, name) })
}

// AskerOf gives the customer of an id, to staff and to the customer's own person.
func (d *Desk) AskerOf(ctx context.Context, actor party.Actor, id int64) (Asker, error) {
	if err := seesFile(actor, id); err != nil {
		return Asker{}, err
	}
	return d.asker(ctx, func(tx *store.Tx) (party.Customer, error) { return tx.Customer(id) })
}

func (d *Desk) asker(ctx context.Context, find func(*store.Tx) (party.Customer, error)) (a Asker, err error) {
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		if a.Customer, err = find(tx); err != nil {
			return err
		}
		a.Sites, err = tx.Sites(a.Customer.ID)
		return err
	})
	return a, err
}

func customerNamed(tx *store.Tx, name string) (party.Customer, error) {
	list, err := tx.CustomersCalled(name) // as the list wrote it, which an index finds
	if err == nil && len(list) == 0 {
		list, err = tx.Customers(strings.ToLower(name), 0, namesOffered)
	}
	if err != nil {
		return party.Customer{}, err
	}
	for _, c := range list {
		if strings.EqualFold(c.Name, strings.TrimSpace(name)) {
			return c, nil
		}
	}
	return party.Customer{}, fault.NotFoundf("no customer is called %s", name)
}

// HeldOrders gives the drafts that a person put aside at the counter, newest
// first.
func (d *Desk) HeldOrders(ctx context.Context, actor party.Actor) ([]order.Order, error) {
	return d.Orders(ctx, actor, OrderFilter{States: []order.State{order.Draft}, By: actor.Name, Limit: 12})
}

// TakeOrderOf keeps an ask as TakeOrder does, and puts a new customer on file
// with it, in the same step. fresh is nil when nobody is new.
func (d *Desk) TakeOrderOf(ctx context.Context, actor party.Actor, fresh *party.Customer, o order.Order) (order.Order, error) {
	if fresh == nil {
		return d.TakeOrder(ctx, actor, o)
	}
	if err := allow(actor, party.Owner, party.Counter, party.Bookkeeper); err != nil {
		return o, err
	}
	c := tidyCustomer(*fresh)
	if err := c.Check(); err != nil {
		return o, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return o, err
	}
	o.CustomerID = 0
	priced, err := s.askBest(o, buyer{class: c.Class}, d.now())
	if err != nil {
		return o, err
	}
	o = priced.Order
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		if _, err := customerNamed(tx, c.Name); !fault.Is(err, fault.NotFound) {
			if err != nil {
				return err
			}
			return fault.Invalidf("customer", "“%s” is on file already; choose the name of the list", c.Name)
		}
		if err := tx.AddCustomer(&c); err != nil {
			return err
		}
		if err := tx.Log(actor, "added", "customer", c.ID, map[string]string{"name": c.Name}); err != nil {
			return err
		}
		o.CustomerID, o.Customer = c.ID, c.Name
		o, err = d.addDraft(tx, actor, o)
		return err
	})
	return o, err
}

// addDraft numbers an ask and keeps it.
func (d *Desk) addDraft(tx *store.Tx, actor party.Actor, o order.Order) (order.Order, error) {
	number, err := orderNumbers.take(tx)
	if err != nil {
		return o, err
	}
	o.State, o.Revision, o.Number = order.Draft, 1, number
	if o, err = tx.AddOrder(actor, o); err != nil {
		return o, err
	}
	return o, d.tieTakeOff(tx, actor, o)
}
