package desk

import (
	"context"
	"fmt"
	"slices"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/plan"
	"ribdesk/internal/stock"
	"ribdesk/internal/store"
)

// PlanChange is what a person wants of the run plan; it is shown with all that
// follows from it before it holds. The zero change asks for the best plan.
type PlanChange struct {
	Keep   bool         // keep the order of the runs; else the best plan is looked for
	Undo   bool         // take the last adopted plan back
	Move   *RunMove     // one run elsewhere, the others in their order
	Block  *stock.Block // time to take, or to open
	Free   int64        // a block to give back
	Rush   int64        // an order that becomes urgent
	Drop   int64        // an order that is cancelled
	Reason string       // why it is cancelled
	Coil   int64        // a coil that turns out spoiled or used up
}

// RunMove is where a run goes. Buttons say Steps, a drag says Before.
type RunMove struct {
	Line    int64     // any line of the run
	Steps   int       // so many runs later; earlier when negative
	Machine string    // another machine; "" stays
	Before  int64     // a line of the run it goes in front of; 0 with Steps 0 is the end
	At      time.Time // start exactly then; zero is as early as the place allows
	Pin     bool      // hold it there, also when a better plan is looked for
}

// keeps reports whether the order of the runs is a person's, not the search's.
func (c PlanChange) keeps() bool { return c.Keep || c.Undo || c.Move != nil }

// allow refuses those who may not do what the change carries with it.
func (c PlanChange) allow(actor party.Actor) error {
	switch {
	case c.Rush != 0 || c.Drop != 0:
		return allow(actor, party.Owner, party.Counter)
	case c.Block != nil || c.Free != 0 || c.Coil != 0:
		return allow(actor, party.Owner, party.Operator)
	}
	return allow(actor, party.Owner, party.Counter, party.Operator)
}

// Words says what the change is, for the log and the history.
func (c PlanChange) Words(zone *time.Location) string {
	switch {
	case c.Undo:
		return "the plan before"
	case c.Move != nil:
		return "a run moved"
	case c.Block != nil:
		return fmt.Sprintf("%s on %s, %s to %s", c.Block.Kind, c.Block.Machine, c.Block.From.In(zone).Format("Mon Jan 2 15:04"), c.Block.To.In(zone).Format("Mon 15:04"))
	case c.Free != 0:
		return "time given back"
	case c.Rush != 0:
		return "an order made urgent"
	case c.Drop != 0:
		return "an order cancelled"
	case c.Coil != 0:
		return "a coil taken out"
	case c.Keep:
		return "the order kept, timed anew"
	}
	return "the best plan found"
}

// with gives the shop as it would be after the change, and the adoption that is
// taken back by it. The snapshot itself isn't touched.
func (d *Desk) with(ctx context.Context, s *snapshot, c PlanChange, now time.Time) (*snapshot, int64, error) {
	changed := *s
	switch {
	case c.Undo:
		last, err := d.lastAdoption(ctx)
		if err != nil {
			return nil, 0, err
		}
		if last == nil {
			return nil, 0, fault.Conflictf("there is no earlier plan to go back to")
		}
		changed.standAgain(last.Before, now)
		return &changed, last.ID, nil
	case c.Block != nil:
		return &changed, 0, changed.block(*c.Block)
	case c.Free != 0:
		n := len(s.blocks)
		changed.blocks = slices.DeleteFunc(slices.Clone(s.blocks), func(b stock.Block) bool { return b.ID == c.Free })
		if len(changed.blocks) == n {
			return nil, 0, fault.NotFoundf("this block is gone already, or over")
		}
	case c.Rush != 0:
		return &changed, 0, changed.eachOrder(c.Rush, func(o *order.Order) bool { o.Rush = true; return true })
	case c.Drop != 0:
		if c.Reason == "" {
			return nil, 0, fault.Invalidf("reason", "say why")
		}
		return &changed, 0, changed.eachOrder(c.Drop, func(*order.Order) bool { return false })
	case c.Coil != 0:
		return &changed, 0, changed.without(c.Coil)
	}
	return &changed, 0, nil
}

func (d *Desk) lastAdoption(ctx context.Context) (last *order.Adoption, err error) {
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		last, err = tx.LastAdoption()
		return err
	})
	return last, err
}

// block takes time, or changes how much is taken.
func (s *snapshot) block(b stock.Block) error {
	if err := b.Check(); err != nil {
		return err
	}
	if !slices.ContainsFunc(s.machines, func(m stock.Machine) bool { return m.Code == b.Machine }) {
		return fault.Invalidf("machine", "choose one of the machines")
	}
	s.blocks = slices.DeleteFunc(slices.Clone(s.blocks), func(old stock.Block) bool { return b.ID != 0 && old.ID == b.ID })
	s.blocks = append(s.blocks, b)
	return nil
}

// eachOrder changes one open order, or takes it out when keep says no.
func (s *snapshot) eachOrder(id int64, keep func(*order.Order) bool) error {
	open := slices.Clone(s.open)
	i := slices.IndexFunc(open, func(o order.Order) bool { return o.ID == id })
	if i < 0 {
		return fault.NotFoundf("this order isn't waiting for the machines")
	}
	if !keep(&open[i]) {
		open = slices.Delete(open, i, i+1)
	}
	s.open, s.lines = open, map[int64]plannedLine{}
	for i := range open {
		for _, l := range open[i].Lines {
			s.lines[l.ID] = plannedLine{l, &open[i]}
		}
	}
	s.places = slices.DeleteFunc(slices.Clone(s.places), func(p order.Placed) bool { return s.lines[p.LineID].of == nil })
	return nil
}

// without takes a coil off the racks, and what is promised of it.
func (s *snapshot) without(coil int64) error {
	n := len(s.coils)
	s.coils = slices.DeleteFunc(slices.Clone(s.coils), func(c stock.Coil) bool { return c.ID == coil })
	if len(s.coils) == n {
		return fault.NotFoundf("there is no such coil on hand")
	}
	promises := map[int64][]order.Reservation{}
	for line, list := range s.promises {
		promises[line] = slices.DeleteFunc(slices.Clone(list), func(r order.Reservation) bool { return r.CoilID == coil })
	}
	s.promises = promises
	return nil
}

// standAgain puts lines where they stood, as far as they are still to be made;
// the rest waits for a place again. What has begun stays in front.
func (s *snapshot) standAgain(stood []order.Stood, now time.Time) {
	present := map[int64]order.Placed{}
	for _, p := range s.places {
		present[p.LineID] = p
	}
	var places []order.Placed
	for i, at := range stood {
		l, open := s.lines[at.LineID]
		if !open {
			continue
		}
		p, ok := present[at.LineID]
		if !ok {
			past := now.Add(-time.Minute)
			p = order.Placed{LineID: l.ID, OrderID: l.of.ID, Change: past, Start: past, End: past}
		}
		if p.BegunAt.IsZero() {
			p.Machine, p.Pinned, p.Seq = at.Machine, at.Pinned && ok && p.Pinned, i
		}
		places = append(places, p)
		delete(present, at.LineID)
	}
	for _, p := range s.places {
		if _, left := present[p.LineID]; left && !p.BegunAt.IsZero() {
			places = append(places, p)
		}
	}
	s.places = places
}

// apply moves a run in the present order. What is frozen stays.
func (m *RunMove) apply(p *planning) (plan.Plan, error) {
	from, at, n := p.findRun(lineID(m.Line))
	if n == 0 {
		return plan.Plan{}, fault.Conflictf("this run isn't in the plan any more, or it is too close to be moved")
	}
	moved := plan.Plan{}
	for _, seq := range p.present.Machines {
		moved.Machines = append(moved.Machines, plan.Sequence{Machine: seq.Machine, Jobs: slices.Clone(seq.Jobs)})
	}
	run := slices.Clone(moved.Machines[from].Jobs[at : at+n])
	to, place, err := m.target(p, from, at, n)
	if err != nil {
		return moved, err
	}
	moved.Machines[from].Jobs = slices.Delete(moved.Machines[from].Jobs, at, at+n)
	if to == from && place > at {
		place -= n
	}
	moved.Machines[to].Jobs = slices.Insert(moved.Machines[to].Jobs, place, run...)
	return moved, m.unpin(p, run, p.present.Machines[to].Machine)
}

// findRun gives the machine, first place and length of the run that a line is
// part of, without what is frozen of it.
func (p *planning) findRun(line string) (machine, at, n int) {
	for k, seq := range p.present.Machines {
		head := len(p.problem.Machines[k].Frozen)
		i := slices.IndexFunc(seq.Jobs, func(j plan.Job) bool { return j.Line == line })
		if i < 0 || i < head {
			continue
		}
		first, last := i, i+1
		for first > head && p.sameRun(seq.Jobs[first-1], seq.Jobs[i]) {
			first--
		}
		for last < len(seq.Jobs) && p.sameRun(seq.Jobs[last], seq.Jobs[i]) {
			last++
		}
		return k, first, last - first
	}
	return 0, 0, 0
}

func (p *planning) sameRun(a, b plan.Job) bool {
	return setupOf(p.s.lineByPlanID(a.Line).Line) == setupOf(p.s.lineByPlanID(b.Line).Line)
}

// target gives the machine and the place there, counted with the run still where
// it is.
func (m *RunMove) target(p *planning, from, at, n int) (to, place int, err error) {
	to = from
	if m.Machine != "" {
		to = slices.IndexFunc(p.present.Machines, func(s plan.Sequence) bool { return s.Machine == m.Machine })
		if to < 0 {
			return 0, 0, fault.Invalidf("machine", "choose one of the machines")
		}
	}
	jobs, head := p.present.Machines[to].Jobs, len(p.problem.Machines[to].Frozen)
	switch {
	case m.Before != 0:
		k, first, found := p.findRun(lineID(m.Before))
		if found == 0 || k != to {
			return 0, 0, fault.Conflictf("the place it should go to is gone; look at the plan again")
		}
		return to, first, nil
	case m.Steps < 0 && to == from:
		if at <= head {
			return 0, 0, fault.Conflictf("nothing that can be moved stands in front of this run")
		}
		_, first, _ := p.findRun(jobs[at-1].Line)
		return to, first, nil
	case m.Steps > 0 && to == from:
		if at+n >= len(jobs) {
			return 0, 0, fault.Conflictf("this run is the last on its machine")
		}
		_, first, after := p.findRun(jobs[at+n].Line)
		return to, first + after, nil
	case !m.At.IsZero():
		return to, placeAt(p, jobs, head, m.At), nil
	case m.Pin && to == from:
		return to, at, nil // it only is held where it stands
	}
	return to, len(jobs), nil
}

// placeAt is the place in front of the first run that starts later.
func placeAt(p *planning, jobs []plan.Job, head int, t time.Time) int {
	for i := head; i < len(jobs); i++ {
		if jobs[i].Start >= p.minute(t) && (i == head || !p.sameRun(jobs[i-1], jobs[i])) {
			return i
		}
	}
	return len(jobs)
}

// unpin lets go of the moved lines, sees that their new machine makes them, and
// holds the first at the time that was asked for.
func (m *RunMove) unpin(p *planning, run []plan.Job, machine string) error {
	for k, job := range run {
		i := slices.IndexFunc(p.problem.Lines, func(l plan.Line) bool { return l.ID == job.Line })
		l := &p.problem.Lines[i]
		if _, makes := l.Minutes[machine]; !makes {
			of := p.s.lineByPlanID(job.Line)
			return fault.Conflictf("%s can't make %s of order %s", machine, of.Name, of.of.Number)
		}
		l.Pin = nil
		p.moved = append(p.moved, p.s.lineByPlanID(job.Line).ID)
		if k > 0 || m.At.IsZero() {
			continue
		}
		at := p.minute(m.At)
		if at < p.now {
			return fault.Invalidf("at", "this time is past")
		}
		l.Pin = &plan.Pin{Machine: machine, NotBefore: at, StartBy: &at}
	}
	return nil
}

// hold pins the moved lines where they come to stand, or lets them go.
func (m *RunMove) hold(lines []int64, places []order.Placed) {
	for i := range places {
		if slices.Contains(lines, places[i].LineID) {
			places[i].Pinned = m.Pin || !m.At.IsZero()
		}
	}
}

// carryOut does what a change carries with it beside the plan.
func (d *Desk) carryOut(tx *store.Tx, actor party.Actor, c PlanChange) error {
	switch {
	case c.Block != nil:
		_, err := tx.SaveBlock(actor, *c.Block)
		return err
	case c.Free != 0:
		return tx.DeleteBlock(actor, c.Free)
	case c.Rush != 0:
		o, err := tx.Order(c.Rush)
		if err != nil {
			return err
		}
		o.Rush = true
		_, err = tx.SaveOrder(actor, o, "made urgent")
		return err
	case c.Drop != 0:
		o, err := tx.Order(c.Drop)
		if err != nil {
			return err
		}
		if err := o.Apply(order.Cancel); err != nil {
			return err
		}
		if err := giveUp(tx, actor, &o, c.Reason); err != nil {
			return err
		}
		_, err = tx.SaveOrder(actor, o, string(o.State))
		return err
	case c.Coil != 0:
		return endCoil(tx, actor, c.Coil)
	}
	return nil
}
