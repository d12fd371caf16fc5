package desk_test

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"ribdesk/internal/desk"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/stock"
	"ribdesk/internal/store"
)

// busy is a furnished shop with open lines written by the store itself: so many
// formed lines on so many further coils of the same strips, or so many trim
// blanks.
func busy(b testing.TB, formed, coils, blanks int) *works {
	b.Helper()
	w := newWorks(b)
	dice := rand.New(rand.NewPCG(7, 11))
	colours := []string{"CHAR", "WHT", "GRN"}
	in := func(l *order.Line) { l.Colour = colours[dice.IntN(len(colours))] }
	for i := range coils {
		strip := stock.Strip{Material: "AZ50", Gauge: "24 ga", Width: span20, Colour: colours[i%len(colours)]}
		feet := foot * measure.Length(60+dice.IntN(1200))
		_, err := w.ReceiveCoil(b.Context(), clerk, desk.Receipt{Strip: strip, Feet: feet, Lot: fmt.Sprint("B", i/4), Landed: money.Cents(1000_00, money.USD), Remnant: feet < 300*foot})
		if err != nil {
			b.Fatal(err)
		}
	}
	shapes := []string{"RIDGE", "EAVE"}
	var asks []order.Order
	for range formed {
		l := with(panels(2+dice.IntN(14), 6+dice.IntN(26)), in)
		l.Cuts[0].Length += measure.Eighth * measure.Length(dice.IntN(96))
		asks = append(asks, asked(l))
	}
	for left := blanks; left > 0; {
		l := with(ridge(min(left, 2+dice.IntN(12))), in)
		l.Code = shapes[dice.IntN(len(shapes))]
		l.Cuts[0].Length = measure.Inch * measure.Length(48+dice.IntN(72))
		left -= l.Cuts[0].Qty
		asks = append(asks, asked(l))
	}
	var resolved []order.Order
	for i, o := range asks {
		a, err := w.Ask(b.Context(), clerk, o)
		if err != nil {
			b.Fatal(err)
		}
		a.Order.Number, a.Order.State = fmt.Sprint("M", i), order.Accepted
		resolved = append(resolved, a.Order)
	}
	err := w.store.Write(b.Context(), func(tx *store.Tx) error {
		for _, o := range resolved {
			if _, err := tx.AddOrder(clerk, o); err != nil {
				return err
			}
		}
		return tx.Log(clerk, "filled", "order", 0, nil)
	})
	if err != nil {
		b.Fatal(err)
	}
	return w
}

// BenchmarkAllocate allocates 200 open lines over 60 coils through the desk. The
// bar is 1 s.
func BenchmarkAllocate(b *testing.B) {
	w := busy(b, 200, 60, 0)
	for b.Loop() {
		a, err := w.Allocate(b.Context(), boss)
		if err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(a.After.Scrap.InFeet(), "ft-scrap")
		var cost, bound int64
		for _, g := range a.Groups {
			cost, bound = cost+g.Result.Cost, bound+g.Result.Bound
		}
		b.ReportMetric(100*float64(cost-bound)/float64(bound), "%gap")
	}
}

// BenchmarkTrimPlan nests a trim week of 500 blanks through the desk. The bar is
// 2 s.
func BenchmarkTrimPlan(b *testing.B) {
	w := busy(b, 0, 0, 500)
	for b.Loop() {
		p, err := w.TrimPlan(b.Context(), boss)
		if err != nil {
			b.Fatal(err)
		}
		for _, g := range p.Groups {
			b.ReportMetric(g.WastePct, "%waste")
		}
	}
}
