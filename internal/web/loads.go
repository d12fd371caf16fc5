package web

import (
	"cmp"
	"html/template"
	"slices"
	"strconv"
	"strings"
	"time"

	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/order"
)

// loadTabs are what the Loads sheet holds.
func loadTabs(here string) []Link {
	tabs := []Link{{Name: "Loads", Path: "/loads"}, {Name: "Calendars", Path: "/loads/calendars"}, {Name: "Lifting", Path: "/loads/lifting"}, {Name: "Drive", Path: "/drive"}}
	for i := range tabs {
		tabs[i].Here = tabs[i].Name == here
	}
	return tabs
}

// loadsPage is what waits to be hauled, and the trips by day.
type loadsPage struct {
	Base
	Board   desk.Board
	Waiting []waitGroup
	Days    []tripDay

	Vehicle, On, Driver Field
	Chosen              map[int64]bool // orders and bundles that are ticked
	Parts               map[int64]bool
}

func (loadsPage) file() string { return "loads" }

// waitGroup is what waits for one promised day in one town.
type waitGroup struct {
	Day  time.Time
	City string
	List []desk.Waiting
}

// tripDay is the trips of one day.
type tripDay struct {
	Day   time.Time
	Trips []order.Trip
}

func (v *visit) newLoadsPage() (*loadsPage, error) {
	p := &loadsPage{
		Base:    Base{Title: "Loads", Sheet: "Loads", Block: Block{Thing: "Loads"}, Tabs: open(v.actor.Role, loadTabs("Loads"), "Loads")},
		Vehicle: Field{Name: "vehicle", Label: "Vehicle"},
		On:      Field{Name: "day", Label: "Day", Short: true, Auto: "off", Value: v.desk.Now().AddDate(0, 0, 1).Format("1/2/2006")},
		Driver:  Field{Name: "driver", Label: "Driver"},
		Chosen:  map[int64]bool{}, Parts: map[int64]bool{},
	}
	var err error
	if p.Board, err = v.desk.Board(v.ctx(), v.actor); err != nil {
		return nil, err
	}
	for _, one := range p.Board.Vehicles {
		p.Vehicle.Options = append(p.Vehicle.Options, Option{one.Code, one.Name + ", deck " + one.Deck.Pretty() + ", " + strconv.Itoa(one.Payload) + " lb"})
	}
	for _, one := range p.Board.Drivers {
		p.Driver.Options = append(p.Driver.Options, Option{strconv.FormatInt(one.ID, 10), one.Name})
	}
	p.Waiting, p.Days = grouped(p.Board.ToHaul), byDay(p.Board.Trips)
	return p, nil
}

// grouped puts what waits together by promised day, the soonest first, then town.
func grouped(list []desk.Waiting) []waitGroup {
	day := func(w desk.Waiting) time.Time { return w.Order.Promise.Truncate(24 * time.Hour) }
	slices.SortStableFunc(list, func(a, b desk.Waiting) int {
		return cmp.Or(day(a).Compare(day(b)), cmp.Compare(a.Order.ShipTo.City, b.Order.ShipTo.City))
	})
	var out []waitGroup
	for _, w := range list {
		if last := len(out) - 1; last < 0 || !out[last].Day.Equal(day(w)) || out[last].City != w.Order.ShipTo.City {
			out = append(out, waitGroup{Day: day(w), City: w.Order.ShipTo.City})
		}
		out[len(out)-1].List = append(out[len(out)-1].List, w)
	}
	return out
}

// byDay puts trips together by day, today and what comes first, then the past.
func byDay(trips []order.Trip) []tripDay {
	var out []tripDay
	for _, t := range slices.Backward(trips) {
		if last := len(out) - 1; last < 0 || !out[last].Day.Equal(t.Day) {
			out = append(out, tripDay{Day: t.Day})
		}
		out[len(out)-1].Trips = append(out[len(out)-1].Trips, t)
	}
	return out
}

func showLoads(v *visit) error {
	p, err := v.newLoadsPage()
	if err != nil {
		return err
	}
	return v.show(p)
}

// doBuildTrip makes a load of what was ticked: whole orders, or some of their
// bundles.
func doBuildTrip(v *visit) error {
	p, err := v.newLoadsPage()
	if err != nil {
		return err
	}
	t := order.Trip{Vehicle: v.choice(&p.Vehicle), Day: v.day(&p.On)}
	driver, _ := strconv.ParseInt(v.choice(&p.Driver), 10, 64) // the choice is one of the list
	for _, one := range p.Board.Drivers {
		if one.ID == driver {
			t.Driver, t.DriverID = one.Name, one.ID
		}
	}
	orders, only := v.ids("order"), v.ids("bundle")
	for _, id := range orders {
		p.Chosen[id] = true
	}
	for _, id := range only {
		p.Parts[id] = true
	}
	if err := v.wrongs(); err != nil {
		return v.again(p, err)
	}
	built, err := v.desk.BuildTrip(v.ctx(), v.actor, t, orders, only...)
	if err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying(recordPath("load", built.ID), "Load "+built.Number+" is being built. Pick its bundles, then let it leave.")
}

// ids reads the numbers of ticked boxes of one name; what isn't a number isn't
// among them.
func (v *visit) ids(name string) (out []int64) {
	for _, s := range v.c.Request.PostForm[name] {
		if id, err := strconv.ParseInt(s, 10, 64); err == nil && id > 0 && len(out) < 500 {
			out = append(out, id)
		}
	}
	return out
}

// tripPage is one load: drawn, weighed, counted, with its stops.
type tripPage struct {
	Base
	File      desk.TripFile
	Side, Top template.HTML
	Stops     []tripStop
	Roads     []roadRow
	Places    []placeRow
	Refused   bool // a rule refuses that it leaves

	Departs, Code, Despite Field
}

func (tripPage) file() string { return "trip" }

// tripStop is a stop as the page shows it.
type tripStop struct {
	order.Stop
	Order   order.Order
	Bundles []order.Bundle
	Photos  []order.Photo
	Place   Field
	Opens   Field
	Closes  Field
	Arrive  string
	Miles   string
	How     desk.Known
	Late    int // minutes
}

// roadRow is one distance that can be typed.
type roadRow struct {
	From, To string
	Miles    Field
}

// placeRow is where one place lies.
type placeRow struct {
	Place    string
	Position Field
}

// Under reports whether the load is on the road with nothing handed over yet.
func (p *tripPage) Under() bool {
	return p.File.Trip.State == order.OnRoad && !slices.ContainsFunc(p.Stops, func(s tripStop) bool { return !s.SignedAt.IsZero() })
}

// mostRoads bounds the distances a page asks for; beyond it positions serve better.
const mostRoads = 28

func (v *visit) newTripPage() (*tripPage, error) {
	id, err := v.id("id")
	if err != nil {
		return nil, err
	}
	f, err := v.desk.TripFile(v.ctx(), v.actor, id)
	if err != nil {
		return nil, err
	}
	p := &tripPage{
		File: f,
		Base: Base{Title: "Load " + f.Trip.Number, Sheet: "Loads", Tabs: open(v.actor.Role, loadTabs(""), ""), Block: Block{
			Thing: "Load", Number: f.Trip.Number, State: string(f.Trip.State), Date: f.Trip.Day.Format(time.DateOnly), By: f.Trip.Driver,
		}},
		Departs: Field{Name: "departs", Label: "Leaves the shop at", Short: true, Value: desk.ClockTime(f.Trip.Departs)},
		Code:    Field{Name: "code", Label: "Bundle's code", Auto: "off", Help: "Scan it with a reader, type it, or use the camera where the phone can."},
		Despite: Field{Name: "despite", Label: "Owner's reason to let it leave all the same", Optional: true, Help: "It stands in the log with your name."},
	}
	for _, verdict := range f.Load.Verdicts {
		p.Refused = p.Refused || verdict.Severity == "refuse"
	}
	if f.Assessed && len(f.Load.Placed) > 0 {
		view := f.Drawing()
		view.Width, view.Height = 960, 240
		p.Side = view.Side().SVG()
		view.Title += ", from above"
		p.Top = view.Top().SVG()
	}
	p.fillStops()
	p.fillRoads()
	return p, nil
}

func (p *tripPage) fillStops() {
	f := p.File
	for i, s := range f.Trip.Stops {
		n := strconv.Itoa(i)
		stop := tripStop{
			Stop: s, Order: f.Orders[s.OrderID], Bundles: f.On(s.OrderID),
			Place:  Field{Name: "place." + n, Label: "Stop", Keys: "numeric", Short: true, Value: strconv.Itoa(i + 1)},
			Opens:  Field{Name: "opens." + n, Label: "Opens", Short: true, Optional: true, Value: clockOrNone(s.Opens)},
			Closes: Field{Name: "closes." + n, Label: "Closes", Short: true, Optional: true, Value: clockOrNone(s.Closes)},
		}
		for _, photo := range f.Photos {
			if photo.StopID == s.ID {
				stop.Photos = append(stop.Photos, photo)
			}
		}
		if i < len(f.Roads.Route.Legs) {
			leg := f.Roads.Route.Legs[i]
			stop.Arrive, stop.Late = desk.ClockTime(int(leg.Begin+0.5)), int(leg.Late+0.5)
			stop.Miles, stop.How = strconv.FormatFloat(leg.Miles, 'f', 1, 64), f.Roads.Leg(i)
		}
		p.Stops = append(p.Stops, stop)
	}
}

func clockOrNone(minutes int) string {
	if minutes == 0 {
		return ""
	}
	return desk.ClockTime(minutes)
}

func (p *tripPage) fillRoads() {
	r := p.File.Roads
	for i, place := range r.Places {
		spot := placeRow{place, Field{Name: "position." + strconv.Itoa(i), Label: place, Optional: true, Help: "latitude, longitude in degrees"}}
		if at, ok := r.Positions[place]; ok {
			spot.Position.Value = at.Latitude + ", " + at.Longitude
		}
		p.Places = append(p.Places, spot)
		for j := range i {
			if len(p.Roads) == mostRoads || r.Places[j] == place {
				continue
			}
			road := roadRow{r.Places[j], place, Field{Name: "miles." + strconv.Itoa(len(p.Roads)), Label: r.Places[j] + " to " + place, Unit: "mi", Keys: "decimal", Short: true, Optional: true}}
			if r.How[j][i] == desk.Typed {
				road.Miles.Value = strconv.FormatFloat(r.Miles[j][i], 'f', 1, 64)
			} else {
				road.Miles.Help = string(r.How[j][i]) + ": " + strconv.FormatFloat(r.Miles[j][i], 'f', 1, 64) + " mi"
			}
			p.Roads = append(p.Roads, road)
		}
	}
}

func showTrip(v *visit) error {
	p, err := v.newTripPage()
	if err != nil {
		return err
	}
	return v.show(p)
}

// trip runs one step of a load and comes back to its page.
func (v *visit) trip(what string, do func(p *tripPage) error) error {
	p, err := v.newTripPage()
	if err != nil {
		return err
	}
	if err := do(p); err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying(recordPath("load", p.File.Trip.ID), what)
}

// doArrangeTrip puts the stops in the order that was typed, or in the best one.
func doArrangeTrip(v *visit) error {
	best := v.c.Request.PostForm.Get("how") == "best"
	what := "The stops are in your order."
	if best {
		what = "The stops are in the order that drives least within their times."
	}
	return v.trip(what, func(p *tripPage) error {
		departs := v.clock(&p.Departs)
		places := make([]int, len(p.Stops))
		stops := make([]order.Stop, len(p.Stops))
		for i := range p.Stops {
			s := &p.Stops[i]
			places[i] = v.whole(&s.Place)
			stops[i] = order.Stop{OrderID: s.OrderID, Seq: places[i], Opens: v.clock(&s.Opens), Closes: v.clock(&s.Closes)}
		}
		if err := v.wrongs(); err != nil {
			return err
		}
		slices.SortStableFunc(stops, func(a, b order.Stop) int { return cmp.Compare(a.Seq, b.Seq) })
		_, err := v.desk.ArrangeTrip(v.ctx(), v.actor, p.File.Trip.ID, v.number("version"), departs, stops, best)
		return err
	})
}

// clock reads a time of the day as minutes; an empty optional field is 0.
func (v *visit) clock(f *Field) int {
	s := v.text(f)
	if s == "" && f.Optional {
		return 0
	}
	minutes, err := readClock(s)
	if err != nil {
		v.note(f, err)
	}
	return minutes
}

// doKeepRoads remembers typed distances and positions.
func doKeepRoads(v *visit) error {
	return v.trip("Kept for this and later loads.", func(p *tripPage) error {
		var distances []order.Distance
		for i := range p.Roads {
			r := &p.Roads[i]
			was := r.Miles.Value
			if tenths := v.tenths(&r.Miles); r.Miles.Value != "" && r.Miles.Value != was {
				distances = append(distances, order.Distance{From: r.From, To: r.To, MilesTenths: tenths})
			}
		}
		var positions []order.Position
		for i := range p.Places {
			s := &p.Places[i]
			was := s.Position.Value
			if at := v.position(&s.Position, s.Place); s.Position.Value != "" && s.Position.Value != was {
				positions = append(positions, at)
			}
		}
		if err := v.wrongs(); err != nil {
			return err
		}
		return v.desk.KeepRoads(v.ctx(), v.actor, p.File.Trip.ID, distances, positions)
	})
}

// position reads where a place lies, as latitude, longitude.
func (v *visit) position(f *Field, place string) order.Position {
	s := v.text(f)
	if s == "" {
		return order.Position{}
	}
	lat, lon, ok := strings.Cut(s, ",")
	if !ok {
		v.wrong(f, "write latitude and longitude in degrees, such as 41.25, -95.93")
	}
	return order.Position{Place: place, Latitude: strings.TrimSpace(lat), Longitude: strings.TrimSpace(lon)}
}

// doCheckTrip checks a bundle off by its code.
func doCheckTrip(v *visit) error {
	return v.trip("Picked.", func(p *tripPage) error {
		code := strings.ToUpper(v.text(&p.Code))
		if code == "" {
			return fault.Invalidf("code", "scan or type the code on the bundle's label")
		}
		_, err := v.desk.CheckOffOnTrip(v.ctx(), v.actor, p.File.Trip.ID, code)
		return notFoundIs(err, "code")
	})
}

func doLeave(v *visit) error {
	return v.trip("Loaded. Each stop has its delivery ticket; the driver's page shows the stops.", func(p *tripPage) error {
		_, err := v.desk.LoadTrip(v.ctx(), v.actor, p.File.Trip.ID, v.number("version"), v.text(&p.Despite))
		return err
	})
}

func doTakeBack(v *visit) error {
	return v.trip("Taken back: the load is being built again.", func(p *tripPage) error {
		_, err := v.desk.TakeBack(v.ctx(), v.actor, p.File.Trip.ID, v.number("version"))
		return err
	})
}

func doDropTrip(v *visit) error {
	p, err := v.newTripPage()
	if err != nil {
		return err
	}
	if err := v.desk.DropTrip(v.ctx(), v.actor, p.File.Trip.ID); err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying("/loads", "Load "+p.File.Trip.Number+" is given up; its bundles stand in the shop again.")
}
