package desk

import (
	"context"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
)

// MovePromise promises an order for another time. No plan does so by itself:
// it is the owner's decision, with a reason, and both times stand in the log.
func (d *Desk) MovePromise(ctx context.Context, actor party.Actor, id, seen int64, to time.Time, reason string) (o order.Order, err error) {
	if err := allow(actor, party.Owner); err != nil {
		return o, err
	}
	switch {
	case !to.After(d.now()):
		return o, fault.Invalidf("to", "a promise can't be for a time that is past")
	case reason == "":
		return o, fault.Invalidf("reason", "say why")
	}
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		if o, err = tx.Order(id); err != nil {
			return err
		}
		switch o.State {
		case order.Accepted, order.Planned, order.Cut, order.Loaded:
		default:
			return fault.Conflictf("order %s is %s; there is no promise to move", o.Number, o.State)
		}
		if seen != 0 {
			o.Version = seen
		}
		was := o.Promise
		o.Promise = to
		if o, err = tx.SaveOrder(actor, o, "promise moved"); err != nil {
			return err
		}
		if err := d.tellMoved(tx, o, was); err != nil {
			return err
		}
		return tx.Log(actor, "promise moved because", "order", o.ID, map[string]any{"was": was, "is": to, "reason": reason})
	})
	return o, err
}
