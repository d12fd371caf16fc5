package plan

import "slices"

// orderPenalty is what a broken position or order pin counts in a score's over.
const orderPenalty = 1_000_000

// track is one machine's order with the running sums before each place.
type track struct {
	seq      []int32
	fams     []int32 // fams[i] is the setup before place i, and at the end the one that is nothing
	clock    []int64 // clock[i] is when the machine is done with seq[:i]
	sum      []score // sum[i] is what seq[:i] comes to
	rate     []int64 // rate[i] is the late cents a minute of the late lines among seq[:i]
	slack    []int64 // see slacken; this and the next is kept where the clock is additive
	least    []int64
	dues     []dues
	own      []int64  // minutes of changeover before each place
	marks    [][]mark // see ruler
	measured int      // how many places the last three hold for
	order    int64    // penalty of broken order pins
}

func (t *track) total() score {
	s := t.sum[len(t.seq)]
	s.over += t.order
	return s
}

// state is a whole order, open to be tried and changed.
type state struct {
	m       *model
	tracks  []track
	coarse  bool    // trials look at lateness and changeovers only
	at      []place // by line
	scratch []int32
	first   []int32 // spare copy for trials with order pins
}

type place struct {
	machine int32 // -1 when taken out
	index   int32
}

func newState(m *model) *state {
	s := &state{m: m, tracks: make([]track, len(m.stands)), at: make([]place, len(m.fam))}
	for i := range s.at {
		s.at[i] = place{-1, 0}
	}
	for k := range s.tracks {
		s.tracks[k].fams = []int32{m.stands[k].fam, m.nothing()}
		s.tracks[k].clock = []int64{m.stands[k].clock}
		s.tracks[k].sum = make([]score, 1)
		s.tracks[k].rate = make([]int64, 1)
	}
	return s
}

// total adds up all machines, without the frozen heads.
func (s *state) total() score {
	var sum score
	for k := range s.tracks {
		sum = sum.plus(s.tracks[k].total())
	}
	return sum
}

// before gives the family machine k stands in before place i.
func (s *state) before(k, i int) int32 { return s.tracks[k].fams[i] }

// less compares two changes; a coarse state doesn't look at ends.
func (s *state) less(a, b score) bool {
	if s.coarse && !s.m.p.Goal.Weighted {
		a.ends, b.ends = 0, 0
	}
	return s.m.less(a, b)
}

// splice is a change of one machine's order: places [lo, hi) become the parts.
type splice struct {
	machine, lo, hi int
	parts           [3][]int32
}

// try gives how a splice changes the total, or false as soon as it can't be
// less than limit.
func (s *state) try(c *splice, limit score) (score, bool) {
	if s.m.ordered {
		return s.tryOrdered(c, limit)
	}
	m, t, st := s.m, &s.tracks[c.machine], &s.m.stands[c.machine]
	clock, sum, fam := t.clock[c.lo], t.sum[c.lo], t.fams[c.lo]
	total := t.sum[len(t.seq)]
	bar := total.plus(limit)
	lateOnly := total.over == 0 && !m.p.Goal.Weighted
	add := m.add
	if s.coarse && !m.p.Goal.Weighted {
		add = m.addCoarse
	}
	for _, part := range c.parts {
		for _, l := range part {
			clock = add(st, l, fam, clock, &sum)
			fam = m.fam[l]
		}
		if !s.less(sum, bar) {
			return score{}, false
		}
	}
	for i := c.hi; i < len(t.seq); i++ {
		if i > c.hi || fam == t.fams[i] {
			if clock == t.clock[i] {
				delta := sum.minus(t.sum[i])
				return delta, s.less(delta, limit)
			}
			if clock > t.clock[i] {
				if !s.less(sum.minus(t.sum[i]), limit) {
					return score{}, false
				}
			} else if lateOnly && sum.late-t.sum[i].late-t.relief(st, i, t.clock[i]-clock) > limit.late {
				return score{}, false
			}
		}
		l := t.seq[i]
		clock = add(st, l, fam, clock, &sum)
		fam = m.fam[l]
	}
	delta := sum.minus(total)
	return delta, s.less(delta, limit)
}

// relief bounds how much lateness from place i on goes away when the clock there
// is earlier: all of it, or where minutes and clock go together no more than
// the late lines lose by that much.
func (t *track) relief(st *station, i int, earlier int64) int64 {
	n := len(t.seq)
	all := t.sum[n].late - t.sum[i].late
	if st.cal.even {
		all = min(all, earlier*(t.rate[n]-t.rate[i]))
	}
	return all
}

// tryOrdered is try by building the whole order, for problems whose pins depend
// on places.
func (s *state) tryOrdered(c *splice, limit score) (score, bool) {
	t := &s.tracks[c.machine]
	s.first = s.spliced(s.first[:0], c)
	var sum score
	st := &s.m.stands[c.machine]
	clock, fam := st.clock, st.fam
	for _, l := range s.first {
		clock = s.m.add(st, l, fam, clock, &sum)
		fam = s.m.fam[l]
	}
	sum.over += s.m.orderBroken(c.machine, s.first)
	delta := sum.minus(t.total())
	return delta, s.less(delta, limit)
}

// spliced appends the new order to out.
func (s *state) spliced(out []int32, c *splice) []int32 {
	seq := s.tracks[c.machine].seq
	out = append(out, seq[:c.lo]...)
	for _, part := range c.parts {
		out = append(out, part...)
	}
	return append(out, seq[c.hi:]...)
}

// do carries a splice out.
func (s *state) do(c *splice) {
	t := &s.tracks[c.machine]
	s.scratch = s.spliced(s.scratch[:0], c)
	for _, l := range t.seq[c.lo:c.hi] {
		if int(s.at[l].machine) == c.machine {
			s.at[l].machine = -1
		}
	}
	t.seq, s.scratch = s.scratch, t.seq
	s.refresh(c.machine, c.lo)
}

// set replaces a machine's whole order.
func (s *state) set(k int, seq []int32) {
	t := &s.tracks[k]
	t.seq = append(t.seq[:0], seq...)
	s.refresh(k, 0)
}

// refresh recomputes a machine's sums from place lo on.
func (s *state) refresh(k, lo int) {
	m, t, st := s.m, &s.tracks[k], &s.m.stands[k]
	n := len(t.seq)
	t.fams = slices.Grow(t.fams[:lo+1], n-lo+1)[:n+2]
	t.rate = slices.Grow(t.rate[:lo+1], n-lo)[:n+1]
	t.clock = slices.Grow(t.clock[:lo+1], n-lo)[:n+1]
	t.sum = slices.Grow(t.sum[:lo+1], n-lo)[:n+1]
	for i := lo; i < n; i++ {
		l := t.seq[i]
		sum := t.sum[i]
		t.clock[i+1] = m.add(st, l, t.fams[i], t.clock[i], &sum)
		t.sum[i+1] = sum
		t.rate[i+1] = t.rate[i]
		if sum.late > t.sum[i].late {
			t.rate[i+1] += st.tasks[l].lateCents
		}
		t.fams[i+1] = m.fam[l]
		s.at[l] = place{int32(k), int32(i)}
	}
	t.fams[n+1] = m.nothing()
	if m.adds {
		t.slacken(st, lo)
		t.measured = min(t.measured, lo)
	}
	if m.ordered {
		t.order = m.orderBroken(k, t.seq)
	}
}

// copyTrack makes machine k stand as in another state of the same model.
func (s *state) copyTrack(from *state, k int) {
	t, f := &s.tracks[k], &from.tracks[k]
	t.seq = append(t.seq[:0], f.seq...)
	t.fams = append(t.fams[:0], f.fams...)
	t.clock = append(t.clock[:0], f.clock...)
	t.sum = append(t.sum[:0], f.sum...)
	t.slack = append(t.slack[:0], f.slack...)
	t.least = append(t.least[:0], f.least...)
	t.measured = 0
	t.rate = append(t.rate[:0], f.rate...)
	t.order = f.order
	for i, l := range t.seq {
		s.at[l] = place{int32(k), int32(i)}
	}
}

// orderBroken gives the penalty of position and order pins broken by an order.
func (m *model) orderBroken(k int, seq []int32) int64 {
	var broken int64
	seen := make(map[string]bool, len(seq))
	for _, l := range m.stands[k].frozen {
		seen[m.p.Lines[l].ID] = true
	}
	for i, l := range seq {
		line := &m.p.Lines[l]
		seen[line.ID] = true
		if line.Pin == nil {
			continue
		}
		if want := line.Pin.Position; want > 0 && want != i+1 {
			broken += orderPenalty + max(int64(want-i-1), int64(i+1-want))
		}
		if line.Pin.After != "" && !seen[line.Pin.After] {
			broken += orderPenalty
		}
	}
	return broken
}

// plan writes the state out with all times, frozen heads first.
func (s *state) plan() Plan {
	m := s.m
	out := Plan{Case: m.p.Name}
	for k := range s.tracks {
		st := &m.stands[k]
		seq := Sequence{Machine: m.p.Machines[k].ID, Jobs: append([]Job{}, m.p.Machines[k].Frozen...)}
		clock, fam := st.clock, st.fam
		for _, l := range s.tracks[k].seq {
			var job Job
			job, clock = m.job(k, l, fam, clock)
			seq.Jobs = append(seq.Jobs, job)
			fam = m.fam[l]
		}
		out.Machines = append(out.Machines, seq)
	}
	return out
}

// job writes one line's run out.
func (m *model) job(k int, l, fam int32, clock int64) (Job, int64) {
	st := &m.stands[k]
	t := &st.tasks[l]
	cell := int(fam)*st.t.n + int(m.fam[l])
	change := Change{Minutes: int64(st.t.minutes[cell]), Cents: st.t.cents[cell]}
	if fam != m.fam[l] {
		for _, part := range m.p.Rules[m.p.Machines[k].Rule].Between(m.families[fam], m.families[m.fam[l]]) {
			change.Feet += part.Feet
		}
	}
	start, end := st.step(t, clock, change.Minutes)
	job := Job{Line: m.p.Lines[l].ID, Start: st.cal.minute(start), End: st.cal.ended(end)}
	change.Start, change.End = job.Start, job.Start
	if change.Minutes > 0 {
		base := max(clock, t.release)
		if m.p.Split {
			change.Start, change.End = st.cal.minute(base), st.cal.ended(base+change.Minutes)
		} else {
			change.Start = st.cal.fit(base, change.Minutes)
			change.End = change.Start + change.Minutes
		}
	}
	job.Change = change
	return job, end
}

// objective adds a plan's parts up from its jobs.
func (m *model) objective(plan Plan) Objective {
	lines := lineIndex(*m.p)
	var o Objective
	for k, seq := range plan.Machines {
		fam := m.p.Machines[k].Initial
		rule := m.p.Rules[m.p.Machines[k].Rule]
		for _, job := range seq.Jobs {
			line := &m.p.Lines[lines[job.Line]]
			o.Late += line.LateCents * max(0, job.End-line.Due)
			o.Ends += job.End
			for _, part := range rule.Between(fam, line.Setup) {
				o.Minutes += part.Minutes
				o.Feet += part.Feet
			}
			fam = line.Setup
		}
	}
	o.Changeover = o.Minutes*m.p.MinuteCents + o.Feet*m.p.FootCents
	return o
}

// load takes over the order of a plan, leaving out frozen heads and lines the
// problem no longer has.
func (s *state) load(plan Plan) {
	lines := lineIndex(*s.m.p)
	open := make([]bool, len(s.at))
	for _, l := range s.m.open {
		open[l] = true
	}
	for k := range s.tracks {
		var seq []int32
		for _, have := range plan.Machines {
			if have.Machine != s.m.p.Machines[k].ID {
				continue
			}
			for _, job := range have.Jobs {
				if l, ok := lines[job.Line]; ok && open[l] && s.m.stands[k].tasks[l].run > 0 {
					seq = append(seq, int32(l))
					open[l] = false
				}
			}
		}
		s.set(k, seq)
	}
}
