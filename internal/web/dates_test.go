package web_test

import (
	"testing"
	"time"

	"ribdesk/internal/web"
)

// Every way a day and a time of the day may be written, and what is refused.
func TestReadDayAndClock(t *testing.T) {
	day := time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)
	for _, s := range []string{"2026-03-02", "3/2/2026", "03/02/2026", "3/2/26"} {
		if d, err := web.ReadDay(s); err != nil || !d.Equal(day) {
			t.Errorf("%q reads as %v, %v", s, d, err)
		}
	}
	for _, s := range []string{"", "3/2", "13/2/2026", "2/30/2026", "March 2", "2026-3-2x"} {
		if d, err := web.ReadDay(s); err == nil {
			t.Errorf("%q reads as %v", s, d)
		}
	}
	for s, want := range map[string]int{"8:30 AM": 510, "8:30am": 510, "3 pm": 900, "14:30": 870, "0:00": 0, "12 AM": 0, "12:15 PM": 735} {
		if n, err := web.ReadClock(s); err != nil || n != want {
			t.Errorf("%q reads as %d minutes, %v", s, n, err)
		}
	}
	for _, s := range []string{"", "8", "25:00", "8:60", "13 PM", "noon"} {
		if n, err := web.ReadClock(s); err == nil {
			t.Errorf("%q reads as %d minutes", s, n)
		}
	}
}
