package document_test

import (
	"bytes"
	"fmt"
	"testing"

	"ribdesk/internal/document"
	"ribdesk/internal/drawing"
	"ribdesk/internal/fault"
)

// takeOff is a hip roof's main plane, drawn by hand: the figures are only to be
// printed here.
func takeOff() *document.TakeOff {
	view := drawing.RoofPlane{
		Title: "Plane A", Rise: "13′ 5″", Outline: []drawing.Point{{X: 0}, {X: 480}, {X: 336, Y: 161}, {X: 144, Y: 161}},
		Edges: []string{"eave 40′", "hip 18′", "ridge 16′", "hip 18′"}, Openings: []drawing.RoofOpening{{Label: "chimney", Left: 200, Right: 230, Low: 100, High: 130}},
	}
	for i := range 30 {
		left, right := 16*float64(i), 16*float64(i+1)
		view.Panels = append(view.Panels, drawing.RoofPanel{Mark: fmt.Sprint("A", i+1), Left: left, Right: right, Pieces: [][2]float64{{0, min(161, right*161/144, (480-left)*161/144)}}})
	}
	t := &document.TakeOff{
		Head: head("O-1042"), Goods: goods(), Coverage: ft(1, 4, 0),
		Summary: []document.TakeOffNeed{{What: "Panels", Need: "60 pieces, 634 ft"}, {What: "Area", Need: "751.3 sq ft"}, {What: "Waste", Need: "94.2 sq ft, 11.1 %"}},
		Planes: []document.TakeOffPlane{{Name: "Plane A, long sides, 2 times", Facts: []string{"Pitch 6 in 12, 26.6°. 375.7 sq ft each."}, Drawing: view, Cuts: []document.TakeOffCut{
			{Pieces: 12, Length: ft(13, 6, 0), Marks: "A10-A21"}, {Pieces: 2, Length: ft(12, 2, 0), Marks: "A9, A22"}, {Pieces: 2, Length: ft(3, 0, 0), Marks: "A1, A30", Note: "the shortest the machine cuts"},
		}}},
		Cuts:  []document.TakeOffCut{{Pieces: 24, Length: ft(13, 6, 0), Marks: "A10-A21"}, {Pieces: 4, Length: ft(12, 2, 0), Marks: "A9, A22"}},
		Trim:  []document.TakeOffNeed{{What: "eave", Need: "80′", Item: "Drip edge, eave", Pieces: "10 × 10′"}, {What: "valley", Need: "19′ 2⁹⁄₁₆″"}},
		Parts: []document.TakeOffNeed{{What: "Clips", Need: "418", Item: "Panel clip, fixed", Pieces: "418 each"}},
		Rules: []string{"Laid from the left; past the eave 1″, hem 1″, held back 1″ at the ridge, up to whole 1″."},
		Says:  []string{"Field measurement governs: verify every length on site before anything is cut."},
	}
	t.State = "ordered"
	return t
}

func TestTakeOff(t *testing.T) {
	paper := takeOff()
	pdf := render(t, paper)
	golden(t, "roof-take-off.txt", run(t, "pdftotext", "-layout", file(t, pdf), "-"))
	sound(t, pdf)
	record, err := document.Record(paper)
	if err != nil {
		t.Fatal(err)
	}
	again, err := document.Reprint(paper.Kind(), record)
	if err != nil || !bytes.Equal(pdf, again) {
		t.Errorf("the reprint differs: %v", err)
	}
	paper.Planes = nil
	if _, err := document.Render(paper); !fault.Is(err, fault.Invalid) {
		t.Errorf("a take-off of nothing: %v", err)
	}
}
