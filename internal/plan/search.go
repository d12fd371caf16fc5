package plan

import (
	"context"
	"math"
	"math/rand/v2"
)

// The search's few numbers, set by trial on public sets.
const (
	settled  = 30  // kicks without a better order before polishing the best
	jump     = 4   // one in so many stretches is taken out far from the last
	longRun  = 12  // runs of more lines aren't taken out whole
	fewRuns  = 4   // the longest stretch moved, in runs
	manyRuns = 20  // the same with few lines
	smallSet = 100 // what few lines are
	swapped  = 4   // how many of a line's stretches are exchanged with others
	overlook = 16  // one in so many places is not looked at when putting back
	reach    = 10  // the longest stretch turned round by a kick
)

// temper is how boldly a search goes about it: while lines are late there are
// many valleys close by, while only changeovers count there are few and deep
// ones, which are left only by starting anew.
type temper struct {
	drift    int64 // accept an order up to 1/drift worse than the best
	patience int   // kicks a line without a better order before starting anew
	turns    int   // one kick in so many turns stretches round
}

var (
	pressed = temper{drift: 50, patience: 10, turns: 4}
	calm    = temper{drift: 200, patience: 5, turns: 2}
)

// temper goes by the best order found.
func (s *search) temper() temper {
	if best := s.best.total(); best.over == 0 && best.late == 0 {
		return calm
	}
	return pressed
}

// search is an iterated local search: take a few runs or lines out, put them
// back where they do best, improve around what changed, keep it if not worse.
type search struct {
	ctx      context.Context
	m        *model
	rng      *rand.Rand
	now      *state // being changed
	kept     *state // the last accepted order
	best     *state
	summed   bool // running sums judge a change, see estimate.go
	calm     bool // nothing late and nothing out of place: the changeover filter holds
	queue    []int32
	queued   []bool
	thorough bool   // look for shorter ends too
	polished bool   // the best order was looked at thoroughly
	stale    int    // iterations since the best order was found
	dirty    []bool // machines changed since the last accepted order
	work     Work
	bound    Bound
	blocks   [][]int32 // taken out by a kick
	turned   []int32   // scratch of a reversal
	lens     []int     // scratch of lengths
}

// Work counts what a search did.
type Work struct {
	Iterations int // kicks of the local search
	Moves      int // changes tried
	Weighed    int
	States     int // states of the exact methods
}

func newSearch(ctx context.Context, m *model, seed uint64) *search {
	s := &search{
		ctx: ctx, m: m, rng: rand.New(rand.NewPCG(seed, 0x5eed)),
		now: newState(m), kept: newState(m), best: newState(m),
		queued: make([]bool, len(m.fam)), dirty: make([]bool, len(m.stands)),
	}
	return s
}

// stopped reports whether the time is up.
func (s *search) stopped() bool { return s.ctx.Err() != nil }

// start takes the best of several simple orders and improves it.
func (s *search) start() {
	for _, days := range []int64{1, 2, 3, 5, 8, 13} {
		bundle(s.m, s.now, days)
		s.offer(days == 1)
		if s.stopped() {
			break
		}
	}
	grid := []float64{0.3, 1, 3}
	if len(s.m.open) > 600 {
		grid = []float64{1}
	}
	for _, k1 := range append(grid, 1e6) {
		for _, k2 := range grid {
			if s.stopped() {
				break
			}
			construct(s.m, s.now, k1, k2, nil)
			s.offer(false)
		}
	}
	s.copyAll(s.now, s.best)
	s.descend()
}

// offer keeps the present order if it is the first or the best so far.
func (s *search) offer(first bool) {
	if first || s.m.less(s.now.total(), s.best.total()) {
		s.copyAll(s.best, s.now)
	}
}

// descend improves the present order around every line and keeps the outcome.
func (s *search) descend() {
	for _, l := range s.m.open {
		s.push(l)
	}
	s.thorough, s.now.coarse = true, false
	s.settle()
	s.thorough, s.now.coarse = false, true
	s.copyAll(s.kept, s.now)
	if s.m.less(s.now.total(), s.best.total()) {
		s.copyAll(s.best, s.now)
	}
	clear(s.dirty)
}

func (s *search) copyAll(to, from *state) {
	for k := range to.tracks {
		to.copyTrack(from, k)
	}
}

// iterate kicks and improves once.
func (s *search) iterate() {
	s.work.Iterations++
	if s.stale >= settled && !s.polished {
		s.copyAll(s.now, s.best)
		s.descend()
		s.polished = true
	}
	temper := s.temper()
	if s.rng.IntN(temper.turns) == 0 {
		s.cross()
	} else {
		s.kick()
	}
	s.settle()
	s.stale++
	total := s.now.total()
	if s.m.less(total, s.best.total()) {
		s.copyAll(s.best, s.now)
		s.stale, s.polished = 0, false
	}
	switch {
	case !s.acceptable(total, temper.drift):
		s.restore(s.now, s.kept)
	case s.stale > temper.patience*len(s.m.open):
		s.restart()
	default:
		s.restore(s.kept, s.now)
	}
	clear(s.dirty)
}

// restart begins with a newly dispatched order of another shape.
func (s *search) restart() {
	s.stale = 0
	scale := func() float64 { return math.Exp(3*s.rng.Float64() - 2) }
	construct(s.m, s.now, scale(), scale(), s.rng)
	s.descend()
	s.polished = true
}

// acceptable lets the search drift a little above the best order found, by the
// first component that differs, so that it doesn't stay in one valley.
func (s *search) acceptable(total score, drift int64) bool {
	if !s.m.less(s.kept.total(), total) {
		return true
	}
	best := s.best.total()
	if s.m.p.Goal.Weighted {
		w := s.m.p.Goal.Weights
		value := func(x score) int64 { return w[0]*x.late + w[1]*x.change + w[2]*x.ends }
		return total.over <= best.over && value(total) <= value(best)+value(best)/drift
	}
	switch {
	case total.over != best.over:
		return total.over < best.over
	case best.late > 0:
		return total.late <= best.late+best.late/drift
	}
	return total.late == 0 && total.change <= best.change+best.change/drift
}

// restore copies the machines that were changed.
func (s *search) restore(to, from *state) {
	for k, d := range s.dirty {
		if d {
			to.copyTrack(from, k)
		}
	}
}

func (s *search) push(l int32) {
	if !s.queued[l] {
		s.queued[l] = true
		s.queue = append(s.queue, l)
	}
}

// settle improves around the queued lines until none helps.
func (s *search) settle() {
	for head := 0; head < len(s.queue); head++ {
		l := s.queue[head]
		s.queued[l] = false
		if s.stopped() {
			continue
		}
		for s.improve(l) {
		}
	}
	s.queue = s.queue[:0]
}

// do carries a splice out and queues the lines at its seams.
func (s *search) do(c *splice) {
	s.now.do(c)
	s.dirty[c.machine] = true
	seq := s.now.tracks[c.machine].seq
	at := c.lo
	s.touch(seq, at)
	for _, part := range c.parts {
		at += len(part)
		s.touch(seq, at)
	}
}

func (s *search) touch(seq []int32, at int) {
	for i := max(0, at-1); i < min(len(seq), at+1); i++ {
		s.push(seq[i])
	}
}

// kick takes two to four runs or lines out and puts each back at its best place.
func (s *search) kick() {
	s.blocks = s.blocks[:0]
	near := s.anyLine()
	for range 2 + s.rng.IntN(3) {
		l := near
		if s.now.at[l].machine < 0 || s.rng.IntN(jump) == 0 {
			l = s.m.open[s.rng.IntN(len(s.m.open))]
		}
		if s.now.at[l].machine < 0 {
			continue
		}
		near = s.takeOut(l)
	}
	s.rng.Shuffle(len(s.blocks), func(i, j int) { s.blocks[i], s.blocks[j] = s.blocks[j], s.blocks[i] })
	for _, b := range s.blocks {
		s.putBack(b)
	}
}

// cross turns round the order of three adjacent stretches at a random place,
// which no single improving move undoes.
func (s *search) cross() {
	l := s.m.open[s.rng.IntN(len(s.m.open))]
	p := s.now.at[l]
	k, a := int(p.machine), int(p.index)
	seq := s.now.tracks[k].seq
	b := min(len(seq), a+1+s.rng.IntN(reach))
	c := min(len(seq), b+1+s.rng.IntN(reach))
	d := min(len(seq), c+1+s.rng.IntN(reach))
	if b == c {
		return
	}
	x := splice{k, a, d, [3][]int32{seq[c:d], seq[b:c], seq[a:b]}}
	s.do(&x)
}

// anyLine draws a line; when some are late, in half the cases a late one.
func (s *search) anyLine() int32 {
	l := s.m.open[s.rng.IntN(len(s.m.open))]
	if s.rng.IntN(2) == 0 {
		return l
	}
	p := s.now.at[l]
	t := &s.now.tracks[p.machine]
	for i := int(p.index); i < len(t.seq); i++ {
		if t.sum[i+1].late > t.sum[i].late {
			return t.seq[i]
		}
	}
	return l
}

// takeOut removes a line, its run, or a few neighbours, and gives a line near.
func (s *search) takeOut(l int32) int32 {
	p := s.now.at[l]
	k, lo := int(p.machine), int(p.index)
	seq := s.now.tracks[k].seq
	hi := lo + 1
	switch s.rng.IntN(3) {
	case 0:
		if a, b := s.runAround(seq, lo); b-a <= longRun {
			lo, hi = a, b
		}
	case 1:
		hi = min(len(seq), lo+1+s.rng.IntN(3))
	}
	s.blocks = append(s.blocks, append([]int32{}, seq[lo:hi]...))
	c := splice{machine: k, lo: lo, hi: hi}
	s.do(&c)
	seq = s.now.tracks[k].seq
	if len(seq) == 0 {
		return l
	}
	return seq[min(len(seq)-1, max(0, lo-8+s.rng.IntN(16)))]
}

// runAround gives the stretch of equal setup around place i.
func (s *search) runAround(seq []int32, i int) (lo, hi int) {
	fam := s.m.fam[seq[i]]
	for lo = i; lo > 0 && s.m.fam[seq[lo-1]] == fam; lo-- {
	}
	for hi = i + 1; hi < len(seq) && s.m.fam[seq[hi]] == fam; hi++ {
	}
	return lo, hi
}

// worst is a change that any other beats.
var worst = score{over: math.MaxInt64 / 4, late: math.MaxInt64 / 4}

// putBack inserts a block at its best place, now and then overlooking one.
func (s *search) putBack(block []int32) {
	total := s.now.total()
	calm := total.late == 0 && total.over == 0 && !s.m.p.Goal.Weighted && !s.m.ordered
	if calm && s.m.adds {
		if c := s.quietPlace(block); c.machine >= 0 {
			s.do(&c)
			return
		}
	}
	best, found := worst, splice{machine: -1}
	for k := range s.now.tracks {
		if !s.allowed(k, block) {
			continue
		}
		e := s.joints(k)
		first, last := s.m.fam[block[0]], s.m.fam[block[len(block)-1]]
		for t := range len(s.now.tracks[k].seq) + 1 {
			if found.machine >= 0 && s.rng.IntN(overlook) == 0 {
				continue
			}
			if calm && best.late == 0 && best.over == 0 && e.opened(t, first, last) > best.change {
				continue
			}
			c := splice{machine: k, lo: t, hi: t, parts: [3][]int32{block}}
			s.work.Moves++
			if d, ok := s.now.try(&c, best); ok {
				best, found = d, c
			}
		}
	}
	if found.machine >= 0 {
		s.do(&found)
		return
	}
	// The block's lines share no machine: one by one.
	for i := range block {
		s.putBack(block[i : i+1])
	}
}

// quietPlace gives the cheapest place for a block at which nothing gets late,
// now and then overlooking one; machine -1 if there is none.
func (s *search) quietPlace(block []int32) splice {
	first, last := s.m.fam[block[0]], s.m.fam[block[len(block)-1]]
	best, found := int64(math.MaxInt64), splice{machine: -1}
	for k := range s.now.tracks {
		if !s.allowed(k, block) {
			continue
		}
		e := s.joints(k)
		for t := range len(s.now.tracks[k].seq) + 1 {
			if opened := e.opened(t, first, last); opened < best && s.rng.IntN(overlook) > 0 && s.bearsBlock(k, t, block) {
				best, found = opened, splice{machine: k, lo: t, hi: t, parts: [3][]int32{block}}
			}
		}
	}
	return found
}

// opened gives the cents of changing over to a block put before place t and
// from it, less what the changeover there was.
func (j *joints) opened(t int, first, last int32) int64 {
	return j.cents[j.fams[t]*j.n+first] + j.cents[last*j.n+j.fams[t+1]] - j.edge(t-1, t)
}

func (s *search) allowed(k int, block []int32) bool {
	for _, l := range block {
		if s.m.stands[k].tasks[l].run == 0 {
			return false
		}
	}
	return true
}
