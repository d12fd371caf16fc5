package store_test

import (
	"testing"
	"time"

	"ribdesk/internal/store"
	"ribdesk/internal/store/storetest"
)

// A search stands in the place of the last one for the same change, and is gone
// after a day.
func TestPlanSearches(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		now := time.Date(2026, 3, 2, 14, 0, 0, 0, time.UTC)
		s.Clock = func() time.Time { return now }
		save := func(p store.PlanSearch) {
			t.Helper()
			if err := s.Write(t.Context(), func(tx *store.Tx) error { return tx.SavePlanSearch(p) }); err != nil {
				t.Fatal(err)
			}
		}
		want := func(change, problem, result string, found bool) {
			t.Helper()
			err := s.Read(t.Context(), func(tx *store.Tx) error {
				p, ok, err := tx.PlanSearch(change)
				if ok != found || p.Problem != problem || string(p.Result) != result || found && !p.Seen.Equal(now) {
					t.Errorf("%s: %+v, %v", change, p, ok)
				}
				return err
			})
			if err != nil {
				t.Fatal(err)
			}
		}
		want("a", "", "", false)
		save(store.PlanSearch{Change: "a", Problem: "p", Began: now})
		want("a", "p", "", true)
		now = now.Add(time.Second)
		save(store.PlanSearch{Change: "a", Problem: "q", Began: now, Result: []byte("{}")})
		want("a", "q", "{}", true)
		now = now.Add(25 * time.Hour)
		save(store.PlanSearch{Change: "b", Problem: "p", Began: now})
		want("a", "", "", false)
		want("b", "p", "", true)
		if err := s.Write(t.Context(), func(tx *store.Tx) error { return tx.DropPlanSearch("b") }); err != nil {
			t.Fatal(err)
		}
		want("b", "", "", false)
	})
}
