package plan

// candidate is the best change found so far: one splice, or two on different
// machines.
type candidate struct {
	delta score
	one   splice
	two   splice // machine -1 when there is none
	found bool
}

// improve makes the best change that begins at line l, false if none helps.
func (s *search) improve(l int32) bool {
	p := s.now.at[l]
	if p.machine < 0 {
		return false
	}
	total := s.now.total()
	s.summed = s.m.adds && total.over == 0 && !s.m.p.Goal.Weighted
	s.calm = total.late == 0 && total.over == 0 && !s.m.p.Goal.Weighted && !s.m.ordered
	k, i := int(p.machine), int(p.index)
	best := candidate{two: splice{machine: -1}}
	if s.calm {
		s.seams(k, i, &best)
		s.seams(k, i+1, &best)
		if best.found {
			s.do(&best.one)
			return true
		}
	}
	if s.calm && !s.thorough {
		return false
	}
	for x, n := range s.lengths(k, i) {
		s.shifts(k, i, i+n, &best)
		if x < swapped {
			s.swaps(k, i, i+n, &best)
		}
		if len(s.now.tracks) > 1 {
			s.transfers(k, i, i+n, &best)
		}
	}
	s.reversals(k, i, &best)
	if !best.found {
		return false
	}
	s.do(&best.one)
	if best.two.machine >= 0 {
		s.do(&best.two)
	}
	return true
}

// lengths gives how many lines to move along with the one at place i: a few,
// and as many as end with the next few runs.
func (s *search) lengths(k, i int) []int {
	seq := s.now.tracks[k].seq
	most := fewRuns
	if len(s.m.open) <= smallSet {
		most = manyRuns
	}
	out := s.lens[:0]
	for n, runs := 1, 0; i+n <= len(seq) && runs < most; n++ {
		ends := i+n == len(seq) || s.m.fam[seq[i+n]] != s.m.fam[seq[i+n-1]]
		if ends {
			runs++
		}
		if ends || n <= 3 {
			out = append(out, n)
		}
	}
	s.lens = out
	return out
}

// joints are one machine's changeovers as its order stands.
type joints struct {
	fams  []int32
	cents []int64
	n     int32
}

func (s *search) joints(k int) joints {
	t := s.m.stands[k].t
	return joints{s.now.tracks[k].fams, t.cents, int32(t.n)}
}

// edge gives the cents of the changeover between the lines at two places, where
// place -1 is the present setup and the place past the end is nothing.
func (j *joints) edge(a, b int) int64 { return j.cents[j.fams[a+1]*j.n+j.fams[b+1]] }

// consider tries one exchange if it can help at all. Change is what it does to
// the changeover cents.
func (s *search) consider(k int, change int64, x *exchange, best *candidate) {
	quiet := s.calm && s.summed
	alone := quiet && s.now.coarse // ends don't count: changeovers decide alone
	switch {
	case s.calm && change > best.delta.change:
		return
	case alone && change == best.delta.change:
		return
	case quiet && s.squeezed(k, x):
		return
	case alone:
		s.work.Moves++
		*best = candidate{delta: score{change: change}, one: s.splice(k, x), two: splice{machine: -1}, found: true}
		return
	case s.summed && !s.calm:
		late, ok := s.weigh(k, x, best.delta.late)
		if !ok || late == best.delta.late && change > best.delta.change {
			return
		}
	}
	s.work.Moves++
	c := s.splice(k, x)
	if d, ok := s.now.try(&c, best.delta); ok {
		*best = candidate{delta: d, one: c, two: splice{machine: -1}, found: true}
	}
}

// splice writes an exchange out.
func (s *search) splice(k int, x *exchange) splice {
	c := splice{machine: k, lo: x.lo, hi: x.hi}
	for i, p := range x.spans {
		c.parts[i] = s.now.tracks[k].seq[p.lo:p.hi]
	}
	return c
}

// shifts moves the block [i, j) elsewhere on its machine.
func (s *search) shifts(k, i, j int, best *candidate) {
	e := s.joints(k)
	out := e.edge(i-1, j) - e.edge(i-1, i) - e.edge(j-1, j)
	move := func(t int) {
		change := out + e.edge(t-1, i) + e.edge(j-1, t) - e.edge(t-1, t)
		x := exchange{i, t, [3]span{{j, t}, {i, j}}}
		if t < i {
			x = exchange{t, j, [3]span{{i, j}, {t, i}}}
		}
		s.consider(k, change, &x, best)
	}
	if s.summed && !s.calm {
		b := s.outing(k, i, j)
		b.sooner(best, move)
		b.later(best, move)
		return
	}
	for t := range len(s.now.tracks[k].seq) + 1 {
		if t < i || t > j {
			move(t)
		}
	}
}

// swaps exchanges the block [i, j) with a line or a run further on.
func (s *search) swaps(k, i, j int, best *candidate) {
	seq, fams := s.now.tracks[k].seq, s.now.tracks[k].fams
	for a := j + 1; a < len(seq); a++ {
		s.swap(k, i, j, a, a+1, best)
		if fams[a] == fams[a+1] {
			continue // not the first line of a run
		}
		if _, end := s.runAround(seq[a:], 0); end > 1 {
			s.swap(k, i, j, a, a+end, best)
		}
	}
}

// swap exchanges [i, j) and [a, b), with lines between them.
func (s *search) swap(k, i, j, a, b int, best *candidate) {
	e := s.joints(k)
	change := e.edge(i-1, a) + e.edge(b-1, j) + e.edge(a-1, i) + e.edge(j-1, b) -
		e.edge(i-1, i) - e.edge(j-1, j) - e.edge(a-1, a) - e.edge(b-1, b)
	s.consider(k, change, &exchange{i, b, [3]span{{a, b}, {j, a}, {i, j}}}, best)
}

// reversals turns round the order of a few runs from place i on.
func (s *search) reversals(k, i int, best *candidate) {
	seq := s.now.tracks[k].seq
	e := s.joints(k)
	_, mid := s.runAround(seq, i)
	for runs := 2; runs <= 6 && mid < len(seq); runs++ {
		_, mid = s.runAround(seq, mid)
		if runs < 3 {
			continue // two runs turned round are a shift
		}
		s.turned = s.turned[:0]
		var change int64
		for hi := mid; hi > i; {
			lo, _ := s.runAround(seq[:hi], hi-1)
			lo = max(lo, i)
			if len(s.turned) > 0 {
				change += s.m.stands[k].change(s.m.fam[s.turned[len(s.turned)-1]], s.m.fam[seq[lo]])
			} else {
				change += e.edge(i-1, lo)
			}
			s.turned = append(s.turned, seq[lo:hi]...)
			hi = lo
		}
		change += e.edge(i, mid)
		sums := s.now.tracks[k].sum
		change -= sums[mid].change - sums[i].change + e.edge(mid-1, mid)
		before := best.delta
		if s.calm && change > before.change {
			continue
		}
		s.work.Moves++
		c := splice{k, i, mid, [3][]int32{s.turned}}
		if d, ok := s.now.try(&c, before); ok {
			c.parts[0] = append([]int32{}, s.turned...)
			*best = candidate{delta: d, one: c, two: splice{machine: -1}, found: true}
		}
	}
}

// transfers moves the block [i, j) to another machine, or exchanges it with a
// line or run there.
func (s *search) transfers(k, i, j int, best *candidate) {
	block := s.now.tracks[k].seq[i:j]
	out := splice{machine: k, lo: i, hi: j}
	gain, _ := s.now.try(&out, worst)
	e := s.joints(k)
	closed := e.edge(i-1, j) - e.edge(i-1, i) - e.edge(j-1, j)
	first, last := s.m.fam[block[0]], s.m.fam[block[len(block)-1]]
	for b := range s.now.tracks {
		if b == k || !s.allowed(b, block) || s.stopped() {
			continue
		}
		seq, o := s.now.tracks[b].seq, s.joints(b)
		for t := range len(seq) + 1 {
			if s.calm && closed+o.opened(t, first, last) > best.delta.change {
				continue
			}
			s.pair(out, gain, splice{b, t, t, [3][]int32{block}}, best)
		}
		for t := range seq {
			s.exchange(out, b, t, t+1, best)
			if lo, hi := s.runAround(seq, t); lo == t && hi > t+1 {
				s.exchange(out, b, t, hi, best)
			}
		}
	}
}

// exchange swaps a block with [lo, hi) of another machine.
func (s *search) exchange(out splice, b, lo, hi int, best *candidate) {
	other := s.now.tracks[b].seq[lo:hi]
	block := s.now.tracks[out.machine].seq[out.lo:out.hi]
	if s.calm && s.replaced(out.machine, out.lo, out.hi, other)+s.replaced(b, lo, hi, block) > best.delta.change {
		return
	}
	if !s.allowed(out.machine, other) {
		return
	}
	in := splice{b, lo, hi, [3][]int32{block}}
	s.work.Moves++
	gain, ok := s.now.try(&in, worst)
	if !ok {
		return
	}
	out.parts[0] = other
	s.pair(in, gain, out, best)
}

// replaced gives the change in cents at the seams when a block comes in place
// of [lo, hi) of a machine; what changes over inside either isn't in it.
func (s *search) replaced(k, lo, hi int, block []int32) int64 {
	e := s.joints(k)
	first, last := s.m.fam[block[0]], s.m.fam[block[len(block)-1]]
	return e.cents[e.fams[lo]*e.n+first] + e.cents[last*e.n+e.fams[hi+1]] - e.edge(lo-1, lo) - e.edge(hi-1, hi)
}

// pair tries a second splice on top of one on another machine that gave gain.
func (s *search) pair(one splice, gain score, two splice, best *candidate) {
	s.work.Moves++
	if d, ok := s.now.try(&two, best.delta.minus(gain)); ok {
		// The second splice's parts lie in the first one's machine, so they
		// are copied before that machine changes.
		if one.machine != two.machine && len(two.parts[0]) > 0 {
			two.parts[0] = append([]int32{}, two.parts[0]...)
		}
		if len(one.parts[0]) > 0 {
			one.parts[0] = append([]int32{}, one.parts[0]...)
		}
		*best = candidate{delta: d.plus(gain), one: one, two: two, found: true}
	}
}
