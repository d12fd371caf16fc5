package desk_test

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"reflect"
	"testing"
	"time"

	"ribdesk/internal/desk"
	"ribdesk/internal/store"
)

// bestSearch is what stands in the database of the search for the best plan.
func (w *works) bestSearch(t *testing.T) (p store.PlanSearch) {
	t.Helper()
	change, err := json.Marshal(desk.PlanChange{})
	if err != nil {
		t.Fatal(err)
	}
	sum := sha256.Sum256(change)
	err = w.store.Read(t.Context(), func(tx *store.Tx) error {
		var found bool
		p, found, err = tx.PlanSearch(hex.EncodeToString(sum[:]))
		if !found {
			t.Error("the search isn't in the database")
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func (w *works) saveSearch(t *testing.T, p store.PlanSearch) {
	t.Helper()
	if err := w.store.Write(t.Context(), func(tx *store.Tx) error { return tx.SavePlanSearch(p) }); err != nil {
		t.Fatal(err)
	}
}

// What one server showed is adopted at another as it was shown, though time went
// by: nothing is worked out anew.
func TestPlanShownElsewhereIsAdopted(t *testing.T) {
	w := newWorks(t)
	w.accept(t, w.quote(t, w.take(t, asked(panels(8, 12)))))
	other, _ := w.another(t)
	shown, err := w.ProposePlan(t.Context(), boss)
	if err != nil {
		t.Fatal(err)
	}
	w.pass(7 * time.Minute)
	adopted, err := other.AdoptPlan(t.Context(), boss, shown.Stamp)
	if err != nil {
		t.Fatal(err)
	}
	if !adopted.At.Equal(shown.At) || !reflect.DeepEqual(adopted.Places, shown.Places) {
		t.Errorf("shown as of %s:\n%+v\nadopted as of %s:\n%+v", shown.At, shown.Places, adopted.At, adopted.Places)
	}
}

// While one server works a plan out, another waits for it, and shows it when it is
// there; when the one is gone, the other works it out, and so it does when
// something changed meanwhile.
func TestSearchIsFoundAtAnotherServer(t *testing.T) {
	w := newWorks(t)
	w.accept(t, w.quote(t, w.take(t, asked(panels(8, 12)))))
	first, err := w.ProposePlan(t.Context(), boss)
	if err != nil {
		t.Fatal(err)
	}
	search := w.bestSearch(t)
	result := search.Result
	search.Result = nil
	w.saveSearch(t, search) // as if it still went on
	w.pass(3 * time.Second)

	other, _ := w.another(t)
	if _, underway, err := other.LookForChange(t.Context(), boss, desk.PlanChange{}, 50*time.Millisecond); err != nil || underway == nil {
		t.Fatalf("it isn't waited for: %v", err)
	}
	search.Result = result
	w.saveSearch(t, search)
	p, underway, err := other.LookForChange(t.Context(), boss, desk.PlanChange{}, time.Minute)
	if err != nil || underway != nil || !p.At.Equal(first.At) || !reflect.DeepEqual(p.Places, first.Places) {
		t.Errorf("the plan of %s is shown as of %s; %+v, %v", first.At, p.At, underway, err)
	}

	search.Result = nil
	w.saveSearch(t, search)
	w.pass(10 * time.Second) // its server is gone
	another, _ := w.another(t)
	if p, err = another.ProposePlan(t.Context(), boss); err != nil || !p.At.Equal(w.Now()) {
		t.Errorf("a search that nobody works on is shown as of %s; %v", p.At, err)
	}

	search.Result = nil
	w.saveSearch(t, search)
	w.accept(t, w.quote(t, w.take(t, asked(with(panels(9, 10), white)))))
	if p, err = another.ProposePlan(t.Context(), boss); err != nil || len(p.Places) != 2 || !p.At.Equal(w.Now()) {
		t.Errorf("after another order %d lines are planned as of %s; %v", len(p.Places), p.At, err)
	}
}
