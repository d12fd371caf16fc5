package web_test

import (
	"bytes"
	"fmt"
	"strings"
	"sync"
	"testing"
	"time"

	"ribdesk/internal/desk"
	"ribdesk/internal/measure"
	"ribdesk/internal/order"
	"ribdesk/internal/web/webtest"
)

// A program takes an order along every way that isn't the straight one: another
// ask in place of a draft, a quote declined, an accepted order changed and
// cancelled; and folded trim that no catalogue has.
func TestAPIChanges(t *testing.T) {
	site := webtest.Furnished(t)
	p := newProgram(t, site, desk.Scopes...)
	key := 0
	step := func(method, path, body string, from *reply) *reply {
		t.Helper()
		key++
		return p.ask(method, path, body, "Idempotency-Key", fmt.Sprintf("change-%04d", key), "If-Match", from.header.Get("ETag"))
	}
	draft := p.ask("POST", "/api/v1/orders", askedRoof, "Idempotency-Key", "first-order").want(t, 201)
	path := draft.header.Get("Location")
	less := strings.Replace(askedRoof, `"pieces":8`, `"pieces":2`, 1)
	replaced := step("PUT", path, less, draft).want(t, 200)
	if replaced.order.Alone.Total.Amount == draft.order.Alone.Total.Amount || replaced.order.ID != draft.order.ID {
		t.Errorf("with fewer panels it costs %s, before %s", replaced.order.Alone.Total.Amount, draft.order.Alone.Total.Amount)
	}
	step("PUT", path, less, draft).want(t, 412)
	step("POST", path+"/decline", `{"reason":"no"}`, replaced).want(t, 409)
	quoted := step("POST", path+"/quote", "", replaced).want(t, 200)
	step("POST", path+"/decline", `{}`, quoted).want(t, 422)
	step("POST", path+"/decline", `{"why":"weather"}`, quoted).want(t, 422)
	declined := step("POST", path+"/decline", `{"why":"date","reason":"the crew is there on Monday"}`, quoted).want(t, 200)
	f, err := site.Desk.OrderFile(t.Context(), site.Owner, declined.order.ID)
	if err != nil || declined.order.State != "declined" || f.Order.Why != order.TooLate || !strings.Contains(f.Order.Reason, "Monday") {
		t.Errorf("declined because %s (%s): %s, %v", f.Order.Reason, f.Order.Why, declined.body, err)
	}

	second := p.ask("POST", "/api/v1/orders", askedRoof, "Idempotency-Key", "second-order").want(t, 201)
	path = second.header.Get("Location")
	step("POST", path+"/change", "", second).want(t, 409)
	quoted = step("POST", path+"/quote", "", second).want(t, 200)
	accepted := step("POST", path+"/accept", quoted.yes("true"), quoted).want(t, 200)
	change := step("POST", path+"/change", "", accepted).want(t, 201)
	if change.order.ID == accepted.order.ID || change.order.State != "draft" {
		t.Errorf("the change is %s", change.body)
	}
	again := p.ask("POST", path+"/change", "", "Idempotency-Key", fmt.Sprintf("change-%04d", key), "If-Match", accepted.header.Get("ETag")).want(t, 201)
	if !bytes.Equal(again.body, change.body) || again.header.Get("Location") != change.header.Get("Location") {
		t.Errorf("sent again the change is %s", again.body)
	}
	step("POST", path+"/change", "", accepted).want(t, 409)
	step("POST", path+"/cancel", `{"reason":" "}`, accepted).want(t, 422)
	if cancelled := step("POST", path+"/cancel", `{"reason":"the job fell through"}`, accepted).want(t, 200); cancelled.order.State != "cancelled" {
		t.Errorf("cancelled: %s", cancelled.body)
	}
}

const drawnTrim = `{"customer_id":1,"fulfil":"pick-up","lines":[{"kind":"trim","material":"AZ50","gauge":"24 ga","color":"CHAR","cuts":[{"pieces":6,"length":"10 ft"}],
 "section":{"name":"Sill of the north side","legs":[{"length":"3-1/2\"","turn":-90},{"length":"2","turn":80},{"length":"1 1/4\"","turn":-100}],"end":{"hem":"closed","hem_depth":"1/2\"","hem_side":"left"},"painted":"left"}}]}`

// Trim drawn leg by leg is priced by its girth, kept with its drawing, and what
// is wrong with the drawing is told at its place.
func TestAPIFreeTrim(t *testing.T) {
	site := webtest.Furnished(t)
	p := newProgram(t, site, desk.Scopes...)
	made := p.ask("POST", "/api/v1/orders", drawnTrim, "Idempotency-Key", "free-trim-1").want(t, 201)
	f, err := site.Desk.OrderFile(t.Context(), site.Owner, made.order.ID)
	if err != nil {
		t.Fatal(err)
	}
	line := f.Order.Lines[0]
	// Outside legs 3 1/2 + 2 + 1 1/4 and the hem's 1/2 are 7 1/4 in; bends take less
	// than an eighth each off.
	if girth := line.Girth.InInches(); line.Section == nil || len(line.Section.Legs) != 3 || girth < 6.75 || girth > 7.3 || !strings.Contains(string(made.body), "Sill of the north side") {
		t.Errorf("girth %.3f in of %+v: %s", girth, line.Section, made.body)
	}
	wider := p.ask("POST", "/api/v1/price", strings.Replace(drawnTrim, `"length":"2"`, `"length":"9"`, 1)).want(t, 200)
	if wider.order.Alone.Total.Amount <= made.order.Alone.Total.Amount && len(wider.order.Alone.Total.Amount) <= len(made.order.Alone.Total.Amount) {
		t.Errorf("7 in more cost %s, not more than %s", wider.order.Alone.Total.Amount, made.order.Alone.Total.Amount)
	}
	quoted := p.ask("POST", made.header.Get("Location")+"/quote", "", "Idempotency-Key", "free-trim-2", "If-Match", made.header.Get("ETag")).want(t, 200)
	if quoted.order.State != "quoted" {
		t.Errorf("quoted: %s", quoted.body)
	}
	for wrong, field := range map[string]string{
		strings.Replace(drawnTrim, `3-1/2\"`, `a hand`, 1):                  "lines.0.section.legs.0.length",
		strings.Replace(drawnTrim, `1/2\"","hem_side"`, `x","hem_side"`, 1): "lines.0.section.end.hem_depth",
		strings.Replace(drawnTrim, `"kind":"trim"`, `"kind":"formed"`, 1):   "lines.0.section",
	} {
		if got := p.ask("POST", "/api/v1/price", wrong).want(t, 422); len(got.problem.Errors) == 0 || got.problem.Errors[0].Field != field {
			t.Errorf("want a fault at %s: %s", field, got.body)
		}
	}
	if got := p.ask("POST", "/api/v1/price", strings.Replace(drawnTrim, `"legs":[`, `"legs":[],"x":[`, 1)); got.status != 400 {
		t.Errorf("an unknown name is taken: %s", got.body)
	}
}

// Many programs that saw the same version change it at once: one does, the
// others hear 412, since the version isn't the one they saw any more.
func TestAPIRace(t *testing.T) {
	site := webtest.Furnished(t)
	p := newProgram(t, site, desk.Scopes...)
	for round := range 3 {
		made := p.ask("POST", "/api/v1/orders", askedRoof, "Idempotency-Key", fmt.Sprintf("race-order-%d", round)).want(t, 201)
		path, etag := made.header.Get("Location"), made.header.Get("ETag")
		statuses := make([]int, 8)
		var wg sync.WaitGroup
		for i := range statuses {
			wg.Go(func() {
				statuses[i] = p.ask("POST", path+"/quote", "", "Idempotency-Key", fmt.Sprintf("race-%d-%d-quote", round, i), "If-Match", etag).status
			})
		}
		wg.Wait()
		won, late := 0, 0
		for _, s := range statuses {
			switch s {
			case 200:
				won++
			case 412:
				late++
			}
		}
		if won != 1 || won+late != len(statuses) {
			t.Errorf("eight quotes of one draft: %v", statuses)
		}
	}
}

// A program accepts for the date it saw. When others took the hours since, the
// problem gives the date that can be had, and with that it is accepted; without
// any date it isn't. The order's ETag changes with its date, and both count as
// the order as it was seen.
func TestAPIAcceptsWhatWasSeen(t *testing.T) {
	site := webtest.Furnished(t)
	p := newProgram(t, site, desk.Scopes...)
	made := p.ask("POST", "/api/v1/orders", askedRoof, "Idempotency-Key", "seen-order").want(t, 201)
	path := made.header.Get("Location")
	if made.order.Ready != "" {
		t.Errorf("a draft is ready by %s", made.order.Ready)
	}
	quoted := p.ask("POST", path+"/quote", "", "Idempotency-Key", "seen-quote", "If-Match", made.header.Get("ETag")).want(t, 200)
	accept := func(key, body string, seen *reply) *reply {
		return p.ask("POST", path+"/accept", body, "Idempotency-Key", key, "If-Match", seen.header.Get("ETag"))
	}
	unseen := accept("seen-accept-1", `{"name":"Wren","consent":true}`, quoted).want(t, 422)
	if len(unseen.problem.Errors) != 1 || unseen.problem.Errors[0].Field != "ready" {
		t.Errorf("without a date: %s", unseen.body)
	}
	for range 3 { // others take the next days
		takeTheHours(t, site)
	}
	moved := accept("seen-accept-1", quoted.yes("true"), quoted).want(t, 409)
	if !strings.HasSuffix(moved.problem.Type, "/DateMoved") || moved.problem.Ready <= quoted.order.Ready {
		t.Fatalf("seen for %s: %s", quoted.order.Ready, moved.body)
	}
	now := p.ask("GET", path, "", "If-None-Match", quoted.header.Get("ETag")).want(t, 200)
	if now.order.Ready != moved.problem.Ready || now.header.Get("ETag") == quoted.header.Get("ETag") {
		t.Errorf("the problem says %s, the order %s (%s, before %s)", moved.problem.Ready, now.order.Ready, now.header.Get("ETag"), quoted.header.Get("ETag"))
	}
	p.ask("GET", path, "", "If-None-Match", now.header.Get("ETag")).want(t, 304)
	accept("seen-accept-1", now.yes("true"), made).want(t, 412)
	accepted := accept("seen-accept-1", now.yes("true"), quoted).want(t, 200)
	o, err := site.Desk.OrderFile(t.Context(), site.Owner, accepted.order.ID)
	if err != nil || o.Order.Promise.UTC().Format(time.RFC3339) != moved.problem.Ready || accepted.order.Ready != "" {
		t.Errorf("promised for %s: %s, %v", o.Order.Promise, accepted.body, err)
	}
	if again := accept("seen-accept-1", now.yes("true"), quoted).want(t, 200); !bytes.Equal(again.body, accepted.body) {
		t.Errorf("sent again: %s", again.body)
	}
}

// takeTheHours has somebody accept work of about a day on the former.
func takeTheHours(t *testing.T, site *webtest.Site) {
	t.Helper()
	o, err := site.Desk.TakeOrder(t.Context(), site.Owner, order.Order{CustomerID: 1, Fulfil: order.PickUp, Contact: order.Contact{Name: "Finch"},
		Lines: []order.Line{{Kind: order.Formed, Code: "SEAM16", Material: "AZ50", Gauge: "24 ga", Colour: "CHAR", Cuts: []order.CutItem{{Qty: 400, Length: 30 * measure.Foot}}}}})
	if err != nil {
		t.Fatal(err)
	}
	q, err := site.Desk.QuoteOrder(t.Context(), site.Owner, o.ID, o.Version, nil)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := site.Desk.AcceptOrder(t.Context(), site.Owner, o.ID, q.Order.Version, desk.Yes{Name: "Finch", Consent: true}); err != nil {
		t.Fatal(err)
	}
}
