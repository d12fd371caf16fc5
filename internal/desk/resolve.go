package desk

import (
	"fmt"
	"sort"
	"strings"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/metal"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/stock"
	"ribdesk/internal/words"
)

// made is a line that the shop can make, with what it is made on and from.
type made struct {
	line     *order.Line
	machine  stock.Machine
	material stock.Material
	sheet    metal.Sheet
	supply   stock.Supply // as bought today, when hasSupply
	bought   bool         // there is a supply
	blank    metal.Blank  // of trim
	perFoot  float64      // pounds of strip per foot
}

// resolve fills in what follows from the catalogue (names, strip, girth,
// weight, minutes) and refuses what can't be made, each at its place in the
// order, with the nearest that can.
func (s *snapshot) resolve(o *order.Order) ([]made, error) {
	var bad fault.List
	bad.Add("", o.Check())
	bad.Add("", s.ownPatterns(o))
	out := make([]made, len(o.Lines))
	for i := range o.Lines {
		m, err := s.resolveLine(&o.Lines[i])
		bad.Add(fmt.Sprintf("lines.%d", i), err)
		out[i] = m
	}
	return out, bad.Err()
}

func (s *snapshot) resolveLine(l *order.Line) (made, error) {
	switch l.Kind {
	case order.Formed:
		return s.resolveFormed(l)
	case order.Trim:
		return s.resolveTrim(l)
	case order.Accessory:
		a, ok := s.accessories[l.Code]
		if !ok {
			return made{}, fault.Invalidf("code", "choose an accessory of the list")
		}
		l.Name = a.Name
		l.Pounds = a.Weight.Mul(money.Int(int64(l.Count))).Shorten(1)
		return made{line: l}, nil
	}
	return made{}, fault.Invalidf("kind", "choose a panel, trim or accessory")
}

func (s *snapshot) resolveFormed(l *order.Line) (made, error) {
	p, ok := s.profiles[l.Code]
	if !ok {
		return made{}, fault.Invalidf("code", "choose a profile of the list")
	}
	l.Name, l.Strip = p.Name, p.Strip
	if l.Rib == "" && len(p.Ribs) > 0 {
		l.Rib = p.Ribs[0]
	}
	m, err := s.resolveMetal(l)
	if err != nil {
		return m, err
	}
	var bad fault.List
	bad.Add("", p.CheckMetal(m.material, l.Gauge))
	bad.Add("", p.CheckRib(l.Rib))
	for i, c := range l.Cuts {
		if c.Length > 0 {
			bad.Add(fmt.Sprintf("cuts.%d", i), p.CheckPiece(c.Length))
		}
	}
	if bad != nil {
		return m, bad
	}
	if err := s.resolveSource(&m); err != nil {
		return m, err
	}
	if m.machine, ok = s.machineFor(*l); !ok {
		return m, fault.Invalidf("code", "no machine of the shop runs %s from %s strip", p.Name, p.Strip.Across())
	}
	l.Minutes = formedMinutes(m.machine, *l)
	return m, nil
}

func (s *snapshot) resolveTrim(l *order.Line) (made, error) {
	if l.Section == nil {
		shape, ok := s.shapes[l.Code]
		if !ok {
			return made{}, fault.Invalidf("code", "choose a trim shape of the list, or draw one")
		}
		section := shape.Section
		l.Section, l.Name = &section, shape.Name
	}
	if l.Name == "" {
		l.Name = "Trim to drawing"
	}
	m, err := s.resolveMetal(l)
	if err != nil {
		return m, err
	}
	folder, ok := s.folder()
	if !ok {
		return m, fault.Invalidf("code", "the shop has no folder for trim")
	}
	m.machine = folder
	if m.blank, err = metal.Girth(*l.Section, m.sheet, foldingOf(m.material, folder)); err != nil {
		return m, err
	}
	l.Girth = m.blank.Girth
	for i, c := range l.Cuts {
		if c.Length > folder.MaxFold {
			return m, fault.Invalidf(fmt.Sprintf("cuts.%d.length", i), "the folder takes at most %s; order it in lengths with a lap", folder.MaxFold)
		}
	}
	if err := s.resolveBlankSource(&m); err != nil {
		return m, err
	}
	l.Minutes = trimMinutes(folder, m.blank, sheetsOf(*l), l.Pieces())
	return m, nil
}

func (s *snapshot) folder() (stock.Machine, bool) {
	for _, m := range s.machines {
		if m.Folder {
			return m, true
		}
	}
	return stock.Machine{}, false
}

// resolveMetal looks up material, gauge and colour.
func (s *snapshot) resolveMetal(l *order.Line) (made, error) {
	m := made{line: l}
	var bad fault.List
	material, ok := s.materials[l.Material]
	if !ok {
		bad.Addf("material", "choose a material of the list")
	}
	if _, ok := s.colours[l.Colour]; !ok {
		bad.Addf("colour", "choose a colour of the list")
	}
	if bad != nil {
		return m, bad
	}
	gauge, err := metal.Gauge(material.GaugeSystem, l.Gauge)
	if err != nil {
		return m, err
	}
	if l.Gauge, ok = ownLabel(material, gauge); !ok {
		return m, fault.Invalidf("gauge", "the shop handles %s in %s, not %s", material.Name, strings.Join(material.Gauges, ", "), gauge.Label)
	}
	m.material, m.sheet = material, material.Sheet(gauge.Thickness)
	return m, nil
}

// ownLabel gives the material's own word for a gauge that may be written
// otherwise: 24 for 24 ga. Coils are looked up by that word.
func ownLabel(m stock.Material, gauge metal.GaugeInfo) (string, bool) {
	for _, label := range m.Gauges {
		if gaugeThickness(m, label) == gauge.Thickness {
			return label, true
		}
	}
	return "", false
}

// resolveSource finds what the strip is bought as or lies on the rack as, and
// refuses a metal that the shop neither has nor can buy.
func (s *snapshot) resolveSource(m *made) error {
	l := m.line
	m.supply, m.bought = s.supplyOf(l.Metal())
	if !m.bought && len(s.coilsOf(l.Metal())) == 0 {
		return fault.Invalidf("colour", "the shop doesn't stock %s strip in %s %s %s; %s", l.Strip.Across(), m.material.Name, l.Gauge, s.colours[l.Colour].Name, s.nearestStrips(*l))
	}
	m.weigh()
	return nil
}

func (m *made) weigh() {
	l := m.line
	m.perFoot = m.sheet.PoundsPerFoot(l.Strip)
	width := l.Strip
	if l.Kind == order.Trim {
		width = l.Girth
	}
	l.Pounds = money.FromFloat(m.sheet.PoundsPerFoot(width) * l.Feet().InFeet()).Shorten(1)
}

// nearestStrips says which colours there are in the same strip, else which
// gauges in the same colour.
func (s *snapshot) nearestStrips(l order.Line) words.Text {
	colours, gauges := map[string]bool{}, map[string]bool{}
	note := func(strip stock.Strip) {
		if strip.Material != l.Material || strip.Width != l.Strip {
			return
		}
		if strip.Gauge == l.Gauge {
			colours[s.colours[strip.Colour].Name] = true
		}
		if strip.Colour == l.Colour {
			gauges[strip.Gauge] = true
		}
	}
	for _, sup := range s.supplies {
		note(sup.Strip)
	}
	for _, c := range s.coils {
		note(c.Strip)
	}
	switch {
	case len(colours) > 0:
		return words.Say("in this gauge there is %s", strings.Join(sorted(colours), ", "))
	case len(gauges) > 0:
		return words.Say("in this colour there is %s", strings.Join(sorted(gauges), ", "))
	}
	return words.Say("ask the counter what can be bought")
}

func sorted(set map[string]bool) []string {
	list := make([]string, 0, len(set))
	for s := range set {
		list = append(list, s)
	}
	sort.Strings(list)
	return list
}

// sheetsOf is how many sheets of the strip a line of trim is slit from.
func sheetsOf(l order.Line) (n int) {
	abreast := max(1, int(l.Strip/max(1, l.Girth)))
	for _, c := range l.Cuts {
		n += (c.Qty + abreast - 1) / abreast
	}
	return n
}

// resolveBlankSource chooses the strip of the metal that gives the least width
// to each blank, and the narrower of two that give the same.
func (s *snapshot) resolveBlankSource(m *made) error {
	l := m.line
	var best stock.Strip
	consider := func(strip stock.Strip) {
		if strip.Material == l.Material && strip.Gauge == l.Gauge && strip.Colour == l.Colour &&
			strip.Width >= l.Girth && strip.Width <= m.machine.MaxStrip && (best.Width == 0 || thriftier(strip.Width, best.Width, l.Girth)) {
			best = strip
		}
	}
	for _, sup := range s.supplies {
		consider(sup.Strip)
	}
	for _, c := range s.coils {
		consider(c.Strip)
	}
	if best.Width == 0 {
		return fault.Invalidf("section", "the girth of %s is wider than any %s %s %s the shop has for the folder", l.Girth.Across(), m.material.Name, l.Gauge, s.colours[l.Colour].Name)
	}
	l.Strip = best.Width
	return s.resolveSource(m)
}

// thriftier reports whether blanks of a girth take less of strip a than of b.
func thriftier(a, b, girth measure.Length) bool {
	perA, perB := a*(b/girth), b*(a/girth) // width per blank, over one denominator
	return perA < perB || perA == perB && a < b
}

var sixty = money.Int(60)

// formedMinutes is the run time of a line, rounded up to the minute, at least 1:
// (feet / speed + pieces x (shear + handling)) x (1 + allowance).
func formedMinutes(m stock.Machine, l order.Line) int {
	if m.Speed.Sign() <= 0 {
		return 1
	}
	return wholeMinutes(runTime(m, l))
}

// runTime is a line's run in minutes, not rounded.
func runTime(m stock.Machine, l order.Line) money.Rate {
	run := money.FromRat(l.Feet().Ratio(measure.Foot)).Div(m.Speed)
	run = run.Add(money.Int(int64(l.Pieces())).Mul(m.Shear.Add(m.Handling)).Div(sixty))
	return run.Mul(money.Int(1).Add(m.Allowance))
}

// trimMinutes is the time to slit so many sheets and fold so many pieces.
func trimMinutes(m stock.Machine, b metal.Blank, sheets, pieces int) int {
	work := money.Int(int64(b.Bends)).Mul(m.Bend).Add(money.Int(int64(b.Hemmed)).Mul(m.Hem)).Add(m.Handling).Add(m.Shear)
	run := money.Int(int64(pieces)).Mul(work.Div(sixty)).Add(m.Slit.Mul(money.Int(int64(sheets))))
	return wholeMinutes(run.Mul(money.Int(1).Add(m.Allowance)))
}

// wholeMinutes is the named place where a run time becomes whole minutes: up.
func wholeMinutes(r money.Rate) int {
	n := int(r.Float())
	if money.Int(int64(n)).Cmp(r) < 0 {
		n++
	}
	return max(1, n)
}

// gaugeThickness is the nominal thickness of a gauge the material was checked to have.
func gaugeThickness(m stock.Material, label string) measure.Length {
	g, err := metal.Gauge(m.GaugeSystem, label)
	if err != nil {
		return 0
	}
	return g.Thickness
}
