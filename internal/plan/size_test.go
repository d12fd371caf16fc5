package plan_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"runtime"
	"slices"
	"testing"
	"time"

	"ribdesk/internal/plan"
)

// BenchmarkSizes plans 20 lines in 50 ms, 200 in 1 s and 2,000 in 10 s, and for
// each prints what a search of several times as long finds.
func BenchmarkSizes(b *testing.B) {
	for range b.N {
		fmt.Printf("\n%6s %9s %9s %10s %12s %10s %9s\n", "lines", "budget", "took", "late cents", "changeover", "longer", "MB")
		for _, c := range []struct {
			lines, families, machines int
			budget                    time.Duration
		}{{20, 8, 1, 50 * time.Millisecond}, {200, 30, 2, time.Second}, {2000, 60, 3, 10 * time.Second}} {
			p := random(rand.New(rand.NewPCG(7, 7)), shape{lines: c.lines, families: c.families, machines: c.machines, split: true, dates: true, slack: 0.3})
			var before, after runtime.MemStats
			runtime.GC()
			runtime.ReadMemStats(&before)
			r, took := solved(b, p, c.budget)
			runtime.ReadMemStats(&after)
			longer, _ := solved(b, p, 3*c.budget)
			fmt.Printf("%6d %9v %9v %10d %12d %10d %9.1f\n", c.lines, c.budget, took.Round(time.Millisecond), r.Objective.Late,
				r.Objective.Changeover, longer.Objective.Changeover, float64(after.HeapSys)/1e6)
		}
	}
}

// BenchmarkInsert prices one new line against open plans.
func BenchmarkInsert(b *testing.B) {
	for _, lines := range []int{20, 200, 2000} {
		b.Run(fmt.Sprint(lines), func(b *testing.B) {
			rng := rand.New(rand.NewPCG(8, 8))
			p := random(rng, shape{lines: lines + 1, families: 30, machines: 2, split: true, dates: true, slack: 0.3})
			news := slices.Clone(p.Lines[lines:])
			p.Lines = p.Lines[:lines]
			r, err := plan.Solve(context.Background(), p, plan.Settings{Budget: time.Second, Seed: 1})
			if err != nil {
				b.Fatal(err)
			}
			var took []time.Duration
			for b.Loop() {
				start := time.Now()
				if _, err := plan.Insert(p, r.Plan, news...); err != nil {
					b.Fatal(err)
				}
				took = append(took, time.Since(start))
			}
			slices.Sort(took)
			b.ReportMetric(float64(took[len(took)*99/100].Microseconds())/1000, "p99-ms")
		})
	}
}
