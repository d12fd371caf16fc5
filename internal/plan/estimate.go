package plan

import (
	"math"
	"slices"
)

// When nothing waits for a coil or a pin and runs may be split, a machine's
// clock is additive: moving a stretch shifts all its lines by the same amount.
// Then a few running sums bound how the late cost changes, and most moves are
// refused without following them through the order.

// additive reports whether no line on any machine ever waits.
func (m *model) additive() bool {
	if !m.p.Split || m.ordered {
		return false
	}
	for k := range m.stands {
		st := &m.stands[k]
		for _, l := range m.open {
			if t := &st.tasks[l]; t.release > st.clock || t.notBefore > st.clock || t.by != math.MaxInt64 {
				return false
			}
		}
	}
	return true
}

// span is a stretch of places of the present order.
type span struct{ lo, hi int }

// hopeless reports whether putting these spans in place of [lo, last) raises
// the late cost above limit for certain.
func (s *search) hopeless(k, lo, last int, spans [3]span, limit int64) bool {
	t, st := &s.now.tracks[k], &s.m.stands[k]
	clock, fam := t.clock[lo], t.fams[lo]
	var late int64
	for _, x := range spans {
		if x.lo == x.hi {
			continue
		}
		shift := t.shift(st, x.lo, clock, fam)
		late += t.lateChange(s.m, st, x, shift)
		clock, fam = t.clock[x.hi]+shift, t.fams[x.hi]
	}
	if n := len(t.seq); last < n {
		late += t.lateChange(s.m, st, span{last, n}, t.shift(st, last, clock, fam))
	}
	return late > limit
}

// shift gives by how much place i starts later behind another clock and family.
func (t *track) shift(st *station, i int, clock int64, fam int32) int64 {
	to := int(t.fams[i+1])
	return clock + int64(st.t.minutes[int(fam)*st.t.n+to]) - t.clock[i] - int64(st.t.minutes[int(t.fams[i])*st.t.n+to])
}

// lateChange bounds from below what shifting a span does to its late cost; for
// a few lines it is exact.
func (t *track) lateChange(m *model, st *station, x span, shift int64) int64 {
	if shift == 0 {
		return 0
	}
	now := t.sum[x.hi].late - t.sum[x.lo].late
	if x.hi-x.lo <= 3 {
		var then int64
		for i := x.lo; i < x.hi; i++ {
			task := &st.tasks[t.seq[i]]
			if end := t.clock[i+1] + shift; end > task.due {
				then += task.lateCents * (st.cal.ended(end) - task.dueMinute)
			}
		}
		return then - now
	}
	rate := t.rate[x.hi] - t.rate[x.lo]
	switch {
	case shift > 0:
		return shift * rate
	case st.cal.even:
		return -min(now, -shift*rate)
	}
	return -now
}

// slackBlock is how many places share one running minimum of slack.
const slackBlock = 32

// slacken recomputes how much later each line from place lo on could end
// without being late or behind the last window, and the least of each block.
func (t *track) slacken(st *station, lo int) {
	n := len(t.seq)
	t.slack = slices.Grow(t.slack[:lo], n-lo)[:n]
	blocks := (n + slackBlock - 1) / slackBlock
	first := lo / slackBlock
	t.least = slices.Grow(t.least[:min(first, len(t.least))], blocks)[:blocks]
	for b := first; b < blocks; b++ {
		least := int64(math.MaxInt64)
		for i := b * slackBlock; i < min(n, (b+1)*slackBlock); i++ {
			if i >= lo {
				t.slack[i] = min(st.tasks[t.seq[i]].due, st.limit) - t.clock[i+1]
			}
			least = min(least, t.slack[i])
		}
		t.least[b] = least
	}
}

// bears reports whether all lines of a span can end so much later.
func (t *track) bears(x span, later int64) bool {
	for i := x.lo; i < x.hi; {
		if i%slackBlock == 0 && i+slackBlock <= x.hi {
			if t.least[i/slackBlock] < later {
				return false
			}
			i += slackBlock
			continue
		}
		if t.slack[i] < later {
			return false
		}
		i++
	}
	return true
}

// squeezed reports whether putting these spans in place of [lo, last) makes
// some line late, when none is late now.
func (s *search) squeezed(k, lo, last int, spans [3]span) bool {
	t, st := &s.now.tracks[k], &s.m.stands[k]
	clock, fam := t.clock[lo], t.fams[lo]
	for _, x := range append(spans[:], span{last, len(t.seq)}) {
		if x.lo == x.hi {
			continue
		}
		shift := t.shift(st, x.lo, clock, fam)
		if shift > 0 && !t.bears(x, shift) {
			return true
		}
		clock, fam = t.clock[x.hi]+shift, t.fams[x.hi]
	}
	return false
}
