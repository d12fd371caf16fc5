package drawing

import "math"

// StackKind says how a part of a stacked bar is drawn; kinds differ in black and
// white too.
type StackKind int

// The kinds.
const (
	StackSolid   StackKind = iota // ink
	StackShade                    // a quiet surface
	StackHatched                  // lines at 45°
	StackOpen                     // the ground
)

// StackPart is a stretch of a bar; Share only sets its length.
type StackPart struct {
	Kind  StackKind
	Share float64 // 0 or more
}

// StackRow is one bar of several parts. Figure is printed at its end.
type StackRow struct {
	Label  string
	Figure string
	Parts  []StackPart
	Full   float64 // what the whole width stands for; 0 is the longest row
}

// Stack is bars of several parts, with a key of what the parts are.
type Stack struct {
	ID, Title, Desc string
	Rows            []StackRow
	Key             []StackKey
	Width           float64 // 0 is 520
}

// StackKey names a kind of part.
type StackKey struct {
	Kind StackKind
	Name string
}

// Picture draws the bars, then the key.
func (v Stack) Picture() Picture {
	g := rows{width: or(v.Width, 520)}
	longest := 0.0
	for _, r := range v.Rows {
		g.take(r.Label, r.Figure)
		longest = math.Max(longest, r.sum())
	}
	p := Picture{ID: v.ID, Title: v.Title, Desc: v.Desc, Width: g.width}
	for i, r := range v.Rows {
		full, at := math.Max(or(r.Full, longest), r.sum()), 0.0
		for _, part := range r.Parts {
			if part.Share > 0 {
				p.Add(part.draw(g.bar(i, at, at+part.Share, 0, full))...)
				at += part.Share
			}
		}
		p.Add(g.words(i, r.Label, r.Figure, false, None)...)
	}
	p.Height = rowHigh*float64(len(v.Rows)) + 8
	v.key(&p)
	return p
}

func (r StackRow) sum() (sum float64) {
	for _, p := range r.Parts {
		sum += math.Max(0, p.Share)
	}
	return sum
}

func (s StackPart) draw(r Rect) []Shape {
	r.Pen = Hairline
	switch s.Kind {
	case StackSolid:
		r.Fill = Fill{Role: Ink}
	case StackShade:
		r.Fill = Fill{Role: Shade}
	case StackHatched:
		return append([]Shape{HatchRect(r, 5, Pen{Role: Ink, Width: 0.8})}, r)
	}
	return []Shape{r}
}

// key sets the names side by side, and on as many rows as they need.
func (v Stack) key(p *Picture) {
	const box, gap = 14.0, 18.0
	x, y := 8.0, p.Height+8
	for _, k := range v.Key {
		wide := box + 6 + TextWidth(k.Name, figureSize, false)
		if x > 8 && x+wide > p.Width-8 {
			x, y = 8, y+rowHigh
		}
		p.Add(StackPart{k.Kind, 1}.draw(Rect{X: x, Y: y, W: box, H: box})...)
		p.Add(Text{At: Point{x + box + 6, y + box - 2}, String: k.Name, Size: figureSize, Role: Second})
		x += wide + gap
	}
	if len(v.Key) > 0 {
		p.Height = y + box + 8
	}
}
