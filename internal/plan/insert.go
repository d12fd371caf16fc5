package plan

import (
	"slices"

	"ribdesk/internal/fault"
)

// Fit is one way to take new lines into the present plan without changing the
// order of what is there.
type Fit struct {
	Plan    Plan      // with the new lines in it
	Jobs    []Job     // the new lines' runs, in the order they were asked
	Promise int64     // the minute at which the last of them ends
	OnTime  bool      // none of them ends past its own due time
	Extra   Objective // what the whole plan's objective rises by
	Delayed []Delay   // other lines that end past their due time and later than before
}

// Delay is a line that a change makes late, or later than it was.
type Delay struct {
	Line, Order string
	Due         int64
	Was, Now    int64 // its end before and after
}

// Offer answers what taking new lines would do. Cheapest and Earliest delay no
// other line past its due time and are nil when no place does that; Cheapest
// also keeps the new lines' own due times if it can. Rush ends them as early as
// possible whoever has to wait.
type Offer struct {
	Cheapest *Fit
	Earliest *Fit
	Rush     *Fit
}

// Insert looks for the best places of new lines of one order in a plan of p;
// with several lines each is placed given the ones before. The lines must not
// be in p already. A Conflict fault says that they fit nowhere.
func Insert(p Problem, plan Plan, lines ...Line) (Offer, error) {
	in, err := NewInsertion(p, plan, lines...)
	if err != nil {
		return Offer{}, err
	}
	o := Offer{Cheapest: in.Cheapest(), Earliest: in.Earliest(), Rush: in.rush()}
	if o.Rush == nil {
		return Offer{}, in.noPlace()
	}
	return o, nil
}

func (in *Insertion) noPlace() error {
	return fault.Conflictf("line %q fits into no free window", in.p.Lines[in.news[0]].ID)
}

// Best gives the place that is taken unless somebody chooses otherwise: the
// cheapest, else the earliest that harms nobody, else the earliest of all.
func (in *Insertion) Best() (*Fit, error) {
	for _, look := range []func() *Fit{in.Cheapest, in.Earliest, in.rush} {
		if f := look(); f != nil {
			return f, nil
		}
	}
	return nil, in.noPlace()
}

// Cheapest keeps own due times first, and drops that if it can't be had; see Offer.
func (in *Insertion) Cheapest() *Fit {
	return in.fit(func(a, b spot) bool {
		switch {
		case a.harmless != b.harmless:
			return a.harmless
		case a.own != b.own:
			return a.own < b.own
		case a.delta.change != b.delta.change:
			return a.delta.change < b.delta.change
		}
		return a.end < b.end
	}, true)
}

// Earliest ends the new lines as soon as can be without harm; see Offer.
func (in *Insertion) Earliest() *Fit {
	return in.fit(func(a, b spot) bool {
		return a.harmless && (!b.harmless || in.sooner(a, b))
	}, true)
}

func (in *Insertion) rush() *Fit { return in.fit(in.sooner, false) }

func (in *Insertion) sooner(a, b spot) bool {
	if a.end != b.end {
		return a.end < b.end
	}
	return in.m.less(a.delta, b.delta)
}

// Insertion is a plan loaded for trying new lines of one order, so that one can
// look for several kinds of places without loading it anew. One goroutine at a
// time may ask it.
type Insertion struct {
	p       Problem // with the new lines
	m       *model
	s       *state
	before  Plan
	was     Objective
	news    []int32
	dueAt   []int64 // due minute of every line
	wasEnd  []int64 // present end of every line, -1 for new ones
	starter [][]int32
}

// spot is a place for one line.
type spot struct {
	found       bool
	machine, at int
	end         int64 // minute
	own         int64 // minutes past its own due time
	delta       score
	harmless    bool
}

// NewInsertion loads a plan of p for new lines; see Insert.
func NewInsertion(p Problem, plan Plan, lines ...Line) (*Insertion, error) {
	if len(lines) == 0 {
		return nil, fault.Invalidf("lines", "there is no line to place")
	}
	p.Lines = append(slices.Clip(p.Lines), lines...)
	in := &Insertion{p: p, before: plan}
	var err error
	if in.m, err = newModel(&in.p); err != nil {
		return nil, err
	}
	old := len(p.Lines) - len(lines)
	for i := range lines {
		l := int32(old + i)
		if why := in.m.misfit(l); why != "" {
			return nil, fault.Conflictf("line %q can't be planned: %s", lines[i].ID, why)
		}
		in.news = append(in.news, l)
	}
	in.s = newState(in.m)
	in.s.load(plan)
	for _, l := range in.m.open {
		if int(l) < old && in.s.at[l].machine < 0 {
			return nil, fault.Conflictf("line %q isn't in the present plan", p.Lines[l].ID)
		}
		if int(l) >= old && in.s.at[l].machine >= 0 {
			return nil, fault.Conflictf("line %q is in the present plan already", p.Lines[l].ID)
		}
	}
	if in.s.total().over > 0 {
		return nil, in.m.noRoom(in.s)
	}
	present := in.s.plan()
	in.was = in.m.objective(present)
	in.dueAt, in.wasEnd = make([]int64, len(p.Lines)), make([]int64, len(p.Lines))
	for i, l := range p.Lines {
		in.dueAt[i], in.wasEnd[i] = l.Due, -1
	}
	index := lineIndex(in.p)
	for _, seq := range present.Machines {
		for _, job := range seq.Jobs {
			in.wasEnd[index[job.Line]] = job.End
		}
	}
	for k := range in.s.tracks {
		in.starter = append(in.starter, slices.Clone(in.s.tracks[k].seq))
	}
	return in, nil
}

// fit places all new lines by an order of preference and undoes it again.
// Harmless fits that would delay others are none.
func (in *Insertion) fit(better func(a, b spot) bool, harmless bool) *Fit {
	defer func() {
		for k := range in.s.tracks {
			in.s.set(k, in.starter[k])
		}
		for _, l := range in.news {
			in.s.at[l].machine = -1
		}
	}()
	for _, l := range in.news {
		best := in.place(l, better)
		if !best.found || harmless && !best.harmless {
			return nil
		}
		c := splice{machine: best.machine, lo: best.at, hi: best.at, parts: [3][]int32{{l}}}
		in.s.do(&c)
	}
	return in.describe()
}

// place looks at every place of a line.
func (in *Insertion) place(l int32, better func(a, b spot) bool) (best spot) {
	for k := range in.s.tracks {
		if in.m.stands[k].tasks[l].run == 0 {
			continue
		}
		for at := range len(in.s.tracks[k].seq) + 1 {
			x := in.look(l, k, at)
			if x.found && (!best.found || better(x, best)) {
				best = x
			}
		}
	}
	return best
}

// look puts a line at one place and follows what it moves until the machine is
// in step with the present plan again.
func (in *Insertion) look(l int32, k, at int) spot {
	m, st, t := in.m, &in.m.stands[k], &in.s.tracks[k]
	sum := t.sum[at]
	clock := m.add(st, l, in.s.before(k, at), t.clock[at], &sum)
	end := st.cal.ended(clock)
	x := spot{machine: k, at: at, end: end, own: max(0, end-in.dueAt[l]), harmless: true}
	fam := m.fam[l]
	i := at
	for ; i < len(t.seq); i++ {
		if i > at && clock == t.clock[i] || i == at && clock == t.clock[i] && fam == in.s.before(k, i) {
			break
		}
		o := t.seq[i]
		clock = m.add(st, o, fam, clock, &sum)
		fam = m.fam[o]
		if ended := st.cal.ended(clock); ended > in.dueAt[o] && clock > t.clock[i+1] {
			x.harmless = x.harmless && in.wasEnd[o] < 0
		}
	}
	x.delta = sum.minus(t.sum[i])
	if m.ordered {
		trial := in.s.spliced(nil, &splice{machine: k, lo: at, hi: at, parts: [3][]int32{{l}}})
		x.delta.over += m.orderBroken(k, trial) - t.order
	}
	x.found = x.delta.over <= 0
	return x
}

// describe writes out the fit that the state holds now.
func (in *Insertion) describe() *Fit {
	f := &Fit{Plan: in.s.plan(), OnTime: true}
	f.Extra = in.m.objective(f.Plan).Minus(in.was)
	jobs := map[string]Job{}
	for _, seq := range f.Plan.Machines {
		for _, job := range seq.Jobs {
			jobs[job.Line] = job
		}
	}
	for i, l := range in.p.Lines {
		job := jobs[l.ID]
		switch late := job.End > l.Due; {
		case in.wasEnd[i] < 0:
			f.Jobs = append(f.Jobs, job)
			f.Promise = max(f.Promise, job.End)
			f.OnTime = f.OnTime && !late
		case late && job.End > in.wasEnd[i]:
			f.Delayed = append(f.Delayed, Delay{l.ID, l.Order, l.Due, in.wasEnd[i], job.End})
		}
	}
	return f
}

// DueOffer is the cheapest fit that ends by a due time, and what it saves
// against the first of the due times asked for that could be kept.
type DueOffer struct {
	Due          int64
	Fit          *Fit // nil when no harmless fit ends by then
	SavedCents   int64
	SavedMinutes int64
}

// Promise offers each of several due times for the same new lines, so that the
// customer sees what waiting is worth. It replaces the lines' own due times.
func (in *Insertion) Promise(dues []int64) (out []DueOffer) {
	var first *Fit
	for _, due := range slices.Sorted(slices.Values(dues)) {
		for _, l := range in.news {
			in.dueAt[l] = due
			in.p.Lines[l].Due = due
			for k := range in.m.stands {
				in.m.stands[k].tasks[l] = newTask(&in.p.Lines[l], in.p.Machines[k].ID, &in.m.stands[k].cal)
			}
		}
		o := DueOffer{Due: due}
		if fit := in.Cheapest(); fit != nil && fit.OnTime {
			o.Fit = fit
			if first == nil {
				first = fit
			}
			o.SavedCents = first.Extra.Changeover - fit.Extra.Changeover
			o.SavedMinutes = first.Extra.Minutes - fit.Extra.Minutes
		}
		out = append(out, o)
	}
	return out
}
