// Package books is the money side of the desk: a double-entry journal that
// can't be out of balance, and the use cases that write it (invoice, credit
// memo, payment, deposit, discount, finance charge, write-off) as pure
// functions from values to values. It also makes the statement with ageing, the
// trial balance and the journal export.
//
// It knows no orders, database, clock or page. It gives no numbers away either:
// a number is taken from a Series inside the transaction that issues the
// document. It isn't tax or legal advice: rates, what they tax and which
// certificates count are the owner's settings, and local law decides.
//
// # The model
//
// What a customer owes is an Item (an invoice, a finance charge, a released
// retention); what a customer has to their good is a Credit (a deposit, money
// received, a credit memo). Items live on the receivable account, deposits and
// other credits on liability accounts, and Apply is the only way a credit pays
// an item. So the receivable account of a customer always equals the open part
// of their items, and a statement's ageing buckets add up to both.
//
//	deposit 500.00        debit undeposited 500.00    credit deposits 500.00
//	invoice 1,070.00      debit receivable 1,070.00   credit sales 1,000.00, tax 70.00
//	deposit applied       debit deposits 500.00       credit receivable 500.00
//	check 570.00          debit undeposited 570.00    credit unapplied 570.00
//	check applied         debit unapplied 570.00      credit receivable 570.00
//
// # Rounding
//
// A line is quantity x unit price rounded to the cent, half away from zero;
// rounded figures are added and never rounded again. Tax is rounded once on the
// summed base of what the same jurisdictions tax, or per item, as the shop has
// chosen (Streamlined Sales and Use Tax Agreement, section 324, allows both; the
// choice is kept with each invoice), and then shared among the jurisdictions.
//
// A day is a time.Time at midnight UTC that stands for the shop's calendar day;
// any other time is taken as the calendar day of its own location.
package books

import (
	"strings"
	"time"
	"unicode"

	"ribdesk/internal/fault"
	"ribdesk/internal/money"
)

// Day gives the calendar day of t in t's own location, as midnight UTC. Put a
// moment into the shop's time zone first: Day(now.In(shop)).
func Day(t time.Time) time.Time {
	if t.IsZero() {
		return t
	}
	y, m, d := t.Date()
	return time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
}

// daysBetween counts calendar days from a to b, negative when b is earlier.
func daysBetween(a, b time.Time) int {
	return int(Day(b).Sub(Day(a)) / (24 * time.Hour))
}

// needText refuses a text that is empty, longer than max runes or holds control
// characters, at field.
func needText(l *fault.List, field, s string, max int) {
	if strings.TrimSpace(s) == "" {
		l.Addf(field, "fill this in")
		return
	}
	allowText(l, field, s, max)
}

func allowText(l *fault.List, field, s string, max int) {
	switch {
	case len([]rune(s)) > max:
		l.Addf(field, "use at most %d characters", max)
	case strings.IndexFunc(s, unicode.IsControl) >= 0:
		l.Addf(field, "keep this to one line of plain text")
	}
}

// needMoney refuses amounts of another currency than c; a shop has one.
func needMoney(l *fault.List, field string, c money.Currency, amounts ...money.Amount) {
	for _, a := range amounts {
		if a.Currency() != c && !a.IsZero() {
			l.Addf(field, "give this in %s", c)
			return
		}
	}
}

// exceeds reports q > limit, not counting the dust of fractions of a foot.
func exceeds(q, limit money.Rate) bool { return q.Sub(limit).Shorten(linePlaces).Sign() > 0 }

func needDay(l *fault.List, field string, t time.Time) {
	if t.IsZero() {
		l.Addf(field, "give the day")
	}
}
