// Package nestview draws the plans of package nest to scale: coils as bars, slit
// sheets from above. It decides nothing; every length in a picture is one of
// the plan's whole numbers.
package nestview

import (
	"fmt"
	"html/template"
	"strings"

	"ribdesk/internal/drawing"
	"ribdesk/internal/measure"
	"ribdesk/internal/nest"
)

// Eighths gives a length of problem A.
func Eighths(n int64) measure.Length { return measure.Eighth * measure.Length(n) }

// Sixteenths gives a length of problem B.
func Sixteenths(n int64) measure.Length { return measure.Sixteenth * measure.Length(n) }

// Coils draws every used coil as a bar, all to one scale.
func Coils(r *nest.CoilResult) []drawing.Picture {
	var longest int64
	for _, u := range r.Coils {
		longest = max(longest, u.Coil.Length)
	}
	var out []drawing.Picture
	for i, u := range r.Coils {
		bar := CoilBar(u)
		bar.ID, bar.Full, bar.Width = fmt.Sprintf("coil-%d", i+1), Eighths(longest), 800
		out = append(out, bar.Picture())
	}
	return out
}

// CoilBar draws one used coil: its lead, its pieces longest first, its end.
func CoilBar(u nest.CoilUse) drawing.CoilBar {
	bar := drawing.CoilBar{Title: "Coil " + u.Coil.ID, Desc: CoilWords(u), Lot: u.Coil.ID, Note: EndWords(u)}
	if u.Coil.Lot != "" {
		bar.Lot += ", lot " + u.Coil.Lot
	}
	bar.Parts = append(bar.Parts, drawing.CoilPart{Kind: drawing.PartScrap, Length: Eighths(u.Lead + u.Slugs), Label: "lead"})
	for _, x := range u.Pieces {
		bar.Parts = append(bar.Parts, drawing.CoilPart{Kind: drawing.PartPromised, Length: Eighths(x.Line.Length).Times(int(x.Pieces)),
			Label: fmt.Sprintf("%d × %s", x.Pieces, Eighths(x.Line.Length).FeetInches(8))})
	}
	end := drawing.CoilPart{Kind: drawing.PartFree, Length: Eighths(u.End), Label: EndWords(u)}
	if u.Scrap {
		end.Kind = drawing.PartScrap
	}
	bar.Parts = append(bar.Parts, end)
	return bar
}

// CoilWords says what is cut from a coil, in the order of cutting.
func CoilWords(u nest.CoilUse) string {
	var cuts []string
	for _, x := range u.Pieces {
		cuts = append(cuts, fmt.Sprintf("%d × %s for %s", x.Pieces, Eighths(x.Line.Length).FeetInches(8), x.Line.ID))
	}
	return "Longest first: " + strings.Join(cuts, ", ") + "; " + EndWords(u) + "."
}

// EndWords says what becomes of a coil's end.
func EndWords(u nest.CoilUse) string {
	end := Eighths(u.End).FeetInches(8)
	switch {
	case u.End == 0:
		return "used up"
	case u.Scrap:
		return end + " scrap"
	}
	return end + " back on the rack"
}

const (
	margin   = 12.0
	head     = 44.0
	wide     = 800.0
	least    = 60.0  // height of a very narrow sheet
	most     = 420.0 // and of a very wide one
	noteSize = 12.0
)

// Runs draws every run of a trim plan from above: the length of the stock to
// the right, strips across it, waste hatched.
func Runs(p *nest.TrimProblem, r *nest.TrimResult) []drawing.Picture { return RunsAt(p, r, wide) }

// RunsAt is Runs at another width, such as a phone's.
func RunsAt(p *nest.TrimProblem, r *nest.TrimResult, width float64) []drawing.Picture {
	items := map[string]nest.Item{}
	for _, t := range p.Items {
		items[t.ID] = t
	}
	stock := map[string]nest.Stock{}
	for _, s := range p.Stock {
		stock[s.ID] = s
	}
	var out []drawing.Picture
	for i, run := range r.Runs {
		v := runView{p: p, run: run, stock: stock[run.Stock], items: items, width: width}
		out = append(out, v.picture(i+1))
	}
	return out
}

type runView struct {
	p     *nest.TrimProblem
	run   nest.Run
	stock nest.Stock
	items map[string]nest.Item
	width float64 // of the picture
	scale float64
	pic   drawing.Picture
}

// heading says what a run is slit from and how often; the sizes only where the
// stock's name doesn't.
func (v *runView) heading() string {
	head := fmt.Sprintf("%d × %s", v.run.Times, v.run.Stock)
	size := Across(Sixteenths(v.stock.Width)) + " × " + Sixteenths(v.run.Length).FeetInches(16)
	if strings.HasPrefix(v.run.Stock, size) {
		return head
	}
	return head + ", " + size
}

// RunWords says what one run slits and cuts.
func RunWords(run nest.Run, items map[string]nest.Item) string {
	var strips []string
	for _, s := range run.Strips {
		var pieces []string
		for _, x := range s.Pieces {
			pieces = append(pieces, fmt.Sprintf("%d × %s %s", x.Qty, Name(items[x.Item]), Sixteenths(items[x.Item].Length).FeetInches(16)))
		}
		what := strings.Join(pieces, " + ")
		if what == "" {
			what = "spare"
		}
		strips = append(strips, fmt.Sprintf("%d of %s (%s)", s.Count, Across(Sixteenths(s.Girth)), what))
	}
	return strings.Join(strips, "; ")
}

// Across writes a width as slitters and folders are set: in inches, up to the
// next sixteenth.
func Across(l measure.Length) string { return l.Up(measure.Sixteenth).Across().String() }

// Name is what people call an item.
func Name(t nest.Item) string {
	if t.Name != "" {
		return t.Name
	}
	return t.ID
}

func (v *runView) picture(n int) drawing.Picture {
	v.scale = (v.width - 2*margin) / float64(max(v.run.Length, 1))
	high := float64(v.stock.Width) * v.scale
	tall := min(max(high, least), most)
	across := tall / float64(max(v.stock.Width, 1))
	v.pic = drawing.Picture{ID: fmt.Sprintf("run-%d", n), Width: v.width, Height: head + tall + margin,
		Title: fmt.Sprintf("Run %d: %s, %d times", n, v.run.Stock, v.run.Times),
		Desc:  "Slit " + RunWords(v.run, v.items) + ". Waste is hatched."}
	v.pic.Add(drawing.Text{At: drawing.Point{X: margin, Y: 18}, Size: 14, Bold: true,
		String: drawing.Fit(v.heading(), 14, true, v.width-2*margin)})
	sheet := drawing.Rect{X: margin, Y: head, W: v.width - 2*margin, H: tall, Pen: drawing.CutEdge, Fill: drawing.Fill{Role: drawing.Sheet}}
	v.pic.Add(sheet)
	y := head
	edge := float64(v.p.Params.EdgeTrim) * across
	y = v.waste(sheet.X, y, sheet.W, edge)
	for _, s := range v.run.Strips {
		for range s.Count {
			y = v.strip(s, y, float64(s.Girth)*across)
		}
	}
	v.waste(sheet.X, y, sheet.W, head+tall-y)
	return v.pic
}

// waste hatches a band of the sheet and gives its lower edge.
func (v *runView) waste(x, y, w, h float64) float64 {
	if w > 0.5 && h > 0.5 {
		r := drawing.Rect{X: x, Y: y, W: w, H: h, Pen: drawing.Hairline}
		v.pic.Add(r, drawing.HatchRect(r, 5, drawing.Faint))
	}
	return y + h
}

// strip draws one strip with its pieces and gives its lower edge.
func (v *runView) strip(s nest.Strips, y, h float64) float64 {
	x := margin
	for _, piece := range s.Pieces {
		t := v.items[piece.Item]
		for range piece.Qty {
			r := drawing.Rect{X: x, Y: y, W: float64(t.Length) * v.scale, H: h, Pen: drawing.Hairline, Fill: drawing.Fill{Role: drawing.Shade}}
			v.pic.Add(r)
			label := drawing.Fit(fmt.Sprintf("%s %s", Name(t), Across(Sixteenths(t.Girth))), noteSize, false, r.W-6)
			if label != "" && h >= noteSize {
				v.pic.Add(drawing.Text{At: drawing.Point{X: x + 4, Y: y + h/2 + noteSize/3}, String: label, Size: noteSize})
			}
			x += float64(t.Length+v.p.Params.Saw) * v.scale
		}
	}
	v.waste(x, y, v.width-margin-x, h)
	return y + h
}

// Stack sets pictures below each other in one SVG on the near-white sheet.
func Stack(title, desc string, pictures []drawing.Picture) template.HTML {
	var b strings.Builder
	width, height := wide, margin
	for _, p := range pictures {
		width = max(width, p.Width)
		height += p.Height + margin
	}
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" role="img" viewBox="0 0 %.0f %.0f" width="%.0f" height="%.0f" font-family="sans-serif"><title>%s</title><desc>%s</desc>`+"\n",
		width, height, width, height, template.HTMLEscapeString(title), template.HTMLEscapeString(desc))
	fmt.Fprintf(&b, `<rect width="100%%" height="100%%" fill="%s"/>`+"\n", drawing.Sheet.Colour())
	y := margin
	for _, p := range pictures {
		b.WriteString(strings.Replace(string(p.SVG()), "<svg ", fmt.Sprintf(`<svg y="%.0f" `, y), 1))
		y += p.Height + margin
	}
	b.WriteString("</svg>\n")
	return template.HTML(b.String()) // the texts went through escaping
}
