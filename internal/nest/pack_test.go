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

	"ribdesk/internal/nest"
)

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

func readCases[T any](t testing.TB, name string) []T {
	dir := os.Getenv("BENCH_SETS")
	if dir == "" {
		t.Skip("BENCH_SETS names no folder with the public sets; nothing checked")
	}
	f, err := os.Open(filepath.Join(dir, "nesting", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var out []T
	s := bufio.NewScanner(f)
	s.Buffer(nil, 1<<20)
	for s.Scan() {
		var c T
		if err := json.Unmarshal(s.Bytes(), &c); err != nil {
			t.Fatal(err)
		}
		out = append(out, c)
	}
	return out
}

func TestProbePack(t *testing.T) {
	for _, set := range []string{"falkenauer", "schwerin", "scholl", "waescher", "hard28"} {
		if s := os.Getenv("SET"); s != "" && s != set {
			continue
		}
		proved, hit, n := 0, 0, 0
		var sum, most time.Duration
		for _, c := range readCases[packCase](t, set+".jsonl") {
			t0 := time.Now()
			r, err := nest.Pack(context.Background(), c.problem(), nest.Settings{Budget: 5 * time.Second, Seed: 1})
			if err != nil {
				t.Fatal(err)
			}
			el := time.Since(t0)
			if cost, err := nest.CheckPack(c.problem(), r.Patterns); err != nil || cost != r.Cost {
				t.Fatal(c.Name, err, cost, r.Cost)
			}
			n++
			sum += el
			most = max(most, el)
			if r.Status == nest.Optimal {
				proved++
			}
			if c.Opt != nil && r.Cost == *c.Opt {
				hit++
			}
			if c.Opt != nil && r.Bound > *c.Opt {
				t.Error("bound above optimum", c.Name)
			}
			if r.Status != nest.Optimal || el > time.Second {
				o := int64(0)
				if c.Opt != nil {
					o = *c.Opt
				}
				fmt.Println("   ", c.Name, r.Cost, r.Bound, o, r.Work, el)
			}
		}
		fmt.Println(set, n, proved, hit, sum/time.Duration(n), most)
	}
}
