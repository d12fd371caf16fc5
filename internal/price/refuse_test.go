package price_test

import (
	"strings"
	"testing"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/price"
)

// TestRefusals spoils one field of the worked example at a time and wants the
// fault at that field.
func TestRefusals(t *testing.T) {
	neg, million := money.Int(-1), money.Int(10_000_001)
	cases := map[string]func(in *price.Input){
		"rules":                func(in *price.Input) { in.Rules = price.Rules + 1 },
		"shop.targets.1.value": func(in *price.Input) { in.Shop.Targets[0].Value = money.Int(1) },
		"shop.targets.1.goal":  func(in *price.Input) { in.Shop.Targets[0].Goal = "" },
		"shop.targets":         func(in *price.Input) { in.Shop.Targets[0].Group = "panel" },
		"shop.targets.1.steps.1.value": func(in *price.Input) {
			in.Shop.Targets[0].Steps = []price.Step{{Beyond: money.Int(5), Value: money.Must(".5")}}
		},
		"shop.targets.1.steps.2.beyond": func(in *price.Input) {
			in.Shop.Targets[0].Steps = []price.Step{{Beyond: money.Int(5)}, {Beyond: money.Int(5)}}
		},
		"shop.centers.1.machine.sheet.years": func(in *price.Input) { in.Shop.Centers[0].Machine.Sheet.Years = 0 },
		"shop.centers.1.machine.sheet.annual_hours": func(in *price.Input) {
			in.Shop.Centers[0].Machine.Sheet.AnnualHours = money.Rate{}
		},
		"shop.centers.1.machine.sheet.residual": func(in *price.Input) { in.Shop.Centers[0].Machine.Sheet.Residual = money.Int(98001) },
		"shop.centers.2.machine.given.pocket":   func(in *price.Input) { in.Shop.Centers[1].Machine.Given.Pocket = money.Int(13) },
		"shop.centers.2.id":                     func(in *price.Input) { in.Shop.Centers[1].ID = "former" },
		"shop.centers.1.overhead":               func(in *price.Input) { in.Shop.Centers[0].Overhead = neg },
		"shop.stock.1.width":                    func(in *price.Input) { in.Shop.Stock[0].Width = 0 },
		"shop.stock.1.price":                    func(in *price.Input) { in.Shop.Stock[0].Price = million },
		"shop.stock.1.damaged":                  func(in *price.Input) { in.Shop.Stock[0].Damaged = feet(2428) },
		"shop.stock.1.thickness": func(in *price.Input) {
			in.Shop.Stock[0] = price.Stock{ID: "coil-7", Width: measure.Foot, Per: price.PerFoot}
		},
		"shop.stock.1.scrap": func(in *price.Input) { in.Shop.Stock[0].Scrap = money.Int(2) },
		"shop.stock.1.per":   func(in *price.Input) { in.Shop.Stock[0].Per = "mile" },
		"shop.stock.1.weight": func(in *price.Input) {
			in.Shop.Stock[0].Per, in.Shop.Stock[0].Weight, in.Shop.Stock[0].Damaged = price.PerCoil, money.Rate{}, 0
		},
		"shop.stock.1.dated":            func(in *price.Input) { in.Shop.Stock[0].Dated = "today" },
		"shop.policy.unit_places":       func(in *price.Input) { in.Shop.Policy.UnitPlaces = 1 },
		"shop.policy.deposit":           func(in *price.Input) { in.Shop.Policy.Deposit = money.Int(2) },
		"shop.policy.on_cancel":         func(in *price.Input) { in.Shop.Policy.OnCancel = "weep" },
		"shop.onsite.mph":               func(in *price.Input) { in.Shop.Onsite.Mph = money.Rate{} },
		"shop.tax.basis":                func(in *price.Input) { in.Shop.Tax.Basis = "whim" },
		"shop.tax.jurisdictions.1.rate": func(in *price.Input) { in.Shop.Tax.Jurisdictions[0].Rate = money.Int(7) },
		"shop.delivery.bands.2.up_to": func(in *price.Input) {
			in.Shop.Delivery.Bands = []price.Band{{UpTo: money.Int(9)}, {UpTo: money.Int(9)}}
		},
		"order.day":                          func(in *price.Input) { in.Order.Day = "" },
		"order.items":                        func(in *price.Input) { in.Order.Items = nil },
		"order.items.2.id":                   func(in *price.Input) { in.Order.Items[1].ID = "1" },
		"order.items.1":                      func(in *price.Input) { in.Order.Items[0].Bought = &price.Bought{Pieces: 1} },
		"order.items.1.unit_price":           func(in *price.Input) { in.Order.Items[0].Unit = &neg },
		"order.items.1.formed.speed":         func(in *price.Input) { in.Order.Items[0].Formed.Speed = money.Rate{} },
		"order.items.1.formed.center":        func(in *price.Input) { in.Order.Items[0].Formed.Center = "?" },
		"order.items.1.formed.stock":         func(in *price.Input) { in.Order.Items[0].Formed.Stock = "?" },
		"order.items.1.formed.strip":         func(in *price.Input) { in.Order.Items[0].Formed.Strip = 21 * measure.Inch },
		"order.items.1.formed.setups.1":      func(in *price.Input) { in.Order.Items[0].Formed.Setups[0] = "?" },
		"order.items.1.formed.cuts.2.pieces": func(in *price.Input) { in.Order.Items[0].Formed.Cuts[1].Pieces = 0 },
		"order.items.1.formed.cuts.1.pieces": func(in *price.Input) { in.Order.Items[0].Formed.Cuts[0].Pieces = 1_000_001 },
		"order.items.1.formed.cuts.3.length": func(in *price.Input) { in.Order.Items[0].Formed.Cuts[2].Length = 0 },
		"order.items.2.trim.girth":           func(in *price.Input) { in.Order.Items[1].Trim.Girth = 49 * measure.Inch },
		"order.items.2.trim.sheets":          func(in *price.Input) { in.Order.Items[1].Trim.Sheets = 2 },
		"order.setups.1":                     func(in *price.Input) { in.Order.Items[0].Formed.Setups = []string{"profile"} },
		"order.setups.2.center":              func(in *price.Input) { in.Order.Setups[1].Center = "brake" },
		"order.sharing.setups.1.setup":       func(in *price.Input) { in.Order.Sharing.Setups[0].Setup = "?" },
		"order.sharing.setups.1.with.1.minutes": func(in *price.Input) {
			in.Order.Sharing.Setups[0].With[0].Minutes = neg
		},
		"order.discount":            func(in *price.Input) { in.Order.Discount = money.Int(2) },
		"order.delivery.miles":      func(in *price.Input) { in.Order.Delivery.Miles = neg },
		"order.delivery":            func(in *price.Input) { in.Shop.Delivery = nil },
		"order.onsite":              func(in *price.Input) { in.Shop.Onsite.MinimumFeet = feet(1064); in.Order.Onsite = &price.Trip{} },
		"order.certificate.expires": func(in *price.Input) { in.Order.Certificate = &price.Certificate{Number: "1", State: "XX"} },
		"order.below_floor":         func(in *price.Input) { in.Order.BelowFloor = &price.Override{By: "owner"} },
		"what_if.coil":              func(in *price.Input) { in.WhatIf = &price.Changes{Coil: &neg} },
		"what_if.margin":            func(in *price.Input) { in.WhatIf = &price.Changes{Margin: money.Int(-1)} },
	}
	for field, spoil := range cases {
		in := example(t)
		spoil(&in)
		_, err := price.Price(in)
		if !fault.Is(err, fault.Invalid) {
			t.Errorf("%s isn't refused: %v", field, err)
			continue
		}
		if got := fault.All(err)[0]; got.Field != field {
			t.Errorf("%s: the fault stands at %q: %s", field, got.Field, got.Sentence)
		}
	}
}

// At the limits there is a price or a clear refusal, never an overflow.
func TestLimits(t *testing.T) {
	in := flat(t, "1")
	cut := &in.Order.Items[0].Formed.Cuts[0]
	cut.Pieces, cut.Length = price.MaxPieces, measure.Foot
	if q, err := price.Price(in); err != nil || q.Alone.Goods.String() != "1,390,000.00" {
		t.Errorf("a million pieces: %s, %v", q.Alone.Goods, err)
	}
	cut.Length = feet(2)
	if _, err := price.Price(in); !fault.Is(err, fault.Invalid) || !strings.Contains(err.Error(), "1,000,000 ft") {
		t.Errorf("two million feet: %v", err)
	}
	in.Order.Items = []price.Item{{ID: "1", Label: "x", Unit: rate("10000000"), Bought: &price.Bought{Pieces: 1}}}
	if q, err := price.Price(in); err != nil || q.Alone.Total.Cents() != price.MaxCents {
		t.Errorf("10^9 cents: %s, %v", q.Alone.Total, err)
	}
	in.Order.Items[0].Bought.Pieces = 2
	if _, err := price.Price(in); !fault.Is(err, fault.Invalid) || !strings.Contains(err.Error(), "check lengths and quantities") {
		t.Errorf("2 x 10^9 cents: %v", err)
	}
	in.Order.Items[0].Bought.Pieces = price.MaxPieces
	in.Order.Items[0].Unit = nil
	in.Order.Items[0].Bought.Each = money.Int(10_000_000)
	if _, err := price.Price(in); !fault.Is(err, fault.Invalid) {
		t.Errorf("10^6 pieces of 10^9 cents: %v", err)
	}
}

func TestDecodeNamesThePlace(t *testing.T) {
	cases := []struct{ text, field, says string }{
		{`{"rules": 1, "shop": {}, "ordr": {}}`, "ordr", "no such field"},
		{`{"order": {"items": [{"id": "1"}, {"formed": {"cuts": [{"lenght": "2 ft"}]}}]}}`, "order.items.2.formed.cuts.1.lenght", "no such field"},
		{`{"order": {"items": [{"formed": {"cuts": [{"length": "2 flet"}]}}]}}`, "order.items.1.formed.cuts.1.length", ""},
		{`{"order": {"items": [{"formed": {"cuts": [{"length": 22}]}}]}}`, "order.items.1.formed.cuts.1.length", "text with its unit"},
		{`{"order": {"items": [{"formed": {"speed": "fast"}}]}}`, "order.items.1.formed.speed", "isn't a number"},
		{`{"order": {"items": [{"formed": {"speed": 1e3}}]}}`, "order.items.1.formed.speed", "isn't a number"},
		{`{"order": {"bundles": "two"}}`, "order.bundles", "whole number"},
		{`{"order": {"rush": 1}}`, "order.rush", "true or false"},
		{`{"order": {"items": {}}}`, "order.items", "list"},
		{`{"order": []}`, "order", "object"},
		{`{"order": {"day": 5}}`, "order.day", "text in quotes"},
		{"{\n\"rules\": 1,\n}", "", "line 3"},
		{`{} {}`, "", "JSON"},
		{``, "", "JSON"},
	}
	for _, c := range cases {
		_, err := price.Decode(strings.NewReader(c.text))
		if !fault.Is(err, fault.Invalid) {
			t.Errorf("%s: %v", c.text, err)
			continue
		}
		if f := fault.All(err)[0]; f.Field != c.field || !strings.Contains(f.Sentence, c.says) {
			t.Errorf("%s: at %q: %s", c.text, f.Field, f.Sentence)
		}
	}
}
