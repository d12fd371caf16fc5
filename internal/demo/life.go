package demo

import (
	"context"
	"math/rand/v2"
	"slices"
	"time"

	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
)

// life is the three weeks: an agenda of what people do at what time. What is
// due later than now never happens.
type life struct {
	*shop
	r       *rand.Rand
	agenda  []deed
	ordered map[stock.Strip]bool // coil that is on its way
}

// deed is something that somebody does at a time.
type deed struct {
	at time.Time
	do func(context.Context) error
}

// plan puts a deed on the agenda, behind those of the same time.
func (l *life) plan(at time.Time, do func(context.Context) error) {
	i, _ := slices.BinarySearchFunc(l.agenda, at, func(d deed, at time.Time) int {
		if d.at.After(at) {
			return 1
		}
		return -1
	})
	l.agenda = slices.Insert(l.agenda, i, deed{at, do})
}

func (s *shop) live(ctx context.Context) error {
	l := &life{shop: s, r: rand.New(rand.NewPCG(1611, 24)), ordered: map[stock.Strip]bool{}}
	l.planWeeks()
	for day := range days + 1 {
		l.planDay(day)
	}
	l.planMoney()
	l.planSheets()
	l.planAhead()
	l.plan(l.now.Add(-3*time.Hour), l.offTheShelf)
	l.plan(l.now.Add(-90*time.Minute), l.onTheWeb)
	for len(l.agenda) > 0 && !l.agenda[0].at.After(l.now) {
		next := l.agenda[0]
		l.agenda = l.agenda[1:]
		l.clock.Set(next.at)
		if err := next.do(ctx); err != nil {
			return err
		}
	}
	return nil
}

// at gives a time of a day of the three weeks.
func (l *life) at(day, hour, minute int) time.Time {
	y, m, d := l.start.Date()
	return time.Date(y, m, d+day, hour, minute, 0, 0, l.zone)
}

// day counts the days of the three weeks.
func (l *life) day(at time.Time) int {
	return int(l.at(0, 0, 0).Sub(at).Abs().Hours()+1) / 24
}

// workday gives the day, or the Monday after it when it falls on a weekend.
func (l *life) workday(day int) int {
	switch l.at(day, 12, 0).Weekday() {
	case time.Saturday:
		return day + 2
	case time.Sunday:
		return day + 1
	}
	return day
}

// planWeeks puts on the agenda what is known beforehand.
func (l *life) planWeeks() {
	for _, r := range racks {
		if r.day > 0 {
			l.plan(l.at(l.workday(r.day), 7, 30), func(ctx context.Context) error { return l.receive(ctx, r) })
		}
	}
	for _, job := range ownJobs {
		day := l.workday(job.day)
		b := stock.Block{Machine: job.machine, From: l.at(day, job.from, 0), To: l.at(day, job.to, 0), Kind: job.kind, Reason: job.reason}
		l.plan(l.at(max(0, job.day-job.notice), 6, 20), func(ctx context.Context) error {
			_, err := l.BlockTime(ctx, l.as(party.Owner), b)
			return err
		})
	}
	l.plan(l.at(l.workday(8), 6, 40), l.raiseWages)
}

// planDay puts a day's routine and its callers on the agenda.
func (l *life) planDay(day int) {
	l.plan(l.at(day, 0, 5), func(ctx context.Context) error { _, err := l.LapseQuotes(ctx); return err })
	if l.workday(day) != day {
		return
	}
	callers := 3 + l.r.IntN(3)
	for i := range callers {
		minute := (i*8*60)/callers + l.r.IntN(80)
		l.plan(l.at(day, 8, minute), l.caller)
	}
	l.planFloor(day)
}

// ownJobs are the crew's own jobs and what else takes the machines' time, with
// how many days before it is known.
var ownJobs = []struct {
	day, notice int
	from, to    int
	machine     string
	kind        stock.BlockKind
	reason      string
}{
	{1, 3, 7, 12, former, stock.OwnJob, "Own job: Depot roof (demo)"},
	{5, 4, 7, 15, former, stock.OwnJob, "Own job: Depot roof (demo)"},
	{7, 2, 7, 11, gutter, stock.Service, "New shear blades"},
	{13, 5, 12, 17, former, stock.OwnJob, "Own job: Pump house (demo)"},
	{15, 6, 8, 12, folder, stock.Away, "Operator on a course"},
	{19, 5, 7, 15, former, stock.OwnJob, "Own job: Chapel spire (demo)"},
	{22, 5, 7, 15, former, stock.OwnJob, "Own job: Chapel spire (demo)"},
	{26, 8, 7, 13, former, stock.Service, "Yearly service"},
}

// caller is somebody who asks for something: a customer at the counter, the
// account customer on the web, or a visitor nobody knows.
func (l *life) caller(ctx context.Context) error {
	actor := l.as(party.Counter)
	c := l.clients[l.r.IntN(len(l.clients)-1)] // never the one on hold
	o := c.asked()
	kind := pickJob(l.r)
	switch n := l.r.IntN(10); {
	case n == 0:
		actor = party.Actor{Name: "visitor", Role: party.Visitor}
		o = order.Order{Fulfil: order.PickUp, Contact: order.Contact{Name: pick(l.r, "Pat Passerby", "Sam Stroll", "Lee Wander"), Email: "passerby@example.com", Phone: "(555) 555-0199"}}
		c = client{}
	case c.ID == l.firm:
		actor = l.as(party.Buyer)
	}
	o.Job, o.Lines = kind.name, kind.lines(l.r)
	l.whereTo(&o, c)
	if l.r.IntN(9) == 0 {
		o.Rush = true
	}
	if l.r.IntN(3) == 0 {
		y, m, d := l.clock.Now().In(l.zone).Date()
		o.WantBy = time.Date(y, m, d+5+l.r.IntN(9), 0, 0, 0, 0, time.UTC)
	}
	if c.Class == trade && l.r.IntN(2) == 0 {
		o.PO = "PO-" + twoDigits(l.r.IntN(100)) + twoDigits(l.r.IntN(100))
	}
	taken, err := l.TakeOrder(ctx, actor, o)
	if err != nil {
		return err
	}
	if l.r.IntN(11) == 0 {
		return nil // only wanted to know
	}
	l.plan(l.later(10, 90), func(ctx context.Context) error { return l.quote(ctx, taken.ID) })
	return nil
}

// offTheShelf is a customer who orders fasteners by phone this morning; they
// stand ready to be fetched.
func (l *life) offTheShelf(ctx context.Context) error {
	o := l.clients[7].asked()
	o.Job, o.Lines = "fasteners", fasteners(l.r)
	o, err := l.TakeOrder(ctx, l.as(party.Counter), o)
	if err != nil {
		return err
	}
	q, err := l.QuoteOrder(ctx, l.as(party.Counter), o.ID, 0, nil)
	if err != nil {
		return err
	}
	if err := l.accept(ctx, q); err != nil {
		return err
	}
	l.plan(l.later(30, 60), l.fromShelf)
	return nil
}

// planAhead puts orders on the agenda that a demo can count on whatever day it
// is made: one that is on the truck today, and some that came since yesterday
// afternoon, so that there are a few days' work to put in order.
func (l *life) planAhead() {
	before := days - 2
	for l.workday(before) != before {
		before--
	}
	l.plan(l.at(before, 8, 20), func(ctx context.Context) error { return l.orders(ctx, l.clients[0], order.Haul, 2, repairPanels) })
	since := []time.Duration{19 * time.Hour, 18 * time.Hour, 170 * time.Minute, 140 * time.Minute, 115 * time.Minute, 70 * time.Minute, 45 * time.Minute}
	for i, lines := range []func(*rand.Rand) []order.Line{gutterRun, barnRoof, wallPanels, gutterRun, wainscot, seamRoof, barnRoof} {
		l.plan(l.now.Add(-since[i]), func(ctx context.Context) error {
			return l.orders(ctx, l.clients[2+i], order.PickUp, 7+i, lines)
		})
	}
}

// orders is a client who asks, is quoted and accepts in one call, for a job some
// days from now.
func (l *life) orders(ctx context.Context, c client, how order.Fulfil, ahead int, lines func(*rand.Rand) []order.Line) error {
	o := c.asked()
	o.Lines = lines(l.r)
	if how == order.Haul {
		site := c.sites[0]
		o.Fulfil, o.ShipTo, o.MilesTenths, o.SiteNotes, o.Job = how, site.Address, site.MilesTenths, site.AccessNotes, site.Name
	}
	y, m, d := l.clock.Now().In(l.zone).Date()
	o.WantBy = time.Date(y, m, d+ahead, 0, 0, 0, 0, time.UTC)
	o, err := l.TakeOrder(ctx, l.as(party.Counter), o)
	if err != nil {
		return err
	}
	q, err := l.QuoteOrder(ctx, l.as(party.Counter), o.ID, 0, nil)
	if err != nil {
		return err
	}
	return l.accept(ctx, q)
}

// onTheWeb is the account customer who quotes and accepts on the pages, shortly
// before now: the order waits for its place in the plan.
func (l *life) onTheWeb(ctx context.Context) error {
	c := l.clients[0]
	o := c.asked()
	o.Job, o.PO, o.Lines = c.sites[1].Name, "PO-2207", lowSlope(l.r)
	o.Fulfil, o.ShipTo, o.MilesTenths, o.SiteNotes = order.Haul, c.sites[1].Address, c.sites[1].MilesTenths, c.sites[1].AccessNotes
	q, err := l.AskForQuote(ctx, l.as(party.Buyer), o)
	if err != nil {
		return err
	}
	l.plan(l.now.Add(-6*time.Minute), func(ctx context.Context) error { return l.accept(ctx, q) })
	return nil
}

// whereTo sends an order to one of the client's sites, or lets it be fetched.
func (l *life) whereTo(o *order.Order, c client) {
	if len(c.sites) == 0 || l.r.IntN(5) < 2 {
		return
	}
	site := c.sites[l.r.IntN(len(c.sites))]
	o.Fulfil, o.ShipTo, o.MilesTenths, o.SiteNotes, o.Job = order.Haul, site.Address, site.MilesTenths, site.AccessNotes, site.Name
	if o.Feet() > span("900 ft") && l.r.IntN(4) == 0 && onFormer(*o) {
		o.Fulfil = order.OnSite
	}
}

func onFormer(o order.Order) bool {
	for _, line := range o.Lines {
		if line.Kind == order.Trim {
			return false // the folder stays in the shop
		}
	}
	return true
}

// later gives a time some minutes from now.
func (l *life) later(least, most int) time.Time {
	return l.clock.Now().Add(time.Duration(least+l.r.IntN(most-least)) * time.Minute)
}

// nextDays gives an hour of business some days from now.
func (l *life) nextDays(least, most int) time.Time {
	y, m, d := l.clock.Now().In(l.zone).Date()
	at := time.Date(y, m, d+least+l.r.IntN(most-least+1), 8+l.r.IntN(8), l.r.IntN(60), 0, 0, l.zone)
	for at.Weekday() == time.Saturday || at.Weekday() == time.Sunday {
		at = at.AddDate(0, 0, 1)
	}
	return at
}

// quote sends the quote out; what the customer makes of it comes later.
func (l *life) quote(ctx context.Context, id int64) error {
	q, err := l.QuoteOrder(ctx, l.as(party.Counter), id, 0, nil)
	if err != nil {
		return err
	}
	switch n := l.r.IntN(20); {
	case n < 12:
		l.plan(l.decides(), func(ctx context.Context) error { return l.accept(ctx, q) })
	case n < 15:
		reason := pick(l.r, order.TooDear.Words()+": found it cheaper elsewhere", order.JobLost.Words()+": put off until spring", order.NotMade.Words()+": wanted a color you don't stock", order.TooLate.Words()+": needed it two days sooner", "the owner chose shingles")
		l.plan(l.decides(), func(ctx context.Context) error { _, err := l.DeclineByLink(ctx, q.Token, reason); return err })
	case n < 17:
		l.plan(l.nextDays(1, 2), func(ctx context.Context) error { return l.change(ctx, id) })
	}
	return nil // else nobody answers, and it lapses
}

// decides gives the time at which a customer answers: some at once, most within
// three days.
func (l *life) decides() time.Time {
	if l.r.IntN(3) == 0 {
		return l.later(20, 100)
	}
	return l.nextDays(1, 3)
}

func (l *life) accept(ctx context.Context, q desk.Quoted) error {
	name := q.Order.Contact.Name
	yes := desk.Yes{Name: name, Title: "purchaser", Consent: true, Sharing: q.Order.Shared.Total.Sign() > 0 && l.r.IntN(5) > 0, Origin: "203.0.113.7"}
	f, err := l.OrderFile(ctx, l.as(party.Counter), q.Order.ID)
	if err != nil {
		return err
	}
	yes.Ready = f.Ready
	switch {
	case q.Order.CustomerID == l.firm:
		yes.Method = "account"
		_, err = l.AcceptOrder(ctx, l.as(party.Buyer), q.Order.ID, 0, yes)
	case l.r.IntN(2) == 0:
		yes.Method = "counter"
		_, err = l.AcceptOrder(ctx, l.as(party.Counter), q.Order.ID, 0, yes)
	default:
		_, err = l.AcceptByLink(ctx, q.Token, yes)
	}
	err = l.onAccount(ctx, q, yes, err)
	if err == nil && l.now.Sub(l.clock.Now()) > 24*time.Hour && l.r.IntN(16) == 0 {
		l.plan(l.later(30, 180), func(ctx context.Context) error { return l.cancel(ctx, q.Order.ID) })
	}
	return err
}

// change is a customer who wants it otherwise: the quote is opened again, made
// for a few pieces more, and accepted soon.
func (l *life) change(ctx context.Context, id int64) error {
	o, err := l.ReopenOrder(ctx, l.as(party.Counter), id, 0)
	if err != nil {
		return err
	}
	for i := range o.Lines {
		for j := range o.Lines[i].Cuts {
			o.Lines[i].Cuts[j].Qty++
		}
	}
	if o, err = l.ChangeOrder(ctx, l.as(party.Counter), o); err != nil {
		return err
	}
	q, err := l.QuoteOrder(ctx, l.as(party.Counter), o.ID, 0, nil)
	if err != nil {
		return err
	}
	l.plan(l.later(15, 240), func(ctx context.Context) error { return l.accept(ctx, q) })
	return nil
}

// cancel is a customer whose job falls through, unless cutting has begun.
func (l *life) cancel(ctx context.Context, id int64) error {
	_, err := l.CancelOrder(ctx, l.as(party.Counter), id, 0, "the customer's own job fell through")
	if fault.Is(err, fault.Conflict) {
		return nil
	}
	return err
}
