// Package drawing makes the pictures of the desk as plain vector shapes: the
// section of a profile or trim, a coil as a bar, the run plan as lanes, the load
// from the side, and the few charts. A Picture is painted on a page as SVG
// (Picture.SVG) and on paper by whoever implements Painter, so that both show
// the same shapes.
//
// The builders (Section, CoilBar, Lanes, ...) take figures that are already
// decided and draw them to scale. They compute no price, plan or load, and know
// no page, paper format or database.
//
// A picture's unit is one CSS pixel at its natural size; x runs right and y
// down. Floats are fine here: nothing drawn is ever read back as a figure.
package drawing

import "math"

// Role is what a line or surface means; the page's style sheet and the paper
// decide its colour. Light and dark sheets and print each have their own.
type Role string

// The roles of the sheet. None draws nothing.
const (
	None   Role = ""
	Ink    Role = "ink"    // cut edges, figures
	Second Role = "second" // remarks, hidden edges
	Rule   Role = "rule"   // hairlines that only structure
	Signal Role = "signal" // needs a hand today; never the only mark
	Sheet  Role = "sheet"  // the ground itself, to lay text over hatching
	Shade  Role = "shade"  // a quiet surface: own work, stock on hand
)

// colours are those of the light sheet. The SVG carries them as presentation
// attributes, which a style sheet overrides.
var colours = map[Role]string{
	Ink: "#15181c", Second: "#4a4f57", Rule: "#bdb8aa", Signal: "#b3370b", Sheet: "#fffefa", Shade: "#e6e2d6",
}

// Colour gives a role's colour on the light sheet as #rrggbb, "" for None.
func (r Role) Colour() string { return colours[r] }

// Point is a place in the picture.
type Point struct {
	X float64 `json:"x"`
	Y float64 `json:"y"`
}

// Pen is how a line is drawn. The zero Pen draws none.
type Pen struct {
	Role   Role
	Width  float64
	Dashed bool
}

// The pens of the shop drawing.
var (
	Hairline = Pen{Role: Ink, Width: 1}
	CutEdge  = Pen{Role: Ink, Width: 2}
	Hidden   = Pen{Role: Second, Width: 1, Dashed: true}
	Faint    = Pen{Role: Rule, Width: 1}
	Alert    = Pen{Role: Signal, Width: 2}
)

// Fill is a surface: a role, or a metal's colour with its name. The zero Fill
// leaves the ground.
type Fill struct {
	Role  Role   `json:"role,omitempty"`
	Name  string `json:"name,omitempty"`  // of the metal colour, read out and shown on hover
	Metal string `json:"metal,omitempty"` // #rrggbb; anything else is taken as no colour
}

// Swatch fills with a metal's colour. The name goes with it always; colour alone
// means nothing on a sheet.
func Swatch(name, hex string) Fill { return Fill{Name: name, Metal: hex} }

// Colour gives the fill's colour as #rrggbb, "" where nothing is filled.
func (f Fill) Colour() string {
	if f.Role == None && isHex(f.Metal) {
		return f.Metal
	}
	return f.Role.Colour()
}

func isHex(s string) bool {
	if len(s) != 7 || s[0] != '#' {
		return false
	}
	for _, c := range s[1:] {
		if !(c >= '0' && c <= '9' || c >= 'a' && c <= 'f' || c >= 'A' && c <= 'F') {
			return false
		}
	}
	return true
}

// Anchor is which end of a text stands at its point.
type Anchor string

// The anchors.
const (
	Start  Anchor = "start"
	Middle Anchor = "middle"
	End    Anchor = "end"
)

// Shape is anything a picture holds. The shapes of this package are all there
// are; each reduces itself to what a Painter can draw.
type Shape interface{ paint(Painter) }

// Painter draws the three things every shape reduces to.
type Painter interface {
	Path(Path)
	Circle(Circle)
	Text(Text)
}

// Picture is a drawing of a size, with words for people who don't see it.
type Picture struct {
	ID            string // prefix of the ids in the SVG; "" where the page needs none
	Title         string // what it is, a few words
	Desc          string // what there is to see, a sentence
	Width, Height float64
	Shapes        []Shape
}

// Add puts shapes on top.
func (p *Picture) Add(shapes ...Shape) { p.Shapes = append(p.Shapes, shapes...) }

// Paint draws every shape in order.
func (p Picture) Paint(to Painter) {
	for _, s := range p.Shapes {
		s.paint(to)
	}
}

// Path is one or more runs of straight lines.
type Path struct {
	Runs   [][]Point
	Closed bool
	Pen    Pen
	Fill   Fill
}

func (s Path) paint(to Painter) { to.Path(s) }

// Line is one straight line.
type Line struct {
	From, To Point
	Pen      Pen
}

func (s Line) paint(to Painter) { to.Path(Path{Runs: [][]Point{{s.From, s.To}}, Pen: s.Pen}) }

// Polyline is an open run of lines.
type Polyline struct {
	Points []Point
	Pen    Pen
}

func (s Polyline) paint(to Painter) { to.Path(Path{Runs: [][]Point{s.Points}, Pen: s.Pen}) }

// Polygon is a closed surface.
type Polygon struct {
	Points []Point
	Pen    Pen
	Fill   Fill
}

func (s Polygon) paint(to Painter) {
	to.Path(Path{Runs: [][]Point{s.Points}, Closed: true, Pen: s.Pen, Fill: s.Fill})
}

// Rect is an upright rectangle.
type Rect struct {
	X, Y, W, H float64
	Pen        Pen
	Fill       Fill
}

func (s Rect) corners() []Point {
	return []Point{{s.X, s.Y}, {s.X + s.W, s.Y}, {s.X + s.W, s.Y + s.H}, {s.X, s.Y + s.H}}
}

func (s Rect) paint(to Painter) {
	Polygon{Points: s.corners(), Pen: s.Pen, Fill: s.Fill}.paint(to)
}

// Circle is a full circle.
type Circle struct {
	Centre Point
	R      float64
	Pen    Pen
	Fill   Fill
}

func (s Circle) paint(to Painter) { to.Circle(s) }

// Arc is part of a circle, in degrees clockwise from three o'clock.
type Arc struct {
	Centre   Point
	R        float64
	From, To float64
	Pen      Pen
}

func (s Arc) paint(to Painter) {
	const step = 7.5
	n := max(2, int(math.Ceil(math.Abs(s.To-s.From)/step)))
	points := make([]Point, n+1)
	for i := range points {
		a := (s.From + (s.To-s.From)*float64(i)/float64(n)) * math.Pi / 180
		points[i] = Point{s.Centre.X + s.R*math.Cos(a), s.Centre.Y + s.R*math.Sin(a)}
	}
	Polyline{Points: points, Pen: s.Pen}.paint(to)
}

// Text is one line of words; At is on its base line.
type Text struct {
	At     Point
	String string
	Size   float64
	Anchor Anchor // Start where empty
	Role   Role   // Ink where empty
	Bold   bool
	Turn   float64 // degrees clockwise about At
}

func (s Text) paint(to Painter) {
	if s.Anchor == "" {
		s.Anchor = Start
	}
	if s.Role == None {
		s.Role = Ink
	}
	to.Text(s)
}
