package nest_test

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"pgregory.net/rapid"

	"ribdesk/internal/nest"
)

// sheetCase is a public instance: the best worth of one sheet when the first
// cuts run across (strips as long as the sheet is wide) or along it.
type sheetCase struct {
	Name  string     `json:"name"`
	From  string     `json:"source_set"`
	W     int64      `json:"w"`
	H     int64      `json:"h"`
	Flat  int64      `json:"opt_first_cut_horizontal"`
	Tall  int64      `json:"opt_first_cut_vertical"`
	Items [][4]int64 `json:"items"` // width, height, profit, copies
}

func (c sheetCase) problems() (flat, tall *nest.SheetProblem) {
	flat = &nest.SheetProblem{Width: c.H, Length: c.W}
	tall = &nest.SheetProblem{Width: c.W, Length: c.H}
	for _, i := range c.Items {
		flat.Blanks = append(flat.Blanks, nest.SheetBlank{Width: i[1], Length: i[0], Worth: i[2], Qty: i[3]})
		tall.Blanks = append(tall.Blanks, nest.SheetBlank{Width: i[0], Length: i[1], Worth: i[2], Qty: i[3]})
	}
	return flat, tall
}

// sheetCases are the two-stage knapsack instances of P. Y. Wang 1983; J. F.
// Oliveira and J. S. Ferreira 1990; S. Tschoke and N. Holthoefer 1995; M. Hifi
// 1997; D. Fayard, M. Hifi and V. Zissimopoulos 1998; V.-D. Cung, M. Hifi and B.
// Le Cun 2000, with the best worths, read from BENCH_SETS.
func sheetCases(t testing.TB) (out []sheetCase) {
	t.Helper()
	dir := os.Getenv("BENCH_SETS")
	if dir == "" {
		t.Skip("BENCH_SETS names no folder with the public sets; nothing checked")
	}
	f, err := os.Open(filepath.Join(dir, "nesting", "twostage_knapsack.jsonl"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for s := bufio.NewScanner(f); s.Scan(); {
		var c sheetCase
		if err := json.Unmarshal(s.Bytes(), &c); err != nil {
			t.Fatal(err)
		}
		out = append(out, c)
	}
	return out
}

// BenchmarkTwoStageSets prints what is reached and proved of the public two-stage
// knapsacks, both ways of the first cut, in at most 5 s each.
func BenchmarkTwoStageSets(b *testing.B) {
	cases := sheetCases(b)
	for b.Loop() {
		var proved, hit, all int
		var gap float64
		var sum, most time.Duration
		for _, c := range cases {
			flat, tall := c.problems()
			for n, p := range []*nest.SheetProblem{flat, tall} {
				began := time.Now()
				r, err := nest.FillSheet(context.Background(), p, nest.Settings{Budget: 5 * time.Second})
				if err != nil {
					b.Fatal(err)
				}
				took := time.Since(began)
				sum, most, all = sum+took, max(most, took), all+1
				want := []int64{c.Flat, c.Tall}[n]
				gap += float64(r.Most-r.Worth) / float64(r.Worth)
				if r.Status == nest.Optimal {
					proved++
				}
				if r.Worth == want {
					hit++
				}
			}
		}
		fmt.Printf("%-24s %3d cases: proved optimal %3d, known optimum reached %3d of %3d, mean gap %.3f %%, mean %.3f s, max %.2f s\n",
			"twostage_knapsack", all, proved, hit, all, 100*gap/float64(all), sum.Seconds()/float64(all), most.Seconds())
		b.ReportMetric(float64(proved), "proved")
	}
}

// Every public sheet is filled to the best worth known, and proved.
func TestPublicTwoStageSheets(t *testing.T) {
	for i, c := range sheetCases(t) {
		flat, tall := c.problems()
		p, want := flat, c.Flat
		if i%2 == 1 {
			p, want = tall, c.Tall
		}
		r, err := nest.FillSheet(context.Background(), p, nest.Settings{})
		if err != nil {
			t.Fatal(err)
		}
		worth, err := nest.CheckSheet(p, r.Strips)
		if err != nil || worth != r.Worth || r.Worth != want || r.Status != nest.Optimal {
			t.Errorf("%s %s: worth %d (counted %d, %v, %s), the best is %d", c.From, c.Name, r.Worth, worth, err, r.Status, want)
		}
	}
}

// everySheet puts each piece into each strip, into a new one, or aside.
func everySheet(p *nest.SheetProblem) int64 {
	type strip struct{ width, used int64 }
	var pieces []nest.SheetBlank
	for _, b := range p.Blanks {
		for range b.Qty {
			pieces = append(pieces, b)
		}
	}
	var best, wide int64
	var strips []strip
	var try func(i int, worth int64)
	try = func(i int, worth int64) {
		if best = max(best, worth); i == len(pieces) {
			return
		}
		b := pieces[i]
		try(i+1, worth)
		for k, s := range strips {
			grow := max(0, b.Width-s.width)
			if p.Exact && b.Width != s.width || s.used+b.Length > p.Length || wide+grow > p.Width {
				continue
			}
			wide += grow
			strips[k] = strip{s.width + grow, s.used + b.Length}
			try(i+1, worth+b.Worth)
			strips[k] = s
			wide -= grow
		}
		if wide+b.Width <= p.Width && b.Length <= p.Length {
			wide += b.Width
			strips = append(strips, strip{b.Width, b.Length})
			try(i+1, worth+b.Worth)
			strips = strips[:len(strips)-1]
			wide -= b.Width
		}
	}
	try(0, 0)
	return best
}

func TestSmallSheetsAreFilledBest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := &nest.SheetProblem{Width: rapid.Int64Range(1, 20).Draw(t, "w"), Length: rapid.Int64Range(1, 20).Draw(t, "l"), Exact: rapid.Bool().Draw(t, "exact")}
		for range rapid.IntRange(0, 4).Draw(t, "blanks") {
			p.Blanks = append(p.Blanks, nest.SheetBlank{Width: rapid.Int64Range(1, 12).Draw(t, "bw"), Length: rapid.Int64Range(1, 12).Draw(t, "bl"),
				Worth: rapid.Int64Range(0, 30).Draw(t, "worth"), Qty: rapid.Int64Range(0, 2).Draw(t, "qty")})
		}
		r, err := nest.FillSheet(context.Background(), p, nest.Settings{Iterations: 20_000})
		if err != nil {
			t.Fatal(err)
		}
		worth, err := nest.CheckSheet(p, r.Strips)
		if want := everySheet(p); err != nil || worth != want || r.Worth != want || r.Most != want || r.Status != nest.Optimal {
			t.Fatalf("worth %d (counted %d, %v), bound %d, %s; the best of all ways %d", r.Worth, worth, err, r.Most, r.Status, want)
		}
	})
}

// All four blanks fit, which is less than the prices' bound allows.
func TestSheetThatHoldsAll(t *testing.T) {
	p := &nest.SheetProblem{Width: 10, Length: 10, Blanks: []nest.SheetBlank{{2, 1, 1, 1}, {1, 1, 1, 2}, {9, 9, 1, 1}}}
	r, err := nest.FillSheet(context.Background(), p, nest.Settings{Iterations: 20_000})
	if err != nil || r.Worth != 4 || r.Status != nest.Optimal {
		t.Errorf("worth %d, %s, %v", r.Worth, r.Status, err)
	}
}

func TestSheetCheckerRefuses(t *testing.T) {
	p := &nest.SheetProblem{Width: 10, Length: 10, Exact: true, Blanks: []nest.SheetBlank{{4, 5, 1, 3}, {3, 5, 1, 9}}}
	for name, strips := range map[string][]nest.SheetStrip{
		"too wide":       {{4, map[int]int64{0: 1}}, {4, map[int]int64{0: 1}}, {4, map[int]int64{0: 1}}},
		"too long":       {{4, map[int]int64{0: 3}}},
		"too often":      {{4, map[int]int64{0: 2}}, {4, map[int]int64{0: 2}}},
		"no such blank":  {{4, map[int]int64{7: 1}}},
		"another width":  {{4, map[int]int64{1: 1}}},
		"negative count": {{4, map[int]int64{0: -1}}},
	} {
		if _, err := nest.CheckSheet(p, strips); err == nil {
			t.Errorf("%s: the checker takes it", name)
		}
	}
	if _, err := nest.FillSheet(context.Background(), &nest.SheetProblem{}, nest.Settings{}); err == nil {
		t.Error("a sheet of no size is filled")
	}
}
