package web_test

import (
	"context"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"ribdesk/internal/party"
	"ribdesk/internal/web/browsertest"
	"ribdesk/internal/web/webtest"
)

// tabTo goes to an element by the Tab key alone.
func tabTo(t *testing.T, b *browsertest.Browser, selector string) {
	t.Helper()
	for range 80 {
		if browsertest.Ask[bool](b, `!!document.activeElement && document.activeElement.matches("`+selector+`")`) {
			return
		}
		b.Do(chromedp.KeyEvent(kb.Tab))
	}
	t.Fatalf("Tab doesn't lead to %s", selector)
}

// The counter without a mouse: an ask is typed, priced and held, a second one
// taken meanwhile, the first resumed from its name on top, changed and kept.
func TestCounterByKeyboard(t *testing.T) {
	b := browsertest.Start(t, webtest.Furnished(t))
	b.As(party.Counter)
	hold := func(lengths string) {
		b.Go("/counter")
		tabTo(t, b, "#f-lines-0-cuts")
		b.Do(chromedp.KeyEvent(lengths), chromedp.KeyEvent("\r", chromedp.KeyModifiers(chromedp.ModifierCtrl))) // Ctrl and Enter
		until(t, b, "price", `/Alone/.test(document.querySelector("#slip").innerText)`)
		tabTo(t, b, "button[value='hold']")
		b.Do(chromedp.KeyEvent("\r"), chromedp.WaitVisible(".notice"))
	}
	hold("4 @ 12 ft")
	hold("9 @ 20 ft")
	if n := browsertest.Ask[int](b, `document.querySelectorAll(".held li").length`); n != 2 {
		t.Fatalf("%d baskets are open", n)
	}
	first := browsertest.Ask[string](b, `[...document.querySelectorAll(".held a")].at(-1).getAttribute("href")`)
	tabTo(t, b, ".held a[href='"+first+"']")
	b.Do(chromedp.KeyEvent("\r"), chromedp.WaitVisible(".held a[aria-current]"))
	if got := browsertest.Ask[string](b, `document.querySelector("#f-lines-0-cuts").value`); got != "4 @ 12'" {
		t.Errorf("resumed with %q", got)
	}
	tabTo(t, b, "#f-lines-0-cuts")
	b.Do(chromedp.KeyEvent(kb.End), chromedp.KeyEvent("\r2 @ 9 ft"))
	until(t, b, "two rows", `document.querySelectorAll("#echo-1 li").length === 2`)
	tabTo(t, b, ".act .primary")
	b.Do(chromedp.KeyEvent("\r"), chromedp.WaitVisible(".path"))
	if got := b.Text("main"); browsertest.Ask[int](b, `document.querySelectorAll("td .long").length`) != 2 {
		t.Errorf("the order says %q", got)
	}
	// What the counter's own printer prints: the sheet without what is for the screen.
	b.Do(chromedp.Func(func(ctx context.Context, to *chromedp.Target) error {
		_, err := cdp.Call(ctx, to, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"})
		return err
	}))
	for selector, shown := range map[string]bool{".strip": false, ".act": false, "h1": true, "td .long": true, ".block": true} {
		if got := browsertest.Ask[bool](b, `(e => !!e && e.getClientRects().length > 0)(document.querySelector("`+selector+`"))`); got != shown {
			t.Errorf("printed, %s is there: %v", selector, got)
		}
	}
}
