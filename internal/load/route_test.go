package load_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"ribdesk/internal/fault"
	"ribdesk/internal/load"
)

// randomTrip draws stops on a 60 by 60 minute square, with windows on some.
func randomTrip(rng *rand.Rand, n int, windows bool) load.Trip {
	t := load.Trip{Depart: 480}
	xs, ys := make([]float64, n+1), make([]float64, n+1)
	for i := range xs {
		xs[i], ys[i] = rng.Float64()*60, rng.Float64()*60
	}
	for i := range xs {
		var row []float64
		for j := range xs {
			row = append(row, math.Hypot(xs[i]-xs[j], ys[i]-ys[j]))
		}
		t.Minutes = append(t.Minutes, row)
	}
	t.Miles = t.Minutes
	for i := range n {
		s := load.Stop{Name: fmt.Sprint(i), Service: 15}
		if windows && rng.IntN(2) == 0 {
			s.Opens = 480 + float64(rng.IntN(360))
			s.Closes = s.Opens + float64(30+rng.IntN(120))
		}
		t.Stops = append(t.Stops, s)
	}
	return t
}

// bruteForce tries every order.
func bruteForce(t load.Trip) load.Route {
	var best load.Route
	found := false
	order := make([]int, len(t.Stops))
	for i := range order {
		order[i] = i
	}
	var try func(k int)
	try = func(k int) {
		if k == len(order) {
			if r := t.Drive(order); !found || worse(best, r) {
				best, found = r, true
			}
			return
		}
		for i := k; i < len(order); i++ {
			order[k], order[i] = order[i], order[k]
			try(k + 1)
			order[k], order[i] = order[i], order[k]
		}
	}
	try(0)
	return best
}

// worse reports whether a is later, or drives more at equal lateness, than b.
func worse(a, b load.Route) bool {
	if math.Abs(a.Late-b.Late) > 1e-6 {
		return a.Late > b.Late
	}
	return a.Driving > b.Driving+1e-6
}

func TestExactRouteEqualsBruteForce(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for i := range 60 {
		trip := randomTrip(rng, 1+i%7, i%2 == 0)
		trip.OneWay = i%5 == 0
		got, err := trip.Best()
		if err != nil || !got.Exact {
			t.Fatalf("%d: %v", i, err)
		}
		if want := bruteForce(trip); worse(got, want) || worse(want, got) {
			t.Errorf("%d: late %v driving %v, brute force %v and %v", i, got.Late, got.Driving, want.Late, want.Driving)
		}
	}
}

// The search must come within 1 % of the proven answer up to 12 stops.
func TestSearchIsWithinOnePercent(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	worst := 0.0
	for i := range 24 {
		trip := randomTrip(rng, 5+i%8, i%2 == 0)
		exact, err := trip.Best()
		if err != nil {
			t.Fatal(err)
		}
		trip.ExactTo = -1
		found, err := trip.Best()
		if err != nil || found.Exact {
			t.Fatalf("%d: exact %v, %v", i, found.Exact, err)
		}
		if worse(exact, found) {
			t.Errorf("%d: the search beats the proof: %v and %v", i, found.Driving, exact.Driving)
		}
		if found.Late > exact.Late*1.01+1e-6 {
			t.Errorf("%d: late %v, least %v", i, found.Late, exact.Late)
		}
		if math.Abs(found.Late-exact.Late) < 1e-6 {
			worst = max(worst, found.Driving/exact.Driving-1)
		}
	}
	if worst > 0.01 {
		t.Errorf("%.2f %% more driving than the least", worst*100)
	}
}

func TestRouteLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 7))
		trip := randomTrip(rng, rapid.IntRange(0, 11).Draw(t, "stops"), rapid.Bool().Draw(t, "windows"))
		trip.ExactTo = 7
		r, err := trip.Best()
		if err != nil {
			t.Fatal(err)
		}
		var seen []int
		clock, from, late := trip.Depart, 0, 0.0
		for _, l := range r.Legs {
			seen = append(seen, l.Stop)
			s := trip.Stops[l.Stop]
			clock += trip.Minutes[from][l.Stop+1]
			if math.Abs(clock-l.Arrive) > 1e-6 || l.Begin < s.Opens || l.Wait < -1e-6 {
				t.Fatalf("%+v at %v", l, clock)
			}
			clock, from, late = math.Max(clock, s.Opens)+s.Service, l.Stop+1, late+l.Late
		}
		if slices.Sort(seen); !slices.Equal(seen, upTo(len(trip.Stops))) || math.Abs(late-r.Late) > 1e-6 {
			t.Fatalf("stops %v, late %v of %v", seen, late, r.Late)
		}
		if again, _ := trip.Best(); fmt.Sprint(again) != fmt.Sprint(r) {
			t.Fatal("the same trip gives another route")
		}
		given := trip.Drive(upTo(len(trip.Stops)))
		if worse(r, given) {
			t.Fatalf("arrival order is better: %v, %v", given, r)
		}
	})
}

func upTo(n int) []int {
	var out []int
	for i := range n {
		out = append(out, i)
	}
	return out
}

func TestWindowsRuleTheOrder(t *testing.T) {
	// The near stop opens in the afternoon, the far one closes at ten.
	trip := load.Trip{Depart: 480,
		Stops:   []load.Stop{{Name: "near", Opens: 780, Closes: 900, Service: 20}, {Name: "far", Opens: 480, Closes: 600, Service: 20}},
		Minutes: [][]float64{{0, 10, 60}, {10, 0, 55}, {60, 55, 0}}}
	r, err := trip.Best()
	if err != nil || r.Legs[0].Stop != 1 || r.Late != 0 || r.Legs[1].Wait != 780-(480+60+20+55) {
		t.Errorf("%+v, %v", r, err)
	}
	if r.Driving != 125 || r.Back != 810 || r.Miles != 0 {
		t.Errorf("%+v", r)
	}
	// Forty late minutes that can't be avoided are said, not hidden.
	trip.Stops[1].Closes = 500
	if r, _ := trip.Best(); r.Late != 40 || r.Legs[0].Late != 40 {
		t.Errorf("%+v", r)
	}
}

func TestTripFaults(t *testing.T) {
	trip := load.Trip{Depart: -1, Stops: []load.Stop{{Opens: 10, Closes: 5, Service: math.NaN()}}, Minutes: [][]float64{{0, -1}, {0}}, Miles: [][]float64{{0}}}
	_, err := trip.Best()
	var fields []string
	for _, f := range fault.All(err) {
		fields = append(fields, f.Field)
	}
	if got := strings.Join(fields, " "); got != "stops.0.closes stops.0.service depart minutes.0.1 minutes.1 miles" {
		t.Errorf("got %s", got)
	}
	r, err := load.Trip{Depart: 480, Minutes: [][]float64{{0}}}.Best()
	if err != nil || len(r.Legs) != 0 || r.Back != 480 {
		t.Errorf("no stops: %+v, %v", r, err)
	}
}

func TestStraightLine(t *testing.T) {
	// One degree of a great circle of 6371.0 km radius is 69.09 miles.
	miles, minutes, err := load.StraightLine([]load.Spot{{0, 0}, {1, 0}, {0, 1}}, 1, 60)
	if err != nil || math.Abs(miles[0][1]-69.09) > 0.01 || math.Abs(minutes[0][2]-69.09) > 0.01 || miles[1][1] != 0 {
		t.Errorf("%v, %v", miles, err)
	}
	if far, _, _ := load.StraightLine([]load.Spot{{0, 0}, {0, 180}}, 2, 60); math.Abs(far[0][1]-2*math.Pi*6371/1.609344) > 0.1 {
		t.Errorf("half round the earth: %v", far[0][1])
	}
	if _, _, err := load.StraightLine([]load.Spot{{91, 0}}, math.NaN(), 0); len(fault.All(err)) != 3 {
		t.Errorf("got %v", err)
	}
}

func BenchmarkRoute12(b *testing.B) {
	trip := randomTrip(rand.New(rand.NewPCG(5, 6)), 12, true)
	for b.Loop() {
		if _, err := trip.Best(); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkRoute12Search(b *testing.B) {
	trip := randomTrip(rand.New(rand.NewPCG(5, 6)), 12, true)
	trip.ExactTo = -1
	for b.Loop() {
		if _, err := trip.Best(); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkRoute40(b *testing.B) {
	trip := randomTrip(rand.New(rand.NewPCG(5, 6)), 40, true)
	for b.Loop() {
		if _, err := trip.Best(); err != nil {
			b.Fatal(err)
		}
	}
}
