package desk

import (
	"slices"
	"sort"
	"strconv"
	"sync/atomic"
	"time"

	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/plan"
	"ribdesk/internal/stock"
)

// horizonDays is how far ahead the calendar is looked at.
const horizonDays = 90

// planning is the run plan as a problem of the planner, with the clock that
// turns its minutes into times and back.
type planning struct {
	zero    time.Time // minute 0
	now     int64     // the planning moment, in minutes
	problem plan.Problem
	present plan.Plan // what stands in the plan now
	s       *snapshot
	moved   []int64 // lines that a person moves
	said    said    // answers given while it stands
}

func (p *planning) minute(t time.Time) int64 { return int64(t.Sub(p.zero) / time.Minute) }

func (p *planning) minuteUp(t time.Time) int64 {
	m := p.minute(t)
	if p.at(m).Before(t) {
		m++
	}
	return m
}

func (p *planning) at(minute int64) time.Time { return p.zero.Add(time.Duration(minute) * time.Minute) }

// planningAt makes the problem of all lines in the plan. What has begun, or
// starts within the frozen hours, stays as it is. keep says which of the placed
// lines count as being in the plan at all.
func (s *snapshot) planningAt(now time.Time, keep func(order.Placed) bool) *planning {
	p := &planning{s: s, zero: s.zero(now)}
	p.now = p.minuteUp(now)
	until := now.AddDate(0, 0, horizonDays)
	p.problem = plan.Problem{
		Name: "run plan", Split: true, MinuteCents: s.minuteCents, FootCents: s.footCents,
		Rules: map[string]plan.Rule{},
	}
	frozenUntil := now.Add(time.Duration(s.seller.FrozenHours) * time.Hour)
	for _, m := range s.machines {
		p.problem.Rules[m.Code] = planRule(m)
		pm := plan.Machine{ID: m.Code, Rule: m.Code, Initial: s.standing(m)}
		for _, span := range stock.Open(m.Week, s.blocksOf(m.Code), p.zero, until, s.seller.Location()) {
			if from, to := p.minuteUp(span.From), p.minute(span.To); to > from {
				pm.Windows = append(pm.Windows, plan.Window{Start: from, End: to})
			}
		}
		seq := plan.Sequence{Machine: m.Code}
		head := int64(0)
		for _, at := range s.placesOn(m.Code) {
			l, ok := s.lines[at.LineID]
			if !ok || !keep(at) {
				continue
			}
			line := p.line(l, at, pm.Windows)
			job, stays := p.standingJob(at, l, m, pm.Windows, head)
			// What began stays, and so does what is about to; but a run that should
			// have begun and didn't, that lost its coil or its open time, is planned
			// again with all behind it.
			near := stays && !at.Start.Before(now) && !at.Start.After(frozenUntil)
			holds := line.Earliest <= job.Start && openIn(pm.Windows, job.Start, job.End) == line.Minutes[m.Code]
			if !at.BegunAt.IsZero() || near && holds {
				if len(seq.Jobs) == len(pm.Frozen) {
					pm.Frozen, head = append(pm.Frozen, job), job.End
				}
			}
			p.problem.Lines = append(p.problem.Lines, line)
			seq.Jobs = append(seq.Jobs, job)
		}
		p.problem.Machines = append(p.problem.Machines, pm)
		p.present.Machines = append(p.present.Machines, seq)
	}
	return p
}

func everything(order.Placed) bool { return true }

// zero is minute 0: now, or the start of the first run still on a machine.
func (s *snapshot) zero(now time.Time) time.Time {
	zero := now
	for _, at := range s.places {
		if at.Change.Before(zero) {
			zero = at.Change
		}
		if !at.BegunAt.IsZero() && at.BegunAt.Before(zero) {
			zero = at.BegunAt
		}
	}
	return zero.UTC().Truncate(time.Minute)
}

func (s *snapshot) blocksOf(machine string) []stock.Block { return blocksOf(s.blocks, machine) }

func blocksOf(blocks []stock.Block, machine string) (out []stock.Block) {
	for _, b := range blocks {
		if b.Machine == machine {
			out = append(out, b)
		}
	}
	return out
}

func (s *snapshot) placesOn(machine string) (out []order.Placed) {
	for _, p := range s.places {
		if p.Machine == machine {
			out = append(out, p)
		}
	}
	sort.SliceStable(out, func(i, j int) bool {
		if a, b := out[i].BegunAt, out[j].BegunAt; !a.Equal(b) { // what began is in front, whatever the plan was
			return !a.IsZero() && (b.IsZero() || a.Before(b))
		}
		return out[i].Seq < out[j].Seq
	})
	return out
}

func (p *planning) job(at order.Placed) plan.Job {
	return plan.Job{
		Line: lineID(at.LineID), Start: p.minute(at.Start), End: p.minute(at.End),
		Change: plan.Change{Start: p.minute(at.Change), End: p.minute(at.Start), Minutes: int64(at.ChangeMinutes)},
	}
}

// standingJob gives a line's run as it stands behind the head of its machine,
// and whether it can stay there. One that began ends when what is left of it is
// cut at the estimated speed from now on: a run that took longer pushes what is
// behind it, one that went faster makes room.
func (p *planning) standingJob(at order.Placed, l plannedLine, m stock.Machine, windows []plan.Window, head int64) (job plan.Job, stays bool) {
	job = p.job(at)
	if at.BegunAt.IsZero() {
		return job, job.Change.Start >= head
	}
	job.Start = max(head, p.minute(at.BegunAt))
	job.End = max(job.Start+1, endsAfter(windows, p.now, p.minutesLeft(l, m)))
	job.Change = plan.Change{Start: job.Start, End: job.Start}
	return job, true
}

// minutesLeft is the run time of the pieces of a line that aren't made yet.
func (p *planning) minutesLeft(l plannedLine, m stock.Machine) int64 {
	rest := p.s.rest(l.Line)
	if len(rest.Cuts) == 0 {
		return 0
	}
	if l.Kind == order.Trim {
		return int64((l.Minutes*rest.Pieces() + l.Pieces() - 1) / max(1, l.Pieces()))
	}
	return int64(formedMinutes(m, rest))
}

// rest gives a line with the pieces that aren't made yet.
func (s *snapshot) rest(l order.Line) order.Line {
	made := s.made[l.ID]
	if made == nil {
		return l
	}
	var cuts []order.CutItem
	for _, c := range l.Cuts {
		if c.Qty -= made[c.ID]; c.Qty > 0 {
			cuts = append(cuts, c)
		}
	}
	l.Cuts = cuts
	return l
}

// endsAfter is when so many open minutes from a minute on are over.
func endsAfter(windows []plan.Window, from, minutes int64) int64 {
	end := from
	for _, w := range windows {
		if minutes <= 0 {
			return end
		}
		start := max(from, w.Start)
		if took := min(minutes, w.End-start); took > 0 {
			minutes -= took
			end = start + took
		}
	}
	return end + minutes
}

// openIn counts the open minutes of a stretch.
func openIn(windows []plan.Window, from, to int64) (n int64) {
	for _, w := range windows {
		n += max(0, min(w.End, to)-max(w.Start, from))
	}
	return n
}

func lineID(id int64) string { return strconv.FormatInt(id, 10) }

// line gives a placed line as the planner sees it.
func (p *planning) line(l plannedLine, at order.Placed, windows []plan.Window) plan.Line {
	out := p.newLine(lineID(l.ID), *l.of, l.Line)
	if at.Pinned {
		out.Pin = p.pin(at.Machine, at.Start, windows)
	}
	return out
}

// pin holds a run at a time of a machine. A time that is past or closed by now
// holds only the machine: nobody can start then any more.
func (p *planning) pin(machine string, at time.Time, windows []plan.Window) *plan.Pin {
	start := p.minute(at)
	if start < p.now || openIn(windows, start, start+1) == 0 {
		return &plan.Pin{Machine: machine}
	}
	return &plan.Pin{Machine: machine, NotBefore: start, StartBy: &start}
}

// newLine gives a line of an order as the planner sees it: what it needs set
// up, how long it runs on each machine that makes it, when its coil is there,
// and when it is due.
func (p *planning) newLine(id string, o order.Order, l order.Line) plan.Line {
	out := plan.Line{
		ID: id, Order: o.Number, Setup: setupOf(l), Minutes: map[string]int64{},
		Earliest: max(p.now, p.minuteUp(p.s.coilFrom(o, l, p.at(p.now)))), Due: p.due(o), LateCents: p.s.seller.LateCents,
	}
	if o.Rush {
		out.LateCents *= 5
	}
	for _, m := range p.s.machines {
		switch {
		case l.Kind == order.Formed && m.Makes(l.Code) && l.Strip <= m.MaxStrip:
			out.Minutes[m.Code] = int64(formedMinutes(m, l))
		case l.Kind == order.Trim && m.Folder:
			out.Minutes[m.Code] = int64(l.Minutes)
		}
	}
	return out
}

func setupOf(l order.Line) plan.Setup {
	return plan.Setup{Profile: l.Code, Material: l.Material, Gauge: l.Gauge, Width: l.Strip.String(), Colour: l.Colour, Rib: l.Rib}
}

// standing is what is on a machine now.
func (s *snapshot) standing(m stock.Machine) plan.Setup {
	return plan.Setup{Profile: m.Setup["profile"], Material: m.Setup["material"], Gauge: m.Setup["gauge"], Width: m.Setup["width"], Colour: m.Setup["colour"], Rib: m.Setup["rib"]}
}

// due is the minute an order's lines should be done: what was promised, else
// the end of the day it is wanted by, else two weeks from now.
func (p *planning) due(o order.Order) int64 {
	switch {
	case !o.Promise.IsZero():
		return max(0, p.minute(p.s.cutBy(o.Promise, o.Fulfil)))
	case !o.WantBy.IsZero():
		y, m, d := o.WantBy.Date()
		return max(0, p.minute(p.s.cutBy(time.Date(y, m, d, 17, 0, 0, 0, p.s.seller.Location()), o.Fulfil)))
	}
	return p.now + 14*24*60
}

// coilFrom is the moment from which the line's metal can be there: now when it
// is promised or free on the rack, else after the supplier's lead time, which
// runs from the day the order is accepted, as the shop buys then what it lacks.
// Coil that should have come by now is counted on for tomorrow.
func (s *snapshot) coilFrom(o order.Order, l order.Line, now time.Time) time.Time {
	if l.Kind == order.Trim && s.covered(l) {
		return now
	}
	need := stripFeet(s.rest(l))
	for _, r := range s.promises[l.ID] {
		need -= r.Length
	}
	if need <= 0 {
		return now
	}
	var free, longest measure.Length
	for _, c := range s.coilsOf(l.Metal()) {
		free += c.Free()
		longest = max(longest, c.Free())
	}
	if free >= need && longest >= min(need, l.Longest()) {
		return now
	}
	sup, ok := s.supplyOf(l.Metal())
	if !ok {
		return now.AddDate(0, 0, 14)
	}
	bought := now
	if o.Accepted != nil {
		bought = o.Accepted.At
	}
	morning := func(of time.Time, days int) time.Time { return s.midnight(of, days).Add(7 * time.Hour) }
	if comes := morning(bought, sup.LeadDays); comes.After(now) {
		return comes
	}
	return morning(now, 1)
}

// covered reports whether all blanks of a trim line are promised metal, or coils
// of any width that serves it have it free.
func (s *snapshot) covered(l order.Line) bool {
	l = s.rest(l)
	cuts := served{}
	cuts.add(s.promises[l.ID])
	cuts.addBlanks(s.blanks)
	cuts.add(spread(cuts.rest(l), s.serving(l), ""))
	return len(cuts.rest(l).Cuts) == 0
}

// served counts the pieces that are seen to, by row of a cut list.
type served map[int64]int

func (v served) add(promises []order.Reservation) {
	for _, r := range promises {
		for _, c := range r.Cuts {
			v[c.CutID] += c.Qty
		}
	}
}

func (v served) addBlanks(blanks []order.SheetBlank) {
	for _, b := range blanks {
		v[b.CutID] += b.Qty
	}
}

// rest gives a line with the pieces that aren't.
func (v served) rest(l order.Line) order.Line {
	l.Cuts = slices.Clone(l.Cuts)
	for i := range l.Cuts {
		l.Cuts[i].Qty -= v[l.Cuts[i].ID]
	}
	l.Cuts = slices.DeleteFunc(l.Cuts, func(c order.CutItem) bool { return c.Qty <= 0 })
	return l
}

// stripFeet is the length of strip a line takes: its pieces end to end, or for
// trim as many blanks abreast as the strip holds.
func stripFeet(l order.Line) measure.Length {
	row := abreast(l, l.Strip)
	var sum measure.Length
	for _, c := range l.Cuts {
		sum += c.Length.Times((c.Qty + row - 1) / row)
	}
	return sum
}

func planRule(m stock.Machine) plan.Rule {
	var r plan.Rule
	for _, part := range m.Rule {
		a := plan.Attribute{Name: part.Name, Keys: part.Keys, Minutes: int64(part.Minutes), Feet: wholeFeet(part.Scrap), Covers: part.Covers}
		for _, pair := range part.Pairs {
			a.Pairs = append(a.Pairs, plan.Pair{From: pair.From, To: pair.To, Minutes: int64(pair.Minutes), Feet: wholeFeet(pair.Scrap)})
		}
		r.Attributes = append(r.Attributes, a)
	}
	return r
}

func wholeFeet(l measure.Length) int64 { return int64(l.Up(measure.Foot) / measure.Foot) }

// costOfMinute is what a minute of changeover costs: the dearest center's hour.
func (s *snapshot) costOfMinute() int64 {
	var most int64
	for _, c := range s.rates.Centers {
		if h, err := c.Worksheet(); err == nil {
			most = max(most, cents(h.Rate.Div(sixty)))
		}
	}
	return max(1, most)
}

// costOfFoot is what a foot of scrap costs: the mean over the strips bought.
func (s *snapshot) costOfFoot() int64 {
	if len(s.supplies) == 0 {
		return 200
	}
	sum := money.Rate{}
	for _, sup := range s.supplies {
		if m, ok := s.materials[sup.Strip.Material]; ok {
			sum = sum.Add(sup.PerPound.Add(sup.Freight).Mul(s.stripWeight(m, sup.Strip)))
		}
	}
	return max(1, cents(sum.Div(money.Int(int64(len(s.supplies))))))
}

func cents(r money.Rate) int64 {
	a, err := r.Round("")
	if err != nil {
		return plan.MaxRate
	}
	return min(a.Cents(), plan.MaxRate)
}

// seats keeps the last planning made for asks. It holds for one state of the
// floor and one minute; a snapshot with another makes its own.
type seats struct{ last atomic.Pointer[seating] }

type seating struct {
	floor  int64
	minute time.Time
	p      *planning
}

// seated is the plan as an ask must see it: with all that is placed, and with a
// seat for each accepted order that waits for its place, oldest first. Without
// that two customers would be promised the same hour.
func (s *snapshot) seated(now time.Time) *planning {
	minute := now.Truncate(time.Minute)
	if old := s.seats.last.Load(); old != nil && old.floor == s.floor && old.minute.Equal(minute) {
		return old.p
	}
	p := s.planningAt(now, everything)
	waiting := s.unplaced()
	for len(waiting) > 0 {
		var lines []plan.Line
		first := waiting[0].OrderID
		for len(waiting) > 0 && waiting[0].OrderID == first {
			l := s.lines[waiting[0].Line.ID]
			lines = append(lines, p.waiting(lineID(l.ID), *l.of, l.Line))
			waiting = waiting[1:]
		}
		p.seat(lines)
	}
	s.seats.last.Store(&seating{s.floor, minute, p})
	return p
}

// seat puts lines where they change the plan least without making others late.
// What fits nowhere stays out: nobody can be in its way.
func (p *planning) seat(lines []plan.Line) {
	_, best, err := p.place(lines)
	if err != nil {
		return
	}
	p.present = best.Plan
	p.problem.Lines = append(p.problem.Lines, lines...)
}

// newLines gives the lines of a new order that a machine makes.
func (p *planning) newLines(o order.Order, lines []made) (news []plan.Line) {
	for i, m := range lines {
		if m.line.Kind != order.Accessory {
			news = append(news, p.waiting(newID(i), o, *m.line))
		}
	}
	return news
}

// headStart is what passes until an order that has no place in the plan yet can
// begin: somebody has to put it there and bring its coil.
const headStart = time.Hour

// waiting gives a line that has no place in the plan yet.
func (p *planning) waiting(id string, o order.Order, l order.Line) plan.Line {
	out := p.newLine(id, o, l)
	out.Earliest = max(out.Earliest, p.now+int64(headStart.Minutes()))
	return out
}

// place gives the place for new lines that is taken unless somebody chooses
// otherwise, and the plan to look for others in.
func (p *planning) place(lines []plan.Line) (*plan.Insertion, *plan.Fit, error) {
	in, err := plan.NewInsertion(p.problem, p.present, lines...)
	if err != nil {
		return nil, nil, err
	}
	best, err := in.Best()
	return in, best, err
}
