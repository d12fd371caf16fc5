package plan

import (
	"slices"
	"strings"

	"ribdesk/internal/fault"
)

// Check goes through a plan as a person would, interval by interval, and
// computes what it comes to. It shares nothing with the planner, so that one can
// be tested against the other. The error is a Conflict fault naming the first
// line that is out of place. Only the machines, lines and run times of the plan
// are read; its changeovers are worked out anew.
func Check(p Problem, plan Plan) (Objective, error) {
	if err := p.Validate(); err != nil {
		return Objective{}, err
	}
	c := checker{p: p, where: map[string]string{}, run: map[string]Job{}}
	for i := range plan.Machines {
		if err := c.machine(plan.Machines[i]); err != nil {
			return Objective{}, err
		}
	}
	for _, l := range p.Lines {
		if _, ok := c.run[l.ID]; !ok {
			return Objective{}, fault.Conflictf("line %q isn't in the plan", l.ID)
		}
	}
	if err := c.pins(plan); err != nil {
		return Objective{}, err
	}
	return c.sum, nil
}

type checker struct {
	p     Problem
	where map[string]string // machine of each line seen
	run   map[string]Job
	sum   Objective
}

func (c *checker) machine(seq Sequence) error {
	i := slices.IndexFunc(c.p.Machines, func(m Machine) bool { return m.ID == seq.Machine })
	if i < 0 {
		return fault.Conflictf("the plan names machine %q, which isn't there", seq.Machine)
	}
	m := c.p.Machines[i]
	if len(seq.Jobs) < len(m.Frozen) {
		return fault.Conflictf("machine %q lost frozen runs", m.ID)
	}
	setup, clock := m.Initial, int64(0)
	for k, job := range seq.Jobs {
		j := slices.IndexFunc(c.p.Lines, func(l Line) bool { return l.ID == job.Line })
		if j < 0 {
			return fault.Conflictf("the plan names line %q, which isn't there", job.Line)
		}
		if _, twice := c.run[job.Line]; twice {
			return fault.Conflictf("line %q stands twice in the plan", job.Line)
		}
		line := c.p.Lines[j]
		minutes, feet := changeover(c.p.Rules[m.Rule], setup, line.Setup)
		if k < len(m.Frozen) {
			if f := m.Frozen[k]; f.Line != job.Line || f.Start != job.Start || f.End != job.End {
				return fault.Conflictf("line %q isn't where machine %q was frozen", job.Line, m.ID)
			}
		} else if err := c.fits(m, line, job, clock, minutes); err != nil {
			return err
		}
		c.where[job.Line], c.run[job.Line] = m.ID, job
		if job.End > line.Due {
			c.sum.Late += line.LateCents * (job.End - line.Due)
		}
		c.sum.Ends += job.End
		c.sum.Minutes += minutes
		c.sum.Feet += feet
		c.sum.Changeover += minutes*c.p.MinuteCents + feet*c.p.FootCents
		setup, clock = line.Setup, job.End
	}
	return nil
}

// fits checks one run behind the end of the one before.
func (c *checker) fits(m Machine, line Line, job Job, clock, change int64) error {
	no := func(format string, args ...any) error {
		args = append([]any{line.ID, m.ID, job.Start, job.End}, args...)
		return fault.Conflictf("line %q on machine %q [%d, %d): "+format, args...)
	}
	minutes, ok := line.Minutes[m.ID]
	if !ok {
		return no("it may not run there")
	}
	base := max(clock, line.Earliest)
	if job.Start < base {
		return no("it starts before minute %d", base)
	}
	if c.p.Split {
		switch {
		case openBetween(m.Windows, base, job.Start) < change:
			return no("there is no room for %d minutes of changeover", change)
		case openBetween(m.Windows, job.Start, job.End) != minutes:
			return no("the open minutes in it are not %d", minutes)
		case openBetween(m.Windows, job.Start, job.Start+1) != 1 || openBetween(m.Windows, job.End-1, job.End) != 1:
			return no("it doesn't start and end in open minutes")
		}
		return nil
	}
	if job.End-job.Start != minutes {
		return no("it should take %d minutes", minutes)
	}
	inside, room := false, change == 0
	for _, w := range m.Windows {
		inside = inside || w.Start <= job.Start && job.End <= w.End
		room = room || min(w.End, job.Start)-max(w.Start, base) >= change
	}
	switch {
	case !inside:
		return no("it lies in no window")
	case !room:
		return no("no window has room for %d minutes of changeover before it", change)
	}
	return nil
}

func openBetween(windows []Window, from, to int64) (minutes int64) {
	for _, w := range windows {
		minutes += max(0, min(w.End, to)-max(w.Start, from))
	}
	return minutes
}

// changeover looks at two setups attribute by attribute.
func changeover(r Rule, a, b Setup) (minutes, feet int64) {
	var covered []string
	for _, attr := range r.Attributes {
		var from, to []string
		for _, key := range attr.Keys {
			from, to = append(from, a.Part(key)), append(to, b.Part(key))
		}
		if slices.Equal(from, to) || slices.Contains(covered, attr.Name) {
			continue
		}
		covered = append(covered, attr.Covers...)
		m, ft := attr.Minutes, attr.Feet
		for _, pair := range attr.Pairs {
			if pair.From == strings.Join(from, "|") && pair.To == strings.Join(to, "|") {
				m, ft = pair.Minutes, pair.Feet
			}
		}
		if r.Aggregate == Max {
			minutes, feet = max(minutes, m), max(feet, ft)
		} else {
			minutes, feet = minutes+m, feet+ft
		}
	}
	return minutes, feet
}

// pins checks what persons fixed.
func (c *checker) pins(plan Plan) error {
	for _, l := range c.p.Lines {
		job, on := c.run[l.ID], c.where[l.ID]
		if l.Pin == nil || c.frozen(l.ID) {
			continue
		}
		switch pin := *l.Pin; {
		case pin.Machine != "" && pin.Machine != on:
			return fault.Conflictf("line %q is pinned to machine %q", l.ID, pin.Machine)
		case job.Start < pin.NotBefore:
			return fault.Conflictf("line %q is pinned not to start before minute %d", l.ID, pin.NotBefore)
		case pin.StartBy != nil && job.Start > *pin.StartBy:
			return fault.Conflictf("line %q is pinned to start by minute %d", l.ID, *pin.StartBy)
		case pin.Position > 0 && c.place(plan, on, l.ID) != pin.Position:
			return fault.Conflictf("line %q is pinned to place %d of its machine", l.ID, pin.Position)
		case pin.After != "" && (c.where[pin.After] != on || c.run[pin.After].Start >= job.Start):
			return fault.Conflictf("line %q is pinned behind line %q", l.ID, pin.After)
		}
	}
	return nil
}

func (c *checker) frozen(line string) bool {
	for _, m := range c.p.Machines {
		if slices.ContainsFunc(m.Frozen, func(j Job) bool { return j.Line == line }) {
			return true
		}
	}
	return false
}

// place counts from 1 behind the frozen head.
func (c *checker) place(plan Plan, machine, line string) int {
	for _, seq := range plan.Machines {
		if seq.Machine != machine {
			continue
		}
		for _, m := range c.p.Machines {
			if m.ID == machine {
				return 1 + slices.IndexFunc(seq.Jobs, func(j Job) bool { return j.Line == line }) - len(m.Frozen)
			}
		}
	}
	return 0
}
