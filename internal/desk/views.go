package desk

import (
	"context"
	"fmt"
	"math"

	"ribdesk/internal/drawing"
	"ribdesk/internal/measure"
	"ribdesk/internal/metal"
	"ribdesk/internal/stock"
	"ribdesk/internal/words"
)

// trimView draws a folded section leg by leg, each leg with its outside length.
func trimView(view drawing.Section, section metal.Section, r words.Reader) drawing.Section {
	outline := section.Outline()
	for i, seg := range outline.Segments {
		if i == 0 {
			view.Points = append(view.Points, point(seg.From))
		}
		view.Points = append(view.Points, point(seg.To))
		if seg.Kind != metal.HemSegment {
			view.Dims = append(view.Dims, drawing.SectionDim{From: point(seg.From), To: point(seg.To), Label: r.Read(seg.Length)})
		}
	}
	view.Angles = anglesOf(outline)
	switch section.Painted {
	case metal.Left:
		view.Painted = drawing.PaintedLeft
	case metal.Right:
		view.Painted = drawing.PaintedRight
	}
	view.SideNote = r.T("painted side")
	view.Desc = r.Read(section.Summary())
	return view
}

// anglesOf names what the legs include at each bend; a hem is drawn, not named.
func anglesOf(outline metal.Outline) (out []drawing.SectionAngle) {
	for i := 1; i < len(outline.Segments); i++ {
		a, b := outline.Segments[i-1], outline.Segments[i]
		if a.Kind == metal.HemSegment || b.Kind == metal.HemSegment {
			continue
		}
		turn := math.Atan2(b.To.Y-b.From.Y, b.To.X-b.From.X) - math.Atan2(a.To.Y-a.From.Y, a.To.X-a.From.X)
		included := 180 - math.Abs(math.Remainder(turn, 2*math.Pi))*180/math.Pi
		out = append(out, drawing.SectionAngle{From: point(a.From), At: point(b.From), To: point(b.To), Label: fmt.Sprintf("%.0f°", included)})
	}
	return out
}

func point(p metal.Point) drawing.Point { return drawing.Point{X: p.X, Y: p.Y} }

// profileView draws a profile of the catalogue.
func (s *snapshot) profileView(view drawing.Section, code string, r words.Reader) (drawing.Section, bool) {
	p, ok := s.profiles[code]
	if !ok {
		return view, false
	}
	return viewOf(view, p, r)
}

// ProfileView draws a profile that may not be on the shelf yet; false while its
// measures make no section.
func ProfileView(p stock.Profile) (drawing.Section, bool) {
	return viewOf(drawing.Section{ID: "profile", Title: p.Name}, p, shopReader)
}

// ShapeView draws a trim shape that may not be on the shelf yet.
func ShapeView(sh stock.Shape) drawing.Section {
	return trimView(drawing.Section{ID: "shape", Title: sh.Name}, sh.Section, shopReader)
}

// viewOf draws a roll-formed section with its coverage.
func viewOf(view drawing.Section, p stock.Profile, r words.Reader) (drawing.Section, bool) {
	kind, err := metal.ProfileOf(p.Outline)
	if err != nil {
		return view, false
	}
	line, err := kind.Outline(p.Params)
	if err != nil {
		return view, false
	}
	for _, at := range line.Points {
		view.Points = append(view.Points, point(at))
	}
	if line.Closed {
		view.Points = append(view.Points, point(line.Points[0]))
	}
	wide := p.Coverage
	if wide == 0 {
		wide = measure.FromInches(line.Max.X - line.Min.X).Near(measure.Sixteenth)
	}
	view.Dims = []drawing.SectionDim{
		{From: drawing.Point{X: line.Min.X, Y: line.Min.Y}, To: drawing.Point{X: line.Max.X, Y: line.Min.Y}, Label: r.Read(wide.Across())},
		{From: drawing.Point{X: line.Max.X, Y: line.Min.Y}, To: drawing.Point{X: line.Max.X, Y: line.Max.Y}, Label: r.Read(measure.FromInches(line.Max.Y - line.Min.Y).Near(measure.Sixteenth))},
	}
	view.Painted = drawing.PaintedLeft
	view.Desc = r.T("%s: coverage %s from %s strip", p.Name, p.Coverage.Across(), p.Strip.Across())
	return view, true
}

// ProfileSection draws a profile of the catalogue in a colour, "" for bare ink.
func (d *Desk) ProfileSection(ctx context.Context, code, colour string) (drawing.Section, bool, error) {
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return drawing.Section{}, false, err
	}
	view := drawing.Section{ID: "profile-" + code, Title: s.profiles[code].Name}
	if c, ok := s.colours[colour]; ok {
		view.Colour = drawing.Swatch(c.Name, c.Swatch)
	}
	view, ok := s.profileView(view, code, shopReader)
	return view, ok, nil
}
