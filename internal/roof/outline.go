package roof

import (
	"math/big"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
)

// Outline is the shape of a plane on its slope, going round counter-clockwise.
type Outline []Corner

// Outline lays the plane out on its slope. Faults are at the plane's fields.
//
// What isn't stated of a trapezoid or triangle follows from regular hips and
// valleys, those between planes of one pitch: in plan they run at 45 degrees,
// so each takes the run off the ridge or adds it.
func (p Plane) Outline() (Outline, error) {
	if err := p.check(); err != nil {
		return nil, err
	}
	if p.Shape == Corners {
		return p.byCorners()
	}
	left, right, err := p.insets()
	if err != nil {
		return nil, err
	}
	high := p.slope(p.Up)
	o := Outline{
		{Point{0, 0}, p.Bottom}, {Point{p.Eave, 0}, p.Right}, {Point{p.Eave - right, high}, p.Top}, {Point{left, high}, p.Left},
	}
	if o[2].Point == o[3].Point {
		o = append(o[:2:2], Corner{o[3].Point, p.Left})
	}
	return o, nil
}

// slope gives a height of the plane on the slope.
func (p Plane) slope(up measure.Length) measure.Length {
	if p.OnSlope {
		return up
	}
	return p.Pitch.Slope(up)
}

// run gives the plane's level run.
func (p Plane) run() measure.Length {
	if !p.OnSlope {
		return p.Up
	}
	n := new(big.Int).Mul(square(p.Up), square(run12))
	d := new(big.Int).Add(square(run12), square(p.Pitch.Rise))
	return root(n, d).Near(measure.SixtyFourth)
}

func (p Plane) check() error {
	var l fault.List
	if p.Copies < 1 || p.Copies > MaxCopies {
		l.Addf("copies", "say how often the roof has this plane, 1 to %d", MaxCopies)
	}
	if p.Pitch.Rise <= 0 || p.Pitch.Rise > steepest {
		l.Addf("pitch", "give the pitch as rise in 12, such as 6 in 12, or in degrees, such as 26.5°")
	}
	if len(p.Openings) > MaxOpenings {
		l.Addf("openings", "a plane takes at most %d openings", MaxOpenings)
	}
	switch p.Shape {
	case Corners:
		return l.Err()
	case Rectangle, Trapezoid, Triangle:
	default:
		l.Addf("shape", "choose the shape of the plane")
		return l
	}
	if p.Eave <= 0 || p.Eave > MaxReach {
		l.Addf("eave", "give the length of the eave, up to %s", MaxReach)
	}
	if p.Up <= 0 || p.Up > MaxReach {
		l.Addf("up", "give how far it is from eave to ridge, up to %s", MaxReach)
	}
	if p.Ridge < 0 || p.Ridge > MaxReach || p.Start < 0 || p.Start > MaxReach {
		l.Addf("ridge", "give lengths up to %s", MaxReach)
	}
	edges := map[Shape][]Edge{
		Rectangle: {Rake, Sidewall}, Trapezoid: {Rake, Sidewall, Hip, Valley}, Triangle: {Rake, Sidewall, Hip, Valley},
	}[p.Shape]
	oneOf(&l, "left", p.Left, edges)
	oneOf(&l, "right", p.Right, edges)
	oneOf(&l, "bottom", p.Bottom, []Edge{Eave, Transition})
	if p.Shape != Triangle {
		oneOf(&l, "top", p.Top, []Edge{Ridge, Peak, Endwall, Transition})
	}
	return l.Err()
}

func oneOf(l *fault.List, field string, is Edge, of []Edge) {
	for _, e := range of {
		if is == e {
			return
		}
	}
	l.Addf(field, "choose what this edge meets")
}

// upright reports whether a side goes straight up the slope.
func upright(e Edge) bool { return e == Rake || e == Sidewall }

// lean is how far a regular hip or valley goes in over the plane's run.
func (p Plane) lean(e Edge) measure.Length {
	switch e {
	case Hip:
		return p.run()
	case Valley:
		return -p.run()
	}
	return 0
}

// insets gives how far in from the ends of the eave the ridge begins and ends;
// at a valley it reaches beyond them.
func (p Plane) insets() (left, right measure.Length, err error) {
	ridge, stated := p.Ridge, p.Ridge > 0
	switch p.Shape {
	case Rectangle:
		return 0, 0, nil
	case Triangle:
		ridge, stated = 0, true
	}
	both := p.Eave - ridge // what the two sides take off together
	switch {
	case p.Start > 0 && upright(p.Left):
		return 0, 0, fault.Invalidf("start", "on the left this plane goes straight up; leave this empty")
	case p.Start > 0:
		if left = p.Start; p.Left == Valley {
			left = -left
		}
		right = p.lean(p.Right)
		if stated {
			right = both - left
		}
	case !stated:
		left, right = p.lean(p.Left), p.lean(p.Right)
	case upright(p.Left):
		right = both
	case upright(p.Right):
		left = both
	case p.Left == p.Right:
		left = both / 2
		right = both - left
	case both == 0:
		left, right = p.lean(p.Left), p.lean(p.Right)
	default:
		return 0, 0, fault.Invalidf("start", "between a hip and a valley, say where the ridge begins")
	}
	return left, right, p.checkInsets(left, right)
}

func (p Plane) checkInsets(left, right measure.Length) error {
	if p.Eave-left-right < 0 {
		return fault.Invalidf("up", "at this height the two sides have met and crossed; they meet over an eave of %s, or give the ridge's length", (left + right).Up(measure.Sixteenth))
	}
	for _, side := range []struct {
		field string
		edge  Edge
		in    measure.Length
	}{{"left", p.Left, left}, {"right", p.Right, right}} {
		switch {
		case upright(side.edge) && side.in != 0:
			return fault.Invalidf(side.field, "with these lengths this side leans by %s; say hip or valley, or change the lengths", side.in.Abs().Up(measure.Sixteenth))
		case side.edge == Hip && side.in < 0:
			return fault.Invalidf(side.field, "with these lengths this side leans outward, as a valley does, not a hip")
		case side.edge == Valley && side.in > 0:
			return fault.Invalidf(side.field, "with these lengths this side leans inward, as a hip does, not a valley")
		case (side.edge == Hip || side.edge == Valley) && side.in == 0:
			return fault.Invalidf(side.field, "with these lengths this side goes straight up; a hip or valley leans")
		}
	}
	return nil
}

// byCorners takes an outline that was stated corner by corner.
func (p Plane) byCorners() (Outline, error) {
	if len(p.Corners) < 3 || len(p.Corners) > MaxCorners {
		return nil, fault.Invalidf("corners", "give 3 to %d corners, one a line", MaxCorners)
	}
	o := make(Outline, len(p.Corners))
	for i, c := range p.Corners {
		if c.X.Abs() > MaxReach || c.Y < 0 || c.Y > MaxReach {
			return nil, fault.Invalidf("corners", "corner %d: a corner lies at most %s away, and not below the eave", i+1, MaxReach)
		}
		if !c.Edge.known() {
			return nil, fault.Invalidf("corners", "corner %d: say which edge begins there: eave, ridge, hip, valley, rake …", i+1)
		}
		o[i] = Corner{Point{c.X, p.slope(c.Y)}, c.Edge}
	}
	if i, ok := o.crossed(); ok {
		return nil, fault.Invalidf("corners", "corner %d: the edge that begins there meets another; go round the plane once, edge by edge", i+1)
	}
	if o.turn() < 0 {
		o = o.reversed()
	}
	return o, nil
}

// reversed goes round the other way; each edge still joins the same corners.
func (o Outline) reversed() Outline {
	n := len(o)
	out := make(Outline, n)
	for i := range o {
		out[i] = Corner{o[n-1-i].Point, o[(2*n-2-i)%n].Edge}
	}
	return out
}

// next gives the corner that an edge ends at.
func (o Outline) next(i int) Corner { return o[(i+1)%len(o)] }

// turn is the sign of twice the area: 1 for counter-clockwise.
func (o Outline) turn() int { return o.twice().Sign() }

// twice is twice the signed area, in square nanometres.
func (o Outline) twice() *big.Int {
	sum := new(big.Int)
	for i, a := range o {
		b := o.next(i)
		sum.Add(sum, new(big.Int).Mul(big.NewInt(int64(a.X)), big.NewInt(int64(b.Y))))
		sum.Sub(sum, new(big.Int).Mul(big.NewInt(int64(a.Y)), big.NewInt(int64(b.X))))
	}
	return sum
}

// side tells on which side of the way from a to b a place lies: 1 left, -1
// right, 0 on the line.
func side(a, b, c Point) int {
	l := new(big.Int).Mul(big.NewInt(int64(b.X-a.X)), big.NewInt(int64(c.Y-a.Y)))
	r := new(big.Int).Mul(big.NewInt(int64(b.Y-a.Y)), big.NewInt(int64(c.X-a.X)))
	return l.Cmp(r)
}

// crossed finds an edge that has no length or meets one that isn't its
// neighbour, or lies on its neighbour.
func (o Outline) crossed() (int, bool) {
	n := len(o)
	for i := range o {
		a, b := o[i].Point, o.next(i).Point
		if a == b {
			return i, true
		}
		after := o.next((i + 1) % n).Point
		if side(a, b, after) == 0 && within(a, b, after) || side(a, b, after) == 0 && within(b, after, a) {
			return i, true // turns back on itself
		}
		for j := i + 2; j < n; j++ {
			if i == 0 && j == n-1 {
				continue
			}
			if meet(a, b, o[j].Point, o.next(j).Point) {
				return i, true
			}
		}
	}
	return 0, o.turn() == 0
}

// within reports whether c, on the line through a and b, lies between them.
func within(a, b, c Point) bool {
	return min(a.X, b.X) <= c.X && c.X <= max(a.X, b.X) && min(a.Y, b.Y) <= c.Y && c.Y <= max(a.Y, b.Y)
}

// meet reports whether two edges have a place in common.
func meet(a, b, c, d Point) bool {
	s1, s2, s3, s4 := side(a, b, c), side(a, b, d), side(c, d, a), side(c, d, b)
	if s1*s2 < 0 && s3*s4 < 0 {
		return true
	}
	return s1 == 0 && within(a, b, c) || s2 == 0 && within(a, b, d) || s3 == 0 && within(c, d, a) || s4 == 0 && within(c, d, b)
}

// reach gives how far the outline goes.
func (o Outline) reach() (left, right, high measure.Length) {
	left, right = o[0].X, o[0].X
	for _, c := range o {
		left, right, high = min(left, c.X), max(right, c.X), max(high, c.Y)
	}
	return left, right, high
}

// Reach gives how far the outline goes to the left and right of the eave's left
// corner, and how far up.
func (o Outline) Reach() (left, right, high measure.Length) { return o.reach() }

// Run is one edge of a plane with its length on the slope.
type Run struct {
	Edge     Edge
	From, To Point
	Length   measure.Length // up to the next 1/16 in
}

// Runs gives the edges in order.
func (o Outline) Runs() []Run {
	runs := make([]Run, len(o))
	for i, c := range o {
		to := o.next(i).Point
		runs[i] = Run{Edge: c.Edge, From: c.Point, To: to, Length: Between(c.Point, to)}
	}
	return runs
}
