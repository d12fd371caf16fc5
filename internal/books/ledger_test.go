package books_test

import (
	"bytes"
	"encoding/csv"
	"flag"
	"os"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"ribdesk/internal/books"
	"ribdesk/internal/fault"
	"ribdesk/internal/money"
	"ribdesk/internal/party"
)

var update = flag.Bool("update", false, "write the golden files again")

func TestEntryRefusesWhatDoesNotBalance(t *testing.T) {
	h := books.Head{Day: day("2026-03-02"), Document: "X-1"}
	cases := []struct {
		name, field string
		postings    []books.Posting
	}{
		{"off by a cent", "postings", []books.Posting{books.Dr(books.Cash, usd(100)), books.Cr(books.Unapplied, usd(99))}},
		{"nothing", "postings", nil},
		{"cancels out", "postings", []books.Posting{books.Dr(books.Cash, usd(100)), books.Cr(books.Cash, usd(100))}},
		{"outside the chart", "account", []books.Posting{books.Dr("9999", usd(1)), books.Cr(books.Cash, usd(1))}},
		{"sales without a group", "account", []books.Posting{books.Dr(books.Cash, usd(1)), books.Cr("4000", usd(1))}},
		{"name where none belongs", "account", []books.Posting{books.Dr("1000:x", usd(1)), books.Cr(books.Unapplied, usd(1))}},
		{"two currencies", "postings", []books.Posting{books.Dr(books.Cash, money.Cents(1, "CAD")), books.Cr(books.Unapplied, usd(1))}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			_, err := books.NewEntry(h, c.postings...)
			refused(t, err, fault.Invalid, c.field)
		})
	}
	_, err := books.NewEntry(books.Head{}, books.Dr(books.Cash, usd(1)), books.Cr(books.Unapplied, usd(1)))
	refused(t, err, fault.Invalid, "day")
}

func TestEntryBalancesOrDoesNotExist(t *testing.T) {
	accounts := append(books.Chart(), books.Sales("panels"), books.SalesTax("State"))
	rapid.Check(t, func(t *rapid.T) {
		var ps []books.Posting
		for range rapid.IntRange(0, 8).Draw(t, "n") {
			ps = append(ps, books.Posting{Account: rapid.SampledFrom(accounts).Draw(t, "account"), Amount: usd(rapid.Int64Range(-3, 3).Draw(t, "cents"))})
		}
		e, err := books.NewEntry(books.Head{Day: day("2026-03-02")}, ps...)
		debit, credit := usd(0), usd(0)
		for _, p := range e.Postings() {
			debit, credit = debit.Add(p.Debit()), credit.Add(p.Credit())
		}
		if debit != credit || (err == nil) != (debit.Sign() > 0) {
			t.Fatalf("%s: debits %s, credits %s, %v", e, debit, credit, err)
		}
		if err != nil {
			return
		}
		back, err := e.Reverse(day("2026-03-03"), "typed twice")
		if err != nil {
			t.Fatal(err)
		}
		for _, a := range accounts {
			if !books.Balance([]books.Entry{e, back}, a, 0).IsZero() {
				t.Fatalf("%s isn't undone on %s", e, a)
			}
		}
	})
}

func TestChartIsWhole(t *testing.T) {
	for _, a := range append(books.Chart(), books.Sales("panels"), books.SalesTax("Example State")) {
		if a.Check() != nil || a.Kind() == "" || a.Name() == "" {
			t.Errorf("%s: %v", a, a.Check())
		}
	}
	if n := books.Sales("panels").Name(); n != "Sales: panels" {
		t.Error(n)
	}
}

func TestSeries(t *testing.T) {
	s := books.Series{Prefix: "INV-", Next: 42}
	if s.Number() != "INV-00042" || s.After().Number() != "INV-00043" || (books.Series{Prefix: "I", Next: 1234567}).Number() != "I1234567" {
		t.Fatal(s.Number())
	}
	if n, err := s.Count("INV-00042"); n != 42 || err != nil {
		t.Fatal(n, err)
	}
	for _, bad := range []string{"INV-42", "CM-00042", "INV-", "INV-00000", "INV-+0042", "INV-00042 "} {
		if _, err := s.Count(bad); !fault.Is(err, fault.Invalid) {
			t.Errorf("%q is taken", bad)
		}
	}
	s.Next = 4
	for _, c := range []struct{ numbers, want string }{
		{"INV-00003 INV-00001 INV-00002", ""},
		{"INV-00001 INV-00003", "INV-00002 is missing"},
		{"INV-00001 INV-00002 INV-00002", "INV-00002 was given twice"},
		{"INV-00001 INV-00002 INV-00004", "beyond the counter"},
		{"CM-00001", "isn't a number of the series"},
	} {
		err := s.Gapless(strings.Fields(c.numbers))
		if (err == nil) != (c.want == "") || err != nil && !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", c.numbers, err)
		}
	}
}

func TestAgeingBuckets(t *testing.T) {
	asOf := day("2026-06-30")
	var items []books.Item
	for i, late := range []int{-5, 0, 1, 30, 31, 60, 61, 90, 91, 400} {
		items = append(items, books.Item{Number: string(rune('A' + i)), Customer: 7, Day: day("2025-01-01"), Due: asOf.AddDate(0, 0, -late), Open: usd(1 << i)})
	}
	a := books.Age(items, asOf)
	if a.Current.Cents() != 3 || a.To30.Cents() != 12 || a.To60.Cents() != 48 || a.To90.Cents() != 192 || a.Over90.Cents() != 768 {
		t.Fatalf("got %+v", a)
	}
	s := must(books.NewStatement(7, asOf, items, nil, usd(1023), usd(0)))(t)
	if s.Balance.Cents() != 1023 || s.Items[0].Number != "J" {
		t.Fatalf("got %+v", s)
	}
	_, err := books.NewStatement(7, asOf, items, nil, usd(1024), usd(0))
	refused(t, err, fault.Conflict, "")
}

func TestADayIsTheShopsDay(t *testing.T) {
	shop := time.FixedZone("shop", -6*3600)
	late := time.Date(2026, 3, 3, 4, 30, 0, 0, time.UTC).In(shop) // still the 2nd in the shop
	if books.Day(late) != day("2026-03-02") {
		t.Fatal(books.Day(late))
	}
}

func TestStand(t *testing.T) {
	c := party.Customer{CreditLimit: usd(10000)}
	items := []books.Item{owed("INV-1", 4000, "2026-01-01", "2026-01-31")}
	now := day("2026-02-10")
	if s := books.Stand(c, items, nil, usd(6000), 30, now); s.Stop || s.Room.Cents() != 6000 || s.PastDue.Cents() != 4000 {
		t.Errorf("got %+v", s)
	}
	if s := books.Stand(c, items, nil, usd(6001), 30, now); !s.Stop || !strings.Contains(s.Why, "credit limit of $100.00") {
		t.Errorf("got %+v", s)
	}
	if s := books.Stand(c, items, nil, usd(1), 5, now); !s.Stop || !strings.Contains(s.Why, "$40.00 is past due") {
		t.Errorf("got %+v", s)
	}
	if s := books.Stand(c, items, []books.Credit{{Kind: books.PaymentCredit, Open: usd(500)}, {Kind: books.DepositCredit, Open: usd(999)}}, usd(6500), 30, now); s.Stop {
		t.Errorf("got %+v", s)
	}
	c.Hold, c.HoldReason = true, "bad check"
	if s := books.Stand(c, nil, nil, usd(1), 30, now); !s.Stop || s.Why != "on hold: bad check" {
		t.Errorf("got %+v", s)
	}
}

func exampleJournal(t *testing.T) []books.Posted {
	t.Helper()
	c, e1, err := books.Payment{Number: "P-00001", Customer: 7, Day: day("2026-02-20"), Method: books.ByCheck, Reference: "1001", Order: "O-1", Deposit: true, Amount: usd(197813)}.Receive()
	if err != nil {
		t.Fatal(err)
	}
	d := shopOrder()
	d.Deposits = []books.DepositUse{{Deposit: c, Amount: usd(197813)}}
	got := must(d.Issue("INV-00001"))(t)
	_, bad, err := books.WriteOff(got.Item, usd(12), `=HYPERLINK("x"), "quoted", über`, day("2026-03-09"))
	if err != nil {
		t.Fatal(err)
	}
	var out []books.Posted
	for i, e := range append(append([]books.Entry{e1}, got.Entries...), bad) {
		out = append(out, books.Posted{No: int64(i + 1), Entry: e})
	}
	return out
}

func TestJournalExport(t *testing.T) {
	var b bytes.Buffer
	if err := books.WriteJournal(&b, exampleJournal(t)); err != nil {
		t.Fatal(err)
	}
	const golden = "testdata/journal.csv"
	if *update {
		if err := os.WriteFile(golden, b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil || !bytes.Equal(b.Bytes(), want) {
		t.Fatalf("%v; got\n%s", err, b.String())
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	debit, credit := usd(0), usd(0)
	for _, row := range rows[1:] {
		for i, sum := range map[int]*money.Amount{4: &debit, 5: &credit} {
			if row[i] != "" {
				*sum = sum.Add(must(money.Read(row[i], money.USD))(t))
			}
		}
	}
	if debit != credit || debit.IsZero() {
		t.Fatalf("debits %s, credits %s", debit, credit)
	}
}

func TestSafeCell(t *testing.T) {
	for in, want := range map[string]string{"=1+1": "'=1+1", "+1": "'+1", "-1": "'-1", "@x": "'@x", "\tx": "'\tx", "\rx": "'\rx", "\x00x": "'\x00x", "plain": "plain", "": "", "é": "é", "a=b": "a=b"} {
		if got := books.SafeCell(in); got != want {
			t.Errorf("%q: got %q", in, got)
		}
	}
}

func TestTrialBalanceAndClose(t *testing.T) {
	journal := exampleJournal(t)
	var entries []books.Entry
	for _, p := range journal {
		entries = append(entries, p.Entry)
	}
	trial := must(books.TrialBalance(entries, day("2026-03-02")))(t)
	if trial.Debit.Plain() != "3956.25" || trial.Debit != trial.Credit || trial.Rows[0].Account != books.Undeposited {
		t.Fatalf("got %+v", trial)
	}
	for _, r := range trial.Rows {
		if r.Account == books.BadDebt {
			t.Fatal("a later entry is in the trial balance")
		}
	}
	items := []books.Item{{Number: "INV-00001", Open: usd(197800)}}
	today := day("2026-04-05")
	if err := books.CheckClose(day("2026-03-31"), day("2026-02-28"), today, journal, items, nil); err != nil {
		t.Fatal(err)
	}
	refused(t, books.CheckClose(day("2026-02-28"), day("2026-02-28"), today, journal, items, nil), fault.Conflict, "through")
	refused(t, books.CheckClose(today, day("2026-02-28"), today, journal, items, nil), fault.Invalid, "through")
	refused(t, books.CheckClose(day("2026-03-31"), time.Time{}, today, journal[1:], items, nil), fault.Conflict, "journal")
	items[0].Open = usd(197799)
	refused(t, books.CheckClose(day("2026-03-31"), time.Time{}, today, journal, items, nil), fault.Conflict, "journal")
	refused(t, books.InOpenPeriod(entries[0], day("2026-02-20")), fault.Conflict, "day")
	if err := books.InOpenPeriod(entries[0], day("2026-02-19")); err != nil {
		t.Fatal(err)
	}
}
