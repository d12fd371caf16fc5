package roof_test

import (
	"math/big"
	"testing"

	"pgregory.net/rapid"

	"ribdesk/internal/measure"
	"ribdesk/internal/roof"
)

// grain is what drawn lengths are even counts of, so that a half is whole too.
const grain = measure.Inch / 16

func drawn(t *rapid.T, name string, from, to int) measure.Length {
	return grain.Times(2 * rapid.IntRange(from*8, to*8).Draw(t, name)) // inches
}

// anyPlane draws planes of every shape that can be laid out.
func anyPlane(t *rapid.T) roof.Plane {
	p := roof.Plane{Copies: rapid.IntRange(1, 3).Draw(t, "copies"), Pitch: roof.Rising(rapid.IntRange(1, 18).Draw(t, "rise")),
		OnSlope: rapid.Bool().Draw(t, "on slope"), Up: drawn(t, "up", 40, 400), Eave: drawn(t, "eave", 60, 600), Top: roof.Ridge, Bottom: roof.Eave}
	switch p.Shape = rapid.SampledFrom([]roof.Shape{roof.Rectangle, roof.Trapezoid, roof.Triangle, roof.Corners}).Draw(t, "shape"); p.Shape {
	case roof.Rectangle:
		p.Left, p.Right = roof.Rake, roof.Sidewall
	case roof.Trapezoid:
		left, right := drawn(t, "left", 1, 30), drawn(t, "right", 1, 30)
		p.Left, p.Right, p.Start = roof.Hip, roof.Hip, left
		p.Ridge = p.Eave - left - right
		if rapid.Bool().Draw(t, "valley") {
			p.Right, p.Ridge = roof.Valley, p.Eave-left+right
		}
	case roof.Triangle:
		p.Left, p.Right = roof.Hip, roof.Hip
		if rapid.Bool().Draw(t, "half") {
			p.Left = roof.Rake
		}
	case roof.Corners:
		p.Corners = notched(t, p.Eave, p.Up)
	}
	return p
}

// notched draws a plane with a valley notch in its eave and a step in its ridge.
func notched(t *rapid.T, wide, high measure.Length) []roof.Corner {
	c := func(x, y measure.Length, e roof.Edge) roof.Corner {
		return roof.Corner{Point: roof.Point{X: x, Y: y}, Edge: e}
	}
	a, b := wide/4, wide/2
	top := drawn(t, "notch", 5, 35)
	step := drawn(t, "step", 1, 30)
	return []roof.Corner{c(0, 0, roof.Eave), c(a, 0, roof.Valley), c((a+b)/2, top, roof.Valley), c(b, 0, roof.Eave), c(wide, 0, roof.Rake),
		c(wide, high, roof.Ridge), c(wide*3/4, high, roof.Sidewall), c(wide*3/4, high+step, roof.Ridge), c(-step, high+step, roof.Valley)}
}

func anyRules(t *rapid.T) roof.Rules {
	r := roof.Usual(rapid.SampledFrom([]roof.Fixing{roof.Clips, roof.Screws}).Draw(t, "fixing"))
	r.Start = rapid.SampledFrom([]roof.Start{roof.FromLeft, roof.FromRight, roof.Centred}).Draw(t, "from")
	r.AtOpenings = rapid.SampledFrom([]roof.AtOpenings{roof.SplitThere, roof.RunThrough}).Draw(t, "at openings")
	r.Step = rapid.SampledFrom([]measure.Length{measure.Sixteenth, measure.Inch / 4, measure.Inch}).Draw(t, "step")
	r.TooLong, r.OnSite = roof.Lap, true
	return r
}

func anyRoof(t *rapid.T) roof.Roof {
	p := anyPlane(t)
	product := seam()
	product.Coverage = drawn(t, "coverage", 8, 42)
	product.Longest = measure.Foot.Times(rapid.IntRange(8, 60).Draw(t, "longest"))
	if outline, err := p.Outline(); err == nil && rapid.Bool().Draw(t, "opened") {
		left, right, _ := outline.Reach()
		p.Openings = []roof.Opening{{Kind: roof.Chimney, Left: (left + right) / 2 / grain * grain, Up: p.Up / 4 / grain * grain, Width: drawn(t, "wide", 1, 90), Height: drawn(t, "high", 1, 20)}}
		if r := (roof.Roof{Planes: []roof.Plane{p}, Product: product, Rules: roof.Usual(roof.Clips)}); !lays(r) {
			p.Openings = nil // reaches beyond the plane
		}
	}
	return roof.Roof{Planes: []roof.Plane{p}, Product: product, Rules: anyRules(t)}
}

func lays(r roof.Roof) bool {
	r.Rules.TooLong = roof.Lap
	_, err := roof.TakeOff(r)
	return err == nil
}

// shoelace is the area of an outline less its openings, computed apart.
func shoelace(o roof.Outline, holes []roof.Hole) *big.Rat {
	sum := new(big.Rat)
	for i, a := range o {
		b := o[(i+1)%len(o)]
		sum.Add(sum, big.NewRat(1, 2).Mul(big.NewRat(int64(a.X-b.X), 2), big.NewRat(int64(a.Y+b.Y), 1)))
	}
	for _, h := range holes {
		sum.Sub(sum, new(big.Rat).Mul(big.NewRat(int64(h.Right-h.Left), 1), big.NewRat(int64(h.High-h.Low), 1)))
	}
	return sum
}

// inside reports whether a place lies on the plane, by counting the edges to
// its right: how the plane was laid has no part in it.
func inside(o roof.Outline, x, y *big.Rat) bool {
	in := false
	for i, a := range o {
		b := o[(i+1)%len(o)]
		ay, by := big.NewRat(int64(a.Y), 1), big.NewRat(int64(b.Y), 1)
		if (ay.Cmp(y) > 0) == (by.Cmp(y) > 0) {
			continue
		}
		at := new(big.Rat).Sub(y, ay)
		at.Mul(at, big.NewRat(int64(b.X-a.X), int64(b.Y-a.Y))).Add(at, big.NewRat(int64(a.X), 1))
		if x.Cmp(at) < 0 {
			in = !in
		}
	}
	return in
}

// Panels stand side by side over the whole width, each as wide as the coverage
// but for the ends; their areas add up to the plane's; and every place on the
// plane that isn't an opening lies under exactly one piece.
func TestPanelsCoverThePlane(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		house := anyRoof(t)
		r, err := roof.TakeOff(house)
		if err != nil {
			t.Fatalf("%+v: %v", house.Planes[0], err)
		}
		l := r.Planes[0]
		left, right, high := l.Outline.Reach()
		panels := append([]roof.Panel(nil), l.Panels...)
		if house.Rules.Start == roof.FromRight {
			for i, j := 0, len(panels)-1; i < j; i, j = i+1, j-1 {
				panels[i], panels[j] = panels[j], panels[i]
			}
		}
		at := left
		var sum roof.Area
		for i, p := range panels {
			if p.Left != at {
				t.Fatalf("panel %s begins at %s, the one before ends at %s", p.Mark, p.Left, at)
			}
			if p.Cover() > house.Product.Coverage || p.Cover() <= 0 || i > 0 && i+1 < len(panels) && p.Cover() != house.Product.Coverage {
				t.Fatalf("panel %s covers %s", p.Mark, p.Cover())
			}
			at = p.Right
			sum = sum.Add(p.Net)
			for k, piece := range p.Pieces {
				if k > 0 && piece.From < p.Pieces[k-1].To {
					t.Fatalf("pieces of %s cover one another", p.Mark)
				}
				if piece.Length < house.Product.Shortest || piece.Length > house.Product.Longest || piece.Length%house.Rules.Step != 0 {
					t.Fatalf("piece %s is %s long", piece.Mark, piece.Length)
				}
				if piece.Length+measure.Inch < piece.To-piece.From {
					t.Fatalf("piece %s of %s is to cover %s", piece.Mark, piece.Length, piece.To-piece.From)
				}
			}
		}
		if at != right || sum.Cmp(l.Net) != 0 {
			t.Fatal("the panels don't reach across, or don't add up")
		}
		want := roof.AreaOf(shoelace(l.Outline, l.Holes))
		if l.Net.Cmp(want) != 0 || l.Ordered.Cmp(l.Net) < 0 && house.Rules.RidgeGap == 0 {
			t.Fatalf("net %s, by the outline %s, ordered %s", l.Net.SquareFeet(), want.SquareFeet(), l.Ordered.SquareFeet())
		}
		if r.Net.Cmp(l.Net.Times(house.Planes[0].Copies)) != 0 || len(l.Holes) != len(house.Planes[0].Openings) {
			t.Fatal("copies or openings aren't accounted for")
		}
		for range 20 {
			x := big.NewRat(int64(left)*2+2*rapid.Int64Range(0, int64(right-left)-1).Draw(t, "x")+1, 2)
			y := big.NewRat(2*rapid.Int64Range(0, int64(high)-1).Draw(t, "y")+1, 2)
			onPlane := inside(l.Outline, x, y)
			for _, h := range l.Holes {
				if between(x, h.Left, h.Right) && between(y, h.Low, h.High) {
					onPlane = false
				}
			}
			over := 0
			for _, p := range l.Panels {
				for _, piece := range p.Pieces {
					if between(x, p.Left, p.Right) && between(y, piece.From, piece.To) {
						over++
					}
				}
			}
			if onPlane && over != 1 || over > 1 {
				t.Fatalf("%d pieces over the place %s, %s", over, x.FloatString(1), y.FloatString(1))
			}
		}
	})
}

func between(v *big.Rat, low, high measure.Length) bool {
	return v.Cmp(big.NewRat(int64(low), 1)) > 0 && v.Cmp(big.NewRat(int64(high), 1)) < 0
}

// A plane seen in a mirror, laid from the other side, takes the same panels.
func TestMirror(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		house := anyRoof(t)
		a, err := roof.TakeOff(house)
		if err != nil {
			t.Fatal(err)
		}
		twin := house
		twin.Planes = []roof.Plane{mirrored(a.Planes[0])}
		switch house.Rules.Start {
		case roof.FromLeft:
			twin.Rules.Start = roof.FromRight
		case roof.FromRight:
			twin.Rules.Start = roof.FromLeft
		}
		b, err := roof.TakeOff(twin)
		if err != nil {
			t.Fatal(err)
		}
		n := len(a.Planes[0].Panels)
		if len(b.Planes[0].Panels) != n || a.Net.Cmp(b.Net) != 0 || a.Ordered.Cmp(b.Ordered) != 0 || a.Fixings.TrimScrews != b.Fixings.TrimScrews {
			t.Fatalf("%d panels, mirrored %d; net %s, %s; ordered %s, %s", n, len(b.Planes[0].Panels), a.Net.SquareFeet(), b.Net.SquareFeet(), a.Ordered.SquareFeet(), b.Ordered.SquareFeet())
		}
		for i, p := range a.Planes[0].Panels {
			j := i // numbered from the other side
			if house.Rules.Start == roof.Centred {
				j = n - 1 - i
			}
			q := b.Planes[0].Panels[j]
			if len(p.Pieces) != len(q.Pieces) || p.Cover() != q.Cover() {
				t.Fatalf("panel %d: %v, mirrored %v", i, p, q)
			}
			for k := range p.Pieces {
				if p.Pieces[k].Length != q.Pieces[k].Length {
					t.Fatalf("panel %d: %s, mirrored %s", i, p.Pieces[k].Length, q.Pieces[k].Length)
				}
			}
		}
	})
}

// mirrored gives the plane of a laid one seen in a mirror, corner by corner.
func mirrored(l roof.Laid) roof.Plane {
	p := roof.Plane{Copies: l.Plane.Copies, Shape: roof.Corners, Pitch: l.Plane.Pitch, OnSlope: true}
	n := len(l.Outline)
	for i := range n {
		c := l.Outline[n-1-i]
		p.Corners = append(p.Corners, roof.Corner{Point: roof.Point{X: -c.X, Y: c.Y}, Edge: l.Outline[(2*n-2-i)%n].Edge})
	}
	for _, h := range l.Holes {
		p.Openings = append(p.Openings, roof.Opening{Kind: h.Kind, Left: -h.Right, Up: h.Low, Width: h.Right - h.Left, Height: h.High - h.Low})
	}
	return p
}
