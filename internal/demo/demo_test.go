package demo_test

import (
	"testing"
	"time"

	"ribdesk/internal/demo"
	"ribdesk/internal/desk"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
	"ribdesk/internal/store/storetest"
)

func seeded(t *testing.T, day time.Time) (*desk.Desk, *store.Store) {
	t.Helper()
	now := demo.At(day)
	clock := demo.NewClock(now)
	s := storetest.Open(t)
	d := desk.New(s, desk.Options{Now: clock.Now, Random: demo.Random()})
	if _, err := demo.Seed(t.Context(), d, clock, now); err != nil {
		t.Fatal(err)
	}
	return d, s
}

func TestSeed(t *testing.T) {
	began := time.Now()
	d, s := seeded(t, time.Date(2026, 11, 25, 0, 0, 0, 0, time.UTC))
	t.Logf("seeded in %v", time.Since(began))
	counts, err := d.CountOrders(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	t.Log(counts)
	for _, state := range order.States {
		if counts[state] == 0 {
			t.Errorf("no order is %s", state)
		}
	}
	err = s.Read(t.Context(), func(tx *store.Tx) error {
		n, _, err := tx.VerifyEvents()
		t.Logf("%d events", n)
		return err
	})
	if err != nil {
		t.Error(err)
	}
	for _, a := range demo.People() {
		if a.Role == party.Buyer {
			continue
		}
	}
}
