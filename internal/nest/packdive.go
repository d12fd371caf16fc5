package nest

import (
	"math"
	"math/big"
	"math/rand/v2"
	"slices"
)

// diver bounds and improves a packing by column generation (P. C. Gilmore and
// R. E. Gomory, Operations Research 9, 1961, and 11, 1963): the linear program
// over all patterns bounds the cost; fixing its columns one after the other and
// solving for the rest leads to good packings.
type diver struct {
	*packer
	rng    *rand.Rand
	pool   []column // patterns by index of size; tag is the bin
	sack   knapsack[float64]
	things []thing[float64]
	finish completer
}

func newDiver(k *packer, seed uint64) *diver {
	return &diver{packer: k, rng: rand.New(rand.NewPCG(seed, 0x7061636b)), finish: newCompleter(k.sizes, k.bins, max(k.step, 1))}
}

// disjoint is how many columns without a common size one pricing adds at most.
const disjoint = 4

// relaxed is the linear program of what is left to pack.
type relaxed struct {
	*cover
	at   []int // size of each row
	want []int64
}

// value is the program's value without the grains.
func (r *relaxed) value() float64 {
	sum := 0.0
	for k, i := range r.at {
		sum += r.dual[k] * float64(r.want[i])
	}
	return sum
}

// relax solves the linear program for some pieces; false when time ran out.
func (d *diver) relax(want []int64) (*relaxed, bool) {
	r := &relaxed{want: want}
	row := make([]int32, len(want))
	var demand []float64
	for i, n := range want {
		row[i] = -1
		if n > 0 {
			row[i] = int32(len(r.at))
			r.at = append(r.at, i)
			// A grain more than wanted, different for each row, keeps the simplex
			// method from standing still on ties.
			demand = append(demand, float64(n)+1e-6*(1+d.rng.Float64()))
		}
	}
	single := make([]column, len(r.at))
	for k, i := range r.at {
		single[k] = d.singleColumn(int32(k), i, want[i])
	}
	r.cover = newCover(demand, single)
	for _, c := range d.pool {
		if t, ok := translate(c, row, want); ok {
			r.add(t)
		}
	}
	ok := r.solve(func() bool { return d.generate(r) }, d.clock.out)
	return r, ok
}

// singleColumn is the cheapest pattern of one size alone.
func (d *diver) singleColumn(row int32, i int, want int64) column {
	best, low := column{}, math.Inf(1)
	for b, bin := range d.bins {
		n := min(bin.Size/d.sizes[i], want)
		if n == 0 {
			continue
		}
		if p := float64(bin.Cost) / float64(n); p < low {
			low = p
			best = column{price: float64(bin.Cost), rows: []int32{row}, adds: []float64{float64(n)}, tag: b}
		}
	}
	return best
}

// translate gives a pool's column in the rows of a smaller program; false when
// it holds more of a size than wanted.
func translate(c column, row []int32, want []int64) (column, bool) {
	for k, i := range c.rows {
		if float64(want[i]) < c.adds[k] {
			return column{}, false
		}
	}
	t := column{price: c.price, adds: c.adds, tag: c.tag, rows: make([]int32, len(c.rows))}
	for k, i := range c.rows {
		t.rows[k] = row[i]
	}
	return t, true
}

// generate adds the patterns that are worth most at the duals.
func (d *diver) generate(r *relaxed) bool {
	added := false
	d.things = d.things[:0]
	for k, i := range r.at {
		d.things = append(d.things, thing[float64]{int(d.sizes[i]), r.want[i], r.dual[k]})
	}
	counts := make([]int64, len(r.at))
	for range disjoint {
		if !d.sack.solve(d.things, int(d.widest())) {
			return false
		}
		best, most := -1, 1e-7
		for b, bin := range d.bins {
			if v := d.sack.best[bin.Size]/float64(bin.Cost) - 1; v > most {
				best, most = b, v
			}
		}
		if best < 0 {
			break
		}
		clear(counts)
		d.sack.counts(int(d.bins[best].Size), counts)
		c := column{price: float64(d.bins[best].Cost), tag: best}
		p := column{price: c.price, tag: best}
		for k, n := range counts {
			if n > 0 {
				c.rows, c.adds = append(c.rows, int32(k)), append(c.adds, float64(n))
				p.rows = append(p.rows, int32(r.at[k]))
				d.things[k].value = 0
			}
		}
		p.adds = c.adds
		r.add(c)
		d.pool = append(d.pool, p)
		added = true
	}
	return added
}

// safeBound turns the duals into a bound that no rounding can make wrong: whole
// numbers stand for them, a knapsack in whole numbers finds the pattern worth
// most for its cost, and the duals divided by that are a solution of the dual
// program.
func (d *diver) safeBound(r *relaxed) int64 {
	scale := math.Exp2(42) / d.dearest()
	var sum big.Int
	things := make([]thing[int64], len(r.at))
	for k, i := range r.at {
		y := int64(max(r.dual[k], 0) * scale)
		things[k] = thing[int64]{int(d.sizes[i]), r.want[i], y}
		sum.Add(&sum, new(big.Int).Mul(big.NewInt(y), big.NewInt(r.want[i])))
	}
	var sack knapsack[int64]
	if !sack.solve(things, int(d.widest())) {
		return 0
	}
	var least *big.Int
	for _, b := range d.bins {
		worth := sack.best[b.Size]
		if worth == 0 {
			continue
		}
		// ceil(sum x cost / worth / step) x step
		num := new(big.Int).Mul(&sum, big.NewInt(b.Cost))
		den := new(big.Int).Mul(big.NewInt(worth), big.NewInt(d.step))
		q := num.Add(num, den).Sub(num, big.NewInt(1)).Div(num, den)
		if q.Mul(q, big.NewInt(d.step)); least == nil || q.Cmp(least) < 0 {
			least = q
		}
	}
	if least == nil {
		return 0
	}
	return least.Int64()
}

// dearest is the highest cost of a bin.
func (d *diver) dearest() float64 {
	top := int64(1)
	for _, b := range d.bins {
		top = max(top, b.Cost)
	}
	return float64(top)
}

// run solves the root program, then dives until the gap is closed.
func (d *diver) run() {
	if len(d.sizes) > 2*mostRows {
		return
	}
	for _, l := range d.best {
		d.pool = append(d.pool, d.toColumn(l))
	}
	root, ok := d.relax(d.want)
	d.bound = max(d.bound, d.safeBound(root))
	if !ok {
		return
	}
	for n := 0; d.least > d.bound && d.clock.step(); n++ {
		d.plunge(n)
		if len(d.pool) > 20_000 {
			d.pool = d.pool[len(d.pool)-10_000:]
		}
	}
}

func (d *diver) toColumn(l load) column {
	c := column{price: float64(d.bins[l.bin].Cost), tag: l.bin}
	for i, n := range l.qty {
		if n > 0 {
			c.rows, c.adds = append(c.rows, int32(i)), append(c.adds, float64(n))
		}
	}
	return c
}

// plunge fixes columns until everything is packed or nothing can be gained.
// The first one follows the largest fractions, later ones stray from them.
func (d *diver) plunge(n int) {
	want := slices.Clone(d.want)
	var fixed []load
	var spent int64
	stray := 0
	if n > 0 {
		stray = 1 + n%farStray
	}
	for slices.ContainsFunc(want, func(n int64) bool { return n > 0 }) {
		r, ok := d.relax(want)
		if !ok {
			return
		}
		rest := int64(math.Ceil(r.value()*(1-1e-7)/float64(d.step)-1e-4)) * d.step
		if spent+rest >= d.least {
			return
		}
		d.offer(append(slices.Clone(fixed), d.subsetFill(want)...))
		// Later dives, which had no luck with fewer, complete more bins.
		if r.value() <= float64(min(8+n, 30))*d.dearest() && d.dearest()/float64(d.step) < 1e9 {
			found, all := d.finish.complete(want, (d.least-spent)/d.step-1)
			if found != nil {
				d.offer(append(slices.Clone(fixed), found...))
				return
			}
			if all {
				return
			}
		}
		if d.least <= d.bound || d.clock.out() {
			return
		}
		for _, l := range d.fix(r, stray) {
			took := false
			for i := range l.qty {
				l.qty[i] = min(l.qty[i], want[i])
				want[i] -= l.qty[i]
				took = took || l.qty[i] > 0
			}
			if took {
				l.bin = d.smallest(l.qty)
				spent += d.bins[l.bin].Cost
				fixed = append(fixed, l)
			}
		}
	}
	d.offer(fixed)
}

// farStray is the stray of every fourth dive, which follows no order.
const farStray = 4

// fix chooses columns to keep: all whole amounts, and one fraction, which is
// among the stray+1 largest; a far stray takes any.
func (d *diver) fix(r *relaxed, stray int) []load {
	var out []load
	amounts := r.amounts()
	toLoad := func(col int) load {
		c := r.cols[col]
		l := load{bin: c.tag, qty: make([]int64, len(d.sizes))}
		for k, row := range c.rows {
			l.qty[r.at[row]] += int64(c.adds[k])
		}
		return l
	}
	var parts []int
	for _, a := range amounts {
		whole := math.Floor(a.of + 1e-4)
		for range int(whole) {
			out = append(out, toLoad(a.col))
		}
		if a.of-whole > 1e-3 {
			parts = append(parts, a.col)
		}
	}
	if len(parts) > 0 {
		k := 0
		if stray > 0 {
			k = d.rng.IntN(min(stray+1, len(parts)))
			if stray == farStray {
				k = d.rng.IntN(len(parts))
			}
		}
		out = append(out, toLoad(parts[k]))
	}
	return out
}
