package order

import (
	"strings"
	"time"
	"unicode/utf8"

	"ribdesk/internal/fault"
)

// PhotoNote is a picture put with an order as a note: a list on a scrap of wood,
// a corner of a roof. It isn't read by machine.
type PhotoNote struct {
	ID      int64
	OrderID int64
	Kind    string // image/jpeg or image/png
	Body    []byte
	SHA256  string
	Caption string
	Ours    bool // put there in the shop
	At      time.Time
	By      string
}

// Check refuses a caption that doesn't fit under a picture.
func (p PhotoNote) Check() error {
	var l fault.List
	if utf8.RuneCountInString(p.Caption) > 120 {
		l.Addf("caption", "use at most %d characters", 120)
	}
	if strings.ContainsAny(p.Caption, "\r\n\x00") {
		l.Addf("caption", "keep this to one line")
	}
	return l.Err()
}

// SavedList is what a customer keeps under a name to order again: products with
// their cut lists. Prices and dates are new each time.
type SavedList struct {
	ID         int64
	CustomerID int64
	Name       string
	Lines      []Line
	Pieces     int
	At         time.Time
	By         string
}

// Check refuses a list without a name, or of nothing.
func (s SavedList) Check() error {
	var l fault.List
	switch n := utf8.RuneCountInString(strings.TrimSpace(s.Name)); {
	case n == 0:
		l.Addf("list_name", "give the list a name")
	case n > 60 || strings.ContainsAny(s.Name, "\r\n\x00"):
		l.Addf("list_name", "use at most %d characters, on one line", 60)
	}
	if len(s.Lines) == 0 || s.Pieces == 0 {
		l.Addf("list_name", "there is nothing on this list yet")
	}
	return l.Err()
}
