package load_test

import (
	"fmt"
	"math"
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"ribdesk/internal/fault"
	"ribdesk/internal/load"
	"ribdesk/internal/measure"
)

func ft(x float64) measure.Length { return measure.FromFeet(x) }

func TestBundlesAreEvenAndLongestFirst(t *testing.T) {
	// 41 panels with 40 to a bundle are two bundles, and not 40 and 1.
	lines := []load.Line{
		{ID: "b", Order: "1", Kind: "rib", Length: ft(10), Lb: 20, Qty: 20},
		{ID: "a", Order: "1", Kind: "rib", Length: ft(12), Lb: 24, Qty: 21},
	}
	got, err := load.Bundles(lines, load.Packing{MaxLb: 5000, MaxPieces: 40, SkidLb: 30, SkidLbFt: 1})
	if err != nil || len(got) != 2 {
		t.Fatalf("%d bundles, %v", len(got), err)
	}
	first, second := got[0], got[1]
	if first.Pieces != 21 || second.Pieces != 20 || first.Longest != ft(12) || second.Longest != ft(10) {
		t.Errorf("%+v, %+v", first, second)
	}
	if first.Lb != 21*24+30+12 || first.SkidLb != 42 || first.No != 1 || second.No != 2 || second.Of != 2 {
		t.Errorf("%+v", first)
	}
	if first.Balance != ft(6) || !slices.Equal(first.Lifts, []measure.Length{ft(3), ft(9)}) {
		t.Errorf("balance %s, lifts %v", first.Balance, first.Lifts)
	}
}

func TestBundleHeight(t *testing.T) {
	// 3/4 in panels that nest to 1/8 in: 10 of them stand 3/4 + 9/8 in on a 4 in skid.
	line := load.Line{ID: "a", Length: ft(10), Height: 3 * measure.Inch / 4, Nest: measure.Eighth, Lb: 20, Qty: 10}
	got, err := load.Bundles([]load.Line{line}, load.Packing{MaxLb: 1000, SkidDeep: 4 * measure.Inch})
	if err != nil || got[0].Height != 5*measure.Inch+7*measure.Eighth {
		t.Errorf("%s, %v", got[0].Height, err)
	}
}

func TestBundlesKeepApart(t *testing.T) {
	line := func(id, order, customer, kind string, stop int, long float64) load.Line {
		return load.Line{ID: id, Order: order, Customer: customer, Kind: kind, Stop: stop, Length: ft(long), Lb: 10, Qty: 1}
	}
	lines := []load.Line{
		line("1", "A", "x", "rib", 1, 10), line("2", "B", "x", "rib", 1, 10), line("3", "C", "y", "rib", 2, 10),
		line("4", "A", "x", "seam", 1, 10), line("5", "A", "x", "rib", 1, 21),
	}
	p := load.Packing{MaxLb: 1000, Classes: []measure.Length{ft(10), ft(20)}}
	got, err := load.Bundles(lines, p)
	if err != nil || len(got) != 5 {
		t.Fatalf("%d bundles, %v", len(got), err)
	}
	p.Mixed = true
	got, _ = load.Bundles(lines, p)
	if len(got) != 4 || !slices.Equal(got[1].Orders, []string{"A", "B"}) {
		t.Fatalf("mixed: %+v", got)
	}
}

func TestBundleFaults(t *testing.T) {
	lines := []load.Line{{Length: ft(10), Lb: 90, Qty: 1}, {Length: 0, Lb: math.NaN(), Qty: -1}}
	_, err := load.Bundles(lines, load.Packing{MaxLb: 100, SkidLb: 20, MaxPieces: -1, Classes: []measure.Length{2, 1}})
	var fields []string
	for _, f := range fault.All(err) {
		fields = append(fields, f.Field)
	}
	if got := fmt.Sprint(fields); got != "[max_pieces classes lines.0.lb lines.1.length lines.1.qty]" {
		t.Errorf("got %s: %v", got, err)
	}
	if got, err := load.Bundles(nil, load.Packing{MaxLb: 100}); err != nil || len(got) != 0 {
		t.Errorf("nothing gives %v, %v", got, err)
	}
}

func drawLines(t *rapid.T) []load.Line {
	n := rapid.IntRange(0, 12).Draw(t, "lines")
	out := make([]load.Line, n)
	for i := range out {
		long := rapid.IntRange(2, 40).Draw(t, "ft")
		out[i] = load.Line{
			ID:    fmt.Sprint(i),
			Order: rapid.SampledFrom([]string{"A", "B"}).Draw(t, "order"), Customer: "c", Kind: "k",
			Stop:   rapid.IntRange(1, 3).Draw(t, "stop"),
			Length: ft(float64(long)), Width: ft(3), Height: measure.Inch, Nest: measure.Eighth,
			Lb: float64(long) * 2.5, Qty: rapid.IntRange(0, 60).Draw(t, "qty"),
		}
	}
	return out
}

func TestBundleLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lines := drawLines(t)
		p := load.Packing{MaxLb: rapid.Float64Range(200, 4000).Draw(t, "max"), MaxPieces: rapid.IntRange(0, 50).Draw(t, "pieces"),
			Classes: []measure.Length{ft(10), ft(20)}, SkidLb: 20, SkidLbFt: 1, Mixed: rapid.Bool().Draw(t, "mixed")}
		got, err := load.Bundles(lines, p)
		if err != nil {
			t.Fatal(err)
		}
		packed := map[string]int{}
		for _, b := range got {
			if b.Lb > p.MaxLb+1e-6 || p.MaxPieces > 0 && b.Pieces > p.MaxPieces || b.Pieces == 0 {
				t.Fatalf("bundle over its limits: %+v", b)
			}
			pieces, lb := 0, b.SkidLb
			for i, c := range b.Contents {
				packed[c.Line] += c.Qty
				pieces, lb = pieces+c.Qty, lb+c.Lb
				if i > 0 && c.Length > b.Contents[i-1].Length {
					t.Fatalf("a longer piece lies on a shorter one: %+v", b)
				}
			}
			if pieces != b.Pieces || math.Abs(lb-b.Lb) > 1e-6 || b.Balance > b.Longest/2+1 || len(b.Lifts) < 2 {
				t.Fatalf("sums differ: %+v", b)
			}
			for i, at := range b.Lifts {
				if at < 0 || at > b.Longest || i > 0 && at-b.Lifts[i-1] > ft(10)+measure.Inch {
					t.Fatalf("lifts %v of %s", b.Lifts, b.Longest)
				}
			}
		}
		for _, l := range lines {
			if packed[l.ID] != l.Qty {
				t.Fatalf("line %s: %d of %d packed", l.ID, packed[l.ID], l.Qty)
			}
		}
		turned := slices.Clone(lines)
		slices.Reverse(turned)
		if again, _ := load.Bundles(turned, p); !reflect.DeepEqual(again, got) {
			t.Fatal("the order of the lines changes the bundles")
		}
	})
}
