package web_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"image"
	"image/png"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"ribdesk/internal/desk"
	"ribdesk/internal/drill/drilltest"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/web/webtest"
)

// gate stands between a client and a site and loses connections as a phone does.
type gate struct {
	listener net.Listener
	to       string
	mode     atomic.Int32
	mu       sync.Mutex
	open     map[net.Conn]bool
	lost     atomic.Int32
}

// What a gate does with a connection.
const (
	passes      int32 = iota
	refuses           // the connection never comes through
	losesAnswer       // the site gets the request, the client no answer
	losesMiddle       // the connection breaks while the request is sent
)

func newGate(t *testing.T, site string) *gate {
	t.Helper()
	u, err := url.Parse(site)
	if err != nil {
		t.Fatal(err)
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	g := &gate{listener: l, to: u.Host, open: map[net.Conn]bool{}}
	go g.accept()
	t.Cleanup(func() { l.Close(); g.cut() })
	return g
}

func (g *gate) url() string { return "http://" + g.listener.Addr().String() }

// set changes what happens to connections, and breaks those that are open.
func (g *gate) set(mode int32) {
	g.mode.Store(mode)
	g.cut()
}

func (g *gate) cut() {
	g.mu.Lock()
	defer g.mu.Unlock()
	for c := range g.open {
		c.Close()
	}
	g.open = map[net.Conn]bool{}
}

func (g *gate) accept() {
	for {
		c, err := g.listener.Accept()
		if err != nil {
			return
		}
		go g.serve(c)
	}
}

func (g *gate) serve(c net.Conn) {
	defer c.Close()
	mode := g.mode.Load()
	if mode == refuses {
		g.lost.Add(1)
		return
	}
	up, err := net.Dial("tcp", g.to)
	if err != nil {
		return
	}
	defer up.Close()
	g.mu.Lock()
	g.open[c], g.open[up] = true, true
	g.mu.Unlock()
	switch mode {
	case losesMiddle:
		g.lost.Add(1)
		_, _ = io.CopyN(up, c, 300) // part of the request
	case losesAnswer:
		g.lost.Add(1)
		go func() { _, _ = io.Copy(up, c) }()
		_, _ = up.Read(make([]byte, 1)) // the site has answered: drop it here
	default:
		go func() { _, _ = io.Copy(up, c); up.Close() }()
		_, _ = io.Copy(c, up)
	}
}

// phone is a client that sends its queue until the desk has it.
type phone struct {
	*http.Client
	at, token string
}

func newPhone(t *testing.T, site *webtest.Site, gate *gate) *phone {
	t.Helper()
	b := site.As(t, party.Driver)
	page := b.Get("/drive/token").Want(http.StatusOK)
	var said struct {
		Token string `json:"form_token"`
	}
	if err := json.Unmarshal(page.Body, &said); err != nil {
		t.Fatal(err)
	}
	from, err := url.Parse(site.URL)
	if err != nil {
		t.Fatal(err)
	}
	to, err := url.Parse(gate.url())
	if err != nil {
		t.Fatal(err)
	}
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	jar.SetCookies(to, b.Client.Jar.Cookies(from))
	return &phone{&http.Client{Jar: jar, Transport: &http.Transport{DisableKeepAlives: true}, Timeout: 5 * time.Second}, gate.url(), said.Token}
}

// post gives the status, 0 when the connection was lost.
func (p *phone) post(t *testing.T, path, kind string, body []byte) int {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, p.at+path, bytes.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", kind)
	r.Header.Set("Accept", "application/json")
	r.Header.Set("X-Form-Token", p.token)
	answer, err := p.Do(r)
	if err != nil {
		return 0
	}
	defer answer.Body.Close()
	if _, err := io.ReadAll(answer.Body); err != nil {
		return 0
	}
	return answer.StatusCode
}

func picture(t *testing.T) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, image.NewGray(image.Rect(0, 0, 40, 30))); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func stopJSON(t *testing.T, key string, stop order.Stop, bundles []order.Bundle) []byte {
	t.Helper()
	ticked := []int64{}
	for _, b := range bundles {
		ticked = append(ticked, b.ID)
	}
	body, err := json.Marshal(map[string]any{
		"key": key, "stop": stop.ID, "receiver": "Wren Sparrow", "at": time.Date(2026, 3, 2, 13, 0, 0, 0, time.UTC), "ticked": ticked,
		"exceptions": []map[string]any{{"bundle": ticked[0], "kind": "damaged", "pieces": 1, "note": "edge bent", "photos": 1}},
	})
	return must(t, body, err)
}

// F18: fifty connections (under drill a hundred) are lost at random, before, within
// and after the request; the phone sends on until it hears. No stop is lost, and
// none is there twice.
func TestFiftyLostConnections(t *testing.T) {
	r := newRoad(t)
	var orders []order.Order
	for i := range drilltest.Times(5, 10) {
		orders = append(orders, r.accepted(fmt.Sprintf("%d Mill Rd", i+1), order.Haul, 3, 10+i))
	}
	r.cut()
	trip := r.onRoad(orders...)
	gate := newGate(t, r.URL)
	phone := newPhone(t, r.Site, gate)
	random := rand.New(rand.NewPCG(50, 7))
	lossy := []int32{refuses, losesAnswer, losesMiddle}
	for i, stop := range trip.Stops {
		key := fmt.Sprintf("phone-key-%d", i)
		body := stopJSON(t, key, stop, r.file(orders[i]).Bundles)
		send := func(path, kind string, body []byte) {
			for range 5 { // each of the ten posts loses five connections
				gate.set(lossy[random.IntN(len(lossy))])
				if got := phone.post(t, path, kind, body); got != 0 {
					t.Fatalf("an answer %d came through a lost connection", got)
				}
			}
			gate.set(passes)
			for range 1 + random.IntN(3) { // and is sent again even after it was heard
				if got := phone.post(t, path, kind, body); got != http.StatusOK {
					t.Fatalf("%s: got %d", path, got)
				}
			}
		}
		send("/drive/sync", "application/json", body)
		send(fmt.Sprintf("/drive/photo?stop=%d&exception=0&key=%s-photo", stop.ID, key), "image/png", picture(t))
	}
	if got := int(gate.lost.Load()); got != 10*len(orders) {
		t.Errorf("%d connections were lost, want %d", got, 10*len(orders))
	}
	r.wantDeliveredOnce(t, trip, orders)
	drilltest.Figure(t, "F18 driver without signal", "0 lost, 0 doubled signatures", "%d connections lost over %d stops: each signed once, each photo there", gate.lost.Load(), len(orders))
	f, err := r.Desk.TripFile(t.Context(), r.Owner, trip.ID)
	if f = must(t, f, err); len(f.Photos) != len(orders) {
		t.Errorf("%d photos of %d", len(f.Photos), len(orders))
	}
	other := stopJSON(t, "another phone", trip.Stops[0], r.file(orders[0]).Bundles)
	if got := phone.post(t, "/drive/sync", "application/json", other); got != http.StatusConflict {
		t.Errorf("the same stop under another key got %d", got)
	}
}

// wantDeliveredOnce checks that each order was handed over just once.
func (r *road) wantDeliveredOnce(t *testing.T, trip order.Trip, orders []order.Order) {
	t.Helper()
	for i, o := range orders {
		f := r.file(o)
		if f.Order.State != order.Delivered {
			t.Errorf("order %s is %s", o.Number, f.Order.State)
		}
		delivered, signed := 0, 0
		for _, e := range f.Events {
			if e.Action == string(order.Delivered) {
				delivered++
			}
		}
		for _, p := range f.Papers {
			if p.Kind == "delivery-ticket" && p.Revision == 2 {
				signed++
			}
		}
		if delivered != 1 || signed != 1 || len(f.Stops) != 1 || f.Stops[0].Receiver != "Wren Sparrow" || f.Stops[0].ID != trip.Stops[i].ID {
			t.Errorf("order %s: delivered %d times, %d signed tickets, stops %+v", o.Number, delivered, signed, f.Stops)
		}
	}
}

// What a phone sends that isn't a stop is refused with words, never with 5xx.
func TestSyncRefuses(t *testing.T) {
	r := newRoad(t)
	o := r.accepted("1 Mill Rd", order.Haul, 3, 10)
	r.cut()
	trip := r.onRoad(o)
	gate := newGate(t, r.URL)
	phone := newPhone(t, r.Site, gate)
	stop := trip.Stops[0].ID
	for _, c := range []struct {
		name, body string
		want       int
	}{
		{"no JSON", "nonsense", 422},
		{"no key", fmt.Sprintf(`{"stop":%d,"receiver":"W"}`, stop), 422},
		{"nobody", fmt.Sprintf(`{"key":"k","stop":%d}`, stop), 422},
		{"no such stop", `{"key":"k","stop":999,"receiver":"W"}`, 404},
		{"signature of another kind", fmt.Sprintf(`{"key":"k","stop":%d,"receiver":"W","signature":"data:image/svg+xml;base64,AAAA"}`, stop), 422},
		{"signature that is no picture", fmt.Sprintf(`{"key":"k","stop":%d,"receiver":"W","signature":"data:image/png;base64,AAAA"}`, stop), 422},
		{"another stop's bundle", fmt.Sprintf(`{"key":"k","stop":%d,"receiver":"W","exceptions":[{"bundle":999,"kind":"short","pieces":1}]}`, stop), 422},
		{"odd kind", fmt.Sprintf(`{"key":"k","stop":%d,"receiver":"W","exceptions":[{"kind":"lost","pieces":1}]}`, stop), 422},
		{"no pieces", fmt.Sprintf(`{"key":"k","stop":%d,"receiver":"W","exceptions":[{"kind":"short"}]}`, stop), 422},
	} {
		if got := phone.post(t, "/drive/sync", "application/json", []byte(c.body)); got != c.want {
			t.Errorf("%s: got %d, want %d", c.name, got, c.want)
		}
	}
	at := fmt.Sprintf("/drive/photo?stop=%d&exception=0&key=", stop)
	large := append(picture(t), make([]byte, desk.MostPhoto)...)
	for name, body := range map[string][]byte{"svg": []byte("<svg/>"), "html": []byte("<html><script>"), "jpeg by its first bytes only": {0xff, 0xd8, 0xff, 0xe0}, "too large": large} {
		if got := phone.post(t, at+"p", "image/png", body); got != 422 {
			t.Errorf("%s: got %d", name, got)
		}
	}
	if got := phone.post(t, at, "image/png", picture(t)); got != 422 {
		t.Errorf("a picture without a key got %d", got)
	}
	phone.token = "forged"
	if got := phone.post(t, "/drive/sync", "application/json", []byte(`{}`)); got != http.StatusForbidden {
		t.Errorf("a forged token got %d", got)
	}
	if f := r.file(o); f.Order.State != order.Loaded || !f.Stops[0].SignedAt.IsZero() {
		t.Errorf("something was handed over: %+v", f.Stops[0])
	}
}

// A picture is served to staff only, to be kept and not opened.
func TestPhotoIsServedAsAttachment(t *testing.T) {
	r := newRoad(t)
	o := r.accepted("1 Mill Rd", order.Haul, 3, 10)
	r.cut()
	trip := r.onRoad(o)
	if err := r.Desk.AddPhoto(t.Context(), r.driver.Actor(), order.Photo{Key: "p", StopID: trip.Stops[0].ID, Body: picture(t)}); err != nil {
		t.Fatal(err)
	}
	page := r.As(t, party.Owner).Get("/photos/1").Want(http.StatusOK)
	if got := page.Header.Get("Content-Disposition"); !strings.HasPrefix(got, "attachment") || page.Header.Get("Content-Type") != "image/png" {
		t.Errorf("served as %q, %q", got, page.Header.Get("Content-Type"))
	}
	r.As(t, party.Buyer).Get("/photos/1").Want(http.StatusForbidden)
}
