package desk_test

import (
	"fmt"
	"testing"
	"time"

	"ribdesk/internal/desk"
	"ribdesk/internal/order"
	"ribdesk/internal/stock"
)

// Lines of 200 ft in 20 pieces that follow each other in (200/50 + 20 x 16/60) x
// 1.1 = 10.2667 minutes were formed at 50 ft/min; and where the colour changed
// it took 20 minutes more.
func TestMeasuredTimes(t *testing.T) {
	w := newWorks(t)
	bronze := func(l *order.Line) { l.Colour = "BRZ" }
	var lines []order.Line
	for _, l := range []order.Line{panels(20, 10), panels(20, 10), panels(20, 10), panels(20, 10), with(panels(20, 10), bronze), panels(20, 10), with(panels(20, 10), bronze)} {
		lines = append(lines, w.accept(t, w.quote(t, w.take(t, asked(l)))).Lines[0])
	}
	waits := w.accept(t, w.quote(t, w.take(t, asked(panels(20, 10))))).Lines[0]
	w.plan(t)
	if got, err := w.MeasuredTimes(t.Context(), boss); err != nil || len(got) != 0 {
		t.Fatalf("measured before anything is cut: %+v, %v", got, err)
	}
	w.clock.Set(opening.AddDate(0, 0, 1).Add(-3 * time.Hour))
	before := "CHAR"
	for i, l := range lines {
		w.pass(616 * time.Second)
		if l.Colour != before {
			w.pass(20 * time.Minute)
		}
		before = l.Colour
		w.cutLine(t, l, i)
		if i == 1 {
			w.pass(2 * time.Hour) // waiting, which measures nothing
			w.cutLine(t, waits, 99)
		}
	}
	got, err := w.MeasuredTimes(t.Context(), boss)
	if err != nil || len(got) != 2 {
		t.Fatalf("measured %+v, %v", got, err)
	}
	if s := got[0]; s.What != desk.MeasuredSpeed || s.Estimated.String() != "70" || s.Measured.String() != "50" || s.Samples != 3 {
		t.Errorf("speed %+v", s)
	}
	if c := got[1]; c.What != desk.MeasuredChange || c.Part != "coil" || c.Estimated.String() != "14" || c.Measured.String() != "20" || c.Samples != 3 {
		t.Errorf("change %+v", c)
	}
	for _, m := range got {
		take := desk.TakeMeasured{Machine: m.Machine, What: m.What, Part: m.Part}
		if _, err := w.TakeMeasured(t.Context(), clerk, take); kindOf(err) != "denied" {
			t.Errorf("the counter took it: %v", err)
		}
		if _, err := w.TakeMeasured(t.Context(), boss, take); err != nil {
			t.Fatal(err)
		}
	}
	machine, err := desk.FromShelf[stock.Machine](t.Context(), w.Desk, "FORMER")
	if err != nil || machine.Item.Speed.String() != "50" || machine.Item.Rule[2].Minutes != 20 {
		t.Errorf("the catalogue has %s ft/min and %d min, %v", machine.Item.Speed, machine.Item.Rule[2].Minutes, err)
	}
	if _, err := w.TakeMeasured(t.Context(), boss, desk.TakeMeasured{Machine: "FORMER", What: desk.MeasuredChange, Part: "rollers"}); kindOf(err) != "conflict" {
		t.Errorf("took what nobody measured: %v", err)
	}
}

// cutLine records a line as cut at once, from a coil of its strip.
func (w *works) cutLine(t *testing.T, l order.Line, i int) {
	t.Helper()
	coils, err := w.Coils(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range coils {
		if c.Strip == l.Metal() && !c.Remnant && c.OnHand > l.Feet() {
			_, err := w.RecordMade(t.Context(), boss, desk.Made{Key: fmt.Sprint("cut ", i), LineID: l.ID, CutID: l.Cuts[0].ID, CoilID: c.ID, Pieces: l.Cuts[0].Qty})
			if err != nil {
				t.Fatal(err)
			}
			return
		}
	}
	t.Fatalf("no coil for %s", l.Metal())
}
