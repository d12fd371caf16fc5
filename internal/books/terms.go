package books

import (
	"fmt"
	"slices"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/money"
	"ribdesk/internal/party"
)

// TermsDiscount gives what an invoice with terms such as 2/10 net 30 lets off
// when it is paid in full on a day: the agreed share of its subtotal less what
// memos credited, 0 after the last discount day. Tax and what is retained aren't
// discounted; where local law lowers the tax too, a credit memo does that.
// Counting is by calendar days, the last day included (common practice, no
// published source).
func TermsDiscount(inv Invoice, memos []Memo, paid time.Time) (money.Amount, error) {
	zero := money.Cents(0, inv.Currency)
	if inv.Terms.DiscountDays <= 0 || daysBetween(inv.Issued, paid) > inv.Terms.DiscountDays {
		return zero, nil
	}
	base := inv.Subtotal
	for _, m := range memos {
		base = base.Sub(m.Subtotal)
	}
	return money.Max(base, zero).Rate().Mul(inv.Terms.Discount).Round(inv.Currency)
}

// CheckTerms refuses terms that the books can't work with, at field "terms".
func CheckTerms(t party.Terms) error {
	switch {
	case t.NetDays < 0 || t.DiscountDays < 0 || t.DiscountDays > t.NetDays:
		return fault.Invalidf("terms", "the discount days lie within the net days, both 0 or more")
	case t.Discount.Sign() < 0 || t.Discount.Cmp(money.Int(1)) >= 0:
		return fault.Invalidf("terms", "a discount is 0 or more and below 100 %%")
	}
	return nil
}

// SettleWithDiscount pays all that is open of an invoice with a payment that
// came within the discount days, less the discount. It refuses a payment that
// came too late or doesn't reach.
func SettleWithDiscount(c Credit, it Item, inv Invoice, memos []Memo, day time.Time) (Step, error) {
	if it.Number != inv.Number {
		return Step{}, fault.Conflictf("%s isn't %s", it.Number, inv.Number)
	}
	discount, err := TermsDiscount(inv, memos, c.Day)
	if err != nil {
		return Step{}, err
	}
	if discount.IsZero() {
		return Step{}, fault.Conflictf("%s came after the last discount day of %s", c.Number, it.Number)
	}
	discount = money.Min(discount, it.Open)
	amount := it.Open.Sub(discount)
	if c.Open.Less(amount) {
		return Step{}, fault.Invalidf("amount", "%s are needed to settle %s with its discount; only %s is open", amount.Format(), it.Number, c.Open.Format())
	}
	return apply(c, it, amount, discount, day)
}

// FinanceTerms is what was agreed about late payment. Local law limits it.
type FinanceTerms struct {
	AgreedOn  time.Time  // the day the customer signed; zero means not agreed
	YearRate  money.Rate // simple interest a year, as a share: .18
	GraceDays int        // days past due that stay free
}

// FinanceLine is the charge on one late item.
type FinanceLine struct {
	Item   string
	Open   money.Amount
	Days   int
	Charge money.Amount
}

func (l FinanceLine) days() string {
	if l.Days == 1 {
		return "1 day"
	}
	return fmt.Sprintf("%d days", l.Days)
}

// FinanceOn works out finance charges from the day after from to day: simple
// interest on what is open of each late item, by days of a 365-day year, rounded
// per item. A charge bears no charge itself, and nothing runs before the grace
// days are over. It refuses terms that weren't agreed before.
func FinanceOn(items []Item, t FinanceTerms, from, day time.Time) ([]FinanceLine, money.Amount, error) {
	var total money.Amount
	if t.AgreedOn.IsZero() || Day(day).Before(Day(t.AgreedOn)) {
		return nil, total, fault.Conflictf("no finance charge was agreed with this customer")
	}
	if t.YearRate.Sign() < 0 || t.YearRate.Cmp(money.Int(1)) > 0 || t.GraceDays < 0 {
		return nil, total, fault.Invalidf("rate", "a yearly rate is 0 to 100 %%, with 0 or more days of grace")
	}
	var lines []FinanceLine
	for _, it := range items {
		start := slices.MaxFunc([]time.Time{Day(it.Due).AddDate(0, 0, t.GraceDays), Day(from), Day(t.AgreedOn)}, time.Time.Compare)
		days := daysBetween(start, day)
		if !it.Kind.goods() || it.Open.Sign() <= 0 || days <= 0 {
			continue
		}
		charge, err := it.Open.Rate().Mul(t.YearRate).Mul(money.Int(int64(days))).Div(money.Int(365)).Round(it.Open.Currency())
		if err != nil {
			return nil, total, err
		}
		if charge.Sign() > 0 {
			lines = append(lines, FinanceLine{it.Number, it.Open, days, charge})
			total = total.Add(charge)
		}
	}
	return lines, total, nil
}

// ChargeFinance books finance charges as an item of its own, due at once; the
// entry says what they were charged on.
//
//	debit receivable   credit finance charges
func ChargeFinance(number string, customer int64, lines []FinanceLine, day time.Time) (Item, Entry, error) {
	var total money.Amount
	memo, before := "Finance charge "+number, ": "
	for _, l := range lines {
		total = total.Add(l.Charge)
		more := fmt.Sprintf("%s%s for %s on %s open of %s", before, l.Charge.Format(), l.days(), l.Open.Format(), l.Item)
		if len(memo)+len(more) <= maxMemo {
			memo += more
		}
		before = ", "
	}
	if total.Sign() <= 0 {
		return Item{}, Entry{}, fault.Conflictf("there is nothing to charge")
	}
	it := Item{Kind: FinanceItem, Number: number, Customer: customer, Day: Day(day), Due: Day(day), Original: total, Open: total}
	e, err := NewEntry(Head{day, number, customer, memo}, Dr(Receivable, total), Cr(FinanceIncome, total))
	return it, e, err
}

// WriteOff gives up part of an item, with the reason: goods as bad debt, a
// finance charge or fee against what it was booked as. The sales tax in it stays
// as posted; local law says whether it can be claimed back.
func WriteOff(it Item, amount money.Amount, reason string, day time.Time) (Item, Entry, error) {
	var l fault.List
	needText(&l, "reason", reason, 200)
	needMoney(&l, "amount", it.Open.Currency(), amount)
	if len(l) == 0 && (amount.Sign() <= 0 || it.Open.Less(amount)) {
		l.Addf("amount", "write off more than 0 and at most the %s that is open", it.Open.Format())
	}
	if Day(day).Before(Day(it.Day)) {
		l.Addf("day", "this can't be before %s was made", it.Number)
	}
	if err := l.Err(); err != nil {
		return it, Entry{}, err
	}
	e, err := NewEntry(Head{day, it.Number, it.Customer, "Written off: " + reason}, Dr(it.Kind.loss(), amount), Cr(Receivable, amount))
	if err == nil {
		it.Open = it.Open.Sub(amount)
	}
	return it, e, err
}

// ReleaseRetention makes part of what an invoice holds back payable, as an item
// of its own. released is what was made payable before.
func ReleaseRetention(inv Invoice, number string, amount, released money.Amount, due, day time.Time) (Item, Entry, error) {
	var l fault.List
	needMoney(&l, "amount", inv.Currency, amount, released)
	if err := l.Err(); err != nil {
		return Item{}, Entry{}, err
	}
	if left := inv.Retained.Sub(released); amount.Sign() <= 0 || left.Less(amount) {
		return Item{}, Entry{}, fault.Invalidf("amount", "release more than 0 and at most the %s that is held back", left.Format())
	}
	if Day(day).Before(inv.Issued) || Day(due).Before(Day(day)) {
		return Item{}, Entry{}, fault.Invalidf("due", "it can't be due before it is released, nor released before %s", inv.Number)
	}
	it := Item{Kind: RetentionItem, Number: number, Customer: inv.Customer, Day: Day(day), Due: Day(due), Original: amount, Open: amount}
	e, err := NewEntry(Head{day, number, inv.Customer, fmt.Sprintf("Retention of %s released", inv.Number)}, Dr(Receivable, amount), Cr(Retention, amount))
	return it, e, err
}
