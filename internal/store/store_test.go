package store_test

import (
	"context"
	"errors"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
	"ribdesk/internal/store/storetest"
)

var ann = party.Actor{PersonID: 1, Name: "Ann", Role: party.Owner}

// write runs a transaction that must succeed.
func write(t *testing.T, s *store.Store, fn func(*store.Tx) error) {
	t.Helper()
	if err := s.Write(t.Context(), fn); err != nil {
		t.Fatal(err)
	}
}

func read(t *testing.T, s *store.Store, fn func(*store.Tx) error) {
	t.Helper()
	if err := s.Read(t.Context(), fn); err != nil {
		t.Fatal(err)
	}
}

func wantKind(t *testing.T, err error, kind fault.Kind) {
	t.Helper()
	if !fault.Is(err, kind) {
		t.Fatalf("got %v (%v), want %v", err, fault.KindOf(err), kind)
	}
}

func customer(name string) party.Customer {
	return party.Customer{
		Name: name, Class: "trade", Email: "desk@example.com", Phone: "555 0100",
		Billing:     party.Address{Street: "1 Mill Rd", City: "Eastfork", State: "OH", Postal: "45000", Country: "US"},
		Terms:       party.Terms{NetDays: 30, DiscountDays: 10, Discount: money.Must("0.02")},
		CreditLimit: money.Cents(500_000_00, money.USD), Language: "en", Style: measure.Style("feet-inches"),
	}
}

func TestCustomerRoundTrip(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		c := customer("Ridge & Sons 100%")
		write(t, s, func(tx *store.Tx) error { return tx.AddCustomer(&c) })
		site := party.Site{CustomerID: c.ID, Name: "barn", Address: c.Billing, AccessNotes: "gate code at desk", MilesTenths: 125}
		cert := party.Certificate{CustomerID: c.ID, Number: "R-1", State: "OH", Goods: "metal", Signed: day("2026-01-02"), Expires: day("2027-01-01")}
		write(t, s, func(tx *store.Tx) error {
			return errors.Join(tx.SaveSite(&site), tx.SaveCertificate(&cert))
		})
		read(t, s, func(tx *store.Tx) error {
			got, err := tx.Customer(c.ID)
			if err != nil {
				return err
			}
			if got.Terms.String() != "2/10 net 30" || got.CreditLimit != c.CreditLimit || got.Billing != c.Billing || !got.CreatedAt.Equal(tx.Now()) && got.CreatedAt.IsZero() {
				t.Errorf("customer came back as %+v", got)
			}
			sites, err := tx.Sites(c.ID)
			if err != nil || len(sites) != 1 || sites[0] != site {
				t.Errorf("sites %+v, %v", sites, err)
			}
			certs, err := tx.Certificates(c.ID)
			if err != nil || len(certs) != 1 || certs[0] != cert {
				t.Errorf("certificates %+v, %v", certs, err)
			}
			return nil
		})
	})
}

func TestCustomerSearch(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		write(t, s, func(tx *store.Tx) error {
			for _, name := range []string{"Ábel Roofing", "Beam 100% Metal", "Beam_100x Metal", `C:\ Gutter`} {
				c := customer(name)
				if err := tx.AddCustomer(&c); err != nil {
					return err
				}
			}
			return nil
		})
		for _, c := range []struct {
			search string
			want   int
		}{{"", 4}, {"beam", 2}, {"100%", 1}, {"beam_", 1}, {`c:\`, 1}, {"ÁBEL", 1}, {"eastfork", 4}, {"' OR 1=1 --", 0}} {
			read(t, s, func(tx *store.Tx) error {
				got, err := tx.Customers(c.search, 0, 10)
				if len(got) != c.want {
					t.Errorf("search %q: %d customers, want %d", c.search, len(got), c.want)
				}
				return err
			})
		}
	})
}

func TestSecondChangeIsRefusedAndNamesTheFirst(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		c := customer("Ridge")
		write(t, s, func(tx *store.Tx) error { return tx.AddCustomer(&c) })
		mine, theirs := c, c
		theirs.Phone = "555 0199"
		write(t, s, func(tx *store.Tx) error {
			return errors.Join(tx.ChangeCustomer(&theirs), tx.Log(ann, "changed", "customer", c.ID, nil))
		})
		err := s.Write(t.Context(), func(tx *store.Tx) error { return tx.ChangeCustomer(&mine) })
		wantKind(t, err, fault.Conflict)
		if got := err.Error(); got[:len("this customer was changed meanwhile by Ann")] != "this customer was changed meanwhile by Ann" {
			t.Errorf("said %q", got)
		}
		mine.ID = 999
		wantKind(t, s.Write(t.Context(), func(tx *store.Tx) error { return tx.ChangeCustomer(&mine) }), fault.NotFound)
	})
}

func TestRefusals(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		add := func(p party.Person) error {
			return s.Write(t.Context(), func(tx *store.Tx) error { return tx.AddPerson(&p) })
		}
		if err := add(party.Person{Name: "Ann", Email: "Ann@example.com", Role: party.Owner}); err != nil {
			t.Fatal(err)
		}
		err := add(party.Person{Name: "Ann 2", Email: "ann@EXAMPLE.com", Role: party.Owner})
		wantKind(t, err, fault.Conflict)
		if f := fault.All(err)[0]; f.Field != "email" {
			t.Errorf("the duplicate is at field %q", f.Field)
		}
		wantKind(t, add(party.Person{Name: "Bo", Email: "bo@example.com", Role: party.Buyer, CustomerID: 77}), fault.Conflict)
		wantKind(t, s.Read(t.Context(), func(tx *store.Tx) error { _, err := tx.Person(99); return err }), fault.NotFound)
		err = s.Read(t.Context(), func(tx *store.Tx) error { return tx.AddPerson(&party.Person{Name: "No", Email: "no@example.com"}) })
		wantKind(t, err, fault.Storage)
	})
}

func TestFailedWriteLeavesNothing(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		boom := errors.New("boom")
		c := customer("Ridge")
		err := s.Write(t.Context(), func(tx *store.Tx) error {
			return errors.Join(tx.AddCustomer(&c), tx.Log(ann, "added", "customer", c.ID, nil), boom)
		})
		if !errors.Is(err, boom) {
			t.Fatalf("got %v", err)
		}
		read(t, s, func(tx *store.Tx) error {
			got, err := tx.Customers("", 0, 10)
			events, err2 := tx.LatestEvents(10)
			if len(got)+len(events) != 0 {
				t.Errorf("left %d customers and %d events", len(got), len(events))
			}
			return errors.Join(err, err2)
		})
	})
}

// A counter raised by many at once: each write must see the one before it.
func TestWritesRunOneAtATime(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		c := customer("Ridge")
		write(t, s, func(tx *store.Tx) error { return tx.AddCustomer(&c) })
		const workers, rounds = 8, 20
		var wg sync.WaitGroup
		errs := make(chan error, workers*rounds)
		for range workers {
			wg.Go(func() {
				for range rounds {
					errs <- s.Write(context.Background(), func(tx *store.Tx) error {
						now, err := tx.Customer(c.ID)
						if err != nil {
							return err
						}
						now.Terms.NetDays++
						return errors.Join(tx.ChangeCustomer(&now), tx.Log(ann, "changed", "customer", c.ID, nil))
					})
				}
			})
		}
		wg.Wait()
		close(errs)
		for err := range errs {
			if err != nil {
				t.Fatal(err)
			}
		}
		read(t, s, func(tx *store.Tx) error {
			got, err := tx.Customer(c.ID)
			if want := c.Terms.NetDays + workers*rounds; got.Terms.NetDays != want || got.Version != 1+workers*rounds {
				t.Errorf("counted to %d, want %d (version %d)", got.Terms.NetDays, want, got.Version)
			}
			if n, _, err := tx.VerifyEvents(); n != workers*rounds || err != nil {
				t.Errorf("log of %d: %v", n, err)
			}
			return err
		})
	})
}

func TestReadSeesOneMoment(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		c := customer("Ridge")
		write(t, s, func(tx *store.Tx) error { return tx.AddCustomer(&c) })
		read(t, s, func(tx *store.Tx) error {
			before, err := tx.Customers("", 0, 10)
			if err != nil {
				return err
			}
			other := customer("Second")
			write(t, s, func(tx *store.Tx) error { return tx.AddCustomer(&other) })
			after, err := tx.Customers("", 0, 10)
			if len(before) != 1 || len(after) != 1 {
				t.Errorf("saw %d, then %d customers", len(before), len(after))
			}
			return err
		})
	})
}

func TestTimesCompareInTheDatabase(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		base := time.Date(2026, 3, 8, 6, 59, 59, 0, time.UTC) // beside a change to summer time in the US
		p := party.Person{Name: "Ann", Email: "a@example.com", Role: party.Owner}
		write(t, s, func(tx *store.Tx) error { return tx.AddPerson(&p) })
		zone := time.FixedZone("east", 5*3600)
		steps := []time.Duration{0, 500 * time.Millisecond, 550 * time.Millisecond, time.Second, 25 * time.Hour}
		for i, d := range steps {
			s.Clock = func() time.Time { return base.Add(d).In(zone) }
			write(t, s, func(tx *store.Tx) error {
				return tx.AddSession(&store.Session{TokenHash: string(rune('a' + i)), PersonID: p.ID})
			})
		}
		for i, d := range steps {
			write(t, s, func(tx *store.Tx) error { return tx.ForgetSessions(base.Add(d), time.Time{}) })
			read(t, s, func(tx *store.Tx) error {
				left, err := tx.Sessions(p.ID)
				if len(left) != len(steps)-i || !left[len(left)-1].SeenAt.Equal(base.Add(d)) {
					t.Errorf("after forgetting before +%v: %d sessions left", d, len(left))
				}
				return err
			})
		}
	})
}

func TestEventsCantBeChanged(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		ctx := store.WithRequest(t.Context(), "req-1")
		for i := range 5 {
			err := s.Write(ctx, func(tx *store.Tx) error {
				return tx.Log(ann, "added", "customer", int64(i), map[string]any{"name": "Ridge"})
			})
			if err != nil {
				t.Fatal(err)
			}
		}
		changes := []string{"UPDATE events SET person_name = 'Bo' WHERE id = 3", "DELETE FROM events WHERE id = 3"}
		if store.OnSQLite(s) {
			changes = append(changes, "INSERT OR REPLACE INTO events SELECT * FROM events WHERE id = 3")
		} else {
			changes = append(changes, "TRUNCATE events CASCADE")
		}
		for _, sql := range changes {
			wantKind(t, store.Exec(s, sql), fault.Conflict)
		}
		read(t, s, func(tx *store.Tx) error {
			events, err := tx.Events("customer", 2)
			if len(events) != 1 || events[0].RequestID != "req-1" || string(events[0].Detail) != `{"name":"Ridge"}` {
				t.Errorf("events %+v", events)
			}
			return err
		})
	})
}

// F19: whatever is done to one row of the log, the check names the place.
func TestVerifyNamesTheChangedEvent(t *testing.T) {
	tampering := map[string]string{
		"changed": "UPDATE events SET detail = '{}' WHERE id = 3",
		"removed": "DELETE FROM events WHERE id = 2",
		"moved":   "UPDATE events SET at = '2020-01-01 00:00:00+00:00' WHERE id = 3",
	}
	for name, sql := range tampering {
		t.Run(name, func(t *testing.T) {
			s := storetest.Open(t)
			for i := range 5 {
				write(t, s, func(tx *store.Tx) error { return tx.Log(ann, "added", "customer", int64(i), "x") })
			}
			for _, q := range []string{"DROP TRIGGER events_no_update", "DROP TRIGGER events_no_delete", sql} {
				if err := store.Exec(s, q); err != nil {
					t.Fatal(err)
				}
			}
			err := s.Read(t.Context(), func(tx *store.Tx) error { _, _, err := tx.VerifyEvents(); return err })
			wantKind(t, err, fault.Conflict)
			if got := err.Error(); got[:len("event 3")] != "event 3" {
				t.Errorf("said %q", got)
			}
		})
	}
}

func TestKeyIsSpentOnce(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		key := store.Key{Scope: "person 1", Value: "k", BodyHash: "h"}
		add := func(k store.Key) error {
			return s.Write(store.WithKey(context.Background(), k), func(tx *store.Tx) error {
				c := customer("Ridge")
				return errors.Join(tx.AddCustomer(&c), tx.Log(ann, "added", "customer", c.ID, nil))
			})
		}
		var wg sync.WaitGroup
		errs := make(chan error, 10)
		for range 10 {
			wg.Go(func() { errs <- add(key) })
		}
		wg.Wait()
		close(errs)
		done := 0
		for err := range errs {
			var replay store.Replay
			switch {
			case err == nil:
				done++
			case !errors.As(err, &replay):
				t.Errorf("got %v", err)
			case replay.Answer.SubjectKind != "customer" || replay.Answer.SubjectID == 0:
				t.Errorf("replay tells of %+v", replay.Answer)
			}
		}
		if done != 1 {
			t.Fatalf("done %d times", done)
		}
		write(t, s, func(tx *store.Tx) error { return tx.KeepAnswer(key, 303, "/customers/1", nil) })
		read(t, s, func(tx *store.Tx) error {
			a, err := tx.AnswerTo(key)
			if a == nil || a.Status != 303 || a.Location != "/customers/1" {
				t.Errorf("kept %+v", a)
			}
			return err
		})
		other := key
		other.BodyHash = "h2"
		wantKind(t, add(other), fault.Invalid)
		other.Scope = "person 2"
		if err := add(other); err != nil {
			t.Errorf("another person's key: %v", err)
		}
	})
}

// A write that failed must not spend the key: the same form can be sent again.
func TestFailedWriteKeepsTheKey(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		boom := errors.New("boom")
		ctx := func() context.Context {
			return store.WithKey(context.Background(), store.Key{Scope: "v", Value: "k", BodyHash: "h"})
		}
		log := func(tx *store.Tx) error { return tx.Log(ann, "added", "customer", 1, nil) }
		if err := s.Write(ctx(), func(tx *store.Tx) error { return errors.Join(log(tx), boom) }); !errors.Is(err, boom) {
			t.Fatal(err)
		}
		if err := s.Write(ctx(), log); err != nil {
			t.Fatal(err)
		}
	})
}

func TestTries(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		now := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
		s.Clock = func() time.Time { return now }
		try := func() (n int64) {
			write(t, s, func(tx *store.Tx) (err error) { n, _, err = tx.Try("a", time.Minute); return err })
			return n
		}
		for i := range 3 {
			if got := try(); got != int64(i+1) {
				t.Fatalf("try %d counted as %d", i+1, got)
			}
		}
		now = now.Add(time.Minute)
		if got := try(); got != 1 {
			t.Errorf("a new window starts at %d", got)
		}
		now = now.Add(-time.Hour)
		if got := try(); got != 1 {
			t.Errorf("after the clock went back: %d", got)
		}
	})
}

func TestOpenRefuses(t *testing.T) {
	for _, url := range []string{"", "mysql://x/y", "file::memory:", filepath.Join(t.TempDir(), "no", "such", "folder", "x.db"), "postgres://nobody@127.0.0.1:1/none?connect_timeout=1"} {
		s, err := store.Open(t.Context(), url)
		if err == nil {
			s.Close()
			t.Errorf("opened %q", url)
		}
	}
}

func TestNewerSchemaIsRefused(t *testing.T) {
	path := filepath.Join(t.TempDir(), "x.db")
	s, err := store.Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	if err := store.Exec(s, "INSERT INTO schema_versions VALUES (9999, 'future', '2030-01-01')"); err != nil {
		t.Fatal(err)
	}
	s.Close()
	_, err = store.Open(t.Context(), path)
	wantKind(t, err, fault.Conflict)
}

func TestPathWithOddCharacters(t *testing.T) {
	path := filepath.Join(t.TempDir(), "50% off? #1.db")
	s, err := store.Open(t.Context(), "sqlite:"+path)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if err := store.CheckFile(t.Context(), path); err != nil {
		t.Fatal(err)
	}
}

func day(s string) time.Time {
	d, err := time.Parse("2006-01-02", s)
	if err != nil {
		panic(err)
	}
	return d
}
