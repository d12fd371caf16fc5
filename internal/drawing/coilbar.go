package drawing

import "ribdesk/internal/measure"

// PartKind is what a stretch of a coil is.
type PartKind string

// The kinds of stretches.
const (
	PartCut      PartKind = "cut"      // gone from it
	PartPromised PartKind = "promised" // still on it, booked for orders
	PartFree     PartKind = "free"     // still on it, to be sold
	PartScrap    PartKind = "scrap"    // damaged or too short
)

// CoilPart is one stretch of a coil, from the outside in.
type CoilPart struct {
	Kind   PartKind
	Length measure.Length
	Label  string // such as "promised 412 ft"
}

// CoilBar is a coil as a long bar to scale.
type CoilBar struct {
	ID, Title, Desc string
	Lot             string // set on the bar's head
	Note            string // at the right end of the head, such as the feet on hand
	Parts           []CoilPart
	Full            measure.Length // what the whole width stands for, so that bars compare; 0 is this coil
	Metal           Fill
	Width           float64 // 0 is 640
}

// Picture draws the bar.
func (v CoilBar) Picture() Picture {
	const top, high = 22, 30
	p := Picture{ID: v.ID, Title: v.Title, Desc: v.Desc, Width: or(v.Width, 640), Height: top + high + 22}
	var sum measure.Length
	for _, part := range v.Parts {
		sum += part.Length
	}
	full := max(v.Full, sum)
	inner := p.Width - 16
	noteWidth := TextWidth(v.Note, figureSize, false)
	p.Add(Text{At: Point{8, 16}, String: Fit(v.Lot, figureSize, true, inner-noteWidth-8), Size: figureSize, Bold: true})
	p.Add(Text{At: Point{p.Width - 8, 16}, String: v.Note, Size: figureSize, Anchor: End})
	if full <= 0 {
		return p
	}
	x := 8.0
	for _, part := range v.Parts {
		if part.Length <= 0 {
			continue
		}
		w := inner * float64(part.Length) / float64(full)
		r := Rect{X: x, Y: top, W: w, H: high, Pen: Hairline}
		p.Add(coilPart(r, part.Kind, v.Metal)...)
		if s := Fit(part.Label, noteSize, false, w-4); s != "" {
			p.Add(Text{At: Point{x + 2, top + high + 15}, String: s, Size: noteSize, Role: Second})
		}
		x += w
	}
	return p
}

// coilPart draws a stretch so that the kinds differ without colour: cut is a
// dashed outline, scrap hatched close, promised ruled wide over the metal, free
// the metal alone along a strip.
func coilPart(r Rect, kind PartKind, metal Fill) []Shape {
	strip := Rect{X: r.X, Y: r.Y, W: r.W, H: 8, Pen: Hairline, Fill: metal}
	switch kind {
	case PartCut:
		r.Pen = Hidden
		return []Shape{r}
	case PartScrap:
		return []Shape{r, HatchRect(r, 4, Hairline)}
	case PartPromised:
		r.Fill = Fill{Role: Shade}
		return []Shape{r, HatchRect(r, 10, Faint), strip, Rect{X: r.X, Y: r.Y, W: r.W, H: r.H, Pen: Hairline}}
	}
	r.Fill = Fill{Role: Sheet}
	return []Shape{r, strip, Rect{X: r.X, Y: r.Y, W: r.W, H: r.H, Pen: CutEdge}}
}
