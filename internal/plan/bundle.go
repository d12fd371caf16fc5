package plan

import (
	"cmp"
	"slices"
)

// bundle builds an order by gluing lines of one setup that are due within the
// same stretch of days: such a bundle stays together on the machine that ends
// it first. Within a stretch the next bundle is one that is cheap to change to.
// It is what makes a good start with many lines, where dispatching line by line
// changes over far too often.
func bundle(m *model, s *state, days int64) {
	for k := range s.tracks {
		s.set(k, nil)
	}
	lines := slices.Clone(m.open)
	stretch := func(l int32) int64 { return max(0, m.p.Lines[l].Due-1) / (days * dayMinutes) }
	slices.SortStableFunc(lines, func(a, b int32) int {
		return cmp.Or(cmp.Compare(stretch(a), stretch(b)), cmp.Compare(m.fam[a], m.fam[b]), cmp.Compare(m.p.Lines[a].Due, m.p.Lines[b].Due))
	})
	for lo := 0; lo < len(lines); {
		hi := lo
		for hi < len(lines) && stretch(lines[hi]) == stretch(lines[lo]) {
			hi++
		}
		placeBundles(m, s, lines[lo:hi])
		lo = hi
	}
}

// placeBundles appends the bundles of one stretch, the cheapest change first.
func placeBundles(m *model, s *state, lines []int32) {
	var bundles [][]int32
	for i, l := range lines {
		if i == 0 || m.fam[l] != m.fam[lines[i-1]] {
			bundles = append(bundles, nil)
		}
		bundles[len(bundles)-1] = append(bundles[len(bundles)-1], l)
	}
	for len(bundles) > 0 {
		k, next := nextBundle(m, s, bundles)
		bundles[next] = appendBundle(m, s, k, bundles[next])
		if len(bundles[next]) == 0 {
			bundles = slices.Delete(bundles, next, next+1)
		}
	}
}

// nextBundle gives the machine that is free first and can run some of the
// bundles, and the bundle it changes over to for least.
func nextBundle(m *model, s *state, bundles [][]int32) (machine, bundle int) {
	machine = -1
	for k := range s.tracks {
		if machine >= 0 && free(s, k) >= free(s, machine) {
			continue
		}
		best, at := int64(noArc), -1
		for i := range bundles {
			if c := changeTo(m, s, k, bundles[i]); c < best {
				best, at = c, i
			}
		}
		if at >= 0 {
			machine, bundle = k, at
		}
	}
	return machine, bundle
}

// free gives the minute at which a machine is done with its order so far.
func free(s *state, k int) int64 {
	t := &s.tracks[k]
	return s.m.stands[k].cal.minute(t.clock[len(t.seq)])
}

// changeTo gives the cents of changing over to a bundle, more than any when no
// line of it may run there.
func changeTo(m *model, s *state, k int, lines []int32) int64 {
	for _, l := range lines {
		if m.stands[k].tasks[l].run > 0 {
			return m.stands[k].change(s.before(k, len(s.tracks[k].seq)), m.fam[l])
		}
	}
	return noArc
}

// appendBundle puts those lines of a bundle that may run there on machine k and
// gives the others.
func appendBundle(m *model, s *state, k int, lines []int32) (left []int32) {
	n := len(s.tracks[k].seq)
	for _, l := range lines {
		if m.stands[k].tasks[l].run > 0 {
			s.tracks[k].seq = append(s.tracks[k].seq, l)
		} else {
			left = append(left, l)
		}
	}
	s.refresh(k, n)
	return left
}
