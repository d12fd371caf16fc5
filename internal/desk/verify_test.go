package desk_test

import (
	"database/sql"
	"errors"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"ribdesk/internal/books"
	"ribdesk/internal/desk"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
)

// live makes something of every kind happen in a shop.
func (w *works) live(t *testing.T) {
	t.Helper()
	ctx := t.Context()
	must[string](t)(w.AddHook(ctx, boss, "https://books.example.com/told", []string{"order.accepted", "invoice.issued"}))
	first := w.accept(t, w.quote(t, w.take(t, asked(tubes(30)))))
	must[desk.Received](t)(w.TakeDeposit(ctx, clerk, desk.MoneyIn{OrderID: first.ID, Amount: cash(4_000), Method: books.ByCash}))
	first = w.handOver(t, first)
	bill := w.invoice(t, first.ID)
	must[desk.Note](t)(w.CreditMemo(ctx, keeper, desk.MemoAsk{InvoiceID: bill.ID, Reason: "one leaked", Lines: []books.MemoLine{{ID: "1", Quantity: money.Int(1)}}}))
	must[desk.Received](t)(w.RecordPayment(ctx, keeper, desk.MoneyIn{CustomerID: tradeFirm, Amount: cash(9_000), Method: books.ByCheck, Reference: "check 8"}))
	w.invoice(t, w.delivered(t, rivalFirm, 7).ID)
	must[order.Paper](t)(w.IssueStatement(ctx, keeper, rivalFirm, time.Time{}))
	w.sheets(t, w.accept(t, w.quote(t, w.take(t, asked(panels(6, 12))))).Lines[0], 5)
	w.accept(t, w.quote(t, w.take(t, asked(panels(9, 20)))))
	if p := must[desk.Proposal](t)(w.ProposePlan(ctx, boss)); len(p.Moved) > 0 {
		must[desk.Proposal](t)(w.AdoptPlan(ctx, boss, p.Stamp))
	}
	operator := party.Actor{PersonID: 3, Name: "Demo Operator", Role: party.Operator}
	sheet := must[desk.Sheet](t)(w.Sheet(ctx, operator, "FORMER"))
	if len(sheet.Runs) == 0 || len(sheet.Runs[0].Rows) == 0 || len(sheet.Runs[0].Rows[0].Promises) == 0 {
		t.Fatal("nothing to cut")
	}
	row := sheet.Runs[0].Rows[0]
	h := &heard{}
	if err := w.TellHooks(ctx, h.send); err != nil {
		t.Fatal(err)
	}
	must[order.Order](t)(w.RecordMade(ctx, operator, desk.Made{Key: "v", LineID: row.Line.ID, CutID: row.Cuts[0].ID, CoilID: row.Promises[0].CoilID, Pieces: 2}))
}

// verified gives the checks by name.
func verified(t *testing.T, d *desk.Desk) map[string]desk.Checked {
	t.Helper()
	checks := map[string]desk.Checked{}
	if err := d.Verify(t.Context(), func(c desk.Checked) { checks[c.Name] = c }); err != nil {
		t.Fatal(err)
	}
	return checks
}

func TestVerifyIsCleanOnASoundShop(t *testing.T) {
	onBoth(t, func(t *testing.T, w *works) {
		w.live(t)
		checks := verified(t, w.Desk)
		if len(checks) != 17 {
			t.Errorf("%d checks", len(checks))
		}
		for name, c := range checks {
			if len(c.Wrong) > 0 {
				t.Errorf("%s: %v", name, c.Wrong)
			}
			if c.Count == 0 {
				t.Errorf("%s saw nothing", name)
			}
		}
	})
}

// damage is something done behind the desk's back, the check that must find it,
// and what that must name.
type damage struct {
	name  string
	do    []string
	check string
	named string
}

// damages are what can go wrong with a database behind the desk's back: each is
// done to a copy, with the database's own guards taken off, and must be found by
// the check it belongs to, which names the record.
var damages = []damage{
	{"an event is changed", []string{"UPDATE events SET person_name = 'Nobody' WHERE id = 9"}, "event log", "event 9"},
	{"an event is gone", []string{"DELETE FROM events WHERE id = 12"}, "event log", "event 13"},
	{"a reference is broken", []string{"UPDATE order_lines SET order_id = 999 WHERE id = 1"}, "database", "order_lines"},
	{"an order's number is skipped", []string{"UPDATE orders SET number = '1900' WHERE number = '1002'"}, "numbers", "1900"},
	{"an invoice is gone", []string{"DELETE FROM items WHERE number = 'INV-00002'", "DELETE FROM invoices WHERE number = 'INV-00002'"}, "numbers", "number 2 of the series “INV-”"},
	{"the counter ran on", []string{"UPDATE series SET next = next + 1 WHERE name = 'CM-'"}, "numbers", "CM-"},
	{"a ticket is gone", []string{"DELETE FROM papers WHERE kind = 'delivery-ticket' AND number = 'T1001'"}, "numbers", "ticket"},
	{"a posting is changed", []string{"UPDATE postings SET amount = amount + 1 WHERE id = 3"}, "journal", "entry 2"},
	{"both sides of an entry are changed", []string{"UPDATE postings SET amount = amount * 2 WHERE entry_no = (SELECT no FROM entries WHERE document = 'INV-00002' ORDER BY no LIMIT 1)"}, "invoices", "INV-00002"},
	{"an entry is gone", []string{"DELETE FROM postings WHERE entry_no = 4", "DELETE FROM entries WHERE no = 4"}, "journal", "entry 4"},
	{"an invoice's total is changed in its row", []string{"UPDATE invoices SET total = total + 100 WHERE number = 'INV-00001'"}, "invoices", "INV-00001"},
	{"an invoice's record is changed", []string{"UPDATE invoices SET body = replace(body, '\"subtotal\":', '\"subtotal_\":') WHERE number = 'INV-00001'"}, "invoices", "INV-00001"},
	{"a payment is taken off an item", []string{"UPDATE items SET open = open - 1 WHERE number = 'INV-00002'"}, "receivables", "INV-00002"},
	{"a credit is open again", []string{"UPDATE credits SET open = original WHERE number = 'PAY-00002'"}, "receivables", "PAY-00002"},
	{"an application is gone", []string{"DELETE FROM applications WHERE credit = 'PAY-00002'"}, "receivables", "INV-00001"},
	{"a payment is larger", []string{"UPDATE payments SET amount = amount + 1 WHERE number = 'PAY-00002'"}, "receivables", "PAY-00002"},
	{"a paper's bytes are changed", []string{"UPDATE papers SET pdf = CAST(pdf AS BLOB) || x'00' WHERE kind = 'invoice' AND number = 'INV-00001'"}, "papers", "INV-00001"},
	{"a paper's record is changed", []string{"UPDATE papers SET body = CAST(replace(CAST(body AS TEXT), 'Wren', 'Gwen') AS BLOB) WHERE kind = 'quote' AND number = '1001'"}, "papers", "quote 1001"},
	{"a paper is of an edition to come", []string{"UPDATE papers SET edition = 99 WHERE kind = 'quote' AND number = '1001'"}, "papers", "quote 1001"},
	{"an exchange file's record is changed", []string{"UPDATE papers SET body = CAST(replace(CAST(body AS TEXT), 'INV-00001', 'INV-00009') AS BLOB) WHERE kind = 'invoice-xml' AND number = 'INV-00001'"}, "papers", "invoice-xml INV-00001"},
	{"an order's price is changed", []string{"UPDATE orders SET alone = replace(alone, '\"total\":', '\"total\":{\"cents\":1,\"currency\":\"USD\"},\"was\":') WHERE number = '1001'"}, "prices", "order 1001"},
	{"a line's price is changed", []string{"UPDATE order_lines SET amount = amount + 1 WHERE id = 1"}, "prices", "line 1"},
	{"a total in the lists is changed", []string{"UPDATE orders SET total = total + 1 WHERE number = '1002'"}, "order totals", "order 1002"},
	{"an order jumps a state", []string{"UPDATE orders SET state = 'closed' WHERE number = '1002'"}, "order states", "order 1002"},
	{"a movement is changed", []string{"UPDATE movements SET length = length + 1 WHERE kind = 'received' AND coil_id = 1"}, "coil ledgers", "its ledger begins"},
	{"a coil is cut below nothing", []string{"INSERT INTO movements (coil_id, kind, length, reason, line_id, pieces, made_at, made_by) SELECT 2, 'scrap', -original - 1, 'gone', NULL, 0, '2026-03-02 12:00:00+00:00', 'x' FROM coils WHERE id = 2"}, "coil ledgers", "coil "},
	{"a pile's movement is changed", []string{"UPDATE pile_movements SET sheets = sheets + 1 WHERE kind = 'received'"}, "sheet ledgers", "its ledger begins"},
	{"a sheet is cut for nobody", []string{"INSERT INTO pile_movements (pile_id, kind, sheets, reason, made_at, made_by) VALUES (1, 'cut', -1, 'gone', '2026-03-02 12:00:00+00:00', 'x')"}, "sheet ledgers", "no order has a piece of it"},
	{"more is promised than there is", []string{"UPDATE reservations SET length = length * 100000 WHERE id = (SELECT MIN(id) FROM reservations WHERE length > 0)"}, "coil ledgers", "are promised of"},
	{"a cut record is gone", []string{"DELETE FROM cut_records WHERE key = 'v'"}, "cut records", "line 1"},
	{"two runs stand on one machine at once", []string{"UPDATE placed SET change_at = (SELECT MIN(change_at) FROM placed), starts_at = (SELECT MIN(starts_at) FROM placed)"}, "run plan", "before the run before it ends"},
	{"a run stands on no machine", []string{"UPDATE placed SET machine = 'NONE' WHERE line_id = (SELECT MIN(line_id) FROM placed)"}, "run plan", "NONE"},
	{"an accepted quote is swapped", []string{"UPDATE orders SET accepted = replace(accepted, '\"hash\":\"', '\"hash\":\"f') WHERE number = '1001'"}, "references", "order 1001"},
	{"a bundle holds another order's pieces", []string{"UPDATE bundles SET items = replace(items, '\"line_id\":1', '\"line_id\":77') WHERE id = 1"}, "references", "bundle B1001-1"},
	{"a deposit's order is another", []string{"UPDATE credits SET order_no = '4711' WHERE number = 'PAY-00001'"}, "references", "4711"},
}

func TestVerifyFindsAndNamesEachDamage(t *testing.T) {
	w := newWorks(t)
	w.live(t)
	w.findsDamages(t, damages)
}

// A paper that an earlier edition printed keeps its bytes, and isn't held to what
// it would print to today: a program that prints otherwise finds nothing wrong.
func TestVerifyKnowsEarlierEditions(t *testing.T) {
	w := newWorks(t)
	w.live(t)
	path := filepath.Join(t.TempDir(), "copy.db")
	if err := w.store.Backup(t.Context(), path); err != nil {
		t.Fatal(err)
	}
	tamper(t, path, []string{"UPDATE papers SET edition = 1, body = CAST(replace(CAST(body AS TEXT), 'Wren', 'Gwen') AS BLOB) WHERE kind = 'quote' AND number = '1001'"})
	s, err := store.Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	var papers desk.Checked
	if err := desk.New(s, desk.Options{Now: w.clock.Now}).VerifyOnly(t.Context(), "papers", func(c desk.Checked) { papers = c }); err != nil {
		t.Fatal(err)
	}
	if len(papers.Wrong) > 0 || len(papers.Notes) != 1 || !strings.Contains(papers.Notes[0], "earlier edition") {
		t.Errorf("wrong %v, notes %v", papers.Wrong, papers.Notes)
	}
}

// findsDamages does each damage to a copy of the shop's database.
func (w *works) findsDamages(t *testing.T, damages []damage) {
	t.Helper()
	sound := filepath.Join(t.TempDir(), "sound.db")
	if err := w.store.Backup(t.Context(), sound); err != nil {
		t.Fatal(err)
	}
	image, err := os.ReadFile(sound)
	if err != nil {
		t.Fatal(err)
	}
	for _, damage := range damages {
		t.Run(damage.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "copy.db")
			if err := os.WriteFile(path, image, 0o600); err != nil {
				t.Fatal(err)
			}
			tamper(t, path, damage.do)
			s, err := store.Open(t.Context(), path)
			if err != nil {
				t.Fatal(err)
			}
			defer s.Close()
			checks := map[string]desk.Checked{}
			if err := desk.New(s, desk.Options{Now: w.clock.Now}).VerifyOnly(t.Context(), damage.check, func(c desk.Checked) { checks[c.Name] = c }); err != nil {
				t.Fatal(err)
			}
			if wrong := strings.Join(checks[damage.check].Wrong, "\n"); !strings.Contains(wrong, damage.named) {
				t.Errorf("%s says %q, which doesn't name %q; all: %v", damage.check, wrong, damage.named, checks)
			}
		})
	}
}

// P4, F8: what was issued, posted or logged refuses UPDATE and DELETE, whoever has
// the database in hand: each table that the migrations say is never changed.
func TestIssuedNeverChanges(t *testing.T) {
	w := newWorks(t)
	w.live(t)
	files, err := filepath.Glob("../store/migrations/*.sql")
	if err != nil {
		t.Fatal(err)
	}
	var tables []string
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range regexp.MustCompile(`{{appendOnly "(\w+)"}}`).FindAllStringSubmatch(string(text), -1) {
			tables = append(tables, m[1])
		}
	}
	for _, must := range []string{"papers", "invoices", "memos", "payments", "entries", "postings", "applications", "events", "movements"} {
		if !slices.Contains(tables, must) {
			t.Errorf("%s may be changed", must)
		}
	}
	db, err := sql.Open("sqlite", "file:"+w.path+"?_pragma=busy_timeout(5000)")
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	held := 0
	for _, table := range tables {
		var rows, guards int
		var column string
		err := errors.Join(db.QueryRow("SELECT COUNT(*) FROM "+table).Scan(&rows),
			db.QueryRow("SELECT COUNT(*) FROM sqlite_master WHERE type = 'trigger' AND tbl_name = ?", table).Scan(&guards),
			db.QueryRow("SELECT name FROM pragma_table_info(?) LIMIT 1", table).Scan(&column))
		if err != nil || guards != 2 {
			t.Errorf("%s: %d guards, %v", table, guards, err)
		}
		if rows == 0 {
			continue
		}
		held++
		for _, change := range []string{"UPDATE " + table + " SET " + column + " = " + column, "DELETE FROM " + table} {
			if _, err := db.Exec(change); err == nil || !strings.Contains(err.Error(), "never changed") {
				t.Errorf("%s: %v", change, err)
			}
		}
	}
	if held < 10 {
		t.Errorf("only %d of %d tables had anything in them", held, len(tables))
	}
}

// tamper changes a database past its guards.
func tamper(t *testing.T, path string, statements []string) {
	t.Helper()
	db, err := sql.Open("sqlite", "file:"+path+"?_pragma=foreign_keys(0)&_pragma=ignore_check_constraints(1)")
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	rows, err := db.Query("SELECT name FROM sqlite_master WHERE type = 'trigger'")
	if err != nil {
		t.Fatal(err)
	}
	var triggers []string
	for rows.Next() {
		var name string
		if err := rows.Scan(&name); err != nil {
			t.Fatal(err)
		}
		triggers = append(triggers, name)
	}
	if err := rows.Err(); err != nil {
		t.Fatal(err)
	}
	for _, name := range triggers {
		if _, err := db.Exec("DROP TRIGGER " + name); err != nil {
			t.Fatal(err)
		}
	}
	for _, s := range statements {
		done, err := db.Exec(s)
		if err != nil {
			t.Fatalf("%s: %v", s, err)
		}
		if n, err := done.RowsAffected(); err != nil || n == 0 && !strings.HasPrefix(s, "DROP ") {
			t.Fatalf("%s changed nothing", s)
		}
	}
}
