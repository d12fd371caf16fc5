package books

import (
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/money"
)

// Return says how a payment is taken back.
type Return struct {
	Method  Method // by which it had come
	Banked  bool   // it had been paid in at the bank; a transfer always has
	Mistake bool   // it never came like this: entered wrongly
	Day     time.Time
}

// Check refuses what can't be: cash doesn't bounce.
func (r Return) Check() error {
	var l fault.List
	if r.Method == ByCash && !r.Mistake {
		l.Addf("why", "cash isn't returned by a bank; say that it was entered wrongly")
	}
	needDay(&l, "day", r.Day)
	return l.Err()
}

func (r Return) memo() string {
	switch {
	case r.Mistake:
		return "Taken back, entered wrongly"
	case r.Method == ByCard:
		return "Card payment charged back"
	case r.Method == ByTransfer:
		return "Transfer returned unpaid"
	}
	return "Check returned unpaid"
}

// from gives the account that the money leaves.
func (r Return) from() Account {
	if r.Banked || r.Method == ByTransfer {
		return Cash
	}
	return Undeposited
}

// Returned is what a payment that was taken back leaves behind.
type Returned struct {
	Credit Credit // nothing is left of it
	Items  []Item // open again, with their old due dates
	Entry  Entry
}

// TakeBack takes back a payment that the bank refused or that was entered
// wrongly: the items it paid are open again, discounts it earned are void, and
// the money leaves the bank, or the drawer if it was never banked. apps are all
// applications of the credit, items the items they name. It refuses when part of
// the payment was refunded or kept, because that money is already gone.
func TakeBack(c Credit, apps []Application, items []Item, r Return) (Returned, error) {
	if err := r.Check(); err != nil {
		return Returned{}, err
	}
	applied, discounts := money.Cents(0, c.Open.Currency()), money.Cents(0, c.Open.Currency())
	for _, a := range apps {
		if a.Credit != c.Number {
			return Returned{}, fault.Conflictf("%s wasn't paid by %s", a.Item, c.Number)
		}
		if Day(r.Day).Before(Day(a.Day)) {
			return Returned{}, fault.Invalidf("day", "this can't be before it paid %s on %s", a.Item, dayWords(a.Day))
		}
		applied, discounts = applied.Add(a.Amount), discounts.Add(a.Discount)
	}
	switch {
	case c.Kind == MemoCredit:
		return Returned{}, fault.Conflictf("%s is a credit memo, not a payment", c.Number)
	case applied.Add(c.Open).Cmp(c.Original) != 0:
		return Returned{}, fault.Conflictf("part of %s was refunded or kept; settle that by hand first", c.Number)
	case Day(r.Day).Before(Day(c.Day)):
		return Returned{}, fault.Invalidf("day", "this can't be before %s was received", c.Number)
	}
	out := Returned{Credit: c}
	var err error
	if out.Items, err = reopen(apps, items); err != nil {
		return Returned{}, err
	}
	out.Entry, err = NewEntry(Head{r.Day, c.Number, c.Customer, r.memo()},
		Dr(Receivable, applied.Add(discounts)), Cr(TermsDiscounts, discounts), Dr(c.account(), c.Open), Cr(r.from(), c.Original))
	out.Credit.Open = money.Cents(0, c.Open.Currency())
	return out, err
}

func reopen(apps []Application, items []Item) ([]Item, error) {
	byNumber := map[string]Item{}
	for _, it := range items {
		byNumber[it.Number] = it
	}
	var touched []string
	for _, a := range apps {
		it, ok := byNumber[a.Item]
		if !ok {
			return nil, fault.Conflictf("%s is missing", a.Item)
		}
		it.Open = it.Open.Add(a.Amount).Add(a.Discount)
		if it.Original.Less(it.Open) {
			return nil, fault.Conflictf("%s would be open for more than it came to", a.Item)
		}
		byNumber[a.Item] = it
		touched = append(touched, a.Item)
	}
	var out []Item
	for _, number := range unique(touched) {
		out = append(out, byNumber[number])
	}
	return out, nil
}

// ChargeReturn charges the fee for a payment that the bank returned, as an item
// of its own, due at once. Only where it was agreed or posted: local law limits
// it.
//
//	debit receivable   credit returned-payment fees
func ChargeReturn(number string, c Credit, fee money.Amount, day time.Time) (Item, Entry, error) {
	if fee.Sign() <= 0 {
		return Item{}, Entry{}, fault.Invalidf("fee", "the fee must be above 0, or empty for none")
	}
	it := Item{Kind: ReturnFeeItem, Number: number, Customer: c.Customer, Day: Day(day), Due: Day(day), Original: fee, Open: fee}
	e, err := NewEntry(Head{day, number, c.Customer, "Fee for " + c.Number + ", returned unpaid"}, Dr(Receivable, fee), Cr(ReturnFees, fee))
	return it, e, err
}
