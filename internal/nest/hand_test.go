package nest_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"ribdesk/internal/nest"
)

// rackWeek is a week's group of one colour: about 1,700 ft of panels for 7 to 12
// orders of 1 to 4 lengths, a rack of remnants and enough full coils of 500 to
// 1,000 ft. Common practice, no published source.
func rackWeek(seed uint64) *nest.CoilProblem {
	r := rand.New(rand.NewPCG(seed, 5))
	p := &nest.CoilProblem{Params: shopRates}
	for o := range 7 + r.IntN(6) {
		for range 1 + r.IntN(4) {
			p.Lines = append(p.Lines, nest.Line{ID: fmt.Sprint("L", len(p.Lines)), Order: fmt.Sprint("O", o),
				Length: int64(96*6) + 4*r.Int64N(24*28), Qty: 1 + r.Int64N(10)})
		}
	}
	lots := []string{"A", "B", "C"}
	for i := range 4 + r.IntN(5) {
		p.Coils = append(p.Coils, nest.Coil{ID: fmt.Sprint("R", i), Length: int64(96 * (40 + r.IntN(360))),
			Lot: lots[r.IntN(3)], Remnant: true, Mounted: i == 0})
	}
	for i := range 6 {
		p.Coils = append(p.Coils, nest.Coil{ID: fmt.Sprint("F", i), Length: int64(96 * (500 + 100*r.IntN(6))), Lot: lots[i%3]})
	}
	return p
}

// losses are what a plan wastes, in eighths of an inch.
func losses(r *nest.CoilResult) (ends, lead int64) {
	for _, u := range r.Coils {
		lead += u.Lead + u.Slugs
		if u.Scrap {
			ends += u.End
		}
	}
	return ends, lead
}

// tally adds up one way of planning over the weeks.
type tally struct {
	ends, lead, pieces, short int64
	cost                      float64
}

func (a *tally) coils(r *nest.CoilResult) {
	ends, lead := losses(r)
	a.ends, a.lead = a.ends+ends, a.lead+lead
	for _, u := range r.Coils {
		for _, x := range u.Pieces {
			a.pieces += x.Pieces * x.Line.Length
		}
	}
	a.short += r.Buy.Strip
	a.cost += float64(r.Cost)
}

func (a *tally) row(name string, weeks int) string {
	feet := float64(a.pieces) / 100
	return fmt.Sprintf("%-52s scrap %4.2f %% of footage (ends %4.2f, lead %4.2f), short %3.0f ft, cost $%.0f a week",
		name, float64(a.ends+a.lead)/feet, float64(a.ends)/feet, float64(a.lead)/feet, float64(a.short)/96/float64(weeks), a.cost/1e5/float64(weeks))
}

// weeks is how many random weeks are compared.
const weeks = 50

func TestRandomWeeksBeatPlanningByHand(t *testing.T) {
	ways := []nest.Way{nest.NextCoil, nest.FirstCoil, nest.LongestFirst}
	by := make([]tally, len(ways)+1)
	var bound float64
	for seed := range uint64(weeks) {
		p := rackWeek(seed)
		r, err := nest.Allocate(context.Background(), p, nest.Settings{Iterations: 8_000, Seed: seed})
		if err != nil {
			t.Fatal(err)
		}
		by[len(ways)].coils(r)
		bound += float64(r.Bound)
		for i, way := range ways {
			h, err := nest.AllocateByHand(p, way)
			if err != nil {
				t.Fatal(err)
			}
			by[i].coils(h)
			if h.Cost < r.Cost {
				t.Errorf("week %d: %s costs %d, the search %d", seed, way, h.Cost, r.Cost)
			}
		}
	}
	best := by[len(ways)]
	for i, way := range ways {
		t.Log(by[i].row(string(way), weeks))
		if by[i].ends+by[i].lead <= best.ends+best.lead {
			t.Errorf("%s scraps no more than the search", way)
		}
	}
	t.Log(best.row("searched", weeks))
	t.Logf("proven: no plan costs less than $%.0f a week", bound/1e5/weeks)
}

func TestRandomTrimBatchesBeatPlanningByHand(t *testing.T) {
	const batches = 15
	ways := []nest.Way{nest.OneTrim, nest.FirstSheet, nest.WidestFirst}
	type sum struct {
		stock, blanks, sheets int64
		setups                int
		cost                  float64
	}
	by := make([]sum, len(ways)+1)
	var bound float64
	add := func(i int, r *nest.TrimResult) {
		by[i].stock += r.Stock
		by[i].blanks += r.Blanks
		by[i].sheets += r.Sheets
		by[i].setups += r.Setups
		by[i].cost += float64(r.Cost)
	}
	for seed := range uint64(batches) {
		p := trimWeek(seed, 8, 60)
		r, err := nest.Nest(context.Background(), p, nest.Settings{Iterations: 400, Seed: seed})
		if err != nil {
			t.Fatal(err)
		}
		add(len(ways), r)
		bound += float64(r.Bound)
		for i, way := range ways {
			h, err := nest.NestByHand(p, way)
			if err != nil {
				t.Fatal(err)
			}
			add(i, h)
			if h.Cost < r.Cost {
				t.Errorf("batch %d: %s costs %d, the search %d", seed, way, h.Cost, r.Cost)
			}
		}
	}
	names := append(ways, "searched")
	for i, s := range by {
		t.Logf("%-40s waste %4.1f %% of the sheet, %.2f sheets, %.1f set-ups, cost $%.0f", names[i],
			100*(1-float64(s.blanks)/float64(s.stock)), float64(s.sheets)/batches, float64(s.setups)/batches, s.cost/1e5/batches)
	}
	t.Logf("proven: no plan costs less than $%.0f", bound/1e5/batches)
	if math.IsNaN(bound) || by[len(ways)].stock >= by[0].stock {
		t.Error("the search takes no less metal than one trim at a time")
	}
}

// BenchmarkAllocate200Lines is a busy shop: 200 open lines over 60 coils in a
// budget of 0.9 s.
func BenchmarkAllocate200Lines(b *testing.B) {
	for b.Loop() {
		r, err := nest.Allocate(context.Background(), weekOfCoils(1, 60, 200), nest.Settings{Budget: 900 * time.Millisecond, Seed: 1})
		if err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(100*r.Gap(), "%gap")
		b.ReportMetric(float64(r.Work), "steps")
	}
}

// BenchmarkNest500Blanks is a busy trim week in a budget of 1.9 s.
func BenchmarkNest500Blanks(b *testing.B) {
	for b.Loop() {
		r, err := nest.Nest(context.Background(), trimWeek(1, 30, 500), nest.Settings{Budget: 1900 * time.Millisecond, Seed: 1})
		if err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(100*r.Gap(), "%gap")
		b.ReportMetric(float64(r.Sheets), "sheets")
	}
}
