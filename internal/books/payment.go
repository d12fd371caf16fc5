package books

import (
	"sort"
	"strings"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/money"
)

// Method is how money came in or went out.
type Method string

// The methods. A card is charged on a terminal of its own; the desk only notes
// it and never sees the number.
const (
	ByCheck    Method = "check"
	ByCash     Method = "cash"
	ByTransfer Method = "transfer"
	ByCard     Method = "card"
)

// account gives where money of this method lies: a transfer is in the bank at
// once, the rest waits to be banked.
func (m Method) account() (Account, error) {
	switch m {
	case ByTransfer:
		return Cash, nil
	case ByCheck, ByCash, ByCard:
		return Undeposited, nil
	}
	return "", fault.Invalidf("method", "choose check, cash, transfer or card")
}

// payer gives what a refund of this method lowers: a check is written on the
// bank account; cash comes out of the drawer, and a card refund off the slips
// that wait to be banked.
func (m Method) payer() (Account, error) {
	if m == ByCheck {
		return Cash, nil
	}
	return m.account()
}

// Payment is money received from a customer.
type Payment struct {
	Number    string
	Customer  int64
	Day       time.Time
	Method    Method
	Reference string // check number, transfer text, card slip; never a card number
	Order     string // set when it is a deposit for an order
	Deposit   bool   // paid before the goods: owed to the customer until applied
	Amount    money.Amount
}

// Check refuses what can't be a payment.
func (p Payment) Check() error {
	var l fault.List
	needText(&l, "number", p.Number, 40)
	needDay(&l, "day", p.Day)
	if p.Customer == 0 {
		l.Addf("customer", "choose the customer")
	}
	if _, err := p.Method.account(); err != nil {
		l.Add("", err)
	}
	if p.Method == ByCheck && strings.TrimSpace(p.Reference) == "" {
		l.Addf("reference", "give the check's number")
	}
	allowText(&l, "reference", p.Reference, 80)
	if holdsCardNumber(p.Reference) {
		l.Addf("reference", "this looks like a card number; keep at most the last four digits")
	}
	if p.Deposit && strings.TrimSpace(p.Order) == "" {
		l.Addf("order", "a deposit belongs to an order")
	}
	if p.Amount.Sign() <= 0 {
		l.Addf("amount", "the amount must be above 0")
	}
	return l.Err()
}

// holdsCardNumber reports a run of 13 to 19 digits, spaces and dashes apart,
// that passes the check of ISO/IEC 7812-1 (from memory).
func holdsCardNumber(s string) bool {
	var run []int
	for _, r := range s + "." {
		switch {
		case r >= '0' && r <= '9':
			run = append(run, int(r-'0'))
		case r == ' ' || r == '-':
		default:
			if len(run) >= 13 && len(run) <= 19 && luhn(run) {
				return true
			}
			run = run[:0]
		}
	}
	return false
}

func luhn(digits []int) bool {
	sum := 0
	for i, d := range digits {
		if (len(digits)-i)%2 == 0 {
			if d *= 2; d > 9 {
				d -= 9
			}
		}
		sum += d
	}
	return sum%10 == 0
}

// Receive books a payment; all of it is open until it is applied.
//
//	debit undeposited funds or cash   credit deposits or unapplied credits
func (p Payment) Receive() (Credit, Entry, error) {
	if err := p.Check(); err != nil {
		return Credit{}, Entry{}, err
	}
	c := Credit{Kind: PaymentCredit, Number: p.Number, Customer: p.Customer, Day: Day(p.Day), Order: p.Order, Original: p.Amount, Open: p.Amount}
	if p.Deposit {
		c.Kind = DepositCredit
	}
	to, err := p.Method.account()
	if err != nil {
		return Credit{}, Entry{}, err
	}
	e, err := NewEntry(Head{p.Day, p.Number, p.Customer, strings.TrimSpace("Received by " + string(p.Method) + " " + p.Reference)},
		Dr(to, p.Amount), Cr(c.account(), p.Amount))
	return c, e, err
}

// Settle applies a credit to items, the one due first before the others, as far
// as it reaches; what is over stays open on the credit. Items of 0 are skipped.
func Settle(c Credit, items []Item, day time.Time) (steps []Step, left Credit, err error) {
	order := append([]Item(nil), items...)
	sort.SliceStable(order, func(i, j int) bool {
		if !order[i].Due.Equal(order[j].Due) {
			return order[i].Due.Before(order[j].Due)
		}
		return order[i].Number < order[j].Number
	})
	for _, it := range order {
		amount := money.Min(c.Open, it.Open)
		if amount.Sign() <= 0 {
			continue
		}
		step, err := Apply(c, it, amount, day)
		if err != nil {
			return nil, c, err
		}
		c = step.Credit
		steps = append(steps, step)
	}
	return steps, c, nil
}

// Bank books checks, cash and card slips as paid in at the bank.
func Bank(amount money.Amount, day time.Time, reference string) (Entry, error) {
	if amount.Sign() <= 0 {
		return Entry{}, fault.Invalidf("amount", "the amount must be above 0")
	}
	return NewEntry(Head{Day: day, Document: reference, Memo: "Paid in at the bank"}, Dr(Cash, amount), Cr(Undeposited, amount))
}

// Refund pays back part of an open credit; number is the refund's own.
func Refund(c Credit, number string, amount money.Amount, by Method, day time.Time) (Credit, Entry, error) {
	from, err := by.payer()
	if err != nil {
		return c, Entry{}, err
	}
	if err := c.takes(amount, day); err != nil {
		return c, Entry{}, err
	}
	e, err := NewEntry(Head{day, number, c.Customer, "Refund of " + c.Number + " by " + string(by)}, Dr(c.account(), amount), Cr(from, amount))
	if err == nil {
		c.Open = c.Open.Sub(amount)
	}
	return c, e, err
}

// takes refuses an amount that an open credit can't give.
func (c Credit) takes(amount money.Amount, day time.Time) error {
	var l fault.List
	needMoney(&l, "amount", c.Open.Currency(), amount)
	if err := l.Err(); err != nil {
		return err
	}
	switch {
	case amount.Sign() <= 0:
		return fault.Invalidf("amount", "the amount must be above 0")
	case c.Open.Less(amount):
		return fault.Invalidf("amount", "only %s of %s is open", c.Open.Format(), c.Number)
	case Day(day).Before(Day(c.Day)):
		return fault.Invalidf("day", "this can't be before %s was made", c.Number)
	}
	return nil
}

// KeepDeposit keeps part of a deposit as income when an order is cancelled
// after cutting, with the reason and as the accepted terms allow. Whether sales
// tax falls on it is for local law.
func KeepDeposit(c Credit, amount money.Amount, reason string, day time.Time) (Credit, Entry, error) {
	if c.Kind != DepositCredit {
		return c, Entry{}, fault.New(fault.Conflict, "what", "%s isn't a deposit; only a deposit is kept", c.Number)
	}
	return c.give(amount, DepositsKept, "Deposit kept", reason, day)
}

// Recover books an open credit against bad debt, when a customer pays what was
// written off before.
func Recover(c Credit, amount money.Amount, reason string, day time.Time) (Credit, Entry, error) {
	return c.give(amount, BadDebt, "Recovered", reason, day)
}

func (c Credit) give(amount money.Amount, to Account, what, reason string, day time.Time) (Credit, Entry, error) {
	var l fault.List
	needText(&l, "reason", reason, 200)
	l.Add("", c.takes(amount, day))
	if err := l.Err(); err != nil {
		return c, Entry{}, err
	}
	e, err := NewEntry(Head{day, c.Number, c.Customer, what + ": " + reason}, Dr(c.account(), amount), Cr(to, amount))
	if err == nil {
		c.Open = c.Open.Sub(amount)
	}
	return c, e, err
}
