package drawing

import (
	"math"

	"ribdesk/internal/measure"
)

// LoadBundle is a bundle where it lies. X is from the front of the deck, Y from
// its left edge looking forward, Z the height of its underside above the deck.
type LoadBundle struct {
	Label   string         `json:"label"` // its number, such as 3
	X       measure.Length `json:"x"`
	Y       measure.Length `json:"y"`
	Z       measure.Length `json:"z"`
	Length  measure.Length `json:"length"`
	Breadth measure.Length `json:"breadth"`
	Height  measure.Length `json:"height"`
	Metal   Fill           `json:"metal"`
}

// Overhang is how far a load passes an edge of the deck. Flagged draws the flag.
type Overhang struct {
	Reach   measure.Length `json:"reach,omitempty"`
	Label   string         `json:"label,omitempty"` // the figure, such as 5′ 2″
	Flagged bool           `json:"flagged,omitempty"`
}

// Load is a loaded deck, drawn from the side or from above.
type Load struct {
	ID        string           `json:"id,omitempty"`
	Title     string           `json:"title"`
	Desc      string           `json:"desc,omitempty"`
	Deck      measure.Length   `json:"deck"`
	Breadth   measure.Length   `json:"breadth"` // of the deck
	DeckLabel string           `json:"deck_label,omitempty"`
	Blocked   bool             `json:"blocked,omitempty"` // a front wall or stake stops the load
	Bundles   []LoadBundle     `json:"bundles"`
	TieDowns  []measure.Length `json:"tie_downs,omitempty"` // from the front of the deck
	Axles     []measure.Length `json:"axles,omitempty"`     // behind the front of the deck; none draws a usual pair
	Rear      Overhang         `json:"rear"`
	Left      Overhang         `json:"left"`
	Right     Overhang         `json:"right"`
	Centre    measure.Length   `json:"centre,omitempty"` // of weight, from the front; 0 leaves it out
	FlagWord  string           `json:"flag_word,omitempty"`
	Width     float64          `json:"width,omitempty"`  // 0 is 720
	Height    float64          `json:"height,omitempty"` // 0 is 220
}

// Side draws the load from its right side, the front to the left.
func (v Load) Side() Picture {
	p := Picture{ID: v.ID, Title: v.Title, Desc: v.Desc, Width: or(v.Width, 720), Height: or(v.Height, 220)}
	if v.Deck > 0 {
		p.Add(fitted(p.Width, p.Height, 8, 1000, v.side)...)
	}
	return p
}

// Top draws the load from above, the front to the left.
func (v Load) Top() Picture {
	p := Picture{ID: v.ID, Title: v.Title, Desc: v.Desc, Width: or(v.Width, 720), Height: or(v.Height, 220)}
	if p.ID != "" {
		p.ID += "-top"
	}
	if v.Deck > 0 && v.Breadth > 0 {
		p.Add(fitted(p.Width, p.Height, 8, 1000, v.top)...)
	}
	return p
}

// spot turns lengths into a place in feet.
func spot(x, y measure.Length) Point { return Point{x.InFeet(), y.InFeet()} }

// area is the rectangle between two opposite corners given in feet.
func (f frame) area(a, b Point) Rect {
	p, q := f.at(a), f.at(b)
	return Rect{X: math.Min(p.X, q.X), Y: math.Min(p.Y, q.Y), W: math.Abs(q.X - p.X), H: math.Abs(q.Y - p.Y)}
}

func (v Load) side(f frame) []Shape {
	deck := f.area(Point{0, 0}, spot(v.Deck, 0))
	rear := Point{deck.X + deck.W, deck.Y}
	var shapes []Shape
	top := deck.Y - 12
	for _, b := range v.Bundles {
		r := f.area(spot(b.X, b.Z), spot(b.X+b.Length, b.Z+b.Height))
		r.H = math.Max(r.H, 12) // a low bundle still has room for its number
		top = math.Min(top, r.Y)
		shapes = append(shapes, bundle(r, b)...)
	}
	shapes = append(shapes, Rect{X: deck.X, Y: deck.Y, W: deck.W, H: 6, Pen: Hairline, Fill: Fill{Role: Ink}})
	shapes = append(shapes, v.wheels(f, deck)...)
	if v.Blocked {
		shapes = append(shapes, Rect{X: deck.X - 5, Y: top - 6, W: 5, H: deck.Y + 6 - top + 6, Pen: Hairline, Fill: Fill{Role: Second}})
	}
	for _, x := range v.TieDowns {
		shapes = append(shapes, tieDown(f.at(spot(x, 0)).X, top-6, deck.Y+12)...)
	}
	shapes = append(shapes, Dimension{From: Point{deck.X, deck.Y + 44}, To: Point{rear.X, deck.Y + 44}, Offset: -16, Label: v.DeckLabel, Size: figureSize})
	if v.Rear.Reach > 0 {
		shapes = append(shapes, v.rearOverhang(f, rear, top)...)
	}
	if v.Centre > 0 {
		shapes = append(shapes, balance(f.at(spot(v.Centre, 0)).X, deck.Y+6)...)
	}
	return shapes
}

// bundle draws one bundle with its metal along the top and its number on it.
func bundle(r Rect, b LoadBundle) []Shape {
	r.Pen, r.Fill = CutEdge, Fill{Role: Sheet}
	shapes := []Shape{r, Rect{X: r.X, Y: r.Y, W: r.W, H: math.Min(4, r.H), Pen: Hairline, Fill: b.Metal}}
	size := math.Min(noteSize, math.Max(8, r.H-5))
	if s := Fit(b.Label, size, true, r.W-4); s != "" {
		shapes = append(shapes, Text{At: Point{r.X + r.W/2, r.Y + 2 + r.H/2 + size*0.38}, String: s, Size: size, Anchor: Middle, Bold: true})
	}
	return shapes
}

// wheels stand where the axles are; an axle ahead of the deck is a truck's front
// axle or the hitch, shown by a wheel as well.
func (v Load) wheels(f frame, deck Rect) []Shape {
	at := []float64{deck.X + deck.W*0.66, deck.X + deck.W*0.74}
	if len(v.Axles) > 0 {
		at = nil
		for _, x := range v.Axles {
			at = append(at, f.at(spot(x, 0)).X)
		}
	}
	var shapes []Shape
	for _, x := range at {
		c := Point{x, deck.Y + 18}
		if x < deck.X {
			shapes = append(shapes, Line{From: Point{x, deck.Y + 3}, To: Point{deck.X, deck.Y + 3}, Pen: CutEdge})
		}
		shapes = append(shapes, Circle{Centre: c, R: 11, Pen: Hairline, Fill: Fill{Role: Sheet}}, Circle{Centre: c, R: 3, Pen: Hairline})
	}
	return shapes
}

// tieDown is a strap with a mark at its foot.
func tieDown(x, top, foot float64) []Shape {
	return []Shape{
		Line{From: Point{x, top}, To: Point{x, foot}, Pen: Pen{Role: Ink, Width: 3}},
		Polygon{Points: []Point{{x - 5, foot + 8}, {x + 5, foot + 8}, {x, foot}}, Pen: Hairline, Fill: Fill{Role: Ink}},
	}
}

// balance marks the centre of weight under the deck.
func balance(x, y float64) []Shape {
	return []Shape{
		Circle{Centre: Point{x, y + 14}, R: 7, Pen: Hairline, Fill: Fill{Role: Sheet}},
		Polyline{Points: []Point{{x, y + 7}, {x, y + 21}}, Pen: Hairline},
		Polyline{Points: []Point{{x - 7, y + 14}, {x + 7, y + 14}}, Pen: Hairline},
	}
}

func (v Load) rearOverhang(f frame, rear Point, top float64) []Shape {
	end := f.at(spot(v.Deck+v.Rear.Reach, 0)).X
	shapes := []Shape{
		Dimension{From: Point{rear.X, top}, To: Point{end, top}, Offset: 24, Label: v.Rear.Label, Size: figureSize},
	}
	if v.Rear.Flagged {
		shapes = append(shapes, flag(end+4, top, v.FlagWord)...)
	}
	return shapes
}

// flag is a square on a staff, with the word beside it.
func flag(x, y float64, word string) []Shape {
	return []Shape{
		Rect{X: x, Y: y, W: 18, H: 18, Pen: Hairline, Fill: Fill{Role: Signal}},
		Text{At: Point{x, y + 32}, String: word, Size: noteSize, Bold: true},
	}
}

func (v Load) top(f frame) []Shape {
	deck := f.area(Point{0, 0}, spot(v.Deck, -v.Breadth))
	deck.Pen, deck.Fill = Hairline, Fill{Role: Shade}
	shapes := []Shape{deck}
	reachLeft, reachRight := deck.Y, deck.Y+deck.H
	for _, b := range v.Bundles {
		r := f.area(spot(b.X, -b.Y), spot(b.X+b.Length, -b.Y-b.Breadth))
		reachLeft, reachRight = math.Min(reachLeft, r.Y), math.Max(reachRight, r.Y+r.H)
		shapes = append(shapes, bundle(r, b)...)
	}
	if v.Blocked {
		shapes = append(shapes, Rect{X: deck.X - 5, Y: deck.Y, W: 5, H: deck.H, Pen: Hairline, Fill: Fill{Role: Second}})
	}
	for _, x := range v.TieDowns {
		at := f.at(spot(x, 0)).X
		shapes = append(shapes, Line{From: Point{at, reachLeft - 6}, To: Point{at, reachRight + 6}, Pen: Pen{Role: Ink, Width: 3}})
	}
	rear := deck.X + deck.W
	if v.Rear.Reach > 0 {
		end := f.at(spot(v.Deck+v.Rear.Reach, 0)).X
		shapes = append(shapes, Dimension{From: Point{rear, reachLeft}, To: Point{end, reachLeft}, Offset: 20, Label: v.Rear.Label, Size: figureSize})
		if v.Rear.Flagged {
			shapes = append(shapes, flag(end+6, reachLeft, v.FlagWord)...)
		}
	}
	shapes = append(shapes, v.sideOverhang(deck.X-26, deck.Y, -1, f.scale, v.Left)...)
	return append(shapes, v.sideOverhang(deck.X-26, deck.Y+deck.H, 1, f.scale, v.Right)...)
}

// sideOverhang notes what passes a long edge of the deck; way is -1 up, 1 down.
func (v Load) sideOverhang(x, edge, way, scale float64, o Overhang) []Shape {
	if o.Reach <= 0 {
		return nil
	}
	out := edge + way*o.Reach.InFeet()*scale
	shapes := []Shape{
		Polyline{Points: []Point{{x, edge}, {x + 20, edge}}, Pen: Hairline},
		Polyline{Points: []Point{{x, out}, {x + 20, out}}, Pen: Hairline},
		Text{At: Point{x - 4, (edge+out)/2 + 4}, String: o.Label, Size: figureSize, Anchor: End},
	}
	if o.Flagged {
		shapes = append(shapes, flag(x-18, (edge+out)/2+way*24-9, v.FlagWord)...)
	}
	return shapes
}
