package desk_test

import (
	"fmt"
	"slices"
	"sync"
	"testing"
	"time"

	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
	"ribdesk/internal/store"
)

// worker runs the machines in these tests.
var worker = party.Actor{PersonID: 3, Name: "Demo Operator", Role: party.Operator}

func white(l *order.Line)  { l.Colour = "WHT" }
func bronze(l *order.Line) { l.Colour = "BRZ" }

// planned takes orders of panels in turn of colour, and adopts the best plan.
func (w *works) planned(t testing.TB, n int) []order.Order {
	t.Helper()
	var out []order.Order
	for i := range n {
		l := panels(8+i, 12)
		switch i % 3 {
		case 1:
			l = with(l, white)
		case 2:
			l = with(l, bronze)
		}
		out = append(out, w.accept(t, w.quote(t, w.take(t, asked(l)))))
	}
	w.adopt(t, desk.PlanChange{})
	return out
}

func (w *works) adopt(t testing.TB, c desk.PlanChange) desk.Proposal {
	t.Helper()
	p, err := w.ProposeChange(t.Context(), boss, c)
	if err != nil {
		t.Fatal(err)
	}
	p, err = w.AdoptChange(t.Context(), boss, c, p.Stamp)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func (w *works) runs(t testing.TB, machine string) []desk.SheetRun {
	t.Helper()
	s, err := w.Sheet(t.Context(), boss, machine)
	if err != nil {
		t.Fatal(err)
	}
	return s.Runs
}

func numbers(runs []desk.SheetRun) (out []string) {
	for _, r := range runs {
		for _, l := range r.Lines {
			out = append(out, l.Number)
		}
	}
	return out
}

// The proposal is what is adopted; its savings, shares and history are exact;
// and it can be taken back.
func TestAdoptAndTakeBack(t *testing.T) {
	w := newWorks(t)
	w.planned(t, 4)
	w.savesWhatTheRuleCosts(t)
	before := numbers(w.runs(t, "FORMER"))
	late := w.accept(t, w.quote(t, w.take(t, asked(with(panels(30, 20), white)))))
	p := w.adopt(t, desk.PlanChange{})
	if got := w.order(t, late.ID).State; got != order.Planned {
		t.Errorf("the order is %s", got)
	}
	plan, err := w.RunPlan(t.Context(), w.clock.Now(), w.clock.Now().AddDate(0, 0, 7))
	if err != nil {
		t.Fatal(err)
	}
	var first desk.ByHand
	for _, r := range p.Rules {
		if r.Rule == "first come, first served" {
			first = r
		}
	}
	if first.Minutes < p.ChangeMinutes {
		t.Errorf("first come, first served takes %d minutes, the best plan %d", first.Minutes, p.ChangeMinutes)
	}
	minutes, worth := 0, p.After.Worth.Sub(p.After.Worth)
	for _, at := range p.Places {
		minutes, worth = minutes+at.SavedMinutes, worth.Add(at.Saved)
	}
	if plan.Week.Minutes != minutes || plan.Week != plan.Year {
		t.Errorf("saved %d this week and %d this year, want %d", plan.Week.Minutes, plan.Year.Minutes, minutes)
	}
	if plan.Week.Worth != worth || plan.Last.Saved != worth {
		t.Errorf("saved %s, the history has %s, want %s", plan.Week.Worth, plan.Last.Saved, worth)
	}
	var shares int64
	for _, at := range p.Places {
		shares += at.Share.Cents()
	}
	if shares != p.After.Worth.Cents() {
		t.Errorf("the shares come to %d cents, the changeovers to %d", shares, p.After.Worth.Cents())
	}

	w.adopt(t, desk.PlanChange{Undo: true})
	if got := numbers(w.runs(t, "FORMER")); !slices.Equal(got, before) {
		t.Errorf("taken back to %v, it was %v", got, before)
	}
	if got := w.order(t, late.ID).State; got != order.Accepted {
		t.Errorf("without a place the order is %s", got)
	}
}

// savesWhatTheRuleCosts compares the first plan's saving with the whole of first
// come, first served, planned apart.
func (w *works) savesWhatTheRuleCosts(t *testing.T) {
	t.Helper()
	plan, err := w.RunPlan(t.Context(), w.Now(), w.Now().AddDate(0, 0, 7))
	if err != nil {
		t.Fatal(err)
	}
	// Charcoal, white, bronze, charcoal came in that order onto a machine that
	// stands in charcoal: three changes of coil against two.
	const coil = 14
	if plan.Last.FirstMinutes != 3*coil || plan.Last.Minutes != 2*coil || plan.Week.Minutes != coil {
		t.Errorf("first come, first served %d min, adopted %d, saved %d", plan.Last.FirstMinutes, plan.Last.Minutes, plan.Week.Minutes)
	}
}

func TestNothingToTakeBack(t *testing.T) {
	w := newWorks(t)
	if _, err := w.ProposeChange(t.Context(), boss, desk.PlanChange{Undo: true}); kindOf(err) != fault.Conflict.String() {
		t.Errorf("got %v", err)
	}
}

// What was shown isn't adopted any more once the floor changed.
func TestStaleProposal(t *testing.T) {
	w := newWorks(t)
	w.planned(t, 2)
	w.accept(t, w.quote(t, w.take(t, asked(panels(5, 9)))))
	p, err := w.ProposePlan(t.Context(), boss)
	if err != nil {
		t.Fatal(err)
	}
	other, _ := w.another(t)
	if _, err := other.BlockTime(t.Context(), boss, stock.Block{Machine: "FORMER", From: w.Now().AddDate(0, 0, 1), To: w.Now().AddDate(0, 0, 2), Kind: stock.Away, Reason: "course"}); err != nil {
		t.Fatal(err)
	}
	if _, err := w.AdoptPlan(t.Context(), boss, p.Stamp); kindOf(err) != fault.Conflict.String() {
		t.Errorf("got %v", err)
	}
}

// farRuns are the runs that can be moved: those beyond the frozen hours.
func (w *works) farRuns(t *testing.T) []desk.SheetRun {
	t.Helper()
	seller, _, err := w.Seller(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	until := w.Now().Add(time.Duration(seller.FrozenHours) * time.Hour)
	return slices.DeleteFunc(w.runs(t, "FORMER"), func(r desk.SheetRun) bool { return r.Begun() || !r.Start.After(until) })
}

func TestMoveAndPin(t *testing.T) {
	w := newWorks(t)
	for i, edit := range []func(*order.Line){white, bronze, func(l *order.Line) {}} {
		w.accept(t, w.quote(t, w.take(t, asked(with(panels(300+i, 20), edit)))))
	}
	w.adopt(t, desk.PlanChange{})
	far := w.farRuns(t)
	if len(far) < 2 {
		t.Fatalf("%d runs can be moved", len(far))
	}
	last := far[len(far)-1]
	c := desk.PlanChange{Move: &desk.RunMove{Line: last.Lines[0].Line.ID, Steps: -1}}
	p := w.adopt(t, c)
	if got := w.farRuns(t); got[len(got)-2].Lines[0].Line.ID != last.Lines[0].Line.ID {
		t.Errorf("the run stands elsewhere: %v", numbers(got))
	}
	if p.Possible >= 0 {
		t.Errorf("a person's order claims a bound of %d", p.Possible)
	}

	at := last.Start.AddDate(0, 0, 3)
	for at.Hour() != 15 || at.Weekday() == time.Saturday || at.Weekday() == time.Sunday || at.Weekday() == time.Wednesday {
		at = at.Add(time.Hour).Truncate(time.Hour) // 15:00 UTC is the shop's morning
	}
	w.adopt(t, desk.PlanChange{Move: &desk.RunMove{Line: last.Lines[0].Line.ID, At: at}})
	pinned := func() desk.SheetRun {
		runs := w.runs(t, "FORMER")
		i := slices.IndexFunc(runs, func(r desk.SheetRun) bool { return r.Lines[0].Line.ID == last.Lines[0].Line.ID })
		return runs[i]
	}
	if r := pinned(); !r.Start.Equal(at) || !r.Pinned() {
		t.Errorf("pinned to %s, it starts %s, held %t", at, r.Start, r.Pinned())
	}
	w.adopt(t, desk.PlanChange{}) // the best plan leaves it there
	if r := pinned(); !r.Start.Equal(at) {
		t.Errorf("the best plan moved it to %s", r.Start)
	}
	w.clock.Set(at.Add(50 * time.Hour)) // the day passes, nobody began it
	if _, err := w.ProposePlan(t.Context(), boss); err != nil {
		t.Errorf("a pin that is past stands in the way: %v", err)
	}

	for name, m := range map[string]desk.RunMove{
		"no such run": {Line: 999}, "no such machine": {Line: last.Lines[0].Line.ID, Machine: "LATHE"},
		"a machine that can't": {Line: last.Lines[0].Line.ID, Machine: "FOLDER"}, "a time that is past": {Line: last.Lines[0].Line.ID, At: w.Now().Add(-time.Hour)},
	} {
		if _, err := w.ProposeChange(t.Context(), boss, desk.PlanChange{Move: &m}); kindOf(err) != fault.Conflict.String() && kindOf(err) != fault.Invalid.String() {
			t.Errorf("%s: got %v", name, err)
		}
	}
}

// Every event is shown with whose promise it breaks before anything is written,
// and adopted as shown.
func TestEventsAreShownFirst(t *testing.T) {
	w := newWorks(t)
	orders := w.planned(t, 3)
	week := stock.Block{Machine: "FORMER", From: w.Now(), To: w.Now().AddDate(0, 0, 8), Kind: stock.Down, Reason: "gearbox"}
	p, err := w.ProposeChange(t.Context(), boss, desk.PlanChange{Block: &week})
	if err != nil {
		t.Fatal(err)
	}
	if p.Breaks() != len(orders) {
		t.Errorf("a week without the machine breaks %d of %d promises", p.Breaks(), len(orders))
	}
	for _, at := range p.Places {
		if at.Start.Before(week.To) {
			t.Errorf("line %d starts %s, before the machine is up", at.LineID, at.Start)
		}
	}
	plan, err := w.RunPlan(t.Context(), w.Now(), w.Now().AddDate(0, 0, 9))
	if err != nil {
		t.Fatal(err)
	}
	if len(plan.Blocks) != 0 || plan.Drifted != 0 {
		t.Errorf("looking at it left %d blocks and %d drifted lines", len(plan.Blocks), plan.Drifted)
	}
	w.adopt(t, desk.PlanChange{Block: &week})
	plan, err = w.RunPlan(t.Context(), w.Now(), w.Now().AddDate(0, 0, 9))
	if err != nil {
		t.Fatal(err)
	}
	if len(plan.Blocks) != 1 || plan.Ahead.Late != len(orders) {
		t.Fatalf("%d blocks, %d late", len(plan.Blocks), plan.Ahead.Late)
	}
	p = w.adopt(t, desk.PlanChange{Free: plan.Blocks[0].ID})
	if kept := slices.ContainsFunc(p.Moved, func(m desk.Move) bool { return m.Keeps }); !kept || p.After.Late != 0 {
		t.Errorf("with the time back %d are late", p.After.Late)
	}

	w.adopt(t, desk.PlanChange{Rush: orders[2].ID})
	if !w.order(t, orders[2].ID).Rush {
		t.Error("it isn't urgent")
	}
	if _, err := w.ProposeChange(t.Context(), boss, desk.PlanChange{Drop: orders[1].ID}); kindOf(err) != fault.Invalid.String() {
		t.Errorf("cancelled without a reason: %v", err)
	}
	w.adopt(t, desk.PlanChange{Drop: orders[1].ID, Reason: "the job fell through"})
	if got := w.order(t, orders[1].ID); got.State != order.Cancelled || len(w.runs(t, "FORMER")) == 0 {
		t.Errorf("it is %s", got.State)
	}
	if _, err := w.ProposeChange(t.Context(), worker, desk.PlanChange{Drop: orders[0].ID, Reason: "x"}); kindOf(err) != fault.Denied.String() {
		t.Errorf("the operator cancels an order: %v", err)
	}
}

// A coil that is gone leaves its lines waiting for the supplier, unless another
// coil serves.
func TestCoilGone(t *testing.T) {
	w := newWorks(t)
	orders := w.planned(t, 1)
	coils := map[int64]bool{}
	for {
		runs := w.runs(t, "FORMER")
		promises := runs[0].Rows[0].Promises
		if len(promises) == 0 {
			break
		}
		if coils[promises[0].CoilID] {
			t.Fatal("a coil that is gone is promised again")
		}
		coils[promises[0].CoilID] = true
		w.adopt(t, desk.PlanChange{Coil: promises[0].CoilID})
	}
	w.ledgerHolds(t)
	p, err := w.ProposePlan(t.Context(), boss)
	if err != nil {
		t.Fatal(err)
	}
	if days := p.Places[0].Start.Sub(w.Now()); days < 4*24*time.Hour {
		t.Errorf("without metal order %s starts in %s", orders[0].Number, days)
	}
}

// ledgerHolds checks every coil: what came in is what went out and what is there,
// and nothing is promised that isn't.
func (w *works) ledgerHolds(t *testing.T) {
	t.Helper()
	err := w.store.Read(t.Context(), func(tx *store.Tx) error {
		coils, err := tx.AllCoils()
		if err != nil {
			return err
		}
		for _, c := range coils {
			moves, err := tx.Movements(c.ID)
			if err != nil {
				return err
			}
			var sum measureLength
			for _, m := range moves {
				sum += m.Length
			}
			if sum != c.OnHand || c.OnHand < 0 || c.Promised > c.OnHand {
				t.Errorf("coil %s: ledger %s, on hand %s, promised %s", c.Tag, sum, c.OnHand, c.Promised)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

// A run that takes longer than planned pushes what is behind it, and the plan
// says so; one that nobody begins slips with the day.
func TestOverrunAndRollover(t *testing.T) {
	w := newWorks(t)
	w.accept(t, w.quote(t, w.take(t, asked(panels(200, 20)))))
	w.accept(t, w.quote(t, w.take(t, asked(with(panels(60, 20), white)))))
	w.adopt(t, desk.PlanChange{})
	first := w.runs(t, "FORMER")[0]
	row := first.Rows[0]
	w.clock.Set(first.Start.Add(time.Minute))
	if _, err := w.RecordMade(t.Context(), worker, desk.Made{Key: "a", LineID: row.Line.ID, CutID: row.Cuts[0].ID, CoilID: row.Promises[0].CoilID, Pieces: 1}); err != nil {
		t.Fatal(err)
	}
	w.clock.Set(first.End.Add(-10 * time.Minute)) // nearly all of its time is gone, nearly all is to be made
	plan, err := w.RunPlan(t.Context(), w.Now(), w.Now().AddDate(0, 0, 7))
	if err != nil {
		t.Fatal(err)
	}
	if plan.Drifted == 0 {
		t.Error("the overrun isn't seen")
	}
	p := w.adopt(t, desk.PlanChange{Keep: true})
	if p.Places[0].LineID != row.Line.ID || !p.Places[0].End.After(first.End) {
		t.Errorf("it was to end %s and ends %s", first.End, p.Places[0].End)
	}
	for i := 1; i < len(p.Places); i++ {
		if p.Places[i].Machine == p.Places[i-1].Machine && p.Places[i].Start.Before(p.Places[i-1].End) {
			t.Error("two runs stand at one time")
		}
	}
	w.pass(72 * time.Hour)
	p = w.adopt(t, desk.PlanChange{})
	for _, at := range p.Places {
		if at.BegunAt.IsZero() && at.Start.Before(w.Now()) {
			t.Errorf("a run that nobody began starts %s, now is %s", at.Start, w.Now())
		}
	}
}

// Two tablets and impatient fingers: every piece is booked once.
func TestPiecesAreBookedOnce(t *testing.T) {
	w := newWorks(t)
	w.planned(t, 1)
	row := w.runs(t, "FORMER")[0].Rows[0]
	other, _ := w.another(t)
	var wait sync.WaitGroup
	for i, d := range []*desk.Desk{w.Desk, other} {
		wait.Go(func() {
			for n := range row.Cuts[0].Qty {
				for range 2 { // each tap is sent twice
					_, _ = d.RecordMade(t.Context(), worker, desk.Made{Key: fmt.Sprint(i, "-", n), LineID: row.Line.ID, CutID: row.Cuts[0].ID, CoilID: row.Promises[0].CoilID, Pieces: 1})
				}
			}
		})
	}
	wait.Wait()
	pieces, used := 0, measureLength(0)
	err := w.store.Read(t.Context(), func(tx *store.Tx) error {
		records, err := tx.CutRecords(row.Line.ID)
		for _, r := range records {
			pieces += r.Pieces
		}
		moves, merr := tx.Movements(row.Promises[0].CoilID)
		for _, m := range moves {
			if m.Kind == stock.MovedCut {
				used -= m.Length
			}
		}
		if err == nil {
			err = merr
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	if pieces != row.Cuts[0].Qty || used != row.Line.Feet() {
		t.Errorf("%d of %d pieces, %s of %s are booked", pieces, row.Cuts[0].Qty, used, row.Line.Feet())
	}
	w.ledgerHolds(t)
}

// Threading books the ends of both coils to the machine's measure, once, moves
// the promise, and never leaves more promised than there is.
func TestThreading(t *testing.T) {
	w := newWorks(t)
	w.planned(t, 1)
	row := w.runs(t, "FORMER")[0].Rows[0]
	f, err := w.Floor(t.Context(), worker, "FORMER")
	if err != nil {
		t.Fatal(err)
	}
	coils := f.ToLoad(row)
	for i := range coils { // one that is on already takes no lead-in
		if coils[i].Mounted != "" {
			if err := w.MountCoil(t.Context(), boss, coils[i].ID, ""); err != nil {
				t.Fatal(err)
			}
		}
	}
	if len(coils) < 2 {
		t.Fatal("the demo has only one coil of this strip: nothing is shown")
	}
	thread := func(key string, coil stock.Coil) {
		t.Helper()
		if err := w.ThreadCoil(t.Context(), worker, desk.Thread{Key: key, Machine: "FORMER", CoilID: coil.ID, LineID: row.Line.ID}); err != nil {
			t.Fatal(err)
		}
		w.ledgerHolds(t)
	}
	left := func(coil stock.Coil) measureLength {
		card, err := w.CoilCard(t.Context(), coil.ID)
		if err != nil {
			t.Fatal(err)
		}
		return card.Coil.OnHand
	}
	one, two := coils[0], coils[1]
	thread("a", one)
	thread("a", one) // a second tap
	if got := one.OnHand - left(one); got != f.Machine.LeadIn {
		t.Errorf("threading took %s, the lead-in is %s", got, f.Machine.LeadIn)
	}
	thread("b", two)
	if got := one.OnHand - left(one); got != f.Machine.LeadIn+f.Machine.LeadOut {
		t.Errorf("both ends took %s", got)
	}
	if got := w.runs(t, "FORMER")[0].Rows[0].Promises; len(got) == 0 || got[0].CoilID != two.ID {
		t.Errorf("the line is promised %+v", got)
	}
	err = w.ThreadCoil(t.Context(), worker, desk.Thread{Key: "c", Machine: "FORMER", CoilID: w.coilOf(t, "WHT"), LineID: row.Line.ID})
	if kindOf(err) != fault.Invalid.String() {
		t.Errorf("the wrong colour got %v", err)
	}
}

func (w *works) coilOf(t *testing.T, colour string) int64 {
	t.Helper()
	coils, err := w.Coils(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	i := slices.IndexFunc(coils, func(c stock.Coil) bool { return c.Strip.Colour == colour })
	return coils[i].ID
}

func TestFloorNotes(t *testing.T) {
	w := newWorks(t)
	w.planned(t, 1)
	row := w.runs(t, "FORMER")[0].Rows[0]
	note := func(n order.FloorNote) error { n.Machine = "FORMER"; return w.NoteOnFloor(t.Context(), worker, n) }
	for _, n := range []order.FloorNote{{Kind: order.Stopped, Note: "x"}, {Key: "1", Kind: order.Stopped}, {Key: "1", Kind: order.Checked}, {Key: "1", Kind: order.Threaded}} {
		if err := note(n); kindOf(err) != fault.Invalid.String() {
			t.Errorf("%+v got %v", n, err)
		}
	}
	off := order.FloorNote{Key: "2", Kind: order.Checked, LineID: row.Line.ID, Nominal: 12 * foot, Measured: 12*foot + foot/96}
	for _, n := range []order.FloorNote{{Key: "1", Kind: order.Stopped, Note: "lunch"}, {Key: "1", Kind: order.Stopped, Note: "lunch"}, off} {
		if err := note(n); err != nil {
			t.Fatal(err)
		}
	}
	f, err := w.Floor(t.Context(), worker, "FORMER")
	if err != nil {
		t.Fatal(err)
	}
	if len(f.Notes) != 2 || f.Stopped == nil || f.CheckedPiece(f.Runs[0]) == nil {
		t.Errorf("%d notes, stopped %v", len(f.Notes), f.Stopped)
	}
	if by, out := desk.OffBy(off); !out || by != foot/96 {
		t.Errorf("1/8 in off is %s, out %t", by, out)
	}
	b, err := w.StandStill(t.Context(), worker, "FORMER", 60, "jam")
	if err != nil {
		t.Fatal(err)
	}
	w.pass(20 * time.Minute)
	if err := w.EndBlock(t.Context(), worker, b.ID); err != nil {
		t.Fatal(err)
	}
	if f, err = w.Floor(t.Context(), worker, "FORMER"); err != nil || f.Down != nil {
		t.Errorf("still down: %v, %v", f.Down, err)
	}
}

// A service falls due where the plan passes the interval, and time is proposed
// for it until some is taken.
func TestServiceComesDue(t *testing.T) {
	w := newWorks(t)
	w.planned(t, 3)
	err := w.store.Write(t.Context(), func(tx *store.Tx) error {
		m, err := store.FromShelf[stock.Machine](tx, "FORMER")
		if err != nil {
			return err
		}
		m.Item.ServiceFeet, m.Item.ServiceMinutes = 150, 90
		_, err = store.PutOnShelf(tx, boss, m)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	services := func() desk.Service {
		list, err := w.Services(t.Context(), boss)
		i := slices.IndexFunc(list, func(s desk.Service) bool { return s.Machine.Code == "FORMER" })
		if err != nil || i < 0 {
			t.Fatalf("%d services, %v", len(list), err)
		}
		return list[i]
	}
	s := services()
	if s.Over || s.Due.IsZero() || s.Proposed == nil || s.Proposed.To.Sub(s.Proposed.From) != 90*time.Minute {
		t.Fatalf("%+v", s)
	}
	w.adopt(t, desk.PlanChange{Block: s.Proposed})
	if s = services(); s.Taken == nil || s.Proposed != nil {
		t.Errorf("taken %v, proposed %v", s.Taken, s.Proposed)
	}
}

// Only the owner moves a promise, forward, with a reason that stands in the log.
func TestMovePromise(t *testing.T) {
	w := newWorks(t)
	o := w.planned(t, 1)[0]
	to := o.Promise.AddDate(0, 0, 2)
	if _, err := w.MovePromise(t.Context(), clerk, o.ID, 0, to, "coil late"); kindOf(err) != fault.Denied.String() {
		t.Errorf("the counter got %v", err)
	}
	if _, err := w.MovePromise(t.Context(), boss, o.ID, 0, to, ""); kindOf(err) != fault.Invalid.String() {
		t.Errorf("without a reason: %v", err)
	}
	if _, err := w.MovePromise(t.Context(), boss, o.ID, 0, w.Now().Add(-time.Hour), "x"); kindOf(err) != fault.Invalid.String() {
		t.Errorf("into the past: %v", err)
	}
	if _, err := w.MovePromise(t.Context(), boss, o.ID, 0, to, "coil late"); err != nil {
		t.Fatal(err)
	}
	f, err := w.OrderFile(t.Context(), boss, o.ID)
	if err != nil || !f.Order.Promise.Equal(to) {
		t.Errorf("promised for %s, %v", f.Order.Promise, err)
	}
	if !slices.ContainsFunc(f.Events, func(e store.Event) bool { return e.Action == "promise moved because" }) {
		t.Error("the log doesn't say why")
	}
}
