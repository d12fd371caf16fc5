package desk

import (
	"context"

	"ribdesk/internal/fault"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
)

// ChangeAccepted begins a change of an accepted order: a new draft that asks for
// the same at today's price and names the order it changes. What was accepted
// stands until the change is quoted and accepted in its turn; then the first
// order ends in the same step, so that nothing is made twice.
func (d *Desk) ChangeAccepted(ctx context.Context, actor party.Actor, id int64) (order.Order, error) {
	if err := allow(actor, party.Owner, party.Counter); err != nil {
		return order.Order{}, err
	}
	f, err := d.OrderFile(ctx, actor, id)
	if err != nil {
		return order.Order{}, err
	}
	first := f.Order
	if err := changeable(first, f.FollowUps); err != nil {
		return order.Order{}, err
	}
	priced, _, err := d.answer(ctx, actor, Again(first))
	if err != nil {
		return order.Order{}, err
	}
	o := priced.Order
	o.Follows = first.ID
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		others, err := tx.FollowUps(first.ID)
		if err != nil {
			return err
		}
		if err := changeable(first, others); err != nil {
			return err
		}
		o, err = d.addDraft(tx, actor, o)
		return err
	})
	return o, err
}

// changeable refuses a change of what isn't accepted or is being made, and a
// second change while one is open.
func changeable(first order.Order, others []order.Order) error {
	if first.State != order.Accepted && first.State != order.Planned {
		return fault.Conflictf("order %s is %s; only an accepted order that isn't cut yet can be changed by another", first.Number, first.State)
	}
	for _, o := range others {
		if o.State == order.Draft || o.State == order.Quoted {
			return fault.Conflictf("order %s changes this one already and is %s; change that one", o.Number, o.State)
		}
	}
	return nil
}

// Again gives a new ask for what an order asked for: whom it is for, where it
// goes and its lines, without its dates, prices and promises.
func Again(o order.Order) order.Order {
	again := order.Order{
		CustomerID: o.CustomerID, Customer: o.Customer, Contact: o.Contact, Job: o.Job, PO: o.PO, Fulfil: o.Fulfil,
		ShipTo: o.ShipTo, MilesTenths: o.MilesTenths, SiteNotes: o.SiteNotes, Note: o.Note,
	}
	for _, l := range o.Lines {
		l.ID = 0
		again.Lines = append(again.Lines, l)
	}
	return again
}

// replaceFirst ends the accepted order that an order changes, in the step that
// accepts the change.
func replaceFirst(tx *store.Tx, actor party.Actor, o order.Order) error {
	if o.Follows == 0 {
		return nil
	}
	first, err := tx.Order(o.Follows)
	if err != nil {
		return err
	}
	if !first.State.Allows(order.Cancel) {
		return fault.Conflictf("order %s, which this one changes, is %s by now; ask for the difference by itself", first.Number, first.State)
	}
	if err := first.Apply(order.Cancel); err != nil {
		return err
	}
	if err := giveUp(tx, actor, &first, "changed by order "+o.Number); err != nil {
		return err
	}
	_, err = tx.SaveOrder(actor, first, string(first.State))
	return err
}
