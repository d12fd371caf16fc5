package web

import (
	"slices"
	"strings"

	"ribdesk/internal/desk"
	"ribdesk/internal/order"
)

// colourSeen is a colour that a product comes in, to be looked at.
type colourSeen struct {
	Name, Swatch string
	Chosen       bool
	OnRack       bool
}

// coloursOf gives the colours that the chosen metal comes in, in its gauge.
func coloursOf(metals []desk.MetalChoice, chosen desk.MetalChoice) (out []colourSeen) {
	for _, m := range metals {
		if m.Material.Code == chosen.Material.Code && m.Gauge == chosen.Gauge {
			out = append(out, colourSeen{m.Colour.Name, m.Colour.Swatch, m.Key() == chosen.Key(), m.InStock})
		}
	}
	return out
}

// askSamples adds to the note of an ask that its colours are wanted to be seen
// before anything is cut.
func (p *counterPage) askSamples(o *order.Order) {
	var names []string
	for _, l := range p.Lines {
		if l.ColourName != "" && !slices.Contains(names, l.ColourName) {
			names = append(names, l.ColourName)
		}
	}
	if len(names) == 0 {
		return
	}
	wanted := "Sample wanted before anything is cut: " + strings.Join(names, ", ") + "."
	if !strings.Contains(o.Note, wanted) {
		o.Note = strings.TrimSpace(o.Note + "\n" + wanted)
	}
}

// choosePanel shows the panel of a roof with its section, its metal and what is
// known of both, as the counter shows a product.
func (v *visit) choosePanel(p *roofPage) error {
	line := order.Line{Kind: order.Formed, Code: p.ask.Profile, Rib: p.ask.Rib}
	line.Material, line.Gauge, line.Colour = metalOf(p.ask.Metal)
	at := &counterPage{Base: Base{Reader: v.reader}, Offer: p.offer, forShop: v.actor.Role.Staff()}
	p.Chosen = &counterLine{No: 1, Metal: Field{Value: p.ask.Metal}}
	at.offerMetals(p.Chosen, line)
	return v.drawLine(at, p.Chosen, line)
}
