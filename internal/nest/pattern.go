package nest

import (
	"cmp"
	"slices"
)

// shop is problem B by numbers: girths as indices, items sorted under them.
type shop struct {
	p       *TrimProblem
	girth   []int64 // distinct girths
	of      []int   // girth of each item
	items   [][]int // items of each girth, longest first
	want    []int64 // of each item; 0 for those no stock can yield
	noStock []bool  // items that no stock can yield
	unit    int64   // all lengths with the saw's loss are whole multiples of it
}

func newShop(p *TrimProblem) *shop {
	s := &shop{p: p}
	at := map[int64]int{}
	for i, t := range p.Items {
		g, ok := at[t.Girth]
		if !ok {
			g = len(s.girth)
			at[t.Girth] = g
			s.girth = append(s.girth, t.Girth)
			s.items = append(s.items, nil)
		}
		s.of = append(s.of, g)
		s.items[g] = append(s.items[g], i)
		s.want = append(s.want, t.Qty)
		s.noStock = append(s.noStock, !p.yields(t))
		if s.noStock[i] {
			s.want[i] = 0
		}
		s.unit = gcd(s.unit, t.Length+p.Params.Saw)
	}
	for _, list := range s.items {
		slices.SortStableFunc(list, func(a, b int) int { return cmp.Compare(p.Items[b].Length, p.Items[a].Length) })
	}
	s.unit = max(s.unit, 1)
	return s
}

// yields reports whether some stock is large enough for an item.
func (p *TrimProblem) yields(t Item) bool {
	for _, s := range p.Stock {
		if p.room(s) >= t.Girth && p.longest(s) >= t.Length && (s.Count == nil || *s.Count > 0) {
			return true
		}
	}
	return false
}

// longest is the length of a sheet or of the longest cut from a coil.
func (p *TrimProblem) longest(s Stock) int64 {
	if s.Form == CoilForm {
		return p.Params.MaxCut
	}
	return s.Length
}

// use is a number of pieces of an item in one strip.
type use struct {
	item int
	n    int64
}

// strip is one strip of a sheet and what is cross-cut from it.
type strip struct {
	girth int // index
	uses  []use
	value float64
	used  int64 // length of its pieces and the saw between them
}

// sheet is a slit sheet or coil cut, made times over.
type sheet struct {
	stock  int
	length int64
	times  int64
	strips []strip
	key    string // of its set-up
}

// setupKey names a set-up: the width and the strips' girths in order.
func (s *shop) setupKey(stock int, strips []strip) string {
	ids := make([]int, 0, 16)
	for _, t := range strips {
		ids = append(ids, t.girth)
	}
	slices.Sort(ids)
	key := make([]byte, 0, 2*len(ids)+4)
	w := s.p.Stock[stock].Width
	key = append(key, byte(w), byte(w>>8), byte(w>>16), byte(w>>24))
	for _, g := range ids {
		key = append(key, byte(g), byte(g>>8))
	}
	return string(key)
}

// width is what the strips of a sheet take.
func (s *shop) width(strips []strip) int64 {
	var w int64
	for _, t := range strips {
		w += s.girth[t.girth]
	}
	return w
}

// cost is that of a sheet times over, without its set-up.
func (s *shop) cost(t sheet) int64 {
	return t.times * s.p.sheetCost(s.p.Stock[t.stock], t.length, s.width(t.strips))
}

// cutter fills strips and sheets by knapsacks. pool holds the pieces of each
// item that may still be used, worth the value of a piece; fills take from the
// pool.
type cutter struct {
	*shop
	pool  []int64
	worth []float64

	sack   knapsack[float64]
	things []thing[float64]
	counts []int64
}

// fillStrip finds the most valuable pieces of a girth in a length and takes
// them from the pool; it gives no pieces when there are none that fit.
func (c *cutter) fillStrip(girth int, length int64) strip {
	saw := c.p.Params.Saw
	limit := int((length + saw) / c.unit)
	c.things = c.things[:0]
	for _, i := range c.items[girth] {
		size := int((c.p.Items[i].Length + saw) / c.unit)
		c.things = append(c.things, thing[float64]{size, c.pool[i], c.worth[i]})
	}
	out := strip{girth: girth}
	for k, n := range c.choose(limit) {
		if n == 0 {
			continue
		}
		i := c.items[girth][k]
		out.uses = append(out.uses, use{i, n})
		out.value += c.worth[i] * float64(n)
		out.used += n * (c.p.Items[i].Length + saw)
	}
	if len(out.uses) > 0 {
		out.used -= saw
	}
	c.take(out, 1)
	return out
}

// take removes n times a strip's pieces from the pool (puts them back for -n).
func (c *cutter) take(t strip, n int64) {
	for _, u := range t.uses {
		c.pool[u.item] -= n * u.n
	}
}

func (c *cutter) again(t strip) bool {
	for _, u := range t.uses {
		if c.pool[u.item] < u.n {
			return false
		}
	}
	return len(t.uses) > 0
}

// choose solves a knapsack over the cutter's things and gives the copies taken
// of each, in a slice that the next call overwrites.
func (c *cutter) choose(limit int) []int64 {
	c.counts = append(c.counts[:0], make([]int64, len(c.things))...)
	if len(c.things) < 2 || !c.sack.solve(c.things, limit) {
		greedy(c.things, limit, c.counts)
	} else {
		c.sack.counts(limit, c.counts)
	}
	return c.counts
}

// strips makes up to most strips of a girth, the most valuable first.
func (c *cutter) strips(out []strip, girth int, length, most int64) []strip {
	var last strip
	for range most {
		if len(last.uses) > 0 && c.again(last) {
			c.take(last, 1)
		} else if last = c.fillStrip(girth, length); len(last.uses) == 0 {
			break
		}
		out = append(out, last)
	}
	return out
}

// fillSheet makes the most valuable sheet of a stock from the pool by a
// knapsack over strips; the pool is as before when it returns.
func (c *cutter) fillSheet(stock int, length int64) sheet {
	st := c.p.Stock[stock]
	room := c.p.room(st)
	var all []strip
	for g, girth := range c.girth {
		if girth <= room {
			all = c.strips(all, g, length, min(room/girth, c.p.Params.MaxStrips))
		}
	}
	for _, t := range all {
		c.take(t, -1)
	}
	c.things = c.things[:0]
	for _, t := range all {
		c.things = append(c.things, thing[float64]{int(c.girth[t.girth]), 1, t.value})
	}
	out := sheet{stock: stock, length: length, times: 1}
	for k, n := range c.choose(int(room)) {
		if n > 0 {
			out.strips = append(out.strips, all[k])
		}
	}
	if most := int(c.p.Params.MaxStrips); len(out.strips) > most {
		slices.SortStableFunc(out.strips, func(a, b strip) int { return cmp.Compare(b.value, a.value) })
		out.strips = out.strips[:most]
	}
	c.close(&out)
	return out
}

// refill makes a sheet with the set-up of another one; a strip for which the
// pool has nothing stays empty.
func (c *cutter) refill(like sheet, length int64) sheet {
	counts := make([]int64, len(c.girth))
	for _, t := range like.strips {
		counts[t.girth]++
	}
	out := sheet{stock: like.stock, length: length, times: 1, key: like.key}
	for g, n := range counts {
		if n == 0 {
			continue
		}
		out.strips = c.strips(out.strips, g, length, n)
		for range n - countGirth(out.strips, g) {
			out.strips = append(out.strips, strip{girth: g})
		}
	}
	for _, t := range out.strips {
		c.take(t, -1)
	}
	c.close(&out)
	return out
}

func countGirth(strips []strip, g int) int64 {
	var n int64
	for _, t := range strips {
		if t.girth == g {
			n++
		}
	}
	return n
}

// close shortens a coil cut to its longest strip and names the set-up.
func (c *cutter) close(t *sheet) {
	if c.p.Stock[t.stock].Form == CoilForm {
		t.length = c.p.Params.MinCut
		for _, s := range t.strips {
			t.length = max(t.length, s.used)
		}
	}
	if t.key == "" {
		t.key = c.setupKey(t.stock, t.strips)
	}
}
