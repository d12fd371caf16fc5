package stock

import (
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
)

// Metal is what stands in the shop under a tag, whether on a coil or in a pile of
// flat sheets: of one make-up and paint lot, as it was bought.
type Metal struct {
	ID       int64
	Tag      string // written on it
	Strip    Strip
	Lot      string // paint lot or heat
	Supplier string
	Received time.Time
	Landed   money.Amount // metal and freight of all of it as received
	Spent    bool
	Version  int64
}

func (m Metal) check(l *fault.List) {
	if m.Tag == "" || len(m.Tag) > 24 {
		l.Addf("tag", "give a tag of at most 24 characters")
	}
	if m.Strip.Material == "" {
		l.Addf("material", "choose the material")
	}
	if m.Strip.Gauge == "" {
		l.Addf("gauge", "choose the gauge")
	}
	if m.Landed.Sign() < 0 {
		l.Addf("landed", "a cost can't be negative")
	}
}

// Coil is one roll of strip. What is on hand is never stored: it is the sum of
// the coil's movements, and what is free is that less what is promised.
type Coil struct {
	Metal
	Thickness measure.Length // measured, else the gauge's nominal
	Pounds    money.Rate     // as weighed at receipt
	Original  measure.Length // feet as received
	Remnant   bool
	Mounted   string // machine code it is on, "" for the rack

	OnHand   measure.Length // summed by the store
	Promised measure.Length // summed by the store
}

// Free gives what is neither cut nor promised.
func (c Coil) Free() measure.Length { return c.OnHand - c.Promised }

// PerFoot gives the landed cost of one foot of this coil's strip. A coil of no
// length costs nothing a foot.
func (c Coil) PerFoot() money.Rate {
	if c.Original <= 0 {
		return money.Rate{}
	}
	return c.Landed.Rate().Div(money.FromRat(c.Original.Ratio(measure.Foot)))
}

// Check refuses what can't be a coil.
func (c Coil) Check() error {
	var l fault.List
	c.Metal.check(&l)
	if c.Strip.Width <= 0 {
		l.Addf("width", "give the width")
	}
	if c.Thickness <= 0 {
		l.Addf("thickness", "give the thickness")
	}
	return l.Err()
}

// Moved is why a coil got longer or shorter.
type Moved string

// The kinds of movement. The ledger balances when, for each coil,
// received = cut + scrap - adjusted + on hand, exactly.
const (
	MovedReceived Moved = "received"
	MovedCut      Moved = "cut"
	MovedScrap    Moved = "scrap"
	MovedAdjusted Moved = "adjusted"
	MovedSlit     Moved = "slit"     // out of a master coil into strips
	MovedReturned Moved = "returned" // sent back to the supplier
)

// Booked gives the movement of a person who books n: what they counted to be on
// hand, or what went to scrap or back to the supplier.
func Booked[N measure.Length | int](kind Moved, n, onHand N) (N, error) {
	switch kind {
	case MovedAdjusted:
		return n - onHand, nil
	case MovedScrap, MovedReturned:
		return -n, nil
	}
	return 0, fault.Invalidf("kind", "choose count, scrap or return")
}

// Movement is one append-only row of a coil's ledger.
type Movement struct {
	ID     int64
	CoilID int64
	Kind   Moved
	Length measure.Length // positive into the coil, negative out of it
	Reason string
	LineID int64 // the order line it was cut for, else 0
	Pieces int   // pieces cut, else 0
	At     time.Time
	By     string
}

// Check refuses a movement whose sign doesn't fit its kind, or that needs a reason.
func (m Movement) Check() error {
	var l fault.List
	switch m.Kind {
	case MovedReceived:
		if m.Length <= 0 {
			l.Addf("length", "what comes in must be more than 0")
		}
	case MovedCut, MovedScrap, MovedSlit, MovedReturned:
		if m.Length >= 0 {
			l.Addf("length", "what goes out must be more than 0")
		}
	case MovedAdjusted:
		if m.Length == 0 {
			l.Addf("length", "the count agrees; there is nothing to adjust")
		}
	default:
		l.Addf("kind", "unknown movement %q", m.Kind)
	}
	if (m.Kind == MovedScrap || m.Kind == MovedAdjusted || m.Kind == MovedReturned) && m.Reason == "" {
		l.Addf("reason", "say why")
	}
	return l.Err()
}
