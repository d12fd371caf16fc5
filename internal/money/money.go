// Package money holds amounts in whole cents and rates as exact decimals, and
// is the only place where one becomes the other by rounding. It doesn't know
// what is bought or sold.
package money

import (
	"encoding/json"
	"fmt"
	"strconv"
	"strings"

	"ribdesk/internal/fault"
)

// Currency is an ISO 4217 code.
type Currency string

// USD is the currency of a shop that sets none.
const USD Currency = "USD"

// MaxCents bounds every amount: ten trillion in the main unit. Anything beyond
// is refused as it is made, so that adding amounts up can't overflow.
const MaxCents = 1_000_000_000_000_000

// Amount is a sum of money in whole cents of one currency. The zero Amount has
// no currency and takes that of what it is added to.
type Amount struct {
	cents    int64
	currency Currency
}

// Cents makes an amount of whole cents.
func Cents(cents int64, c Currency) Amount { return Amount{cents: cents, currency: c} }

// Cents gives the whole cents.
func (a Amount) Cents() int64 { return a.cents }

// Currency gives the currency, "" for the zero Amount.
func (a Amount) Currency() Currency { return a.currency }

// IsZero reports whether nothing is owed either way.
func (a Amount) IsZero() bool { return a.cents == 0 }

// Sign gives -1, 0 or 1.
func (a Amount) Sign() int {
	switch {
	case a.cents < 0:
		return -1
	case a.cents > 0:
		return 1
	}
	return 0
}

// Add gives a + b. Two different currencies are a defect of the program, not of
// the input (a shop has one), and panic like an index out of range.
func (a Amount) Add(b Amount) Amount {
	return Amount{cents: a.cents + b.cents, currency: a.with(b)}
}

// Sub gives a - b.
func (a Amount) Sub(b Amount) Amount { return a.Add(b.Neg()) }

// Neg gives -a.
func (a Amount) Neg() Amount { return Amount{cents: -a.cents, currency: a.currency} }

// Cmp compares a and b: -1, 0 or 1.
func (a Amount) Cmp(b Amount) int { return a.Sub(b).Sign() }

// Less reports whether a < b.
func (a Amount) Less(b Amount) bool { return a.Cmp(b) < 0 }

// Min gives the smaller of a and b.
func Min(a, b Amount) Amount {
	if b.Less(a) {
		return b
	}
	return a
}

// Max gives the larger of a and b.
func Max(a, b Amount) Amount {
	if a.Less(b) {
		return b
	}
	return a
}

// Sum adds amounts up.
func Sum(as ...Amount) (total Amount) {
	for _, a := range as {
		total = total.Add(a)
	}
	return total
}

func (a Amount) with(b Amount) Currency {
	switch {
	case a.currency == b.currency || b.currency == "":
		return a.currency
	case a.currency == "":
		return b.currency
	}
	panic(fmt.Sprintf("money: %s and %s in one sum", a.currency, b.currency))
}

// Rate gives the amount in the main unit, exactly.
func (a Amount) Rate() Rate { return NewRate(a.cents, -2) }

// String writes -1,234.50 without the currency.
func (a Amount) String() string {
	s := a.Plain()
	sign := ""
	if strings.HasPrefix(s, "-") {
		sign, s = "-", s[1:]
	}
	whole, frac := s[:len(s)-3], s[len(s)-3:]
	for i := len(whole) - 3; i > 0; i -= 3 {
		whole = whole[:i] + "," + whole[i:]
	}
	return sign + whole + frac
}

// Plain writes -1234.50, for files that other programs read.
func (a Amount) Plain() string {
	c, sign := a.cents, ""
	if c < 0 {
		c, sign = -c, "-"
	}
	return fmt.Sprintf("%s%d.%02d", sign, c/100, c%100)
}

// Format writes $1,234.50 or -$1,234.50 for dollars, else 1,234.50 EUR.
func (a Amount) Format() string {
	s := a.String()
	if a.currency != USD && a.currency != "" {
		return s + " " + string(a.currency)
	}
	if strings.HasPrefix(s, "-") {
		return "-$" + s[1:]
	}
	return "$" + s
}

type amountJSON struct {
	Cents    int64    `json:"cents"`
	Currency Currency `json:"currency,omitempty"`
}

// MarshalJSON writes {"cents":123450,"currency":"USD"}.
func (a Amount) MarshalJSON() ([]byte, error) {
	return json.Marshal(amountJSON{Cents: a.cents, Currency: a.currency})
}

// UnmarshalJSON reads what MarshalJSON writes.
func (a *Amount) UnmarshalJSON(b []byte) error {
	var j amountJSON
	if err := json.Unmarshal(b, &j); err != nil {
		return err
	}
	if j.Cents > MaxCents || j.Cents < -MaxCents {
		return fault.Invalidf("cents", "%d is more money than this desk can hold", j.Cents)
	}
	*a = Amount{cents: j.Cents, currency: j.Currency}
	return nil
}

// Read understands an amount as people type it: 1234.5, $1,234.50, -12. More
// than two decimals are refused rather than rounded. The fault's field is
// "amount".
func Read(typed string, c Currency) (Amount, error) {
	refuse := func(why string) (Amount, error) {
		return Amount{}, fault.Invalidf("amount", "“%s” %s; write it like 1234.50", clip(typed), why)
	}
	s := strings.TrimSpace(typed)
	neg := false
	if t, ok := strings.CutPrefix(s, "-"); ok {
		neg, s = true, t
	}
	s = strings.TrimSpace(strings.TrimPrefix(strings.TrimSpace(s), "$"))
	if c != "" {
		s = strings.TrimSpace(strings.TrimSuffix(s, string(c)))
	}
	if s == "" {
		return refuse("isn't an amount")
	}
	whole, frac, point := strings.Cut(s, ".")
	if strings.Contains(whole, ",") {
		groups := strings.Split(whole, ",")
		for i, g := range groups {
			if (i > 0 && len(g) != 3) || len(g) == 0 || len(g) > 3 {
				return refuse("has a comma in an odd place")
			}
		}
		whole = strings.Join(groups, "")
	}
	if point && frac == "" || len(frac) > 2 {
		return refuse("needs two decimals at most")
	}
	for len(frac) < 2 {
		frac += "0"
	}
	if len(whole) > 13 {
		return refuse("is more money than this desk can hold")
	}
	for _, ch := range whole + frac {
		if ch < '0' || ch > '9' {
			return refuse("isn't an amount")
		}
	}
	n, err := strconv.ParseInt("0"+whole+frac, 10, 64)
	if err != nil || n > MaxCents {
		return refuse("is more money than this desk can hold")
	}
	if neg {
		n = -n
	}
	return Cents(n, c), nil
}

func clip(s string) string {
	r := []rune(strings.TrimSpace(s))
	if len(r) > 40 {
		return string(r[:40]) + "…"
	}
	return string(r)
}
