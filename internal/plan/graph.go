package plan

// arborescence gives the weight of the cheapest tree that reaches every node
// from node 0 (Chu and Liu 1965, Edmonds 1967), by contracting cycles.
func arborescence(w square) int64 {
	var total int64
	for {
		n := w.n
		into := make([]int, n)
		for j := 1; j < n; j++ {
			into[j] = -1
			for i := range n {
				if i != j && (into[j] < 0 || w.at(i, j) < w.at(into[j], j)) {
					into[j] = i
				}
			}
			total += w.at(into[j], j)
		}
		group, count := cycles(into)
		if count == n {
			return total
		}
		next := newSquare(count)
		for i := range n {
			for j := 1; j < n; j++ {
				if group[i] != group[j] {
					next.lower(group[i], group[j], w.at(i, j)-w.at(into[j], j))
				}
			}
		}
		w = next
	}
}

// cycles numbers the nodes so that those of one cycle of the chosen arcs share
// a number and all others have their own; node 0 keeps 0.
func cycles(into []int) (group []int, count int) {
	n := len(into)
	group = make([]int, n)
	seen := make([]int, n)
	for i := range group {
		group[i], seen[i] = -1, -1
	}
	group[0], count = 0, 1
	for j := 1; j < n; j++ {
		v := j
		for v != 0 && group[v] < 0 && seen[v] != j {
			seen[v] = j
			v = into[v]
		}
		if v != 0 && group[v] < 0 { // a new cycle, found by its own walk
			for u := v; group[u] < 0; u = into[u] {
				group[u] = count
			}
			count++
		}
		for u := j; u != 0 && group[u] < 0; u = into[u] {
			group[u] = count
			count++
		}
	}
	return group, count
}

// assignment gives every node but 0 one node before it and every node at most
// one behind it, at the least weight (the Hungarian method with shortest
// augmenting paths), and what remains of each arc's weight, never negative.
func assignment(w square) (value int64, rest square) {
	n := w.n
	// Column j < n-1 is node j+1, column n-1 is "nothing follows", which is
	// free and may be taken once: n rows, n columns.
	cell := func(i, j int) int64 {
		switch {
		case j == n-1:
			return 0
		case i == j+1:
			return noArc
		}
		return w.at(i, j+1)
	}
	h := newHungarian(n, cell)
	for i := range n {
		h.augment(i)
	}
	rest = newSquare(n)
	for i := range n {
		value += h.u[i] + h.v[i]
		for j := 1; j < n; j++ {
			if i != j {
				rest.set(i, j, w.at(i, j)-h.u[i]-h.v[j-1])
			}
		}
	}
	return value, rest
}

type hungarian struct {
	n     int
	cell  func(i, j int) int64
	u, v  []int64
	owner []int // row of each column, -1 for none
}

func newHungarian(n int, cell func(i, j int) int64) *hungarian {
	h := &hungarian{n: n, cell: cell, u: make([]int64, n), v: make([]int64, n), owner: make([]int, n)}
	for j := range h.owner {
		h.owner[j] = -1
	}
	return h
}

// augment gives row i a column, moving other rows where that is cheaper.
func (h *hungarian) augment(i int) {
	least, from, done := make([]int64, h.n), make([]int, h.n), make([]bool, h.n)
	for j := range least {
		least[j], from[j] = noArc*2, -1
	}
	row, last := i, -1
	for {
		var delta int64 = noArc * 4
		next := -1
		for j := range h.n {
			if done[j] {
				continue
			}
			if d := h.cell(row, j) - h.u[row] - h.v[j]; d < least[j] {
				least[j], from[j] = d, last
			}
			if least[j] < delta {
				delta, next = least[j], j
			}
		}
		h.u[i] += delta
		for j := range h.n {
			if done[j] {
				h.u[h.owner[j]] += delta
				h.v[j] -= delta
			} else {
				least[j] -= delta
			}
		}
		done[next], last = true, next
		if h.owner[next] < 0 {
			break
		}
		row = h.owner[next]
	}
	for j := last; j >= 0; j = from[j] {
		if from[j] < 0 {
			h.owner[j] = i
		} else {
			h.owner[j] = h.owner[from[j]]
		}
	}
}
