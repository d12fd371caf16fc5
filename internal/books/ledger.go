package books

import (
	"fmt"
	"sort"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/money"
)

// Posted is an entry with its place in the journal, counted from 1 without gap.
type Posted struct {
	No    int64
	Entry Entry
}

// Balance adds up what entries do to an account, debit positive; a customer
// other than 0 narrows it to that customer.
func Balance(entries []Entry, a Account, customer int64) (sum money.Amount) {
	for _, e := range entries {
		if customer == 0 || e.Customer() == customer {
			sum = sum.Add(e.On(a))
		}
	}
	return sum
}

// TrialRow is one account of a trial balance; one side is 0.
type TrialRow struct {
	Account       Account
	Debit, Credit money.Amount
}

// Trial is a trial balance: each account's balance on its side, and the two
// sums, which are equal.
type Trial struct {
	Through       time.Time
	Rows          []TrialRow
	Debit, Credit money.Amount
}

// TrialBalance adds the entries up to a day, that day included, by account.
// Accounts that come to 0 are left out. A sum that doesn't balance can't arise
// from entries made by NewEntry; it is checked again all the same and refused.
func TrialBalance(entries []Entry, through time.Time) (Trial, error) {
	sums := map[Account]money.Amount{}
	for _, e := range entries {
		if e.Day().After(Day(through)) {
			continue
		}
		for _, p := range e.postings {
			sums[p.Account] = sums[p.Account].Add(p.Amount)
		}
	}
	t := Trial{Through: Day(through)}
	for a, sum := range sums {
		if sum.IsZero() {
			continue
		}
		p := Posting{a, sum}
		t.Rows = append(t.Rows, TrialRow{a, p.Debit(), p.Credit()})
		t.Debit, t.Credit = t.Debit.Add(p.Debit()), t.Credit.Add(p.Credit())
	}
	sort.Slice(t.Rows, func(i, j int) bool { return t.Rows[i].Account < t.Rows[j].Account })
	if t.Debit.Cmp(t.Credit) != 0 {
		return t, fault.Conflictf("the journal doesn't balance: debits %s, credits %s", t.Debit.Format(), t.Credit.Format())
	}
	return t, nil
}

// InOpenPeriod refuses an entry whose day lies in a closed period, at field
// "day". closed is the last closed day, zero when nothing was closed yet.
func InOpenPeriod(e Entry, closed time.Time) error {
	if !closed.IsZero() && !e.Day().After(Day(closed)) {
		return fault.New(fault.Conflict, "day", "%s lies in a period that is closed through %s; use %s or a later day",
			dayWords(e.Day()), dayWords(closed), dayWords(Day(closed).AddDate(0, 0, 1)))
	}
	return nil
}

// dayWords writes a day for people.
func dayWords(t time.Time) string { return Day(t).Format("January 2, 2006") }

// CheckClose says whether the books may be closed through a day: after the last
// close, not in the future, the journal numbered without gap and in balance, the
// receivable account equal to the open items and the credit accounts to the open
// credits. It names every reason against it.
func CheckClose(through, closed, today time.Time, journal []Posted, items []Item, credits []Credit) error {
	var l fault.List
	if !closed.IsZero() && !Day(through).After(Day(closed)) {
		l.Add("through", fault.Conflictf("the books are closed through %s already", dayWords(closed)))
	}
	if !Day(through).Before(Day(today)) {
		l.Addf("through", "close a day once it is over")
	}
	entries := make([]Entry, len(journal))
	for i, p := range journal {
		entries[i] = p.Entry
		if p.No != int64(i+1) {
			l.Add("journal", fault.Conflictf("entry %d stands where entry %d should be", p.No, i+1))
			break
		}
	}
	_, err := TrialBalance(entries, through)
	l.Add("journal", err)
	agree := func(a Account, want money.Amount) {
		if got := Balance(entries, a, 0); got.Cmp(want) != 0 {
			l.Add("journal", fault.Conflictf("%s stands at %s, but its open parts come to %s", a.Name(), got.Format(), want.Format()))
		}
	}
	open := map[Account]money.Amount{}
	for _, it := range items {
		open[Receivable] = open[Receivable].Add(it.Open)
	}
	for _, c := range credits {
		open[c.account()] = open[c.account()].Sub(c.Open)
	}
	for _, a := range []Account{Receivable, Deposits, Unapplied} {
		agree(a, open[a])
	}
	return l.Err()
}

// String shows an entry for logs and failed tests.
func (e Entry) String() string {
	s := fmt.Sprintf("%s %s %s", e.Day().Format(time.DateOnly), e.head.Document, e.head.Memo)
	for _, p := range e.postings {
		s += fmt.Sprintf(" | %s %s", p.Account, p.Amount)
	}
	return s
}
