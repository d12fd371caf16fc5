package plan

import (
	"context"
	"time"

	"ribdesk/internal/fault"
)

// Settings bound a search. With a Budget it runs that long; with Iterations it
// makes so many kicks and the same seed gives the same plan; with neither it
// makes DefaultIterations.
type Settings struct {
	Budget     time.Duration
	Iterations int
	Seed       uint64
}

// DefaultIterations bounds a search without a time budget.
const DefaultIterations = 2000

// Status says what is known about a plan.
type Status string

// A plan is Optimal when no better one exists, Feasible when that isn't known;
// Infeasible means that no plan was found.
const (
	Optimal    Status = "optimal"
	Feasible   Status = "feasible"
	Infeasible Status = "infeasible"
)

// Result is a plan with what is known about it.
type Result struct {
	Plan      Plan
	Batches   []Batch
	Objective Objective
	Bound     Bound
	Status    Status
	Stopped   string // why the search ended, in words
	Work      Work
}

// Bound is what no plan can be better than. Late, Changeover and Ends bound the
// objective one after the other: Changeover holds among plans as punctual as
// the best, Ends among those that also change over as cheaply. Minutes bounds
// the changeover minutes of any plan.
type Bound struct {
	Late, Changeover, Ends int64
	Minutes                int64
	Proven                 int // how many leading components equal the plan's
}

// Solve plans all open lines. The error is a fault: Invalid for a malformed
// problem, Conflict when no plan fits, naming a line and the reason where one
// line is to blame; the result then has status Infeasible.
func Solve(ctx context.Context, p Problem, set Settings) (Result, error) {
	if set.Budget > 0 {
		var cancel context.CancelFunc
		ctx, cancel = context.WithTimeout(ctx, set.Budget)
		defer cancel()
	}
	m, err := newModel(&p)
	if err != nil {
		return Result{Status: Infeasible}, err
	}
	if err := m.impossible(); err != nil {
		return Result{Status: Infeasible, Stopped: "a line can't be planned"}, err
	}
	s := newSearch(ctx, m, set.Seed)
	s.start()
	stopped := s.run(set)
	total := s.best.total()
	if total.over > 0 {
		return Result{Status: Infeasible, Stopped: stopped, Work: s.work}, m.noRoom(s.best)
	}
	r := Result{Plan: s.best.plan(), Status: Feasible, Stopped: stopped, Work: s.work}
	r.Batches = Batches(p, r.Plan)
	r.Objective = m.objective(r.Plan)
	return r, nil
}

// run iterates until the time or the iterations are used up.
func (s *search) run(set Settings) string {
	limit := set.Iterations
	if limit == 0 && set.Budget == 0 {
		limit = DefaultIterations
	}
	if len(s.m.open) < 2 {
		return "there is nothing to choose"
	}
	for limit == 0 || s.work.Iterations < limit {
		if s.stopped() {
			return "the time was used up"
		}
		s.iterate()
	}
	return "the iterations were used up"
}

// noRoom names a line that the best order found leaves behind the last window
// or away from its pin.
func (m *model) noRoom(s *state) error {
	for k := range s.tracks {
		t := &s.tracks[k]
		for i, l := range t.seq {
			if t.sum[i+1].over > t.sum[i].over {
				return fault.Conflictf("no plan was found that fits the windows and pins: line %q on machine %q would end at minute %d",
					m.p.Lines[l].ID, m.p.Machines[k].ID, m.stands[k].cal.ended(t.clock[i+1]))
			}
		}
	}
	return fault.Conflictf("no plan was found that keeps every pinned place and order")
}

// Schedule times the order of a plan: each step as early as possible, which is
// best for that order. Frozen heads stay. A line that is missing or stands
// twice is a fault, and so is an order that doesn't fit.
func Schedule(p Problem, order Plan) (Plan, Objective, error) {
	m, err := newModel(&p)
	if err != nil {
		return Plan{}, Objective{}, err
	}
	s := newState(m)
	s.load(order)
	for _, l := range m.open {
		if s.at[l].machine < 0 {
			return Plan{}, Objective{}, fault.Conflictf("line %q isn't in the plan on a machine that may run it", p.Lines[l].ID)
		}
	}
	if s.total().over > 0 {
		return Plan{}, Objective{}, m.noRoom(s)
	}
	plan := s.plan()
	return plan, m.objective(plan), nil
}
