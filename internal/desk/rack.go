package desk

import (
	"cmp"
	"context"
	"slices"

	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
)

// RackStrip is the coils of one strip, whole ones before remnants.
type RackStrip struct {
	Strip    stock.Strip
	Material stock.Material
	Colour   stock.Colour
	Coils    []stock.Coil
	OnHand   measure.Length
	Promised measure.Length
}

// Free gives what nobody counts on yet.
func (r RackStrip) Free() measure.Length { return r.OnHand - r.Promised }

// Name says what the strip is, in the catalogue's words.
func (r RackStrip) Name() string {
	return cmp.Or(r.Material.Name, r.Strip.Material) + " " + r.Strip.Gauge + ", " + r.Strip.Width.Across().String() + ", " + cmp.Or(r.Colour.Name, r.Strip.Colour)
}

// Short says it for a picture, without the material.
func (r RackStrip) Short() string {
	return r.Strip.Gauge + ", " + r.Strip.Width.Across().String() + ", " + cmp.Or(r.Colour.Name, r.Strip.Colour)
}

// Rack gives the coils on the racks and machines by strip, and what a member of
// the staff must know to receive another: the strips that are bought.
type Rack struct {
	Strips   []RackStrip
	Machines []stock.Machine
	Longest  measure.Length // as received, of all coils: the scale of their bars
}

// Rack gives what stands in the shop.
func (d *Desk) Rack(ctx context.Context, actor party.Actor) (Rack, error) {
	if err := allow(actor, party.Owner, party.Counter, party.Operator); err != nil {
		return Rack{}, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return Rack{}, err
	}
	r := Rack{Machines: s.machines}
	at := map[stock.Strip]int{}
	for _, c := range s.coils {
		i, ok := at[c.Strip]
		if !ok {
			i = len(r.Strips)
			at[c.Strip] = i
			r.Strips = append(r.Strips, RackStrip{Strip: c.Strip, Material: s.materials[c.Strip.Material], Colour: s.colours[c.Strip.Colour]})
		}
		of := &r.Strips[i]
		of.Coils = append(of.Coils, c)
		of.OnHand += c.OnHand
		of.Promised += c.Promised
		r.Longest = max(r.Longest, c.Original, c.OnHand)
	}
	for i := range r.Strips {
		slices.SortStableFunc(r.Strips[i].Coils, wholeFirst)
	}
	return r, nil
}

// wholeFirst orders the coils of a strip as they are read: the mounted one,
// then whole coils, then remnants, the longest first.
func wholeFirst(a, b stock.Coil) int {
	return cmp.Or(rank(a.Mounted == "", b.Mounted == ""), rank(a.Remnant, b.Remnant), cmp.Compare(b.OnHand, a.OnHand), cmp.Compare(a.Tag, b.Tag))
}

// Weighed is a receipt as it would be booked, with the figures it is made of.
type Weighed struct {
	Coil    stock.Coil
	PerFoot float64    // pounds of strip per foot
	PerLb   money.Rate // landed, by the pound
	Of      RackStrip  // its strip, in words
}

// WeighCoil works a receipt out without keeping anything.
func (d *Desk) WeighCoil(ctx context.Context, actor party.Actor, r Receipt) (w Weighed, err error) {
	if err := allow(actor, party.Owner, party.Counter, party.Operator); err != nil {
		return w, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return w, err
	}
	if w.Coil, err = s.weighIn(r); err != nil {
		return w, err
	}
	w.Of = RackStrip{Strip: w.Coil.Strip, Material: s.materials[r.Strip.Material], Colour: s.colours[r.Strip.Colour]}
	w.PerFoot = w.Of.Material.Sheet(w.Coil.Thickness).PoundsPerFoot(w.Coil.Strip.Width)
	if w.Coil.Pounds.Sign() > 0 {
		w.PerLb = w.Coil.Landed.Rate().Div(w.Coil.Pounds)
	}
	return w, nil
}
