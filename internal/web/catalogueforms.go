package web

import (
	"fmt"
	"html/template"
	"strings"
	"time"

	"ribdesk/internal/desk"
	"ribdesk/internal/drawing"
	"ribdesk/internal/fault"
	"ribdesk/internal/metal"
	"ribdesk/internal/money"
	"ribdesk/internal/stock"
	"ribdesk/internal/words"
)

// named puts code and name first, as every item has them.
func named(b *binder, one string, code, name *string) {
	b.text(Field{Name: "code", Label: "Code", Short: true, Help: "Capitals, figures, dots and dashes. It stays for good: orders refer to it."}, code)
	*code = strings.ToUpper(*code)
	b.text(Field{Name: "name", Label: "Name of the " + one}, name)
}

func swatchOf(it stock.Item) template.HTML {
	c, ok := it.(stock.Colour)
	if !ok {
		return ""
	}
	p := drawing.Picture{ID: "swatch-" + c.Code, Title: c.Name, Width: 40, Height: 24}
	p.Add(drawing.Rect{X: 1, Y: 1, W: 38, H: 22, Pen: drawing.Hairline, Fill: drawing.Swatch(c.Name, c.Swatch)})
	return p.SVG()
}

func materialCells(m stock.Material) []string {
	return []string{strings.Join(m.Gauges, ", "), m.Coating}
}

func materialForm(b *binder, m *stock.Material) error {
	b.part("Material", func(*formPart) {
		named(b, "material", &m.Code, &m.Name)
		choose(b, Field{Name: "family", Label: "Metal", Options: families()}, &m.Family)
		choose(b, Field{Name: "gauge_system", Label: "Gauge system", Options: systems(), Help: "A gauge is only a label: the decimal thickness decides."}, &m.GaugeSystem)
		b.words(Field{Name: "gauges", Label: "Gauges the shop handles", Help: "With commas between, heavy ones first: 24 ga, 26 ga."}, &m.Gauges)
		b.text(Field{Name: "coating", Label: "Coating", Short: true, Optional: true, Help: "Designation, such as G90 or AZ50."}, &m.Coating)
		paint := money.FromFloat(m.PaintMil)
		b.rate(Field{Name: "paint_mil", Label: "Paint, both sides together", Unit: "mil", Short: true, Optional: true}, &paint)
		m.PaintMil = paint.Float()
		b.length(Field{Name: "bend_radius", Label: "Inside radius of a bend", Short: true, Optional: true}, &m.BendRadius)
	})
	return nil
}

func families() (list []Option) {
	for _, f := range metal.Families() {
		list = append(list, Option{string(f), f.Name()})
	}
	return list
}

func systems() (list []Option) {
	for _, s := range metal.Systems() {
		list = append(list, Option{string(s), s.Name()})
	}
	return list
}

func colourCells(c stock.Colour) []string { return []string{c.Finish} }

func colourForm(b *binder, c *stock.Colour) error {
	b.part("Colour", func(*formPart) {
		named(b, "colour", &c.Code, &c.Name)
		b.text(Field{Name: "finish", Label: "Finish", Help: "The kind of paint in generic words: silicone polyester, fluoropolymer, mill."}, &c.Finish)
		b.text(Field{Name: "swatch", Label: "Swatch", Short: true, Help: "# and six hex figures, like #3B4045."}, &c.Swatch)
		b.tick(Field{Name: "dark", Label: "Dark: light metal after it wants the rolls cleaned"}, &c.Dark)
	})
	return nil
}

func profileCells(p stock.Profile) []string {
	cover := "–"
	if p.Coverage > 0 {
		cover = p.Coverage.Across().String()
	}
	return []string{string(p.Use), p.Strip.Across().String(), cover, p.MinLength.Pretty() + " to " + p.MaxLength.Pretty()}
}

func profileForm(b *binder, p *stock.Profile) error {
	b.part("Profile", func(*formPart) {
		named(b, "profile", &p.Code, &p.Name)
		choose(b, Field{Name: "use", Label: "What it is for", Options: options(stock.Panel, stock.Gutter, stock.Downspout)}, &p.Use)
		b.text(Field{Name: "roller_set", Label: "Roller set", Short: true, Help: "Profiles of one set need no roller change between them when they are one code."}, &p.RollerSet)
	})
	b.part("Section", func(part *formPart) {
		part.Say = "The section is drawn from these measures. They are for the drawing only: the strip width decides what is formed and what it costs."
		choose(b, Field{Name: "outline", Label: "Kind of section", Options: outlines(), Help: "After another choice, press “Draw it” for its measures."}, &p.Outline)
		if kind, err := metal.ProfileOf(p.Outline); err == nil {
			measures(b, kind.Params, &p.Params)
		}
	})
	b.part("Strip and limits", func(*formPart) {
		b.length(Field{Name: "strip", Label: "Strip width", Short: true}, &p.Strip)
		b.length(Field{Name: "coverage", Label: "Coverage", Short: true, Optional: true, Help: "Of a panel, net. None for gutter and downspout."}, &p.Coverage)
		b.length(Field{Name: "min_length", Label: "Shortest piece", Short: true}, &p.MinLength)
		b.length(Field{Name: "max_length", Label: "Longest piece", Short: true}, &p.MaxLength)
		b.length(Field{Name: "haul_length", Label: "Longest that is hauled", Short: true, Optional: true}, &p.HaulLength)
		b.length(Field{Name: "flat", Label: "Widest flat", Short: true, Optional: true, Help: "Where waviness shows."}, &p.Flat)
		b.words(Field{Name: "ribs", Label: "Options for the flat", Optional: true, Help: "With commas between: pencil, plain. The first is the usual one."}, &p.Ribs)
		b.whole(Field{Name: "slope_min", Label: "Least roof slope", Unit: "in 12", Short: true, Optional: true}, &p.SlopeMin)
	})
	rows(b, "ranges", "Thickness it takes", "Add a metal", &p.Ranges, func(_ int, r *stock.GaugeRange) {
		choose(b, Field{Name: "family", Label: "Metal", Options: families()}, &r.Family)
		b.length(Field{Name: "min", Label: "Lightest", Short: true}, &r.Min)
		b.length(Field{Name: "max", Label: "Heaviest", Short: true}, &r.Max)
	})
	return nil
}

func outlines() (list []Option) {
	for _, p := range metal.Profiles() {
		list = append(list, Option{p.Code, p.Name})
	}
	return list
}

// measures are a section's parameters; one left empty takes its usual value.
func measures(b *binder, params []metal.Param, at *metal.Values) {
	given := *at
	if b.reading {
		*at = metal.Values{}
	}
	b.within("params", func() {
		for _, p := range params {
			f := Field{Name: p.Name, Label: p.Label, Short: true, Optional: true}
			if p.Kind == metal.LengthParam {
				f.Help = b.v.reader.T("%g to %g in; usually %s.", p.Least, p.Most, typedLength(p.Length))
				value := given.Lengths[p.Name]
				if b.length(f, &value); b.reading && typed(b, p.Name) {
					put(&at.Lengths, p.Name, value)
				}
				continue
			}
			f.Unit = map[metal.ParamKind]string{metal.AngleParam: "°", metal.PitchParam: words.Key("in 12")}[p.Kind]
			f.Help = b.v.reader.T("%g to %g; usually %g.", p.Least, p.Most, p.Number)
			value := money.FromFloat(given.Numbers[p.Name])
			if b.rate(f, &value); b.reading && typed(b, p.Name) {
				put(&at.Numbers, p.Name, value.Float())
			}
		}
	})
}

func typed(b *binder, name string) bool {
	return strings.TrimSpace(b.v.c.Request.PostFormValue(b.prefix+name)) != ""
}

func put[V any](m *map[string]V, name string, value V) {
	if *m == nil {
		*m = map[string]V{}
	}
	(*m)[name] = value
}

func drawProfile(p stock.Profile) template.HTML {
	view, ok := desk.ProfileView(p)
	if !ok {
		return ""
	}
	return view.Picture().SVG()
}

func shapeCells(s stock.Shape) []string { return []string{fmt.Sprint(len(s.Section.Legs))} }

// shapeForm takes a shape from a standard one of the trade; what was drawn leg
// by leg stays as it is until a standard one is chosen over it.
func shapeForm(b *binder, s *stock.Shape) error {
	b.part("Trim shape", func(*formPart) { named(b, "trim shape", &s.Code, &s.Name) })
	b.part("Section", func(part *formPart) {
		part.Say = "Take a standard shape of the trade and give its measures. An empty choice leaves the section as it is drawn."
		var code string
		choose(b, Field{Name: "standard", Label: "Standard shape", Optional: true, Options: append([]Option{{"", "as it is drawn"}}, standards(b.v.reader)...), Help: "After another choice, press “Draw it” for its measures."}, &code)
		kind, err := metal.ShapeOf(code)
		if err != nil {
			return
		}
		var values metal.Values
		measures(b, kind.Params, &values)
		section, err := kind.Section(values)
		if err != nil {
			var l fault.List
			l.Add("params", err)
			b.v.check(l)
			return
		}
		s.Section = section
	})
	return nil
}

func standards(r words.Reader) (list []Option) {
	for _, s := range metal.Shapes() {
		list = append(list, Option{s.Code, r.Read(s.Name) + ": " + r.Read(s.Use)})
	}
	return list
}

func drawShape(s stock.Shape) template.HTML {
	if len(s.Section.Legs) == 0 {
		return ""
	}
	return desk.ShapeView(s).Picture().SVG()
}

func accessoryCells(a stock.Accessory) []string {
	return []string{a.Unit, a.Cost.Format(), shortDay(a.CostDay), fmt.Sprint(a.OnHand)}
}

func accessoryForm(b *binder, a *stock.Accessory) error {
	b.part("Accessory", func(*formPart) {
		named(b, "accessory", &a.Code, &a.Name)
		b.text(Field{Name: "unit", Label: "What one of it is", Short: true, Help: "each, box of 250, tube"}, &a.Unit)
		b.amount(Field{Name: "cost", Label: "Cost of one, landed", Short: true}, &a.Cost)
		b.day(Field{Name: "cost_day", Label: "The cost is of", Short: true, Help: "Month/day/year."}, &a.CostDay)
		b.rate(Field{Name: "weight", Label: "Weight of one", Unit: "lb", Short: true, Optional: true}, &a.Weight)
		b.whole(Field{Name: "on_hand", Label: "Counted on hand", Short: true, Optional: true}, &a.OnHand)
	})
	return nil
}

func supplyCells(s stock.Supply) []string {
	return []string{"$" + s.PerPound.String(), "$" + s.Freight.String(), shortDay(s.CostDay), fmt.Sprintf("%d days", s.LeadDays)}
}

func supplyForm(b *binder, s *stock.Supply) error {
	materials, err := codesOf[stock.Material](b.v)
	if err != nil {
		return err
	}
	colours, err := codesOf[stock.Colour](b.v)
	if err != nil {
		return err
	}
	gauges, err := gaugeOptions(b.v)
	if err != nil {
		return err
	}
	b.part("Strip", func(*formPart) {
		named(b, "supply", &s.Code, &s.Name)
		b.within("strip", func() {
			choose(b, Field{Name: "material", Label: "Material", Options: materials}, &s.Strip.Material)
			choose(b, Field{Name: "gauge", Label: "Gauge", Options: gauges, Short: true}, &s.Strip.Gauge)
			b.length(Field{Name: "width", Label: "Width", Short: true}, &s.Strip.Width)
			choose(b, Field{Name: "colour", Label: "Colour", Options: colours}, &s.Strip.Colour)
		})
	})
	b.part("What it costs", func(p *formPart) {
		p.Say = "Every price quoted from now on is made from these; what was quoted before holds."
		b.rate(Field{Name: "per_pound", Label: "Metal", Unit: "$/lb", Short: true}, &s.PerPound)
		b.rate(Field{Name: "freight", Label: "Freight in", Unit: "$/lb", Short: true, Optional: true}, &s.Freight)
		b.rate(Field{Name: "scrap", Label: "Scrap brings", Unit: "$/lb", Short: true, Optional: true}, &s.Scrap)
		b.percent(Field{Name: "loss", Label: "Lost in planned ends", Short: true, Optional: true, Help: "Share of what is used. Leads of a coil change are counted with the change, not here."}, &s.Loss)
		b.length(Field{Name: "damaged", Label: "Damaged ends of a coil", Short: true, Optional: true, Help: "What can't be sold of one, as a rule. Its cost falls on the rest."}, &s.Damaged)
		b.day(Field{Name: "cost_day", Label: "The cost is of", Short: true, Help: "Month/day/year. Prices from an old cost are warned of."}, &s.CostDay)
		b.text(Field{Name: "supplier", Label: "Supplier", Optional: true}, &s.Supplier)
		b.whole(Field{Name: "lead_days", Label: "Lead time", Unit: "days", Short: true}, &s.LeadDays)
		b.whole(Field{Name: "coil_lb", Label: "Usual coil", Unit: "lb", Short: true, Optional: true}, &s.CoilLb)
		if stale, ok := staleCost(b.v.desk.Now(), s.CostDay); ok {
			p.Warn = append(p.Warn, stale)
		}
	})
	return nil
}

// staleCost warns of a cost that nobody looked at for 90 days.
func staleCost(now time.Time, day string) (string, bool) {
	d, err := time.Parse(time.DateOnly, day)
	if err != nil {
		return "", false
	}
	age := int(now.Sub(d).Hours() / 24)
	return fmt.Sprintf("This cost is %d days old. Look whether it still holds.", age), age > 90
}

func gaugeOptions(v *visit) ([]Option, error) {
	items, err := desk.Shelf[stock.Material](v.ctx(), v.desk)
	if err != nil {
		return nil, err
	}
	var list []Option
	seen := map[string]bool{}
	for _, it := range items {
		for _, g := range it.Item.Gauges {
			if !seen[g] {
				seen[g] = true
				list = append(list, Option{g, g})
			}
		}
	}
	return list, nil
}

func shortDay(day string) string {
	d, err := time.Parse(time.DateOnly, day)
	if err != nil {
		return "–"
	}
	return d.Format("Jan 2, 2006")
}

func vehicleCells(t stock.Vehicle) []string {
	return []string{t.Deck.Pretty() + " × " + t.Width.Pretty(), fmt.Sprintf("%d lb", t.Payload)}
}

func vehicleForm(b *binder, t *stock.Vehicle) error {
	b.part("Vehicle", func(*formPart) {
		named(b, "vehicle", &t.Code, &t.Name)
		b.length(Field{Name: "deck", Label: "Deck, usable length", Short: true}, &t.Deck)
		b.length(Field{Name: "width", Label: "Deck width", Short: true}, &t.Width)
		b.whole(Field{Name: "payload", Label: "Payload", Unit: "lb", Short: true, Help: "From its own plate, less what it always carries."}, &t.Payload)
	})
	b.part("Axles", func(p *formPart) {
		p.Say = "Measured from the deck's front edge; ahead of it is negative."
		b.offset(Field{Name: "front_axle", Label: "Front axle or hitch", Short: true}, &t.FrontAxle)
		b.offset(Field{Name: "rear_axle", Label: "Rear axle", Short: true}, &t.RearAxle)
		b.whole(Field{Name: "front_max", Label: "Load it may add in front", Unit: "lb", Short: true}, &t.FrontMax)
		b.whole(Field{Name: "rear_max", Label: "Load it may add behind", Unit: "lb", Short: true}, &t.RearMax)
		b.whole(Field{Name: "front_empty", Label: "Empty, in front", Unit: "lb", Short: true, Optional: true}, &t.FrontEmpty)
		b.whole(Field{Name: "rear_empty", Label: "Empty, behind", Unit: "lb", Short: true, Optional: true}, &t.RearEmpty)
		b.percent(Field{Name: "hitch_least", Label: "Least share on the hitch", Short: true, Optional: true}, &t.HitchLeast)
		b.percent(Field{Name: "hitch_most", Label: "Most share on the hitch", Short: true, Optional: true}, &t.HitchMost)
	})
	b.part("Load", func(*formPart) {
		b.tick(Field{Name: "blocked", Label: "A headboard holds the load from moving forward"}, &t.Blocked)
		b.whole(Field{Name: "straps", Label: "Straps carried", Short: true}, &t.Straps)
		b.whole(Field{Name: "strap_wll", Label: "Working load limit of one", Unit: "lb", Short: true}, &t.StrapWLL)
		b.length(Field{Name: "deck_height", Label: "Deck above the ground", Short: true, Optional: true}, &t.DeckHeight)
		b.length(Field{Name: "nose", Label: "Deck's front to the vehicle's front", Short: true, Optional: true}, &t.Nose)
		b.length(Field{Name: "max_stack", Label: "Highest stack", Short: true, Optional: true}, &t.MaxStack)
		b.length(Field{Name: "max_rear", Label: "Longest overhang behind", Short: true, Optional: true}, &t.MaxRear)
	})
	return nil
}
