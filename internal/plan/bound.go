package plan

import (
	"math"
	"math/bits"
	"slices"
)

// bounds gives what no plan can be better than, from the problem alone.
func (m *model) bounds() Bound {
	b := Bound{}
	for _, l := range m.open {
		end := m.soonest(l)
		line := &m.p.Lines[l]
		b.Late += line.LateCents * max(0, end-line.Due)
		b.Ends += end
	}
	if len(m.stands) == 1 {
		late, ends := m.shortestFirst()
		b.Late, b.Ends = max(b.Late, late), max(b.Ends, ends)
	}
	b.Changeover, b.Minutes = m.changeovers()
	b.Late += m.fixed.late
	b.Ends += m.fixed.ends
	b.Changeover += m.fixed.change
	for k := range m.stands {
		fam := m.p.Machines[k].Initial
		for _, l := range m.stands[k].frozen {
			minutes, _ := changeover(m.p.Rules[m.p.Machines[k].Rule], fam, m.p.Lines[l].Setup)
			b.Minutes += minutes
			fam = m.p.Lines[l].Setup
		}
	}
	return b
}

// soonest gives the minute at which a line can end at best.
func (m *model) soonest(l int32) int64 {
	var best int64 = math.MaxInt64
	for k := range m.stands {
		if st := &m.stands[k]; st.tasks[l].run > 0 {
			_, end := st.step(&st.tasks[l], st.clock, m.leastInto(k, l))
			best = min(best, st.cal.ended(end))
		}
	}
	return best
}

// shortestFirst bounds one machine's lateness and ends. The i-th line to end
// can't end before the i shortest runs are done. Each line's late cost is at
// least that of the cheapest rate, and matching ends to due times in order is
// best for equal rates.
func (m *model) shortestFirst() (late, ends int64) {
	st := &m.stands[0]
	cal := newCalendar(m.p.Machines[0].Windows, true)
	var runs, dues []int64
	rate := int64(math.MaxInt64)
	for _, l := range m.open {
		runs = append(runs, st.tasks[l].run)
		dues = append(dues, m.p.Lines[l].Due)
		rate = min(rate, m.p.Lines[l].LateCents)
	}
	slices.Sort(runs)
	slices.Sort(dues)
	clock := cal.clock(st.cal.minute(st.clock))
	for i, run := range runs {
		clock += run
		end := cal.ended(clock)
		ends += end
		late += rate * max(0, end-dues[i])
	}
	return late, ends
}

// changeovers bounds the cents and the minutes of all changeovers to come.
func (m *model) changeovers() (cents, minutes int64) {
	groups, apart := m.apart()
	if !apart {
		return m.tree(m.centsOf), m.tree(m.minutesOf)
	}
	for k, families := range groups {
		start := m.stands[k].fam
		cents += pathBound(newPath(start, families, m.centsOf(k)))
		minutes += pathBound(newPath(start, families, m.minutesOf(k)))
	}
	return cents, minutes
}

func (m *model) centsOf(k int) func(a, b int32) int64 { return m.stands[k].change }

func (m *model) minutesOf(k int) func(a, b int32) int64 {
	t := m.stands[k].t
	return func(a, b int32) int64 { return int64(t.minutes[int(a)*t.n+int(b)]) }
}

// apart gives each machine's families when no line has a choice of machine.
func (m *model) apart() (groups [][]int32, ok bool) {
	groups = make([][]int32, len(m.stands))
	for _, l := range m.open {
		at := -1
		for k := range m.stands {
			if m.stands[k].tasks[l].run == 0 {
				continue
			}
			if at >= 0 {
				return nil, false
			}
			at = k
		}
		if at >= 0 && !slices.Contains(groups[at], m.fam[l]) {
			groups[at] = append(groups[at], m.fam[l])
		}
	}
	return groups, true
}

// tree bounds the changeovers of several machines that share their lines: every
// family must be reached from some machine's present setup, so no plan costs
// less than the cheapest tree that does so.
func (m *model) tree(on func(k int) func(a, b int32) int64) int64 {
	nodes := []int32{}
	for _, l := range m.open {
		if !slices.Contains(nodes, m.fam[l]) {
			nodes = append(nodes, m.fam[l])
		}
	}
	n := len(nodes) + 1
	w := newSquare(n)
	for k := range m.stands {
		d := on(k)
		for j, to := range nodes {
			if !m.runs(k, to) {
				continue
			}
			w.lower(0, j+1, d(m.stands[k].fam, to))
			for i, from := range nodes {
				if i != j {
					w.lower(i+1, j+1, d(from, to))
				}
			}
		}
	}
	return arborescence(w)
}

// runs reports whether some open line of a family may run on machine k.
func (m *model) runs(k int, family int32) bool {
	return slices.ContainsFunc(m.open, func(l int32) bool { return m.fam[l] == family && m.stands[k].tasks[l].run > 0 })
}

// newPath gives the cheapest changeovers between one machine's families, by
// way of others where that is cheaper. Node 0 is the present setup; if that is
// one of the families, reaching it is free.
func newPath(start int32, families []int32, d func(a, b int32) int64) square {
	nodes := []int32{start}
	for _, f := range families {
		if f != start {
			nodes = append(nodes, f)
		}
	}
	w := newSquare(len(nodes))
	for i, a := range nodes {
		for j, b := range nodes {
			w.set(i, j, d(a, b))
		}
	}
	if len(nodes) > closureNodes {
		w.shrink()
		return w
	}
	for k := range nodes {
		for i := range nodes {
			for j := range nodes {
				w.lower(i, j, w.at(i, k)+w.at(k, j))
			}
		}
	}
	return w
}

// Sizes up to which the bounds use their dearer methods.
const (
	closureNodes = 200
	tableNodes   = 14
)

// pathBound bounds the cheapest way from node 0 through all others: exactly for
// a few nodes, else by an assignment and a tree over what that leaves.
func pathBound(w square) int64 {
	switch {
	case w.n == 1:
		return 0
	case w.n <= tableNodes:
		table := pathTable(w)
		return table[len(table)-w.n]
	case w.n > closureNodes:
		return arborescence(w)
	}
	value, rest := assignment(w)
	return value + arborescence(rest)
}

// pathTable gives, for each set of the nodes 1.. still to come and each node
// the machine stands in, the cheapest way through all of them (Held and Karp
// 1962): entry set*n + node.
func pathTable(w square) []int64 {
	n := w.n
	table := make([]int64, (1<<(n-1))*n)
	for set := 1; set < 1<<(n-1); set++ {
		for from := range n {
			best := int64(math.MaxInt64)
			for rest := set; rest != 0; rest &= rest - 1 {
				to := bits.TrailingZeros(uint(rest)) + 1
				best = min(best, w.at(from, to)+table[(set&^(1<<(to-1)))*n+to])
			}
			table[set*n+from] = best
		}
	}
	return table
}

// square is a matrix of arc weights.
type square struct {
	n int
	w []int64
}

const noArc = math.MaxInt64 / 8

func newSquare(n int) square {
	s := square{n, make([]int64, n*n)}
	for i := range s.w {
		s.w[i] = noArc
	}
	return s
}

func (s square) at(i, j int) int64       { return s.w[i*s.n+j] }
func (s square) set(i, j int, x int64)   { s.w[i*s.n+j] = x }
func (s square) lower(i, j int, x int64) { s.w[i*s.n+j] = min(s.w[i*s.n+j], x) }

// shrink replaces every arc by the cheapest into its target, which no detour
// can undercut.
func (s square) shrink() {
	for j := range s.n {
		least := int64(noArc)
		for i := range s.n {
			if i != j {
				least = min(least, s.at(i, j))
			}
		}
		for i := range s.n {
			s.set(i, j, least)
		}
	}
}
