package desk

import (
	"context"
	"fmt"
	"strings"

	"ribdesk/internal/fault"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
)

// Decide settles one exception of a delivered stop, once: order.Credit leaves
// the pieces off the invoice, order.Remake makes a follow-up order for them
// without charge. It gives the follow-up, zero for a credit.
func (d *Desk) Decide(ctx context.Context, actor party.Actor, stopID int64, exception int, decision string) (follow order.Order, err error) {
	if err := allow(actor, party.Owner, party.Counter); err != nil {
		return follow, err
	}
	if decision != order.Remake && decision != order.Credit {
		return follow, fault.Invalidf("decision", "choose remake or credit")
	}
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		stop, err := tx.Stop(stopID)
		if err != nil {
			return err
		}
		if stop.SignedAt.IsZero() || exception < 0 || exception >= len(stop.Exceptions) {
			return fault.NotFoundf("there is no such exception")
		}
		e := &stop.Exceptions[exception]
		if e.Decision != "" {
			return fault.Conflictf("this was decided already: %s", e.Decision)
		}
		if e.Kind == "over" {
			return fault.Conflictf("too many pieces need neither a remake nor a credit")
		}
		if decision == order.Remake {
			if follow, err = remake(tx, actor, stop, *e); err != nil {
				return err
			}
			e.FollowUp = follow.ID
		}
		e.Decision = decision
		if err := tx.SaveStop(actor, stop, "decided "+decision); err != nil {
			return err
		}
		return d.closeIfPaid(tx, actor, stop.OrderID) // the decision may have been all that kept it open
	})
	return follow, err
}

// remake makes the follow-up order of an exception: the same pieces again,
// accepted as it stands, at no charge. It has no priced inputs: nothing was
// asked for it, and nothing is.
func remake(tx *store.Tx, actor party.Actor, stop order.Stop, e order.Exception) (order.Order, error) {
	from, err := tx.Order(stop.OrderID)
	if err != nil {
		return order.Order{}, err
	}
	lines, err := piecesAgain(tx, from, e)
	if err != nil {
		return order.Order{}, err
	}
	number, err := orderNumbers.take(tx)
	if err != nil {
		return order.Order{}, err
	}
	free := order.Offer{}
	zero := money.Cents(0, from.Charged().Total.Currency())
	free.Goods, free.SetUp, free.Minimum, free.Packing, free.Delivery = zero, zero, zero, zero, zero
	free.Rush, free.Discount, free.Tax, free.Total, free.Deposit = zero, zero, zero, zero, zero
	o := order.Order{
		Number: number, Revision: 1, State: order.Accepted, CustomerID: from.CustomerID, Customer: from.Customer,
		Contact: from.Contact, Job: strings.TrimSpace("Remake for " + from.Number + " " + from.Job), PO: from.PO, Fulfil: from.Fulfil, ShipTo: from.ShipTo,
		MilesTenths: from.MilesTenths, SiteNotes: from.SiteNotes, Lines: lines, Alone: free, Shared: free,
		Note: fmt.Sprintf("Remake for order %s, ticket %s: %s %d. No charge.", from.Number, stop.Ticket, e.Kind, e.Pieces),
		Accepted: &order.Acceptance{
			Name: actor.Name, Consent: "Remake of what was delivered short, damaged or wrong; no charge.", Method: "remake of order " + from.Number, At: tx.Now(),
		},
	}
	if len([]rune(o.Job)) > 120 {
		o.Job = "Remake for " + from.Number
	}
	if err := o.Check(); err != nil {
		return o, err
	}
	if o, err = tx.AddOrder(actor, o); err != nil {
		return o, err
	}
	if err := tx.Log(actor, string(order.Accepted), "order", o.ID, map[string]string{"remake of": from.Number}); err != nil {
		return o, err
	}
	return o, promiseCoil(tx, actor, &o)
}

// piecesAgain gives the lines of what is to be made once more: pieces of one
// row of the cut list, or, where only the bundle was named, what was in it.
func piecesAgain(tx *store.Tx, from order.Order, e order.Exception) ([]order.Line, error) {
	var want []order.BundleItem
	if e.BundleID != 0 {
		b, err := tx.Bundle(e.BundleID)
		if err != nil {
			return nil, err
		}
		want = b.Items
	}
	left := e.Pieces
	var out []order.Line
	take := func(l order.Line, c order.CutItem, n int) {
		left -= n
		out = append(out, again(l, c, n))
	}
	for _, l := range from.Lines {
		for _, c := range l.Cuts {
			if e.CutID == c.ID && left > 0 {
				take(l, c, min(left, c.Qty))
			}
		}
	}
	for _, it := range want {
		if e.CutID != 0 || left == 0 {
			break
		}
		l := lineOf(from, it.LineID)
		n := min(left, it.Qty+it.Short)
		if l.ID == 0 || n == 0 {
			continue
		}
		take(l, order.CutItem{Length: it.Length, Typed: it.Length.String(), Mark: it.Mark}, n)
	}
	if len(out) == 0 {
		return nil, fault.Conflictf("it isn't known which pieces these were; choose a credit, or take a new order")
	}
	for i := range out {
		out[i].Pos = i + 1
	}
	return out, nil
}

// again is n pieces of a line at no charge, with its weight and time in
// proportion.
func again(l order.Line, c order.CutItem, n int) order.Line {
	share := money.Fraction(int64(n), int64(max(1, l.Pieces())))
	if whole := l.Feet(); whole > 0 {
		share = money.Fraction(int64(c.Length.Times(n)), int64(whole))
	}
	l.ID = 0
	l.Pounds = l.Pounds.Mul(share).Shorten(1)
	l.Minutes = max(1, UpPounds(share.Float()*float64(l.Minutes)))
	l.Unit, l.Amount = money.Cents(0, l.Unit.Currency()), money.Cents(0, l.Amount.Currency())
	if l.Kind == order.Accessory {
		l.Count = n
		return l
	}
	c.ID, c.Qty = 0, n
	l.Cuts = []order.CutItem{c}
	return l
}
