package drill_test

import (
	"encoding/json"
	"errors"
	"path/filepath"
	"sync"
	"sync/atomic"
	"testing"

	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
)

// One quote accepted by many at once, at two desks on one database: one does it.
func TestManyAccept(t *testing.T) {
	onBoth(t, func(t *testing.T, kind, url string) {
		d, s := open(t, url, desk.Options{})
		o := offered(t, d, shelfOrder())
		n := times(40, 1000)
		done := atOnce(t, url, n, func(d *desk.Desk, _ *store.Store, _ int) error {
			_, err := d.AcceptOrder(t.Context(), clerk, o.ID, o.Version, yes)
			return err
		})
		accepted := 0
		err := s.Read(t.Context(), func(tx *store.Tx) error {
			events, err := tx.Events("order", o.ID)
			for _, e := range events {
				if e.Action == string(order.Accepted) {
					accepted++
				}
			}
			return err
		})
		if err != nil || done != 1 || accepted != 1 {
			t.Errorf("%d accepts: %d done, %d in the log, %v", n, done, accepted, err)
		}
		figures.add("accepts at once, "+kind, "exactly 1", "%d accepts of one quote: %d done, %d refused", n, done, int64(n)-done)
	})
}

// F7: two people change one customer at the same time; one is refused.
func TestPairsOfEdits(t *testing.T) {
	onBoth(t, func(t *testing.T, kind, url string) {
		d, _ := open(t, url, desk.Options{})
		pairs := times(20, 500)
		for i := range pairs {
			seen, err := d.CustomerFile(t.Context(), boss, firm)
			if err != nil {
				t.Fatal(err)
			}
			var won, lost atomic.Int64
			var wg sync.WaitGroup
			for _, who := range []party.Actor{boss, clerk} {
				c := seen.Customer
				c.Phone = "555 01" + string(rune('0'+i/10%10)) + string(rune('0'+i%10))
				wg.Go(func() {
					switch _, err := d.ChangeCustomer(t.Context(), who, c); {
					case err == nil:
						won.Add(1)
					case fault.Is(err, fault.Conflict):
						lost.Add(1)
					default:
						t.Error(err)
					}
				})
			}
			wg.Wait()
			if won.Load() != 1 || lost.Load() != 1 {
				t.Fatalf("pair %d: %d won, %d lost", i, won.Load(), lost.Load())
			}
		}
		figures.add("F7 pairs of edits, "+kind, "one wins, one is told", "%d pairs, %d times one of two", pairs, pairs)
	})
}

// F7: many claim the same invoice to issue.
func TestManyClaim(t *testing.T) {
	onBoth(t, func(t *testing.T, kind, url string) {
		d, _ := open(t, url, desk.Options{})
		const claims = 50
		id := delivered(t, d)
		done := atOnce(t, url, claims, func(d *desk.Desk, _ *store.Store, _ int) error {
			_, err := d.IssueInvoice(t.Context(), keeper, desk.InvoiceAsk{OrderID: id})
			return err
		})
		if done != 1 {
			t.Errorf("%d invoices for one delivery", done)
		}
		verify(t, url)
		figures.add("F7 claims at once, "+kind, "1 wins", "%d invoices asked for one delivery: %d issued", claims, done)
	})
}

// F4: each statement of each step is made to fail in turn; after each failure the
// database holds exactly what it held before, and without it the step is done.
func TestEachStatementFails(t *testing.T) {
	ctx := t.Context()
	var total int
	for _, step := range steps() {
		t.Run(step.name, func(t *testing.T) {
			dir := t.TempDir()
			url := sqliteShop(t, dir)
			d, s := open(t, url, desk.Options{})
			id := step.before(t, d)
			if err := s.Backup(ctx, filepath.Join(dir, "before.db")); err != nil {
				t.Fatal(err)
			}
			before := contents(t, url)
			var calls, failing int64
			boom := errors.New("the disk said no")
			s.Probe = func() error {
				if atomic.AddInt64(&calls, 1) == failing {
					return boom
				}
				return nil
			}
			every := int64(times(7, 1))
			for failing = 1; ; failing += every {
				atomic.StoreInt64(&calls, 0)
				err := step.do(t, d, id)
				if failing > atomic.LoadInt64(&calls) {
					if err != nil {
						t.Fatal(err)
					}
					break
				}
				if err == nil {
					t.Fatalf("statement %d failed and the step didn't", failing)
				}
				if after := contents(t, url); after != before {
					t.Fatalf("statement %d failed (%v) and left something", failing, err)
				}
				total++
			}
			s.Probe = nil
			if contents(t, url) == before {
				t.Fatal("the step left nothing: the check shows nothing")
			}
			verify(t, url)
		})
	}
	figures.add("F4 statements failing", "all or nothing", "%d failures in order, quote, accept, made, hand over, invoice, payment: 0 half records", total)
}

type step struct {
	name   string
	before func(*testing.T, *desk.Desk) int64
	do     func(*testing.T, *desk.Desk, int64) error
}

// contents is everything in a SQLite file, to compare.
func contents(t *testing.T, path string) string {
	t.Helper()
	db := openSQL(t, path)
	defer db.Close()
	rows, err := db.QueryContext(t.Context(), "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT IN ('throttles', 'sqlite_sequence') ORDER BY name")
	if err != nil {
		t.Fatal(err)
	}
	var tables []string
	for rows.Next() {
		var name string
		if err := rows.Scan(&name); err != nil {
			t.Fatal(err)
		}
		tables = append(tables, name)
	}
	if err := rows.Err(); err != nil {
		t.Fatal(err)
	}
	all := map[string][]any{}
	for _, table := range tables {
		all[table] = dump(t, db, table)
	}
	text, err := json.Marshal(all)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}
