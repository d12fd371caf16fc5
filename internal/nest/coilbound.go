package nest

import "math"

// maxMarks is the number of marks on the scale of length that the bound's
// dynamic programming uses; a coarser scale gives a weaker bound.
const maxMarks = 24_000

// fluidBound is a lower bound on the cost of any layout: the least cost when
// panels could be cut into any number of parts and lots cost nothing. Each coil
// is untouched, used up (its end is scrap), or goes back on the rack at an
// awkward or a useful length; dynamic programming over the length still wanted
// finds the cheapest choice.
//
// On a scale coarser than the unit of all sizes every load is rounded to the
// coil's advantage, so the bound stays below every plan.
func fluidBound(b *board) int64 {
	q := b.p.Params
	var need int64
	for _, s := range b.size {
		need += s
	}
	scale := b.unit
	if need/scale > maxMarks {
		scale = (need/maxMarks/b.unit + 1) * b.unit
	}
	goal := int(need / scale) // rounded down: a little less is wanted
	cur := make([]int64, goal+1)
	for r := range cur {
		cur[r] = unreachable
	}
	cur[goal] = 0
	f := fluid{scale: scale, next: make([]int64, goal+1)}
	for c, coil := range b.p.Coils {
		idle := b.p.useCost(coil, false, 0)
		copy(f.next, cur)
		for r := range f.next {
			if f.next[r] < unreachable {
				f.next[r] += idle
			}
		}
		if room := b.room[c]; room > 0 {
			fixed := b.p.useCost(coil, true, room) // with an end of 0, which is either scrap or kept
			fixed -= q.endCost(0)
			f.segment(cur, room, 0, q.ScrapMax-1, fixed, q.Mat*100)
			f.segment(cur, room, q.ScrapMax, q.UsefulMin-1, fixed+q.Keep-1, q.Mat*q.AwkwardPct)
			f.segment(cur, room, max(q.UsefulMin, q.ScrapMax), room, fixed+q.Keep, 0)
		}
		cur, f.next = f.next, cur
	}
	best := int64(math.MaxInt64)
	for r, v := range cur {
		if v < unreachable {
			// What remains wanted is short; a mark stands for at least (r-1) x scale + 1.
			best = min(best, v+q.Short*int64(r)*scale)
		}
	}
	return best
}

const unreachable = math.MaxInt64 / 4

type fluid struct {
	scale int64
	next  []int64
	queue []int
}

// segment lowers next by using a coil so that its end is from lo to hi and
// costs fixed + pct x end / 100. A load of room - end takes that much off the
// length wanted; on the scale it takes from floor of the least to ceil of the
// most, at the price of the shortest end that rounds there.
func (f *fluid) segment(cur []int64, room, lo, hi, fixed, pct int64) {
	hi = min(hi, room)
	if lo > hi {
		return
	}
	least := int((room - hi) / f.scale)
	most := int((room - lo + f.scale - 1) / f.scale)
	// next[r] = min over k in [least, most] of cur[r+k] + fixed + cost(end(k)),
	// where end(k) >= room - k x scale, so the cost is linear in k from below.
	// The window's minimum is kept at the head of a queue of rising values.
	slope := pct * f.scale
	value := func(r int) int64 { return cur[r]*100 - slope*int64(r) }
	f.queue = f.queue[:0]
	head, in := 0, len(cur)-1
	for r := len(cur) - 1; r >= 0; r-- {
		for ; in >= r+least && in >= 0; in-- {
			if cur[in] >= unreachable {
				continue
			}
			v := value(in)
			for len(f.queue) > head && value(f.queue[len(f.queue)-1]) >= v {
				f.queue = f.queue[:len(f.queue)-1]
			}
			f.queue = append(f.queue, in)
		}
		for head < len(f.queue) && f.queue[head] > r+most {
			head++
		}
		if head == len(f.queue) {
			continue
		}
		k := int64(f.queue[head] - r)
		v := cur[f.queue[head]] + fixed + max(pct*(room-k*f.scale), pct*lo)/100
		f.next[r] = min(f.next[r], v)
	}
}
