package web_test

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"ribdesk/internal/desk"
	"ribdesk/internal/measure"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
	"ribdesk/internal/web/browsertest"
)

// A run dragged on the lanes, moved and held by the keyboard, taken back, and
// the week on one sheet of paper, in a browser.
func TestPlanInTheBrowser(t *testing.T) {
	t.Parallel()
	r := newRoad(t)
	r.Site.Pass(10 * time.Hour) // after hours: nothing of tomorrow is too near to be moved
	panels := func(profile, colour string, qty int) {
		o := order.Order{CustomerID: 1, Fulfil: order.PickUp, Contact: order.Contact{Name: "Wren Sparrow"},
			Lines: []order.Line{{Kind: order.Formed, Code: profile, Material: "AZ50", Gauge: "24 ga", Colour: colour, Cuts: []order.CutItem{{Qty: qty, Length: 12 * measure.Foot}}}}}
		o = must(t, r.take(o), nil)
		q, err := r.Desk.QuoteOrder(t.Context(), r.Owner, o.ID, 0, nil)
		q = must(t, q, err)
		_, err = r.Desk.AcceptOrder(t.Context(), r.Owner, q.Order.ID, 0, desk.Yes{Name: "Wren Sparrow", Consent: true, Method: "counter"})
		must(t, 0, err)
	}
	for i, colour := range []string{"CHAR", "WHT", "BRZ"} {
		panels("SEAM16", colour, 60+30*i)
	}
	p, err := r.Desk.ProposePlan(t.Context(), r.Owner)
	p = must(t, p, err)
	_, err = r.Desk.AdoptPlan(t.Context(), r.Owner, p.Stamp)
	must(t, 0, err)

	b := browsertest.Start(t, r.Site)
	b.As(party.Owner)
	b.Go("/plan")
	runs := func() []string {
		return browsertest.Ask[[]string](b, `[...document.querySelectorAll("li.run")].map(r => r.id.slice(4))`)
	}
	adopt := func() {
		b.Do(chromedp.WaitReady("#adopt"), chromedp.Click(`button[form="adopt"]`), chromedp.WaitReady("[data-lanes]"))
	}
	start := runs()
	if len(start) < 3 {
		t.Fatalf("%d runs stand in the plan", len(start))
	}
	first := start[0]

	// Drag the first run behind the last.
	at := browsertest.Ask[[]float64](b, `(() => {
		document.querySelector("[data-lanes]").scrollIntoView({block: "center", behavior: "instant"});
		const spots = [...document.querySelectorAll(".spots rect:not([data-near])")].map(s => [s, s.getBoundingClientRect()]);
		const [, of] = spots.find(([s]) => s.dataset.line == "`+first+`");
		return [of.left + of.width / 2, of.top + of.height / 2, Math.max(...spots.map(([, r]) => r.right)) + 20, of.top + of.height / 2];
	})()`)
	b.Do(chromedp.DragAndDropXY(at[0], at[1], at[2], at[3]+600)) // beside all lanes: let go
	if here := browsertest.Ask[string](b, `location.pathname`); here != "/plan" {
		t.Fatalf("dropped beside the lanes, the run leads to %s", here)
	}
	b.Do(chromedp.DragAndDropXY(at[0], at[1], at[2], at[3]))
	adopt()
	dragged := runs()
	if dragged[len(dragged)-1] != first {
		t.Fatalf("dragged to the end, the runs stand %v; before %v", dragged, start)
	}

	// The keyboard opens the buttons of that run, moves it earlier, and holds it.
	press := func(how string) {
		b.Do(chromedp.Focus("#run-"+first+" summary"), chromedp.KeyEvent(kb.Enter),
			chromedp.WaitVisible(fmt.Sprintf(`#run-%s button[value=%q]`, first, how)),
			chromedp.Focus(fmt.Sprintf(`#run-%s button[value=%q]`, first, how)), chromedp.KeyEvent(kb.Enter))
	}
	press("earlier")
	adopt()
	earlier := runs()
	if slices.Index(earlier, first) != len(dragged)-2 {
		t.Errorf("moved earlier, the runs stand %v; before %v", earlier, dragged)
	}
	press("pin")
	b.Do(chromedp.WaitReady(fmt.Sprintf(`#run-%s button[value="free"]`, first)))
	if got := b.Text("#run-" + first); !strings.Contains(got, "held") {
		t.Errorf("held by the keyboard, the run says %q", got)
	}

	// Taken back, it stands as before the last change that was adopted.
	b.Do(chromedp.Click(`a[href="/plan/proposal?do=undo"]`))
	adopt()
	if got := runs(); !slices.Equal(got, dragged) {
		t.Errorf("taken back to %v, it was %v", got, dragged)
	}

	// A full week, and promises that a breakdown breaks, still print on one sheet.
	for i, profile := range []string{"LOCK18", "BATTEN12", "SEAM16", "LOCK18", "BATTEN12", "SEAM16", "LOCK18", "BATTEN12"} {
		panels(profile, []string{"CHAR", "WHT", "BRZ"}[i/3], 4+i)
	}
	now := r.Site.Now()
	down := desk.PlanChange{Block: &stock.Block{Machine: "FORMER", From: now, To: now.Add(30 * time.Hour), Kind: stock.Down, Reason: "gearbox"}}
	p, err = r.Desk.ProposeChange(t.Context(), r.Owner, down)
	p = must(t, p, err)
	_, err = r.Desk.AdoptChange(t.Context(), r.Owner, down, p.Stamp)
	must(t, 0, err)
	b.Go("/plan")
	if broken := browsertest.Ask[int](b, `document.querySelectorAll(".slips tbody tr").length`); broken == 0 || len(runs()) < 8 {
		t.Errorf("%d promises are missed, %d runs stand in the plan", broken, len(runs()))
	}
	pdf := printed(t, b)
	if n := len(regexp.MustCompile(`/Type\s*/Page\b[^s]`).FindAll(pdf, -1)); n != 1 {
		t.Errorf("the week prints on %d sheets", n)
	}
	if !bytes.HasPrefix(pdf, []byte("%PDF")) {
		t.Error("what is printed is no PDF")
	}
}

// printed gives the page as the browser prints it.
func printed(t *testing.T, b *browsertest.Browser) (pdf []byte) {
	t.Helper()
	b.Do(chromedp.Func(func(ctx context.Context, target *chromedp.Target) error {
		got, err := cdp.Call(ctx, target, page.PrintToPDF, page.PrintToPDFParams{PreferCSSPageSize: new(true)})
		pdf = got.Data
		return err
	}))
	if folder := os.Getenv("RIBDESK_SHOTS"); folder != "" {
		if err := os.WriteFile(filepath.Join(folder, "plan.pdf"), pdf, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return pdf
}
