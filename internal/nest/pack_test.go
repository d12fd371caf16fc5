package nest_test

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"ribdesk/internal/nest"
)

// fewestBins packs pieces in every way that isn't a mere renaming of bins.
func fewestBins(sizes []int64, bin int64) int64 {
	best := len(sizes)
	var left []int64
	var try func(int)
	try = func(i int) {
		if len(left) >= best && i < len(sizes) {
			return
		}
		if i == len(sizes) {
			best = min(best, len(left))
			return
		}
		for k := range left {
			if left[k] >= sizes[i] {
				left[k] -= sizes[i]
				try(i + 1)
				left[k] += sizes[i]
			}
		}
		left = append(left, bin-sizes[i])
		try(i + 1)
		left = left[:len(left)-1]
	}
	try(0)
	return int64(best)
}

func TestSmallPackingsAreOptimal(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		sizes := rapid.SliceOfN(rapid.Int64Range(1, 40), 0, 10).Draw(t, "sizes")
		p := &nest.PackProblem{Bins: []nest.Bin{{Size: 60, Cost: 1}}}
		for _, s := range sizes {
			p.Pieces = append(p.Pieces, nest.Piece{Size: s, Qty: 1})
		}
		r, err := nest.Pack(context.Background(), p, nest.Settings{Iterations: 50})
		if err != nil {
			t.Fatal(err)
		}
		cost, err := nest.CheckPack(p, r.Patterns)
		if want := fewestBins(sizes, 60); err != nil || cost != want || r.Cost != want || r.Bound > want {
			t.Fatalf("%d bins (%d counted, %v), bound %d; the best of all packings %d", r.Cost, cost, err, r.Bound, want)
		}
	})
}

// packCase is a public instance; Opt is null where no optimum is proved.
type packCase struct {
	Name string     `json:"name"`
	C    int64      `json:"c"`
	Opt  *int64     `json:"opt"`
	W    [][2]int64 `json:"w"`
}

func (c packCase) problem() *nest.PackProblem {
	p := &nest.PackProblem{Bins: []nest.Bin{{Size: c.C, Cost: 1}}}
	for _, w := range c.W {
		p.Pieces = append(p.Pieces, nest.Piece{Size: w[0], Qty: w[1]})
	}
	return p
}

// sizeCase is an instance with bins of several sizes at a cost equal to the size.
type sizeCase struct {
	Name  string  `json:"name"`
	Bins  []int64 `json:"bins"`
	Opt   *int64  `json:"opt_total_size"`
	Items []int64 `json:"items"`
}

func (c sizeCase) problem() *nest.PackProblem {
	p := &nest.PackProblem{}
	for _, b := range c.Bins {
		p.Bins = append(p.Bins, nest.Bin{Size: b, Cost: b})
	}
	for _, w := range c.Items {
		p.Pieces = append(p.Pieces, nest.Piece{Size: w, Qty: 1})
	}
	return p
}

// publicCase is either of them with its optimum, 0 where unknown.
type publicCase struct {
	name    string
	problem *nest.PackProblem
	opt     int64
}

// publicSets are the sets of instances read from BENCH_SETS: E. Falkenauer,
// J. Heuristics 2, 1996 (OR-Library binpack1-8); P. Schwerin and G. Waescher
// 1997; A. Scholl, R. Klein and C. Juergens, Computers & OR 24, 1997; G. Waescher
// and T. Gau, OR Spektrum 18, 1996; J. Schoenfield's hard28, 2002; and generated
// cases with several bin sizes, whose optima a MIP code proved.
var publicSets = []string{"falkenauer", "schwerin", "scholl", "waescher", "hard28", "variable_size_generated"}

func publicCases(t testing.TB, set string) []publicCase {
	t.Helper()
	dir := os.Getenv("BENCH_SETS")
	if dir == "" {
		t.Skip("BENCH_SETS names no folder with the public sets; nothing checked")
	}
	f, err := os.Open(filepath.Join(dir, "nesting", set+".jsonl"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var out []publicCase
	s := bufio.NewScanner(f)
	s.Buffer(nil, 1<<20)
	for s.Scan() {
		var one packCase
		var many sizeCase
		if err := json.Unmarshal(s.Bytes(), &one); err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal(s.Bytes(), &many); err != nil {
			t.Fatal(err)
		}
		c := publicCase{one.Name, one.problem(), 0}
		opt := one.Opt
		if len(many.Bins) > 0 {
			c.problem, opt = many.problem(), many.Opt
		}
		if opt != nil {
			c.opt = *opt
		}
		out = append(out, c)
	}
	if len(out) == 0 {
		t.Fatalf("no case in %s", f.Name())
	}
	return out
}

// A sample of the public sets reaches the published optima.
func TestPublicPackings(t *testing.T) {
	for _, set := range publicSets {
		t.Run(set, func(t *testing.T) {
			cases := publicCases(t, set)
			step := max(len(cases)/6, 1)
			if set == "hard28" {
				step = len(cases) // one; BenchmarkPublicSets does all
			}
			for i := 3 % len(cases); i < len(cases); i += step {
				c := cases[i]
				r, err := nest.Pack(context.Background(), c.problem, nest.Settings{Iterations: 200, Seed: 1})
				if err != nil {
					t.Fatal(err)
				}
				cost, err := nest.CheckPack(c.problem, r.Patterns)
				if err != nil || cost != r.Cost {
					t.Fatalf("%s: cost %d, checked %d, %v", c.name, r.Cost, cost, err)
				}
				if c.opt > 0 && (r.Bound > c.opt || r.Cost < c.opt) {
					t.Errorf("%s: cost %d, bound %d, but the optimum is %d", c.name, r.Cost, r.Bound, c.opt)
				}
				if c.opt > 0 && r.Cost != c.opt && set != "hard28" {
					t.Errorf("%s: cost %d, the optimum is %d", c.name, r.Cost, c.opt)
				}
			}
		})
	}
}

// The optima of Falkenauer's classes, told a second time from the OR-Library's
// list as corrected by proof, guard against a damaged file.
func TestFalkenauerFileIsTheOneProved(t *testing.T) {
	want := map[string][]int64{
		"u120": {48, 49, 46, 49, 50, 48, 48, 49, 50, 46, 52, 49, 48, 49, 50, 48, 52, 52, 49, 49},
		"u250": {99, 100, 102, 100, 101, 101, 102, 103, 105, 101, 105, 101, 105, 103, 100, 105, 97, 100, 100, 102},
	}
	got := map[string][]int64{}
	for _, c := range publicCases(t, "falkenauer") {
		if _, ok := want[c.name[:4]]; ok {
			got[c.name[:4]] = append(got[c.name[:4]], c.opt)
		}
		for class, opt := range map[string]int64{"t60_": 20, "t120": 40, "t249": 83, "t501": 167} {
			if c.name[:4] == class && c.opt != opt {
				t.Errorf("%s: optimum %d, want %d", c.name, c.opt, opt)
			}
		}
	}
	for class, opts := range want {
		if !slices.Equal(got[class], opts) {
			t.Errorf("%s: %v, want %v", class, got[class], opts)
		}
	}
}

// BenchmarkPublicSets prints one row a set: how many are proved optimal, how
// many reach the known optimum, and the seconds a case takes. The limit is 5 s a
// case, 20 s for the hard ones.
func BenchmarkPublicSets(b *testing.B) {
	for _, set := range publicSets {
		b.Run(set, func(b *testing.B) {
			cases := publicCases(b, set)
			limit := 5 * time.Second
			if set == "hard28" || set == "waescher" {
				limit = 20 * time.Second
			}
			for b.Loop() {
				var proved, hit, known int
				var sum, most time.Duration
				var gap float64
				for _, c := range cases {
					began := time.Now()
					r, err := nest.Pack(context.Background(), c.problem, nest.Settings{Budget: limit, Seed: 1})
					if err != nil {
						b.Fatal(err)
					}
					took := time.Since(began)
					sum, most = sum+took, max(most, took)
					gap += r.Gap()
					if r.Status == nest.Optimal {
						proved++
					}
					if c.opt > 0 {
						known++
						if r.Cost == c.opt {
							hit++
						}
					}
				}
				n := len(cases)
				fmt.Printf("%-24s %3d cases: proved optimal %3d, known optimum reached %3d of %3d, mean gap %.3f %%, mean %.3f s, max %.2f s\n",
					set, n, proved, hit, known, 100*gap/float64(n), sum.Seconds()/float64(n), most.Seconds())
				b.ReportMetric(float64(proved), "proved")
			}
		})
	}
}
