package desk

import (
	"slices"
	"time"

	"ribdesk/internal/order"
)

// Move is a line whose end moves, or that comes into the plan.
type Move struct {
	OrderID  int64
	Number   string
	Customer string
	Line     order.Line
	Colour   string // by name
	Machine  string // by name
	Promise  time.Time
	Was, Is  time.Time // Was is zero for a line that is new in the plan, Is for one that leaves it
	Breaks   bool      // its promise is broken now and wasn't before
	Keeps    bool      // its promise was broken and is kept now
}

// Promise is an order's promise beside what a plan makes of it.
type Promise struct {
	OrderID  int64
	Number   string
	Customer string
	Phone    string
	Was      time.Time // promised in the plan as it stands; differs from To only for an order made urgent
	To       time.Time
	Ready    time.Time // by the plan looked at
	Coil     time.Time // its metal comes then; zero when all of it is here
	Breaks   bool      // it is missed by this plan, and kept by the one that stands
	Later    bool      // it is missed by both, and by this one more
	Keeps    bool      // it is missed by the one that stands, and kept by this
}

// Late is by how much the promise is missed.
func (p Promise) Late() time.Duration { return max(0, p.Ready.Sub(p.To)) }

// Breaks counts the orders whose promise the proposal breaks.
func (p Proposal) Breaks() (n int) {
	for _, s := range p.Slips {
		if s.Breaks {
			n++
		}
	}
	return n
}

// littleMove is what nobody needs to be told of.
const littleMove = 15 * time.Minute

// moved compares places of a changed shop with those that stand.
func (s *snapshot) moved(changed *snapshot, places []order.Placed) (out []Move, shifted int) {
	before := map[int64]order.Placed{}
	for _, at := range s.places {
		before[at.LineID] = at
	}
	stays := map[int64]bool{}
	for _, at := range places {
		stays[at.LineID] = true
		was, stood := before[at.LineID]
		m := changed.move(at)
		m.Is = at.End
		lateBefore := stood && s.late(*s.lines[at.LineID].of, was.End)
		lateNow := changed.late(*changed.lines[at.LineID].of, at.End)
		m.Breaks = lateNow && !lateBefore
		if stood {
			m.Was = was.End
			m.Keeps = lateBefore && !lateNow
			if was.Machine == at.Machine && !m.Breaks && !m.Keeps && at.End.Sub(was.End).Abs() < littleMove {
				if !at.End.Equal(was.End) {
					shifted++
				}
				continue
			}
		}
		out = append(out, m)
	}
	for _, at := range s.places {
		if _, ok := s.lines[at.LineID]; ok && !stays[at.LineID] {
			m := s.move(at)
			m.Was = at.End
			out = append(out, m)
		}
	}
	return out, shifted
}

func (s *snapshot) move(at order.Placed) Move {
	l := s.lines[at.LineID]
	m := Move{OrderID: l.of.ID, Number: l.of.Number, Customer: l.of.Customer, Line: l.Line, Colour: l.Colour, Machine: s.machineName(at.Machine), Promise: l.of.Promise}
	if c, ok := s.colours[l.Colour]; ok {
		m.Colour = c.Name
	}
	return m
}

// slips compares what two plans make of the promises: those that the second
// breaks first, by how much it misses them.
func (s *snapshot) slips(changed *snapshot, before, after []order.Placed, now time.Time) (out []Promise) {
	was, is := s.lastCuts(before), changed.lastCuts(after)
	for i := range changed.open {
		o := &changed.open[i]
		end, planned := is[o.ID]
		if !planned || o.Promise.IsZero() {
			continue
		}
		p := Promise{OrderID: o.ID, Number: o.Number, Customer: o.Customer, Phone: o.Contact.Phone, Was: o.Promise, To: o.Promise, Ready: changed.ready(end, *o)}
		late, lateBefore, more := changed.late(*o, end), false, false
		if old := s.openOrder(o.ID); old != nil {
			p.Was = old.Promise
			if stood, ok := was[o.ID]; ok {
				lateBefore = s.late(*old, stood)
				more = end.Sub(stood) >= littleMove
			}
		}
		p.Breaks, p.Later, p.Keeps = late && !lateBefore, late && lateBefore && more, lateBefore && !late
		if p.Breaks || p.Later || p.Keeps {
			p.Coil = changed.metalOf(o, now)
			out = append(out, p)
		}
	}
	slices.SortStableFunc(out, func(a, b Promise) int {
		if r := rank(!a.Breaks, !b.Breaks); r != 0 {
			return r
		}
		return int(b.Late()/time.Minute - a.Late()/time.Minute)
	})
	return out
}

// metalOf gives when the last metal that an order waits for comes; zero when it
// waits for none.
func (s *snapshot) metalOf(o *order.Order, now time.Time) (comes time.Time) {
	for _, l := range o.Lines {
		if l.Kind == order.Accessory {
			continue
		}
		if from := s.coilFrom(*o, l, now); from.After(now) && from.After(comes) {
			comes = from
		}
	}
	return comes
}

// lastCuts gives when the last line of each order ends.
func (s *snapshot) lastCuts(places []order.Placed) map[int64]time.Time {
	ends := map[int64]time.Time{}
	for _, at := range places {
		if l, ok := s.lines[at.LineID]; ok && at.End.After(ends[l.of.ID]) {
			ends[l.of.ID] = at.End
		}
	}
	return ends
}
