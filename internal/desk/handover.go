package desk

import (
	"context"
	"fmt"
	"slices"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
)

// HandOver is a stop as the driver's phone sends it. Key makes the same stop
// sent again count once.
type HandOver struct {
	Key        string
	StopID     int64
	Receiver   string
	Signature  []byte // PNG
	Unattended string // who allowed leaving it, instead of a receiver
	At         time.Time
	Ticked     []int64 // bundles that were handed over; nil is all of them
	Exceptions []order.Exception
}

func (h HandOver) check() error {
	var l fault.List
	if h.Receiver == "" && h.Unattended == "" {
		l.Addf("receiver", "print the receiver's name, or say who allowed leaving it")
	}
	if len(h.Key) > 80 {
		l.Addf("key", "the key is too long")
	}
	switch {
	case len(h.Signature) > 200<<10:
		l.Addf("signature", "the signature's picture is too large; draw it again")
	case len(h.Signature) > 0 && kindOfPicture(h.Signature) != pngKind:
		l.Addf("signature", "the signature isn't a picture; draw it again, or leave it to the printed name")
	}
	if len(h.Exceptions) > mostExceptions {
		l.Addf("exceptions", "give at most %d exceptions", mostExceptions)
	}
	if len([]rune(h.Receiver)) > 80 || len([]rune(h.Unattended)) > 80 {
		l.Addf("receiver", "use at most 80 characters")
	}
	for i, e := range h.Exceptions {
		switch e.Kind {
		case "short", "damaged", "refused", "wrong", "over":
		default:
			l.Addf(fmt.Sprintf("exceptions.%d.kind", i), "choose short, damaged, refused, wrong or over")
		}
		if e.Pieces < 1 || e.Pieces > order.MaxPieces {
			l.Addf(fmt.Sprintf("exceptions.%d.pieces", i), "say how many pieces")
		}
		if len([]rune(e.Note)) > 300 {
			l.Addf(fmt.Sprintf("exceptions.%d.note", i), "use at most 300 characters")
		}
	}
	return l.Err()
}

// mostExceptions bounds what one stop can say is wrong.
const mostExceptions = 50

// Deliver books a stop: receiver, signature, exceptions. The signed ticket is
// issued as a revision of its own, and the order is delivered when all its
// bundles are.
func (d *Desk) Deliver(ctx context.Context, actor party.Actor, h HandOver) (o order.Order, err error) {
	if err := allow(actor, party.Owner, party.Counter, party.Driver); err != nil {
		return o, err
	}
	if err := h.check(); err != nil {
		return o, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return o, err
	}
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		o, err = d.handOver(tx, actor, s, h)
		return err
	})
	return o, err
}

func (d *Desk) handOver(tx *store.Tx, actor party.Actor, s *snapshot, h HandOver) (order.Order, error) {
	stop, err := tx.Stop(h.StopID)
	if err != nil {
		return order.Order{}, err
	}
	if !stop.SignedAt.IsZero() {
		if stop.Key != "" && stop.Key == h.Key {
			return tx.Order(stop.OrderID)
		}
		return order.Order{}, fault.Conflictf("this stop was handed over already, to %s", stop.Receiver+stop.Unattended)
	}
	var f TripFile
	if err := f.read(tx, s, stop.LoadID); err != nil {
		return order.Order{}, err
	}
	if f.Trip.State != order.OnRoad {
		return order.Order{}, fault.Conflictf("load %s is %s; say that it is loaded and leaves first", f.Trip.Number, f.Trip.State)
	}
	o := f.Orders[stop.OrderID]
	found, err := h.exceptions(f.On(o.ID))
	if err != nil {
		return o, err
	}
	stop.Key, stop.Receiver, stop.Signature, stop.Unattended = h.Key, h.Receiver, h.Signature, h.Unattended
	stop.Exceptions = append(stop.Exceptions, found...)
	stop.SignedAt = tx.Now()
	if !h.At.IsZero() && h.At.Before(tx.Now()) && tx.Now().Sub(h.At) < 7*24*time.Hour {
		stop.SignedAt = h.At // the phone was without signal; its time counts
	}
	customer, err := customerOf(tx, o)
	if err != nil {
		return o, err
	}
	paper, err := d.issue(tx, actor, o, customer, s.deliveryTicket(&f, stop, o, customer, d.now()))
	if err != nil {
		return o, err
	}
	stop.PaperID = paper.ID
	if err := tx.SaveStop(actor, stop, "delivered"); err != nil {
		return o, err
	}
	if err := d.tellDelivered(tx, s, o, customer, stop); err != nil {
		return o, err
	}
	if err := d.settle(tx, actor, &o); err != nil {
		return o, err
	}
	return o, endTrip(tx, actor, stop.LoadID)
}

// exceptions gives what was wrong at the stop: what was said, and each bundle
// that was neither ticked nor spoken of, as short.
func (h HandOver) exceptions(bundles []order.Bundle) ([]order.Exception, error) {
	for i, e := range h.Exceptions {
		if e.BundleID != 0 && !slices.ContainsFunc(bundles, func(b order.Bundle) bool { return b.ID == e.BundleID }) {
			return nil, fault.Invalidf(fmt.Sprintf("exceptions.%d.bundle", i), "choose a bundle of this stop")
		}
	}
	out := slices.Clone(h.Exceptions)
	for _, b := range bundles {
		spoken := slices.ContainsFunc(h.Exceptions, func(e order.Exception) bool { return e.BundleID == b.ID })
		if h.Ticked != nil && !slices.Contains(h.Ticked, b.ID) && !spoken && b.Pieces > 0 {
			out = append(out, order.Exception{BundleID: b.ID, Kind: "short", Pieces: b.Pieces, Note: "not ticked off at the stop"})
		}
	}
	return out, nil
}

// settle makes an order delivered when everything of it is handed over: each
// bundle by the stop of its trip; or, formed on site, when it is cut and its
// stops are signed. One without charge, such as a remake, is closed with it:
// nothing is to be invoiced or paid.
func (d *Desk) settle(tx *store.Tx, actor party.Actor, o *order.Order) error {
	if o.State != order.Cut && o.State != order.Loaded {
		return nil
	}
	stops, err := tx.StopsOf(o.ID)
	if err != nil {
		return err
	}
	bundles, err := tx.BundlesOf(o.ID)
	if err != nil {
		return err
	}
	unsigned := func(s order.Stop) bool { return s.SignedAt.IsZero() }
	here := len(inShop(bundles))
	formedThere := o.Fulfil == order.OnSite && here == len(bundles)
	if len(stops) == 0 || slices.ContainsFunc(stops, unsigned) || (here > 0 && !formedThere) {
		return nil
	}
	for _, step := range []order.Step{order.Load, order.Deliver} {
		if !o.State.Allows(step) {
			continue
		}
		if err := o.Apply(step); err != nil {
			return err
		}
		saved, err := tx.SaveOrder(actor, *o, string(o.State))
		if err != nil {
			return err
		}
		*o = saved
	}
	if !free(*o) {
		return nil
	}
	if err := d.closeIfPaid(tx, actor, o.ID); err != nil {
		return err
	}
	*o, err = tx.Order(o.ID)
	return err
}

// endTrip ends a trip when its last stop is handed over.
func endTrip(tx *store.Tx, actor party.Actor, tripID int64) error {
	t, err := tx.Load(tripID)
	if err != nil {
		return err
	}
	for _, s := range t.Stops {
		if s.SignedAt.IsZero() {
			return nil
		}
	}
	t.State = order.Done
	_, err = tx.SaveLoad(actor, t, "ended")
	return err
}

// PickUp hands a cut order over to its customer at the shop: a trip without a
// vehicle, with the same ticket and signature.
func (d *Desk) PickUp(ctx context.Context, actor party.Actor, orderID int64, h HandOver) (o order.Order, err error) {
	if err := allow(actor, party.Owner, party.Counter); err != nil {
		return o, err
	}
	if err := h.check(); err != nil {
		return o, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return o, err
	}
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		t, err := makeTrip(tx, actor, order.Trip{Day: dayStart(d.now(), s.seller.Location()), Driver: "customer", Departs: usualDeparture}, []int64{orderID}, nil)
		if err != nil {
			return err
		}
		var f TripFile
		if err := f.read(tx, s, t.ID); err != nil {
			return err
		}
		f.Trip.State = order.OnRoad
		if err := d.ticketStops(tx, actor, s, &f); err != nil {
			return err
		}
		if t, err = tx.SaveLoad(actor, f.Trip, "picked up"); err != nil {
			return err
		}
		h.StopID = t.Stops[0].ID
		o, err = d.handOver(tx, actor, s, h)
		return err
	})
	return o, err
}
