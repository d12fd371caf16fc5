package web_test

import (
	"net/url"
	"strconv"
	"strings"
	"testing"
	"time"

	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/store/storetest"
	"ribdesk/internal/web"
	"ribdesk/internal/web/browsertest"
	"ribdesk/internal/web/webtest"
)

// A moved run, a taken stretch and a counted piece by their forms alone, as
// they work without script.
func TestPlanByForms(t *testing.T) {
	r := newRoad(t)
	r.accepted("1 Mill Rd", order.PickUp, 6, 12)
	owner := r.Site.As(t, party.Owner)
	page := owner.Get("/plan/proposal").Want(200)
	owner.Submit(page, "#adopt", nil).WantRedirect("/plan")
	if got := owner.Get("/plan").Want(200).Text(".plan-says"); !strings.Contains(got, "Every promise is kept") {
		t.Errorf("the plan says %q", got)
	}
	page = owner.Get("/plan/calendar").Want(200)
	again := owner.Submit(page, "#block", url.Values{"machine": {"FORMER"}, "kind": {"down"}, "from": {"sometime"}, "to": {"3/4/2026 9:00 AM"}, "reason": {"gearbox"}}).Want(422)
	if got := again.Text(".error"); !strings.Contains(got, "1:30 PM") {
		t.Errorf("a time that can't be read got %q", got)
	}
	to := owner.Submit(page, "#block", url.Values{"machine": {"FORMER"}, "kind": {"down"}, "from": {"3/2/2026 7:00 AM"}, "to": {"3/12/2026 9:00 AM"}, "reason": {"gearbox"}}).Want(303).Header.Get("Location")
	page = owner.Get(to).Want(200)
	if got := page.Text(".breaks"); !strings.Contains(got, "promise breaks") {
		t.Errorf("ten days down: %q", got)
	}

	operator := r.Site.As(t, party.Operator)
	page = operator.Get("/floor/FORMER").Want(200)
	for range 2 { // the second is a double tap: the same form, the same key
		operator.Submit(page, "[data-tap]", url.Values{"pieces": {"1"}}).Want(303)
	}
	if got := operator.Get("/floor/FORMER").Text(".tally-count"); got != "1 of 6" {
		t.Errorf("counted %q", got)
	}
	r.Site.As(t, party.Driver).Get("/plan").Want(403)
	r.Site.As(t, party.Buyer).Get("/floor").Want(403)
}

// TestLookAtPlan looks at what no link leads to: a plan that a breakdown changes,
// and the floor on a tablet by the machine.
func TestLookAtPlan(t *testing.T) {
	t.Parallel()
	r := newRoad(t)
	for i, street := range []string{"1 Mill Rd", "2 Mill Rd", "3 Mill Rd"} {
		r.accepted(street, order.PickUp, 20+200*i, 12)
	}
	b := browsertest.Start(t, r.Site)
	b.As(party.Owner)
	owner := r.Site.As(t, party.Owner)
	owner.Submit(owner.Get("/plan/proposal"), "#adopt", nil).Want(303)
	b.Look("plan-down", "/plan/proposal?do=block&machine=FORMER&kind=down&reason=gearbox&from=2026-03-02T13:00:00Z&to=2026-03-12T13:00:00Z")
	b.Size(820)
	b.Go("/floor/FORMER")
	b.LookHere("floor-820")
}

// A plan that takes long is told of at once, comes by itself without script, and
// is found again by a reload, a second click and the way back. Once it is old it
// isn't adopted unseen.
func TestPlanTakesLong(t *testing.T) {
	r := &road{Site: webtest.FurnishedWith(t, storetest.Open(t), web.Options{Patience: -1}), t: t}
	r.accepted("1 Mill Rd", order.PickUp, 6, 12)
	owner := r.Site.As(t, party.Owner)
	page := owner.Get("/plan/proposal").Want(200)
	if page.Header.Get("Refresh") != "1; url=/plan/proposal" || page.Header.Get("Cache-Control") != "no-store" {
		t.Errorf("it comes back by %v", page.Header)
	}
	if got := page.Text("[role=status]"); got != "1 line is put in order. 0 s so far." {
		t.Errorf("it says %q", got)
	}
	if len(page.All("#adopt")) != 0 {
		t.Error("a plan that isn't there can be adopted")
	}
	found := func() *webtest.Page {
		for range 1000 {
			if page := owner.Get("/plan/proposal").Want(200); page.Header.Get("Refresh") == "" {
				return page
			}
			time.Sleep(10 * time.Millisecond)
		}
		t.Fatal("the plan never comes")
		return nil
	}
	page = found()
	r.Site.Pass(time.Minute)
	worked := func(p *webtest.Page) string { return webtest.Attr(p.One("#adopt [name=worked]"), "value") }
	if again := owner.Get("/plan/proposal").Want(200); worked(again) != worked(page) {
		t.Error("reloaded it is another plan")
	}
	r.Site.Pass(20 * time.Minute)
	owner.Submit(page, "#adopt", nil).WantRedirect("/plan/proposal")
	if got := owner.Get("/plan/proposal").Text(".notice"); !strings.Contains(got, "worked out 21 minutes ago") {
		t.Errorf("after 21 minutes it says %q", got)
	}
	owner.Submit(found(), "#adopt", nil).WantRedirect("/plan")
	history := owner.Get("/plan/history").Want(200).Text("tbody")
	if !strings.Contains(history, "The best plan found.") || !strings.Contains(history, r.Owner.Name) {
		t.Errorf("the history says %q", history)
	}
}

// An order, a coil and a machine's time by their forms: what is wrong stands at
// its field, and what it does is shown before it holds.
func TestPlanEventsByForms(t *testing.T) {
	r := newRoad(t)
	o := r.accepted("1 Mill Rd", order.PickUp, 6, 12)
	owner := r.Site.As(t, party.Owner)
	owner.Submit(owner.Get("/plan/proposal").Want(200), "#adopt", nil).WantRedirect("/plan")
	id := strconv.FormatInt(o.ID, 10)
	orders, coils := "[action=/plan/calendar/order]", "[action=/plan/calendar/coil]"
	coil := webtest.Attr(owner.Get("/plan/calendar").All(coils + " option")[1], "value")
	for _, c := range []struct {
		name, form string
		sent       url.Values
		want       string // what is wrong, or what the proposal is
	}{
		{"a rush in the past", orders, url.Values{"order": {id}, "what": {"rush"}, "by": {"1/5/2026 9:00 AM"}}, "This time is past"},
		{"a rush at no time", orders, url.Values{"order": {id}, "what": {"rush"}, "by": {"soon"}}, "1:30 PM"},
		{"a cancelled order", orders, url.Values{"order": {id}, "what": {"drop"}}, "Say why"},
		{"more than is on a coil", coils, url.Values{"coil": {coil}, "left": {"99999 ft"}}, "write what is left of them"},
		{"no length", coils, url.Values{"coil": {coil}, "left": {"some"}}, "isn't part of a length"},
	} {
		page := owner.Submit(owner.Get("/plan/calendar"), c.form, c.sent).Want(422)
		if got := page.Text(c.form + " .error"); !strings.Contains(got, c.want) {
			t.Errorf("%s: %q", c.name, got)
		}
	}
	for _, c := range []struct {
		name, form, what, also string
		sent                   url.Values
	}{
		{"rush", orders, "Order " + o.Number + " of", "Its promise stays", url.Values{"order": {id}, "what": {"rush"}}},
		{"cancelled", orders, "cancelled: fell through", "of coil that were promised", url.Values{"order": {id}, "what": {"drop"}, "reason": {"fell through"}}},
		{"short", coils, "has 10.00 ft left", "are promised", url.Values{"coil": {coil}, "left": {"10"}}},
		{"gone", coils, "is gone, with", "are promised", url.Values{"coil": {coil}, "left": {""}}},
	} {
		to := owner.Submit(owner.Get("/plan/calendar"), c.form, c.sent).Want(303).Header.Get("Location")
		got := owner.Get(to).Want(200).Text("main p")
		if !strings.Contains(got, c.what) || !strings.Contains(got, c.also) {
			t.Errorf("%s: %q", c.name, got)
		}
	}
	if got := owner.Get("/plan").Text(".plan-says"); !strings.Contains(got, "Every promise is kept") {
		t.Errorf("looking left the plan at %q", got)
	}
}
