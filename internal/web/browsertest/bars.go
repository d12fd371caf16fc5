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
// finding of axe-core in the rules of WCAG 2.2 A and AA, for a sideways scroll,
// for a target below 44 px on the phone, and for a page that weighs too much.
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
		at := fmt.Sprintf("%s at %d px", name, width)
		b.fits(at)
		for line := range strings.Lines(b.violations()) {
			b.t.Errorf("%s: %s", at, strings.TrimSpace(line))
		}
	}
	if m.Bytes > heaviest {
		b.t.Errorf("%s weighs %d bytes, more than %d", name, m.Bytes, heaviest)
	}
	return m
}

// violations runs axe-core for every rule of WCAG 2.2 A and AA.
func (b *Browser) violations() string {
	b.t.Helper()
	b.bringAxe()
	return Ask[string](b, `axe.run(document, {resultTypes: ["violations"], runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}).then(r => r.violations
	  .map(v => v.id + ": " + v.help + " at " + v.nodes.map(n => n.target.join(" ")).slice(0, 3).join(", ")).join("\n"))`)
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
