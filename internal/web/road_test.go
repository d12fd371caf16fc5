package web_test

import (
	"fmt"
	"net/url"
	"strconv"
	"strings"
	"testing"

	"ribdesk/internal/desk"
	"ribdesk/internal/measure"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/web/browsertest"
	"ribdesk/internal/web/webtest"
)

// road is a furnished site with orders that are cut.
type road struct {
	*webtest.Site
	t      *testing.T
	driver party.Person
}

func newRoad(t *testing.T) *road {
	t.Helper()
	r := &road{Site: webtest.Furnished(t), t: t}
	r.driver = r.Person(t, party.Driver)
	return r
}

func (r *road) as(role party.Role) party.Actor { return r.Person(r.t, role).Actor() }

func must[T any](t *testing.T, v T, err error) T {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// accepted gives an accepted order of panels in charcoal for a site.
func (r *road) accepted(street string, fulfil order.Fulfil, qty, feet int) order.Order {
	r.t.Helper()
	t, ctx := r.t, r.t.Context()
	o := order.Order{
		CustomerID: 1, Fulfil: fulfil, Contact: order.Contact{Name: "Wren Sparrow", Phone: "(555) 555-0142"}, Job: "Barn " + street, MilesTenths: int64(10 * len(street)),
		ShipTo: party.Address{Street: street, City: "Eastfork", State: "ZE", Postal: "00113", Country: "US"}, SiteNotes: "Gate on the left; forklift on site.",
		Lines: []order.Line{{Kind: order.Formed, Code: "SEAM16", Material: "AZ50", Gauge: "24 ga", Colour: "CHAR", Cuts: []order.CutItem{{Qty: qty, Length: measure.Foot.Times(feet)}}}},
	}
	o = must(t, r.take(o), nil)
	q, err := r.Desk.QuoteOrder(ctx, r.Owner, o.ID, 0, nil)
	q = must(t, q, err)
	o, err = r.Desk.AcceptOrder(ctx, r.Owner, q.Order.ID, 0, desk.Yes{Name: "Wren Sparrow", Consent: true, Method: "counter"})
	return must(t, o, err)
}

func (r *road) take(o order.Order) order.Order {
	o, err := r.Desk.TakeOrder(r.t.Context(), r.Owner, o)
	return must(r.t, o, err)
}

// cut makes every piece of the orders in the plan.
func (r *road) cut() {
	r.t.Helper()
	ctx := r.t.Context()
	proposal, err := r.Desk.ProposePlan(ctx, r.Owner)
	proposal = must(r.t, proposal, err)
	if _, err := r.Desk.AdoptPlan(ctx, r.Owner, proposal.Stamp); err != nil {
		r.t.Fatal(err)
	}
	sheet, err := r.Desk.Sheet(ctx, r.Owner, "FORMER")
	sheet = must(r.t, sheet, err)
	for _, run := range sheet.Runs {
		for _, row := range run.Rows {
			for _, c := range row.Cuts {
				for _, p := range row.Promises {
					for _, share := range p.Cuts {
						if share.CutID != c.ID {
							continue
						}
						_, err := r.Desk.RecordMade(ctx, r.Owner, desk.Made{Key: fmt.Sprintf("%d-%d", c.ID, p.CoilID), LineID: row.Line.ID, CutID: c.ID, CoilID: p.CoilID, Pieces: share.Qty})
						if err != nil {
							r.t.Fatal(err)
						}
					}
				}
			}
		}
	}
}

// onRoad gives a trip of these orders that has left with the driver.
func (r *road) onRoad(orders ...order.Order) order.Trip {
	r.t.Helper()
	trip := r.built(orders...)
	for _, o := range orders {
		r.pick(o)
	}
	trip, err := r.Desk.LoadTrip(r.t.Context(), r.driver.Actor(), trip.ID, trip.Version, "")
	return must(r.t, trip, err)
}

func (r *road) built(orders ...order.Order) order.Trip {
	r.t.Helper()
	var ids []int64
	for _, o := range orders {
		ids = append(ids, o.ID)
	}
	trip, err := r.Desk.BuildTrip(r.t.Context(), r.driver.Actor(), order.Trip{Day: r.Now(), Vehicle: "TRAILER", Driver: r.driver.Name, DriverID: r.driver.ID}, ids)
	return must(r.t, trip, err)
}

func (r *road) pick(o order.Order) {
	r.t.Helper()
	for _, b := range r.file(o).Bundles {
		if _, err := r.Desk.CheckOff(r.t.Context(), r.driver.Actor(), o.ID, b.Code); err != nil {
			r.t.Fatal(err)
		}
	}
}

func (r *road) file(o order.Order) desk.OrderFile {
	r.t.Helper()
	f, err := r.Desk.OrderFile(r.t.Context(), r.Owner, o.ID)
	return must(r.t, f, err)
}

// The loads, picking, and the driver's pages, looked at on a phone and on a desk.
func TestLookAtRoad(t *testing.T) {
	r := newRoad(t)
	a, b, c := r.accepted("1 Mill Rd", order.Haul, 40, 24), r.accepted("22 Long Hollow Rd", order.Haul, 30, 38), r.accepted("3 Ford St", order.PickUp, 6, 10)
	r.accepted("4 Slope Rd", order.OnSite, 90, 30)
	r.cut()
	look := browsertest.Start(t, r.Site)
	look.As(party.Owner)
	r.As(t, party.Owner).Get("/loads").Want(200)
	look.Look("loads", "/loads")
	look.Look("pick", fmt.Sprintf("/orders/%d/pick", a.ID))
	look.Look("pick-up", fmt.Sprintf("/orders/%d/pick-up", c.ID))
	trip := r.built(a, b)
	look.Look("trip", fmt.Sprintf("/loads/%d", trip.ID))
	r.pick(a)
	r.pick(b)
	trip, err := r.Desk.LoadTrip(t.Context(), r.Owner, trip.ID, trip.Version, "the look of it")
	trip = must(t, trip, err)
	token := r.As(t, party.Owner)
	token.Submit(token.Get("/loads/calendars"), "#calendar", url.Values{"what": {"FORMER"}, "for": {"the crew"}}).WantRedirect("/loads/calendars")
	look.Look("calendars", "/loads/calendars")
	look.As(party.Driver)
	look.Look("drive", "/drive")
	look.Look("drive-stop", fmt.Sprintf("/drive/stops/%d", trip.Stops[0].ID))
	_, err = r.Desk.Deliver(t.Context(), r.driver.Actor(), desk.HandOver{Key: "k1", StopID: trip.Stops[0].ID, Receiver: "Wren Sparrow", At: r.Now(),
		Exceptions: []order.Exception{{BundleID: r.file(a).Bundles[0].ID, Kind: "damaged", Pieces: 2, Note: "edge bent"}}})
	if err != nil {
		t.Fatal(err)
	}
	look.As(party.Owner)
	look.Look("trip-left", fmt.Sprintf("/loads/%d", trip.ID))
}

var _ = strconv.Itoa
var _ = strings.TrimSpace
