package demo

import (
	"context"

	"ribdesk/internal/desk"
	"ribdesk/internal/measure"
	"ribdesk/internal/metal"
	"ribdesk/internal/money"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
)

// span reads a length of the tables below.
func span(s string) measure.Length {
	r, err := measure.Read(s, measure.NoUnit)
	if err != nil {
		panic("demo: " + err.Error())
	}
	return r.Length
}

// put adds an item to its shelf as the owner does.
func put[T stock.Item](ctx context.Context, s *shop, items ...T) error {
	for _, it := range items {
		if _, err := desk.PutOnShelf(ctx, s.Desk, s.as(party.Owner), desk.Shelved[T]{Item: it}); err != nil {
			return err
		}
	}
	return nil
}

func (s *shop) addCatalogue(ctx context.Context) error {
	if err := put(ctx, s, materials...); err != nil {
		return err
	}
	if err := put(ctx, s, colours...); err != nil {
		return err
	}
	if err := put(ctx, s, profiles()...); err != nil {
		return err
	}
	trim, err := shapes()
	if err != nil {
		return err
	}
	if err := put(ctx, s, trim...); err != nil {
		return err
	}
	if err := put(ctx, s, s.accessories()...); err != nil {
		return err
	}
	return put(ctx, s, vehicles...)
}

var materials = []stock.Material{
	{Code: "AZ50", Name: "55% Al-Zn coated steel", Family: metal.AlZn, GaugeSystem: metal.GalvanizedFloor, Gauges: []string{"24 ga", "26 ga", "29 ga"},
		Coating: "AZ50", PaintMil: 1.6, BendRadius: measure.Inch / 32},
	{Code: "G90", Name: "Galvanized steel", Family: metal.Galvanized, GaugeSystem: metal.GalvanizedFloor, Gauges: []string{"24 ga", "26 ga", "29 ga"},
		Coating: "G90", BendRadius: measure.Inch / 32},
	{Code: "AL", Name: "Aluminum", Family: metal.Aluminium, GaugeSystem: metal.DecimalInch, Gauges: []string{"0.040 in", "0.032 in"},
		PaintMil: 1.6, BendRadius: measure.Sixteenth},
	{Code: "CU", Name: "Copper", Family: metal.Copper, GaugeSystem: metal.CopperOunce, Gauges: []string{"16 oz"}, BendRadius: measure.Inch / 32},
}

const (
	polyester = "silicone polyester"
	fluoro    = "fluoropolymer"
)

var colours = []stock.Colour{
	{Code: "MILL", Name: "Mill finish", Finish: "mill", Swatch: "#C3C8CC"},
	{Code: "BARE", Name: "Bare copper", Finish: "mill", Swatch: "#B87345"},
	{Code: "WHT", Name: "Barn white", Finish: polyester, Swatch: "#EFEFEA"},
	{Code: "TAN", Name: "Sandbank tan", Finish: polyester, Swatch: "#C9B48C"},
	{Code: "RED", Name: "Brick red", Finish: polyester, Swatch: "#7E2F2A"},
	{Code: "BLU", Name: "Slate blue", Finish: polyester, Swatch: "#44607A", Dark: true},
	{Code: "GRN", Name: "Spruce green", Finish: fluoro, Swatch: "#2E4D3C", Dark: true},
	{Code: "BRZ", Name: "Dark bronze", Finish: fluoro, Swatch: "#4A3F35", Dark: true},
	{Code: "CHAR", Name: "Charcoal", Finish: fluoro, Swatch: "#3B4045", Dark: true},
}

// Thicknesses that a set of rollers takes, with room for the measured metal.
var (
	seamRange   = []stock.GaugeRange{{Family: metal.AlZn, Min: span("0.018 in"), Max: span("0.030 in")}, {Family: metal.Galvanized, Min: span("0.018 in"), Max: span("0.030 in")}, {Family: metal.Aluminium, Min: span("0.030 in"), Max: span("0.042 in")}, {Family: metal.Copper, Min: span("0.020 in"), Max: span("0.028 in")}}
	ribRange    = []stock.GaugeRange{{Family: metal.AlZn, Min: span("0.013 in"), Max: span("0.024 in")}, {Family: metal.Galvanized, Min: span("0.013 in"), Max: span("0.024 in")}}
	gutterRange = []stock.GaugeRange{{Family: metal.Aluminium, Min: span("0.026 in"), Max: span("0.036 in")}, {Family: metal.Copper, Min: span("0.020 in"), Max: span("0.028 in")}}
)

// sizes gives a profile's drawn dimensions by name.
func sizes(pairs map[string]string, counts map[string]float64) metal.Values {
	v := metal.Values{Lengths: map[string]measure.Length{}, Numbers: counts}
	for name, l := range pairs {
		v.Lengths[name] = span(l)
	}
	return v
}

func profiles() []stock.Profile {
	return []stock.Profile{
		{Code: "SEAM16", Name: "Standing seam, snap, 16 in", Use: stock.Panel, RollerSet: "A", Outline: "snap-seam",
			Params:   sizes(map[string]string{"coverage": "16 in", "height": "1.5 in"}, map[string]float64{"pencil_ribs": 2}),
			Coverage: span("16 in"), Strip: span("20 in"), Ranges: seamRange, MinLength: span("3 ft"), MaxLength: span("60 ft"),
			Ribs: []string{"pencil", "plain"}, Flat: span("15 in"), SlopeMin: 3, HaulLength: span("44 ft")},
		{Code: "LOCK18", Name: "Standing seam, mechanical, 18 in", Use: stock.Panel, RollerSet: "B", Outline: "lock-seam",
			Params:   sizes(map[string]string{"coverage": "18 in", "height": "2 in"}, nil),
			Coverage: span("18 in"), Strip: span("23 in"), Ranges: seamRange, MinLength: span("4 ft"), MaxLength: span("60 ft"),
			Ribs: []string{"plain", "pencil"}, Flat: span("17 in"), SlopeMin: 1, HaulLength: span("44 ft")},
		{Code: "RIB36", Name: "Five-rib panel, 36 in", Use: stock.Panel, RollerSet: "C", Outline: "five-rib",
			Coverage: span("36 in"), Strip: span("41 in"), Ranges: ribRange, MinLength: span("2 ft"), MaxLength: span("48 ft"),
			SlopeMin: 3, HaulLength: span("44 ft")},
		{Code: "WAVE32", Name: "Corrugated panel, 32 in", Use: stock.Panel, RollerSet: "D", Outline: "corrugated",
			Coverage: span("32 in"), Strip: span("41 in"), Ranges: ribRange, MinLength: span("2 ft"), MaxLength: span("32 ft"),
			SlopeMin: 3, HaulLength: span("44 ft")},
		{Code: "BATTEN12", Name: "Board and batten, 12 in", Use: stock.Panel, RollerSet: "E", Outline: "board-batten",
			Coverage: span("12 in"), Strip: span("16 in"), Ranges: seamRange, MinLength: span("3 ft"), MaxLength: span("30 ft"),
			Flat: span("10 in"), HaulLength: span("44 ft")},
		{Code: "OGEE5", Name: "K-style gutter, 5 in", Use: stock.Gutter, RollerSet: "G5", Outline: "k-gutter",
			Strip: span("11.75 in"), Ranges: gutterRange, MinLength: span("3 ft"), MaxLength: span("70 ft"), HaulLength: span("44 ft")},
		{Code: "OGEE6", Name: "K-style gutter, 6 in", Use: stock.Gutter, RollerSet: "G6", Outline: "k-gutter",
			Params: sizes(map[string]string{"width": "6 in", "depth": "4.5 in", "bottom": "3.5 in"}, nil),
			Strip:  span("15 in"), Ranges: gutterRange, MinLength: span("3 ft"), MaxLength: span("70 ft"), HaulLength: span("44 ft")},
		{Code: "HALF6", Name: "Half-round gutter, 6 in", Use: stock.Gutter, RollerSet: "H6", Outline: "half-round-gutter",
			Strip: span("11.75 in"), Ranges: gutterRange, MinLength: span("3 ft"), MaxLength: span("60 ft"), HaulLength: span("44 ft")},
		{Code: "SPOUT34", Name: "Downspout, 3 x 4 in", Use: stock.Downspout, RollerSet: "S34", Outline: "downspout-rect",
			Strip: span("15 in"), Ranges: gutterRange, MinLength: span("1 ft"), MaxLength: span("20 ft"), HaulLength: span("44 ft")},
	}
}

// shapes gives the trade's standard trim in this shop's usual measures.
func shapes() ([]stock.Shape, error) {
	var out []stock.Shape
	for _, t := range []struct {
		code, shape string
		lengths     map[string]string
	}{
		{"RIDGE", "ridge-cap", nil}, {"HIP", "hip-cap", nil}, {"VALLEY", "valley-w", nil}, {"EAVE", "drip-edge", nil},
		{"RAKE", "rake", nil}, {"INCORNER", "inside-corner", nil}, {"OUTCORNER", "outside-corner", nil}, {"TRANSITION", "transition", nil},
		{"SIDEWALL", "sidewall", nil}, {"ENDWALL", "endwall", nil}, {"JCHANNEL", "j-channel", nil}, {"ZCLOSURE", "z-closure", nil},
		{"FASCIA", "fascia", map[string]string{"face": "7 in"}}, {"BASEDRIP", "base-drip", nil},
	} {
		kind, err := metal.ShapeOf(t.shape)
		if err != nil {
			return nil, err
		}
		section, err := kind.Section(sizes(t.lengths, nil))
		if err != nil {
			return nil, err
		}
		out = append(out, stock.Shape{Code: t.code, Name: kind.Name, Section: section})
	}
	return out, nil
}

func (s *shop) accessories() []stock.Accessory {
	day := s.start.AddDate(0, 0, -9).Format("2006-01-02")
	row := func(code, name, unit string, cents int64, pounds string, onHand int) stock.Accessory {
		return stock.Accessory{Code: code, Name: name, Unit: unit, Cost: money.Cents(cents, money.USD), Weight: money.Must(pounds), OnHand: onHand, CostDay: day}
	}
	return []stock.Accessory{
		row("CLIP-FIX", "Panel clip, fixed", "each", 38, "0.06", 4200),
		row("CLIP-FLOAT", "Panel clip, floating", "each", 92, "0.11", 1800),
		row("SCREW-PAN", "Pancake screw, 1 in", "box of 250", 1480, "2.5", 60),
		row("SCREW-HEX", "Hex washer screw, 1-1/2 in, painted", "box of 250", 2365, "3.9", 85),
		row("CLOSURE-IN", "Foam closure, inside, 36 in", "each", 96, "0.05", 600),
		row("CLOSURE-OUT", "Foam closure, outside, 36 in", "each", 104, "0.05", 540),
		row("SEALANT", "Sealant, gray", "tube", 685, "0.9", 140),
		row("BUTYL", "Butyl tape, 3/32 x 3/4 in x 40 ft", "roll", 812, "1.4", 110),
		row("SNOWGUARD", "Snow guard, clamp-on", "each", 1175, "0.55", 220),
		row("RIVET", "Pop rivet, 1/8 in, painted", "bag of 100", 940, "0.4", 75),
		row("HANGER", "Hidden gutter hanger", "each", 118, "0.16", 1500),
		row("ENDCAP-5", "End cap, 5 in K-style", "each", 142, "0.08", 180),
	}
}

var vehicles = []stock.Vehicle{
	{Code: "FLATBED", Name: "Flatbed truck", Deck: span("20 ft"), Width: span("8 ft"), Payload: 8_500, FrontAxle: -span("5 ft"), RearAxle: span("12 ft"),
		FrontMax: 2_600, RearMax: 7_500, Blocked: true, Straps: 10, StrapWLL: 1_667,
		DeckHeight: span("3 ft 8 in"), Nose: span("9 ft"), MaxStack: span("5 ft"), MaxRear: span("6 ft"), FrontEmpty: 4_800, RearEmpty: 5_200},
	{Code: "TRAILER", Name: "Gooseneck trailer", Deck: span("32 ft"), Width: span("8 ft 6 in"), Payload: 14_000, FrontAxle: -span("3 ft"), RearAxle: span("23 ft"),
		FrontMax: 4_200, RearMax: 12_000, Blocked: true, Straps: 14, StrapWLL: 3_333,
		DeckHeight: span("3 ft"), Nose: span("8 ft"), MaxStack: span("6 ft"), MaxRear: span("10 ft"), FrontEmpty: 1_500, RearEmpty: 5_000,
		HitchLeast: money.Must("0.15"), HitchMost: money.Must("0.30")},
}
