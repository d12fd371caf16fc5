package nest

import (
	"cmp"
	"slices"
)

// mostColumns limits the strips that the proof holds.
const mostColumns = 400_000

// stripPattern is a way to cut a strip.
type stripPattern struct {
	class  int
	counts []use
	worth  int64 // in whole worth
	gain   int64 // beyond the prices of its blanks, in grains
}

// search tries all ways to put patterns together that could be worth more than
// the best sheet known. When the patterns are too many to hold, nothing more is
// proved and the bound stays.
func (f *sheetFill) search() {
	if !f.fits() {
		return
	}
	s := &sheetProof{sheetFill: f, pool: slices.Clone(f.full)}
	if !s.gather() {
		return
	}
	slices.SortStableFunc(s.patterns, func(a, b stripPattern) int {
		return cmp.Or(cmp.Compare(b.class, a.class), cmp.Compare(b.gain, a.gain))
	})
	s.tables()
	if s.try(0, f.p.Width, 0) {
		f.bound = f.worth * grain
	}
}

type sheetProof struct {
	*sheetFill
	patterns []stripPattern
	next     []int     // of each pattern, the first one of the next narrower class
	most     [][]int64 // by class and width: the most gain that strips of it and narrower ones give
	pool     []int64
	held     []int // patterns on the sheet
	gain     []int64
}

// gather lists the patterns of every class that lose no more than lies between
// the bound of the prices and the best sheet.
func (s *sheetProof) gather() bool {
	s.gain = make([]int64, len(s.blank))
	s.gains(s.price, s.gain)
	s.along.cut(s.sheetFill, s.gain, s.full)
	if !s.slit(s.p.Width) {
		return false
	}
	rest := slices.Clone(s.across.best)
	gap := rest[s.p.Width] - (s.worth+1)*grain // by these prices, even where all the blanks together are worth less
	for i, n := range s.full {
		gap += n * s.price[i]
	}
	for c, w := range s.class {
		floor := rest[s.p.Width] - rest[s.p.Width-w] - gap
		if !s.list(c, floor) {
			return false
		}
	}
	return true
}

// list finds the patterns of a class with at least floor gain. Each holds a
// blank of the class's own width: else it is a pattern of a narrower one.
func (s *sheetProof) list(class int, floor int64) bool {
	from, to := s.begin[class], s.end[class]
	own := to
	for own > from && s.blank[own-1].Width == s.class[class] {
		own--
	}
	reach := s.reach(from, to)
	counts := make([]int64, len(s.blank))
	var down func(i int, long, gain int64, has bool) bool
	down = func(i int, long, gain int64, has bool) bool {
		if i < from {
			if gain < floor || !has {
				return true
			}
			p := stripPattern{class: class, gain: gain}
			for k, n := range counts[from:to] {
				if n > 0 {
					p.counts = append(p.counts, use{from + k, n})
					p.worth += n * s.blank[from+k].Worth
				}
			}
			s.patterns = append(s.patterns, p)
			return len(s.patterns) < mostColumns && !s.clock.out()
		}
		if gain+reach[i-from][long] < floor || !has && i < own {
			return true
		}
		b := s.blank[i]
		for n := min(s.full[i], long/b.Length); n >= 0; n-- {
			counts[i] = n
			if !down(i-1, long-n*b.Length, gain+n*s.gain[i], has || i >= own && n > 0) {
				return false
			}
		}
		return true
	}
	return down(to-1, s.p.Length, 0, false)
}

// reach gives, for blanks from..i and every length, the most gain in it.
func (s *sheetProof) reach(from, to int) [][]int64 {
	out := make([][]int64, to-from)
	row := make([]int64, s.p.Length+1)
	took := make([]bool, len(row))
	for i := from; i < to; i++ {
		b := s.blank[i]
		left := min(s.full[i], s.p.Length/b.Length)
		for n := int64(1); left > 0 && s.gain[i] > 0; n *= 2 {
			n = min(n, left)
			left -= n
			put(row, took, int(n*b.Length), n*s.gain[i])
		}
		out[i-from] = slices.Clone(row)
	}
	return out
}

// tables works out what is still to be had of each width by strips of a class
// and narrower ones.
func (s *sheetProof) tables() {
	s.next = make([]int, len(s.patterns))
	for i, at := len(s.patterns)-1, len(s.patterns); i >= 0; i-- {
		if i+1 < len(s.patterns) && s.patterns[i+1].class != s.patterns[i].class {
			at = i + 1
		}
		s.next[i] = at
	}
	top := make([]int64, len(s.class)) // the best pattern's gain
	for _, p := range s.patterns {
		top[p.class] = max(top[p.class], p.gain)
	}
	row := make([]int64, s.p.Width+1)
	for c, w := range s.class {
		for x := w; x <= s.p.Width; x++ {
			row[x] = max(row[x], row[x-w]+top[c])
		}
		s.most = append(s.most, slices.Clone(row))
	}
}

// try puts patterns from the i-th on onto the sheet, in every way that can beat
// the best one: no sheet is worth more than what is on it, the prices of the pool
// and the most gain of the width that is left. It reports false when time ran out.
func (s *sheetProof) try(i int, left, worth int64) bool {
	if worth > s.worth {
		s.record(worth)
	}
	var priced int64
	for k, n := range s.pool {
		priced += n * s.price[k]
	}
	for i < len(s.patterns) {
		p := &s.patterns[i]
		if worth*grain+priced+s.most[p.class][left] < (s.worth+1)*grain {
			return true
		}
		w := s.class[p.class]
		if w > left {
			i = s.next[i]
			continue
		}
		if worth*grain+priced+p.gain+s.most[p.class][left-w] < (s.worth+1)*grain {
			i = s.next[i] // the rest of the class gains no more
			continue
		}
		if s.take(p, 1) {
			s.held = append(s.held, i)
			ok := s.clock.step() && s.try(i, left-w, worth+p.worth)
			s.held = s.held[:len(s.held)-1]
			s.take(p, -1)
			if !ok {
				return false
			}
		}
		i++
	}
	return true
}

// take puts a pattern's blanks on the sheet (or back), unless the pool lacks one.
func (s *sheetProof) take(p *stripPattern, n int64) bool {
	for _, u := range p.counts {
		if s.pool[u.item] < n*u.n {
			return false
		}
	}
	for _, u := range p.counts {
		s.pool[u.item] -= n * u.n
	}
	return true
}

func (s *sheetProof) record(worth int64) {
	s.worth, s.best = worth, nil
	for _, i := range s.held {
		p := s.patterns[i]
		strip := SheetStrip{Width: s.class[p.class], Blanks: map[int]int64{}}
		for _, u := range p.counts {
			strip.Blanks[s.index[u.item]] += u.n
		}
		s.best = append(s.best, strip)
	}
}
