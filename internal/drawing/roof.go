package drawing

import (
	"math"
	"slices"
)

// RoofPlane is a plane of a roof seen square to its slope, with its panels. All
// places are in inches: x along the eave from its left corner, y up the slope.
type RoofPlane struct {
	ID       string        `json:"id,omitempty"`
	Title    string        `json:"title"`
	Desc     string        `json:"desc,omitempty"`
	Outline  []Point       `json:"outline"` // counter-clockwise
	Edges    []string      `json:"edges"`   // words on the edge that begins at each corner; "" leaves it plain
	Rise     string        `json:"rise"`    // words on the height up the slope
	Panels   []RoofPanel   `json:"panels"`
	Openings []RoofOpening `json:"openings,omitempty"`
	Width    float64       `json:"width,omitempty"` // of the picture; 0 is 340
}

// RoofPanel is a panel with the heights that its pieces cover.
type RoofPanel struct {
	Mark   string       `json:"mark"`
	Left   float64      `json:"left"`
	Right  float64      `json:"right"`
	Pieces [][2]float64 `json:"pieces"`
}

// RoofOpening is a rectangle that isn't roofed.
type RoofOpening struct {
	Label string  `json:"label"`
	Left  float64 `json:"left"`
	Right float64 `json:"right"`
	Low   float64 `json:"low"`
	High  float64 `json:"high"`
}

const (
	edgeOut   = 19  // how far the words on an edge stand off
	riseOut   = 44  // and those on the height
	markSize  = 11  // of the panels' marks
	tallRoof  = 420 // height of a picture at most
	smallRoof = 150 // and at least
)

// Picture draws the plane to scale. What panels reach beyond the outline is
// hatched: it is cut off on site.
func (v RoofPlane) Picture() Picture {
	p := Picture{ID: v.ID, Title: v.Title, Desc: v.Desc, Width: or(v.Width, 340)}
	b := reach([]Shape{Polyline{Points: v.Outline}})
	if len(v.Outline) < 3 || b.width() <= 0 || b.height() <= 0 {
		p.Height = smallRoof
		return p
	}
	p.Height = math.Round(math.Min(tallRoof, math.Max(smallRoof, p.Width*b.height()/b.width()+4*edgeOut)))
	p.Add(fitted(p.Width, p.Height, 6, 40, v.shapes)...)
	return p
}

func (v RoofPlane) shapes(f frame) []Shape {
	var shapes []Shape
	for _, p := range v.Panels {
		for _, piece := range p.Pieces {
			corners := f.all([]Point{{p.Left, piece[0]}, {p.Right, piece[0]}, {p.Right, piece[1]}, {p.Left, piece[1]}})
			shapes = append(shapes, Hatch{Points: corners, Gap: 5, Pen: Pen{Role: Second, Width: 0.6}}, Polygon{Points: corners, Pen: Faint})
		}
	}
	shapes = append(shapes, Polygon{Points: f.all(v.Outline), Fill: Fill{Role: Sheet}})
	shapes = append(shapes, v.seams(f)...)
	for _, o := range v.Openings {
		shapes = append(shapes, o.shapes(f)...)
	}
	shapes = append(shapes, Polygon{Points: f.all(v.Outline), Pen: CutEdge})
	shapes = append(shapes, v.marks(f)...)
	return append(shapes, v.words(f)...)
}

// seams draws the lines between panels, and dashed those between the pieces of
// one.
func (v RoofPlane) seams(f frame) (shapes []Shape) {
	var runs [][]Point
	for _, p := range v.Panels {
		for _, c := range v.chords(p.Left) {
			runs = append(runs, f.all([]Point{{p.Left, c[0]}, {p.Left, c[1]}}))
		}
	}
	if len(runs) > 0 {
		shapes = append(shapes, Path{Runs: runs, Pen: Pen{Role: Ink, Width: 0.8}})
	}
	for _, p := range v.Panels {
		for i, piece := range p.Pieces {
			if i > 0 && piece[0] == p.Pieces[i-1][1] {
				ends := f.all([]Point{{p.Left, piece[0]}, {p.Right, piece[0]}})
				shapes = append(shapes, Line{From: ends[0], To: ends[1], Pen: Hidden})
			}
		}
	}
	return shapes
}

// chords gives what an upright line has of the plane, from below.
func (v RoofPlane) chords(x float64) (out [][2]float64) {
	var ys []float64
	for i, p := range v.Outline {
		q := v.Outline[(i+1)%len(v.Outline)]
		if (p.X <= x) != (q.X <= x) {
			ys = append(ys, p.Y+(q.Y-p.Y)*(x-p.X)/(q.X-p.X))
		}
	}
	slices.Sort(ys)
	for i := 0; i+1 < len(ys); i += 2 {
		out = append(out, [2]float64{ys[i], ys[i+1]})
	}
	return out
}

// shapes draws an opening crossed through, as drawings show a hole.
func (o RoofOpening) shapes(f frame) []Shape {
	c := f.all([]Point{{o.Left, o.Low}, {o.Right, o.Low}, {o.Right, o.High}, {o.Left, o.High}})
	shapes := []Shape{
		Polygon{Points: c, Pen: CutEdge, Fill: Fill{Role: Shade}},
		Path{Runs: [][]Point{{c[0], c[2]}, {c[1], c[3]}}, Pen: Pen{Role: Second, Width: 0.8}},
	}
	if w := TextWidth(o.Label, markSize, false); w+4 <= c[1].X-c[0].X && markSize+4 <= c[0].Y-c[3].Y {
		mid := Point{(c[0].X + c[1].X) / 2, (c[0].Y+c[3].Y)/2 + markSize*0.36}
		shapes = append(shapes,
			Rect{X: mid.X - w/2 - 2, Y: mid.Y - markSize, W: w + 4, H: markSize + 3, Fill: Fill{Role: Shade}},
			Text{At: mid, String: o.Label, Size: markSize, Anchor: Middle})
	}
	return shapes
}

// marks numbers the panels, as many as have room.
func (v RoofPlane) marks(f frame) (shapes []Shape) {
	last := math.Inf(1) // where the mark before stands
	for _, p := range v.Panels {
		foot, top, ok := v.standing((p.Left+p.Right)/2, f)
		if !ok {
			continue
		}
		w := TextWidth(p.Mark, markSize, false)
		wide := (p.Right - p.Left) * f.scale
		switch room := foot.Y - top.Y; {
		case wide >= w+4 && room >= markSize+6:
			shapes = append(shapes, Text{At: Point{foot.X, foot.Y - 5}, String: p.Mark, Size: markSize, Anchor: Middle})
		case room >= w+8 && math.Abs(foot.X-last) >= markSize+1:
			shapes = append(shapes, Text{At: Point{foot.X + markSize*0.36, foot.Y - 4}, String: p.Mark, Size: markSize, Turn: -90})
			last = foot.X
		}
	}
	return shapes
}

// standing gives the room of an upright line of text on the plane.
func (v RoofPlane) standing(x float64, f frame) (foot, top Point, ok bool) {
	half := markSize * 0.7 / f.scale
	left, right := v.chords(x-half), v.chords(x+half)
	if len(left) == 0 || len(right) == 0 {
		return foot, top, false
	}
	foot = f.at(Point{x, math.Max(left[0][0], right[0][0])})
	return foot, f.at(Point{x, math.Min(left[0][1], right[0][1])}), true
}

// words dimensions the edges, and the height up the slope.
func (v RoofPlane) words(f frame) (shapes []Shape) {
	low, high := v.Outline[0], v.Outline[0]
	for i, p := range v.Outline {
		low, high = Point{math.Min(low.X, p.X), math.Min(low.Y, p.Y)}, Point{math.Max(high.X, p.X), math.Max(high.Y, p.Y)}
		q := v.Outline[(i+1)%len(v.Outline)]
		if i >= len(v.Edges) || v.Edges[i] == "" {
			continue
		}
		a, b := f.at(p), f.at(q)
		if math.Hypot(b.X-a.X, b.Y-a.Y) >= TextWidth(v.Edges[i], noteSize, false)+8 {
			shapes = append(shapes, Dimension{From: a, To: b, Offset: -edgeOut, Label: v.Edges[i], Size: noteSize})
		}
	}
	if v.Rise != "" {
		shapes = append(shapes, Dimension{From: f.at(low), To: f.at(Point{low.X, high.Y}), Offset: riseOut, Label: v.Rise, Size: noteSize})
	}
	return shapes
}
