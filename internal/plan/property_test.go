package plan_test

import (
	"context"
	"fmt"
	"maps"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"ribdesk/internal/plan"
)

// optimum gives the proven best of a small problem, nil when it has no plan.
func optimum(t testing.TB, p plan.Problem) *plan.Objective {
	r, err := plan.Solve(context.Background(), p, plan.Settings{Iterations: 1})
	if r.Status == plan.Infeasible {
		return nil
	}
	if err != nil || r.Status != plan.Optimal {
		t.Fatalf("%v %v", r.Status, err)
	}
	return &r.Objective
}

// noWorse fails if the second problem's optimum is worse than the first one's.
func noWorse(t testing.TB, g plan.Goal, what string, before, after *plan.Objective) {
	if before != nil && (after == nil || g.Compare(*after, *before) > 0) {
		t.Fatalf("%s made the optimum worse: %+v, then %+v", what, before, after)
	}
}

// copied gives a problem whose parts can be changed without touching p's.
func copied(p plan.Problem) plan.Problem {
	q := p
	q.Lines, q.Machines = slices.Clone(p.Lines), slices.Clone(p.Machines)
	for i := range q.Lines {
		q.Lines[i].Minutes = maps.Clone(p.Lines[i].Minutes)
	}
	for i := range q.Machines {
		q.Machines[i].Windows = slices.Clone(p.Machines[i].Windows)
	}
	q.Rules = maps.Clone(p.Rules)
	for name, rule := range q.Rules {
		rule.Attributes = slices.Clone(rule.Attributes)
		for i := range rule.Attributes {
			rule.Attributes[i].Pairs = slices.Clone(rule.Attributes[i].Pairs)
		}
		q.Rules[name] = rule
	}
	return q
}

// TestRelaxing draws small problems and relaxes them in every way.
func TestRelaxing(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(rt, "seed"), 9))
		p := tiny(rng, 2+rng.IntN(6), 1+rng.IntN(2))
		best := optimum(t, p)
		line, machine := rng.IntN(len(p.Lines)), rng.IntN(len(p.Machines))
		for what, relax := range map[string]func(q *plan.Problem){
			"a later due date": func(q *plan.Problem) { q.Lines[line].Due += 7 },
			"an earlier coil":  func(q *plan.Problem) { q.Lines[line].Earliest /= 2 },
			"a longer last window": func(q *plan.Problem) {
				w := q.Machines[machine].Windows
				w[len(w)-1].End += 9
			},
			"an earlier first window": func(q *plan.Problem) { q.Machines[machine].Windows[0].Start /= 2 },
			"a window more": func(q *plan.Problem) {
				w := q.Machines[machine].Windows
				q.Machines[machine].Windows = append(w, plan.Window{Start: w[len(w)-1].End + 3, End: w[len(w)-1].End + 12})
			},
			"a shorter changeover": func(q *plan.Problem) {
				a := &q.Rules["r"].Attributes[rng.IntN(3)]
				a.Minutes = max(0, a.Minutes-2)
				for i := range a.Pairs {
					a.Pairs[i].Minutes /= 2
				}
			},
			"less scrap":        func(q *plan.Problem) { q.Rules["r"].Attributes[0].Feet /= 2 },
			"lateness for less": func(q *plan.Problem) { q.Lines[line].LateCents /= 2 },
			"a shorter run": func(q *plan.Problem) {
				for id, run := range q.Lines[line].Minutes {
					q.Lines[line].Minutes[id] = max(1, run-2)
				}
			},
			"another machine": func(q *plan.Problem) {
				m := q.Machines[machine]
				m.ID = "more"
				q.Machines = append(q.Machines, m)
				q.Lines[line].Minutes["more"] = 4
			},
			"the order of the input": func(q *plan.Problem) { slices.Reverse(q.Lines) },
		} {
			q := copied(p)
			relax(&q)
			noWorse(t, p.Goal, what, best, optimum(t, q))
		}
		whole, split := copied(p), copied(p)
		whole.Split, split.Split = false, true
		noWorse(t, p.Goal, "splitting", optimum(t, whole), optimum(t, split))
	})
}

// TestRenaming: other names change nothing in cost.
func TestRenaming(t *testing.T) {
	for seed := range uint64(20) {
		p := tiny(rand.New(rand.NewPCG(seed, 10)), 6, 2)
		q := copied(p)
		for i := range q.Lines {
			q.Lines[i].ID = fmt.Sprintf("line %d", 100-i)
		}
		if a, b := optimum(t, p), optimum(t, q); !reflect.DeepEqual(a, b) {
			t.Errorf("seed %d: %+v and %+v", seed, a, b)
		}
	}
}

// TestSeeds: the same seed and iterations give the same plan, more iterations
// never a worse one, and no bound is above any plan.
func TestSeeds(t *testing.T) {
	for seed := range uint64(12) {
		rng := rand.New(rand.NewPCG(seed, 11))
		p := random(rng, shape{lines: 15 + rng.IntN(50), families: 12, machines: 1 + int(seed%3), split: seed%2 == 0, dates: true, releases: seed%5 == 4, slack: 0.35})
		solve := func(iterations int) plan.Result {
			r, err := plan.Solve(context.Background(), p, plan.Settings{Iterations: iterations, Seed: seed})
			if err != nil {
				t.Fatal(err)
			}
			return r
		}
		one, two := solve(40), solve(40)
		if !reflect.DeepEqual(one.Plan, two.Plan) {
			t.Errorf("seed %d: two runs of one seed differ", seed)
		}
		more := solve(160)
		if p.Goal.Compare(more.Objective, one.Objective) > 0 {
			t.Errorf("seed %d: more iterations are worse: %+v, then %+v", seed, one.Objective, more.Objective)
		}
		bound := plan.Objective{Late: more.Bound.Late, Changeover: more.Bound.Changeover, Ends: more.Bound.Ends}
		for _, r := range []plan.Result{one, more} {
			if p.Goal.Compare(bound, r.Objective) > 0 || more.Bound.Minutes > r.Objective.Minutes {
				t.Errorf("seed %d: bound %+v above plan %+v", seed, more.Bound, r.Objective)
			}
		}
	}
}

// straight gives a small problem in which no detour over another setup makes a
// changeover shorter or cheaper, runs may be split, and nothing waits.
func straight(rng *rand.Rand, lines, machines int) plan.Problem {
	p := tiny(rng, lines, machines)
	p.Split = true
	rule := p.Rules["r"]
	rule.Aggregate = plan.Sum
	for i := range rule.Attributes {
		rule.Attributes[i].Pairs = nil
	}
	p.Rules["r"] = rule
	for i := range p.Lines {
		p.Lines[i].Earliest = 0
	}
	return p
}

// TestRemoving: without a line no optimum is worse. That takes splitting and
// changeovers that no detour shortens; and nothing may wait, since a changeover
// that has to wait for the coil is longer without the line that prepared it.
func TestRemoving(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(rt, "seed"), 13))
		p := straight(rng, 2+rng.IntN(6), 1+rng.IntN(2))
		q := copied(p)
		gone := rng.IntN(len(p.Lines))
		q.Lines = slices.Delete(q.Lines, gone, gone+1)
		noWorse(t, p.Goal, "removing a line", optimum(t, p), optimum(t, q))
	})
}

// TestWithoutDates: while nothing can be late, the changeovers cost as much as
// the shortest way from the present setup over all others, found by trying all.
func TestWithoutDates(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(rt, "seed"), 14))
		p := straight(rng, 1+rng.IntN(8), 1)
		p.Machines[0].Windows = []plan.Window{{Start: 0, End: 500}}
		setups := map[plan.Setup]bool{}
		for i := range p.Lines {
			p.Lines[i].LateCents = 0
			setups[p.Lines[i].Setup] = true
		}
		if got, want := optimum(t, p).Changeover, shortest(p, p.Machines[0].Initial, setups); got != want {
			rt.Fatalf("changeovers cost %d, the shortest way %d", got, want)
		}
	})
}

// shortest tries every order of the setups left.
func shortest(p plan.Problem, at plan.Setup, left map[plan.Setup]bool) int64 {
	if len(left) == 0 {
		return 0
	}
	best := int64(1 << 40)
	for next := range left {
		rest := maps.Clone(left)
		delete(rest, next)
		way := shortest(p, next, rest)
		for _, part := range p.Rules["r"].Between(at, next) {
			way += part.Minutes*p.MinuteCents + part.Feet*p.FootCents
		}
		best = min(best, way)
	}
	return best
}

// TestOneSetup: lines of one setup need no changeover where it stands, else one.
func TestOneSetup(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(rt, "seed"), 15))
		p := tiny(rng, 1+rng.IntN(7), 1)
		for i := range p.Lines {
			p.Lines[i].Setup = p.Lines[0].Setup
		}
		best := optimum(t, p)
		if best == nil {
			return
		}
		var once int64
		for _, part := range p.Rules["r"].Between(p.Machines[0].Initial, p.Lines[0].Setup) {
			once += part.Minutes
		}
		if best.Minutes != once {
			rt.Fatalf("%d minutes of changeover, one takes %d", best.Minutes, once)
		}
	})
}

// TestSearchAgainstExact: the search alone and the rules by hand never undercut
// the optimum, the bound never exceeds it, and the search mostly finds it.
func TestSearchAgainstExact(t *testing.T) {
	found, cases := 0, 0
	for seed := range uint64(60) {
		rng := rand.New(rand.NewPCG(seed, 16))
		p := tiny(rng, 4+rng.IntN(5), 1+rng.IntN(2))
		p.Goal = plan.Goal{Weighted: seed%3 == 0, Weights: [3]int64{5, 2, 1}}
		best := optimum(t, p)
		for _, h := range hands {
			if _, o, err := h.plan(p); err == nil && p.Goal.Compare(o, *best) < 0 {
				t.Errorf("seed %d: %s comes to %+v, the optimum to %+v", seed, h.name, o, *best)
			}
		}
		r, err := plan.SearchOnly(p, 60, seed)
		if err != nil {
			continue
		}
		cases++
		if p.Goal.Compare(r.Objective, *best) < 0 {
			t.Errorf("seed %d: the search comes to %+v, the optimum to %+v", seed, r.Objective, *best)
		}
		bound := plan.Objective{Late: r.Bound.Late, Changeover: r.Bound.Changeover, Ends: r.Bound.Ends}
		if p.Goal.Compare(bound, *best) > 0 || r.Bound.Minutes > best.Minutes {
			t.Errorf("seed %d: bound %+v above the optimum %+v", seed, r.Bound, *best)
		}
		if p.Goal.Compare(r.Objective, *best) == 0 {
			found++
		}
	}
	if cases < 30 || found*10 < cases*9 {
		t.Errorf("the search found the optimum of %d in %d cases", found, cases)
	}
}

// TestRunningSums: what the search refuses by running sums is truly worse.
func TestRunningSums(t *testing.T) {
	exchanges := 0
	for seed := range uint64(20) {
		rng := rand.New(rand.NewPCG(seed, 17))
		p := random(rng, shape{lines: 10 + rng.IntN(90), families: 3 + rng.IntN(20), machines: 1 + rng.IntN(2), split: true, dates: true, slack: 0.2})
		for i := range p.Lines {
			p.Lines[i].Due -= rng.Int64N(p.Lines[i].Due + 1)
		}
		if seed%2 == 0 {
			for k := range p.Machines {
				p.Machines[k].Windows = []plan.Window{{Start: 100, End: 100_000}}
			}
		}
		n, err := plan.CheckRunningSums(p, seed)
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		exchanges += n
	}
	if exchanges < 2000 {
		t.Errorf("only %d exchanges were compared", exchanges)
	}
}
