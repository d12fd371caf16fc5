package nest_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"ribdesk/internal/nest"
)

// shopRates are a shop's money for problem A; common practice, no published
// source: $2.40 a foot of strip, $35 for a place on the rack, $15 for a coil
// change, $25 for a second lot in an order.
var shopRates = nest.CoilParams{LeadIn: 192, LeadOut: 192, ScrapMax: 384, UsefulMin: 2400,
	Mat: 2500, AwkwardPct: 60, Keep: 3_500_000, Change: 1_500_000, LotSplit: 2_500_000, Short: 6000}

// weekOfCoils draws a shop's week: coils and remnants on the rack, and open cut
// lists of three lines an order that the rack can hold.
func weekOfCoils(seed uint64, coils, lines int) *nest.CoilProblem {
	r := rand.New(rand.NewPCG(seed, 1))
	p := &nest.CoilProblem{Params: shopRates}
	var stock int64
	for i := range coils {
		c := nest.Coil{ID: fmt.Sprint("C", i), Lot: fmt.Sprint("P", r.IntN(coils/3+1)), Length: 96 * 500}
		if r.IntN(3) > 0 {
			c.Remnant, c.Length = true, int64(96*20+r.IntN(96*350))
		}
		c.Mounted = i == 0
		stock += c.Length
		p.Coils = append(p.Coils, c)
	}
	for i := range lines {
		length := int64(96*3 + r.IntN(96*30))
		most := max(stock*6/10/int64(lines)/length, 1)
		p.Lines = append(p.Lines, nest.Line{ID: fmt.Sprint("L", i), Order: fmt.Sprint("O", i/3),
			Length: length, Qty: 1 + r.Int64N(min(2*most, 40))})
	}
	return p
}

// smallCoils draws a problem that everyCoilPlan can take.
func smallCoils(t *rapid.T) *nest.CoilProblem {
	p := &nest.CoilProblem{Params: nest.CoilParams{
		LeadIn: rapid.Int64Range(0, 8).Draw(t, "in"), LeadOut: rapid.Int64Range(0, 8).Draw(t, "out"),
		Slug: rapid.Int64Range(0, 2).Draw(t, "slug"), ScrapMax: rapid.Int64Range(0, 15).Draw(t, "scrap"),
		UsefulMin: rapid.Int64Range(0, 50).Draw(t, "useful"), Mat: rapid.Int64Range(0, 9).Draw(t, "mat"),
		AwkwardPct: rapid.Int64Range(0, 100).Draw(t, "pct"), Keep: rapid.Int64Range(0, 90).Draw(t, "keep"),
		Change: rapid.Int64Range(0, 60).Draw(t, "change"), LotSplit: rapid.Int64Range(0, 80).Draw(t, "split"),
		Short: rapid.Int64Range(0, 30).Draw(t, "short"),
	}}
	for i := range rapid.IntRange(0, 3).Draw(t, "coils") {
		p.Coils = append(p.Coils, nest.Coil{ID: fmt.Sprint("C", i), Length: rapid.Int64Range(0, 120).Draw(t, "length"),
			Lot: rapid.SampledFrom([]string{"A", "B"}).Draw(t, "lot"), Remnant: rapid.Bool().Draw(t, "remnant"), Mounted: i == 0 && rapid.Bool().Draw(t, "mounted")})
	}
	for i := range rapid.IntRange(0, 3).Draw(t, "lines") {
		p.Lines = append(p.Lines, nest.Line{ID: fmt.Sprint("L", i), Order: rapid.SampledFrom([]string{"X", "Y"}).Draw(t, "order"),
			Length: rapid.Int64Range(1, 60).Draw(t, "piece"), Qty: rapid.Int64Range(0, 2).Draw(t, "qty")})
	}
	return p
}

// everyCoilPlan tries each piece in each coil and nowhere, and gives the least
// cost that the checker accepts.
func everyCoilPlan(p *nest.CoilProblem) int64 {
	var pieces []string
	for _, n := range p.Lines {
		for range n.Qty {
			pieces = append(pieces, n.ID)
		}
	}
	best := int64(math.MaxInt64)
	var cuts []nest.Cut
	var try func(int)
	try = func(i int) {
		if i == len(pieces) {
			if cost, err := nest.CheckCoils(p, cuts); err == nil {
				best = min(best, cost)
			}
			return
		}
		try(i + 1)
		for _, c := range p.Coils {
			cuts = append(cuts, nest.Cut{Coil: c.ID, Line: pieces[i], Qty: 1})
			try(i + 1)
			cuts = cuts[:len(cuts)-1]
		}
	}
	try(0)
	return best
}

func TestSmallAllocationsAreOptimal(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := smallCoils(t)
		want := everyCoilPlan(p)
		r, err := nest.Allocate(context.Background(), p, nest.Settings{Iterations: 20_000, Seed: 1})
		if err != nil {
			t.Fatal(err)
		}
		if r.Cost != want {
			t.Fatalf("cost %d, the best of all plans %d", r.Cost, want)
		}
		if r.Bound > want {
			t.Fatalf("bound %d above the best plan %d", r.Bound, want)
		}
		if r.Status == nest.Optimal && r.Cost != r.Bound {
			t.Fatalf("called optimal with a gap of %d", r.Cost-r.Bound)
		}
	})
}

// checkCoilResult tests what must hold of every plan.
func checkCoilResult(t rapid.TB, p *nest.CoilProblem, r *nest.CoilResult) {
	t.Helper()
	cost, err := nest.CheckCoils(p, r.Cuts)
	if err != nil {
		t.Fatal(err)
	}
	if cost != r.Cost || r.Bound > r.Cost {
		t.Fatalf("cost %d, checked %d, bound %d", r.Cost, cost, r.Bound)
	}
	var cut, short, wanted int64
	for _, u := range r.Coils {
		sum := u.Lead + u.Slugs + u.End
		for k, x := range u.Pieces {
			sum += x.Pieces * x.Line.Length
			cut += x.Pieces
			if k > 0 && x.Line.Length > u.Pieces[k-1].Line.Length {
				t.Fatalf("coil %s isn't cut longest first", u.Coil.ID)
			}
		}
		if sum != u.Coil.Length {
			t.Fatalf("coil %s: pieces, slugs, lead and end make %d of %d", u.Coil.ID, sum, u.Coil.Length)
		}
	}
	for _, s := range r.Short {
		short += s.Pieces
	}
	for _, n := range p.Lines {
		wanted += n.Qty
	}
	if cut+short != wanted || r.Buy.Pieces != short {
		t.Fatalf("%d cut and %d short of %d, %d to buy", cut, short, wanted, r.Buy.Pieces)
	}
	split := 0
	for _, o := range r.Orders {
		if len(o.Lots) > 1 {
			split++
		}
	}
	if split != len(r.Warnings) {
		t.Fatalf("%d orders mix lots, %d warnings", split, len(r.Warnings))
	}
}

func TestAllocationKeepsEveryRule(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := weekOfCoils(rapid.Uint64().Draw(t, "week"), rapid.IntRange(1, 12).Draw(t, "coils"), rapid.IntRange(1, 15).Draw(t, "lines"))
		p.Params.Slug = rapid.Int64Range(0, 3).Draw(t, "slug")
		set := nest.Settings{Iterations: 500, Seed: rapid.Uint64().Draw(t, "seed")}
		r, err := nest.Allocate(context.Background(), p, set)
		if err != nil {
			t.Fatal(err)
		}
		checkCoilResult(t, p, r)
		again, _ := nest.Allocate(context.Background(), p, set)
		if !slices.Equal(r.Cuts, again.Cuts) {
			t.Fatal("the same seed gave another plan")
		}
		for _, way := range []nest.Way{nest.NextCoil, nest.FirstCoil, nest.LongestFirst} {
			h, err := nest.AllocateByHand(p, way)
			if err != nil {
				t.Fatal(err)
			}
			checkCoilResult(t, p, &nest.CoilResult{Report: nest.Report{Cost: h.Cost}, Cuts: h.Cuts, Coils: h.Coils,
				Short: h.Short, Buy: h.Buy, Orders: h.Orders, Warnings: h.Warnings})
			if h.Cost < r.Bound {
				t.Fatalf("by hand %d is below the bound %d", h.Cost, r.Bound)
			}
		}
	})
}

// Scaling all lengths by a factor leaves a plan valid; one coil more raises the
// best cost by its rack place at most.
func TestAllocationUnderChange(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := smallCoils(t)
		best := everyCoilPlan(p)
		r, err := nest.Allocate(context.Background(), p, nest.Settings{Iterations: 2000})
		if err != nil {
			t.Fatal(err)
		}
		q := *p
		q.Params.LeadIn, q.Params.LeadOut, q.Params.Slug = 7*p.Params.LeadIn, 7*p.Params.LeadOut, 7*p.Params.Slug
		q.Coils, q.Lines = slices.Clone(p.Coils), slices.Clone(p.Lines)
		for i := range q.Coils {
			q.Coils[i].Length *= 7
		}
		for i := range q.Lines {
			q.Lines[i].Length *= 7
		}
		if _, err := nest.CheckCoils(&q, r.Cuts); err != nil {
			t.Fatalf("scaled: %v", err)
		}
		more := *p
		more.Coils = append(slices.Clone(p.Coils), nest.Coil{ID: "new", Length: 77, Lot: "A", Remnant: true})
		if cost := everyCoilPlan(&more); cost > best+p.Params.Keep {
			t.Fatalf("a coil more raised the cost from %d to %d", best, cost)
		}
	})
}

// Coils cut up without waste must be found again: no scrap and nothing short.
func TestWasteFreeCoilsAreFound(t *testing.T) {
	for seed := range uint64(6) {
		r := rand.New(rand.NewPCG(seed, 3))
		p := &nest.CoilProblem{Params: shopRates}
		for c := range 4 {
			length := int64(9600)
			p.Coils = append(p.Coils, nest.Coil{ID: fmt.Sprint("C", c), Length: length + 384, Lot: fmt.Sprint("P", c), Remnant: true})
			for left := length; left > 0; {
				piece := min(left, 480+r.Int64N(1440))
				if left-piece < 480 {
					piece = left
				}
				left -= piece
				p.Lines = append(p.Lines, nest.Line{ID: fmt.Sprint("L", len(p.Lines)), Order: fmt.Sprint("O", c), Length: piece, Qty: 1})
			}
		}
		r.Shuffle(len(p.Lines), func(i, j int) { p.Lines[i], p.Lines[j] = p.Lines[j], p.Lines[i] })
		want := 4 * (shopRates.Mat*384 + shopRates.Change)
		got, err := nest.Allocate(context.Background(), p, nest.Settings{Iterations: 60_000, Seed: seed})
		if err != nil {
			t.Fatal(err)
		}
		if got.Cost != want || got.Status != nest.Optimal {
			t.Errorf("seed %d: cost %d (%s), without waste %d", seed, got.Cost, got.Status, want)
		}
	}
}

func TestAllocationEdges(t *testing.T) {
	coil := nest.Coil{ID: "C", Length: 9600, Lot: "A"}
	line := nest.Line{ID: "L", Order: "O", Length: 960, Qty: 3}
	for name, c := range map[string]struct {
		p     nest.CoilProblem
		short int64
	}{
		"nothing":          {nest.CoilProblem{}, 0},
		"no lines":         {nest.CoilProblem{Coils: []nest.Coil{coil}}, 0},
		"no coils":         {nest.CoilProblem{Lines: []nest.Line{line}}, 3},
		"longer than coil": {nest.CoilProblem{Coils: []nest.Coil{coil}, Lines: []nest.Line{{ID: "L", Order: "O", Length: 9601, Qty: 2}}}, 2},
		"coil all lead":    {nest.CoilProblem{Coils: []nest.Coil{{ID: "C", Length: 100}}, Lines: []nest.Line{line}}, 3},
		"equal lengths":    {nest.CoilProblem{Coils: []nest.Coil{coil, {ID: "D", Length: 9600}}, Lines: []nest.Line{line, {ID: "M", Order: "O", Length: 960, Qty: 9}}}, 0},
		"quantity 0":       {nest.CoilProblem{Coils: []nest.Coil{coil}, Lines: []nest.Line{{ID: "L", Order: "O", Length: 5}}}, 0},
	} {
		t.Run(name, func(t *testing.T) {
			c.p.Params = shopRates
			r, err := nest.Allocate(context.Background(), &c.p, nest.Settings{Iterations: 2000})
			if err != nil {
				t.Fatal(err)
			}
			checkCoilResult(t, &c.p, r)
			if r.Buy.Pieces != c.short {
				t.Fatalf("%d short, want %d", r.Buy.Pieces, c.short)
			}
		})
	}
}

func TestPurchaseRoundsUpToCoils(t *testing.T) {
	p := &nest.CoilProblem{Params: shopRates, BuyLength: 96 * 100, Lines: []nest.Line{
		{ID: "L", Order: "O", Length: 96 * 40, Qty: 5}, {ID: "M", Order: "O", Length: 96 * 101, Qty: 1}}}
	p.Params.Slug = 2
	r, err := nest.Allocate(context.Background(), p, nest.Settings{Iterations: 100})
	if err != nil {
		t.Fatal(err)
	}
	// A coil of 100 ft loses 4 ft of lead, so two pieces of 40 ft and a slug come
	// out of each: three coils.
	want := nest.Purchase{Pieces: 5, Strip: 5 * (96*40 + 2), Lead: 3 * 384, Coils: 3, Length: 3 * 9600, TooLong: []string{"M"}}
	if fmt.Sprint(r.Buy) != fmt.Sprint(want) {
		t.Fatalf("to buy %+v, want %+v", r.Buy, want)
	}
}

func TestCancelGivesBestSoFar(t *testing.T) {
	p := weekOfCoils(1, 30, 60)
	ctx, cancel := context.WithCancel(context.Background())
	time.AfterFunc(30*time.Millisecond, cancel)
	r, err := nest.Allocate(ctx, p, nest.Settings{Budget: time.Hour})
	if err != nil {
		t.Fatal(err)
	}
	if r.Stopped != nest.Cancelled {
		t.Fatalf("stopped for %s", r.Stopped)
	}
	checkCoilResult(t, p, r)
	q := trimWeek(1, 20, 200)
	cancelled, err := nest.Nest(ctx, q, nest.Settings{Budget: time.Hour})
	if err != nil {
		t.Fatal(err)
	}
	checkTrimResult(t, q, cancelled)
}

func TestCheckerRefusesBrokenCoilPlans(t *testing.T) {
	p := &nest.CoilProblem{Params: shopRates, Coils: []nest.Coil{{ID: "C", Length: 2000, Lot: "A"}},
		Lines: []nest.Line{{ID: "L", Order: "O", Length: 500, Qty: 4}}}
	for name, cuts := range map[string][]nest.Cut{
		"no such coil":    {{Coil: "X", Line: "L", Qty: 1}},
		"no such line":    {{Coil: "C", Line: "X", Qty: 1}},
		"no pieces":       {{Coil: "C", Line: "L", Qty: 0}},
		"beyond the coil": {{Coil: "C", Line: "L", Qty: 4}},
		"more than asked": {{Coil: "C", Line: "L", Qty: 5}},
	} {
		if _, err := nest.CheckCoils(p, cuts); err == nil {
			t.Errorf("%s: accepted", name)
		}
	}
	// By hand: lead 384 and change, end 2000-384-1500 = 116 of scrap, one piece short.
	want := int64(2500*384 + 1_500_000 + 2500*116 + 6000*500)
	if cost, err := nest.CheckCoils(p, []nest.Cut{{Coil: "C", Line: "L", Qty: 3}}); err != nil || cost != want {
		t.Errorf("cost %d, %v; want %d", cost, err, want)
	}
}

// Fourteen orders of one 10 ft panel each, two lots of one coil: 68 ft and 78 ft
// hold 140 ft between them, but only 6 and 7 whole panels. By length nothing is
// short; by whole orders one is, and the bound says so.
func TestBoundKnowsLotsOfManyOrders(t *testing.T) {
	const foot = 96
	p := &nest.CoilProblem{Params: nest.CoilParams{Mat: 1, Short: 50, LotSplit: 1_000_000, ScrapMax: 20 * foot},
		Coils: []nest.Coil{{ID: "A", Lot: "A", Length: 68 * foot}, {ID: "B", Lot: "B", Length: 78 * foot}}}
	for i := range 14 {
		p.Lines = append(p.Lines, nest.Line{ID: fmt.Sprint("L", i), Order: fmt.Sprint("O", i), Length: 10 * foot, Qty: 1})
	}
	r, err := nest.Allocate(context.Background(), p, nest.Settings{Iterations: 5_000, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	checkCoilResult(t, p, r)
	want := p.Params.Short*10*foot + 8*foot + 8*foot // a panel short, two ends of 8 ft
	if r.Cost != want || r.Bound != want || r.Status != nest.Optimal {
		t.Fatalf("cost %d, bound %d, %s; want %d proved", r.Cost, r.Bound, r.Status, want)
	}
}

// With more orders than are dealt out one by one, the bound stays below the best
// of all plans: each order whole from one lot, split, or short.
func TestBoundOfManyOrdersHolds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := &nest.CoilProblem{Params: nest.CoilParams{LeadOut: rapid.Int64Range(0, 3).Draw(t, "out"), ScrapMax: rapid.Int64Range(0, 30).Draw(t, "scrap"),
			UsefulMin: 40, AwkwardPct: 50, Mat: rapid.Int64Range(1, 9).Draw(t, "mat"), Keep: rapid.Int64Range(0, 50).Draw(t, "keep"),
			Change: rapid.Int64Range(0, 40).Draw(t, "change"), LotSplit: rapid.Int64Range(0, 200).Draw(t, "split"), Short: 20}}
		lots := rapid.IntRange(2, 4).Draw(t, "lots")
		for i := range lots + 1 {
			p.Coils = append(p.Coils, nest.Coil{ID: fmt.Sprint("C", i), Lot: fmt.Sprint("P", i%lots), Length: rapid.Int64Range(20, 90).Draw(t, "length")})
		}
		// Thirteen orders: a few with a piece, the others with none, so that all
		// plans can be tried while the bound takes its way for many.
		for i := range 13 {
			qty := int64(0)
			if i < 5 {
				qty = 1
			}
			p.Lines = append(p.Lines, nest.Line{ID: fmt.Sprint("L", i), Order: fmt.Sprint("O", i), Length: rapid.Int64Range(5, 40).Draw(t, "piece"), Qty: qty})
		}
		r, err := nest.Allocate(context.Background(), p, nest.Settings{Iterations: 3_000, Seed: 1})
		if err != nil {
			t.Fatal(err)
		}
		if want := everyCoilPlan(p); r.Bound > want || r.Cost < want {
			t.Fatalf("bound %d, cost %d, the best of all plans %d", r.Bound, r.Cost, want)
		}
	})
}

// Many lots and few orders, and the other way round, are bounded in good time.
func TestBoundOfManyLotsIsQuick(t *testing.T) {
	for _, lines := range []int{12, 90} {
		p := weekOfCoils(3, 90, lines)
		ctx, cancel := context.WithTimeout(context.Background(), 20*time.Second)
		r, err := nest.Allocate(ctx, p, nest.Settings{Iterations: 10, Seed: 1})
		cancel()
		if err != nil || r.Stopped == nest.Cancelled {
			t.Fatalf("%d lines: %v, %s", lines, err, r.Stopped)
		}
		checkCoilResult(t, p, r)
	}
}
