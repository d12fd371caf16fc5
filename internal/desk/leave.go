package desk

import (
	"context"
	"fmt"
	"time"

	"ribdesk/internal/document"
	"ribdesk/internal/fault"
	"ribdesk/internal/load"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
	"ribdesk/internal/words"
)

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
		if err := d.tellLeaving(tx, f); err != nil {
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

// ticketStops gives each stop its ticket; an order of which nothing is left in
// the shop is loaded.
func (d *Desk) ticketStops(tx *store.Tx, actor party.Actor, s *snapshot, f *TripFile) error {
	for i := range f.Trip.Stops {
		stop := &f.Trip.Stops[i]
		o := f.Orders[stop.OrderID]
		whole, err := allOnRoad(tx, o, f.Trip.ID)
		if err != nil {
			return err
		}
		if whole {
			if err := o.Apply(order.Load); err != nil {
				return err
			}
			if o, err = tx.SaveOrder(actor, o, string(o.State)); err != nil {
				return err
			}
			f.Orders[stop.OrderID] = o
		}
		stop.Exceptions = append(stop.Exceptions, shorts(f.On(o.ID))...)
		if err := d.ticketStop(tx, actor, s, f, stop); err != nil {
			return err
		}
	}
	return nil
}

// TakeBack undoes that a load left, while nothing of it is handed over: it is
// being built again. Its tickets stay on file; leaving anew gives new ones.
func (d *Desk) TakeBack(ctx context.Context, actor party.Actor, tripID, seen int64) (t order.Trip, err error) {
	if err := allow(actor, party.Owner, party.Counter, party.Driver); err != nil {
		return t, err
	}
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		if t, err = tx.Load(tripID); err != nil {
			return err
		}
		if t.State != order.OnRoad {
			return fault.Conflictf("load %s is %s; only what is on the road can be taken back", t.Number, t.State)
		}
		for i := range t.Stops {
			if !t.Stops[i].SignedAt.IsZero() {
				return fault.Conflictf("load %s can't be taken back: stop %d is handed over", t.Number, i+1)
			}
			t.Stops[i].Ticket, t.Stops[i].PaperID, t.Stops[i].Exceptions = "", 0, nil
			if err := unload(tx, actor, t.Stops[i].OrderID); err != nil {
				return err
			}
		}
		t.State, t.Version = order.Building, seen
		t, err = tx.SaveLoad(actor, t, "taken back")
		return err
	})
	return t, err
}

func unload(tx *store.Tx, actor party.Actor, orderID int64) error {
	o, err := tx.Order(orderID)
	if err != nil || !o.State.Allows(order.Unload) {
		return err // a part, or formed on site: it never was loaded as a whole
	}
	if err := o.Apply(order.Unload); err != nil {
		return err
	}
	_, err = tx.SaveOrder(actor, o, string(o.State))
	return err
}

// allOnRoad reports whether every bundle of a cut order has left, with the trip
// that leaves now.
func allOnRoad(tx *store.Tx, o order.Order, leaving int64) (bool, error) {
	bundles, err := tx.BundlesOf(o.ID)
	if err != nil || formsOnSite(o) {
		return false, err
	}
	for _, b := range bundles {
		if b.LoadID == leaving {
			continue
		}
		if b.LoadID == 0 {
			return false, nil
		}
		if t, err := tx.Load(b.LoadID); err != nil || t.State == order.Building {
			return false, err
		}
	}
	return true, nil
}

// shorts turns what was found missing at picking into exceptions of the stop, so
// that it is decided on and left off the invoice like any other.
func shorts(bundles []order.Bundle) (out []order.Exception) {
	for _, b := range bundles {
		for _, it := range b.Items {
			if it.Short > 0 {
				out = append(out, order.Exception{BundleID: b.ID, Kind: "short", Pieces: it.Short, CutID: it.CutID, Note: "at picking: " + it.Why})
			}
		}
	}
	return out
}

func (d *Desk) ticketStop(tx *store.Tx, actor party.Actor, s *snapshot, f *TripFile, stop *order.Stop) error {
	o := f.Orders[stop.OrderID]
	ticket, err := ticketNumbers.take(tx)
	if err != nil {
		return err
	}
	stop.Ticket = ticket
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
	r := s.readerOf(c)
	t := &document.DeliveryTicket{
		Head: s.head(o, c, now, f.Trip.Driver), Order: o.Number, Driver: f.Trip.Driver, Vehicle: f.Vehicle.Name,
		Origin: document.Place{Name: s.seller.Legal, Address: s.seller.Address, Phone: s.seller.Phone}, Unloading: o.SiteNotes,
	}
	t.Number, t.Code, t.Revision = stop.Ticket, stop.Ticket, 1
	if t.Unloading == "" {
		t.Unloading = r.T("Customer unloads, with enough hands or a machine; the driver stands clear.")
	}
	if o.Fulfil == order.PickUp || f.Vehicle.Code == "" {
		t.Driver, t.Vehicle = r.T("customer"), r.T("customer's own")
	}
	for _, b := range f.On(o.ID) {
		t.Packages++
		t.Freight = append(t.Freight, document.Freight{
			Bundle: r.T("%d of %d", b.No, b.Of), Order: o.Number, Description: describe(b), Pieces: b.Pieces, Longest: b.Longest,
			Pounds: pounds(b.Pounds), Loaded: true, Delivered: !stop.SignedAt.IsZero() && !keptBack(stop, b),
		})
		t.Pounds += pounds(b.Pounds)
		t.Longest = max(t.Longest, b.Longest)
	}
	if t.Packages == 0 {
		t.OnSite, t.Unloading = true, r.T("Formed on the site by the shop's crew; the customer takes the pieces as they come off the machine.")
	}
	if t.OnSite {
		formedThere(t, o, !stop.SignedAt.IsZero(), r)
	}
	for _, h := range f.Lifting {
		if h.Order == o.Number {
			t.TwoPeople = append(t.TwoPeople, document.HeavyPiece{Pieces: h.Qty, Length: h.Length, Pounds: UpPounds(h.Lb)})
		}
	}
	t.Window = window(stop)
	switch {
	case t.OnSite: // nothing of it is hauled
	case !f.Assessed:
		t.TieDowns, _ = load.TieDowns(t.Longest, float64(t.Pounds), f.Vehicle.Blocked)
		t.WLLPounds = UpPounds(load.RequiredWLL(float64(t.Pounds)))
	default:
		t.TieDowns, t.WLLPounds = f.Load.TieDowns, UpPounds(f.Load.NeedWLL)
		t.Overhang, t.Flags = f.Load.Projection.Rear, f.Load.Flags.Count
		t.Load = f.Drawing()
	}
	if !stop.SignedAt.IsZero() {
		t.Revision, t.State = 2, string(order.Delivered)
		t.Signed = &document.Signed{Name: stop.Receiver, Signature: stop.Signature, At: s.local(stop.SignedAt), Unattended: stop.Unattended}
		for _, e := range stop.Exceptions {
			t.Signed.Exceptions = append(t.Signed.Exceptions, document.Exception{Bundle: bundleName(f.Bundles, e.BundleID), What: fmt.Sprintf("%s %d %s", r.Read(e.Kind), e.Pieces, e.Note), Photos: e.Photos})
		}
	}
	return t
}

// keptBack reports whether a bundle wasn't handed over as a whole.
func keptBack(stop order.Stop, b order.Bundle) bool {
	for _, e := range stop.Exceptions {
		if e.BundleID == b.ID && e.Pieces >= b.Pieces && (e.Kind == "short" || e.Kind == "refused") {
			return true
		}
	}
	return false
}

// formedThere puts on a ticket what is formed on the site: pieces, longest and
// weight of each line, though none of it is hauled.
func formedThere(t *document.DeliveryTicket, o order.Order, handed bool, r words.Reader) {
	for _, l := range o.Lines {
		if l.Kind == order.Accessory {
			t.Items = append(t.Items, document.Item{Name: l.Name, Quantity: money.Int(int64(l.Count)), Unit: r.T("pieces")})
			continue
		}
		t.Freight = append(t.Freight, document.Freight{
			Order: o.Number, Description: l.Name, Pieces: l.Pieces(), Longest: l.Longest(), Pounds: pounds(l.Pounds), Delivered: handed,
		})
		t.Pounds += pounds(l.Pounds)
		t.Longest = max(t.Longest, l.Longest())
	}
}

// window writes when a stop is open, "" when it always is.
func window(s order.Stop) string {
	switch {
	case s.Opens > 0 && s.Closes > 0:
		return ClockTime(s.Opens) + " to " + ClockTime(s.Closes)
	case s.Opens > 0:
		return "from " + ClockTime(s.Opens)
	case s.Closes > 0:
		return "until " + ClockTime(s.Closes)
	}
	return ""
}

// ClockTime writes minutes of the day as people say them: 8:05 AM.
func ClockTime(minutes int) string {
	return time.Date(0, 1, 1, 0, minutes, 0, 0, time.UTC).Format("3:04 PM")
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
