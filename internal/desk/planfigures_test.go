package desk_test

import (
	"fmt"
	"testing"
	"time"

	"ribdesk/internal/desk"
	"ribdesk/internal/order"
	"ribdesk/internal/store"
)

// The figures of the plan page on an example worked out on paper. The panel
// former stands in charcoal; white, charcoal, bronze, white, charcoal are accepted
// in this order, each 60 panels of 12 ft: 29 minutes. The first order is then
// promised last. A change of coil takes 14 minutes and 4 ft of strip. A minute is
// worth $1.60 (an hour of the former, $96.08, by 60), a foot of strip $2.99 (the
// mean of those the shop buys): $34.36 a change.
//
//	first come, first served  W C B W C  5 changes  70 min  $171.80
//	earliest due date         C B W C W  4 changes  56 min  $137.44
//	sorted by profile         B C C W W  3 changes  42 min  $103.08
//	the plan                  C C W W B  2 changes  28 min   $68.72
//
// None misses a promise, and two changes are the least for three colours.
func TestPlanFiguresOnPaper(t *testing.T) {
	w := newWorks(t)
	took := func(edits ...func(*order.Line)) (first, last order.Order) {
		for _, edit := range edits {
			last = w.accept(t, w.quote(t, w.take(t, asked(with(panels(60, 12), edit)))))
			if first.ID == 0 {
				first = last
			}
		}
		return first, last
	}
	charcoal := func(*order.Line) {}
	first, last := took(white, charcoal, bronze, white, charcoal)
	if _, err := w.MovePromise(t.Context(), boss, first.ID, 0, last.Promise.Add(time.Hour), "they come with the second truck"); err != nil {
		t.Fatal(err)
	}
	p := w.adopt(t, desk.PlanChange{})
	if p.ChangeMinutes != 28 || p.After.Worth.String() != "68.72" || p.After.Late != 0 || p.Possible != 0 {
		t.Errorf("the plan takes %d min worth %s, %d late, %d could be saved", p.ChangeMinutes, p.After.Worth, p.After.Late, p.Possible)
	}
	want := []desk.ByHand{
		{Rule: "first come, first served", Minutes: 70, Cents: 17180},
		{Rule: "earliest due date", Minutes: 56, Cents: 13744},
		{Rule: "sorted by profile", Minutes: 42, Cents: 10308},
	}
	for i, r := range p.Rules {
		if r.Worth.Cents() != r.Cents {
			t.Errorf("%s is worth %s, in cents %d", r.Rule, r.Worth, r.Cents)
		}
		if r.Worth = want[i].Worth; r != want[i] {
			t.Errorf("got %+v, want %+v", r, want[i])
		}
	}
	w.saved(t, "42 min $103.08", "42 min $103.08")

	// All of it is made. A week later white and charcoal come, onto charcoal: two
	// changes first come, first served, and one in the plan.
	w.allMade(t)
	w.pass(7 * 24 * time.Hour)
	took(white, charcoal)
	w.adopt(t, desk.PlanChange{})
	w.saved(t, "14 min $34.36", "56 min $137.44")
}

// saved compares what was saved this week and this year.
func (w *works) saved(t *testing.T, week, year string) {
	t.Helper()
	plan, err := w.RunPlan(t.Context(), w.Now(), w.Now().AddDate(0, 0, 7))
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		what string
		got  desk.Saving
		want string
	}{{"week", plan.Week, week}, {"year", plan.Year, year}} {
		if got := minutesOf(c.got); got != c.want {
			t.Errorf("saved this %s: %s, want %s", c.what, got, c.want)
		}
	}
}

// allMade marks every line in the plan as made.
func (w *works) allMade(t *testing.T) {
	t.Helper()
	err := w.store.Write(t.Context(), func(tx *store.Tx) error {
		places, err := tx.Plan()
		if err != nil {
			return err
		}
		for _, p := range places {
			p.BegunAt, p.DoneAt = p.Start, p.End
			if err := tx.SavePlace(p); err != nil {
				return err
			}
		}
		return tx.Log(boss, "made", "plan", 0, nil)
	})
	if err != nil {
		t.Fatal(err)
	}
}

func minutesOf(s desk.Saving) string {
	return fmt.Sprintf("%d min %s", s.Minutes, s.Worth.Format())
}
