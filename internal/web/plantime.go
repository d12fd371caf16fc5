package web

import (
	"strings"
	"time"

	"ribdesk/internal/fault"
)

// momentForms are how a day and a time are written; without a year it is the
// next such day, without a day it is today.
var momentForms = []string{"1/2/2006 3:04PM", "1/2/2006 15:04", "2006-01-02 15:04", "2006-01-02T15:04", "1/2 3:04PM", "1/2 15:04", "3:04PM", "15:04", "3PM"}

// readMoment reads a day and a time as people write them, in the zone of now.
func readMoment(s string, now time.Time) (time.Time, error) {
	s = strings.ToUpper(strings.Join(strings.Fields(strings.ReplaceAll(s, ",", " ")), " "))
	s = strings.NewReplacer(" AM", "AM", " PM", "PM").Replace(s)
	for _, form := range momentForms {
		t, err := time.ParseInLocation(form, s, now.Location())
		if err != nil {
			continue
		}
		switch {
		case !strings.ContainsAny(form, "/-"):
			return time.Date(now.Year(), now.Month(), now.Day(), t.Hour(), t.Minute(), 0, 0, now.Location()), nil
		case !strings.Contains(form, "2006"):
			t = t.AddDate(now.Year(), 0, 0)
			if t.Before(now.AddDate(0, -6, 0)) {
				t = t.AddDate(1, 0, 0)
			}
		}
		return t, nil
	}
	return time.Time{}, fault.Invalidf("", "write day and time, such as 3/2/2026 1:30 PM")
}

// momentHelp shows how a moment is written.
func momentHelp(now time.Time) string {
	return "Such as " + now.AddDate(0, 0, 1).Format("1/2/2006") + " 7:00 AM, or 3:30 PM for today."
}

// moment reads a field with a day and a time.
func (v *visit) moment(f *Field, zone *time.Location) time.Time {
	t, err := readMoment(v.text(f), v.desk.Now().In(zone))
	if err != nil {
		v.note(f, err)
	}
	return t
}
