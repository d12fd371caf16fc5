package desk

import (
	"context"
	"fmt"
	"strconv"
	"strings"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/plan"
	"ribdesk/internal/stock"
	"ribdesk/internal/store"
)

// RunPlan is the plan as it stands, for the sheet that shows it.
type RunPlan struct {
	Machines []stock.Machine
	Blocks   []stock.Block
	Open     map[string][]stock.Span // by machine
	Runs     []Run
	Unplaced []PlacedLine // accepted lines that are in no plan yet
	Now      time.Time
	From, To time.Time
	Zone     *time.Location
}

// Run is lines that follow each other without a changeover.
type Run struct {
	Machine       string
	Setup         plan.Setup
	Change        time.Time // when its changeover starts
	ChangeMinutes int
	Start, End    time.Time
	Lines         []PlacedLine
}

// PlacedLine is a line with its order and its place.
type PlacedLine struct {
	Line     order.Line
	OrderID  int64
	Number   string
	Customer string
	Promise  time.Time
	Place    order.Placed
	Late     bool
}

// RunPlan gives the plan for the days from one moment to another.
func (d *Desk) RunPlan(ctx context.Context, from, to time.Time) (RunPlan, error) {
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return RunPlan{}, err
	}
	out := RunPlan{Machines: s.machines, Blocks: s.blocks, Open: map[string][]stock.Span{}, Now: d.now(), From: from, To: to, Zone: s.seller.Location()}
	for _, m := range s.machines {
		out.Open[m.Code] = stock.Open(m.Week, s.blocksOf(m.Code), from, to, s.seller.Location())
	}
	out.Runs = s.runs(s.places)
	out.Unplaced = s.unplaced()
	return out, nil
}

// runs groups places into runs, by machine and sequence.
func (s *snapshot) runs(places []order.Placed) []Run {
	var out []Run
	for _, p := range places {
		l, ok := s.lines[p.LineID]
		if !ok {
			continue
		}
		setup := setupOf(l.Line)
		line := s.placedLine(l, p)
		if n := len(out); n > 0 && out[n-1].Machine == p.Machine && out[n-1].Setup == setup {
			out[n-1].Lines = append(out[n-1].Lines, line)
			out[n-1].End = p.End
			continue
		}
		out = append(out, Run{Machine: p.Machine, Setup: setup, Change: p.Change, ChangeMinutes: p.ChangeMinutes, Start: p.Start, End: p.End, Lines: []PlacedLine{line}})
	}
	return out
}

func (s *snapshot) placedLine(l plannedLine, p order.Placed) PlacedLine {
	return PlacedLine{
		Line: l.Line, OrderID: l.of.ID, Number: l.of.Number, Customer: l.of.Customer, Promise: l.of.Promise, Place: p,
		Late: !l.of.Promise.IsZero() && p.End.After(l.of.Promise),
	}
}

// unplaced gives the lines that wait for a place, oldest order first.
func (s *snapshot) unplaced() (out []PlacedLine) {
	placed := map[int64]bool{}
	for _, p := range s.places {
		placed[p.LineID] = true
	}
	for i := range s.open {
		if s.open[i].State != order.Accepted {
			continue
		}
		for _, l := range s.open[i].Lines {
			if l.Kind != order.Accessory && !placed[l.ID] {
				out = append(out, s.placedLine(plannedLine{l, &s.open[i]}, order.Placed{}))
			}
		}
	}
	return out
}

// Proposal is a plan that isn't adopted yet, with what it would change.
type Proposal struct {
	Stamp   int64 // of the moment it was made from; adopting needs the floor unchanged since
	At      time.Time
	Places  []order.Placed
	Result  plan.Result
	Problem plan.Problem
	Runs    []Run
	Moved   []Move
	Rules   []ByHand
	// ChangeMinutes of the proposal, and how many of them could at most still
	// be saved by any plan.
	ChangeMinutes int64
	Possible      int64
}

// Move is a line whose end moves, or that comes into the plan.
type Move struct {
	Number  string
	Line    order.Line
	Was, Is time.Time // Was is zero for a line that is new in the plan
	Breaks  bool      // its promise is broken now and wasn't before
}

// ByHand is what a rule of thumb would have come to on the same lines.
type ByHand struct {
	Rule    string
	Minutes int64
	Late    int // orders that miss their promise
	Cents   int64
}

// planSettings make a proposal the same each time it is worked out: bounded by
// iterations, not by the clock.
var planSettings = plan.Settings{Iterations: 4000, Seed: 1}

// ProposePlan works out the best plan found for all open lines. Nothing is
// changed. What has begun or is about to stays where it is.
func (d *Desk) ProposePlan(ctx context.Context, actor party.Actor) (Proposal, error) {
	if err := allow(actor, party.Owner, party.Counter, party.Operator); err != nil {
		return Proposal{}, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return Proposal{}, err
	}
	proposal, err := s.propose(ctx, d.now())
	if err == nil {
		d.proposed.Store(&proposal)
	}
	return proposal, err
}

// proposalHolds is how long a proposal can be adopted as it was shown; after
// that its first runs would start in the past.
const proposalHolds = 15 * time.Minute

// asProposed gives the proposal that was shown with a stamp, or works it out
// anew when it is too old or another process showed it.
func (d *Desk) asProposed(ctx context.Context, actor party.Actor, stamp int64) (Proposal, error) {
	last := d.proposed.Load()
	if last != nil && last.Stamp == stamp && d.now().Sub(last.At) < proposalHolds {
		return *last, nil
	}
	return d.ProposePlan(ctx, actor)
}

func (s *snapshot) propose(ctx context.Context, now time.Time) (Proposal, error) {
	p := s.planningAt(now, everything)
	for _, u := range s.unplaced() {
		l := s.lines[u.Line.ID]
		p.problem.Lines = append(p.problem.Lines, p.newLine(lineID(l.ID), *l.of, l.Line))
	}
	out := Proposal{Stamp: s.stamp, At: now, Problem: p.problem}
	if len(p.problem.Lines) == 0 {
		return out, nil
	}
	result, err := plan.Solve(ctx, p.problem, planSettings)
	if err != nil {
		return out, s.inPeoplesWords(err)
	}
	out.Result = result
	out.ChangeMinutes = result.Objective.Minutes
	out.Possible = max(0, result.Objective.Minutes-result.Bound.Minutes)
	out.Places = p.places(result.Plan)
	out.Runs = s.runs(out.Places)
	out.Moved = s.moved(out.Places)
	out.Rules = p.byHand()
	return out, nil
}

// inPeoplesWords puts order and profile in the place of the planner's line ids.
func (s *snapshot) inPeoplesWords(err error) error {
	if !fault.Is(err, fault.Conflict) {
		return err
	}
	f := *fault.All(err)[0]
	for id, l := range s.lines {
		quoted := fmt.Sprintf("line %q", lineID(id))
		f.Sentence = strings.ReplaceAll(f.Sentence, quoted, fmt.Sprintf("order %s, %s", l.of.Number, l.Name))
	}
	return &f
}

// places turns a plan back into places with times.
func (p *planning) places(pl plan.Plan) []order.Placed {
	before := map[int64]order.Placed{}
	for _, at := range p.s.places {
		before[at.LineID] = at
	}
	var out []order.Placed
	for _, seq := range pl.Machines {
		for i, job := range seq.Jobs {
			l := p.s.lineByPlanID(job.Line)
			at := order.Placed{
				LineID: l.ID, OrderID: l.of.ID, Machine: seq.Machine, Seq: i + 1,
				Change: p.at(job.Start), ChangeMinutes: int(job.Change.Minutes), Start: p.at(job.Start), End: p.at(job.End),
				Share: money.Cents(0, p.s.seller.Currency),
			}
			if job.Change.Minutes > 0 {
				at.Change = p.at(job.Change.Start)
			}
			if was, ok := before[l.ID]; ok {
				at.Pinned, at.BegunAt, at.Share = was.Pinned, was.BegunAt, was.Share
			}
			out = append(out, at)
		}
	}
	return out
}

// lineByPlanID is the way back from lineID.
func (s *snapshot) lineByPlanID(id string) plannedLine {
	n, err := strconv.ParseInt(id, 10, 64)
	if err != nil {
		return plannedLine{}
	}
	return s.lines[n]
}

// moved compares a plan with the one that stands.
func (s *snapshot) moved(places []order.Placed) (out []Move) {
	before := map[int64]order.Placed{}
	for _, at := range s.places {
		before[at.LineID] = at
	}
	for _, at := range places {
		l := s.lines[at.LineID]
		was, there := before[at.LineID]
		if there && was.End.Equal(at.End) && was.Machine == at.Machine {
			continue
		}
		m := Move{Number: l.of.Number, Line: l.Line, Is: at.End}
		if there {
			m.Was = was.End
		}
		promise := l.of.Promise
		m.Breaks = !promise.IsZero() && at.End.After(promise) && (!there || !was.End.After(promise))
		out = append(out, m)
	}
	return out
}

// byHand gives what the rules of thumb come to on the same lines.
func (p *planning) byHand() (out []ByHand) {
	due := map[string]int64{}
	orderOf := map[string]string{}
	for _, l := range p.problem.Lines {
		due[l.ID], orderOf[l.ID] = l.Due, l.Order
	}
	for _, rule := range []struct {
		name string
		make func(plan.Problem) (plan.Plan, plan.Objective, error)
	}{
		{"first come, first served", plan.FirstCome}, {"earliest due date", plan.EarliestDue}, {"sorted by profile", plan.ByProfile},
	} {
		pl, obj, err := rule.make(p.problem)
		if err != nil {
			continue // this rule finds no room; there is nothing to compare with
		}
		late := map[string]bool{}
		for _, seq := range pl.Machines {
			for _, job := range seq.Jobs {
				if job.End > due[job.Line] {
					late[orderOf[job.Line]] = true
				}
			}
		}
		out = append(out, ByHand{Rule: rule.name, Minutes: obj.Minutes, Late: len(late), Cents: obj.Changeover})
	}
	return out
}

// AdoptPlan makes the proposal that was shown with a stamp the plan, when
// nothing that a plan rests on changed since. Orders whose lines all have a
// place become planned.
func (d *Desk) AdoptPlan(ctx context.Context, actor party.Actor, stamp int64) (Proposal, error) {
	if err := allow(actor, party.Owner, party.Counter, party.Operator); err != nil {
		return Proposal{}, err
	}
	proposal, err := d.asProposed(ctx, actor, stamp)
	if err != nil {
		return proposal, err
	}
	return proposal, d.store.Write(ctx, func(tx *store.Tx) error {
		since, err := tx.Since(stamp)
		if err != nil {
			return err
		}
		if touchedBy(since) > nothing {
			return fault.Conflictf("something changed since this plan was worked out; look at the new one")
		}
		if err := tx.ReplacePlan(actor, proposal.Places, "planned"); err != nil {
			return err
		}
		return markPlanned(tx, actor, proposal.Places)
	})
}

// markPlanned takes the orders whose lines all have a place on to planned.
func markPlanned(tx *store.Tx, actor party.Actor, places []order.Placed) error {
	placed := map[int64]bool{}
	orders := map[int64]bool{}
	for _, p := range places {
		placed[p.LineID], orders[p.OrderID] = true, true
	}
	accepted, err := tx.Orders(store.OrderFilter{States: []order.State{order.Accepted}, Lines: true, Limit: maxOpenOrders, Oldest: true})
	if err != nil {
		return err
	}
	for _, o := range accepted {
		if !orders[o.ID] {
			continue
		}
		whole := true
		for _, l := range o.Lines {
			whole = whole && (l.Kind == order.Accessory || placed[l.ID])
		}
		if !whole {
			continue
		}
		if err := o.Apply(order.Plan); err != nil {
			return err
		}
		if _, err := tx.SaveOrder(actor, o, string(o.State)); err != nil {
			return err
		}
	}
	return nil
}

// PinLine fixes a line where it stands in the plan, or lets it go again.
func (d *Desk) PinLine(ctx context.Context, actor party.Actor, lineID int64, pinned bool) error {
	if err := allow(actor, party.Owner, party.Operator); err != nil {
		return err
	}
	return d.store.Write(ctx, func(tx *store.Tx) error {
		places, err := tx.Plan()
		if err != nil {
			return err
		}
		for _, p := range places {
			if p.LineID == lineID {
				p.Pinned = pinned
				if err := tx.SavePlace(p); err != nil {
					return err
				}
				return tx.Log(actor, map[bool]string{true: "pinned", false: "let go"}[pinned], "plan", lineID, nil)
			}
		}
		return fault.NotFoundf("this line isn't in the run plan")
	})
}

// BlockTime takes a machine's time for an own job, a service, a fault or an
// absence, or opens extra time. The plan isn't changed by it: propose a new one
// to see what moves and whose promise breaks.
func (d *Desk) BlockTime(ctx context.Context, actor party.Actor, b stock.Block) (saved stock.Block, err error) {
	if err := allow(actor, party.Owner, party.Operator); err != nil {
		return b, err
	}
	if err := b.Check(); err != nil {
		return b, err
	}
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		if _, err := store.FromShelf[stock.Machine](tx, b.Machine); err != nil {
			return err
		}
		saved, err = tx.SaveBlock(actor, b)
		return err
	})
	return saved, err
}

// FreeTime takes a block away.
func (d *Desk) FreeTime(ctx context.Context, actor party.Actor, id int64) error {
	if err := allow(actor, party.Owner, party.Operator); err != nil {
		return err
	}
	return d.store.Write(ctx, func(tx *store.Tx) error { return tx.DeleteBlock(actor, id) })
}
