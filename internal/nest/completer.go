package nest

import (
	"cmp"
	"slices"
)

// completer packs a rest at a limited cost by bin completion (R. E. Korf, AAAI
// 2002): the longest piece left gets a bin of its own, and the sets that fill
// that bin are tried, those that waste least first, as long as no more is
// wasted than the limit can spare.
//
// Waste is counted in money against the bins that are cheapest for their size:
// a bin of cost c filled to f wastes c x size - f x cost of the cheapest.
type completer struct {
	sizes []int64
	bins  []Bin // costs in steps
	cheap Bin
	left  []int64
	nodes int
	out   []load
}

const (
	completeNodes = 3_000 // bins tried before it gives up
	completeSets  = 40    // sets tried for one bin
	completeWork  = 2_000 // sets looked at for one bin
)

func newCompleter(sizes []int64, bins []Bin, step int64) completer {
	c := completer{sizes: sizes}
	for _, b := range bins {
		b.Cost /= step
		c.bins = append(c.bins, b)
		if c.cheap.Size == 0 || b.Cost*c.cheap.Size < c.cheap.Cost*b.Size {
			c.cheap = b
		}
	}
	return c
}

// complete gives a packing of want that costs at most budget steps, or nil; all
// tells that there is none, because everything has been tried.
func (c *completer) complete(want []int64, budget int64) (found []load, all bool) {
	var sum int64
	for i, n := range want {
		sum += n * c.sizes[i]
	}
	spare := budget*c.cheap.Size - sum*c.cheap.Cost
	if spare < 0 {
		return nil, true
	}
	c.left = append(c.left[:0], want...)
	c.nodes, c.out = completeNodes, c.out[:0]
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
	sets, whole := c.fillings(first, spare)
	for _, s := range sets {
		for i, n := range s.qty {
			c.left[i] -= n
		}
		c.out = append(c.out, load{qty: s.qty})
		ok, all := c.next(first, spare-s.waste)
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

// fillings lists sets with the piece first for bins of every size; whole tells
// that none was left out.
func (c *completer) fillings(first int, spare int64) (sets []fillSet, whole bool) {
	whole = true
	for _, b := range c.bins {
		if b.Size < c.sizes[first] {
			continue
		}
		full := b.Cost * c.cheap.Size
		g := filler{completer: c, bin: b.Size, least: (full - spare + c.cheap.Cost - 1) / c.cheap.Cost, work: completeWork}
		qty := make([]int64, len(c.left))
		qty[first]++
		c.left[first]--
		g.extend(first, c.sizes[first], qty)
		c.left[first]++
		for _, s := range g.sets {
			s.waste = full - s.sum*c.cheap.Cost
			sets = append(sets, s)
		}
		whole = whole && g.work > 0
	}
	slices.SortStableFunc(sets, func(a, b fillSet) int { return cmp.Compare(a.waste, b.waste) })
	if len(sets) > completeSets {
		return sets[:completeSets], false
	}
	return sets, whole
}

// filler lists the sets of pieces that fill one bin to at least a sum and leave
// no room for a further piece.
type filler struct {
	*completer
	bin   int64
	least int64
	work  int
	sets  []fillSet
}

type fillSet struct {
	sum   int64
	waste int64
	qty   []int64
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
		g.sets = append(g.sets, fillSet{sum: sum, qty: slices.Clone(qty)})
	}
}
