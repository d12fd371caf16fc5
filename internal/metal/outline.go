package metal

import (
	"math"

	"ribdesk/internal/measure"
)

// Point is a place on a drawing in inches, y up.
type Point struct{ X, Y float64 }

// SegmentKind says what a stroke of an outline is.
type SegmentKind string

// The strokes.
const (
	LegSegment  SegmentKind = "leg"
	KickSegment SegmentKind = "kick"
	HemSegment  SegmentKind = "hem"
)

// Segment is one straight stroke of an outline.
type Segment struct {
	Kind     SegmentKind
	Leg      int // index of the leg, -1 for kicks and hems
	From, To Point
	Length   measure.Length // as dimensioned
	Hem      HemKind        // of a hem
}

// Corner is a bend on the drawing.
type Corner struct {
	At      Point
	Degrees float64 // signed turn, + to the left
}

// Outline is a section as strokes in walking order, start hem first. Legs are
// drawn with their outside dimensions as single lines; hems stand off by their
// gap, so that they can be seen.
type Outline struct {
	Segments []Segment
	Corners  []Corner
	Min, Max Point
	Painted  Side
}

// drawnGap is how far a closed hem stands off on a drawing, as a share of its depth.
const drawnGap = 0.12

// Outline gives the strokes of a section. It draws anything that has legs, also
// what Check refuses, so that a person sees what is wrong.
func (s Section) Outline() Outline {
	o := Outline{Painted: s.Painted}
	points, flats := s.walk()
	if len(flats) == 0 {
		return o
	}
	if s.Start.Hem != NoHem {
		// The start hem is walked from its raw edge to the fold.
		from, to := hemStroke(points[0], points[1], s.Start, s.Start.HemSide)
		o.Segments = append(o.Segments, Segment{HemSegment, -1, to, from, s.Start.HemDepth, s.Start.Hem})
	}
	for i, fl := range flats {
		kind := LegSegment
		if fl.kick {
			kind = KickSegment
		}
		o.Segments = append(o.Segments, Segment{kind, fl.leg, points[i], points[i+1], fl.length, NoHem})
		if i > 0 {
			o.Corners = append(o.Corners, Corner{points[i], fl.turn})
		}
	}
	if s.End.Hem != NoHem {
		last := len(points) - 1
		from, to := hemStroke(points[last], points[last-1], s.End, s.End.HemSide.opposite())
		o.Segments = append(o.Segments, Segment{HemSegment, -1, from, to, s.End.HemDepth, s.End.Hem})
	}
	o.Min, o.Max = bounds(o.Segments)
	return o
}

// Points gives the strokes as one line from edge to edge, with a short step
// across the gap of each hem; for a drawing that takes a polyline.
func (o Outline) Points() []Point {
	var out []Point
	for _, g := range o.Segments {
		for _, p := range []Point{g.From, g.To} {
			if len(out) == 0 || out[len(out)-1] != p {
				out = append(out, p)
			}
		}
	}
	return out
}

// walk gives the corner points of kicks and legs, from the origin.
func (s Section) walk() ([]Point, []flat) {
	flats := s.flats()
	points := []Point{{}}
	heading, at := 0.0, Point{}
	for _, fl := range flats {
		heading += fl.turn * math.Pi / 180
		at = at.toward(heading, fl.length.InInches())
		points = append(points, at)
	}
	return points, flats
}

func (p Point) toward(heading, distance float64) Point {
	return Point{p.X + distance*math.Cos(heading), p.Y + distance*math.Sin(heading)}
}

// hemStroke gives a hem's stroke, from beside the fold at tip to its raw edge,
// along the metal from tip to bed, on the given side of that direction.
func hemStroke(tip, bed Point, e Edge, side Side) (from, to Point) {
	heading := math.Atan2(bed.Y-tip.Y, bed.X-tip.X)
	gap := e.OpenGap.InInches()
	if e.Hem == ClosedHem || gap == 0 {
		gap = drawnGap * e.HemDepth.InInches()
	}
	across := heading + math.Pi/2
	if side == Right {
		across = heading - math.Pi/2
	}
	from = tip.toward(across, gap)
	return from, from.toward(heading, e.HemDepth.InInches())
}

func bounds(segments []Segment) (lo, hi Point) {
	lo, hi = segments[0].From, segments[0].From
	for _, s := range segments {
		for _, p := range []Point{s.From, s.To} {
			lo = Point{min(lo.X, p.X), min(lo.Y, p.Y)}
			hi = Point{max(hi.X, p.X), max(hi.Y, p.Y)}
		}
	}
	return lo, hi
}

// crossing finds two flats that touch or run through each other though they are
// no neighbours.
func (s Section) crossing() (a, b flat, found bool) {
	points, flats := s.walk()
	for j := range flats {
		for i := 0; i < j-1; i++ {
			if meet(points[i], points[i+1], points[j], points[j+1]) {
				return flats[i], flats[j], true
			}
		}
	}
	return flat{}, flat{}, false
}

// touch is the distance in inches under which two strokes count as meeting,
// thinner than any sheet.
const touch = 1e-4

// meet reports whether strokes ab and cd cross or touch.
func meet(a, b, c, d Point) bool {
	if turn(a, b, c)*turn(a, b, d) < 0 && turn(c, d, a)*turn(c, d, b) < 0 {
		return true
	}
	return near(a, c, d) || near(b, c, d) || near(c, a, b) || near(d, a, b)
}

// turn is positive when c lies to the left of ab.
func turn(a, b, c Point) float64 {
	return (b.X-a.X)*(c.Y-a.Y) - (b.Y-a.Y)*(c.X-a.X)
}

// near reports whether p lies on the stroke ab.
func near(p, a, b Point) bool {
	dx, dy := b.X-a.X, b.Y-a.Y
	share := 0.0
	if long := dx*dx + dy*dy; long > 0 {
		share = min(1, max(0, ((p.X-a.X)*dx+(p.Y-a.Y)*dy)/long))
	}
	return math.Hypot(p.X-a.X-share*dx, p.Y-a.Y-share*dy) < touch
}
