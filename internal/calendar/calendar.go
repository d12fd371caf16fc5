// Package calendar writes calendars to subscribe to, as RFC 5545 describes them.
// It decides nothing about what is in them and knows no orders, plans or trips:
// the desk hands it events.
package calendar

import (
	"time"

	ics "github.com/arran4/golang-ical"
)

// Type is what a calendar is sent as.
const Type = "text/calendar; charset=utf-8"

// Event is one entry. UID stays the same for good; Sequence rises with each
// change of its times, and Cancelled keeps an entry that fell away in the
// calendar, so that subscribers take it out.
type Event struct {
	UID         string
	Start, End  time.Time // an event of whole days: both at midnight UTC, End the day after the last
	WholeDay    bool
	Summary     string
	Description string
	Location    string
	Sequence    int
	Cancelled   bool
	Changed     time.Time
}

// Feed is a calendar with its events.
type Feed struct {
	Name   string
	Events []Event
}

// refresh is how often a subscriber should look again.
const refresh = "PT15M"

// Bytes writes the feed: lines end in CRLF and are folded at 75 octets, times
// are UTC. The same feed gives the same bytes.
func (f Feed) Bytes() []byte {
	cal := ics.NewCalendar()
	cal.SetVersion("2.0")
	cal.SetProductId("-//ribdesk//EN")
	cal.SetMethod(ics.MethodPublish)
	cal.SetCalscale("GREGORIAN")
	cal.SetName(f.Name)
	cal.SetXWRCalName(f.Name)
	cal.SetRefreshInterval(refresh)
	for _, e := range f.Events {
		e.add(cal.AddEvent(e.UID))
	}
	return []byte(cal.Serialize(ics.WithNewLineWindows))
}

func (e Event) add(to *ics.VEvent) {
	to.SetDtStampTime(e.Changed)
	to.SetLastModifiedAt(e.Changed)
	if e.WholeDay {
		to.SetAllDayStartAt(e.Start)
		to.SetAllDayEndAt(e.End)
	} else {
		to.SetStartAt(e.Start)
		to.SetEndAt(e.End)
	}
	to.SetSequence(e.Sequence)
	to.SetSummary(e.Summary)
	if e.Description != "" {
		to.SetDescription(e.Description)
	}
	if e.Location != "" {
		to.SetLocation(e.Location)
	}
	to.SetStatus(ics.ObjectStatusConfirmed)
	if e.Cancelled {
		to.SetStatus(ics.ObjectStatusCancelled)
	}
}
