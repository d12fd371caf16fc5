package load

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
)

const (
	kicksPerStop = 60 // restarts of the search from a disturbed order, at most
	longestRun   = 3  // stops moved together by or-opt
	effort       = 3_000_000
)

// kicks gives the number of restarts: a round of moves costs about n3 steps, so
// that long trips get fewer and no trip keeps a person waiting.
func kicks(n int) int {
	if n < 4 {
		return 0
	}
	return min(kicksPerStop*n, effort/(n*n*n))
}

// search finds a good order: cheapest insertion, then moving runs of stops,
// turning stretches round and swapping, repeated from disturbed copies of the
// best order. It counts rounds, not time, so the same seed gives the same order.
func (t *Trip) search() []int {
	best := t.improve(t.insertion())
	least := t.end(best)
	rng := rand.New(rand.NewPCG(t.Seed, 0x5ee))
	for range kicks(len(t.Stops)) {
		order := t.improve(kick(best, rng))
		if end := t.end(order); end.compare(least) < 0 {
			best, least = order, end
		}
	}
	return best
}

// end gives what a whole order comes to.
func (t *Trip) end(order []int) standing {
	end, _ := t.endFrom(standing{clock: t.Depart}, order, 0, standing{late: math.Inf(1)})
	return end
}

// endFrom gives what an order comes to when its first stops up to i are driven
// and stand at the given figures; false as soon as it can't be better than least.
func (t *Trip) endFrom(at standing, order []int, i int, least standing) (standing, bool) {
	from := 0
	if i > 0 {
		from = order[i-1] + 1
	}
	for _, stop := range order[i:] {
		at, from = t.visit(at, from, stop+1), stop+1
		if at.late > least.late || at.late == least.late && at.driving > least.driving {
			return at, false
		}
	}
	if from != 0 {
		at = t.home(at, from)
	}
	return at, at.compare(least) < 0
}

// insertion builds an order by putting each stop where it does least harm,
// earliest closing first.
func (t *Trip) insertion() []int {
	byClosing := make([]int, len(t.Stops))
	for i := range byClosing {
		byClosing[i] = i
	}
	slices.SortStableFunc(byClosing, func(a, b int) int {
		return cmp.Compare(t.closing(a), t.closing(b))
	})
	var order []int
	for _, stop := range byClosing {
		var best []int
		var least standing
		for at := 0; at <= len(order); at++ {
			try := slices.Insert(slices.Clone(order), at, stop)
			if end := t.end(try); best == nil || end.compare(least) < 0 {
				best, least = try, end
			}
		}
		order = best
	}
	return order
}

func (t *Trip) closing(stop int) float64 {
	if c := t.Stops[stop].Closes; c > 0 {
		return c
	}
	return weekMinutes
}

// improve applies the moves until none helps.
func (t *Trip) improve(order []int) []int {
	least := t.end(order)
	try := make([]int, len(order))
	before := make([]standing, len(order)+1) // at each stop of order
	for better := true; better; {
		before[0] = standing{clock: t.Depart}
		for i, from := 0, 0; i < len(order); i++ {
			before[i+1], from = t.visit(before[i], from, order[i]+1), order[i]+1
		}
		better = neighbours(order, try, func(changed int) bool {
			end, ok := t.endFrom(before[changed], try, changed, least)
			if ok {
				copy(order, try)
				least = end
			}
			return ok
		})
	}
	return order
}

// neighbours writes each changed order into try and asks take with the first
// changed index, until it takes one; false when it took none.
func neighbours(order, try []int, take func(changed int) bool) bool {
	n := len(order)
	for i := range n {
		for j := i + 1; j < n; j++ {
			copy(try, order) // 2-opt: turn i..j round
			slices.Reverse(try[i : j+1])
			if take(i) {
				return true
			}
			copy(try, order) // swap
			try[i], try[j] = try[j], try[i]
			if take(i) {
				return true
			}
		}
	}
	for run := 1; run <= longestRun; run++ {
		for i := 0; i+run <= n; i++ {
			for at := 0; at+run <= n; at++ {
				if at == i {
					continue
				}
				moveRun(order, try, i, run, at) // or-opt
				if take(min(i, at)) {
					return true
				}
				slices.Reverse(try[at : at+run])
				if run > 1 && take(min(i, at)) {
					return true
				}
			}
		}
	}
	return false
}

// moveRun writes order into try with run stops from i moved to begin at at.
func moveRun(order, try []int, i, run, at int) {
	k := 0
	for p, stop := range order {
		if p >= i && p < i+run {
			continue
		}
		if k == at {
			k += run
		}
		try[k] = stop
		k++
	}
	copy(try[at:at+run], order[i:i+run])
}

// kick gives a copy with two neighbouring stretches exchanged.
func kick(order []int, rng *rand.Rand) []int {
	n := len(order)
	cuts := []int{rng.IntN(n + 1), rng.IntN(n + 1), rng.IntN(n + 1)}
	slices.Sort(cuts)
	a, b, c := cuts[0], cuts[1], cuts[2]
	return slices.Concat(order[:a], order[b:c], order[a:b], order[c:])
}
