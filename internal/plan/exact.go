package plan

import (
	"context"
	"math/bits"
)

// Up to exactLines lines all orders are weighed by a dynamic program over the
// sets of lines done. Of all orders of a set that end with one family only
// those are kept that no other beats in both time and score: every component
// can only grow with time, so a beaten one never leads to a better plan.
const (
	exactLines  = 13
	exactLabels = 1_200_000
)

// label is one order of a set of lines on one machine.
type label struct {
	sum    score
	clock  int64
	parent int32 // index of the label it extends, -1 for none
	line   int32 // index in open of its last line, -1 for none
}

// subsets is the dynamic program of one machine.
type subsets struct {
	m      *model
	k      int
	labels []label
	bySet  [][]int32 // labels of each set
	best   []int32   // best label of each set, -1 for none
	after  []int     // by open index: the open index it must follow, -1 none, -2 never
}

// exact gives the best plan of a few lines. Done is false when the work grew
// too large or the time was up; best is nil when no plan exists at all.
func (s *search) exact(ctx context.Context) (best *state, done bool) {
	m := s.m
	if len(m.open) > exactLines {
		return nil, false
	}
	limit := worst
	if total := s.best.total(); total.over == 0 {
		limit = total
	}
	full := 1<<len(m.open) - 1
	var programs []*subsets
	for k := range m.stands {
		p := newSubsets(m, k)
		for set := 0; set <= full; set++ {
			if ctx.Err() != nil || s.work.States > exactLabels {
				return nil, false
			}
			s.work.States += len(p.bySet[set])
			p.extend(set, limit)
		}
		programs = append(programs, p)
	}
	return combine(m, programs, full), true
}

func newSubsets(m *model, k int) *subsets {
	n := len(m.open)
	p := &subsets{m: m, k: k, bySet: make([][]int32, 1<<n), best: make([]int32, 1<<n), after: make([]int, n)}
	for i := range p.best {
		p.best[i] = -1
	}
	lines := lineIndex(*m.p)
	for i, l := range m.open {
		p.after[i] = -1
		if pin := m.p.Lines[l].Pin; pin != nil && pin.After != "" {
			p.after[i] = p.mustFollow(int32(lines[pin.After]))
		}
	}
	p.labels = []label{{clock: m.stands[k].clock, parent: -1, line: -1}}
	p.bySet[0], p.best[0] = []int32{0}, 0
	return p
}

// mustFollow gives the open index of a line, -1 when it is frozen on this machine.
func (p *subsets) mustFollow(line int32) int {
	for i, l := range p.m.open {
		if l == line {
			return i
		}
	}
	for _, l := range p.m.stands[p.k].frozen {
		if l == line {
			return -1
		}
	}
	return -2
}

func (p *subsets) family(l *label) int32 {
	if l.line < 0 {
		return p.m.stands[p.k].fam
	}
	return p.m.fam[p.m.open[l.line]]
}

// extend runs one more line behind every label of a set.
func (p *subsets) extend(set int, limit score) {
	m, st := p.m, &p.m.stands[p.k]
	for i, l := range m.open {
		if set>>i&1 == 1 || st.tasks[l].run == 0 || !p.pinned(i, set) {
			continue
		}
		for _, from := range p.bySet[set] {
			have := p.labels[from]
			next := label{sum: have.sum, parent: from, line: int32(i)}
			next.clock = m.add(st, l, p.family(&have), have.clock, &next.sum)
			if next.sum.over == 0 && !m.less(limit, next.sum) {
				p.keep(set|1<<i, next)
			}
		}
	}
}

// pinned reports whether the pins let line i come behind a set.
func (p *subsets) pinned(i, set int) bool {
	pin := p.m.p.Lines[p.m.open[i]].Pin
	if pin == nil {
		return true
	}
	if pin.Position > 0 && pin.Position != bits.OnesCount(uint(set))+1 {
		return false
	}
	return p.after[i] == -1 || p.after[i] >= 0 && set>>p.after[i]&1 == 1
}

// keep adds a label to a set unless another beats it, and drops those it beats.
func (p *subsets) keep(set int, next label) {
	fam := p.family(&next)
	kept := p.bySet[set][:0]
	for _, i := range p.bySet[set] {
		other := &p.labels[i]
		if p.family(other) == fam {
			if other.clock <= next.clock && !p.m.less(next.sum, other.sum) {
				return // nothing was dropped before: it would beat this one too
			}
			if next.clock <= other.clock && !p.m.less(other.sum, next.sum) {
				continue
			}
		}
		kept = append(kept, i)
	}
	i := int32(len(p.labels))
	p.labels = append(p.labels, next)
	p.bySet[set] = append(kept, i)
	if b := p.best[set]; b < 0 || p.m.less(next.sum, p.labels[b].sum) {
		p.best[set] = i
	}
}

// combine shares the lines out among the machines at the least total.
func combine(m *model, programs []*subsets, full int) *state {
	type share struct {
		sum  score
		mine int // the set on this machine
		ok   bool
	}
	shares := make([][]share, len(programs)+1)
	shares[0] = make([]share, full+1)
	shares[0][0].ok = true
	for k, p := range programs {
		shares[k+1] = make([]share, full+1)
		for set := 0; set <= full; set++ {
			to := &shares[k+1][set]
			for mine := set; ; mine = (mine - 1) & set {
				rest := shares[k][set&^mine]
				if b := p.best[mine]; b >= 0 && rest.ok {
					if sum := rest.sum.plus(p.labels[b].sum); !to.ok || m.less(sum, to.sum) {
						*to = share{sum, mine, true}
					}
				}
				if mine == 0 {
					break
				}
			}
		}
	}
	if !shares[len(programs)][full].ok {
		return nil
	}
	out := newState(m)
	for k, set := len(programs), full; k > 0; k-- {
		mine := shares[k][set].mine
		out.set(k-1, programs[k-1].order(mine))
		set &^= mine
	}
	return out
}

// order reads the best order of a set back.
func (p *subsets) order(set int) []int32 {
	seq := make([]int32, bits.OnesCount(uint(set)))
	for i, at := p.best[set], len(seq)-1; at >= 0; at-- {
		seq[at] = p.m.open[p.labels[i].line]
		i = p.labels[i].parent
	}
	return seq
}
