package desk_test

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"ribdesk/internal/demo"
	"ribdesk/internal/desk"
	"ribdesk/internal/order"
	"ribdesk/internal/store"
)

// twelve is an order of 12 lines: four kinds of panel, four of trim, four of
// accessories.
func twelve() order.Order {
	white := func(l *order.Line) { l.Colour = "WHT" }
	bronze := func(l *order.Line) { l.Colour = "BRZ" }
	lines := []order.Line{panels(20, 18), with(panels(12, 9), white), with(panels(8, 22), bronze),
		{Kind: order.Formed, Code: "RIB36", Material: "AZ50", Gauge: "29 ga", Colour: "WHT", Cuts: panels(16, 14).Cuts}, ridge(6), with(ridge(3), white), with(ridge(4), bronze)}
	eave := ridge(8)
	eave.Code = "EAVE"
	lines = append(lines, eave, tubes(6))
	for _, code := range []string{"CLIP-FIX", "SCREW-PAN", "BUTYL"} {
		lines = append(lines, order.Line{Kind: order.Accessory, Code: code, Count: 12})
	}
	return asked(lines...)
}

// lived is a furnished shop with 10,000 orders on file, 60 of them open. They
// are written by the store itself, as no shop takes that many in a test's time.
var lived = sync.OnceValues(func() (image []byte, err error) {
	start, err := furnished()
	if err != nil {
		return nil, err
	}
	dir, err := os.MkdirTemp("", "lived")
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	path := filepath.Join(dir, "lived.db")
	if err := os.WriteFile(path, start, 0o600); err != nil {
		return nil, err
	}
	s, err := store.Open(context.Background(), path)
	if err != nil {
		return nil, err
	}
	if err = errors.Join(fillUp(s), s.Close()); err != nil {
		return nil, err
	}
	return os.ReadFile(path)
})

func fillUp(s *store.Store) error {
	ctx := context.Background()
	clock := demo.NewClock(opening)
	d := desk.New(s, desk.Options{Now: clock.Now})
	one, err := d.Ask(ctx, clerk, asked(panels(20, 12), ridge(3), tubes(4)))
	if err != nil {
		return err
	}
	const all, open, batch = 10_000, 60, 500
	for from := 0; from < all; from += batch {
		err := s.Write(ctx, func(tx *store.Tx) error {
			for i := range batch {
				o := one.Order
				o.Lines = append([]order.Line(nil), o.Lines...)
				o.Number, o.State = fmt.Sprintf("B%d", from+i), order.Closed
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
			return err
		}
	}

	// A desk of its own: the one above takes orders for asks until they are accepted.
	d = desk.New(s, desk.Options{Now: clock.Now})
	p, err := d.ProposePlan(ctx, boss)
	if err != nil {
		return err
	}
	_, err = d.AdoptPlan(ctx, boss, p.Stamp)
	return err
}

func livedIn(b *testing.B) *works {
	b.Helper()
	image, err := lived()
	if err != nil {
		b.Fatal(err)
	}
	w := &works{path: filepath.Join(b.TempDir(), "lived.db"), clock: demo.NewClock(opening)}
	if err := os.WriteFile(w.path, image, 0o600); err != nil {
		b.Fatal(err)
	}
	w.Desk, w.store = w.another(b)
	return w
}

// BenchmarkAsk prices 12 lines while asking, with 10,000 orders on file and 60
// of them in the plan; nothing else writes. The bar is 25 ms at the 99th
// percentile under 100 requests a second on two cores.
func BenchmarkAsk(b *testing.B) {
	w := livedIn(b)
	o := twelve()
	for b.Loop() {
		if _, err := w.Ask(b.Context(), clerk, o); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkAskAfterWrite is the same when somebody wrote in between, so that
// the shop is read anew.
func BenchmarkAskAfterWrite(b *testing.B) {
	w := livedIn(b)
	o := twelve()
	for b.Loop() {
		b.StopTimer()
		if err := w.RevokeLink(b.Context(), clerk, 1); err != nil {
			b.Fatal(err)
		}
		b.StartTimer()
		if _, err := w.Ask(b.Context(), clerk, o); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkTakeOrder keeps an order of 12 lines (priced, placed, numbered,
// logged); the web's BenchmarkOrderSave holds it to a bare program over HTTP.
func BenchmarkTakeOrder(b *testing.B) {
	w := newWorks(b)
	for b.Loop() {
		if _, err := w.TakeOrder(b.Context(), clerk, twelve()); err != nil {
			b.Fatal(err)
		}
	}
}
