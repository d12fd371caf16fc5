// Package browsertest looks at pages in a real Chromium: takes pictures of them,
// walks through them, and holds them to the bars of the house (no sideways
// scroll, targets large enough, no serious finding of axe-core).
//
// Where Chromium isn't installed its tests are skipped with a notice; under CI
// (environment variable CI set) that is a failure. With RIBDESK_SHOTS naming a
// folder, pictures are kept there.
//
// axe.min.js is axe-core 4.14.1, Mozilla Public License 2.0 (axe-LICENSE.txt),
// unchanged, and only for tests.
package browsertest

import (
	"context"
	_ "embed"
	"encoding/json"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"

	"ribdesk/internal/party"
	"ribdesk/internal/web/webtest"
)

//go:embed axe.min.js
var axe string

// Widths are those every page is looked at: a phone held upright, and a desk.
var Widths = []int64{360, 1280}

// between are widths at which a page must only fit: WCAG's narrowest (1.4.10),
// and those about the style sheet's own steps.
var between = []int64{320, 768, 870, 1110}

// Browser is one window of Chromium on a site.
type Browser struct {
	Ctx  context.Context // for chromedp.Run and chromedp.Do
	t    testing.TB
	site *webtest.Site
}

// Start opens Chromium on a site, signed in as nobody.
func Start(t testing.TB, site *webtest.Site) *Browser {
	t.Helper()
	path := find(t)
	allocator, stop := chromedp.NewExecAllocator(context.Background(), append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(path), chromedp.UserDataDir(t.TempDir()),
		chromedp.Flag("no-sandbox", os.Getuid() == 0), chromedp.Flag("disable-gpu", true), chromedp.Flag("disable-quic", true),
		chromedp.Flag("disable-component-update", true), chromedp.Flag("hide-scrollbars", true),
	)...)
	ctx, closeTab := chromedp.NewContext(allocator)
	ctx, cancel := context.WithTimeout(ctx, 6*time.Minute)
	t.Cleanup(func() { cancel(); closeTab(); stop() })
	b := &Browser{Ctx: ctx, t: t, site: site}
	b.Size(1280)
	return b
}

func find(t testing.TB) string {
	t.Helper()
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	const missing = "Chromium isn't installed: pages aren't looked at; Debian has it as 'chromium'"
	if os.Getenv("CI") != "" {
		t.Fatal(missing)
	}
	t.Skip(missing)
	return ""
}

// Do runs steps and fails the test on an error.
func (b *Browser) Do(steps ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	if err := chromedp.Do(b.Ctx, steps...); err != nil {
		b.t.Fatal(err)
	}
}

// Size sets the window's width; the height is a phone's or a desk's.
func (b *Browser) Size(width int64) {
	b.t.Helper()
	height := int64(800)
	if width < 600 {
		height = 740
	}
	b.Do(chromedp.EmulateViewport(width, height))
}

// Dark asks for the dark or the light sheet.
func (b *Browser) Dark(on bool) {
	b.t.Helper()
	scheme := "light"
	if on {
		scheme = "dark"
	}
	b.Do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
			Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}},
		})
		return err
	}))
}

// As signs the browser in as a role, or out for a Visitor.
func (b *Browser) As(role party.Role) {
	b.t.Helper()
	u, err := url.Parse(b.site.URL)
	if err != nil {
		b.t.Fatal(err)
	}
	cookies := b.site.As(b.t, role).Client.Jar.Cookies(u)
	b.Do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		if _, err := cdp.Call(ctx, t, network.ClearBrowserCookies, cdp.Empty{}); err != nil {
			return err
		}
		for _, c := range cookies {
			if _, err := cdp.Call(ctx, t, network.SetCookie, network.SetCookieParams{Name: c.Name, Value: c.Value, URL: b.site.URL, HTTPOnly: new(true)}); err != nil {
				return err
			}
		}
		return nil
	}))
}

// Go opens a page.
func (b *Browser) Go(path string) {
	b.t.Helper()
	b.Do(chromedp.Navigate(b.site.URL + path))
}

// Ask gives the value of a script on the page.
func Ask[T any](b *Browser, script string) T {
	b.t.Helper()
	v, err := chromedp.Run(b.Ctx, chromedp.Evaluate[T](script, chromedp.EvalAwaitPromise))
	if err != nil {
		b.t.Fatalf("%s: %v", script, err)
	}
	return v
}

// Text gives the words a selector shows.
func (b *Browser) Text(selector string) string {
	b.t.Helper()
	quoted, err := json.Marshal(selector)
	if err != nil {
		b.t.Fatal(err)
	}
	return Ask[string](b, fmt.Sprintf("[...document.querySelectorAll(%s)].map(e => e.innerText).join(' ')", quoted))
}

// Shot keeps a picture of the whole page, if pictures are wanted.
func (b *Browser) Shot(name string) {
	b.t.Helper()
	folder := os.Getenv("RIBDESK_SHOTS")
	if folder == "" {
		return
	}
	picture, err := chromedp.Run(b.Ctx, chromedp.FullScreenshot(100))
	if err != nil {
		b.t.Fatal(err)
	}
	if err := os.MkdirAll(folder, 0o755); err != nil {
		b.t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(folder, name+".png"), picture, 0o644); err != nil {
		b.t.Fatal(err)
	}
}

// Look opens a page at each width, on the light and the dark sheet, keeps
// pictures of it, and holds it to the bars.
func (b *Browser) Look(name, path string) {
	b.t.Helper()
	for _, width := range Widths {
		b.Size(width)
		b.Dark(false)
		b.Go(path)
		b.LookHere(fmt.Sprintf("%s-%d", name, width))
	}
	for _, width := range between {
		b.Size(width)
		b.fits(fmt.Sprintf("%s-%d", name, width))
	}
	b.Size(1280)
	b.Dark(true)
	b.Findings(name + " dark")
	b.Shot(name + "-dark")
	b.Dark(false)
}

// fits checks that the page doesn't scroll sideways at the present width.
func (b *Browser) fits(name string) {
	b.t.Helper()
	if over := Ask[int](b, "document.documentElement.scrollWidth - window.innerWidth"); over > 0 {
		b.t.Errorf("%s scrolls sideways by %d px: %s", name, over, Ask[string](b, widest))
	}
}

// LookHere does so with the page as it stands, at the present width.
func (b *Browser) LookHere(name string) {
	b.t.Helper()
	b.Shot(name)
	b.fits(name)
	if small := Ask[string](b, tooSmall); small != "" {
		b.t.Errorf("%s: targets below 24 px: %s", name, small)
	}
	if loose := Ask[string](b, foreign); loose != "" {
		b.t.Errorf("%s loads from elsewhere: %s", name, loose)
	}
	b.Findings(name)
}

// widest names what sticks out.
const widest = `[...document.querySelectorAll("body *")].filter(e => e.getBoundingClientRect().right > innerWidth + 1 && !e.closest(".scroll")).map(e => e.tagName + "." + e.className).slice(0, 5).join(", ")`

// tooSmall names targets below WCAG 2.2's 24 px (2.5.8). Links inside a sentence
// are exempt there, and so are the skip link while it is out of sight.
const tooSmall = `[...document.querySelectorAll("a, button, input:not([type=hidden]), select, textarea, summary")].filter(e => {
  const r = e.getBoundingClientRect();
  return r.width > 0 && !e.closest("p, .skip, .problems li, label") && (r.width < 24 || r.height < 24);
}).map(e => e.tagName + " " + (e.innerText || e.name)).slice(0, 5).join(", ")`

// foreign names what was fetched from another origin.
const foreign = `performance.getEntriesByType("resource").map(e => e.name).filter(n => !n.startsWith(location.origin)).join(", ")`

// bringAxe puts axe-core on the page unless it is there.
func (b *Browser) bringAxe() {
	b.t.Helper()
	if Ask[bool](b, "!!window.axe") {
		return
	}
	b.Do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := chromedp.Evaluate[*struct{}](axe+"; null")(ctx, t)
		return err
	}))
}

// Findings fails the test for each serious or critical finding of axe-core in
// the rules of WCAG 2.2 A and AA.
func (b *Browser) Findings(name string) {
	b.t.Helper()
	b.bringAxe()
	found := Ask[string](b, `axe.run(document, {resultTypes: ["violations"], runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}).then(r => r.violations
	  .filter(v => v.impact === "serious" || v.impact === "critical")
	  .map(v => v.id + ": " + v.help + " at " + v.nodes.map(n => n.target.join(" ")).slice(0, 3).join(", ")).join("\n"))`)
	for line := range strings.Lines(found) {
		b.t.Errorf("%s: %s", name, strings.TrimSpace(line))
	}
}
