package web_test

import (
	"net/http"
	"net/url"
	"os/exec"
	"regexp"
	"strings"
	"testing"

	"ribdesk/internal/party"
	"ribdesk/internal/web/webtest"
)

// ask is what a person types for one product.
func ask(product, metal, cuts string) url.Values {
	return url.Values{"lines.0.make": {product}, "lines.0.metal": {metal}, "lines.0.cuts": {cuts}}
}

const (
	seam     = "formed:SEAM16"
	rib      = "formed:RIB36"
	charcoal = "AZ50|24 ga|CHAR"
)

// priced sends the counter's form to be priced.
func priced(t *testing.T, b *webtest.Browser, values url.Values) *webtest.Page {
	t.Helper()
	page := b.Get("/counter").Want(http.StatusOK)
	values["do"] = []string{"price"}
	return b.Submit(page, "#ask", values)
}

func TestCounterPricesThreeLengths(t *testing.T) {
	site := webtest.Furnished(t)
	page := priced(t, site.As(t, party.Visitor), ask(seam, charcoal, "4 @ 12' 6-1/2\"\n\n8 @ 18-3 #B\n2 x 20 ft")).Want(http.StatusOK)
	if got := page.Text("#echo-1 ol"); !strings.Contains(got, "4 × 12′ 6½″") || !strings.Contains(got, "8 × 18′ 3″ B") || strings.Count(got, "lb each") != 3 {
		t.Errorf("the list was understood as %q", got)
	}
	if n := len(page.All("#echo-1 li")); n != 4 {
		t.Errorf("%d rows beside a list of 4, one of them empty", n)
	}
	// 4 x 12.54167 + 8 x 18.25 + 2 x 20 = 236.17 ft
	if got := page.Text(".echo-head"); got != "14 pc · 236.17 ft" {
		t.Errorf("the sum is %q", got)
	}
	for _, want := range []string{"Alone", "Ready", "lb, calculated", "Waviness", "Roof slope", "Movement", "Follow local code"} {
		if !strings.Contains(page.Text("#slip"), want) {
			t.Errorf("the slip doesn't say %q: %s", want, page.Text("#slip"))
		}
	}
	if len(page.All("#drawn svg.swatch")) != 1 || !strings.Contains(page.Text("figcaption"), "Charcoal") {
		t.Errorf("the section isn't shown with its metal: %q", page.Text("figcaption"))
	}
}

// Thermal movement of the longest panel: 60 ft of steel over 100 °F at 6.7e-6
// per degree (NRCA Roofing Manual 2016) is 0.4824 in, to the next 1/16 in 1/2.
func TestCounterComputesMovement(t *testing.T) {
	page := priced(t, webtest.Furnished(t).As(t, party.Visitor), ask(seam, charcoal, "60 ft"))
	if got := page.Text(".cautions"); !strings.Contains(got, "60′ of 55% Al-Zn coated steel, grows and shrinks by ½″") {
		t.Errorf("cautions: %q", got)
	}
	if got := page.Text(".cautions"); !strings.Contains(got, "the shop hauls up to 44′") {
		t.Errorf("a 60 ft panel isn't told to be too long to haul: %q", got)
	}
}

func TestCounterOffersOnlyMetalsThatFit(t *testing.T) {
	b := webtest.Furnished(t).As(t, party.Visitor)
	page := priced(t, b, ask(rib, "CU|16 oz|BARE", "12 ft")).Want(http.StatusOK)
	for _, option := range page.All("#choice-1 option") {
		if key := webtest.Attr(option, "value"); strings.HasPrefix(key, "CU|") || strings.Contains(key, "24 ga") && strings.HasPrefix(key, "AL|") {
			t.Errorf("a five-rib panel is offered in %s", key)
		}
	}
	if got := page.Text("#choice-1 .help"); !strings.Contains(got, "isn't made of Bare copper") {
		t.Errorf("the change of metal is explained as %q", got)
	}
	// Kept, it isn't changed behind one's back.
	again := b.Submit(b.Get("/counter"), "#ask", withDo(ask(rib, "CU|16 oz|BARE", "12 ft"), "quote")).Want(http.StatusUnprocessableEntity)
	if got := again.Text("#choice-1 .error"); !strings.Contains(got, "the nearest is") {
		t.Errorf("at the metal: %q", got)
	}
}

func withDo(v url.Values, do string) url.Values {
	v["do"] = []string{do}
	return v
}

func TestCounterRefusesAtTheRow(t *testing.T) {
	page := priced(t, webtest.Furnished(t).As(t, party.Visitor), ask(seam, charcoal, "4 @ 12 ft\n2 @ 61 ft")).Want(http.StatusUnprocessableEntity)
	rows := page.All("#echo-1 li")
	if len(rows) != 2 || !strings.Contains(webtest.Text(rows[1]), "the nearest is 60′") || strings.Contains(webtest.Text(rows[0]), "can't") {
		t.Errorf("rows: %q", page.Text("#echo-1"))
	}
	if got := page.Text("#f-lines-0-cuts"); got != "4 @ 12 ft 2 @ 61 ft" {
		t.Errorf("what was typed is now %q", got)
	}
}

func TestCounterAsksOnlyWhatTheProductNeeds(t *testing.T) {
	b := webtest.Furnished(t).As(t, party.Visitor)
	page := priced(t, b, url.Values{"lines.0.make": {"accessory:SEALANT"}, "lines.0.count": {"4"}, "lines.0.cuts": {"3 @ 10 ft"}}).Want(http.StatusOK)
	if len(page.All("#way-1 textarea")) != 0 || len(page.All("#f-lines-0-count")) != 1 || len(page.All("#choice-1 select")) != 0 {
		t.Error("sealant is asked for a cut list or a metal")
	}
	if got := webtest.Attr(page.One("#way-1 [type=hidden]"), "value"); got != "3 @ 10 ft" {
		t.Errorf("the cut list typed before is now %q", got)
	}
	if page := b.Get("/counter"); len(page.All("#way-1 textarea")) != 1 || len(page.All("#f-lines-0-count")) != 0 {
		t.Error("a panel is asked for pieces, or for no cut list")
	}
}

func TestCounterHoldsSeveralOrders(t *testing.T) {
	site := webtest.Furnished(t)
	b := site.As(t, party.Counter)
	for _, cuts := range []string{"4 @ 12 ft", "6 @ 14 ft"} {
		b.Submit(b.Get("/counter"), "#ask", withDo(ask(seam, charcoal, cuts), "hold")).WantRedirect("/counter")
	}
	page := b.Get("/counter")
	held := page.All(".held a")
	if len(held) != 2 {
		t.Fatalf("held: %s", page.Text(".held"))
	}
	resumed := b.Get(webtest.Attr(held[0], "href")).Want(http.StatusOK)
	if got := resumed.Text("#echo-1 li"); !strings.Contains(got, "6 × 14′") || !strings.Contains(resumed.Text("#slip"), "Alone") {
		t.Errorf("resumed as %q, %q", got, resumed.Text("#slip"))
	}
	b.Submit(resumed, "#ask", withDo(ask(seam, charcoal, "7 @ 14 ft"), "hold")).WantRedirect("/counter")
	if n := len(site.As(t, party.Owner).Get("/counter").All(".held a")); n != 0 {
		t.Errorf("the owner has %d of the counter's drafts", n)
	}
}

func TestCounterPutsACustomerOnFile(t *testing.T) {
	b := webtest.Furnished(t).As(t, party.Counter)
	values := ask(seam, charcoal, "4 @ 12 ft")
	values["customer"], values["contact.phone"] = []string{"Newcomer Barns"}, []string{"(555) 555-0177"}
	page := b.Submit(b.Get("/counter"), "#ask", withDo(values, "keep")).Want(http.StatusUnprocessableEntity)
	values["on_file"] = []string{"yes"}
	kept := b.Submit(page, "#ask", withDo(values, "keep")).Want(http.StatusSeeOther)
	order := b.Get(kept.Header.Get("Location"))
	if got := order.Text(".facts"); !strings.Contains(got, "Newcomer Barns") {
		t.Errorf("the order is for %q", got)
	}
	if got := b.Get("/customers?q=newcomer").Text("table"); !strings.Contains(got, "(555) 555-0177") {
		t.Errorf("on file: %q", got)
	}
	// A second order by name finds the first's customer, in any case of letters.
	values["customer"] = []string{"newcomer barns"}
	b.Submit(b.Get("/counter"), "#ask", withDo(values, "keep")).Want(http.StatusSeeOther)
	if n := strings.Count(b.Get("/customers?q=newcomer").Text("table"), "Newcomer Barns"); n != 1 {
		t.Errorf("%d customers of one name", n)
	}
}

func TestCounterAddsAndTakesOffLines(t *testing.T) {
	b := webtest.Furnished(t).As(t, party.Visitor)
	two := b.Submit(b.Get("/counter"), "#ask", withDo(ask(seam, charcoal, "4 @ 12 ft"), "add")).Want(http.StatusOK)
	if got := webtest.Attr(two.One("#choice-2 option[selected]"), "value"); got != charcoal {
		t.Errorf("the second line starts in %q", got)
	}
	if !webtest.HasAttr(two.One("#f-lines-1-make"), "autofocus") {
		t.Error("the person isn't led to the new line")
	}
	second := url.Values{"lines.1.make": {"trim:RIDGE"}, "lines.1.metal": {charcoal}, "lines.1.cuts": {"2 @ 10 ft"}}
	one := b.Submit(two, "#ask", withDo(second, "remove:1")).Want(http.StatusOK)
	if n := len(one.All(".line")); n != 1 || !strings.Contains(one.Text("#echo-1"), "2 × 10′") || !strings.Contains(one.Text("#slip"), "Alone") {
		t.Errorf("%d lines, %q, %q", n, one.Text("#echo-1"), one.Text("#slip"))
	}
}

// words a customer must never read: what it costs, and what is earned.
var inside = regexp.MustCompile(`(?i)\b(margin|markup|contribution|earned|floor|below the floor|landed|overhead|machine hour|our cost|cost)\b`)

// A visitor's and a customer's slip, quote page and quote PDF say nothing of
// costs or earnings.
func TestCustomersNeverSeeCosts(t *testing.T) {
	site := webtest.Furnished(t)
	for _, role := range []party.Role{party.Visitor, party.Buyer} {
		b := site.As(t, role)
		page := priced(t, b, ask(seam, charcoal, "40 @ 22 ft\n10 @ 31 ft")).Want(http.StatusOK)
		wantNoCosts(t, string(role)+" slip", page.Text("#slip"))
		quoted := b.Submit(page, "#ask", url.Values{"do": {"quote"}}).Want(http.StatusSeeOther)
		link := b.Get(quoted.Header.Get("Location")).Want(http.StatusOK)
		wantNoCosts(t, string(role)+" quote page", link.Text("main"))
		paper := b.Get(webtest.Attr(link.One(".lines a"), "href")).Want(http.StatusOK)
		pdftotext, err := exec.LookPath("pdftotext")
		if err != nil {
			t.Skip("pdftotext isn't installed: the quote's words aren't looked at; Debian has it in poppler-utils")
		}
		cmd := exec.CommandContext(t.Context(), pdftotext, "-", "-")
		cmd.Stdin = strings.NewReader(string(paper.Body))
		text, err := cmd.Output()
		if err != nil || len(text) < 500 {
			t.Fatalf("%v: %d bytes of text", err, len(text))
		}
		wantNoCosts(t, string(role)+" quote PDF", string(text))
	}
}

func wantNoCosts(t *testing.T, where, text string) {
	t.Helper()
	text = strings.ReplaceAll(text, "Prices follow coil cost", "") // the shop's own terms, which say no figure
	if found := inside.FindString(text); found != "" {
		at := inside.FindStringIndex(text)[0]
		t.Errorf("%s says %q: %q", where, found, text[max(0, at-60):min(len(text), at+60)])
	}
}
