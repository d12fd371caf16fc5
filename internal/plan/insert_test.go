package plan_test

import (
	"context"
	"math/rand/v2"
	"slices"
	"testing"

	"ribdesk/internal/plan"
)

// quoteCase is a random plan and lines that are asked about.
func quoteCase(t testing.TB, rng *rand.Rand, lines, asked int) (plan.Problem, plan.Plan, []plan.Line) {
	p := random(rng, shape{lines: lines + asked, families: 2 + rng.IntN(8), machines: 1 + rng.IntN(2), days: 0,
		split: rng.IntN(2) == 0, dates: true, releases: rng.IntN(3) == 0, slack: 0.4})
	news := slices.Clone(p.Lines[lines:])
	p.Lines = p.Lines[:lines]
	r, err := plan.Solve(context.Background(), p, plan.Settings{Iterations: 20, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	return p, r.Plan, news
}

// TestQuoteComesTrue puts the lines where the offer says and checks every figure.
func TestQuoteComesTrue(t *testing.T) {
	for seed := range uint64(80) {
		rng := rand.New(rand.NewPCG(seed, 4))
		p, present, news := quoteCase(t, rng, 1+rng.IntN(25), 1+rng.IntN(3))
		before, err := plan.Check(p, present)
		if err != nil {
			t.Fatal(err)
		}
		offer, err := plan.Insert(p, present, news...)
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		with := p
		with.Lines = append(slices.Clone(p.Lines), news...)
		for name, fit := range map[string]*plan.Fit{"cheapest": offer.Cheapest, "earliest": offer.Earliest, "rush": offer.Rush} {
			if fit == nil {
				continue
			}
			after, err := plan.Check(with, fit.Plan)
			if err != nil {
				t.Fatalf("seed %d %s: %v", seed, name, err)
			}
			if after.Minus(before) != fit.Extra {
				t.Errorf("seed %d %s: quoted %+v, comes to %+v", seed, name, fit.Extra, after.Minus(before))
			}
			again, _, err := plan.Schedule(with, fit.Plan)
			if err != nil {
				t.Fatal(err)
			}
			var last, own int64
			for _, l := range news {
				_, job := again.Find(l.ID)
				last, own = max(last, job.End), max(own, job.End-job.Start)
			}
			if last != fit.Promise || fit.Promise < own {
				t.Errorf("seed %d %s: promised %d, ends %d", seed, name, fit.Promise, last)
			}
			late := 0
			for _, l := range p.Lines {
				_, was := present.Find(l.ID)
				if _, is := again.Find(l.ID); is.End > l.Due && is.End > was.End {
					late++
				}
			}
			if late != len(fit.Delayed) || name != "rush" && late > 0 {
				t.Errorf("seed %d %s: %d others delayed, told %d", seed, name, late, len(fit.Delayed))
			}
		}
		if c, e := offer.Cheapest, offer.Earliest; len(news) == 1 && c != nil && (e == nil || e.Promise > c.Promise || offer.Rush.Promise > e.Promise) {
			t.Errorf("seed %d: the earliest fit isn't the earliest", seed)
		}
	}
}

// TestPromiseSavesByWaiting asks for later and later due times: the cost never
// rises, and every offer keeps its due time.
func TestPromiseSavesByWaiting(t *testing.T) {
	saved := 0
	for seed := range uint64(40) {
		rng := rand.New(rand.NewPCG(seed, 5))
		p, present, news := quoteCase(t, rng, 20, 1)
		dues := []int64{1020, 2460, 3900, 5340, 6780, 8220}
		in, err := plan.NewInsertion(p, present, news...)
		if err != nil {
			t.Fatal(err)
		}
		var last *plan.Fit
		for _, o := range in.Promise(dues) {
			if o.Fit == nil {
				continue
			}
			if o.Fit.Promise > o.Due {
				t.Errorf("seed %d: due %d, promised %d", seed, o.Due, o.Fit.Promise)
			}
			if last != nil && o.Fit.Extra.Changeover > last.Extra.Changeover {
				t.Errorf("seed %d: waiting until %d costs more", seed, o.Due)
			}
			if o.SavedCents > 0 {
				saved++
			}
			last = o.Fit
		}
	}
	if saved == 0 {
		t.Error("waiting never saved anything: the cases test too little")
	}
}

func TestInsertSaysNo(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	p, present, news := quoteCase(t, rng, 3, 1)
	news[0].Minutes = map[string]int64{"M1": 100_000}
	if _, err := plan.Insert(p, present, news...); err == nil {
		t.Error("a line longer than all windows was placed")
	}
	if _, err := plan.Insert(p, present, p.Lines[0]); err == nil {
		t.Error("a line that is in the plan was placed again")
	}
	if _, err := plan.Insert(p, plan.Plan{}, news...); err == nil {
		t.Error("a plan without its lines was taken")
	}
}
