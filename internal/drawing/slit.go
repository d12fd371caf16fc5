package drawing

import "ribdesk/internal/measure"

// Strip is one strip across a master coil or sheet.
type Strip struct {
	Width measure.Length
	Label string // what it is for
	Waste bool   // trim or drop
}

// SlitPattern is how a width is slit, edge to edge.
type SlitPattern struct {
	ID, Title, Desc string
	Total           measure.Length
	TotalLabel      string
	Strips          []Strip
	Metal           Fill
	Width           float64 // of the picture; 0 is 640
}

// Picture draws the width as a band: strips outlined with their label, waste
// hatched, the whole width dimensioned.
func (v SlitPattern) Picture() Picture {
	const top, high = 44, 64
	p := Picture{ID: v.ID, Title: v.Title, Desc: v.Desc, Width: or(v.Width, 640), Height: top + high + 12}
	var sum measure.Length
	for _, s := range v.Strips {
		sum += s.Width
	}
	full := max(v.Total, sum)
	if full <= 0 {
		return p
	}
	inner := p.Width - 24
	place := func(l measure.Length) float64 { return 12 + inner*float64(l)/float64(full) }
	var at measure.Length
	for _, s := range v.Strips {
		x := place(at)
		at += s.Width
		r := Rect{X: x, Y: top, W: place(at) - x, H: high, Pen: CutEdge, Fill: Fill{Role: Sheet}}
		p.Add(r)
		if s.Waste {
			p.Add(HatchRect(r, 5, Pen{Role: Ink, Width: 0.8}))
		} else {
			p.Add(Rect{X: r.X, Y: r.Y, W: r.W, H: 8, Pen: Hairline, Fill: v.Metal})
		}
		p.Add(plate(s.Label, r, top+high/2+8)...)
	}
	p.Add(Dimension{From: Point{12, top}, To: Point{place(full), top}, Offset: 16, Label: v.TotalLabel, Size: figureSize})
	return p
}
