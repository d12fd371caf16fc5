package drill_test

import (
	"net/http"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
)

// atOnce does something many times at once, half of it at a second desk on the
// same database, and counts what was done. A refusal must be a conflict, or busy.
func atOnce(t *testing.T, url string, n int, do func(*desk.Desk, *store.Store, int) error) (done int64) {
	t.Helper()
	d, s := open(t, url, desk.Options{})
	other, second := open(t, url, desk.Options{})
	var won atomic.Int64
	var wg sync.WaitGroup
	for i := range n {
		at, in := d, s
		if i%2 == 1 {
			at, in = other, second
		}
		wg.Go(func() {
			switch err := do(at, in, i); {
			case err == nil:
				won.Add(1)
			case !fault.Is(err, fault.Conflict) && !fault.Is(err, fault.Busy):
				t.Error(err)
			}
		})
	}
	wg.Wait()
	return won.Load()
}

// F7: fifty orders claim the last feet of one coil; one gets them.
func TestLastFeet(t *testing.T) {
	onBoth(t, func(t *testing.T, kind, url string) {
		d, s := open(t, url, desk.Options{})
		const claims = 50
		lines := make([]int64, claims)
		for i := range lines {
			o, err := d.TakeOrder(t.Context(), clerk, shelfOrder())
			if err != nil {
				t.Fatal(err)
			}
			if err := s.Read(t.Context(), func(tx *store.Tx) error { o, err = tx.Order(o.ID); return err }); err != nil {
				t.Fatal(err)
			}
			lines[i] = o.Lines[0].ID
		}
		coils, err := d.Coils(t.Context())
		if err != nil || len(coils) == 0 {
			t.Fatalf("%d coils, %v", len(coils), err)
		}
		last := coils[0]
		done := atOnce(t, url, claims, func(_ *desk.Desk, s *store.Store, i int) error {
			return s.Write(t.Context(), func(tx *store.Tx) error {
				r := order.Reservation{CoilID: last.ID, LineID: lines[i], Length: last.Free(), Cuts: []order.CutShare{{Qty: 1, Length: last.Free()}}}
				if err := tx.Reserve(r); err != nil {
					return err
				}
				return tx.Log(clerk, "promised", "coil", last.ID, nil)
			})
		})
		var after int64
		err = s.Read(t.Context(), func(tx *store.Tx) error {
			c, err := tx.Coil(last.ID)
			after = int64(c.Free())
			return err
		})
		if err != nil || done != 1 || after != 0 {
			t.Errorf("%d of %d claims got the last feet, %d nm are left: %v", done, claims, after, err)
		}
		figures.add("F7 last feet of a coil, "+kind, "1 wins", "%d claims at once: %d got them", claims, done)
	})
}

// F7: fifty people put one order on a load of their own; it goes on one.
func TestOneLoad(t *testing.T) {
	onBoth(t, func(t *testing.T, kind, url string) {
		d, s := open(t, url, desk.Options{})
		o := shelfOrder()
		o.Fulfil, o.MilesTenths = order.Haul, 90
		o.ShipTo = party.Address{Street: "1 Mill Rd", City: "Eastfork", State: "ZE", Country: "US"}
		id := bundled(t, d, o)
		const claims = 50
		done := atOnce(t, url, claims, func(d *desk.Desk, _ *store.Store, _ int) error {
			_, err := d.BuildTrip(t.Context(), boss, order.Trip{Day: time.Now(), Vehicle: "TRAILER", Driver: boss.Name, DriverID: boss.PersonID}, []int64{id})
			return err
		})
		stops := 0
		err := s.Read(t.Context(), func(tx *store.Tx) error {
			list, err := tx.StopsOf(id)
			stops = len(list)
			return err
		})
		if err != nil || done != 1 || stops != 1 {
			t.Errorf("%d loads were built for one order, it stands on %d: %v", done, stops, err)
		}
		figures.add("F7 one order, many loads, "+kind, "1 wins", "%d loads at once for one order: %d built", claims, done)
	})
}

// F14: more than ten times what the server can do, by people who ask again at
// once. It answers, or says when to come back; nothing else happens, all it acknowledged is there, and it is well
// again as soon as the crowd is gone.
func TestOverload(t *testing.T) {
	const places, people = 2, 400
	t.Setenv("RIBDESK_MAX_IN_FLIGHT", "2")
	db := sqliteShop(t, t.TempDir())
	s := serve(t, db, freePort(t))
	first := signIn(t, s.url, party.Counter)
	l := &ledger{}
	var asked, refused atomic.Int64
	end := time.Now().Add(time.Duration(times(3, 60)) * time.Second)
	var crowd sync.WaitGroup
	for range people {
		c := first.elsewhere(s.url)
		crowd.Go(func() {
			for time.Now().Before(end) {
				asked.Add(1)
				a, err := c.post("/counter", asking("keep"))
				switch {
				case err != nil:
					t.Error(err)
					return
				case a.status == http.StatusSeeOther:
					l.answered(a)
				case (a.status == http.StatusServiceUnavailable || a.status == http.StatusTooManyRequests) && a.wait != "":
					refused.Add(1)
				default:
					t.Errorf("in the crowd: %d, Retry-After %q: %.200s", a.status, a.wait, a.body)
					return
				}
			}
		})
	}
	crowd.Wait()
	over := time.Now()
	for {
		if a, err := first.get("/orders"); err == nil && a.status == http.StatusOK {
			break
		} else if time.Since(over) > 10*time.Second {
			t.Fatalf("not well ten seconds after: %d, %v", a.status, err)
		}
	}
	well := time.Since(over)
	s.kill()
	l.check(t, "sqlite", db)
	if len(l.orders) == 0 {
		t.Error("nobody was served")
	}
	if refused.Load() == 0 {
		t.Error("nobody had to come back: the drill shows nothing")
	}
	figures.add("F14 overload", "answers or Retry-After, well in 10 s", "%d clients for %d places: %d asked, %d kept, %d told to come back, well again in %d ms", people, places, asked.Load(), len(l.orders), refused.Load(), well.Milliseconds())
}
