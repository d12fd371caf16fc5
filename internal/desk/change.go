package desk

import (
	"context"
	"slices"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/plan"
	"ribdesk/internal/stock"
	"ribdesk/internal/store"
)

// PlanChange is what a person wants of the run plan; it is shown with all that
// follows from it before it holds. The zero change asks for the best plan.
type PlanChange struct {
	Keep   bool           // keep the order of the runs; else the best plan is looked for
	Undo   bool           // take the last adopted plan back
	Move   *RunMove       // one run elsewhere, the others in their order
	Block  *stock.Block   // time to take, or to open
	Free   int64          // a block to give back
	Rush   int64          // an order that becomes urgent
	By     time.Time      // what it is promised for then, earlier than before; zero leaves the promise
	Drop   int64          // an order that is cancelled
	Reason string         // why it is cancelled
	Coil   int64          // a coil that turns out short
	Left   measure.Length // what is left on it; 0 when it is spoiled or used up
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

// with gives the shop as it would be after the change, the adoption that is
// taken back by it, and what else happens with it, in words. The snapshot itself
// isn't touched.
func (d *Desk) with(ctx context.Context, actor party.Actor, s *snapshot, c PlanChange, now time.Time) (changed *snapshot, undoes *order.Adoption, also []string, err error) {
	shop := *s
	changed = &shop
	switch {
	case c.Undo:
		if undoes, err = d.lastAdoption(ctx); err != nil {
			return nil, nil, nil, err
		}
		if undoes == nil {
			return nil, nil, nil, fault.Conflictf("there is no earlier plan to go back to")
		}
		if err := mayTakeBack(actor, undoes.Event); err != nil {
			return nil, nil, nil, err
		}
		also = changed.takeBack(undoes.Event, now)
		changed.standAgain(undoes.Before, now)
	case c.Block != nil:
		err = changed.block(*c.Block)
	case c.Free != 0:
		err = changed.free(c.Free)
	case c.Rush != 0:
		also, err = changed.urgent(c.Rush, c.By, now)
	case c.Drop != 0:
		if also, err = changed.drop(c.Drop, c.Reason); err != nil {
			return nil, nil, nil, err
		}
		shared, err := d.leaves(ctx, c.Drop)
		return changed, nil, append(also, shared...), err
	case c.Coil != 0:
		also, err = changed.short(c.Coil, c.Left)
	}
	return changed, undoes, also, err
}

func (d *Desk) lastAdoption(ctx context.Context) (last *order.Adoption, err error) {
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		last, err = tx.LastAdoption()
		return err
	})
	return last, err
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
			p = at.Again(p)
			p.Seq = i
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
