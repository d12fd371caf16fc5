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
