package stock_test

import (
	"testing"
	"time"

	"ribdesk/internal/stock"
)

// TestBoth: the part that two spans share, whichever is asked; spans that only
// touch share none.
func TestBoth(t *testing.T) {
	at := func(hour int) time.Time { return time.Date(2026, 5, 4, hour, 0, 0, 0, time.UTC) }
	for _, c := range []struct {
		a, b, want stock.Span
		ok         bool
	}{
		{stock.Span{From: at(7), To: at(12)}, stock.Span{From: at(9), To: at(17)}, stock.Span{From: at(9), To: at(12)}, true},
		{stock.Span{From: at(7), To: at(17)}, stock.Span{From: at(9), To: at(12)}, stock.Span{From: at(9), To: at(12)}, true},
		{stock.Span{From: at(7), To: at(9)}, stock.Span{From: at(9), To: at(12)}, stock.Span{From: at(9), To: at(9)}, false},
		{stock.Span{From: at(7), To: at(8)}, stock.Span{From: at(9), To: at(12)}, stock.Span{}, false},
	} {
		for _, pair := range [][2]stock.Span{{c.a, c.b}, {c.b, c.a}} {
			got, ok := pair[0].Both(pair[1])
			if ok != c.ok || ok && got != c.want {
				t.Errorf("%v and %v share %v (%v), want %v (%v)", pair[0], pair[1], got, ok, c.want, c.ok)
			}
		}
	}
}

// TestOpenIsCutToItsEnds: what is asked for bounds what is open, also where it
// begins or ends inside a window, and where it ends before it begins.
func TestOpenIsCutToItsEnds(t *testing.T) {
	at := func(hour int) time.Time { return time.Date(2026, 5, 4, hour, 0, 0, 0, time.UTC) } // a Monday
	week := []stock.Window{{Day: time.Monday, From: 7 * 60, To: 12 * 60}, {Day: time.Monday, From: 13 * 60, To: 17 * 60}}
	for _, c := range []struct {
		from, to int
		want     time.Duration
	}{{0, 24, 9 * time.Hour}, {8, 14, 5 * time.Hour}, {12, 13, 0}, {14, 8, 0}} {
		var sum time.Duration
		for _, s := range stock.Open(week, nil, at(c.from), at(c.to), time.UTC) {
			sum += s.To.Sub(s.From)
		}
		if sum != c.want {
			t.Errorf("from %d to %d h it is open for %v, want %v", c.from, c.to, sum, c.want)
		}
	}
}
