package measure

import (
	"fmt"
	"strconv"
	"strings"
)

// Style is how a shop or customer likes lengths written.
type Style string

// The styles a person can choose.
const (
	StyleFeetInches Style = "ft-in"
	StyleInches     Style = "in"
	StyleFeet       Style = "ft"
	StyleMetric     Style = "mm"
)

// Format writes the length in a style: 12' 6-1/2", 150.5 in, 12.54 ft or 3823 mm.
func (l Length) Format(s Style) string {
	switch s {
	case StyleInches:
		return l.decimal(Inch, 3) + " in"
	case StyleFeet:
		return l.decimal(Foot, 2) + " ft"
	case StyleMetric:
		return l.Metric(Millimetre)
	}
	return l.FeetInches(16)
}

// InUnits writes the length for somebody who likes this style, as pages show it:
// Pretty in feet and inches, else Format.
func (l Length) InUnits(style string) string {
	switch s := Style(style); s {
	case StyleInches, StyleFeet, StyleMetric:
		return l.Format(s)
	}
	return l.Pretty()
}

// Across is a length that lies across the metal: the width of a coil, strip or
// sheet, a girth, a coverage. The trade gives those in inches however wide they
// are, and only a shop's or customer's millimetres replace them.
type Across Length

// Across gives the length as a width.
func (l Length) Across() Across { return Across(l) }

// String writes a width in inches, 20-7/8 in; what is no whole number of 64ths
// with three decimals, 9.134 in.
func (a Across) String() string {
	l := Length(a)
	if l%SixtyFourth != 0 {
		return l.Format(StyleInches)
	}
	sign := ""
	if l < 0 {
		sign, l = "-", -l
	}
	whole, n, d := inches(l, 64)
	switch {
	case n == 0:
		return fmt.Sprintf("%s%d in", sign, whole)
	case whole == 0:
		return fmt.Sprintf("%s%d/%d in", sign, n, d)
	}
	return fmt.Sprintf("%s%d-%d/%d in", sign, whole, n, d)
}

// inches parts a length into whole inches and a reduced fraction of one.
func inches(l Length, denominator int) (whole Length, n, d int) {
	whole, n, d = l/Inch, int(l%Inch*Length(denominator)/Inch), denominator
	for n > 0 && n%2 == 0 {
		n, d = n/2, d/2
	}
	return whole, n, d
}

// InUnits writes the width for somebody who likes this style: in millimetres, or
// in inches.
func (a Across) InUnits(style string) string {
	if Style(style) == StyleMetric {
		return Length(a).Format(StyleMetric)
	}
	return a.String()
}

// Exact writes a length that is more than 0 as a person could have typed it, so
// that Read gives it back to the nanometre: in feet, inches and 64ths, or in the
// decimal feet, inches or millimetres that it is few of.
func (l Length) Exact() string {
	if l%SixtyFourth == 0 {
		return l.FeetInches(64)
	}
	for _, in := range []struct {
		unit   Length
		places int
		name   string
	}{{Millimetre, 1, "mm"}, {Foot, 3, "ft"}, {Inch, 4, "in"}} {
		if s := l.decimal(in.unit, in.places) + " " + in.name; l.isWritten(s) {
			return s
		}
	}
	return l.decimal(Millimetre, 6) + " mm"
}

func (l Length) isWritten(s string) bool {
	r, err := Read(s, NoUnit)
	return err == nil && r.Length == l
}

// String writes feet, inches and 64ths.
func (l Length) String() string { return l.FeetInches(64) }

// FeetInches writes 12' 6-1/2" with the fraction to the nearest 1/denominator
// (a power of two, 64 at most), reduced. 0 is 0".
func (l Length) FeetInches(denominator int) string {
	return l.feetInches(denominator, `'`, `"`, func(n, d int) string {
		return "-" + strconv.Itoa(n) + "/" + strconv.Itoa(d)
	})
}

// Pretty writes 12′ 6½″ with typographic marks and real fractions, for pages
// and papers whose font has them. Fractions finer than an eighth are built from
// super- and subscript figures.
func (l Length) Pretty() string {
	return l.feetInches(16, "′", "″", func(n, d int) string {
		if s, ok := glyphs[[2]int{n, d}]; ok {
			return s
		}
		return raise(n, supers) + "⁄" + raise(d, subs)
	})
}

var glyphs = map[[2]int]string{
	{1, 2}: "½", {1, 4}: "¼", {3, 4}: "¾", {1, 8}: "⅛", {3, 8}: "⅜", {5, 8}: "⅝", {7, 8}: "⅞",
}

const (
	supers = "⁰¹²³⁴⁵⁶⁷⁸⁹"
	subs   = "₀₁₂₃₄₅₆₇₈₉"
)

func raise(n int, figures string) string {
	fs := []rune(figures)
	var b strings.Builder
	for _, c := range strconv.Itoa(n) {
		b.WriteRune(fs[c-'0'])
	}
	return b.String()
}

func (l Length) feetInches(denominator int, foot, inch string, fraction func(n, d int) string) string {
	step := Inch / Length(denominator)
	sign := ""
	if l < 0 {
		sign, l = "-", -l
	}
	l = l.Near(step)
	ft := l / Foot
	in, n, d := inches(l%Foot, denominator)
	var b strings.Builder
	if l > 0 {
		b.WriteString(sign)
	}
	if ft > 0 {
		b.WriteString(strconv.FormatInt(int64(ft), 10) + foot)
		if in == 0 && n == 0 {
			return b.String()
		}
		b.WriteByte(' ')
	}
	switch {
	case n == 0:
		b.WriteString(strconv.FormatInt(int64(in), 10))
	case in == 0 && ft == 0:
		b.WriteString(strings.TrimPrefix(fraction(n, d), "-"))
	default:
		b.WriteString(strconv.FormatInt(int64(in), 10) + fraction(n, d))
	}
	b.WriteString(inch)
	return b.String()
}

// Metric writes 3823 mm, 3822.7 mm or 3.823 m, to a tenth of a millimetre.
func (l Length) Metric(unit Length) string {
	if unit == Metre {
		return l.Near(Tenth).decimal(Metre, 4) + " m"
	}
	return l.Near(Tenth).decimal(Millimetre, 1) + " mm"
}

// Feet writes the length as lineal feet with two places, as tickets do: 12.54.
func (l Length) Feet() string { return l.Decimal(Foot, 2) }

// Inches writes the length as decimal inches with three places, as machine
// controls take it: 150.500.
func (l Length) Inches() string { return l.Decimal(Inch, 3) }

// decimal writes l/unit with up to places decimals, trailing zeros cut.
func (l Length) decimal(unit Length, places int) string {
	s := l.Decimal(unit, places)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s
}

// Decimal writes l/unit with exactly places decimals, half away from zero.
func (l Length) Decimal(unit Length, places int) string {
	sign := ""
	if l < 0 {
		sign, l = "-", -l
	}
	whole, rest := int64(l/unit), int64(l%unit)
	pow := int64(1)
	for range places {
		pow *= 10
	}
	frac := (rest*pow + int64(unit)/2) / int64(unit)
	if frac == pow {
		whole, frac = whole+1, 0
	}
	if whole == 0 && frac == 0 {
		sign = ""
	}
	if places == 0 {
		return sign + strconv.FormatInt(whole, 10)
	}
	f := strconv.FormatInt(frac, 10)
	return sign + strconv.FormatInt(whole, 10) + "." + strings.Repeat("0", places-len(f)) + f
}
