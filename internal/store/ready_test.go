package store_test

import (
	"errors"
	"testing"
	"time"

	"ribdesk/internal/store"
	"ribdesk/internal/store/storetest"
)

// Being ready is found out by writing, which leaves no line in the log and costs
// no more than a write a second.
func TestReady(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		statements := 0
		s.Probe = func() error { statements++; return nil }
		stamp := func() (id int64) {
			t.Helper()
			if err := s.Read(t.Context(), func(tx *store.Tx) (err error) { id, err = tx.Stamp(); return err }); err != nil {
				t.Fatal(err)
			}
			return id
		}
		before := stamp()
		statements = 0
		for range 5 {
			if err := s.Ready(t.Context()); err != nil {
				t.Fatal(err)
			}
		}
		if statements == 0 || statements > 2 {
			t.Errorf("%d statements for five questions in a second", statements)
		}
		if after := stamp(); after != before {
			t.Errorf("the log grew from %d to %d", before, after)
		}
	})
}

func TestNotReady(t *testing.T) {
	s := storetest.Open(t)
	full := errors.New("the disk is full")
	s.Probe = func() error { return full }
	if err := s.Ready(t.Context()); !errors.Is(err, full) {
		t.Errorf("ready although writing fails: %v", err)
	}
	s.Probe = nil
	time.Sleep(1050 * time.Millisecond)
	if err := s.Ready(t.Context()); err != nil {
		t.Errorf("not ready although writing works: %v", err)
	}
}

// The size of a database is known wherever it is; SQLite's log beside it has one
// while the store is open.
func TestSize(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		bytes, log, err := s.Size(t.Context())
		if err != nil || bytes < 4096 || store.OnSQLite(s) != (log > 0) {
			t.Errorf("%d bytes, a log of %d, %v", bytes, log, err)
		}
	})
}
