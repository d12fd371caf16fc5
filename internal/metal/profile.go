package metal

import (
	"math"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
)

// Profile is a kind of roll-formed panel, gutter or downspout as a parametric
// outline for drawings. The measures are generic starting points of this
// project's own; what a machine really forms is in the shop's own records.
type Profile struct {
	Code   string
	Name   string
	Params []Param
	build  func(v Values) []Point
	closed bool   // a pipe: the last point joins the first
	check  string // sentence when the parts don't fit each other
	fits   func(v Values) bool
}

// ProfileLine is a profile drawn across its width.
type ProfileLine struct {
	Points   []Point
	Closed   bool
	Min, Max Point
	Stretch  measure.Length // of the drawn line: about the strip width, never a promise of it
}

// Outline gives the profile with these values; a value left out takes its
// default. The error is a fault.List at the parameters' names.
func (p Profile) Outline(given Values) (ProfileLine, error) {
	v, err := filled(p.Params, given)
	if err != nil {
		return ProfileLine{}, err
	}
	if p.fits != nil && !p.fits(v) {
		return ProfileLine{}, fault.Invalidf(p.Params[0].Name, "%s", p.check)
	}
	line := ProfileLine{Points: p.build(v), Closed: p.closed}
	line.Min, line.Max = line.Points[0], line.Points[0]
	run := 0.0
	for i, at := range line.Points {
		line.Min = Point{min(line.Min.X, at.X), min(line.Min.Y, at.Y)}
		line.Max = Point{max(line.Max.X, at.X), max(line.Max.Y, at.Y)}
		if i > 0 {
			run += span(line.Points[i-1], at)
		}
	}
	if p.closed {
		run += span(line.Points[len(line.Points)-1], line.Points[0])
	}
	line.Stretch = measure.FromInches(run)
	return line, nil
}

func span(a, b Point) float64 { return math.Hypot(b.X-a.X, b.Y-a.Y) }

// Profiles gives the kinds in the order of a form's list.
func Profiles() []Profile { return profiles }

// ProfileOf finds a kind by its code; the fault's field is "profile".
func ProfileOf(code string) (Profile, error) {
	for _, p := range profiles {
		if p.Code == code {
			return p, nil
		}
	}
	return Profile{}, fault.Invalidf("profile", "“%s” isn't a kind of profile", clip(code))
}

func coverage(inches float64) Param { return length("coverage", "Coverage", inches, 4, 48) }

const tooTight = "the ribs don't fit beside each other in this width"

var profiles = []Profile{
	{Code: "snap-seam", Name: "Standing seam, snap",
		Params: []Param{coverage(16), length("height", "Seam height", 1.5, 0.75, 4), number("pencil_ribs", "Pencil ribs", CountParam, 2, 0, 6)},
		build:  snapSeam, fits: pencilsFit, check: tooTight},
	{Code: "lock-seam", Name: "Standing seam, mechanical",
		Params: []Param{coverage(16), length("height", "Seam height", 2, 0.75, 4), number("pencil_ribs", "Pencil ribs", CountParam, 0, 0, 6)},
		build:  lockSeam, fits: pencilsFit, check: tooTight},
	{Code: "five-rib", Name: "Five-rib, exposed fastener",
		Params: []Param{coverage(36), length("height", "Rib height", 0.75, 0.25, 4), number("ribs", "Ribs", CountParam, 5, 2, 12),
			length("rib_top", "Rib top", 0.75, 0.125, 6), length("rib_base", "Rib base", 2, 0.25, 10), number("minor_ribs", "Minor ribs between", CountParam, 2, 0, 4)},
		build: trapezoids, fits: trapezoidsFit, check: tooTight},
	{Code: "corrugated", Name: "Corrugated",
		Params: []Param{coverage(32), length("pitch", "Pitch of the waves", 2.667, 0.5, 8), length("depth", "Depth", 0.875, 0.125, 4)},
		build:  waves},
	{Code: "board-batten", Name: "Board and batten",
		Params: []Param{coverage(12), length("batten", "Batten width", 1.5, 0.5, 4), length("height", "Batten height", 0.75, 0.25, 2)},
		build:  batten, check: tooTight,
		fits: func(v Values) bool { return v.in("coverage") > 2*v.in("batten") }},
	{Code: "box-gutter", Name: "Box gutter",
		Params: []Param{length("width", "Width", 6, 2, 16), length("back", "Back", 6, 2, 16), length("front", "Front", 5, 2, 16), length("lip", "Lip", 1, 0.25, 3)},
		build:  boxGutter, check: "the lip is wider than the gutter",
		fits: func(v Values) bool { return v.in("lip") < v.in("width") && v.in("lip") < v.in("front") }},
	{Code: "k-gutter", Name: "K-style gutter",
		Params: []Param{length("width", "Width at the top", 5, 3, 10), length("depth", "Depth", 3.75, 2, 8), length("bottom", "Bottom", 3, 1.5, 8)},
		build:  ogeeGutter, check: "the bottom must be narrower than the top",
		fits: func(v Values) bool { return v.in("bottom") < v.in("width") }},
	{Code: "half-round-gutter", Name: "Half-round gutter",
		Params: []Param{length("width", "Diameter", 6, 3, 12), length("bead", "Bead", 0.75, 0.25, 1.5)},
		build:  halfRound},
	{Code: "downspout-rect", Name: "Rectangular downspout", closed: true,
		Params: []Param{length("width", "Width", 4, 1.5, 10), length("depth", "Depth", 3, 1.5, 10)},
		build: func(v Values) []Point {
			w, d := v.in("width"), v.in("depth")
			return []Point{{0, 0}, {w, 0}, {w, d}, {0, d}}
		}},
	{Code: "downspout-round", Name: "Round downspout", closed: true,
		Params: []Param{length("width", "Diameter", 4, 2, 12)},
		build: func(v Values) []Point {
			r := v.in("width") / 2
			return arc(Point{r, r}, r, 0, 360)[1:]
		}},
}

// in gives a length in inches for drawing.
func (v Values) in(name string) float64 { return v.Lengths[name].InInches() }

// degreesPerStep is how finely curves are drawn.
const degreesPerStep = 7.5

// arc gives points of a circle from one angle to another, ends included.
func arc(center Point, radius, from, to float64) []Point {
	n := max(1, int(math.Ceil(math.Abs(to-from)/degreesPerStep)))
	out := make([]Point, n+1)
	for i := range out {
		out[i] = center.toward((from+(to-from)*float64(i)/float64(n))*math.Pi/180, radius)
	}
	return out
}

// Pencil ribs are small stiffening ribs in a flat pan.
const (
	pencilHeight = 0.125
	pencilBase   = 0.75
)

func pencilsFit(v Values) bool {
	return v.in("coverage") > (v.Numbers["pencil_ribs"]+1)*(pencilBase+0.5)
}

// pan gives a flat from x = 0 to width with n pencil ribs evenly spread.
func pan(width float64, n int) []Point {
	out := []Point{{0, 0}}
	for i := 1; i <= n; i++ {
		x := width * float64(i) / float64(n+1)
		out = append(out, Point{x - pencilBase/2, 0}, Point{x, pencilHeight}, Point{x + pencilBase/2, 0})
	}
	return append(out, Point{width, 0})
}

// snapSeam: a leg with a barb on the left, a cap that snaps over it on the right.
func snapSeam(v Values) []Point {
	w, h := v.in("coverage"), v.in("height")
	out := []Point{{0.3, h - 0.45}, {0, h - 0.1}}
	out = append(out, pan(w, int(v.Numbers["pencil_ribs"]))...)
	return append(out, Point{w, h}, Point{w + 0.45, h}, Point{w + 0.45, h - 0.4}, Point{w + 0.25, h - 0.3})
}

// lockSeam: a flange on the left, a longer one on the right that is folded over it.
func lockSeam(v Values) []Point {
	w, h := v.in("coverage"), v.in("height")
	out := []Point{{0.375, h - 0.125}, {0, h - 0.125}}
	out = append(out, pan(w, int(v.Numbers["pencil_ribs"]))...)
	return append(out, Point{w, h}, Point{w + 0.5, h}, Point{w + 0.5, h - 0.375})
}

func trapezoidsFit(v Values) bool {
	spacing := v.in("coverage") / (v.Numbers["ribs"] - 1)
	return v.in("rib_top") <= v.in("rib_base") &&
		spacing > v.in("rib_base")+v.Numbers["minor_ribs"]*(pencilBase+0.25)
}

// trapezoids: major ribs from edge to edge, the outer two lapping the next
// panel, with minor ribs between them.
func trapezoids(v Values) []Point {
	w, h, n := v.in("coverage"), v.in("height"), int(v.Numbers["ribs"])
	top, base, minor := v.in("rib_top"), v.in("rib_base"), int(v.Numbers["minor_ribs"])
	spacing := w / float64(n-1)
	var out []Point
	for i := range n {
		x := spacing * float64(i)
		out = append(out, Point{x - base/2, 0}, Point{x - top/2, h}, Point{x + top/2, h}, Point{x + base/2, 0})
		if i == n-1 {
			break
		}
		for _, p := range pan(spacing-base, minor)[1 : 1+3*minor] {
			out = append(out, Point{x + base/2 + p.X, p.Y})
		}
	}
	return out
}

// waves: a sine over the coverage and one wave of side lap.
func waves(v Values) []Point {
	w, pitch, depth := v.in("coverage"), v.in("pitch"), v.in("depth")
	const perWave = 24
	n := int(math.Ceil((w + pitch) / pitch * perWave))
	out := make([]Point, n+1)
	for i := range out {
		x := (w + pitch) * float64(i) / float64(n)
		out[i] = Point{x, depth / 2 * (1 - math.Cos(2*math.Pi*x/pitch))}
	}
	return out
}

// batten: a raised batten at the left that hooks over the lip of the panel beside it.
func batten(v Values) []Point {
	w, b, h := v.in("coverage"), v.in("batten"), v.in("height")
	return []Point{{0, 0}, {0, h}, {b, h}, {b, 0}, {w, 0}, {w, h - 0.125}, {w + 0.375, h - 0.125}}
}

func boxGutter(v Values) []Point {
	w, lip, front := v.in("width"), v.in("lip"), v.in("front")
	return []Point{{0, v.in("back")}, {0, 0}, {w, 0}, {w, front}, {w - lip, front}, {w - lip, front - lip/2}}
}

// ogeeGutter: straight back and bottom, an S-shaped front and a lip turned in.
func ogeeGutter(v Values) []Point {
	w, d, b := v.in("width"), v.in("depth"), v.in("bottom")
	out := []Point{{0, d}, {0, 0}, {b, 0}}
	const steps = 16
	for i := range steps + 1 {
		u := float64(i) / steps
		out = append(out, Point{b + (w-b)*u*u*(3-2*u), d * (0.2 + 0.6*u)})
	}
	return append(out, Point{w, d}, Point{w - 0.5, d}, Point{w - 0.5, d - 0.25})
}

// halfRound: the half circle with its back carried up and a rolled bead in front.
func halfRound(v Values) []Point {
	r, bead := v.in("width")/2, v.in("bead")/2
	out := append([]Point{{0, r + bead}}, arc(Point{r, r}, r, 180, 360)...)
	return append(out, arc(Point{2*r + bead, r}, bead, 180, -90)...)
}
