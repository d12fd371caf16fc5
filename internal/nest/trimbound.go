package nest

import (
	"cmp"
	"math"
	"math/big"
	"slices"
)

// mostRows limits the rows of a linear program, whose inverse is dense.
const mostRows = 800

// trimBound is a lower bound on the cost of any plan for problem B: the least
// cost of metal, passes and drops, and the least number of set-ups.
//
// The metal is bounded by area; by slit patterns alone, as if blanks could be
// cut across into any number of parts, which holds for sheet and coil; and,
// when all stock is sheet, by whole patterns. The best of them counts.
func trimBound(s *shop, c *clock) int64 {
	if !slices.ContainsFunc(s.want, func(n int64) bool { return n > 0 }) {
		return 0
	}
	metal := s.areaBound()
	fluid := newFluidPricer(s)
	if len(fluid.girths) <= mostRows {
		metal = max(metal, bound(s, fluid, c))
	}
	if whole := newWholePricer(s); s.allSheet() {
		if len(whole.items) <= mostRows {
			metal = max(metal, bound(s, whole, c))
		}
		metal = s.roundUp(metal)
	}
	return metal + s.leastSetups()*s.p.Params.Setup
}

func (s *shop) allSheet() bool {
	return !slices.ContainsFunc(s.p.Stock, func(k Stock) bool { return k.Form != SheetForm })
}

// roundUp lifts a bound for sheets to a sum that whole sheets can cost.
func (s *shop) roundUp(metal int64) int64 {
	if s.p.Params.DropCredit > 0 {
		return metal
	}
	var step int64
	for _, k := range s.p.Stock {
		step = gcd(step, k.Cost+s.p.Params.Pass)
	}
	if step == 0 {
		return metal
	}
	return (metal + step - 1) / step * step
}

// areaBound prices the blanks' area at the cheapest stock. A drop's credit
// never makes a narrower use cheaper for its area.
func (s *shop) areaBound() int64 {
	rate := math.Inf(1)
	for _, k := range s.p.Stock {
		room, long := s.p.room(k), s.p.longest(k)
		if room > 0 && long > 0 {
			rate = min(rate, float64(s.p.sheetCost(k, long, room))/float64(room)/float64(long))
		}
	}
	area := 0.0
	for i, t := range s.p.Items {
		area += float64(s.want[i]) * float64(t.Girth) * float64(t.Length)
	}
	if math.IsInf(rate, 1) {
		return 0
	}
	return int64(area * rate * (1 - 1e-12))
}

// leastSetups is how many set-ups the distinct girths need to find room in at
// least one of them, by the bound L2 on the widest stock.
func (s *shop) leastSetups() int64 {
	var room int64
	for _, k := range s.p.Stock {
		room = max(room, s.p.room(k))
	}
	girths := s.openGirths()
	sizes, ones := make([]int64, len(girths)), make([]int64, len(girths))
	for k, g := range girths {
		sizes[k], ones[k] = s.girth[g], 1
	}
	slices.SortFunc(sizes, func(a, b int64) int { return cmp.Compare(b, a) })
	knives := s.p.Params.MaxStrips
	return max(martelloToth(sizes, ones, room), (int64(len(girths))+knives-1)/knives)
}

// openGirths are the girths of which a piece is wanted.
func (s *shop) openGirths() []int {
	var out []int
	for g, items := range s.items {
		if slices.ContainsFunc(items, func(i int) bool { return s.want[i] > 0 }) {
			out = append(out, g)
		}
	}
	return out
}

// pricer describes a covering program whose columns are patterns of a stock.
type pricer interface {
	// demand is what every row wants, and single a column for each row alone.
	demand() []int64
	single(row int) column
	// worth gives the most that patterns of a stock are worth at whole duals, by
	// the width they may use; nil when that is too large to work out. pattern
	// then gives the pattern behind a width.
	worth(stock int, dual []int64) []int64
	pattern(width int) column
	// cost is that of a pattern by the width it uses.
	cost(stock int, width int64) float64
}

// bound solves a covering program. It holds whatever rounding does: the duals,
// as whole numbers and divided by the most that any pattern is worth for its
// cost, are a solution of the dual program.
func bound(s *shop, p pricer, c *clock) int64 {
	exact := p.demand()
	demand := make([]float64, len(exact))
	single := make([]column, len(exact))
	top := 1.0
	for i, n := range exact {
		// A grain more than wanted, different for each row, keeps the simplex
		// method from standing still on ties.
		demand[i] = float64(n) * (1 + 1e-7*float64(1+i%97))
		single[i] = p.single(i)
		top = max(top, single[i].price)
	}
	scale := math.Exp2(40) / top
	l := newCover(demand, single)
	dual := make([]int64, len(exact))
	var best int64
	l.solve(func() bool {
		for i, y := range l.dual {
			dual[i] = int64(max(y, 0) * scale)
		}
		added, ratio := false, 0.0
		for k := range s.p.Stock {
			worth := p.worth(k, dual)
			if worth == nil {
				return false
			}
			width, most := 0, 0.0
			for w, v := range worth {
				if r := float64(v) / scale / p.cost(k, int64(w)); v > 0 && r > most {
					width, most = w, r
				}
			}
			ratio = max(ratio, most)
			if most > 1+1e-6 {
				col := p.pattern(width)
				col.price, col.tag = p.cost(k, int64(width)), k
				l.add(col)
				added = true
			}
		}
		if ratio > 0 {
			best = max(best, dualValue(exact, dual, scale*ratio))
		}
		return added
	}, c.out)
	return best
}

// dualValue is the sum of demand x dual by a scale, rounded down with a margin
// for the scale's own rounding.
func dualValue(demand, dual []int64, scale float64) int64 {
	var sum big.Int
	for i, y := range dual {
		sum.Add(&sum, new(big.Int).Mul(big.NewInt(y), big.NewInt(demand[i])))
	}
	f, _ := new(big.Float).SetInt(&sum).Float64()
	return int64(f / scale * (1 - 1e-11))
}

// fluidPricer has a row for each girth and wants its length; its patterns are
// the slit widths of a unit of length.
type fluidPricer struct {
	*shop
	girths []int
	sack   knapsack[int64]
}

func newFluidPricer(s *shop) *fluidPricer { return &fluidPricer{shop: s, girths: s.openGirths()} }

func (f *fluidPricer) demand() []int64 {
	out := make([]int64, len(f.girths))
	for k, g := range f.girths {
		for _, i := range f.items[g] {
			out[k] += f.want[i] * f.p.Items[i].Length
		}
	}
	return out
}

func (f *fluidPricer) single(row int) column {
	girth := f.girth[f.girths[row]]
	best := column{price: math.Inf(1), rows: []int32{int32(row)}, adds: []float64{1}}
	for k, st := range f.p.Stock {
		if f.p.room(st) >= girth {
			best.price = min(best.price, f.cost(k, girth))
		}
	}
	return best
}

func (f *fluidPricer) worth(stock int, dual []int64) []int64 {
	things := make([]thing[int64], len(f.girths))
	for k, g := range f.girths {
		things[k] = thing[int64]{int(f.girth[g]), f.p.Params.MaxStrips, dual[k]}
	}
	if !f.sack.solve(things, int(max(f.p.room(f.p.Stock[stock]), 0))) {
		return nil
	}
	return f.sack.best
}

func (f *fluidPricer) pattern(width int) column {
	counts := make([]int64, len(f.girths))
	f.sack.counts(width, counts)
	return rowColumn(counts)
}

func rowColumn(counts []int64) column {
	var c column
	for k, n := range counts {
		if n > 0 {
			c.rows, c.adds = append(c.rows, int32(k)), append(c.adds, float64(n))
		}
	}
	return c
}

// cost is for a unit of length; a coil's pass is spread over the longest cut.
func (f *fluidPricer) cost(stock int, width int64) float64 {
	st := f.p.Stock[stock]
	long := max(f.p.longest(st), 1)
	return float64(f.p.sheetCost(st, long, width)) / float64(long)
}

// wholePricer has a row for each item; its patterns are whole sheets. It takes
// every strip of a girth to be the best one, so a pattern may hold more of an
// item than wanted, which only weakens the bound.
type wholePricer struct {
	*shop
	items  []int
	rowOf  []int
	girths []int
	strips [][]int64 // pieces of each item of a girth in its best strip
	across knapsack[int64]
	along  knapsack[int64]
}

func newWholePricer(s *shop) *wholePricer {
	w := &wholePricer{shop: s, girths: s.openGirths(), rowOf: make([]int, len(s.want))}
	for i, n := range s.want {
		if n > 0 {
			w.rowOf[i] = len(w.items)
			w.items = append(w.items, i)
		}
	}
	w.strips = make([][]int64, len(w.girths))
	return w
}

func (w *wholePricer) demand() []int64 {
	out := make([]int64, len(w.items))
	for k, i := range w.items {
		out[k] = w.want[i]
	}
	return out
}

func (w *wholePricer) single(row int) column {
	t := w.p.Items[w.items[row]]
	best := column{price: math.Inf(1), rows: []int32{int32(row)}, adds: []float64{1}}
	for k, st := range w.p.Stock {
		if w.p.room(st) >= t.Girth && st.Length >= t.Length {
			best.price = min(best.price, w.cost(k, t.Girth))
		}
	}
	return best
}

func (w *wholePricer) worth(stock int, dual []int64) []int64 {
	st := w.p.Stock[stock]
	saw := w.p.Params.Saw
	limit := int((st.Length + saw) / w.unit)
	things := make([]thing[int64], len(w.girths))
	for k, g := range w.girths {
		list := w.shop.items[g]
		pieces := make([]thing[int64], len(list))
		var most int64
		for n, i := range list {
			pieces[n] = thing[int64]{size: int((w.p.Items[i].Length + saw) / w.unit)}
			if w.want[i] > 0 {
				pieces[n].count, pieces[n].value = w.want[i], dual[w.rowOf[i]]
				most += w.want[i]
			}
		}
		if !w.along.solve(pieces, limit) {
			return nil
		}
		w.strips[k] = make([]int64, len(list))
		w.along.counts(limit, w.strips[k])
		things[k] = thing[int64]{int(w.girth[g]), min(most, w.p.Params.MaxStrips), w.along.best[limit]}
	}
	if !w.across.solve(things, int(max(w.p.room(st), 0))) {
		return nil
	}
	return w.across.best
}

func (w *wholePricer) pattern(width int) column {
	counts := make([]int64, len(w.girths))
	w.across.counts(width, counts)
	rows := make([]int64, len(w.items))
	for k, n := range counts {
		for m, i := range w.shop.items[w.girths[k]] {
			if w.want[i] > 0 {
				rows[w.rowOf[i]] += n * w.strips[k][m]
			}
		}
	}
	return rowColumn(rows)
}

func (w *wholePricer) cost(stock int, width int64) float64 {
	st := w.p.Stock[stock]
	return float64(w.p.sheetCost(st, st.Length, width))
}
