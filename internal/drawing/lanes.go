package drawing

import (
	"time"
)

// BlockKind is what a stretch of a machine's time is used for.
type BlockKind string

// The kinds of blocks.
const (
	BlockOwn        BlockKind = "own"        // the crew's own work
	BlockRun        BlockKind = "run"        // lines made without a changeover
	BlockChangeover BlockKind = "changeover" // hatched, minutes on it
	BlockDown       BlockKind = "down"       // machine out of work
)

// Block is one stretch on a lane.
type Block struct {
	Kind       BlockKind
	Start, End time.Time
	Label      string  // first line: what runs, or the minutes of a changeover
	Detail     string  // second line
	Metal      Fill    // of a run
	Section    []Point // the profile, drawn small at the head of a run; inches, y up
	Alert      bool    // late, or needs a hand today
}

// Lane is one machine's time.
type Lane struct {
	Name   string
	Open   []Hours // when it may run; a light band behind the blocks
	Blocks []Block
}

// Hours is a stretch of time in which a machine may run.
type Hours struct{ From, To time.Time }

// Lanes is the run plan: machines over days.
type Lanes struct {
	ID, Title, Desc string
	First           time.Time // any time on the first day, in the shop's zone
	Days            int
	Open, Close     time.Duration // of the working day since midnight
	DayNames        []string      // one for each day; "" or missing takes Jan 2
	Lanes           []Lane
	Now             time.Time
	NowLabel        string
	Width           float64 // 0 is 1120
}

const (
	laneHead = 34 // day names
	laneHigh = 84
	laneLeft = 132 // machine names
	laneBar  = 60
)

// Picture draws the plan. Time outside the working day isn't shown: every day
// has the same width from opening to closing.
func (v Lanes) Picture() Picture {
	p := Picture{
		ID: v.ID, Title: v.Title, Desc: v.Desc,
		Width: or(v.Width, 1120), Height: laneHead + laneHigh*float64(max(1, len(v.Lanes))) + 20,
	}
	if v.Days < 1 || v.Close <= v.Open {
		return p
	}
	s := laneScale{v: v, dayWidth: (p.Width - laneLeft - 8) / float64(v.Days)}
	s.midnight = time.Date(v.First.Year(), v.First.Month(), v.First.Day(), 0, 0, 0, 0, v.First.Location())
	v.ruleDays(&p, s)
	for i, lane := range v.Lanes {
		y := laneHead + laneHigh*float64(i)
		p.Add(Text{At: Point{8, y + 36}, String: Fit(lane.Name, figureSize, true, laneLeft-16), Size: figureSize, Bold: true})
		p.Add(Line{From: Point{8, y + laneHigh}, To: Point{p.Width - 8, y + laneHigh}, Pen: Faint})
		for _, h := range lane.Open {
			if from, to, ok := s.span(Block{Start: h.From, End: h.To}); ok {
				p.Add(Rect{X: from, Y: y + (laneHigh-laneBar)/2, W: to - from, H: laneBar, Fill: Fill{Role: Shade}})
			}
		}
		for _, b := range lane.Blocks {
			p.Add(b.shapes(s, y+(laneHigh-laneBar)/2)...)
		}
	}
	if x, ok := s.x(v.Now); ok {
		bottom := laneHead + laneHigh*float64(len(v.Lanes))
		p.Add(Line{From: Point{x, laneHead - 4}, To: Point{x, bottom}, Pen: Alert})
		p.Add(v.nowLabel(x, bottom+15, p.Width))
	}
	return p
}

func (v Lanes) nowLabel(x, y, width float64) Text {
	half := TextWidth(v.NowLabel, noteSize, true) / 2
	x = max(half+2, min(width-half-2, x))
	return Text{At: Point{x, y}, String: v.NowLabel, Size: noteSize, Anchor: Middle, Bold: true, Role: Signal}
}

func (v Lanes) ruleDays(p *Picture, s laneScale) {
	bottom := laneHead + laneHigh*float64(max(1, len(v.Lanes)))
	for d := range v.Days {
		x := laneLeft + s.dayWidth*float64(d)
		name := s.midnight.AddDate(0, 0, d).Format("Jan 2")
		if d < len(v.DayNames) && v.DayNames[d] != "" {
			name = v.DayNames[d]
		}
		p.Add(Line{From: Point{x, 8}, To: Point{x, bottom}, Pen: Faint})
		p.Add(Text{At: Point{x + 4, 22}, String: Fit(name, figureSize, false, s.dayWidth-6), Size: figureSize})
	}
	p.Add(Line{From: Point{8, laneHead}, To: Point{p.Width - 8, laneHead}, Pen: Hairline})
}

// laneScale turns times into places.
type laneScale struct {
	v        Lanes
	midnight time.Time
	dayWidth float64
}

// x gives the place of a time, clamped into its working day; ok is false for
// times beyond the days shown.
func (s laneScale) x(t time.Time) (x float64, ok bool) {
	if t.IsZero() {
		return 0, false
	}
	t = t.In(s.midnight.Location())
	day := 0
	for ; day < s.v.Days && !t.Before(s.midnight.AddDate(0, 0, day+1)); day++ {
	}
	if day == s.v.Days || t.Before(s.midnight) {
		return 0, false
	}
	clock := time.Duration(t.Hour())*time.Hour + time.Duration(t.Minute())*time.Minute
	clock = max(s.v.Open, min(s.v.Close, clock))
	share := float64(clock-s.v.Open) / float64(s.v.Close-s.v.Open)
	return laneLeft + s.dayWidth*(float64(day)+share), true
}

// span gives the stretch of a block that is shown.
func (s laneScale) span(b Block) (from, to float64, ok bool) {
	end := s.midnight.AddDate(0, 0, s.v.Days)
	if !b.End.After(b.Start) || !b.Start.Before(end) || !b.End.After(s.midnight) {
		return 0, 0, false
	}
	from, to = laneLeft, laneLeft+s.dayWidth*float64(s.v.Days)
	if x, in := s.x(b.Start); in {
		from = x
	}
	if x, in := s.x(b.End); in {
		to = x
	}
	return from, max(to, from+2), true
}

func (b Block) shapes(s laneScale, y float64) []Shape {
	from, to, ok := s.span(b)
	if !ok {
		return nil
	}
	r := Rect{X: from, Y: y, W: to - from, H: laneBar, Pen: Hairline}
	frame := Rect{X: r.X, Y: r.Y, W: r.W, H: r.H, Pen: Hairline}
	if b.Alert {
		frame.Pen = Alert
	}
	var shapes []Shape
	textY := y + 26
	switch b.Kind {
	case BlockOwn:
		r.Fill = Fill{Role: Shade}
		shapes = append(shapes, r, Line{From: Point{r.X, r.Y + r.H}, To: Point{r.X + r.W, r.Y}, Pen: Pen{Role: Second, Width: 1}}, frame)
		return append(shapes, plate(b.Label, r, y+r.H/2+4)...)
	case BlockChangeover, BlockDown:
		gap := 5.0
		if b.Kind == BlockDown {
			gap = 12
		}
		r.Fill = Fill{Role: Sheet}
		shapes = append(shapes, r, HatchRect(r, gap, Pen{Role: Ink, Width: 0.8}), frame)
		return append(shapes, plate(b.Label, r, y+r.H/2+4)...)
	}
	r.Fill = Fill{Role: Sheet}
	shapes = append(shapes, r, Rect{X: r.X, Y: r.Y, W: r.W, H: 10, Pen: Hairline, Fill: b.Metal}, frame)
	left := r.X + 4
	if len(b.Section) > 1 && r.W > 56 {
		shapes = append(shapes, miniature(b.Section, Rect{X: r.X + 3, Y: y + 13, W: 34, H: 18})...)
		left += 36
	}
	shapes = appendText(shapes, b.Label, left, textY, r.X+r.W-left-3, true)
	return appendText(shapes, b.Detail, r.X+4, y+laneBar-9, r.W-7, false)
}

// miniature draws an outline inside a small box, without figures.
func miniature(points []Point, r Rect) []Shape {
	shapes := fitted(r.W, r.H, 1, 1000, func(f frame) []Shape {
		return []Shape{Polyline{Points: f.all(points), Pen: Pen{Role: Ink, Width: 1.2}}}
	})
	line := shapes[0].(Polyline)
	for i := range line.Points {
		line.Points[i].X += r.X
		line.Points[i].Y += r.Y
	}
	return []Shape{line}
}

// plate sets a label in the middle of a block on a clear ground; a block too
// narrow for it stays bare, as the list beside the picture has the figure.
func plate(label string, r Rect, base float64) []Shape {
	s := Fit(label, noteSize, false, r.W-6)
	if s == "" {
		return turnedPlate(label, r)
	}
	w := TextWidth(s, noteSize, false) + 4
	x := r.X + r.W/2
	return []Shape{
		Rect{X: x - w/2, Y: base - noteSize, W: w, H: noteSize + 4, Fill: Fill{Role: Sheet}},
		Text{At: Point{x, base}, String: s, Size: noteSize, Anchor: Middle},
	}
}

// turnedPlate sets the label upright in a narrow block.
func turnedPlate(label string, r Rect) []Shape {
	if r.W < noteSize+4 {
		return nil
	}
	s := Fit(label, noteSize, false, r.H-6)
	if s == "" {
		return nil
	}
	w := TextWidth(s, noteSize, false) + 4
	x, y := r.X+r.W/2, r.Y+r.H/2
	return []Shape{
		Rect{X: x - noteSize/2 - 2, Y: y - w/2, W: noteSize + 4, H: w, Fill: Fill{Role: Sheet}},
		Text{At: Point{x + 4, y}, String: s, Size: noteSize, Anchor: Middle, Turn: -90},
	}
}

func appendText(shapes []Shape, s string, x, y, width float64, bold bool) []Shape {
	if s = Fit(s, noteSize, bold, width); s == "" {
		return shapes
	}
	return append(shapes, Text{At: Point{x, y}, String: s, Size: noteSize, Bold: bold})
}

// Band gives the strip of the picture that belongs to a lane.
func (v Lanes) Band(lane int) Rect {
	return Rect{X: 0, Y: laneHead + laneHigh*float64(lane), W: or(v.Width, 1120), H: laneHigh}
}

// Spot gives where a block of a lane stands in the picture, for what is laid
// over it; ok is false for one that isn't shown.
func (v Lanes) Spot(lane int, b Block) (r Rect, ok bool) {
	if v.Days < 1 || v.Close <= v.Open {
		return r, false
	}
	s := laneScale{v: v, dayWidth: (or(v.Width, 1120) - laneLeft - 8) / float64(v.Days)}
	s.midnight = time.Date(v.First.Year(), v.First.Month(), v.First.Day(), 0, 0, 0, 0, v.First.Location())
	from, to, ok := s.span(b)
	return Rect{X: from, Y: laneHead + laneHigh*float64(lane) + (laneHigh-laneBar)/2, W: to - from, H: laneBar}, ok
}
