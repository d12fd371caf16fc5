package drawing

import "math"

// PaintedSide says which side of a section carries the finish, seen along the
// order of its points.
type PaintedSide string

// The sides.
const (
	Unpainted    PaintedSide = ""
	PaintedLeft  PaintedSide = "left"
	PaintedRight PaintedSide = "right"
)

// SectionDim is a dimension on a section: between two places, or along a leg.
type SectionDim struct {
	From  Point   `json:"from"`
	To    Point   `json:"to"`
	Label string  `json:"label"`
	Out   float64 `json:"out,omitempty"` // how far off, in pixels; 0 takes a good distance; the side is found
}

// SectionAngle is the angle that two legs include, named beside their bend.
type SectionAngle struct {
	From  Point  `json:"from"` // the far end of the one leg
	At    Point  `json:"at"`   // the bend
	To    Point  `json:"to"`   // the far end of the other
	Label string `json:"label"`
}

// Section is the cross-section of a profile or trim piece.
type Section struct {
	ID       string         `json:"id,omitempty"`
	Title    string         `json:"title"`
	Desc     string         `json:"desc,omitempty"`
	Points   []Point        `json:"points"` // in inches, y up, along the metal
	Dims     []SectionDim   `json:"dims,omitempty"`
	Angles   []SectionAngle `json:"angles,omitempty"`
	Painted  PaintedSide    `json:"painted,omitempty"`
	SideNote string         `json:"side_note,omitempty"` // such as "painted side"
	Colour   Fill           `json:"colour"`              // swatch behind the note
	Width    float64        `json:"width,omitempty"`     // of the picture; 0 is 360
	Height   float64        `json:"height,omitempty"`    // 0 is 200
}

// LegDims gives a dimension for every leg of an outline; labels[i] stands on the
// leg from point i to i+1, and "" leaves it out.
func LegDims(points []Point, labels []string) []SectionDim {
	var dims []SectionDim
	for i := 0; i+1 < len(points) && i < len(labels); i++ {
		if labels[i] != "" {
			dims = append(dims, SectionDim{From: points[i], To: points[i+1], Label: labels[i]})
		}
	}
	return dims
}

const (
	figureSize = 13 // figures and labels
	noteSize   = 12 // remarks
	largest    = 40 // pixels an inch at most, so that a small cleat isn't blown up
)

// Picture draws the section to scale.
func (v Section) Picture() Picture {
	p := Picture{ID: v.ID, Title: v.Title, Desc: v.Desc, Width: or(v.Width, 360), Height: or(v.Height, 200)}
	if len(v.Points) < 2 {
		return p
	}
	h := p.Height
	if v.SideNote != "" {
		h -= 20
	}
	p.Add(fitted(p.Width, h, 8, largest, v.shapes)...)
	if v.SideNote != "" {
		p.Add(v.note(h)...)
	}
	return p
}

func or(v, standard float64) float64 {
	if v > 0 {
		return v
	}
	return standard
}

// note sets the legend: a dash as it stands along the painted side, the words,
// and the metal.
func (v Section) note(y float64) []Shape {
	shapes := []Shape{
		Line{From: Point{8, y + 9}, To: Point{32, y + 9}, Pen: paintPen},
		Text{At: Point{38, y + 13}, String: v.SideNote, Size: noteSize, Role: Second},
	}
	if v.Colour.Colour() != "" {
		x := 38 + TextWidth(v.SideNote, noteSize, false) + 8
		shapes = append(shapes, Rect{X: x, Y: y + 2, W: 24, H: 14, Pen: Hairline, Fill: v.Colour})
	}
	return shapes
}

var paintPen = Pen{Role: Second, Width: 1.5, Dashed: true}

func (v Section) shapes(f frame) []Shape {
	pts := f.all(v.Points)
	shapes := []Shape{Polyline{Points: pts, Pen: CutEdge}}
	shapes = append(shapes, v.paintMarks(pts)...)
	mid := middle(pts)
	for _, d := range v.Dims {
		shapes = append(shapes, dimOn(f.at(d.From), f.at(d.To), mid, d)...)
	}
	for _, a := range v.Angles {
		shapes = append(shapes, angleAt(f.at(a.From), f.at(a.At), f.at(a.To), a.Label, shapes)...)
	}
	return shapes
}

// angleAt names the angle between two legs: inside of it, or else on the other
// side of the bend, as near as nothing is in the way; where there is no such
// place the angle isn't named.
func angleAt(from, at, to Point, label string, drawn []Shape) []Shape {
	ax, ay, a := direction(at, from)
	bx, by, b := direction(at, to)
	mx, my, length := direction(Point{}, Point{ax + bx, ay + by})
	if a == 0 || b == 0 || length == 0 {
		return nil
	}
	w, h := TextWidth(label, noteSize, false), float64(noteSize)
	for away := 10.0; away <= 46; away += 4 {
		for _, side := range []float64{1, -1} {
			c := Point{at.X + side*mx*(away+w/3*math.Abs(mx)), at.Y + side*my*away}
			box := Rect{X: c.X - w/2 - 2, Y: c.Y - h/2 - 1, W: w + 4, H: h + 2}
			if clearOf(box, drawn) {
				return []Shape{Text{At: Point{c.X, c.Y + h/3}, String: label, Size: noteSize, Role: Second, Anchor: Middle}}
			}
		}
	}
	return nil
}

// clearOf reports whether nothing that is drawn runs through a box.
func clearOf(box Rect, drawn []Shape) bool {
	for _, s := range drawn {
		switch s := s.(type) {
		case Polyline:
			for i := 0; i+1 < len(s.Points); i++ {
				if crosses(box, s.Points[i], s.Points[i+1]) {
					return false
				}
			}
		case Line:
			if crosses(box, s.From, s.To) {
				return false
			}
		case Dimension:
			ux, uy, _ := direction(s.From, s.To)
			a := Point{s.From.X + uy*s.Offset, s.From.Y - ux*s.Offset}
			b := Point{s.To.X + uy*s.Offset, s.To.Y - ux*s.Offset}
			mid := Point{(a.X + b.X) / 2, (a.Y + b.Y) / 2}
			w := TextWidth(s.Label, s.Size, false) // the figure lies along the line
			wide, high := w*math.Abs(ux)+2*s.Size*math.Abs(uy), w*math.Abs(uy)+2*s.Size*math.Abs(ux)
			if crosses(box, a, b) || crosses(box, s.From, a) || crosses(box, s.To, b) || overlap(box, Rect{X: mid.X - wide/2, Y: mid.Y - high/2, W: wide, H: high}) {
				return false
			}
		case Text:
			w := TextWidth(s.String, s.Size, s.Bold)
			x := s.At.X
			switch s.Anchor {
			case Middle:
				x -= w / 2
			case End:
				x -= w
			}
			if overlap(box, Rect{X: x, Y: s.At.Y - s.Size, W: w, H: s.Size}) {
				return false
			}
		}
	}
	return true
}

func overlap(a, b Rect) bool {
	return a.X < b.X+b.W && b.X < a.X+a.W && a.Y < b.Y+b.H && b.Y < a.Y+a.H
}

// crosses reports whether a stroke runs through a box, to within a pixel.
func crosses(box Rect, a, b Point) bool {
	ux, uy, length := direction(a, b)
	for d := 0.0; d <= length; d++ {
		x, y := a.X+ux*d, a.Y+uy*d
		if x > box.X && x < box.X+box.W && y > box.Y && y < box.Y+box.H {
			return true
		}
	}
	return false
}

// paintMarks draws a dashed line along every leg on the side of the finish.
func (v Section) paintMarks(pts []Point) []Shape {
	const off, inset = 5, 4
	side := map[PaintedSide]float64{PaintedLeft: 1, PaintedRight: -1}[v.Painted]
	if side == 0 {
		return nil
	}
	var shapes []Shape
	for i := 0; i+1 < len(pts); i++ {
		ux, uy, length := direction(pts[i], pts[i+1])
		if length <= 2*inset {
			continue
		}
		nx, ny := uy*side*off, -ux*side*off
		a, b := pts[i], pts[i+1]
		shapes = append(shapes, Line{
			From: Point{a.X + ux*inset + nx, a.Y + uy*inset + ny},
			To:   Point{b.X - ux*inset + nx, b.Y - uy*inset + ny},
			Pen:  paintPen,
		})
	}
	return shapes
}

func direction(a, b Point) (ux, uy, length float64) {
	dx, dy := b.X-a.X, b.Y-a.Y
	length = math.Hypot(dx, dy)
	if length == 0 {
		return 0, 0, 0
	}
	return dx / length, dy / length, length
}

func middle(pts []Point) Point {
	b := reach([]Shape{Polyline{Points: pts}})
	return Point{(b.minX + b.maxX) / 2, (b.minY + b.maxY) / 2}
}

// dimOn dimensions a leg on the side away from the middle of the section: with
// a dimension line where the figure has room, else with a leader.
func dimOn(a, b, mid Point, d SectionDim) []Shape {
	ux, uy, length := direction(a, b)
	if length == 0 {
		return nil
	}
	nx, ny := uy, -ux
	c := Point{(a.X + b.X) / 2, (a.Y + b.Y) / 2}
	side := 1.0
	if out := (c.X-mid.X)*nx + (c.Y-mid.Y)*ny; out < -0.5 || (math.Abs(out) <= 0.5 && ny > 0) {
		side = -1
	}
	if length >= TextWidth(d.Label, figureSize, false)+4 {
		return []Shape{Dimension{From: a, To: b, Offset: side * or(d.Out, 26), Label: d.Label, Size: figureSize}}
	}
	const leader = 16
	end := Point{c.X + nx*side*leader, c.Y + ny*side*leader}
	label := Text{At: Point{end.X, end.Y + 4}, String: d.Label, Size: figureSize, Anchor: Middle}
	switch {
	case nx*side > 0.4:
		label.At.X, label.Anchor = end.X+3, Start
	case nx*side < -0.4:
		label.At.X, label.Anchor = end.X-3, End
	case ny*side > 0:
		label.At.Y = end.Y + figureSize
	default:
		label.At.Y = end.Y - 3
	}
	return []Shape{Line{From: c, To: end, Pen: Pen{Role: Ink, Width: dimWidth}}, label}
}
