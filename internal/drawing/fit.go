package drawing

import "math"

// box is how far the ink of some shapes reaches. It is itself a Painter.
type box struct{ minX, minY, maxX, maxY float64 }

// reach measures shapes, text by TextWidth.
func reach(shapes []Shape) box {
	b := box{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	for _, s := range shapes {
		s.paint(&b)
	}
	return b
}

func (b *box) point(x, y float64) {
	b.minX, b.maxX = math.Min(b.minX, x), math.Max(b.maxX, x)
	b.minY, b.maxY = math.Min(b.minY, y), math.Max(b.maxY, y)
}

func (b *box) width() float64  { return b.maxX - b.minX }
func (b *box) height() float64 { return b.maxY - b.minY }

// Path takes in every corner.
func (b *box) Path(s Path) {
	for _, run := range s.Runs {
		for _, p := range run {
			b.point(p.X, p.Y)
		}
	}
}

// Circle takes in the whole circle.
func (b *box) Circle(s Circle) {
	b.point(s.Centre.X-s.R, s.Centre.Y-s.R)
	b.point(s.Centre.X+s.R, s.Centre.Y+s.R)
}

// Text takes in the turned rectangle of the line.
func (b *box) Text(s Text) {
	w := TextWidth(s.String, s.Size, s.Bold)
	from := 0.0
	switch s.Anchor {
	case Middle:
		from = -w / 2
	case End:
		from = -w
	}
	const rise, drop = 0.78, 0.24 // of the size, above and below the base line
	sin, cos := math.Sincos(s.Turn * math.Pi / 180)
	for _, x := range []float64{from, from + w} {
		for _, y := range []float64{-rise * s.Size, drop * s.Size} {
			b.point(s.At.X+x*cos-y*sin, s.At.Y+x*sin+y*cos)
		}
	}
}

// frame turns real-world places (x right, y up) into places on the picture.
type frame struct{ scale, dx, dy float64 }

func (f frame) at(p Point) Point { return Point{p.X*f.scale + f.dx, -p.Y*f.scale + f.dy} }

func (f frame) all(ps []Point) []Point {
	out := make([]Point, len(ps))
	for i, p := range ps {
		out[i] = f.at(p)
	}
	return out
}

// fitted builds shapes at the largest scale (up to start) at which everything,
// labels included, lies inside w x h with a margin, and centres them. Labels
// don't shrink with the scale, so it is found by trying.
func fitted(w, h, margin, start float64, build func(frame) []Shape) []Shape {
	f := frame{scale: start}
	var b box
	for range 40 {
		b = reach(build(f))
		over := math.Max(b.width()/(w-2*margin), b.height()/(h-2*margin))
		if over <= 1 {
			break
		}
		f.scale *= math.Max(0.5, math.Min(0.98, 1/over))
	}
	f.dx = w/2 - (b.minX+b.maxX)/2
	f.dy = h/2 - (b.minY+b.maxY)/2
	return build(f)
}
