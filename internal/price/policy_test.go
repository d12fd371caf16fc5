package price_test

import (
	"strings"
	"testing"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/price"
)

func lineOf(t *testing.T, o price.Offer, kind price.LineKind) price.Line {
	t.Helper()
	for _, l := range o.Lines {
		if l.Kind == kind {
			return l
		}
	}
	t.Fatalf("no line of kind %s", kind)
	return price.Line{}
}

func TestMostExactTargetCounts(t *testing.T) {
	target := func(group, class, m string) price.Target {
		return price.Target{Group: group, Class: class, Goal: price.Margin, Value: money.Must(m)}
	}
	in := flat(t, "1")
	in.Order.Class = "trade"
	in.Shop.Targets = []price.Target{target("", "", "0"), target("", "trade", ".5"), target("panel", "", ".75"), target("panel", "trade", ".8"), target("panel", "walk-in", ".9")}
	for n, want := range map[int]string{1: "1", 2: "2", 3: "4", 4: "5", 5: "5"} {
		cut := in
		cut.Shop.Targets = in.Shop.Targets[:n]
		figure(t, "price of 1.00", quote(t, cut).Alone.Lines[0].Price, want)
	}
}

func TestPaymentCostIsEarnedBack(t *testing.T) {
	in := flat(t, "1")
	in.Shop.Policy.PaymentShare = money.Must(".03")
	in.Shop.Policy.PaymentDays, in.Shop.Policy.PaymentInterest = 73, money.Must(".10") // a fifth of a year: 2 %
	o := quote(t, in).Alone
	figure(t, "1 / (1 - .28 - .05)", o.Lines[0].Price, "1.49")
	figure(t, "being paid", o.Lines[0].Costs.Payment, "0.745")
	amount(t, "floor 10 / .95", o.Floor.Least, "10.53")
}

func TestSurchargesAndDiscount(t *testing.T) {
	in := flat(t, "1")
	in.Shop.Targets[0].Value = money.Rate{}
	in.Shop.Policy = price.Policy{Minimum: money.Int(20), Rush: money.Must(".15")}
	in.Order.Discount, in.Order.Rush = money.Must(".10"), true
	o := quote(t, in).Alone
	amount(t, "discount", lineOf(t, o, price.DiscountLine).Amount, "-1.00")
	amount(t, "minimum", lineOf(t, o, price.MinimumLine).Amount, "11.00")
	amount(t, "rush", lineOf(t, o, price.RushLine).Amount, "3.00")
	amount(t, "goods", o.Goods, "23.00")
	if len(o.Floor.Items) != 1 { // the item itself is sold at 9.00 and costs 10.00
		t.Errorf("floor %+v", o.Floor)
	}
	if err := o.Release(); !fault.Is(err, fault.Conflict) {
		t.Errorf("released: %v", err)
	}
}

func TestDelivery(t *testing.T) {
	tariff := price.Tariff{Bands: []price.Band{{UpTo: money.Int(10), Charge: money.Int(40)}, {UpTo: money.Int(25), Charge: money.Int(60)}}, PerMile: money.Int(2),
		Weights: []price.WeightStep{{Over: money.Int(50), Add: money.Int(5)}, {Over: money.Int(100), Add: money.Int(9)}},
		Lengths: []price.LengthStep{{Over: feet(20), Add: money.Int(40)}}}
	cases := []struct {
		miles  string
		pieces int
		ft     int
		want   string
	}{
		{"10", 1, 10, "40.00"}, {"10.1", 1, 10, "60.00"}, {"25", 1, 10, "60.00"}, {"30", 1, 10, "70.00"},
		{"10", 6, 10, "45.00"}, {"10", 11, 10, "49.00"}, {"10", 1, 20, "40.00"}, {"10", 1, 21, "80.00"},
	}
	for _, c := range cases {
		in := flat(t, "1")
		in.Shop.Delivery = &tariff
		in.Order.Delivery = &price.Trip{Miles: money.Must(c.miles)}
		in.Order.Items[0].Formed.Cuts = []price.Cut{{Pieces: c.pieces, Length: feet(c.ft)}}
		amount(t, c.miles, lineOf(t, quote(t, in).Alone, price.HaulLine).Amount, c.want)
	}
}

func TestStockIsCostedAsItWasBought(t *testing.T) {
	base := price.Stock{ID: "s", Label: "s", Measured: money.Int(2), Width: 20 * measure.Inch, Weight: money.Int(2000)}
	cases := []struct {
		name  string
		spoil func(s *price.Stock)
		want  string
	}{
		{"per pound", func(s *price.Stock) { s.Price, s.Per = money.Must("1.10"), price.PerPound }, "2.2"},
		{"per foot", func(s *price.Stock) { s.Price, s.Per = money.Must("2.20"), price.PerFoot }, "2.2"},
		{"per coil of 1,000 ft", func(s *price.Stock) { s.Price, s.Per = money.Int(2200), price.PerCoil }, "2.2"},
		{"freight per coil", func(s *price.Stock) {
			s.Price, s.Per, s.Freight, s.FreightPer = money.Int(1), price.PerPound, money.Int(200), price.PerCoil
		}, "2.2"},
		{"measured feet", func(s *price.Stock) { s.Price, s.Per, s.Feet = money.Int(2200), price.PerCoil, feet(1100) }, "2"},
		{"a remnant written down by half", func(s *price.Stock) { s.Price, s.Per, s.WriteDown = money.Int(4), price.PerFoot, money.Must(".5") }, "2"},
	}
	for _, c := range cases {
		s := base
		c.spoil(&s)
		strip, err := s.Strip()
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		figure(t, c.name, strip.Cost.Shorten(6), c.want)
	}
}

// A strip slit from a wider coil costs its part of the width.
func TestSlitStripAndKerf(t *testing.T) {
	in := flat(t, "2")
	in.Shop.Targets[0].Value = money.Rate{}
	f := in.Order.Items[0].Formed
	f.Strip = 5 * measure.Inch
	figure(t, "a quarter of the width", quote(t, in).Alone.Lines[0].Price, "0.50")
	f.Strip, f.Kerf = 0, 3*measure.Inch
	amount(t, "10 ft and a 3 in kerf", quote(t, in).Alone.Goods, "20.50")
}

func TestMachineByLifeHours(t *testing.T) {
	c := price.Center{ID: "m", Machine: price.Machine{Sheet: &price.HourSheet{Purchase: money.Int(50000), Residual: money.Int(10000), Interest: money.Must(".06"), LifeHours: money.Int(8000),
		AnnualHours: money.Int(900), RepairLife: money.Must(".8"), Power: money.Int(10), PowerEach: money.Must(".12"), Insurance: money.Int(450)}}}
	h, err := c.Worksheet()
	if err != nil {
		t.Fatal(err)
	}
	// By hand: 40,000/8,000 + (.06 x 30,000 + 450)/900 + 50,000 x .8/8,000 + 1.20.
	figure(t, "hour", h.Rate, "13.70")
	figure(t, "out of pocket", h.Pocket, "6.20")
	c.Crew, c.PaidIdle = []price.Wage{{Label: "operator", Hourly: money.Int(20), Count: 2}}, true
	if h, err = c.Worksheet(); err != nil {
		t.Fatal(err)
	}
	figure(t, "with a crew that is paid idle", h.Rate, "53.70")
	figure(t, "out of pocket", h.Pocket, "6.20")
}

func TestWarnings(t *testing.T) {
	in := example(t)
	in.Shop.Stock[0].Dated = "2026-08-27" // 90 days
	if ws := quote(t, in).Warnings; len(ws) != 0 {
		t.Errorf("90 days are warned of: %v", ws)
	}
	in.Shop.Stock[0].Dated = "2026-08-26"
	in.Shop.Targets = append(in.Shop.Targets, price.Target{Group: "trim", Goal: price.Markup, Value: money.Must(".28")}, price.Target{Group: "gutter", Goal: price.Margin, Value: money.Must(".6")})
	want := map[string]string{
		"shop.targets.2":     "a margin of 21.88 %",
		"shop.targets.3":     "a markup of 150.00 %",
		"shop.stock.1.dated": "91 days old",
	}
	ws := quote(t, in).Warnings
	if len(ws) != len(want) {
		t.Errorf("got %v", ws)
	}
	for _, w := range ws {
		if !strings.Contains(w.Text, want[w.Field]) || want[w.Field] == "" {
			t.Errorf("%s: %s", w.Field, w.Text)
		}
	}
}

func TestWhatIf(t *testing.T) {
	in := example(t)
	base := quote(t, in)
	same(t, base, mustTry(t, in, price.Changes{Coil: rate("1"), Hour: rate("1")}))
	if dear := mustTry(t, in, price.Changes{Coil: rate("1.1")}); !base.Alone.Total.Less(dear.Alone.Total) {
		t.Error("dearer coil doesn't raise the price")
	}
	if fat := mustTry(t, in, price.Changes{Margin: money.Must(".02")}); fat.Shared.Margin.Fixed(2) != "0.30" {
		t.Errorf("two points more give %s", fat.Shared.Margin)
	}
	if in.WhatIf != nil {
		t.Error("the input was changed")
	}
	effects, err := price.Sensitivity(in)
	if err != nil || len(effects) != 6 {
		t.Fatalf("%v %v", effects, err)
	}
	if effects[0].Name != "coil" || effects[0].Up.Sign() <= 0 || effects[0].Down.Sign() >= 0 {
		t.Errorf("metal isn't the largest: %+v", effects[0])
	}
}

func TestReprice(t *testing.T) {
	good, bad := example(t), example(t)
	bad.Order.Items = nil
	ins := make([]price.Input, 50)
	for i := range ins {
		ins[i] = good
	}
	ins[7] = bad
	ch := price.Changes{Hour: rate("1.2")}
	want := mustTry(t, good, ch)
	for i, o := range price.Reprice(ins, ch) {
		if i == 7 {
			if !fault.Is(o.Err, fault.Invalid) {
				t.Errorf("an empty order is priced: %+v", o)
			}
			continue
		}
		if o.Err != nil || o.Alone != want.Alone.Subtotal || o.Shared != want.Shared.Subtotal || o.Floor != want.Alone.Floor.Least || o.Below {
			t.Fatalf("%d: %+v", i, o)
		}
	}
	if len(price.Reprice(nil, ch)) != 0 {
		t.Error("nothing comes to something")
	}
}

func mustTry(t *testing.T, in price.Input, ch price.Changes) price.Quote {
	t.Helper()
	q, err := price.WhatIf(in, ch)
	if err != nil {
		t.Fatal(err)
	}
	return q
}

func TestBreakEven(t *testing.T) {
	b, err := price.BreakEvenFor(panelsOnly(example(t)), "former")
	if err != nil {
		t.Fatal(err)
	}
	// Ownership 13,849.42 a year and overhead 30,000.00, by the month.
	figure(t, "fixed a month", b.FixedMonth, "3654.12")
	figure(t, "price", b.Price, "3.14")
	figure(t, "variable", b.Variable, "2.1606")
	apart := panelsOnly(example(t))
	apart.Shop.Policy.SetupLine = true
	if same, err := price.BreakEvenFor(apart, "former"); err != nil || same.Price.Cmp(b.Price) != 0 || same.Variable.Cmp(b.Variable) != 0 {
		t.Errorf("with set-ups on lines of their own %+v, %v", same, err)
	}
	p, err := b.Point()
	if err != nil {
		t.Fatal(err)
	}
	figure(t, "feet a month", p.Feet, "3731")
	b.OwnFeet, b.OwnSaving = money.Int(2000), money.Int(1)
	less, err := b.Point()
	if err != nil || less.Feet.Cmp(p.Feet) >= 0 {
		t.Errorf("own jobs don't help: %v %v", less, err)
	}
	b.OwnFeet = money.Int(4000)
	if none, err := b.Point(); err != nil || !none.Feet.IsZero() {
		t.Errorf("own jobs pay for it all: %v %v", none, err)
	}
	b.Variable = b.Price
	if _, err := b.Point(); !fault.Is(err, fault.Invalid) {
		t.Errorf("sold at cost: %v", err)
	}
	if _, err := price.BreakEvenFor(example(t), "brake"); !fault.Is(err, fault.Invalid) {
		t.Errorf("no worksheet: %v", err)
	}
}

func TestMargins(t *testing.T) {
	for _, m := range []string{"1", "1.2", "-.1"} {
		if _, err := price.MarkupOf(money.Must(m)); !fault.Is(err, fault.Invalid) {
			t.Errorf("margin %s: %v", m, err)
		}
	}
	if _, err := price.MarginOf(money.Int(-1)); !fault.Is(err, fault.Invalid) {
		t.Error("a negative markup passes")
	}
	if _, err := price.CapitalRecovery(money.Must(".08"), 0); !fault.Is(err, fault.Invalid) {
		t.Error("no years pass")
	}
}

func TestLineWaterfallEndsAtItsAmount(t *testing.T) {
	for _, l := range quote(t, example(t)).Shared.Lines {
		steps := l.Waterfall()
		last := steps[len(steps)-1]
		if !last.Total || last.Value.Cmp(l.Amount.Rate()) != 0 {
			t.Errorf("%s: %+v", l.Label, last)
		}
	}
}
