package desk

import (
	"context"
	"strings"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/metal"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
	"ribdesk/internal/store"
)

// Receipt is a coil as it comes off the truck. Its feet are given, or follow
// from its weight, or from its diameters.
type Receipt struct {
	Tag       string // "" takes the next number
	Strip     stock.Strip
	Thickness measure.Length // measured; 0 takes the gauge's nominal
	Lot       string
	Supplier  string
	Landed    money.Amount
	Feet      measure.Length // measured; else
	Pounds    money.Rate     // as weighed; else
	OD, ID    measure.Length
	Remnant   bool
}

// ReceiveCoil takes a coil into the ledger, promises it to the orders that wait
// for its strip, and gives it as it stands.
func (d *Desk) ReceiveCoil(ctx context.Context, actor party.Actor, r Receipt) (coil stock.Coil, err error) {
	if err := allow(actor, party.Owner, party.Counter, party.Operator); err != nil {
		return coil, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return coil, err
	}
	coil, err = s.weighIn(r)
	if err != nil {
		return coil, err
	}
	coil.Received = d.now()
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		if coil.Tag == "" {
			if coil.Tag, err = coilTags.take(tx); err != nil {
				return err
			}
		}
		if err := coil.Check(); err != nil {
			return err
		}
		coil, err = tx.AddCoil(actor, coil)
		if err != nil {
			return err
		}
		_, err = tx.AddMovement(actor, stock.Movement{CoilID: coil.ID, Kind: stock.MovedReceived, Length: coil.Original, Reason: "as received"})
		if err != nil {
			return err
		}
		if err := promiseWaiting(tx, actor, coil.Strip); err != nil {
			return err
		}
		coil, err = tx.Coil(coil.ID)
		return err
	})
	return coil, err
}

// weighIn turns a receipt into a coil with feet and pounds.
func (s *snapshot) weighIn(r Receipt) (stock.Coil, error) {
	c := stock.Coil{
		Metal:     stock.Metal{Tag: r.Tag, Strip: r.Strip, Lot: r.Lot, Supplier: r.Supplier, Landed: r.Landed},
		Thickness: r.Thickness, Remnant: r.Remnant,
	}
	material, gauge, err := s.handled(&c.Strip)
	if err != nil {
		return c, err
	}
	if c.Thickness == 0 {
		c.Thickness = gauge.Thickness
	}
	if r.Strip.Width <= 0 {
		return c, fault.Invalidf("width", "give the strip's width")
	}
	perFoot := material.Sheet(c.Thickness).PoundsPerFoot(r.Strip.Width)
	switch {
	case r.Feet > 0:
		c.Original = r.Feet
	case r.Pounds.Sign() > 0:
		if c.Original, err = metal.StripFromWeight(r.Pounds.Float(), perFoot); err != nil {
			return c, err
		}
	case r.OD > 0:
		roll := metal.Coil{OD: r.OD, ID: r.ID, Width: r.Strip.Width}
		if err := roll.Check(); err != nil {
			return c, err
		}
		c.Original = roll.Strip(c.Thickness)
	default:
		return c, fault.Invalidf("feet", "give the feet, or the weight, or the outside and inside diameter")
	}
	c.Original = c.Original.Down(measure.SixtyFourth)
	if c.Original <= 0 {
		return c, fault.Invalidf("feet", "the coil must hold some metal")
	}
	c.Pounds = r.Pounds
	if c.Pounds.IsZero() {
		c.Pounds = money.FromFloat(perFoot * c.Original.InFeet()).Shorten(1)
	}
	return c, nil
}

// handled gives what a strip is made of, and writes its gauge as the shop does. It
// refuses what isn't of the catalogue's metals.
func (s *snapshot) handled(strip *stock.Strip) (material stock.Material, gauge metal.GaugeInfo, err error) {
	material, ok := s.materials[strip.Material]
	if !ok {
		return material, gauge, fault.Invalidf("material", "choose a material of the catalogue")
	}
	if _, ok := s.colours[strip.Colour]; !ok {
		return material, gauge, fault.Invalidf("colour", "choose a colour of the catalogue")
	}
	if gauge, err = metal.Gauge(material.GaugeSystem, strip.Gauge); err != nil {
		return material, gauge, err
	}
	if strip.Gauge, ok = ownLabel(material, gauge); !ok {
		return material, gauge, fault.Invalidf("gauge", "the shop handles %s in %s, not %s; add the gauge to the material first", material.Name, strings.Join(material.Gauges, ", "), gauge.Label)
	}
	return material, gauge, nil
}

// Coils gives the coils on the racks and machines.
func (d *Desk) Coils(ctx context.Context) ([]stock.Coil, error) {
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return nil, err
	}
	return s.coils, nil
}

// CoilCard is a coil with its history and what is promised of it.
type CoilCard struct {
	Coil      stock.Coil
	Movements []stock.Movement
	Promises  []CoilPromise
}

// CoilPromise is feet of a coil that an order counts on.
type CoilPromise struct {
	order.Reservation
	Order string // its number
}

// CoilCard gives one coil with its history.
func (d *Desk) CoilCard(ctx context.Context, id int64) (card CoilCard, err error) {
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		if card.Coil, err = tx.Coil(id); err != nil {
			return err
		}
		if card.Movements, err = tx.Movements(id); err != nil {
			return err
		}
		promises, err := tx.ReservationsOn(id)
		if err != nil {
			return err
		}
		for _, r := range promises {
			o, err := tx.OrderOfLine(r.LineID)
			if err != nil {
				return err
			}
			card.Promises = append(card.Promises, CoilPromise{r, o.Number})
		}
		return nil
	})
	return card, err
}

// MoveCoil books scrap, a count that differs, or a return. Length is positive
// for scrap and returns; for a count it is what was counted to be on the coil.
func (d *Desk) MoveCoil(ctx context.Context, actor party.Actor, coilID int64, kind stock.Moved, length measure.Length, reason string) error {
	if err := allow(actor, party.Owner, party.Counter, party.Operator); err != nil {
		return err
	}
	if length < 0 {
		return fault.Invalidf("length", "a length can't be negative")
	}
	return d.store.Write(ctx, func(tx *store.Tx) error {
		if kind == stock.MovedScrap {
			if err := useEnds(tx, coilID, length); err != nil {
				return err
			}
		}
		c, err := tx.Coil(coilID)
		if err != nil {
			return err
		}
		m := stock.Movement{CoilID: coilID, Kind: kind, Reason: reason}
		if m.Length, err = stock.Booked(kind, length, c.OnHand); err != nil {
			return err
		}
		if c.OnHand+m.Length < c.Promised {
			return fault.Conflictf("%s of coil %s is promised to orders; see on the run plan's calendar, under \"A coil is short\", what that does, and book it there", c.Promised, c.Tag)
		}
		if _, err := tx.AddMovement(actor, m); err != nil {
			return err
		}
		return spend(tx, actor, c, c.OnHand+m.Length)
	})
}

// MountCoil puts a coil on a machine, or ("") back on the rack.
func (d *Desk) MountCoil(ctx context.Context, actor party.Actor, coilID int64, machine string) error {
	if err := allow(actor, party.Owner, party.Operator); err != nil {
		return err
	}
	return d.store.Write(ctx, func(tx *store.Tx) error { return mount(tx, actor, coilID, machine) })
}

// mount takes whatever is on the machine off and the coil on.
func mount(tx *store.Tx, actor party.Actor, coilID int64, machine string) error {
	coils, err := tx.Coils()
	if err != nil {
		return err
	}
	found := false
	for _, c := range coils {
		want := c.Mounted
		switch {
		case c.ID == coilID:
			found, want = true, machine
		case machine != "" && c.Mounted == machine:
			want = ""
		}
		if want != c.Mounted {
			c.Mounted = want
			if _, err := tx.SaveCoil(actor, c, "mounted"); err != nil {
				return err
			}
		}
	}
	if !found {
		return fault.NotFoundf("there is no such coil on hand")
	}
	return nil
}

// spend takes a coil off the racks when nothing is left on it.
func spend(tx *store.Tx, actor party.Actor, c stock.Coil, left measure.Length) error {
	if left > 0 {
		return nil
	}
	c.Spent, c.Mounted = true, ""
	_, err := tx.SaveCoil(actor, c, "spent")
	return err
}

// SlitStrip is a strip of a master coil: a width and how many of it.
type SlitStrip struct {
	Width measure.Length
	Count int
}

// Slit is how a master coil is slit: so many feet of it into strips, with an
// edge trimmed off on both sides.
type Slit struct {
	Feet     measure.Length
	EdgeTrim measure.Length // on each side
	Strips   []SlitStrip
}

// Width gives what the strips and the trimmed edges take across the coil.
func (s Slit) Width() measure.Length {
	w := s.EdgeTrim.Times(2)
	for _, strip := range s.Strips {
		w += strip.Width.Times(strip.Count)
	}
	return w
}

// SlitCoil slits so many feet of a master coil into strips, each a new coil of
// the same lot; edge trim and what is left of the width is scrap by weight. The
// strips carry the master's cost by width.
func (d *Desk) SlitCoil(ctx context.Context, actor party.Actor, coilID int64, slit Slit) (made []stock.Coil, err error) {
	if err := allow(actor, party.Owner, party.Operator); err != nil {
		return nil, err
	}
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		made = nil
		c, err := tx.Coil(coilID)
		if err != nil {
			return err
		}
		if err := checkSlit(c, slit); err != nil {
			return err
		}
		if _, err := tx.AddMovement(actor, stock.Movement{CoilID: c.ID, Kind: stock.MovedSlit, Length: -slit.Feet, Reason: "slit into strips"}); err != nil {
			return err
		}
		for _, strip := range slitInto(c, slit, d.now()) {
			if strip.Tag, err = coilTags.take(tx); err != nil {
				return err
			}
			if strip, err = tx.AddCoil(actor, strip); err != nil {
				return err
			}
			if _, err := tx.AddMovement(actor, stock.Movement{CoilID: strip.ID, Kind: stock.MovedReceived, Length: slit.Feet, Reason: "slit from " + c.Tag}); err != nil {
				return err
			}
			made = append(made, strip)
		}
		for _, s := range slit.Strips {
			strip := c.Strip
			strip.Width = s.Width
			if err := promiseWaiting(tx, actor, strip); err != nil {
				return err
			}
		}
		return spend(tx, actor, c, c.OnHand-slit.Feet)
	})
	return made, err
}

func checkSlit(c stock.Coil, slit Slit) error {
	var bad fault.List
	if slit.Feet <= 0 || slit.Feet > c.Free() {
		bad.Addf("feet", "coil %s has %s free to slit", c.Tag, c.Free())
	}
	if slit.EdgeTrim < 0 {
		bad.Addf("edge", "the edge trim can't be negative")
	}
	if len(slit.Strips) == 0 {
		bad.Addf("strips", "give at least one strip")
	}
	for _, s := range slit.Strips {
		if s.Width <= 0 || s.Count < 1 || s.Count > 50 {
			bad.Addf("strips", "give each strip a width and a count from 1 to 50")
		}
	}
	if bad == nil && slit.Width() > c.Strip.Width {
		bad.Addf("strips", "strips and edge trim come to %s; the coil is %s wide", slit.Width().Across(), c.Strip.Width.Across())
	}
	return bad.Err()
}

// slitInto shares the cost of the slit feet among the strips by width; the trim
// that is lost is carried by them.
func slitInto(c stock.Coil, slit Slit, now time.Time) []stock.Coil {
	var out []stock.Coil
	var widths []money.Rate
	for _, s := range slit.Strips {
		for range s.Count {
			strip := c.Strip
			strip.Width = s.Width
			out = append(out, stock.Coil{Metal: stock.Metal{Strip: strip, Lot: c.Lot, Supplier: c.Supplier, Received: now}, Thickness: c.Thickness, Original: slit.Feet,
				Pounds: c.Pounds.Mul(money.FromRat(slit.Feet.Ratio(c.Original))).Mul(money.FromRat(s.Width.Ratio(c.Strip.Width))).Shorten(1)})
			widths = append(widths, money.Int(int64(s.Width)))
		}
	}
	whole, err := c.PerFoot().Mul(money.FromRat(slit.Feet.Ratio(measure.Foot))).Round(c.Landed.Currency())
	if err != nil {
		whole = c.Landed
	}
	shares, err := money.Split(whole, widths)
	if err != nil {
		return out
	}
	for i := range out {
		out[i].Landed = shares[i]
	}
	return out
}
