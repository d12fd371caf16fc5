// Package figures works out what an owner looks at in the morning: hours sold,
// what they earned, whether promises were kept, which quotes were won, what the
// coils are worth, and how far a machine has paid for itself. Each figure is
// the sum of records, and the records come with it.
//
// It is pure: it gets all records at once, with the moment they were read at,
// and knows no orders beyond what a record says, no database, clock or page.
// What a period is, which minutes count as idle, and what a contribution is
// made of is decided here and nowhere else. The terms are common practice in
// job shops, no published source: contribution is what was invoiced less what
// was spent only because the work was done.
//
// Minutes are whole. Money is whole cents: each cost of an order is rounded
// once, half away from zero, and rounded figures are added.
package figures

import (
	"time"

	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/stock"
)

// Stretch is a length of time that an owner looks back on.
type Stretch string

// The stretches. Each but the last begins on a day of the calendar; a week
// begins on Monday.
const (
	Week    Stretch = "week"
	Month   Stretch = "month"
	Quarter Stretch = "quarter"
	Year    Stretch = "year"
	Start   Stretch = "start"
)

// Stretches lists them in the order of a choice.
var Stretches = []Stretch{Week, Month, Quarter, Year, Start}

// Words says a stretch as in "this week".
func (s Stretch) Words() string {
	if s == Start {
		return "since the start"
	}
	return "this " + string(s)
}

// Period is a stretch as far as it has passed, both ends included.
type Period struct {
	Stretch Stretch
	From    time.Time
	To      time.Time
}

// Holds reports whether a moment lies in the period.
func (p Period) Holds(t time.Time) bool { return !t.Before(p.From) && !t.After(p.To) }

// PeriodOf gives the stretch that now lies in, in a time zone. It begins no
// earlier than the day of the first record: before that, nothing could be sold.
// An unknown stretch is the month.
func PeriodOf(s Stretch, first, now time.Time, zone *time.Location) Period {
	today, begun := dayOf(now, zone), dayOf(first, zone)
	y, m, _ := today.Date()
	from := time.Date(y, m, 1, 0, 0, 0, 0, zone)
	switch s {
	case Week:
		from = today.AddDate(0, 0, -int(today.Weekday()+6)%7)
	case Quarter:
		from = time.Date(y, m-(m-1)%3, 1, 0, 0, 0, 0, zone)
	case Year:
		from = time.Date(y, time.January, 1, 0, 0, 0, 0, zone)
	case Start:
		from = begun
	default:
		s = Month
	}
	if from.Before(begun) && !first.After(now) {
		from = begun
	}
	return Period{s, from, now}
}

// dayOf gives the start of a moment's day.
func dayOf(t time.Time, zone *time.Location) time.Time {
	y, m, d := t.In(zone).Date()
	return time.Date(y, m, d, 0, 0, 0, 0, zone)
}

// Records are everything the figures are made of, read at one moment.
type Records struct {
	Now      time.Time
	First    time.Time // when the first thing was written down
	Zone     *time.Location
	Currency money.Currency
	Machines []Machine
	Blocks   []stock.Block
	Work     []Work
	Draws    []Draw
	Jobs     []Job
	Answers  []Answer
	Handed   []HandOver
	Coils    []Coil
}

// Machine is a machine with what was paid for it.
type Machine struct {
	stock.Machine
	Price money.Amount // 0 when the rates don't say
}

// Work is one line of an order that was made, with the minutes that the plan
// and the price gave it.
type Work struct {
	LineID    int64
	OrderID   int64 // where the line stands
	Order     string
	For       int64 // the order it counts for: of a remake, the one it repairs
	Machine   string
	What      string
	Done      time.Time
	Change    int          // minutes of changeover before it
	Run       int          // minutes of forming or folding
	Saved     int          // minutes of changeover saved against first come, first served; may be negative
	SavedCost money.Amount // what those would have cost
}

// Minutes is how long the machine had the line.
func (w Work) Minutes() int { return w.Change + w.Run }

// Draw is strip that went off a coil.
type Draw struct {
	CoilID  int64
	Tag     string
	Strip   stock.Strip
	Kind    stock.Moved
	Reason  string
	Length  measure.Length // above 0
	PerFoot money.Rate     // landed cost of the coil
	At      time.Time
	OrderID int64 // where the line stands, 0 for no line
	For     int64 // the order it counts for, 0 for none
}

// Cost is what the strip cost landed, not rounded.
func (d Draw) Cost() money.Rate {
	return d.PerFoot.Mul(money.FromRat(d.Length.Ratio(measure.Foot)))
}

// Job is an order of which something was invoiced.
type Job struct {
	OrderID  int64
	Order    string
	Customer string
	First    time.Time    // day of the first invoice, in the shop's zone
	Invoiced money.Amount // all invoices to date, before tax and delivery
	Credited money.Amount // all credit memos to date, before tax and delivery
	Open     bool         // still to be delivered or invoiced in part
	Bought   money.Rate   // landed cost of its accessories
	Packing  money.Rate
	Pocket   map[string]money.Rate // by machine: what an hour costs only because it runs
}

// Outcome is what became of a quote.
type Outcome string

// The outcomes.
const (
	Won    Outcome = "accepted"
	Lost   Outcome = "declined"
	Lapsed Outcome = "lapsed"
)

// Answer is a quote with its last answer.
type Answer struct {
	OrderID  int64
	Order    string
	Customer string
	At       time.Time
	Outcome  Outcome
	Why      order.Why // of a declined one
	Total    money.Amount
}

// HandOver is an order that its customer has, all of it. Who comes for an order
// was promised that it is ready; how long they let it stand is their affair.
type HandOver struct {
	OrderID  int64
	Order    string
	Customer string
	Promised time.Time // as first promised
	Moved    time.Time // as promised last; zero when it never moved
	PickUp   bool
	At       time.Time // when the last of it was handed over, or ready for a pick-up
}

// Coil is a coil that isn't spent.
type Coil struct {
	stock.Coil
	Name  string // of its strip, in the catalogue's words
	Short string // the same for a picture
}
