package drawing

import (
	"math"
	"slices"
)

// Dimension is a dimension line between two points: thin lines out from both,
// a line between them that ends in slashes, and the figure above it.
type Dimension struct {
	From, To Point
	Offset   float64 // how far out the line stands; positive is to the left going From to To
	Label    string
	Size     float64 // of the figure
}

const (
	slash     = 4 // half the length of an end slash
	overrun   = 4 // how far the thin lines pass the dimension line
	clearance = 3 // gap between the thing and its thin lines, and below the figure
	dimWidth  = 0.8
)

func (s Dimension) paint(to Painter) {
	dx, dy := s.To.X-s.From.X, s.To.Y-s.From.Y
	length := math.Hypot(dx, dy)
	if length == 0 {
		return
	}
	ux, uy := dx/length, dy/length
	nx, ny := uy, -ux // left of the way, as y runs down
	if s.Offset < 0 {
		nx, ny = -nx, -ny
	}
	out := math.Abs(s.Offset)
	along := func(p Point, d float64) Point { return Point{p.X + nx*d, p.Y + ny*d} }
	a, b := along(s.From, out), along(s.To, out)
	pen := Pen{Role: Ink, Width: dimWidth}
	runs := [][]Point{
		{{a.X - ux*overrun, a.Y - uy*overrun}, {b.X + ux*overrun, b.Y + uy*overrun}},
	}
	if out > clearance {
		runs = append(runs, []Point{along(s.From, clearance), along(a, overrun)}, []Point{along(s.To, clearance), along(b, overrun)})
	}
	to.Path(Path{Runs: runs, Pen: pen})
	sx, sy := (ux-uy)*slash, (uy+ux)*slash // the line's direction turned by 45°
	for _, p := range []Point{a, b} {
		to.Path(Path{Runs: [][]Point{{{p.X - sx, p.Y - sy}, {p.X + sx, p.Y + sy}}}, Pen: Pen{Role: Ink, Width: 2 * dimWidth}})
	}
	s.figure(to, Point{(a.X + b.X) / 2, (a.Y + b.Y) / 2}, math.Atan2(uy, ux)*180/math.Pi)
}

// figure sets the label over the middle of the line, readable from below or
// from the right.
func (s Dimension) figure(to Painter, mid Point, turn float64) {
	switch {
	case turn > 90:
		turn -= 180
	case turn <= -90:
		turn += 180
	}
	if turn == 90 {
		turn = -90
	}
	up := turn * math.Pi / 180
	at := Point{mid.X + math.Sin(up)*clearance, mid.Y - math.Cos(up)*clearance}
	Text{At: at, String: s.Label, Size: s.Size, Anchor: Middle, Turn: turn}.paint(to)
}

// Hatch fills a polygon with lines at 45°: changeovers and waste. The lines are
// cut to the outline here, so page and paper show the same ones.
type Hatch struct {
	Points []Point
	Gap    float64 // between lines, square to them
	Pen    Pen
}

// HatchRect hatches an upright rectangle.
func HatchRect(r Rect, gap float64, pen Pen) Hatch {
	return Hatch{Points: r.corners(), Gap: gap, Pen: pen}
}

const maxHatchLines = 2000

func (s Hatch) paint(to Painter) {
	if s.Gap <= 0 || len(s.Points) < 3 {
		return
	}
	// Lines x + y = c rise to the right on a page whose y runs down.
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, p := range s.Points {
		lo, hi = math.Min(lo, p.X+p.Y), math.Max(hi, p.X+p.Y)
	}
	step := s.Gap * math.Sqrt2
	step = math.Max(step, (hi-lo)/maxHatchLines)
	var runs [][]Point
	for c := math.Ceil(lo/step) * step; c < hi; c += step {
		xs := s.crossings(c)
		for i := 0; i+1 < len(xs); i += 2 {
			if xs[i+1] > xs[i] {
				runs = append(runs, []Point{{xs[i], c - xs[i]}, {xs[i+1], c - xs[i+1]}})
			}
		}
	}
	if len(runs) > 0 {
		to.Path(Path{Runs: runs, Pen: s.Pen})
	}
}

// crossings gives the x of every place where x + y = c meets the outline, sorted.
func (s Hatch) crossings(c float64) []float64 {
	var xs []float64
	for i, p := range s.Points {
		q := s.Points[(i+1)%len(s.Points)]
		dp, dq := p.X+p.Y-c, q.X+q.Y-c
		if (dp < 0) != (dq < 0) {
			xs = append(xs, p.X+(q.X-p.X)*dp/(dp-dq))
		}
	}
	slices.Sort(xs)
	return xs
}
