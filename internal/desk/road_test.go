package desk_test

import (
	"bytes"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"image"
	"image/jpeg"
	"image/png"
	"maps"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	ics "github.com/arran4/golang-ical"

	"ribdesk/internal/desk"
	"ribdesk/internal/document"
	"ribdesk/internal/fault"
	"ribdesk/internal/load"
	"ribdesk/internal/measure"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
)

var hauler = party.Actor{PersonID: 4, Name: "Demo Driver", Role: party.Driver}

// hauled is an accepted order of panels that is delivered to a street.
func (w *works) hauled(t testing.TB, street string, miles int64, fulfil order.Fulfil, lines ...order.Line) order.Order {
	t.Helper()
	o := asked(lines...)
	o.Fulfil, o.MilesTenths, o.ShipTo = fulfil, miles*10, party.Address{Street: street, City: "Eastfork", State: "ZE", Country: "US"}
	return w.accept(t, w.quote(t, w.take(t, o)))
}

// cutAll makes every piece that is planned, on the former.
func (w *works) cutAll(t testing.TB) {
	t.Helper()
	w.plan(t)
	sheet := get(w.Sheet(t.Context(), boss, "FORMER"))(t)
	for _, run := range sheet.Runs {
		for _, row := range run.Rows {
			for _, p := range row.Promises {
				for _, c := range p.Cuts {
					get(w.RecordMade(t.Context(), boss, desk.Made{Key: fmt.Sprintf("%d-%d", c.CutID, p.CoilID), LineID: row.Line.ID, CutID: c.CutID, CoilID: p.CoilID, Pieces: c.Qty}))(t)
				}
			}
		}
	}
}

// get gives a value that must come without an error.
func get[T any](v T, err error) func(testing.TB) T {
	return func(t testing.TB) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

func (w *works) file(t testing.TB, o order.Order) desk.OrderFile {
	t.Helper()
	return get(w.OrderFile(t.Context(), boss, o.ID))(t)
}

func (w *works) build(t testing.TB, ids []int64, only ...int64) order.Trip {
	t.Helper()
	return get(w.BuildTrip(t.Context(), hauler, order.Trip{Day: w.clock.Now(), Vehicle: "TRAILER", Driver: hauler.Name, DriverID: hauler.PersonID}, ids, only...))(t)
}

func (w *works) leave(t testing.TB, trip order.Trip) order.Trip {
	t.Helper()
	f := get(w.TripFile(t.Context(), boss, trip.ID))(t)
	for _, b := range f.Bundles {
		get(w.CheckOffOnTrip(t.Context(), hauler, trip.ID, b.Code))(t)
	}
	return get(w.LoadTrip(t.Context(), hauler, trip.ID, f.Trip.Version, ""))(t)
}

func (w *works) deliver(t testing.TB, s order.Stop, wrong ...order.Exception) order.Order {
	t.Helper()
	return get(w.Deliver(t.Context(), hauler, desk.HandOver{Key: "stop " + s.Ticket, StopID: s.ID, Receiver: "Wren Sparrow", Exceptions: wrong}))(t)
}

// An order whose bundles go on two trips is loaded when the last has left and
// delivered when the last is handed over, not before.
func TestPartDeliveries(t *testing.T) {
	w := newWorks(t)
	o := w.hauled(t, "1 Mill Rd", 12, order.Haul, panels(60, 24))
	w.cutAll(t)
	bundles := w.file(t, o).Bundles
	if len(bundles) < 2 {
		t.Fatalf("%d bundles; the test needs two", len(bundles))
	}
	first := w.build(t, []int64{o.ID}, bundles[0].ID)
	if got := get(w.TripFile(t.Context(), boss, first.ID))(t).Bundles; len(got) != 1 || got[0].ID != bundles[0].ID {
		t.Fatalf("the first trip takes %v", got)
	}
	first = w.leave(t, first)
	if got := w.order(t, o.ID).State; got != order.Cut {
		t.Errorf("with a part on the road the order is %s", got)
	}
	second := w.build(t, []int64{o.ID})
	if got := w.deliver(t, first.Stops[0]).State; got != order.Cut {
		t.Errorf("with a part delivered the order is %s", got)
	}
	second = w.leave(t, second)
	if got := w.order(t, o.ID).State; got != order.Loaded {
		t.Errorf("with all on the road the order is %s", got)
	}
	_, err := w.BuildTrip(t.Context(), hauler, order.Trip{Day: w.clock.Now(), Vehicle: "TRAILER"}, []int64{o.ID})
	if kindOf(err) != fault.Conflict.String() {
		t.Errorf("a third trip got %v", err)
	}
	if got := w.deliver(t, second.Stops[0]).State; got != order.Delivered {
		t.Errorf("with all delivered the order is %s", got)
	}
}

// A bundle that the driver neither ticked nor spoke of is short, and what was
// found missing at picking is an exception of the stop as well; each is decided
// once. A remake is an order of its own at no charge.
func TestShortsAndDecisions(t *testing.T) {
	w := newWorks(t)
	o := w.hauled(t, "1 Mill Rd", 12, order.Haul, panels(60, 24))
	w.cutAll(t)
	before := w.file(t, o).Bundles
	b := get(w.Short(t.Context(), hauler, o.ID, desk.Missing{BundleID: before[0].ID, Item: 0, Pieces: 2, Why: "bent at the saw horse"}))(t)
	if b.Pieces != before[0].Pieces-2 || b.Items[0].Short != 2 || b.Pounds.Cmp(before[0].Pounds) >= 0 {
		t.Errorf("the bundle is %+v", b)
	}
	_, err := w.Short(t.Context(), hauler, o.ID, desk.Missing{BundleID: before[0].ID, Item: 0, Pieces: 1000, Why: "all gone"})
	if kindOf(err) != fault.Invalid.String() {
		t.Errorf("more than the bundle holds got %v", err)
	}
	trip := w.leave(t, w.build(t, []int64{o.ID}))
	ticked := []int64{}
	for _, b := range before[1:] {
		ticked = append(ticked, b.ID)
	}
	get(w.Deliver(t.Context(), hauler, desk.HandOver{Key: "k", StopID: trip.Stops[0].ID, Receiver: "Wren", Ticked: ticked}))(t)
	stop := w.file(t, o).Stops[0]
	if len(stop.Exceptions) != 2 || stop.Exceptions[0].Pieces != 2 || stop.Exceptions[1].Pieces != b.Pieces || stop.Exceptions[1].Kind != "short" {
		t.Fatalf("the exceptions are %+v", stop.Exceptions)
	}
	follow := get(w.Decide(t.Context(), boss, stop.ID, 0, order.Remake))(t)
	kept := w.order(t, follow.ID)
	if kept.State != order.Accepted || !kept.Charged().Total.IsZero() || kept.Lines[0].Cuts[0].Qty != 2 || kept.Lines[0].Cuts[0].Length != 24*foot || !strings.Contains(kept.Note, o.Number) {
		t.Errorf("the remake is %+v", kept)
	}
	_, err = w.Decide(t.Context(), boss, stop.ID, 0, order.Credit)
	if kindOf(err) != fault.Conflict.String() {
		t.Errorf("a second decision got %v", err)
	}
	get(w.Decide(t.Context(), boss, stop.ID, 1, order.Credit))(t)
	stop = w.file(t, o).Stops[0]
	if stop.Exceptions[0].Decision != order.Remake || stop.Exceptions[0].FollowUp != follow.ID || stop.Exceptions[1].Decision != order.Credit {
		t.Errorf("decided %+v", stop.Exceptions)
	}
	_, err = w.Decide(t.Context(), hauler, stop.ID, 1, order.Credit)
	if kindOf(err) != fault.Denied.String() {
		t.Errorf("a driver's decision got %v", err)
	}
	w.plan(t) // the remake goes the way of any order
	if got := w.order(t, follow.ID).State; got != order.Planned {
		t.Errorf("the remake is %s", got)
	}
}

// An order formed on its site is a stop without bundles; it is delivered when it
// is signed for and what was made is recorded, in whichever order.
func TestFormedOnSite(t *testing.T) {
	for _, signedFirst := range []bool{true, false} {
		t.Run(fmt.Sprint(signedFirst), func(t *testing.T) {
			w := newWorks(t)
			o := w.hauled(t, "1 Mill Rd", 12, order.OnSite, panels(40, 24))
			trip := w.leave(t, w.build(t, []int64{o.ID}))
			if trip.Stops[0].Ticket == "" {
				t.Error("the stop has no ticket")
			}
			if signedFirst {
				if got := w.deliver(t, trip.Stops[0]).State; got != order.Accepted {
					t.Errorf("signed for, but not recorded as made, it is %s", got)
				}
			}
			w.cutAll(t)
			if !signedFirst {
				w.deliver(t, trip.Stops[0])
			}
			if got := w.order(t, o.ID).State; got != order.Delivered {
				t.Errorf("it is %s", got)
			}
		})
	}
}

// Typed miles beat straight lines beat guesses, and the best order drives no
// more than the typed one.
func TestRoads(t *testing.T) {
	w := newWorks(t)
	var ids []int64
	for i, miles := range []int64{30, 5, 28, 6} {
		ids = append(ids, w.hauled(t, fmt.Sprintf("%d Mill Rd", i+1), miles, order.Haul, panels(2, 10)).ID)
	}
	w.cutAll(t)
	trip := w.build(t, ids)
	f := get(w.TripFile(t.Context(), boss, trip.ID))(t)
	if f.Roads.Guesses() != 3 || f.Roads.Leg(0) != desk.Typed {
		t.Errorf("%d guesses, the first leg is %s", f.Roads.Guesses(), f.Roads.Leg(0))
	}
	places := f.Roads.Places
	err := w.KeepRoads(t.Context(), boss, trip.ID, []order.Distance{{From: places[1], To: places[3], MilesTenths: 40}},
		[]order.Position{{Place: places[2], Latitude: "41.0", Longitude: "-95.0"}, {Place: places[4], Latitude: "41.1", Longitude: "-95.0"}})
	if err != nil {
		t.Fatal(err)
	}
	f = get(w.TripFile(t.Context(), boss, trip.ID))(t)
	if f.Roads.How[1][3] != desk.Typed || f.Roads.Miles[3][1] != 4 {
		t.Errorf("the typed road is %v, %v mi", f.Roads.How[1][3], f.Roads.Miles[3][1])
	}
	// 0.1 degree of latitude is 6.9 statute miles (1 degree = 60 nautical miles
	// of 1.15078), times the detour of 1.3.
	if got := f.Roads.Miles[2][4]; f.Roads.How[2][4] != desk.Straight || got < 8.9 || got > 9.1 {
		t.Errorf("the straight line is %v, %v mi", f.Roads.How[2][4], got)
	}
	was := f.Roads.Route.Driving
	get(w.ArrangeTrip(t.Context(), boss, trip.ID, f.Trip.Version, 8*60, f.Trip.Stops, true))(t)
	f = get(w.TripFile(t.Context(), boss, trip.ID))(t)
	if f.Roads.Route.Driving >= was {
		t.Errorf("the best order drives %.0f min, the typed one %.0f", f.Roads.Route.Driving, was)
	}
	late := slices.Clone(f.Trip.Stops)
	late[3].Closes = 9 * 60 // the last must come first enough
	get(w.ArrangeTrip(t.Context(), boss, trip.ID, f.Trip.Version, 8*60, late, true))(t)
	f = get(w.TripFile(t.Context(), boss, trip.ID))(t)
	if f.Roads.Route.Late > 0 {
		t.Errorf("%.0f minutes late though there is a way in time", f.Roads.Route.Late)
	}
	_, err = w.ArrangeTrip(t.Context(), boss, trip.ID, f.Trip.Version, 8*60, f.Trip.Stops[:2], false)
	if kindOf(err) != fault.Invalid.String() {
		t.Errorf("half the stops got %v", err)
	}
	if err := w.KeepRoads(t.Context(), boss, trip.ID, nil, []order.Position{{Place: "x", Latitude: "91", Longitude: "0"}}); kindOf(err) != fault.Invalid.String() {
		t.Errorf("beyond the pole got %v", err)
	}
}

// A load that a rule refuses doesn't leave, but with the owner's word; nor does
// one with bundles that aren't picked.
func TestWhatMayLeave(t *testing.T) {
	w := newWorks(t)
	o := w.hauled(t, "1 Mill Rd", 12, order.Haul, panels(4, 40))
	w.cutAll(t)
	trip := get(w.BuildTrip(t.Context(), hauler, order.Trip{Day: w.clock.Now(), Vehicle: "FLATBED"}, []int64{o.ID}))(t)
	_, err := w.LoadTrip(t.Context(), hauler, trip.ID, trip.Version, "")
	if kindOf(err) != fault.Conflict.String() || !strings.Contains(err.Error(), "checked off") {
		t.Errorf("unpicked got %v", err)
	}
	get(w.CheckOff(t.Context(), hauler, o.ID, w.file(t, o).Bundles[0].Code))(t)
	_, err = w.LoadTrip(t.Context(), hauler, trip.ID, trip.Version, "it will be fine")
	if kindOf(err) != fault.Conflict.String() || !strings.Contains(err.Error(), "(vehicle's own data)") {
		t.Errorf("40 ft on a 20 ft deck got %v", err)
	}
	if err := w.DropTrip(t.Context(), hauler, trip.ID); err != nil {
		t.Fatal(err)
	}
	if b := w.file(t, o).Bundles[0]; b.LoadID != 0 {
		t.Error("the bundle isn't in the shop again")
	}
}

// Whatever is built, taken back, dropped, left and delivered in whatever order:
// an order is loaded just when nothing of it is in the shop or on a load that
// is still being built, and delivered just when all of it is handed over.
func TestAnyWayOnTheRoad(t *testing.T) {
	for seed := range uint64(4) {
		w := newWorks(t)
		r := rand.New(rand.NewPCG(seed, 3))
		seller, version, err := w.Seller(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		seller.BundlePounds = 700
		if err := w.SaveSeller(t.Context(), boss, seller, version); err != nil {
			t.Fatal(err)
		}
		o := w.hauled(t, "1 Mill Rd", 12, order.Haul, panels(60, 24))
		w.cutAll(t)
		if n := len(w.file(t, o).Bundles); n < 3 {
			t.Fatalf("%d bundles", n)
		}
		trips := map[int64]order.Trip{}
		for range 40 {
			w.someStep(t, r, o, trips)
			w.wantRightState(t, o, trips)
		}
		for _, trip := range trips {
			if trip.State == order.Building {
				trip = w.leave(t, trip)
			}
			if trip.State == order.OnRoad {
				w.deliver(t, trip.Stops[0])
			}
		}
		for len(inShop(w.file(t, o).Bundles)) > 0 {
			trip := w.leave(t, w.build(t, []int64{o.ID}))
			w.deliver(t, trip.Stops[0])
		}
		if got := w.order(t, o.ID).State; got != order.Delivered {
			t.Errorf("seed %d: in the end the order is %s", seed, got)
		}
	}
}

func inShop(bundles []order.Bundle) (free []order.Bundle) {
	for _, b := range bundles {
		if b.LoadID == 0 {
			free = append(free, b)
		}
	}
	return free
}

// someStep does one random thing that is possible.
func (w *works) someStep(t *testing.T, r *rand.Rand, o order.Order, trips map[int64]order.Trip) {
	t.Helper()
	ctx := t.Context()
	if free := inShop(w.file(t, o).Bundles); r.IntN(3) == 0 && len(free) > 0 {
		trip := w.build(t, []int64{o.ID}, free[r.IntN(len(free))].ID)
		trips[trip.ID] = trip
		return
	}
	for _, id := range slices.Sorted(maps.Keys(trips)) {
		trip := trips[id]
		switch {
		case r.IntN(2) == 0:
			continue
		case trip.State == order.Building && r.IntN(3) == 0:
			if err := w.DropTrip(ctx, hauler, id); err != nil {
				t.Fatal(err)
			}
			delete(trips, id)
		case trip.State == order.Building:
			trips[id] = w.leave(t, trip)
		case trip.State == order.OnRoad && r.IntN(3) == 0:
			trips[id] = get(w.TakeBack(ctx, hauler, id, trip.Version))(t)
		case trip.State == order.OnRoad && r.IntN(3) == 0:
			w.deliver(t, trip.Stops[0])
			trip.State = order.Done
			trips[id] = trip
		}
		return
	}
}

func (w *works) wantRightState(t *testing.T, o order.Order, trips map[int64]order.Trip) {
	t.Helper()
	f := w.file(t, o)
	want := order.Delivered
	for _, b := range f.Bundles {
		switch trip := trips[b.LoadID]; {
		case b.LoadID == 0 || trip.State == order.Building:
			want = order.Cut
		case trip.State == order.OnRoad && want == order.Delivered:
			want = order.Loaded
		}
	}
	if f.Order.State != want {
		t.Fatalf("the order is %s, want %s", f.Order.State, want)
	}
}

func TestPhotos(t *testing.T) {
	w := newWorks(t)
	o := w.hauled(t, "1 Mill Rd", 12, order.Haul, panels(2, 10))
	w.cutAll(t)
	trip := w.leave(t, w.build(t, []int64{o.ID}))
	var b bytes.Buffer
	if err := jpeg.Encode(&b, image.NewGray(image.Rect(0, 0, 8, 8)), nil); err != nil {
		t.Fatal(err)
	}
	photo := order.Photo{Key: "k", StopID: trip.Stops[0].ID, Kind: "text/html", Body: b.Bytes()}
	for range 3 {
		if err := w.AddPhoto(t.Context(), hauler, photo); err != nil {
			t.Fatal(err)
		}
	}
	f := get(w.TripFile(t.Context(), boss, trip.ID))(t)
	if len(f.Photos) != 1 || f.Photos[0].Kind != "image/jpeg" {
		t.Errorf("kept %+v", f.Photos)
	}
	if _, err := w.Photo(t.Context(), buyer, f.Photos[0].ID); kindOf(err) != fault.NotFound.String() {
		t.Errorf("a customer got %v", err)
	}
	photo.Key, photo.Body = "other", []byte("GIF89a")
	if err := w.AddPhoto(t.Context(), hauler, photo); kindOf(err) != fault.Invalid.String() {
		t.Errorf("another kind of file got %v", err)
	}
}

// Each entry keeps its UID, its SEQUENCE rises when it moves, and what falls away
// is CANCELLED (RFC 5545 3.8.4.7, 3.8.7.4, 3.8.1.11).
func TestCalendars(t *testing.T) {
	w := newWorks(t)
	o := w.hauled(t, "1 Mill Rd", 12, order.Haul, panels(6, 20))
	own := func(from time.Time, hours time.Duration) {
		get(w.BlockTime(t.Context(), boss, stock.Block{Machine: "FORMER", From: from, To: from.Add(hours * time.Hour), Kind: stock.OwnJob, Reason: "own roof"}))(t)
	}
	own(w.clock.Now(), 20) // beyond what is frozen
	w.plan(t)
	machine := get(w.AddCalendarLink(t.Context(), boss, "FORMER", "the crew"))(t)
	events := func(token string) map[string]*ics.VEvent {
		feed := get(w.Calendar(t.Context(), token))(t)
		cal := get(ics.ParseCalendar(bytes.NewReader(feed.Bytes())))(t)
		out := map[string]*ics.VEvent{}
		for _, e := range cal.Events() {
			if out[e.Id()] != nil {
				t.Errorf("%s is there twice", e.Id())
			}
			out[e.Id()] = e
		}
		return out
	}
	says := func(e *ics.VEvent, p ics.ComponentProperty) string {
		if e == nil || e.GetProperty(p) == nil {
			return "nothing"
		}
		return e.GetProperty(p).Value
	}
	line := fmt.Sprintf("line-%d@ribdesk", w.order(t, o.ID).Lines[0].ID)
	first := events(machine)[line]
	if says(first, ics.ComponentPropertySequence) != "0" || says(first, ics.ComponentPropertyStatus) != "CONFIRMED" {
		t.Fatalf("the run is %v", first)
	}
	start := get(first.GetStartAt())(t)
	own(start.Add(-time.Hour), 30)
	w.plan(t)
	moved := events(machine)[line]
	if says(moved, ics.ComponentPropertySequence) != "1" || get(moved.GetStartAt())(t).Equal(start) {
		t.Errorf("after a move it is %v", moved)
	}
	get(w.CancelOrder(t.Context(), boss, o.ID, 0, "the job fell through"))(t)
	gone := events(machine)[line]
	if says(gone, ics.ComponentPropertySequence) != "2" || says(gone, ics.ComponentPropertyStatus) != "CANCELLED" {
		t.Errorf("after it was cancelled it is %v", gone)
	}

	haul := w.hauled(t, "2 Mill Rd", 12, order.Haul, tubes(2))
	get(w.PickFromShelf(t.Context(), boss, haul.ID))(t)
	trip := w.build(t, []int64{haul.ID})
	deliveries := get(w.AddCalendarLink(t.Context(), boss, "", "the yard"))(t)
	load := fmt.Sprintf("load-%d@ribdesk", trip.ID)
	if e := events(deliveries)[load]; says(e, ics.ComponentPropertyStatus) != "CONFIRMED" || !strings.Contains(says(e, ics.ComponentPropertyDescription), haul.Number) {
		t.Errorf("the load is %v", e)
	}
	if err := w.DropTrip(t.Context(), boss, trip.ID); err != nil {
		t.Fatal(err)
	}
	if e := events(deliveries)[load]; says(e, ics.ComponentPropertyStatus) != "CANCELLED" || says(e, ics.ComponentPropertySequence) != "1" {
		t.Errorf("the dropped load is %v", e)
	}
	links := get(w.CalendarLinks(t.Context(), boss))(t)
	if err := w.RevokeCalendarLink(t.Context(), boss, links[len(links)-1].ID); err != nil {
		t.Fatal(err)
	}
	if _, err := w.Calendar(t.Context(), machine); kindOf(err) != fault.NotFound.String() {
		t.Errorf("a revoked link gave %v", err)
	}
	if _, err := w.AddCalendarLink(t.Context(), hauler, "", "me"); kindOf(err) != fault.Denied.String() {
		t.Errorf("a driver's link gave %v", err)
	}
}

// What is formed on a site is assessed too: the ticket lists pieces, longest and
// weight, names those that want two people, and counts no tie-downs for what
// isn't hauled.
func TestFormedOnSiteIsAssessed(t *testing.T) {
	w := newWorks(t)
	o := w.hauled(t, "1 Mill Rd", 12, order.OnSite, panels(40, 24), panels(3, 6))
	trip := w.leave(t, w.build(t, []int64{o.ID}))
	f := get(w.TripFile(t.Context(), boss, trip.ID))(t)
	if !f.FormsThere || len(f.Lifting) != 1 || f.Lifting[0].Qty != 40 || f.Lifting[0].Length != 24*foot || f.Lifting[0].Bundle != "" || f.Lifting[0].Lb <= 0 {
		t.Errorf("lifting: %+v", f.Lifting)
	}
	ticket := func(id int64) (doc struct {
		Freight   []struct{ Pieces, Pounds int }
		OnSite    bool                           `json:"on_site"`
		TwoPeople []struct{ Pieces, Pounds int } `json:"two_people"`
		Pounds    int
		TieDowns  int `json:"tie_downs"`
		Signed    *struct{ Signature []byte }
	}) {
		p := get(w.Paper(t.Context(), boss, id))(t)
		if err := json.Unmarshal(p.Body, &doc); err != nil {
			t.Fatal(err)
		}
		return doc
	}
	doc := ticket(trip.Stops[0].PaperID)
	if !doc.OnSite || len(doc.Freight) != 2 || doc.Freight[0].Pieces != 40 || doc.Freight[0].Pounds <= 0 || doc.Pounds != doc.Freight[0].Pounds+doc.Freight[1].Pounds ||
		len(doc.TwoPeople) != 1 || doc.TwoPeople[0].Pieces != 40 || doc.TieDowns != 0 || doc.Signed != nil {
		t.Errorf("the ticket holds %+v", doc)
	}
}

// The signed ticket is a new issue of the paper with the signature in its
// record; the one that was signed without stays on file as it was.
func TestSignedTicketIsANewIssue(t *testing.T) {
	w := newWorks(t)
	o := w.hauled(t, "1 Mill Rd", 12, order.Haul, panels(4, 10))
	w.cutAll(t)
	trip := w.leave(t, w.build(t, []int64{o.ID}))
	unsigned := get(w.Paper(t.Context(), boss, trip.Stops[0].PaperID))(t)
	img := image.NewGray(image.Rect(0, 0, 60, 20)) // all ink
	var drawn bytes.Buffer
	if err := png.Encode(&drawn, img); err != nil {
		t.Fatal(err)
	}
	get(w.Deliver(t.Context(), hauler, desk.HandOver{Key: "k", StopID: trip.Stops[0].ID, Receiver: "Wren", Signature: drawn.Bytes()}))(t)
	stop := w.file(t, o).Stops[0]
	signed := get(w.Paper(t.Context(), boss, stop.PaperID))(t)
	if signed.ID == unsigned.ID || signed.Number != unsigned.Number || signed.Revision != 2 || unsigned.Revision != 1 {
		t.Errorf("issued %s revision %d after %s revision %d", signed.Number, signed.Revision, unsigned.Number, unsigned.Revision)
	}
	if still := get(w.Paper(t.Context(), boss, unsigned.ID))(t); !bytes.Equal(still.PDF, unsigned.PDF) {
		t.Error("the unsigned ticket changed")
	}
	if again, err := document.Reprint(document.KindDeliveryTicket, signed.Body); err != nil || !bytes.Equal(again, signed.PDF) {
		t.Errorf("its record prints other bytes: %v", err)
	}
	if !bytes.Contains(signed.Body, []byte(base64.StdEncoding.EncodeToString(drawn.Bytes()))) {
		t.Error("the record has no signature")
	}
}

// How pieces are lifted is the owner's to say; loads, labels and tickets hold
// pieces to it from then on. The limit is hand-figured: 51 × 10/20 × (1 −
// 0.0075·10) × (0.82 + 1.8/40) × (1 − 0.0032·45) × 0.75 × 0.90, DHHS (NIOSH)
// 94-110.
func TestLiftingIsTheShopsOwn(t *testing.T) {
	w := newWorks(t)
	o := w.hauled(t, "1 Mill Rd", 12, order.Haul, panels(4, 10))
	w.cutAll(t)
	usual, version, over, err := w.Lifting(t.Context(), hauler)
	if err != nil || usual != load.UsualLift() || version != 0 || len(over) != 0 {
		t.Fatalf("%+v, version %d, over %v, %v", usual, version, over, err)
	}
	hard := load.Lift{Reach: 20 * measure.Inch, Height: 20 * measure.Inch, Travel: 40 * measure.Inch, Twist: 45, Grip: load.PoorGrip, PerMinute: 1, Hours: 8}
	if err := w.SaveLifting(t.Context(), boss, hard, 0); err != nil {
		t.Fatal(err)
	}
	limit := get(hard.Limit())(t)
	want := 51 * 10.0 / 20 * (1 - 0.0075*10) * (0.82 + 1.8/40) * (1 - 0.0032*45) * 0.75 * 0.90
	if math.Abs(limit.Lb-want) > 1e-9 {
		t.Errorf("the limit is %v, by hand %v", limit.Lb, want)
	}
	f := get(w.TripFile(t.Context(), boss, w.build(t, []int64{o.ID}).ID))(t)
	if f.Limit.Lb != limit.Lb || len(f.Lifting) == 0 || f.Lifting[0].Lb <= limit.Lb {
		t.Errorf("the load is held to %v: %+v", f.Limit.Lb, f.Lifting)
	}
	if _, _, over, _ = w.Lifting(t.Context(), boss); len(over) == 0 || over[0].Order != o.Number || math.Abs(over[0].Index-over[0].Lb/limit.Lb) > 1e-9 {
		t.Errorf("in the shop: %+v", over)
	}
	hard.Twist = 400
	wantFault(t, w.SaveLifting(t.Context(), boss, hard, 1), fault.Invalid, "twist")
	wantFault(t, w.SaveLifting(t.Context(), clerk, usual, 1), fault.Denied, "")
	_, _, _, err = w.Lifting(t.Context(), buyer)
	wantFault(t, err, fault.Denied, "")
}
