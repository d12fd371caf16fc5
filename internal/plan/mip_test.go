package plan_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"ribdesk/internal/fault"
	"ribdesk/internal/plan"
)

// TestAgainstIntegerProgram gives small problems to GLPK, a general-purpose
// solver that knows nothing of changeovers, as mixed-integer programs written
// down here from the rules alone: which line follows which, when it ends, in
// which window.
func TestAgainstIntegerProgram(t *testing.T) {
	glpsol, err := exec.LookPath("glpsol")
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("glpsol of Debian's glpk-utils is missing: 'make tools' installs it")
		}
		t.Skip("glpsol of Debian's glpk-utils isn't here: nothing was compared with an integer program")
	}
	infeasible := 0
	for seed := range uint64(20) {
		rng := rand.New(rand.NewPCG(seed, 12))
		machines := 1 + rng.IntN(2)
		p := tiny(rng, 3+rng.IntN(3), machines)
		p.Split = true
		p.Goal = plan.Goal{Weighted: true, Weights: [3]int64{7, 2, 1}}
		want, ok := newProgram(p).solve(t, glpsol)
		r, err := plan.Solve(context.Background(), p, plan.Settings{Iterations: 1})
		if !ok {
			infeasible++
			if !fault.Is(err, fault.Conflict) {
				t.Errorf("seed %d: GLPK finds no plan, the planner says %v %v", seed, r.Status, err)
			}
			continue
		}
		if err != nil {
			t.Fatalf("seed %d: %v, but GLPK finds %d", seed, err, want)
		}
		if got := p.Goal.Number(r.Objective); got != strconv.FormatInt(want, 10) || r.Status != plan.Optimal {
			t.Errorf("seed %d: planner %s (%s), GLPK %d", seed, got, r.Status, want)
		}
	}
	if infeasible > 10 {
		t.Errorf("%d of 20 cases are infeasible: the generator tests too little", infeasible)
	}
}

// program is a problem with splitting and a weighted goal in the LP format.
type program struct {
	p          plan.Problem
	objective  []string
	rows, ints []string
}

func newProgram(p plan.Problem) *program {
	g := &program{p: p}
	on := make([][]string, len(p.Lines))  // what adds up to 1 when a line is placed
	end := make([][]string, len(p.Lines)) // its end less its clock
	for k, m := range p.Machines {
		g.machine(k, m, on, end)
	}
	for j, l := range p.Lines {
		g.row("%s = 1", sum(on[j]))
		g.row("c%d %s - e%d = 0", j, sum(end[j]), j)
		g.row("e%d - t%d <= %d", j, j, l.Due)
		g.objective = append(g.objective, fmt.Sprintf("+ %d t%d + %d e%d", p.Goal.Weights[0]*l.LateCents, j, p.Goal.Weights[2], j))
	}
	return g
}

func (g *program) row(format string, args ...any) {
	g.rows = append(g.rows, fmt.Sprintf(format, args...))
}

func sum(terms []string) string { return strings.Join(terms, " ") }

// machine writes one machine's part: x_k_i_j when line j follows i, or the
// present setup for i = "s"; w_j_k_n when j ends in window n.
func (g *program) machine(k int, m plan.Machine, on, end [][]string) {
	const far = 2000 // beyond all clocks
	for j, to := range g.p.Lines {
		run, may := to.Minutes[m.ID]
		if !may {
			continue
		}
		var into, out []string
		for i := -1; i < len(g.p.Lines); i++ {
			from, x := m.Initial, fmt.Sprintf("x_%d_s_%d", k, j)
			if i >= 0 {
				if _, may := g.p.Lines[i].Minutes[m.ID]; !may || i == j {
					continue
				}
				from, x = g.p.Lines[i].Setup, fmt.Sprintf("x_%d_%d_%d", k, i, j)
				out = append(out, fmt.Sprintf("- x_%d_%d_%d", k, j, i))
			}
			into = append(into, "+ "+x)
			g.ints = append(g.ints, x)
			var minutes, feet int64
			for _, part := range g.p.Rules[m.Rule].Between(from, to.Setup) {
				minutes, feet = minutes+part.Minutes, feet+part.Feet
			}
			g.objective = append(g.objective, fmt.Sprintf("+ %d %s", g.p.Goal.Weights[1]*(minutes*g.p.MinuteCents+feet*g.p.FootCents), x))
			g.row("c%d - %d %s >= %d", j, far, x, openUntil(m, to.Earliest)+minutes+run-far)
			if i >= 0 {
				g.row("c%d - c%d - %d %s >= %d", j, i, far, x, minutes+run-far)
			}
		}
		on[j] = append(on[j], into...)
		if len(out) > 0 {
			g.row("%s %s >= 0", sum(into), sum(out))
		}
		g.windows(j, k, m, into, end)
	}
	var first []string
	for j, l := range g.p.Lines {
		if _, may := l.Minutes[m.ID]; may {
			first = append(first, fmt.Sprintf("+ x_%d_s_%d", k, j))
		}
	}
	if len(first) > 0 {
		g.row("%s <= 1", sum(first))
	}
}

// windows ties a line's clock to the window it ends in, which gives its minute.
func (g *program) windows(j, k int, m plan.Machine, into []string, end [][]string) {
	var any []string
	var opened int64
	for n, w := range m.Windows {
		z := fmt.Sprintf("w_%d_%d_%d", j, k, n)
		g.ints = append(g.ints, z)
		any = append(any, "- "+z)
		const far = 2000
		g.row("c%d - %d %s >= %d", j, far, z, opened+1-far)
		g.row("c%d + %d %s <= %d", j, far, z, opened+w.End-w.Start+far)
		end[j] = append(end[j], fmt.Sprintf("+ %d %s", w.Start-opened, z))
		opened += w.End - w.Start
	}
	g.row("%s %s = 0", sum(into), sum(any))
}

// openUntil counts a machine's open minutes before a minute.
func openUntil(m plan.Machine, minute int64) int64 { return open(m, 0, minute) }

// solve gives the least value, false when there is no solution.
func (g *program) solve(t *testing.T, glpsol string) (value int64, ok bool) {
	dir := t.TempDir()
	in, out := filepath.Join(dir, "case.lp"), filepath.Join(dir, "case.txt")
	text := "Minimize\n obj: " + strings.Join(g.objective, "\n ") + "\nSubject To\n " + strings.Join(g.rows, "\n ") +
		"\nBinary\n " + strings.Join(g.ints, "\n ") + "\nEnd\n"
	if err := os.WriteFile(in, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	if said, err := exec.Command(glpsol, "--lp", in, "--cuts", "--write", out).CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, said)
	}
	for line := range strings.Lines(readFile(t, out)) {
		// "s mip ROWS COLUMNS STATUS VALUE", where o is optimal and n none
		if f := strings.Fields(line); len(f) == 6 && f[0] == "s" {
			x, err := strconv.ParseFloat(f[5], 64)
			if err != nil || f[4] != "o" && f[4] != "n" {
				t.Fatalf("glpsol wrote %q", line)
			}
			return int64(math.Round(x)), f[4] == "o"
		}
	}
	return 0, false // infeasible before any search
}
