package plan

import (
	"math"
	"math/rand/v2"
)

// construct builds a first order by dispatching: whenever a machine is done, the
// line with the highest index runs next. The index is that of the apparent
// tardiness rule with set-ups (Lee, Bhaskaran and Pinedo 1997):
// w/p * exp(-slack/(k1 pbar)) * exp(-setup/(k2 sbar)). With a source of chance
// every index is multiplied by a random factor, for orders of another shape.
func construct(m *model, s *state, k1, k2 float64, chance *rand.Rand) {
	d := newDispatch(m, k1, k2)
	d.chance = chance
	for k := range s.tracks {
		s.tracks[k].seq = s.tracks[k].seq[:0]
	}
	for len(d.left) > 0 {
		k, i := d.next()
		if i < 0 {
			break
		}
		l := d.left[i]
		d.left[i] = d.left[len(d.left)-1]
		d.left = d.left[:len(d.left)-1]
		s.tracks[k].seq = append(s.tracks[k].seq, l)
		var sum score
		d.clock[k] = m.add(&m.stands[k], l, d.fam[k], d.clock[k], &sum)
		d.fam[k] = m.fam[l]
	}
	for k := range s.tracks {
		s.refresh(k, 0)
	}
}

// noise is the spread of the random factors' logarithms.
const noise = 0.2

// plainWeight stands for the weight of lines that cost nothing when late.
const plainWeight = 0.01

// dispatch is a plan in the making.
type dispatch struct {
	m           *model
	left        []int32
	clock       []int64
	fam         []int32
	usable      []bool
	slackScale  float64
	changeScale float64
	chance      *rand.Rand
}

func newDispatch(m *model, k1, k2 float64) *dispatch {
	d := &dispatch{m: m, left: append([]int32{}, m.open...)}
	var runs, changes, n, pairs float64
	for k := range m.stands {
		st := &m.stands[k]
		d.clock, d.fam, d.usable = append(d.clock, st.clock), append(d.fam, st.fam), append(d.usable, true)
		for i, l := range m.open {
			if st.tasks[l].run > 0 {
				runs += float64(st.tasks[l].run)
				n++
			}
			prev := m.fam[m.open[max(0, i-1)]]
			if prev != m.fam[l] {
				changes += float64(st.t.minutes[int(prev)*st.t.n+int(m.fam[l])])
				pairs++
			}
		}
	}
	d.slackScale = k1 * math.Max(1, runs/math.Max(1, n))
	d.changeScale = k2 * math.Max(1, changes/math.Max(1, pairs))
	return d
}

// next picks the machine that is free first and the index of its line among
// those left; -1 when no machine can take any.
func (d *dispatch) next() (k, line int) {
	for {
		k = -1
		for i := range d.clock {
			if d.usable[i] && (k < 0 || d.minute(i) < d.minute(k)) {
				k = i
			}
		}
		if k < 0 {
			return -1, -1
		}
		if line = d.best(k); line >= 0 {
			return k, line
		}
		d.usable[k] = false
	}
}

func (d *dispatch) minute(k int) int64 { return d.m.stands[k].cal.minute(d.clock[k]) }

func (d *dispatch) best(k int) int {
	st := &d.m.stands[k]
	best, top := -1, math.Inf(-1)
	for i, l := range d.left {
		t := &st.tasks[l]
		if t.run == 0 {
			continue
		}
		change := float64(st.t.minutes[int(d.fam[k])*st.t.n+int(d.m.fam[l])])
		index := math.Log((float64(t.lateCents)+plainWeight)/float64(t.run)) - change/d.changeScale
		if t.due != math.MaxInt64 {
			index -= math.Max(0, float64(t.due-d.clock[k]-t.run)) / d.slackScale
		}
		index -= math.Max(0, float64(t.release-d.clock[k])) / d.slackScale
		if d.chance != nil {
			index += noise * d.chance.NormFloat64()
		}
		if index > top {
			best, top = i, index
		}
	}
	return best
}
