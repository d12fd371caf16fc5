package web_test

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"mime/multipart"
	"net/http"
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
	t.Parallel()
	r := newRoad(t)
	a, b := r.accepted("1 Mill Rd", order.Haul, 40, 24), r.accepted("22 Long Hollow Rd", order.Haul, 30, 38)
	r.cut()
	look := browsertest.Start(t, r.Site)
	look.As(party.Owner)
	look.Look("pick", fmt.Sprintf("/orders/%d/pick", a.ID))
	trip := r.built(a, b)
	r.pick(a)
	r.pick(b)
	trip, err := r.Desk.LoadTrip(t.Context(), r.Owner, trip.ID, trip.Version, "the look of it")
	trip = must(t, trip, err)
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

// A load from the ticked orders to the last hand-over, by pages alone, without
// script: what is wrong is said where it is, and nothing typed is lost.
func TestRoadByPages(t *testing.T) {
	r := newRoad(t)
	a, b := r.accepted("1 Mill Rd", order.Haul, 40, 24), r.accepted("2 Mill Rd", order.Haul, 3, 12)
	r.cut()
	counter, driver := r.As(t, party.Counter), r.As(t, party.Driver)
	form := url.Values{"vehicle": {"TRAILER"}, "driver": {id(r.driver.ID)}, "day": {"someday"}, "order": {id(a.ID), id(b.ID)}}

	page := counter.Submit(counter.Get("/loads"), "#build", form).Want(422)
	if len(page.All("[name=order][checked]")) != 2 || !strings.Contains(page.Text(".error"), "month/day/year") {
		t.Errorf("the wrong day was answered with %q, %d orders ticked", page.Text(".error"), len(page.All("[name=order][checked]")))
	}
	counter.Submit(page, "#build", url.Values{"day": {"3/2/2026"}, "order": nil}).Want(422)
	counter.Submit(page, "#build", url.Values{"day": {"3/2/2026"}, "order": {id(a.ID), id(b.ID)}}).WantRedirect("/loads/1")

	r.pickByPages(driver, a, b)
	page = counter.Submit(counter.Get("/loads/1"), "#arrange", url.Values{"opens.0": {"25 o'clock"}}).Want(422)
	if got := webtest.Attr(page.One("[name=opens.0]"), "value"); got != "25 o'clock" {
		t.Errorf("what was typed is now %q", got)
	}
	counter.Submit(page, "#arrange", url.Values{"opens.0": {"9:15 am"}, "place.0": {"2"}, "place.1": {"1"}, "how": {"typed"}}).WantRedirect("/loads/1")
	if got := counter.Get("/loads/1").Text(".stops h3"); !strings.HasPrefix(got, b.Number) {
		t.Errorf("the stops are %q", got)
	}
	counter.Submit(counter.Get("/loads/1"), "form[action=/loads/1/leave]", nil).WantRedirect("/loads/1")

	page = driver.Get("/drive/stops/1").Want(200)
	if got := webtest.Attr(page.One(".links a"), "href"); got != "tel:5555550142" {
		t.Errorf("the call goes to %q", got)
	}
	if got := webtest.Attr(page.All(".links a")[1], "href"); !strings.HasPrefix(got, "geo:0,0?q=1+Mill+Rd") {
		t.Errorf("the way leads to %q", got)
	}
	if strings.Contains(page.Text("body"), "$") {
		t.Error("a driver's page shows a price")
	}
	bundle := r.file(a).Bundles[0]
	page = driver.Submit(page, "#stop", url.Values{"receiver": {"Wren Sparrow"}, "ticked": nil}).Want(422)
	if got := page.Text(".problems li"); !strings.Contains(got, "isn't ticked") || webtest.Attr(page.One("[name=receiver]"), "value") != "Wren Sparrow" {
		t.Errorf("the unticked bundle was answered with %q", got)
	}
	r.sendStop(driver, page, bundle).WantRedirect("/drive")
	if f := r.file(a); f.Order.State != order.Delivered || f.Stops[0].Exceptions[0].Photos != 1 {
		t.Errorf("order %s is %s, %+v", a.Number, f.Order.State, f.Stops[0].Exceptions)
	}

	counter.Get("/loads/1").One("a[href=/photos/1]")
	counter.Submit(counter.Get("/loads/1"), "form[action=/stops/1/decide]", url.Values{"decision": {"remake"}}).WantRedirect("/loads/1")
	page = counter.Get("/loads/1").Want(200)
	if len(page.All("form[action=/stops/1/decide]")) != 0 || !strings.Contains(page.Text(".lines"), "remake") {
		t.Error("the exception can be decided on again")
	}
}

// pickByPages checks the orders' bundles off: the first on its pick ticket, the
// second on the load's page.
func (r *road) pickByPages(driver *webtest.Browser, a, b order.Order) {
	t := r.t
	t.Helper()
	pick := fmt.Sprintf("/orders/%d/pick", a.ID)
	page := driver.Submit(driver.Get(pick), "#check", url.Values{"code": {"B9999-1"}}).Want(422)
	if !strings.Contains(page.Text(".error"), "isn't there any more") {
		t.Errorf("an unknown code was answered with %q", page.Text(".error"))
	}
	driver.Submit(page, "#check", url.Values{"code": {r.file(b).Bundles[0].Code}}).Want(409)
	for _, bundle := range r.file(a).Bundles {
		driver.Submit(driver.Get(pick), "#check", url.Values{"code": {strings.ToLower(bundle.Code)}}).WantRedirect(pick)
	}
	for _, bundle := range r.file(b).Bundles {
		driver.Submit(driver.Get("/loads/1"), "#check", url.Values{"code": {bundle.Code}}).WantRedirect("/loads/1")
	}
}

// sendStop hands a stop over with a damage and a picture of it, as a form.
func (r *road) sendStop(b *webtest.Browser, page *webtest.Page, bundle order.Bundle) *webtest.Page {
	t := r.t
	t.Helper()
	var body bytes.Buffer
	w := multipart.NewWriter(&body)
	for name, value := range map[string]string{
		"form_token": webtest.Attr(page.One("#stop [name=form_token]"), "value"), "form_key": webtest.Attr(page.One("#stop [name=form_key]"), "value"),
		"ticked": id(bundle.ID), "receiver": "Wren Sparrow", "kind.0": "damaged", "pieces.0": "1", "bundle.0": id(bundle.ID), "note.0": "edge bent",
	} {
		if err := w.WriteField(name, value); err != nil {
			t.Fatal(err)
		}
	}
	file, err := w.CreateFormFile("photo.0", "bent.png")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := file.Write(picture(t)); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	request, err := http.NewRequestWithContext(t.Context(), http.MethodPost, r.URL+"/drive/stops/1", &body)
	if err != nil {
		t.Fatal(err)
	}
	request.Header.Set("Content-Type", w.FormDataContentType())
	return b.Do(request)
}

func id(n int64) string { return strconv.FormatInt(n, 10) }

// A customer's pick-up with a drawn signature; a short found while picking is on
// the ticket.
func TestPickUpByPages(t *testing.T) {
	r := newRoad(t)
	o := r.accepted("3 Ford St", order.PickUp, 6, 10)
	r.cut()
	b := r.As(t, party.Counter)
	pick, up := fmt.Sprintf("/orders/%d/pick", o.ID), fmt.Sprintf("/orders/%d/pick-up", o.ID)
	short := fmt.Sprintf("form[action=/orders/%d/short]", o.ID)
	page := b.Submit(b.Get(pick), short, url.Values{"pieces": {"9"}, "why": {"dented"}}).Want(422)
	if !strings.Contains(page.Text(".error"), "holds only 6") || webtest.Attr(page.One("[name=why]"), "value") != "dented" {
		t.Errorf("too many were answered with %q", page.Text(".error"))
	}
	b.Submit(page, short, url.Values{"pieces": {"1"}, "why": {"dented"}}).WantRedirect(pick)
	b.Submit(b.Get(pick), "#check", url.Values{"code": {r.file(o).Bundles[0].Code}}).WantRedirect(pick)
	b.Submit(b.Get(up), "#hand", url.Values{"receiver": {""}}).Want(422)
	b.Submit(b.Get(up), "#hand", url.Values{"receiver": {"Wren"}, "signature": {"data:image/png;base64,bm9uc2Vuc2U="}}).Want(422)
	page = b.Get(up)
	signature := "data:image/png;base64," + base64.StdEncoding.EncodeToString(picture(t))
	sent := url.Values{"receiver": {"Wren"}, "signature": {signature}}
	b.Submit(page, "#hand", sent).WantRedirect(fmt.Sprintf("/orders/%d", o.ID))
	b.Submit(page, "#hand", sent).Want(303) // a double tap
	f := r.file(o)
	if f.Order.State != order.Delivered || len(f.Stops) != 1 || len(f.Stops[0].Exceptions) != 1 || f.Stops[0].Exceptions[0].Kind != "short" {
		t.Errorf("order %s is %s, %+v", o.Number, f.Order.State, f.Stops)
	}
	if got := b.Get("/stops/1/signature").Want(200).Header.Get("Content-Type"); got != "image/png" {
		t.Errorf("the signature is %s", got)
	}
}

// A calendar opens by its link alone, to anybody who has it, until it is revoked.
func TestCalendarByLink(t *testing.T) {
	r := newRoad(t)
	r.accepted("1 Mill Rd", order.Haul, 3, 12)
	r.cut()
	owner, nobody := r.As(t, party.Owner), r.As(t, party.Visitor)
	owner.Submit(owner.Get("/loads/calendars"), "#calendar", url.Values{"what": {"FORMER"}, "for": {""}}).Want(422)
	owner.Submit(owner.Get("/loads/calendars"), "#calendar", url.Values{"what": {"FORMER"}, "for": {"the crew"}}).WantRedirect("/loads/calendars")
	_, link, found := strings.Cut(owner.Get("/loads/calendars").Text(".notice"), "/calendar/")
	if !found {
		t.Fatal("the link isn't shown")
	}
	page := nobody.Get("/calendar/" + link).Want(200)
	if got := page.Header.Get("Content-Type"); got != "text/calendar; charset=utf-8" || !strings.HasPrefix(string(page.Body), "BEGIN:VCALENDAR\r\n") || !strings.Contains(string(page.Body), "UID:line-1@ribdesk\r\n") {
		t.Errorf("%s: %s", got, page.Body)
	}
	nobody.Get("/calendar/" + strings.TrimSuffix(link, ".ics")).Want(404)
	nobody.Get("/calendar/guess.ics").Want(404)
	owner.Submit(owner.Get("/loads/calendars"), "form[action=/loads/calendars/1/revoke]", nil).WantRedirect("/loads/calendars")
	nobody.Get("/calendar/" + link).Want(404)
}

// The owner says how pieces are lifted; the page figures the limit factor by
// factor, and others only read it.
func TestLiftingPage(t *testing.T) {
	site := webtest.Furnished(t)
	owner := site.As(t, party.Owner)
	page := owner.Get("/loads/lifting").Want(200)
	if got := page.Text(".headline"); !strings.Contains(got, "30.9 lb") { // 51 × 10/15 × 0.91, by hand
		t.Errorf("the limit is %q", got)
	}
	bad := owner.Submit(page, "#lifting", url.Values{"twist": {"200"}, "reach": {"near"}}).Want(422)
	if bad.Text("#f-reach-error") == "" || !strings.Contains(string(bad.Body), `value="near"`) {
		t.Error("nothing said at the reach, or what was typed is lost")
	}
	owner.Submit(bad, "#lifting", url.Values{"twist": {"30"}, "reach": {"20"}, "per_minute": {"1"}, "hours": {"2"}}).WantRedirect("/loads/lifting")
	driver := site.As(t, party.Driver)
	page = driver.Get("/loads/lifting").Want(200)
	if got := page.Text(".headline"); !strings.Contains(got, "18.5 lb") || len(page.All("#lifting")) > 0 { // 51 × 0.5 × 0.91 × 0.904 × 0.88
		t.Errorf("the limit is %q", got)
	}
}
