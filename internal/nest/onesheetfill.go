package nest

import (
	"cmp"
	"math/bits"
	"slices"
)

// grain is how finely blanks are priced: worths are taken times it, so that the
// bound is worked out in whole numbers.
const grain = 1024

// priceTurns is how often prices are moved.
const priceTurns = 800

// sheetFill is a search for the best way to cut one sheet. Blanks are sorted by
// width, so that those which fit a strip are the first ones.
type sheetFill struct {
	p     *SheetProblem
	clock *clock
	blank []SheetBlank
	index []int   // of each blank in the problem
	class []int64 // distinct widths, ascending
	end   []int   // blank[:end] are as wide as the class or narrower
	begin []int   // blank[begin:end] may be cut from a strip of the class

	full   []int64 // of each blank, as many as wanted
	price  []int64 // of each blank, in grains: the best ones found
	bound  int64   // in grains, by those prices
	along  stripSack
	across knapsack[int64]
	best   []SheetStrip
	worth  int64
}

func newSheetFill(p *SheetProblem, c *clock) *sheetFill {
	f := &sheetFill{p: p, clock: c}
	for i, b := range p.Blanks {
		if b.Width <= p.Width && b.Length <= p.Length && b.Qty > 0 && b.Worth > 0 {
			f.index = append(f.index, i)
		}
	}
	slices.SortStableFunc(f.index, func(a, b int) int {
		x, y := p.Blanks[a], p.Blanks[b]
		return cmp.Or(cmp.Compare(x.Width, y.Width), cmp.Compare(y.Length, x.Length))
	})
	for k, i := range f.index {
		b := p.Blanks[i]
		b.Qty = min(b.Qty, (p.Width/b.Width)*(p.Length/b.Length))
		if n := len(f.class); n == 0 || f.class[n-1] != b.Width {
			from := 0
			if p.Exact {
				from = k
			}
			f.class, f.begin, f.end = append(f.class, b.Width), append(f.begin, from), append(f.end, k)
		}
		f.blank, f.full = append(f.blank, b), append(f.full, b.Qty)
		f.end[len(f.end)-1] = k + 1
	}
	f.price = make([]int64, len(f.blank))
	for _, b := range f.blank {
		f.bound += b.Worth * b.Qty * grain
	}
	return f
}

// stripSack is the knapsack along a strip for every class at once: a class's
// table goes on from the next narrower one, or starts anew where strips are
// exact. It keeps its memory.
type stripSack struct {
	best   []int64
	took   [][]bool
	bundle []bundle
	first  []int   // bundles of each class that it doesn't share with others: bundle[first:last]
	last   []int   // bundles of a class and all that it goes on from: bundle[:last]
	value  []int64 // of each class at the whole length
}

// cut solves the knapsack: gain is what a piece of each blank is worth, pool how
// many there are.
func (k *stripSack) cut(f *sheetFill, gain, pool []int64) {
	long := int(f.p.Length)
	if k.best == nil {
		k.best = make([]int64, long+1)
		k.first, k.last, k.value = make([]int, len(f.class)), make([]int, len(f.class)), make([]int64, len(f.class))
	}
	clear(k.best)
	k.bundle = k.bundle[:0]
	at := 0
	for c := range f.class {
		k.first[c] = len(k.bundle)
		if f.p.Exact {
			clear(k.best)
		}
		for ; at < f.end[c]; at++ {
			b := f.blank[at]
			left := min(pool[at], f.p.Length/b.Length)
			for n := int64(1); left > 0 && gain[at] > 0; n *= 2 {
				n = min(n, left)
				left -= n
				k.offer(bundle{at, n}, int(b.Length*n), gain[at]*n)
			}
		}
		k.last[c], k.value[c] = len(k.bundle), k.best[long]
	}
}

func (k *stripSack) offer(b bundle, size int, value int64) {
	j := len(k.bundle)
	if len(k.took) <= j {
		k.took = append(k.took, make([]bool, len(k.best)))
	}
	clear(k.took[j])
	put(k.best, k.took[j], size, value)
	k.bundle = append(k.bundle, b)
}

// counts gives how many of each blank the best strip of a class holds, added to out.
func (k *stripSack) counts(f *sheetFill, class int, out []int64) {
	stop := 0
	if f.p.Exact {
		stop = k.first[class]
	}
	w := int(f.p.Length)
	for j := k.last[class] - 1; j >= stop; j-- {
		if b := k.bundle[j]; k.took[j][w] {
			out[b.of] += b.count
			w -= int(f.blank[b.of].Length * b.count)
		}
	}
}

// gains are what the blanks are worth beyond their prices, in grains.
func (f *sheetFill) gains(price, out []int64) {
	for i, b := range f.blank {
		out[i] = b.Worth*grain - price[i]
	}
}

// slit finds the most valuable strips across a width by the values of the strip
// sack; it reports whether the table isn't too large.
func (f *sheetFill) slit(width int64) bool {
	things := make([]thing[int64], len(f.class))
	for c, w := range f.class {
		things[c] = thing[int64]{int(w), f.p.Width / w, f.along.value[c]}
	}
	return f.across.solve(things, int(width))
}

// fits reports whether the tables of a sheet this large can be held.
func (f *sheetFill) fits() bool {
	bundles := int64(0)
	for _, b := range f.blank {
		bundles += int64(bits.Len64(uint64(min(b.Qty, f.p.Length/b.Length))))
	}
	return (f.p.Length+1)*bundles <= mostCells*4
}

// priceBlanks lowers the bound by prices that make dear what the strips hold too
// often, and keeps the best sheet met on the way. Prices move against the excess
// as Held, Wolfe and Crowder (Mathematical Programming 6, 1974) do it.
func (f *sheetFill) priceBlanks() {
	if !f.fits() {
		return
	}
	price, gain := make([]int64, len(f.blank)), make([]int64, len(f.blank))
	step, since := 1.0, 0
	for range priceTurns {
		f.gains(price, gain)
		f.along.cut(f, gain, f.full)
		if f.clock.out() || !f.slit(f.p.Width) {
			return
		}
		bound := f.across.best[f.p.Width]
		for i := range f.blank {
			bound += price[i] * f.full[i]
		}
		if since++; bound < f.bound {
			f.bound, since = bound, 0
			copy(f.price, price)
		}
		if since > 20 {
			step, since = step/1.5, 0
		}
		strips := make([]int64, len(f.class))
		f.across.counts(int(f.p.Width), strips)
		over := f.excess(strips)
		f.realise(strips, gain)
		if f.bound/grain <= f.worth || step < 1e-3 || !f.move(price, over, step*float64(bound-f.worth*grain)) {
			return
		}
	}
}

// excess is how many more of each blank the strips hold than are wanted.
func (f *sheetFill) excess(strips []int64) []int64 {
	out, one := make([]int64, len(f.blank)), make([]int64, len(f.blank))
	for c, n := range strips {
		if n == 0 {
			continue
		}
		clear(one)
		f.along.counts(f, c, one)
		for i := range one {
			out[i] += n * one[i]
		}
	}
	for i := range out {
		out[i] -= f.full[i]
	}
	return out
}

// move changes the prices by a step along the excess; false when nothing is held
// too often or has a price to lose, so that the bound can't fall.
func (f *sheetFill) move(price, over []int64, step float64) bool {
	var norm float64
	for i, x := range over {
		if x > 0 || price[i] > 0 {
			norm += float64(x) * float64(x)
		}
	}
	if norm == 0 {
		return false
	}
	for i, x := range over {
		price[i] = max(0, price[i]+int64(step/norm*float64(x)))
	}
	return true
}

// realise makes a sheet of the strips' widths that holds nothing more often than
// wanted, the widest strips first, and keeps it when it is the best so far. Then
// what is left of the width is filled.
func (f *sheetFill) realise(strips, gain []int64) {
	pool, worth := slices.Clone(f.full), make([]int64, len(f.blank))
	for i, b := range f.blank {
		worth[i] = b.Worth*grain*8 + gain[i]
	}
	var out []SheetStrip
	var sum int64
	left := f.p.Width
	add := func(c int) bool {
		one := make([]int64, len(f.blank))
		f.along.counts(f, c, one)
		s := SheetStrip{Blanks: map[int]int64{}}
		for i, n := range one {
			if n > 0 {
				s.Blanks[f.index[i]] = n
				s.Width = f.blank[i].Width // ascending: the widest stays
				pool[i] -= n
				sum += n * f.blank[i].Worth
			}
		}
		left -= s.Width
		out = append(out, s)
		return len(s.Blanks) > 0
	}
	for c := len(strips) - 1; c >= 0; c-- {
		for range strips[c] {
			f.along.cut(f, worth, pool)
			if !add(c) {
				out = out[:len(out)-1]
				break
			}
		}
	}
	for {
		f.along.cut(f, worth, pool)
		best := -1
		for c, w := range f.class {
			if w <= left && f.along.value[c] > 0 && (best < 0 || f.along.value[c]*f.class[best] > f.along.value[best]*w) {
				best = c
			}
		}
		if best < 0 || !add(best) {
			break
		}
	}
	if sum > f.worth {
		f.worth, f.best = sum, out
	}
}
