package stock_test

import (
	"testing"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/stock"
)

func flatbed() stock.Vehicle {
	return stock.Vehicle{
		Code: "FLAT", Name: "Flatbed", Deck: 20 * measure.Foot, Width: 8 * measure.Foot, Payload: 8000,
		FrontAxle: -5 * measure.Foot, RearAxle: 12 * measure.Foot, FrontMax: 2600, RearMax: 7500, Straps: 8, StrapWLL: 1667,
	}
}

func TestVehicleCheck(t *testing.T) {
	if err := flatbed().Check(); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name, field string
		spoil       func(*stock.Vehicle)
	}{
		{"no front limit", "front_max", func(v *stock.Vehicle) { v.FrontMax = 0 }},
		{"negative rear limit", "rear_max", func(v *stock.Vehicle) { v.RearMax = -1 }},
		{"rear axle ahead", "rear_axle", func(v *stock.Vehicle) { v.RearAxle = v.FrontAxle }},
		{"no deck", "deck", func(v *stock.Vehicle) { v.Deck = 0 }},
		{"no payload", "payload", func(v *stock.Vehicle) { v.Payload = 0 }},
		{"negative height", "deck_height", func(v *stock.Vehicle) { v.DeckHeight = -1 }},
		{"negative straps", "straps", func(v *stock.Vehicle) { v.Straps = -1 }},
		{"hitch range upside down", "hitch_least", func(v *stock.Vehicle) { v.HitchLeast, v.HitchMost = money.Must("0.3"), money.Must("0.1") }},
		{"hitch above all", "hitch_least", func(v *stock.Vehicle) { v.HitchMost = money.Must("1.2") }},
	} {
		t.Run(c.name, func(t *testing.T) {
			v := flatbed()
			c.spoil(&v)
			found := fault.All(v.Check())
			if len(found) != 1 || found[0].Field != c.field {
				t.Errorf("got %v, want one fault at %s", found, c.field)
			}
		})
	}
}
