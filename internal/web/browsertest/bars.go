package browsertest

import (
	"fmt"
	"strings"

	"github.com/chromedp/chromedp"
)

// heaviest is how many bytes a page may weigh with all it needs, as they are
// stored: compressed where they are sent so, nothing from the cache left out.
const heaviest = 150_000

// Tab opens another tab of the same Chromium, with the same cookies.
func (b *Browser) Tab() *Browser {
	b.t.Helper()
	ctx, closeTab := chromedp.NewContext(b.Ctx)
	b.t.Cleanup(closeTab)
	tab := &Browser{Ctx: ctx, t: b.t, site: b.site}
	tab.Size(1280)
	return tab
}

// Bars are what a page measured that is no yes or no.
type Bars struct {
	LCP   float64 // milliseconds to the largest contentful paint
	Bytes int
}

// HoldToBars opens a page at phone and desk width and fails the test for each
// finding of axe-core in the rules of WCAG 2.2 A and AA, for too little contrast
// on the dark sheet, for a sideways scroll at any width, for a target below 44 px
// on the phone, for what comes from elsewhere, and for a page that weighs too much.
func (b *Browser) HoldToBars(name, path string) (m Bars) {
	b.t.Helper()
	for i, width := range Widths {
		b.Size(width)
		if i == 0 {
			b.Go(path)
			m.Bytes, m.LCP = Ask[int](b, weight), Ask[float64](b, painted)
			if small := Ask[string](b, belowTouch); small != "" {
				b.t.Errorf("%s: targets below 44 px on the phone: %s", name, small)
			}
		}
		b.fits(fmt.Sprintf("%s at %d px", name, width))
		b.find(fmt.Sprintf("%s at %d px", name, width), accessible)
	}
	b.Dark(true)
	b.find(name+", dark", `"color-contrast"`)
	b.Dark(false)
	for _, width := range between {
		b.Size(width)
		b.fits(fmt.Sprintf("%s at %d px", name, width))
	}
	if loose := Ask[string](b, foreign); loose != "" {
		b.t.Errorf("%s loads from elsewhere: %s", name, loose)
	}
	if m.Bytes > heaviest {
		b.t.Errorf("%s weighs %d bytes, more than %d", name, m.Bytes, heaviest)
	}
	return m
}

// accessible are the rules of WCAG 2.2 A and AA, as axe-core names them.
const accessible = `"wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"`

// find fails the test for each violation of axe-core's rules, or sets of them.
func (b *Browser) find(name, rules string) {
	b.t.Helper()
	b.bringAxe()
	found := Ask[string](b, `axe.run(document, {resultTypes: ["violations"], runOnly: [`+rules+`]}).then(r => r.violations
	  .map(v => v.id + ": " + v.help + " at " + v.nodes.map(n => n.target.join(" ")).slice(0, 3).join(", ")).join("\n"))`)
	for line := range strings.Lines(found) {
		b.t.Errorf("%s: %s", name, strings.TrimSpace(line))
	}
}

// weight adds up the page and what it loaded.
const weight = `[...performance.getEntriesByType("navigation"), ...performance.getEntriesByType("resource")].reduce((sum, e) => sum + e.encodedBodySize, 0)`

// painted gives the time of the largest contentful paint so far.
const painted = `new Promise(done => {
  new PerformanceObserver(list => done(list.getEntries().at(-1).startTime)).observe({type: "largest-contentful-paint", buffered: true});
  setTimeout(() => done(0), 500);
})`

// belowTouch names what fingers must hit and is below 44 px, the size that WCAG
// 2.2 asks for at AAA (2.5.5) and the house on the phone. Its exceptions are
// those of the rule: links within a sentence, and what has an equal that is
// large enough (a tick whose label is).
const belowTouch = `[...document.querySelectorAll("a[href], button, input:not([type=hidden]), select, textarea, summary, label.tick")].filter(e => {
  const r = e.getBoundingClientRect(), style = getComputedStyle(e);
  if (!e.checkVisibility() || r.width === 0 || r.bottom < 0 || r.right < 0 || style.clipPath !== "none") return false;
  if (e.closest(".skip, svg, .unseen")) return false;
  if (e.matches("input[type=checkbox], input[type=radio]") && e.closest("label.tick")) return false;
  if (e.matches("a") && !e.matches(".button, .primary") && e.closest("p, li.said, .problems, caption, .quiet, summary") && e.closest("p, .problems, caption, .quiet, summary").innerText.trim() !== e.innerText.trim()) return false;
  return Math.round(r.height) < 44;
}).map(e => e.tagName.toLowerCase() + " " + Math.round(e.getBoundingClientRect().height) + " " + (e.innerText || e.name || e.id).trim().slice(0, 30)).slice(0, 8).join("; ")`
