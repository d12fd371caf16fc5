package desk

import (
	"context"
	"fmt"
	"strconv"

	"ribdesk/internal/fault"
	"ribdesk/internal/load"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
)

// bundle packs an order's pieces; accessories go on the last bundle, or make
// one of their own.
func (d *Desk) bundle(tx *store.Tx, actor party.Actor, o order.Order) error {
	s, err := readSnapshot(tx, d.now())
	if err != nil {
		return err
	}
	bundles, err := s.pack(o)
	if err != nil {
		return err
	}
	for i := range bundles {
		bundles[i].Code = fmt.Sprintf("B%s-%d", o.Number, i+1)
		bundles[i].No, bundles[i].Of = i+1, len(bundles)
	}
	_, err = tx.ReplaceBundles(actor, o.ID, bundles)
	return err
}

// skid is what a bundle's dunnage and bands weigh: 10 lb and 1.5 lb a foot
// (common practice, no published source).
const (
	skidPounds        = 10
	skidPoundsPerFoot = 1.5
)

func (s *snapshot) pack(o order.Order) ([]order.Bundle, error) {
	var pieces []load.Line
	rows := map[string]order.BundleItem{}
	for _, l := range o.Lines {
		if l.Kind == order.Accessory {
			continue
		}
		perFoot := s.poundsPerFoot(l)
		for _, c := range l.Cuts {
			id := strconv.FormatInt(c.ID, 10)
			rows[id] = order.BundleItem{LineID: l.ID, CutID: c.ID, Name: l.Name, Length: c.Length, Mark: c.Mark}
			pieces = append(pieces, load.Line{
				ID: id, Order: o.Number, Customer: o.Customer, Kind: setupKey(setupOf(l)), Length: c.Length, Qty: c.Qty,
				Width: s.lies(l), Height: 2 * measure.Inch, Nest: measure.Inch / 8, Lb: perFoot * c.Length.InFeet(),
			})
		}
	}
	var out []order.Bundle
	if len(pieces) > 0 {
		packed, err := load.Bundles(pieces, load.Packing{
			MaxLb: float64(s.seller.BundlePounds), SkidLb: skidPounds, SkidLbFt: skidPoundsPerFoot, SkidDeep: 4 * measure.Inch, Mixed: true,
		})
		if err != nil {
			return nil, err
		}
		for _, b := range packed {
			out = append(out, bundleOf(b, rows))
		}
	}
	return withAccessories(o, out), nil
}

// lies is the width of a piece as it lies in a bundle.
func (s *snapshot) lies(l order.Line) measure.Length {
	if p, ok := s.profiles[l.Code]; ok && l.Kind == order.Formed && p.Coverage > 0 {
		return p.Coverage
	}
	if l.Girth > 0 {
		return l.Girth
	}
	return l.Strip
}

func (s *snapshot) poundsPerFoot(l order.Line) float64 {
	m := s.materials[l.Material]
	width := l.Strip
	if l.Kind == order.Trim && l.Girth > 0 {
		width = l.Girth
	}
	return m.Sheet(gaugeThickness(m, l.Gauge)).PoundsPerFoot(width)
}

func bundleOf(b load.Bundle, rows map[string]order.BundleItem) order.Bundle {
	out := order.Bundle{Pieces: b.Pieces, Longest: b.Longest, Width: b.Width, Height: b.Height, Balance: b.Balance, Pounds: money.FromFloat(b.Lb).Shorten(1)}
	for _, c := range b.Contents {
		item := rows[c.Line]
		item.Qty = c.Qty
		out.Items = append(out.Items, item)
	}
	return out
}

// boxBundle is where accessories go that come without a piece to lie beside: a
// box on a small skid.
var boxBundle = order.Bundle{
	Longest: 2 * measure.Foot, Width: 2 * measure.Foot, Height: measure.Foot, Balance: measure.Foot, Pounds: money.Int(skidPounds),
}

func withAccessories(o order.Order, bundles []order.Bundle) []order.Bundle {
	for _, l := range o.Lines {
		if l.Kind != order.Accessory {
			continue
		}
		if len(bundles) == 0 {
			bundles = append(bundles, boxBundle)
		}
		b := &bundles[len(bundles)-1]
		b.Items = append(b.Items, order.BundleItem{LineID: l.ID, Name: l.Name, Qty: l.Count})
		b.Pieces += l.Count
		b.Pounds = b.Pounds.Add(l.Pounds)
	}
	return bundles
}

// CheckOff marks the bundle that a scanned or typed code names as picked.
func (d *Desk) CheckOff(ctx context.Context, actor party.Actor, orderID int64, code string) (b order.Bundle, err error) {
	if err := allow(actor, party.Owner, party.Counter, party.Operator, party.Driver); err != nil {
		return b, err
	}
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		if b, err = tx.BundleByCode(code); err != nil {
			return err
		}
		if b.OrderID != orderID {
			return fault.Conflictf("bundle %s belongs to another order; set it aside", code)
		}
		b.Checked = true
		if err := tx.SaveBundle(b); err != nil {
			return err
		}
		return tx.Log(actor, "picked", "order", orderID, map[string]string{"bundle": code})
	})
	return b, err
}
