package web

import (
	"fmt"
	"html/template"
	"slices"
	"strconv"
	"strings"
	"time"

	"ribdesk/internal/caution"
	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/price"
	"ribdesk/internal/words"
)

// ordersPage lists orders, by state or by words.
type ordersPage struct {
	Base
	Find   Field
	State  string
	States []stateCount
	Whys   []stateCount // of declined quotes, for who may know
	Orders []order.Order
	More   string               // address of the next page, "" on the last
	Worth  map[int64]desk.Worth // of an hour of the machine, for the owner
	Ranked bool                 // by that worth
}

func (ordersPage) file() string { return "orders" }

type stateCount struct {
	Name string
	Path string
	N    int
	Here bool
}

const ordersAPage = 50

func showOrders(v *visit) error {
	p := &ordersPage{
		Base: Base{Title: "Orders", Sheet: "Orders", Block: Block{Thing: "Orders"}}, State: v.query("state"),
		Find: Field{Name: "q", Label: "Find by number, name, job or PO", Kind: "search", Value: v.query("q")},
	}
	before, _ := strconv.ParseInt(v.query("before"), 10, 64) // anything else starts at the newest
	f := desk.OrderFilter{Text: p.Find.Value, Before: max(before, 0), Limit: ordersAPage + 1}
	if p.State != "" {
		f.States = []order.State{order.State(p.State)}
	}
	if v.query("by") == "worth" && v.actor.Role == party.Owner {
		return v.rankOrders(p, f)
	}
	list, err := v.desk.Orders(v.ctx(), v.actor, f)
	if err != nil {
		return err
	}
	if len(list) > ordersAPage {
		list = list[:ordersAPage]
		p.More = fmt.Sprintf("/orders?state=%s&q=%s&before=%d", template.URLQueryEscaper(p.State), template.URLQueryEscaper(p.Find.Value), list[len(list)-1].ID)
	}
	p.Orders = list
	if v.actor.Role == party.Owner {
		p.Worth = v.desk.WorthOf(list)
	}
	if v.actor.Role.Staff() {
		if err := v.countStates(p); err != nil {
			return err
		}
	}
	if p.State == string(order.Declined) && (v.actor.Role == party.Owner || v.actor.Role == party.Counter) {
		if err := v.countWhys(p); err != nil {
			return err
		}
	}
	return v.show(p)
}

// mostRanked bounds how many orders are ranked at once.
const mostRanked = 500

// rankOrders lists the orders that are still to be made by what an hour of the
// machine earns on them, the best first: the rule for which to take when hours
// are short. Those that run on no machine come last.
func (v *visit) rankOrders(p *ordersPage, f desk.OrderFilter) error {
	if p.State == "" {
		f.States = []order.State{order.Draft, order.Quoted, order.Accepted, order.Planned}
	}
	f.Before, f.Limit = 0, mostRanked
	list, err := v.desk.Orders(v.ctx(), v.actor, f)
	if err != nil {
		return err
	}
	p.Orders, p.Worth, p.Ranked = list, v.desk.WorthOf(list), true
	slices.SortStableFunc(p.Orders, func(a, b order.Order) int { return p.Worth[b.ID].PerHour.Cmp(p.Worth[a.ID].PerHour) })
	if err := v.countStates(p); err != nil {
		return err
	}
	return v.show(p)
}

// countWhys says how often each reason was given in the last 90 days.
func (v *visit) countWhys(p *ordersPage) error {
	counts, err := v.desk.DeclinedBy(v.ctx(), v.actor)
	if err != nil {
		return err
	}
	for _, w := range order.Whys {
		if counts[string(w)] > 0 {
			p.Whys = append(p.Whys, stateCount{Name: w.Words(), N: counts[string(w)]})
		}
	}
	return nil
}

func (v *visit) countStates(p *ordersPage) error {
	counts, err := v.desk.CountOrders(v.ctx())
	if err != nil {
		return err
	}
	for _, s := range order.States {
		if counts[s] > 0 {
			p.States = append(p.States, stateCount{string(s), "/orders?state=" + string(s), counts[s], p.State == string(s)})
		}
	}
	return nil
}

// doFind leads a search of the head strip to the record, or to the list.
func showFound(v *visit) error {
	q := strings.TrimSpace(v.query("q"))
	list, err := v.desk.Orders(v.ctx(), v.actor, desk.OrderFilter{Text: q, Limit: 2})
	if err != nil {
		return err
	}
	if len(list) == 1 {
		return v.redirect(recordPath("order", list[0].ID))
	}
	return v.redirect("/orders?q=" + template.URLQueryEscaper(q))
}

// station is a stop on the order line.
type station struct {
	Name string
	Done bool
	Here bool
	At   time.Time
	By   string
}

// orderPage is one order with its path, lines, price and papers.
type orderPage struct {
	Base
	File     desk.OrderFile
	Stations []station
	Drawings []template.HTML
	Roofs    []roofView   // the take-offs it was made from
	Lines    []price.Line // of the offer it stands on, for staff with build-up
	Costs    bool
	Token    string              // of the private link the page was opened by
	Money    *orderMoney         // its money side, for staff who deal with money
	Leaves   *price.Cancellation // what cancelling leaves behind, while it can be cancelled

	Name, JobTitle, Consent, Sharing, Reason Field
	Why, From, Message                       Field
	Cautions                                 []said
	LinkUntil                                time.Time
	metals                                   []desk.MetalChoice
	BelowBy                                  Field
	Mails                                    []mailLine // to the customer, for the office
	ListName                                 Field      // to keep its lines under
	photoNotes
}

func (orderPage) file() string { return "order" }

func newOrderPage(f desk.OrderFile, actor party.Actor, r words.Reader) *orderPage {
	o := f.Order
	p := &orderPage{
		File: f, Costs: actor.Role == party.Owner || actor.Role == party.Counter,
		Base: Base{Title: r.T("Order %s", o.Number), Sheet: "Orders", Reader: r, Block: Block{
			Thing: "Order", Number: o.Number, Revision: strconv.Itoa(o.Revision), State: string(o.State), By: o.CreatedBy,
		}},
		Name:     Field{Name: "name", Label: "Name of who accepts", Auto: "name", Help: "Typed, it stands as the signature."},
		JobTitle: Field{Name: "title", Label: "Title", Auto: "organization-title", Optional: true},
		Consent:  Field{Name: "consent", Label: desk.ConsentText, Kind: "checkbox"},
		Sharing:  Field{Name: "sharing", Label: r.T("Take the shared-set-up price of %s", o.Shared.Total.Format()), Kind: "checkbox", Optional: true, Checked: o.Sharing},
		Reason:   Field{Name: "reason", Label: "Reason"},
		Why:      Field{Name: "why", Label: "Why", Options: whyOptions()},
		From:     Field{Name: "from", Label: "Your name", Auto: "name"},
		Message:  Field{Name: "message", Label: "Message", Rows: 3},
		ListName: Field{Name: "list_name", Label: "Name of the list", Value: o.Job},
		BelowBy:  Field{Name: "below", Label: "Reason for going below the floor", Optional: true, Help: "Only the owner; only where the price is below what the goods cost an idle machine."},
	}
	p.Stations = stationsOf(f)
	p.LinkUntil = desk.LinkUntil(o)
	for _, c := range caution.For(caution.Quote, r.Language) {
		p.Cautions = append(p.Cautions, said{Title: c.Title, General: c.Text})
	}
	if f.Quote != nil {
		p.Lines = f.Quote.Alone.Lines
		if o.Sharing && f.Quote.Shared != nil {
			p.Lines = f.Quote.Shared.Lines
		}
	}
	return p
}

// stationsOf gives the path of an order with when and by whom each station was
// reached; an order that ended early shows where.
func stationsOf(f desk.OrderFile) []station {
	reached := map[string]desk.Event{}
	for _, e := range f.Events {
		reached[e.Action] = e
	}
	var out []station
	for _, s := range order.Path {
		name := string(s)
		if s == order.Draft {
			name = words.Key("ask")
		}
		st := station{Name: name, Done: f.Order.State.Reached(s), Here: f.Order.State == s}
		if e, ok := reached[map[bool]string{true: "asked", false: string(s)}[s == order.Draft]]; ok && st.Done {
			st.At, st.By = e.At, e.PersonName
		}
		out = append(out, st)
	}
	if !f.Order.State.Reached(order.Draft) { // declined, lapsed, cancelled
		e := reached[string(f.Order.State)]
		out = append(out[:1], station{Name: string(f.Order.State), Done: true, Here: true, At: e.At, By: e.PersonName})
		out[0].Done = true
	}
	return out
}

// orderFile gives the order in the path with all that belongs to it.
func (v *visit) orderFile() (desk.OrderFile, error) {
	id, err := v.id("id")
	if err != nil {
		return desk.OrderFile{}, err
	}
	return v.desk.OrderFile(v.ctx(), v.actor, id)
}

func (v *visit) loadOrder() (*orderPage, error) {
	f, err := v.orderFile()
	if err != nil {
		return nil, err
	}
	p := newOrderPage(f, v.actor, v.reader)
	if err := v.moneyOf(p); err != nil {
		return nil, err
	}
	if err := v.mailsOf(p); err != nil {
		return nil, err
	}
	if s := f.Order.State; p.Costs && (s == order.Accepted || s == order.Planned) {
		c, err := v.desk.IfCancelled(v.ctx(), v.actor, f.Order.ID)
		if err != nil {
			return nil, err
		}
		p.Leaves = &c
	}
	return p, v.drawOrder(p)
}

func (v *visit) drawOrder(p *orderPage) error {
	offer, err := v.desk.Offering(v.ctx(), v.actor)
	if err != nil {
		return err
	}
	p.metals = offer.Metals
	if p.Roofs, err = v.roofsOf(p.File.Order); err != nil {
		return err
	}
	if err := v.photosOf(p); err != nil {
		return err
	}
	seen := map[string]bool{}
	for i, l := range p.File.Order.Lines {
		if seen[l.Code] {
			continue
		}
		seen[l.Code] = true
		view, ok, err := v.desk.LineSection(v.ctx(), v.actor, l, fmt.Sprintf("line-%d", i+1), v.reader)
		if err != nil {
			return err
		}
		if ok {
			p.Drawings = append(p.Drawings, view.Picture().SVG())
		}
	}
	return nil
}

func showOrder(v *visit) error {
	p, err := v.loadOrder()
	if err != nil {
		return err
	}
	return v.show(p)
}

// step runs one step of an order and comes back to its page.
func (v *visit) step(what string, do func(id, seen int64, p *orderPage) error) error {
	p, err := v.loadOrder()
	if err != nil {
		return err
	}
	if err := do(p.File.Order.ID, v.number("version"), p); err != nil {
		return v.stepAgain(p, err)
	}
	return v.redirectSaying(recordPath("order", p.File.Order.ID), what)
}

func doQuoteOrder(v *visit) error {
	p, err := v.loadOrder()
	if err != nil {
		return err
	}
	var below *price.Override
	if reason := v.text(&p.BelowBy); reason != "" && v.actor.Role == party.Owner {
		below = &price.Override{By: v.actor.Name, Reason: reason}
	}
	q, err := v.desk.QuoteOrder(v.ctx(), v.actor, p.File.Order.ID, v.number("version"), below)
	if err != nil {
		return v.stepAgain(p, err)
	}
	return v.redirectSaying(recordPath("order", q.Order.ID), "Quoted. The customer's private link, shown only now: %s", v.desk.BaseURL()+"/q/"+q.Token)
}

func (v *visit) yesOf(p *orderPage) desk.Yes {
	yes := desk.Yes{Name: v.text(&p.Name), Title: v.text(&p.JobTitle), Consent: v.yes(&p.Consent), Sharing: v.yes(&p.Sharing), Origin: v.c.ClientIP()}
	if shown := v.number("ready"); shown != 0 {
		yes.Ready = time.Unix(shown, 0)
	}
	return yes
}

func doAcceptOrder(v *visit) error {
	return v.step("Accepted. The order is acknowledged on paper.", func(id, seen int64, p *orderPage) error {
		yes := v.yesOf(p)
		yes.Method = "counter"
		if v.actor.Role == party.Buyer {
			yes.Method = "account"
		}
		_, err := v.desk.AcceptOrder(v.ctx(), v.actor, id, seen, yes)
		return err
	})
}

func doDeclineOrder(v *visit) error {
	return v.step("Declined.", func(id, seen int64, p *orderPage) error {
		reason, err := v.whyDeclined(p)
		if err != nil {
			return err
		}
		_, err = v.desk.DeclineOrder(v.ctx(), v.actor, id, seen, reason)
		return err
	})
}

func doReopenOrder(v *visit) error {
	return v.step("Open again as a draft.", func(id, seen int64, _ *orderPage) error {
		_, err := v.desk.ReopenOrder(v.ctx(), v.actor, id, seen)
		return err
	})
}

func doCancelOrder(v *visit) error {
	return v.step("Cancelled.", func(id, seen int64, p *orderPage) error {
		_, err := v.desk.CancelOrder(v.ctx(), v.actor, id, seen, v.text(&p.Reason))
		return err
	})
}

func doRevokeLink(v *visit) error {
	return v.step("The private link opens nothing any more.", func(id, _ int64, _ *orderPage) error {
		return v.desk.RevokeLink(v.ctx(), v.actor, id)
	})
}

func doPickFromShelf(v *visit) error {
	return v.step("Ready from the shelf.", func(id, _ int64, _ *orderPage) error {
		_, err := v.desk.PickFromShelf(v.ctx(), v.actor, id)
		return err
	})
}

// showPaper sends an issued document as it was issued.
func showPaper(v *visit) error {
	id, err := v.id("id")
	if err != nil {
		return err
	}
	paper, err := v.desk.Paper(v.ctx(), v.actor, id)
	if err != nil {
		return err
	}
	return v.sendPaper(paper)
}

// doIssuePaper prints a shop paper of an order and opens it.
func doIssuePaper(v *visit) error {
	id, err := v.id("id")
	if err != nil {
		return err
	}
	var paper order.Paper
	switch v.c.Request.PostFormValue("kind") {
	case "pick-ticket":
		paper, err = v.desk.IssuePickTicket(v.ctx(), v.actor, id)
	case "bundle-labels":
		paper, err = v.desk.IssueLabels(v.ctx(), v.actor, id)
	default:
		err = fault.Invalidf("kind", "choose a paper of the list")
	}
	if err != nil {
		return err
	}
	return v.redirect("/papers/" + strconv.FormatInt(paper.ID, 10))
}
