package nest

// thing is what a knapsack chooses: up to count copies of a size and a value.
type thing[T int64 | float64] struct {
	size  int
	count int64
	value T
}

// mostCells limits the memory of one knapsack; beyond it, things are taken
// greedily in their order.
const mostCells = 16 << 20

// knapsack solves bounded knapsacks by dynamic programming over size, for every
// limit up to the largest at once. It keeps its memory from call to call.
type knapsack[T int64 | float64] struct {
	best   []T // best[w]: the most value in size w
	took   [][]bool
	bundle []bundle
	things []thing[T]
}

// bundle is a power of two of copies, so that bundles make up every count.
type bundle struct {
	of    int
	count int64
}

// solve fills best for all sizes up to limit and reports whether it could; it
// can't when the table would be too large. Things of no value are left out.
func (k *knapsack[T]) solve(things []thing[T], limit int) bool {
	k.things = things
	k.bundle = k.bundle[:0]
	for i, t := range things {
		if t.value <= 0 || t.size > limit {
			continue
		}
		left := min(t.count, int64(limit/t.size))
		for n := int64(1); left > 0; n *= 2 {
			n = min(n, left)
			k.bundle = append(k.bundle, bundle{i, n})
			left -= n
		}
	}
	if (limit+1)*len(k.bundle) > mostCells {
		return false
	}
	if cap(k.best) <= limit {
		k.best = make([]T, limit+1)
	}
	k.best = k.best[:limit+1]
	clear(k.best)
	for len(k.took) < len(k.bundle) {
		k.took = append(k.took, nil)
	}
	for j, b := range k.bundle {
		if cap(k.took[j]) <= limit {
			k.took[j] = make([]bool, limit+1)
		}
		row := k.took[j][:limit+1]
		clear(row)
		k.took[j] = row
		size, value := things[b.of].size*int(b.count), things[b.of].value*T(b.count)
		put(k.best, row, size, value)
	}
	return true
}

// put offers one bundle to every size, from the largest down so that it is
// taken once at most.
func put[T int64 | float64](best []T, row []bool, size int, value T) {
	if size >= len(best) {
		return
	}
	from, to := best[:len(best)-size], best[size:]
	row = row[size:]
	for w := len(from) - 1; w >= 0; w-- {
		if v := from[w] + value; v > to[w] {
			to[w], row[w] = v, true
		}
	}
}

// counts gives how many copies of each thing the best choice for size w takes,
// added to out.
func (k *knapsack[T]) counts(w int, out []int64) {
	for j := len(k.bundle) - 1; j >= 0; j-- {
		if b := k.bundle[j]; k.took[j][w] {
			out[b.of] += b.count
			w -= k.things[b.of].size * int(b.count)
		}
	}
}

// greedy takes things in their order as long as they fit.
func greedy[T int64 | float64](things []thing[T], limit int, out []int64) {
	for i, t := range things {
		n := min(t.count, int64(limit/t.size))
		if t.value > 0 && n > 0 {
			out[i] += n
			limit -= int(n) * t.size
		}
	}
}
