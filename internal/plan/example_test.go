package plan_test

import (
	"context"
	"fmt"

	"ribdesk/internal/plan"
)

// Three orders on one machine that stands in charcoal: the planner keeps the two
// charcoal orders together and does bronze last.
func Example() {
	seam := func(colour string) plan.Setup {
		return plan.Setup{Profile: "standing seam", Material: "steel", Gauge: "24", Width: "20", Colour: colour}
	}
	p := plan.Problem{
		Split: true, MinuteCents: 150, FootCents: 200,
		Rules: map[string]plan.Rule{"panel": {Attributes: []plan.Attribute{
			{Name: "coil", Keys: []string{"material", "gauge", "width", "colour"}, Minutes: 15, Feet: 12},
		}}},
		Machines: []plan.Machine{{ID: "PANEL", Rule: "panel", Initial: seam("charcoal"), Windows: []plan.Window{{Start: 420, End: 1020}}}},
		Lines: []plan.Line{
			{ID: "101", Setup: seam("charcoal"), Minutes: map[string]int64{"PANEL": 60}, Due: 1020, LateCents: 2},
			{ID: "102", Setup: seam("bronze"), Minutes: map[string]int64{"PANEL": 45}, Due: 1020, LateCents: 2},
			{ID: "103", Setup: seam("charcoal"), Minutes: map[string]int64{"PANEL": 30}, Due: 1020, LateCents: 2},
		},
	}
	r, err := plan.Solve(context.Background(), p, plan.Settings{Iterations: 100, Seed: 1})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, b := range r.Batches {
		fmt.Println(b.Machine, b.Setup.Colour, b.Lines, b.Change.Minutes, b.Start, b.End)
	}
	fmt.Println(r.Objective.Changeover, r.Status, r.InWords())
	// Output:
	// PANEL charcoal [103 101] 0 420 510
	// PANEL bronze [102] 15 525 570
	// 4650 optimal no plan is better
}
