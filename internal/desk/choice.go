package desk

import (
	"ribdesk/internal/measure"
	"ribdesk/internal/metal"
	"ribdesk/internal/order"
	"ribdesk/internal/stock"
	"ribdesk/internal/words"
)

// Notice is a caution that belongs to what was chosen, with its figures. The
// general words of the trade that go with it are package caution's.
type Notice struct {
	Kind NoticeKind
	Line int  // index of the line, -1 for the order
	Act  bool // something must be decided before it is made
	Text words.Text
}

// NoticeKind is what a notice is about.
type NoticeKind string

// The kinds.
const (
	NoticeWaves    NoticeKind = "waviness"
	NoticeSlope    NoticeKind = "slope"
	NoticeMovement NoticeKind = "movement"
	NoticeHaul     NoticeKind = "hauling"
	NoticeMetals   NoticeKind = "metals"
)

const (
	// wideFlat is where waviness begins to show in a plain flat: common practice,
	// no published source.
	wideFlat = 12 * measure.Inch
	// movingFrom is the length from which thermal movement is worth a figure.
	movingFrom = 20 * measure.Foot
	// heatSwing is the range of temperature that movement is given for, in
	// degrees F: that of a dark roof over a year.
	heatSwing = 100
)

// notices gives the cautions of a choice.
func (s *snapshot) notices(o order.Order, lines []made) (out []Notice) {
	families := map[metal.Family]bool{}
	for i, m := range lines {
		if m.line.Kind == order.Accessory {
			continue
		}
		families[m.material.Family] = true
		if m.line.Kind == order.Formed {
			out = append(out, s.panelNotices(o, i, m)...)
		}
	}
	if families[metal.Copper] && len(families) > 1 {
		out = append(out, Notice{Kind: NoticeMetals, Line: -1, Act: true, Text: words.Say("This order mixes copper with another metal: copper and the water off it eat steel, zinc and aluminum. Keep them apart on the building and on the load.")})
	} else if len(families) > 0 {
		out = append(out, Notice{Kind: NoticeMetals, Line: -1})
	}
	return out
}

func (s *snapshot) panelNotices(o order.Order, i int, m made) (out []Notice) {
	p, longest := s.profiles[m.line.Code], m.line.Longest()
	if p.Flat >= wideFlat {
		text := words.Say("The flat of %s is %s wide.", p.Name, p.Flat.Across())
		if better := otherRib(p, m.line.Rib); better != "" && m.line.Rib == plainRib {
			text = words.Say("The flat of %s is %s wide. A %s flat shows less of it than a plain one.", p.Name, p.Flat.Across(), words.Say(better))
		}
		out = append(out, Notice{Kind: NoticeWaves, Line: i, Text: text})
	}
	if p.SlopeMin > 0 {
		out = append(out, Notice{Kind: NoticeSlope, Line: i, Text: words.Say("On a roof, %s needs a slope of at least %d in 12.", p.Name, p.SlopeMin)})
	}
	if longest >= movingFrom {
		moves := m.material.Family.Movement(longest, heatSwing).Up(measure.Sixteenth)
		out = append(out, Notice{Kind: NoticeMovement, Line: i, Text: words.Say("Its longest piece, %s of %s, grows and shrinks by %s over %d °F.", longest, m.material.Name, moves, heatSwing)})
	}
	if p.HaulLength > 0 && longest > p.HaulLength && o.Fulfil != order.OnSite {
		out = append(out, Notice{Kind: NoticeHaul, Line: i, Act: o.Fulfil == order.Haul, Text: words.Say("The longest piece is %s; the shop hauls up to %s. Have it formed on site, or split it with a lap.", longest, p.HaulLength)})
	}
	return out
}

const plainRib = "plain"

func otherRib(p stock.Profile, rib string) string {
	for _, r := range p.Ribs {
		if r != rib {
			return r
		}
	}
	return ""
}

// MetalsFor gives the metals a product can be made of, with what of it is on
// the rack in the strip the product needs; nil for an accessory, and for what
// isn't in the catalogue. The list is shared: read it only.
func (o Offering) MetalsFor(kind order.Kind, code string) []MetalChoice {
	product := string(kind) + ":" + code
	if known, ok := o.from.metalsFor.Load(product); ok {
		return known.([]MetalChoice)
	}
	list := o.from.metalsOf(kind, code)
	if list != nil { // only what is in the catalogue: no list grows by what people make up
		o.from.metalsFor.Store(product, list)
	}
	return list
}

func (s *snapshot) metalsOf(kind order.Kind, code string) []MetalChoice {
	switch kind {
	case order.Formed:
		p, ok := s.profiles[code]
		if !ok {
			return nil
		}
		return s.metalsThat(func(m MetalChoice) (measure.Length, bool) {
			return p.Strip, p.CheckMetal(m.Material, m.Gauge) == nil
		})
	case order.Trim:
		shape, ok := s.shapes[code]
		folder, some := s.folder()
		if !ok || !some {
			return nil
		}
		return s.metalsThat(func(m MetalChoice) (measure.Length, bool) { return blankStrip(shape, folder, m) })
	}
	return nil
}

// metalsThat keeps the metals that come in the strip a product needs.
func (s *snapshot) metalsThat(takes func(MetalChoice) (measure.Length, bool)) (out []MetalChoice) {
	for _, m := range s.choices {
		strip, ok := takes(m)
		if !ok || !m.Fits(strip) {
			continue
		}
		m.Free = 0
		for _, c := range s.coils {
			if c.Strip.Material == m.Material.Code && c.Strip.Gauge == m.Gauge && c.Strip.Colour == m.Colour.Code && c.Strip.Width == strip {
				m.Free += c.Free()
			}
		}
		m.InStock = m.Free > 0
		out = append(out, m)
	}
	return out
}

// blankStrip gives the narrowest strip of a metal that a shape's blank fits on.
func blankStrip(shape stock.Shape, folder stock.Machine, m MetalChoice) (best measure.Length, ok bool) {
	blank, err := metal.Girth(shape.Section, m.Material.Sheet(m.Thickness), foldingOf(m.Material, folder))
	if err != nil {
		return 0, false
	}
	for _, w := range m.Widths {
		if w >= blank.Girth && w <= folder.MaxStrip && (best == 0 || w < best) {
			best = w
		}
	}
	return best, best > 0
}

// foldingOf is how a material is folded on a folder.
func foldingOf(m stock.Material, folder stock.Machine) metal.Folding {
	folding := metal.UsualFolding()
	if m.BendRadius > 0 {
		folding.Radius = m.BendRadius
	}
	if folder.MinLeg > 0 {
		folding.MinLeg = folder.MinLeg
	}
	return folding
}
