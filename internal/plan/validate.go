package plan

import (
	"fmt"
	"math"
	"slices"

	"ribdesk/internal/fault"
)

// Validate refuses a problem with a broken reference, a number out of bounds or
// windows out of order, each fault at the path of its field.
func (p Problem) Validate() error {
	v := validator{p: p, machines: map[string]int{}, lines: map[string]int{}}
	v.sizes()
	if len(v.faults) > 0 {
		return v.faults.Err()
	}
	v.number("changeover_cents_per_min", p.MinuteCents, 0, MaxRate)
	v.number("scrap_cents_per_ft", p.FootCents, 0, MaxRate)
	for i, w := range p.Goal.Weights {
		v.number(fmt.Sprintf("objective.weights[%d]", i), w, 0, math.MaxInt64)
	}
	for _, name := range sortedKeys(p.Rules) {
		v.rule("rules."+name, p.Rules[name])
	}
	for i, m := range p.Machines {
		v.machine(fmt.Sprintf("machines[%d]", i), i, m)
	}
	for i, l := range p.Lines {
		v.line(fmt.Sprintf("lines[%d]", i), i, l)
	}
	if len(v.faults) == 0 {
		v.references()
	}
	if len(v.faults) == 0 && v.worst() == math.MaxInt64 {
		v.faults.Addf("", "the rates and times of this problem are too large to add up")
	}
	return v.faults.Err()
}

type validator struct {
	p        Problem
	machines map[string]int
	lines    map[string]int
	faults   fault.List
}

func (v *validator) sizes() {
	windows := 0
	for _, m := range v.p.Machines {
		windows += len(m.Windows)
	}
	v.number("lines", int64(len(v.p.Lines)), 0, MaxLines)
	v.number("machines", int64(len(v.p.Machines)), 1, MaxMachines)
	v.number("machines", int64(windows), 0, MaxWindows)
}

func (v *validator) number(field string, n, least, most int64) {
	if n < least || n > most {
		v.faults.Addf(field, "%d is not between %d and %d", n, least, most)
	}
}

func (v *validator) rule(field string, r Rule) {
	if r.Aggregate != "" && r.Aggregate != Sum && r.Aggregate != Max {
		v.faults.Addf(field, "%q is no way to add up a changeover: use sum or max", r.Aggregate)
	}
	names := map[string]bool{}
	for i, a := range r.Attributes {
		at := fmt.Sprintf("%s[%d]", field, i)
		if a.Name == "" || names[a.Name] {
			v.faults.Addf(at+".name", "each attribute needs a name of its own, not %q", a.Name)
		}
		names[a.Name] = true
	}
	for i, a := range r.Attributes {
		at := fmt.Sprintf("%s[%d]", field, i)
		v.number(at+".minutes", a.Minutes, 0, MaxMinutes/1000)
		v.number(at+".scrap_ft", a.Feet, 0, MaxMinutes/1000)
		if len(a.Keys) == 0 {
			v.faults.Addf(at+".keys", "an attribute needs at least one key")
		}
		for k, key := range a.Keys {
			if !slices.Contains(Keys, key) {
				v.faults.Addf(fmt.Sprintf("%s.keys[%d]", at, k), "a setup has no %q", key)
			}
		}
		for k, c := range a.Covers {
			if !names[c] {
				v.faults.Addf(fmt.Sprintf("%s.covers[%d]", at, k), "the rule has no attribute %q", c)
			}
		}
		seen := map[[2]string]bool{}
		for k, pair := range a.Pairs {
			pat := fmt.Sprintf("%s.pairs[%d]", at, k)
			v.number(pat+".minutes", pair.Minutes, 0, MaxMinutes/1000)
			v.number(pat+".scrap_ft", pair.Feet, 0, MaxMinutes/1000)
			if key := [2]string{pair.From, pair.To}; seen[key] {
				v.faults.Addf(pat, "the pair from %q to %q stands here twice", pair.From, pair.To)
			} else {
				seen[key] = true
			}
		}
	}
}

func (v *validator) machine(field string, i int, m Machine) {
	if _, twice := v.machines[m.ID]; twice || m.ID == "" {
		v.faults.Addf(field+".id", "each machine needs an id of its own, not %q", m.ID)
	}
	v.machines[m.ID] = i
	if _, ok := v.p.Rules[m.Rule]; !ok {
		v.faults.Addf(field+".rule", "there is no rule %q", m.Rule)
	}
	var last int64
	for k, w := range m.Windows {
		at := fmt.Sprintf("%s.windows[%d]", field, k)
		v.number(at, w.Start, 0, MaxMinutes)
		v.number(at, w.End, 0, MaxMinutes)
		if w.End <= w.Start {
			v.faults.Addf(at, "the window ends at %d, not after its start %d", w.End, w.Start)
		} else if w.Start < last {
			v.faults.Addf(at, "the window starts at %d, before the one in front of it ends at %d", w.Start, last)
		}
		last = w.End
	}
}

func (v *validator) line(field string, i int, l Line) {
	if _, twice := v.lines[l.ID]; twice || l.ID == "" {
		v.faults.Addf(field+".id", "each line needs an id of its own, not %q", l.ID)
	}
	v.lines[l.ID] = i
	v.number(field+".earliest", l.Earliest, -MaxMinutes, MaxMinutes)
	v.number(field+".due", l.Due, -MaxMinutes, MaxMinutes)
	v.number(field+".late_cents_per_min", l.LateCents, 0, MaxRate)
	for _, id := range sortedKeys(l.Minutes) {
		if _, ok := v.machines[id]; !ok {
			v.faults.Addf(field+".minutes."+id, "there is no machine %q", id)
		}
		v.number(field+".minutes."+id, l.Minutes[id], 1, MaxMinutes/1000)
	}
}

// references checks pins and frozen jobs, which name lines and machines.
func (v *validator) references() {
	for i, l := range v.p.Lines {
		if l.Pin == nil {
			continue
		}
		field := fmt.Sprintf("lines[%d].pin", i)
		if _, ok := v.machines[l.Pin.Machine]; l.Pin.Machine != "" && !ok {
			v.faults.Addf(field+".machine", "there is no machine %q", l.Pin.Machine)
		}
		if _, ok := v.lines[l.Pin.After]; l.Pin.After != "" && (!ok || l.Pin.After == l.ID) {
			v.faults.Addf(field+".after", "there is no other line %q", l.Pin.After)
		}
		v.number(field+".position", int64(l.Pin.Position), 0, MaxLines)
		v.number(field+".not_before", l.Pin.NotBefore, -MaxMinutes, MaxMinutes)
	}
	frozen := map[string]bool{}
	for i, m := range v.p.Machines {
		var last int64
		for k, job := range m.Frozen {
			at := fmt.Sprintf("machines[%d].frozen[%d]", i, k)
			switch _, ok := v.lines[job.Line]; {
			case !ok:
				v.faults.Addf(at, "there is no line %q", job.Line)
			case frozen[job.Line]:
				v.faults.Addf(at, "line %q is frozen twice", job.Line)
			case job.Start < last || job.End <= job.Start || job.End > MaxMinutes:
				v.faults.Addf(at, "the frozen run [%d, %d) doesn't follow the one in front of it", job.Start, job.End)
			}
			frozen[job.Line], last = true, job.End
		}
	}
}

// worst bounds every sum the planner can form, MaxInt64 when it overflows.
func (v *validator) worst() int64 {
	var last, late, change, ends int64
	for _, m := range v.p.Machines {
		if n := len(m.Windows); n > 0 {
			last = max(last, m.Windows[n-1].End)
		}
		for _, job := range m.Frozen {
			last = max(last, job.End)
		}
	}
	var dearest int64
	for _, r := range v.p.Rules {
		var one int64
		for _, a := range r.Attributes {
			minutes, feet := a.Minutes, a.Feet
			for _, pair := range a.Pairs {
				minutes, feet = max(minutes, pair.Minutes), max(feet, pair.Feet)
			}
			one = mulAdd(mulAdd(one, minutes, v.p.MinuteCents), feet, v.p.FootCents)
			last = mulAdd(last, minutes, int64(len(v.p.Lines)))
		}
		dearest = max(dearest, one)
	}
	for _, l := range v.p.Lines {
		var longest int64
		for _, run := range l.Minutes {
			longest = max(longest, run)
		}
		last = mulAdd(last, longest, 1)
	}
	for _, l := range v.p.Lines {
		late = mulAdd(late, l.LateCents, mulAdd(last, 1, max(0, -l.Due)))
		change = mulAdd(change, 1, dearest)
		ends = mulAdd(ends, 1, last)
	}
	sum := mulAdd(mulAdd(mulAdd(0, late, 4), change, 4), ends, 4)
	if v.p.Goal.Weighted && sum != math.MaxInt64 {
		w := v.p.Goal.Weights
		sum = mulAdd(mulAdd(mulAdd(0, w[0], 4*late), w[1], 4*change), w[2], 4*ends)
	}
	return sum
}
