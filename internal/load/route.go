package load

import (
	"cmp"
	"fmt"
	"math"

	"ribdesk/internal/fault"
)

// Stop is one place of a trip. Times are minutes of the day.
type Stop struct {
	Name    string
	Opens   float64 // earliest start of unloading
	Closes  float64 // latest start of unloading; 0 for no limit
	Service float64 // minutes there
}

// Trip is a routing problem: from the shop to every stop and back. Row and
// column 0 of the matrices are the shop, i is stop i-1.
type Trip struct {
	Stops   []Stop
	Depart  float64     // minutes of the day
	Minutes [][]float64 // driving times, need not be the same both ways
	Miles   [][]float64 // for the ticket; nil leaves them out
	OneWay  bool        // the way back doesn't count
	ExactTo int         // most stops solved exactly; 0 takes 12, at most 13, negative none
	Seed    uint64      // of the search above that
}

// Leg is one drive of a route and the stop at its end.
type Leg struct {
	Stop    int // index into Trip.Stops
	Minutes float64
	Miles   float64
	Arrive  float64 // minutes of the day
	Wait    float64
	Begin   float64 // of unloading
	Late    float64 // past Closes, 0 when in time
	Leave   float64
}

// Route is an order of stops with its times.
type Route struct {
	Legs    []Leg
	Late    float64 // minutes past closing, all stops together
	Driving float64 // minutes, with the way back unless one-way
	Miles   float64
	Back    float64 // minutes of the day; at the last stop's end when one-way
	Exact   bool    // proven least; otherwise found by search
}

const (
	usualExact  = 12
	mostExact   = 14
	mostStops   = 60
	weekMinutes = 7 * 24 * 60.0
)

// Check gives what is wrong with the problem at stops.0.closes, minutes.0.1 and
// the like.
func (t Trip) Check() error {
	var bad fault.List
	if len(t.Stops) > mostStops {
		bad.Addf("stops", "a trip has %d stops at most", mostStops)
	}
	for i, s := range t.Stops {
		at := fmt.Sprintf("stops.%d.", i)
		if !sensible(s.Opens, weekMinutes) || !sensible(s.Closes, weekMinutes) || s.Closes != 0 && s.Closes < s.Opens {
			bad.Addf(at+"closes", "the stop must close after it opens")
		}
		if !sensible(s.Service, weekMinutes) {
			bad.Addf(at+"service", "give the minutes of unloading")
		}
	}
	if !sensible(t.Depart, weekMinutes) {
		bad.Addf("depart", "give the time of departure")
	}
	checkMatrix(&bad, "minutes", t.Minutes, len(t.Stops)+1)
	if t.Miles != nil {
		checkMatrix(&bad, "miles", t.Miles, len(t.Stops)+1)
	}
	return bad.Err()
}

func checkMatrix(bad *fault.List, field string, m [][]float64, n int) {
	if len(m) != n {
		bad.Addf(field, "give %d rows of distances: the shop and each stop", n)
		return
	}
	for i, row := range m {
		if len(row) != n {
			bad.Addf(fmt.Sprintf("%s.%d", field, i), "give %d distances: to the shop and to each stop", n)
			continue
		}
		for j, x := range row {
			if !sensible(x, weekMinutes) {
				bad.Addf(fmt.Sprintf("%s.%d.%d", field, i, j), "a distance can't be negative or longer than a week")
			}
		}
	}
}

// standing is what a partial route has come to.
type standing struct {
	late, driving, clock float64
}

// compare puts less lateness first, then less driving, then an earlier end.
func (a standing) compare(b standing) int {
	const same = 1e-9
	order := func(x, y float64) int {
		if math.Abs(x-y) <= same {
			return 0
		}
		return cmp.Compare(x, y)
	}
	return cmp.Or(order(a.late, b.late), order(a.driving, b.driving), order(a.clock, b.clock))
}

// dominates reports whether a is no worse than b in every part, so that nothing
// that follows can make b the better one.
func (a standing) dominates(b standing) bool {
	return a.late <= b.late && a.driving <= b.driving && a.clock <= b.clock
}

// visit drives from one place to a stop and unloads there. Places count the
// shop as 0.
func (t *Trip) visit(at standing, from, to int) standing {
	s := t.Stops[to-1]
	drive := t.Minutes[from][to]
	begin := max(at.clock+drive, s.Opens)
	late := 0.0
	if s.Closes > 0 {
		late = max(0, begin-s.Closes)
	}
	return standing{at.late + late, at.driving + drive, begin + s.Service}
}

// home drives back to the shop.
func (t *Trip) home(at standing, from int) standing {
	if t.OneWay {
		return at
	}
	drive := t.Minutes[from][0]
	return standing{at.late, at.driving + drive, at.clock + drive}
}

// Best orders the stops: least minutes past closing times, then least driving,
// then earliest back. Up to ExactTo stops the answer is proven, above that it
// is found by a search that gives the same answer for the same seed.
func (t Trip) Best() (Route, error) {
	if err := t.Check(); err != nil {
		return Route{}, err
	}
	limit := min(mostExact, t.ExactTo)
	if t.ExactTo == 0 {
		limit = usualExact
	}
	if len(t.Stops) <= limit {
		if order, ok := t.exact(); ok {
			r := t.Drive(order)
			r.Exact = true
			return r, nil
		}
	}
	return t.Drive(t.search()), nil
}

// Drive gives the times of a given order of stops, each an index into Stops.
// The order must name existing stops of a checked trip.
func (t Trip) Drive(order []int) Route {
	var r Route
	at := standing{clock: t.Depart}
	from := 0
	for _, stop := range order {
		to := stop + 1
		leg := Leg{Stop: stop, Minutes: t.Minutes[from][to], Arrive: at.clock + t.Minutes[from][to]}
		next := t.visit(at, from, to)
		leg.Leave, leg.Late = next.clock, next.late-at.late
		leg.Begin = next.clock - t.Stops[stop].Service
		leg.Wait = leg.Begin - leg.Arrive
		leg.Miles = t.miles(from, to)
		r.Miles += leg.Miles
		r.Legs = append(r.Legs, leg)
		at, from = next, to
	}
	if from != 0 && !t.OneWay {
		r.Miles += t.miles(from, 0)
	}
	if from != 0 {
		at = t.home(at, from)
	}
	r.Late, r.Driving, r.Back = at.late, at.driving, at.clock
	return r
}

func (t Trip) miles(from, to int) float64 {
	if t.Miles == nil {
		return 0
	}
	return t.Miles[from][to]
}

// label is a route through a set of stops to its last one.
type label struct {
	standing
	before *label
	stop   int // place, 1 up
}

// mostLabels bounds the exact method's work; past it the search takes over.
const mostLabels = 2_000_000

// exact runs dynamic programming over sets of stops. For each set and last stop
// it keeps every route that no other dominates in lateness, driving and clock,
// so that waiting at a window can't hide a better order.
func (t *Trip) exact() ([]int, bool) {
	n := len(t.Stops)
	if n == 0 {
		return nil, true
	}
	fronts := make([][]*label, (1<<n)*n)
	made := 0
	for i := range n {
		fronts[(1<<i)*n+i] = []*label{{t.visit(standing{clock: t.Depart}, 0, i+1), nil, i + 1}}
	}
	for set := 1; set < 1<<n; set++ {
		for last := range n {
			for _, l := range fronts[set*n+last] {
				for next := range n {
					if set&(1<<next) != 0 {
						continue
					}
					at := (set|1<<next)*n + next
					fronts[at] = insert(fronts[at], &label{t.visit(l.standing, last+1, next+1), l, next + 1})
					if made++; made > mostLabels {
						return nil, false
					}
				}
			}
		}
	}
	var best *label
	var end standing
	for last := range n {
		for _, l := range fronts[((1<<n)-1)*n+last] {
			if e := t.home(l.standing, last+1); best == nil || e.compare(end) < 0 {
				best, end = l, e
			}
		}
	}
	order := make([]int, n)
	for i := n - 1; i >= 0; i-- {
		order[i], best = best.stop-1, best.before
	}
	return order, true
}

// insert adds a label to a front unless one there dominates it, and drops those
// it dominates.
func insert(front []*label, l *label) []*label {
	kept := front[:0]
	for i, f := range front {
		if f.dominates(l.standing) {
			return append(kept, front[i:]...)
		}
		if !l.dominates(f.standing) {
			kept = append(kept, f)
		}
	}
	return append(kept, l)
}
