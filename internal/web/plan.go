package web

import (
	"fmt"
	"html/template"
	"net/url"
	"strconv"
	"strings"
	"time"

	"ribdesk/internal/desk"
	"ribdesk/internal/drawing"
	"ribdesk/internal/measure"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
)

// planPage is the run plan: a sentence that says how good it is, the machines'
// lanes over the week, and below them the same as lists.
type planPage struct {
	Base
	Plan     desk.RunPlan
	Says     []string
	Needs    []string // what needs a hand, each a sentence
	Week     time.Time
	Prev     string
	Next     string
	ThisWeek bool
	Wide     template.HTML
	Narrow   template.HTML
	Lanes    []laneList
	Spots    *spotMap
	Many     bool // runs, so that they print smaller
	CanMove  bool
	Costs    bool
	Machines []Option

	At Field // where a run is pinned; ID by its line
}

func (planPage) file() string { return "plan" }

// laneList is one machine's runs as a list.
type laneList struct {
	Machine stock.Machine
	Runs    []runRow
	Done    int // lines made in this week
	Beyond  int // runs that start after it
}

// runRow is a run with what the list and its forms need.
type runRow struct {
	desk.Run
	No     int
	First  int64 // line that names it
	Code   string
	Swatch template.HTML
	Orders string
	Feet   string
	Near   bool // begun, or too near to be moved
	Beyond bool // it starts after the week that is shown
}

// spotMap is what the script lays over the lanes to drag runs.
type spotMap struct {
	Width, Height float64
	Bands         []spot // one a machine, to see where a run is dropped
	Spots         []spot
}

type spot struct {
	drawing.Rect
	Line    int64
	Machine string
	Near    bool
	Name    string
}

// planTabs are what the Run plan sheet holds.
func (v *visit) planTabs(here string) []Link {
	return open(v.actor.Role, []Link{
		{Name: "Plan", Path: "/plan"}, {Name: "Best plan", Path: "/plan/proposal"}, {Name: "Calendar", Path: "/plan/calendar"}, {Name: "History", Path: "/plan/history"}, {Name: "Floor", Path: "/floor"},
	}, here)
}

func (v *visit) newPlanPage() (*planPage, error) {
	seller, _, err := v.desk.Seller(v.ctx())
	if err != nil {
		return nil, err
	}
	zone := seller.Location()
	now := v.desk.Now().In(zone)
	monday := mondayOf(now)
	week := monday
	if day, err := time.ParseInLocation(time.DateOnly, v.query("week"), zone); err == nil {
		week = mondayOf(day)
	}
	plan, err := v.desk.RunPlan(v.ctx(), week, week.AddDate(0, 0, 7))
	if err != nil {
		return nil, err
	}
	p := &planPage{
		Base: Base{Title: "Run plan", Sheet: "Run plan", Tabs: v.planTabs("Plan"), Block: Block{Thing: "Run plan", Number: "week of " + week.Format("Jan 2"), State: planState(plan)}},
		Plan: plan, Week: week, ThisWeek: week.Equal(monday), Prev: weekPath(week.AddDate(0, 0, -7)), Next: weekPath(week.AddDate(0, 0, 7)),
		CanMove: admitted(v.actor.Role, "/plan/proposal"), Costs: v.actor.Role != party.Operator,
	}
	for _, m := range plan.Machines {
		p.Machines = append(p.Machines, Option{m.Code, m.Name})
	}
	p.say()
	p.list(seller.FrozenHours)
	view := p.lanes("lanes", week, 7)
	p.Wide, p.Spots = view.Picture().SVG(), p.spots(view)
	from := week
	if p.ThisWeek {
		from = now
	}
	narrow := p.lanes("lanes-phone", from, 2)
	narrow.Width = 560
	p.Narrow = narrow.Picture().SVG()
	return p, nil
}

func mondayOf(t time.Time) time.Time {
	y, m, d := t.Date()
	return time.Date(y, m, d-int(t.Weekday()+6)%7, 0, 0, 0, 0, t.Location())
}

func weekPath(day time.Time) string { return "/plan?week=" + day.Format(time.DateOnly) }

func planState(p desk.RunPlan) string {
	switch {
	case p.Last == nil:
		return "none adopted"
	case p.Drifted > 0 || len(p.Unplaced) > 0 || !p.Ahead.Known:
		return "to be looked at"
	}
	return "adopted"
}

func showPlan(v *visit) error {
	p, err := v.newPlanPage()
	if err != nil {
		return err
	}
	return v.show(p)
}

// say puts the plan's worth and what needs a hand into words.
func (p *planPage) say() {
	plan := p.Plan
	switch {
	case len(plan.Runs) == 0:
		p.Says = append(p.Says, "Nothing is planned. Accepted orders come in by the best plan.")
	case plan.Ahead.Known:
		p.Says = append(p.Says, minutesSaid(plan.Ahead.Minutes)+" of changeover ahead. "+lateSaid(plan.Ahead.Late))
	}
	if last := plan.Last; last != nil && len(plan.Runs) > 0 {
		p.Says = append(p.Says, savedSaid(last.FirstMinutes-last.Minutes, last.Saved.Format(), p.Costs), boundSaid(int64(last.Possible)))
	}
	if n := len(plan.Unplaced); n > 0 {
		p.Needs = append(p.Needs, fmt.Sprintf("%s for a place.", countSaid(n, "line waits", "lines wait")))
	}
	switch {
	case !plan.Ahead.Known:
		p.Needs = append(p.Needs, "The calendar has no room for the plan in this order any more.")
	case plan.Drifted > 0:
		p.Needs = append(p.Needs, fmt.Sprintf("As things stand, %s later than planned.", countSaid(plan.Drifted, "line ends", "lines end")))
	}
}

func countSaid(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + many
}

func minutesSaid(n int64) string { return countSaid(int(n), "minute", "minutes") }

// spanSaid writes a stretch of time as days and hours, or hours and minutes.
func spanSaid(d time.Duration) string {
	const day = 24 * time.Hour
	days, hours, minutes := int(d/day), int(d%day/time.Hour), int(d%time.Hour/time.Minute)
	var parts []string
	if days > 0 {
		parts = append(parts, countSaid(days, "day", "days"))
	}
	if hours > 0 {
		parts = append(parts, fmt.Sprintf("%d h", hours))
	}
	if days == 0 && (minutes > 0 || hours == 0) {
		parts = append(parts, fmt.Sprintf("%d min", minutes))
	}
	return strings.Join(parts, " ")
}

func lateSaid(n int) string {
	if n == 0 {
		return "Every promise is kept."
	}
	return countSaid(n, "order misses its promise.", "orders miss their promise.")
}

// savedSaid tells the saving against first come, first served.
func savedSaid(minutes int, worth string, costs bool) string {
	switch {
	case minutes > 0 && costs:
		return fmt.Sprintf("Its runs save %s, or %s, against first come, first served.", minutesSaid(int64(minutes)), worth)
	case minutes > 0:
		return fmt.Sprintf("Its runs save %s against first come, first served.", minutesSaid(int64(minutes)))
	case minutes == 0:
		return "First come, first served would change over for as many minutes."
	}
	return fmt.Sprintf("It changes over %s more than first come, first served, to be on time.", minutesSaid(int64(-minutes)))
}

// boundSaid tells how far the plan can be from the best.
func boundSaid(possible int64) string {
	switch {
	case possible < 0:
		return "The order of the runs is a person's; how much could still be saved, the best plan shows."
	case possible == 0:
		return "No plan that is as punctual changes over for less."
	}
	return fmt.Sprintf("At most %s of changeover could still be saved.", minutesSaid(possible))
}

// list groups the runs by machine.
func (p *planPage) list(frozenHours int) {
	near := p.Plan.Now.Add(time.Duration(frozenHours) * time.Hour)
	shown := 0
	for _, m := range p.Plan.Machines {
		lane := laneList{Machine: m}
		for _, r := range p.Plan.Runs {
			if r.Machine != m.Code {
				continue
			}
			row := newRunRow(r, len(lane.Runs)+1, near)
			if row.Beyond = !r.Start.Before(p.Plan.To); row.Beyond {
				lane.Beyond++
			}
			lane.Runs = append(lane.Runs, row)
		}
		for _, r := range p.Plan.Done {
			if r.Machine == m.Code {
				lane.Done += len(r.Lines)
			}
		}
		p.Lanes = append(p.Lanes, lane)
		shown += len(lane.Runs) - lane.Beyond
	}
	p.Many = shown > manyRuns
}

// manyRuns is what a sheet of paper holds at its usual size.
const manyRuns = 20

func newRunRow(r desk.Run, no int, near time.Time) runRow {
	row := runRow{Run: r, No: no, First: r.Lines[0].Line.ID, Code: r.Setup.Profile, Near: r.Begun() || !r.Start.After(near)}
	row.Swatch = template.HTML(strings.Replace(string(swatchOf(r.Colour)), "swatch-", fmt.Sprintf("swatch-%d-", row.First), 1))
	row.Orders = ordersOf(r)
	var feet measure.Length
	for _, l := range r.Lines {
		feet += l.Line.Feet()
	}
	row.Feet = wholeFeet(feet)
	return row
}

func ordersOf(r desk.Run) string {
	var numbers []string
	seen := map[string]bool{}
	for _, l := range r.Lines {
		if !seen[l.Number] && l.Number != "" {
			numbers = append(numbers, l.Number)
		}
		seen[l.Number] = true
	}
	return strings.Join(numbers, ", ")
}

// lanes draws the machines over so many days.
func (p *planPage) lanes(id string, from time.Time, days int) drawing.Lanes {
	view := drawing.Lanes{
		ID: id, Title: "Run plan", Desc: "The same runs stand in the lists below, machine by machine.",
		First: from, Days: p.usedDays(from, days), Now: p.Plan.Now.In(from.Location()), NowLabel: "now",
	}
	view.Open, view.Close = workingDay(p.Plan)
	for d := range view.Days {
		view.DayNames = append(view.DayNames, from.AddDate(0, 0, d).Format("Mon 2"))
	}
	for _, m := range p.Plan.Machines {
		lane := drawing.Lane{Name: m.Name}
		for _, h := range p.Plan.Open[m.Code] {
			lane.Open = append(lane.Open, drawing.Hours(h))
		}
		for _, b := range p.Plan.Blocks {
			if b.Machine == m.Code && b.Kind != stock.Opening {
				lane.Blocks = append(lane.Blocks, takenBlock(b))
			}
		}
		for _, runs := range [][]desk.Run{p.Plan.Done, p.Plan.Runs} {
			for _, r := range runs {
				if r.Machine == m.Code {
					lane.Blocks = append(lane.Blocks, runBlocks(r, p.Plan.Open[m.Code])...)
				}
			}
		}
		view.Lanes = append(view.Lanes, lane)
	}
	return view
}

// usedDays leaves out the days at the end, such as a weekend, on which no
// machine is open and nothing runs.
func (p *planPage) usedDays(from time.Time, days int) int {
	last := from.AddDate(0, 0, 1)
	reach := func(at time.Time) {
		if at.After(last) {
			last = at
		}
	}
	for _, spans := range p.Plan.Open {
		for _, s := range spans {
			if s.From.Before(from.AddDate(0, 0, days)) {
				reach(s.To)
			}
		}
	}
	for _, r := range p.Plan.Runs {
		if r.Start.Before(from.AddDate(0, 0, days)) {
			reach(r.End)
		}
	}
	used := 0
	for used < days && from.AddDate(0, 0, used).Before(last) {
		used++
	}
	return used
}

func takenBlock(b stock.Block) drawing.Block {
	kind := drawing.BlockDown
	if b.Kind == stock.OwnJob {
		kind = drawing.BlockOwn
	}
	label := b.Reason
	if label == "" {
		label = string(b.Kind)
	}
	return drawing.Block{Kind: kind, Start: b.From, End: b.To, Label: label}
}

// runBlocks draws a run with the changeover before it, which goes on only while
// the machine is open.
func runBlocks(r desk.Run, open []stock.Span) []drawing.Block {
	var out []drawing.Block
	if r.ChangeMinutes > 0 {
		for _, s := range open {
			if part, ok := s.Both(stock.Span{From: r.Change, To: r.Start}); ok {
				out = append(out, drawing.Block{Kind: drawing.BlockChangeover, Start: part.From, End: part.To, Label: fmt.Sprintf("%d min", int(part.To.Sub(part.From).Minutes()))})
			}
		}
		if len(out) == 0 { // it was done beyond the usual hours
			out = append(out, drawing.Block{Kind: drawing.BlockChangeover, Start: r.Change, End: r.Start, Label: fmt.Sprintf("%d min", r.ChangeMinutes)})
		}
	}
	for _, part := range stretches(r) {
		out = append(out, runBlock(part))
	}
	return out
}

// waitsLong is a pause inside a run that is drawn as one: its next line waits
// for another day, or for its coil.
const waitsLong = 12 * time.Hour

// stretches parts a run where it pauses for long.
func stretches(r desk.Run) (out []desk.Run) {
	part := r
	part.Lines = nil
	for _, l := range r.Lines {
		if n := len(part.Lines); n > 0 && l.Place.Start.Sub(part.Lines[n-1].Place.End) >= waitsLong {
			part.End = part.Lines[n-1].Place.End
			out = append(out, part)
			part.Start, part.Lines = l.Place.Start, nil
		}
		part.Lines = append(part.Lines, l)
	}
	part.End = r.End
	return append(out, part)
}

func runBlock(r desk.Run) drawing.Block {
	return drawing.Block{
		Kind: drawing.BlockRun, Start: r.Start, End: r.End, Label: r.Setup.Profile, Detail: ordersOf(r),
		Metal: drawing.Swatch(r.Colour.Name, r.Colour.Swatch), Section: r.Outline, Alert: r.Late(),
	}
}

// workingDay is the span of the day that is drawn: from the first opening of any
// machine to the last closing, and what runs outside.
func workingDay(p desk.RunPlan) (from, to time.Duration) {
	first, last := 24*60, 0
	for _, m := range p.Machines {
		for _, w := range m.Week {
			first, last = min(first, w.From), max(last, w.To)
		}
	}
	for _, spans := range p.Open {
		for _, s := range spans {
			a, b := s.From.In(p.Zone), s.To.In(p.Zone)
			first, last = min(first, 60*a.Hour()+a.Minute()), max(last, 60*b.Hour()+b.Minute())
		}
	}
	if last <= first {
		first, last = 7*60, 17*60
	}
	return time.Duration(first) * time.Minute, time.Duration(last) * time.Minute
}

// spots are where the runs stand in the picture.
func (p *planPage) spots(view drawing.Lanes) *spotMap {
	picture := view.Picture()
	out := &spotMap{Width: picture.Width, Height: picture.Height}
	for i, lane := range p.Lanes {
		out.Bands = append(out.Bands, spot{Rect: view.Band(i), Machine: lane.Machine.Code})
		for _, r := range lane.Runs {
			if at, ok := view.Spot(i, runBlock(stretches(r.Run)[0])); ok {
				out.Spots = append(out.Spots, spot{Rect: at, Line: r.First, Machine: lane.Machine.Code, Near: r.Near, Name: r.Code + " " + r.Orders})
			}
		}
	}
	return out
}

// LateBy writes by how much a promise would be missed.
func (*planPage) LateBy(p desk.Promise) string { return spanSaid(p.Late()) }

// Time writes a moment as the lists have it.
func (p *planPage) Time(t time.Time) string { return planTime(t, p.Plan.Zone) }

// Till writes the end of a stretch: the time alone when it ends the same day.
func (p *planPage) Till(from, to time.Time) string {
	if a, b := from.In(p.Plan.Zone), to.In(p.Plan.Zone); a.YearDay() == b.YearDay() && a.Year() == b.Year() {
		return b.Format("3:04 PM")
	}
	return p.Time(to)
}

func planTime(t time.Time, zone *time.Location) string {
	if t.IsZero() {
		return "–"
	}
	return t.In(zone).Format("Mon Jan 2, 3:04 PM")
}

// doMoveRun reads what a run's form says and leads to what it would do.
func doMoveRun(v *visit) error {
	p, err := v.newPlanPage()
	if err != nil {
		return err
	}
	q := url.Values{"do": {"move"}, "line": {strconv.FormatInt(v.number("line"), 10)}}
	switch how := v.posted("how"); how {
	case "earlier":
		q.Set("steps", "-1")
	case "later":
		q.Set("steps", "1")
	case "pin", "free":
		if err := v.desk.PinRun(v.ctx(), v.actor, v.number("line"), how == "pin"); err != nil {
			return v.again(p, err)
		}
		return v.redirectSaying("/plan", map[bool]string{true: "Held where it stands.", false: "Let go: a better plan may move it."}[how == "pin"])
	case "there":
		q.Set("machine", v.posted("machine"))
	case "at":
		p.At = Field{Name: "at", Label: "Start at", Value: v.posted("at")}
		v.read = append(v.read, &p.At)
		at, err := readMoment(v.posted("at"), v.desk.Now().In(p.Plan.Zone))
		if err != nil {
			v.note(&p.At, err)
			return v.again(p, v.wrongs())
		}
		q.Set("at", at.Format(time.RFC3339))
	default:
		q.Set("before", strconv.FormatInt(v.number("before"), 10))
		q.Set("machine", v.posted("machine"))
	}
	if v.posted("pin") != "" {
		q.Set("pin", "yes")
	}
	return v.redirect(proposalPath(q))
}
