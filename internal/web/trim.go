package web

import (
	"cmp"
	"fmt"
	"html/template"
	"slices"
	"strconv"
	"strings"

	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/metal"
	"ribdesk/internal/money"
	"ribdesk/internal/nestview"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
	"ribdesk/internal/words"
)

// trimPage is the drawing board: a section leg by leg, its picture and its
// blank.
type trimPage struct {
	Base
	Parts   []*formPart
	Drawing template.HTML
	Drawn   *desk.DrawnTrim
	Folds   bool // the section can be folded: Drawn has its blank
	Bends   []bendRow
	Keeps   bool // may keep a pattern
	offer   desk.Offering
	shape   stock.Shape
	metal   string
	names   map[string]int64 // customers on file, for the staff
	values  metal.Values
	library string // code of the shape it starts from
}

func (trimPage) file() string { return "trim" }

// bendRow is a bend of the girth's build-up.
type bendRow struct{ After, Degrees, Allowance, Setback, Deduction string }

func (v *visit) newTrimPage() (*trimPage, error) {
	offer, err := v.desk.Offering(v.ctx(), v.actor)
	if err != nil {
		return nil, err
	}
	p := &trimPage{
		Base:  Base{Title: "Draw a trim", Sheet: "Counter", Block: Block{Thing: "Trim section", State: "not kept"}, Reader: v.reader},
		offer: offer, Keeps: v.actor.Role != party.Visitor,
	}
	if v.actor.Role == party.Owner || v.actor.Role == party.Counter {
		p.Sheet, p.Tabs = "Coils", v.coilTabs("Draw a trim")
	}
	if len(offer.Metals) > 0 {
		p.metal = offer.Metals[0].Key()
	}
	return p, nil
}

// describe ties the board's form to the section.
func (p *trimPage) describe(b *binder) {
	b.part(words.Key("Start from"), func(part *formPart) {
		part.Say = words.Key("A standard shape of the trade gives legs to start with; change what you like.")
		choose(b, Field{Name: "library", Label: "Standard shape", Optional: true, Options: append([]Option{{"", "nothing: my own legs"}}, standards(b.v.reader)...)}, &p.library)
		if kind, err := metal.ShapeOf(p.library); err == nil {
			measures(b, kind.Params, &p.values)
		}
	})
	s := &p.shape.Section
	legs := rows(b, "legs", words.Key("Leg"), words.Key("Add a leg"), &s.Legs, func(i int, l *metal.Leg) {
		b.length(Field{Name: "length", Label: "Length, outside", Short: true}, &l.Length)
		f := Field{Name: "turn", Label: "Turn before it", Unit: "°", Short: true, Help: "Plus turns left, minus turns right."}
		if i == 0 {
			f.Label, f.Help = words.Key("Heading"), words.Key("0 is to the right, 90 is up.")
		}
		degrees(b, f, &l.Turn)
	})
	legs.Title = words.Key("Legs")
	for _, e := range []struct {
		name, title string
		at          *metal.Edge
	}{{"start", words.Key("First edge"), &s.Start}, {"end", words.Key("Last edge"), &s.End}} {
		b.within(e.name, func() { b.part(e.title, func(*formPart) { edge(b, e.at) }) })
	}
	b.part(words.Key("Metal"), func(*formPart) {
		choose(b, Field{Name: "painted", Label: "Painted side", Options: []Option{{string(metal.Left), "left of the line, walking along it"}, {string(metal.Right), "right of the line"}, {string(metal.Both), "both sides"}}}, &s.Painted)
		choose(b, Field{Name: "metal", Label: "Metal to figure the girth in", Options: p.metals()}, &p.metal)
	})
	if p.Keeps {
		b.part(words.Key("Keep it"), func(part *formPart) { p.keep(b) })
	}
}

func (p *trimPage) metals() (list []Option) {
	for _, m := range p.offer.Metals {
		list = append(list, Option{m.Key(), m.Material.Name + " " + m.Gauge + ", " + m.Colour.Name})
	}
	return list
}

// keep asks for what a pattern is called, and of the staff whose it is.
func (p *trimPage) keep(b *binder) {
	b.text(Field{Name: "name", Label: "Name of the pattern", Optional: true, Help: "Needed only to keep it."}, &p.shape.Name)
	if p.names == nil {
		return
	}
	b.text(Field{Name: "code", Label: "Code", Short: true, Optional: true, Help: "Empty takes the next number."}, &p.shape.Code)
	p.shape.Code = strings.ToUpper(p.shape.Code)
	var customer string
	f := Field{Name: "customer", Label: "Whose pattern", Optional: true, Options: []Option{{"", "everybody's"}}}
	for name, id := range p.names {
		f.Options = append(f.Options, Option{strconv.FormatInt(id, 10), name})
	}
	sortOptions(f.Options[1:])
	choose(b, f, &customer)
	p.shape.Customer, _ = strconv.ParseInt(customer, 10, 64) // one of the options, or none
}

// degrees reads an angle; angles are no lengths and may be floats.
func degrees(b *binder, f Field, at *float64) {
	value := money.FromFloat(*at).Shorten(2)
	b.rate(f, &value)
	*at = value.Float()
}

func edge(b *binder, e *metal.Edge) {
	choose(b, Field{Name: "hem", Label: "Hem", Optional: true, Options: []Option{{"", "none, a raw edge"}, {string(metal.ClosedHem), "closed, flat on the metal"}, {string(metal.OpenHem), "open, to hook"}}}, &e.Hem)
	b.length(Field{Name: "hem_depth", Label: "Hem depth", Short: true, Optional: true}, &e.HemDepth)
	choose(b, Field{Name: "hem_side", Label: "Hem turned", Optional: true, Options: []Option{{"", "–"}, {string(metal.Left), "to the left"}, {string(metal.Right), "to the right"}}}, &e.HemSide)
	b.length(Field{Name: "open_gap", Label: "Gap of an open hem", Short: true, Optional: true}, &e.OpenGap)
	b.length(Field{Name: "kick", Label: "Kick, length", Short: true, Optional: true}, &e.Kick)
	f := Field{Name: "kick_turn", Label: "Kick, turn", Unit: "°", Short: true, Optional: true}
	degrees(b, f, &e.KickTurn)
	b.length(Field{Name: "allowance", Label: "Hem allowance, measured", Short: true, Optional: true}, &e.Allowance)
}

// fill ties the form to the page, reading or showing, and draws.
func (v *visit) fillTrim(p *trimPage, reading bool) (*binder, error) {
	if p.Keeps && v.actor.Role != party.Buyer {
		list, _, err := v.desk.Customers(v.ctx(), v.actor, "", 0)
		if err != nil {
			return nil, err
		}
		p.names = map[string]int64{}
		for _, c := range list {
			p.names[c.Name] = c.ID
		}
	}
	b := v.newBinder(reading)
	p.describe(b)
	p.Parts = b.at.Parts
	return b, nil
}

// draw puts the section on the page and gives what is wrong with it.
func (v *visit) drawTrim(p *trimPage, b *binder) error {
	drawn, err := v.desk.DrawTrim(v.ctx(), p.shape.Section, p.metal, v.reader)
	if len(p.shape.Section.Legs) > 0 {
		p.Drawing = drawn.View.Picture().SVG()
	}
	p.Drawn = &drawn
	if err != nil {
		return b.nearest(onBoard(err))
	}
	p.Folds = true
	for _, l := range drawn.Blank.Lines {
		p.Bends = append(p.Bends, bendRow{l.After, strconv.FormatFloat(l.Degrees, 'g', 5, 64), l.Allowance.Decimal(inch, 4), l.Setback.Decimal(inch, 4), l.Deduction.Decimal(inch, 4)})
	}
	return nil
}

// onBoard moves faults from the section's places, which count from 0, to the
// board's fields, which count as people do.
func onBoard(err error) error {
	var l fault.List
	for _, f := range fault.All(err) {
		g := *f
		if parts := strings.Split(g.Field, "."); len(parts) == 3 && parts[0] == "legs" {
			if n, err := strconv.Atoi(parts[1]); err == nil {
				g.Field = fmt.Sprintf("legs.%d.%s", n+1, parts[2])
			}
		}
		if strings.HasPrefix(g.Field, "sheet") {
			g.Field = "metal"
		}
		l = append(l, &g)
	}
	return l
}

// showTrim opens the board on a pattern, a standard shape, or the first of them.
func showTrim(v *visit) error {
	p, err := v.newTrimPage()
	if err != nil {
		return err
	}
	if code := v.query("pattern"); code != "" {
		if p.shape, err = v.desk.Pattern(v.ctx(), v.actor, code); err != nil {
			return err
		}
		p.shape.Code = ""
	} else {
		p.library = cmp.Or(v.query("shape"), metal.Shapes()[0].Code)
		p.take()
	}
	return v.showDrawn(p)
}

// showDrawn shows the board with what is on it drawn as far as it can be.
func (v *visit) showDrawn(p *trimPage) error {
	b, err := v.fillTrim(p, false)
	if err != nil {
		return err
	}
	if err := v.drawTrim(p, b); err != nil && fault.KindOf(err) != fault.Invalid {
		return err
	}
	return v.show(p)
}

// take puts the legs of the chosen standard shape on the board.
func (p *trimPage) take() {
	kind, err := metal.ShapeOf(p.library)
	if err != nil {
		p.library = ""
		return
	}
	section, err := kind.Section(p.values)
	if err != nil { // measures out of range: the usual ones
		p.values = metal.Values{}
		section, _ = kind.Section(p.values)
	}
	p.shape.Section, p.shape.Name = section, cmp.Or(p.shape.Name, p.Reader.Read(kind.Name))
	p.shape.Section.Name = p.shape.Name
}

// doDrawTrim draws what is typed, for the live part of the page.
func doDrawTrim(v *visit) error {
	p, err := v.newTrimPage()
	if err != nil {
		return err
	}
	b, err := v.fillTrim(p, true)
	if err != nil {
		return err
	}
	wrong := v.wrongs()
	drawn := v.drawTrim(p, b)
	v.check(drawn)
	if err := v.wrongs(); wrong != nil || err != nil {
		return v.again(p, err)
	}
	return v.show(p)
}

// doTrim answers the board's buttons: rows come and go, a standard shape is
// taken, the section is drawn, kept, or taken to the counter.
func doTrim(v *visit) error {
	do := v.posted("do")
	switch {
	case do == "take":
		return v.takeShape()
	case reshape(v.c.Request.PostForm, do):
		return v.redrawBoard()
	case do == "keep" || do == "use":
		return v.keepTrim(do)
	}
	return doDrawTrim(v)
}

// redrawBoard shows the board as it was typed, without complaints.
func (v *visit) redrawBoard() error {
	p, err := v.newTrimPage()
	if err != nil {
		return err
	}
	b, err := v.fillTrim(p, true)
	if err != nil {
		return err
	}
	v.found = nil
	if err := v.drawTrim(p, b); err != nil && fault.KindOf(err) != fault.Invalid {
		return err
	}
	return v.show(p)
}

func (v *visit) takeShape() error {
	typed, err := v.newTrimPage()
	if err != nil {
		return err
	}
	if _, err := v.fillTrim(typed, true); err != nil {
		return err
	}
	v.found, v.read = nil, nil
	p, err := v.newTrimPage()
	if err != nil {
		return err
	}
	p.library, p.values, p.metal = typed.library, typed.values, cmp.Or(typed.metal, p.metal)
	p.take()
	return v.showDrawn(p)
}

func (v *visit) keepTrim(do string) error {
	p, err := v.newTrimPage()
	if err != nil {
		return err
	}
	b, err := v.fillTrim(p, true)
	if err != nil {
		return err
	}
	v.check(v.drawTrim(p, b))
	if err := v.wrongs(); err != nil {
		return v.again(p, err)
	}
	kept, err := v.desk.SavePattern(v.ctx(), v.actor, p.shape, p.metal)
	if err != nil {
		return v.again(p, b.nearest(onBoard(err)))
	}
	if do == "use" {
		return v.redirectSaying("/counter?make="+string(order.Trim)+":"+template.URLQueryEscaper(kept.Code), "%s is kept as %s.", kept.Name, kept.Code)
	}
	return v.redirectSaying("/trim?pattern="+template.URLQueryEscaper(kept.Code), "%s is kept as %s.", kept.Name, kept.Code)
}

// Girth and the other figures of the blank, as the page prints them.
func (p *trimPage) Inches(l measure.Length) string { return l.Decimal(inch, 4) }

const inch = measure.Inch

// Girth writes a girth as it is set on the folder: 9-3/16.
func (*trimPage) Girth(l measure.Length) string { return nestview.Across(l) }

func sortOptions(list []Option) {
	slices.SortFunc(list, func(a, b Option) int { return strings.Compare(a.Label, b.Label) })
}
