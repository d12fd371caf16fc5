package store_test

import (
	"errors"
	"testing"

	"ribdesk/internal/party"
	"ribdesk/internal/store"
	"ribdesk/internal/store/storetest"
)

// F4: whichever statement of a write fails, nothing of it is left.
func TestFailAtEachStatement(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		broken := errors.New("broken")
		work := func(tx *store.Tx) error {
			c := customer("Ridge")
			if err := tx.AddCustomer(&c); err != nil {
				return err
			}
			site := party.Site{CustomerID: c.ID, Name: "barn"}
			if err := tx.SaveSite(&site); err != nil {
				return err
			}
			c.Phone = "1"
			if err := tx.ChangeCustomer(&c); err != nil {
				return err
			}
			return tx.Log(ann, "added", "customer", c.ID, nil)
		}
		statements := 0
		for fail := 1; ; fail++ {
			n := 0
			s.Probe = func() error {
				if n++; n == fail {
					return broken
				}
				return nil
			}
			err := s.Write(t.Context(), work)
			s.Probe = nil
			if err == nil {
				statements = n
				break
			}
			if !errors.Is(err, broken) {
				t.Fatalf("statement %d: %v", fail, err)
			}
			read(t, s, func(tx *store.Tx) error {
				list, err := tx.Customers("", 0, 10)
				events, err2 := tx.LatestEvents(10)
				if len(list)+len(events) > 0 {
					t.Errorf("statement %d left %d customers, %d events", fail, len(list), len(events))
				}
				return errors.Join(err, err2)
			})
		}
		if statements < 5 {
			t.Errorf("only %d statements were tried", statements)
		}
	})
}
