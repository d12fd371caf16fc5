package desk

import (
	"context"

	"ribdesk/internal/drawing"
	"ribdesk/internal/load"
	"ribdesk/internal/measure"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
)

const liftingSetting = "lifting"

// HandLift is equal pieces that one person alone shouldn't lift.
type HandLift struct {
	Order  string
	Bundle string // "" where they are formed on the site
	Name   string
	Qty    int
	Length measure.Length
	Lb     float64 // of one piece, calculated and not weighed
	Index  float64 // of lifting: its weight over the limit
	Says   load.Verdict
}

// Lifting gives how pieces are lifted in this shop, for the equation, with the
// version to change it and the pieces in the shop that are more than one
// person's lift.
func (d *Desk) Lifting(ctx context.Context, actor party.Actor) (l load.Lift, version int64, over []HandLift, err error) {
	if err := allow(actor, party.Owner, party.Counter, party.Operator, party.Driver); err != nil {
		return l, 0, nil, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return l, 0, nil, err
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		cut, err := tx.Orders(store.OrderFilter{States: []order.State{order.Cut, order.Loaded}, Limit: maxOpenOrders})
		if err != nil {
			return err
		}
		over = nil
		for _, o := range cut {
			if o, err = tx.Order(o.ID); err != nil {
				return err
			}
			bundles, err := tx.BundlesOf(o.ID)
			if err != nil {
				return err
			}
			for _, b := range bundles {
				over = append(over, s.overLimit(o, b)...)
			}
		}
		return nil
	})
	return s.lifting, s.liftingVersion, over, err
}

// SaveLifting says how pieces are lifted in this shop.
func (d *Desk) SaveLifting(ctx context.Context, actor party.Actor, l load.Lift, seen int64) error {
	if err := allow(actor, party.Owner); err != nil {
		return err
	}
	if err := l.Check(); err != nil {
		return err
	}
	return d.store.Write(ctx, func(tx *store.Tx) error { return tx.SaveSetting(actor, liftingSetting, l, seen) })
}

func (s *snapshot) readLifting(tx *store.Tx) (err error) {
	s.lifting = load.UsualLift()
	if s.liftingVersion, err = tx.Setting(liftingSetting, &s.lifting); err != nil {
		return err
	}
	s.liftLimit, err = s.lifting.Limit()
	return err
}

// overLimit gives the pieces of a bundle that are more than one person's lift.
func (s *snapshot) overLimit(o order.Order, b order.Bundle) (out []HandLift) {
	for _, it := range b.Items {
		if it.Length == 0 || it.Qty == 0 {
			continue
		}
		l := lineOf(o, it.LineID)
		lb := s.poundsPerFoot(l) * it.Length.InFeet()
		if v, ok := load.HandVerdict(it.Length, lb, s.liftLimit); ok {
			out = append(out, HandLift{o.Number, b.Code, l.Name, it.Qty, it.Length, lb, s.liftLimit.Index(lb), v})
		}
	}
	return out
}

// lookAt finds the metal of each bundle and the pieces that want two people,
// those of what is formed on a site too.
func (f *TripFile) lookAt(s *snapshot) {
	f.metals = map[string]drawing.Fill{}
	f.Limit = s.liftLimit
	for _, b := range f.Bundles {
		if len(b.Items) > 0 {
			l := lineOf(f.Orders[b.OrderID], b.Items[0].LineID)
			if c, ok := s.colours[l.Colour]; ok {
				f.metals[b.Code] = drawing.Swatch(c.Name, c.Swatch)
			}
		}
		f.Lifting = append(f.Lifting, s.overLimit(f.Orders[b.OrderID], b)...)
	}
	for _, stop := range f.Trip.Stops {
		if o := f.Orders[stop.OrderID]; o.Fulfil == order.OnSite && len(f.On(o.ID)) == 0 {
			f.FormsThere = true
			f.Lifting = append(f.Lifting, s.overLimit(o, wholeOrder(o))...)
		}
	}
}
