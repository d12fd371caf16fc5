package desk_test

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/metal"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
)

// What can't be made is refused at its place, with the nearest that can.
func TestAskRefuses(t *testing.T) {
	w := newWorks(t)
	for name, c := range map[string]struct {
		line        order.Line
		field, says string
	}{
		"too long":            {panels(4, 61), "lines.1.cuts.0.length", "60'"},
		"too short":           {panels(4, 2), "lines.1.cuts.0.length", "3'"},
		"gauge too light":     {with(panels(4, 10), func(l *order.Line) { l.Gauge = "29 ga" }), "lines.1.gauge", "26 ga"},
		"gauge too heavy":     {order.Line{Kind: order.Formed, Code: "RIB36", Material: "G90", Gauge: "24", Colour: "MILL", Cuts: panels(1, 10).Cuts}, "", "26 ga"},
		"gauge not handled":   {with(panels(4, 10), func(l *order.Line) { l.Gauge = "22" }), "lines.1.gauge", "24 ga, 26 ga, 29 ga"},
		"gauge no gauge":      {with(panels(4, 10), func(l *order.Line) { l.Gauge = "heavy" }), "lines.1.gauge", "heavy"},
		"colour not stocked":  {with(panels(4, 10), func(l *order.Line) { l.Colour = "RED" }), "lines.1.colour", "Charcoal"},
		"colour unknown":      {with(panels(4, 10), func(l *order.Line) { l.Colour = "PINK" }), "lines.1.colour", "list"},
		"profile unknown":     {with(panels(4, 10), func(l *order.Line) { l.Code = "NOPE" }), "lines.1.code", "profile of the list"},
		"metal not formed":    {order.Line{Kind: order.Formed, Code: "RIB36", Material: "CU", Gauge: "16 oz", Colour: "BARE", Cuts: panels(1, 10).Cuts}, "lines.1.material", "isn't formed from copper"},
		"rib unknown":         {with(panels(4, 10), func(l *order.Line) { l.Rib = "wavy" }), "lines.1.rib", "pencil, plain"},
		"trim too long":       {with(ridge(1), func(l *order.Line) { l.Cuts[0].Length = 12 * measure.Foot }), "lines.1.cuts.0.length", "10' 6\""},
		"trim unknown":        {with(ridge(1), func(l *order.Line) { l.Code = "NOPE" }), "lines.1.code", "trim shape of the list"},
		"no pieces":           {with(panels(0, 10), func(*order.Line) {}), "lines.1.cuts.0.qty", "1 to"},
		"no cut list":         {with(panels(1, 10), func(l *order.Line) { l.Cuts = nil }), "lines.1.cuts", "at least one length"},
		"accessory unknown":   {order.Line{Kind: order.Accessory, Code: "NOPE", Count: 1}, "lines.1.code", "accessory of the list"},
		"no kind":             {order.Line{Code: "SEAM16", Cuts: panels(1, 10).Cuts}, "lines.1.kind", "panel, trim or accessory"},
		"negative length":     {with(panels(1, 10), func(l *order.Line) { l.Cuts[0].Length = -measure.Foot }), "lines.1.cuts.0.length", "more than 0"},
		"girth too wide":      {with(ridge(1), func(l *order.Line) { l.Section = wide() }), "lines.1.section", "girth"},
		"nothing but letters": {order.Line{Kind: order.Formed, Code: strings.Repeat("x", 5000), Material: "AZ50", Gauge: "24 ga", Colour: "CHAR", Cuts: panels(1, 10).Cuts}, "lines.1.code", "list"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := w.Ask(t.Context(), clerk, asked(panels(2, 12), c.line))
			if !fault.Is(err, fault.Invalid) {
				t.Fatalf("got %v", err)
			}
			f := fault.All(err)[0]
			if c.field != "" && f.Field != c.field || !strings.Contains(f.Sentence, c.says) {
				t.Errorf("at %q: %s\nwant at %q: ...%s...", f.Field, f.Sentence, c.field, c.says)
			}
		})
	}
}

func with(l order.Line, change func(*order.Line)) order.Line {
	l.Cuts = append([]order.CutItem(nil), l.Cuts...)
	change(&l)
	return l
}

// wide is a section whose blank is wider than any coil for the folder.
func wide() *metal.Section {
	return &metal.Section{Legs: []metal.Leg{{Length: 30 * measure.Inch}, {Length: 30 * measure.Inch, Turn: 90}}}
}

// Every line's faults are told at once, each at its line.
func TestAskTellsAllFaults(t *testing.T) {
	w := newWorks(t)
	_, err := w.Ask(t.Context(), clerk, asked(panels(4, 61), with(panels(1, 10), func(l *order.Line) { l.Colour = "PINK" }), panels(1, 1)))
	fields := map[string]bool{}
	for _, f := range fault.All(err) {
		fields[f.Field] = true
	}
	for _, want := range []string{"lines.0.cuts.0.length", "lines.1.colour", "lines.2.cuts.0.length"} {
		if !fields[want] {
			t.Errorf("nothing said at %s: %v", want, err)
		}
	}
}

// Four tubes at 6.85 with 45 % markup and 20 days' credit at 8 % a year:
// 6.85 x 1.45 / (1 - .08 x 20/365) = 9.9762; 4 x 9.98 = 39.92, below the
// smallest order of 85.00. Tax 6 % and 1.25 % of 85.00: 5.10 and 1.06.
func TestAskAccessoriesByHand(t *testing.T) {
	w := newWorks(t)
	o := asked(tubes(4))
	o.CustomerID = rivalFirm
	a, err := w.Ask(t.Context(), clerk, o)
	if err != nil {
		t.Fatal(err)
	}
	got := a.Order.Alone
	for what, pair := range map[string][2]money.Amount{
		"unit": {a.Order.Lines[0].Unit, usd(998)}, "goods": {got.Goods, usd(3992)}, "minimum": {got.Minimum, usd(4508)},
		"tax": {got.Tax, usd(616)}, "total": {got.Total, usd(9116)}, "deposit": {got.Deposit, usd(2735)},
	} {
		if pair[0].Cmp(pair[1]) != 0 {
			t.Errorf("%s is %s, by hand %s", what, pair[0], pair[1])
		}
	}
	if !a.Cheapest.Found || a.Order.Promise.IsZero() {
		t.Error("no promise for what stands on the shelf")
	}
}

func usd(cents int64) money.Amount { return money.Cents(cents, money.USD) }

// The unit price of 20 panels of 10 ft, worked from the formulas of the price
// build-up (strip, run minutes, machine hour by capital recovery, overhead,
// margin) with the furnished shop's figures, in floats.
func TestAskPanelsByHand(t *testing.T) {
	w := newWorks(t)
	a, err := w.Ask(t.Context(), clerk, asked(panels(20, 10)))
	if err != nil {
		t.Fatal(err)
	}
	perFoot := metal.Sheet{Family: metal.AlZn, Thickness: 236 * measure.Inch / 10_000, Coating: "AZ50", PaintMil: 1.6}.PoundsPerFoot(20 * measure.Inch)
	raw := (1.21 + .05) * perFoot
	strip := raw + .015*(raw-.15*perFoot)
	run := (200.0/70 + 20*(4+12)/60.0) * 1.1 / 60 // hours
	i, n := .085, 10.0
	recovery := i * math.Pow(1+i, n) / (math.Pow(1+i, n) - 1)
	machine := ((86000-26000)*recovery+26000*i+.02*(86000+26000)/2+420*12/2.0)/620 + .03*86000/620 + 1.1*3.55*1.15
	labor := (27 + 19.50) * 1.36
	unit := (strip*200 + run*(machine+labor+38)) / 200 / (1 - .30 - .08*20/365)
	if got := float64(a.Order.Lines[0].Unit.Cents()) / 100; math.Abs(got-unit) > .0051 {
		t.Errorf("%.2f a foot, by hand %.4f", got, unit)
	}
	if l := a.Order.Lines[0]; l.Amount.Cents() != 200*l.Unit.Cents() || !l.PerFoot || l.Minutes != 10 {
		t.Errorf("line %+v", l)
	}
}

// A gauge may be written as people do.
func TestAskReadsGauges(t *testing.T) {
	w := newWorks(t)
	for _, gauge := range []string{"24", "24ga", "24 gauge", " 24 GA "} {
		a, err := w.Ask(t.Context(), clerk, asked(with(panels(2, 10), func(l *order.Line) { l.Gauge = gauge })))
		if err != nil || a.Order.Lines[0].Gauge != "24 ga" {
			t.Errorf("%q: %v", gauge, err)
		}
	}
}

// A visitor can't ask in a customer's name, and a customer not in another's.
func TestAskForWhom(t *testing.T) {
	w := newWorks(t)
	walkIn := asked(panels(20, 10))
	walkIn.CustomerID = 0
	plain, err := w.Ask(t.Context(), visitor, walkIn)
	if err != nil {
		t.Fatal(err)
	}
	stolen, err := w.Ask(t.Context(), visitor, asked(panels(20, 10)))
	if err != nil || stolen.Order.CustomerID != 0 || stolen.Order.Alone != plain.Order.Alone || stolen.Order.Exempt != "" {
		t.Errorf("a visitor got %+v, %v", stolen.Order.Alone, err)
	}
	own, err := w.Ask(t.Context(), rival, asked(panels(20, 10)))
	if err != nil || own.Order.CustomerID != rivalFirm || own.Order.Exempt != "" || own.Order.Alone.Tax.IsZero() {
		t.Errorf("the rival got %+v of customer %d, %v", own.Order.Alone, own.Order.CustomerID, err)
	}
	exempt, err := w.Ask(t.Context(), buyer, asked(panels(20, 10)))
	if err != nil || exempt.Order.Exempt != "ZE-RS-100231" || !exempt.Order.Alone.Tax.IsZero() {
		t.Errorf("with a certificate: %+v, %v", exempt.Order.Alone, err)
	}
}

// A second order of the same make rides along: its shared price is lower, and
// it needs no more changeover.
func TestAskSharing(t *testing.T) {
	w := newWorks(t)
	bronze := func(l *order.Line) { l.Colour = "BRZ" }
	w.accept(t, w.quote(t, w.take(t, asked(with(panels(20, 12), bronze)))))
	w.plan(t)
	a, err := w.Ask(t.Context(), clerk, asked(with(panels(10, 9), bronze)))
	if err != nil {
		t.Fatal(err)
	}
	if a.Quote.Shared == nil || !a.Order.Shared.Total.Less(a.Order.Alone.Total) {
		t.Fatalf("alone %s, shared %s", a.Order.Alone.Total, a.Order.Shared.Total)
	}
	if a.Cheapest.ExtraMinutes != 0 {
		t.Errorf("riding along takes %d minutes of changeover", a.Cheapest.ExtraMinutes)
	}
}

func (w *works) plan(t testing.TB) desk.Proposal {
	t.Helper()
	p, err := w.ProposePlan(t.Context(), boss)
	if err != nil {
		t.Fatal(err)
	}
	if p, err = w.AdoptPlan(t.Context(), boss, p.Stamp); err != nil {
		t.Fatal(err)
	}
	return p
}

// Whatever is asked: no panic, faults with a place, and sums that add up.
func TestAskSums(t *testing.T) {
	w := newWorks(t)
	priced, want := 0, 30
	if testing.Short() {
		want = 10 // of a fifth of the draws
	}
	defer func() {
		if priced < want {
			t.Errorf("only %d of the random orders could be priced", priced)
		}
	}()
	rapid.Check(t, func(t *rapid.T) {
		o := drawOrder(t)
		actor := rapid.SampledFrom([]party.Actor{boss, clerk, buyer, rival, visitor}).Draw(t, "actor")
		a, err := w.Ask(t.Context(), actor, o)
		if err != nil {
			if k := fault.KindOf(err); k != fault.Invalid && k != fault.NotFound {
				t.Fatalf("refused as %s: %v", k, err)
			}
			for _, f := range fault.All(err) {
				if f.Kind == fault.Invalid && f.Field == "" || f.Sentence == "" {
					t.Fatalf("a fault without a place: %v", f)
				}
			}
			return
		}
		priced++
		checkSums(t, a.Order, a.Order.Alone)
		if a.Quote.Shared != nil {
			checkSums(t, a.Order, a.Order.Shared)
			if a.Order.Alone.Total.Less(a.Order.Shared.Total) {
				t.Fatalf("shared %s is more than alone %s", a.Order.Shared.Total, a.Order.Alone.Total)
			}
		}
		_, again, err := desk.ReplayPrice(a.Order)
		if err != nil || again.Alone.Total.Cmp(a.Order.Alone.Total) != 0 {
			t.Fatalf("replayed to %s, was %s (%v)", again.Alone.Total, a.Order.Alone.Total, err)
		}
		if a.Cheapest.Found && a.Cheapest.Ready.Before(w.Now()) {
			t.Fatalf("promised for %v, it is %v", a.Cheapest.Ready, w.Now())
		}
	})
}

func checkSums(t *rapid.T, o order.Order, f order.Offer) {
	sum := money.Sum(f.Goods, f.SetUp, f.Minimum, f.Packing, f.Delivery, f.Rush, f.Discount, f.Tax)
	if sum.Cmp(f.Total) != 0 {
		t.Fatalf("the parts come to %s, the total is %s: %+v", sum, f.Total, f)
	}
	if f != o.Charged() {
		return
	}
	lines := money.Cents(0, money.USD)
	for _, l := range o.Lines {
		lines = lines.Add(l.Amount)
	}
	if lines.Cmp(f.Goods) != 0 {
		t.Fatalf("the lines come to %s, goods are %s", lines, f.Goods)
	}
}

// drawOrder gives orders as people send them, and one in four as machines
// that mean harm might.
func drawOrder(t *rapid.T) order.Order {
	wild := rapid.IntRange(0, 3).Draw(t, "wild") == 0
	o := order.Order{
		CustomerID: rapid.SampledFrom([]int64{0, tradeFirm, rivalFirm, 12}).Draw(t, "customer"),
		Fulfil:     rapid.SampledFrom([]order.Fulfil{order.PickUp, order.PickUp, order.Haul, order.OnSite}).Draw(t, "fulfil"),
		ShipTo:     party.Address{Street: "1 Road", City: "Town", State: rapid.SampledFrom([]string{"ZE", "ZW", ""}).Draw(t, "state")},
		Rush:       rapid.Bool().Draw(t, "rush"), Sharing: rapid.Bool().Draw(t, "sharing"),
		MilesTenths: rapid.Int64Range(0, 900).Draw(t, "miles"),
	}
	for range rapid.IntRange(1, 5).Draw(t, "lines") {
		o.Lines = append(o.Lines, drawLine(t))
	}
	if wild {
		spoil(t, &o)
	}
	return o
}

func drawLine(t *rapid.T) order.Line {
	l := rapid.SampledFrom([]order.Line{
		{Code: "SEAM16", Material: "AZ50", Gauge: "24 ga", Colour: "CHAR"}, {Code: "SEAM16", Material: "AZ50", Gauge: "24 ga", Colour: "WHT", Rib: "plain"},
		{Code: "LOCK18", Material: "AZ50", Gauge: "24 ga", Colour: "CHAR"}, {Code: "RIB36", Material: "AZ50", Gauge: "29 ga", Colour: "WHT"},
		{Code: "RIB36", Material: "G90", Gauge: "26 ga", Colour: "MILL"}, {Code: "OGEE5", Material: "AL", Gauge: "0.032 in", Colour: "BRZ"},
		{Kind: order.Trim, Code: "RIDGE", Material: "AZ50", Gauge: "24 ga", Colour: "CHAR"}, {Kind: order.Trim, Code: "VALLEY", Material: "AZ50", Gauge: "26 ga", Colour: "WHT"},
		{Kind: order.Trim, Code: "JCHANNEL", Material: "G90", Gauge: "26 ga", Colour: "MILL"}, {Kind: order.Accessory, Code: "SEALANT"}, {Kind: order.Accessory, Code: "CLIP-FIX"},
	}).Draw(t, "line")
	qty := rapid.OneOf(rapid.IntRange(1, 60), rapid.IntRange(1, 3000))
	longest := 40 * measure.Foot
	switch l.Kind {
	case order.Accessory:
		l.Count = qty.Draw(t, "count")
		return l
	case order.Trim:
		longest = 10 * measure.Foot
	default:
		l.Kind = order.Formed
	}
	for range rapid.IntRange(1, 4).Draw(t, "cuts") {
		sixteenths := rapid.IntRange(4*12*16, int(longest/measure.Sixteenth)).Draw(t, "length")
		l.Cuts = append(l.Cuts, order.CutItem{Qty: qty.Draw(t, "qty"), Length: measure.Sixteenth.Times(sixteenths)})
	}
	return l
}

// spoil puts something no form would send into an order.
func spoil(t *rapid.T, o *order.Order) {
	junk := rapid.SampledFrom([]string{"", "x", "\x00", "24 ga|", strings.Repeat("é", 300), "-1", "NaN"}).Draw(t, "junk")
	l := &o.Lines[rapid.IntRange(0, len(o.Lines)-1).Draw(t, "spoilt")]
	length := rapid.SampledFrom([]measure.Length{0, -1, 1, math.MaxInt64, math.MinInt64, measure.Longest}).Draw(t, "odd length")
	qty := rapid.SampledFrom([]int{0, -1, 1_000_000, math.MaxInt, math.MinInt}).Draw(t, "odd quantity")
	switch rapid.IntRange(0, 11).Draw(t, "what") {
	case 0:
		l.Kind = order.Kind(junk)
	case 1:
		l.Code = junk
	case 2:
		l.Material = junk
	case 3:
		l.Gauge = junk
	case 4:
		l.Colour = junk
	case 5:
		l.Rib = junk
	case 6:
		o.Fulfil = order.Fulfil(junk)
	case 7:
		o.MilesTenths = int64(qty)
	case 8:
		o.CustomerID = int64(qty)
	case 9:
		l.Section = &metal.Section{Legs: []metal.Leg{{Length: length, Turn: math.NaN()}, {Length: length, Turn: math.Inf(1)}}}
	case 10:
		l.Count = qty
		l.Cuts = append(l.Cuts, order.CutItem{Qty: qty, Length: measure.Foot.Times(5)}, order.CutItem{Qty: qty, Length: measure.Foot.Times(5)})
	case 11:
		l.Cuts = append(l.Cuts, order.CutItem{Qty: 1, Length: length})
	}
}
