package roof

import (
	"slices"

	"ribdesk/internal/measure"
)

// Trim is what is needed of one kind of trim.
type Trim struct {
	Kind   Edge
	Runs   int            // edges it covers
	Length measure.Length // of those edges
	Pieces int            // of the rules' stick, with laps
	Alone  int            // shared edges that only one plane was stated for; each is counted whole
}

// sameEdge is how much the lengths may differ that two planes give of the edge
// they share: they are measured apart.
const sameEdge = 6 * measure.Inch

// pieces gives how many sticks cover a run, each lapping the one before. What is
// left of a stick isn't counted on for another run.
func (r Rules) pieces(run measure.Length) int {
	if run <= r.Stick {
		return 1
	}
	each := r.Stick - r.TrimLap
	return 1 + int((run-r.Stick).Up(each)/each)
}

// spaced gives how many fastenings stand along a length, at both ends and not
// wider apart than the spacing.
func spaced(length, spacing measure.Length) int {
	if length <= 0 || spacing <= 0 {
		return 0
	}
	return int(length.Up(spacing)/spacing) + 1
}

// runsOf gives the runs of trim of each kind, copies and openings included,
// edges that planes share still once for each plane.
func runsOf(planes []Laid) map[Edge][]measure.Length {
	runs := map[Edge][]measure.Length{}
	for _, l := range planes {
		for range l.Plane.Copies {
			for _, r := range l.Runs {
				runs[r.Edge] = append(runs[r.Edge], r.Length)
				if l.product.Fixing == Clips && (r.Edge == Ridge || r.Edge == Peak || r.Edge == Hip) {
					runs[ZClosure] = append(runs[ZClosure], r.Length)
				}
			}
			for _, h := range l.Holes {
				if h.Kind != Chimney {
					continue
				}
				high, across := up(h.High-h.Low, measure.Sixteenth), h.Right-h.Left
				runs[Sidewall] = append(runs[Sidewall], high, high)
				runs[Endwall] = append(runs[Endwall], across, across)
			}
		}
	}
	return runs
}

// joined puts the two halves of shared edges together: two of like length are
// one edge. alone counts those without a partner.
func joined(halves []measure.Length) (runs []measure.Length, alone int) {
	halves = slices.Clone(halves)
	slices.Sort(halves)
	slices.Reverse(halves)
	for i := 0; i < len(halves); i++ {
		runs = append(runs, halves[i])
		if i+1 < len(halves) && halves[i]-halves[i+1] <= sameEdge {
			i++
		} else {
			alone++
		}
	}
	return runs, alone
}

// trims lists the trim of a roof, and the screws along it.
func trims(planes []Laid, rules Rules) (list []Trim, screws int) {
	all := runsOf(planes)
	for _, kind := range append(slices.Clone(Edges), ZClosure) {
		runs, alone := all[kind], 0
		if len(runs) == 0 {
			continue
		}
		flanges := 1
		if kind.shared() {
			runs, alone = joined(runs)
			flanges = 2 // one on each plane
		}
		t := Trim{Kind: kind, Runs: len(runs), Alone: alone}
		for _, r := range runs {
			t.Length += r
			t.Pieces += rules.pieces(r)
			screws += flanges * spaced(r, rules.TrimSpacing)
		}
		list = append(list, t)
	}
	return list, screws
}

// Fixings is what holds a roof down and keeps it tight.
type Fixings struct {
	Clips       int
	ClipScrews  int
	PanelScrews int // through the panel: rows and side laps
	TrimScrews  int
	Inside      int            // closure strips under the panel, along eaves
	Outside     int            // over it, along ridges, hips and peaks
	Tape        measure.Length // butyl tape: under ridge, hips, valleys, walls, transitions and end laps
	TapeRolls   int
}

// fixings counts along seams, rows and edges.
func fixings(planes []Laid, rules Rules) (f Fixings) {
	for _, l := range planes {
		one := l.fixings()
		n := l.Plane.Copies
		f.Clips += n * one.Clips
		f.PanelScrews += n * one.PanelScrews
		f.Inside += n * one.Inside
		f.Outside += n * one.Outside
		f.Tape += one.Tape.Times(n)
	}
	f.ClipScrews = f.Clips * rules.ScrewsPerClip
	f.TapeRolls = int(f.Tape.Up(rules.Tape) / rules.Tape)
	return f
}

func (l Laid) fixings() (f Fixings) {
	r := l.rules
	for _, seam := range l.seamLengths() {
		if l.product.Fixing == Clips {
			f.Clips += spaced(seam, r.ClipSpacing)
		} else {
			f.PanelScrews += spaced(seam, r.StitchSpacing)
		}
	}
	for _, p := range l.Panels {
		for _, piece := range p.Pieces {
			if l.product.Fixing == Screws {
				across := int(p.Cover().Up(r.AcrossSpacing) / r.AcrossSpacing)
				f.PanelScrews += across * spaced(piece.To-piece.From, r.RowSpacing)
			}
			if piece.Lapped {
				f.Tape += p.Cover()
			}
		}
	}
	for _, run := range l.Runs {
		strips := int(run.Length.Up(r.Closure) / r.Closure)
		switch run.Edge {
		case Eave:
			if l.product.Fixing == Screws {
				f.Inside += strips
			}
		case Ridge, Hip, Peak:
			f.Tape += run.Length
			if l.product.Fixing == Screws {
				f.Outside += strips
			}
		case Valley, Sidewall, Endwall, Transition:
			f.Tape += run.Length
		}
	}
	return f
}
