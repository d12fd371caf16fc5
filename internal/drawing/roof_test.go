package drawing_test

import (
	"strconv"
	"strings"
	"testing"

	"ribdesk/internal/drawing"
)

// hipPlane is a main plane of a hip roof: 20 ft of eave, 8 ft of ridge, 80 in up
// the slope, with a chimney and a panel in two pieces.
func hipPlane() drawing.RoofPlane {
	v := drawing.RoofPlane{
		ID: "roof", Title: "Plane A", Desc: "A trapezoid with hips on both sides.", Rise: "6′ 8″",
		Outline: []drawing.Point{{X: 0, Y: 0}, {X: 240, Y: 0}, {X: 168, Y: 80}, {X: 72, Y: 80}},
		Edges:   []string{"eave 20′", "hip 8′ 11⅝″", "ridge 8′", "hip 8′ 11⅝″"}, Openings: []drawing.RoofOpening{{Label: "chimney", Left: 90, Right: 140, Low: 30, High: 60}},
	}
	for i := range 15 {
		left, right := float64(i)*16, float64(i+1)*16
		top := min(80, right*80/72, (240-left)*80/72)
		v.Panels = append(v.Panels, drawing.RoofPanel{Mark: "A" + strconv.Itoa(i+1), Left: left, Right: right, Pieces: [][2]float64{{0, top}}})
	}
	v.Panels[7].Pieces = [][2]float64{{0, 50}, {50, 80}}
	return v
}

func TestRoofPlane(t *testing.T) {
	p := hipPlane().Picture()
	golden(t, "roof-plane", p)
	inside(t, p)
	words := strings.Join(measureExtent(p).texts, "|")
	for _, want := range []string{"eave 20′", "hip 8′ 11⅝″", "6′ 8″", "A3", "A13"} {
		if !strings.Contains(words, want) {
			t.Errorf("no %s in %s", want, words)
		}
	}
	sound(t, drawing.RoofPlane{Title: "none"}.Picture())
	sound(t, drawing.RoofPlane{Title: "flat", Outline: []drawing.Point{{X: 1, Y: 1}, {X: 1, Y: 1}, {X: 1, Y: 1}}}.Picture())
}

// What has no room for its mark goes without, and the picture stays in its box,
// however many panels there are.
func TestRoofPlaneOfManyPanels(t *testing.T) {
	v := hipPlane()
	v.Panels = nil
	for i := range 400 {
		v.Panels = append(v.Panels, drawing.RoofPanel{Mark: "A" + strconv.Itoa(i+1), Left: float64(i) * 0.6, Right: float64(i+1) * 0.6, Pieces: [][2]float64{{0, 20}}})
	}
	p := v.Picture()
	inside(t, p)
	if n := len(measureExtent(p).texts); n < 10 || n > 60 {
		t.Errorf("%d words", n)
	}
}
