package roof

import (
	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
)

// Start is the edge that panels are laid from.
type Start string

// The starts. Centred leaves the same width at both ends.
const (
	FromLeft  Start = "left"
	FromRight Start = "right"
	Centred   Start = "centred"
)

// AtOpenings is what becomes of a panel whose whole cover an opening takes. One
// that an opening takes a part of always runs through, and is cut out on site.
type AtOpenings string

// The ways.
const (
	SplitThere AtOpenings = "split"   // a piece below and a piece above
	RunThrough AtOpenings = "through" // one piece, cut out on site
)

// TooLong is what becomes of a panel that can't be made or hauled in one piece.
type TooLong string

// The ways.
const (
	Refuse TooLong = "refuse"
	Lap    TooLong = "lap" // in pieces with end laps, full ones from the eave up
)

// Rules is how a roof is laid. Which of them are usual Usual says.
type Rules struct {
	Start      Start          `json:"start"`
	AtOpenings AtOpenings     `json:"at_openings"`
	Overhang   measure.Length `json:"overhang"`  // past the eave
	Hem        measure.Length `json:"hem"`       // turned under at the eave
	RidgeGap   measure.Length `json:"ridge_gap"` // held back from the ridge line
	Step       measure.Length `json:"step"`      // lengths are rounded up to it
	TooLong    TooLong        `json:"too_long"`
	EndLap     measure.Length `json:"end_lap"`
	OnSite     bool           `json:"on_site,omitempty"` // formed on site: nothing is hauled

	Stick   measure.Length `json:"stick"`    // length of trim pieces
	TrimLap measure.Length `json:"trim_lap"` // at each joint of trim

	ClipSpacing   measure.Length `json:"clip_spacing"` // along a seam
	ScrewsPerClip int            `json:"screws_per_clip"`
	RowSpacing    measure.Length `json:"row_spacing"`    // of screws, up the slope
	AcrossSpacing measure.Length `json:"across_spacing"` // of screws in a row
	StitchSpacing measure.Length `json:"stitch_spacing"` // of screws along a side lap; 0 is none
	TrimSpacing   measure.Length `json:"trim_spacing"`   // of screws along a flange of trim
	Closure       measure.Length `json:"closure"`        // length of a closure strip
	Tape          measure.Length `json:"tape"`           // length of a roll of butyl tape
}

// Usual gives the rules that a take-off starts from: common practice, no
// published source; the maker's instructions govern.
func Usual(f Fixing) Rules {
	r := Rules{
		Start: FromLeft, AtOpenings: RunThrough, Overhang: measure.Inch, Step: measure.Inch, TooLong: Refuse, EndLap: 6 * measure.Inch,
		Stick: 126 * measure.Inch, TrimLap: 4 * measure.Inch,
		ClipSpacing: 24 * measure.Inch, ScrewsPerClip: 2, RowSpacing: 24 * measure.Inch, AcrossSpacing: 9 * measure.Inch,
		StitchSpacing: 24 * measure.Inch, TrimSpacing: 12 * measure.Inch, Closure: 36 * measure.Inch, Tape: 40 * measure.Foot,
	}
	if f == Clips {
		r.Hem, r.RidgeGap = measure.Inch, measure.Inch
	}
	return r
}

// Check refuses rules that nothing can be laid by.
func (r Rules) Check() error {
	var l fault.List
	switch r.Start {
	case FromLeft, FromRight, Centred:
	default:
		l.Addf("start", "say where the first panel lies: left, right or centred")
	}
	if r.AtOpenings != SplitThere && r.AtOpenings != RunThrough {
		l.Addf("at_openings", "say whether panels are split at openings or run through")
	}
	if r.TooLong != Refuse && r.TooLong != Lap {
		l.Addf("too_long", "say whether too long panels are refused or lapped")
	}
	for _, c := range []struct {
		field       string
		is          measure.Length
		least, most measure.Length
	}{
		{"overhang", r.Overhang, 0, 2 * measure.Foot}, {"hem", r.Hem, 0, measure.Foot}, {"ridge_gap", r.RidgeGap, 0, measure.Foot},
		{"step", r.Step, measure.Sixteenth, measure.Foot}, {"end_lap", r.EndLap, measure.Inch, 2 * measure.Foot},
		{"stick", r.Stick, 2 * measure.Foot, 60 * measure.Foot}, {"trim_lap", r.TrimLap, 0, measure.Foot},
		{"clip_spacing", r.ClipSpacing, 4 * measure.Inch, 10 * measure.Foot}, {"row_spacing", r.RowSpacing, 4 * measure.Inch, 10 * measure.Foot},
		{"across_spacing", r.AcrossSpacing, 2 * measure.Inch, 4 * measure.Foot}, {"trim_spacing", r.TrimSpacing, 2 * measure.Inch, 4 * measure.Foot},
		{"closure", r.Closure, 6 * measure.Inch, 20 * measure.Foot}, {"tape", r.Tape, measure.Foot, 500 * measure.Foot},
	} {
		if c.is < c.least || c.is > c.most {
			l.Addf(c.field, "give %s to %s", c.least, c.most)
		}
	}
	if r.StitchSpacing != 0 && (r.StitchSpacing < 4*measure.Inch || r.StitchSpacing > 10*measure.Foot) {
		l.Addf("stitch_spacing", "give 4\" to 10', or 0 for none")
	}
	if r.ScrewsPerClip < 0 || r.ScrewsPerClip > 10 {
		l.Addf("screws_per_clip", "give 0 to 10 screws a clip")
	}
	return l.Err()
}

// limit is the longest piece a product comes in under the rules.
func (p Product) limit(r Rules) measure.Length {
	if p.Haul > 0 && !r.OnSite {
		return min(p.Longest, p.Haul)
	}
	return p.Longest
}

// Check refuses a product that panels can't be laid of.
func (p Product) Check() error {
	var l fault.List
	if p.Coverage < measure.Inch || p.Coverage > 10*measure.Foot {
		l.Addf("coverage", "choose a panel with a coverage of 1\" to 10'")
	}
	if p.Shortest <= 0 || p.Longest < p.Shortest {
		l.Addf("longest", "the longest piece must be longer than the shortest, and that more than 0")
	}
	if p.Fixing != Clips && p.Fixing != Screws {
		l.Addf("fixing", "say how the panel is held down: clips or screws")
	}
	return l.Err()
}
