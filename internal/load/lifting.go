package load

import (
	"fmt"
	"math"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
)

// LoadConstant is the recommended limit in lb when every multiplier is 1:
// revised NIOSH lifting equation, DHHS (NIOSH) 94-110.
const LoadConstant = 51.0

// Coupling is how well hands hold the piece.
type Coupling string

// The couplings.
const (
	GoodGrip Coupling = "good"
	FairGrip Coupling = "fair"
	PoorGrip Coupling = "poor"
)

// Lift is one task of lifting by hand as the revised NIOSH equation sees it.
type Lift struct {
	Reach     measure.Length `json:"reach"`  // H, hands ahead of the ankles
	Height    measure.Length `json:"height"` // V, hands above the floor
	Travel    measure.Length `json:"travel"` // D, up or down
	Twist     float64        `json:"twist"`  // A, degrees
	Grip      Coupling       `json:"grip"`
	PerMinute float64        `json:"per_minute"` // lifts
	Hours     float64        `json:"hours"`      // of such work without a long break, 8 at most
}

// UsualLift is taking sheet metal from a bench-high stack: reach 15 in, hands at
// 30 in, travel 20 in, fair grip, now and then for up to an hour. Common
// practice, no published source; a shop puts in its own.
func UsualLift() Lift {
	return Lift{Reach: 15 * measure.Inch, Height: 30 * measure.Inch, Travel: 20 * measure.Inch, Grip: FairGrip, PerMinute: 0.2, Hours: 1}
}

// LiftLimit is the recommended weight limit with its multipliers.
type LiftLimit struct {
	Lift                   Lift
	HM, VM, DM, AM, FM, CM float64
	Lb                     float64 // recommended weight limit; print one decimal at most
}

// Limits of the equation's inputs, DHHS (NIOSH) 94-110, from memory: nearer or
// shorter than the least counts as the least, beyond the most gives 0.
const (
	leastReach  = 10.0
	mostReach   = 25.0
	mostHeight  = 70.0
	leastTravel = 10.0
	mostTravel  = 70.0
	mostTwist   = 135.0
	knuckle     = 30.0 // in; grip and frequency differ below it
)

// Check gives what can't be an input at reach, height, travel, twist, grip,
// per_minute and hours.
func (l Lift) Check() error {
	var bad fault.List
	for _, d := range []struct {
		field string
		l     measure.Length
	}{{"reach", l.Reach}, {"height", l.Height}, {"travel", l.Travel}} {
		if d.l < 0 || d.l > 10*measure.Foot {
			bad.Addf(d.field, "give a distance from 0 to 10 ft")
		}
	}
	if !sensible(l.Twist, 180) {
		bad.Addf("twist", "the twist is from 0 to 180 degrees")
	}
	if l.Grip != GoodGrip && l.Grip != FairGrip && l.Grip != PoorGrip {
		bad.Addf("grip", "the grip is good, fair or poor")
	}
	if !sensible(l.PerMinute, 60) {
		bad.Addf("per_minute", "give the lifts in a minute, 0 to 60")
	}
	if !sensible(l.Hours, 8) {
		bad.Addf("hours", "give the hours of lifting, 0 to 8; the equation goes no further")
	}
	return bad.Err()
}

// Limit gives the recommended weight limit RWL = LC HM VM DM AM FM CM of one
// person's lift. The published tables round each multiplier to two places, the
// formula differs from them by up to 2.5 %.
func (l Lift) Limit() (LiftLimit, error) {
	if err := l.Check(); err != nil {
		return LiftLimit{}, err
	}
	h, v, d := l.Reach.InInches(), l.Height.InInches(), l.Travel.InInches()
	r := LiftLimit{Lift: l, FM: frequency(l.PerMinute, l.Hours, v), CM: l.Grip.multiplier(v)}
	if h <= mostReach {
		r.HM = leastReach / max(h, leastReach)
	}
	if v <= mostHeight {
		r.VM = 1 - 0.0075*math.Abs(v-knuckle)
	}
	if d <= mostTravel {
		r.DM = min(1, 0.82+1.8/max(d, leastTravel))
	}
	if l.Twist <= mostTwist {
		r.AM = 1 - 0.0032*l.Twist
	}
	r.Lb = LoadConstant * r.HM * r.VM * r.DM * r.AM * r.FM * r.CM
	return r, nil
}

func (c Coupling) multiplier(v float64) float64 {
	switch {
	case c == GoodGrip, c == FairGrip && v >= knuckle:
		return 1
	case c == FairGrip:
		return 0.95
	}
	return 0.90
}

// frequencyRow is a row of DHHS (NIOSH) 94-110 Table 5: work up to 1, 2 and 8
// hours, each for hands below 30 in and from there up.
type frequencyRow struct {
	perMinute float64
	fm        [6]float64
}

// frequencies are partly from memory; the first and second hour were read in
// two listings of the table.
var frequencies = []frequencyRow{
	{0.2, [6]float64{1.00, 1.00, 0.95, 0.95, 0.85, 0.85}},
	{0.5, [6]float64{0.97, 0.97, 0.92, 0.92, 0.81, 0.81}},
	{1, [6]float64{0.94, 0.94, 0.88, 0.88, 0.75, 0.75}},
	{2, [6]float64{0.91, 0.91, 0.84, 0.84, 0.65, 0.65}},
	{3, [6]float64{0.88, 0.88, 0.79, 0.79, 0.55, 0.55}},
	{4, [6]float64{0.84, 0.84, 0.72, 0.72, 0.45, 0.45}},
	{5, [6]float64{0.80, 0.80, 0.60, 0.60, 0.35, 0.35}},
	{6, [6]float64{0.75, 0.75, 0.50, 0.50, 0.27, 0.27}},
	{7, [6]float64{0.70, 0.70, 0.42, 0.42, 0.22, 0.22}},
	{8, [6]float64{0.60, 0.60, 0.35, 0.35, 0.18, 0.18}},
	{9, [6]float64{0.52, 0.52, 0.30, 0.30, 0, 0.15}},
	{10, [6]float64{0.45, 0.45, 0.26, 0.26, 0, 0.13}},
	{11, [6]float64{0.41, 0.41, 0, 0.23, 0, 0}},
	{12, [6]float64{0.37, 0.37, 0, 0.21, 0, 0}},
	{13, [6]float64{0, 0.34, 0, 0, 0, 0}},
	{14, [6]float64{0, 0.31, 0, 0, 0, 0}},
	{15, [6]float64{0, 0.28, 0, 0, 0, 0}},
}

// frequency gives FM: slower than the first row counts as the first, between
// rows by a straight line, beyond the last 0.
func frequency(perMinute, hours, v float64) float64 {
	column := 0
	switch {
	case hours > 2:
		column = 4
	case hours > 1:
		column = 2
	}
	if v >= knuckle {
		column++
	}
	if perMinute <= frequencies[0].perMinute {
		return frequencies[0].fm[column]
	}
	for i := 1; i < len(frequencies); i++ {
		low, high := frequencies[i-1], frequencies[i]
		if perMinute <= high.perMinute {
			share := (perMinute - low.perMinute) / (high.perMinute - low.perMinute)
			return low.fm[column] + share*(high.fm[column]-low.fm[column])
		}
	}
	return 0
}

// Index gives the lifting index, weight / limit; infinite when the limit is 0.
func (r LiftLimit) Index(lb float64) float64 {
	if r.Lb == 0 {
		return math.Inf(1)
	}
	return lb / r.Lb
}

// Inputs writes the limit with what it was figured from.
func (r LiftLimit) Inputs() string {
	l := r.Lift
	return fmt.Sprintf("limit %.1f lb for one person: reach %s, hands at %s, travel %s, twist %g°, %s grip, %g lifts a minute for %g h (51 × %.2f × %.2f × %.2f × %.2f × %.2f × %.2f)",
		r.Lb, l.Reach.FeetInches(8), l.Height.FeetInches(8), l.Travel.FeetInches(8), l.Twist, l.Grip, l.PerMinute, l.Hours,
		r.HM, r.VM, r.DM, r.AM, r.FM, r.CM)
}

// FloppyFrom is the length from which a panel wants a second person whatever it
// weighs; common practice, no published source.
const FloppyFrom = 12 * measure.Foot

var ruleLifting = Rule{"revised NIOSH lifting equation, DHHS (NIOSH) 94-110", "recommended weight limit for one person"}

// HandVerdict says whether a piece is more than one person's lift, and false
// when neither the equation nor its length says so.
func HandVerdict(length measure.Length, lb float64, limit LiftLimit) (Verdict, bool) {
	why := ""
	switch {
	case lb > LoadConstant:
		why = fmt.Sprintf("is %s lb, above 51 lb", pounds(lb))
	case lb > limit.Lb:
		why = fmt.Sprintf("is %.1f lb, above the limit of %.1f lb", lb, limit.Lb)
	case length >= FloppyFrom:
		why = "is long and floppy"
	default:
		return Verdict{}, false
	}
	return Verdict{Warn, ruleLifting, fmt.Sprintf("A piece of %s %s: at least two people, or a machine.", length.FeetInches(16), why)}, true
}
