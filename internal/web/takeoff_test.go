package web_test

import (
	"maps"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"ribdesk/internal/party"
	"ribdesk/internal/web/browsertest"
	"ribdesk/internal/web/webtest"
)

// hipRoof is a 24 x 40 ft hip roof at 6 in 12, as it is typed: two long sides,
// two ends.
func hipRoof(do string) url.Values {
	v := url.Values{"do": {do}, "profile": {"SEAM16"}, "metal": {charcoal}, "planes.rows": {"2"}, "name": {"Hip house"}}
	for _, p := range []struct{ no, shape, eave string }{{"1", "trapezoid", "40'"}, {"2", "triangle", "24 ft"}} {
		for name, value := range map[string]string{"shape": p.shape, "measured": "plan", "pitch": "6/12", "eave": p.eave, "up": "12", "left": "hip", "right": "hip", "top": "ridge", "bottom": "eave", "copies": "2", "openings.rows": "0"} {
			v.Set("planes."+p.no+"."+name, value)
		}
	}
	return v
}

// TestRoof asks one site all that the page answers.
func TestRoof(t *testing.T) {
	site := webtest.Furnished(t)
	for name, test := range map[string]func(*testing.T, *webtest.Site){
		"is taken off": roofIsTakenOff, "refuses at the field": roofRefusesAtTheField, "openings and corners": roofOpeningsAndCorners,
		"planes come and go": roofPlanesComeAndGo, "goes on the order": roofGoesOnTheOrder, "is kept": roofIsKept,
	} {
		t.Run(name, func(t *testing.T) { test(t, site) })
	}
}

func roofIsTakenOff(t *testing.T, site *webtest.Site) {
	b := site.As(t, party.Visitor)
	page := b.Submit(b.Get("/roof").Want(http.StatusOK), "#roof", hipRoof("draw")).Want(http.StatusOK)
	if n := len(page.All("#slip figure svg")); n != 2 {
		t.Errorf("%d planes are drawn", n)
	}
	slip := page.Text("#slip")
	for _, want := range []string{"96 panels", "1073.3 sq ft", "Plane A, 2 times", "ridge", "16′", "hip", "72′", "Panel clips", "verify every length on site", "Local code"} {
		if !strings.Contains(slip, want) {
			t.Errorf("the slip doesn't say %q: %s", want, slip)
		}
	}
	if got := webtest.Attr(page.One("#f-planes-1-eave"), "value"); got != "40'" {
		t.Errorf("the eave is now %q", got)
	}
	if drawn := webtest.Text(page.All("#slip svg")[0]); !strings.Contains(drawn, "eave 40′") || !strings.Contains(drawn, "hip 18′") {
		t.Errorf("the drawing says %q", drawn)
	}
}

// Bad input is told at its field, and nothing that was typed is lost.
func roofRefusesAtTheField(t *testing.T, site *webtest.Site) {
	b := site.As(t, party.Visitor)
	for field, c := range map[string]struct{ value, says string }{
		"planes.1.pitch":  {"flat", "isn't a pitch"},
		"planes.1.eave":   {"12 6", ""},
		"planes.1.up":     {"21", "have met and crossed"},
		"planes.1.copies": {"0", "1 to 50"},
		"rules.step":      {"2 ft", "to 1′"},
		"planes.2.eave":   {"", "No length"},
	} {
		v := hipRoof("use")
		v.Set(field, c.value)
		page := b.Submit(b.Get("/roof"), "#roof", v).Want(http.StatusUnprocessableEntity)
		id := "#f-" + strings.ReplaceAll(field, ".", "-")
		if got := webtest.Text(page.One(id + "-error")); !strings.Contains(got, c.says) {
			t.Errorf("%s: at the field: %q", field, got)
		}
		if got := webtest.Attr(page.One(id), "value"); got != c.value {
			t.Errorf("%s: what was typed is now %q", field, got)
		}
		if got := webtest.Attr(page.One("#f-name"), "value"); got != "Hip house" {
			t.Errorf("%s: the name is now %q", field, got)
		}
	}
}

// An opening beyond the plane is told at the opening; a plane by its corners
// lies as it was written.
func roofOpeningsAndCorners(t *testing.T, site *webtest.Site) {
	b := site.As(t, party.Visitor)
	v := hipRoof("draw")
	maps.Copy(v, url.Values{"planes.1.openings.rows": {"1"}, "planes.1.openings.1.kind": {"chimney"}, "planes.1.openings.1.left": {"1"}, "planes.1.openings.1.up": {"8"}, "planes.1.openings.1.width": {"3"}, "planes.1.openings.1.height": {"3"}})
	page := b.Submit(b.Get("/roof"), "#roof", v).Want(http.StatusUnprocessableEntity)
	if got := webtest.Text(page.One("#f-planes-1-openings-1-left-error")); !strings.Contains(got, "beyond the plane") {
		t.Errorf("at the opening: %q", got)
	}
	corners := "0, 0, eave\n32', 0, rake\n32', 15', ridge\n0, 15', rake"
	v = hipRoof("draw")
	maps.Copy(v, url.Values{"planes.rows": {"1"}, "planes.1.shape": {"corners"}, "planes.1.measured": {"slope"}, "planes.1.corners": {corners}, "planes.1.copies": {"1"}})
	page = b.Submit(b.Get("/roof"), "#roof", v).Want(http.StatusOK)
	if got := page.Text("#slip"); !strings.Contains(got, "24 panels") || !strings.Contains(got, "480.0 sq ft") {
		t.Errorf("by its corners: %s", got)
	}
	if got := page.Text("#f-planes-1-corners"); got != strings.ReplaceAll(corners, "\n", " ") {
		t.Errorf("the corners are now %q", got)
	}
}

// Planes and openings come and go without script, and what is typed stays.
func roofPlanesComeAndGo(t *testing.T, site *webtest.Site) {
	b := site.As(t, party.Visitor)
	page := b.Submit(b.Get("/roof"), "#roof", hipRoof("add:planes")).Want(http.StatusOK)
	if len(page.All(".plane")) != 3 || len(page.All(".error")) > 0 {
		t.Errorf("%d planes, %d errors", len(page.All(".plane")), len(page.All(".error")))
	}
	page = b.Submit(page, "#roof", url.Values{"do": {"remove:planes.1"}}).Want(http.StatusOK)
	if got := webtest.Attr(page.One("#f-planes-1-eave"), "value"); len(page.All(".plane")) != 2 || got != "24 ft" {
		t.Errorf("%d planes, the first has an eave of %q", len(page.All(".plane")), got)
	}
	page = b.Submit(page, "#roof", url.Values{"do": {"add:planes.1.openings"}}).Want(http.StatusOK)
	if len(page.All("#f-planes-1-openings-1-width")) != 1 {
		t.Error("no opening was added")
	}
	part := b.Submit(page, "#roof", url.Values{"do": {"draw"}})
	if part.Want(http.StatusUnprocessableEntity); len(part.All("#f-planes-1-openings-1-width-error")) != 1 {
		t.Error("an opening without measures isn't told at its width")
	}
}

// From the roof to the quote: its lines on the ask, its drawing on the order, its
// sheet among the papers.
func roofGoesOnTheOrder(t *testing.T, site *webtest.Site) {
	b := site.As(t, party.Visitor)
	sent := b.Submit(b.Get("/roof"), "#roof", hipRoof("use")).Want(http.StatusSeeOther)
	counter := b.Get(sent.Header.Get("Location")).Want(http.StatusOK)
	if got := counter.Text("#f-lines-0-cuts"); !strings.Contains(got, "#A10-A21") {
		t.Errorf("the cut list is %q", got)
	}
	if !strings.Contains(counter.Text("#drawn"), "Standing seam, snap") || !strings.Contains(counter.Text("#slip"), "Alone") {
		t.Error("the ask isn't priced")
	}
	quote := b.Submit(counter, "#ask", url.Values{"do": {"quote"}, "contact.name": {"Lou"}}).Want(http.StatusSeeOther)
	page := b.Get(quote.Header.Get("Location")).Want(http.StatusOK)
	if len(page.All(".roofs figure svg")) != 2 || !strings.Contains(page.Text("main"), "Roof take-off 1001") {
		t.Errorf("the order has %d drawings of its roof: %s", len(page.All(".roofs figure svg")), page.Text("main"))
	}
}

func roofIsKept(t *testing.T, site *webtest.Site) {
	b := site.As(t, party.Buyer)
	kept := b.Submit(b.Get("/roof"), "#roof", hipRoof("keep")).Want(http.StatusSeeOther)
	page := b.Get(kept.Header.Get("Location")).Want(http.StatusOK)
	if got := webtest.Attr(page.One("#f-planes-2-eave"), "value"); got != "24'" {
		t.Errorf("the eave of the end is %q", got)
	}
	if !strings.Contains(page.Text("#slip"), "96 panels") || page.Text("#f-rules-step") != "" {
		t.Error("it isn't laid as it was kept")
	}
	sheet := b.Get(kept.Header.Get("Location") + "/sheet").Want(http.StatusOK)
	if !strings.HasPrefix(string(sheet.Body), "%PDF") {
		t.Error("the sheet is no PDF")
	}
	if got := b.Get("/roof").Text("main"); !strings.Contains(got, "Hip house") {
		t.Errorf("the list of kept take-offs: %s", got)
	}
	b.Get("/roof/NOSUCHCODE").Want(http.StatusNotFound)
	stranger := site.As(t, party.Visitor) // it is the firm's, whoever has the address
	stranger.Get(kept.Header.Get("Location")).Want(http.StatusNotFound)
	stranger.Get(kept.Header.Get("Location") + "/sheet").Want(http.StatusNotFound)
}

// Typed with script, the panels follow what is typed; and the page stands on a
// phone and on a desk.
func TestLookAtTheRoof(t *testing.T) {
	t.Parallel()
	b := browsertest.Start(t, webtest.Furnished(t))
	b.As(party.Visitor)
	b.Size(1280)
	b.Go("/roof")
	s := &steps{b: b}
	s.choose("#f-planes-1-shape", "trapezoid")
	until(t, b, "the fields of the shape", `!!document.querySelector("#f-planes-1-ridge")`)
	s.choose("#f-planes-1-left", "hip")
	s.choose("#f-planes-1-right", "hip")
	s.line("#f-planes-1-pitch", "6/12")
	s.line("#f-planes-1-eave", "40")
	s.line("#f-planes-1-up", "12")
	until(t, b, "panels", `document.querySelector("#slip").textContent.includes("30")  && !!document.querySelector("#slip figure svg")`)
	b.LookHere("roof-1280")
	b.Do(chromedp.Click(`button[value="keep"]`), chromedp.WaitVisible(`a[href$="/sheet"]`))
	b.Size(360)
	b.LookHere("roof-360")
}

// The counter shows what there is to choose from: the colours of the metal with
// those on the rack, how much of it for the shop, and a sample on request.
func TestChoosingByLooking(t *testing.T) {
	site := webtest.Furnished(t)
	page := priced(t, site.As(t, party.Visitor), ask(seam, charcoal, "12 ft")).Want(http.StatusOK)
	drawn := page.Text("#drawn")
	for _, want := range []string{"24 ga is 0.0236 in thick", "Covers", "Cut from", "Hauled up to", "On the rack today", "Comes in", "Charcoal chosen"} {
		if !strings.Contains(drawn, want) {
			t.Errorf("no %q at the product: %s", want, drawn)
		}
	}
	if strings.Contains(drawn, "ft free") || len(page.All("#drawn .colours svg")) < 3 {
		t.Errorf("a visitor reads %s", drawn)
	}
	if got := priced(t, site.As(t, party.Counter), ask(seam, charcoal, "12 ft")).Text("#drawn"); !strings.Contains(got, "ft free") {
		t.Errorf("the counter isn't told how much there is: %s", got)
	}
	b := site.As(t, party.Counter)
	v := withDo(ask(seam, charcoal, "12 ft"), "keep")
	v["sample"] = []string{"yes"}
	kept := b.Submit(b.Get("/counter"), "#ask", v).Want(http.StatusSeeOther)
	again := b.Get(kept.Header.Get("Location") + "/edit").Want(http.StatusOK)
	if got := again.Text("#f-note"); got != "Sample wanted before anything is cut: Charcoal." {
		t.Errorf("the note is %q", got)
	}
}
