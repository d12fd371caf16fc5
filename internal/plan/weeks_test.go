package plan_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"ribdesk/internal/plan"
)

// week is an invented busy week on one machine: 33 lines, up to 16 setups, five
// days, due at the ends of the days. Orders come in a few at a time, so the
// order of the lines is the order of asking.
func week(seed uint64) plan.Problem {
	rng := rand.New(rand.NewPCG(seed, 6))
	return random(rng, shape{lines: 33, families: 16, machines: 1, split: true, dates: true, slack: 0.28})
}

type hand struct {
	name string
	plan func(plan.Problem) (plan.Plan, plan.Objective, error)
}

var hands = []hand{
	{"first come, first served", plan.FirstCome},
	{"earliest due date", plan.EarliestDue},
	{"due day, then profile and colour", plan.DueDay},
	{"profile, then colour", plan.ByProfile},
}

// lateLines counts the lines that end past their due times.
func lateLines(p plan.Problem, at plan.Plan) (n int) {
	for _, l := range p.Lines {
		if _, job := at.Find(l.ID); job.End > l.Due {
			n++
		}
	}
	return n
}

// rows sums up the planner and each way by hand over some weeks.
func rows(t testing.TB, weeks uint64, set plan.Settings) (lines []string, ours int64, best []int64) {
	var minutes, late int64
	proven, weeksLate := 0, 0
	totals := make([][3]int64, len(hands)) // minutes, late lines, weeks with a late line
	for seed := range weeks {
		p := week(seed)
		// A week that can't be kept at all isn't a fair comparison: give its
		// late lines a day more until the planner keeps it.
		r, err := plan.Solve(context.Background(), p, set)
		for err == nil && r.Objective.Late > 0 {
			for i, l := range p.Lines {
				if _, job := r.Plan.Find(l.ID); job.End > l.Due {
					p.Lines[i].Due += 1440
				}
			}
			r, err = plan.Solve(context.Background(), p, set)
		}
		if err != nil {
			t.Fatalf("week %d: %v", seed, err)
		}
		minutes += r.Objective.Minutes
		late += int64(lateLines(p, r.Plan))
		if late > 0 {
			weeksLate++
		}
		if r.Bound.Proven >= 2 {
			proven++
		}
		for i, h := range hands {
			wide := p
			wide.Machines = slices.Clone(p.Machines) // by hand a week may overrun
			wide.Machines[0].Windows = append(slices.Clone(p.Machines[0].Windows), plan.Window{Start: 100_000, End: 200_000})
			at, o, err := h.plan(wide)
			if err != nil {
				t.Fatalf("week %d by hand: %v", seed, err)
			}
			n := int64(lateLines(p, at))
			totals[i][0] += o.Minutes
			totals[i][1] += n
			totals[i][2] += min(n, 1)
		}
	}
	lines = append(lines, fmt.Sprintf("%-34s %10s %10s %10s %10s", fmt.Sprintf("%d weeks of 33 lines, 1 machine", weeks), "min/week", "more", "late/week", "weeks late"))
	line := func(name string, x [3]int64) {
		n := float64(weeks)
		lines = append(lines, fmt.Sprintf("%-34s %10.0f %+10.0f %10.1f %10d", name, float64(x[0])/n, float64(x[0]-minutes)/n, float64(x[1])/n, x[2]))
	}
	line(fmt.Sprintf("ribdesk (%d proven)", proven), [3]int64{minutes, late, int64(weeksLate)})
	for i, h := range hands {
		line(h.name, totals[i])
		best = append(best, totals[i][0])
	}
	return lines, minutes, best
}

// TestWeeksAgainstHand is a small sample of BenchmarkWeeks.
func TestWeeksAgainstHand(t *testing.T) {
	lines, ours, byHand := rows(t, 4, plan.Settings{Iterations: 300, Seed: 1})
	for _, l := range lines {
		t.Log(l)
	}
	for i, h := range hands {
		if byHand[i] < ours {
			t.Errorf("%s changes over for %d minutes, the planner for %d", h.name, byHand[i], ours)
		}
	}
}

// BenchmarkWeeks prints the comparison of the planner with ways by hand.
func BenchmarkWeeks(b *testing.B) {
	for range b.N {
		fmt.Println()
		lines, _, _ := rows(b, 50, plan.Settings{Iterations: 3000, Seed: 1})
		for _, l := range lines {
			fmt.Println(l)
		}
	}
}
