package desk

import (
	"context"
	"fmt"
	"time"

	"ribdesk/internal/document"
	"ribdesk/internal/drawing"
	"ribdesk/internal/fault"
	"ribdesk/internal/load"
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
	Load     load.Plan // zero for a pick-up
	Assessed bool
}

// BuildTrip makes a load of cut orders for a vehicle and a day. Nothing has
// left yet: the load can be changed until LoadTrip.
func (d *Desk) BuildTrip(ctx context.Context, actor party.Actor, t order.Trip, orderIDs []int64) (out order.Trip, err error) {
	if err := allow(actor, party.Owner, party.Counter, party.Driver); err != nil {
		return t, err
	}
	if t.Day.IsZero() {
		return t, fault.Invalidf("day", "give the day")
	}
	if len(orderIDs) == 0 {
		return t, fault.Invalidf("orders", "choose at least one order that is cut")
	}
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		if _, err := store.FromShelf[stock.Vehicle](tx, t.Vehicle); err != nil {
			return fault.Invalidf("vehicle", "choose a vehicle")
		}
		out, err = makeTrip(tx, actor, t, orderIDs)
		return err
	})
	return out, err
}

func makeTrip(tx *store.Tx, actor party.Actor, t order.Trip, orderIDs []int64) (order.Trip, error) {
	n, err := tx.NextNumber("load")
	if err != nil {
		return t, err
	}
	t.ID, t.Version, t.Number, t.State = 0, 0, fmt.Sprintf("L%d", 100+n), order.Building
	t.Stops = nil
	for _, id := range orderIDs {
		o, err := tx.Order(id)
		if err != nil {
			return t, err
		}
		if o.State != order.Cut {
			return t, fault.Conflictf("order %s is %s; only what is cut can be loaded", o.Number, o.State)
		}
		t.Stops = append(t.Stops, order.Stop{OrderID: id})
	}
	if t, err = tx.SaveLoad(actor, t, "built"); err != nil {
		return t, err
	}
	for _, s := range t.Stops {
		bundles, err := tx.BundlesOf(s.OrderID)
		if err != nil {
			return t, err
		}
		for _, b := range bundles {
			if b.LoadID != 0 {
				return t, fault.Conflictf("bundle %s is on another load", b.Code)
			}
			b.LoadID = t.ID
			if err := tx.SaveBundle(b); err != nil {
				return t, err
			}
		}
	}
	return t, nil
}

// OrderStops puts a building trip's stops in another order, by their orders' ids.
func (d *Desk) OrderStops(ctx context.Context, actor party.Actor, tripID, seen int64, orderIDs []int64) (t order.Trip, err error) {
	if err := allow(actor, party.Owner, party.Counter, party.Driver); err != nil {
		return t, err
	}
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		if t, err = tx.Load(tripID); err != nil {
			return err
		}
		if t.State != order.Building {
			return fault.Conflictf("load %s is %s; its stops stay as they are", t.Number, t.State)
		}
		byOrder := map[int64]order.Stop{}
		for _, s := range t.Stops {
			byOrder[s.OrderID] = s
		}
		var stops []order.Stop
		for _, id := range orderIDs {
			s, ok := byOrder[id]
			if !ok {
				return fault.Invalidf("orders", "name each order of the load once")
			}
			delete(byOrder, id)
			stops = append(stops, s)
		}
		if len(byOrder) > 0 {
			return fault.Invalidf("orders", "name each order of the load once")
		}
		t.Stops, t.Version = stops, seen
		t, err = tx.SaveLoad(actor, t, "ordered stops")
		return err
	})
	return t, err
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
	for _, stop := range f.Trip.Stops {
		if f.Orders[stop.OrderID], err = tx.Order(stop.OrderID); err != nil {
			return err
		}
	}
	if f.Bundles, err = tx.BundlesOn(id); err != nil {
		return err
	}
	v, ok := s.vehicles[f.Trip.Vehicle]
	if !ok {
		return nil // a pick-up: the customer's own vehicle
	}
	f.Vehicle = v
	if f.Load, err = load.Lay(loadVehicle(v), f.onDeck(), s.jurisdiction()); err != nil {
		return err
	}
	f.Assessed = true
	return nil
}

func loadVehicle(v stock.Vehicle) load.Vehicle {
	return load.Vehicle{
		Name: v.Name, Deck: v.Deck, Breadth: v.Width, PayloadLb: float64(v.Payload), Blocked: v.Blocked,
		Front:    load.Support{Name: "front axle or hitch", At: v.FrontAxle, LimitLb: float64(v.FrontMax)},
		Rear:     load.Support{Name: "rear axle", At: v.RearAxle, LimitLb: float64(v.RearMax)},
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

// LoadTrip says that the load is on the vehicle: its orders are loaded, and each
// stop gets its delivery ticket. A load that a rule refuses doesn't leave,
// unless the owner takes it on himself with a reason.
func (d *Desk) LoadTrip(ctx context.Context, actor party.Actor, tripID, seen int64, despite string) (t order.Trip, err error) {
	if err := allow(actor, party.Owner, party.Counter, party.Driver); err != nil {
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
			return fault.Conflictf("load %s is %s already", f.Trip.Number, f.Trip.State)
		}
		if err := mayLeave(actor, f, despite); err != nil {
			return err
		}
		f.Trip.State, f.Trip.Version = order.OnRoad, seen
		if err := d.ticketStops(tx, actor, s, &f); err != nil {
			return err
		}
		t, err = tx.SaveLoad(actor, f.Trip, "loaded")
		if err == nil && despite != "" {
			err = tx.Log(actor, "loaded despite", "load", t.ID, map[string]string{"reason": despite})
		}
		return err
	})
	return t, err
}

func mayLeave(actor party.Actor, f TripFile, despite string) error {
	for _, b := range f.Bundles {
		if !b.Checked {
			return fault.Conflictf("bundle %s isn't checked off the pick ticket yet", b.Code)
		}
	}
	if load.Worst(f.Load.Verdicts) != load.Refuse {
		return nil
	}
	if despite != "" && actor.Role == party.Owner {
		return nil
	}
	for _, v := range f.Load.Verdicts {
		if v.Severity == load.Refuse {
			return fault.Conflictf("%s (%s)", v.Sentence, v.Rule.Citation)
		}
	}
	return nil
}

func (d *Desk) ticketStops(tx *store.Tx, actor party.Actor, s *snapshot, f *TripFile) error {
	for i := range f.Trip.Stops {
		stop := &f.Trip.Stops[i]
		o := f.Orders[stop.OrderID]
		if err := o.Apply(order.Load); err != nil {
			return err
		}
		o, err := tx.SaveOrder(actor, o, string(o.State))
		if err != nil {
			return err
		}
		f.Orders[stop.OrderID] = o
		if err := d.ticketStop(tx, actor, s, f, stop); err != nil {
			return err
		}
	}
	return nil
}

func (d *Desk) ticketStop(tx *store.Tx, actor party.Actor, s *snapshot, f *TripFile, stop *order.Stop) error {
	o := f.Orders[stop.OrderID]
	n, err := tx.NextNumber("ticket")
	if err != nil {
		return err
	}
	stop.Ticket = fmt.Sprintf("T%d", 1000+n)
	customer, err := customerOf(tx, o)
	if err != nil {
		return err
	}
	paper, err := d.issue(tx, actor, o, customer, s.deliveryTicket(f, *stop, o, customer, d.now()))
	stop.PaperID = paper.ID
	return err
}

// deliveryTicket is the ticket of one stop; signed when the stop is.
func (s *snapshot) deliveryTicket(f *TripFile, stop order.Stop, o order.Order, c party.Customer, now time.Time) *document.DeliveryTicket {
	t := &document.DeliveryTicket{
		Head: s.head(o, c, now, f.Trip.Driver), Order: o.Number, Driver: f.Trip.Driver, Vehicle: f.Vehicle.Name,
		Origin: document.Place{Name: s.seller.Legal, Address: s.seller.Address, Phone: s.seller.Phone}, Unloading: o.SiteNotes,
	}
	t.Number, t.Code, t.Revision = stop.Ticket, stop.Ticket, 1
	if t.Unloading == "" {
		t.Unloading = "Customer unloads, with enough hands or a machine; the driver stands clear."
	}
	if o.Fulfil == order.PickUp || f.Vehicle.Code == "" {
		t.Driver, t.Vehicle = "customer", "customer's own"
	}
	for _, b := range f.Bundles {
		if b.OrderID != o.ID {
			continue
		}
		t.Packages++
		t.Freight = append(t.Freight, document.Freight{
			Bundle: fmt.Sprintf("%d of %d", b.No, b.Of), Order: o.Number, Description: describe(b), Pieces: b.Pieces, Longest: b.Longest,
			Pounds: pounds(b.Pounds), Loaded: true, Delivered: !stop.SignedAt.IsZero(),
		})
		t.Pounds += pounds(b.Pounds)
		t.Longest = max(t.Longest, b.Longest)
	}
	t.TieDowns, _ = load.TieDowns(t.Longest, float64(t.Pounds), f.Vehicle.Blocked)
	t.WLLPounds = int(load.RequiredWLL(float64(t.Pounds)) + 0.5)
	if f.Assessed {
		t.TieDowns, t.WLLPounds = f.Load.TieDowns, int(f.Load.NeedWLL+0.5)
		t.Overhang, t.Flags = f.Load.Projection.Rear, f.Load.Flags.Count
		t.Load = f.Drawing()
	}
	if !stop.SignedAt.IsZero() {
		t.Revision = 2
		t.Signed = &document.Signed{Name: stop.Receiver, At: s.local(stop.SignedAt), Unattended: stop.Unattended}
		for _, e := range stop.Exceptions {
			t.Signed.Exceptions = append(t.Signed.Exceptions, document.Exception{Bundle: bundleName(f.Bundles, e.BundleID), What: fmt.Sprintf("%s %d %s", e.Kind, e.Pieces, e.Note)})
		}
	}
	return t
}

func bundleName(bundles []order.Bundle, id int64) string {
	for _, b := range bundles {
		if b.ID == id {
			return fmt.Sprintf("%d of %d", b.No, b.Of)
		}
	}
	return ""
}

func describe(b order.Bundle) string {
	if len(b.Items) == 0 {
		return ""
	}
	text := b.Items[0].Name
	for _, it := range b.Items[1:] {
		if it.Name != b.Items[0].Name {
			return text + " and others"
		}
	}
	return text
}

// Drawing shows the load on its deck.
func (f *TripFile) Drawing() *drawing.Load {
	v := &drawing.Load{
		ID: "load-" + f.Trip.Number, Title: "Load " + f.Trip.Number, Deck: f.Vehicle.Deck, Breadth: f.Vehicle.Width, DeckLabel: f.Vehicle.Name,
		Blocked: f.Vehicle.Blocked, Centre: f.Load.Center[0],
	}
	for _, g := range f.Load.Groups {
		v.TieDowns = append(v.TieDowns, g.At...)
	}
	for _, p := range f.Load.Placed {
		v.Bundles = append(v.Bundles, drawing.LoadBundle{
			Label: p.Kind, X: p.X, Y: p.Y, Z: p.Z, Length: p.Longest, Breadth: p.Width, Height: p.Height,
		})
	}
	if rear := f.Load.Projection.Rear; rear > 0 {
		v.Rear = drawing.Overhang{Reach: rear, Label: rear.Pretty(), Flagged: f.Load.Flags.Count > 0}
	}
	return v
}

// HandOver is a stop as the driver's phone sends it. Key makes the same stop
// sent again count once.
type HandOver struct {
	Key        string
	StopID     int64
	Receiver   string
	Signature  []byte // PNG
	Unattended string // who allowed leaving it, instead of a receiver
	At         time.Time
	Exceptions []order.Exception
}

func (h HandOver) check() error {
	var l fault.List
	if h.Receiver == "" && h.Unattended == "" {
		l.Addf("receiver", "print the receiver's name, or say who allowed leaving it")
	}
	if len(h.Signature) > 200<<10 {
		l.Addf("signature", "the signature's picture is too large; draw it again")
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
		if e.Pieces < 1 {
			l.Addf(fmt.Sprintf("exceptions.%d.pieces", i), "say how many pieces")
		}
	}
	return l.Err()
}

// Deliver books a stop: receiver, signature, exceptions. The signed ticket is
// issued as a revision of its own, and the order is delivered.
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
	stop.Key, stop.Receiver, stop.Signature, stop.Unattended, stop.Exceptions = h.Key, h.Receiver, h.Signature, h.Unattended, h.Exceptions
	stop.SignedAt = tx.Now()
	if !h.At.IsZero() && h.At.Before(tx.Now()) && tx.Now().Sub(h.At) < 7*24*time.Hour {
		stop.SignedAt = h.At // the phone was without signal; its time counts
	}
	o := f.Orders[stop.OrderID]
	customer, err := customerOf(tx, o)
	if err != nil {
		return o, err
	}
	if err := o.Apply(order.Deliver); err != nil {
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
	if o, err = tx.SaveOrder(actor, o, string(o.State)); err != nil {
		return o, err
	}
	return o, endTrip(tx, actor, stop.LoadID)
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
		t, err := makeTrip(tx, actor, order.Trip{Day: dayStart(d.now(), s.seller.Location()), Driver: "customer"}, []int64{orderID})
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
