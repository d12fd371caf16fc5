package plan_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"ribdesk/internal/plan"
)

// solved runs the planner for a time and checks what it says.
func solved(b *testing.B, p plan.Problem, budget time.Duration) (plan.Result, time.Duration) {
	return checked(b, context.Background(), p, budget)
}

func checked(b *testing.B, ctx context.Context, p plan.Problem, budget time.Duration) (plan.Result, time.Duration) {
	start := time.Now()
	r, err := plan.Solve(ctx, p, plan.Settings{Budget: budget, Seed: 1})
	took := time.Since(start)
	if err != nil {
		b.Fatal(err)
	}
	if o, err := plan.Check(p, r.Plan); err != nil || o != r.Objective {
		b.Fatalf("%s: checked %+v (%v), reported %+v", p.Name, o, err, r.Objective)
	}
	return r, took
}

// processor gives the processor time this process has had.
func processor() time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// ofProcessor runs the planner for so much processor time, so that a busy
// machine doesn't change what public instances come to.
func ofProcessor(b *testing.B, p plan.Problem, budget time.Duration) (plan.Result, time.Duration) {
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	start := processor()
	go func() {
		for left := budget; left > 0 && ctx.Err() == nil; left = budget - (processor() - start) {
			time.Sleep(min(max(left/2, time.Millisecond), 20*time.Millisecond))
		}
		cancel()
	}()
	r, _ := checked(b, ctx, p, 100*budget)
	return r, processor() - start
}

// load is the machine's load average, to stand beside what was measured.
func load() string {
	text, err := os.ReadFile("/proc/loadavg")
	if err != nil || len(strings.Fields(string(text))) == 0 {
		return "unknown"
	}
	return strings.Fields(string(text))[0]
}

func gap(ours, best int64) float64 { return 100 * float64(ours-best) / max(1, float64(best)) }

// published is the table of public instances: what is published, what the
// planner comes to, and the means of each set.
type published struct {
	set        string
	gaps       float64
	rows, hits int
	sum, best  int64
	missed     int // instances whose optimum is 0, which have no gap in percent
	worst      float64
}

func (t *published) row(name string, ours, best int64, took time.Duration, print bool) {
	t.sum, t.best = t.sum+ours, t.best+best
	switch {
	case ours == best:
		t.hits++
		fallthrough
	case best > 0:
		t.rows++
		t.gaps += gap(ours, best)
		t.worst = max(t.worst, gap(ours, best))
	default:
		t.missed++
	}
	if !print {
		return
	}
	percent := "-"
	if best > 0 || ours == 0 {
		percent = fmt.Sprintf("%.2f", gap(ours, best))
	}
	fmt.Printf("%-14s %9d %9d %7s %7.2f\n", name, best, ours, percent, took.Seconds())
}

func (t *published) means() {
	fmt.Printf("%s: mean gap %.2f %%, worst %.2f %%, in total %.4f %%, %d of %d equal the published value", t.set, t.gaps/float64(max(1, t.rows)), t.worst, gap(t.sum, t.best), t.hits, t.rows+t.missed)
	if t.missed > 0 {
		fmt.Printf("; %d whose optimum is 0 missed, in no mean", t.missed)
	}
	fmt.Printf("; load %s\n", load())
}

// BenchmarkPublished plans the public instances, each for a processor time:
// TSPLIB's asymmetric tours 1 s, Cicirello's set-ups 2 s, and OR-Library's
// weighted tardiness 0.2 s, of which only the sums are printed.
func BenchmarkPublished(b *testing.B) {
	for range b.N {
		fmt.Printf("\n%-14s %9s %9s %7s %7s\n", "instance", "published", "ours", "gap %", "s")
		tours, setups := published{set: "TSPLIB, 1 s each"}, published{set: "set-ups, 2 s each"}
		dir := benchSets(b, "tsplib-atsp")
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
			r, took := ofProcessor(b, readTour(b, path), time.Second)
			tours.row(file, r.Objective.Changeover, readNumbers(b, value)[0], took, true)
		}
		best := optima(b)
		for k := 1; k < len(best); k++ {
			r, took := ofProcessor(b, readSetups(b, benchSets(b, "wtsds", fmt.Sprintf("wt_sds_%d.instance", k))), 2*time.Second)
			setups.row(fmt.Sprint("set-ups ", k), r.Objective.Late, best[k], took, true)
		}
		tours.means()
		setups.means()
		tardiness(b)
	}
}

// tardiness plans the OR-Library instances.
func tardiness(b *testing.B) {
	for _, set := range []struct {
		jobs int
		best string
	}{{40, "wtopt40.txt"}, {50, "wtopt50.txt"}, {100, "wtbest100b.txt"}} {
		want := readNumbers(b, readFile(b, benchSets(b, "orlib-wt", set.best)))
		t := published{set: fmt.Sprintf("wt%d, 0.2 s each", set.jobs)}
		for i, p := range readTardiness(b, benchSets(b, "orlib-wt", fmt.Sprintf("wt%d.txt", set.jobs)), set.jobs) {
			r, took := ofProcessor(b, p, 200*time.Millisecond)
			t.row(p.Name, r.Objective.Late, want[i], took, false)
		}
		t.means()
	}
}
