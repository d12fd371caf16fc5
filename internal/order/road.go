package order

import "time"

// Photo is a picture that a driver took of what was wrong. It never changes.
type Photo struct {
	ID        int64
	Key       string // of the phone: the same picture sent again counts once
	StopID    int64
	Exception int    // place among the stop's exceptions as the phone sent them
	Kind      string // image/jpeg or image/png
	Body      []byte
	SHA256    string
	At        time.Time
	By        string
}

// Distance is the road between two places as somebody typed it. It holds both
// ways.
type Distance struct {
	From, To    string // addresses in one line, in alphabetical order
	MilesTenths int64
}

// Position is where a place lies on the map, in decimal degrees as typed.
type Position struct {
	Place     string // address in one line
	Latitude  string
	Longitude string
}

// CalendarLink is a private link under which a calendar can be subscribed to.
// Its token is known only when it is made.
type CalendarLink struct {
	ID      int64
	Machine string // whose runs it shows; "" shows the deliveries
	For     string // who uses it, in words
	By      string
	At      time.Time
	Revoked bool
}

// RunNotice is what calendars were told of a line's run: its newest times, how
// often they changed, and whether it was taken out of the plan.
type RunNotice struct {
	LineID    int64
	Machine   string
	Start     time.Time
	End       time.Time
	Sequence  int
	Cancelled bool
	At        time.Time
}
