package metal

import (
	"fmt"
	"math"
	"strings"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/words"
)

// Side is a side of the metal as one walks the section from its first leg to
// its last.
type Side string

// The sides. Both and NoSide only say where the colour is.
const (
	Left   Side = "left"
	Right  Side = "right"
	Both   Side = "both"
	NoSide Side = ""
)

// opposite gives the other side of the metal.
func (s Side) opposite() Side {
	switch s {
	case Left:
		return Right
	case Right:
		return Left
	}
	return s
}

// HemKind is how an edge is turned over.
type HemKind string

// The hems.
const (
	NoHem     HemKind = ""
	ClosedHem HemKind = "closed" // flat on the metal
	OpenHem   HemKind = "open"   // with a gap, to hook or to stiffen
)

// Edge is what is done to one end of a section: nothing, a kick, a hem, or a
// kick with a hem at its tip.
type Edge struct {
	Kick      measure.Length `json:"kick,omitempty"`      // short leg bent off the edge, 0 for none
	KickTurn  float64        `json:"kick_turn,omitempty"` // degrees, + to the left
	Hem       HemKind        `json:"hem,omitempty"`       //
	HemDepth  measure.Length `json:"hem_depth,omitempty"` // from the fold to the raw edge
	HemSide   Side           `json:"hem_side,omitempty"`  // side it lies on
	Allowance measure.Length `json:"allowance,omitempty"` // what the shop measured beyond leg and depth, may be negative
	OpenGap   measure.Length `json:"open_gap,omitempty"`  // inside an open hem, for the drawing
}

// Leg is one flat of a section.
type Leg struct {
	Length measure.Length `json:"length"` // outside
	// Turn is how far the section turns before this leg, in degrees, + to the
	// left. On the first leg it is the leg's heading on the drawing, 0 to the
	// right and 90 up, and no bend.
	Turn float64 `json:"turn"`
}

// Section is a folded trim section drawn leg by leg. The zero value has no legs
// and is refused by Check.
type Section struct {
	Name    string `json:"name,omitempty"`
	Legs    []Leg  `json:"legs"`
	Start   Edge   `json:"start"`
	End     Edge   `json:"end"`
	Painted Side   `json:"painted,omitempty"`
}

// Mirror gives the section handed the other way: turns, hems and colour swap
// sides and the drawing is mirrored left to right.
func (s Section) Mirror() Section {
	m := s
	m.Legs = make([]Leg, len(s.Legs))
	for i, l := range s.Legs {
		m.Legs[i] = Leg{l.Length, -l.Turn}
	}
	if len(m.Legs) > 0 {
		m.Legs[0].Turn = 180 - s.Legs[0].Turn
	}
	for _, e := range []*Edge{&m.Start, &m.End} {
		e.KickTurn, e.HemSide = -e.KickTurn, e.HemSide.opposite()
	}
	m.Painted = s.Painted.opposite()
	return m
}

// Mode is how a shop figures girth.
type Mode string

// The modes.
const (
	BendAllowance Mode = "allowance" // outside legs less a deduction at each bend
	SumOfLegs     Mode = "legs"      // outside legs as they are, a common habit
)

// Folding is how and on what a shop folds.
type Folding struct {
	Mode    Mode           `json:"mode"`
	Radius  measure.Length `json:"radius"`   // inside of every bend
	K       float64        `json:"k"`        // 0 takes KFactor of the metal
	Step    measure.Length `json:"step"`     // girth is rounded up to it, 0 leaves it
	MinLeg  measure.Length `json:"min_leg"`  // shortest the folder can hold, 0 for no check
	MinHem  measure.Length `json:"min_hem"`  // shallowest hem, 0 for no check
	MaxTurn float64        `json:"max_turn"` // sharpest bend in degrees, 0 for 150
	Blank   measure.Length `json:"blank"`    // widest blank: sheet or coil width, 0 for no check
}

// UsualFolding is where a shop may start: 0.03 in radius, girth up to the next
// 1/16, 3/8 in shortest leg and hem. Common practice, no published source.
func UsualFolding() Folding {
	return Folding{Mode: BendAllowance, Radius: 30 * measure.Mil, Step: measure.Sixteenth,
		MinLeg: 3 * measure.Eighth, MinHem: 3 * measure.Eighth, MaxTurn: defaultMaxTurn}
}

const (
	defaultMaxTurn = 150.0
	leastTurn      = 1.0
	mostLegs       = 24
	longestLeg     = 10 * measure.Foot
)

// BendLine is one bend of a girth's build-up.
type BendLine struct {
	After     string         // the leg before it, as people count: leg 1, start kick
	Degrees   float64        // signed, + to the left
	Allowance measure.Length // 0 in sum-of-legs mode, like the two below
	Setback   measure.Length
	Deduction measure.Length
}

// Blank is the flat strip a section is folded from.
type Blank struct {
	Girth  measure.Length // rounded up to the shop's step
	Exact  measure.Length // before rounding
	Legs   measure.Length // outside legs and kicks
	Hems   measure.Length // hem depths and their allowances
	Bends  int            // without hems
	Hemmed int            // hems
	Lines  []BendLine
	K      float64 // the factor used
}

// Girth gives the blank width of a section: outside legs, less the deduction of
// each bend, plus hem depths as flat length with the shop's measured allowance,
// rounded up. A hem is a fold of 180 degrees and has no setback. The error is a
// fault.List from Check.
func Girth(s Section, sheet Sheet, f Folding) (Blank, error) {
	if err := Check(s, sheet, f); err != nil {
		return Blank{}, err
	}
	return unfold(s, sheet, f), nil
}

// unfold figures the blank of a section that can be drawn.
func unfold(s Section, sheet Sheet, f Folding) Blank {
	b := Blank{K: f.K}
	if b.K == 0 {
		b.K = KFactor(sheet.Family, sheet.Metal(), f.Radius)
	}
	flats := s.flats()
	for i, fl := range flats {
		b.Legs += fl.length
		if i == 0 {
			continue
		}
		line := BendLine{After: flats[i-1].name, Degrees: fl.turn}
		if f.Mode == BendAllowance {
			bend := Bend{math.Abs(fl.turn), f.Radius, sheet.Metal(), b.K}
			line.Allowance, line.Setback, line.Deduction = bend.Allowance(), bend.Setback(), bend.Deduction()
		}
		b.Exact -= line.Deduction
		b.Lines = append(b.Lines, line)
	}
	for _, e := range []Edge{s.Start, s.End} {
		if e.Hem != NoHem {
			b.Hems += e.HemDepth + e.Allowance
			b.Hemmed++
		}
	}
	b.Bends = len(b.Lines)
	b.Exact += b.Legs + b.Hems
	b.Girth = b.Exact
	if f.Step > 0 {
		b.Girth = b.Exact.Up(f.Step)
	}
	return b
}

// flat is a leg or kick in walking order, with the turn before it.
type flat struct {
	length measure.Length
	turn   float64
	name   string // in people's words
	field  string // of the form
	kick   bool
	leg    int // index of the leg, -1 for a kick
}

// flats gives kicks and legs in walking order. A start kick lies on the side of
// its turn, as an end kick does, so both read the same on a form.
func (s Section) flats() []flat {
	var out []flat
	legs := s.Legs
	if s.Start.Kick > 0 && len(legs) > 0 {
		out = append(out, flat{s.Start.Kick, legs[0].Turn - s.Start.KickTurn, "start kick", "start.kick", true, -1})
	}
	for i, l := range legs {
		fl := flat{l.Length, l.Turn, fmt.Sprintf("leg %d", i+1), fmt.Sprintf("legs.%d.length", i), false, i}
		if i == 0 && len(out) > 0 {
			fl.turn = s.Start.KickTurn
		}
		out = append(out, fl)
	}
	if s.End.Kick > 0 {
		out = append(out, flat{s.End.Kick, s.End.KickTurn, "end kick", "end.kick", true, -1})
	}
	return out
}

// turnField gives the form's name for the turn before this flat.
func (fl flat) turnField(first bool) string {
	switch {
	case fl.kick && first:
		return "start.kick_turn"
	case fl.kick:
		return "end.kick_turn"
	}
	return strings.TrimSuffix(fl.field, "length") + "turn"
}

// Summary writes a section for a list: 4 legs, 3 bends, 1 hem.
func (s Section) Summary() words.Text {
	bends, hems := max(0, len(s.flats())-1), 0
	for _, e := range []Edge{s.Start, s.End} {
		if e.Hem != NoHem {
			hems++
		}
	}
	return words.Say("%s, %s, %s", many(len(s.Legs), words.Key("1 leg"), words.Key("%d legs")), many(bends, words.Key("1 bend"), words.Key("%d bends")), many(hems, words.Key("1 hem"), words.Key("%d hems")))
}

func many(n int, one, more string) words.Text {
	if n == 1 {
		return words.Say(one)
	}
	return words.Say(more, n)
}

// Check gives everything that keeps a section from being folded so, at
// legs.0.length, legs.1.turn, start.hem_depth, end.kick_turn and the like, and
// the sheet's own faults at sheet.thickness and so on.
func Check(s Section, sheet Sheet, f Folding) error {
	var bad fault.List
	bad.Add("sheet", sheet.Check())
	f.check(&bad)
	switch {
	case len(s.Legs) == 0:
		bad.Addf("legs", "a section needs at least one leg")
	case len(s.Legs) > mostLegs:
		bad.Addf("legs", "a section can have %d legs at most", mostLegs)
	}
	if bad != nil {
		return bad
	}
	s.checkFlats(f, &bad)
	s.checkEdges(f, &bad)
	if bad != nil {
		return bad
	}
	if a, b, ok := s.crossing(); ok {
		bad.Addf(b.field, "%s runs through %s; the section can't cross itself", upper(b.name), a.name)
	}
	if blank := unfold(s, sheet, f); f.Blank > 0 && blank.Girth > f.Blank {
		bad.Addf("legs", "the girth of %s is wider than the %s blank by %s", blank.Girth.Across(), f.Blank.Across(), (blank.Girth - f.Blank).Across())
	} else if blank.Exact <= 0 {
		bad.Addf("legs", "the bends use up more metal than the legs have")
	}
	return bad.Err()
}

func upper(s string) string { return strings.ToUpper(s[:1]) + s[1:] }

func (f Folding) check(bad *fault.List) {
	if f.Mode != BendAllowance && f.Mode != SumOfLegs {
		bad.Addf("mode", "choose how girth is figured: with bend allowance or as the sum of the legs")
	}
	if f.Radius < 0 || f.Radius > measure.Inch {
		bad.Addf("radius", "the inside radius must be from 0 to 1 in")
	}
	if math.IsNaN(f.K) || f.K < 0 || f.K > 0.5 {
		bad.Addf("k", "K lies between 0 and 0.5")
	}
	if f.Step < 0 || f.Step > measure.Inch {
		bad.Addf("step", "the girth's rounding step must be from 0 to 1 in")
	}
	if math.IsNaN(f.MaxTurn) || f.MaxTurn < 0 || f.MaxTurn > 170 {
		bad.Addf("max_turn", "the sharpest bend must be from 0 to 170 degrees; a fold of 180 is a hem")
	}
}

func (f Folding) maxTurn() float64 {
	if f.MaxTurn == 0 {
		return defaultMaxTurn
	}
	return f.MaxTurn
}

func (s Section) checkFlats(f Folding, bad *fault.List) {
	flats := s.flats()
	for i, fl := range flats {
		switch {
		case fl.length <= 0:
			bad.Addf(fl.field, "%s has no length", upper(fl.name))
		case fl.length > longestLeg:
			bad.Addf(fl.field, "%s is longer than any folder is deep", upper(fl.name))
		case !fl.kick && fl.length < f.MinLeg:
			bad.Addf(fl.field, "%s is %s; the folder can't hold less than %s", upper(fl.name), fl.length.FeetInches(16), f.MinLeg.FeetInches(16))
		}
		if i > 0 {
			fl.checkTurn(flats[i-1], f, bad)
		} else if math.IsNaN(fl.turn) || math.Abs(fl.turn) > 540 {
			bad.Addf("legs.0.turn", "the first leg's heading must be from -360 to 360 degrees")
		}
	}
}

func (fl flat) checkTurn(before flat, f Folding, bad *fault.List) {
	field := fl.turnField(false)
	if before.kick {
		field = before.turnField(true)
	}
	turn := math.Abs(fl.turn)
	switch {
	case math.IsNaN(turn) || turn < leastTurn:
		bad.Addf(field, "between %s and %s there is no bend; make them one leg or give the angle", before.name, fl.name)
	case turn > f.maxTurn():
		bad.Addf(field, "%g degrees between %s and %s is sharper than the folder turns (%g); make it a hem or open it", turn, before.name, fl.name, f.maxTurn())
	}
}

func (s Section) checkEdges(f Folding, bad *fault.List) {
	s.Start.check("start", s.nextTo(s.Start, 0), f, bad)
	s.End.check("end", s.nextTo(s.End, len(s.Legs)-1), f, bad)
}

// nextTo gives the length that an edge's hem is folded back on.
func (s Section) nextTo(e Edge, leg int) measure.Length {
	if e.Kick > 0 {
		return e.Kick
	}
	return s.Legs[leg].Length
}

func (e Edge) check(at string, bed measure.Length, f Folding, bad *fault.List) {
	if e.Kick < 0 {
		bad.Addf(at+".kick", "a kick can't be negative")
	}
	switch e.Hem {
	case NoHem:
		if e.HemDepth != 0 {
			bad.Addf(at+".hem", "say whether the hem is open or closed")
		}
		return
	case ClosedHem, OpenHem:
	default:
		bad.Addf(at+".hem", "a hem is open or closed")
		return
	}
	switch {
	case e.HemDepth <= 0:
		bad.Addf(at+".hem_depth", "the hem has no depth")
	case e.HemDepth < f.MinHem:
		bad.Addf(at+".hem_depth", "the hem is %s; the folder can't turn less than %s", e.HemDepth.FeetInches(16), f.MinHem.FeetInches(16))
	case e.HemDepth > bed:
		bad.Addf(at+".hem_depth", "the hem is %s deep but has only %s to lie on", e.HemDepth.FeetInches(16), bed.FeetInches(16))
	}
	if e.HemSide != Left && e.HemSide != Right {
		bad.Addf(at+".hem_side", "say to which side the hem is turned")
	}
	if e.Allowance.Abs() > measure.Inch || e.HemDepth+e.Allowance < 0 {
		bad.Addf(at+".allowance", "a hem's measured allowance is a fraction of an inch")
	}
	if e.OpenGap < 0 || e.OpenGap > measure.Inch {
		bad.Addf(at+".open_gap", "an open hem's gap is from 0 to 1 in")
	}
}
