package price_test

import (
	"bytes"
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"slices"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	"ribdesk/internal/drill/drilltest"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/price"
)

// TestMain makes every property run on 1,000 random orders, 10,000 under drill,
// unless the command line says otherwise.
func TestMain(m *testing.M) {
	if err := flag.Set("rapid.checks", strconv.Itoa(drilltest.Times(1000, 10_000))); err != nil {
		panic(err)
	}
	flag.Parse()
	os.Exit(m.Run())
}

// through writes an input to JSON and reads it back, as a store would.
func through(t rapid.TB, in price.Input) price.Input {
	t.Helper()
	raw, err := json.Marshal(in)
	if err != nil {
		t.Fatal(err)
	}
	back, err := price.Decode(bytes.NewReader(raw))
	if err != nil {
		t.Fatalf("%v in %s", err, raw)
	}
	return back
}

func same(t rapid.TB, a, b price.Quote) {
	t.Helper()
	x, err := json.Marshal(a)
	if err != nil {
		t.Fatal(err)
	}
	y, err := json.Marshal(b)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(x, y) {
		t.Fatalf("two prices of one input:\n%s\n%s", x, y)
	}
}

// draw helps to draw figures.
type draw struct{ *rapid.T }

func (d draw) rate(name string, least, most int64, places int32) money.Rate {
	return money.NewRate(rapid.Int64Range(least, most).Draw(d.T, name), -places)
}

func (d draw) yes(name string) bool { return rapid.Bool().Draw(d.T, name) }

func (d draw) int(name string, least, most int) int {
	return rapid.IntRange(least, most).Draw(d.T, name)
}

func (d draw) length(name string, least, most int) measure.Length {
	return measure.Sixteenth.Times(d.int(name, least*192, most*192))
}

// order draws a shop and an order of one to four items with everything that a
// price can hold.
func order(t *rapid.T) price.Input {
	d := draw{t}
	in := price.Input{Rules: price.Rules, Shop: d.shop()}
	o := &in.Order
	o.ID, o.Day, o.Class = "A", "2026-11-25", rapid.SampledFrom([]string{"", "trade"}).Draw(t, "class")
	o.Setups = []price.Setup{
		{ID: "coil", Label: "Coil change", Center: "former", Minutes: d.rate("coil minutes", 0, 600, 1), Lead: d.length("lead", 0, 6), Stock: "coil"},
		{ID: "profile", Label: "Profile change", Center: "former", Minutes: d.rate("profile minutes", 0, 900, 1)},
	}
	o.Items = []price.Item{d.formed("1")}
	for i := range d.int("more items", 0, 3) {
		o.Items = append(o.Items, d.item(fmt.Sprint(i+2)))
	}
	o.Sharing = &price.Sharing{Rule: rapid.SampledFrom(rules).Draw(t, "rule"), Setups: []price.SharedSetup{
		{Setup: "coil", Planned: d.yes("planned"), With: d.partners()}, {Setup: "profile", With: d.partners()}}}
	o.Bundles, o.Rush = d.int("bundles", 0, 4), d.yes("rush")
	if d.yes("discounted") {
		o.Discount = d.rate("discount", 0, 30, 2)
	}
	if d.yes("delivered") {
		o.Delivery = &price.Trip{Miles: d.rate("miles", 0, 900, 1)}
	}
	if d.yes("on site") {
		o.Onsite = &price.Trip{Miles: d.rate("site miles", 0, 900, 1)}
	}
	return in
}

func (d draw) partners() []price.Partner {
	var ps []price.Partner
	for i := range d.int("partners", 0, 3) {
		ps = append(ps, price.Partner{Order: fmt.Sprint("P", i), Minutes: d.rate("partner minutes", 0, 9000, 2), Feet: d.length("partner feet", 0, 900)})
	}
	return ps
}

func (d draw) shop() price.Shop {
	s := price.Shop{
		Centers: []price.Center{
			{ID: "former", Label: "Roll former", Burden: d.rate("burden", 0, 60, 2), Overhead: d.rate("overhead", 0, 9000, 2), PaidIdle: d.yes("paid idle"),
				Crew: []price.Wage{{Label: "operator", Hourly: d.rate("wage", 1000, 4000, 2), Count: d.int("crew", 0, 3)}},
				Machine: price.Machine{Sheet: &price.HourSheet{Purchase: d.rate("purchase", 1000000, 20000000, 2), Residual: d.rate("residual", 0, 1000000, 2),
					Interest: d.rate("interest", 0, 15, 2), Years: d.int("years", 1, 20), AnnualHours: d.rate("hours", 100, 2000, 0), OwnShare: d.rate("own", 0, 5, 2), Repair: d.rate("repair", 0, 500000, 2)}}},
			{ID: "brake", Label: "Brake", Machine: price.Machine{Given: &price.GivenHour{Rate: d.rate("brake", 500, 4000, 2)}}, Overhead: d.rate("brake overhead", 0, 2000, 2)},
		},
		Stock: []price.Stock{
			{ID: "coil", Label: "coil", Thickness: d.rate("thickness", 150, 400, 4), Density: money.Must(".2833"), Coating: money.Must(".9"), Width: 20 * measure.Inch,
				Price: d.rate("coil price", 60, 300, 2), Per: price.PerPound, Freight: d.rate("freight", 0, 10, 2), Weight: d.rate("coil weight", 1000, 8000, 0), Damaged: feet(d.int("damaged", 0, 30)), Scrap: d.rate("scrap", 0, 40, 2), Loss: d.rate("loss", 0, 60, 3)},
			{ID: "sheet", Label: "sheet", Measured: money.Must("3.95"), Width: 48 * measure.Inch, Sheet: 120 * measure.Inch, Price: d.rate("sheet price", 2000, 9000, 2), Per: price.PerSheet},
		},
		Targets: []price.Target{{Goal: price.Margin, Value: d.rate("margin", 0, 60, 2)},
			{Group: "trim", Goal: price.Markup, Value: d.rate("markup", 0, 120, 2)}, {Class: "trade", Goal: price.Margin, Value: d.rate("trade margin", 0, 50, 2)}},
		Policy: price.Policy{UnitPlaces: d.int("places", 2, 4), SetupLine: d.yes("set-up line"), MinimumSetups: d.yes("minimum"), Rush: d.rate("rush", 0, 30, 2),
			Deposit: d.rate("deposit", 0, 100, 2), PaymentShare: d.rate("payment", 0, 35, 3)},
		Bundle:   d.rate("bundle", 0, 3000, 2),
		Delivery: &price.Tariff{Base: d.rate("base", 0, 9000, 2), Included: d.rate("included", 0, 20, 0), PerMile: d.rate("per mile", 0, 500, 2), Weights: []price.WeightStep{{Over: money.Int(2000), Add: money.Int(30)}}, Lengths: []price.LengthStep{{Over: feet(20), Add: money.Int(40)}}},
		Onsite:   &price.Onsite{Center: "former", Mph: money.Int(45), PerMile: money.Must("2.85"), SetupHours: money.Int(1)},
		Tax: price.Tax{Basis: rapid.SampledFrom([]price.TaxBasis{price.PerDocument, price.PerItem}).Draw(d.T, "basis"), Jurisdictions: []price.Jurisdiction{
			{ID: "state", State: "XX", Rate: d.rate("state tax", 0, 900, 4), Classes: []string{price.Goods, "special"}, Delivery: price.DeliveryAsGoods},
			{ID: "city", State: "XX", Rate: d.rate("city tax", 0, 300, 4), Classes: []string{price.Goods}, Delivery: rapid.SampledFrom([]price.DeliveryRule{"", price.DeliveryTaxed, price.DeliveryAsGoods}).Draw(d.T, "delivery")},
		}},
	}
	if d.yes("breaks") {
		s.Targets = append(s.Targets, price.Target{Group: "panel", Goal: price.Margin, Value: money.Must(".32"), Steps: []price.Step{
			{Beyond: d.rate("break", 1, 5000, 1), Value: money.Must(".28")}, {Beyond: money.Int(2000), Value: money.Must(".24")}}})
	}
	return s
}

func (d draw) formed(id string) price.Item {
	item := price.Item{ID: id, Label: "panel", Group: "panel", Formed: &price.Formed{Center: "former", Stock: "coil", Setups: []string{"coil", "profile"},
		Speed: d.rate("speed", 30, 75, 0), Shear: d.rate("shear", 0, 60, 1), Handling: d.rate("handling", 0, 300, 1), Allowance: d.rate("allowance", 0, 20, 2), Kerf: measure.Sixteenth.Times(d.int("kerf", 0, 4))}}
	for range d.int("cuts", 1, 4) {
		item.Formed.Cuts = append(item.Formed.Cuts, price.Cut{Pieces: d.int("pieces", 1, 80), Length: d.length("length", 1, 40)})
	}
	if d.yes("by hand") && d.yes("really") {
		item.Unit = rate("2.5")
	}
	return item
}

func (d draw) item(id string) price.Item {
	switch d.int("kind", 0, 2) {
	case 0:
		return d.formed(id)
	case 1:
		return price.Item{ID: id, Label: "trim", Group: "trim", Trim: &price.Trim{Center: "brake", Stock: "sheet", Pieces: d.int("trim pieces", 1, 40), Length: d.length("trim length", 1, 10),
			Girth: measure.Inch.Times(d.int("girth", 3, 24)), Credit: d.rate("credit", 0, 100, 2), Bends: d.int("bends", 0, 6), Bend: d.rate("bend", 0, 100, 2), Handling: d.rate("trim handling", 0, 100, 2), Setup: d.rate("trim set-up", 0, 100, 1)}}
	}
	return price.Item{ID: id, Label: "clip", Group: "accessory", TaxClass: rapid.SampledFrom([]string{"", "special", "free"}).Draw(d.T, "class"),
		Bought: &price.Bought{Pieces: d.int("clips", 1, 500), Each: d.rate("each", 0, 900, 2), Weight: d.rate("clip weight", 0, 100, 2)}}
}

func offers(q price.Quote) []*price.Offer { return []*price.Offer{&q.Alone, q.Shared} }

func TestTotalsAddUp(t *testing.T) {
	orders := 0
	defer func() {
		drilltest.Figure(t, "F9 random orders", "lines, charges, allowances and tax make the total to the cent", "%d orders: all add up", orders)
	}()
	rapid.Check(t, func(t *rapid.T) {
		orders++
		in := order(t)
		q := quote(t, in)
		for _, o := range offers(q) {
			sum, tax, costs := usd(0), usd(0), money.Rate{}
			for _, l := range o.Lines {
				sum = sum.Add(l.Amount)
				if l.Kind != price.HaulLine && l.Kind != price.TripLine {
					costs = costs.Add(l.Costs.Total())
				}
			}
			for _, p := range o.Taxes {
				tax = tax.Add(p.Tax)
			}
			if sum != o.Subtotal || tax.Cmp(o.Tax) != 0 || o.Subtotal.Add(o.Tax) != o.Total || o.Deposit.Add(o.Balance) != o.Total {
				t.Fatalf("lines %s, taxes %s: %+v", sum, tax, o)
			}
			if o.Goods.Sign() < 0 || o.Total.Sign() < 0 || o.Tax.Sign() < 0 {
				t.Fatalf("negative: %+v", o)
			}
			steps := o.Waterfall()
			if last := steps[len(steps)-1]; last.Value.Cmp(o.Total.Rate()) != 0 {
				t.Fatalf("the waterfall ends at %s, not %s", last.Value, o.Total)
			}
			if gap := costs.Sub(o.Cost); gap.Shorten(6).Sign() != 0 {
				t.Fatalf("lines cost %s, the offer %s", costs, o.Cost)
			}
			for _, l := range o.Lines {
				if l.Build.Value.Cmp(l.Amount.Rate()) != 0 {
					t.Fatalf("%s explains %s", l.Amount, l.Build.Value)
				}
			}
		}
		if q.Alone.Total.Less(q.Shared.Total) {
			t.Fatalf("sharing at %s costs more than alone at %s", q.Shared.Total, q.Alone.Total)
		}
	})
}

func TestReplayIsIdentical(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := order(t)
		same(t, quote(t, in), quote(t, through(t, in)))
	})
}

// The floor is worked out here a second way, from the lines' own costs at the
// out-of-pocket hour.
func TestNeverBelowFloorUnnoticed(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := order(t)
		in.Shop.Policy.SetupLine, in.Order.Onsite = false, nil
		if rapid.Bool().Draw(t, "cheap") {
			in.Order.Items[0].Unit = rate("1.90")
		}
		former, err := in.Shop.Centers[0].Worksheet()
		if err != nil {
			t.Fatal(err)
		}
		o := quote(t, in).Alone
		least := money.Rate{}
		for _, l := range o.Lines {
			work := l.Costs.Work
			if l.Kind == price.CutLine {
				work = work.Div(former.Rate).Mul(former.Pocket)
			} else if l.Kind == price.PieceLine {
				work = money.Rate{} // the brake's hour is given, none of it out of pocket
			}
			least = least.Add(l.Costs.Metal).Add(work).Add(l.Costs.Other)
		}
		for _, s := range o.Setups {
			for _, set := range in.Order.Setups {
				if set.ID == s.Setup {
					least = least.Add(s.Value).Sub(set.Minutes.Mul(former.Rate.Sub(former.Pocket)).Div(money.Int(60)))
				}
			}
		}
		least = least.Div(money.Int(1).Sub(in.Shop.Policy.PaymentShare))
		if gap := o.Floor.Least.Rate().Sub(least); gap.Cmp(money.Must("-0.000001")) < 0 || gap.Cmp(money.Must("0.010001")) > 0 {
			t.Fatalf("floor %s, a second way %s", o.Floor.Least, least)
		}
		below := o.Goods.Less(o.Floor.Least) || len(o.Floor.Items) > 0
		if below != o.Floor.Below || (o.Release() != nil) != below {
			t.Fatalf("sold at %s with a floor of %s, below: %v, release: %v", o.Goods, o.Floor.Least, o.Floor.Below, o.Release())
		}
		in.Order.BelowFloor = &price.Override{By: "owner", Reason: "old friend"}
		if allowed := quote(t, in).Alone; allowed.Release() != nil || (allowed.Floor.Override != nil) != below {
			t.Fatalf("the owner's word isn't kept: %+v", allowed.Floor)
		}
	})
}

// With set-ups on lines of their own more pieces never cost less; with them in
// the unit price by at most half a unit-price step a foot.
func TestMoreNeverCostsLess(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := order(t)
		for i := range in.Order.Items {
			in.Order.Items[i].Unit = nil
		}
		before := quote(t, in)
		cut := &in.Order.Items[0].Formed.Cuts[0]
		cut.Pieces += rapid.IntRange(1, 20).Draw(t, "more")
		after := quote(t, in)
		strict := in.Shop.Policy.SetupLine && len(in.Shop.Targets) == 3
		for i, o := range offers(after) {
			old := offers(before)[i]
			slack := money.Rate{}
			if !strict {
				lines := int64(len(o.Lines) + len(old.Lines))
				step := money.NewRate(1, -int32(in.Shop.Policy.UnitPlaces))
				for _, l := range append(slices.Clone(o.Lines), old.Lines...) {
					if l.Unit == "ft" || l.Unit == "each" {
						slack = slack.Add(l.Quantity.Mul(step))
					}
				}
				slack = slack.Add(money.NewRate(lines, -2)).Mul(money.Must("1.3"))
			}
			if o.Goods.Rate().Add(slack).Cmp(old.Goods.Rate()) < 0 {
				t.Fatalf("%d pieces cost %s, fewer cost %s", cut.Pieces, o.Goods, old.Goods)
			}
		}
	})
}

func TestFartherNeverCostsLess(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := order(t)
		in.Order.Delivery = &price.Trip{Miles: draw{t}.rate("miles", 0, 900, 1)}
		if rapid.Bool().Draw(t, "bands") {
			in.Shop.Delivery.Bands = []price.Band{{UpTo: money.Int(15), Charge: money.Int(40)}, {UpTo: money.Int(30), Charge: money.Int(70)}}
		}
		near := quote(t, in).Alone.Subtotal
		in.Order.Delivery = &price.Trip{Miles: in.Order.Delivery.Miles.Add(draw{t}.rate("farther", 0, 300, 1))}
		if far := quote(t, in).Alone.Subtotal; far.Less(near) {
			t.Fatalf("farther costs %s, nearer %s", far, near)
		}
	})
}

func metalOf(o price.Offer, item string) (sum money.Rate) {
	for _, l := range o.Lines {
		if l.Item == item && l.Build.Find("metal") != nil {
			return l.Build.Find("metal").Value
		}
	}
	return sum
}

func TestSplittingALine(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := order(t)
		in.Shop.Policy.SetupLine = false
		in.Order.Items[0].Formed.Cuts[0].Pieces++
		whole := quote(t, in).Alone
		f := *in.Order.Items[0].Formed
		cut := f.Cuts[0]
		first := rapid.IntRange(1, cut.Pieces-1).Draw(t, "first")
		f.Cuts = append([]price.Cut{{Pieces: first, Length: cut.Length}, {Pieces: cut.Pieces - first, Length: cut.Length}}, f.Cuts[1:]...)
		in.Order.Items = slices.Clone(in.Order.Items)
		in.Order.Items[0].Formed = &f
		split := quote(t, in).Alone
		if a, b := metalOf(whole, "1"), metalOf(split, "1"); a.Cmp(b) != 0 || (a.IsZero() && in.Order.Items[0].Unit == nil) {
			t.Fatalf("metal of %s became %s", a, b)
		}
		gap := whole.Goods.Sub(split.Goods).Cents()
		if gap < -2 || gap > 2 { // the line, and a rush or discount made of it
			t.Fatalf("%s became %s", whole.Goods, split.Goods)
		}
	})
}

func TestOrderOfInputChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := order(t)
		a := quote(t, in)
		in = through(t, in)
		slices.Reverse(in.Order.Items)
		for _, item := range in.Order.Items {
			if item.Formed != nil {
				slices.Reverse(item.Formed.Cuts)
			}
		}
		slices.Reverse(in.Order.Setups)
		slices.Reverse(in.Shop.Stock)
		slices.Reverse(in.Shop.Centers)
		b := quote(t, in)
		if a.Alone.Total != b.Alone.Total || a.Shared.Total != b.Shared.Total || a.Alone.Floor.Least != b.Alone.Floor.Least {
			t.Fatalf("%s and %s became %s and %s", a.Alone.Total, a.Shared.Total, b.Alone.Total, b.Shared.Total)
		}
	})
}

func TestExemptTotalIsTotalLessTax(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := order(t)
		taxed := quote(t, in).Alone
		in.Order.Certificate = &price.Certificate{Number: "1", State: "xx", Expires: in.Order.Day}
		free := quote(t, in).Alone
		if !free.Tax.IsZero() || free.Total != taxed.Total.Sub(taxed.Tax) {
			t.Fatalf("%s less %s is %s", taxed.Total, taxed.Tax, free.Total)
		}
	})
}

// A margin recomputes from price and cost within half a step of the unit price.
func TestMarginRecomputes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := order(t)
		in.Shop.Policy.UnitPlaces, in.Shop.Policy.SetupLine = 2, false
		in.Shop.Targets = in.Shop.Targets[:1]
		m := in.Shop.Targets[0].Value
		in.Order.Items = in.Order.Items[:1]
		in.Order.Items[0].Unit = nil
		l := quote(t, in).Alone.Lines[0]
		cost := l.Build.Find("cost").Value
		quantity := l.Build.Find("feet").Value
		back := money.Int(1).Sub(m).Sub(in.Shop.Policy.PaymentShare)
		gap := l.Price.Sub(cost.Div(quantity).Div(back))
		if gap.Cmp(money.Must("0.005")) > 0 || gap.Cmp(money.Must("-0.005")) < 0 {
			t.Fatalf("price %s, cost %s, margin %s", l.Price, cost.Div(quantity), m)
		}
	})
}

// One more partner never raises the shared price, and an order never pays more
// of a set-up than all of it.
func TestOneMorePartnerNeverRaisesThePrice(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := order(t)
		few := quote(t, in)
		for i := range in.Order.Sharing.Setups {
			s := &in.Order.Sharing.Setups[i]
			s.Planned = false
			s.With = append(slices.Clone(s.With), price.Partner{Order: "late", Minutes: money.Int(12), Feet: feet(150)})
		}
		many := quote(t, in)
		if many.Shared.Total == many.Alone.Total {
			return // sold as alone, since rounding would make it a cent dearer
		}
		for i, s := range many.Shared.Setups {
			if s.Part.Cmp(few.Shared.Setups[i].Part) > 0 || s.Part.Cmp(money.Int(1)) > 0 {
				t.Fatalf("%s: part %s became %s", s.Setup, few.Shared.Setups[i].Part, s.Part)
			}
		}
		if len(in.Shop.Targets) == 3 && few.Shared.Goods.Less(many.Shared.Goods) {
			t.Fatalf("%s became %s", few.Shared.Goods, many.Shared.Goods)
		}
	})
}
