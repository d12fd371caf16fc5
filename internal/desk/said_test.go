package desk_test

import (
	"encoding/json"
	"testing"

	"ribdesk/internal/order"
)

// An ask that was just answered is kept with that answer: with the figures that a
// desk which was never asked works out, and with lines of its own each time.
func TestKeptAsAsked(t *testing.T) {
	w := newWorks(t)
	fresh, _ := w.another(t)
	o := func() order.Order { return asked(panels(20, 12), ridge(4), tubes(3)) }
	said, err := w.Ask(t.Context(), clerk, o())
	if err != nil {
		t.Fatal(err)
	}
	again, err := w.Ask(t.Context(), clerk, o())
	if err != nil || len(again.Offers) != len(said.Offers) || !again.Earliest.Ready.Equal(said.Earliest.Ready) {
		t.Errorf("asked twice, offers %v and %v, %v", said.Offers, again.Offers, err)
	}
	unasked, err := fresh.TakeOrder(t.Context(), clerk, o())
	if err != nil {
		t.Fatal(err)
	}
	want := figuresOf(t, unasked)
	seen := map[int64]bool{}
	for range 2 {
		kept := w.take(t, o())
		if got := figuresOf(t, kept); got != want {
			t.Errorf("kept as\n%s\nwithout an ask before it as\n%s", got, want)
		}
		for _, l := range kept.Lines {
			for _, c := range l.Cuts {
				if seen[l.ID] && len(l.Cuts) == 1 || c.ID == 0 {
					t.Errorf("line %d of order %s is another's, or cut %d no row", l.ID, kept.Number, c.ID)
				}
			}
			seen[l.ID] = true
		}
	}
	for _, l := range said.Order.Lines {
		if l.ID != 0 || len(l.Cuts) > 0 && l.Cuts[0].ID != 0 {
			t.Errorf("the answer was changed when the order was kept: %+v", l)
		}
	}
	if other, err := w.Ask(t.Context(), clerk, asked(panels(21, 12), ridge(4), tubes(3))); err != nil || other.Quote.Alone.Total.Cmp(said.Quote.Alone.Total) <= 0 {
		t.Errorf("a panel more costs %s after %s, %v", other.Quote.Alone.Total, said.Quote.Alone.Total, err)
	}
}

// figuresOf is what pricing wrote into an order, as text.
func figuresOf(t *testing.T, o order.Order) string {
	t.Helper()
	lines := append([]order.Line(nil), o.Lines...)
	for i := range lines {
		lines[i].ID, lines[i].Cuts = 0, nil
	}
	text, err := json.Marshal([]any{o.Alone, o.Shared, o.Promise, string(o.PriceJSON), lines})
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}
