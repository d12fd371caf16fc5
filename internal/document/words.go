package document

import (
	"strconv"
	"strings"
	"time"

	"ribdesk/internal/money"
)

func itoa(n int) string { return strconv.Itoa(n) }

// date writes May 4, 2026 or 4 may 2026, in the time's own zone; "" for none.
func (c *composer) date(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return c.reader().Day(t)
}

// moment writes a date with the time of day.
func (c *composer) moment(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return c.date(t) + " " + t.Format("15:04")
}

// span writes a window of time, the day once where it is the same.
func (c *composer) span(from, to time.Time) string {
	switch {
	case from.IsZero() || to.IsZero():
		return join("", c.moment(from), c.moment(to))
	case from.Format(time.DateOnly) == to.Format(time.DateOnly):
		return c.moment(from) + "–" + to.Format("15:04")
	}
	return c.moment(from) + " – " + c.moment(to)
}

// f fills a sentence of the catalogue.
func (c *composer) f(w word, args ...any) string { return c.reader().T(string(w), args...) }

// grouped writes a whole number with commas.
func grouped(n int) string {
	s := itoa(n)
	sign := ""
	if strings.HasPrefix(s, "-") {
		sign, s = "-", s[1:]
	}
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	return sign + s
}

// pounds writes a calculated weight; "" for none.
func (c *composer) pounds(n int) string {
	if n == 0 {
		return ""
	}
	return c.f(wPounds, grouped(n))
}

// price writes a price for one unit with two decimals, or all it has where it
// has more; "" for none.
func price(r money.Rate) string {
	if r.IsZero() {
		return ""
	}
	if two := r.Shorten(2); two.Cmp(r) == 0 {
		return r.Fixed(2)
	}
	return r.String()
}

// number writes a quantity; "" for none.
func number(r money.Rate) string {
	if r.IsZero() {
		return ""
	}
	return r.String()
}

// count writes a count; "" for none.
func count(n int) string {
	if n == 0 {
		return ""
	}
	return itoa(n)
}
