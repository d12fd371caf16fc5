package roof

import (
	"math"
	"math/big"
	"regexp"
	"strconv"
	"strings"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
)

// run12 is the run that a rise is given for.
const run12 = measure.Foot

// Pitch is a slope as its rise over 12 in of run.
type Pitch struct {
	Rise  measure.Length `json:"rise"`
	Typed string         `json:"typed,omitempty"` // as it was stated
}

// Rising gives the pitch of so many inches in 12.
func Rising(inches int) Pitch { return Pitch{Rise: measure.Inch.Times(inches)} }

// Limits of a pitch: steeper is a wall.
const (
	steepest        = 48 * measure.Inch
	steepestDegrees = 75
)

var (
	degreesForm = regexp.MustCompile(`^(\d{1,2}(?:\.\d{1,6})?)\s*(?:°|deg\.?|degrees?)$`)
	riseForm    = regexp.MustCompile(`^([0-9½¼¾⅛⅜⅝⅞./\- ]+?)\s*(?:(?:/|:|in|over|on)\s*12)?$`)
)

// ReadPitch understands a pitch as people write it: 6, 6/12, 6 in 12, 6:12,
// 6-1/2 in 12, 26.57°. A bare number is the rise in 12; one over 24 may be
// meant in degrees, and is asked about. The fault's field is "pitch".
//
// Degrees become a rise to the nearest nanometre here, the one place where a
// pitch is rounded.
func ReadPitch(typed string) (Pitch, error) {
	s := strings.ToLower(strings.TrimSpace(typed))
	if s == "" || len(s) > 40 {
		return Pitch{}, fault.Invalidf("pitch", "give the pitch as rise in 12, such as 6 in 12, or in degrees, such as 26.5°")
	}
	if m := degreesForm.FindStringSubmatch(s); m != nil {
		d, err := strconv.ParseFloat(m[1], 64)
		if err != nil || d <= 0 || d > steepestDegrees {
			return Pitch{}, fault.Invalidf("pitch", "give a pitch of more than 0 and at most %d degrees", steepestDegrees)
		}
		p := Pitch{Rise: measure.FromInches(12 * math.Tan(d*math.Pi/180)), Typed: strings.TrimSpace(typed)}
		if p.Rise <= 0 {
			return Pitch{}, fault.Invalidf("pitch", "this pitch is as good as flat")
		}
		return p, nil
	}
	m := riseForm.FindStringSubmatch(s)
	if m == nil {
		return Pitch{}, fault.Invalidf("pitch", "“%s” isn't a pitch; write it like 6 in 12 or 26.5°", strings.TrimSpace(typed))
	}
	r, err := measure.Read(strings.TrimSpace(m[1]), measure.Inches)
	switch {
	case err != nil:
		return Pitch{}, fault.Invalidf("pitch", "“%s” isn't a pitch; write it like 6 in 12 or 26.5°", strings.TrimSpace(typed))
	case strings.TrimSpace(m[1]) == s && r.Length > 24*measure.Inch:
		return Pitch{}, fault.Invalidf("pitch", "“%s” can be read two ways; write %s° or %s in 12", strings.TrimSpace(typed), s, s)
	case r.Length > steepest:
		return Pitch{}, fault.Invalidf("pitch", "steeper than %d in 12 is a wall; measure its panels as one", steepest/measure.Inch)
	}
	return Pitch{Rise: r.Length, Typed: strings.TrimSpace(typed)}, nil
}

// String writes the pitch as it was stated, else as rise in 12.
func (p Pitch) String() string {
	if p.Typed != "" {
		return p.Typed
	}
	return p.In12()
}

// In12 writes the pitch as a rise in 12, to a hundredth of an inch.
func (p Pitch) In12() string {
	s := p.Rise.Decimal(measure.Inch, 2)
	return strings.TrimRight(strings.TrimRight(s, "0"), ".") + " in 12"
}

// Degrees gives the angle, for showing.
func (p Pitch) Degrees() float64 {
	return math.Atan2(float64(p.Rise), float64(run12)) * 180 / math.Pi
}

// Factor is the slope's length for each of run, for showing.
func (p Pitch) Factor() float64 { return math.Sqrt(1 + p.squared()) }

// HipFactor is the length of a regular hip or valley for each of the common run,
// for showing.
func (p Pitch) HipFactor() float64 { return math.Sqrt(2 + p.squared()) }

func (p Pitch) squared() float64 {
	r := float64(p.Rise) / float64(run12)
	return r * r
}

// Slope gives how long a level run is on the slope.
func (p Pitch) Slope(run measure.Length) measure.Length { return p.times(run, 1) }

// Hip gives how long a regular hip or valley over a common run is.
func (p Pitch) Hip(run measure.Length) measure.Length { return p.times(run, 2) }

// times is run x sqrt(runs + (rise/12)²).
func (p Pitch) times(run measure.Length, runs int64) measure.Length {
	base := square(run12)
	n := new(big.Int).Mul(base, big.NewInt(runs))
	n.Add(n, square(p.Rise)).Mul(n, square(run))
	return root(n, base)
}

func square(l measure.Length) *big.Int {
	n := big.NewInt(int64(l))
	return n.Mul(n, n)
}

// root gives the least whole nanometres whose square is n/d or more. It is the
// named place where a square root becomes a length.
func root(n, d *big.Int) measure.Length {
	q, rest := new(big.Int).QuoRem(n, d, new(big.Int))
	if rest.Sign() > 0 {
		q.Add(q, big.NewInt(1))
	}
	s := new(big.Int).Sqrt(q)
	if new(big.Int).Mul(s, s).Cmp(q) < 0 {
		s.Add(s, big.NewInt(1))
	}
	return measure.Length(s.Int64())
}

// Between gives the distance of two places, up to the next 1/16 in.
func Between(a, b Point) measure.Length {
	n := square(a.X - b.X)
	return up(root(n.Add(n, square(a.Y-b.Y)), big.NewInt(1)), measure.Sixteenth)
}

// slack is what roots rounded up one after the other can add; it makes nothing
// a step longer.
const slack = 100 * measure.Nanometre

// up rounds up to a whole number of steps.
func up(l, step measure.Length) measure.Length { return (l - slack).Up(step) }
