package plan_test

import (
	"context"
	"math/rand/v2"
	"testing"

	"ribdesk/internal/plan"
)

// TestPlansStandUpToTheChecker solves many random problems of all kinds.
func TestPlansStandUpToTheChecker(t *testing.T) {
	for seed := range uint64(60) {
		rng := rand.New(rand.NewPCG(seed, 1))
		p := random(rng, shape{lines: 1 + rng.IntN(30), families: 1 + rng.IntN(9), machines: 1 + rng.IntN(3),
			split: seed%2 == 0, dates: seed%3 != 0, releases: seed%5 == 0, slack: 0.5})
		p.Goal = plan.Goal{Weighted: seed%7 == 0, Weights: [3]int64{5, 2, 1}}
		r, err := plan.Solve(context.Background(), p, plan.Settings{Iterations: 30, Seed: seed})
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		got, err := plan.Check(p, r.Plan)
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		if got != r.Objective {
			t.Fatalf("seed %d: reported %+v, checked %+v", seed, r.Objective, got)
		}
	}
}
