package desk

import (
	"context"
	"errors"
	"fmt"
	"slices"
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

// Proposal is a plan that isn't adopted yet, with what it would change.
type Proposal struct {
	Stamp   int64 // of the moment it was made from; adopting needs the floor unchanged since
	At      time.Time
	Change  PlanChange
	What    string   // the change in words
	Also    []string // what else happens with it, each a sentence
	Places  []order.Placed
	Result  plan.Result // of the search; in a kept order only its plan and objective are set
	Problem plan.Problem
	Runs    []Run
	Blocks  []stock.Block           // time taken and opened, with the change
	Open    map[string][]stock.Span // by machine, for two weeks from today
	Moved   []Move
	Shifted int       // lines that move by less than a quarter of an hour, and break nothing
	Slips   []Promise // promises that it breaks, keeps again, or misses by more
	Rules   []ByHand
	Before  Figures // the plan as it stands, from now on
	After   Figures
	// ChangeMinutes of the proposal, and how many of them could at most still be
	// saved by a plan as punctual; -1 when that isn't known.
	ChangeMinutes int64
	Possible      int64
	Zone          *time.Location

	undoes *order.Adoption // what is taken back by it
}

// Figures are what a plan comes to.
type Figures struct {
	Known   bool
	Minutes int64 // of changeover
	Worth   money.Amount
	Late    int // orders that miss their promise
	Lines   int
}

// ByHand is what a rule of thumb would have come to on the same lines.
type ByHand struct {
	Rule    string
	Minutes int64
	Late    int // orders that miss their promise
	Cents   int64
	Worth   money.Amount
}

// planIterations bound a search by its size, and not by the clock: the same
// lines give the same plan each time. Up to 30 lines that is thousands of kicks,
// as many as prove or find the best. A kick takes about the square of the lines,
// so large plans get fewer: 200 lines are worked out in a second or two.
func planIterations(lines int) int {
	return max(60, min(4000, 2_400_000/max(1, lines*lines)))
}

// propose works a change out as of a moment; best finds the plan where no order is
// kept.
func (s *snapshot) propose(ctx context.Context, c PlanChange, now time.Time, best solver) (Proposal, error) {
	p := s.planningAt(now, everything)
	out := Proposal{Stamp: s.stamp, At: now, Change: c, Zone: s.seller.Location(), Possible: -1}
	if !c.keeps() {
		for _, u := range s.unplaced() {
			l := s.lines[u.Line.ID]
			p.problem.Lines = append(p.problem.Lines, p.newLine(lineID(l.ID), *l.of, l.Line))
		}
	}
	out.Problem = p.problem
	if len(p.problem.Lines) == 0 {
		out.Possible = 0
		return out, nil
	}
	result, err := p.solve(ctx, c, best)
	if errors.Is(err, errOther) {
		return out, err
	}
	if err != nil {
		return out, s.inPeoplesWords(err)
	}
	out.Result = result
	out.ChangeMinutes = result.Objective.Minutes
	if result.Status != "" {
		out.Possible = max(0, result.Objective.Minutes-result.Bound.Minutes)
		if result.Bound.Proven >= 2 { // the bound on minutes alone is of plans that are late, too
			out.Possible = 0
		}
	}
	out.Rules = p.byHand()
	out.After = s.figures(p, result.Plan, result.Objective)
	if out.Places, err = p.places(result.Plan); err != nil {
		return out, err
	}
	if c.Move != nil {
		c.Move.hold(p.moved, out.Places)
	}
	out.Runs = s.dressed(s.runs(out.Places))
	out.Blocks, out.Open = s.blocks, map[string][]stock.Span{}
	today := s.midnight(now, 0)
	for _, m := range s.machines {
		out.Open[m.Code] = stock.Open(m.Week, s.blocksOf(m.Code), today, today.AddDate(0, 0, 14), s.seller.Location())
	}
	return out, nil
}

// solve looks for the best plan, or times the order that is kept.
func (p *planning) solve(ctx context.Context, c PlanChange, best solver) (plan.Result, error) {
	if !c.keeps() {
		return best(ctx, p.problem)
	}
	kept := p.present
	if c.Move != nil {
		var err error
		if kept, err = c.Move.apply(p); err != nil {
			return plan.Result{}, err
		}
	}
	timed, objective, err := plan.Schedule(p.problem, kept)
	if err != nil {
		return plan.Result{}, err
	}
	return plan.Result{Plan: timed, Objective: objective}, nil
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

// figures says what a plan comes to.
func (s *snapshot) figures(p *planning, pl plan.Plan, o plan.Objective) Figures {
	return Figures{Known: true, Minutes: o.Minutes, Worth: money.Cents(o.Changeover, s.seller.Currency), Late: p.lateOrders(pl), Lines: len(p.problem.Lines)}
}

// lateOrders counts the orders that miss their promise in a plan.
func (p *planning) lateOrders(pl plan.Plan) int {
	late := map[int64]bool{}
	for _, seq := range pl.Machines {
		for _, job := range seq.Jobs {
			l := p.s.lineByPlanID(job.Line)
			late[l.of.ID] = late[l.of.ID] || p.s.late(*l.of, p.at(job.End))
		}
	}
	n := 0
	for _, is := range late {
		if is {
			n++
		}
	}
	return n
}

// places turns a plan back into places with times, each with its order's part of
// the changeovers and what it saves.
func (p *planning) places(pl plan.Plan) ([]order.Placed, error) {
	before := map[int64]order.Placed{}
	for _, at := range p.s.places {
		before[at.LineID] = at
	}
	first := p.firstCome()
	frozen := map[string]bool{}
	for _, m := range p.problem.Machines {
		for _, job := range m.Frozen {
			frozen[job.Line] = true
		}
	}
	none := money.Cents(0, p.s.seller.Currency)
	var out []order.Placed
	for _, seq := range pl.Machines {
		for i, job := range seq.Jobs {
			l := p.s.lineByPlanID(job.Line)
			at := order.Placed{
				LineID: l.ID, OrderID: l.of.ID, Machine: seq.Machine, Seq: i + 1,
				Change: p.at(job.Start), ChangeMinutes: int(job.Change.Minutes), Start: p.at(job.Start), End: p.at(job.End),
				Share: none, Saved: none,
			}
			if job.Change.Minutes > 0 {
				at.Change = p.at(job.Change.Start)
			}
			was, stood := before[l.ID]
			if stood {
				at.Pinned, at.BegunAt = was.Pinned, was.BegunAt
			}
			switch change, known := first[job.Line]; {
			case stood && frozen[job.Line]: // what it saves was settled when it came here
				at.SavedMinutes, at.Saved = was.SavedMinutes, was.Saved
			case known:
				at.SavedMinutes = int(change.Minutes - job.Change.Minutes)
				at.Saved = money.Cents(change.Cents-job.Change.Cents, p.s.seller.Currency)
			}
			out = append(out, at)
		}
	}
	return out, p.shareOut(pl, out, before)
}

// firstCome gives the changeover before each line, first come, first served; nil
// when there is no room for that.
func (p *planning) firstCome() map[string]plan.Change {
	pl, _, err := plan.FirstCome(p.byArrival())
	if err != nil {
		return nil
	}
	changes := map[string]plan.Change{}
	for _, seq := range pl.Machines {
		for _, job := range seq.Jobs {
			changes[job.Line] = job.Change
		}
	}
	return changes
}

// byArrival is the problem with its lines in the order in which their orders
// were accepted.
func (p *planning) byArrival() plan.Problem {
	came := map[string]time.Time{}
	for _, o := range p.s.open {
		came[o.Number] = o.CreatedAt
		if o.Accepted != nil {
			came[o.Number] = o.Accepted.At
		}
	}
	out := p.problem
	out.Lines = slices.SortedStableFunc(slices.Values(p.problem.Lines), func(a, b plan.Line) int {
		if by := came[a.Order].Compare(came[b.Order]); by != 0 {
			return by
		}
		x, _ := strconv.ParseInt(a.ID, 10, 64)
		y, _ := strconv.ParseInt(b.ID, 10, 64)
		return int(x - y)
	})
	return out
}

// shareOut splits the plan's changeovers fairly among its orders, and an order's
// part among its lines by their run time. Lines that run on in the set-up the
// machine stands in keep the part they had: that set-up is in no plan any more.
func (p *planning) shareOut(pl plan.Plan, places []order.Placed, before map[int64]order.Placed) error {
	shares, err := plan.Shares(p.problem, pl)
	if err != nil {
		return err
	}
	runsOn := map[int64]bool{}
	for _, seq := range pl.Machines {
		for _, job := range seq.Jobs {
			if job.Change.Minutes > 0 || job.Change.Cents > 0 {
				break
			}
			runsOn[p.s.lineByPlanID(job.Line).ID] = true
		}
	}
	of := map[string][]int{}
	for i, at := range places {
		if was, stood := before[at.LineID]; runsOn[at.LineID] && stood {
			places[i].Share = was.Share
			continue
		}
		if !runsOn[at.LineID] {
			number := p.s.lines[at.LineID].of.Number
			of[number] = append(of[number], i)
		}
	}
	for _, share := range shares {
		lines := of[share.Order]
		if share.Cents == 0 || len(lines) == 0 {
			continue
		}
		weights := make([]money.Rate, len(lines))
		for k, i := range lines {
			weights[k] = money.Int(max(1, int64(places[i].End.Sub(places[i].Start)/time.Minute)))
		}
		parts, err := money.Split(money.Cents(share.Cents, p.s.seller.Currency), weights)
		if err != nil {
			return err
		}
		for k, i := range lines {
			places[i].Share = parts[k]
		}
	}
	return nil
}

// lineByPlanID is the way back from lineID.
func (s *snapshot) lineByPlanID(id string) plannedLine {
	n, err := strconv.ParseInt(id, 10, 64)
	if err != nil {
		return plannedLine{}
	}
	return s.lines[n]
}

// byHand gives what the rules of thumb come to on the same lines.
func (p *planning) byHand() (out []ByHand) {
	arrived := p.byArrival()
	for _, rule := range []struct {
		name string
		make func(plan.Problem) (plan.Plan, plan.Objective, error)
	}{
		{firstComeRule, plan.FirstCome}, {"earliest due date", plan.EarliestDue}, {"sorted by profile", plan.ByProfile},
	} {
		pl, obj, err := rule.make(arrived)
		if err != nil {
			continue // this rule finds no room; there is nothing to compare with
		}
		out = append(out, ByHand{Rule: rule.name, Minutes: obj.Minutes, Late: p.lateOrders(pl), Cents: obj.Changeover, Worth: money.Cents(obj.Changeover, p.s.seller.Currency)})
	}
	return out
}

const firstComeRule = "first come, first served"

// AdoptPlan makes the best plan that was shown with a stamp the plan.
func (d *Desk) AdoptPlan(ctx context.Context, actor party.Actor, stamp int64) (Proposal, error) {
	return d.AdoptChange(ctx, actor, PlanChange{}, stamp)
}

// AdoptChange does what was shown with a stamp: the change itself and the plan
// that follows from it, in one transaction, when nothing that a plan rests on
// changed since. Orders whose lines all have a place become planned; one that
// lost a place is accepted again. With the best plan the coils of all open
// orders are chosen anew, too: an order was promised coil when it was accepted,
// as well as could be told that day.
func (d *Desk) AdoptChange(ctx context.Context, actor party.Actor, c PlanChange, stamp int64) (Proposal, error) {
	proposal, err := d.asProposed(ctx, actor, c, stamp)
	if err != nil {
		return proposal, err
	}
	if proposal.undoes != nil {
		if err := mayTakeBack(actor, proposal.undoes.Event); err != nil {
			return proposal, err
		}
	}
	coils, err := d.coilsOfPlan(ctx, c)
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
		before, err := tx.Plan()
		if err != nil {
			return err
		}
		event, err := d.carryOut(tx, actor, c)
		if err != nil {
			return err
		}
		if err := tx.ReplacePlan(actor, proposal.Places, "planned"); err != nil {
			return err
		}
		if err := markPlanned(tx, actor); err != nil {
			return err
		}
		if coils != nil {
			if err := keepAllocation(tx, actor, *coils); err != nil {
				return err
			}
		}
		if proposal.undoes != nil {
			if err := d.carryBack(tx, actor, proposal.undoes.Event); err != nil {
				return err
			}
			return tx.TakeBack(actor, proposal.undoes.ID)
		}
		a := proposal.adoption(before)
		a.Event = event
		return tx.AddAdoption(actor, a)
	})
}

// coilsOfPlan gives the allocation that comes with the best plan, nil with any
// other change. It is worked out before the transaction, which refuses it when
// the floor changed meanwhile.
func (d *Desk) coilsOfPlan(ctx context.Context, c PlanChange) (*Allocation, error) {
	if c != (PlanChange{}) {
		return nil, nil
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return nil, err
	}
	a, err := d.allocateNow(ctx, s, true)
	return &a, err
}

// adoption is what the history keeps of an adopted proposal.
func (p Proposal) adoption(before []order.Placed) order.Adoption {
	a := order.Adoption{What: p.What, Lines: len(p.Places), Late: p.After.Late, Minutes: int(p.ChangeMinutes), Possible: int(p.Possible)}
	a.FirstMinutes = a.Minutes
	a.Saved = money.Cents(0, p.After.Worth.Currency())
	for _, at := range p.Places { // what is frozen keeps what it saved when it came there
		a.FirstMinutes += at.SavedMinutes
		a.Saved = a.Saved.Add(at.Saved)
	}
	for _, rule := range p.Rules {
		if rule.Rule == firstComeRule {
			a.FirstLate = rule.Late
		}
	}
	for _, at := range before {
		a.Before = append(a.Before, order.StoodAt(at))
	}
	return a
}

// markPlanned takes the orders whose lines all have a place on to planned, and
// those that lost one back to accepted.
func markPlanned(tx *store.Tx, actor party.Actor) error {
	open, err := tx.Orders(store.OrderFilter{States: []order.State{order.Accepted, order.Planned}, Lines: true, Limit: maxOpenOrders, Oldest: true})
	if err != nil {
		return err
	}
	for _, o := range open {
		places, err := tx.PlacesOf(o.ID)
		if err != nil {
			return err
		}
		whole := len(places) > 0
		for _, l := range o.Lines {
			whole = whole && (l.Kind == order.Accessory || slices.ContainsFunc(places, func(p order.Placed) bool { return p.LineID == l.ID }))
		}
		if whole == (o.State == order.Planned) {
			continue
		}
		step := order.Plan
		if !whole {
			step = order.Unplan
		}
		if err := o.Apply(step); err != nil {
			return err
		}
		if _, err := tx.SaveOrder(actor, o, string(o.State)); err != nil {
			return err
		}
	}
	return nil
}
