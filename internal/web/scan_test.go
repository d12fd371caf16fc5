package web_test

import (
	"context"
	"fmt"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"ribdesk/internal/desk"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/web/browsertest"
	"ribdesk/internal/web/webtest"
)

// standIn puts something in the place of what a browser has, before any page of
// it runs.
func standIn(b *browsertest.Browser, script string) {
	b.Do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: script})
		return err
	}))
}

// reader is a bar code reader that sees nothing at first and then a code, and a
// camera with a picture of nothing.
const reader = `
window.looks = 0;
window.BarcodeDetector = class {
  static async getSupportedFormats() { return ["aztec", "code_128"]; }
  constructor(o) { window.formats = o.formats.join(); }
  async detect(from) {
    if (!(from instanceof HTMLVideoElement)) throw new Error("no picture");
    return ++window.looks < 3 ? [] : [{ format: "code_128", rawValue: window.name }];
  }
};
navigator.mediaDevices.getUserMedia = async (want) => {
  if (!want.video) throw new Error("no video wanted");
  if (window.name === "refused") throw new DOMException("no", "NotAllowedError");
  const canvas = document.createElement("canvas");
  canvas.getContext("2d").fillRect(0, 0, 10, 10);
  window.track = canvas.captureStream(10);
  return window.track;
};`

// picked is an order from the shelf whose bundle isn't checked off yet.
func picked(t *testing.T, site *webtest.Site) (path, code string) {
	t.Helper()
	o, err := site.Desk.TakeOrder(t.Context(), site.Owner, order.Order{CustomerID: 1, Fulfil: order.PickUp, Lines: []order.Line{{Kind: order.Accessory, Code: "SEALANT", Count: 1}}})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := site.Desk.QuoteOrder(t.Context(), site.Owner, o.ID, o.Version, nil); err != nil {
		t.Fatal(err)
	}
	if _, err := site.Desk.AcceptOrder(t.Context(), site.Owner, o.ID, 0, desk.Yes{Name: "Wren", Consent: true}); err != nil {
		t.Fatal(err)
	}
	if _, err := site.Desk.PickFromShelf(t.Context(), site.Owner, o.ID); err != nil {
		t.Fatal(err)
	}
	f, err := site.Desk.OrderFile(t.Context(), site.Owner, o.ID)
	if err != nil {
		t.Fatal(err)
	}
	return fmt.Sprintf("/orders/%d/pick", o.ID), f.Bundles[0].Code
}

// Where the browser reads bar codes the camera checks a bundle off; a code that
// is a link counts by its end. Where the camera isn't allowed, or the browser
// reads none, the code is typed.
func TestScanning(t *testing.T) {
	t.Parallel()
	site := webtest.Furnished(t)
	b := browsertest.Start(t, site)
	b.Size(360)
	b.As(party.Counter)
	all := `document.querySelector(".say").innerText.startsWith("All picked")`
	typed := func(code string) {
		t.Helper()
		b.Do(chromedp.SendKeys("#f-code", code), chromedp.Click(".act .primary"))
		waitFor(t, b, "checking off what was typed", all)
	}
	path, code := picked(t, site)
	standIn(b, `delete window.BarcodeDetector`)
	b.Go(path)
	if browsertest.Ask[bool](b, `document.querySelector("[data-scan] button") !== null`) {
		t.Error("a camera is offered though nothing reads its picture")
	}
	typed(code)

	standIn(b, reader)
	path, code = picked(t, site)
	b.Go(path)
	browsertest.Ask[bool](b, fmt.Sprintf(`(window.name = "https://desk.example.com/b/%s", true)`, code))
	waitFor(t, b, "offering the camera", `document.querySelector("[data-scan] button[type=button]") !== null`)
	b.Findings("pick with a camera")
	tap(b, "[data-scan] button[type=button]")
	waitFor(t, b, "checking off what was scanned", all)
	if got := browsertest.Ask[string](b, "location.pathname"); got != path {
		t.Errorf("it leads to %s", got)
	}

	path, code = picked(t, site)
	browsertest.Ask[bool](b, `(window.name = "refused", true)`)
	b.Go(path)
	waitFor(t, b, "offering the camera", `document.querySelector("[data-scan] button[type=button]") !== null`)
	if got := browsertest.Ask[string](b, "window.formats"); got != "code_128" {
		t.Errorf("it reads %s", got)
	}
	tap(b, "[data-scan] button[type=button]")
	waitFor(t, b, "saying that the camera isn't allowed", `document.querySelector("[data-scan]").innerText.includes("type the code")`)
	typed(code)
}
