package desk

import (
	"fmt"
	"time"

	"ribdesk/internal/order"
	"ribdesk/internal/stock"
)

// words says what a change of the plan is, as the page shows it and the history
// keeps it: which run, order, coil or stretch of time. It starts small and has no
// stop.
func (s *snapshot) words(c PlanChange, undoes *order.Adoption) string {
	switch {
	case c.Undo:
		return fmt.Sprintf("taken back, what %s adopted on %s: %s", undoes.By, s.moment(undoes.At), undoes.What)
	case c.Move != nil:
		return s.moveWords(*c.Move)
	case c.Block != nil:
		if i := s.blockNo(c.Block.ID); c.Block.ID != 0 && i >= 0 {
			return fmt.Sprintf("%s; it was %s", s.blockWords(*c.Block), s.spanWords(s.blocks[i].From, s.blocks[i].To))
		}
		return s.blockWords(*c.Block)
	case c.Free != 0:
		if i := s.blockNo(c.Free); i >= 0 {
			return "given back: " + s.blockWords(s.blocks[i])
		}
	case c.Rush != 0:
		return s.rushWords(c)
	case c.Drop != 0:
		if o := s.openOrder(c.Drop); o != nil {
			return fmt.Sprintf("order %s of %s cancelled: %s", o.Number, o.Customer, c.Reason)
		}
	case c.Coil != 0:
		return s.shortWords(c)
	case c.Keep:
		return "the order of the runs kept, timed anew"
	}
	return "the best plan found"
}

func (s *snapshot) rushWords(c PlanChange) string {
	o := s.openOrder(c.Rush)
	switch {
	case o == nil:
		return "an order made urgent"
	case c.By.IsZero():
		return fmt.Sprintf("order %s of %s made urgent", o.Number, o.Customer)
	}
	return fmt.Sprintf("order %s of %s made urgent, promised for %s instead of %s", o.Number, o.Customer, s.moment(c.By), s.moment(o.Promise))
}

func (s *snapshot) shortWords(c PlanChange) string {
	i := s.coilNo(c.Coil)
	switch {
	case i < 0:
		return "a coil taken out"
	case c.Left == 0:
		return fmt.Sprintf("coil %s is gone, with %s ft booked on it", s.coils[i].Tag, s.coils[i].OnHand.Feet())
	}
	return fmt.Sprintf("coil %s has %s ft left, where %s ft were booked", s.coils[i].Tag, c.Left.Feet(), s.coils[i].OnHand.Feet())
}

func (s *snapshot) moveWords(m RunMove) string {
	l, ok := s.lines[m.Line]
	if !ok {
		return "a run moved"
	}
	run := fmt.Sprintf("the run of %s, order %s, moved", l.Code, l.of.Number)
	if m.Machine != "" {
		run += " on " + s.machineName(m.Machine)
	}
	switch {
	case !m.At.IsZero():
		run += " to start " + s.moment(m.At)
	case m.Steps < 0:
		run += " earlier"
	case m.Steps > 0:
		run += " later"
	}
	return run
}

// blockWords names a stretch of a machine's time and what it is for.
func (s *snapshot) blockWords(b stock.Block) string {
	text := fmt.Sprintf("%s, %s, %s", s.machineName(b.Machine), b.Kind, s.spanWords(b.From, b.To))
	if b.Reason != "" {
		text += ": " + b.Reason
	}
	return text
}

func (s *snapshot) machineName(code string) string {
	for _, m := range s.machines {
		if m.Code == code {
			return m.Name
		}
	}
	return code
}

// moment writes a time as the plan's lists have it.
func (s *snapshot) moment(t time.Time) string {
	if t.IsZero() {
		return "no date"
	}
	return t.In(s.seller.Location()).Format("Mon Jan 2, 3:04 PM")
}

func (s *snapshot) spanWords(from, to time.Time) string {
	zone := s.seller.Location()
	if dayIn(from, zone) == dayIn(to, zone) {
		return s.moment(from) + " to " + to.In(zone).Format("3:04 PM")
	}
	return s.moment(from) + " to " + s.moment(to)
}
