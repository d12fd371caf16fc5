package drawing

import "math"

const (
	rowHigh = 26
	barHigh = 14
)

// Step is one term of a sum. Share only sets the length of its bar; Figure is
// what is printed, and comes from the exact sum.
type Step struct {
	Label  string
	Figure string
	Share  float64 // relative size, negative for what is taken off
	Sum    bool    // a running sum: its bar begins at zero
}

// Waterfall is a build-up read down the page: each term's bar begins where the
// one before ended, and sums begin at zero.
type Waterfall struct {
	ID, Title, Desc string
	Steps           []Step
	Width           float64 // 0 is 520
}

// Picture draws the build-up.
func (v Waterfall) Picture() Picture {
	g := rows{width: or(v.Width, 520)}
	var at, lo, hi float64
	starts := make([]float64, len(v.Steps))
	for i, s := range v.Steps {
		g.take(s.Label, s.Figure)
		if !s.Sum {
			starts[i] = at
			at += s.Share
		} else {
			at = s.Share
		}
		lo, hi = math.Min(lo, at), math.Max(hi, at)
	}
	p := Picture{ID: v.ID, Title: v.Title, Desc: v.Desc, Width: g.width, Height: rowHigh*float64(len(v.Steps)) + 8}
	for i, s := range v.Steps {
		r := g.bar(i, starts[i], starts[i]+s.Share, lo, hi)
		r.Pen, r.Fill = Hairline, Fill{Role: Shade}
		switch {
		case s.Sum:
			r.Pen, r.Fill = Hairline, Fill{Role: Ink}
			y := float64(i) * rowHigh
			p.Add(Line{From: Point{8, y + 4}, To: Point{g.width - 8, y + 4}, Pen: Hairline})
		case s.Share < 0:
			p.Add(HatchRect(r, 5, Pen{Role: Ink, Width: 0.8}))
			r.Fill = Fill{}
		}
		p.Add(r)
		p.Add(g.words(i, s.Label, s.Figure, s.Sum, None)...)
	}
	return p
}

// Bar is one bar of a chart; Share sets its length, Figure is printed.
type Bar struct {
	Label  string
	Figure string
	Share  float64 // 0 or more, relative
	Alert  bool    // needs a hand; its figure carries a mark too
}

// Bars are bars on one scale: ageing, idle hours.
type Bars struct {
	ID, Title, Desc string
	Bars            []Bar
	Width           float64 // 0 is 520
}

// Picture draws the bars.
func (v Bars) Picture() Picture {
	g := rows{width: or(v.Width, 520)}
	hi := 0.0
	for _, b := range v.Bars {
		g.take(b.Label, alertMark(b))
		hi = math.Max(hi, b.Share)
	}
	p := Picture{ID: v.ID, Title: v.Title, Desc: v.Desc, Width: g.width, Height: rowHigh*float64(len(v.Bars)) + 8}
	for i, b := range v.Bars {
		r := g.bar(i, 0, math.Max(0, b.Share), 0, hi)
		r.Pen, r.Fill = Hairline, Fill{Role: Shade}
		role := None
		if b.Alert {
			r.Pen, role = Alert, Signal
			p.Add(HatchRect(r, 5, Pen{Role: Signal, Width: 1}))
			r.Fill = Fill{}
		}
		p.Add(r)
		p.Add(g.words(i, b.Label, alertMark(b), false, role)...)
	}
	return p
}

func alertMark(b Bar) string {
	if b.Alert {
		return "! " + b.Figure
	}
	return b.Figure
}

// rows lays words left, bars between, figures right.
type rows struct{ width, labels, figures float64 }

func (g *rows) take(label, figure string) {
	const most = 0.42 // of the width for labels
	g.labels = math.Max(g.labels, math.Min(TextWidth(label, figureSize, true), g.width*most))
	g.figures = math.Max(g.figures, math.Min(TextWidth(figure, figureSize, true), g.width*0.3))
}

// bar places the stretch from a to b on the scale lo..hi in row i.
func (g *rows) bar(i int, a, b, lo, hi float64) Rect {
	left, right := 8+g.labels+10, g.width-8-g.figures-10
	at := func(v float64) float64 {
		if hi <= lo {
			return left
		}
		return left + (right-left)*(v-lo)/(hi-lo)
	}
	from, to := at(math.Min(a, b)), at(math.Max(a, b))
	return Rect{X: from, Y: float64(i)*rowHigh + 4 + (rowHigh-barHigh)/2, W: to - from, H: barHigh}
}

func (g *rows) words(i int, label, figure string, bold bool, role Role) []Shape {
	y := float64(i)*rowHigh + 4 + rowHigh/2 + 5
	return []Shape{
		Text{At: Point{8, y}, String: Fit(label, figureSize, bold, g.labels+4), Size: figureSize, Bold: bold},
		Text{At: Point{g.width - 8, y}, String: Fit(figure, figureSize, bold, g.width*0.3+4), Size: figureSize, Bold: bold, Anchor: End, Role: role},
	}
}
