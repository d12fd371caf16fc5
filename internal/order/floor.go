package order

import (
	"strconv"
	"time"

	"ribdesk/internal/measure"
	"ribdesk/internal/money"
)

// Placed is one line's place in the run plan. Lines that follow each other on a
// machine without a changeover are one run.
type Placed struct {
	LineID        int64
	OrderID       int64
	Machine       string
	Seq           int
	Change        time.Time // when the changeover before it starts; equal to Start when there is none
	ChangeMinutes int
	Start         time.Time
	End           time.Time
	Pinned        bool // the owner fixed it here
	Frozen        bool // within the frozen horizon, or begun
	BegunAt       time.Time
	DoneAt        time.Time
	Share         money.Amount // this line's part of the batch's changeovers
	SavedMinutes  int          // of changeover before it, against first come, first served
	Saved         money.Amount // what that is worth; either may be negative
}

// Reservation promises feet of a coil to a line.
type Reservation struct {
	ID     int64
	CoilID int64
	LineID int64
	Cuts   []CutShare
	Length measure.Length // pieces and planned ends
}

// CutShare is so many pieces of a cut-list row.
type CutShare struct {
	CutID  int64          `json:"cut_id"`
	Qty    int            `json:"qty"`
	Length measure.Length `json:"length"`
}

// SheetPromise is one flat sheet of a pile that is to be slit by a pattern, and
// the blanks it yields.
type SheetPromise struct {
	ID      int64
	PileID  int64
	Pattern string // in words
	Blanks  []SheetBlank
}

// SheetBlank is so many pieces of a line from one sheet.
type SheetBlank struct {
	ID     int64
	LineID int64
	CutShare
}

// CutRecord is pieces made: one tap on the operator's sheet. Key makes a second
// tap, or a second tablet, count once.
type CutRecord struct {
	ID       int64
	Key      string
	LineID   int64
	CutID    int64
	CoilID   int64
	FromPile int64 // the movement of the sheet they were cut from, else 0
	Pieces   int
	Length   measure.Length // of one piece
	At       time.Time
	By       string
}

// Bundle is a package of one order's pieces.
type Bundle struct {
	ID      int64
	Code    string // in the bar code
	OrderID int64
	No, Of  int
	Items   []BundleItem
	Pieces  int
	Longest measure.Length
	Width   measure.Length // as it lies, with its height on the skid
	Height  measure.Length
	Balance measure.Length // centre of weight from the flush end
	Pounds  money.Rate     // gross, calculated
	LoadID  int64          // 0 while it stands in the shop
	Checked bool           // picked and checked off
}

// BundleItem is a row of a bundle's contents.
type BundleItem struct {
	LineID int64          `json:"line_id"`
	CutID  int64          `json:"cut_id"`
	Name   string         `json:"name"`
	Qty    int            `json:"qty"`
	Length measure.Length `json:"length"` // 0 for accessories
	Mark   string         `json:"mark"`
	Short  int            `json:"short,omitempty"` // pieces found missing at picking; Qty doesn't count them
	Why    string         `json:"why,omitempty"`   // what became of them
}

// LoadState is where a load stands.
type LoadState string

// The states of a load.
const (
	Building LoadState = "building"
	OnRoad   LoadState = "on the road"
	Done     LoadState = "done"
)

// Trip is one load of a vehicle, or a customer's pick-up.
type Trip struct {
	ID       int64
	Number   string
	Day      time.Time
	Vehicle  string // code, "" for the customer's own at a pick-up
	Driver   string
	DriverID int64
	Departs  int // minutes of the local day
	State    LoadState
	Stops    []Stop
	Version  int64
}

// Dropped reports whether the trip was given up before it left.
func (t Trip) Dropped() bool { return t.State == Done && len(t.Stops) == 0 }

// Stop is the hand-over of one order's bundles, or of what is formed for it on
// its site.
type Stop struct {
	ID         int64
	LoadID     int64
	OrderID    int64
	Seq        int
	Opens      int    // minutes of the local day from which it can be unloaded, 0 for no limit
	Closes     int    // and until when, 0 for no limit
	Ticket     string // number of its delivery ticket
	PaperID    int64
	Receiver   string // printed name
	Signature  []byte // PNG
	SignedAt   time.Time
	Unattended string // who allowed leaving it, when nobody signed
	Exceptions []Exception
	Key        string // idempotency key of the driver's phone
}

// Exception is what wasn't as it should at a stop.
type Exception struct {
	BundleID int64  `json:"bundle_id"`
	Kind     string `json:"kind"` // short, damaged, refused, wrong, over
	Pieces   int    `json:"pieces"`
	CutID    int64  `json:"cut_id"`
	Note     string `json:"note"`
	Decision string `json:"decision"`            // Remake or Credit, "" while open
	FollowUp int64  `json:"follow_up,omitempty"` // the order that remakes it
	Photos   int    `json:"photos,omitempty"`    // taken of it
}

// The decisions on an exception.
const (
	Remake = "remake"
	Credit = "credit"
)

// Paper is an issued document: the record it was made from, its bytes and their
// hash. It never changes.
type Paper struct {
	ID         int64
	Kind       string
	Number     string
	Revision   int
	OrderID    int64
	CustomerID int64
	Title      string
	Body       []byte // the record, JSON
	PDF        []byte
	SHA256     string
	Edition    int // of the printing that made it; the present one gives the same bytes again
	At         time.Time
	By         string
}

func itoa(n int) string { return strconv.Itoa(n) }
