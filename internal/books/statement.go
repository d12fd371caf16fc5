package books

import (
	"sort"
	"strings"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/money"
	"ribdesk/internal/party"
)

// Ageing is what is open by days past the due day. An item due today is
// current. Buckets of 30 days are general bookkeeping practice, no published
// source.
type Ageing struct {
	Current, To30, To60, To90, Over90 money.Amount
}

// Total adds the buckets up.
func (a Ageing) Total() money.Amount { return money.Sum(a.Current, a.To30, a.To60, a.To90, a.Over90) }

// PastDue adds the late buckets up.
func (a Ageing) PastDue() money.Amount { return money.Sum(a.To30, a.To60, a.To90, a.Over90) }

// Age puts the open part of items into buckets on a day.
func Age(items []Item, asOf time.Time) (a Ageing) {
	for _, it := range items {
		bucket := a.bucket(daysBetween(it.Due, asOf))
		*bucket = bucket.Add(it.Open)
	}
	return a
}

func (a *Ageing) bucket(late int) *money.Amount {
	switch {
	case late <= 0:
		return &a.Current
	case late <= 30:
		return &a.To30
	case late <= 60:
		return &a.To60
	case late <= 90:
		return &a.To90
	}
	return &a.Over90
}

// StoodOn gives items and credits as they stood at the end of a day: those that
// were made by then, each open for its original less what the uses of that day
// and earlier took off. A refund names no item and a write-off no credit; what
// was taken back counts below 0.
func StoodOn(day time.Time, items []Item, credits []Credit, uses []Application) ([]Item, []Credit) {
	day = Day(day)
	usedOf, paidOn := map[string]money.Amount{}, map[string]money.Amount{}
	for _, u := range uses {
		if Day(u.Day).After(day) {
			continue
		}
		usedOf[u.Credit] = usedOf[u.Credit].Add(u.Amount)
		paidOn[u.Item] = paidOn[u.Item].Add(u.Amount).Add(u.Discount)
	}
	var owed []Item
	for _, it := range items {
		if !Day(it.Day).After(day) {
			it.Open = it.Original.Sub(paidOn[it.Number])
			owed = append(owed, it)
		}
	}
	var good []Credit
	for _, c := range credits {
		if !Day(c.Day).After(day) {
			c.Open = c.Original.Sub(usedOf[c.Number])
			good = append(good, c)
		}
	}
	return owed, good
}

// Statement is what a customer owes on a day: open items only, with unapplied
// credits apart and what is retained apart.
type Statement struct {
	Customer int64
	AsOf     time.Time
	Items    []Item // open ones, by due day
	Credits  []Credit
	Ageing   Ageing
	Balance  money.Amount // the open items; credits aren't taken off
	Credit   money.Amount // the open credits
	Retained money.Amount // invoiced, not payable until released
}

// NewStatement makes a customer's statement from all their items and credits
// and from what the journal says: receivable is the customer's balance on the
// receivable account, retained that on the retention account. It refuses to
// print when items, buckets and journal don't agree, which is a fault in the
// books and not in the customer's account.
func NewStatement(customer int64, asOf time.Time, items []Item, credits []Credit, receivable, retained money.Amount) (Statement, error) {
	s := Statement{Customer: customer, AsOf: Day(asOf), Retained: retained}
	for _, it := range items {
		if it.Customer != customer || Day(it.Day).After(s.AsOf) {
			return s, fault.Conflictf("%s doesn't belong on this statement", it.Number)
		}
		if it.Open.IsZero() {
			continue
		}
		s.Items = append(s.Items, it)
		s.Balance = s.Balance.Add(it.Open)
	}
	for _, c := range credits {
		if c.Customer != customer || Day(c.Day).After(s.AsOf) {
			return s, fault.Conflictf("%s doesn't belong on this statement", c.Number)
		}
		if c.Open.IsZero() {
			continue
		}
		s.Credits = append(s.Credits, c)
		s.Credit = s.Credit.Add(c.Open)
	}
	sort.SliceStable(s.Items, func(i, j int) bool { return s.Items[i].Due.Before(s.Items[j].Due) })
	s.Ageing = Age(s.Items, s.AsOf)
	if s.Balance.Cmp(receivable) != 0 || s.Ageing.Total().Cmp(s.Balance) != 0 {
		return s, fault.Conflictf("the books don't agree: items %s, buckets %s, journal %s",
			s.Balance.Format(), s.Ageing.Total().Format(), receivable.Format())
	}
	return s, nil
}

// Standing is what the counter sees before it takes an order on account.
type Standing struct {
	Owed    money.Amount // open items less open credits other than deposits
	PastDue money.Amount
	Room    money.Amount // what the credit limit still allows; may be negative
	Stop    bool
	Why     string // for the person at the counter
}

// Stand says whether a customer may buy another amount on account: not while on
// hold, not beyond the credit limit, and not while anything is late by more
// than maxLate days. A limit of 0 means cash only. Deposits don't count, since
// they belong to other orders.
func Stand(c party.Customer, items []Item, credits []Credit, another money.Amount, maxLate int, day time.Time) Standing {
	var s Standing
	worst := 0
	for _, it := range items {
		s.Owed = s.Owed.Add(it.Open)
		if late := daysBetween(it.Due, day); it.Open.Sign() > 0 && late > worst {
			worst = late
		}
	}
	for _, credit := range credits {
		if credit.Kind != DepositCredit {
			s.Owed = s.Owed.Sub(credit.Open)
		}
	}
	s.PastDue = Age(items, day).PastDue()
	s.Room = c.CreditLimit.Sub(s.Owed)
	var why []string
	if c.Hold {
		why = append(why, strings.TrimSuffix("on hold: "+c.HoldReason, ": "))
	}
	if worst > maxLate {
		why = append(why, s.PastDue.Format()+" is past due")
	}
	if s.Room.Less(another) {
		why = append(why, "over the credit limit of "+c.CreditLimit.Format())
	}
	s.Stop, s.Why = len(why) > 0, strings.Join(why, "; ")
	return s
}
