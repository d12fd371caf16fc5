package web

import (
	"fmt"
	"html/template"
	"net/url"
	"strconv"
	"time"

	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
)

// proposalPage shows what a change would do to the plan before it is accepted.
type proposalPage struct {
	Base
	Proposal desk.Proposal
	What     string // the change, a sentence; "" for the best plan
	Says     []string
	Rows     []figureRow
	Wide     template.HTML
	Narrow   template.HTML
	Sent     []Option // the change as hidden fields
	Adopt    string   // word on the button; "" when there is nothing to adopt
	Other    Link     // the same change with the order kept, or with the best plan
	Costs    bool
	Owner    bool
}

func (proposalPage) file() string { return "proposal" }

// searchPage says that a plan is being worked out, and comes back by itself.
type searchPage struct {
	Base
	Underway desk.Underway
	Seconds  int    // it took so far
	Last     string // what the search before took, a sentence
	Again    string // its address
}

func (searchPage) file() string { return "plan-search" }

// figureRow is one way of planning with what it comes to.
type figureRow struct {
	Name    string
	Minutes int64
	Late    int
	Worth   string
	More    int64 // minutes above the proposal
	Ours    bool
}

// Difference is what a way takes more or less than the proposal.
func (r figureRow) Difference() string {
	switch {
	case r.More > 0:
		return "+" + strconv.FormatInt(r.More, 10)
	case r.More < 0:
		return "−" + strconv.FormatInt(-r.More, 10)
	}
	return "0"
}

// changeKeys are the fields a change travels in.
var changeKeys = []string{"do", "keep", "line", "steps", "machine", "before", "at", "pin", "kind", "from", "to", "reason", "id", "version", "order", "by", "coil", "left"}

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
		c.Rush, c.By = number("order"), moment("by")
	case "drop":
		c.Drop, c.Reason = number("order"), get("reason")
	case "coil":
		c.Coil, c.Left = number("coil"), measure.Length(number("left"))
	default:
		err = fault.NotFoundf("there is no such change")
	}
	return c, err
}

// newProposalPage works a change out; while that takes longer than a person
// likes to wait for a page, it gives how the search goes instead.
func (v *visit) newProposalPage(get func(string) string) (*proposalPage, *searchPage, error) {
	c, err := v.readChange(get)
	if err != nil {
		return nil, nil, err
	}
	q := url.Values{}
	p := &proposalPage{
		Base:  Base{Title: "Best plan", Sheet: "Run plan", Tabs: v.planTabs("Best plan"), Block: Block{Thing: "Run plan", State: "proposal"}},
		Costs: v.actor.Role != party.Operator, Owner: v.actor.Role == party.Owner,
	}
	for _, key := range changeKeys {
		if value := get(key); value != "" {
			q.Set(key, value)
			p.Sent = append(p.Sent, Option{key, value})
		}
	}
	var underway *desk.Underway
	p.Proposal, underway, err = v.desk.LookForChange(v.ctx(), v.actor, c, v.s.patience)
	if err != nil {
		return nil, nil, err
	}
	if underway != nil {
		return nil, v.newSearchPage(*underway, q), nil
	}
	p.title(c)
	p.figures()
	p.other(c, q)
	return p, nil, p.draw(v)
}

// proposalPath is the address of what a change would do.
func proposalPath(q url.Values) string {
	if len(q) == 0 {
		return "/plan/proposal"
	}
	return "/plan/proposal?" + q.Encode()
}

func (v *visit) newSearchPage(u desk.Underway, q url.Values) *searchPage {
	p := &searchPage{
		Base:     Base{Title: "Working out the plan", Sheet: "Run plan", Tabs: v.planTabs("Best plan"), Small: true, Block: Block{Thing: "Run plan", State: "being worked out"}},
		Underway: u, Seconds: int(v.desk.Now().Sub(u.Since).Seconds()), Again: proposalPath(q),
	}
	if took := u.Last.Took; took >= time.Second {
		p.Last = fmt.Sprintf("The last one, of %s, took %s.", countSaid(u.Last.Lines, "line", "lines"), countSaid(int((took+time.Second/2)/time.Second), "second", "seconds"))
	}
	return p
}

// show answers with the page, which the browser asks for again by itself, with
// or without script, until the plan is there.
func (p *searchPage) show(v *visit) error {
	wait := 1
	if p.Seconds >= 10 {
		wait = 2
	}
	v.c.Header("Refresh", fmt.Sprintf("%d; url=%s", wait, p.Again))
	v.c.Header("Cache-Control", "no-store")
	return v.show(p)
}

// changeNames gives the heading and the word on the button of each kind of change.
func changeNames(c desk.PlanChange) (title, adopt string) {
	switch {
	case c.Undo:
		return "Back to the plan before", "Take it back"
	case c.Move != nil:
		return "Move a run", "Move it"
	case c.Block != nil && c.Block.Kind == stock.Opening:
		return "Open more time", "Open it and adopt"
	case c.Block != nil && c.Block.ID != 0:
		return "Move taken time", "Move it and adopt"
	case c.Block != nil:
		return map[stock.BlockKind]string{
			stock.OwnJob: "Own job", stock.Service: "Service", stock.Down: "Machine down", stock.Away: "Operator away",
		}[c.Block.Kind], "Take the time and adopt"
	case c.Free != 0:
		return "Give time back", "Give it back and adopt"
	case c.Rush != 0:
		return "Rush order", "Make it urgent and adopt"
	case c.Drop != 0:
		return "Cancel an order", "Cancel it and adopt"
	case c.Coil != 0 && c.Left == 0:
		return "A coil is gone", "Close the coil and adopt"
	case c.Coil != 0:
		return "A coil is short", "Book it and adopt"
	case c.Keep:
		return "Keep the order, timed anew", "Adopt this plan"
	}
	return "Best plan", "Adopt this plan"
}

func (p *proposalPage) title(c desk.PlanChange) {
	p.Title, p.Adopt = changeNames(c)
	if c != (desk.PlanChange{}) && c != (desk.PlanChange{Keep: true}) {
		p.What = sentence(p.Proposal.What)
	}
	if len(p.Proposal.Moved) == 0 && p.Proposal.Shifted == 0 && c == (desk.PlanChange{}) {
		p.Adopt = ""
	}
	after := p.Proposal.After
	if len(p.Proposal.Places) > 0 {
		p.Says = append(p.Says, minutesSaid(after.Minutes)+" of changeover. "+lateSaid(after.Late), punctualSaid(p.Proposal)+boundSaid(p.Proposal.Possible))
	}
}

// punctualSaid tells whether it can be helped that orders are late, where a plan
// was looked for.
func punctualSaid(p desk.Proposal) string {
	switch {
	case p.After.Late == 0 || p.Possible < 0:
		return ""
	case p.Result.Bound.Proven >= 1:
		return "No plan is late by less. "
	}
	return "Whether less could be late isn't known. "
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
		add("The plan as it stands"+besideSaid(pr.Before.Lines-len(pr.Places)), pr.Before.Minutes, pr.Before.Late, pr.Before.Worth.Format(), false)
	}
	for _, r := range pr.Rules {
		add(r.Rule, r.Minutes, r.Late, r.Worth.Format(), false)
	}
}

// besideSaid tells that the plan as it stands has other lines than the proposal,
// so that its minutes don't compare.
func besideSaid(more int) string {
	switch {
	case more < 0:
		return ", without " + countSaid(-more, "line", "lines")
	case more > 0:
		return ", with " + countSaid(more, "line more", "lines more")
	}
	return ""
}

// other links to the same change planned the other way.
func (p *proposalPage) other(c desk.PlanChange, q url.Values) {
	if c.Undo || c.Move != nil || len(p.Proposal.Places) == 0 {
		return
	}
	if c.Keep {
		q.Del("keep")
		p.Other = Link{Name: "Look for the best plan instead", Path: proposalPath(q)}
		return
	}
	q.Set("keep", "yes")
	p.Other = Link{Name: "Keep the order of the runs instead", Path: proposalPath(q)}
}

func (p *proposalPage) draw(v *visit) error {
	pr := p.Proposal
	if len(pr.Runs) == 0 {
		return nil
	}
	machines, err := v.desk.Machines(v.ctx())
	if err != nil {
		return err
	}
	shown := planPage{Plan: desk.RunPlan{Machines: machines, Runs: pr.Runs, Now: pr.At, Zone: pr.Zone, Blocks: pr.Blocks, Open: pr.Open}}
	from := pr.At.In(pr.Zone)
	draw := func(id string, days int, width float64) template.HTML {
		view := shown.lanes(id, from, days)
		view.Title, view.Desc, view.Width = "The plan proposed", "What moves stands in the list below.", width
		return view.Picture().SVG()
	}
	days := 7
	if y, m, d := pr.At.In(pr.Zone).Date(); lastEnd(pr.Runs).After(time.Date(y, m, d+days, 0, 0, 0, 0, pr.Zone)) {
		days = 12
	}
	p.Wide = draw("proposal", days, 0)
	if b := pr.Change.Block; b != nil && b.From.After(from.AddDate(0, 0, 1)) {
		from = b.From.In(pr.Zone) // two days show little: those of the time that is taken
	}
	p.Narrow = draw("proposal-phone", 2, 560)
	return nil
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

// LateBy writes by how much a promise is missed.
func (*proposalPage) LateBy(p desk.Promise) string { return spanSaid(p.Late()) }

func showProposal(v *visit) error {
	p, search, err := v.newProposalPage(v.query)
	switch {
	case fault.Is(err, fault.Conflict):
		return v.noPlan(err)
	case err != nil:
		return err
	case search != nil:
		return search.show(v)
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
	proposal, err := v.adopt(c)
	if fault.Is(err, fault.Conflict) {
		p, search, fresh := v.newProposalPage(v.posted)
		switch {
		case fresh != nil:
			return v.noPlan(err)
		case search != nil:
			return v.redirectSaying(search.Again, v.sentence(fault.All(err)[0]))
		}
		return v.again(p, err)
	}
	if err != nil {
		return err
	}
	said := "Adopted: " + proposal.What + "."
	if c.Undo {
		said = sentence(proposal.What)
	}
	said += " " + minutesSaid(proposal.After.Minutes) + " of changeover. " + lateSaid(proposal.After.Late)
	return v.redirectSaying("/plan", said)
}

func (v *visit) adopt(c desk.PlanChange) (desk.Proposal, error) {
	if err := v.desk.StillHolds(time.Unix(v.number("worked"), 0)); err != nil {
		return desk.Proposal{}, err
	}
	return v.desk.AdoptChange(v.ctx(), v.actor, c, v.number("stamp"))
}
