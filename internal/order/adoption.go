package order

import (
	"time"

	"ribdesk/internal/measure"
	"ribdesk/internal/money"
)

// Adoption is a run plan that was adopted: what it came to beside first come,
// first served, and what stood before it.
type Adoption struct {
	ID           int64
	What         string // what was adopted, in words
	At           time.Time
	By           string
	Lines        int
	Late         int // orders past their promise
	Minutes      int // of changeover
	Possible     int // minutes that could at most still be saved; -1 when not worked out
	FirstMinutes int // of changeover, first come, first served
	FirstLate    int
	Saved        money.Amount // against first come, first served
	Before       []Stood
}

// Stood is a place as it was, as far as an undo needs it.
type Stood struct {
	LineID  int64  `json:"line"`
	Machine string `json:"machine"`
	Pinned  bool   `json:"pinned,omitempty"`
}

// NoteKind says what an operator noted.
type NoteKind string

// The notes of the floor.
const (
	Stopped  NoteKind = "stopped"
	Resumed  NoteKind = "resumed"
	Checked  NoteKind = "checked"  // the first piece, measured
	Threaded NoteKind = "threaded" // a coil, with its lead-in
)

// FloorNote is what an operator noted at a machine beside pieces and metal.
type FloorNote struct {
	ID       int64
	Key      string // makes a second tap count once
	Machine  string
	LineID   int64 // 0 when it is about no line
	Kind     NoteKind
	Note     string
	Nominal  measure.Length // of a piece that was checked
	Measured measure.Length
	At       time.Time
	By       string
}
