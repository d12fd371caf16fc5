package nest_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"ribdesk/internal/nest"
)

// weekOfCoils draws a shop's week: coils on the rack and open cut lists. The
// rates are common practice, no published source.
func weekOfCoils(seed uint64, coils, lines int) *nest.CoilProblem {
	r := rand.New(rand.NewPCG(seed, 1))
	p := &nest.CoilProblem{Params: nest.CoilParams{LeadIn: 192, LeadOut: 192, ScrapMax: 384, UsefulMin: 2400,
		Mat: 2500, AwkwardPct: 60, Keep: 3_500_000, Change: 1_500_000, LotSplit: 2_500_000, Short: 6000}}
	for i := range coils {
		c := nest.Coil{ID: fmt.Sprint("C", i), Lot: fmt.Sprint("P", r.IntN(coils/3+1)), Length: 96 * 500}
		if r.IntN(3) > 0 {
			c.Remnant, c.Length = true, int64(96*20+r.IntN(96*350))
		}
		c.Mounted = i == 0
		p.Coils = append(p.Coils, c)
	}
	for i := range lines {
		p.Lines = append(p.Lines, nest.Line{ID: fmt.Sprint("L", i), Order: fmt.Sprint("O", i/3),
			Length: int64(96*3 + r.IntN(96*30)), Qty: int64(1 + r.IntN(12))})
	}
	return p
}

func TestProbe(t *testing.T) {
	for seed := range uint64(6) {
		for _, n := range [][2]int{{8, 12}, {20, 40}, {60, 200}} {
			p := weekOfCoils(seed, n[0], n[1])
			t0 := time.Now()
			a, err := nest.Allocate(context.Background(), p, nest.Settings{Budget: 800 * time.Millisecond, Seed: 1})
			if err != nil {
				t.Fatal(err)
			}
			el := time.Since(t0)
			cost, err := nest.CheckCoils(p, a.Cuts)
			if err != nil || cost != a.Cost {
				t.Fatal(err, cost, a.Cost)
			}
			b, _ := nest.Allocate(context.Background(), p, nest.Settings{Budget: 5000 * time.Millisecond, Seed: 2})
			fmt.Println(n, a.Cost, a.Bound, fmt.Sprintf("gap %.2f%% work %d long %.2f%% %d", 100*a.Gap(), a.Work, 100*b.Gap(), b.Work), len(a.Coils), len(a.Warnings), a.Buy.Pieces, el)
		}
	}
}
