package plan

import (
	"math"
	"math/bits"
	"slices"
)

// When nothing waits for a coil or a pin and runs may be split, a machine's
// clock is additive: moving a stretch shifts all its lines by the same amount.
// Then a change of order is judged by the shifts of at most four stretches: a
// few running sums bound the late cost from below, which refuses most changes,
// and the others cost one addition a line.

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

// dues is what the late cost of one place depends on.
type dues struct {
	end   int64 // clock at its end
	due   int64 // clock behind which it is late
	shown int64 // due minute, less the calendar's start where minutes and clock go together
	cents int64 // a minute
}

// late gives a place's late cost when it is shifted.
func (d *dues) late(st *station, shift int64) int64 {
	end := d.end + shift
	if end <= d.due {
		return 0
	}
	if !st.cal.even {
		end = st.cal.ended(end)
	}
	return d.cents * (end - d.shown)
}

// ruler is a grid of shifts for which a track keeps running sums of the late
// cost and of its slope. The late cost of a stretch never falls with its shift
// and rises at least by its slope, so the sums at the nearest mark below bound
// it from below.
type ruler struct {
	marks int  // on either side of no shift
	bits  uint // log2 of the minutes between marks
}

// marked reports whether the sums hold for a shift as they stand.
func (r ruler) marked(shift int64) bool {
	return shift&(1<<r.bits-1) == 0 && max(shift, -shift)>>r.bits <= int64(r.marks)
}

// mark is a running sum of late cost and slope.
type mark struct{ late, rate int64 }

// newRuler lays a grid out for a machine: marks up to half a usual run apart, the
// fewer the longer the order is, as every change of order renews them.
func newRuler(m *model, st *station) ruler {
	var runs, n int64
	for _, l := range m.open {
		if run := st.tasks[l].run; run > 0 {
			runs, n = runs+run, n+1
		}
	}
	half := runs / max(1, 2*n)
	return ruler{marks: int(min(16, rulerWork/max(1, n))), bits: uint(bits.Len64(uint64(max(1, half))) - 1)}
}

// rulerWork bounds the places times marks of one machine.
const rulerWork = 2000

// measure brings the running sums of late cost up to date with the order.
func (t *track) measure(st *station) {
	n, lo := len(t.seq), t.measured
	if lo == n && len(t.own) == n+1 {
		return
	}
	t.measured = n
	t.dues = slices.Grow(t.dues[:lo], n-lo)[:n]
	t.own = slices.Grow(t.own[:lo], n-lo+1)[:n+1]
	t.own[n] = 0
	for i := lo; i < n; i++ {
		task := &st.tasks[t.seq[i]]
		d := dues{t.clock[i+1], task.due, task.dueMinute, task.lateCents}
		if st.cal.even {
			d.shown -= st.cal.windows[0].Start
		}
		t.dues[i] = d
		t.own[i] = int64(st.t.minutes[int(t.fams[i])*st.t.n+int(t.fams[i+1])])
	}
	rows := 2*st.ruler.marks + 1
	if len(t.marks) != rows {
		t.marks = make([][]mark, rows)
	}
	for r := range t.marks {
		shift := int64(r-st.ruler.marks) << st.ruler.bits
		row := slices.Grow(t.marks[r][:min(lo+1, len(t.marks[r]))], n+1-min(lo+1, len(t.marks[r])))[:n+1]
		if lo == 0 {
			row[0] = mark{}
		}
		sum := row[lo]
		for i := lo; i < n; i++ {
			if late := t.dues[i].late(st, shift); late > 0 {
				sum.late += late
				sum.rate += t.dues[i].cents
			}
			row[i+1] = sum
		}
		t.marks[r] = row
	}
}

// atLeast bounds the late cost of a shifted span from below.
func (t *track) atLeast(st *station, x span, shift int64) int64 {
	r := int(shift>>st.ruler.bits) + st.ruler.marks
	if r < 0 {
		return 0
	}
	r = min(r, 2*st.ruler.marks)
	row := t.marks[r]
	lo, hi := &row[x.lo], &row[x.hi]
	return hi.late - lo.late + (hi.rate-lo.rate)*(shift-int64(r-st.ruler.marks)<<st.ruler.bits)
}

// late gives the late cost of a shifted span.
func (t *track) late(st *station, x span, shift int64) (sum int64) {
	for i := x.lo; i < x.hi; i++ {
		sum += t.dues[i].late(st, shift)
	}
	return sum
}

// exchange is a change of one machine's order: places [lo, hi) become the spans.
type exchange struct {
	lo, hi int
	spans  [3]span
}

// weigh gives by how much an exchange changes the late cost, or false as soon as
// that is known to be more than limit. It holds where the clock is additive.
func (s *search) weigh(k int, x *exchange, limit int64) (late int64, ok bool) {
	t, st := &s.now.tracks[k], &s.m.stands[k]
	t.measure(st)
	n := len(t.seq)
	minutes, families := st.t.minutes, st.t.n
	var shifts [4]int64
	spans := [4]span{x.spans[0], x.spans[1], x.spans[2], {x.hi, n}}
	clock, fam := t.clock[x.lo], int(t.fams[x.lo])
	late = t.sum[x.lo].late - t.sum[n].late
	for i := range spans {
		p := &spans[i]
		if p.lo == p.hi {
			continue
		}
		to := int(t.fams[p.lo+1])
		shifts[i] = clock - t.clock[p.lo] + int64(minutes[fam*families+to]) - int64(minutes[int(t.fams[p.lo])*families+to])
		late += t.atLeast(st, *p, shifts[i])
		clock, fam = t.clock[p.hi]+shifts[i], int(t.fams[p.hi])
	}
	if late > limit || clock > st.limit {
		return 0, false
	}
	for i := range spans {
		if p := spans[i]; p.lo < p.hi && !st.ruler.marked(shifts[i]) {
			if late += t.late(st, p, shifts[i]) - t.atLeast(st, p, shifts[i]); late > limit {
				return 0, false
			}
		}
	}
	return late, true
}

// outing is one block [i, j) on its way to other places of its machine.
type outing struct {
	t        *track
	st       *station
	i, j     int
	home     int64 // clock at which its first run starts
	size     int64 // from there to its end
	now      int64 // late cost of the present order
	into     int   // family of its first line
	from     int   // row of changeovers from its last line
	families int
}

func (s *search) outing(k, i, j int) outing {
	t, st := &s.now.tracks[k], &s.m.stands[k]
	t.measure(st)
	home := t.clock[i] + t.own[i]
	return outing{t, st, i, j, home, t.clock[j] - home, t.sum[len(t.seq)].late, int(t.fams[i+1]), int(t.fams[j]) * st.t.n, st.t.n}
}

// later tries the places behind the block at which the late cost may fall. What
// stands between moves forward by the same shift wherever the block goes.
func (b *outing) later(best *candidate, try func(to int)) {
	t, st, minutes := b.t, b.st, b.st.t.minutes
	n := len(t.seq)
	if b.j == n {
		return
	}
	ahead := t.clock[b.i] + int64(minutes[int(t.fams[b.i])*b.families+int(t.fams[b.j+1])]) - t.clock[b.j] - t.own[b.j]
	head, block := t.sum[b.i].late-b.now, span{b.i, b.j}
	for to := b.j + 1; to <= n; to++ {
		clock := t.clock[to] + ahead + int64(minutes[int(t.fams[to])*b.families+b.into])
		late := head + t.atLeast(st, span{b.j, to}, ahead) + t.atLeast(st, block, clock-b.home)
		if to < n {
			clock += b.size + int64(minutes[b.from+int(t.fams[to+1])])
			late += t.atLeast(st, span{to, n}, clock-t.clock[to]-t.own[to])
		}
		if late <= best.delta.late {
			try(to)
		}
	}
}

// sooner tries the places before the block at which the late cost may fall.
func (b *outing) sooner(best *candidate, try func(to int)) {
	t, st, minutes := b.t, b.st, b.st.t.minutes
	n := len(t.seq)
	var rejoin int64
	if b.j < n {
		rejoin = t.clock[b.i] + int64(minutes[int(t.fams[b.i])*b.families+int(t.fams[b.j+1])]) - t.clock[b.j] - t.own[b.j]
	}
	block := span{b.i, b.j}
	for to := b.i - 1; to >= 0; to-- {
		clock := t.clock[to] + int64(minutes[int(t.fams[to])*b.families+b.into])
		late := t.sum[to].late - b.now + t.atLeast(st, block, clock-b.home)
		shift := clock + b.size + int64(minutes[b.from+int(t.fams[to+1])]) - t.clock[to] - t.own[to]
		late += t.atLeast(st, span{to, b.i}, shift)
		if b.j < n {
			late += t.atLeast(st, span{b.j, n}, shift+rejoin)
		}
		if late <= best.delta.late {
			try(to)
		}
	}
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

// squeezed reports whether an exchange makes some line late, when none is late now.
func (s *search) squeezed(k int, x *exchange) bool {
	t, st := &s.now.tracks[k], &s.m.stands[k]
	clock, fam := t.clock[x.lo], t.fams[x.lo]
	for _, p := range [4]span{x.spans[0], x.spans[1], x.spans[2], {x.hi, len(t.seq)}} {
		if p.lo == p.hi {
			continue
		}
		shift := t.shift(st, p.lo, clock, fam)
		if shift > 0 && !t.bears(p, shift) {
			return true
		}
		clock, fam = t.clock[p.hi]+shift, t.fams[p.hi]
	}
	return false
}

// bearsBlock reports whether nothing gets late when a block is put before place t
// of a machine, where nothing is late now.
func (s *search) bearsBlock(k, t int, block []int32) bool {
	s.work.Moves++
	tr, st := &s.now.tracks[k], &s.m.stands[k]
	var sum score
	clock, fam := tr.clock[t], tr.fams[t]
	for _, l := range block {
		clock = s.m.add(st, l, fam, clock, &sum)
		fam = s.m.fam[l]
	}
	if sum.late > 0 || sum.over > 0 {
		return false
	}
	n := len(tr.seq)
	return t == n || tr.bears(span{t, n}, tr.shift(st, t, clock, fam))
}

// shift gives by how much place i starts later behind another clock and family.
func (t *track) shift(st *station, i int, clock int64, fam int32) int64 {
	to := int(t.fams[i+1])
	return clock + int64(st.t.minutes[int(fam)*st.t.n+to]) - t.clock[i] - int64(st.t.minutes[int(t.fams[i])*st.t.n+to])
}
