package desk_test

import (
	"testing"
	"time"

	"ribdesk/internal/desk"
	"ribdesk/internal/order"
)

// dayRuns gives a shop with charcoal on Monday, bronze held on Tuesday and white
// held on Thursday, two changes of coil of 14 minutes in all.
func dayRuns(t *testing.T) *works {
	t.Helper()
	w := newWorks(t)
	w.pass(-7 * time.Hour) // midnight: nothing is too near
	w.accept(t, w.quote(t, w.take(t, asked(panels(40, 12)))))
	bronzes := w.accept(t, w.quote(t, w.take(t, asked(with(panels(40, 12), bronze)))))
	whites := w.accept(t, w.quote(t, w.take(t, asked(with(panels(40, 12), white)))))
	w.adopt(t, desk.PlanChange{})
	for day, o := range map[int]order.Order{3: bronzes, 5: whites} {
		if _, err := w.MovePromise(t.Context(), boss, o.ID, 0, o.Promise.AddDate(0, 0, 5), "the site isn't ready"); err != nil {
			t.Fatal(err)
		}
		w.adopt(t, desk.PlanChange{Move: &desk.RunMove{Line: o.Lines[0].ID, At: time.Date(2026, 3, day, 9, 0, 0, 0, w.Now().Location())}})
	}
	return w
}

// White on Monday costs a change between charcoal and bronze, from Tuesday noon
// on it rides along: what waiting saves is what the order costs when it is asked
// for by then, and the plan gains just the minutes that were said.
func TestWaitingSavesWhatItSays(t *testing.T) {
	o := asked(with(panels(6, 12), white))
	for n, want := range []struct {
		minutes int64 // of changeover that the plan takes then
		saves   int64
	}{{42, 0}, {28, 14}} {
		w := dayRuns(t)
		ask, err := w.Ask(t.Context(), clerk, o)
		if err != nil {
			t.Fatal(err)
		}
		if len(ask.Offers) != 2 || ask.Earliest.ExtraMinutes != 14 || ask.Cheapest.ExtraMinutes != 0 || !ask.Offers[0].Ready.Equal(ask.Earliest.Ready) {
			t.Fatalf("earliest %+v, cheapest %+v, offers %+v", ask.Earliest, ask.Cheapest, ask.Offers)
		}
		offer := ask.Offers[n]
		if offer.SavedMinutes != want.saves || offer.Saved.Cmp(ask.Offers[0].Total.Sub(offer.Total)) != 0 || (n > 0) != (offer.Saved.Sign() > 0) {
			t.Errorf("offered %+v", offer)
		}
		chosen := o
		chosen.WantBy = offer.By
		taken := w.take(t, chosen)
		q := w.quote(t, taken)
		best := q.Order.Alone.Total
		if shared := q.Order.Shared.Total; shared.Sign() > 0 && shared.Less(best) {
			best = shared
		}
		if best != offer.Total || !q.Order.Promise.Equal(offer.Ready) {
			t.Errorf("chosen, it costs %s and is promised for %s; offered %s for %s", best, q.Order.Promise, offer.Total, offer.Ready)
		}
		got := w.accept(t, q)
		p := w.adopt(t, desk.PlanChange{})
		if !got.Promise.Equal(offer.Ready) || p.After.Late != 0 || len(p.Slips) != 0 || p.ChangeMinutes != want.minutes {
			t.Errorf("adopted: promised %s, %d late, %d min of changeover, want %d", got.Promise, p.After.Late, p.ChangeMinutes, want.minutes)
		}
	}
}

// What is promised at the counter holds when the best plan is adopted, order
// after order, and the plan gains at most the minutes that were said.
func TestPromisesHoldInTheBestPlan(t *testing.T) {
	w := newWorks(t)
	before := w.adopt(t, desk.PlanChange{})
	for i, edit := range []func(*order.Line){white, bronze, white, func(*order.Line) {}, bronze, white} {
		o := asked(with(panels(8+7*i, 8+i), edit))
		ask, err := w.Ask(t.Context(), clerk, o)
		if err != nil {
			t.Fatal(err)
		}
		if ask.Earliest.Ready.After(ask.Cheapest.Ready) || ask.Cheapest.ExtraMinutes > ask.Earliest.ExtraMinutes {
			t.Errorf("earliest %+v, cheapest %+v", ask.Earliest, ask.Cheapest)
		}
		got := w.accept(t, w.quote(t, w.take(t, o)))
		p := w.adopt(t, desk.PlanChange{})
		if !got.Promise.Equal(ask.Cheapest.Ready) || p.After.Late != 0 {
			t.Errorf("order %d: said %s, promised %s, %d late in the best plan", i, ask.Cheapest.Ready, got.Promise, p.After.Late)
		}
		if gain := p.ChangeMinutes - before.ChangeMinutes; gain > ask.Cheapest.ExtraMinutes {
			t.Errorf("order %d: said %d min more, it took %d", i, ask.Cheapest.ExtraMinutes, gain)
		}
		before = p
	}
}
