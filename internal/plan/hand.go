package plan

import (
	"cmp"
	"slices"
	"strings"

	"ribdesk/internal/fault"
)

// dayMinutes is a calendar day on the plan's clock.
const dayMinutes = 1440

// FirstCome plans by hand in the order the lines stand in the problem.
func FirstCome(p Problem) (Plan, Objective, error) {
	return byHand(p, func(a, b *Line) int { return 0 })
}

// EarliestDue plans by hand in the order of due times.
func EarliestDue(p Problem) (Plan, Objective, error) {
	return byHand(p, func(a, b *Line) int { return cmp.Compare(a.Due, b.Due) })
}

// DueDay plans by hand by due day, and within a day by profile and colour.
func DueDay(p Problem) (Plan, Objective, error) {
	return byHand(p, func(a, b *Line) int {
		return cmp.Or(cmp.Compare(a.Due/dayMinutes, b.Due/dayMinutes), byProfile(a, b))
	})
}

// ByProfile plans by hand by profile and colour, whatever is due.
func ByProfile(p Problem) (Plan, Objective, error) { return byHand(p, byProfile) }

// byProfile sorts as a person would sort the tickets: rollers first, then coil.
func byProfile(a, b *Line) int {
	x, y := a.Setup, b.Setup
	return cmp.Or(
		strings.Compare(x.Profile, y.Profile),
		strings.Compare(x.Colour, y.Colour),
		strings.Compare(x.Material, y.Material),
		strings.Compare(x.Gauge, y.Gauge),
		strings.Compare(x.Width, y.Width),
		strings.Compare(x.Rib, y.Rib),
	)
}

// byHand goes through the sorted lines and gives each to the machine that ends
// it first. It looks at no pins beyond a pinned machine.
func byHand(p Problem, order func(a, b *Line) int) (Plan, Objective, error) {
	m, err := newModel(&p)
	if err != nil {
		return Plan{}, Objective{}, err
	}
	s := newState(m)
	lines := slices.Clone(m.open)
	slices.SortStableFunc(lines, func(a, b int32) int { return order(&p.Lines[a], &p.Lines[b]) })
	for _, l := range lines {
		at := -1
		var soonest int64
		for k := range s.tracks {
			if m.stands[k].tasks[l].run == 0 {
				continue
			}
			n := len(s.tracks[k].seq)
			var sum score
			clock := m.add(&m.stands[k], l, s.before(k, n), s.tracks[k].clock[n], &sum)
			if end := m.stands[k].cal.ended(clock); at < 0 || end < soonest {
				at, soonest = k, end
			}
		}
		if at < 0 {
			return Plan{}, Objective{}, fault.Conflictf("line %q can't be planned: %s", p.Lines[l].ID, m.misfit(l))
		}
		n := len(s.tracks[at].seq)
		s.tracks[at].seq = append(s.tracks[at].seq, l)
		s.refresh(at, n)
	}
	if s.total().over > 0 {
		return Plan{}, Objective{}, m.noRoom(s)
	}
	plan := s.plan()
	return plan, m.objective(plan), nil
}
