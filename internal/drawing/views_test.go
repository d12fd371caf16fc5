package drawing_test

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"ribdesk/internal/drawing"
	"ribdesk/internal/measure"
)

var red = drawing.Swatch("Barn red", "#7a1f1c")

func panel() drawing.Section {
	// Two ribs on a 16 in cover, an invented section.
	pts := []drawing.Point{{X: 0, Y: 0}, {X: 0, Y: 1}, {X: 0.75, Y: 1}, {X: 1.25, Y: 0}, {X: 15.25, Y: 0}, {X: 15.25, Y: 1}, {X: 16, Y: 1}, {X: 16.4, Y: 0.2}}
	return drawing.Section{
		ID: "panel", Title: "Ribbed panel, 16 in cover", Desc: "Section with two ribs 1 in high.",
		Points: pts, Painted: drawing.PaintedLeft, SideNote: "painted side", Colour: red, Width: 480, Height: 150,
		Dims: []drawing.SectionDim{
			{From: pts[0], To: drawing.Point{X: 16}, Label: "1′ 4″", Out: 26},
			{From: drawing.Point{X: 16.4, Y: 0}, To: drawing.Point{X: 16.4, Y: 1}, Label: "1″"},
		},
	}
}

func trim() drawing.Section {
	pts := []drawing.Point{{X: 0.5, Y: 3.6}, {X: 0, Y: 3.5}, {X: 4, Y: 3.5}, {X: 4, Y: 0}, {X: 4.5, Y: -0.5}}
	return drawing.Section{
		ID: "trim", Title: "Eave trim", Desc: "Drawn leg by leg.", Points: pts,
		Dims:    drawing.LegDims(pts, []string{"½″", "4″", "3½″", "⅝″"}),
		Painted: drawing.PaintedLeft, SideNote: "painted side", Colour: red,
	}
}

func coil() drawing.CoilBar {
	return drawing.CoilBar{
		ID: "coil", Title: "Coil C-104", Desc: "820 ft cut, 410 ft promised, 640 ft free.", Lot: "C-104, lot 7731", Note: "1,050 ft on hand",
		Parts: []drawing.CoilPart{
			{Kind: drawing.PartCut, Length: 820 * measure.Foot, Label: "cut 820 ft"},
			{Kind: drawing.PartScrap, Length: 30 * measure.Foot, Label: "scrap 30 ft"},
			{Kind: drawing.PartPromised, Length: 410 * measure.Foot, Label: "promised 410 ft"},
			{Kind: drawing.PartFree, Length: 640 * measure.Foot, Label: "free 640 ft"},
		},
		Full: 2400 * measure.Foot, Metal: red,
	}
}

func plan() drawing.Lanes {
	day := func(d, h, m int) time.Time { return time.Date(2026, 5, 4+d, h, m, 0, 0, time.UTC) }
	return drawing.Lanes{
		ID: "plan", Title: "Run plan", Desc: "Two machines, five days.", First: day(0, 9, 0), Days: 5,
		Open: 7 * time.Hour, Close: 16 * time.Hour, DayNames: []string{"Mon May 4", "Tue May 5", "Wed May 6", "Thu May 7", "Fri May 8"},
		Now: day(1, 10, 30), NowLabel: "now 10:30",
		Lanes: []drawing.Lane{
			{Name: "Panel machine", Blocks: []drawing.Block{
				{Kind: drawing.BlockOwn, Start: day(0, 7, 0), End: day(0, 15, 0), Label: "own job"},
				{Kind: drawing.BlockChangeover, Start: day(1, 7, 0), End: day(1, 8, 0), Label: "60"},
				{Kind: drawing.BlockRun, Start: day(1, 8, 0), End: day(1, 13, 0), Label: "R-16 24 ga", Detail: "3 orders, 1,870 ft", Metal: red, Section: panel().Points},
				{Kind: drawing.BlockChangeover, Start: day(1, 13, 0), End: day(1, 13, 15), Label: "15"},
				{Kind: drawing.BlockRun, Start: day(1, 13, 15), End: day(2, 9, 0), Label: "R-16 24 ga", Detail: "late by 1 day", Metal: drawing.Swatch("Slate", "#4b5560"), Alert: true},
			}},
			{Name: "Gutter machine", Blocks: []drawing.Block{
				{Kind: drawing.BlockDown, Start: day(2, 7, 0), End: day(3, 16, 0), Label: "machine down"},
				{Kind: drawing.BlockRun, Start: day(-1, 7, 0), End: day(0, 9, 0), Label: "before the days shown"},
				{Kind: drawing.BlockRun, Start: day(9, 7, 0), End: day(9, 9, 0), Label: "never seen"},
			}},
		},
	}
}

func load() drawing.Load {
	ft := measure.Foot
	return drawing.Load{
		ID: "load", Title: "Load 12", Desc: "Three bundles on a 20 ft deck, 5 ft 2 in over the rear.",
		Deck: 20 * ft, Breadth: 8 * ft, DeckLabel: "20′ deck", Blocked: true, FlagWord: "flag", Centre: 11 * ft,
		Bundles: []drawing.LoadBundle{
			{Label: "1", X: 0, Y: ft, Length: 25*ft + 2*measure.Inch, Breadth: 3 * ft, Height: ft, Metal: red},
			{Label: "2", X: ft, Y: 5 * ft, Length: 14 * ft, Breadth: 3*ft + 6*measure.Inch, Height: ft, Metal: red},
			{Label: "3", X: ft, Y: ft, Z: ft, Length: 10 * ft, Breadth: 3 * ft, Height: 8 * measure.Inch, Metal: drawing.Swatch("Slate", "#4b5560")},
		},
		TieDowns: []measure.Length{3 * ft, 10 * ft, 17 * ft},
		Rear:     drawing.Overhang{Reach: 5*ft + 2*measure.Inch, Label: "5′ 2″", Flagged: true},
		Right:    drawing.Overhang{Reach: 6 * measure.Inch, Label: "6″", Flagged: true},
	}
}

func buildUp() drawing.Waterfall {
	return drawing.Waterfall{ID: "price", Title: "What the price is made of", Desc: "Cost terms add up to 2,301.38.", Steps: []drawing.Step{
		{Label: "Metal", Figure: "$2,153.00", Share: 2153}, {Label: "Machine and labor", Figure: "$98.00", Share: 98},
		{Label: "Overhead", Figure: "$50.38", Share: 50.38}, {Label: "Cost", Figure: "$2,301.38", Share: 2301.38, Sum: true},
		{Label: "Shared set-up", Figure: "-$47.11", Share: -47.11}, {Label: "Price", Figure: "$2,254.27", Share: 2254.27, Sum: true},
	}}
}

func ageing() drawing.Bars {
	return drawing.Bars{ID: "ageing", Title: "Ageing", Desc: "Five buckets.", Bars: []drawing.Bar{
		{Label: "current", Figure: "$4,310.00", Share: 4310}, {Label: "1-30", Figure: "$1,200.50", Share: 1200.5},
		{Label: "31-60", Figure: "$0.00"}, {Label: "61-90", Figure: "$310.00", Share: 310}, {Label: "over 90", Figure: "$95.20", Share: 95.2, Alert: true},
	}}
}

func slit() drawing.SlitPattern {
	in := measure.Inch
	return drawing.SlitPattern{ID: "slit", Title: "Slit 48 in", Desc: "Two strips of 20 in, a drop.", Total: 48 * in, TotalLabel: "48″", Metal: red, Strips: []drawing.Strip{
		{Width: in / 4, Label: "edge", Waste: true}, {Width: 20 * in, Label: "20″ panel"}, {Width: 20 * in, Label: "20″ panel"}, {Width: 7*in + in/2, Label: "7½″ drop", Waste: true}, {Width: in / 4, Label: "edge", Waste: true},
	}}
}

func TestViews(t *testing.T) {
	for name, p := range map[string]drawing.Picture{
		"panel": panel().Picture(), "trim": trim().Picture(), "coil": coil().Picture(), "lanes": plan().Picture(),
		"load-side": load().Side(), "load-top": load().Top(), "waterfall": buildUp().Picture(), "bars": ageing().Picture(), "slit": slit().Picture(),
	} {
		t.Run(name, func(t *testing.T) { golden(t, name, p) })
	}
}

func TestEmptyViewsDrawNothingOdd(t *testing.T) {
	for _, p := range []drawing.Picture{
		drawing.Section{Title: "a"}.Picture(), drawing.CoilBar{Title: "a"}.Picture(), drawing.Lanes{Title: "a"}.Picture(),
		drawing.Load{Title: "a"}.Side(), drawing.Load{Title: "a"}.Top(), drawing.Waterfall{Title: "a"}.Picture(),
		drawing.Bars{Title: "a", Bars: []drawing.Bar{{Label: "none"}}}.Picture(), drawing.SlitPattern{Title: "a"}.Picture(),
		drawing.Lanes{Title: "a", Days: 1, Close: time.Hour}.Picture(),
	} {
		sound(t, p)
	}
}

// The coil's parts are drawn to scale: the free stretch against the whole width.
func TestCoilToScale(t *testing.T) {
	e := measureExtent(coil().Picture())
	wide := 0.0
	for _, p := range e.paths {
		if p.Pen == drawing.CutEdge {
			wide = p.Runs[0][1].X - p.Runs[0][0].X
		}
	}
	if want := (640.0 - 16) * 640 / 2400; math.Abs(wide-want) > 0.01 {
		t.Fatalf("640 of 2,400 ft is %g px wide, want %g", wide, want)
	}
}

// The bound a block is clamped to is the day shown, and nothing else is drawn.
func TestLanesHideOtherDays(t *testing.T) {
	words := strings.Join(measureExtent(plan().Picture()).texts, "|")
	if strings.Contains(words, "never seen") || !strings.Contains(words, "Tue May 5") || !strings.Contains(words, "now 10:30") {
		t.Fatal(words)
	}
}

// Sections of any shape stay inside the box, labels and all.
func TestSectionsFit(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		n := rapid.IntRange(2, 12).Draw(rt, "points")
		pts := make([]drawing.Point, n)
		labels := make([]string, n-1)
		for i := range pts {
			pts[i] = drawing.Point{X: rapid.Float64Range(-30, 30).Draw(rt, "x"), Y: rapid.Float64Range(-30, 30).Draw(rt, "y")}
			if i > 0 {
				labels[i-1] = fmt.Sprintf("%d′ 11¹⁵⁄₁₆″", i)
			}
		}
		p := drawing.Section{Title: "any", Points: pts, Dims: drawing.LegDims(pts, labels), Painted: drawing.PaintedRight, Width: 420, Height: 320}.Picture()
		e := measureExtent(p)
		if e.minX < -1 || e.minY < -1 || e.maxX > p.Width+1 || e.maxY > p.Height+1 {
			rt.Fatalf("ink from %.1f,%.1f to %.1f,%.1f", e.minX, e.minY, e.maxX, e.maxY)
		}
	})
}

func TestFit(t *testing.T) {
	if s := drawing.Fit("promised 410 ft", 12, false, 60); !strings.HasSuffix(s, "…") || drawing.TextWidth(s, 12, false) > 60 {
		t.Errorf("got %q", s)
	}
	if s := drawing.Fit("promised", 12, false, 5); s != "" {
		t.Errorf("got %q", s)
	}
}
