package desk

import (
	"context"
	"slices"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
	"ribdesk/internal/store"
)

// Waiting is an order of which something stands in the shop, or is still to be
// formed on its site.
type Waiting struct {
	Order   order.Order
	Bundles []order.Bundle // those in the shop
	Of      int            // of so many
}

// Part reports whether some of the order has left already.
func (w Waiting) Part() bool { return len(w.Bundles) < w.Of }

// Pounds is the weight that stands in the shop, whole pounds.
func (w Waiting) Pounds() int { return sumPounds(w.Bundles) }

// Longest is its longest piece.
func (w Waiting) Longest() string {
	longest := w.Order.Longest()
	if len(w.Bundles) > 0 {
		longest = 0
	}
	for _, b := range w.Bundles {
		longest = max(longest, b.Longest)
	}
	return longest.Pretty()
}

// Board is the Loads sheet: what waits and which trips there are.
type Board struct {
	ToHaul   []Waiting // by day promised, then city
	ToFetch  []Waiting // customers come for it
	Trips    []order.Trip
	Vehicles []stock.Vehicle
	Drivers  []party.Person
	Orders   map[int64]order.Order // of the trips' stops
	Pounds   map[int64]int         // of each trip
}

// tripsLookBack is how far back the Loads sheet goes.
const tripsLookBack = 7

// Board gives the Loads sheet, to staff.
func (d *Desk) Board(ctx context.Context, actor party.Actor) (b Board, err error) {
	if !actor.Role.Staff() {
		return b, fault.Deniedf("your role doesn't include this")
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return b, err
	}
	b.Vehicles = byCode(s.vehicles)
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		if err := b.readWaiting(tx); err != nil {
			return err
		}
		if b.Drivers, err = drivers(tx); err != nil {
			return err
		}
		return b.readTrips(tx, dayStart(d.now(), s.seller.Location()).AddDate(0, 0, -tripsLookBack))
	})
	return b, err
}

func (b *Board) readWaiting(tx *store.Tx) error {
	list, err := tx.Orders(store.OrderFilter{States: []order.State{order.Accepted, order.Planned, order.Cut}, Lines: true, Oldest: true, Limit: maxOpenOrders})
	if err != nil {
		return err
	}
	for _, o := range list {
		if o.State != order.Cut && !formsOnSite(o) {
			continue
		}
		all, err := tx.BundlesOf(o.ID)
		if err != nil {
			return err
		}
		w := Waiting{o, inShop(all), len(all)}
		switch {
		case formsOnSite(o):
			stops, err := tx.StopsOf(o.ID)
			if err != nil {
				return err
			}
			if len(stops) == 0 {
				b.ToHaul = append(b.ToHaul, w)
			}
		case len(w.Bundles) == 0:
		case o.Fulfil == order.PickUp:
			b.ToFetch = append(b.ToFetch, w)
		default:
			b.ToHaul = append(b.ToHaul, w)
		}
	}
	slices.SortStableFunc(b.ToHaul, func(x, y Waiting) int { return x.Order.Promise.Compare(y.Order.Promise) })
	return nil
}

func (b *Board) readTrips(tx *store.Tx, from time.Time) (err error) {
	if b.Trips, err = tx.Loads(from); err != nil {
		return err
	}
	b.Trips = slices.DeleteFunc(b.Trips, func(t order.Trip) bool { return t.Vehicle == "" || t.Dropped() })
	b.Orders, b.Pounds = map[int64]order.Order{}, map[int64]int{}
	for _, t := range b.Trips {
		for _, s := range t.Stops {
			if b.Orders[s.OrderID], err = tx.Order(s.OrderID); err != nil {
				return err
			}
		}
		bundles, err := tx.BundlesOn(t.ID)
		if err != nil {
			return err
		}
		b.Pounds[t.ID] = sumPounds(bundles)
	}
	return nil
}

func drivers(tx *store.Tx) ([]party.Person, error) {
	people, err := tx.People()
	return slices.DeleteFunc(people, func(p party.Person) bool { return p.Disabled || p.Role != party.Driver && p.Role != party.Owner }), err
}

// DriveStop is one stop of the driver's day.
type DriveStop struct {
	Trip    order.Trip
	Stop    order.Stop
	Order   order.Order
	Bundles []order.Bundle
	No, Of  int
	File    *TripFile // what the load needs on the road
}

// Day is a driver's day: the stops of loads on the road, and loads not loaded yet.
type Day struct {
	Stops  []DriveStop // handed over or not, in the order of driving
	Unsent []order.Trip
}

// Next gives the first stop that isn't handed over, nil when all are.
func (d Day) Next() *DriveStop {
	for i := range d.Stops {
		if d.Stops[i].Stop.SignedAt.IsZero() {
			return &d.Stops[i]
		}
	}
	return nil
}

// Day gives what the actor drives.
func (d *Desk) Day(ctx context.Context, actor party.Actor) (day Day, err error) {
	if err := allow(actor, party.Owner, party.Driver); err != nil {
		return day, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return day, err
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		trips, err := tx.LoadsOfDriver(actor.PersonID)
		if err != nil {
			return err
		}
		for _, t := range trips {
			if t.State == order.Building {
				day.Unsent = append(day.Unsent, t)
				continue
			}
			f := &TripFile{}
			if err := f.read(tx, s, t.ID); err != nil {
				return err
			}
			for i, stop := range f.Trip.Stops {
				day.Stops = append(day.Stops, DriveStop{f.Trip, stop, f.Orders[stop.OrderID], f.On(stop.OrderID), i + 1, len(f.Trip.Stops), f})
			}
		}
		return nil
	})
	return day, err
}

// DriveStop gives one stop of a trip that the actor drives.
func (d *Desk) DriveStop(ctx context.Context, actor party.Actor, stopID int64) (DriveStop, error) {
	day, err := d.Day(ctx, actor)
	if err != nil {
		return DriveStop{}, err
	}
	for _, s := range day.Stops {
		if s.Stop.ID == stopID {
			return s, nil
		}
	}
	return DriveStop{}, fault.NotFoundf("there is no such stop on your loads; it may have been handed over")
}
