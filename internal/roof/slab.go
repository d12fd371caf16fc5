package roof

import (
	"math/big"
	"slices"

	"ribdesk/internal/measure"
)

// slab is the part of a plane between two edges over a width that has no corner
// inside it: a trapezoid with upright sides.
type slab struct {
	left, right measure.Length
	low, high   [2]*big.Rat // of the lower and upper edge, at both sides
	below       Edge
	above       Edge
}

// at gives the height of an edge over a place along the eave. The edge isn't
// upright.
func at(a, b Point, x measure.Length) *big.Rat {
	y := big.NewRat(int64(x-a.X), int64(b.X-a.X))
	y.Mul(y, new(big.Rat).SetInt64(int64(b.Y-a.Y)))
	return y.Add(y, new(big.Rat).SetInt64(int64(a.Y)))
}

// slabs cuts the part of the outline between two places along the eave.
func (o Outline) slabs(left, right measure.Length) []slab {
	from, to, _ := o.reach()
	left, right = max(left, from), min(right, to)
	if left >= right {
		return nil
	}
	xs := []measure.Length{left, right}
	for _, c := range o {
		if c.X > left && c.X < right {
			xs = append(xs, c.X)
		}
	}
	slices.Sort(xs)
	xs = slices.Compact(xs)
	var out []slab
	for i := 0; i+1 < len(xs); i++ {
		out = append(out, o.column(xs[i], xs[i+1])...)
	}
	return out
}

// crossing is an edge on its way over a column.
type crossing struct {
	edge Edge
	y    [2]*big.Rat
}

// column gives the slabs over a width without corners, from below.
func (o Outline) column(a, b measure.Length) []slab {
	var over []crossing
	for i, c := range o {
		p, q := c.Point, o.next(i).Point
		if p.X == q.X || min(p.X, q.X) > a || max(p.X, q.X) < b {
			continue
		}
		over = append(over, crossing{c.Edge, [2]*big.Rat{at(p, q, a), at(p, q, b)}})
	}
	slices.SortFunc(over, func(s, t crossing) int {
		return new(big.Rat).Add(s.y[0], s.y[1]).Cmp(new(big.Rat).Add(t.y[0], t.y[1]))
	})
	var out []slab
	for i := 0; i+1 < len(over); i += 2 {
		out = append(out, slab{a, b, over[i].y, over[i+1].y, over[i].edge, over[i+1].edge})
	}
	return out
}

// area is the slab's surface.
func (s slab) area() Area {
	sum := new(big.Rat).Add(s.high[0], s.high[1])
	sum.Sub(sum, s.low[0]).Sub(sum, s.low[1])
	return Area{sum.Mul(sum, big.NewRat(int64(s.right-s.left), 2))}
}

func least(y [2]*big.Rat) *big.Rat {
	if y[0].Cmp(y[1]) <= 0 {
		return y[0]
	}
	return y[1]
}

func most(y [2]*big.Rat) *big.Rat {
	if y[0].Cmp(y[1]) >= 0 {
		return y[0]
	}
	return y[1]
}

// holds reports whether the slab reaches from low to high over all its width.
func (s slab) holds(low, high measure.Length) bool {
	return most(s.low).Cmp(rat(low)) <= 0 && least(s.high).Cmp(rat(high)) >= 0
}

func rat(l measure.Length) *big.Rat { return new(big.Rat).SetInt64(int64(l)) }

// floor and ceil make an exact height whole nanometres.
func floor(r *big.Rat) measure.Length {
	q, rest := new(big.Int).QuoRem(r.Num(), r.Denom(), new(big.Int))
	if rest.Sign() < 0 {
		q.Sub(q, big.NewInt(1))
	}
	return measure.Length(q.Int64())
}

func ceil(r *big.Rat) measure.Length { return -floor(new(big.Rat).Neg(r)) }

// extent is a height that a strip of the plane takes up without a gap.
type extent struct {
	low, high measure.Length
	atEave    bool // its lowest place is on an eave
	atRidge   bool // its highest is on a ridge
}

// extents gives the heights that the slabs take up, from below. Slabs one above
// or beside the other with no gap between their heights are one extent.
func extents(slabs []slab) []extent {
	type part struct{ low, high *big.Rat }
	var parts []part
	for _, s := range slabs {
		parts = append(parts, part{least(s.low), most(s.high)})
	}
	slices.SortFunc(parts, func(a, b part) int { return a.low.Cmp(b.low) })
	var joined []part
	for _, p := range parts {
		if n := len(joined); n > 0 && p.low.Cmp(joined[n-1].high) <= 0 {
			if p.high.Cmp(joined[n-1].high) > 0 {
				joined[n-1].high = p.high
			}
			continue
		}
		joined = append(joined, p)
	}
	out := make([]extent, len(joined))
	for i, p := range joined {
		e := extent{low: floor(p.low), high: ceil(p.high)}
		for _, s := range slabs {
			e.atEave = e.atEave || s.below == Eave && least(s.low).Cmp(p.low) == 0
			e.atRidge = e.atRidge || s.above == Ridge && most(s.high).Cmp(p.high) == 0
		}
		out[i] = e
	}
	return out
}

// chords gives what an upright line just right of x has of the plane, from
// below, as lengths up to the next nanometre.
func (o Outline) chords(x measure.Length) (out [][2]measure.Length) {
	_, to, _ := o.reach()
	next := to
	for _, c := range o {
		if c.X > x && c.X < next {
			next = c.X
		}
	}
	for _, s := range o.column(x, next) {
		if low, high := floor(s.low[0]), ceil(s.high[0]); high > low {
			out = append(out, [2]measure.Length{low, high})
		}
	}
	return out
}

// Area is a surface, exactly.
type Area struct{ nm2 *big.Rat }

func (a Area) rat() *big.Rat {
	if a.nm2 == nil {
		return new(big.Rat)
	}
	return a.nm2
}

// Add gives both together.
func (a Area) Add(b Area) Area { return Area{new(big.Rat).Add(a.rat(), b.rat())} }

// Sub gives what is left.
func (a Area) Sub(b Area) Area { return Area{new(big.Rat).Sub(a.rat(), b.rat())} }

// Times gives n of them.
func (a Area) Times(n int) Area {
	return Area{new(big.Rat).Mul(a.rat(), new(big.Rat).SetInt64(int64(n)))}
}

// Cmp compares two areas as -1, 0, 1.
func (a Area) Cmp(b Area) int { return a.rat().Cmp(b.rat()) }

var squareFoot = new(big.Rat).SetInt(square(measure.Foot))

// SquareFeet writes the area in square feet with one decimal.
func (a Area) SquareFeet() string { return new(big.Rat).Quo(a.rat(), squareFoot).FloatString(1) }

// Percent writes a share of the area in percent with one decimal; "0.0" of none.
func (a Area) Percent(of Area) string {
	if of.rat().Sign() == 0 {
		return "0.0"
	}
	r := new(big.Rat).Quo(a.rat(), of.rat())
	return r.Mul(r, big.NewRat(100, 1)).FloatString(1)
}

func rectangle(w, h measure.Length) Area { return Area{new(big.Rat).Mul(rat(w), rat(h))} }
