package nest

import (
	"cmp"
	"slices"
)

// completer packs a rest into a given number of bins by bin completion (R. E.
// Korf, AAAI 2002): the longest piece left gets a bin of its own, and the sets
// that fill that bin are tried, fullest first, as long as no more is wasted than
// the bins can spare.
type completer struct {
	sizes []int64
	left  []int64
	bin   int64
	nodes int
	out   []load
}

const (
	completeNodes = 3_000 // bins tried before it gives up
	completeSets  = 40    // sets tried for one bin
	completeBins  = 30    // more bins than this aren't worth a try
)

// complete gives a packing of want into at most bins, or nil; all tells that
// there is none, because everything has been tried.
func (c *completer) complete(want []int64, bin, bins int64) (found []load, all bool) {
	if bins > completeBins {
		return nil, false
	}
	var sum int64
	for i, n := range want {
		sum += n * c.sizes[i]
	}
	spare := bins*bin - sum
	if spare < 0 {
		return nil, true
	}
	c.left = append(c.left[:0], want...)
	c.bin, c.nodes, c.out = bin, completeNodes, c.out[:0]
	ok, whole := c.next(0, spare)
	if ok {
		return slices.Clone(c.out), false
	}
	return nil, whole
}

// next packs the rest with at most spare wasted; whole tells that all ways have
// been tried.
func (c *completer) next(first int, spare int64) (ok, whole bool) {
	for first < len(c.left) && c.left[first] == 0 {
		first++
	}
	if first == len(c.left) {
		return true, true
	}
	if c.nodes--; c.nodes < 0 {
		return false, false
	}
	g := filler{completer: c, least: c.bin - spare, work: 2_000}
	qty := make([]int64, len(c.left))
	qty[first]++
	c.left[first]--
	g.extend(first, c.sizes[first], qty)
	c.left[first]++
	slices.SortStableFunc(g.sets, func(a, b fillSet) int { return cmp.Compare(b.sum, a.sum) })
	whole = g.work > 0
	if len(g.sets) > completeSets {
		g.sets, whole = g.sets[:completeSets], false
	}
	for _, s := range g.sets {
		for i, n := range s.qty {
			c.left[i] -= n
		}
		c.out = append(c.out, load{qty: s.qty})
		ok, all := c.next(first, spare-(c.bin-s.sum))
		if ok {
			return true, true
		}
		c.out = c.out[:len(c.out)-1]
		for i, n := range s.qty {
			c.left[i] += n
		}
		if whole = whole && all; c.nodes < 0 {
			return false, false
		}
	}
	return false, whole
}

// filler lists the sets of pieces that fill one bin to at least a sum and leave
// no room for a further piece.
type filler struct {
	*completer
	least int64
	work  int
	sets  []fillSet
}

type fillSet struct {
	sum int64
	qty []int64
}

func (g *filler) extend(from int, sum int64, qty []int64) {
	if g.work--; g.work < 0 {
		return
	}
	last := true
	for i := from; i < len(g.left); i++ {
		if g.left[i] == 0 || sum+g.sizes[i] > g.bin {
			continue
		}
		last = false
		qty[i]++
		g.left[i]--
		g.extend(i, sum+g.sizes[i], qty)
		g.left[i]++
		qty[i]--
	}
	if last && sum >= g.least {
		g.sets = append(g.sets, fillSet{sum, slices.Clone(qty)})
	}
}
