package stock

import (
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
)

// Pile is a number of equal flat sheets, received together. Its strip's width is
// the sheet's: blanks run along the length. Sheets are whole: what is on hand is
// the sum of the pile's movements, and what is free is that less the sheets that
// adopted patterns are promised.
type Pile struct {
	Metal
	Length   measure.Length
	Original int // sheets as received

	OnHand   int // summed by the store
	Promised int // summed by the store
}

// mostSheets is more than a truck carries.
const mostSheets = 5000

// Free gives the sheets that are neither cut nor promised.
func (p Pile) Free() int { return p.OnHand - p.Promised }

// Each gives the landed cost of one sheet.
func (p Pile) Each() money.Rate {
	if p.Original <= 0 {
		return money.Rate{}
	}
	return p.Landed.Rate().Div(money.Int(int64(p.Original)))
}

// Check refuses what can't be a pile.
func (p Pile) Check() error {
	var l fault.List
	p.Metal.check(&l)
	if p.Strip.Width <= 0 || p.Strip.Width > 10*measure.Foot {
		l.Addf("width", "give the sheet's width, up to 10 ft")
	}
	if p.Length <= 0 || p.Length > 40*measure.Foot {
		l.Addf("length", "give the sheet's length, up to 40 ft")
	}
	if p.Original < 1 || p.Original > mostSheets {
		l.Addf("sheets", "give 1 to %d sheets", mostSheets)
	}
	return l.Err()
}

// PileMovement is one append-only row of a pile's ledger, in whole sheets.
type PileMovement struct {
	ID     int64
	PileID int64
	Kind   Moved
	Sheets int // positive onto the pile, negative off it
	Reason string
	At     time.Time
	By     string
}

// Check refuses a movement whose sign doesn't fit its kind, or that needs a reason.
func (m PileMovement) Check() error {
	if m.Kind == MovedSlit {
		return fault.Invalidf("kind", "a sheet is cut, not slit into coils")
	}
	err := Movement{Kind: m.Kind, Length: measure.Length(m.Sheets), Reason: m.Reason}.Check()
	var l fault.List
	for _, f := range fault.All(err) {
		field := f.Field
		if field == "length" {
			field = "sheets"
		}
		l.Addf(field, "%s", f.Sentence)
	}
	return l.Err()
}
