package desk_test

import (
	"testing"

	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
)

// Trim whose own width is used up is promised a wider coil of its metal when it
// is accepted, and isn't to be bought.
func TestTrimIsPromisedAWiderCoil(t *testing.T) {
	w := newWorks(t)
	q := w.quote(t, w.take(t, asked(ridge(7))))
	l := q.Order.Lines[0]
	coils, err := w.Coils(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	wider := false
	for _, c := range coils {
		metal := c.Strip
		metal.Width = l.Strip
		switch {
		case c.Strip == l.Metal():
			if err := w.EndCoil(t.Context(), boss, c.ID); err != nil {
				t.Fatal(err)
			}
		case metal == l.Metal() && c.Strip.Width > l.Strip:
			wider = true
		}
	}
	if !wider {
		t.Fatal("the furnished shop has no wider coil to take")
	}
	w.accept(t, q)
	pieces := 0
	for _, r := range w.everyPromise(t) {
		for _, c := range r.Cuts {
			pieces += c.Qty
		}
	}
	if pieces != 7 {
		t.Errorf("%d of 7 pieces are promised", pieces)
	}
	if short := must[[]desk.Shortage](t)(w.Shortages(t.Context(), clerk)); len(short) > 0 {
		t.Errorf("to buy: %+v", short)
	}
	w.wantSound(t)
}

// An order is promised coil when it is accepted; adopting the best plan chooses
// the coils of all open orders anew, so that "allocate again" finds nothing to
// move. A plan that only keeps the order leaves them alone.
func TestPlanChoosesCoils(t *testing.T) {
	w := newWorks(t)
	orders := rush(t, w, 9)
	if len(w.everyPromise(t)) == 0 {
		t.Fatal("accepted orders are promised nothing")
	}
	before := must[desk.Allocation](t)(w.Allocate(t.Context(), clerk))
	kept := must[desk.Proposal](t)(w.ProposeChange(t.Context(), boss, desk.PlanChange{Keep: true}))
	must[desk.Proposal](t)(w.AdoptChange(t.Context(), boss, desk.PlanChange{Keep: true}, kept.Stamp))
	if same := must[desk.Allocation](t)(w.Allocate(t.Context(), clerk)); same.Before != before.Before {
		t.Errorf("keeping the order moved coils: %+v, was %+v", same.Before, before.Before)
	}
	best := must[desk.Proposal](t)(w.ProposePlan(t.Context(), boss))
	must[desk.Proposal](t)(w.AdoptPlan(t.Context(), boss, best.Stamp))
	after := must[desk.Allocation](t)(w.Allocate(t.Context(), clerk))
	for _, g := range after.Groups {
		if len(g.Moves) > 0 {
			t.Errorf("%s: %d of %d lines would still move", g.Name, len(g.Moves), len(orders))
		}
	}
	w.wantSound(t)
	for name, c := range verified(t, w.Desk) {
		if len(c.Wrong) > 0 {
			t.Errorf("%s: %v", name, c.Wrong)
		}
	}
}

// How the house cuts is the owner's to say, within reason, and is kept to.
func TestCuttingHabits(t *testing.T) {
	w := newWorks(t)
	s, version, err := w.Seller(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	bad := s
	bad.Cutting.UsefulEnd, bad.Cutting.Knives, bad.Cutting.AwkwardPct = bad.Cutting.ScrapEnd-1, 0, 101
	fields := map[string]bool{}
	for _, f := range fault.All(w.SaveSeller(t.Context(), boss, bad, version)) {
		fields[f.Field] = true
	}
	if !fields["useful_end"] || !fields["knives"] || !fields["awkward_pct"] || len(fields) != 3 {
		t.Errorf("refused at %v", fields)
	}
	s.Cutting.Knives, s.Cutting.ScrapEnd, s.Cutting.LotCents = 2, 9*measure.Foot, 777
	if err := w.SaveSeller(t.Context(), boss, s, version); err != nil {
		t.Fatal(err)
	}
	w.accept(t, w.quote(t, w.take(t, asked(ridge(30), panels(4, 12)))))
	for _, g := range must[desk.TrimPlan](t)(w.TrimPlan(t.Context(), clerk)).Groups {
		for _, run := range g.Result.Runs {
			strips := int64(0)
			for _, s := range run.Strips {
				strips += s.Count
			}
			if strips > 2 {
				t.Errorf("%d strips of one set-up, the knives make 2", strips)
			}
		}
	}
	a := must[desk.Allocation](t)(w.Allocate(t.Context(), clerk))
	if p := a.Groups[0].Problem.Params; p.ScrapMax != 9*96 || p.LotSplit != 777_000 {
		t.Errorf("allocation goes by %+v", p)
	}
}
