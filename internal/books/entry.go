package books

import (
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/money"
)

// Posting is an amount on an account: a debit above 0, a credit below.
type Posting struct {
	Account Account
	Amount  money.Amount
}

// Dr is a debit posting.
func Dr(a Account, amount money.Amount) Posting { return Posting{a, amount} }

// Cr is a credit posting.
func Cr(a Account, amount money.Amount) Posting { return Posting{a, amount.Neg()} }

// Debit gives the debit side, 0 for a credit.
func (p Posting) Debit() money.Amount {
	if p.Amount.Sign() > 0 {
		return p.Amount
	}
	return money.Cents(0, p.Amount.Currency())
}

// Credit gives the credit side as a positive amount, 0 for a debit.
func (p Posting) Credit() money.Amount {
	if p.Amount.Sign() < 0 {
		return p.Amount.Neg()
	}
	return money.Cents(0, p.Amount.Currency())
}

// Head says what an entry belongs to.
type Head struct {
	Day      time.Time
	Document string // the number of the invoice, memo or payment it comes from
	Customer int64  // 0 where no customer is concerned
	Memo     string
}

// Entry is one balanced entry of the journal. Only NewEntry makes one, so that
// an unbalanced Entry doesn't exist; the zero Entry has no postings.
type Entry struct {
	head     Head
	postings []Posting
}

// maxPostings keeps the sum of one entry far below overflow: each amount is at
// most money.MaxCents.
const maxPostings = 2000

// maxMemo is how long the words of an entry may be.
const maxMemo = 300

// NewEntry makes an entry. Postings on the same account are added up, those of
// 0 left out, the order kept. It refuses a missing day, an account outside the
// chart, two currencies, fewer than two postings, and debits that don't equal
// credits. It also rebuilds stored entries, which proves them balanced again.
func NewEntry(h Head, postings ...Posting) (Entry, error) {
	var l fault.List
	needDay(&l, "day", h.Day)
	allowText(&l, "document", h.Document, 60)
	allowText(&l, "memo", h.Memo, maxMemo)
	if len(postings) > maxPostings {
		l.Addf("postings", "an entry holds at most %d postings", maxPostings)
		return Entry{}, l.Err()
	}
	h.Day = Day(h.Day)
	e := Entry{head: h}
	var currency money.Currency
	at := map[Account]int{}
	for _, p := range postings {
		if err := p.Account.Check(); err != nil {
			l.Add("", err)
			continue
		}
		c := p.Amount.Currency()
		if currency == "" {
			currency = c
		}
		if c != "" && c != currency {
			l.Addf("postings", "%s and %s can't stand in one entry", currency, c)
			continue
		}
		if i, seen := at[p.Account]; seen {
			e.postings[i].Amount = e.postings[i].Amount.Add(p.Amount)
			continue
		}
		at[p.Account] = len(e.postings)
		e.postings = append(e.postings, p)
	}
	kept := e.postings[:0]
	var sum money.Amount
	for _, p := range e.postings {
		if !p.Amount.IsZero() {
			kept = append(kept, p)
			sum = sum.Add(p.Amount)
		}
	}
	e.postings = kept
	if len(l) == 0 && !sum.IsZero() {
		l.Addf("postings", "debits and credits differ by %s", sum.Format())
	}
	if len(l) == 0 && len(e.postings) < 2 {
		l.Addf("postings", "an entry needs a debit and a credit")
	}
	if err := l.Err(); err != nil {
		return Entry{}, err
	}
	return e, nil
}

// Day gives the entry's day.
func (e Entry) Day() time.Time { return e.head.Day }

// Document gives the number of the document it comes from.
func (e Entry) Document() string { return e.head.Document }

// Customer gives the customer concerned, 0 for none.
func (e Entry) Customer() int64 { return e.head.Customer }

// Memo says in words what happened.
func (e Entry) Memo() string { return e.head.Memo }

// Postings gives a copy of the postings.
func (e Entry) Postings() []Posting { return append([]Posting(nil), e.postings...) }

// On gives what the entry does to an account, debit positive.
func (e Entry) On(a Account) (sum money.Amount) {
	for _, p := range e.postings {
		if p.Account == a {
			sum = sum.Add(p.Amount)
		}
	}
	return sum
}

// Reverse gives the entry that undoes e on a later day, with a reason.
func (e Entry) Reverse(day time.Time, reason string) (Entry, error) {
	h := e.head
	h.Day, h.Memo = day, reason
	back := e.Postings()
	for i := range back {
		back[i].Amount = back[i].Amount.Neg()
	}
	return NewEntry(h, back...)
}
