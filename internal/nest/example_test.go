package nest_test

import (
	"context"
	"fmt"

	"ribdesk/internal/nest"
)

func ExampleAllocate() {
	p := &nest.CoilProblem{
		Params: nest.CoilParams{LeadOut: 96, ScrapMax: 384, UsefulMin: 2400, Mat: 2500, Keep: 3_500_000, Change: 1_500_000, Short: 6000},
		Coils: []nest.Coil{
			{ID: "remnant", Length: 96 * 101, Lot: "P1", Remnant: true},
			{ID: "full", Length: 96 * 500, Lot: "P1"},
		},
		Lines: []nest.Line{
			{ID: "eave", Order: "1041", Length: 96 * 20, Qty: 3},
			{ID: "porch", Order: "1042", Length: 96 * 8, Qty: 5},
		},
	}
	r, err := nest.Allocate(context.Background(), p, nest.Settings{Iterations: 1000})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, u := range r.Coils {
		for _, x := range u.Pieces {
			fmt.Println(u.Coil.ID, x.Line.ID, x.Pieces)
		}
		fmt.Println("left:", u.End)
	}
	fmt.Println(r.Status)
	// Output:
	// remnant eave 3
	// remnant porch 5
	// left: 0
	// optimal
}
