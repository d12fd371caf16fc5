package measure

import (
	"regexp"
	"strconv"
	"strings"

	"ribdesk/internal/fault"
	"ribdesk/internal/words"
)

// Unit is what a bare number means, as the field shows it.
type Unit string

// The units a field can show. NoUnit refuses a bare number with a question.
const (
	NoUnit      Unit = ""
	Feet        Unit = "ft"
	Inches      Unit = "in"
	Metres      Unit = "m"
	Centimetres Unit = "cm"
	Millimetres Unit = "mm"
)

var unitLength = map[Unit]Length{
	Feet: Foot, Inches: Inch, Metres: Metre, Centimetres: Centimetre, Millimetres: Millimetre,
}

// Reading is a length as it was understood.
type Reading struct {
	Length Length
	Typed  string     // what was typed, unchanged
	Note   words.Text // what a person should check, empty where there is nothing
}

// Read understands a length as people type it: 12' 6-1/2", 12-6 1/2, 12 ft
// 6.5 in, 150.5 in, 150 1/2", 12.54 ft, 3.82 m, 3820 mm, with straight or
// typographic marks and Unicode fractions. A bare number takes the unit that
// the field shows. What can be read two ways ("12 6", "3,82") is refused with
// the question; so are negative lengths, zero, fractions of 1 or more, and
// denominators that aren't a power of two from 2 to 64.
//
// The fault's field is "length".
func Read(typed string, bare Unit) (Reading, error) {
	refuse := func(format string, args ...any) (Reading, error) {
		return Reading{}, fault.Invalidf("length", format, args...)
	}
	toks, bad := scan(typed)
	if bad != "" {
		return refuse("“%s” in “%s” isn't part of a length; write it like 12' 6-1/2\", 150.5 in or 3.82 m", bad, clip(typed))
	}
	if len(toks) == 0 {
		return refuse("no length given; write it like 12' 6-1/2\", 150.5 in or 3.82 m")
	}
	if toks[0].kind == dash {
		return refuse("a length can't be negative")
	}
	r := Reading{Typed: typed}
	p := parser{toks: toks}
	if err := p.length(bare, &r); err != nil {
		return Reading{}, err
	}
	if r.Length <= 0 {
		return refuse("a length must be more than 0")
	}
	if r.Length > Longest {
		return refuse("“%s” is longer than anything here can be", clip(typed))
	}
	return r, nil
}

func clip(s string) string {
	r := []rune(strings.TrimSpace(s))
	if len(r) > 40 {
		return string(r[:40]) + "…"
	}
	return string(r)
}

type kind int

const (
	number kind = iota
	fraction
	unit
	dash
)

type token struct {
	kind   kind
	text   string
	unit   Unit
	spaced bool // white space stood before it
}

var (
	marks = strings.NewReplacer(
		"′′", `"`, "''", `"`, "’’", `"`, "′", "'", "’", "'", "‘", "'", "´", "'", "`", "'", "ʹ", "'",
		"″", `"`, "“", `"`, "”", `"`, "„", `"`, "˝", `"`, "ʺ", `"`,
		"–", "-", "—", "-", "−", "-", "‑", "-", "‐", "-",
		"⁄", "/", "∕", "/",
		"\u00a0", " ", "\u2009", " ", "\u202f", " ", "\u2007", " ",
		"½", " 1/2", "¼", " 1/4", "¾", " 3/4", "⅛", " 1/8", "⅜", " 3/8", "⅝", " 5/8", "⅞", " 7/8",
		"⅓", " 1/3", "⅔", " 2/3",
		"⁰", "0", "¹", "1", "²", "2", "³", "3", "⁴", "4", "⁵", "5", "⁶", "6", "⁷", "7", "⁸", "8", "⁹", "9",
		"₀", "0", "₁", "1", "₂", "2", "₃", "3", "₄", "4", "₅", "5", "₆", "6", "₇", "7", "₈", "8", "₉", "9",
	)
	// A built-up fraction like ¹⁄₁₆ runs into the inches before it; a space keeps them apart.
	builtFraction = regexp.MustCompile(`[⁰¹²³⁴⁵⁶⁷⁸⁹]+[⁄/∕]`)
	tokenForm     = regexp.MustCompile(`^(?:(\d+/\d+)|(\d*\.\d+|\d+\.?)|([a-zA-Z]+\.?|['"])|(-))`)
	unitNames     = map[string]Unit{
		"'": Feet, "ft": Feet, "foot": Feet, "feet": Feet, "f": Feet,
		`"`: Inches, "in": Inches, "inch": Inches, "inches": Inches, "ins": Inches,
		"m": Metres, "metre": Metres, "metres": Metres, "meter": Metres, "meters": Metres,
		"metro": Metres, "metros": Metres, "mt": Metres, "mts": Metres,
		"cm": Centimetres, "mm": Millimetres,
		"pie": Feet, "pies": Feet, "pulg": Inches, "pulgada": Inches, "pulgadas": Inches,
	}
)

// Plain writes typographic marks, fractions and dashes as a typewriter would:
// 12′ 6½″ becomes 12' 6 1/2".
func Plain(typed string) string {
	s := builtFraction.ReplaceAllStringFunc(typed, func(f string) string { return " " + f })
	return marks.Replace(s)
}

// scan cuts the typed text into tokens; bad is the first piece it can't place.
func scan(typed string) (toks []token, bad string) {
	if len(typed) > 200 {
		return nil, clip(typed)
	}
	s := Plain(typed)
	for {
		trimmed := strings.TrimLeft(s, " \t\r\n")
		spaced := len(trimmed) < len(s)
		s = trimmed
		if s == "" {
			return toks, ""
		}
		m := tokenForm.FindStringSubmatch(s)
		if m == nil {
			if s[0] == ',' {
				return nil, ","
			}
			return nil, string([]rune(s)[:1])
		}
		t := token{spaced: spaced, text: m[0]}
		switch {
		case m[1] != "":
			t.kind = fraction
		case m[2] != "":
			t.kind = number
		case m[3] != "":
			u, ok := unitNames[strings.ToLower(strings.TrimSuffix(m[3], "."))]
			if !ok {
				return nil, m[3]
			}
			t.kind, t.unit = unit, u
		default:
			t.kind = dash
		}
		toks = append(toks, t)
		s = s[len(m[0]):]
	}
}

type parser struct {
	toks []token
	at   int
}

func (p *parser) peek(k kind) bool { return p.at < len(p.toks) && p.toks[p.at].kind == k }
func (p *parser) done() bool       { return p.at == len(p.toks) }
func (p *parser) next() token      { p.at++; return p.toks[p.at-1] }

func (p *parser) ask(format string, args ...any) error {
	return fault.Invalidf("length", format, args...)
}

// length reads the whole text:
//
//	feet-inches  = NUM ft [-] [mixed [in]]  |  NUM - mixed-with-whole [in]
//	one value    = mixed [unit]
//	mixed        = NUM [[-] FRAC] | FRAC
func (p *parser) length(bare Unit, r *Reading) error {
	// 12-6 1/2 : whole feet, dash, inches
	if len(p.toks) >= 3 && p.peek(number) && p.toks[1].kind == dash && p.toks[2].kind == number {
		ft := p.next().text
		p.next()
		return p.inchesAfter(ft, r)
	}
	v, err := p.mixed()
	if err != nil {
		return err
	}
	if p.done() {
		return p.bareValue(v, bare, r)
	}
	if p.peek(number) || p.peek(fraction) {
		return p.ask("“%s %s” can be read in more than one way; did you mean %s' %s\"?", v.text, p.toks[p.at].text, v.text, p.toks[p.at].text)
	}
	if p.peek(dash) {
		return p.ask("a dash stands here with nothing to follow; write it like 12-6 1/2 or 12' 6-1/2\"")
	}
	u := p.next().unit
	if u == Feet && !p.done() {
		if v.fraction || strings.Contains(v.text, ".") {
			return p.ask("feet before inches must be a whole number, not %s", v.text)
		}
		if p.peek(dash) {
			p.next()
		}
		return p.inchesAfter(v.text, r)
	}
	if !p.done() {
		return p.ask("there is more after the unit: “%s”", p.toks[p.at].text)
	}
	r.Length, err = v.of(u, r)
	return err
}

func (p *parser) bareValue(v value, bare Unit, r *Reading) (err error) {
	if unitLength[bare] == 0 {
		return p.ask("“%s” has no unit; is it feet, inches or millimetres?", v.text)
	}
	r.Length, err = v.of(bare, r)
	return err
}

// inchesAfter reads the inches that follow whole feet.
func (p *parser) inchesAfter(ft string, r *Reading) error {
	feet, err := strconv.ParseInt(ft, 10, 32)
	if err != nil {
		return p.ask("feet before inches must be a whole number, not %s", ft)
	}
	if p.done() {
		return p.ask("a dash stands here with nothing to follow; write it like 12-6 1/2 or 12' 6-1/2\"")
	}
	v, err := p.mixed()
	if err != nil {
		return err
	}
	if p.peek(unit) {
		if u := p.next(); u.unit != Inches {
			return p.ask("inches are expected after feet, not “%s”", u.text)
		}
	}
	if !p.done() {
		return p.ask("there is more after the inches: “%s”", p.toks[p.at].text)
	}
	in, err := v.of(Inches, r)
	if err != nil {
		return err
	}
	r.Length = Length(feet)*Foot + in
	if in >= Foot {
		r.Note = joinNotes(r.Note, words.Say("%s in is 12 in or more after feet; read as %s", v.text, r.Length))
	}
	return nil
}

// value is a number with an optional fraction, not yet a length.
type value struct {
	text     string
	whole    int64 // in units of 1/scale
	scale    int64
	num, den int64
	fraction bool
}

func (p *parser) mixed() (value, error) {
	v := value{scale: 1, den: 1}
	if p.peek(number) {
		t := p.next()
		v.text = t.text
		if err := v.setNumber(t.text); err != nil {
			return v, err
		}
		next := p.at
		if p.peek(dash) && p.at+1 < len(p.toks) && p.toks[p.at+1].kind == fraction {
			next++
		}
		if next >= len(p.toks) || p.toks[next].kind != fraction {
			return v, nil
		}
		if v.scale != 1 {
			return v, p.ask("%s %s mixes decimals and a fraction", t.text, p.toks[next].text)
		}
		p.at = next
	}
	if !p.peek(fraction) {
		return v, p.ask("a number is missing; write it like 12' 6-1/2\", 150.5 in or 3.82 m")
	}
	t := p.next()
	v.text = strings.TrimSpace(v.text + " " + t.text)
	return v, v.setFraction(t.text)
}

func (v *value) setNumber(s string) error {
	whole, frac, _ := strings.Cut(s, ".")
	if len(whole) > 9 {
		return fault.Invalidf("length", "%s is longer than anything here can be", clip(s))
	}
	if len(frac) > 6 {
		return fault.Invalidf("length", "%s has more than 6 decimals", clip(s))
	}
	n, err := strconv.ParseInt("0"+whole+frac, 10, 64)
	if err != nil {
		return fault.Invalidf("length", "%s isn't a number", clip(s))
	}
	v.whole = n
	for range frac {
		v.scale *= 10
	}
	return nil
}

func (v *value) setFraction(s string) error {
	n, d, _ := strings.Cut(s, "/")
	num, err1 := strconv.ParseInt(n, 10, 32)
	den, err2 := strconv.ParseInt(d, 10, 32)
	if err1 != nil || err2 != nil || den < 2 || den > 64 || den&(den-1) != 0 {
		return fault.Invalidf("length", "%s isn't a fraction of the rule: use halves, quarters, eighths, 16ths, 32nds or 64ths", clip(s))
	}
	if num >= den || num == 0 {
		return fault.Invalidf("length", "the fraction %s must be between 0 and 1", s)
	}
	v.num, v.den, v.fraction = num, den, true
	return nil
}

// of gives the value as a length of this unit.
func (v value) of(u Unit, r *Reading) (Length, error) {
	if v.fraction && u != Feet && u != Inches {
		return 0, fault.Invalidf("length", "fractions go with feet and inches, not with %s", u)
	}
	size := int64(unitLength[u])
	// whole < 10^15 and size <= 10^9: split so that the product can't overflow.
	q, rem := v.whole/v.scale, v.whole%v.scale
	if q > int64(Longest)/size {
		return 0, fault.Invalidf("length", "%s %s is longer than anything here can be", v.text, u)
	}
	n := q*size + (rem*size+v.scale/2)/v.scale
	if rem*size%v.scale != 0 {
		r.Note = joinNotes(r.Note, words.Say("rounded to the nearest nanometre"))
	}
	return Length(n + v.num*size/v.den), nil
}

func joinNotes(a, b words.Text) words.Text {
	if a.Format == "" {
		return b
	}
	return words.Say("%s; %s", a, b)
}
