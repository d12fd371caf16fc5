package price_test

import (
	"fmt"
	"testing"

	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/price"
)

// twelve is the example with twelve lines: twelve cuts of one panel, or twelve
// panels of one cut each, which is dearer to price.
func twelve(tb testing.TB, items bool) price.Input {
	in := example(tb)
	item := in.Order.Items[0]
	cuts := make([]price.Cut, 12)
	for i := range cuts {
		cuts[i] = price.Cut{Pieces: 5 + i, Length: feet(8+i) + measure.Inch.Times(i)}
	}
	if !items {
		f := *item.Formed
		f.Cuts = cuts
		item.Formed = &f
		in.Order.Items = []price.Item{item}
		return in
	}
	in.Order.Items = nil
	for i := range cuts {
		f := *item.Formed
		f.Cuts = cuts[i : i+1]
		in.Order.Items = append(in.Order.Items, price.Item{ID: fmt.Sprint(i), Label: item.Label, Group: item.Group, Formed: &f})
	}
	return in
}

// Bar: a 12-line order priced both ways in under 1 ms.
func BenchmarkTwelveLines(b *testing.B) {
	for name, items := range map[string]bool{"one product": false, "twelve products": true} {
		in := twelve(b, items)
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				quote(b, in)
			}
		})
	}
}

// Bar: 10,000 open quotes repriced in under 5 s on two cores.
func BenchmarkReprice10000(b *testing.B) {
	in := twelve(b, false)
	ins := make([]price.Input, 10_000)
	for i := range ins {
		ins[i] = in
	}
	coil := money.Must("1.07")
	for b.Loop() {
		if o := price.Reprice(ins, price.Changes{Coil: &coil}); o[9_999].Err != nil {
			b.Fatal(o[9_999].Err)
		}
	}
}
