package nest

import (
	"fmt"
	"math"
	"slices"
)

// Limits of the bound's dynamic programming.
const (
	maxMarks  = 24_000     // marks on its scale of length; fewer with over 100 coils; a coarser scale gives a weaker bound
	maxOrders = 12         // orders that are dealt out to lots exactly
	mostDeals = 24_000_000 // deals of orders to groups of lots tried
)

// coilBound is a lower bound on the cost of any layout. Panels are taken as if
// they could be cut into any number of parts.
//
// Draw a line between two lots for each order that comes from both: a plan with
// n lot splits joins lots into groups by at most n lines, and every order comes
// from one group. So the bound tries all groupings that n joins make, and all
// ways to deal the orders out to the groups, for n from 0 on as long as that is
// quick; a plan with more splits pays for them on top of the cheapest use of
// coils whatever their lots. More orders than can be dealt out one by one are
// dealt by their lengths: exactly to two groups; of more groups, each is set
// against all others together.
func coilBound(b *board) int64 {
	f := newFluid(b)
	all := make([]int, b.lots)
	for l := range all {
		all[l] = l
	}
	any := f.deliver(all)[f.goal]
	if b.lots < 2 || b.orders == 0 {
		return any
	}
	split := b.p.Params.LotSplit
	work := mostDeals
	best := int64(math.MaxInt64)
	for joins := 0; joins < b.lots; joins++ {
		// A plan with this many splits or more can't be below this.
		more := any + int64(joins)*split
		if best <= more {
			return max(best, any)
		}
		low, ok := f.grouped(joins, &work)
		if !ok {
			return max(min(best, more), any)
		}
		best = min(best, low+int64(joins)*split)
	}
	return max(best, any)
}

// fluid works out the least cost of cutting a length from coils when panels can
// be cut into any number of parts: each coil is untouched, used up (its end is
// scrap), or goes back on the rack at an awkward or a useful length.
//
// On a scale coarser than the unit of all sizes every load is rounded to the
// coil's advantage, so the cost stays below that of every plan.
type fluid struct {
	*board
	scale int64
	slack int64 // what a load may be longer than its marks say
	goal  int   // marks of all pieces, rounded down
	next  []int64
	queue []int

	length []int64 // of each set of orders, when they are few
	sum    []bool  // lengths that sets of orders come to, when they are many
	yields map[string][]int64
}

// unreachable is dear enough never to be chosen and small enough to add to.
const unreachable = math.MaxInt64 / 400

func newFluid(b *board) *fluid {
	var need int64
	for _, s := range b.size {
		need += s
	}
	f := &fluid{board: b, scale: b.unit}
	marks := min(maxMarks, max(maxMarks*100/int64(len(b.room)+1), 400))
	if need/b.unit > marks {
		f.scale = (need/marks/b.unit + 1) * b.unit
		f.slack = f.scale
	}
	f.goal = int(need / f.scale)
	f.next = make([]int64, f.goal+1)
	f.yields = map[string][]int64{}
	return f
}

// deliver gives the least cost of the coils of some lots for every length wanted
// of them, in marks; what they don't yield is short.
func (f *fluid) deliver(lots []int) []int64 {
	key := fmt.Sprint(lots)
	if f.yields[key] == nil {
		var coils []int32
		for c, l := range f.lot {
			if slices.Contains(lots, int(l)) {
				coils = append(coils, int32(c))
			}
		}
		f.yields[key] = f.deliverCoils(coils)
	}
	return f.yields[key]
}

func (f *fluid) deliverCoils(coils []int32) []int64 {
	q := f.p.Params
	cost := make([]int64, f.goal+1)
	for x := range cost {
		cost[x] = unreachable
	}
	cost[0] = 0
	for _, c := range coils {
		for x, v := range cost {
			f.next[x] = min(v+f.idle[c], unreachable)
		}
		if room := f.room[c]; room > 0 {
			fixed := f.fixed[c]
			f.segment(cost, room, 0, q.ScrapMax-1, fixed, q.Mat*100)
			f.segment(cost, room, q.ScrapMax, q.UsefulMin-1, fixed+q.Keep-1, q.Mat*q.AwkwardPct)
			f.segment(cost, room, max(q.UsefulMin, q.ScrapMax), room, fixed+q.Keep, 0)
		}
		copy(cost, f.next)
	}
	return f.withShort(cost)
}

// withShort lets a part of every length be short: nothing, or the shortest
// piece at least.
func (f *fluid) withShort(cost []int64) []int64 {
	if len(f.size) == 0 {
		return cost
	}
	rate := f.p.Params.Short
	piece := slices.Min(f.size)
	marks := int(piece / f.scale)
	out := slices.Clone(cost)
	long := int64(unreachable) // least with more than the shortest piece short
	f.queue = f.queue[:0]
	head := 0
	for x := range cost {
		if long += rate * f.scale; x >= marks {
			long = min(long, cost[x-marks]+rate*f.scale*int64(marks))
		}
		for len(f.queue) > head && cost[f.queue[len(f.queue)-1]] >= cost[x] {
			f.queue = f.queue[:len(f.queue)-1]
		}
		f.queue = append(f.queue, x)
		for f.queue[head] < x-marks {
			head++
		}
		out[x] = min(out[x], long, cost[f.queue[head]]+rate*piece)
	}
	return out
}

// segment lowers next by using a coil so that its end is from lo to hi and
// costs fixed + pct x end / 100. It then yields room - end in marks, rounded to
// its advantage where the scale is coarse; the best of that window over cost is kept at the head of a queue of
// rising values.
func (f *fluid) segment(cost []int64, room, lo, hi, fixed, pct int64) {
	if hi = min(hi, room); lo > hi {
		return
	}
	least := int((room - hi) / f.scale)
	most := int((room - lo + f.scale - 1) / f.scale)
	if f.slack == 0 { // every load is a whole number of marks
		least = int((room - hi + f.scale - 1) / f.scale)
		most = int((room - lo) / f.scale)
	}
	slope := pct * f.scale
	value := func(x int) int64 { return cost[x]*100 + slope*int64(x) }
	f.queue = f.queue[:0]
	head, in := 0, 0
	for x := range cost {
		for ; in <= x-least; in++ {
			if cost[in] >= unreachable {
				continue
			}
			for len(f.queue) > head && value(f.queue[len(f.queue)-1]) >= value(in) {
				f.queue = f.queue[:len(f.queue)-1]
			}
			f.queue = append(f.queue, in)
		}
		for head < len(f.queue) && f.queue[head] < x-most {
			head++
		}
		if head == len(f.queue) {
			continue
		}
		from := f.queue[head]
		end := max(room-int64(x-from)*f.scale-f.slack, lo)
		f.next[x] = min(f.next[x], cost[from]+fixed+pct*end/100)
	}
}

// grouped is the least cost, without splits, when each order comes from one of
// the groups that joins joins of lots make; not ok when that takes more work
// than is left.
func (f *fluid) grouped(joins int, work *int) (low int64, ok bool) {
	low = math.MaxInt64
	var groups [][]int
	var deal func(lot int) bool
	deal = func(lot int) bool {
		if lot-len(groups) > joins {
			return true // joined too many already
		}
		if lot == f.lots {
			if len(groups) != f.lots-joins {
				return true
			}
			if *work -= f.deals(groups); *work < 0 {
				return false
			}
			if f.orders > maxOrders {
				low = min(low, f.parted(groups))
			} else {
				low = min(low, f.unmixed(groups))
			}
			return true
		}
		if len(groups) > f.lots-joins {
			return true
		}
		for g := range groups {
			groups[g] = append(groups[g], lot)
			if !deal(lot + 1) {
				return false
			}
			groups[g] = groups[g][:len(groups[g])-1]
		}
		groups = append(groups, []int{lot})
		ok := deal(lot + 1)
		groups = groups[:len(groups)-1]
		return ok
	}
	ok = deal(0)
	return low, ok
}

// deals is how much work a grouping makes: yields not worked out yet, and orders
// to deal out.
func (f *fluid) deals(groups [][]int) int {
	work := 0
	for _, lots := range groups {
		if f.yields[fmt.Sprint(lots)] == nil {
			work += len(f.room) * f.goal / f.lots * len(lots)
		}
	}
	if f.orders > maxOrders {
		return work + len(groups)*(len(f.sums())+len(f.room)*f.goal)
	}
	deals := len(groups)
	for range f.orders {
		deals *= 3
	}
	return work + deals
}

// unmixed is the least cost when each order comes from one group of lots:
// dynamic programming over the sets of orders that the groups so far have taken.
func (f *fluid) unmixed(groups [][]int) int64 {
	sets := 1 << f.orders
	if f.length == nil {
		f.length = make([]int64, sets)
		for i, o := range f.order {
			f.length[1<<o] += f.size[i]
		}
		for set := range sets {
			if rest := set & (set - 1); rest != 0 {
				f.length[set] = f.length[rest] + f.length[set&^rest]
			}
		}
	}
	best := make([]int64, sets)
	for set := 1; set < sets; set++ {
		best[set] = unreachable
	}
	for _, lots := range groups {
		cost := f.deliver(lots)
		for set := sets - 1; set >= 0; set-- {
			low := int64(unreachable)
			for part := set; ; part = (part - 1) & set {
				low = min(low, best[set&^part]+cost[f.length[part]/f.scale])
				if part == 0 {
					break
				}
			}
			best[set] = low
		}
	}
	return best[sets-1]
}
