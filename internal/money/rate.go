package money

import (
	"database/sql/driver"
	"fmt"
	"math/big"
	"regexp"
	"strings"

	"github.com/shopspring/decimal"

	"ribdesk/internal/fault"
)

// QuotientPlaces is how many decimals a division keeps, half away from zero.
// It is far below a cent on anything a shop can make, and is part of the
// versioned pricing rules: changing it changes replayed prices.
const QuotientPlaces = 24

// Rate is an exact decimal: a price per foot, a factor, a percentage. The zero
// Rate is 0.
type Rate struct{ d decimal.Decimal }

// NewRate gives value x 10^exp.
func NewRate(value int64, exp int32) Rate { return Rate{decimal.New(value, exp)} }

// Int gives a whole number as a rate.
func Int(n int64) Rate { return NewRate(n, 0) }

// Fraction gives n/d to QuotientPlaces. d must not be 0.
func Fraction(n, d int64) Rate { return Int(n).Div(Int(d)) }

// FromRat gives an exact fraction to QuotientPlaces.
func FromRat(r *big.Rat) Rate {
	return Rate{decimal.NewFromBigInt(r.Num(), 0)}.Div(Rate{decimal.NewFromBigInt(r.Denom(), 0)})
}

// FromFloat is the named place where a computed physical figure (a weight, a
// time) enters the arithmetic of money: rounded to 9 places.
func FromFloat(f float64) Rate { return Rate{decimal.NewFromFloat(f).Round(9)} }

// Must reads a rate written in the program itself and panics on a slip there.
func Must(s string) Rate {
	r, err := ReadRate(s)
	if err != nil {
		panic(err)
	}
	return r
}

var rateForm = regexp.MustCompile(`^-?(\d{1,15}(\.\d{0,24})?|\.\d{1,24})$`)

// ReadRate understands a plain decimal such as 1.18, .05 or -2, with at most 15
// digits before and QuotientPlaces after the point, so that a quotient that was
// written reads back. The fault's field is "rate".
func ReadRate(typed string) (Rate, error) {
	s := strings.TrimPrefix(strings.TrimSpace(typed), "$")
	if !rateForm.MatchString(s) {
		return Rate{}, fault.Invalidf("rate", "“%s” isn't a number; write it like 1.25", clip(typed))
	}
	d, err := decimal.NewFromString(s)
	if err != nil {
		return Rate{}, fault.Invalidf("rate", "“%s” isn't a number; write it like 1.25", clip(typed)).Because(err)
	}
	return Rate{d}, nil
}

// Add gives r + s.
func (r Rate) Add(s Rate) Rate { return Rate{r.d.Add(s.d)} }

// Sub gives r - s.
func (r Rate) Sub(s Rate) Rate { return Rate{r.d.Sub(s.d)} }

// Mul gives r x s, exactly.
func (r Rate) Mul(s Rate) Rate { return Rate{r.d.Mul(s.d)} }

// Div gives r / s to QuotientPlaces. s must not be 0: check it where it is read.
func (r Rate) Div(s Rate) Rate { return Rate{r.d.DivRound(s.d, QuotientPlaces)} }

// Neg gives -r.
func (r Rate) Neg() Rate { return Rate{r.d.Neg()} }

// PowInt gives r to a whole power of 0 or more, exactly.
func (r Rate) PowInt(n int) Rate {
	p := Int(1)
	for range n {
		p = p.Mul(r)
	}
	return p
}

// Cmp compares r and s: -1, 0 or 1.
func (r Rate) Cmp(s Rate) int { return r.d.Cmp(s.d) }

// Sign gives -1, 0 or 1.
func (r Rate) Sign() int { return r.d.Sign() }

// IsZero reports whether r is 0.
func (r Rate) IsZero() bool { return r.d.IsZero() }

// Shorten keeps places decimals, half away from zero. Use it to bound the digits
// of a long chain of factors; an amount is made by Round alone.
func (r Rate) Shorten(places int32) Rate { return Rate{r.d.Round(places)} }

// Float gives the nearest float, for pictures and weights; never for money.
func (r Rate) Float() float64 { f, _ := r.d.Float64(); return f }

// String writes the shortest plain decimal.
func (r Rate) String() string { return r.d.String() }

// Fixed writes exactly places decimals, half away from zero.
func (r Rate) Fixed(places int32) string { return r.d.StringFixed(places) }

// Percent writes a share such as .28 as 28 or 6.75.
func (r Rate) Percent() string { return r.Mul(Int(100)).String() }

// Round is the only place where a rate becomes money: to the whole cent, half
// away from zero. An amount beyond MaxCents is refused.
//
//	 0.125 ->  0.13
//	-0.125 -> -0.13
//	 0.1249 -> 0.12
//
// For sales tax this is the rule of section 324 of the Streamlined Sales and
// Use Tax Agreement (carry to the third decimal, up when it is greater than 4):
// cutting after the third decimal and then rounding by it gives the same cent.
func (r Rate) Round(c Currency) (Amount, error) {
	cents := r.d.Shift(2).Round(0)
	if cents.Abs().Cmp(decimal.NewFromInt(MaxCents)) > 0 {
		return Amount{}, fault.Invalidf("", "this comes to more money than the desk can hold; check lengths and quantities")
	}
	return Amount{cents: cents.IntPart(), currency: c}, nil
}

// RoundUp rounds to the whole cent away from zero, for floors that must not be
// undercut by rounding.
func (r Rate) RoundUp(c Currency) (Amount, error) {
	return Rate{r.d.Shift(2).RoundUp(0).Shift(-2)}.Round(c)
}

// Split shares total among weights exactly: each gets its share cut to the
// cent, and the cents left go to the largest remainders, ties to the earliest.
// Weights must be 0 or more with a sum above 0; total may be negative.
func Split(total Amount, weights []Rate) ([]Amount, error) {
	sum := Int(0)
	for i, w := range weights {
		if w.Sign() < 0 {
			return nil, fault.Invalidf("", "share %d is negative", i+1)
		}
		sum = sum.Add(w)
	}
	if sum.Sign() <= 0 {
		return nil, fault.Invalidf("", "nothing to share the amount by")
	}
	sign := int64(1)
	cents := total.cents
	if cents < 0 {
		sign, cents = -1, -cents
	}
	parts := make([]int64, len(weights))
	rests := make([]Rate, len(weights))
	left := cents
	for i, w := range weights {
		exact := w.Mul(Int(cents)).Div(sum)
		parts[i] = exact.d.Floor().IntPart()
		rests[i] = exact.Sub(Int(parts[i]))
		left -= parts[i]
	}
	for ; left > 0; left-- {
		best := -1
		for i := range rests {
			if weights[i].Sign() > 0 && (best < 0 || rests[i].Cmp(rests[best]) > 0) {
				best = i
			}
		}
		parts[best]++
		rests[best] = rests[best].Sub(Int(1))
	}
	out := make([]Amount, len(parts))
	for i, p := range parts {
		out[i] = Amount{cents: sign * p, currency: total.currency}
	}
	return out, nil
}

// MarshalText writes the plain decimal, so JSON holds it as a string.
func (r Rate) MarshalText() ([]byte, error) { return []byte(r.d.String()), nil }

// UnmarshalText reads a plain decimal.
func (r *Rate) UnmarshalText(b []byte) (err error) {
	*r, err = ReadRate(string(b))
	return err
}

// UnmarshalJSON reads a decimal given as a string or as a number; the digits of
// a number are taken as written, never through a float.
func (r *Rate) UnmarshalJSON(b []byte) error {
	s := string(b)
	if s == "null" {
		return nil
	}
	return r.UnmarshalText([]byte(strings.Trim(s, `"`)))
}

// Value stores a rate as text, which SQL never compares.
func (r Rate) Value() (driver.Value, error) { return r.d.String(), nil }

// Scan reads a stored rate.
func (r *Rate) Scan(v any) error {
	switch t := v.(type) {
	case string:
		return r.UnmarshalText([]byte(t))
	case []byte:
		return r.UnmarshalText(t)
	case nil:
		*r = Rate{}
		return nil
	}
	return fmt.Errorf("money: a rate is stored as text, not %T", v)
}
