package nest

import (
	"math"
	"math/rand/v2"
	"slices"
)

// trimSearch looks for cheap runs by ruin and recreate: it takes a few runs
// out and makes their pieces again in knapsack patterns at prices that are
// proportional to area, but noisy.
type trimSearch struct {
	cutter
	rng   *rand.Rand
	clock *clock
	bound int64

	now   []sheet
	best  []sheet
	least int64
	lack  float64 // penalty per square sixteenth that isn't made
	made  []int64
	rem   []int64 // wanted and not made
	left  []int64 // of each stock
	setup map[string]int
}

func newTrimSearch(s *shop, set Settings, c *clock, bound int64) *trimSearch {
	t := &trimSearch{cutter: cutter{shop: s, pool: make([]int64, len(s.want)), worth: make([]float64, len(s.want))},
		rng: rand.New(rand.NewPCG(set.Seed, 0x7472696d)), clock: c, bound: bound,
		made: make([]int64, len(s.want)), rem: make([]int64, len(s.want)), left: make([]int64, len(s.p.Stock)),
		setup: map[string]int{}, least: math.MaxInt64}
	for _, k := range s.p.Stock {
		if room, long := s.p.room(k), s.p.longest(k); room > 0 && long > 0 {
			whole := float64(s.p.sheetCost(k, long, room) + s.p.Params.Setup)
			t.lack = max(t.lack, 20*whole/float64(room)/float64(long))
		}
	}
	return t
}

const (
	trimCycle   = 1500  // steps from hot to cold
	trimSteps   = 6_000 // when the settings name no limit
	ruinMost    = 4
	handMost    = 5_000 // pieces for which planning by hand is quick enough to start from
	recreateTop = 4     // candidates for each sheet
)

func (t *trimSearch) run() {
	t.keep(t.simple())
	var pieces int64
	for _, n := range t.want {
		pieces += n
	}
	if pieces <= handMost {
		for _, way := range []Way{WidestFirst, FirstSheet} {
			t.keep(t.unify(t.tidy(byHand(t.shop, way))))
		}
		if full := t.filled(); full != nil {
			t.keep(t.unify(t.tidy(full)))
		}
	}
	t.now = t.recreate(nil)
	if t.keep(t.now); t.clock.out() {
		return
	}
	for cycle := 0; t.least > t.bound && !t.clock.out(); cycle++ {
		if cycle%2 == 1 {
			t.now = slices.Clone(t.best)
		}
		t.cycle()
	}
}

// simple gives each item sheets of its own, worked out at once, so that there
// is a plan however short the time.
func (t *trimSearch) simple() []sheet {
	t.tally(nil)
	var out []sheet
	for i, item := range t.p.Items {
		for k, st := range t.p.Stock {
			across := min(t.p.room(st)/item.Girth, t.p.Params.MaxStrips)
			along := min((t.p.longest(st)+t.p.Params.Saw)/(item.Length+t.p.Params.Saw), t.rem[i])
			if across < 1 || along < 1 || t.left[k] < 1 {
				continue
			}
			across = min(across, (t.rem[i]+along-1)/along)
			x := sheet{stock: k, length: t.p.longest(st), times: min((t.rem[i]+across*along-1)/(across*along), t.left[k])}
			used := along*(item.Length+t.p.Params.Saw) - t.p.Params.Saw
			for range across {
				x.strips = append(x.strips, strip{girth: t.of[i], uses: []use{{i, along}}, used: used})
			}
			t.close(&x)
			out = append(out, x)
			t.rem[i] = max(t.rem[i]-x.times*across*along, 0)
			if t.left[k] != math.MaxInt64 {
				t.left[k] -= x.times
			}
		}
	}
	return out
}

// cycle anneals once over trimCycle steps.
func (t *trimSearch) cycle() {
	current := t.total(t.now)
	hot := float64(t.least) * 0.01
	for i := 0; i < trimCycle && t.least > t.bound && !t.clock.out() && t.clock.step(); i++ {
		heat := hot*math.Pow(0.002, float64(i)/trimCycle) + 1e-9
		next := t.recreate(t.ruin())
		cost := t.total(next)
		if d := float64(cost - current); d <= 0 || t.rng.Float64() < math.Exp(-d/heat) {
			t.now, current = next, cost
			t.keep(next)
		}
	}
}

func (t *trimSearch) keep(s []sheet) {
	if cost := t.total(s); cost < t.least {
		t.least, t.best = cost, slices.Clone(s)
	}
}

// total is the cost of a plan, with a dear penalty for what it doesn't make.
func (t *trimSearch) total(s []sheet) int64 {
	cost := t.planCost(s)
	t.tally(s)
	for i, n := range t.rem {
		if n > 0 {
			item := t.p.Items[i]
			cost += int64(t.lack*float64(n)*float64(item.Girth)*float64(item.Length)) + 1
		}
	}
	return cost
}

// planCost is the cost by the definition of problem B.
func (s *shop) planCost(sheets []sheet) int64 {
	var cost int64
	seen := map[string]bool{}
	for _, x := range sheets {
		cost += s.cost(x)
		if !seen[x.key] {
			seen[x.key] = true
			cost += s.p.Params.Setup
		}
	}
	return cost
}

// tally counts what a plan makes, lacks and leaves in stock.
func (t *trimSearch) tally(s []sheet) {
	clear(t.made)
	clear(t.setup)
	for i, k := range t.p.Stock {
		t.left[i] = math.MaxInt64
		if k.Count != nil {
			t.left[i] = *k.Count
		}
	}
	for i, x := range s {
		t.count(x, x.times)
		t.setup[x.key] = i
	}
	for i, n := range t.want {
		t.rem[i] = max(n-t.made[i], 0)
	}
}

func (t *trimSearch) count(x sheet, times int64) {
	if t.left[x.stock] != math.MaxInt64 {
		t.left[x.stock] -= times
	}
	for _, s := range x.strips {
		for _, u := range s.uses {
			t.made[u.item] += times * u.n
		}
	}
}

// ruin gives the present plan without a few of its runs.
func (t *trimSearch) ruin() []sheet {
	s := slices.Clone(t.now)
	for range min(1+t.rng.IntN(ruinMost), len(s)) {
		i := t.rng.IntN(len(s))
		if s[i].times > 1 && t.rng.IntN(2) == 0 {
			s[i].times -= 1 + t.rng.Int64N(s[i].times-1)
			continue
		}
		s[i] = s[len(s)-1]
		s = s[:len(s)-1]
	}
	return s
}

// recreate adds sheets until everything is made or the stock is used up, then
// takes back what has become superfluous.
func (t *trimSearch) recreate(s []sheet) []sheet {
	blur := 0.3 * t.rng.Float64()
	for i, item := range t.p.Items {
		area := float64(item.Girth) * float64(item.Length+t.p.Params.Saw)
		t.worth[i] = area * (1 + blur*(t.rng.Float64()-0.5))
	}
	for {
		t.tally(s)
		if !slices.ContainsFunc(t.rem, func(n int64) bool { return n > 0 }) || t.clock.out() {
			break
		}
		x, ok := t.nextSheet(s)
		if !ok {
			break
		}
		s = merge(s, x)
	}
	if s = t.tidy(s); t.rng.IntN(4) == 0 {
		s = t.unify(s)
	}
	return s
}

// nextSheet tries a few sheets and gives the one that makes most for its cost.
func (t *trimSearch) nextSheet(s []sheet) (sheet, bool) {
	var best sheet
	top, blur := 0.0, 0.02
	if t.rng.IntN(6) == 0 {
		blur = 2 // now and then a sheet that looks dear leads to a cheaper plan
	}
	try := func(x sheet, times int64) {
		x.times = min(times, t.left[x.stock])
		if score := t.score(x) * (1 + blur*t.rng.Float64()); score > top {
			top, best = score, x
		}
	}
	for range recreateTop {
		stock, ok := t.anyStock()
		if !ok {
			return best, false
		}
		times := t.anyTimes()
		t.fillPool(times)
		x := t.fillSheet(stock, t.anyLength(stock))
		try(x, t.repeats(x, times))
	}
	if len(s) > 0 {
		like := s[t.rng.IntN(len(s))]
		if t.left[like.stock] > 0 {
			t.fillPool(1)
			x := t.refill(like, t.anyLength(like.stock))
			try(x, t.repeats(x, 1))
		}
	}
	return best, top > 0
}

func (t *trimSearch) anyStock() (int, bool) {
	from := t.rng.IntN(max(len(t.p.Stock), 1))
	for k := range t.p.Stock {
		i := (from + k) % len(t.p.Stock)
		if t.left[i] > 0 && t.p.room(t.p.Stock[i]) > 0 {
			return i, true
		}
	}
	return 0, false
}

// anyTimes guesses how often the next sheet may be made: once, or as often as
// makes a random item's number come out.
func (t *trimSearch) anyTimes() int64 {
	if t.rng.IntN(3) == 0 {
		return 1
	}
	open := make([]int, 0, 64)
	for i, n := range t.rem {
		if n > 0 {
			open = append(open, i)
		}
	}
	i := open[t.rng.IntN(len(open))]
	per := int64(1 + t.rng.IntN(2)*t.rng.IntN(6))
	return max((t.rem[i]+per-1)/per, 1)
}

// fillPool offers each item as often as a sheet made times over needs it,
// rounded up or down.
func (t *trimSearch) fillPool(times int64) {
	up := t.rng.IntN(2) == 0
	for i, n := range t.rem {
		t.pool[i] = n / times
		if n%times > 0 && (up || t.rng.IntN(4) == 0) {
			t.pool[i]++
		}
	}
}

// anyLength is the sheet's length, or a length that pieces of a coil cut come
// out of.
func (t *trimSearch) anyLength(stock int) int64 {
	k := t.p.Stock[stock]
	if k.Form == SheetForm {
		return k.Length
	}
	if t.rng.IntN(2) == 0 {
		return t.p.Params.MaxCut
	}
	saw := t.p.Params.Saw
	length := -saw
	for range 8 {
		i := t.rng.IntN(len(t.rem))
		size := t.p.Items[i].Length + saw
		if t.rem[i] == 0 || length+size > t.p.Params.MaxCut {
			continue
		}
		length += size * (1 + t.rng.Int64N(min(t.rem[i], (t.p.Params.MaxCut-length)/size)))
		if t.rng.IntN(2) == 0 {
			break
		}
	}
	return max(length, t.p.Params.MinCut)
}

// repeats is how often a sheet can be made without making more than wanted, but
// at least times.
func (t *trimSearch) repeats(x sheet, times int64) int64 {
	per := map[int]int64{}
	for _, s := range x.strips {
		for _, u := range s.uses {
			per[u.item] += u.n
		}
	}
	most := int64(math.MaxInt64)
	for i, n := range per {
		most = min(most, t.rem[i]/n)
	}
	if len(per) == 0 {
		return times
	}
	return max(most, times)
}

// score is the wanted area that a run makes for its cost.
func (t *trimSearch) score(x sheet) float64 {
	if x.times < 1 {
		return 0
	}
	per := map[int]int64{}
	for _, s := range x.strips {
		for _, u := range s.uses {
			per[u.item] += u.n
		}
	}
	area := 0.0
	for i := range t.want {
		if n := per[i]; n > 0 {
			area += float64(min(n*x.times, t.rem[i])) * t.worth[i]
		}
	}
	cost := float64(t.cost(x)) + 1
	if _, known := t.setup[x.key]; !known {
		cost += float64(t.p.Params.Setup) * (0.2 + 0.8*t.rng.Float64())
	}
	return area / cost
}

// merge adds a sheet to the runs, to the times of an equal run if there is one.
func merge(s []sheet, x sheet) []sheet {
	for i, y := range s {
		if y.stock == x.stock && y.length == x.length && y.key == x.key && sameStrips(y.strips, x.strips) {
			s[i].times += x.times
			return s
		}
	}
	return append(s, x)
}

func sameStrips(a, b []strip) bool {
	return slices.EqualFunc(a, b, func(x, y strip) bool { return x.girth == y.girth && slices.Equal(x.uses, y.uses) })
}

// tidy lowers the times of runs whose pieces are made more often than wanted.
func (t *trimSearch) tidy(s []sheet) []sheet {
	t.tally(s)
	out := s[:0]
	for _, x := range s {
		spare := x.times
		per := map[int]int64{}
		for _, p := range x.strips {
			for _, u := range p.uses {
				per[u.item] += u.n
			}
		}
		for i, n := range per {
			spare = min(spare, max(t.made[i]-t.want[i], 0)/n)
		}
		if spare > 0 {
			t.count(x, -spare)
			x.times -= spare
		}
		if x.times > 0 {
			out = append(out, x)
		}
	}
	return out
}
