package web

import (
	"net/url"
	"strconv"
	"time"

	"ribdesk/internal/desk"
	"ribdesk/internal/measure"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
)

// calendarPage is when the machines are taken or opened beyond their week, what
// services are due, and the other events that change a plan.
type calendarPage struct {
	Base
	Plan     desk.RunPlan
	Services []desk.Service
	Blocks   []stock.Block
	Names    map[string]string // machines
	Hands    bool              // may take time
	Sells    bool              // may cancel and make urgent

	ID, Version                     int64 // of the block that is changed
	Machine, Kind, From, To, Reason Field
	Order, What, By, Why            Field
	Coil, Left                      Field
}

func (calendarPage) file() string { return "plan-calendar" }

// calendarLook is how far ahead blocks are listed.
const calendarLook = 120

func (v *visit) newCalendarPage() (*calendarPage, error) {
	now := v.desk.Now()
	plan, err := v.desk.RunPlan(v.ctx(), now, now.AddDate(0, 0, calendarLook))
	if err != nil {
		return nil, err
	}
	p := &calendarPage{
		Base: Base{Title: "Machine calendar", Sheet: "Run plan", Tabs: v.planTabs("Calendar"), Block: Block{Thing: "Machine calendar"}},
		Plan: plan, Names: map[string]string{}, Blocks: plan.Blocks,
		Hands: v.actor.Role == party.Owner || v.actor.Role == party.Operator, Sells: v.actor.Role == party.Owner || v.actor.Role == party.Counter,
		Machine: Field{Name: "machine", Label: "Machine"},
		Kind: Field{Name: "kind", Label: "What for", Options: []Option{
			{string(stock.OwnJob), "Own job"}, {string(stock.Service), "Service"}, {string(stock.Down), "Machine down"}, {string(stock.Away), "Operator away"}, {string(stock.Opening), "Open beyond the usual week"}}},
		From:   Field{Name: "from", Label: "From", Short: true, Help: momentHelp(now.In(plan.Zone))},
		To:     Field{Name: "to", Label: "To", Short: true},
		Reason: Field{Name: "reason", Label: "Job or reason"},
		Order:  Field{Name: "order", Label: "Order"},
		What:   Field{Name: "what", Label: "What happens", Options: []Option{{"rush", "It becomes urgent"}, {"drop", "It is cancelled"}}},
		By: Field{Name: "by", Label: "Urgent: promised for", Optional: true, Short: true,
			Help: "Day and time, earlier than promised now; its customer is told. Left empty, the promise stays: where not every promise can be kept, this one comes first."},
		Why:  Field{Name: "reason", Label: "Why it is cancelled", Optional: true, Prefix: "order-"},
		Coil: Field{Name: "coil", Label: "Coil"},
		Left: Field{Name: "left", Label: "What is left on it", Optional: true, Short: true, Help: "Such as 118.5 ft; a bare number is feet. Left empty, nothing: it is spoiled or used up."},
	}
	for _, m := range plan.Machines {
		p.Machine.Options = append(p.Machine.Options, Option{m.Code, m.Name})
		p.Names[m.Code] = m.Name
	}
	if p.Services, err = v.desk.Services(v.ctx(), v.actor); err != nil {
		return nil, err
	}
	p.orders()
	return p, v.coilsToChoose(p)
}

// orders are those that wait for the machines.
func (p *calendarPage) orders() {
	seen := map[int64]bool{}
	add := func(l desk.PlacedLine) {
		if !seen[l.OrderID] {
			p.Order.Options = append(p.Order.Options, Option{strconv.FormatInt(l.OrderID, 10), l.Number + " " + l.Customer})
		}
		seen[l.OrderID] = true
	}
	for _, r := range p.Plan.Runs {
		for _, l := range r.Lines {
			add(l)
		}
	}
	for _, l := range p.Plan.Unplaced {
		add(l)
	}
}

func (v *visit) coilsToChoose(p *calendarPage) error {
	coils, err := v.desk.Coils(v.ctx())
	for _, c := range coils {
		if c.Promised > 0 {
			p.Coil.Options = append(p.Coil.Options, Option{strconv.FormatInt(c.ID, 10), c.Tag + ", " + c.Strip.String() + ", " + wholeFeet(c.Promised) + " of " + wholeFeet(c.OnHand) + " ft promised"})
		}
	}
	return err
}

// Time writes a moment as the lists have it.
func (p *calendarPage) Time(t time.Time) string { return planTime(t, p.Plan.Zone) }

// Interval and Run write a machine's feet between services, and those since the
// last.
func (*calendarPage) Interval(m stock.Machine) string {
	return wholeFeet(measure.Foot.Times(m.ServiceFeet))
}
func (*calendarPage) Run(s desk.Service) string { return wholeFeet(s.Feet) }

// TakeService leads to what taking a service's time would do.
func (p *calendarPage) TakeService(b *stock.Block) string { return blockPath(*b) }

// FreePath leads to what giving a block back would do.
func (p *calendarPage) FreePath(b stock.Block) string {
	return proposalPath(url.Values{"do": {"free"}, "id": {strconv.FormatInt(b.ID, 10)}})
}

func blockPath(b stock.Block) string { return proposalPath(blockQuery(b)) }

func blockQuery(b stock.Block) url.Values {
	q := url.Values{"do": {"block"}, "machine": {b.Machine}, "kind": {string(b.Kind)}, "from": {b.From.UTC().Format(time.RFC3339)}, "to": {b.To.UTC().Format(time.RFC3339)}, "reason": {b.Reason}}
	if b.ID != 0 {
		q.Set("id", strconv.FormatInt(b.ID, 10))
		q.Set("version", strconv.FormatInt(b.Version, 10))
	}
	return q
}

// showCalendar shows the blocks; ?block= fills the form with one, to move it.
func showCalendar(v *visit) error {
	p, err := v.newCalendarPage()
	if err != nil {
		return err
	}
	for _, b := range p.Blocks {
		if strconv.FormatInt(b.ID, 10) == v.query("block") {
			const form = "1/2/2006 3:04 PM"
			p.ID, p.Version = b.ID, b.Version
			p.Machine.Value, p.Kind.Value, p.Reason.Value = b.Machine, string(b.Kind), b.Reason
			p.From.Value, p.To.Value = b.From.In(p.Plan.Zone).Format(form), b.To.In(p.Plan.Zone).Format(form)
		}
	}
	return v.show(p)
}

// doLookAtBlock reads a block and leads to what it would do to the plan.
func doLookAtBlock(v *visit) error {
	p, err := v.newCalendarPage()
	if err != nil {
		return err
	}
	b := stock.Block{ID: v.number("id"), Version: v.number("version")}
	p.ID, p.Version = b.ID, b.Version
	b.Machine, b.Kind = v.choice(&p.Machine), stock.BlockKind(v.choice(&p.Kind))
	b.From, b.To, b.Reason = v.moment(&p.From, p.Plan.Zone), v.moment(&p.To, p.Plan.Zone), v.text(&p.Reason)
	if !b.From.IsZero() && !b.To.IsZero() {
		v.check(b.Check())
	}
	return v.lookAt(p, blockQuery(b))
}

// doLookAtOrder leads to what an urgent or cancelled order would do.
func doLookAtOrder(v *visit) error {
	p, err := v.newCalendarPage()
	if err != nil {
		return err
	}
	id, what := v.choice(&p.Order), v.choice(&p.What)
	q := url.Values{"do": {what}, "order": {id}}
	switch what {
	case "drop":
		why := v.text(&p.Why)
		if why == "" {
			v.wrong(&p.Why, "say why")
		}
		q.Set("reason", why)
	case "rush":
		if v.text(&p.By) != "" {
			q.Set("by", v.moment(&p.By, p.Plan.Zone).Format(time.RFC3339))
		}
	}
	return v.lookAt(p, q)
}

// lookAt leads to what a change would do, unless it can't be.
func (v *visit) lookAt(p *calendarPage, q url.Values) error {
	if err := v.wrongs(); err != nil {
		return v.again(p, err)
	}
	c, err := v.readChange(q.Get)
	if err == nil {
		err = v.desk.CheckChange(v.ctx(), v.actor, c)
	}
	if err != nil {
		return v.again(p, err)
	}
	return v.redirect(proposalPath(q))
}

// doLookAtCoil leads to what a coil that is gone would do.
func doLookAtCoil(v *visit) error {
	p, err := v.newCalendarPage()
	if err != nil {
		return err
	}
	q := url.Values{"do": {"coil"}, "coil": {v.choice(&p.Coil)}}
	if v.text(&p.Left) != "" {
		q.Set("left", strconv.FormatInt(int64(v.length(&p.Left, measure.Feet)), 10))
	}
	return v.lookAt(p, q)
}

// promisePage moves a promise, which only the owner decides.
type promisePage struct {
	Base
	File   desk.OrderFile
	To     Field
	Reason Field
}

func (promisePage) file() string { return "promise" }

func (v *visit) newPromisePage() (*promisePage, error) {
	id, err := v.id("id")
	if err != nil {
		return nil, err
	}
	f, err := v.desk.OrderFile(v.ctx(), v.actor, id)
	if err != nil {
		return nil, err
	}
	seller, _, err := v.desk.Seller(v.ctx())
	if err != nil {
		return nil, err
	}
	p := &promisePage{
		Base: Base{Title: "Move the promise of " + f.Order.Number, Sheet: "Orders", Small: true, Block: Block{Thing: "Promise", Number: f.Order.Number, State: string(f.Order.State)}},
		File: f, To: Field{Name: "to", Label: "Promised for", Short: true, Help: "Day and time, such as 3/2/2026 1:30 PM."},
		Reason: Field{Name: "reason", Label: "Why", Help: "It stands in the order's history."},
	}
	if !f.Order.Promise.IsZero() {
		p.To.Value = f.Order.Promise.In(seller.Location()).Format("1/2/2006 3:04 PM")
	}
	return p, nil
}

func showPromise(v *visit) error {
	p, err := v.newPromisePage()
	if err != nil {
		return err
	}
	return v.show(p)
}

func doMovePromise(v *visit) error {
	p, err := v.newPromisePage()
	if err != nil {
		return err
	}
	seller, _, err := v.desk.Seller(v.ctx())
	if err != nil {
		return err
	}
	to, why := v.moment(&p.To, seller.Location()), v.text(&p.Reason)
	if err := v.wrongs(); err != nil {
		return v.again(p, err)
	}
	o, err := v.desk.MovePromise(v.ctx(), v.actor, p.File.Order.ID, v.number("version"), to, why)
	if err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying(recordPath("order", o.ID), "Promised anew for "+planTime(o.Promise, seller.Location())+". Tell the customer.")
}
