package web

import (
	"html/template"
	"strconv"
	"strings"

	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/roof"
	"ribdesk/internal/words"
)

// roofPage takes a roof off: its planes on the left, drawn and laid on the right.
type roofPage struct {
	Base
	Code    string // of the kept take-off it was opened from, "" for none
	Version int64
	OrderID int64 // that was made from it
	Panel   *formPart
	Chosen  *counterLine // the panel, to look at
	Planes  []*roofPlanePart
	Rows    int
	Rules   *formPart
	Pick    *formPart
	Kept    []desk.TakeOff
	Slip    *roofSlip
	Says    []words.Text

	ask    desk.RoofAsk
	offer  desk.Offering
	metals []desk.MetalChoice
	usual  roof.Rules
	unit   measure.Unit // of a bare number among the planes
}

func (roofPage) file() string { return "takeoff" }

// PanelKey tells the script whether other metals belong to the panel now.
func (p *roofPage) PanelKey() string { return p.ask.Profile }

// roofPlanePart is a plane's fields; Key tells the script whether other fields
// belong to it now.
type roofPlanePart struct {
	*formPart
	ID, Key string
}

// roofSlip is what the roof comes to.
type roofSlip struct {
	desk.RoofTaken
	Planes    []roofPlaneView
	Cautions  []said
	Swatch    string
	Thickness string
}

// roofPlaneView is a plane as it is shown.
type roofPlaneView struct {
	Name, Facts string
	Drawing     template.HTML
}

// planeViews draws the planes of a roof for the reader.
func (v *visit) planeViews(r roof.Result, id string) (out []roofPlaneView) {
	for i, view := range desk.DrawRoof(r, id, v.reader) {
		out = append(out, roofPlaneView{view.Title, desk.PlaneFacts(r.Planes[i], v.reader), view.Picture().SVG()})
	}
	return out
}

func (v *visit) newRoofPage(ask desk.RoofAsk) (*roofPage, error) {
	offer, err := v.desk.Offering(v.ctx(), v.actor)
	if err != nil {
		return nil, err
	}
	p := &roofPage{Base: Base{Title: "Roof take-off", Sheet: "Counter", Block: Block{Thing: "Roof take-off", State: "not kept"}, Reader: v.reader}, ask: ask, offer: offer, unit: measure.Feet, Says: desk.RoofSays}
	if u := offer.Seller.Unit; u == measure.Metres || u == measure.Millimetres || u == measure.Centimetres {
		p.unit = u
	}
	return p, nil
}

// knowPanel looks up what depends on the profile: its metals, and its usual rules.
func (v *visit) knowPanel(p *roofPage) error {
	p.metals = p.offer.MetalsFor(order.Formed, p.ask.Profile)
	var err error
	p.usual, err = v.desk.RoofRules(v.ctx(), p.ask.Profile)
	return err
}

// showRoof opens the page on a new roof.
func showRoof(v *visit) error {
	ask, err := v.desk.UsualRoof(v.ctx())
	if err != nil {
		return err
	}
	p, err := v.newRoofPage(ask)
	if err != nil {
		return err
	}
	if p.Kept, err = v.desk.TakeOffs(v.ctx(), v.actor); err != nil {
		return err
	}
	if err := p.describe(v.newBinder(false)); err != nil {
		return err
	}
	return v.show(p)
}

// showKeptRoof opens a take-off that was kept.
func showKeptRoof(v *visit) error {
	k, err := v.desk.TakeOff(v.ctx(), v.actor, v.c.Param("code"))
	if err != nil {
		return err
	}
	p, err := v.newRoofPage(k.Ask)
	if err != nil {
		return err
	}
	p.Code, p.Version, p.OrderID = k.Code, k.Version, k.OrderID
	p.Block = Block{Thing: "Roof take-off", Number: "T-" + strconv.FormatInt(k.ID, 10), Revision: strconv.FormatInt(k.Version, 10), State: "kept", By: k.MadeBy, Date: k.UpdatedAt.In(p.offer.Seller.Location()).Format("2006-01-02")}
	if k.OrderID != 0 {
		p.Block.State = "ordered"
	}
	if err := p.describe(v.newBinder(false)); err != nil {
		return err
	}
	v.setRoofSlip(p, k.RoofTaken)
	return v.show(p)
}

// readRoof reads the page as it was typed.
func (v *visit) readRoof() (*roofPage, *binder, error) {
	p, err := v.newRoofPage(desk.RoofAsk{})
	if err != nil {
		return nil, nil, err
	}
	p.Code, p.Version = v.posted("code"), v.number("version")
	b := v.newBinder(true)
	if err := p.describe(b); err != nil {
		return nil, nil, err
	}
	return p, b, nil
}

// setRoofSlip shows what the roof comes to.
func (v *visit) setRoofSlip(p *roofPage, t desk.RoofTaken) {
	p.Slip = &roofSlip{RoofTaken: t, Planes: v.planeViews(t.Result, "roof"), Cautions: cautions(t.Notices), Swatch: t.Metal.Colour.Swatch, Thickness: p.thickness(t.Metal)}
}

// onRoof moves the desk's faults to the page's fields, which count from 1.
func (b *binder) onRoof(err error) error {
	if err == nil {
		return nil
	}
	var l fault.List
	for _, f := range fault.All(err) {
		g := *f
		parts := strings.Split(strings.TrimPrefix(g.Field, "roof."), ".")
		for i, s := range parts {
			if n, err := strconv.Atoi(s); err == nil {
				parts[i] = strconv.Itoa(n + 1)
			}
		}
		g.Field = strings.Join(parts, ".")
		if strings.HasPrefix(g.Field, "product.") {
			g.Field = "profile"
		}
		l = append(l, &g)
	}
	return b.nearest(l.Err())
}

// doDrawRoof lays what is typed, for the live part of the page.
func doDrawRoof(v *visit) error {
	p, b, err := v.readRoof()
	if err != nil {
		return err
	}
	return v.answerRoof(p, b)
}

func (v *visit) answerRoof(p *roofPage, b *binder) error {
	t, err := v.desk.TakeOffRoof(v.ctx(), v.actor, p.ask)
	if err != nil {
		v.check(b.onRoof(err))
	}
	if err := v.wrongs(); err != nil {
		return v.again(p, err)
	}
	v.setRoofSlip(p, t)
	return v.show(p)
}

// doRoof answers the page's buttons: planes and openings come and go, the roof
// is laid, kept, or put on an order.
func doRoof(v *visit) error {
	do := v.posted("do")
	reshaped := reshape(v.c.Request.PostForm, do)
	p, b, err := v.readRoof()
	if err != nil {
		return err
	}
	switch {
	case reshaped:
		v.found = nil // a row was added to what isn't finished yet
		if t, err := v.desk.TakeOffRoof(v.ctx(), v.actor, p.ask); err == nil {
			v.setRoofSlip(p, t)
		}
		return v.show(p)
	case do == "keep" || do == "use":
		return v.keepRoof(p, b, do)
	}
	return v.answerRoof(p, b)
}

func (v *visit) keepRoof(p *roofPage, b *binder, do string) error {
	if err := v.wrongs(); err != nil {
		_, taken := v.desk.TakeOffRoof(v.ctx(), v.actor, p.ask)
		v.check(b.onRoof(taken))
		return v.again(p, v.wrongs())
	}
	k, err := v.desk.KeepTakeOff(v.ctx(), v.actor, p.Code, p.Version, p.ask)
	if err != nil {
		return v.again(p, b.onRoof(err))
	}
	if do == "use" {
		return v.redirectSaying("/counter?roof="+k.Code, "The roof is on the ask. Look it over, then keep it or get the quote.")
	}
	return v.redirectSaying("/roof/"+k.Code, "The take-off is kept. This page's address opens it again.")
}

// showRoofSheet sends a kept take-off as PDF.
func showRoofSheet(v *visit) error {
	pdf, err := v.desk.TakeOffSheet(v.ctx(), v.actor, v.c.Param("code"))
	if err != nil {
		return err
	}
	return v.sendFile("application/pdf", "roof-take-off.pdf", true, pdf)
}

// showRoofAsk opens the counter with the lines of a kept take-off.
func showRoofAsk(v *visit, code string) error {
	o, err := v.desk.RoofOrder(v.ctx(), v.actor, code)
	if err != nil {
		return err
	}
	p, err := v.newCounterPage()
	if err != nil {
		return err
	}
	p.TakeOff = code
	if v.actor.Role == party.Buyer {
		o.CustomerID = v.actor.CustomerID
	}
	return v.showFilled(p, o)
}

// roofView is a take-off as it stands on an order's page.
type roofView struct {
	desk.TakeOff
	Planes []roofPlaneView
	Path   string // of its own page, "" for who may not open it
}

// roofsOf draws the take-offs that an order was made from.
func (v *visit) roofsOf(o order.Order) (out []roofView, err error) {
	kept, err := v.desk.RoofsOf(v.ctx(), v.actor, o)
	if err != nil {
		return nil, err
	}
	for i, k := range kept {
		view := roofView{TakeOff: k.TakeOff, Planes: v.planeViews(k.Result, "roof-"+strconv.Itoa(i+1))}
		if admitted(v.actor.Role, "/roof/:code") && (k.CustomerID == 0 || v.actor.Sees(k.CustomerID)) {
			view.Path = "/roof/" + k.Code
		}
		out = append(out, view)
	}
	return out, nil
}
