package desk

import (
	"context"
	"fmt"
	"slices"
	"time"

	"ribdesk/internal/drawing"
	"ribdesk/internal/fault"
	"ribdesk/internal/load"
	"ribdesk/internal/measure"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
	"ribdesk/internal/store"
)

// TripFile is a trip with what is on it and what the rules say of it.
type TripFile struct {
	Trip     order.Trip
	Vehicle  stock.Vehicle
	Orders   map[int64]order.Order
	Bundles  []order.Bundle
	Photos   []order.Photo // without their bytes
	Load     load.Plan     // zero for a pick-up
	Assessed bool
	Lifting  []HandLift     // pieces that are more than one person's lift
	Limit    load.LiftLimit // that they were held to
	Roads    Roads

	FormsThere bool // some of it is formed on the site: the machine goes along

	metals map[string]drawing.Fill // of the bundles, by code
}

// On gives the bundles of one order that are on the trip.
func (f *TripFile) On(orderID int64) (out []order.Bundle) {
	for _, b := range f.Bundles {
		if b.OrderID == orderID {
			out = append(out, b)
		}
	}
	return out
}

// Pounds is what the load weighs, whole pounds, up.
func (f *TripFile) Pounds() int { return UpPounds(f.Load.Lb) }

// NeedWLL is the least working load limit of the tie-downs, whole pounds, up.
func (f *TripFile) NeedWLL() int { return UpPounds(f.Load.NeedWLL) }

// HaveWLL is what the vehicle's tie-downs count for, whole pounds, down.
func (f *TripFile) HaveWLL() int { return int(f.Load.HaveWLL) }

// Deference stands under what is counted.
func (*TripFile) Deference() string { return load.Deference }

// Unpicked counts the bundles that aren't checked off yet.
func (f *TripFile) Unpicked() (n int) {
	for _, b := range f.Bundles {
		if !b.Checked {
			n++
		}
	}
	return n
}

// usualDeparture is when a trip leaves unless somebody says otherwise.
const usualDeparture = 8 * 60

// BuildTrip makes a load of cut orders for a vehicle and a day. Of an order that
// has bundles among only, just those go, as a part delivery; of the others all
// that stand in the shop. An order that is formed on its site goes without
// bundles. Nothing has left yet: the load can be changed until LoadTrip.
func (d *Desk) BuildTrip(ctx context.Context, actor party.Actor, t order.Trip, orderIDs []int64, only ...int64) (out order.Trip, err error) {
	if err := allow(actor, party.Owner, party.Counter, party.Driver); err != nil {
		return t, err
	}
	var l fault.List
	if t.Day.IsZero() {
		l.Addf("day", "give the day")
	}
	if len(orderIDs) == 0 {
		l.Addf("orders", "choose at least one order that is cut")
	}
	if len([]rune(t.Driver)) > 80 {
		l.Addf("driver", "use at most 80 characters")
	}
	if t.Departs == 0 {
		t.Departs = usualDeparture
	}
	if err := l.Err(); err != nil {
		return t, err
	}
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		if _, err := store.FromShelf[stock.Vehicle](tx, t.Vehicle); err != nil {
			return fault.Invalidf("vehicle", "choose a vehicle")
		}
		out, err = makeTrip(tx, actor, t, orderIDs, only)
		return err
	})
	return out, err
}

func makeTrip(tx *store.Tx, actor party.Actor, t order.Trip, orderIDs, only []int64) (order.Trip, error) {
	number, err := loadNumbers.take(tx)
	if err != nil {
		return t, err
	}
	t.ID, t.Version, t.Number, t.State = 0, 0, number, order.Building
	t.Stops = nil
	var bundles []order.Bundle
	for _, id := range orderIDs {
		these, err := forTrip(tx, t, id, only)
		if err != nil {
			return t, err
		}
		t.Stops = append(t.Stops, order.Stop{OrderID: id})
		bundles = append(bundles, these...)
	}
	if t, err = tx.SaveLoad(actor, t, "built"); err != nil {
		return t, err
	}
	for _, b := range bundles {
		b.LoadID = t.ID
		if err := tx.SaveBundle(b); err != nil {
			return t, err
		}
	}
	return t, nil
}

// forTrip gives the bundles of an order that a trip takes, or says why the order
// can't go.
func forTrip(tx *store.Tx, t order.Trip, orderID int64, only []int64) ([]order.Bundle, error) {
	o, err := tx.Order(orderID)
	if err != nil {
		return nil, err
	}
	for _, s := range t.Stops {
		if s.OrderID == orderID {
			return nil, fault.Invalidf("orders", "name each order of the load once")
		}
	}
	if formsOnSite(o) {
		return nil, noOtherTrip(tx, o)
	}
	if o.State != order.Cut {
		return nil, fault.Conflictf("order %s is %s; only what is cut can be loaded", o.Number, o.State)
	}
	all, err := tx.BundlesOf(orderID)
	if err != nil {
		return nil, err
	}
	free := inShop(all)
	if part := chosen(free, only); len(part) > 0 {
		free = part
	}
	if len(free) == 0 {
		return nil, fault.Conflictf("every bundle of order %s is on a load", o.Number)
	}
	return free, nil
}

// formsOnSite reports whether an order is still to be formed on its site: the
// machine goes there instead of bundles.
func formsOnSite(o order.Order) bool {
	return o.Fulfil == order.OnSite && (o.State == order.Accepted || o.State == order.Planned)
}

func noOtherTrip(tx *store.Tx, o order.Order) error {
	stops, err := tx.StopsOf(o.ID)
	if err == nil && len(stops) > 0 {
		err = fault.Conflictf("order %s is on a load already", o.Number)
	}
	return err
}

func inShop(bundles []order.Bundle) (free []order.Bundle) {
	for _, b := range bundles {
		if b.LoadID == 0 {
			free = append(free, b)
		}
	}
	return free
}

func chosen(bundles []order.Bundle, only []int64) (out []order.Bundle) {
	for _, b := range bundles {
		if slices.Contains(only, b.ID) {
			out = append(out, b)
		}
	}
	return out
}

// ArrangeTrip puts a building trip's stops in another order, with when it
// departs and when each stop is open; stops name their order and times. With
// best they are put in the order that drives least within the times.
func (d *Desk) ArrangeTrip(ctx context.Context, actor party.Actor, tripID, seen int64, departs int, stops []order.Stop, best bool) (t order.Trip, err error) {
	if err := allow(actor, party.Owner, party.Counter, party.Driver); err != nil {
		return t, err
	}
	if err := checkTimes(departs, stops); err != nil {
		return t, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return t, err
	}
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		var f TripFile
		if err := f.read(tx, s, tripID); err != nil {
			return err
		}
		if f.Trip.State != order.Building {
			return fault.Conflictf("load %s is %s; its stops stay as they are", f.Trip.Number, f.Trip.State)
		}
		if f.Trip.Stops, err = rearranged(f.Trip.Stops, stops); err != nil {
			return err
		}
		f.Trip.Departs, f.Trip.Version = departs, seen
		if best {
			if err := f.bestOrder(tx, s); err != nil {
				return err
			}
		}
		t, err = tx.SaveLoad(actor, f.Trip, "ordered stops")
		return err
	})
	return t, err
}

func checkTimes(departs int, stops []order.Stop) error {
	var l fault.List
	const day = 24 * 60
	if departs < 0 || departs >= day {
		l.Addf("departs", "give a time of the day")
	}
	for i, s := range stops {
		if s.Opens < 0 || s.Opens >= day || s.Closes < 0 || s.Closes >= day || (s.Closes != 0 && s.Closes < s.Opens) {
			l.Addf(fmt.Sprintf("closes.%d", i), "the stop must close after it opens")
		}
	}
	return l.Err()
}

// rearranged takes a trip's stops in the order and with the times of others,
// which must name each order of the trip once.
func rearranged(have, wanted []order.Stop) ([]order.Stop, error) {
	byOrder := map[int64]order.Stop{}
	for _, s := range have {
		byOrder[s.OrderID] = s
	}
	var stops []order.Stop
	for _, w := range wanted {
		s, ok := byOrder[w.OrderID]
		if !ok {
			return nil, fault.Invalidf("orders", "name each order of the load once")
		}
		delete(byOrder, w.OrderID)
		s.Opens, s.Closes = w.Opens, w.Closes
		stops = append(stops, s)
	}
	if len(byOrder) > 0 {
		return nil, fault.Invalidf("orders", "name each order of the load once")
	}
	return stops, nil
}

// DropTrip gives a building trip up; its orders stand in the shop again.
func (d *Desk) DropTrip(ctx context.Context, actor party.Actor, tripID int64) error {
	if err := allow(actor, party.Owner, party.Counter, party.Driver); err != nil {
		return err
	}
	return d.store.Write(ctx, func(tx *store.Tx) error {
		t, err := tx.Load(tripID)
		if err != nil {
			return err
		}
		if t.State != order.Building {
			return fault.Conflictf("load %s is %s already", t.Number, t.State)
		}
		bundles, err := tx.BundlesOn(t.ID)
		if err != nil {
			return err
		}
		for _, b := range bundles {
			b.LoadID = 0
			if err := tx.SaveBundle(b); err != nil {
				return err
			}
		}
		t.Stops, t.State = nil, order.Done
		_, err = tx.SaveLoad(actor, t, "dropped")
		return err
	})
}

// Trips gives the trips from a day on.
func (d *Desk) Trips(ctx context.Context, from time.Time) (list []order.Trip, err error) {
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		list, err = tx.Loads(from)
		return err
	})
	return list, err
}

// TripFile gives one trip with its load as it lies.
func (d *Desk) TripFile(ctx context.Context, actor party.Actor, id int64) (f TripFile, err error) {
	if !actor.Role.Staff() {
		return f, fault.NotFoundf("there is no such load")
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return f, err
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error { return f.read(tx, s, id) })
	return f, err
}

func (f *TripFile) read(tx *store.Tx, s *snapshot, id int64) (err error) {
	if f.Trip, err = tx.Load(id); err != nil {
		return err
	}
	f.Orders = map[int64]order.Order{}
	var stops []int64
	for _, stop := range f.Trip.Stops {
		if f.Orders[stop.OrderID], err = tx.Order(stop.OrderID); err != nil {
			return err
		}
		stops = append(stops, stop.ID)
	}
	if f.Bundles, err = tx.BundlesOn(id); err != nil {
		return err
	}
	if f.Photos, err = tx.PhotosOf(stops...); err != nil {
		return err
	}
	f.lookAt(s)
	v, ok := s.vehicles[f.Trip.Vehicle]
	if !ok {
		return nil // a pick-up: the customer's own vehicle
	}
	f.Vehicle = v
	if f.Load, err = load.Lay(loadVehicle(v), f.onDeck(), s.jurisdiction()); err != nil {
		return err
	}
	f.Assessed = true
	return f.drive(tx, s)
}

func loadVehicle(v stock.Vehicle) load.Vehicle {
	support := func(name string, at measure.Length, empty, most int) load.Support {
		return load.Support{Name: name, At: at, EmptyLb: float64(empty), LimitLb: float64(empty + most)}
	}
	return load.Vehicle{
		Name: v.Name, Deck: v.Deck, Breadth: v.Width, DeckHeight: v.DeckHeight, Nose: v.Nose, PayloadLb: float64(v.Payload), Blocked: v.Blocked,
		Front:      support("front axle or hitch", v.FrontAxle, v.FrontEmpty, v.FrontMax),
		Rear:       support("rear axle", v.RearAxle, v.RearEmpty, v.RearMax),
		HitchLeast: v.HitchLeast.Float(), HitchMost: v.HitchMost.Float(), MaxStack: v.MaxStack, MaxRear: v.MaxRear,
		TieDowns: []load.TieDown{{Name: "strap", Count: v.Straps, WLL: float64(v.StrapWLL), Arrangement: load.OverTop}},
	}
}

// jurisdiction is where the shop hauls: its own state's rules where they are
// known, over the federal ones.
func (s *snapshot) jurisdiction() load.Jurisdiction {
	if j, err := load.JurisdictionOf("US-" + s.seller.Address.State); err == nil {
		return j
	}
	j, err := load.JurisdictionOf("US")
	if err != nil {
		return load.Jurisdictions()[0]
	}
	return j
}

func (f *TripFile) onDeck() []load.Bundle {
	seq := map[int64]int{}
	for i, s := range f.Trip.Stops {
		seq[s.OrderID] = i + 1
	}
	out := make([]load.Bundle, len(f.Bundles))
	for i, b := range f.Bundles {
		out[i] = load.Bundle{
			No: b.No, Of: b.Of, Stop: seq[b.OrderID], Customer: f.Orders[b.OrderID].Customer, Orders: []string{f.Orders[b.OrderID].Number}, Kind: b.Code,
			Pieces: b.Pieces, Longest: b.Longest, Width: b.Width, Height: b.Height, Lb: b.Pounds.Float(), Balance: b.Balance,
		}
	}
	return out
}

// Drawing shows the load on its deck.
func (f *TripFile) Drawing() *drawing.Load {
	v := &drawing.Load{
		ID: "load-" + f.Trip.Number, Title: "Load " + f.Trip.Number + " on " + f.Vehicle.Name, Deck: f.Vehicle.Deck, Breadth: f.Vehicle.Width,
		DeckLabel: f.Vehicle.Name + ", deck " + f.Vehicle.Deck.Pretty(), Blocked: f.Vehicle.Blocked, Centre: f.Load.Center[0], FlagWord: "flag",
		Axles: []measure.Length{f.Vehicle.FrontAxle, f.Vehicle.RearAxle},
		Desc: fmt.Sprintf("%d bundles, %d lb, held by at least %d tie-downs; weight centre %s behind the deck's front.",
			len(f.Load.Placed), UpPounds(f.Load.Lb), f.Load.TieDowns, f.Load.Center[0].Pretty()),
	}
	for _, g := range f.Load.Groups {
		v.TieDowns = append(v.TieDowns, g.At...)
	}
	var left, right measure.Length
	for _, p := range f.Load.Placed {
		v.Bundles = append(v.Bundles, drawing.LoadBundle{
			Label: p.Kind, X: p.X, Y: p.Y, Z: p.Z, Length: p.Longest, Breadth: p.Width, Height: p.Height, Metal: f.metals[p.Kind],
		})
		left, right = max(left, -p.Y), max(right, p.Y+p.Width-f.Vehicle.Width)
	}
	flagged := f.Load.Flags.Count > 0
	v.Rear, v.Left, v.Right = overhang(f.Load.Projection.Rear, flagged), overhang(left, flagged), overhang(right, flagged)
	return v
}

func overhang(reach measure.Length, flagged bool) drawing.Overhang {
	if reach <= 0 {
		return drawing.Overhang{}
	}
	return drawing.Overhang{Reach: reach, Label: reach.Pretty(), Flagged: flagged}
}
