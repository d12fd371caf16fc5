package desk

import (
	"context"
	"sort"

	"ribdesk/internal/drawing"
	"ribdesk/internal/measure"
	"ribdesk/internal/metal"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
	"ribdesk/internal/words"
)

// Offering is what can be asked for at the counter.
type Offering struct {
	Seller      party.Seller
	Profiles    []stock.Profile
	Shapes      []stock.Shape
	Accessories []stock.Accessory
	Metals      []MetalChoice
	Standing    string // the profile that the first machine is set up for

	from *snapshot
}

// MetalChoice is a metal in a gauge and colour, with the strips it comes in.
type MetalChoice struct {
	Material  stock.Material
	Gauge     string
	Thickness measure.Length
	Colour    stock.Colour
	Widths    []measure.Length
	InStock   bool           // some of it is on the rack and free
	Free      measure.Length // of the strip a product needs; see Offering.MetalsFor
}

// Key names the choice in a form.
func (m MetalChoice) Key() string { return m.Material.Code + "|" + m.Gauge + "|" + m.Colour.Code }

// Fits reports whether the choice comes in this width.
func (m MetalChoice) Fits(width measure.Length) bool {
	for _, w := range m.Widths {
		if w == width {
			return true
		}
	}
	return false
}

// Offering gives what can be asked for today: the catalogue, and each metal
// that can be bought or lies on the rack. A customer's own patterns are theirs.
func (d *Desk) Offering(ctx context.Context, actor party.Actor) (Offering, error) {
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return Offering{}, err
	}
	o := Offering{Seller: s.seller, Profiles: byCode(s.profiles), Accessories: byCode(s.accessories), Metals: s.choices, from: s}
	for _, m := range s.machines {
		if o.Standing == "" && !m.Folder {
			o.Standing = m.Setup["profile"]
		}
	}
	for _, shape := range byCode(s.shapes) {
		if shape.Customer == 0 || actor.Sees(shape.Customer) {
			o.Shapes = append(o.Shapes, shape)
		}
	}
	return o, nil
}

// metals lists every metal that can be bought or lies on the rack.
func (s *snapshot) metals() []MetalChoice {
	at := map[string]*MetalChoice{}
	note := func(strip stock.Strip, here bool) {
		m, okMaterial := s.materials[strip.Material]
		c, okColour := s.colours[strip.Colour]
		info, err := metal.Gauge(m.GaugeSystem, strip.Gauge)
		if !okMaterial || !okColour || err != nil {
			return
		}
		choice := MetalChoice{Material: m, Gauge: strip.Gauge, Thickness: info.Thickness, Colour: c}
		have, ok := at[choice.Key()]
		if !ok {
			have = &choice
			at[choice.Key()] = have
		}
		have.InStock = have.InStock || here
		if !have.Fits(strip.Width) {
			have.Widths = append(have.Widths, strip.Width)
		}
	}
	for _, sup := range s.supplies {
		note(sup.Strip, false)
	}
	for _, c := range s.coils {
		note(c.Strip, c.Free() > 0)
	}
	out := make([]MetalChoice, 0, len(at))
	for _, m := range at {
		out = append(out, *m)
	}
	sort.Slice(out, func(i, j int) bool {
		a, b := out[i], out[j]
		if a.Material.Code != b.Material.Code {
			return a.Material.Code < b.Material.Code
		}
		if a.Thickness != b.Thickness {
			return a.Thickness > b.Thickness
		}
		return a.Colour.Name < b.Colour.Name
	})
	return out
}

// LineSection draws what a line asks for, as r reads; false when there is nothing to draw
// that the actor may see.
func (d *Desk) LineSection(ctx context.Context, actor party.Actor, l order.Line, id string, r words.Reader) (drawing.Section, bool, error) {
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return drawing.Section{}, false, err
	}
	if l.Kind == order.Trim && l.Section == nil {
		if shape, ok := s.shapes[l.Code]; ok && (shape.Customer == 0 || actor.Sees(shape.Customer)) {
			l.Section, l.Name = &shape.Section, shape.Name
		}
	}
	if l.Name == "" {
		l.Name = s.profiles[l.Code].Name
	}
	view, ok := s.SectionOf(l, id, r)
	return view, ok, nil
}

// AskForQuote takes an ask from anybody and quotes it at once, as a visitor or
// customer does who wants it on paper. A price that needs the owner's word is
// kept as a draft for the counter instead.
func (d *Desk) AskForQuote(ctx context.Context, actor party.Actor, o order.Order) (Quoted, error) {
	taken, err := d.TakeOrder(ctx, actor, o)
	if err != nil {
		return Quoted{}, err
	}
	by := party.System
	by.Name = "the desk, for " + nameOf(actor, o)
	return d.QuoteOrder(ctx, by, taken.ID, 0, nil)
}

func nameOf(actor party.Actor, o order.Order) string {
	switch {
	case actor.Name != "":
		return actor.Name
	case o.Contact.Name != "":
		return o.Contact.Name
	}
	return "a visitor"
}
