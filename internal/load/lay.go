package load

import (
	"cmp"
	"fmt"
	"slices"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
)

// mostLanes is how many bundles lie side by side at most.
const mostLanes = 4

// beyond is how far a bundle may reach past the one it lies on; common
// practice, no published source.
const beyond = 2 * measure.Foot

// shiftStep is the step in which a load is moved back to ease its supports.
const shiftStep = 6 * measure.Inch

// Lay finds a place for each bundle, the last stop's first so that the first
// stop's lie on top or at the rear; then moves the whole load back from the
// headboard as little as brings axles and hitch within their limits, if that
// can be done on the deck. What finds no place is in Left and refused. The
// result doesn't depend on the order of the bundles.
func Lay(v Vehicle, bundles []Bundle, place Jurisdiction) (Plan, error) {
	var bad fault.List
	bad.Add("vehicle", v.Check())
	for i, b := range bundles {
		if b.Longest <= 0 || b.Width <= 0 || b.Height <= 0 || !sensible(b.Lb, 200_000) || b.Balance < 0 || b.Balance > b.Longest {
			bad.Addf(fmt.Sprintf("bundles.%d", i), "a bundle needs a length, width, height and weight to be laid on a deck")
		}
	}
	if bad != nil {
		return Plan{}, bad
	}
	sorted := slices.Clone(bundles)
	slices.SortStableFunc(sorted, func(a, b Bundle) int {
		return cmp.Or(cmp.Compare(b.Stop, a.Stop), cmp.Compare(b.Longest, a.Longest), cmp.Compare(b.Lb, a.Lb),
			cmp.Compare(a.Customer, b.Customer), cmp.Compare(a.No, b.No), cmp.Compare(a.Kind, b.Kind))
	})
	d := newDeck(v, sorted, place)
	for _, b := range sorted {
		d.put(b)
	}
	v.settle(d.placed)
	return v.assess(d.placed, d.left, place), nil
}

// deck is a deck that is being loaded.
type deck struct {
	v      Vehicle
	lane   measure.Length // breadth of a lane
	lanes  int
	first  measure.Length // left edge of the first lane
	ceil   measure.Length // top of the stacks, 0 for none
	rear   measure.Length // overhang that is allowed
	stacks []pile
	laneLb []float64
	lb     float64
	placed []Placed
	left   []Bundle
}

// pile is bundles on each other.
type pile struct {
	lane   int
	x      measure.Length
	top    measure.Length
	layers int
	bed    measure.Length // length of the topmost
	reach  measure.Length // rear end of the longest
}

func newDeck(v Vehicle, bundles []Bundle, place Jurisdiction) *deck {
	d := &deck{v: v, ceil: v.MaxStack, rear: v.MaxRear}
	for _, b := range bundles {
		d.lane = max(d.lane, b.Width)
	}
	d.lanes = 1
	if d.lane > 0 {
		d.lanes = max(1, min(mostLanes, int(v.Breadth/d.lane), len(bundles)))
	}
	d.first = (v.Breadth - d.lane.Times(d.lanes)) / 2
	d.laneLb = make([]float64, d.lanes)
	if h := place.MaxHeight; h.Rule.Citation != "" && v.DeckHeight > 0 && (d.ceil == 0 || h.Limit-v.DeckHeight < d.ceil) {
		d.ceil = max(measure.Nanometre, h.Limit-v.DeckHeight)
	}
	if r := place.RearOverhang; r.Rule.Citation != "" && (d.rear == 0 || r.Limit < d.rear) {
		d.rear = r.Limit
	}
	return d
}

// spot is a place a bundle could take.
type spot struct {
	lane  int
	stack int // index, -1 for a new one on the deck
	x, z  measure.Length
	over  measure.Length // past the deck's rear
	lb    float64        // already in the lane
}

func (a spot) compare(b spot) int {
	return cmp.Or(cmp.Compare(a.over, b.over), cmp.Compare(a.z, b.z), cmp.Compare(a.lb, b.lb), cmp.Compare(a.x, b.x), cmp.Compare(a.lane, b.lane))
}

// put lays a bundle where it overhangs least, then lowest, then in the lightest
// lane, or leaves it.
func (d *deck) put(b Bundle) {
	spots := d.spots(b)
	if len(spots) == 0 || d.lb+b.Lb > d.v.PayloadLb {
		d.left = append(d.left, b)
		return
	}
	s := slices.MinFunc(spots, spot.compare)
	if s.stack < 0 {
		d.stacks = append(d.stacks, pile{lane: s.lane, x: s.x})
		s.stack = len(d.stacks) - 1
	}
	st := &d.stacks[s.stack]
	y := d.first + d.lane.Times(s.lane) + (d.lane-b.Width)/2
	d.placed = append(d.placed, Placed{b, s.x, y, s.z, s.lane, st.layers})
	st.layers, st.top, st.bed = st.layers+1, s.z+b.Height, b.Longest
	st.reach = max(st.reach, s.x+b.Longest)
	d.laneLb[s.lane] += b.Lb
	d.lb += b.Lb
}

// spots gives every place a bundle could take within the limits.
func (d *deck) spots(b Bundle) []spot {
	ends := make([]measure.Length, d.lanes)
	for _, st := range d.stacks {
		ends[st.lane] = max(ends[st.lane], st.reach)
	}
	var out []spot
	add := func(s spot) {
		s.over, s.lb = max(0, s.x+b.Longest-d.v.Deck), d.laneLb[s.lane]
		switch {
		case s.x+b.Balance > d.v.Deck, d.rear > 0 && s.over > d.rear, d.ceil > 0 && s.z+b.Height > d.ceil:
			return
		}
		out = append(out, s)
	}
	for lane, end := range ends {
		add(spot{lane: lane, stack: -1, x: end})
	}
	for i, st := range d.stacks {
		// On top it may reach past the bundle below, but not over the next stack.
		if b.Longest <= st.bed+beyond && (st.x+b.Longest <= st.reach || st.reach == ends[st.lane]) {
			add(spot{lane: st.lane, stack: i, x: st.x, z: st.top})
		}
	}
	return out
}

// settle moves the load back in steps, as far as the deck goes, to where the
// supports are least over their limits.
func (v Vehicle) settle(placed []Placed) {
	room := v.Deck
	for _, b := range placed {
		room = min(room, v.Deck-b.X-b.Longest)
	}
	excess := func(shift measure.Length) float64 {
		moved := Plan{Placed: shifted(placed, shift)}
		moved.weigh(v)
		sum := 0.0
		for _, s := range moved.Shares {
			sum += max(0, s.GrossLb-s.LimitLb, -s.GrossLb)
		}
		if share, ok := moved.hitchShare(v); ok {
			sum += (moved.Shares[0].GrossLb + moved.Shares[1].GrossLb) * max(0, v.HitchLeast-share, share-v.HitchMost)
		}
		return sum
	}
	best, least := measure.Length(0), excess(0)
	for s := shiftStep; s <= room && least > 0; s += shiftStep {
		if e := excess(s); e < least {
			best, least = s, e
		}
	}
	copy(placed, shifted(placed, best))
}

func shifted(placed []Placed, by measure.Length) []Placed {
	out := slices.Clone(placed)
	for i := range out {
		out[i].X += by
	}
	return out
}
