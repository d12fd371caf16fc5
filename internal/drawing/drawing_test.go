package drawing_test

import (
	"encoding/xml"
	"errors"
	"flag"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"ribdesk/internal/drawing"
)

var update = flag.Bool("update", false, "rewrite the golden files")

// extent is a Painter that measures how far the ink goes.
type extent struct {
	minX, minY, maxX, maxY float64
	texts                  []string
	paths                  []drawing.Path
}

func measureExtent(p drawing.Picture) *extent {
	e := &extent{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1), nil, nil}
	p.Paint(e)
	return e
}

func (e *extent) point(x, y float64) {
	e.minX, e.maxX = math.Min(e.minX, x), math.Max(e.maxX, x)
	e.minY, e.maxY = math.Min(e.minY, y), math.Max(e.maxY, y)
}

func (e *extent) Path(s drawing.Path) {
	e.paths = append(e.paths, s)
	for _, run := range s.Runs {
		for _, p := range run {
			e.point(p.X, p.Y)
		}
	}
}

func (e *extent) Circle(s drawing.Circle) {
	e.point(s.Centre.X-s.R, s.Centre.Y-s.R)
	e.point(s.Centre.X+s.R, s.Centre.Y+s.R)
}

func (e *extent) Text(s drawing.Text) {
	e.texts = append(e.texts, s.String)
	w := drawing.TextWidth(s.String, s.Size, s.Bold)
	from := map[drawing.Anchor]float64{drawing.Start: 0, drawing.Middle: -w / 2, drawing.End: -w}[s.Anchor]
	sin, cos := math.Sincos(s.Turn * math.Pi / 180)
	for _, x := range []float64{from, from + w} {
		for _, y := range []float64{-0.75 * s.Size, 0.22 * s.Size} {
			e.point(s.At.X+x*cos-y*sin, s.At.Y+x*sin+y*cos)
		}
	}
}

// inside fails when anything lies outside the picture's box.
func inside(t *testing.T, p drawing.Picture) {
	t.Helper()
	e := measureExtent(p)
	const slack = 0.5
	if e.minX < -slack || e.minY < -slack || e.maxX > p.Width+slack || e.maxY > p.Height+slack {
		t.Errorf("%s: ink from %.1f,%.1f to %.1f,%.1f leaves the box %gx%g", p.Title, e.minX, e.minY, e.maxX, e.maxY, p.Width, p.Height)
	}
}

var forbidden = regexp.MustCompile(`(?i)style=|<script|on[a-z]+="|href|url\(|NaN|Inf`)

// sound fails when the SVG isn't well formed, or holds what a strict policy bans.
func sound(t *testing.T, p drawing.Picture) string {
	t.Helper()
	s := string(p.SVG())
	d := xml.NewDecoder(strings.NewReader(s))
	d.Strict = true
	ids := map[string]bool{}
	for {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatalf("%s isn't well formed: %v\n%s", p.Title, err, s)
		}
		el, ok := tok.(xml.StartElement)
		if !ok {
			continue
		}
		for _, a := range el.Attr {
			if a.Name.Local == "id" {
				if ids[a.Value] {
					t.Errorf("%s: id %s stands twice", p.Title, a.Value)
				}
				ids[a.Value] = true
			}
		}
	}
	if m := forbidden.FindString(markupOnly(s)); m != "" {
		t.Errorf("%s holds %q", p.Title, m)
	}
	if !strings.Contains(s, "<title") || !strings.Contains(s, "<desc") || !strings.Contains(s, `role="img"`) {
		t.Errorf("%s has no title, description or role", p.Title)
	}
	return s
}

var betweenTags = regexp.MustCompile(`>[^<]*<`)

func markupOnly(s string) string { return betweenTags.ReplaceAllString(s, "><") }

func golden(t *testing.T, name string, p drawing.Picture) {
	t.Helper()
	got := sound(t, p)
	inside(t, p)
	file := filepath.Join("testdata", name+".svg")
	if *update {
		if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s differs from its golden file; look at it and run with -update", name)
	}
}

func everyShape() drawing.Picture {
	p := drawing.Picture{ID: "all", Title: `Every <shape> & "mark"`, Desc: "One of each", Width: 200, Height: 160}
	p.Add(
		drawing.Rect{X: 10, Y: 60, W: 60, H: 40, Pen: drawing.CutEdge, Fill: drawing.Swatch("barn <red>", "#7a1f1c")},
		drawing.HatchRect(drawing.Rect{X: 80, Y: 60, W: 60, H: 40}, 6, drawing.Hairline),
		drawing.Line{From: drawing.Point{X: 10, Y: 110}, To: drawing.Point{X: 190, Y: 110}, Pen: drawing.Hidden},
		drawing.Polyline{Points: []drawing.Point{{X: 10, Y: 120}, {X: 40, Y: 130}, {X: 70, Y: 120}}, Pen: drawing.Hairline},
		drawing.Polygon{Points: []drawing.Point{{X: 80, Y: 120}, {X: 110, Y: 130}, {X: 140, Y: 120}}, Fill: drawing.Fill{Role: drawing.Shade}},
		drawing.Circle{Centre: drawing.Point{X: 165, Y: 80}, R: 15, Pen: drawing.Alert},
		drawing.Arc{Centre: drawing.Point{X: 165, Y: 130}, R: 10, From: 0, To: 180, Pen: drawing.Hairline},
		drawing.Text{At: drawing.Point{X: 10, Y: 150}, String: "a < b & \"c\"\x00\x1b", Size: 12, Bold: true},
		drawing.Dimension{From: drawing.Point{X: 10, Y: 60}, To: drawing.Point{X: 70, Y: 60}, Offset: 20, Label: "12′ 6½″", Size: 13},
	)
	return p
}

func TestEveryShape(t *testing.T) {
	golden(t, "shapes", everyShape())
}

func TestBadColourIsNoColour(t *testing.T) {
	for _, hex := range []string{"red", `#12345"`, "#12345g", "url(#x)", "", "#1234567"} {
		if c := drawing.Swatch("x", hex).Colour(); c != "" {
			t.Errorf("%q became %q", hex, c)
		}
	}
	if c := drawing.Swatch("x", "#aB12f9").Colour(); c != "#aB12f9" {
		t.Errorf("a good colour became %q", c)
	}
}

// Whatever people type, the markup stays well formed and inert.
func TestHostileText(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		s := rapid.String().Draw(rt, "text")
		p := drawing.Picture{ID: s, Title: s, Desc: s, Width: 10, Height: 10}
		p.Add(drawing.Text{String: s, Size: 10}, drawing.Rect{W: 1, H: 1, Fill: drawing.Swatch(s, s)})
		out := string(p.SVG())
		d := xml.NewDecoder(strings.NewReader(out))
		for {
			_, err := d.Token()
			if errors.Is(err, io.EOF) {
				return
			}
			if err != nil {
				rt.Fatalf("%q: %v", s, err)
			}
		}
	})
}

// Hatching stays inside a convex outline and covers it.
func TestHatchStaysInside(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		r := drawing.Rect{
			X: rapid.Float64Range(-50, 50).Draw(rt, "x"), Y: rapid.Float64Range(-50, 50).Draw(rt, "y"),
			W: rapid.Float64Range(10, 200).Draw(rt, "w"), H: rapid.Float64Range(10, 200).Draw(rt, "h"),
		}
		p := drawing.Picture{Width: 1, Height: 1}
		p.Add(drawing.HatchRect(r, 5, drawing.Hairline))
		e := measureExtent(p)
		if len(e.paths) != 1 {
			rt.Fatal("no hatching")
		}
		const slack = 1e-6
		if e.minX < r.X-slack || e.maxX > r.X+r.W+slack || e.minY < r.Y-slack || e.maxY > r.Y+r.H+slack {
			rt.Fatalf("hatching leaves %v", r)
		}
		// Lines square to x+y=c, 5 apart: as many as fit across the box.
		if n, want := float64(len(e.paths[0].Runs)), (r.W+r.H)/(5*math.Sqrt2); math.Abs(n-want) > 1 {
			rt.Fatalf("%v lines, want about %v", n, want)
		}
	})
}

// Figures over a dimension line read from below or from the right.
func TestDimensionReads(t *testing.T) {
	for _, to := range []drawing.Point{{X: 100, Y: 0}, {X: -100, Y: 0}, {X: 0, Y: 100}, {X: 0, Y: -100}, {X: 70, Y: 70}, {X: -70, Y: 70}} {
		for _, offset := range []float64{20, -20, 0} {
			p := drawing.Picture{Width: 1, Height: 1}
			p.Add(drawing.Dimension{To: to, Offset: offset, Label: "1′", Size: 10})
			var turns turnReader
			p.Paint(&turns)
			if len(turns) != 1 || turns[0] <= -90.001 || turns[0] >= 90 {
				t.Errorf("to %v offset %g: turned by %v", to, offset, turns)
			}
		}
	}
}

type turnReader []float64

func (*turnReader) Path(drawing.Path)     {}
func (*turnReader) Circle(drawing.Circle) {}
func (r *turnReader) Text(s drawing.Text) { *r = append(*r, s.Turn) }

// An angle is named once, in the clear; where nothing is clear it is left out.
func TestSectionNamesAngles(t *testing.T) {
	corner := []drawing.Point{{X: 0, Y: 4}, {X: 0, Y: 0}, {X: 5, Y: 0}}
	v := drawing.Section{Points: corner, Dims: drawing.LegDims(corner, []string{"4″", "5″"}),
		Angles: []drawing.SectionAngle{{From: corner[0], At: corner[1], To: corner[2], Label: "90°"}}}
	if got := strings.Count(string(v.Picture().SVG()), "90°"); got != 1 {
		t.Errorf("the angle is named %d times", got)
	}
	v.Angles[0].To = v.Angles[0].At // a leg of no length has no angle
	if strings.Contains(string(v.Picture().SVG()), "90°") {
		t.Error("an angle of no leg is named")
	}
}
