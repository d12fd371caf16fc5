package books

import (
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/money"
)

// ItemKind is what an open item comes from.
type ItemKind string

// The kinds of items.
const (
	InvoiceItem   ItemKind = "invoice"
	FinanceItem   ItemKind = "finance charge"
	RetentionItem ItemKind = "released retention"
	ReturnFeeItem ItemKind = "returned-payment fee"
)

// goods reports whether the item stands for what was sold, and not for a charge
// on paying late or not at all.
func (k ItemKind) goods() bool { return k != FinanceItem && k != ReturnFeeItem }

// loss gives the account that bears what is given up of an item: of a charge it
// is the income that was booked, of goods it is bad debt.
func (k ItemKind) loss() Account {
	switch k {
	case FinanceItem:
		return FinanceIncome
	case ReturnFeeItem:
		return ReturnFees
	}
	return BadDebt
}

// Item is something a customer owes. Original never changes; Open falls as
// credits are applied and reaches 0 when it is settled.
type Item struct {
	Kind     ItemKind
	Number   string
	Customer int64
	Day      time.Time
	Due      time.Time
	Original money.Amount
	Open     money.Amount
}

// CreditKind is what a credit comes from.
type CreditKind string

// The kinds of credits.
const (
	DepositCredit CreditKind = "deposit"
	PaymentCredit CreditKind = "payment"
	MemoCredit    CreditKind = "credit memo"
)

// Credit is something a customer has to their good. Open falls as it is applied
// or refunded.
type Credit struct {
	Kind     CreditKind
	Number   string
	Customer int64
	Day      time.Time
	Order    string // the order a deposit was paid for
	Original money.Amount
	Open     money.Amount
}

// account gives the liability account on which the credit lies.
func (c Credit) account() Account {
	if c.Kind == DepositCredit {
		return Deposits
	}
	return Unapplied
}

// Application says that a credit paid for an item, with the early-payment
// discount it earned.
type Application struct {
	Credit   string // number
	Item     string // number
	Day      time.Time
	Amount   money.Amount
	Discount money.Amount
}

// Step is one application with what it leaves of both sides.
type Step struct {
	Credit      Credit
	Item        Item
	Application Application
	Entry       Entry
}

// Apply pays amount of an item with a credit of the same customer. It refuses
// more than the credit has open or the item still owes.
//
//	debit deposits or unapplied credits   credit receivable
func Apply(c Credit, it Item, amount money.Amount, day time.Time) (Step, error) {
	return apply(c, it, amount, money.Cents(0, amount.Currency()), day)
}

func apply(c Credit, it Item, amount, discount money.Amount, day time.Time) (Step, error) {
	if err := checkApply(c, it, amount, discount, day); err != nil {
		return Step{}, err
	}
	e, err := NewEntry(Head{day, c.Number, it.Customer, string(c.Kind) + " " + c.Number + " to " + it.Number},
		Dr(c.account(), amount), Dr(TermsDiscounts, discount), Cr(Receivable, amount.Add(discount)))
	if err != nil {
		return Step{}, err
	}
	c.Open = c.Open.Sub(amount)
	it.Open = it.Open.Sub(amount).Sub(discount)
	return Step{c, it, Application{c.Number, it.Number, e.Day(), amount, discount}, e}, nil
}

func checkApply(c Credit, it Item, amount, discount money.Amount, day time.Time) error {
	var l fault.List
	needMoney(&l, "amount", it.Open.Currency(), c.Open, amount, discount)
	if err := l.Err(); err != nil {
		return err
	}
	switch {
	case c.Customer != it.Customer || c.Customer == 0:
		return fault.Conflictf("%s and %s belong to different customers", c.Number, it.Number)
	case amount.Sign() <= 0:
		return fault.Invalidf("amount", "the amount must be above 0")
	case c.Open.Less(amount):
		return fault.Invalidf("amount", "only %s of %s is open", c.Open.Format(), c.Number)
	case it.Open.Less(amount.Add(discount)):
		return fault.Invalidf("amount", "only %s of %s is still owed", it.Open.Format(), it.Number)
	case Day(day).Before(Day(it.Day)) || Day(day).Before(Day(c.Day)):
		return fault.Invalidf("day", "this can't be before %s and %s were made", c.Number, it.Number)
	}
	return nil
}

// DepositFor gives how much of an open deposit a part invoice should take off,
// when the deposit is spread over the order: its share by amount, and with the
// last part all that is left. orderLeft is what of the order is still to be
// invoiced, this invoice included.
func DepositFor(open, total, orderLeft money.Amount) (money.Amount, error) {
	if open.Sign() <= 0 || total.Sign() <= 0 {
		return money.Cents(0, open.Currency()), nil
	}
	if !total.Less(orderLeft) {
		return money.Min(open, total), nil
	}
	share, err := open.Rate().Mul(total.Rate()).Div(orderLeft.Rate()).Round(open.Currency())
	return money.Min(share, total), err
}
