package desk_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
	"ribdesk/internal/store"
)

// state writes what an event of the plan can touch, line by line: places,
// machines' time, coil promises, orders.
func (w *works) state(t *testing.T) string {
	t.Helper()
	var out strings.Builder
	err := w.store.Read(t.Context(), func(tx *store.Tx) error {
		places, err := tx.Plan()
		if err != nil {
			return err
		}
		blocks, err := tx.Blocks(time.Time{})
		if err != nil {
			return err
		}
		coils, err := tx.AllCoils()
		if err != nil {
			return err
		}
		orders, err := tx.Orders(store.OrderFilter{Limit: 100, Oldest: true})
		if err != nil {
			return err
		}
		for _, p := range places {
			fmt.Fprintln(&out, "place", p.Machine, p.Seq, p.LineID, p.Change, p.Start, p.End, p.Pinned, p.SavedMinutes, p.Saved)
		}
		for _, b := range blocks {
			fmt.Fprintln(&out, "block", b.Machine, b.Kind, b.From, b.To, b.Reason)
		}
		for _, c := range coils {
			fmt.Fprintln(&out, "coil", c.Tag, c.OnHand, c.Promised)
		}
		for _, o := range orders {
			fmt.Fprintln(&out, "order", o.Number, o.State, o.Rush, o.Promise)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return out.String()
}

// Looking at an event changes nothing, and taking an adopted one back leaves all
// as it was; both stand in the history under who did them.
func TestTakenBackWhole(t *testing.T) {
	w := newWorks(t)
	w.pass(-7 * time.Hour) // midnight: nothing is too near
	orders := w.planned(t, 3)
	tuesday := time.Date(2026, 3, 3, 8, 0, 0, 0, w.Now().Location())
	own, err := w.BlockTime(t.Context(), boss, stock.Block{Machine: "FORMER", From: tuesday, To: tuesday.Add(4 * time.Hour), Kind: stock.OwnJob, Reason: "barn"})
	if err != nil {
		t.Fatal(err)
	}
	w.adopt(t, desk.PlanChange{})
	moved := own
	moved.From, moved.To = own.From.Add(-24*time.Hour), own.To.Add(-24*time.Hour)
	down := stock.Block{Machine: "FORMER", From: w.Now(), To: tuesday.AddDate(0, 0, 2), Kind: stock.Down, Reason: "gearbox"}
	away := stock.Block{Machine: "FORMER", From: w.Now(), To: tuesday, Kind: stock.Away, Reason: "dentist"}
	soon := w.order(t, orders[2].ID).Promise.Add(-2 * time.Hour)
	for _, c := range []struct {
		name, what, also string
		change           desk.PlanChange
	}{
		{"machine down", "Panel former, down,", "Given back with it: Panel former, down,", desk.PlanChange{Block: &down}},
		{"operator away", "operator away", "Given back with it", desk.PlanChange{Block: &away, Keep: true}},
		{"own job moved", "it was Tue Mar 3, 8:00 AM to 12:00 PM", "Put back with it: Panel former, own job, Tue Mar 3, 8:00 AM", desk.PlanChange{Block: &moved}},
		{"own job given up", "given back: Panel former, own job", "Taken again with it: Panel former, own job", desk.PlanChange{Free: own.ID}},
		{"rush order", "order " + orders[1].Number + " of", "isn't urgent any more", desk.PlanChange{Rush: orders[1].ID}},
		{"rush order, promised anew", "promised for Mon Mar 2", "is promised for", desk.PlanChange{Rush: orders[2].ID, By: soon}},
	} {
		if own.Version = w.version(t, own.ID); c.change.Block != nil && c.change.Block.ID != 0 {
			c.change.Block.Version = own.Version
		}
		before := w.state(t)
		p, err := w.ProposeChange(t.Context(), boss, c.change)
		if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		if !strings.Contains(p.What, c.what) {
			t.Errorf("%s is called %q", c.name, p.What)
		}
		if got := w.state(t); got != before {
			t.Errorf("looking at %s changed\n%s\ninto\n%s", c.name, before, got)
		}
		w.adopt(t, c.change)
		if w.state(t) == before {
			t.Errorf("%s left no trace", c.name)
		}
		back := w.adopt(t, desk.PlanChange{Undo: true})
		if !strings.Contains(strings.Join(back.Also, " "), c.also) {
			t.Errorf("taking %s back says %q", c.name, back.Also)
		}
		if got := w.state(t); got != before {
			t.Errorf("%s taken back: before\n%s\nafter\n%s", c.name, before, got)
		}
		history, err := w.PlanHistory(t.Context(), boss)
		if err != nil {
			t.Fatal(err)
		}
		if e := history[0]; e.What != p.What || e.By != boss.Name || e.Adoption == nil || e.Adoption.UndoneBy != boss.Name || e.Adoption.UndoneAt.IsZero() {
			t.Errorf("%s stands in the history as %+v", c.name, e)
		}
		if c.change.Free != 0 {
			break // it comes back under another id
		}
	}
	w.ledgerHolds(t)
}

// version is that of a block as it is kept now.
func (w *works) version(t *testing.T, id int64) (v int64) {
	t.Helper()
	err := w.store.Read(t.Context(), func(tx *store.Tx) error {
		b, err := tx.Block(id)
		v = b.Version
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// A proposal names each order whose promise it breaks, with its customer and by
// how much: from the promise to when the order would be ready.
func TestBreaksAreNamed(t *testing.T) {
	w := newWorks(t)
	orders := w.planned(t, 3)
	up := w.Now().AddDate(0, 0, 8)
	p, err := w.ProposeChange(t.Context(), boss, desk.PlanChange{Block: &stock.Block{Machine: "FORMER", From: w.Now(), To: up, Kind: stock.Down, Reason: "gearbox"}})
	if err != nil {
		t.Fatal(err)
	}
	ends := map[int64]time.Time{}
	for _, at := range p.Places {
		if at.End.After(ends[at.OrderID]) {
			ends[at.OrderID] = at.End
		}
	}
	if len(p.Slips) != len(orders) || p.Breaks() != len(orders) {
		t.Fatalf("%d slips, %d breaks", len(p.Slips), p.Breaks())
	}
	for i, s := range p.Slips {
		// Two hours from the last cut to the order being bundled, then the next half hour.
		ready := ends[s.OrderID].Add(2 * time.Hour).Truncate(30 * time.Minute).Add(30 * time.Minute)
		o := w.order(t, s.OrderID)
		if !s.Breaks || s.Number != o.Number || s.Customer == "" || s.Customer != o.Customer || !s.To.Equal(o.Promise) || !s.Ready.Equal(ready) || s.Late() != ready.Sub(o.Promise) {
			t.Errorf("order %s: %+v, by hand ready %s", o.Number, s, ready)
		}
		if i > 0 && s.Late() > p.Slips[i-1].Late() {
			t.Error("the latest doesn't stand first")
		}
	}
	// The operator notes it at the machine: the plan says whose promise is missed.
	if _, err := w.StandStill(t.Context(), worker, "FORMER", 8*24*60, "gearbox"); err != nil {
		t.Fatal(err)
	}
	plan, err := w.RunPlan(t.Context(), w.Now(), w.Now().AddDate(0, 0, 9))
	if err != nil {
		t.Fatal(err)
	}
	if len(plan.Slips) != len(orders) || plan.Slips[0].Late() < 7*24*time.Hour {
		t.Errorf("as things stand %+v", plan.Slips)
	}
	m, err := w.Morning(t.Context(), boss)
	if err != nil {
		t.Fatal(err)
	}
	if len(m.Broken) != len(orders) || m.Broken[0].Past || m.Broken[0].Late < 7*24*time.Hour {
		t.Errorf("the owner's first page has %+v", m.Broken)
	}
}

// A coil that holds less than is booked keeps what is left for the order it was
// promised to; the rest comes from other coils, or is waited for.
func TestCoilShort(t *testing.T) {
	w := newWorks(t)
	o := w.planned(t, 1)[0]
	coil := w.runs(t, "FORMER")[0].Rows[0].Promises[0].CoilID
	for _, left := range []measure.Length{-1, 100_000 * foot} {
		if _, err := w.ProposeChange(t.Context(), boss, desk.PlanChange{Coil: coil, Left: left}); !fault.Is(err, fault.Invalid) {
			t.Errorf("%s left: %v", left, err)
		}
	}
	// All other charcoal of that width is gone, so that what is missing has to be bought.
	coils, err := w.Coils(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range coils {
		if c.ID != coil && c.Strip.Colour == "CHAR" && c.Strip.Width == span20 {
			w.adopt(t, desk.PlanChange{Coil: c.ID})
		}
	}
	p := w.adopt(t, desk.PlanChange{Coil: coil, Left: 30 * foot})
	if len(p.Slips) != 1 || !p.Slips[0].Breaks || p.Slips[0].Number != o.Number || p.Slips[0].Coil.Sub(w.Now()) < 4*24*time.Hour {
		t.Errorf("slips %+v", p.Slips)
	}
	// 8 panels of 12 ft were promised 96 ft and a foot of tail; two come from the 30 ft.
	if says := strings.Join(p.Also, " "); !strings.Contains(says, "97.00 ft of it are promised; 72.00 ft") {
		t.Errorf("it says %q", says)
	}
	card, err := w.CoilCard(t.Context(), coil)
	if err != nil {
		t.Fatal(err)
	}
	if card.Coil.OnHand != 30*foot || card.Coil.Promised != 24*foot || card.Coil.Spent {
		t.Errorf("on hand %s, promised %s", card.Coil.OnHand, card.Coil.Promised)
	}
	w.ledgerHolds(t)
}

// An urgent order's new promise is earlier, in the future, and holds for the
// customer once adopted.
func TestUrgentPromise(t *testing.T) {
	w := newWorks(t)
	o := w.order(t, w.planned(t, 2)[1].ID)
	for name, by := range map[string]time.Time{"past": w.Now().Add(-time.Hour), "later than promised": o.Promise.Add(time.Hour)} {
		if err := w.CheckChange(t.Context(), clerk, desk.PlanChange{Rush: o.ID, By: by}); !fault.Is(err, fault.Invalid) || fault.All(err)[0].Field != "by" {
			t.Errorf("%s: %v", name, err)
		}
	}
	by := w.Now().Add(10 * time.Minute)
	p := w.adopt(t, desk.PlanChange{Rush: o.ID, By: by})
	if len(p.Slips) != 1 || !p.Slips[0].Breaks || !p.Slips[0].To.Equal(by) || !p.Slips[0].Was.Equal(o.Promise) {
		t.Errorf("a promise nobody can keep: %+v", p.Slips)
	}
	if now := w.order(t, o.ID); !now.Rush || !now.Promise.Equal(by) {
		t.Errorf("urgent %t, promised %s", now.Rush, now.Promise)
	}
	// Who may not make an order urgent may not take that back either.
	if _, err := w.ProposeChange(t.Context(), worker, desk.PlanChange{Undo: true}); !fault.Is(err, fault.Denied) {
		t.Errorf("the operator takes it back: %v", err)
	}
	p, err := w.ProposeChange(t.Context(), clerk, desk.PlanChange{Undo: true})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := w.AdoptChange(t.Context(), worker, desk.PlanChange{Undo: true}, p.Stamp); !fault.Is(err, fault.Denied) {
		t.Errorf("the operator adopts what the counter looked at: %v", err)
	}
}

// What can't be taken back stays, and says so.
func TestCancelledStays(t *testing.T) {
	w := newWorks(t)
	orders := w.planned(t, 2)
	p := w.adopt(t, desk.PlanChange{Drop: orders[0].ID, Reason: "fell through"})
	if says := strings.Join(p.Also, " "); !strings.Contains(says, "97.00 ft of coil") {
		t.Errorf("cancelling it says %q", says)
	}
	p = w.adopt(t, desk.PlanChange{Undo: true})
	if says := strings.Join(p.Also, " "); says != "Order "+orders[0].Number+" stays cancelled." {
		t.Errorf("taking it back says %q", says)
	}
	if got := w.order(t, orders[0].ID).State; got != order.Cancelled {
		t.Errorf("it is %s", got)
	}
}

// A plan that takes longer than a person waits is found again: while it is worked
// out, and when it is there, until something changes.
func TestPlanIsFoundAgain(t *testing.T) {
	w := newWorks(t)
	w.planned(t, 3)
	_, underway, err := w.LookForChange(t.Context(), boss, desk.PlanChange{}, -1)
	if err != nil || underway == nil || underway.Lines != 3 || !underway.Since.Equal(w.Now()) {
		t.Fatalf("%+v, %v", underway, err)
	}
	p, underway, err := w.LookForChange(t.Context(), boss, desk.PlanChange{}, time.Minute)
	if err != nil || underway != nil || len(p.Places) != 3 {
		t.Fatalf("%d places, %+v, %v", len(p.Places), underway, err)
	}
	w.pass(2 * time.Minute)
	again, _, err := w.LookForChange(t.Context(), boss, desk.PlanChange{}, time.Minute)
	if err != nil || !again.At.Equal(p.At) {
		t.Errorf("reloaded after two minutes it is of %s, it was of %s; %v", again.At, p.At, err)
	}
	if err := w.StillHolds(p.At); err != nil {
		t.Error(err)
	}
	w.pass(4 * time.Minute)
	again, _, err = w.LookForChange(t.Context(), boss, desk.PlanChange{}, time.Minute)
	if err != nil || again.At.Equal(p.At) {
		t.Errorf("after six minutes it is shown as it was; %v", err)
	}
	w.pass(10 * time.Minute)
	if err := w.StillHolds(p.At); !fault.Is(err, fault.Conflict) {
		t.Errorf("after sixteen minutes: %v", err)
	}
	if _, _, err := w.LookForChange(t.Context(), party.Actor{Role: party.Driver}, desk.PlanChange{}, time.Minute); !fault.Is(err, fault.Denied) {
		t.Errorf("the driver finds %v", err)
	}
}
