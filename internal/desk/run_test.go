package desk_test

import (
	"reflect"
	"testing"
	"time"

	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
)

// The plan that is adopted is the one that was shown. Asks and drafts don't
// stand in its way; what a plan rests on does.
func TestAdoptPlan(t *testing.T) {
	w := newWorks(t)
	ctx := t.Context()
	propose := func() desk.Proposal {
		t.Helper()
		p, err := w.ProposePlan(ctx, boss)
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	first := w.accept(t, w.quote(t, w.take(t, asked(panels(20, 12), ridge(4)))))
	shown := propose()
	if len(shown.Places) != 2 || len(shown.Moved) != 2 || shown.Possible > shown.ChangeMinutes {
		t.Fatalf("%d places, %d moved, %d of %d minutes could be saved", len(shown.Places), len(shown.Moved), shown.Possible, shown.ChangeMinutes)
	}
	w.quote(t, w.take(t, asked(panels(8, 10)))) // somebody else's quote
	w.pass(7 * time.Minute)
	adopted, err := w.AdoptPlan(ctx, boss, shown.Stamp)
	if err != nil || !reflect.DeepEqual(adopted.Places, shown.Places) {
		t.Fatalf("adopted another plan than was shown: %v", err)
	}
	if w.order(t, first.ID).State != order.Planned {
		t.Error("the order isn't planned")
	}

	stale := propose()
	w.accept(t, w.quote(t, w.take(t, asked(panels(8, 10)))))
	_, err = w.AdoptPlan(ctx, boss, stale.Stamp)
	wantFault(t, err, fault.Conflict, "")

	stale = propose()
	if _, err := w.BlockTime(ctx, boss, stock.Block{Machine: "FORMER", From: w.Now(), To: w.Now().Add(time.Hour), Kind: stock.Down, Reason: "belt"}); err != nil {
		t.Fatal(err)
	}
	_, err = w.AdoptPlan(ctx, boss, stale.Stamp)
	wantFault(t, err, fault.Conflict, "")

	old := propose()
	w.pass(3 * time.Hour)
	adopted, err = w.AdoptPlan(ctx, boss, old.Stamp)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range adopted.Places {
		if p.BegunAt.IsZero() && p.Start.Before(w.Now().Truncate(time.Minute)) {
			t.Errorf("a run starts at %v, it is %v", p.Start, w.Now())
		}
	}
	for _, role := range []party.Role{party.Driver, party.Bookkeeper, party.Buyer, party.Visitor} {
		_, err := w.AdoptPlan(ctx, party.Actor{Role: role}, old.Stamp)
		wantFault(t, err, fault.Denied, "")
	}
}
