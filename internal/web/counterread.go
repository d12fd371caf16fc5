package web

import (
	"fmt"
	"strconv"
	"strings"

	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/words"
)

// readAsk reads the whole page into an order. When it is kept, nothing the
// person chose may be changed for them without their seeing it.
func (v *visit) readAsk(p *counterPage, keeps bool) (order.Order, error) {
	p.ID, p.Version, p.TakeOff = v.number("order"), v.number("version"), v.posted("roof")
	o := order.Order{
		ID: p.ID, Version: p.Version, TakeOff: p.TakeOff, Job: v.text(&p.Job), PO: v.text(&p.PO), Note: v.text(&p.Note),
		Contact: order.Contact{Name: v.text(&p.Contact), Email: v.text(&p.Email), Phone: v.text(&p.Phone)},
		Fulfil:  order.Fulfil(v.choice(&p.Fulfil)), WantBy: v.day(&p.WantBy), Rush: v.yes(&p.Rush), MilesTenths: v.tenths(&p.Miles),
		Sharing: v.c.Request.PostFormValue("sharing") == "yes",
	}
	if err := v.readAsker(p, &o); err != nil {
		return o, err
	}
	v.readPlace(p, &o)
	rows := int(min(max(v.number("rows"), 1), mostCounterLines))
	for range rows {
		o.Lines = append(o.Lines, v.readAskLine(p, p.newLine(), keeps))
	}
	if v.yes(&p.Sample) && keeps {
		p.askSamples(&o)
	}
	return o, nil
}

// readAsker reads whom the order is for.
func (v *visit) readAsker(p *counterPage, o *order.Order) error {
	if !v.takesAsks() {
		return nil
	}
	name := v.text(&p.Customer)
	v.carry(&p.OnFile) // on the page only where a name isn't on file
	p.OnFile.Checked = p.OnFile.Value != ""
	if name == "" {
		return nil
	}
	a, err := v.desk.AskerNamed(v.ctx(), v.actor, name)
	switch {
	case err == nil:
		o.CustomerID, o.Customer, p.Customer.Value = a.Customer.ID, a.Customer.Name, a.Customer.Name
		p.OnFile.Checked = false
		p.knowFirm(a)
	case !fault.Is(err, fault.NotFound):
		return err
	case !p.OnFile.Checked:
		v.wrong(&p.Customer, "“%s” isn't on file; choose a name of the list, or tick that it is put on file", name)
	}
	return nil
}

// readPlace reads where the goods go: a site on file, or an address.
func (v *visit) readPlace(p *counterPage, o *order.Order) {
	o.ShipTo = party.Address{Street: v.text(&p.Street), City: v.text(&p.City), State: strings.ToUpper(v.text(&p.State)), Postal: v.text(&p.Postal), Country: p.Offer.Seller.Address.Country}
	if len(p.Site.Options) == 0 {
		return
	}
	chosen := v.choice(&p.Site)
	for _, s := range p.sites {
		if strconv.FormatInt(s.ID, 10) == chosen {
			o.ShipTo, o.MilesTenths, o.SiteNotes = s.Address, s.MilesTenths, s.AccessNotes
			p.Street.Value, p.City.Value, p.State.Value, p.Postal.Value = s.Address.Street, s.Address.City, s.Address.State, s.Address.Postal
			p.Miles.Value = tenthsText(s.MilesTenths)
		}
	}
}

func tenthsText(n int64) string {
	if n == 0 {
		return ""
	}
	return fmt.Sprintf("%d.%d", n/10, n%10)
}

func (v *visit) readAskLine(p *counterPage, l *counterLine, keeps bool) order.Line {
	kind, code, _ := strings.Cut(v.choice(&l.Make), ":")
	line := order.Line{Kind: order.Kind(kind), Code: code}
	v.readMetal(p, l, &line, keeps)
	if l.FromShelf {
		v.carry(&l.Cuts)
		line.Count = v.pieces(l, v.text(&l.Count))
		return line
	}
	if v.carry(&l.Rib); !l.Rib.offers(l.Rib.Value) {
		l.Rib.Value = "" // of another product
	}
	line.Rib = l.Rib.Value
	v.carry(&l.Count)
	line.Cuts = v.cutList(l, v.text(&l.Cuts), p.Unit())
	return line
}

func hasOption(options []Option, value string) bool {
	for _, o := range options {
		if o.Value == value {
			return true
		}
	}
	return false
}

// readMetal reads the metal of a line. A metal that the product doesn't come in
// gives way to the nearest that it does, with a word about it; when the order
// is kept that is a fault instead, for the person to look at.
func (v *visit) readMetal(p *counterPage, l *counterLine, line *order.Line, keeps bool) {
	if line.Kind == order.Accessory {
		v.carry(&l.Metal)
		p.offerMetals(l, *line)
		return
	}
	asked := v.text(&l.Metal)
	metals := p.offerMetals(l, *line)
	if l.Metal.Value != asked {
		was, known := metalKnown(p.Offer.Metals, asked)
		switch now, some := metalKnown(metals, l.Metal.Value); {
		case !some:
			v.wrong(&l.Metal, "the shop has no metal for this product; ask the counter what can be bought")
		case !known:
			v.wrong(&l.Metal, "choose one of the list")
		case keeps:
			v.wrong(&l.Metal, "%s isn't made of %s; the nearest is %s, chosen now", l.Name, metalName(was), metalName(now))
		default:
			l.Metal.Help = v.reader.T("%s isn't made of %s; the nearest is chosen.", l.Name, metalName(was))
		}
	}
	line.Material, line.Gauge, line.Colour = metalOf(l.Metal.Value)
}

// metalOf takes a metal's key apart.
func metalOf(key string) (material, gauge, colour string) {
	material, rest, _ := strings.Cut(key, "|")
	gauge, colour, _ = strings.Cut(rest, "|")
	return material, gauge, colour
}

func metalKnown(list []desk.MetalChoice, key string) (desk.MetalChoice, bool) {
	for _, m := range list {
		if m.Key() == key {
			return m, true
		}
	}
	return desk.MetalChoice{}, false
}

func metalName(m desk.MetalChoice) string {
	return m.Colour.Name + " " + m.Material.Name + " " + m.Gauge
}

// offerMetals fills the choices that depend on the product: its metals, the
// present one kept where it fits, and its flats.
func (p *counterPage) offerMetals(l *counterLine, line order.Line) []desk.MetalChoice {
	p.know(l, line)
	if l.FromShelf {
		l.Metal.Optional = true
		return nil
	}
	metals := p.Offer.MetalsFor(line.Kind, line.Code)
	l.Metal.Groups = groupMetals(metals, p.Reader)
	l.Metal.Value = nearestMetal(metals, l.Metal.Value)
	if m, ok := metalKnown(metals, l.Metal.Value); ok {
		l.Swatch, l.ColourName = m.Colour.Swatch, m.Colour.Name
		l.Gauge = fmt.Sprintf("%s, %s, %s", p.thickness(m), m.Material.Name, p.Reader.Read(m.Colour.Finish))
		l.Colours = coloursOf(metals, m)
		if m.InStock {
			onRack := "yes"
			if p.forShop {
				onRack = p.Reader.T("%s ft free", m.Free.Feet())
			}
			l.Facts = append(l.Facts, fact{"On the rack today", onRack})
		} else {
			l.Facts = append(l.Facts, fact{"On the rack today", "no, bought for you"})
		}
	}
	return metals
}

// thickness explains a gauge; one that is called by its thickness needs no more.
func (b *Base) thickness(m desk.MetalChoice) string {
	if strings.HasSuffix(m.Gauge, " in") {
		return b.Reader.T("%s thick", m.Gauge)
	}
	return b.Reader.T("%s is %s in thick", m.Gauge, trimDecimal(m.Thickness.Decimal(measure.Inch, 4)))
}

func trimDecimal(s string) string { return strings.TrimRight(strings.TrimRight(s, "0"), ".") }

// groupMetals puts metals under the name of their material.
func groupMetals(metals []desk.MetalChoice, r words.Reader) (out []Group) {
	for _, m := range metals {
		if len(out) == 0 || out[len(out)-1].Label != m.Material.Name {
			out = append(out, Group{Label: m.Material.Name})
		}
		label := fmt.Sprintf("%s, %s", m.Colour.Name, m.Gauge)
		if !strings.HasSuffix(m.Gauge, " in") {
			label = fmt.Sprintf("%s (%s in)", label, trimDecimal(m.Thickness.Decimal(measure.Inch, 4)))
		}
		if m.InStock {
			label = r.T("%s, on the rack", label)
		}
		g := &out[len(out)-1]
		g.Options = append(g.Options, Option{m.Key(), label})
	}
	return out
}

// nearestMetal gives the metal asked for if it is among them; else one that
// shares most with it, on the rack before others; "" of none.
func nearestMetal(metals []desk.MetalChoice, key string) string {
	material, gauge, colour := metalOf(key)
	best, most := "", -1
	for _, m := range metals {
		if m.Key() == key {
			return key
		}
		likeness := 0
		for _, same := range []struct {
			yes    bool
			weight int
		}{{m.Material.Code == material, 8}, {m.Colour.Code == colour, 4}, {m.Gauge == gauge, 2}, {m.InStock, 1}} {
			if same.yes {
				likeness += same.weight
			}
		}
		if likeness > most {
			best, most = m.Key(), likeness
		}
	}
	return best
}

// know fills what the catalogue says of a line's product.
func (p *counterPage) know(l *counterLine, line order.Line) {
	l.FromShelf = line.Kind == order.Accessory
	l.Facts, l.Rib.Options = nil, nil
	for _, f := range p.Offer.Profiles {
		if line.Kind != order.Formed || f.Code != line.Code {
			continue
		}
		l.Name = f.Name
		for _, r := range f.Ribs {
			l.Rib.Options = append(l.Rib.Options, Option{r, r})
		}
		if f.Coverage > 0 {
			l.Facts = append(l.Facts, fact{"Covers", p.Across(f.Coverage)})
		}
		l.Facts = append(l.Facts, fact{"Cut from", p.Reader.T("%s to %s", f.MinLength, f.MaxLength)})
		if f.HaulLength > 0 && f.HaulLength < f.MaxLength {
			l.Facts = append(l.Facts, fact{"Hauled up to", p.Long(f.HaulLength)})
		}
		if f.SlopeMin > 0 {
			l.Facts = append(l.Facts, fact{"Roof slope", p.Reader.T("at least %d in 12", f.SlopeMin)})
		}
	}
	for _, f := range p.Offer.Shapes {
		if line.Kind == order.Trim && f.Code == line.Code {
			l.Name = f.Name
		}
	}
	for _, f := range p.Offer.Accessories {
		if line.Kind == order.Accessory && f.Code == line.Code {
			l.Name = f.Name
			l.Count.Help = p.Reader.T("Sold by the %s.", desk.UnitName(f.Unit, p.Reader))
		}
	}
}

// pieces reads a count.
func (v *visit) pieces(l *counterLine, count string) int {
	n, err := strconv.Atoi(strings.ReplaceAll(count, ",", ""))
	if err != nil || n < 1 {
		v.wrong(&l.Count, "give the number of pieces, such as 4")
	}
	return n
}

// cutList reads the tally and notes what can't be understood, row by row. Rows
// stand as they were typed, empty ones too, so that the echo lines up with them.
func (v *visit) cutList(l *counterLine, text string, unit measure.Unit) (cuts []order.CutItem) {
	at := 0
	for _, r := range order.ReadCutList(text, unit) {
		for at++; at < r.No; at++ {
			l.Rows = append(l.Rows, tallyRow{Blank: true})
		}
		row := tallyRow{Text: strings.TrimSpace(r.Text), Note: r.Note}
		if r.Err != nil {
			row.Wrong = v.sentence(r.Err)
			v.wrong(&l.Cuts, "row %d: %s", r.No, r.Err.Said())
			l.Rows = append(l.Rows, row)
			continue
		}
		row.Qty, row.Length, row.Decimal, row.Mark = r.Item.Qty, v.reader.Read(r.Item.Length), v.otherwise(r.Item.Length), r.Item.Mark
		l.Rows = append(l.Rows, row)
		cuts = append(cuts, r.Item)
	}
	sum := order.Line{Cuts: cuts}
	if len(cuts) > 0 {
		l.Sum = v.reader.T("%d pc · %s", sum.Pieces(), running(v.reader, sum.Feet()))
	}
	if len(cuts) == 0 && len(v.found) == 0 {
		v.wrong(&l.Cuts, "enter at least one length")
	}
	return cuts
}

// atFields moves the desk's faults from places in the order to the page's
// fields.
func atFields(err error) error {
	var l fault.List
	for _, f := range fault.All(err) {
		l = append(l, askFault(f))
	}
	return l
}

// markRows shows at its row of the tally what the desk refuses of a length.
func (p *counterPage) markRows(err error) {
	for _, f := range fault.All(err) {
		parts := strings.Split(f.Field, ".")
		if len(parts) < 4 || parts[0] != "lines" || parts[2] != "cuts" {
			continue
		}
		line, _ := strconv.Atoi(parts[1])
		cut, _ := strconv.Atoi(parts[3])
		if line >= len(p.Lines) {
			continue
		}
		for i := range p.Lines[line].Rows {
			row := &p.Lines[line].Rows[i]
			if row.Blank || row.Qty == 0 {
				continue
			}
			if cut == 0 {
				row.Wrong = sentence(p.Reader.Read(f.Said()))
			}
			cut--
		}
	}
}

// askFault moves a fault to the field of the page; one of a single length says
// which.
func askFault(f *fault.Fault) *fault.Fault {
	g := *f
	if parts := strings.Split(f.Field, "."); len(parts) > 3 && parts[0] == "lines" && parts[2] == "cuts" {
		if n, err := strconv.Atoi(parts[3]); err == nil {
			g = *f.Within("length %d: %s", n+1)
		}
	}
	g.Field = askField(f.Field)
	return &g
}

// askField maps lines.0.colour to lines.0.metal, lines.0.cuts.2.length to
// lines.0.cuts, and so on.
func askField(field string) string {
	parts := strings.Split(field, ".")
	if len(parts) < 2 || parts[0] != "lines" {
		return field
	}
	line := "lines." + parts[1] + "."
	if len(parts) < 3 {
		return line + "make"
	}
	switch parts[2] {
	case "material", "gauge", "colour":
		return line + "metal"
	case "rib", "count", "metal":
		return line + parts[2]
	case "cuts":
		return line + "cuts"
	}
	return line + "make"
}
