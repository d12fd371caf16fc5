package web

import (
	"strings"

	"ribdesk/internal/desk"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/stock"
)

// receivePage takes a coil in, and shows what it works out before it is kept.
type receivePage struct {
	Base
	Strip, Material, Gauge, Width, Colour Field
	Thickness, Lot, Supplier, Landed, Tag Field
	Feet, Pounds, OD, ID, Remnant         Field
	Weighed                               *desk.Weighed
	Bar                                   coilBar
	strips                                map[string]stock.Supply
	currency                              money.Currency
}

func (receivePage) file() string { return "receive" }

func (v *visit) newReceivePage() (*receivePage, error) {
	seller, _, err := v.desk.Seller(v.ctx())
	if err != nil {
		return nil, err
	}
	p := &receivePage{
		Base:     Base{Title: "Receive a coil", Sheet: "Coils", Tabs: v.coilTabs("Receive"), Block: Block{Thing: "Coil receipt", State: "not booked"}},
		Strip:    Field{Name: "strip", Label: "Strip", Optional: true, Help: "As it is bought. Leave it empty for one that isn't on the list."},
		Material: Field{Name: "material", Label: "Material", Optional: true}, Gauge: Field{Name: "gauge", Label: "Gauge", Short: true, Optional: true},
		Width: Field{Name: "width", Label: "Width", Unit: "in", Short: true, Optional: true}, Colour: Field{Name: "colour", Label: "Colour", Optional: true},
		Thickness: Field{Name: "thickness", Label: "Thickness, measured", Unit: "in", Short: true, Optional: true, Help: "Empty takes the gauge's nominal."},
		Lot:       Field{Name: "lot", Label: "Paint lot or heat", Short: true, Optional: true},
		Supplier:  Field{Name: "supplier", Label: "Supplier", Optional: true},
		Landed:    Field{Name: "landed", Label: "Cost, landed", Unit: "$", Keys: "decimal", Short: true, Optional: true, Help: "Metal and freight of the whole coil."},
		Tag:       Field{Name: "tag", Label: "Tag", Short: true, Optional: true, Help: "Empty takes the next number."},
		Feet:      Field{Name: "feet", Label: "Feet, measured", Unit: "ft", Short: true, Optional: true},
		Pounds:    Field{Name: "pounds", Label: "Weight, net", Unit: "lb", Keys: "decimal", Short: true, Optional: true},
		OD:        Field{Name: "od", Label: "Outside diameter", Unit: "in", Short: true, Optional: true},
		ID:        Field{Name: "id", Label: "Inside diameter", Unit: "in", Short: true, Optional: true},
		Remnant:   Field{Name: "remnant", Label: "A remnant, not a whole coil", Kind: "checkbox", Optional: true},
		strips:    map[string]stock.Supply{}, currency: seller.Currency,
	}
	return p, v.listStrips(p)
}

// listStrips fills the choices: what is bought, under its metal's name, and the
// catalogue for the rest.
func (v *visit) listStrips(p *receivePage) (err error) {
	if p.Material.Options, err = codesOf[stock.Material](v); err != nil {
		return err
	}
	if p.Colour.Options, err = codesOf[stock.Colour](v); err != nil {
		return err
	}
	if p.Gauge.Options, err = gaugeOptions(v); err != nil {
		return err
	}
	supplies, err := desk.Shelf[stock.Supply](v.ctx(), v.desk)
	if err != nil {
		return err
	}
	p.Strip.Options = []Option{{"", "another strip, given below"}}
	for _, it := range supplies {
		s := it.Item
		if it.Retired {
			continue
		}
		p.strips[s.Code] = s
		head := s.Strip.Material + " " + s.Strip.Gauge
		if n := len(p.Strip.Groups); n == 0 || p.Strip.Groups[n-1].Label != head {
			p.Strip.Groups = append(p.Strip.Groups, Group{Label: head})
		}
		g := &p.Strip.Groups[len(p.Strip.Groups)-1]
		g.Options = append(g.Options, Option{s.Code, s.Name})
	}
	return nil
}

func showReceive(v *visit) error {
	p, err := v.newReceivePage()
	if err != nil {
		return err
	}
	if code := v.query("strip"); p.strips[code].Code != "" {
		p.Strip.Value = code
	}
	return v.show(p)
}

// readReceipt reads the form. A strip of the list brings its metal along.
func (v *visit) readReceipt(p *receivePage) desk.Receipt {
	r := desk.Receipt{
		Tag: strings.ToUpper(v.text(&p.Tag)), Lot: v.text(&p.Lot), Supplier: v.text(&p.Supplier), Landed: v.amount(&p.Landed, p.currency),
		Feet: v.lengthIf(&p.Feet, measure.Feet), Pounds: v.rate(&p.Pounds), OD: v.lengthIf(&p.OD, measure.Inches), ID: v.lengthIf(&p.ID, measure.Inches),
		Thickness: v.lengthIf(&p.Thickness, measure.Inches), Remnant: v.yes(&p.Remnant),
	}
	r.Strip = stock.Strip{Material: v.choice(&p.Material), Gauge: v.choice(&p.Gauge), Width: v.lengthIf(&p.Width, measure.Inches), Colour: v.choice(&p.Colour)}
	if s, ok := p.strips[v.choice(&p.Strip)]; ok {
		r.Strip = s.Strip
		if r.Supplier == "" {
			r.Supplier = s.Supplier
		}
	}
	return r
}

// lengthIf reads a length that may be left out.
func (v *visit) lengthIf(f *Field, bare measure.Unit) measure.Length {
	if v.posted(f.Name) == "" {
		v.text(f)
		return 0
	}
	return v.length(f, bare)
}

// doWeighCoil shows what a receipt comes to, and keeps nothing.
func doWeighCoil(v *visit) error {
	p, err := v.newReceivePage()
	if err != nil {
		return err
	}
	r := v.readReceipt(p)
	if err := v.wrongs(); err != nil {
		return v.again(p, err)
	}
	if err := v.weigh(p, r); err != nil {
		return v.again(p, err)
	}
	return v.show(p)
}

func (v *visit) weigh(p *receivePage, r desk.Receipt) error {
	w, err := v.desk.WeighCoil(v.ctx(), v.actor, r)
	if err != nil {
		return err
	}
	p.Weighed = &w
	w.Coil.OnHand = w.Coil.Original
	if w.Coil.Tag == "" {
		w.Coil.Tag = "new"
	}
	p.Bar = newCoilBar(w.Coil, w.Of.Colour, 0)
	return nil
}

// doReceiveCoil books the coil; the other button only shows what it comes to.
func doReceiveCoil(v *visit) error {
	if v.posted("do") == "weigh" {
		return doWeighCoil(v)
	}
	p, err := v.newReceivePage()
	if err != nil {
		return err
	}
	r := v.readReceipt(p)
	if err := v.wrongs(); err != nil {
		return v.again(p, err)
	}
	c, err := v.desk.ReceiveCoil(v.ctx(), v.actor, r)
	if err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying(recordPath("coil", c.ID), "Coil "+c.Tag+" is on the rack: "+c.Original.Feet()+" ft.")
}
