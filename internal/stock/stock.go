// Package stock holds what the shop can run and from what: materials, colours,
// profiles, trim shapes, accessories, the coils with their ledger, the machines
// with their limits, calendar and changeover rule, and the vehicles. It decides
// whether a piece can be made, and says why not. It knows no orders, prices or
// plans.
package stock

import (
	"regexp"
	"slices"
	"strings"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/metal"
	"ribdesk/internal/money"
)

// Kind names a shelf of the catalogue.
type Kind string

// The shelves. Everything on them is read whole and edited in pages.
const (
	Materials   Kind = "material"
	Colours     Kind = "colour"
	Profiles    Kind = "profile"
	Shapes      Kind = "shape"
	Accessories Kind = "accessory"
	Machines    Kind = "machine"
	Supplies    Kind = "supply"
	Vehicles    Kind = "vehicle"
)

// Item is anything on a shelf: it has a code that others refer to, a name, and
// a check of its own.
type Item interface {
	Shelf() Kind
	Key() string
	Label() string
	Check() error
}

var codeForm = regexp.MustCompile(`^[A-Z0-9][A-Z0-9.-]{0,23}$`)

func checkItem(l *fault.List, code, name string) {
	if !codeForm.MatchString(code) {
		l.Addf("code", "use 1 to 24 capitals, figures, dots and dashes, like PBR-26")
	}
	if n := len([]rune(strings.TrimSpace(name))); n == 0 || n > 80 {
		l.Addf("name", "give a name of at most 80 characters")
	}
}

// Material is a metal as the shop buys it, before colour and width.
type Material struct {
	Code        string         `json:"code"`
	Name        string         `json:"name"`
	Family      metal.Family   `json:"family"`
	GaugeSystem metal.System   `json:"gauge_system"`
	Gauges      []string       `json:"gauges"`      // labels in that system that the shop handles
	Coating     string         `json:"coating"`     // designation such as G90 or AZ50, "" for none
	PaintMil    float64        `json:"paint_mil"`   // dry film on both sides together, 1/1000 in
	BendRadius  measure.Length `json:"bend_radius"` // inside radius the folder leaves
}

func (m Material) Shelf() Kind   { return Materials }
func (m Material) Key() string   { return m.Code }
func (m Material) Label() string { return m.Name }

// Sheet gives the metal in a thickness, for weights and girths.
func (m Material) Sheet(thickness measure.Length) metal.Sheet {
	return metal.Sheet{Family: m.Family, Thickness: thickness, Coating: m.Coating, PaintMil: m.PaintMil}
}

// Check refuses what can't be a material.
func (m Material) Check() error {
	var l fault.List
	checkItem(&l, m.Code, m.Name)
	if len(m.Gauges) == 0 {
		l.Addf("gauges", "name at least one gauge")
	}
	for _, g := range m.Gauges {
		if _, err := metal.Gauge(m.GaugeSystem, g); err != nil {
			l.Add("gauges", err)
		}
	}
	for _, g := range m.Gauges {
		if info, err := metal.Gauge(m.GaugeSystem, g); err == nil {
			l.Add("", m.Sheet(info.Thickness).Check())
			break
		}
	}
	return l.Err()
}

// Colour is a finish with a swatch.
type Colour struct {
	Code   string `json:"code"`
	Name   string `json:"name"`
	Finish string `json:"finish"` // generic: "silicone polyester", "fluoropolymer", "mill"
	Swatch string `json:"swatch"` // #RRGGBB; screens lie, samples don't
	Dark   bool   `json:"dark"`   // light after dark wants the rolls cleaned
}

func (c Colour) Shelf() Kind   { return Colours }
func (c Colour) Key() string   { return c.Code }
func (c Colour) Label() string { return c.Name }

var swatchForm = regexp.MustCompile(`^#[0-9A-Fa-f]{6}$`)

// Check refuses what can't be a colour.
func (c Colour) Check() error {
	var l fault.List
	checkItem(&l, c.Code, c.Name)
	if !swatchForm.MatchString(c.Swatch) {
		l.Addf("swatch", "write the swatch as # and six hex figures, like #3B4045")
	}
	return l.Err()
}

// Use says what a profile is for, which decides its price group and its papers.
type Use string

// The uses of a roll-formed profile.
const (
	Panel     Use = "panel"
	Gutter    Use = "gutter"
	Downspout Use = "downspout"
)

// GaugeRange is the thickness a profile takes in one metal family.
type GaugeRange struct {
	Family metal.Family   `json:"family"`
	Min    measure.Length `json:"min"`
	Max    measure.Length `json:"max"`
}

// Profile is a roll-formed section that a roller set makes from one strip.
type Profile struct {
	Code       string         `json:"code"`
	Name       string         `json:"name"`
	Use        Use            `json:"use"`
	RollerSet  string         `json:"roller_set"`
	Outline    string         `json:"outline"`  // code of the generic section that is drawn
	Params     metal.Values   `json:"params"`   // its dimensions, for the drawing only
	Coverage   measure.Length `json:"coverage"` // net cover per panel; 0 for gutter and downspout
	Strip      measure.Length `json:"strip"`    // coil width it is formed from
	Ranges     []GaugeRange   `json:"ranges"`
	MinLength  measure.Length `json:"min_length"`
	MaxLength  measure.Length `json:"max_length"`
	Ribs       []string       `json:"ribs"`        // options for the flat: "plain", "pencil", ...
	Flat       measure.Length `json:"flat"`        // widest flat, where waviness shows
	SlopeMin   int            `json:"slope_min"`   // least rise in 12, 0 for walls and gutter
	HaulLength measure.Length `json:"haul_length"` // longest the shop hauls
}

func (p Profile) Shelf() Kind   { return Profiles }
func (p Profile) Key() string   { return p.Code }
func (p Profile) Label() string { return p.Name }

// Check refuses what can't be a profile.
func (p Profile) Check() error {
	var l fault.List
	checkItem(&l, p.Code, p.Name)
	if p.Use != Panel && p.Use != Gutter && p.Use != Downspout {
		l.Addf("use", "choose panel, gutter or downspout")
	}
	if p.RollerSet == "" {
		l.Addf("roller_set", "name the roller set")
	}
	if p.Strip <= 0 {
		l.Addf("strip", "give the strip width")
	}
	if outline, err := metal.ProfileOf(p.Outline); err != nil {
		l.Add("outline", err)
	} else if _, err := outline.Outline(p.Params); err != nil {
		l.Add("params", err)
	}
	if p.Coverage < 0 || p.Coverage > p.Strip {
		l.Addf("coverage", "coverage can't be wider than the strip")
	}
	if p.Use == Panel && p.Coverage == 0 {
		l.Addf("coverage", "give the coverage of a panel")
	}
	if p.MinLength <= 0 || p.MaxLength < p.MinLength {
		l.Addf("max_length", "the longest piece must be longer than the shortest, and that more than 0")
	}
	if len(p.Ranges) == 0 {
		l.Addf("ranges", "say which thickness it takes in at least one metal")
	}
	for _, r := range p.Ranges {
		if r.Min <= 0 || r.Max < r.Min {
			l.Addf("ranges", "%s: the heaviest must be thicker than the lightest", r.Family)
		}
	}
	return l.Err()
}

// Range gives the thickness it takes in a family.
func (p Profile) Range(f metal.Family) (GaugeRange, bool) {
	for _, r := range p.Ranges {
		if r.Family == f {
			return r, true
		}
	}
	return GaugeRange{}, false
}

// CheckPiece refuses a length the profile can't be cut to, with the nearest it can.
func (p Profile) CheckPiece(length measure.Length) error {
	switch {
	case length < p.MinLength:
		return fault.Invalidf("length", "%s can't be cut shorter than %s; the nearest is %s", p.Name, p.MinLength, p.MinLength)
	case length > p.MaxLength:
		return fault.Invalidf("length", "%s can't be made longer than %s; the nearest is %s, or split the run with a lap", p.Name, p.MaxLength, p.MaxLength)
	}
	return nil
}

// CheckMetal refuses a metal and thickness the profile doesn't take.
func (p Profile) CheckMetal(m Material, gauge string) error {
	r, ok := p.Range(m.Family)
	if !ok {
		return fault.Invalidf("material", "%s isn't formed from %s", p.Name, strings.ToLower(m.Name))
	}
	g, err := metal.Gauge(m.GaugeSystem, gauge)
	if err != nil {
		return err
	}
	if g.Thickness >= r.Min && g.Thickness <= r.Max {
		return nil
	}
	nearest := ""
	for _, label := range m.Gauges {
		if n, err := metal.Gauge(m.GaugeSystem, label); err == nil && n.Thickness >= r.Min && n.Thickness <= r.Max {
			nearest = label
			if g.Thickness > r.Max {
				break // labels run from heavy to light: the first that fits is the nearest
			}
		}
	}
	if nearest == "" {
		return fault.Invalidf("gauge", "%s takes %s to %s in of %s only", p.Name, r.Min.Inches(), r.Max.Inches(), m.Name)
	}
	return fault.Invalidf("gauge", "%s doesn't take %s in %s; the nearest it takes is %s", p.Name, gauge, m.Name, nearest)
}

// CheckRib refuses a rib option the profile doesn't have.
func (p Profile) CheckRib(rib string) error {
	if rib == "" && len(p.Ribs) == 0 {
		return nil
	}
	for _, r := range p.Ribs {
		if r == rib {
			return nil
		}
	}
	return fault.Invalidf("rib", "%s comes with %s", p.Name, strings.Join(p.Ribs, ", "))
}

// Shape is a trim section the shop keeps: one of the trade's standard shapes
// with its dimensions, or a section drawn leg by leg.
type Shape struct {
	Code     string        `json:"code"`
	Name     string        `json:"name"`
	Customer int64         `json:"customer"` // whose own pattern it is, 0 for everybody's
	Section  metal.Section `json:"section"`
}

func (s Shape) Shelf() Kind   { return Shapes }
func (s Shape) Key() string   { return s.Code }
func (s Shape) Label() string { return s.Name }

// Check refuses what can't be a shape.
func (s Shape) Check() error {
	var l fault.List
	checkItem(&l, s.Code, s.Name)
	if len(s.Section.Legs) == 0 {
		l.Addf("legs", "draw at least one leg")
	}
	return l.Err()
}

// Accessory is sold by the piece or by a box of a fixed count.
type Accessory struct {
	Code    string       `json:"code"`
	Name    string       `json:"name"`
	Unit    string       `json:"unit"`    // "each", "box of 250", "tube"
	Cost    money.Amount `json:"cost"`    // landed, per unit
	Weight  money.Rate   `json:"weight"`  // pounds per unit
	OnHand  int          `json:"on_hand"` // counted stock; not promised by the desk
	CostDay string       `json:"cost_day"`
}

func (a Accessory) Shelf() Kind   { return Accessories }
func (a Accessory) Key() string   { return a.Code }
func (a Accessory) Label() string { return a.Name }

// Check refuses what can't be an accessory.
func (a Accessory) Check() error {
	var l fault.List
	checkItem(&l, a.Code, a.Name)
	if a.Unit == "" {
		l.Addf("unit", "say what one of it is: each, box of 250, tube")
	}
	if a.Cost.Sign() < 0 {
		l.Addf("cost", "a cost can't be negative")
	}
	if a.Weight.Sign() < 0 {
		l.Addf("weight", "a weight can't be negative")
	}
	return l.Err()
}

// Strip is what one coil is: the part of a line's make-up that decides which
// coils may serve it.
type Strip struct {
	Material string         `json:"material"`
	Gauge    string         `json:"gauge"`
	Width    measure.Length `json:"width"`
	Colour   string         `json:"colour"`
}

// String names the strip as coil tags do.
func (s Strip) String() string {
	return s.Material + " " + s.Gauge + " " + s.Width.Across().String() + " " + s.Colour
}

// Supply is how a strip can be bought: the cost that prices are made from, with
// its date, and how long it takes to come.
type Supply struct {
	Code     string         `json:"code"`
	Name     string         `json:"name"`
	Strip    Strip          `json:"strip"`
	Supplier string         `json:"supplier"`
	PerPound money.Rate     `json:"per_pound"` // price of the metal
	Freight  money.Rate     `json:"freight"`   // freight in, per pound
	Scrap    money.Rate     `json:"scrap"`     // what scrap brings, per pound
	CostDay  string         `json:"cost_day"`  // the day the price was given, 2006-01-02
	Loss     money.Rate     `json:"loss"`      // planned ends as a share of what is used
	Damaged  measure.Length `json:"damaged"`   // of a coil's ends that can't be sold, as a rule
	LeadDays int            `json:"lead_days"`
	CoilLb   int            `json:"coil_lb"` // usual coil weight
}

func (s Supply) Shelf() Kind   { return Supplies }
func (s Supply) Key() string   { return s.Code }
func (s Supply) Label() string { return s.Name }

// Check refuses what can't be a supply.
func (s Supply) Check() error {
	var l fault.List
	checkItem(&l, s.Code, s.Name)
	if s.Strip.Material == "" || s.Strip.Gauge == "" || s.Strip.Width <= 0 {
		l.Addf("strip", "give material, gauge and width")
	}
	if s.PerPound.Sign() <= 0 {
		l.Addf("per_pound", "give the price per pound")
	}
	if s.Freight.Sign() < 0 || s.Scrap.Sign() < 0 {
		l.Addf("freight", "freight and scrap value can't be negative")
	}
	if s.Damaged < 0 || s.Damaged > 0 && s.CoilLb <= 0 {
		l.Addf("damaged", "give a length, and the usual coil's weight to spread it over")
	}
	if s.LeadDays < 0 || s.LeadDays > 365 {
		l.Addf("lead_days", "give the lead time in days, 0 to 365")
	}
	return l.Err()
}

// Vehicle hauls deliveries.
type Vehicle struct {
	Code      string         `json:"code"`
	Name      string         `json:"name"`
	Deck      measure.Length `json:"deck"`       // usable deck length
	Width     measure.Length `json:"width"`      // deck width
	Payload   int            `json:"payload"`    // pounds
	FrontAxle measure.Length `json:"front_axle"` // hitch or front axle, behind the deck's front; negative is ahead
	RearAxle  measure.Length `json:"rear_axle"`
	FrontMax  int            `json:"front_max"` // pounds the load may add there
	RearMax   int            `json:"rear_max"`
	Blocked   bool           `json:"blocked"` // headboard holds the load from moving forward
	Straps    int            `json:"straps"`
	StrapWLL  int            `json:"strap_wll"` // working load limit of one strap, pounds

	// What follows may be left out: the load is then not held to it.
	DeckHeight measure.Length `json:"deck_height"` // above the ground
	Nose       measure.Length `json:"nose"`        // from the deck's front edge forward to the vehicle's front
	MaxStack   measure.Length `json:"max_stack"`   // highest stack above the deck
	MaxRear    measure.Length `json:"max_rear"`    // longest overhang past the deck
	HitchLeast money.Rate     `json:"hitch_least"` // share of a trailer's weight on its hitch, 0.10 is 10 %
	HitchMost  money.Rate     `json:"hitch_most"`
	FrontEmpty int            `json:"front_empty"` // pounds it carries there without a load; the hitch's share counts them
	RearEmpty  int            `json:"rear_empty"`
}

func (v Vehicle) Shelf() Kind   { return Vehicles }
func (v Vehicle) Key() string   { return v.Code }
func (v Vehicle) Label() string { return v.Name }

// Check refuses what can't be a vehicle.
func (v Vehicle) Check() error {
	var l fault.List
	checkItem(&l, v.Code, v.Name)
	if v.Deck <= 0 || v.Width <= 0 {
		l.Addf("deck", "give the deck's length and width")
	}
	if v.Payload <= 0 {
		l.Addf("payload", "give the payload in pounds")
	}
	if v.RearAxle <= v.FrontAxle {
		l.Addf("rear_axle", "the rear axle must stand behind the front axle or hitch")
	}
	for field, lb := range map[string]int{"front_max": v.FrontMax, "rear_max": v.RearMax} {
		if lb <= 0 {
			l.Addf(field, "give the pounds a load may put there")
		}
	}
	if v.Straps < 0 || v.StrapWLL < 0 || v.FrontEmpty < 0 || v.RearEmpty < 0 {
		l.Addf("straps", "straps and weights can't be negative")
	}
	if v.DeckHeight < 0 || v.Nose < 0 || v.MaxStack < 0 || v.MaxRear < 0 {
		l.Addf("deck_height", "heights and reaches can't be negative")
	}
	if v.HitchLeast.Sign() < 0 || v.HitchMost.Cmp(v.HitchLeast) < 0 || v.HitchMost.Cmp(money.Int(1)) > 0 {
		l.Addf("hitch_least", "the hitch's share runs from a smaller to a larger figure between 0 and 1")
	}
	slices.SortFunc(l, func(a, b *fault.Fault) int { return strings.Compare(a.Field, b.Field) })
	return l.Err()
}
