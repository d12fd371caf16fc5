package web

import (
	"strings"
	"time"

	"ribdesk/internal/fault"
)

// How people write days and times of the day; plantime.go has the two together.

// readDay reads a day as 3/2/2026, 3/2/26 or 2026-03-02.
func readDay(s string) (time.Time, error) {
	for _, form := range []string{time.DateOnly, "1/2/2006", "1/2/06"} {
		if d, err := time.Parse(form, s); err == nil {
			return d, nil
		}
	}
	return time.Time{}, fault.Invalidf("", "write the day as month/day/year, such as 3/2/2026")
}

// readClock reads a time of the day, such as 8:30 AM or 14:30, as minutes since
// midnight.
func readClock(s string) (int, error) {
	s = strings.ToUpper(strings.ReplaceAll(s, " ", ""))
	for _, form := range []string{"15:04", "3:04PM", "3PM"} {
		if t, err := time.Parse(form, s); err == nil {
			return t.Hour()*60 + t.Minute(), nil
		}
	}
	return 0, fault.Invalidf("", "write a time of the day, such as 7:30 or 3:30 PM")
}
