package desk_test

import (
	"testing"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
)

// A quote holds its price, not its hours: when others take them first, its
// customer sees the later date before they accept it, and gets that one.
func TestAcceptedWhenHoursAreGone(t *testing.T) {
	w := newWorks(t)
	mine := w.quote(t, w.take(t, asked(panels(40, 20))))
	was := mine.Order.Promise
	if f := w.file(t, mine.Order); !f.Ready.Equal(was) {
		t.Fatalf("right after the quote for %v it can be ready by %v", was, f.Ready)
	}

	// Those who come later and accept first, until the hours are gone.
	for range 12 {
		w.accept(t, w.quote(t, w.take(t, asked(panels(120, 30)))))
	}
	f := w.file(t, mine.Order)
	if !f.Ready.After(was) {
		t.Fatalf("a day's work was accepted meanwhile and it can still be ready by %v", f.Ready)
	}
	shown := yes
	shown.Ready = was
	_, err := w.AcceptOrder(t.Context(), clerk, mine.Order.ID, mine.Order.Version, shown)
	if !fault.Is(err, fault.Conflict) {
		t.Fatalf("a date that nobody saw was accepted: %v", err)
	}
	if o := w.order(t, mine.Order.ID); o.State != order.Quoted || !o.Promise.Equal(was) {
		t.Errorf("the refused acceptance left %s, promised %v", o.State, o.Promise)
	}

	shown.Ready = f.Ready
	o, err := w.AcceptOrder(t.Context(), clerk, mine.Order.ID, mine.Order.Version, shown)
	if err != nil || o.Promise.After(f.Ready) || o.Promise.Before(was) {
		t.Fatalf("accepted for %v: promised %v, %v", f.Ready, o.Promise, err)
	}
	w.plan(t)
	plan, err := w.RunPlan(t.Context(), w.Now(), w.Now().AddDate(0, 0, 30))
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range plan.Runs {
		if r.Late() {
			t.Errorf("the plan breaks a promise that was made: %+v", r.Lines)
		}
	}
}

// What is hauled has to be cut the day before its noon.
func TestHauledIsCutTheDayBefore(t *testing.T) {
	w := newWorks(t)
	o := w.hauled(t, "1 Flange Way", 12, order.Haul, panels(20, 12))
	w.plan(t)
	day, err := w.OrderFile(t.Context(), party.System, o.ID)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range day.Places {
		if end := day.Order.Promise.Add(-12 * time.Hour); p.End.After(end) {
			t.Errorf("cut until %v, promised for %v", p.End, day.Order.Promise)
		}
	}
	if len(day.Places) == 0 || day.Order.Promise.In(time.FixedZone("", -6*3600)).Hour() != 12 {
		t.Errorf("%d places, promised for %v", len(day.Places), day.Order.Promise)
	}
}
