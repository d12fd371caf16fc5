package desk

import (
	"context"
	"math"
	"strconv"

	"ribdesk/internal/fault"
	"ribdesk/internal/load"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
)

// Known says how a distance is known.
type Known string

// The ways to know a distance.
const (
	Typed    Known = "typed"         // somebody typed it
	Straight Known = "straight line" // between typed positions, with a detour factor
	Guessed  Known = "guessed"       // the farther of the two places from the shop
)

// unloading is the usual time at a stop, minutes; common practice, no published
// source.
const unloading = 20

// Roads is what is known of the way of a trip, and the way as it stands.
type Roads struct {
	Places    []string // the shop, then each stop in order
	Miles     [][]float64
	How       [][]Known
	Positions map[string]order.Position
	Route     load.Route
}

// Guesses counts the legs of the way as it stands whose distance is only guessed.
func (r Roads) Guesses() (n int) {
	at := 0
	for _, leg := range r.Route.Legs {
		if r.How[at][leg.Stop+1] == Guessed {
			n++
		}
		at = leg.Stop + 1
	}
	return n
}

// Leg gives how the distance of the i-th leg of the way is known.
func (r Roads) Leg(i int) Known {
	from := 0
	if i > 0 {
		from = r.Route.Legs[i-1].Stop + 1
	}
	return r.How[from][r.Route.Legs[i].Stop+1]
}

// drive reads what is known of the roads and times the trip's stops as they stand.
func (f *TripFile) drive(tx *store.Tx, s *snapshot) (err error) {
	if len(f.Trip.Stops) == 0 {
		return nil
	}
	if f.Roads, err = f.roads(tx, s); err != nil {
		return err
	}
	order := make([]int, len(f.Trip.Stops))
	for i := range order {
		order[i] = i
	}
	t := f.problem()
	if err := t.Check(); err != nil {
		return err
	}
	f.Roads.Route = t.Drive(order)
	return nil
}

// problem is the trip as the route search sees it.
func (f *TripFile) problem() load.Trip {
	t := load.Trip{Depart: float64(f.Trip.Departs), Miles: f.Roads.Miles, Minutes: make([][]float64, len(f.Roads.Miles))}
	for i, row := range f.Roads.Miles {
		t.Minutes[i] = make([]float64, len(row))
		for j, miles := range row {
			t.Minutes[i][j] = miles / load.UsualSpeed * 60
		}
	}
	for _, stop := range f.Trip.Stops {
		t.Stops = append(t.Stops, load.Stop{Name: f.Orders[stop.OrderID].Customer, Opens: float64(stop.Opens), Closes: float64(stop.Closes), Service: unloading})
	}
	return t
}

// bestOrder puts the trip's stops in the order that drives least in time.
func (f *TripFile) bestOrder(tx *store.Tx, s *snapshot) (err error) {
	if f.Roads, err = f.roads(tx, s); err != nil {
		return err
	}
	best, err := f.problem().Best()
	if err != nil {
		return err
	}
	stops := make([]order.Stop, len(f.Trip.Stops))
	for i, leg := range best.Legs {
		stops[i] = f.Trip.Stops[leg.Stop]
	}
	f.Trip.Stops = stops
	return nil
}

// roads gathers distances: typed ones first, then straight lines between typed
// positions, then a guess.
func (f *TripFile) roads(tx *store.Tx, s *snapshot) (Roads, error) {
	r := Roads{Places: []string{s.seller.Address.Line()}, Positions: map[string]order.Position{}}
	fromShop := []float64{0}
	for _, stop := range f.Trip.Stops {
		o := f.Orders[stop.OrderID]
		r.Places = append(r.Places, o.ShipTo.Line())
		fromShop = append(fromShop, float64(o.MilesTenths)/10)
	}
	typed, err := tx.Distances(r.Places)
	if err != nil {
		return r, err
	}
	positions, err := tx.Positions(r.Places)
	if err != nil {
		return r, err
	}
	for _, p := range positions {
		r.Positions[p.Place] = p
	}
	r.fill(fromShop, typed)
	return r, nil
}

func (r *Roads) fill(fromShop []float64, typed []order.Distance) {
	known := map[[2]string]float64{}
	for _, d := range typed {
		known[[2]string{d.From, d.To}] = float64(d.MilesTenths) / 10
		known[[2]string{d.To, d.From}] = float64(d.MilesTenths) / 10
	}
	n := len(r.Places)
	r.Miles, r.How = make([][]float64, n), make([][]Known, n)
	for i := range n {
		r.Miles[i], r.How[i] = make([]float64, n), make([]Known, n)
		for j := range n {
			r.Miles[i][j], r.How[i][j] = r.between(i, j, fromShop, known)
		}
	}
}

func (r *Roads) between(i, j int, fromShop []float64, known map[[2]string]float64) (float64, Known) {
	if i == j || r.Places[i] == r.Places[j] {
		return 0, Typed
	}
	if miles, ok := known[[2]string{r.Places[i], r.Places[j]}]; ok {
		return miles, Typed
	}
	if far := fromShop[max(i, j)]; min(i, j) == 0 && far > 0 {
		return far, Typed
	}
	a, b := r.spot(i), r.spot(j)
	if a != nil && b != nil {
		if miles, _, err := load.StraightLine([]load.Spot{*a, *b}, load.UsualDetour, load.UsualSpeed); err == nil {
			return miles[0][1], Straight
		}
	}
	return math.Max(fromShop[i], fromShop[j]), Guessed
}

func (r *Roads) spot(i int) *load.Spot {
	p, ok := r.Positions[r.Places[i]]
	if !ok {
		return nil
	}
	lat, err1 := strconv.ParseFloat(p.Latitude, 64)
	lon, err2 := strconv.ParseFloat(p.Longitude, 64)
	if err1 != nil || err2 != nil {
		return nil
	}
	return &load.Spot{Lat: lat, Lon: lon}
}

// KeepRoads remembers distances and positions that somebody typed, for this and
// every later trip.
func (d *Desk) KeepRoads(ctx context.Context, actor party.Actor, tripID int64, distances []order.Distance, positions []order.Position) error {
	if err := allow(actor, party.Owner, party.Counter, party.Driver); err != nil {
		return err
	}
	var l fault.List
	for i, dist := range distances {
		if dist.MilesTenths < 0 || dist.MilesTenths > 10_000 {
			l.Addf("miles."+strconv.Itoa(i), "give the road miles, 0 to 1,000")
		}
	}
	for i, p := range positions {
		l.Add("", checkPosition(i, p))
	}
	if err := l.Err(); err != nil {
		return err
	}
	return d.store.Write(ctx, func(tx *store.Tx) error {
		for _, dist := range distances {
			if err := tx.SaveDistance(dist); err != nil {
				return err
			}
		}
		for _, p := range positions {
			if err := tx.SavePosition(p); err != nil {
				return err
			}
		}
		return tx.Log(actor, "kept roads", "load", tripID, map[string]int{"distances": len(distances), "positions": len(positions)})
	})
}

func checkPosition(i int, p order.Position) error {
	within := func(s string, most float64) bool {
		x, err := strconv.ParseFloat(s, 64)
		return err == nil && math.Abs(x) <= most
	}
	if !within(p.Latitude, 90) || !within(p.Longitude, 180) {
		return fault.Invalidf("position."+strconv.Itoa(i), "write latitude and longitude in degrees, such as 41.25, -95.93")
	}
	return nil
}
