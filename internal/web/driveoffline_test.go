package web_test

import (
	"context"
	"fmt"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"

	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/web/browsertest"
)

// offline takes the phone out of reach: its connections break and it knows.
func offline(b *browsertest.Browser, g *gate, off bool) {
	mode := passes
	if off {
		mode = refuses
	}
	g.set(mode)
	b.Do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, network.OverrideNetworkState, network.OverrideNetworkStateParams{Offline: off, DownloadThroughput: -1, UploadThroughput: -1})
		return err
	}))
}

// tap clicks an element in the middle of the screen, away from the fixed button.
func tap(b *browsertest.Browser, selector string) {
	browsertest.Ask[bool](b, fmt.Sprintf(`(document.querySelector(%q).scrollIntoView({block: "center", behavior: "instant"}), true)`, selector))
	b.Do(chromedp.Click(selector))
}

// waitFor waits for a script to give true.
func waitFor(t *testing.T, b *browsertest.Browser, what, script string) {
	t.Helper()
	for range 150 {
		if ok, err := chromedp.Run(b.Ctx, chromedp.Evaluate[bool](script)); err == nil && ok {
			return
		}
		time.Sleep(100 * time.Millisecond)
	}
	t.Fatalf("%s didn't happen; the page is %s: %s", what, browsertest.Ask[string](b, "location.href"), b.Text("body"))
}

const (
	queued = `document.querySelector("[data-queue]") && document.querySelector("[data-queue]").innerText.includes("%d not sent")`
	empty  = `document.querySelector("[data-drive]") && document.querySelector("[data-drive]").dataset.queue === "0"`
)

// The driver goes out of reach in mid-stop: the stop is kept on the phone, the
// next one opens and is handed over as well, all pages stay readable; back in
// reach, with answers lost on the way, each is at the desk once. Signing out
// wipes the phone.
func TestDriverWithoutSignal(t *testing.T) {
	r := newRoad(t)
	orders := []order.Order{r.accepted("1 Mill Rd", order.Haul, 4, 12), r.accepted("2 Mill Rd", order.Haul, 4, 14)}
	r.cut()
	trip := r.onRoad(orders...)
	g := newGate(t, r.URL)
	r.URL = g.url()
	b := browsertest.Start(t, r.Site)
	b.Size(360)
	b.As(party.Driver)
	b.Go("/drive")
	waitFor(t, b, "keeping today's stops", `document.querySelector("[data-drive]").dataset.kept === "yes"`)

	first, second := fmt.Sprintf("/drive/stops/%d", trip.Stops[0].ID), fmt.Sprintf("/drive/stops/%d", trip.Stops[1].ID)
	b.Go(first)
	b.Do(chromedp.SendKeys("#f-receiver", "Wren"))
	offline(b, g, true)
	b.Do(chromedp.SendKeys("#f-receiver", " Sparrow"), chromedp.Click(".act .primary"))
	waitFor(t, b, "saying what is missing", `!document.querySelector("[data-problems]").hidden`)
	tap(b, "[name=ticked]")
	tap(b, "[data-sign] canvas")
	b.Do(chromedp.Click(".act .primary"))
	waitFor(t, b, "queueing the first stop", fmt.Sprintf(queued, 1))
	if got := browsertest.Ask[string](b, `location.pathname + " " + document.querySelector(".act a").pathname`); got != "/drive "+second {
		t.Errorf("without signal the page and its button are %s", got)
	}
	b.Shot("drive-offline-360")
	b.Findings("drive offline")

	b.Go(second)
	b.Do(chromedp.SendKeys("#f-receiver", "Wren Sparrow"))
	b.Go(second) // a reload in mid-stop
	if got := browsertest.Ask[string](b, `document.querySelector("#f-receiver").value`); got != "Wren Sparrow" {
		t.Errorf("after a reload the name is %q", got)
	}
	tap(b, "[name=ticked]")
	b.Do(chromedp.Click(".act .primary"))
	waitFor(t, b, "queueing the second stop", fmt.Sprintf(queued, 2))
	if f := r.file(orders[0]); f.Order.State != order.Loaded {
		t.Errorf("the desk knows of it already: %s", f.Order.State)
	}

	offline(b, g, false)
	g.set(losesAnswer) // the desk hears, the phone doesn't
	b.Go("/drive")
	time.Sleep(500 * time.Millisecond)
	g.set(passes)
	b.Go("/drive")
	waitFor(t, b, "sending", empty)
	r.wantDeliveredOnce(t, trip, orders)
	if s := r.file(orders[0]).Stops[0]; len(s.Signature) == 0 {
		t.Error("the signature is lost")
	}

	b.Go("/me")
	b.Do(chromedp.Click(`form[action="/sign-out"] button`), chromedp.WaitVisible("#sign-in"))
	left := browsertest.Ask[string](b, `Promise.all([indexedDB.databases(), caches.keys(), navigator.serviceWorker.getRegistrations()]).then(a => JSON.stringify([...a.slice(0, 2), a[2].length]))`)
	if left != "[[],[],0]" {
		t.Errorf("after signing out the phone still has %s", left)
	}
}
