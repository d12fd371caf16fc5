package web

import (
	"net/http"
	"net/url"
	"time"

	"ribdesk/internal/measure"
	"ribdesk/internal/words"
)

// tongueCookie keeps the language that somebody chose in the foot of a page.
const tongueCookie = "language"

// tongueKeeps is how long a browser keeps that choice.
const tongueKeeps = 365 * 24 * time.Hour

// picked is the language chosen in this browser, if one was. Developers can look
// at pages in words.Marked, to see what isn't in the catalogue.
func (v *visit) picked() (words.Language, bool) {
	code := v.s.cookie(v.c, tongueCookie)
	if v.s.marks && code == string(words.Marked) {
		return words.Marked, true
	}
	return words.Known(code)
}

// chosen is the language of somebody of whom nothing is known: the one they
// picked, else the one their browser asks for.
func (v *visit) chosen() words.Language {
	if l, ok := v.picked(); ok {
		return l
	}
	return words.Preferred(v.c.GetHeader("Accept-Language"))
}

// readAs answers in the language and unit of length of a customer, 0 for none.
// What the person picked in the foot of a page goes before what is on file of
// the firm. The shop's own people read English.
func (v *visit) readAs(customer int64) error {
	of, err := v.desk.ReaderOf(v.ctx(), customer)
	if err != nil {
		return err
	}
	v.reader.Units = of.Units
	picked, ok := v.picked()
	switch {
	case v.actor.Role.Staff():
		v.reader.Language = words.English
	case ok:
		v.reader.Language = picked
	case customer != 0:
		v.reader.Language = of.Language
	}
	return nil
}

// here is the address of the page, so that the switch of language leads back to
// it; of an answer to a form it is the page with the form.
func (v *visit) here() string {
	if v.c.Request.Method != http.MethodPost {
		return v.c.Request.URL.RequestURI()
	}
	from, err := url.Parse(v.c.Request.Referer())
	if err != nil || from.Host != v.c.Request.Host {
		return "/"
	}
	return local(from.RequestURI())
}

// doTongue keeps the language somebody chose and shows the page they came from.
func doTongue(v *visit) error {
	if l, ok := words.Known(v.posted("language")); ok && !v.actor.Role.Staff() {
		v.s.setCookie(v.c, tongueCookie, string(l), tongueKeeps)
	}
	return v.redirect(local(v.posted("next")))
}

// otherwise writes a length beside the one the reader likes: as the machine's
// control takes it, for who reads metric in feet and inches.
func (v *visit) otherwise(l measure.Length) string {
	if metric(v.reader) {
		return l.Pretty()
	}
	return v.reader.T("%s in", l.Inches())
}

func metric(r words.Reader) bool { return r.Units == string(measure.StyleMetric) }

// running writes a sum of lengths: feet, or metres for who reads metric.
func running(r words.Reader, l measure.Length) string {
	if metric(r) {
		return r.T("%s m", l.Decimal(measure.Metre, 2))
	}
	return r.T("%s ft", l.Feet())
}
