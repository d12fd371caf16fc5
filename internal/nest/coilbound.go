package nest

import "math"

// Limits of the bound's dynamic programming.
const (
	maxMarks  = 24_000 // marks on its scale of length; a coarser scale gives a weaker bound
	maxOrders = 12     // orders that are dealt out to lots exactly
)

// coilBound is a lower bound on the cost of any layout. Panels are taken as if
// they could be cut into any number of parts. Either some order mixes lots,
// which costs a lot split on top of the cheapest use of coils whatever their
// lots; or every order comes from one lot, and with few orders all ways to deal
// them out are tried.
func coilBound(b *board) int64 {
	f := newFluid(b)
	all := make([]int32, len(b.room))
	for c := range all {
		all[c] = int32(c)
	}
	free := f.deliver(all)
	mixed := free[f.goal]
	if b.lots < 2 || b.orders == 0 || b.orders > maxOrders {
		return mixed
	}
	return max(mixed, min(mixed+b.p.Params.LotSplit, f.unmixed()))
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
}

// unreachable is dear enough never to be chosen and small enough to add to.
const unreachable = math.MaxInt64 / 400

func newFluid(b *board) *fluid {
	var need int64
	for _, s := range b.size {
		need += s
	}
	f := &fluid{board: b, scale: b.unit}
	if need/b.unit > maxMarks {
		f.scale = (need/maxMarks/b.unit + 1) * b.unit
		f.slack = f.scale
	}
	f.goal = int(need / f.scale)
	f.next = make([]int64, f.goal+1)
	return f
}

// deliver gives the least cost of some coils for every length wanted of them,
// in marks; what they don't yield is short.
func (f *fluid) deliver(coils []int32) []int64 {
	q := f.p.Params
	cost := make([]int64, f.goal+1)
	for x := range cost {
		cost[x] = unreachable
	}
	cost[0] = 0
	for _, c := range coils {
		coil := f.p.Coils[c]
		idle := f.p.useCost(coil, false, 0)
		for x, v := range cost {
			f.next[x] = min(v+idle, unreachable)
		}
		if room := f.room[c]; room > 0 {
			fixed := f.p.useCost(coil, true, room) - q.endCost(0)
			f.segment(cost, room, 0, q.ScrapMax-1, fixed, q.Mat*100)
			f.segment(cost, room, q.ScrapMax, q.UsefulMin-1, fixed+q.Keep-1, q.Mat*q.AwkwardPct)
			f.segment(cost, room, max(q.UsefulMin, q.ScrapMax), room, fixed+q.Keep, 0)
		}
		copy(cost, f.next)
	}
	for x := 1; x <= f.goal; x++ {
		cost[x] = min(cost[x], cost[x-1]+q.Short*f.scale)
	}
	return cost
}

// segment lowers next by using a coil so that its end is from lo to hi and
// costs fixed + pct x end / 100. It then yields from floor to ceil of room - end
// in marks; the best of that window over cost is kept at the head of a queue of
// rising values.
func (f *fluid) segment(cost []int64, room, lo, hi, fixed, pct int64) {
	if hi = min(hi, room); lo > hi {
		return
	}
	least := int((room - hi) / f.scale)
	most := int((room - lo + f.scale - 1) / f.scale)
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

// unmixed is the least cost when each order comes from one lot: dynamic
// programming over the sets of orders that the lots so far have taken.
func (f *fluid) unmixed() int64 {
	total := make([]int64, f.orders)
	for i, o := range f.order {
		total[o] += f.size[i]
	}
	sets := 1 << f.orders
	length := make([]int64, sets)
	best := make([]int64, sets)
	for set := 1; set < sets; set++ {
		for o := range total {
			if set>>o&1 == 1 {
				length[set] += total[o]
			}
		}
		best[set] = unreachable
	}
	for l := range int32(f.lots) {
		var coils []int32
		for c, lot := range f.lot {
			if lot == l {
				coils = append(coils, int32(c))
			}
		}
		cost := f.deliver(coils)
		for set := sets - 1; set >= 0; set-- {
			low := int64(unreachable)
			for part := set; ; part = (part - 1) & set {
				low = min(low, best[set&^part]+cost[length[part]/f.scale])
				if part == 0 {
					break
				}
			}
			best[set] = low
		}
	}
	return best[sets-1]
}
