package nest

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
)

// coilSearch looks for a cheap layout: build makes whole plans from coil sets,
// anneal improves one.
type coilSearch struct {
	*layout
	rng   *rand.Rand
	clock *clock
	sum   subsetSum
	bound int64
	best  []int32
	least int64 // cost of best

	hand  []int32 // pieces in hand, and scratch for the subset sums
	sizes []int64
}

func newCoilSearch(b *board, s Settings, c *clock, bound int64) *coilSearch {
	l := newLayout(b)
	return &coilSearch{layout: l, rng: rand.New(rand.NewPCG(s.Seed, 0x6e657374)), clock: c,
		bound: bound, best: slices.Clone(l.at), least: l.cost}
}

func (s *coilSearch) note() {
	if s.cost < s.least {
		s.least = s.cost
		copy(s.best, s.at)
	}
}

func (s *coilSearch) done() bool { return s.least <= s.bound || s.clock.over }

const (
	builds    = 24    // plans built before each annealing
	firstHeat = 4_000 // steps of the first annealing; later ones are longer
	lastHeat  = 100_000
)

// run alternates between building from scratch and annealing what is best.
func (s *coilSearch) run() {
	if len(s.at) == 0 {
		return
	}
	for heat, round := firstHeat, 0; !s.done(); round++ {
		start, low := []int32(nil), int64(math.MaxInt64)
		for i := 0; i < builds && !s.clock.out(); i++ {
			s.build(float64(i) / builds)
			s.note()
			if s.cost < low {
				low, start = s.cost, append(start[:0], s.at...)
			}
		}
		if start == nil {
			return
		}
		if round%3 == 2 {
			start = append(start[:0], s.best...)
		}
		s.restore(start)
		s.anneal(heat, round%4 == 3)
		heat = min(heat*6/5, lastHeat)
	}
}

// anneal tries steps changes of the layout, taking a worse one with a chance
// that falls as it cools. A wild one starts hot enough to leave a piece short.
func (s *coilSearch) anneal(steps int, wild bool) {
	q := s.p.Params
	metal := float64(q.Mat+q.Short) * float64(s.load[s.nowhere()]+s.loaded()) / float64(len(s.at))
	hot := float64(q.Change+q.Keep+q.LotSplit)/20 + metal/100 + 1
	cold := max(hot/1000, 1)
	if wild {
		hot *= 10
	}
	cool := math.Pow(cold/hot, 1/float64(steps))
	heat := hot
	for i := 0; i < steps && s.least > s.bound && s.clock.step(); i++ {
		heat *= cool
		before := s.cost
		s.change()
		worse := float64(s.cost - before)
		if worse <= 0 || s.rng.Float64() < math.Exp(-worse/heat) {
			s.commit()
			s.note()
		} else {
			s.undo()
		}
	}
}

// loaded is the length cut from coils.
func (s *coilSearch) loaded() int64 {
	var sum int64
	for _, c := range s.used {
		sum += s.load[c]
	}
	return sum
}

// change makes one random change.
func (s *coilSearch) change() {
	switch k := s.rng.IntN(100); {
	case k < 30:
		s.moveSome()
	case k < 65:
		s.swap()
	case k < 70:
		s.moveOrder()
	case k < 73:
		s.emptyCoil()
	case k < 77:
		s.changeCoil()
	default:
		s.refill()
	}
}

func (s *coilSearch) anyPiece() int32 { return int32(s.rng.IntN(len(s.at))) }

// target picks a coil to move to: mostly one in use, often one that the piece's
// order is in already.
func (s *coilSearch) target(piece int32) int32 {
	k := s.rng.IntN(10)
	if k < 3 {
		n := s.line[piece]
		lo, hi := s.first[n], s.first[n+1]
		return s.at[lo+int32(s.rng.IntN(int(hi-lo)))]
	}
	if k < 9 && len(s.used) > 0 {
		return s.used[s.rng.IntN(len(s.used))]
	}
	return int32(s.rng.IntN(len(s.room) + 1))
}

// moveSome moves a piece, or some or all its like in the coil, as far as they fit.
func (s *coilSearch) moveSome() {
	piece := s.anyPiece()
	from, to := s.at[piece], s.target(piece)
	if from == to || !s.fits(piece, to) {
		return
	}
	s.move(piece, to)
	if s.rng.IntN(2) == 0 {
		return
	}
	n := s.line[piece]
	most := 1 + s.rng.IntN(int(s.first[n+1]-s.first[n]))
	for i := s.first[n]; i < s.first[n+1] && most > 0; i++ {
		if s.at[i] == from && s.fits(i, to) {
			s.move(i, to)
			most--
		}
	}
}

// swap exchanges two pieces of different coils.
func (s *coilSearch) swap() {
	a := s.anyPiece()
	ca, cb := s.at[a], s.target(a)
	if ca == cb || len(s.in[cb]) == 0 {
		return
	}
	b := s.in[cb][s.rng.IntN(len(s.in[cb]))]
	d := s.size[a] - s.size[b]
	if d == 0 && s.order[a] == s.order[b] {
		return
	}
	if (cb != s.nowhere() && s.left(cb) < d) || (ca != s.nowhere() && s.left(ca) < -d) {
		return
	}
	s.move(a, s.nowhere())
	s.move(b, ca)
	s.move(a, cb)
}

// moveOrder takes an order to the lot of another coil.
func (s *coilSearch) moveOrder() {
	piece := s.anyPiece()
	to := s.target(piece)
	if to == s.nowhere() {
		return
	}
	o := s.order[piece]
	s.hand = s.hand[:0]
	for n, line := range s.first[:len(s.first)-1] {
		if line < s.first[n+1] && s.order[line] == o {
			for i := line; i < s.first[n+1]; i++ {
				s.hand = append(s.hand, i)
			}
		}
	}
	lot := s.lot[to]
	for _, i := range s.hand {
		if c := s.at[i]; c != s.nowhere() && s.lot[c] == lot {
			continue
		}
		if s.fits(i, to) {
			s.move(i, to)
		} else if c := s.bestFit(i, func(c int32) bool { return s.lot[c] == lot }); c >= 0 {
			s.move(i, c)
		}
	}
}

// bestFit finds the fullest used coil that takes the piece and passes ok; -1
// when there is none.
func (s *coilSearch) bestFit(piece int32, ok func(int32) bool) int32 {
	found, least := int32(-1), int64(math.MaxInt64)
	for _, c := range s.used {
		if left := s.left(c) - s.size[piece]; left >= 0 && left < least && c != s.at[piece] && ok(c) {
			found, least = c, left
		}
	}
	return found
}

// emptyCoil spreads the pieces of a used coil over the other used coils.
func (s *coilSearch) emptyCoil() {
	if len(s.used) == 0 {
		return
	}
	c := s.used[s.rng.IntN(len(s.used))]
	s.hand = append(s.hand[:0], s.in[c]...)
	slices.SortFunc(s.hand, func(a, b int32) int { return cmp.Compare(s.size[b], s.size[a]) })
	for _, i := range s.hand {
		to := s.bestFit(i, func(x int32) bool { return x != c && s.inLot[int(s.order[i])*s.lots+int(s.lot[x])] > 0 })
		if to < 0 {
			to = s.bestFit(i, func(x int32) bool { return x != c })
		}
		if to < 0 {
			return
		}
		s.move(i, to)
	}
}

// changeCoil moves everything from a used coil to an untouched one.
func (s *coilSearch) changeCoil() {
	if len(s.used) == 0 || len(s.room) == 0 {
		return
	}
	from, to := s.used[s.rng.IntN(len(s.used))], int32(s.rng.IntN(len(s.room)))
	if len(s.in[to]) > 0 {
		return
	}
	s.hand = append(s.hand[:0], s.in[from]...)
	for _, i := range s.hand {
		if s.fits(i, to) {
			s.move(i, to)
		}
	}
}

// refill fills one used coil as full as can be out of its own pieces and those
// of one or two others, which take back the rest.
func (s *coilSearch) refill() {
	if len(s.used) == 0 {
		return
	}
	a := s.used[s.rng.IntN(len(s.used))]
	donors := [2]int32{s.donor(a), s.donor(a)}
	if s.rng.IntN(3) > 0 {
		donors[1] = s.nowhere()
	}
	if s.rng.IntN(4) == 0 {
		a = int32(s.rng.IntN(len(s.room)))
	}
	s.hand = append(s.hand[:0], s.in[a]...)
	for i, d := range donors {
		if d != a && (i == 0 || d != donors[0]) {
			s.hand = append(s.hand, s.in[d]...)
		}
	}
	for _, i := range s.hand {
		s.move(i, s.nowhere())
	}
	s.rng.Shuffle(len(s.hand), func(i, j int) { s.hand[i], s.hand[j] = s.hand[j], s.hand[i] })
	s.fill(a, s.hand)
	slices.SortFunc(s.hand, func(a, b int32) int { return cmp.Compare(s.size[b], s.size[a]) })
	for _, i := range s.hand {
		if s.at[i] != s.nowhere() {
			continue
		}
		for _, d := range donors {
			if s.fits(i, d) {
				s.move(i, d)
				break
			}
		}
	}
}

// donor is mostly a used coil of the same lot.
func (s *coilSearch) donor(a int32) int32 {
	d := s.used[s.rng.IntN(len(s.used))]
	for try := 0; try < 3 && (d == a || s.lot[d] != s.lot[a]); try++ {
		d = s.used[s.rng.IntN(len(s.used))]
	}
	return d
}

const (
	lastPanels = 14     // pieces chosen by dynamic programming at the end of a fill
	mostBits   = 16_384 // the longest end it is used on, in units
)

// fill cuts from a coil: pieces of the list in its order until the room left is
// near what lastPanels pieces need, then the best subset of the rest.
func (s *coilSearch) fill(coil int32, list []int32) {
	var total int64
	for _, i := range list {
		total += s.size[i]
	}
	if len(list) == 0 || s.left(coil) < 0 {
		return
	}
	near := min(total/int64(len(list))*lastPanels*2/3, mostBits*s.unit)
	k := 0
	for ; k < len(list) && s.left(coil) > near; k++ {
		if s.fits(list[k], coil) {
			s.move(list[k], coil)
		}
	}
	rest := list[k:min(len(list), k+2*lastPanels)]
	s.sizes = s.sizes[:0]
	for _, i := range rest {
		s.sizes = append(s.sizes, s.size[i]/s.unit)
	}
	for _, j := range s.sum.best(s.sizes, s.left(coil)/s.unit) {
		s.move(rest[j], coil)
	}
}
