package web_test

import (
	"net/url"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"ribdesk/internal/party"
	"ribdesk/internal/store/storetest"
	"ribdesk/internal/web"
	"ribdesk/internal/web/browsertest"
	"ribdesk/internal/web/webtest"
)

// TestLook looks at names that are long, a search that finds nothing, and an
// address that leads nowhere: TestEveryPage has none of them.
func TestLook(t *testing.T) {
	t.Parallel()
	site := webtest.Start(t)
	fill(t, site)
	b := browsertest.Start(t, site)
	b.As(party.Owner)
	for _, page := range []struct{ name, path string }{
		{"customers", "/customers"}, {"customer", "/customers/1"}, {"customers-none", "/customers?q=zzz"}, {"nothing", "/nowhere"},
	} {
		b.Look(page.name, page.path)
	}
}

func TestLookAtTheMenu(t *testing.T) {
	site := webtest.Start(t)
	b := browsertest.Start(t, site)
	b.As(party.Owner)
	b.Size(360)
	b.Go("/shop")
	b.Do(chromedp.Click(".menu summary"), chromedp.WaitVisible(".menu-open"))
	b.Shot("menu-360") // it covers links of the page, which axe takes for small targets
	b.Size(900)
	b.Go("/customers")
	b.LookHere("customers-900")
}

func TestLookAtFirstRun(t *testing.T) {
	t.Parallel()
	b := browsertest.Start(t, webtest.Empty(t, storetest.Open(t), web.Options{}))
	b.Look("first-run", "/first-run")
}

// A wrong form in a real browser: the list on top has the focus, its link leads
// into the field, and what was typed is there.
func TestErrorsInTheBrowser(t *testing.T) {
	site := webtest.Start(t)
	b := browsertest.Start(t, site)
	b.As(party.Owner)
	for _, width := range browsertest.Widths {
		b.Size(width)
		b.Go("/shop/people/new")
		b.Do(
			chromedp.SendKeys("#f-name", "Dee"), chromedp.SendKeys("#f-email", "not an address"), chromedp.SendKeys("#f-password", "short"),
			chromedp.Click(".act .primary"), chromedp.WaitVisible(".problems"),
		)
		b.LookHere("errors-" + map[bool]string{true: "360", false: "1280"}[width == 360])
		if got := browsertest.Ask[string](b, "document.activeElement.className"); got != "problems" {
			t.Errorf("the focus is at %q", got)
		}
		if got := browsertest.Ask[string](b, "document.querySelector('#f-name').value"); got != "Dee" {
			t.Errorf("the name is %q now", got)
		}
	}
}

func fill(t *testing.T, site *webtest.Site) {
	t.Helper()
	b := site.As(t, party.Owner)
	for _, name := range []string{"Long Valley Standing Seam & Gutter Contractors of the Upper Fork", "Able Metal", "Barn & Beam"} {
		b.Submit(b.Get("/customers/new"), "#customer", url.Values{"name": {name}, "city": {"Westfork"}, "phone": {"555 0142"}, "terms": {"30"}, "credit_limit": {"12000"}, "hold": {strings.Repeat("yes", len(name)%2)}})
	}
	b.Submit(b.Get("/customers/1/sites/new"), "#site", url.Values{"name": {"Barn on the hill"}, "street": {"2 Mill Rd"}, "city": {"Eastfork"}, "state": {"OH"}, "miles": {"12.5"}}).WantRedirect("/customers/1")
	b.Submit(b.Get("/customers/1/certificates/new"), "#certificate", url.Values{"number": {"R-10 442"}, "state": {"OH"}, "signed": {"1/5/2026"}, "expires": {"12/31/2027"}}).WantRedirect("/customers/1")
}
