package cutlist

import (
	"regexp"
	"strconv"
	"strings"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/words"
)

// Doubt is a question that one answer settles for the whole list.
type Doubt string

// The doubts.
const (
	Bare  Doubt = "bare"  // which unit a bare number has
	Dash  Doubt = "dash"  // whether 12-6 is 12' 6"
	Point Doubt = "point" // whether 12.6 is decimal feet or 12' 6"
)

// Pointed says how 12.6 is meant.
type Pointed string

// The ways of meaning it.
const (
	Asked      Pointed = ""
	AsDecimals Pointed = "decimals"
	AsInches   Pointed = "inches"
)

// heard is a length as far as it could be made out.
type heard struct {
	length measure.Length // 0 while it is asked
	check  words.Text     // what a person should look at
	ask    words.Text
	may    []measure.Length // what it could be
	doubt  Doubt
}

func (h heard) asked() bool { return h.ask.Format != "" }

func ask(format string, args ...any) heard { return heard{ask: words.Say(format, args...)} }

// Lengths outside of these are asked about: nobody orders a half inch of panel,
// and no truck or field has a mile of it in one piece.
const (
	shortest = measure.Inch
	longest  = 500 * measure.Foot
	unasked  = 100 * measure.Foot // a number without a unit of its own
)

var (
	dashed         = regexp.MustCompile(`^(\d{1,3})\s*-\s*(\d{1,2})$`)
	pointed        = regexp.MustCompile(`^(\d{1,3})\.(\d+)$`)
	whole          = regexp.MustCompile(`^\d+$`)
	commaNumber    = regexp.MustCompile(`(\d),(\d+)`)
	marked         = regexp.MustCompile(`(?i)\d\s*(?:'|"|ft\b|feet\b|foot\b|in\b|ins\b|inch|mm\b|cm\b|m\b|mts?\b|metros?\b|met(?:er|re)s?\b|pies?\b|pulg)`)
	feetThenInches = regexp.MustCompile(`(?i)(?:'|ft\.?|feet|foot|pies?)\s*-?\s*(\d+)`)
	footOrInch     = regexp.MustCompile(`(?i)['"]|\b(?:ft|feet|foot|in|inch|inches|pies?|pulg\w*)\b`)
	unfit          = regexp.MustCompile(`^#|^=|^\*+$`)
)

// lengthLike reports whether a text has a length with its unit, or feet, dash and
// inches.
func lengthLike(text string) bool {
	s := measure.Plain(text)
	return marked.MatchString(s) || dashed.MatchString(strings.TrimSpace(s)) || mixedDash.MatchString(s)
}

var mixedDash = regexp.MustCompile(`\d+-\d+[- ]\d+/\d+`)

// length reads a cell as a length. col says what its heading tells.
func (a Answers) length(c Cell, col Column) heard {
	if c.Taken == Date {
		return dated(c.Text, c.Month, c.Day)
	}
	if c.Taken == Unworked {
		return ask("the sheet has a formula here that was never worked out; write the length")
	}
	s := strings.TrimSpace(measure.Plain(c.Text))
	if s == "" {
		return ask("the length is missing")
	}
	if unfit.MatchString(s) {
		return ask("the sheet shows an error here; write the length")
	}
	if month, day, ok := day(s); ok {
		return dated(s, month, day)
	}
	s, h := commas(s, a.unit(col))
	if h.asked() {
		return h
	}
	if m := dashed.FindStringSubmatch(s); m != nil {
		return a.dash(s, m, col)
	}
	unit := a.unit(col)
	if m := pointed.FindStringSubmatch(s); m != nil && (unit == measure.Feet || unit == measure.NoUnit) {
		if h, done := a.point(s, m, col); done {
			return h
		}
	}
	if unit == measure.NoUnit && isBare(s) {
		return bare(s)
	}
	if m := feetThenInches.FindStringSubmatch(s); m != nil {
		if n, err := strconv.Atoi(m[1]); err != nil || n >= 12 {
			return tooManyInches(s, m[1])
		}
	}
	r, err := measure.Read(s, unit)
	if err != nil {
		return heard{ask: fault.All(err)[0].Said(), may: twoNumbers(s)}
	}
	out := heard{length: r.Length, check: h.check}
	if r.Note.Format != "" {
		out.check = r.Note
	}
	if h, odd := unlikely(r.Length); odd {
		return h
	}
	if r.Length > unasked && !marked.MatchString(s) {
		return veryLong(s, r.Length)
	}
	return out
}

// isBare reports whether a text is a length only when its unit is told.
func isBare(s string) bool {
	if _, err := measure.Read(s, measure.Inches); err != nil {
		return false
	}
	_, err := measure.Read(s, measure.NoUnit)
	return err != nil
}

// veryLong asks about a piece that could have been meant in inches.
func veryLong(s string, l measure.Length) heard {
	h := ask("%s is very long for one piece; is it right?", l)
	h.may = []measure.Length{l}
	if in, err := measure.Read(s, measure.Inches); err == nil && in.Length != l {
		h.may = append(h.may, likely([]measure.Length{in.Length})...)
	}
	return h
}

// tooManyInches asks about 5' 60", and about 20 ft - 12, which may be twelve
// pieces.
func tooManyInches(s, inches string) heard {
	h := ask("“%s” has %s inches after the feet; what does it mean?", s, inches)
	if r, err := measure.Read(s, measure.NoUnit); err == nil {
		h.may = likely([]measure.Length{r.Length})
	}
	return h
}

// unit is what a bare number in this column has: what its heading says, else
// the person's answer.
func (a Answers) unit(col Column) measure.Unit {
	if col.Unit != measure.NoUnit {
		return col.Unit
	}
	return a.Bare
}

// unlikely asks about a length that nobody orders.
func unlikely(l measure.Length) (heard, bool) {
	switch {
	case l < shortest:
		h := ask("%s is very short for a piece; is it right?", l)
		h.may = []measure.Length{l}
		return h, true
	case l > longest:
		return ask("%s is longer than a piece can be; which unit is it in?", l), true
	}
	return heard{}, false
}

// commas reads decimal commas: 3,82 m. Three figures after a comma may be
// thousands too.
func commas(s string, unit measure.Unit) (string, heard) {
	all := commaNumber.FindAllStringSubmatch(s, -1)
	if len(all) == 0 {
		return s, heard{}
	}
	if len(all) > 1 || strings.Contains(s, ".") {
		return s, ask("“%s” has more than one comma or point; write it like 3.82 m or 12' 6\"", s)
	}
	if len(all[0][2]) == 3 {
		h := ask("is the comma in “%s” a decimal comma, or does it part the thousands?", s)
		for _, t := range []string{strings.Replace(s, ",", "", 1), strings.Replace(s, ",", ".", 1)} {
			if r, err := measure.Read(t, unit); err == nil && r.Length >= shortest && r.Length <= longest {
				h.may = append(h.may, r.Length)
			}
		}
		return s, h
	}
	point := strings.Replace(s, ",", ".", 1)
	if footOrInch.MatchString(s) { // 4,12' may be four of 12'
		h := ask("what is the comma in “%s”: a decimal comma, or does it stand between quantity and length?", s)
		if r, err := measure.Read(point, measure.NoUnit); err == nil {
			h.may = likely([]measure.Length{r.Length})
		}
		return s, h
	}
	return point, heard{check: words.Say("the comma was read as a decimal comma")}
}

// dash reads 12-6, which a person may mean as feet and inches.
func (a Answers) dash(s string, m []string, col Column) heard {
	feet, _ := strconv.Atoi(m[1]) // three figures at most
	inches, _ := strconv.Atoi(m[2])
	l := measure.Foot.Times(feet) + measure.Inch.Times(inches)
	if (a.Dash || col.FeetIn) && inches < 12 {
		if h, odd := unlikely(l); odd {
			return h
		}
		return heard{length: l, check: words.Say("12-6 was read as 12' 6\"")}
	}
	if inches >= 12 {
		return tooManyInches(s, m[2])
	}
	h := ask("does %s mean %s?", s, l)
	h.may, h.doubt = []measure.Length{l}, Dash
	return h
}

// point reads 12.6 where it isn't sure to be decimal. done is false where it is.
func (a Answers) point(s string, m []string, col Column) (h heard, done bool) {
	decimals := m[2]
	inches, err := strconv.Atoi(decimals)
	if err != nil || len(decimals) > 6 {
		return h, false
	}
	can := len(decimals) <= 2 && inches < 12 // 12.54 can't be 12 ft 54 in
	feet, _ := strconv.Atoi(m[1])
	read := measure.Foot.Times(feet) + measure.Inch.Times(inches)
	unit := a.unit(col)
	switch {
	case a.Point == AsInches && can:
		return heard{length: read, check: words.Say("%s was read as %s", s, read)}, true
	case unit == measure.Feet && (a.Point == AsDecimals || col.Decimal || !can):
		return h, false
	case unit == measure.NoUnit && !can:
		return h, false // asked for its unit
	}
	asFeet, err := measure.Read(s, measure.Feet)
	if err != nil {
		return h, false
	}
	h = ask("is %s decimal feet, or feet and inches?", s)
	h.may, h.doubt = []measure.Length{asFeet.Length, read}, Point
	if unit == measure.NoUnit {
		h = ask("is %s decimal feet, feet and inches, or another unit?", s)
		h.doubt = Point
		h.may = []measure.Length{asFeet.Length, read}
		if in, err := measure.Read(s, measure.Inches); err == nil {
			h.may = append(h.may, in.Length)
		}
		if unitM, err := measure.Read(s, measure.Metres); err == nil {
			h.may = append(h.may, unitM.Length)
		}
	}
	h.may = likely(h.may)
	return h, true
}

// bare asks which unit a number has.
func bare(s string) heard {
	h := ask("“%s” has no unit; is it feet, inches or millimetres?", s)
	h.doubt = Bare
	for _, u := range []measure.Unit{measure.Inches, measure.Feet, measure.Millimetres, measure.Metres} {
		if r, err := measure.Read(s, u); err == nil {
			h.may = append(h.may, r.Length)
		}
	}
	h.may = likely(h.may)
	return h
}

// likely keeps the lengths that somebody could order.
func likely(all []measure.Length) (kept []measure.Length) {
	for _, l := range all {
		if l >= shortest && l <= longest {
			kept = append(kept, l)
		}
	}
	return kept
}

var loose = regexp.MustCompile(`^(\d{1,3})\s+(\d{1,2})(?:\s+(\d{1,2}/\d{1,2}))?$`)

// twoNumbers gives what 12 6 could be.
func twoNumbers(s string) []measure.Length {
	m := loose.FindStringSubmatch(s)
	if m == nil {
		return nil
	}
	r, err := measure.Read(strings.TrimSpace(m[1]+"' "+m[2]+" "+m[3])+`"`, measure.NoUnit)
	if err != nil {
		return nil
	}
	return likely([]measure.Length{r.Length})
}

const monthNames = `(jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec|ene|abr|ago|dic)[a-z]*\.?`

var (
	dayForms = []struct {
		form       *regexp.Regexp
		month, day int // groups
	}{
		{regexp.MustCompile(`(?i)^(\d{1,2})[-/ ]` + monthNames + `(?:[-/ ]\d{2,4})?$`), 2, 1},
		{regexp.MustCompile(`(?i)^` + monthNames + `[-/ ](\d{1,2})(?:(?:,\s*|[-/ ])\d{2,4})?$`), 1, 2},
		{regexp.MustCompile(`^(\d{1,2})[-/](\d{1,2})[-/](?:\d{4}|\d{2})$`), 1, 2},
		{regexp.MustCompile(`^\d{4}-(\d{1,2})-(\d{1,2})(?:[ T]0?0:00(?::00)?)?$`), 1, 2},
	}
	monthNumber = map[string]int{"jan": 1, "ene": 1, "feb": 2, "mar": 3, "apr": 4, "abr": 4, "may": 5, "jun": 6, "jul": 7, "aug": 8, "ago": 8, "sep": 9, "oct": 10, "nov": 11, "dec": 12, "dic": 12}
)

// day reads what a sheet writes when it took 12-6 for a day: 6-Dec, 12/6/2026.
func day(s string) (month, day int, ok bool) {
	for _, f := range dayForms {
		m := f.form.FindStringSubmatch(s)
		if m == nil {
			continue
		}
		if month, ok = monthNumber[strings.ToLower(m[f.month])]; !ok {
			month, _ = strconv.Atoi(m[f.month])
		}
		day, _ = strconv.Atoi(m[f.day])
		return month, day, month > 0 && day > 0
	}
	return 0, 0, false
}

// dated asks what stood there before the sheet made a day of it. Either number
// may have come first.
func dated(text string, month, day int) heard {
	h := ask("the sheet made a date of this, “%s”; what was the length?", text)
	for _, p := range [][2]int{{month, day}, {day, month}} {
		if p[0] > 0 && p[1] < 12 && (len(h.may) == 0 || month != day) {
			h.may = append(h.may, measure.Foot.Times(p[0])+measure.Inch.Times(p[1]))
		}
	}
	return h
}
