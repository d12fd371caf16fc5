package words

import (
	"fmt"
	"time"
)

// The short names of days and months in Spanish (CLDR, es, abbreviated).
var (
	spanishDays   = [7]string{"dom", "lun", "mar", "mié", "jue", "vie", "sáb"}
	spanishMonths = [12]string{"ene", "feb", "mar", "abr", "may", "jun", "jul", "ago", "sep", "oct", "nov", "dic"}
)

// Date is a day that stands in a text as one of its figures.
type Date time.Time

// Day writes a day: Jan 2, 2006 or 2 ene 2006.
func (r Reader) Day(t time.Time) string {
	if r.Language != Spanish {
		return r.mark(t.Format("Jan 2, 2006"))
	}
	return fmt.Sprintf("%d %s %d", t.Day(), spanishMonths[t.Month()-1], t.Year())
}

// ShortDay writes a day as said at a counter: Mon Jan 2 or lun 2 ene.
func (r Reader) ShortDay(t time.Time) string {
	if r.Language != Spanish {
		return r.mark(t.Format("Mon Jan 2"))
	}
	return fmt.Sprintf("%s %d %s", spanishDays[t.Weekday()], t.Day(), spanishMonths[t.Month()-1])
}

// When writes a moment: Mon Jan 2, 2006 3:04 PM or lun 2 ene 2006, 3:04 p. m.
func (r Reader) When(t time.Time) string {
	if r.Language != Spanish {
		return r.mark(t.Format("Mon Jan 2, 2006 3:04 PM"))
	}
	half := "a. m."
	if t.Hour() >= 12 {
		half = "p. m."
	}
	return fmt.Sprintf("%s %s, %s %s", spanishDays[t.Weekday()], r.Day(t), t.Format("3:04"), half)
}
