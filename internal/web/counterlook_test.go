package web_test

import (
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"ribdesk/internal/party"
	"ribdesk/internal/web/browsertest"
	"ribdesk/internal/web/webtest"
)

// steps counts what a person does: a click, a choice, a line typed.
type steps struct {
	b *browsertest.Browser
	n int
}

func (s *steps) click(selector string) { s.n++; s.b.Do(chromedp.Click(selector)) }

// line types at the end of what is there.
func (s *steps) line(selector, text string) {
	s.n++
	browsertest.Ask[any](s.b, `(e => { e.focus(); e.setSelectionRange(e.value.length, e.value.length) })(document.querySelector("`+selector+`"))`)
	s.b.Do(chromedp.KeyEvent(text))
}

func (s *steps) choose(selector, value string) {
	s.n++
	browsertest.Ask[bool](s.b, `(() => { const e = document.querySelector("`+selector+`"); e.value = "`+value+`"; e.dispatchEvent(new Event("input", {bubbles: true})); return e.value === "`+value+`" })()`)
}

// until waits for what a script says to become true.
func until(t *testing.T, b *browsertest.Browser, what, script string) {
	t.Helper()
	for end := time.Now().Add(10 * time.Second); time.Now().Before(end); time.Sleep(50 * time.Millisecond) {
		if browsertest.Ask[bool](b, script) {
			return
		}
	}
	t.Fatalf("%s: it didn't come to that; the slip says %q", what, b.Text("#slip"))
}

// A first-time person: three lengths of one panel priced within 12 interactions,
// the quote accepted within 5 more.
func TestFirstQuoteInFewSteps(t *testing.T) {
	b := browsertest.Start(t, webtest.Furnished(t))
	b.As(party.Visitor)
	for _, width := range browsertest.Widths {
		b.Size(width)
		b.Go("/counter")
		s := &steps{b: b}
		s.choose("#f-lines-0-make", seam)
		until(t, b, "metals of the panel", `!!document.querySelector("#choice-1[data-key='formed:SEAM16']")`)
		s.choose("#f-lines-0-metal", charcoal)
		s.click("#f-lines-0-cuts")
		s.line("#f-lines-0-cuts", "12 @ 24' 6-1/2\"\n")
		s.line("#f-lines-0-cuts", "8 @ 18-3\n")
		s.line("#f-lines-0-cuts", "6 @ 9 ft")
		until(t, b, "price", `/26 pc/.test(document.querySelector(".echo-head").innerText) && /Alone\s*\$/.test(document.querySelector("#slip").innerText)`)
		priceAt := s.n
		if browsertest.Ask[string](b, "document.activeElement.id") != "f-lines-0-cuts" {
			t.Error("the price took the focus out of the cut list")
		}
		s.click(".act .primary")
		b.Do(chromedp.WaitVisible("#accept"))
		s.line("#f-name", "Wren Sparrow")
		s.click("#f-consent")
		s.click(".act .primary")
		b.Do(chromedp.WaitVisible(".notice"))
		until(t, b, "accepted", `/accepted/.test(document.querySelector(".block")?.innerText || "")`)
		t.Logf("at %d px: price after %d interactions, accepted after %d more", width, priceAt, s.n-priceAt)
		if priceAt > 12 || s.n-priceAt > 5 {
			t.Errorf("at %d px: %d and %d interactions, 12 and 5 allowed", width, priceAt, s.n-priceAt)
		}
		b.LookHere("quote-accepted")
	}
}

// While one types nothing is taken away: the product changes, metals follow, the
// cut list stays, a panel's list waits while sealant is looked at.
func TestCounterKeepsWhatIsTyped(t *testing.T) {
	b := browsertest.Start(t, webtest.Furnished(t))
	b.As(party.Counter)
	b.Go("/counter")
	s := &steps{b: b}
	s.choose("#f-lines-0-make", rib)
	s.line("#f-lines-0-cuts", "4 @ 12 ft")
	until(t, b, "price", `/Alone/.test(document.querySelector("#slip").innerText)`)
	browsertest.Ask[any](b, `document.querySelector("#made-of").open = true`)
	s.choose("#f-lines-0-make", "accessory:SEALANT")
	until(t, b, "pieces", `!!document.querySelector("#f-lines-0-count") && !document.querySelector("#way-1 textarea")`)
	s.choose("#f-lines-0-make", seam)
	until(t, b, "the list again", `document.querySelector("#way-1 textarea")?.value === "4 @ 12 ft" && /Alone/.test(document.querySelector("#slip").innerText)`)
	s.line("#f-lines-0-cuts", "\n2 @ 9 ft")
	until(t, b, "two rows", `document.querySelectorAll("#echo-1 li").length === 2`)
	browsertest.Ask[any](b, `document.querySelector("#made-of").open = true`)
	s.line("#f-lines-0-cuts", "\n2 @ 8 ft")
	until(t, b, "three rows", `document.querySelectorAll("#echo-1 li").length === 3`)
	if !browsertest.Ask[bool](b, `document.querySelector("#made-of").open`) {
		t.Error("the build-up closed itself")
	}
	if got := browsertest.Ask[int](b, `performance.getEntriesByType("navigation").length + (performance.getEntriesByType("navigation")[0].type === "reload")`); got != 1 {
		t.Error("the page was loaded again")
	}
}

// The counter's pages on phone and desk, and what they weigh.
func TestLookAtCounter(t *testing.T) {
	t.Parallel()
	site := webtest.Furnished(t)
	b := browsertest.Start(t, site)
	for _, role := range []party.Role{party.Visitor, party.Counter} {
		b.As(role)
		for _, width := range browsertest.Widths {
			b.Size(width)
			b.Go("/counter")
			weighPage(t, b, "/counter")
			b.Do(chromedp.SendKeys("#f-lines-0-cuts", "4 @ 12 ft\n2 @ 47 ft\n1 @ what"))
			until(t, b, "a row that isn't understood", `document.querySelectorAll("#echo-1 .amiss").length === 1`)
			b.LookHere("counter-wrong-" + string(role))
			b.Do(chromedp.SendKeys("#f-lines-0-cuts", "\b\b\b\b\b5 ft"))
			until(t, b, "price", `/Alone/.test(document.querySelector("#slip").innerText)`)
			b.LookHere("counter-priced-" + string(role))
		}
	}
}

// weighPage holds a page to 150 kB over the wire, fonts and all.
func weighPage(t *testing.T, b *browsertest.Browser, name string) {
	t.Helper()
	weight := browsertest.Ask[int](b, `performance.getEntriesByType("resource").concat(performance.getEntriesByType("navigation")).reduce((n, e) => n + (e.encodedBodySize || 0), 0)`)
	t.Logf("%s: %d bytes", name, weight)
	if weight > 150_000 {
		t.Errorf("%s weighs %d bytes", name, weight)
	}
}
