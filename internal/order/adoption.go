package order

import (
	"time"

	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/stock"
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
	Event        PlanEvent
	UndoneAt     time.Time // zero while it stands
	UndoneBy     string
}

// PlanEvent is what happened to the shop along with an adopted plan, as far as
// taking the plan back needs it.
type PlanEvent struct {
	Block     int64        `json:"block,omitempty"`      // time that was taken, moved or opened
	Version   int64        `json:"version,omitempty"`    // of that block since then
	Was       *stock.Block `json:"was,omitempty"`        // the block as it stood before; nil for time that was free
	Urgent    int64        `json:"urgent,omitempty"`     // an order that became urgent
	WasUrgent bool         `json:"was_urgent,omitempty"` // it was before, too
	Promise   time.Time    `json:"promise,omitzero"`     // what that order was promised before
	Promised  time.Time    `json:"promised,omitzero"`    // and with the plan; zero when the promise stayed
	Stays     string       `json:"stays,omitempty"`      // what can't be taken back, in words
}

// Moved reports whether a promise is still the one that came with the plan.
func (e PlanEvent) Moved(promise time.Time) bool {
	return !e.Promised.IsZero() && promise.Equal(e.Promised)
}

// Stood is a place as it was, as far as an undo needs it. Plans adopted before
// times were kept have none.
type Stood struct {
	LineID        int64        `json:"line"`
	Machine       string       `json:"machine"`
	Pinned        bool         `json:"pinned,omitempty"`
	Change        time.Time    `json:"change,omitzero"`
	ChangeMinutes int          `json:"change_minutes,omitempty"`
	Start         time.Time    `json:"start,omitzero"`
	End           time.Time    `json:"end,omitzero"`
	SavedMinutes  int          `json:"saved_minutes,omitempty"`
	Saved         money.Amount `json:"saved"`
}

// StoodAt keeps a place as an undo needs it.
func StoodAt(p Placed) Stood {
	return Stood{
		LineID: p.LineID, Machine: p.Machine, Pinned: p.Pinned, Change: p.Change, ChangeMinutes: p.ChangeMinutes,
		Start: p.Start, End: p.End, SavedMinutes: p.SavedMinutes, Saved: p.Saved,
	}
}

// Again puts a place back where it stood.
func (s Stood) Again(p Placed) Placed {
	p.Machine, p.Pinned = s.Machine, s.Pinned
	if !s.Start.IsZero() {
		p.Change, p.ChangeMinutes, p.Start, p.End = s.Change, s.ChangeMinutes, s.Start, s.End
		p.SavedMinutes, p.Saved = s.SavedMinutes, s.Saved
	}
	return p
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
