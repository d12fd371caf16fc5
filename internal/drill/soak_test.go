package drill_test

import (
	"fmt"
	"net/url"
	"os"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"ribdesk/internal/party"
)

// rate is how many requests a second the soak asks for.
const rate = 100

// F15: hours at a counter in miniature: prices, orders, lists, papers at 100
// requests a second. No answer may be a failure, the memory stays flat, files and
// threads don't pile up.
func TestSoak(t *testing.T) {
	span := 2 * time.Second
	if s := os.Getenv("RIBDESK_SOAK"); s != "" {
		var err error
		if span, err = time.ParseDuration(s); err != nil {
			t.Fatal(err)
		}
	}
	dir := t.TempDir()
	s := serve(t, sqliteShop(t, dir), freePort(t))
	staff, visitor := signIn(t, s.url, party.Counter), newClient(s.url)
	if err := visitor.takeToken("/counter"); err != nil {
		t.Fatal(err)
	}
	k := &soak{took: map[string][]time.Duration{}}
	var at []sample
	work := make(chan int, rate)
	var workers sync.WaitGroup
	for range 16 {
		workers.Go(func() {
			for i := range work {
				k.ask(t, i, staff, visitor)
			}
		})
	}
	tick := time.NewTicker(time.Second / rate)
	defer tick.Stop()
	settle := span / 3 // caches fill, the heap finds its size
	for start, i := time.Now(), 0; time.Since(start) < span; i++ {
		<-tick.C
		work <- i
		if i%(rate/2) == 0 && time.Since(start) > settle {
			at = append(at, sampleOf(t, s.cmd.Process.Pid))
		}
	}
	close(work)
	workers.Wait()
	k.report(t, span)
	if len(at) < 2 {
		return
	}
	first, last := at[0], at[len(at)-1]
	for _, x := range at[:max(1, len(at)/5)] {
		first.rss = max(first.rss, x.rss)
	}
	grown := 100 * (last.rss - first.rss) / first.rss
	figures.add("F15 soak, process", "memory +10% at most, files flat", "memory %d to %d MB (%+d%%), files %d to %d, threads %d to %d", first.rss>>10, last.rss>>10, grown, first.files, last.files, first.threads, last.threads)
	if span >= time.Minute && (grown > 10 || last.files > first.files+20 || last.threads > first.threads+20) {
		t.Errorf("the process grew: %+v to %+v", first, last)
	}
}

type soak struct {
	mu   sync.Mutex
	took map[string][]time.Duration
	last int64 // an order to look at
	bad  int
}

// ask sends one request of the mix.
func (k *soak) ask(t *testing.T, i int, staff, visitor *client) {
	var kind string
	var a answer
	var err error
	start := time.Now()
	switch {
	case i%20 == 3:
		kind = "order save"
		var id int64
		if id, err = staff.takeOrder(""); err == nil {
			a.status = 303
			k.mu.Lock()
			k.last = id
			k.mu.Unlock()
		}
	case i%20 == 9:
		kind = "order page"
		k.mu.Lock()
		id := k.last
		k.mu.Unlock()
		a, err = staff.get(fmt.Sprintf("/orders/%d", max(1, id)))
		if a.status == 404 && id == 0 { // none yet
			return
		}
	case i%20 == 13:
		kind = "orders list"
		a, err = staff.get("/orders")
	case i%20 == 17:
		kind = "coils"
		a, err = staff.get("/coils")
	case i%2 == 0:
		kind = "price slip"
		a, err = visitor.post("/counter/price", slip(i))
	default:
		kind = "counter"
		a, err = visitor.get("/counter")
	}
	took := time.Since(start)
	k.mu.Lock()
	defer k.mu.Unlock()
	k.took[kind] = append(k.took[kind], took)
	if err != nil || a.status >= 400 {
		if k.bad++; k.bad <= 5 {
			t.Errorf("%s: %d, %v %.200s", kind, a.status, err, a.body)
		}
	}
}

func slip(i int) url.Values {
	form := asking("price")
	form.Set("lines.0.cuts", fmt.Sprintf("%d @ 12' 6\"\n8 @ 18-3", 1+i%40))
	return form
}

func (k *soak) report(t *testing.T, span time.Duration) {
	var all []time.Duration
	for _, kind := range []string{"price slip", "counter", "order save", "order page", "orders list", "coils"} {
		took := k.took[kind]
		all = append(all, took...)
		if len(took) > 0 {
			figures.add("F15 soak, "+kind, "", "%d requests, p50 %.1f ms, p99 %.1f ms", len(took), at(took, 50), at(took, 99))
		}
	}
	figures.add("F15 soak, all", "0 of class 5xx, p99 100 ms", "%s at %.0f requests/s: %d requests, %d failures, p99 %.1f ms", span, float64(len(all))/span.Seconds(), len(all), k.bad, at(all, 99))
}

// at gives a percentile in milliseconds.
func at(took []time.Duration, percent int) float64 {
	slices.Sort(took)
	return float64(took[min(len(took)-1, len(took)*percent/100)].Microseconds()) / 1000
}

// sample is what a process holds.
type sample struct{ rss, files, threads int }

func sampleOf(t *testing.T, pid int) (s sample) {
	t.Helper()
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(string(text)) {
		name, value, _ := strings.Cut(line, ":")
		n, _ := strconv.Atoi(strings.Fields(value + " 0")[0])
		switch name {
		case "VmRSS":
			s.rss = n
		case "Threads":
			s.threads = n
		}
	}
	files, err := os.ReadDir(fmt.Sprintf("/proc/%d/fd", pid))
	if err != nil {
		t.Fatal(err)
	}
	s.files = len(files)
	return s
}
