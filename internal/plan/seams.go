package plan

// An exchange of two adjacent stretches [a, b) and [b, c) opens three seams and
// closes three others. If it lowers the changeovers, at least one of its three
// lines before a seam gets a successor that is cheaper than the present one. So
// it is enough to look, for each line, at cheaper successors only. This is what
// makes a full search over all pairs of stretches affordable; it holds while
// changeovers alone decide.

// seams looks at all exchanges that give what stands before place x a cheaper
// successor. Lines inside a run change over for nothing and are passed at once.
func (s *search) seams(k, x int, best *candidate) {
	n := len(s.now.tracks[k].seq)
	if x >= n {
		return // nothing follows the last line, and nothing is cheaper than that
	}
	e := s.joints(k)
	now := e.edge(x-1, x)
	if now == 0 {
		return
	}
	look := func(y int) {
		gain := now - e.edge(x-1, y)
		switch {
		case gain <= 0:
		case y > x:
			s.laterEnd(k, &e, x, y, gain, best)
			s.earlierStart(k, &e, x, y, gain, best)
		case y < x:
			s.between(k, &e, y, x, gain, best)
		}
	}
	t := s.m.stands[k].t
	for _, f := range t.nearest(int(e.fams[x])) {
		if t.cents[int(e.fams[x])*t.n+int(f)] >= now {
			break
		}
		for _, l := range s.m.ofFam[f] {
			if at := s.now.at[l]; int(at.machine) == k {
				look(int(at.index))
			}
		}
	}
	look(n)
}

// laterEnd exchanges [a, b) with all [b, c).
func (s *search) laterEnd(k int, e *joints, a, b int, gain int64, best *candidate) {
	gain += e.edge(b-1, b)
	for c := b + 1; c < len(e.fams)-1; c++ {
		if change := e.edge(c-1, a) + e.edge(b-1, c) - e.edge(c-1, c) - gain; change < best.delta.change {
			s.stretch(k, a, b, c, change, best)
		}
	}
}

// earlierStart exchanges all [a, b) with [b, c).
func (s *search) earlierStart(k int, e *joints, b, c int, gain int64, best *candidate) {
	gain += e.edge(c-1, c)
	for a := range b {
		if change := e.edge(a-1, b) + e.edge(c-1, a) - e.edge(a-1, a) - gain; change < best.delta.change {
			s.stretch(k, a, b, c, change, best)
		}
	}
}

// between exchanges [a, b) with [b, c) for all b between.
func (s *search) between(k int, e *joints, a, c int, gain int64, best *candidate) {
	gain += e.edge(a-1, a)
	for b := a + 1; b < c; b++ {
		if change := e.edge(a-1, b) + e.edge(b-1, c) - e.edge(b-1, b) - gain; change < best.delta.change {
			s.stretch(k, a, b, c, change, best)
		}
	}
}

// stretch considers the exchange of [a, b) and [b, c).
func (s *search) stretch(k, a, b, c int, change int64, best *candidate) {
	s.consider(k, change, &exchange{a, c, [3]span{{b, c}, {a, b}}}, best)
}
