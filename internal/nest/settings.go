package nest

import (
	"context"
	"time"
)

// Settings steer a search. The same Seed and Iterations give the same plan on
// any machine; with a Budget the plan depends on the machine's speed.
type Settings struct {
	Budget     time.Duration // the longest search time; 0 means no clock
	Iterations int           // the number of search steps; 0 means until Budget, or a default when that is 0 too
	Seed       uint64        // of the random choices
}

// Status says what is known of a plan.
type Status string

// The states of a plan.
const (
	Optimal    Status = "optimal"    // cost equals the bound
	Feasible   Status = "feasible"   // keeps every rule; a cheaper plan isn't ruled out
	Infeasible Status = "infeasible" // the stock can't yield every item; the plan holds what it can
)

// Stopped says why a search ended.
type Stopped string

// The reasons.
const (
	Proved    Stopped = "proved"    // the bound is reached
	OutOfWork Stopped = "steps"     // all steps of Settings.Iterations are done
	OutOfTime Stopped = "time"      // the budget is spent
	Cancelled Stopped = "cancelled" // the caller called it off
)

// Report is what a search tells beside its plan. Cost and Bound are in
// thousandths of a cent, except for Pack, which takes the money of its caller.
type Report struct {
	Cost    int64
	Bound   int64 // no plan at all costs less
	Status  Status
	Stopped Stopped
	Work    int // search steps done
}

// Gap is how far the cost may be above the best possible one, as a share of
// the bound; 0 when proved optimal.
func (r Report) Gap() float64 {
	if r.Cost <= r.Bound {
		return 0
	}
	if r.Bound <= 0 {
		return 1
	}
	return float64(r.Cost-r.Bound) / float64(r.Bound)
}

// clock counts steps and watches the two ways a search may have to end early.
type clock struct {
	caller context.Context // to tell a cancel from the budget
	ctx    context.Context
	cancel context.CancelFunc
	limit  int // 0: none
	work   int
	over   bool
}

// start opens the clock of one search; fallback steps are used when the
// settings name neither a budget nor steps.
func (s Settings) start(ctx context.Context, fallback int) *clock {
	c := &clock{caller: ctx, ctx: ctx, cancel: func() {}, limit: s.Iterations}
	if s.Budget > 0 {
		c.ctx, c.cancel = context.WithTimeout(ctx, s.Budget)
	} else if c.limit <= 0 {
		c.limit = fallback
	}
	return c
}

// step counts one search step and reports whether it may be done.
func (c *clock) step() bool {
	if c.over || (c.limit > 0 && c.work >= c.limit) {
		c.over = true
		return false
	}
	if c.work&63 == 0 && c.ctx.Err() != nil {
		c.over = true
		return false
	}
	c.work++
	return true
}

// out reports whether time is up, for loops whose turns aren't steps.
func (c *clock) out() bool {
	if !c.over && c.ctx.Err() != nil {
		c.over = true
	}
	return c.over
}

// report closes the books of a search.
func (c *clock) report(cost, bound int64) Report {
	r := Report{Cost: cost, Bound: min(bound, cost), Status: Feasible, Work: c.work}
	switch {
	case cost <= bound:
		r.Status, r.Stopped = Optimal, Proved
	case c.caller.Err() != nil && c.caller.Err() != context.DeadlineExceeded:
		r.Stopped = Cancelled
	case c.ctx.Err() != nil:
		r.Stopped = OutOfTime
	default:
		r.Stopped = OutOfWork
	}
	return r
}
