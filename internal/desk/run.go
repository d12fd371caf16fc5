package desk

import (
	"context"
	"slices"
	"time"

	"ribdesk/internal/drawing"
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
	Runs     []Run                   // not done yet
	Done     []Run                   // made since From, as they really ran
	Unplaced []PlacedLine            // accepted lines that are in no plan yet
	Now      time.Time
	From, To time.Time
	Zone     *time.Location

	Ahead   Figures         // the plan from now on, its order kept
	Drifted int             // lines that would now end a quarter of an hour or more later than planned
	Slips   []Promise       // promises that are missed as things stand
	Last    *order.Adoption // nil before the first
	Week    Saving
	Year    Saving
}

// Saving is what was saved against first come, first served.
type Saving struct {
	Minutes int
	Worth   money.Amount
}

// Run is lines that follow each other without a changeover.
type Run struct {
	Machine       string
	Setup         plan.Setup
	Change        time.Time // when its changeover starts
	ChangeMinutes int
	Start, End    time.Time
	Lines         []PlacedLine
	Colour        stock.Colour
	Outline       []drawing.Point // of the profile or the first trim, for a small picture
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

// Pinned reports whether all of the run is held where it is.
func (r Run) Pinned() bool {
	return !slices.ContainsFunc(r.Lines, func(l PlacedLine) bool { return !l.Place.Pinned })
}

// Begun reports whether the run is on the machine.
func (r Run) Begun() bool {
	return slices.ContainsFunc(r.Lines, func(l PlacedLine) bool { return !l.Place.BegunAt.IsZero() })
}

// Late reports whether one of its lines misses its promise.
func (r Run) Late() bool {
	return slices.ContainsFunc(r.Lines, func(l PlacedLine) bool { return l.Late })
}

// RunPlan gives the plan for the days from one moment to another.
func (d *Desk) RunPlan(ctx context.Context, from, to time.Time) (RunPlan, error) {
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return RunPlan{}, err
	}
	out := RunPlan{Machines: s.machines, Open: map[string][]stock.Span{}, Now: d.now(), From: from, To: to, Zone: s.seller.Location()}
	out.Runs = s.dressed(s.runs(s.inOrder()))
	out.Unplaced = s.unplaced()
	out.Ahead, out.Drifted, out.Slips = s.ahead(out.Now)
	err = d.store.Read(ctx, func(tx *store.Tx) error { return out.read(tx, s) })
	for _, m := range s.machines {
		out.Open[m.Code] = stock.Open(m.Week, blocksOf(out.Blocks, m.Code), from, to, s.seller.Location())
	}
	return out, err
}

func (r *RunPlan) read(tx *store.Tx, s *snapshot) (err error) {
	if r.Last, err = tx.LastAdoption(); err != nil {
		return err
	}
	today := dayStart(r.Now, r.Zone)
	monday := today.AddDate(0, 0, -int(today.Weekday()+6)%7)
	r.Week.Minutes, r.Week.Worth, err = tx.SavedBetween(monday, monday.AddDate(0, 0, 7), s.seller.Currency)
	if err != nil {
		return err
	}
	newYear := time.Date(today.Year(), 1, 1, 0, 0, 0, 0, r.Zone)
	r.Year.Minutes, r.Year.Worth, err = tx.SavedBetween(newYear, newYear.AddDate(1, 0, 0), s.seller.Currency)
	if err != nil {
		return err
	}
	if r.Blocks, err = tx.Blocks(r.From); err != nil {
		return err
	}
	if !r.From.Before(r.Now) {
		return nil
	}
	done, err := doneLines(tx, r.From)
	r.Done = s.dressed(s.doneRuns(done))
	return err
}

// doneRuns are lines that were made, each as a run from its begin to its end.
func (s *snapshot) doneRuns(done []doneLine) (out []Run) {
	for _, x := range done {
		at := x.at
		if at.BegunAt.IsZero() || !at.BegunAt.Before(at.DoneAt) {
			at.BegunAt = at.DoneAt.Add(-time.Minute)
		}
		at.Start, at.End, at.Change, at.ChangeMinutes = at.BegunAt, at.DoneAt, at.BegunAt, 0
		line := PlacedLine{Line: x.line, OrderID: at.OrderID, Place: at}
		out = append(out, Run{Machine: at.Machine, Setup: setupOf(x.line), Change: at.Change, Start: at.Start, End: at.End, Lines: []PlacedLine{line}})
	}
	return out
}

// ahead times the plan as it stands from now on, counts the lines that would end
// later than planned, and gives the promises that would be missed.
func (s *snapshot) ahead(now time.Time) (f Figures, drifted int, missed []Promise) {
	p := s.planningAt(now, everything)
	if len(p.problem.Lines) == 0 {
		return Figures{Known: true, Worth: money.Cents(0, s.seller.Currency)}, 0, nil
	}
	timed, objective, err := plan.Schedule(p.problem, p.present)
	if err != nil {
		return Figures{}, len(p.problem.Lines), nil
	}
	planned := map[int64]time.Time{}
	for _, at := range s.places {
		planned[at.LineID] = at.End
	}
	var places []order.Placed
	for _, seq := range timed.Machines {
		for _, job := range seq.Jobs {
			at := order.Placed{LineID: s.lineByPlanID(job.Line).ID, End: p.at(job.End)}
			places = append(places, at)
			if at.End.Sub(planned[at.LineID]) >= littleMove {
				drifted++
			}
		}
	}
	return s.figures(p, timed, objective), drifted, s.slips(s, nil, places, now)
}

// inOrder gives all places machine by machine, what began in front.
func (s *snapshot) inOrder() (out []order.Placed) {
	for _, m := range s.machines {
		out = append(out, s.placesOn(m.Code)...)
	}
	return out
}

// dressed adds what a picture of the runs needs.
func (s *snapshot) dressed(runs []Run) []Run {
	for i := range runs {
		first := runs[i].Lines[0].Line
		runs[i].Colour = s.colours[first.Colour]
		if first.Section != nil {
			runs[i].Outline = trimView(drawing.Section{}, *first.Section, shopReader).Points
		} else if view, ok := s.profileView(drawing.Section{}, first.Code, shopReader); ok {
			runs[i].Outline = view.Points
		}
	}
	return runs
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
		Late: s.late(*l.of, p.End),
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

// PinRun fixes the run that a line is part of where it stands in the plan, or
// lets it go again.
func (d *Desk) PinRun(ctx context.Context, actor party.Actor, lineID int64, pinned bool) error {
	if err := allow(actor, party.Owner, party.Counter, party.Operator); err != nil {
		return err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return err
	}
	var run Run
	for _, r := range s.runs(s.places) {
		if r.has(lineID) {
			run = r
		}
	}
	if len(run.Lines) == 0 {
		return fault.NotFoundf("this line isn't in the run plan")
	}
	return d.store.Write(ctx, func(tx *store.Tx) error {
		places, err := tx.Plan()
		if err != nil {
			return err
		}
		for _, p := range places {
			if p.Pinned = pinned; run.has(p.LineID) {
				if err := tx.SavePlace(p); err != nil {
					return err
				}
			}
		}
		return tx.Log(actor, map[bool]string{true: "pinned", false: "let go"}[pinned], "plan", lineID, nil)
	})
}

func (r Run) has(lineID int64) bool {
	return slices.ContainsFunc(r.Lines, func(l PlacedLine) bool { return l.Line.ID == lineID })
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

// EndBlock ends a block that is going on: from now on the time is open again.
func (d *Desk) EndBlock(ctx context.Context, actor party.Actor, id int64) error {
	if err := allow(actor, party.Owner, party.Operator); err != nil {
		return err
	}
	return d.store.Write(ctx, func(tx *store.Tx) error {
		b, err := tx.Block(id)
		if err != nil {
			return err
		}
		now := tx.Now().Truncate(time.Minute)
		if !b.To.After(now) {
			return nil
		}
		if b.To = now; !b.To.After(b.From) {
			return tx.DeleteBlock(actor, id)
		}
		_, err = tx.SaveBlock(actor, b)
		return err
	})
}
