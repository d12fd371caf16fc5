package web_test

import (
	"context"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"ribdesk/internal/desk"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/web"
	"ribdesk/internal/web/webtest"
)

// The owner gives an address on the page; a quote is told to it with id, time and
// signature, and the page shows that it was taken. Then it is turned off.
func TestHookPage(t *testing.T) {
	site := webtest.Furnished(t)
	told := make(chan *http.Request, 10)
	bodies := make(chan string, 10)
	receiver := httptest.NewServer(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
		body, _ := io.ReadAll(r.Body)
		told <- r
		bodies <- string(body)
	}))
	defer receiver.Close()
	owner := site.As(t, party.Owner)
	page := owner.Submit(owner.Get("/shop/programs"), "#hook", url.Values{"url": {"http://books.example.com"}, "tell.order-quoted": {"yes"}}).Want(422)
	if page.Text("#f-url-error") == "" {
		t.Error("nothing said at the address")
	}
	page = owner.Submit(page, "#hook", url.Values{"url": {receiver.URL}}).Want(200)
	if !strings.HasPrefix(page.Text(".letters"), "whsec_") {
		t.Error("no secret")
	}
	o, err := site.Desk.TakeOrder(t.Context(), site.Owner, order.Order{CustomerID: 1, Fulfil: order.PickUp, Lines: []order.Line{{Kind: order.Accessory, Code: "SEALANT", Count: 1}}})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := site.Desk.QuoteOrder(t.Context(), site.Owner, o.ID, o.Version, nil); err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(t.Context())
	done := make(chan struct{})
	go func() { site.Handler.(*web.Server).TellHooks(ctx); close(done) }()
	select {
	case r := <-told:
		if r.Header.Get("webhook-id") == "" || r.Header.Get("webhook-timestamp") == "" || !strings.HasPrefix(r.Header.Get("webhook-signature"), "v1,") {
			t.Errorf("headers %v", r.Header)
		}
		if body := <-bodies; !strings.Contains(body, `"type":"order.quoted"`) || !strings.Contains(body, `"path":"/api/v1/orders/1"`) {
			t.Errorf("told %s", body)
		}
	case <-time.After(10 * time.Second):
		t.Fatal("nothing was told")
	}
	taken := func() bool {
		hooks, err := site.Desk.Hooks(t.Context(), site.Owner)
		return err == nil && len(hooks[0].Latest) == 1 && hooks[0].Latest[0].Outcome == "taken"
	}
	for end := time.Now().Add(5 * time.Second); !taken() && time.Now().Before(end); time.Sleep(10 * time.Millisecond) {
	}
	stop()
	<-done
	page = owner.Get("/shop/programs").Want(200)
	if got := page.Text("#hooks"); !strings.Contains(got, "taken") {
		t.Errorf("the page says %q", got)
	}
	owner.Submit(page, "form[action=/shop/hooks/1/off]", nil).WantRedirect("/shop/programs")
	if kinds := desk.HookKinds(); len(kinds) != 7 {
		t.Errorf("kinds %v", kinds)
	}
}
