// Package measure holds exact lengths and reads and writes them the way people
// in the trade do: feet, inches and fractions, decimal feet and inches, and
// metric. It knows no prices, metals or forms.
//
// A Length is a whole count of nanometres. One inch is 25.4 mm by definition
// (NIST Handbook 44, Appendix C), so 1/64 in, 0.001 in, 0.001 ft and 0.1 mm are
// all whole counts and no sum of them drifts.
package measure

import (
	"database/sql/driver"
	"fmt"
	"math/big"
	"strconv"
	"strings"
)

// Length is a whole count of nanometres.
type Length int64

// Named lengths.
const (
	Nanometre   Length = 1
	Tenth       Length = 100_000 // 0.1 mm
	Millimetre  Length = 1_000_000
	Centimetre         = 10 * Millimetre
	Metre              = 1000 * Millimetre
	Inch        Length = 25_400_000
	Foot               = 12 * Inch
	SixtyFourth        = Inch / 64
	Sixteenth          = Inch / 16
	Eighth             = Inch / 8
	Mil                = Inch / 1000
	Longest            = 1_000_000 * Foot // no coil, order or ledger in the shop comes near
)

// Times gives n of this length.
func (l Length) Times(n int) Length { return l * Length(n) }

// Abs gives the length without its sign.
func (l Length) Abs() Length {
	if l < 0 {
		return -l
	}
	return l
}

// Ratio gives l / m as an exact fraction, for rates per foot and the like.
// m must not be 0.
func (l Length) Ratio(m Length) *big.Rat { return big.NewRat(int64(l), int64(m)) }

// InFeet gives the length in feet as a float, for weights, times and drawings;
// never for money.
func (l Length) InFeet() float64 { return float64(l) / float64(Foot) }

// InInches gives the length in inches as a float, for weights and drawings.
func (l Length) InInches() float64 { return float64(l) / float64(Inch) }

// InMetres gives the length in metres as a float, for drawings.
func (l Length) InMetres() float64 { return float64(l) / float64(Metre) }

// FromInches gives the length nearest to a computed number of inches. It is the
// named place where a float (a girth, a coil's outside diameter) becomes exact.
func FromInches(in float64) Length {
	n := in * float64(Inch)
	if n < 0 {
		return Length(n - 0.5)
	}
	return Length(n + 0.5)
}

// FromFeet gives the length nearest to a computed number of feet.
func FromFeet(ft float64) Length { return FromInches(ft * 12) }

// Up rounds up to a whole number of steps.
func (l Length) Up(step Length) Length {
	q := l / step
	if l%step > 0 {
		q++
	}
	return q * step
}

// Down rounds down to a whole number of steps.
func (l Length) Down(step Length) Length {
	q := l / step
	if l%step < 0 {
		q--
	}
	return q * step
}

// Near rounds to the nearest whole number of steps, half away from zero.
func (l Length) Near(step Length) Length {
	if l < 0 {
		return -(-l).Near(step)
	}
	return (l + step/2) / step * step
}

// Value stores a length as its whole count.
func (l Length) Value() (driver.Value, error) { return int64(l), nil }

// MarshalText writes a length exactly: feet-inch-fraction when it is a whole
// number of 64ths, else millimetres, else nanometres.
func (l Length) MarshalText() ([]byte, error) {
	switch {
	case l%SixtyFourth == 0:
		return []byte(l.FeetInches(64)), nil
	case l%Tenth == 0:
		return []byte(l.Metric(Millimetre)), nil
	}
	return []byte(strconv.FormatInt(int64(l), 10) + " nm"), nil
}

// UnmarshalText reads what MarshalText writes, and whatever Read takes with its
// unit written out.
func (l *Length) UnmarshalText(b []byte) error {
	s := string(b)
	if digits, ok := strings.CutSuffix(s, " nm"); ok {
		n, err := strconv.ParseInt(digits, 10, 64)
		if err != nil {
			return fmt.Errorf("length %q: %w", s, err)
		}
		*l = Length(n)
		return nil
	}
	neg := strings.HasPrefix(s, "-")
	if t := strings.TrimPrefix(s, "-"); t == `0"` {
		*l = 0
		return nil
	} else {
		s = t
	}
	r, err := Read(s, NoUnit)
	if err != nil {
		return err
	}
	*l = r.Length
	if neg {
		*l = -*l
	}
	return nil
}
