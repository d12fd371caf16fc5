package plan_test

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"ribdesk/internal/plan"
)

// solved runs the planner for a time and checks what it says.
func solved(b *testing.B, p plan.Problem, budget time.Duration) (plan.Result, time.Duration) {
	start := time.Now()
	r, err := plan.Solve(context.Background(), p, plan.Settings{Budget: budget, Seed: 1})
	took := time.Since(start)
	if err != nil {
		b.Fatal(err)
	}
	if o, err := plan.Check(p, r.Plan); err != nil || o != r.Objective {
		b.Fatalf("%s: checked %+v (%v), reported %+v", p.Name, o, err, r.Objective)
	}
	return r, took
}

func gap(ours, best int64) float64 { return 100 * float64(ours-best) / max(1, float64(best)) }

// BenchmarkTours plans the TSPLIB asymmetric instances, 1 s each.
func BenchmarkTours(b *testing.B) {
	dir := benchSets(b, "tsplib-atsp")
	for range b.N {
		fmt.Printf("\n%-10s %9s %9s %7s %9s %7s\n", "tour", "published", "ours", "gap %", "bound", "s")
		for line := range strings.Lines(readFile(b, filepath.Join(dir, "bestSolutions.txt"))) {
			name, value, _ := strings.Cut(line, ":")
			file := strings.TrimSpace(name)
			if file == "kro124" {
				file = "kro124p"
			}
			path := filepath.Join(dir, file+".atsp")
			if found, _ := filepath.Glob(path); len(found) == 0 {
				continue
			}
			best := readNumbers(b, value)[0]
			r, took := solved(b, readTour(b, path), time.Second)
			fmt.Printf("%-10s %9d %9d %7.2f %9d %7.2f %d\n", file, best, r.Objective.Changeover, gap(r.Objective.Changeover, best), r.Bound.Changeover, took.Seconds(), r.Work.Iterations)
		}
	}
}

// BenchmarkSetups plans Cicirello's 120 instances, 2 s each.
func BenchmarkSetups(b *testing.B) {
	best := optima(b)
	for range b.N {
		fmt.Printf("\n%-10s %9s %9s %7s\n", "set-ups", "published", "ours", "gap %")
		var sum float64
		hits := 0
		for k := 1; k < len(best); k++ {
			r, _ := solved(b, readSetups(b, benchSets(b, "wtsds", fmt.Sprintf("wt_sds_%d.instance", k))), 2*time.Second)
			g := gap(r.Objective.Late, best[k])
			if best[k] == 0 {
				g = 100 * float64(min(1, r.Objective.Late))
			}
			sum += g
			if r.Objective.Late == best[k] {
				hits++
			}
			fmt.Printf("%-10d %9d %9d %7.2f\n", k, best[k], r.Objective.Late, g)
		}
		fmt.Printf("mean gap %.2f %%, %d of %d optimal, 2 s each\n", sum/float64(len(best)-1), hits, len(best)-1)
	}
}

// BenchmarkTardiness plans the OR-Library instances, 1 s each.
func BenchmarkTardiness(b *testing.B) {
	for range b.N {
		fmt.Printf("\n%-6s %12s %12s %8s %6s\n", "set", "published", "ours", "gap %", "equal")
		for _, set := range []struct {
			jobs int
			best string
		}{{40, "wtopt40.txt"}, {50, "wtopt50.txt"}, {100, "wtbest100b.txt"}} {
			want := readNumbers(b, readFile(b, benchSets(b, "orlib-wt", set.best)))
			var sum, published int64
			hits := 0
			for i, p := range readTardiness(b, benchSets(b, "orlib-wt", fmt.Sprintf("wt%d.txt", set.jobs)), set.jobs) {
				r, _ := solved(b, p, time.Second)
				sum, published = sum+r.Objective.Late, published+want[i]
				if r.Objective.Late == want[i] {
					hits++
				}
			}
			fmt.Printf("wt%-4d %12d %12d %8.4f %3d of 125\n", set.jobs, published, sum, gap(sum, published), hits)
		}
	}
}
