package desk_test

import (
	"context"
	"fmt"
	"runtime"
	"slices"
	"testing"
	"time"

	"ribdesk/internal/desk"
	"ribdesk/internal/order"
	"ribdesk/internal/store"
)

// openLines is how many lines stand in the plan while one order is asked about.
const openLines = 200

// busyPlan gives a shop with 200 lines in its run plan, of the colours and
// gauges that panels are asked in. They are written by the store itself.
func busyPlan(b *testing.B) *works {
	b.Helper()
	w := newWorks(b)
	var kinds []order.Order
	for i := range 8 {
		a, err := w.Ask(b.Context(), clerk, varied(i))
		if err != nil {
			b.Fatal(err)
		}
		kinds = append(kinds, a.Order)
	}
	err := w.store.Write(b.Context(), func(tx *store.Tx) error {
		for i, lines := 0, 0; lines < openLines; i++ {
			o := kinds[i%len(kinds)]
			o.Lines = slices.Clone(o.Lines)
			o.Number, o.State = fmt.Sprintf("W%d", i), order.Accepted
			o.Promise = o.Promise.AddDate(0, 0, i)
			if _, err := tx.AddOrder(clerk, o); err != nil {
				return err
			}
			lines += len(o.Lines)
		}
		return nil
	})
	if err != nil {
		b.Fatal(err)
	}
	w.Desk = desk.New(w.store, desk.Options{Now: w.clock.Now})
	p, err := w.ProposePlan(b.Context(), boss)
	if err != nil {
		b.Fatal(err)
	}
	if len(p.Places) != openLines {
		b.Fatalf("%d lines are in the plan, want %d", len(p.Places), openLines)
	}
	if _, err := w.AdoptPlan(b.Context(), boss, p.Stamp); err != nil {
		b.Fatal(err)
	}
	return w
}

// varied is an order of two lines of panels, another one for each number.
func varied(i int) order.Order {
	dress := func(l order.Line, i int) order.Line {
		switch i % 3 {
		case 1:
			return with(l, white)
		case 2:
			return with(l, bronze)
		}
		return l
	}
	rib := order.Line{Kind: order.Formed, Code: "RIB36", Material: "AZ50", Gauge: "29 ga", Colour: "WHT", Cuts: panels(6+i%9, 8+i%5).Cuts}
	return asked(dress(panels(4+i%11, 6+i%17), i), rib)
}

// BenchmarkWhatIf asks for one order after another, each another one, against
// 200 lines in the run plan: price, place, promise, and what later dates save.
// The bar is 20 ms at the 99th percentile.
func BenchmarkWhatIf(b *testing.B) {
	w := busyPlan(b)
	var took []time.Duration
	i := 0
	for b.Loop() {
		o := varied(i)
		i++
		start := time.Now()
		if _, err := w.Ask(context.Background(), clerk, o); err != nil {
			b.Fatal(err)
		}
		took = append(took, time.Since(start))
	}
	slices.Sort(took)
	ms := func(d time.Duration) float64 { return float64(d.Microseconds()) / 1000 }
	b.ReportMetric(ms(took[len(took)/2]), "p50-ms")
	b.ReportMetric(ms(took[len(took)*99/100]), "p99-ms")
	var heap runtime.MemStats
	runtime.ReadMemStats(&heap)
	b.ReportMetric(float64(heap.HeapSys)/1e6, "heap-MB")
}

// BenchmarkProposal works out the best plan of those 200 lines.
func BenchmarkProposal(b *testing.B) {
	w := busyPlan(b)
	for b.Loop() {
		if _, err := w.ProposePlan(context.Background(), boss); err != nil {
			b.Fatal(err)
		}
	}
}
