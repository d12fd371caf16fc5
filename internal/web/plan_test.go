package web_test

import (
	"net/url"
	"strings"
	"testing"

	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/web/browsertest"
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

// The sheets of plan and floor on phone, tablet and desk.
func TestLookAtPlan(t *testing.T) {
	t.Parallel()
	r := newRoad(t)
	for i, street := range []string{"1 Mill Rd", "2 Mill Rd", "3 Mill Rd"} {
		r.accepted(street, order.PickUp, 20+200*i, 12)
	}
	b := browsertest.Start(t, r.Site)
	b.As(party.Owner)
	b.Look("proposal", "/plan/proposal")
	owner := r.Site.As(t, party.Owner)
	owner.Submit(owner.Get("/plan/proposal"), "#adopt", nil).Want(303)
	b.Look("plan", "/plan")
	b.Look("plan-calendar", "/plan/calendar")
	b.Look("floor", "/floor/FORMER")
	b.Look("floors", "/floor")
	b.Size(820)
	b.Go("/floor/FORMER")
	b.LookHere("floor-820")
}
