package nest

import (
	"math"
	"slices"
)

// mostSums limits the table of lengths that sets of orders come to.
const mostSums = 32 << 20

// parted is a lower bound on the least cost when each of many orders comes from
// one group of lots. A group's orders come to a length that is a sum of whole
// orders; for two groups all sums are tried, which is exact. Of more groups each
// is set against all others as one, and the dearest of those divisions counts.
func (f *fluid) parted(groups [][]int) int64 {
	whole := f.deliver(slices.Concat(groups...))[f.goal]
	if len(groups) < 2 || len(f.sums()) == 0 {
		return whole
	}
	low := whole
	for g, one := range groups {
		var rest []int
		for h, lots := range groups {
			if h != g {
				rest = append(rest, lots...)
			}
		}
		slices.Sort(rest)
		low = max(low, f.halved(f.deliver(one), f.deliver(rest)))
		if len(groups) == 2 {
			break // the other way round is the same division
		}
	}
	return low
}

// halved is the least cost of two costs by length over all ways to divide the
// orders.
func (f *fluid) halved(a, b []int64) int64 {
	sums := f.sums()
	all := int64(len(sums) - 1)
	low := int64(math.MaxInt64)
	for x, can := range sums {
		if can {
			units := int64(x) * f.unit
			low = min(low, a[units/f.scale]+b[(all*f.unit-units)/f.scale])
		}
	}
	return low
}

// sums tells which lengths, in units, sets of whole orders come to; it is empty
// when the table would be too large.
func (f *fluid) sums() []bool {
	if f.sum != nil {
		return f.sum
	}
	orders := make([]int64, f.orders)
	var need int64
	for i, o := range f.order {
		orders[o] += f.size[i] / f.unit
		need += f.size[i] / f.unit
	}
	f.sum = []bool{}
	if need*int64(f.orders) > mostSums {
		return f.sum
	}
	f.sum = make([]bool, need+1)
	f.sum[0] = true
	var reach int64
	for _, n := range orders {
		for x := reach; x >= 0; x-- {
			if f.sum[x] {
				f.sum[x+n] = true
			}
		}
		reach += n
	}
	return f.sum
}
