package nest

import (
	"cmp"
	"math"
	"slices"
)

// build makes a plan from nothing: a cheap set of coils that holds everything,
// orders to the lots of that set, and each lot's coils filled to the end one
// after the other, the longest last, so that it keeps the useful remainder.
// noise from 0 to 1 blurs its choices.
func (s *coilSearch) build(noise float64) {
	s.emptyAll()
	chosen := s.cover(noise)
	lotCoils := make([][]int32, s.lots)
	lotRoom := make([]int64, s.lots)
	for _, c := range chosen {
		lotCoils[s.lot[c]] = append(lotCoils[s.lot[c]], c)
		lotRoom[s.lot[c]] += s.room[c]
	}
	lotPieces := s.dealOrders(lotRoom, noise)
	for l, coils := range lotCoils {
		pieces := lotPieces[l]
		slices.SortFunc(coils, func(a, b int32) int { return cmp.Compare(s.room[a], s.room[b]) })
		for k, c := range coils {
			open := pieces[:0]
			for _, i := range pieces {
				if s.at[i] == s.nowhere() {
					open = append(open, i)
				}
			}
			pieces = open
			if k == len(coils)-1 {
				slices.SortFunc(pieces, func(a, b int32) int { return cmp.Compare(s.size[b], s.size[a]) })
			} else {
				s.rng.Shuffle(len(pieces), func(i, j int) { pieces[i], pieces[j] = pieces[j], pieces[i] })
			}
			s.fill(c, pieces)
		}
	}
	s.placeRest(chosen)
	s.commit()
}

// cover chooses coils that together hold everything, cheapest first by dynamic
// programming over a coarse scale of length.
func (s *coilSearch) cover(noise float64) []int32 {
	const marks = 2000
	var need int64
	for _, size := range s.size {
		need += size
	}
	need += int64(float64(need) * noise * 0.04 * s.rng.Float64())
	scale := need/marks + 1
	goal := int(need/scale) + 1
	least := make([]float64, goal+1)
	for d := 1; d <= goal; d++ {
		least[d] = math.Inf(1)
	}
	var took [][]bool
	coils := s.rng.Perm(len(s.room))
	for _, c := range coils {
		took = append(took, make([]bool, goal+1))
		w := int(max(s.room[c], 0) / scale)
		if w == 0 {
			continue
		}
		price := float64(s.p.useCost(s.p.Coils[c], true, s.room[c]) - s.p.useCost(s.p.Coils[c], false, 0))
		price = max(price, 1) * (1 + noise*s.rng.Float64())
		row := took[len(took)-1]
		for d := goal; d > 0; d-- {
			if v := least[max(d-w, 0)] + price; v < least[d] {
				least[d], row[d] = v, true
			}
		}
	}
	d := goal
	for d > 0 && math.IsInf(least[d], 1) {
		d--
	}
	var chosen []int32
	for k := len(coils) - 1; k >= 0 && d > 0; k-- {
		if took[k][d] {
			c := coils[k]
			chosen = append(chosen, int32(c))
			d = max(d-int(s.room[c]/scale), 0)
		}
	}
	return chosen
}

// dealOrders gives each order, large ones first, to the lot whose room it fills
// best, or to the roomiest when it fits none.
func (s *coilSearch) dealOrders(lotRoom []int64, noise float64) [][]int32 {
	pieces := make([][]int32, s.orders)
	total := make([]int64, s.orders)
	for i, o := range s.order {
		pieces[o] = append(pieces[o], int32(i))
		total[o] += s.size[i]
	}
	rank := make([]float64, s.orders)
	order := make([]int, s.orders)
	for o := range order {
		order[o] = o
		rank[o] = float64(total[o]) * (1 + noise*(s.rng.Float64()-0.5))
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Or(cmp.Compare(rank[b], rank[a]), cmp.Compare(a, b)) })
	out := make([][]int32, s.lots)
	for _, o := range order {
		fit, roomy := -1, -1
		for l, room := range lotRoom {
			if room >= total[o] && (fit < 0 || room < lotRoom[fit]) {
				fit = l
			}
			if room > 0 && (roomy < 0 || room > lotRoom[roomy]) {
				roomy = l
			}
		}
		l := fit
		if l < 0 {
			l = roomy
		}
		if l < 0 {
			continue
		}
		lotRoom[l] -= total[o]
		out[l] = append(out[l], pieces[o]...)
	}
	return out
}

// placeRest puts what found no place, longest first, where it costs least.
func (s *coilSearch) placeRest(chosen []int32) {
	rest := slices.Clone(s.in[s.nowhere()])
	slices.SortFunc(rest, func(a, b int32) int {
		return cmp.Or(cmp.Compare(s.size[b], s.size[a]), cmp.Compare(a, b))
	})
	for _, i := range rest {
		best, least := s.nowhere(), int64(math.MaxInt64)
		before := s.cost
		try := func(c int32) {
			if !s.fits(i, c) {
				return
			}
			n := len(s.journal)
			s.move(i, c)
			if d := s.cost - before; d < least {
				best, least = c, d
			}
			if len(s.journal) > n {
				s.shift(i, c, s.nowhere())
				s.journal = s.journal[:n]
			}
		}
		for _, c := range chosen {
			try(c)
		}
		if best == s.nowhere() {
			for c := range s.room {
				try(int32(c))
			}
		}
		if best != s.nowhere() {
			s.move(i, best)
		}
	}
}
