package plan_test

import (
	"context"
	"math/rand/v2"
	"slices"
	"testing"

	"ribdesk/internal/fault"
	"ribdesk/internal/plan"
)

// TestReplanKeepsWhatIsFrozen plans, freezes the head of each machine, takes one
// line away and adds a rush line: the head stays, the difference is complete.
func TestReplanKeepsWhatIsFrozen(t *testing.T) {
	for seed := range uint64(30) {
		rng := rand.New(rand.NewPCG(seed, 12))
		p := random(rng, shape{lines: 16, families: 6, machines: 2, split: seed%2 == 0, dates: true, slack: 0.45})
		rush := p.Lines[15]
		p.Lines = p.Lines[:15]
		first, err := plan.Solve(context.Background(), p, plan.Settings{Iterations: 30, Seed: seed})
		if err != nil {
			t.Fatal(err)
		}
		q := copied(p)
		frozen := map[string]bool{}
		for k, seq := range first.Plan.Machines {
			q.Machines[k].Frozen = slices.Clone(seq.Jobs[:min(3, len(seq.Jobs))])
			for _, job := range q.Machines[k].Frozen {
				frozen[job.Line] = true
			}
		}
		gone := slices.IndexFunc(q.Lines, func(l plan.Line) bool { return !frozen[l.ID] })
		goneID := q.Lines[gone].ID
		q.Lines = append(slices.Delete(q.Lines, gone, gone+1), rush)
		again, err := plan.Solve(context.Background(), q, plan.Settings{Iterations: 30, Seed: seed})
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		if o, err := plan.Check(q, again.Plan); err != nil || o != again.Objective {
			t.Fatalf("seed %d: checked %+v (%v), reported %+v", seed, o, err, again.Objective)
		}
		d, err := plan.Diff(p, first.Plan, q, again.Plan)
		if err != nil {
			t.Fatal(err)
		}
		if !slices.Equal(d.Added, []string{rush.ID}) || !slices.Equal(d.Removed, []string{goneID}) {
			t.Errorf("seed %d: added %v, removed %v", seed, d.Added, d.Removed)
		}
		for _, m := range d.Moved {
			if frozen[m.Line] {
				t.Errorf("seed %d: frozen line %s moved", seed, m.Line)
			}
			_, was := first.Plan.Find(m.Line)
			_, is := again.Plan.Find(m.Line)
			if *was != m.From || *is != m.To {
				t.Errorf("seed %d: %+v is told wrong", seed, m)
			}
		}
		if d.Change != again.Objective.Minus(first.Objective) {
			t.Errorf("seed %d: change %+v", seed, d.Change)
		}
	}
}

// TestPins fixes lines in each way; small plans must keep the pins and lose
// nothing an enumeration of all orders finds.
func TestPins(t *testing.T) {
	kept := 0
	for seed := range uint64(60) {
		rng := rand.New(rand.NewPCG(seed, 13))
		p := tiny(rng, 4+rng.IntN(2), 1+rng.IntN(2))
		by := 10 + rng.Int64N(40)
		p.Lines[0].Pin = pick(rng, &plan.Pin{Machine: "M0"}, &plan.Pin{StartBy: &by}, &plan.Pin{Position: 1 + rng.IntN(3)},
			&plan.Pin{After: "L1"}, &plan.Pin{Position: 2, After: "L2"})
		want := bruteForce(p)
		r, err := plan.Solve(context.Background(), p, plan.Settings{Iterations: 50, Seed: seed})
		if want == nil {
			if !fault.Is(err, fault.Conflict) {
				t.Fatalf("seed %d: no plan keeps the pin, planner says %v", seed, err)
			}
			continue
		}
		if err != nil || p.Goal.Compare(r.Objective, *want) != 0 {
			t.Fatalf("seed %d: pin %+v: planner %+v (%v), enumeration %+v", seed, *p.Lines[0].Pin, r.Objective, err, *want)
		}
		kept++
	}
	if kept < 20 {
		t.Errorf("only %d cases have a plan", kept)
	}
}

// TestPinnedStart starts a line exactly at a minute in a plan too large to
// enumerate, and keeps another behind it.
func TestPinnedStart(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 14))
	p := random(rng, shape{lines: 25, families: 6, machines: 1, split: true, slack: 0.5})
	at := int64(1440 + 600)
	p.Lines[4].Pin = &plan.Pin{NotBefore: at, StartBy: &at}
	p.Lines[9].Pin = &plan.Pin{After: p.Lines[4].ID}
	r, err := plan.Solve(context.Background(), p, plan.Settings{Iterations: 100, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := plan.Check(p, r.Plan); err != nil {
		t.Error(err)
	}
	if _, job := r.Plan.Find(p.Lines[4].ID); job.Start != at {
		t.Errorf("pinned to %d, starts at %d", at, job.Start)
	}
}
