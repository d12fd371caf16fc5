package web_test

import (
	"fmt"
	"net/url"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"ribdesk/internal/desk"
	"ribdesk/internal/measure"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/web/browsertest"
	"ribdesk/internal/web/webtest"
)

// takeOrder accepts an order of panels and trim on a furnished site.
func takeOrder(t *testing.T, site *webtest.Site, qty int) order.Order {
	t.Helper()
	ctx := t.Context()
	o, err := site.Desk.TakeOrder(ctx, site.Owner, order.Order{CustomerID: 1, Fulfil: order.PickUp, Contact: order.Contact{Name: "Wren"}, Lines: []order.Line{
		{Kind: order.Formed, Code: "SEAM16", Material: "AZ50", Gauge: "24 ga", Colour: "CHAR", Cuts: []order.CutItem{{Qty: qty, Length: 14 * measure.Foot}}},
		{Kind: order.Trim, Code: "RIDGE", Material: "AZ50", Gauge: "24 ga", Colour: "CHAR", Cuts: []order.CutItem{{Qty: 6, Length: 10 * measure.Foot}}},
	}})
	if err != nil {
		t.Fatal(err)
	}
	q, err := site.Desk.QuoteOrder(ctx, site.Owner, o.ID, o.Version, nil)
	if err != nil {
		t.Fatal(err)
	}
	o, err = site.Desk.AcceptOrder(ctx, site.Owner, o.ID, q.Order.Version, desk.Yes{Name: "Wren", Consent: true, Method: "counter"})
	if err != nil {
		t.Fatal(err)
	}
	return o
}

// The board draws while one types, and says beside the drawing what can't be
// folded.
func TestBoardDrawsLive(t *testing.T) {
	site := webtest.Furnished(t)
	b := browsertest.Start(t, site)
	b.As(party.Owner)
	b.Go("/trim")
	before := b.Text("#drawn .total")
	typeIn(b, "8 in")
	browsertest.Ask[bool](b, fmt.Sprintf("new Promise(done => { const look = setInterval(() => { const now = document.querySelector('#drawn .total'); if (now && now.innerText !== %q) { clearInterval(look); done(true); } }, 50); setTimeout(() => done(false), 5000); })", before))
	if after := b.Text("#drawn .total"); after == before || !strings.Contains(after, "in") {
		t.Errorf("girth %q became %q", before, after)
	}
	typeIn(b, "1/8 in")
	b.Do(chromedp.WaitVisible("#drawn .errors"))
	if got := b.Text("#drawn .errors"); !strings.Contains(got, "hold less than") {
		t.Errorf("the board says %q", got)
	}
}

// typeIn puts a length into the first leg, as keys do.
func typeIn(b *browsertest.Browser, length string) {
	browsertest.Ask[bool](b, fmt.Sprintf("(() => { const f = document.getElementById('f-legs-1-length'); f.value = %q; return f.dispatchEvent(new Event('input', {bubbles: true})); })()", length))
}

// A coil is weighed before it is booked, and both say the same feet; a form
// without feet, weight or diameters is refused with all that was typed.
func TestReceiveCoil(t *testing.T) {
	site := webtest.Furnished(t)
	b := site.As(t, party.Counter)
	form := url.Values{"strip": {"AZ50-24-20-CHAR"}, "lot": {"L-9"}, "landed": {"4100"}}
	page := b.Submit(b.Get("/coils/new"), "#receive", form).Want(422)
	if webtest.Attr(page.One("[name=lot]"), "value") != "L-9" {
		t.Error("the lot that was typed is lost")
	}
	form.Set("pounds", "3800")
	form.Set("do", "weigh")
	page = b.Submit(b.Get("/coils/new"), "#receive", form).Want(200)
	feet := strings.Fields(page.Text("#weighed .total"))[0]
	form.Set("do", "keep")
	done := b.Submit(b.Get("/coils/new"), "#receive", form).Want(303)
	card := b.Get(done.Header.Get("Location")).Want(200)
	if got := card.Text(".total"); !strings.HasPrefix(got, feet) {
		t.Errorf("weighed %s ft, booked %s", feet, got)
	}
	if len(card.All("#slit")) != 0 {
		t.Error("the counter may slit")
	}
	if tag := b.Submit(card, ".act form", nil); tag.Status != 303 {
		t.Errorf("the tag gives %d", tag.Status)
	}
}

// The operator counts, scraps and slits; each faults at its field.
func TestCoilCard(t *testing.T) {
	site := webtest.Furnished(t)
	b := site.As(t, party.Operator)
	card := b.Get("/coils/1")
	b.Submit(card, "#move", url.Values{"kind": {"scrap"}, "length": {"3"}, "reason": {"dented"}}).WantRedirect("/coils/1")
	if got := b.Get("/coils/1").Text(".scroll"); !strings.Contains(got, "dented") {
		t.Errorf("the ledger says %q", got)
	}
	b.Submit(card, "#move", url.Values{"kind": {"scrap"}, "length": {"3"}, "reason": {""}}).Want(422)
	slit := url.Values{"feet": {"100"}, "edge": {"1/8"}, "strips.0.width": {"11"}, "strips.0.count": {"2"}}
	if page := b.Submit(b.Get("/coils/1"), "#slit", slit).Want(200); len(page.All("#slit svg")) == 0 {
		t.Error("the pattern isn't drawn")
	}
	slit.Set("do", "slit")
	if page := b.Submit(b.Get("/coils/1"), "#slit", slit).Want(422); !strings.Contains(page.Text(".problems"), "wide") {
		t.Error("22 in of strips from a 20 in coil are let through")
	}
	slit.Set("strips.0.width", "9")
	b.Submit(b.Get("/coils/1"), "#slit", slit).WantRedirect("/coils")
	csv := b.Get("/coils.csv").Want(200)
	if strings.Contains(string(csv.Body), "landed") {
		t.Error("the operator's list shows what coils cost")
	}
}

// Allocation, purchase list and trim plan as forms.
func TestAllocateByForm(t *testing.T) {
	site := webtest.Furnished(t)
	takeOrder(t, site, 400)
	b := site.As(t, party.Owner)
	page := b.Get("/coils/allocate").Want(200)
	b.Submit(page, "#adopt", nil).WantRedirect("/coils")
	b.Submit(b.Get("/coils/allocate"), "#adopt", url.Values{"stamp": {"1"}}).Want(409)
	buy := b.Get("/coils/buy").Want(200)
	if len(buy.All("tbody tr")) == 0 {
		t.Error("5,600 ft of panels want no coil")
	}
	if p := b.Submit(buy, "#all", nil); p.Status != 303 || !strings.HasPrefix(p.Header.Get("Location"), "/papers/") {
		t.Errorf("the list prints with %d", p.Status)
	}
	if csv := b.Get("/coils/buy.csv").Want(200); !strings.Contains(string(csv.Body), "AZ50") {
		t.Errorf("the list is %q", csv.Body)
	}
	plan := b.Get("/coils/trim-plan").Want(200)
	b.Submit(plan, ".act form", url.Values{"do": {"adopt"}}).WantRedirect("/coils/trim-plan")
}

// Legs come and go without the script, nothing typed is lost, a kept pattern is
// the firm's own, and leads to the counter.
func TestTrimBoard(t *testing.T) {
	site := webtest.Furnished(t)
	b := site.As(t, party.Buyer)
	page := b.Submit(b.Get("/trim?shape=drip-edge"), "#trim", url.Values{"do": {"add:legs"}}).Want(200)
	legs := webtest.Attr(page.One("[name=\"legs.rows\"]"), "value")
	page = b.Submit(page, "#trim", url.Values{"do": {"remove:legs." + legs}, "name": {"Barn eave"}}).Want(200)
	if webtest.Attr(page.One("#f-name"), "value") != "Barn eave" {
		t.Error("the name that was typed is lost")
	}
	bad := b.Submit(page, "#trim", url.Values{"do": {"keep"}, "legs.1.length": {"1/8"}, "name": {"Barn eave"}}).Want(422)
	if webtest.Attr(bad.One("#f-legs-1-length"), "aria-invalid") != "true" {
		t.Error("a leg the folder can't hold isn't marked at its field")
	}
	kept := b.Submit(page, "#trim", url.Values{"do": {"use"}, "name": {"Barn eave"}}).Want(303)
	to := kept.Header.Get("Location")
	code := strings.TrimPrefix(to, "/counter?make=trim:")
	if code == to {
		t.Fatalf("it leads to %s", to)
	}
	if got := b.Get(to).Want(200).Text("select"); !strings.Contains(got, "Barn eave") {
		t.Error("the counter doesn't offer it")
	}
	visitor := site.As(t, party.Visitor)
	visitor.Get("/trim?pattern=" + code).Want(404)
	if got := visitor.Get("/counter").Want(200).Text("main"); strings.Contains(got, "Barn eave") {
		t.Error("a visitor is offered a customer's own pattern")
	}
	visitor.Get("/trim").Want(200)
	for _, actor := range []party.Actor{{Role: party.Visitor, Name: "visitor"}, {Role: party.Buyer, CustomerID: 3, PersonID: 99}} {
		_, err := site.Desk.Ask(t.Context(), actor, order.Order{CustomerID: actor.CustomerID, Fulfil: order.PickUp, Contact: order.Contact{Name: "x"}, Lines: []order.Line{
			{Kind: order.Trim, Code: code, Material: "AZ50", Gauge: "24 ga", Colour: "CHAR", Cuts: []order.CutItem{{Qty: 1, Length: 10 * measure.Foot}}}}})
		if err == nil || !strings.Contains(err.Error(), "choose a trim shape") {
			t.Errorf("%s orders another's pattern: %v", actor.Role, err)
		}
	}
}
