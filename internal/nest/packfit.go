package nest

import "math"

// fitDecreasing puts pieces, longest first, into the first bin of a size that
// they fit, or into the one that they fit most tightly.
func (k *packer) fitDecreasing(want []int64, bin int64, tight bool) []load {
	var out []load
	var left []int64
	for i, n := range want {
		size := k.sizes[i]
		first := 0
		for range n {
			at := -1
			for b := first; b < len(left); b++ {
				if left[b] < size {
					continue
				}
				if at < 0 || left[b] < left[at] {
					at = b
				}
				if !tight {
					break
				}
			}
			if at < 0 {
				at = len(left)
				left = append(left, bin)
				out = append(out, load{qty: make([]int64, len(want))})
			}
			if !tight {
				first = at // an equal piece won't fit any earlier bin
			}
			left[at] -= size
			out[at].qty[i]++
		}
	}
	return out
}

// subsetFill makes one bin after the other: the longest piece left and the
// pieces that fill the rest best, by dynamic programming. Of several bin sizes
// it takes the one that is cheapest for what it holds.
func (k *packer) subsetFill(want []int64) []load {
	left := append([]int64(nil), want...)
	var out []load
	var sack knapsack[int64]
	things := make([]thing[int64], len(left))
	for first := 0; ; {
		for first < len(left) && left[first] == 0 {
			first++
		}
		if first == len(left) {
			return out
		}
		left[first]--
		size := k.sizes[first]
		for i := range things {
			things[i] = thing[int64]{int(k.sizes[i]), left[i], k.sizes[i]}
		}
		qty := make([]int64, len(left))
		widest := k.widest()
		if sack.solve(things, int(widest-size)) {
			best, low := int64(-1), math.Inf(1)
			for _, b := range k.bins {
				if b.Size < size {
					continue
				}
				if p := float64(b.Cost) / float64(size+sack.best[b.Size-size]); p < low {
					best, low = b.Size-size, p
				}
			}
			sack.counts(int(best), qty)
		} else {
			greedy(things, int(widest-size), qty)
		}
		for i, n := range qty {
			left[i] -= n
		}
		qty[first]++
		out = append(out, load{qty: qty})
	}
}

func (k *packer) widest() int64 {
	var w int64
	for _, b := range k.bins {
		w = max(w, b.Size)
	}
	return w
}

// martelloToth is the bound L2 of S. Martello and P. Toth (Knapsack Problems,
// 1990, section 8.3): for every threshold a, pieces above c-a need a bin each
// that takes nothing of size a or more, pieces above c/2 need a bin each, and
// what the smaller ones (at least a) don't find room for beside them needs more.
// Sizes fall.
func martelloToth(sizes, want []int64, c int64) int64 {
	var best int64
	for t := range len(sizes) + 1 {
		var a int64
		if t < len(sizes) {
			if a = sizes[t]; a > c/2 {
				continue
			}
		}
		var large, half, halfSum, small int64
		for i, s := range sizes {
			switch {
			case s > c-a:
				large += want[i]
			case 2*s > c:
				half += want[i]
				halfSum += want[i] * s
			case s >= a:
				small += want[i] * s
			}
		}
		need := large + half
		if over := small - (half*c - halfSum); over > 0 {
			need += (over + c - 1) / c
		}
		best = max(best, need)
	}
	return best
}
