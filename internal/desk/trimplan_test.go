package desk_test

import (
	"testing"

	"ribdesk/internal/desk"
	"ribdesk/internal/measure"
	"ribdesk/internal/nest"
	"ribdesk/internal/order"
)

// The trim plan makes every open blank, is priced the same by the independent
// checker, never takes more than slitting each trim on its own, and what it
// promises is what it takes, on coils that hold it.
func TestTrimPlan(t *testing.T) {
	w := newWorks(t)
	eave := func(l *order.Line) { l.Code = "EAVE" }
	var want int
	for i := range 6 {
		q := w.quote(t, w.take(t, asked(ridge(3+i), with(ridge(4), eave), with(ridge(2), func(l *order.Line) { l.Cuts[0].Length = 7 * foot }))))
		w.accept(t, q)
		want += 3 + i + 4 + 2
	}
	p, err := w.TrimPlan(t.Context(), clerk)
	if err != nil {
		t.Fatal(err)
	}
	if len(p.Groups) != 1 || p.Groups[0].Pieces != want {
		t.Fatalf("%d groups of %d pieces, want one of %d", len(p.Groups), p.Groups[0].Pieces, want)
	}
	g := p.Groups[0]
	if cost, err := nest.CheckTrim(&g.Problem, g.Result.Runs); err != nil || cost != g.Result.Cost {
		t.Errorf("the checker says %d, %v; the plan %d", cost, err, g.Result.Cost)
	}
	if g.Feet > g.ByHand {
		t.Errorf("the plan takes %s, by hand %s", g.Feet, g.ByHand)
	}
	if _, err := w.AdoptTrimPlan(t.Context(), clerk, p.Stamp-1); kindOf(err) != "conflict" {
		t.Errorf("an old stamp gives %v", err)
	}
	if _, err := w.AdoptTrimPlan(t.Context(), clerk, p.Stamp); err != nil {
		t.Fatal(err)
	}
	w.wantSound(t)
	var promised measure.Length
	pieces := 0
	for _, r := range w.everyPromise(t) {
		promised += r.Length
		for _, c := range r.Cuts {
			pieces += c.Qty
		}
	}
	var missed measure.Length
	for _, take := range g.Takes {
		missed += take.Missed
	}
	if missed == 0 && (promised != g.Feet || pieces != want) {
		t.Errorf("%s promised for %d pieces; the plan takes %s for %d", promised, pieces, g.Feet, want)
	}
	paper, err := w.IssueTrimSheet(t.Context(), clerk, 0)
	if err != nil || len(paper.PDF) == 0 {
		t.Errorf("no run sheet: %v", err)
	}
	if _, err := w.IssueTrimSheet(t.Context(), clerk, 1); kindOf(err) != "not found" {
		t.Errorf("a metal that isn't there gives %v", err)
	}
	if _, err := w.TrimPlan(t.Context(), buyer); kindOf(err) != "denied" {
		t.Errorf("a buyer gets %v", err)
	}
}

// Trim is booked from any coil of its metal that is wide enough, by that coil's
// own width; panels only from their own strip.
func TestTrimFromAWiderCoil(t *testing.T) {
	w := newWorks(t)
	o := w.accept(t, w.quote(t, w.take(t, asked(ridge(4)))))
	p, err := w.ProposePlan(t.Context(), boss)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := w.AdoptPlan(t.Context(), boss, p.Stamp); err != nil {
		t.Fatal(err)
	}
	l := o.Lines[0]
	wide := l.Metal()
	wide.Width = 2*l.Girth + measure.Inch
	c, err := w.ReceiveCoil(t.Context(), clerk, desk.Receipt{Strip: wide, Feet: 100 * foot, Landed: usd(100_00)})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := w.RecordMade(t.Context(), boss, desk.Made{Key: "w", LineID: l.ID, CutID: l.Cuts[0].ID, CoilID: c.ID, Pieces: 2}); err != nil {
		t.Fatal(err)
	}
	if got := w.coilTagged(t, c.Tag).OnHand; got != 90*foot {
		t.Errorf("two blanks abreast of a coil twice as wide leave %s of 100 ft", got)
	}
	narrow := l.Metal()
	narrow.Width = l.Girth - measure.Inch
	c, err = w.ReceiveCoil(t.Context(), clerk, desk.Receipt{Strip: narrow, Feet: 100 * foot, Landed: usd(100_00)})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := w.RecordMade(t.Context(), boss, desk.Made{Key: "n", LineID: l.ID, CutID: l.Cuts[0].ID, CoilID: c.ID, Pieces: 1}); kindOf(err) != "invalid" {
		t.Errorf("a coil narrower than the girth gives %v", err)
	}
}
