package web

import (
	"slices"
	"strconv"
	"strings"

	"ribdesk/internal/desk"
	"ribdesk/internal/measure"
	"ribdesk/internal/roof"
	"ribdesk/internal/stock"
	"ribdesk/internal/words"
)

// describe ties the page's fields to the ask.
func (p *roofPage) describe(b *binder) error {
	b.part("Panel", func(part *formPart) {
		p.Panel = part
		b.text(Field{Name: "name", Label: "Job, or name of the roof", Optional: true}, &p.ask.Name)
		choose(b, Field{Name: "profile", Label: "Panel", Options: p.panels()}, &p.ask.Profile)
	})
	if err := b.v.knowPanel(p); err != nil {
		return err
	}
	b.at = p.Panel
	p.metalFields(b)
	if err := b.v.choosePanel(p); err != nil {
		return err
	}
	b.at = &formPart{}
	p.planes(b)
	b.within("rules", func() {
		p.Rules = b.part(b.v.reader.T("Rules"), func(part *formPart) {
			part.Fold = true
			p.rules(b)
		})
	})
	p.Pick = b.part(b.v.reader.T("Trim and fixings"), func(part *formPart) {
		part.Fold = true
		p.picks(b)
	})
	return nil
}

func (p *roofPage) panels() (list []Option) {
	for _, f := range p.offer.Profiles {
		if f.Use == stock.Panel {
			list = append(list, Option{f.Code, f.Name})
		}
	}
	return list
}

// metalFields asks for the metal and the flat, as the profile comes.
func (p *roofPage) metalFields(b *binder) {
	metal := b.add(Field{Name: "metal", Label: "Metal and colour", Groups: groupMetals(p.metals, b.v.reader), Help: "Screens lie about colour; ask for a sample."})
	if b.reading {
		p.ask.Metal = b.v.text(metal)
	}
	p.ask.Metal = nearestMetal(p.metals, p.ask.Metal)
	metal.Value = p.ask.Metal
	for _, f := range p.offer.Profiles {
		if f.Code != p.ask.Profile || len(f.Ribs) == 0 {
			continue
		}
		rib := b.add(Field{Name: "rib", Label: "Flat", Options: options(f.Ribs...)})
		if b.reading {
			p.ask.Rib = b.v.text(rib)
		}
		if !slices.Contains(f.Ribs, p.ask.Rib) {
			p.ask.Rib = f.Ribs[0]
		}
		rib.Value = p.ask.Rib
		return
	}
	p.ask.Rib = ""
}

// planes describes the list of planes.
func (p *roofPage) planes(b *binder) {
	list := rows(b, "planes", "Plane", "Add a plane", &p.ask.Roof.Planes, func(i int, plane *roof.Plane) {
		b.named(b.v.reader.T("Plane %s", string(rune('A'+i%26))))
		p.plane(b, plane)
	})
	p.Rows = list.Rows
	for i, part := range list.Parts {
		plane := p.ask.Roof.Planes[i]
		key := []string{string(plane.Shape), strconv.FormatBool(plane.OnSlope), strconv.Itoa(len(plane.Openings))}
		p.Planes = append(p.Planes, &roofPlanePart{part, "plane-" + strconv.Itoa(i+1), strings.Join(key, " ")})
	}
}

// named names a row, and the button that takes it away: on this page to take off
// means something else.
func (b *binder) named(title string) {
	b.at.Title, b.at.Off = title, b.v.reader.T("Remove %s", title)
}

// edgesOf gives edges as the options of a choice.
func edgesOf(edges ...roof.Edge) []Option {
	list := make([]Option, len(edges))
	for i, e := range edges {
		list[i] = Option{string(e), string(e)}
	}
	return list
}

// settle reads a choice that depends on another: what isn't among the options
// any more gives way to the first.
func settle[T ~string](b *binder, f Field, at *T) {
	p := b.add(f)
	if b.reading {
		*at = T(b.v.text(p))
	}
	if !hasOption(p.Options, string(*at)) {
		*at = T(p.Options[0].Value)
	}
	p.Value = string(*at)
}

func (p *roofPage) plane(b *binder, plane *roof.Plane) {
	settle(b, Field{Name: "shape", Label: "Shape", Options: []Option{
		{string(roof.Rectangle), "rectangle"}, {string(roof.Trapezoid), "ridge, hips, valleys"},
		{string(roof.Triangle), "triangle"}, {string(roof.Corners), "by its corners"}}}, &plane.Shape)
	way := inPlan
	if plane.OnSlope {
		way = onSlope
	}
	settle(b, Field{Name: "measured", Label: "Heights are", Options: []Option{{inPlan, "level (a plan)"}, {onSlope, "up the slope"}}}, &way)
	plane.OnSlope = way == onSlope
	p.pitch(b, &plane.Pitch)
	if plane.Shape == roof.Corners {
		p.corners(b, &plane.Corners)
	} else {
		p.sides(b, plane)
	}
	b.text(Field{Name: "name", Label: "Name of the plane", Optional: true}, &plane.Name)
	if b.reading && !b.posted("copies") {
		plane.Copies = 1 // a plane just added
		b.add(copiesField).Value = "1"
	} else {
		b.whole(copiesField, &plane.Copies)
	}
	openings := rows(b, "openings", "Opening", "Add an opening", &plane.Openings, func(i int, o *roof.Opening) {
		b.named(b.v.reader.T("Opening %d", i+1))
		p.opening(b, o)
	})
	openings.Title, openings.Add = b.v.reader.T("Openings"), b.v.reader.T("Add an opening")
}

var copiesField = Field{Name: "copies", Label: "Times on the roof", Keys: "numeric", Short: true}

// The ways heights are measured.
const (
	inPlan  = "plan"
	onSlope = "slope"
)

// posted reports whether a field at this point of the record was sent.
func (b *binder) posted(name string) bool {
	_, ok := b.v.c.Request.PostForm[b.prefix+name]
	return ok
}

func (p *roofPage) pitch(b *binder, at *roof.Pitch) {
	f := b.add(Field{Name: "pitch", Label: "Pitch", Short: true, Help: "Rise in 12, like 6 in 12 or 6/12, or degrees, like 26.5°."})
	if !b.reading {
		if at.Rise > 0 {
			f.Value = at.String()
		}
		return
	}
	read, err := roof.ReadPitch(b.v.text(f))
	if err != nil {
		b.v.note(f, err)
	}
	*at = read
}

// sides asks for the lengths and edges of a plane of a known shape.
func (p *roofPage) sides(b *binder, plane *roof.Plane) {
	up := Field{Name: "up", Label: "Run, eave to ridge", Short: true}
	if plane.OnSlope {
		up.Label = words.Key("Rafter, eave to ridge")
	}
	p.reach(b, Field{Name: "eave", Label: "Eave", Short: true, Help: "Like 40', 12' 6-1/2\" or 12.2 m."}, &plane.Eave)
	p.reach(b, up, &plane.Up)
	straight, leaning := []roof.Edge{roof.Rake, roof.Sidewall}, []roof.Edge{roof.Hip, roof.Valley, roof.Rake, roof.Sidewall}
	edges := straight
	if plane.Shape != roof.Rectangle {
		edges = leaning
	}
	settle(b, Field{Name: "left", Label: "Left side", Options: edgesOf(edges...)}, &plane.Left)
	settle(b, Field{Name: "right", Label: "Right side", Options: edgesOf(edges...)}, &plane.Right)
	plane.Ridge, plane.Start = keepIf(plane.Shape == roof.Trapezoid, plane.Ridge), keepIf(plane.Shape != roof.Rectangle, plane.Start)
	if plane.Shape == roof.Trapezoid {
		p.reach(b, Field{Name: "ridge", Label: "Ridge", Short: true, Optional: true, Help: "Empty: what regular hips and valleys leave."}, &plane.Ridge)
	}
	if plane.Shape != roof.Rectangle {
		p.reach(b, Field{Name: "start", Label: "Ridge begins at", Short: true, Optional: true, Help: "From the left corner of the eave; at a valley, beyond it."}, &plane.Start)
	}
	if plane.Shape != roof.Triangle {
		settle(b, Field{Name: "top", Label: "Top", Options: edgesOf(roof.Ridge, roof.Peak, roof.Endwall, roof.Transition)}, &plane.Top)
	}
	settle(b, Field{Name: "bottom", Label: "Bottom", Options: edgesOf(roof.Eave, roof.Transition)}, &plane.Bottom)
}

func keepIf(keep bool, l measure.Length) measure.Length {
	if keep {
		return l
	}
	return 0
}

// corners asks for an outline corner by corner.
func (p *roofPage) corners(b *binder, at *[]roof.Corner) {
	f := b.add(Field{Name: "corners", Label: "Corners", Rows: 6,
		Help: "One a line, going round: along the eave from its left corner, up, and the edge that begins there, with commas between: 12' 6\", 8', hip. Edges: eave, ridge, peak, hip, valley, rake, sidewall, endwall, transition."})
	if !b.reading {
		f.Value = roof.WriteCorners(*at)
		return
	}
	read, err := roof.ReadCorners(b.v.text(f), p.unit)
	if err != nil {
		b.v.note(f, err)
	}
	*at = read
}

func (p *roofPage) opening(b *binder, o *roof.Opening) {
	settle(b, Field{Name: "kind", Label: "What it is", Help: "A skylight brings its own flashing; a chimney takes sidewall and endwall trim.", Options: []Option{{string(roof.Skylight), "skylight"}, {string(roof.Chimney), "chimney"}}}, &o.Kind)
	p.reach(b, Field{Name: "left", Label: "From the left corner", Short: true, Optional: true}, &o.Left)
	p.reach(b, Field{Name: "up", Label: "Up from the eave", Short: true, Optional: true}, &o.Up)
	p.reach(b, Field{Name: "width", Label: "Width", Short: true}, &o.Width)
	p.reach(b, Field{Name: "height", Label: "Height", Short: true}, &o.Height)
}

// reach reads a length of the roof; a bare number is in the unit shown.
func (p *roofPage) reach(b *binder, f Field, at *measure.Length) {
	f.Unit = string(p.unit)
	field := b.add(f)
	if !b.reading {
		if *at != 0 {
			field.Value = typedReach(*at)
		}
		return
	}
	*at = 0
	if s := b.v.text(field); s == "" && field.Optional || f.Optional && isZero(s) {
		return
	}
	r, err := measure.Read(field.Value, p.unit)
	if err != nil {
		b.v.note(field, err)
	}
	*at = r.Length
}

func isZero(s string) bool { return s == "0" || s == `0"` || s == "0'" }

// typedReach writes a length of a roof so that it reads back the same.
func typedReach(l measure.Length) string {
	text, err := l.MarshalText()
	if err != nil {
		return l.Metric(measure.Millimetre)
	}
	return string(text)
}

// rules describes how the roof is laid. What is left empty is usual for the
// panel; 0 is none.
func (p *roofPage) rules(b *binder) {
	r, usual := &p.ask.Roof.Rules, p.usual
	settle(b, Field{Name: "start", Label: "First panel", Options: []Option{{string(roof.FromLeft), "from the left"}, {string(roof.FromRight), "from the right"}, {string(roof.Centred), "centred, both ends ripped alike"}}}, &r.Start)
	settle(b, Field{Name: "at_openings", Label: "At openings as wide as a panel", Options: []Option{{string(roof.RunThrough), "run through, cut out on site"}, {string(roof.SplitThere), "split: a piece below, a piece above"}}}, &r.AtOpenings)
	settle(b, Field{Name: "too_long", Label: "Panels that are too long", Options: []Option{{string(roof.Refuse), "say so"}, {string(roof.Lap), "lap: full pieces from the eave up"}}}, &r.TooLong)
	b.tick(Field{Name: "on_site", Label: "Formed on site: as long as the machine makes, nothing hauled"}, &r.OnSite)
	for _, f := range []struct {
		name, label string
		at          *measure.Length
		usual       measure.Length
	}{
		{"overhang", words.Key("Past the eave"), &r.Overhang, usual.Overhang}, {"hem", words.Key("Hem at the eave"), &r.Hem, usual.Hem},
		{"ridge_gap", words.Key("Held back from the ridge"), &r.RidgeGap, usual.RidgeGap}, {"step", words.Key("Round lengths up to"), &r.Step, usual.Step},
		{"end_lap", words.Key("End lap"), &r.EndLap, usual.EndLap}, {"stick", words.Key("Trim in pieces of"), &r.Stick, usual.Stick}, {"trim_lap", words.Key("Lap of trim"), &r.TrimLap, usual.TrimLap},
		{"clip_spacing", words.Key("Clips apart"), &r.ClipSpacing, usual.ClipSpacing}, {"row_spacing", words.Key("Rows of panel screws apart"), &r.RowSpacing, usual.RowSpacing},
		{"across_spacing", words.Key("Screws across a panel apart"), &r.AcrossSpacing, usual.AcrossSpacing}, {"stitch_spacing", words.Key("Screws along side laps apart"), &r.StitchSpacing, usual.StitchSpacing},
		{"trim_spacing", words.Key("Trim screws apart"), &r.TrimSpacing, usual.TrimSpacing}, {"closure", words.Key("Length of a closure strip"), &r.Closure, usual.Closure}, {"tape", words.Key("Length of a roll of tape"), &r.Tape, usual.Tape},
	} {
		p.ruled(b, Field{Name: f.name, Label: f.label, Short: true, Optional: true, Help: b.v.reader.T("Usual: %s", f.usual)}, f.at, f.usual)
	}
	screws := Field{Name: "screws_per_clip", Label: "Screws a clip", Short: true, Optional: true, Help: b.v.reader.T("Usual: %d", usual.ScrewsPerClip)}
	p.ruledCount(b, screws, &r.ScrewsPerClip, usual.ScrewsPerClip)
}

// ruledCount is ruled for a count.
func (p *roofPage) ruledCount(b *binder, f Field, at *int, usual int) {
	f.Keys = "numeric"
	field := b.add(f)
	switch {
	case !b.reading && *at != usual:
		field.Value = strconv.Itoa(*at)
	case b.reading:
		if *at = b.v.whole(field); field.Value == "" {
			*at = usual
		}
	}
}

// ruled reads a length that is usual where it is left empty.
func (p *roofPage) ruled(b *binder, f Field, at *measure.Length, usual measure.Length) {
	field := b.add(f)
	if !b.reading {
		if *at == 0 && usual != 0 {
			field.Value = "0"
		} else if *at != usual {
			field.Value = typedLength(*at)
		}
		return
	}
	switch s := b.v.text(field); {
	case s == "":
		*at = usual
	case isZero(s):
		*at = 0
	default:
		r, err := measure.Read(s, measure.Inches)
		if err != nil {
			b.v.note(field, err)
		}
		*at = r.Length
	}
}

// picks asks which trim and which things from the shelf go with the roof.
func (p *roofPage) picks(b *binder) {
	var shapes, shelf []Option
	for _, s := range p.offer.Shapes {
		shapes = append(shapes, Option{s.Code, s.Name})
	}
	for _, a := range p.offer.Accessories {
		shelf = append(shelf, Option{a.Code, a.Name + ", " + desk.UnitName(a.Unit, p.Reader)})
	}
	none := []Option{{"", "none"}}
	trim, parts := map[roof.Edge]string{}, map[desk.RoofPart]string{}
	for _, kind := range append(slices.Clone(roof.Edges), roof.ZClosure) {
		code := p.ask.Trim[kind]
		choose(b, Field{Name: "trim." + string(kind), Label: b.v.reader.T("Trim: %s", kind), Optional: true, Options: append(none, shapes...)}, &code)
		trim[kind] = code
	}
	for _, part := range desk.RoofParts {
		code := p.ask.Parts[part]
		choose(b, Field{Name: "parts." + string(part), Label: b.v.reader.Read(part.Words()), Optional: true, Options: append(none, shelf...)}, &code)
		parts[part] = code
	}
	p.ask.Trim, p.ask.Parts = trim, parts
}
