package nestview_test

import (
	"context"
	"strings"
	"testing"

	"ribdesk/internal/nest"
	"ribdesk/internal/nestview"
)

func TestRunsDrawEveryPieceAndHatchTheDrop(t *testing.T) {
	p := &nest.TrimProblem{Params: nest.TrimParams{MaxStrips: 9},
		Stock: []nest.Stock{{ID: "S<1>", Form: nest.SheetForm, Width: 768, Length: 1920, Cost: 1}},
		Items: []nest.Item{{ID: "I", Name: "rake & trim", Girth: 136, Length: 900, Qty: 10}}}
	r, err := nest.Nest(context.Background(), p, nest.Settings{Iterations: 50})
	if err != nil {
		t.Fatal(err)
	}
	pics := nestview.Runs(p, r)
	if len(pics) != 1 || len(r.Runs) != 1 {
		t.Fatalf("%d pictures of %d runs", len(pics), len(r.Runs))
	}
	svg := string(nestview.Stack("Sheet <1>", "d", pics))
	// 10 pieces, each with its label; a drop along the edge and five strip ends.
	if n := strings.Count(svg, ">rake &amp; trim 8-1/2 in<"); n != 10 {
		t.Errorf("%d pieces labelled in %s", n, svg)
	}
	if strings.Contains(svg, "<1>") {
		t.Error("an id isn't escaped")
	}
	if !strings.Contains(pics[0].Desc, "5 of 8-1/2 in (2 × rake & trim 4' 8-1/4\")") {
		t.Errorf("described as %q", pics[0].Desc)
	}
}

func TestCoilsSayTheEnd(t *testing.T) {
	p := &nest.CoilProblem{Params: nest.CoilParams{LeadOut: 96, ScrapMax: 384, Mat: 1, Short: 100},
		Coils: []nest.Coil{{ID: "C", Length: 9600, Lot: "A"}, {ID: "D", Length: 96 * 21, Lot: "A"}},
		Lines: []nest.Line{{ID: "L", Order: "O", Length: 1920, Qty: 2}}}
	r, err := nest.Allocate(context.Background(), p, nest.Settings{Iterations: 2000})
	if err != nil {
		t.Fatal(err)
	}
	pics := nestview.Coils(r)
	if len(pics) != len(r.Coils) || len(pics) == 0 {
		t.Fatalf("%d pictures of %d coils", len(pics), len(r.Coils))
	}
	for i, u := range r.Coils {
		if !strings.Contains(pics[i].Desc, "× 20' for L") || !strings.Contains(pics[i].Desc, nestview.EndWords(u)) {
			t.Errorf("described as %q", pics[i].Desc)
		}
	}
}
