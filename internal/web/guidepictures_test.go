package web_test

import (
	"context"
	"fmt"
	"os"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"ribdesk/internal/desk"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/web/browsertest"
	"ribdesk/internal/web/webtest"
	"ribdesk/internal/words"
)

// guideShot is a picture of the guide: what of which page, as whom, after what.
type guideShot struct {
	name   string
	role   party.Role
	width  int64
	path   string
	before func(t *testing.T, b *browsertest.Browser)
	from   string // what it shows, from the top of this …
	to     string // … to the foot of this, which may be the same
	tall   int    // at most
}

// The widths of a screen that pictures are taken at: as customers and as the
// shop see the pages.
const handWidth, deskWidth = 420, 1000

// heaviestPicture is how many bytes a picture may have: a chapter shows up to
// three beside the 70 kB of type and style.
const heaviestPicture = 40_000

// TestTakeGuidePictures takes the pictures of the guide from the demo, when
// asked to: 'make guide'.
func TestTakeGuidePictures(t *testing.T) {
	if os.Getenv("RIBDESK_GUIDE") != "write" {
		t.Skip("takes the guide's pictures only when RIBDESK_GUIDE is 'write'")
	}
	site := lived(t)
	b := browsertest.Start(t, site)
	for _, l := range words.Languages {
		for _, shot := range guideShots(t, site) {
			if shot.role.Staff() && l.Code != words.English {
				continue
			}
			b.As(shot.role)
			b.Do(chromedp.Func(func(ctx context.Context, target *chromedp.Target) error {
				_, err := cdp.Call(ctx, target, network.SetCookie, network.SetCookieParams{Name: "language", Value: string(l.Code), URL: site.URL})
				return err
			}))
			b.Size(shot.width)
			b.Go(shot.path)
			if shot.before != nil {
				shot.before(t, b)
			}
			browsertest.Ask[any](b, `document.querySelector(".foot").style.display = "none"`) // lies over the page
			takeGuidePicture(t, b, shot, fmt.Sprintf("../../static/guide/%s-%s.webp", shot.name, l.Code))
		}
	}
}

// takeGuidePicture writes what a picture shows, in the size of the screen.
func takeGuidePicture(t *testing.T, b *browsertest.Browser, shot guideShot, file string) {
	t.Helper()
	box := browsertest.Ask[[]float64](b, fmt.Sprintf(`(() => {
		const a = document.querySelector(%q).getBoundingClientRect(), z = document.querySelector(%q).getBoundingClientRect();
		const pad = 8, left = Math.max(0, Math.min(a.left, z.left) - pad), right = Math.min(innerWidth, Math.max(a.right, z.right) + pad);
		return [left, a.top + scrollY - pad, right - left, Math.min(%d, z.bottom - a.top + 2 * pad)];
	})()`, shot.from, shot.to, shot.tall))
	var body []byte
	b.Do(chromedp.Func(func(ctx context.Context, target *chromedp.Target) error {
		got, err := cdp.Call(ctx, target, page.CaptureScreenshot, page.CaptureScreenshotParams{
			Format: "webp", Quality: new(int64(60)), CaptureBeyondViewport: new(true),
			Clip: &page.Viewport{X: box[0], Y: box[1], Width: box[2], Height: box[3], Scale: 1},
		})
		body = got.Data
		return err
	}))
	if len(body) > heaviestPicture {
		t.Errorf("%s has %d bytes, more than %d: show less", file, len(body), heaviestPicture)
	}
	if err := os.WriteFile(file, body, 0o644); err != nil {
		t.Fatal(err)
	}
}

// guideShots lists the pictures; a new quote each time, so that it is open.
func guideShots(t *testing.T, site *webtest.Site) []guideShot {
	t.Helper()
	q := quoteFor(t, site, mine, 22, "Barn")
	made, err := site.Desk.Orders(t.Context(), site.Owner, desk.OrderFilter{CustomerID: mine, States: []order.State{order.Accepted, order.Planned}, Limit: 1})
	if err != nil || len(made) == 0 {
		t.Fatal("no order of the demo is planned: ", err)
	}
	roof := ownRoof(t, site)
	priced := func(t *testing.T, b *browsertest.Browser) {
		s := &steps{b: b}
		s.choose("#f-lines-0-make", seam)
		until(t, b, "metals of the panel", `!!document.querySelector("#choice-1[data-key='formed:SEAM16']")`)
		s.choose("#f-lines-0-metal", charcoal)
		s.line("#f-lines-0-cuts", "12 @ 24' 6-1/2\"\n8 @ 18-3\n6 @ 9 ft")
		until(t, b, "price", `/26/.test(document.querySelector(".echo-head").innerText) && !!document.querySelector("#slip .prices")`)
		browsertest.Ask[any](b, `document.activeElement.blur()`)
	}
	forShop := func(t *testing.T, b *browsertest.Browser) {
		priced(t, b)
		browsertest.Ask[any](b, `document.querySelector("#for-shop").open = true`)
	}
	pasted := func(t *testing.T, b *browsertest.Browser) {
		b.Do(chromedp.SendKeys("#give textarea", "North side\n4 @ 12' 6\"\n6 @ 9 ft 3 in\n3 @ 12.6\n2 @ 18'"), chromedp.Click(".act .primary"), chromedp.WaitVisible("#list"))
	}
	return []guideShot{
		{"lengths", party.Visitor, handWidth, "/counter", priced, ".cutlist", ".cutlist", 480},
		{"slip", party.Visitor, handWidth, "/counter", priced, "#slip h2", "#slip .facts", 560},
		{"list", party.Visitor, handWidth, "/counter/list", pasted, "#list tr.amiss", "#list tr.amiss", 640},
		{"roof", party.Buyer, handWidth, roof, nil, "#slip h2", "#slip", 640},
		{"trim", party.Visitor, handWidth, "/trim?shape=drip-edge", nil, "#drawn", "#drawn", 520},
		{"accept", party.Visitor, handWidth, "/q/" + q.Token, nil, "#accept-title", "#accept", 560},
		{"track", party.Buyer, handWidth, fmt.Sprintf("/orders/%d", made[0].ID), nil, ".path", ".columns .facts", 620},
		{"counter", party.Counter, handWidth, "/counter", forShop, "#for-shop", "#for-shop", 480},
		{"plan", party.Owner, deskWidth, "/plan", nil, "#sheet svg[viewBox]", "#sheet svg[viewBox]", 420},
		{"coils", party.Owner, deskWidth, "/coils", nil, "#sheet h2", "#sheet .frame", 420},
	}
}
