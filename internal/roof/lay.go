package roof

import (
	"fmt"
	"strconv"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
)

// Panel is one panel of a plane, in one or more pieces.
type Panel struct {
	No          int
	Mark        string // A1
	Left, Right measure.Length
	Pieces      []Piece
	Net         Area // of the plane, without openings, under it
}

// Cover is how much of the plane's width the panel covers: the coverage, or less
// where it is ripped.
func (p Panel) Cover() measure.Length { return p.Right - p.Left }

// Piece is a length of panel as it is ordered.
type Piece struct {
	Mark     string
	From, To measure.Length // what it covers of the plane; its lap lies over the one below
	Length   measure.Length // as it is cut
	Short    bool           // longer than needed: the machine cuts none so short
	Lapped   bool           // laps over the piece below it
}

// Laid is a plane with its panels.
type Laid struct {
	Plane   Plane
	Letter  string
	Outline Outline
	Runs    []Run
	Panels  []Panel
	Holes   []Hole
	Net     Area // of one such plane, without its openings
	Ordered Area // lengths x coverage

	product Product
	rules   Rules
}

// Hole is an opening as it lies on the slope.
type Hole struct {
	Kind                   OpeningKind
	Left, Right, Low, High measure.Length
}

// Waste is what is ordered beyond what is covered.
func (l Laid) Waste() Area { return l.Ordered.Sub(l.Net) }

// Ends gives the cover of the first and the last panel, where they are ripped;
// 0 where not.
func (l Laid) Ends() (first, last measure.Length) {
	cut := func(p Panel) measure.Length {
		if w := p.Cover(); w < l.product.Coverage {
			return w
		}
		return 0
	}
	if len(l.Panels) == 0 {
		return 0, 0
	}
	if len(l.Panels) > 1 {
		last = cut(l.Panels[len(l.Panels)-1])
	}
	return cut(l.Panels[0]), last
}

// lay covers one plane.
func lay(p Plane, letter string, product Product, rules Rules) (Laid, error) {
	outline, err := p.Outline()
	if err != nil {
		return Laid{}, err
	}
	l := Laid{Plane: p, Letter: letter, Outline: outline, Runs: outline.Runs(), product: product, rules: rules}
	if err := l.open(); err != nil {
		return l, err
	}
	left, right, _ := outline.reach()
	n := int((right - left).Up(product.Coverage) / product.Coverage)
	if n > MaxPanels {
		return l, fault.Invalidf("eave", "this plane would take more than %d panels; state it in parts", MaxPanels)
	}
	start := left
	over := product.Coverage.Times(n) - (right - left)
	switch rules.Start {
	case FromRight:
		start -= over
	case Centred:
		start -= over / 2
	}
	for i := range n {
		no := i
		if rules.Start == FromRight {
			no = n - 1 - i
		}
		from := start + product.Coverage.Times(no)
		panel, err := l.panel(i+1, max(from, left), min(from+product.Coverage, right))
		if err != nil {
			return l, err
		}
		l.Panels = append(l.Panels, panel)
	}
	return l, nil
}

// open puts the openings on the slope and refuses those that aren't wholly on
// the plane, or on one another.
func (l *Laid) open() error {
	var bad fault.List
	for i, o := range l.Plane.Openings {
		field := "openings." + strconv.Itoa(i)
		if o.Width <= 0 || o.Height <= 0 || o.Width > MaxReach || o.Height > MaxReach || o.Left.Abs() > MaxReach || o.Up < 0 || o.Up > MaxReach {
			bad.Addf(field+".width", "give where the opening lies, its width and its height, up to %s", MaxReach)
			continue
		}
		if o.Kind != Skylight && o.Kind != Chimney {
			bad.Addf(field+".kind", "say what stands in the opening")
		}
		h := Hole{o.Kind, o.Left, o.Left + o.Width, l.Plane.slope(o.Up), l.Plane.slope(o.Up + o.Height)}
		if !l.Outline.contains(h) {
			bad.Addf(field+".left", "this opening reaches beyond the plane")
			continue
		}
		for j, other := range l.Holes {
			if h.Left < other.Right && other.Left < h.Right && h.Low < other.High && other.Low < h.High {
				bad.Addf(field+".left", "this opening lies on opening %d", j+1)
			}
		}
		l.Holes = append(l.Holes, h)
	}
	return bad.Err()
}

// contains reports whether a rectangle lies wholly on the plane.
func (o Outline) contains(h Hole) bool {
	left, right, _ := o.reach()
	if h.Left < left || h.Right > right {
		return false
	}
	covered := measure.Length(0)
	for _, s := range o.slabs(h.Left, h.Right) {
		if s.holds(h.Low, h.High) {
			covered += s.right - s.left
		}
	}
	return covered == h.Right-h.Left
}

// panel lays one panel over a part of the plane's width.
func (l *Laid) panel(no int, left, right measure.Length) (Panel, error) {
	p := Panel{No: no, Mark: l.Letter + strconv.Itoa(no), Left: left, Right: right}
	slabs := l.Outline.slabs(left, right)
	for _, s := range slabs {
		p.Net = p.Net.Add(s.area())
	}
	for _, h := range l.Holes {
		if w := min(h.Right, right) - max(h.Left, left); w > 0 {
			p.Net = p.Net.Sub(rectangle(w, h.High-h.Low))
		}
	}
	for _, e := range l.split(extents(slabs), left, right) {
		pieces, err := l.cut(e)
		if err != nil {
			return p, err
		}
		p.Pieces = append(p.Pieces, pieces...)
	}
	for i := range p.Pieces {
		if p.Pieces[i].Mark = p.Mark; len(p.Pieces) > 1 {
			p.Pieces[i].Mark += string(rune('a' + i%26))
		}
		l.Ordered = l.Ordered.Add(rectangle(l.product.Coverage, p.Pieces[i].Length))
	}
	l.Net = l.Net.Add(p.Net)
	return p, nil
}

// split takes the openings that are as wide as a panel's cover out of it, where
// the rules say so.
func (l *Laid) split(es []extent, left, right measure.Length) []extent {
	if l.rules.AtOpenings != SplitThere {
		return es
	}
	for _, h := range l.Holes {
		if h.Left > left || h.Right < right {
			continue
		}
		var next []extent
		for _, e := range es {
			if h.High <= e.low || h.Low >= e.high {
				next = append(next, e)
				continue
			}
			if h.Low > e.low {
				next = append(next, extent{e.low, h.Low, e.atEave, false})
			}
			if h.High < e.high {
				next = append(next, extent{h.High, e.high, false, e.atRidge})
			}
		}
		es = next
	}
	return es
}

// cut gives the pieces that cover an extent.
func (l *Laid) cut(e extent) ([]Piece, error) {
	below, above := measure.Length(0), measure.Length(0)
	if e.atEave {
		below = l.rules.Overhang + l.rules.Hem
	}
	if e.atRidge {
		above = -l.rules.RidgeGap
	}
	need := e.high - e.low + below + above
	length := max(up(need, l.rules.Step), l.product.Shortest.Up(l.rules.Step))
	limit := l.product.limit(l.rules).Down(l.rules.Step)
	if length <= limit {
		return []Piece{{From: e.low, To: e.high, Length: length, Short: need < l.product.Shortest}}, nil
	}
	if l.rules.TooLong != Lap {
		return nil, l.tooLong(length)
	}
	each := limit - l.rules.EndLap // what a further piece adds
	if each < l.rules.Step || limit < l.product.Shortest {
		return nil, l.tooLong(length)
	}
	// Full pieces from the eave up; the last takes what is left, and where that is
	// too short to be made, the one before it gives way.
	var lengths []measure.Length
	rest := need
	for rest > limit {
		lengths, rest = append(lengths, limit), rest-each
	}
	last := max(up(rest, l.rules.Step), l.product.Shortest.Up(l.rules.Step))
	lengths = append(lengths, last)
	if spare := (last - rest).Down(l.rules.Step); spare > 0 {
		lengths[len(lengths)-2] = max(limit-spare, l.product.Shortest.Up(l.rules.Step))
	}
	out := make([]Piece, len(lengths))
	from := e.low
	for i, n := range lengths {
		to := from + n
		if i == 0 {
			to -= below
		} else {
			to -= l.rules.EndLap
		}
		if i == len(lengths)-1 {
			to = e.high
		}
		out[i] = Piece{From: from, To: to, Length: n, Lapped: i > 0}
		from = to
	}
	return out, nil
}

func (l *Laid) tooLong(length measure.Length) error {
	limit := l.product.limit(l.rules)
	if limit < l.product.Longest {
		return fault.Invalidf("up", "panels of %s are longer than the %s that can be hauled; have them formed on site, or lap them", length, limit)
	}
	return fault.Invalidf("up", "panels of %s are longer than the %s that can be made in one piece; lap them", length, limit)
}

// seams gives the lines between panels, along the eave.
func (l Laid) seams() (xs []measure.Length) {
	left, _, _ := l.Outline.reach()
	for _, p := range l.Panels {
		if p.Left > left {
			xs = append(xs, p.Left)
		}
	}
	return xs
}

// seamLengths gives the stretches of all seams, without the openings they cross.
func (l Laid) seamLengths() (out []measure.Length) {
	for _, x := range l.seams() {
		for _, c := range l.Outline.chords(x) {
			parts := [][2]measure.Length{c}
			for _, h := range l.Holes {
				if x > h.Left && x < h.Right {
					parts = without(parts, h.Low, h.High)
				}
			}
			for _, p := range parts {
				out = append(out, p[1]-p[0])
			}
		}
	}
	return out
}

// without takes a height out of others.
func without(parts [][2]measure.Length, low, top measure.Length) (out [][2]measure.Length) {
	for _, p := range parts {
		if a := min(p[1], low); a > p[0] {
			out = append(out, [2]measure.Length{p[0], a})
		}
		if b := max(p[0], top); b < p[1] {
			out = append(out, [2]measure.Length{b, p[1]})
		}
	}
	return out
}

// letterOf gives the letter of a plane.
func letterOf(i int) string { return fmt.Sprintf("%c", 'A'+i) }
