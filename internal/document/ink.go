package document

import (
	"math"
	"strconv"
	"strings"

	"ribdesk/internal/drawing"
)

const (
	point     = 25.4 / 72 // millimetres
	hairline  = 0.2
	cutEdge   = 0.5
	bodySize  = 9.0  // points; nothing a reader needs is smaller
	labelSize = 7.0  // the names of boxes in the title block and of columns
	lead      = 1.32 // line height over size
)

// lineHigh is the height of a line of text in millimetres.
func lineHigh(size float64) float64 { return size * point * lead }

// base is how far below the top of its line a text's base line lies.
func base(size float64) float64 { return size * point * 1.02 }

// say sets text with its base line at y.
func (p *press) say(x, y float64, f face, size float64, s string) {
	p.tone(f, size, drawing.Ink, x, y, s)
}

// small sets the name of a box or column in the second ink.
func (p *press) small(x, y float64, s string) {
	p.tone(narrow, labelSize, drawing.Second, x, y, s)
}

func (p *press) tone(f face, size float64, role drawing.Role, x, y float64, s string) {
	if s = clean(s); s == "" {
		return
	}
	p.pen.SetFont(f.family, f.style, size)
	p.pen.SetTextColor(rgb(role.Colour()))
	p.pen.Text(x, y, s)
}

// sayRight sets text that ends at x.
func (p *press) sayRight(x, y float64, f face, size float64, s string) {
	p.say(x-p.width(f, size, s), y, f, size, s)
}

// sayMiddle sets text with its middle at x.
func (p *press) sayMiddle(x, y float64, f face, size float64, s string) {
	p.say(x-p.width(f, size, s)/2, y, f, size, s)
}

func (p *press) width(f face, size float64, s string) float64 {
	p.pen.SetFont(f.family, f.style, size)
	return p.pen.GetStringWidth(clean(s))
}

// fitting gives the largest size, from most down to least, at which s is no
// wider than w, and s cut with an ellipsis where even the least is too wide.
func (p *press) fitting(f face, most, least, w float64, s string) (float64, string) {
	const longest = 300 // characters that could ever fit a line of a sheet
	if rs := []rune(s); len(rs) > longest {
		s = string(rs[:longest])
	}
	s = clean(s)
	for size := most; size >= least; size -= 0.5 {
		if p.width(f, size, s) <= w {
			return size, s
		}
	}
	rs := []rune(s)
	n := p.fit(f, least, w-p.width(f, least, "…"), rs)
	if n == 0 {
		return least, ""
	}
	return least, strings.TrimRight(string(rs[:n]), " ") + "…"
}

// fit gives how many of the runes set within w.
func (p *press) fit(f face, size, w float64, rs []rune) int {
	p.pen.SetFont(f.family, f.style, size)
	at := 0.0
	for i, r := range rs {
		if at += p.pen.GetStringWidth(string(r)); at > w {
			return i
		}
	}
	return len(rs)
}

// wrap breaks text into lines no wider than w, at spaces, at line breaks, and
// inside a word only where it is wider than a line by itself. It never gives
// fewer than one line.
func (p *press) wrap(f face, size, w float64, s string) []string {
	var lines []string
	space := p.width(f, size, " ")
	for para := range strings.SplitSeq(clean(s), "\n") {
		line, used := "", 0.0
		for _, word := range strings.Fields(para) {
			wide := p.pen.GetStringWidth(word)
			if line != "" && used+space+wide <= w {
				line, used = line+" "+word, used+space+wide
				continue
			}
			if line != "" {
				lines = append(lines, line)
			}
			var full []string
			full, line = p.chop(f, size, w, word)
			lines, used = append(lines, full...), p.pen.GetStringWidth(line)
		}
		lines = append(lines, line)
	}
	return lines
}

// few keeps at most n lines and marks the cut, for places that mustn't grow.
func few(lines []string, n int) []string {
	if len(lines) <= n {
		return lines
	}
	kept := append([]string(nil), lines[:n]...)
	kept[n-1] += " …"
	return kept
}

// chop cuts a word into full lines and what is left.
func (p *press) chop(f face, size, w float64, word string) (full []string, rest string) {
	rs := []rune(word)
	for {
		n := max(1, p.fit(f, size, w, rs))
		if n >= len(rs) {
			return full, string(rs)
		}
		full, rs = append(full, string(rs[:n])), rs[n:]
	}
}

func (p *press) line(x1, y1, x2, y2, width float64, role drawing.Role) {
	p.stroke(drawing.Pen{Role: role, Width: width}, 1)
	p.pen.Line(x1, y1, x2, y2)
}

// rule is a thin line across.
func (p *press) rule(x1, x2, y float64) { p.line(x1, y, x2, y, hairline, drawing.Rule) }

func (p *press) frame(x, y, w, h, width float64) {
	p.stroke(drawing.Pen{Role: drawing.Ink, Width: width}, 1)
	p.pen.Rect(x, y, w, h, "D")
}

// block fills a rectangle; hex is #rrggbb.
func (p *press) block(x, y, w, h float64, hex string) {
	p.pen.SetFillColor(rgb(hex))
	p.pen.Rect(x, y, w, h, "F")
}

func (p *press) stroke(pen drawing.Pen, scale float64) {
	p.pen.SetDrawColor(rgb(pen.Role.Colour()))
	p.pen.SetLineWidth(pen.Width * scale)
	p.pen.SetLineCapStyle("butt")
	if pen.Dashed {
		p.pen.SetDashPattern([]float64{5 * scale, 3 * scale}, 0)
	} else {
		p.pen.SetDashPattern(nil, 0)
	}
}

func rgb(hex string) (r, g, b int) {
	n, err := strconv.ParseUint(strings.TrimPrefix(hex, "#"), 16, 32)
	if err != nil {
		return 0, 0, 0
	}
	return int(n >> 16 & 255), int(n >> 8 & 255), int(n & 255)
}

// swatch is a small square of metal with an outline; an unknown colour is none.
func (p *press) swatch(x, y, size float64, hex string) bool {
	colour := drawing.Swatch("", hex).Colour()
	if colour == "" {
		return false
	}
	p.block(x, y, size, size, colour)
	p.frame(x, y, size, size, hairline)
	return true
}

// picture paints a drawing into a box, as large as fits, from its top left.
func (p *press) picture(pic drawing.Picture, x, y, w, h float64) {
	if pic.Width <= 0 || pic.Height <= 0 {
		return
	}
	pic.Paint(&painter{p: p, x: x, y: y, scale: min(w/pic.Width, h/pic.Height)})
}

// painter draws a picture's shapes on the sheet. It is a drawing.Painter.
type painter struct {
	p           *press
	x, y, scale float64
}

func (t *painter) at(pt drawing.Point) (x, y float64) { return t.x + pt.X*t.scale, t.y + pt.Y*t.scale }

// Path draws lines and surfaces.
func (t *painter) Path(s drawing.Path) {
	style := t.style(s.Pen, s.Fill)
	if style == "" {
		return
	}
	for _, run := range s.Runs {
		for i, pt := range run {
			if x, y := t.at(pt); i == 0 {
				t.p.pen.MoveTo(x, y)
			} else {
				t.p.pen.LineTo(x, y)
			}
		}
		if s.Closed {
			t.p.pen.ClosePath()
		}
	}
	t.p.pen.DrawPath(style)
}

// Circle draws a circle.
func (t *painter) Circle(s drawing.Circle) {
	if style := t.style(s.Pen, s.Fill); style != "" {
		x, y := t.at(s.Centre)
		t.p.pen.Circle(x, y, s.R*t.scale, style)
	}
}

// Text sets a line of words, turned where it must be.
func (t *painter) Text(s drawing.Text) {
	f := regular
	if s.Bold {
		f = bold
	}
	size := s.Size * t.scale / point
	x, y := t.at(s.At)
	w := t.p.width(f, size, s.String)
	left := x
	switch s.Anchor {
	case drawing.Middle:
		left = x - w/2
	case drawing.End:
		left = x - w
	}
	if s.Turn == 0 {
		t.p.tone(f, size, s.Role, left, y, s.String)
		return
	}
	t.p.pen.TransformBegin()
	t.p.pen.TransformRotate(-s.Turn, x, y)
	t.p.tone(f, size, s.Role, left, y, s.String)
	t.p.pen.TransformEnd()
}

// style sets pen and fill and gives the library's letter for them.
func (t *painter) style(pen drawing.Pen, fill drawing.Fill) string {
	style := ""
	if c := fill.Colour(); c != "" {
		if fill.Role == drawing.Sheet {
			c = "#ffffff" // the sheet is white paper here
		}
		t.p.pen.SetFillColor(rgb(c))
		style = "F"
	}
	if pen.Role != drawing.None && pen.Width > 0 {
		t.p.stroke(drawing.Pen{Role: pen.Role, Width: math.Max(pen.Width, 0.5), Dashed: pen.Dashed}, t.scale)
		style += "D"
	}
	return style
}
