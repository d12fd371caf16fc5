package desk

import (
	"context"
	"strings"

	"ribdesk/internal/fault"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
)

// mostLists bounds what one customer keeps.
const mostLists = 100

// SaveList keeps what an order asks for under a name: a buyer's for their firm,
// the staff's for the order's customer.
func (d *Desk) SaveList(ctx context.Context, actor party.Actor, name string, o order.Order) (order.SavedList, error) {
	if err := allow(actor, party.Owner, party.Counter, party.Bookkeeper, party.Buyer); err != nil {
		return order.SavedList{}, err
	}
	s := order.SavedList{CustomerID: o.CustomerID, Name: strings.Join(strings.Fields(name), " "), By: actor.Name}
	if actor.Role == party.Buyer {
		s.CustomerID = actor.CustomerID
	}
	for _, l := range o.Lines {
		kept := order.Line{Kind: l.Kind, Code: l.Code, Name: l.Name, Material: l.Material, Gauge: l.Gauge, Colour: l.Colour, Rib: l.Rib, Count: l.Count}
		for _, c := range l.Cuts {
			c.ID = 0
			kept.Cuts = append(kept.Cuts, c)
		}
		s.Lines, s.Pieces = append(s.Lines, kept), s.Pieces+l.Pieces()
	}
	if err := s.Check(); err != nil {
		return s, err
	}
	if s.CustomerID == 0 {
		return s, fault.Invalidf("list_name", "a list is kept for a customer on file; say which")
	}
	err := d.store.Write(ctx, func(tx *store.Tx) error {
		if _, err := tx.Customer(s.CustomerID); err != nil {
			return err
		}
		there, err := tx.CutLists(s.CustomerID)
		if err != nil {
			return err
		}
		if len(there) >= mostLists {
			return fault.Conflictf("there are %d lists already; drop one that isn't used", len(there))
		}
		if s, err = tx.AddCutList(s); err != nil {
			return err
		}
		return tx.Log(actor, "kept list", "customer", s.CustomerID, map[string]any{"list": s.ID, "name": s.Name})
	})
	return s, err
}

// SaveListOf keeps an earlier order's lines under a name.
func (d *Desk) SaveListOf(ctx context.Context, actor party.Actor, name string, orderID int64) (order.SavedList, error) {
	f, err := d.OrderFile(ctx, actor, orderID)
	if err != nil {
		return order.SavedList{}, err
	}
	return d.SaveList(ctx, actor, name, f.Order)
}

// Lists gives a customer's lists by name, to staff who take asks and to the
// customer's own people.
func (d *Desk) Lists(ctx context.Context, actor party.Actor, customerID int64) (lists []order.SavedList, err error) {
	if err := seesFile(actor, customerID); err != nil {
		return nil, err
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		lists, err = tx.CutLists(customerID)
		return err
	})
	return lists, err
}

// List gives one list as an ask that isn't kept yet.
func (d *Desk) List(ctx context.Context, actor party.Actor, id int64) (s order.SavedList, o order.Order, err error) {
	err = d.store.Read(ctx, func(tx *store.Tx) (err error) {
		s, err = seeList(tx, actor, id)
		return err
	})
	if err != nil {
		return s, o, err
	}
	o = order.Order{CustomerID: s.CustomerID, Fulfil: order.PickUp, Lines: s.Lines}
	if actor.Role == party.Buyer {
		o.Contact.Name = actor.Name
	}
	return s, o, nil
}

// seeList answers for somebody else's list as for one that isn't there.
func seeList(tx *store.Tx, actor party.Actor, id int64) (order.SavedList, error) {
	s, err := tx.CutList(id)
	if err == nil && seesFile(actor, s.CustomerID) != nil {
		return order.SavedList{}, fault.NotFoundf("there is no such list")
	}
	return s, err
}

// DropList forgets a list.
func (d *Desk) DropList(ctx context.Context, actor party.Actor, id int64) (s order.SavedList, err error) {
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		if s, err = seeList(tx, actor, id); err != nil {
			return err
		}
		if err := tx.DropCutList(id); err != nil {
			return err
		}
		return tx.Log(actor, "dropped list", "customer", s.CustomerID, map[string]any{"list": s.ID, "name": s.Name})
	})
	return s, err
}
