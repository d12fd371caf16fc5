package calendar_test

import (
	"bytes"
	"strings"
	"testing"
	"time"

	ics "github.com/arran4/golang-ical"
	"pgregory.net/rapid"

	"ribdesk/internal/calendar"
)

var at = time.Date(2026, 3, 2, 14, 0, 0, 0, time.UTC)

func sample() calendar.Feed {
	return calendar.Feed{Name: "Panel former; runs, all", Events: []calendar.Event{
		{UID: "line-7@desk", Start: at, End: at.Add(90 * time.Minute), Summary: "Standing seam, 24 ga; order 1007\nlot A", Sequence: 3, Changed: at,
			Description: strings.Repeat("Zwölf Rippen über das Dach, äußerst lange Zeile; ", 8), Location: `12 Shear Lane, Flangeford \ back`},
		{UID: "load-2@desk", Start: at.Truncate(24 * time.Hour), End: at.Truncate(24*time.Hour).AddDate(0, 0, 1), WholeDay: true, Summary: "Load L102", Cancelled: true, Changed: at},
	}}
}

// RFC 5545: 3.1 lines end in CRLF and have at most 75 octets, not broken inside
// a character's bytes by us; 3.3.11 text escapes; 3.6.1 UID and DTSTAMP; 3.8.7.4
// SEQUENCE; 3.8.1.11 STATUS.
func TestBytes(t *testing.T) {
	out := sample().Bytes()
	if bytes.Contains(bytes.ReplaceAll(out, []byte("\r\n"), nil), []byte("\n")) || bytes.Contains(bytes.ReplaceAll(out, []byte("\r\n"), nil), []byte("\r")) {
		t.Error("a line doesn't end in CRLF")
	}
	for line := range strings.SplitSeq(string(out), "\r\n") {
		if len(line) > 75 {
			t.Errorf("%d octets in %q", len(line), line)
		}
	}
	whole := strings.ReplaceAll(string(out), "\r\n ", "")
	for _, want := range []string{
		"VERSION:2.0\r\n", "PRODID:-//ribdesk//EN\r\n", "METHOD:PUBLISH\r\n", "UID:line-7@desk\r\n", "DTSTAMP:20260302T140000Z\r\n",
		"DTSTART:20260302T140000Z\r\n", "DTEND:20260302T153000Z\r\n", "SEQUENCE:3\r\n", "STATUS:CONFIRMED\r\n", "STATUS:CANCELLED\r\n",
		`SUMMARY:Standing seam\, 24 ga\; order 1007\nlot A` + "\r\n", `LOCATION:12 Shear Lane\, Flangeford \\ back` + "\r\n",
		"DTSTART;VALUE=DATE:20260302\r\n", "DTEND;VALUE=DATE:20260303\r\n",
	} {
		if !strings.Contains(whole, want) {
			t.Errorf("%q is missing in\n%s", want, whole)
		}
	}
	if !bytes.Equal(out, sample().Bytes()) {
		t.Error("the same feed gave other bytes")
	}
}

// Whatever words people use, a reader gets them back and no line breaks a rule.
func TestAnyWords(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		words := rapid.StringOfN(rapid.RuneFrom([]rune("aZ9 ,;:\\\"'\näß世🙂-")), 0, 200, -1).Draw(t, "words")
		out := calendar.Feed{Name: "x", Events: []calendar.Event{{UID: "u@desk", Start: at, End: at, Summary: "s " + words, Changed: at}}}.Bytes()
		for line := range strings.SplitSeq(string(out), "\r\n") {
			if len(line) > 75 {
				t.Fatalf("%d octets in %q", len(line), line)
			}
			if strings.ContainsAny(line, "\r\n") {
				t.Fatalf("a bare line end in %q", line)
			}
		}
		cal, err := ics.ParseCalendar(bytes.NewReader(out))
		if err != nil {
			t.Fatal(err)
		}
		got := ics.FromText(cal.Events()[0].GetProperty(ics.ComponentPropertySummary).Value)
		if got != "s "+words && cal.Events()[0].GetProperty(ics.ComponentPropertySummary).Value != "s "+words {
			t.Fatalf("got %q, want %q", got, "s "+words)
		}
	})
}
