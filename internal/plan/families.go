package plan

import (
	"cmp"
	"container/heap"
	"context"
	"math"
	"slices"
)

// When nothing need be late on one machine that may split its runs, lines of
// one family lose nothing by running in the order of their due times (if no
// detour makes a changeover shorter or cheaper). What is left is in which order
// to serve the families, some of them several times: a best-first search over
// how many lines of each family are done and what the machine stands in, with
// the cheapest way through the families left as its bound.
const (
	searchFamilies = 16
	searchNodes    = 400_000
)

// node is one way to have done so many lines of each family.
type node struct {
	key    uint64 // lines done of each family, in mixed radix
	clock  int64
	cents  int64
	reach  int64 // cents and what the rest costs at least
	parent int32
	last   int8 // family it stands in, an index of families
	done   int16
	dead   bool // another way is as early and as cheap
}

// familySearch is the search of one machine.
type familySearch struct {
	m        *model
	k        int
	families []int32   // 0 is the present setup
	lines    [][]int32 // of each family, by due time
	radix    []uint64
	total    int
	urgent   []urgency // all lines by due time
	table    []int64   // cheapest way through the families left
	w        square
	nodes    []node
	open     nodeHeap
	seen     map[[2]uint64][]int32
	limit    int64
}

type urgency struct {
	due    int64
	run    int64
	family int8
	index  int16
}

// newFamilySearch prepares the search of machine k, nil where it doesn't apply.
func newFamilySearch(m *model, k int, seq []int32, limit int64) *familySearch {
	st := &m.stands[k]
	f := &familySearch{m: m, k: k, families: []int32{st.fam}, lines: [][]int32{nil}, seen: map[[2]uint64][]int32{}, limit: limit, total: len(seq)}
	for _, l := range seq {
		i := slices.Index(f.families, m.fam[l])
		if i < 0 {
			i = len(f.families)
			f.families, f.lines = append(f.families, m.fam[l]), append(f.lines, nil)
		}
		f.lines[i] = append(f.lines[i], l)
	}
	n := len(f.families)
	if n > searchFamilies || len(seq) > math.MaxInt16 || !f.straight() {
		return nil
	}
	radix := uint64(1)
	for i := range f.lines {
		slices.SortFunc(f.lines[i], func(a, b int32) int { return cmp.Compare(f.due(a), f.due(b)) })
		f.radix = append(f.radix, radix)
		size := uint64(len(f.lines[i]) + 1)
		if radix > math.MaxUint64/size {
			return nil
		}
		radix *= size
		for j, l := range f.lines[i] {
			f.urgent = append(f.urgent, urgency{f.due(l), st.tasks[l].run, int8(i), int16(j)})
		}
	}
	slices.SortFunc(f.urgent, func(a, b urgency) int { return cmp.Compare(a.due, b.due) })
	f.w = newSquare(n)
	for i, a := range f.families {
		for j, b := range f.families {
			f.w.set(i, j, st.change(a, b))
		}
	}
	f.table = pathTable(f.w)
	return f
}

func (f *familySearch) due(l int32) int64 {
	st := &f.m.stands[f.k]
	return min(st.tasks[l].due, st.limit)
}

// straight reports whether no detour over a third family is shorter or cheaper.
func (f *familySearch) straight() bool {
	cents, minutes := f.m.centsOf(f.k), f.m.minutesOf(f.k)
	for _, a := range f.families {
		for _, b := range f.families {
			for _, c := range f.families {
				if cents(a, c) > cents(a, b)+cents(b, c) || minutes(a, c) > minutes(a, b)+minutes(b, c) {
					return false
				}
			}
		}
	}
	return true
}

// run gives the cheapest order in which nothing is late if it is cheaper than
// the limit, and whether the search came to its end: then nothing is cheaper
// than what it found or than the limit.
func (f *familySearch) run(ctx context.Context, work *Work) (order []int32, proven bool) {
	f.push(node{clock: f.m.stands[f.k].clock, parent: -1})
	for len(f.open.index) > 0 {
		i := heap.Pop(&f.open).(int32)
		n := f.nodes[i]
		if n.dead {
			continue
		}
		if n.reach >= f.limit {
			return nil, true
		}
		if int(n.done) == f.total {
			return f.order(i), true
		}
		work.States++
		if len(f.nodes) > searchNodes || ctx.Err() != nil {
			return nil, false
		}
		f.expand(i, n)
	}
	return nil, true
}

func (f *familySearch) count(key uint64, family int) int {
	return int(key / f.radix[family] % uint64(len(f.lines[family])+1))
}

// expand runs the next line of every family that has one left.
func (f *familySearch) expand(i int32, n node) {
	st := &f.m.stands[f.k]
	for g := range f.families {
		c := f.count(n.key, g)
		if c == len(f.lines[g]) {
			continue
		}
		l := f.lines[g][c]
		next := node{key: n.key + f.radix[g], parent: i, last: int8(g), done: n.done + 1}
		cell := int(f.families[n.last])*st.t.n + int(f.families[g])
		next.clock = n.clock + int64(st.t.minutes[cell]) + st.tasks[l].run
		next.cents = n.cents + st.t.cents[cell]
		if next.clock <= f.due(l) {
			f.push(next)
		}
	}
}

// push adds a node if it may still end on time below the limit and no other way
// to the same place is as good.
func (f *familySearch) push(n node) {
	left := 0
	for g := 1; g < len(f.families); g++ {
		if f.count(n.key, g) < len(f.lines[g]) && g != int(n.last) {
			left |= 1 << (g - 1)
		}
	}
	n.reach = n.cents + f.table[left*len(f.families)+int(n.last)]
	if n.reach >= f.limit || !f.inTime(n) {
		return
	}
	place := [2]uint64{n.key, uint64(n.last)}
	kept := f.seen[place][:0]
	for _, i := range f.seen[place] {
		o := &f.nodes[i]
		if o.clock <= n.clock && o.cents <= n.cents {
			return
		}
		if n.clock <= o.clock && n.cents <= o.cents {
			o.dead = true
			continue
		}
		kept = append(kept, i)
	}
	f.nodes = append(f.nodes, n)
	i := int32(len(f.nodes) - 1)
	f.seen[place] = append(kept, i)
	f.open.nodes = f.nodes
	heap.Push(&f.open, i)
}

// inTime reports whether the lines left could end on time without changeovers.
func (f *familySearch) inTime(n node) bool {
	clock := n.clock
	for _, u := range f.urgent {
		if int(u.index) < f.count(n.key, int(u.family)) {
			continue
		}
		if clock += u.run; clock > u.due {
			return false
		}
	}
	return true
}

func (f *familySearch) order(i int32) []int32 {
	out := make([]int32, 0, f.total)
	for ; f.nodes[i].parent >= 0; i = f.nodes[i].parent {
		n := f.nodes[i]
		out = append(out, f.lines[n.last][f.count(n.key, int(n.last))-1])
	}
	slices.Reverse(out)
	return out
}

// nodeHeap orders nodes by what they cost at least, deep ones first.
type nodeHeap struct {
	nodes []node
	index []int32
}

func (h *nodeHeap) Len() int { return len(h.index) }
func (h *nodeHeap) Less(i, j int) bool {
	a, b := &h.nodes[h.index[i]], &h.nodes[h.index[j]]
	if a.reach != b.reach {
		return a.reach < b.reach
	}
	return a.done > b.done
}
func (h *nodeHeap) Swap(i, j int) { h.index[i], h.index[j] = h.index[j], h.index[i] }
func (h *nodeHeap) Push(x any)    { h.index = append(h.index, x.(int32)) }
func (h *nodeHeap) Pop() any {
	last := len(h.index) - 1
	x := h.index[last]
	h.index = h.index[:last]
	return x
}

// proveFamilies looks on each machine for the cheapest order without lateness
// and takes it over if it is better. It gives the changeover cents that no
// punctual plan undercuts, and whether that is known.
func (s *search) proveFamilies(ctx context.Context) (cents int64, proven bool) {
	total := s.best.total()
	_, apart := s.m.apart()
	if !apart || !s.m.adds || total.late > 0 || total.over > 0 || s.m.p.Goal.Weighted {
		return 0, false
	}
	for k := range s.best.tracks {
		t := &s.best.tracks[k]
		mine := t.total().change
		f := newFamilySearch(s.m, k, t.seq, mine)
		if f == nil {
			return 0, false
		}
		order, done := f.run(ctx, &s.work)
		if !done {
			return 0, false
		}
		if order != nil {
			s.best.set(k, order)
			s.stale, s.polished = 0, false
		}
		cents += s.best.tracks[k].total().change
	}
	return cents, true
}
