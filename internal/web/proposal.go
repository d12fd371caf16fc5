package web

import (
	"html/template"
	"net/url"
	"strconv"
	"time"

	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
)

// proposalPage shows what a change would do to the plan before it is accepted.
type proposalPage struct {
	Base
	Proposal desk.Proposal
	Says     []string
	Rows     []figureRow
	Picture  template.HTML
	Sent     []Option // the change as hidden fields
	Adopt    string   // word on the button; "" when there is nothing to adopt
	Other    Link     // the same change with the order kept, or with the best plan
	Costs    bool
	Owner    bool
}

func (proposalPage) file() string { return "proposal" }

// figureRow is one way of planning with what it comes to.
type figureRow struct {
	Name    string
	Minutes int64
	Late    int
	Worth   string
	More    int64 // minutes above the proposal
	Ours    bool
}

// changeKeys are the fields a change travels in.
var changeKeys = []string{"do", "keep", "line", "steps", "machine", "before", "at", "pin", "kind", "from", "to", "reason", "id", "version", "order", "coil"}

// readChange reads a change from where its fields are: the address or a form.
func (v *visit) readChange(get func(string) string) (c desk.PlanChange, err error) {
	number := func(name string) int64 {
		n, _ := strconv.ParseInt(get(name), 10, 64) // 0 names nothing, which the desk says
		return n
	}
	moment := func(name string) time.Time {
		t, terr := time.Parse(time.RFC3339, get(name))
		if terr != nil && get(name) != "" {
			err = fault.Invalidf(name, "this time can't be read")
		}
		return t
	}
	c.Keep = get("keep") != ""
	switch get("do") {
	case "":
	case "undo":
		c.Undo = true
	case "move":
		c.Move = &desk.RunMove{Line: number("line"), Steps: int(number("steps")), Machine: get("machine"), Before: number("before"), At: moment("at"), Pin: get("pin") != ""}
	case "block":
		c.Block = &stock.Block{ID: number("id"), Version: number("version"), Machine: get("machine"), Kind: stock.BlockKind(get("kind")), From: moment("from"), To: moment("to"), Reason: get("reason")}
	case "free":
		c.Free = number("id")
	case "rush":
		c.Rush = number("order")
	case "drop":
		c.Drop, c.Reason = number("order"), get("reason")
	case "coil":
		c.Coil = number("coil")
	default:
		err = fault.NotFoundf("there is no such change")
	}
	return c, err
}

func (v *visit) newProposalPage(get func(string) string) (*proposalPage, error) {
	c, err := v.readChange(get)
	if err != nil {
		return nil, err
	}
	p := &proposalPage{
		Base:  Base{Title: "Proposal", Sheet: "Run plan", Tabs: v.planTabs("Best plan"), Block: Block{Thing: "Run plan", State: "proposal"}},
		Costs: v.actor.Role != party.Operator, Owner: v.actor.Role == party.Owner,
	}
	p.Proposal, err = v.desk.ProposeChange(v.ctx(), v.actor, c)
	if err != nil {
		return nil, err
	}
	q := url.Values{}
	for _, key := range changeKeys {
		if value := get(key); value != "" {
			q.Set(key, value)
			p.Sent = append(p.Sent, Option{key, value})
		}
	}
	p.title(c)
	p.figures()
	p.other(c, q)
	p.draw(v)
	return p, nil
}

func (p *proposalPage) title(c desk.PlanChange) {
	p.Adopt = "Adopt this plan"
	p.Title = "Best plan"
	switch {
	case c.Undo:
		p.Title, p.Adopt = "Back to the plan before", "Take the plan before"
	case c.Move != nil:
		p.Title, p.Adopt = "Move a run", "Move it"
	case c.Block != nil:
		p.Title, p.Adopt = "Take time: "+c.Words(p.Proposal.Zone), "Take the time and adopt"
		if c.Block.Kind == stock.Opening {
			p.Title, p.Adopt = "Open more time: "+c.Words(p.Proposal.Zone), "Open it and adopt"
		}
	case c.Free != 0:
		p.Title, p.Adopt = "Give time back", "Give it back and adopt"
	case c.Rush != 0:
		p.Title, p.Adopt = "Make an order urgent", "Make it urgent and adopt"
	case c.Drop != 0:
		p.Title, p.Adopt = "Cancel an order", "Cancel it and adopt"
	case c.Coil != 0:
		p.Title, p.Adopt = "A coil is gone", "Close the coil and adopt"
	case c.Keep:
		p.Title = "Keep the order, timed anew"
	}
	if len(p.Proposal.Moved) == 0 && p.Proposal.Shifted == 0 && c == (desk.PlanChange{}) {
		p.Adopt = ""
	}
	after := p.Proposal.After
	if len(p.Proposal.Places) > 0 {
		p.Says = append(p.Says, minutesSaid(after.Minutes)+" of changeover. "+lateSaid(after.Late), boundSaid(p.Proposal.Possible))
	}
}

// figures puts the plan before, the proposal and the rules of thumb side by side.
func (p *proposalPage) figures() {
	pr := p.Proposal
	add := func(name string, minutes int64, late int, worth string, ours bool) {
		p.Rows = append(p.Rows, figureRow{name, minutes, late, worth, minutes - pr.After.Minutes, ours})
	}
	if len(pr.Places) == 0 {
		return
	}
	add("This proposal", pr.After.Minutes, pr.After.Late, pr.After.Worth.Format(), true)
	if pr.Before.Known && pr.Before.Lines > 0 {
		add("The plan as it stands", pr.Before.Minutes, pr.Before.Late, pr.Before.Worth.Format(), false)
	}
	for _, r := range pr.Rules {
		add(r.Rule, r.Minutes, r.Late, r.Worth.Format(), false)
	}
}

// other links to the same change planned the other way.
func (p *proposalPage) other(c desk.PlanChange, q url.Values) {
	if c.Undo || c.Move != nil || len(p.Proposal.Places) == 0 {
		return
	}
	if c.Keep {
		q.Del("keep")
		p.Other = Link{Name: "Look for the best plan instead", Path: "/plan/proposal?" + q.Encode()}
		return
	}
	q.Set("keep", "yes")
	p.Other = Link{Name: "Keep the order of the runs instead", Path: "/plan/proposal?" + q.Encode()}
}

func (p *proposalPage) draw(v *visit) {
	pr := p.Proposal
	if len(pr.Runs) == 0 {
		return
	}
	machines, err := v.desk.Machines(v.ctx())
	if err != nil {
		return
	}
	shown := planPage{Plan: desk.RunPlan{Machines: machines, Runs: pr.Runs, Now: pr.At, Zone: pr.Zone}}
	if b := pr.Change.Block; b != nil {
		shown.Plan.Blocks = []stock.Block{*b}
	}
	view := shown.lanes("proposal", mondayOf(pr.At.In(pr.Zone)), 7)
	if last := lastEnd(pr.Runs).In(pr.Zone); last.After(view.First.AddDate(0, 0, 7)) {
		view = shown.lanes("proposal", mondayOf(pr.At.In(pr.Zone)), 12)
	}
	view.Title = "The plan proposed"
	view.Desc = "What moves stands in the list below."
	p.Picture = view.Picture().SVG()
}

func lastEnd(runs []desk.Run) (last time.Time) {
	for _, r := range runs {
		if r.End.After(last) {
			last = r.End
		}
	}
	return last
}

// Time writes a moment as the lists have it.
func (p *proposalPage) Time(t time.Time) string { return planTime(t, p.Proposal.Zone) }

func showProposal(v *visit) error {
	p, err := v.newProposalPage(v.query)
	if fault.Is(err, fault.Conflict) {
		return v.noPlan(err)
	}
	if err != nil {
		return err
	}
	return v.show(p)
}

// noPlan shows the plan as it stands with why there is no such proposal.
func (v *visit) noPlan(why error) error {
	p, err := v.newPlanPage()
	if err != nil {
		return err
	}
	return v.again(p, why)
}

// doAdopt does what was shown. When something changed meanwhile, the new
// proposal is shown with a word about it.
func doAdopt(v *visit) error {
	c, err := v.readChange(v.posted)
	if err != nil {
		return err
	}
	proposal, err := v.desk.AdoptChange(v.ctx(), v.actor, c, v.number("stamp"))
	if fault.Is(err, fault.Conflict) {
		p, fresh := v.newProposalPage(v.posted)
		if fresh != nil {
			return v.noPlan(err)
		}
		return v.again(p, err)
	}
	if err != nil {
		return err
	}
	said := "Adopted: " + minutesSaid(proposal.After.Minutes) + " of changeover. " + lateSaid(proposal.After.Late)
	return v.redirectSaying("/plan", said)
}
