package web_test

import (
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"ribdesk/internal/desk"
	"ribdesk/internal/measure"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
	"ribdesk/internal/store/storetest"
	"ribdesk/internal/web"
	"ribdesk/internal/web/webtest"
)

// livedIn is a furnished site with 10,000 orders on file, 60 of them in the run
// plan. They are written by the store, as no shop takes that many in a test's time.
func livedIn(b *testing.B) *webtest.Site {
	b.Helper()
	return livedOn(b, storetest.Open(b))
}

func livedOn(b *testing.B, s *store.Store) *webtest.Site {
	b.Helper()
	site := webtest.FurnishedOn(b, s)
	clerk := site.Person(b, party.Counter).Actor()
	panels := order.Line{Kind: order.Formed, Code: "SEAM16", Material: "AZ50", Gauge: "24 ga", Colour: "CHAR", Cuts: []order.CutItem{{Qty: 20, Length: 12 * measure.Foot}, {Qty: 8, Length: 9 * measure.Foot}}}
	one, err := site.Desk.Ask(b.Context(), clerk, order.Order{CustomerID: 1, Fulfil: order.PickUp, Job: "Barn", Lines: []order.Line{panels}})
	if err != nil {
		b.Fatal(err)
	}
	const all, open, batch = 10_000, 60, 500
	for from := 0; from < all; from += batch {
		err := s.Write(b.Context(), func(tx *store.Tx) error {
			for i := range batch {
				o := one.Order
				o.Lines = slices.Clone(o.Lines)
				o.Number, o.State = fmt.Sprint("B", from+i), order.Closed
				if from+i >= all-open {
					o.State = order.Accepted
				}
				if _, err := tx.AddOrder(clerk, o); err != nil {
					return err
				}
			}
			return nil
		})
		if err != nil {
			b.Fatal(err)
		}
	}
	p, err := site.Desk.ProposePlan(b.Context(), site.Owner)
	if err != nil {
		b.Fatal(err)
	}
	if _, err := site.Desk.AdoptPlan(b.Context(), site.Owner, p.Stamp); err != nil {
		b.Fatal(err)
	}
	return site
}

// paced sends requests at a steady rate whether or not earlier ones are
// answered, as people do, and reports how long they waited.
func paced(b *testing.B, perSecond int, send func(i int) error) {
	b.Helper()
	waits := make([]time.Duration, b.N)
	var wg sync.WaitGroup
	start := time.Now()
	for i := range b.N {
		due := start.Add(time.Duration(i) * time.Second / time.Duration(perSecond))
		time.Sleep(time.Until(due))
		wg.Go(func() {
			if err := send(i); err != nil {
				b.Error(err)
			}
			waits[i] = time.Since(due)
		})
	}
	wg.Wait()
	report(b, waits, time.Since(start))
}

// flatOut sends as many as two clients can, one after the other.
func flatOut(b *testing.B, send func(i int) error) {
	b.Helper()
	waits := make([]time.Duration, b.N)
	var wg sync.WaitGroup
	start := time.Now()
	for worker := range 2 {
		wg.Go(func() {
			for i := worker; i < b.N; i += 2 {
				at := time.Now()
				if err := send(i); err != nil {
					b.Error(err)
				}
				waits[i] = time.Since(at)
			}
		})
	}
	wg.Wait()
	report(b, waits, time.Since(start))
}

func report(b *testing.B, waits []time.Duration, took time.Duration) {
	slices.Sort(waits)
	at := func(share float64) float64 {
		return float64(waits[min(len(waits)-1, int(share*float64(len(waits))))]) / float64(time.Millisecond)
	}
	b.ReportMetric(at(0.5), "p50-ms")
	b.ReportMetric(at(0.99), "p99-ms")
	b.ReportMetric(float64(len(waits))/took.Seconds(), "req/s")
}

// asker gives a way to send the counter's form, with other lengths each time.
func asker(b *testing.B, site *webtest.Site) func(i int) error {
	b.Helper()
	browser := site.As(b, party.Visitor)
	page := browser.Get("/counter").Want(http.StatusOK)
	form := url.Values{"rows": {"1"}, "fulfil": {"pick-up"}, "lines.0.make": {seam}, "lines.0.metal": {charcoal}, "form_token": {webtest.Attr(page.One("#ask [name=form_token]"), "value")}}.Encode()
	// Fewer connections than requests would measure the queue of the client.
	client := &http.Client{Jar: browser.Client.Jar, Transport: &http.Transport{MaxIdleConnsPerHost: 64}}
	return func(i int) error {
		cuts := url.QueryEscape(fmt.Sprintf("%d @ %d' 6-1/2\"\n8 @ 18-3\n6 @ 9 ft", 4+i%20, 10+i%30))
		r, err := http.NewRequestWithContext(b.Context(), http.MethodPost, site.URL+"/counter/price", strings.NewReader(form+"&lines.0.cuts="+cuts))
		if err != nil {
			return err
		}
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set("X-Part", "part-live")
		return fetch(client, r)
	}
}

func fetch(client *http.Client, r *http.Request) error {
	answer, err := client.Do(r)
	if err != nil {
		return err
	}
	defer answer.Body.Close()
	if _, err := io.Copy(io.Discard, answer.Body); err != nil || answer.StatusCode != http.StatusOK {
		return fmt.Errorf("%s: %s, %w", r.URL.Path, answer.Status, err)
	}
	return nil
}

// BenchmarkPriceWhileAsking: three lengths priced over HTTP on loopback, 100
// times a second, with 10,000 orders on file. The bar is 25 ms at the 99th
// percentile on two cores.
func BenchmarkPriceWhileAsking(b *testing.B) {
	site := livedIn(b)
	send := asker(b, site)
	if err := send(0); err != nil {
		b.Fatal(err)
	}
	for _, run := range []struct {
		name string
		do   func(*testing.B)
	}{
		{"at 100 a second", func(b *testing.B) { paced(b, 100, send) }},
		{"flat out", func(b *testing.B) { flatOut(b, send) }},
		{"at 100 a second while orders are kept", func(b *testing.B) {
			stop := keepOrders(b, site)
			paced(b, 100, send)
			stop()
		}},
	} {
		b.Run(run.name, run.do)
	}
}

// keepOrders keeps four orders a second until it is stopped: each makes the
// desk read the shop anew.
func keepOrders(b *testing.B, site *webtest.Site) (stop func()) {
	b.Helper()
	clerk := site.Person(b, party.Counter).Actor()
	done := make(chan struct{})
	var wg sync.WaitGroup
	wg.Go(func() {
		tick := time.NewTicker(250 * time.Millisecond)
		defer tick.Stop()
		for {
			select {
			case <-done:
				return
			case <-tick.C:
			}
			_, err := site.Desk.TakeOrder(b.Context(), clerk, order.Order{CustomerID: 2, Fulfil: order.PickUp, Lines: []order.Line{{Kind: order.Accessory, Code: "SEALANT", Count: 3}}})
			if err != nil {
				b.Error(err)
				return
			}
		}
	})
	return func() { close(done); wg.Wait() }
}

// BenchmarkOrdersList: the newest page, a page by state, and a search that finds
// one order among 10,000.
func BenchmarkOrdersList(b *testing.B) {
	site := livedIn(b)
	browser := site.As(b, party.Counter)
	for _, one := range []struct{ name, path string }{
		{"newest", "/orders"}, {"by state", "/orders?state=closed"}, {"found", "/orders?q=b4711"}, {"far back", "/orders?before=200"}, {"one order", "/orders/5000"},
	} {
		b.Run(one.name, func(b *testing.B) {
			flatOut(b, func(int) error {
				r, err := http.NewRequestWithContext(b.Context(), http.MethodGet, site.URL+one.path, nil)
				if err != nil {
					return err
				}
				return fetch(browser.Client, r)
			})
		})
	}
}

// BenchmarkFirstPage: a desk starts on a database of 10,000 orders and answers its
// first page; and what the process then holds. The bars are 1 s and 100 MB.
func BenchmarkFirstPage(b *testing.B) {
	path := filepath.Join(b.TempDir(), "desk.db")
	s, err := store.Open(b.Context(), path)
	if err != nil {
		b.Fatal(err)
	}
	now := livedOn(b, s).Now
	for b.Loop() {
		if err := s.Close(); err != nil {
			b.Fatal(err)
		}
		if s, err = store.Open(b.Context(), path); err != nil {
			b.Fatal(err)
		}
		handler, err := web.New(desk.New(s, desk.Options{Now: now}), web.Options{})
		if err != nil {
			b.Fatal(err)
		}
		answer := httptest.NewRecorder()
		handler.ServeHTTP(answer, httptest.NewRequest(http.MethodGet, "/counter", nil))
		if answer.Code != http.StatusOK {
			b.Fatal(answer.Code)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Milliseconds())/float64(b.N), "start-ms")
	for range 3 { // pools give up what they hold only at the second
		runtime.GC()
	}
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	b.ReportMetric(float64(m.HeapInuse+m.StackInuse)/(1<<20), "held-MB")
	b.Cleanup(func() { s.Close() })
}
