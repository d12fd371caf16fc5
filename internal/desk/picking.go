package desk

import (
	"context"

	"ribdesk/internal/fault"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
)

// Missing is pieces that aren't there when a bundle is picked.
type Missing struct {
	BundleID int64
	Item     int // row of the bundle's contents, from 0
	Pieces   int
	Why      string
}

// Short records pieces found missing at picking. The bundle then holds what it
// really holds; on its ticket the rest is an exception, to be remade or left off
// the invoice by one decision. What was cut stays recorded as cut.
func (d *Desk) Short(ctx context.Context, actor party.Actor, orderID int64, m Missing) (b order.Bundle, err error) {
	if err := allow(actor, party.Owner, party.Counter, party.Operator, party.Driver); err != nil {
		return b, err
	}
	var l fault.List
	if m.Pieces < 1 {
		l.Addf("pieces", "say how many pieces are missing")
	}
	if m.Why == "" || len([]rune(m.Why)) > 120 {
		l.Addf("why", "say in a few words what became of them")
	}
	if err := l.Err(); err != nil {
		return b, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return b, err
	}
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		o, err := tx.Order(orderID)
		if err != nil {
			return err
		}
		if b, err = tx.Bundle(m.BundleID); err != nil {
			return err
		}
		if err := stillHere(tx, o, b); err != nil {
			return err
		}
		if m.Item < 0 || m.Item >= len(b.Items) {
			return fault.Invalidf("item", "choose a row of the bundle")
		}
		it := &b.Items[m.Item]
		if m.Pieces > it.Qty {
			return fault.Invalidf("pieces", "the bundle holds only %d of these", it.Qty)
		}
		b.Pounds = b.Pounds.Sub(s.poundsOf(o, *it, m.Pieces))
		if b.Pounds.Sign() < 0 {
			b.Pounds = money.Int(0)
		}
		it.Qty, it.Short, it.Why = it.Qty-m.Pieces, it.Short+m.Pieces, m.Why
		b.Pieces -= m.Pieces
		if err := tx.SaveContents(b); err != nil {
			return err
		}
		return tx.Log(actor, "short at picking", "order", orderID, map[string]any{"bundle": b.Code, "pieces": m.Pieces, "why": m.Why})
	})
	return b, err
}

// poundsOf is what some pieces of a bundle's row weigh.
func (s *snapshot) poundsOf(o order.Order, it order.BundleItem, pieces int) money.Rate {
	l := lineOf(o, it.LineID)
	if l.Kind == order.Accessory {
		return l.Pounds.Mul(money.Fraction(int64(pieces), int64(max(1, l.Count)))).Shorten(1)
	}
	return money.FromFloat(s.poundsPerFoot(l) * it.Length.InFeet() * float64(pieces)).Shorten(1)
}

// stillHere refuses a bundle of another order, and one that has left.
func stillHere(tx *store.Tx, o order.Order, b order.Bundle) error {
	if b.OrderID != o.ID {
		return fault.NotFoundf("there is no such bundle in order %s", o.Number)
	}
	if b.LoadID == 0 {
		return nil
	}
	t, err := tx.Load(b.LoadID)
	if err == nil && t.State != order.Building {
		err = fault.Conflictf("bundle %s has left with load %s", b.Code, t.Number)
	}
	return err
}

// CheckOffOnTrip marks a bundle of a trip as picked, whichever order it belongs to.
func (d *Desk) CheckOffOnTrip(ctx context.Context, actor party.Actor, tripID int64, code string) (b order.Bundle, err error) {
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		if b, err = tx.BundleByCode(code); err != nil {
			return err
		}
		if b.LoadID != tripID {
			return fault.Conflictf("bundle %s isn't on this load; set it aside", code)
		}
		return nil
	})
	if err != nil {
		return b, err
	}
	return d.CheckOff(ctx, actor, b.OrderID, code)
}
