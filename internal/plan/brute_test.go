package plan_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"testing"

	"ribdesk/internal/fault"
	"ribdesk/internal/plan"
)

// tiny gives a problem of a few minutes, so that windows, coils and due times
// bite, and every order can be enumerated.
func tiny(rng *rand.Rand, lines, machines int) plan.Problem {
	p := plan.Problem{Name: "tiny", Split: rng.IntN(2) == 0, MinuteCents: 1 + rng.Int64N(3), FootCents: rng.Int64N(3)}
	n := func(k int64) int64 { return rng.Int64N(k) }
	p.Rules = map[string]plan.Rule{"r": {
		Aggregate: pick(rng, plan.Sum, plan.Max),
		Attributes: []plan.Attribute{
			{Name: "rollers", Keys: []string{"profile"}, Minutes: 1 + n(4), Feet: n(3), Covers: []string{"rib"},
				Pairs: []plan.Pair{{From: "a", To: "b", Minutes: n(6), Feet: 1}}},
			{Name: "coil", Keys: []string{"material", "colour"}, Minutes: n(3), Feet: n(4),
				Pairs: []plan.Pair{{From: "steel|x", To: "steel|y", Minutes: 3, Feet: 2}}},
			{Name: "rib", Keys: []string{"rib"}, Minutes: n(3)},
		}}}
	setup := func() plan.Setup {
		return plan.Setup{Profile: pick(rng, "a", "b", "c"), Material: "steel", Colour: pick(rng, "x", "y"), Rib: pick(rng, "", "r")}
	}
	for k := range machines {
		m := plan.Machine{ID: fmt.Sprintf("M%d", k), Rule: "r", Initial: setup()}
		at := n(4)
		for range 1 + rng.IntN(6) {
			end := at + 6 + n(14)
			m.Windows = append(m.Windows, plan.Window{Start: at, End: end})
			at = end + n(6)
		}
		p.Machines = append(p.Machines, m)
	}
	for i := range lines {
		l := plan.Line{ID: fmt.Sprintf("L%d", i), Order: fmt.Sprintf("O%d", i/2), Setup: setup(), Minutes: map[string]int64{},
			Earliest: n(3) * n(12), Due: 5 + n(50), LateCents: n(4)}
		for k := range machines {
			if k == i%machines || rng.IntN(3) > 0 {
				l.Minutes[fmt.Sprintf("M%d", k)] = 1 + n(7)
			}
		}
		p.Lines = append(p.Lines, l)
	}
	return p
}

// enumerate tries every order of every sharing-out, timing each step minute by
// minute, and gives the best objective by the checker's figures.
type enumerate struct {
	p    plan.Problem
	best *plan.Objective
	plan plan.Plan
	left []bool
}

func bruteForce(p plan.Problem) *plan.Objective {
	e := &enumerate{p: p, left: make([]bool, len(p.Lines))}
	for i := range e.left {
		e.left[i] = true
	}
	for _, m := range p.Machines {
		e.plan.Machines = append(e.plan.Machines, plan.Sequence{Machine: m.ID})
	}
	e.machine(0)
	return e.best
}

// machine extends machine k's order by each line left, or goes to the next one.
func (e *enumerate) machine(k int) {
	if k == len(e.p.Machines) {
		if o, err := plan.Check(e.p, e.plan); err == nil && (e.best == nil || e.p.Goal.Compare(o, *e.best) < 0) {
			e.best = &o
		}
		return
	}
	e.machine(k + 1)
	seq := &e.plan.Machines[k]
	for i, l := range e.p.Lines {
		if !e.left[i] || l.Minutes[seq.Machine] == 0 {
			continue
		}
		start, end, ok := e.earliest(k, l)
		if !ok {
			continue
		}
		e.left[i] = false
		seq.Jobs = append(seq.Jobs, plan.Job{Line: l.ID, Start: start, End: end})
		e.machine(k)
		seq.Jobs = seq.Jobs[:len(seq.Jobs)-1]
		e.left[i] = true
	}
}

// earliest goes minute by minute until the changeover and the run fit.
func (e *enumerate) earliest(k int, l plan.Line) (start, end int64, ok bool) {
	m := e.p.Machines[k]
	setup, base := m.Initial, max(0, l.Earliest)
	for _, job := range e.plan.Machines[k].Jobs {
		base = max(base, job.End)
		for _, o := range e.p.Lines {
			if o.ID == job.Line {
				setup = o.Setup
			}
		}
	}
	var change int64
	for _, part := range e.p.Rules[m.Rule].Between(setup, l.Setup) {
		change += part.Minutes
	}
	run, last := l.Minutes[m.ID], m.Windows[len(m.Windows)-1].End
	for start = base; start < last; start++ {
		end = start + run
		for e.p.Split && open(m, start, end) < run && end < last {
			end++
		}
		if open(m, start, start+1) == 1 && fits(m, start, end, run, e.p.Split) && changes(m, base, start, change, e.p.Split) {
			return start, end, true
		}
	}
	return 0, 0, false
}

// fits reports whether a run from start to end has its minutes.
func fits(m plan.Machine, start, end, run int64, split bool) bool {
	return open(m, start, end) == run && (split || sameWindow(m, start, end))
}

// changes reports whether a changeover fits between base and start.
func changes(m plan.Machine, base, start, change int64, split bool) bool {
	if split {
		return open(m, base, start) >= change
	}
	for s := base; s+change <= start; s++ {
		if change == 0 || sameWindow(m, s, s+change) {
			return true
		}
	}
	return false
}

func sameWindow(m plan.Machine, from, to int64) bool {
	for _, w := range m.Windows {
		if w.Start <= from && to <= w.End {
			return true
		}
	}
	return false
}

func open(m plan.Machine, from, to int64) (minutes int64) {
	for t := from; t < to; t++ {
		for _, w := range m.Windows {
			if w.Start <= t && t < w.End {
				minutes++
			}
		}
	}
	return minutes
}

// TestExactEqualsEnumeration compares the planner with every possible order.
func TestExactEqualsEnumeration(t *testing.T) {
	cases := 100
	if testing.Short() {
		cases = 40
	}
	infeasible := 0
	for seed := range uint64(cases) {
		rng := rand.New(rand.NewPCG(seed, 2))
		machines := 1 + rng.IntN(3)
		p := tiny(rng, 2+rng.IntN(7-machines), machines)
		p.Goal.Weighted, p.Goal.Weights = seed%4 == 0, [3]int64{3, 2, 1}
		want := bruteForce(p)
		r, err := plan.Solve(context.Background(), p, plan.Settings{Iterations: 20, Seed: seed})
		if want == nil {
			infeasible++
			if !fault.Is(err, fault.Conflict) || r.Status != plan.Infeasible {
				t.Fatalf("seed %d: no plan exists, planner says %v %v", seed, r.Status, err)
			}
			continue
		}
		if err != nil {
			t.Fatalf("seed %d: %v, but %+v exists", seed, err, *want)
		}
		if p.Goal.Compare(r.Objective, *want) != 0 || r.Status != plan.Optimal {
			t.Fatalf("seed %d: planner %v %+v, enumeration %+v", seed, r.Status, r.Objective, *want)
		}
	}
	if infeasible == 0 || infeasible > cases/2 {
		t.Fatalf("%d of %d cases are infeasible: the generator tests too little", infeasible, cases)
	}
}
