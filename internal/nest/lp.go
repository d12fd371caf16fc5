package nest

import (
	"math"
	"slices"
)

// column is one pattern of a covering linear program: its price and how much
// it adds to each of a few rows.
type column struct {
	price float64
	rows  []int32
	adds  []float64
	tag   int // of the caller: a bin size or a stock
}

// cover is the linear program: least sum of price x amount of columns so that
// every row gets at least its demand, solved by the revised simplex method with
// a dense inverse of the basis. Columns come in while it runs.
type cover struct {
	demand []float64
	cols   []column

	basis []int // column of each row of the inverse; -1-i is the surplus of row i
	in    []bool
	inv   [][]float64
	x     []float64 // amounts of the basis
	dual  []float64
	dir   []float64
	turns int
}

const (
	tiny      = 1e-9
	reinvert  = 200    // pivots between fresh inverses
	mostTurns = 50_000 // a stop for a program that numerical trouble keeps busy
)

// newCover starts from one column for each row that adds to that row alone.
func newCover(demand []float64, single []column) *cover {
	m := len(demand)
	l := &cover{demand: demand, cols: single, basis: make([]int, m), in: make([]bool, m),
		inv: make([][]float64, m), x: make([]float64, m), dual: make([]float64, m), dir: make([]float64, m)}
	flat := make([]float64, m*m)
	for i := range m {
		l.inv[i] = flat[i*m : (i+1)*m]
		l.inv[i][i] = 1 / single[i].adds[0]
		l.basis[i], l.in[i] = i, true
	}
	l.refresh()
	return l
}

func (l *cover) price(b int) float64 {
	if b < 0 {
		return 0
	}
	return l.cols[b].price
}

// refresh computes amounts and duals from the inverse.
func (l *cover) refresh() {
	clear(l.dual)
	for i, row := range l.inv {
		sum, price := 0.0, l.price(l.basis[i])
		for j, v := range row {
			sum += v * l.demand[j]
			l.dual[j] += price * v
		}
		l.x[i] = sum
	}
}

// add puts a column into the pool.
func (l *cover) add(c column) {
	l.cols = append(l.cols, c)
	l.in = append(l.in, false)
}

func (l *cover) worth(c column) float64 {
	v := 0.0
	for k, i := range c.rows {
		v += l.dual[i] * c.adds[k]
	}
	return v
}

// solve runs to the optimum over all columns that more can give: more adds
// columns that are worth more than their price at the present duals and reports
// whether it did. It stops early when stop says so, and reports whether it
// reached the optimum.
func (l *cover) solve(more func() bool, stop func() bool) bool {
	for ; l.turns < mostTurns; l.turns++ {
		if l.turns%32 == 31 && stop() {
			return false
		}
		enter, ok := l.entering()
		if !ok {
			if more == nil || !more() {
				return true
			}
			continue
		}
		if !l.pivot(enter) {
			return true
		}
		if l.turns%reinvert == reinvert-1 && !l.invert() {
			return false
		}
	}
	return false
}

// entering picks the column or surplus that lowers the price fastest.
func (l *cover) entering() (int, bool) {
	best, enter := -1e-7, 0
	for i, y := range l.dual {
		if y < best {
			best, enter = y, -1-i
		}
	}
	for j := range l.cols {
		if l.in[j] {
			continue
		}
		if d := l.cols[j].price - l.worth(l.cols[j]); d < best {
			best, enter = d, j
		}
	}
	return enter, best < -1e-7
}

// pivot brings a column into the basis; false when no row limits it, which a
// program with positive prices only meets through rounding.
func (l *cover) pivot(enter int) bool {
	l.turnTo(enter)
	out, step := l.leaving()
	if out < 0 {
		return false
	}
	gain := l.price(enter)
	if enter >= 0 {
		gain -= l.worth(l.cols[enter])
	} else {
		gain += l.dual[-1-enter]
	}
	lead := l.inv[out]
	scale := 1 / l.dir[out]
	for j := range lead {
		lead[j] *= scale
	}
	for i, row := range l.inv {
		d := l.dir[i]
		if i == out || d == 0 {
			continue
		}
		l.x[i] -= d * step
		for j, v := range lead {
			row[j] -= d * v
		}
	}
	l.x[out] = step
	for j, v := range lead {
		l.dual[j] += gain * v
	}
	if b := l.basis[out]; b >= 0 {
		l.in[b] = false
	}
	l.basis[out] = enter
	if enter >= 0 {
		l.in[enter] = true
	}
	return true
}

// turnTo gives how the basis changes as a column comes in: the inverse times it.
func (l *cover) turnTo(enter int) {
	if enter < 0 {
		for i, row := range l.inv {
			l.dir[i] = -row[-1-enter]
		}
		return
	}
	c := l.cols[enter]
	for i, row := range l.inv {
		v := 0.0
		for k, j := range c.rows {
			v += row[j] * c.adds[k]
		}
		l.dir[i] = v
	}
}

// leaving is the ratio test: the row that is used up first, and by what step; -1
// for none. Of rows that tie the steadiest pivot is taken.
func (l *cover) leaving() (out int, step float64) {
	out, step = -1, math.Inf(1)
	for i, d := range l.dir {
		if d <= tiny {
			continue
		}
		r := max(l.x[i], 0) / d
		if r < step-tiny || (r < step+tiny && d > l.dir[max(out, 0)]) {
			out, step = i, r
		}
	}
	return out, step
}

// invert computes the inverse afresh by elimination with row pivoting.
func (l *cover) invert() bool {
	m := len(l.basis)
	a := make([][]float64, m)
	for i := range a {
		a[i] = make([]float64, 2*m)
		a[i][m+i] = 1
	}
	for k, b := range l.basis {
		if b < 0 {
			a[-1-b][k] = -1
			continue
		}
		for n, i := range l.cols[b].rows {
			a[i][k] = l.cols[b].adds[n]
		}
	}
	for k := range m {
		p := k
		for i := k + 1; i < m; i++ {
			if math.Abs(a[i][k]) > math.Abs(a[p][k]) {
				p = i
			}
		}
		if math.Abs(a[p][k]) < tiny {
			return false
		}
		a[k], a[p] = a[p], a[k]
		s := 1 / a[k][k]
		for j := k; j < 2*m; j++ {
			a[k][j] *= s
		}
		for i := range m {
			if f := a[i][k]; i != k && f != 0 {
				for j := k; j < 2*m; j++ {
					a[i][j] -= f * a[k][j]
				}
			}
		}
	}
	for i := range m {
		copy(l.inv[i], a[i][m:])
	}
	l.refresh()
	return true
}

// amounts gives the columns in the basis with their amounts, largest fraction
// first.
func (l *cover) amounts() []amount {
	var out []amount
	for i, b := range l.basis {
		if b >= 0 && l.x[i] > 1e-6 {
			out = append(out, amount{b, l.x[i]})
		}
	}
	slices.SortFunc(out, func(a, b amount) int {
		switch fa, fb := a.of-math.Floor(a.of), b.of-math.Floor(b.of); {
		case fa > fb:
			return -1
		case fa < fb:
			return 1
		}
		return a.col - b.col
	})
	return out
}

type amount struct {
	col int
	of  float64
}
