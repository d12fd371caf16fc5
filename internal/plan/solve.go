package plan

import (
	"context"
	"fmt"
	"math"
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
	s.bound = m.bounds()
	stopped, err := s.improveUntil(set)
	if err != nil {
		return Result{Status: Infeasible, Stopped: stopped, Work: s.work}, err
	}
	return s.result(stopped), nil
}

// improveUntil tries the exact methods that apply, and searches until nothing
// better exists or the time or iterations are used up.
func (s *search) improveUntil(set Settings) (stopped string, err error) {
	stopped = s.run(min(set.limit(), warmUp))
	exactly, cancel := s.ctx, func() {}
	if set.Budget > 0 { // leave half the time to the search
		exactly, cancel = context.WithTimeout(s.ctx, set.Budget/2)
	}
	defer cancel()
	if s.proven() {
		return stopped, nil
	}
	if best, done := s.exact(exactly); done {
		if best == nil {
			return "no plan exists", s.m.noRoom(s.best)
		}
		s.copyAll(s.best, best)
		s.proveAll()
		return allWeighed, nil
	}
	if cents, done := s.proveFamilies(exactly); done {
		s.bound.Changeover = max(s.bound.Changeover, cents+s.m.fixed.change)
		s.copyAll(s.now, s.best)
		s.descend()
	}
	stopped = s.run(set.limit())
	if s.best.total().over > 0 {
		return stopped, s.m.noRoom(s.best)
	}
	return stopped, nil
}

// warmUp is how many kicks come before the exact methods, which gain from a
// good plan to beat.
const warmUp = 100

const allWeighed = "every order was weighed"

func (set Settings) limit() int {
	switch {
	case set.Iterations > 0:
		return set.Iterations
	case set.Budget > 0:
		return math.MaxInt
	}
	return DefaultIterations
}

// proveAll makes the best plan its own bound.
func (s *search) proveAll() {
	total := s.best.total().plus(s.m.fixed)
	s.bound.Late, s.bound.Changeover, s.bound.Ends = total.late, total.change, total.ends
	s.bound.Proven = 3
}

// proven reports whether the best plan reaches the bound in every component.
func (s *search) proven() bool {
	total := s.best.total().plus(s.m.fixed)
	b := &s.bound
	b.Proven = 0
	for _, pair := range [3][2]int64{{total.late, b.Late}, {total.change, b.Changeover}, {total.ends, b.Ends}} {
		if total.over > 0 || pair[0] != pair[1] {
			break
		}
		b.Proven++
	}
	return b.Proven == 3
}

func (s *search) result(stopped string) Result {
	r := Result{Plan: s.best.plan(), Status: Feasible, Stopped: stopped, Work: s.work}
	if s.bound.Proven == 3 || s.proven() {
		r.Status = Optimal
	}
	r.Bound = s.bound
	r.Batches = Batches(*s.m.p, r.Plan)
	r.Objective = s.m.objective(r.Plan)
	return r
}

// run iterates until the best plan is proven, the time is up or so many kicks
// are made in all.
func (s *search) run(limit int) string {
	for s.work.Iterations < limit {
		switch {
		case s.proven():
			return "no plan is better"
		case len(s.m.open) < 2:
			return "there is nothing to choose"
		case s.stopped():
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

// InWords says how good the plan is, for the owner: what is proven, and how much
// changeover could still be saved at most.
func (r Result) InWords() string {
	saving := r.Objective.Minutes - r.Bound.Minutes
	left := fmt.Sprintf("at most %d minutes of changeover could still be saved", saving)
	switch {
	case r.Status == Infeasible:
		return "there is no plan"
	case r.Status == Optimal:
		return "no plan is better"
	case r.Bound.Proven >= 2 && r.Objective.Late == 0:
		return "nothing is late, and no punctual plan changes over for less"
	case r.Bound.Proven >= 2:
		return "no plan is more punctual, and none as punctual changes over for less"
	case r.Objective.Late == 0:
		return "nothing is late; " + left
	case r.Bound.Proven == 1:
		return "no plan is more punctual; " + left
	}
	return "some lines are late, and it isn't known whether that can be helped; " + left
}
