package plan_test

import (
	"fmt"
	"math/rand/v2"

	"ribdesk/internal/plan"
)

// Invented rules and lines in the ranges that are common practice on portable
// machines (no published source): new rollers 45-90 minutes, gauge 10-20, coil
// or colour 10-25 with scrap, rib 5-10.
func panelRule(rng *rand.Rand, profiles []string) plan.Rule {
	var pairs []plan.Pair
	for _, a := range profiles {
		for _, b := range profiles {
			if a != b {
				pairs = append(pairs, plan.Pair{From: a, To: b, Minutes: 45 + 5*rng.Int64N(10), Feet: 6})
			}
		}
	}
	return plan.Rule{Attributes: []plan.Attribute{
		{Name: "rollers", Keys: []string{"profile"}, Minutes: 60, Feet: 6, Covers: []string{"gauge", "rib"}, Pairs: pairs},
		{Name: "gauge", Keys: []string{"material", "gauge"}, Minutes: 10 + rng.Int64N(11), Feet: 4},
		{Name: "coil", Keys: []string{"material", "gauge", "width", "colour"}, Minutes: 10 + rng.Int64N(16), Feet: 10 + rng.Int64N(5),
			Pairs: []plan.Pair{{From: "steel|24|20|charcoal", To: "steel|24|20|white", Minutes: 25, Feet: 14}}},
		{Name: "rib", Keys: []string{"rib"}, Minutes: 5 + rng.Int64N(6)},
	}}
}

// shape says what a random problem looks like.
type shape struct {
	lines, families, machines, days int
	split, dates, releases          bool
	slack                           float64 // share of the open time that is not needed, about
}

// pick draws one of several values.
func pick[T any](rng *rand.Rand, of ...T) T { return of[rng.IntN(len(of))] }

// random gives an invented problem of a shape.
func random(rng *rand.Rand, s shape) plan.Problem {
	profiles := []string{"snaplock", "fivecrimp", "boardbatten", "corrugated"}
	p := plan.Problem{
		Name: "random", Split: s.split, MinuteCents: 150, FootCents: 200,
		Rules: map[string]plan.Rule{"panel": panelRule(rng, profiles)},
	}
	families := make([]plan.Setup, s.families)
	for i := range families {
		families[i] = plan.Setup{
			Profile: profiles[rng.IntN(len(profiles))], Material: "steel", Gauge: pick(rng, "24", "26"), Width: pick(rng, "20", "24"),
			Colour: pick(rng, "charcoal", "white", "bronze", "copper brown", "red"), Rib: pick(rng, "none", "striated"),
		}
	}
	var runs, horizon int64
	for i := range s.lines {
		run := 15 + 5*rng.Int64N(10)
		l := plan.Line{ID: fmt.Sprintf("L%d", i+1), Order: fmt.Sprintf("O%d", i/2+1), Setup: families[rng.IntN(len(families))],
			Minutes: map[string]int64{}, Due: 1 << 28, LateCents: 1 + rng.Int64N(8)}
		l.Minutes[fmt.Sprintf("M%d", 1+rng.IntN(s.machines))] = run
		for k := range s.machines {
			if rng.IntN(2) == 0 {
				l.Minutes[fmt.Sprintf("M%d", k+1)] = run + 5*rng.Int64N(3)
			}
		}
		runs += run
		p.Lines = append(p.Lines, l)
	}
	day := int64(600)
	need := int64(float64(runs+int64(s.families)*40) / (1 - s.slack))
	for k := range s.machines {
		m := plan.Machine{ID: fmt.Sprintf("M%d", k+1), Rule: "panel", Initial: families[rng.IntN(len(families))]}
		for open, d := int64(0), int64(0); open < need; d++ {
			start := d*1440 + 420
			m.Windows = append(m.Windows, plan.Window{Start: start, End: start + day/2}, plan.Window{Start: start + day/2 + 30, End: start + day})
			open += day - 30
			horizon = max(horizon, start+day)
		}
		p.Machines = append(p.Machines, m)
	}
	for i := range p.Lines {
		if s.dates {
			p.Lines[i].Due = (1+rng.Int64N(horizon/1440+1))*1440 + 1020 - 1440*rng.Int64N(2)
		}
		if s.releases && rng.IntN(3) == 0 {
			p.Lines[i].Earliest = rng.Int64N(horizon / 2)
		}
	}
	return p
}
