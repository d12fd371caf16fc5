package nest_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"ribdesk/internal/nest"
)

// trimWeek draws a batch of blanks for flat sheet 48 in x 10 ft.
func trimWeek(seed uint64, items, blanks int) *nest.TrimProblem {
	r := rand.New(rand.NewPCG(seed, 2))
	p := &nest.TrimProblem{Params: nest.TrimParams{MaxStrips: 99, MinCut: 192, MaxCut: 4032, Setup: 600_000,
		DropMin: 64, Pass: 150_000}, Stock: []nest.Stock{{ID: "S", Form: nest.Sheet, Width: 768, Length: 1920, Cost: 9_200_000}}}
	for i := range items {
		length := int64(1920)
		if r.IntN(3) == 0 {
			length = int64(16 * (24 + r.IntN(96)))
		}
		p.Items = append(p.Items, nest.Item{ID: fmt.Sprint("I", i), Girth: int64(48 + 4*r.IntN(90)),
			Length: length, Qty: int64(1 + r.IntN(2*blanks/items))})
	}
	return p
}

func TestProbeTrim(t *testing.T) {
	for seed := range uint64(5) {
		for _, n := range [][2]int{{6, 30}, {15, 100}, {30, 500}} {
			p := trimWeek(seed, n[0], n[1])
			t0 := time.Now()
			a, err := nest.Nest(context.Background(), p, nest.Settings{Budget: 1000 * time.Millisecond, Seed: 1})
			if err != nil {
				t.Fatal(err)
			}
			el := time.Since(t0)
			cost, err := nest.CheckTrim(p, a.Runs)
			if err != nil || cost != a.Cost {
				t.Fatal(err, cost, a.Cost)
			}
			fmt.Println(n, a.Cost, a.Bound, fmt.Sprintf("gap %.2f%% work %d", 100*a.Gap(), a.Work), a.Sheets, a.Setups, len(a.Runs), float64(a.Blanks)/float64(768*1920), el)
		}
	}
}
