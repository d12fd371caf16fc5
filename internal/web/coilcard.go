package web

import (
	"fmt"
	"html/template"
	"strconv"
	"strings"

	"ribdesk/internal/desk"
	"ribdesk/internal/drawing"
	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
)

// coilPage is one coil: its bar, its ledger, who counts on it, and what can be
// done with it.
type coilPage struct {
	Base
	Card     desk.CoilCard
	Of       desk.RackStrip
	Bar      coilBar
	Ledger   []ledgerRow
	Sums     []ledgerSum
	Costs    bool
	Hands    bool // may move metal
	Pounds   string
	Machines []Option

	Kind, Length, Reason Field
	Machine              Field
	Slit                 *slitForm
}

func (coilPage) file() string { return "coil" }

// ledgerRow is a movement with what was on the coil after it.
type ledgerRow struct {
	stock.Movement
	Left measure.Length
}

// ledgerSum is a term of the coil's balance.
type ledgerSum struct {
	Label string
	Sum   measure.Length
	Last  bool
}

// slitForm slits feet of a coil into strips.
type slitForm struct {
	Feet, Edge Field
	Rows       []slitRow
	Picture    template.HTML
	Left       string // what remains of the width
}

type slitRow struct{ Width, Count Field }

// slitRows are those of an empty form; each that is left empty counts nothing.
const slitRows = 4

func (v *visit) newCoilPage() (*coilPage, error) {
	id, err := v.id("id")
	if err != nil {
		return nil, err
	}
	card, err := v.desk.CoilCard(v.ctx(), id)
	if err != nil {
		return nil, err
	}
	rack, err := v.desk.Rack(v.ctx(), v.actor)
	if err != nil {
		return nil, err
	}
	c := card.Coil
	p := &coilPage{
		Base: Base{Title: "Coil " + c.Tag, Sheet: "Coils", Tabs: v.coilTabs(""), Block: Block{Thing: "Coil", Number: c.Tag, State: coilState(c)}},
		Card: card, Of: desk.RackStrip{Strip: c.Strip}, Costs: v.actor.Role != party.Operator, Hands: v.actor.Role != party.Counter,
		Kind: Field{Name: "kind", Label: "What happened", Options: []Option{
			{string(stock.MovedAdjusted), "Counted: this much is on it"}, {string(stock.MovedScrap), "Scrapped: this much is lost"}, {string(stock.MovedReturned), "Returned to the supplier"}}},
		Length:  Field{Name: "length", Label: "Length", Short: true, Help: "Such as 118' 4\" or 118.5 ft. A bare number is feet."},
		Reason:  Field{Name: "reason", Label: "Why"},
		Machine: Field{Name: "machine", Label: "Where it is", Value: c.Mounted, Optional: true, Options: []Option{{"", "on the rack"}}},
		Slit:    newSlitForm(),
	}
	for _, s := range rack.Strips {
		if s.Strip == c.Strip {
			p.Of = s
		}
	}
	p.Of.Strip = c.Strip
	for _, m := range rack.Machines {
		p.Machine.Options = append(p.Machine.Options, Option{m.Code, "on the " + m.Name})
	}
	p.Bar = newCoilBar(c, p.Of.Colour, 0)
	p.balance()
	return p, nil
}

func coilState(c stock.Coil) string {
	switch {
	case c.Spent:
		return "spent"
	case c.Mounted != "":
		return "on " + c.Mounted
	case c.Remnant:
		return "remnant"
	}
	return "on the rack"
}

// balance sums the ledger by kind, as it must come out.
func (p *coilPage) balance() {
	sums := map[stock.Moved]measure.Length{}
	var left measure.Length
	for _, m := range p.Card.Movements {
		left += m.Length
		sums[m.Kind] += m.Length
		p.Ledger = append(p.Ledger, ledgerRow{m, left})
	}
	for _, k := range []stock.Moved{stock.MovedReceived, stock.MovedCut, stock.MovedScrap, stock.MovedSlit, stock.MovedReturned, stock.MovedAdjusted} {
		if sums[k] != 0 {
			p.Sums = append(p.Sums, ledgerSum{Label: string(k), Sum: sums[k]})
		}
	}
	p.Sums = append(p.Sums, ledgerSum{Label: "on hand", Sum: left, Last: true})
}

func showCoil(v *visit) error {
	p, err := v.newCoilPage()
	if err != nil {
		return err
	}
	return v.show(p)
}

// doMoveCoil books a count, scrap or a return.
func doMoveCoil(v *visit) error {
	p, err := v.newCoilPage()
	if err != nil {
		return err
	}
	kind := stock.Moved(v.choice(&p.Kind))
	l := v.length(&p.Length, measure.Feet).Near(measure.SixtyFourth)
	reason := v.text(&p.Reason)
	if err := v.wrongs(); err != nil {
		return v.again(p, err)
	}
	if err := v.desk.MoveCoil(v.ctx(), v.actor, p.Card.Coil.ID, kind, l, reason); err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying(recordPath("coil", p.Card.Coil.ID), "Booked.")
}

// doMountCoil puts the coil on a machine or back on the rack.
func doMountCoil(v *visit) error {
	p, err := v.newCoilPage()
	if err != nil {
		return err
	}
	machine := v.choice(&p.Machine)
	if err := v.wrongs(); err != nil {
		return v.again(p, err)
	}
	if err := v.desk.MountCoil(v.ctx(), v.actor, p.Card.Coil.ID, machine); err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying(recordPath("coil", p.Card.Coil.ID), "Booked.")
}

// doTagCoil prints the coil's tag and shows it.
func doTagCoil(v *visit) error {
	id, err := v.id("id")
	if err != nil {
		return err
	}
	paper, err := v.desk.IssueCoilTag(v.ctx(), v.actor, id)
	if err != nil {
		return err
	}
	return v.redirect(fmt.Sprintf("/papers/%d", paper.ID))
}

func newSlitForm() *slitForm {
	f := &slitForm{
		Feet: Field{Name: "feet", Label: "Feet to slit", Short: true, Help: "A bare number is feet."},
		Edge: Field{Name: "edge", Label: "Edge trim, each side", Short: true, Value: "1/8", Unit: "in"},
	}
	for i := range slitRows {
		pre := "strips." + strconv.Itoa(i) + "."
		f.Rows = append(f.Rows, slitRow{
			Width: Field{Name: pre + "width", Label: fmt.Sprintf("Strip %d, width", i+1), Unit: "in", Short: true, Optional: i > 0},
			Count: Field{Name: pre + "count", Label: fmt.Sprintf("Strip %d, how many", i+1), Keys: "numeric", Short: true, Optional: true},
		})
	}
	return f
}

// readSlit reads the form; a width without a count is one strip.
func (v *visit) readSlit(f *slitForm) desk.Slit {
	slit := desk.Slit{Feet: v.length(&f.Feet, measure.Feet).Down(measure.SixtyFourth), EdgeTrim: v.length(&f.Edge, measure.Inches)}
	for i := range f.Rows {
		r := &f.Rows[i]
		if v.posted(r.Width.Name) == "" && i > 0 {
			v.text(&r.Width)
			v.text(&r.Count)
			continue
		}
		strip := desk.SlitStrip{Width: v.length(&r.Width, measure.Inches), Count: v.whole(&r.Count)}
		if v.posted(r.Count.Name) == "" {
			strip.Count = 1
		}
		slit.Strips = append(slit.Strips, strip)
	}
	return slit
}

// posted gives a value as it was sent.
func (v *visit) posted(name string) string { return strings.TrimSpace(v.c.Request.PostFormValue(name)) }

// doSlitCoil draws the pattern, or slits.
func doSlitCoil(v *visit) error {
	p, err := v.newCoilPage()
	if err != nil {
		return err
	}
	slit := v.readSlit(p.Slit)
	if err := v.wrongs(); err != nil {
		return v.again(p, err)
	}
	p.Slit.draw(p.Card.Coil, p.Of.Colour, slit)
	if v.posted("do") != "slit" {
		return v.show(p)
	}
	made, err := v.desk.SlitCoil(v.ctx(), v.actor, p.Card.Coil.ID, slit)
	if err != nil {
		return v.again(p, atStrips(err))
	}
	return v.redirectSaying("/coils", fmt.Sprintf("Slit into %d coils: %s to %s.", len(made), made[0].Tag, made[len(made)-1].Tag))
}

// atStrips moves what is wrong with the strips together to the first of them.
func atStrips(err error) error {
	var l fault.List
	for _, f := range fault.All(err) {
		g := *f
		if g.Field == "strips" {
			g.Field = "strips.0.width"
		}
		l = append(l, &g)
	}
	return l
}

func (f *slitForm) draw(c stock.Coil, colour stock.Colour, slit desk.Slit) {
	view := drawing.SlitPattern{
		ID: "slit", Title: "Coil " + c.Tag + " slit", Total: c.Strip.Width, TotalLabel: c.Strip.Width.Across().String(), Metal: drawing.Swatch(colour.Name, colour.Swatch),
	}
	if slit.EdgeTrim > 0 {
		view.Strips = append(view.Strips, drawing.Strip{Width: slit.EdgeTrim, Waste: true})
	}
	for _, s := range slit.Strips {
		for range min(max(s.Count, 0), 50) {
			view.Strips = append(view.Strips, drawing.Strip{Width: s.Width, Label: s.Width.Across().String()})
		}
		view.Desc += fmt.Sprintf("%d of %s; ", s.Count, s.Width.Across())
	}
	if left := c.Strip.Width - slit.Width() + slit.EdgeTrim; left > 0 {
		view.Strips = append(view.Strips, drawing.Strip{Width: left, Label: left.Across().String(), Waste: true})
		f.Left = left.Pretty()
	}
	view.Desc += "edge trim and drop hatched."
	f.Picture = view.Picture().SVG()
}

// perFoot writes what a foot of the coil cost.
func (p *coilPage) PerFoot() string { return "$" + p.Card.Coil.PerFoot().Fixed(3) }

// Weight is what is on the coil now, from its pounds as received.
func (p *coilPage) Weight() string {
	c := p.Card.Coil
	if c.Original <= 0 {
		return "–"
	}
	return c.Pounds.Mul(money.FromRat(c.OnHand.Ratio(c.Original))).Fixed(0) + " lb"
}
