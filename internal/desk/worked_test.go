package desk_test

import (
	"testing"
	"time"

	"ribdesk/internal/demo"
	"ribdesk/internal/desk"
	"ribdesk/internal/measure"
	"ribdesk/internal/metal"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/price"
	"ribdesk/internal/stock"
	"ribdesk/internal/store/storetest"
)

// The shop of the worked example of the price build-up: invented figures that
// were worked out by hand before this program was written. Here they go the
// whole way through the catalogue, the rates and the run plan.
//
// The metal room has steel at 40.8 lb/ft2 an inch, the example at .2833 lb/in3;
// the paint is set so that a square foot weighs the example's .988599 lb.
func workedShop(t *testing.T) *desk.Desk {
	t.Helper()
	s := storetest.Open(t)
	clock := demo.NewClock(time.Date(2026, 11, 25, 13, 0, 0, 0, time.UTC))
	d := desk.New(s, desk.Options{Now: clock.Now})
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	seller, version, err := d.Seller(t.Context())
	must(err)
	seller.Address.State, seller.BundlePounds = "XX", 1000
	must(d.SaveSeller(t.Context(), boss, seller, version))
	base := metal.Sheet{Family: metal.BareSteel, Thickness: 232 * measure.Inch / 10_000}
	mil := (metal.Sheet{Family: metal.BareSteel, Thickness: base.Thickness, PaintMil: 1}).PoundsPerSquareFoot() - base.PoundsPerSquareFoot()
	shelve(t, d, stock.Material{Code: "STEEL", Name: "Coated steel", Family: metal.BareSteel, GaugeSystem: metal.DecimalInch, Gauges: []string{"0.0232 in"},
		PaintMil: (.9885987 - base.PoundsPerSquareFoot()) / mil})
	shelve(t, d, stock.Colour{Code: "CHAR", Name: "Charcoal", Swatch: "#3B4045"})
	shelve(t, d, stock.Profile{Code: "SEAM", Name: "Standing seam panel, 16 in cover", Use: stock.Panel, RollerSet: "A", Outline: "snap-seam", Coverage: inches(16), Strip: inches(20),
		Ranges:    []stock.GaugeRange{{Family: metal.BareSteel, Min: inches(1) / 100, Max: inches(1) / 20}},
		MinLength: 3 * measure.Foot, MaxLength: 60 * measure.Foot})
	shelve(t, d, stock.Shape{Code: "CAP", Name: "Ridge cap", Section: girth12(t, base)})
	shelve(t, d, stock.Supply{Code: "COIL20", Name: "24 ga steel, 20 in, charcoal", Strip: strip(20), PerPound: money.Must("1.18"), Freight: money.Must(".05"),
		Scrap: money.Must(".16"), Loss: money.Must(".01"), Damaged: 12 * measure.Foot, CoilLb: 4000, CostDay: "2026-10-20"})
	shelve(t, d, stock.Supply{Code: "SHEET48", Name: "24 ga steel sheets, 48 in, charcoal", Strip: strip(48), PerPound: money.Must("1.37"), CostDay: "2026-10-20", CoilLb: 2000})
	week := []stock.Window{}
	for day := time.Monday; day <= time.Friday; day++ {
		week = append(week, stock.Window{Day: day, From: 7 * 60, To: 17 * 60})
	}
	coil := []string{"material", "gauge", "width", "colour"}
	shelve(t, d, stock.Machine{Code: "FORMER", Name: "Roll former", Profiles: []string{"SEAM"}, MaxStrip: inches(24), Speed: money.Int(75), Shear: money.Int(4), Handling: money.Int(12),
		Allowance: money.Must(".10"), Week: week, Setup: map[string]string{"profile": "OTHER", "material": "OTHER"},
		Rule: []stock.ChangePart{{Name: "profile", Keys: []string{"profile"}, Minutes: 40}, {Name: "coil", Keys: coil, Minutes: 15, Scrap: 4 * measure.Foot}}})
	shelve(t, d, stock.Machine{Code: "BRAKE", Name: "Brake", Folder: true, MaxStrip: inches(48), MaxFold: 10 * measure.Foot, Handling: money.Int(36), Bend: money.Int(21), Hem: money.Int(30),
		Slit: money.Must("1.5"), Allowance: money.Must(".10"), Week: week, Rule: []stock.ChangePart{{Name: "coil", Keys: coil, Minutes: 6}}})
	must(d.SetRates(t.Context(), boss, workedRates(), clock.Now().AddDate(0, 0, -1), "the worked example"))
	for _, name := range []string{"A's firm", "B's firm"} {
		_, err := d.AddCustomer(t.Context(), boss, party.Customer{Name: name, Class: "trade"})
		must(err)
	}
	return d
}

func shelve[T stock.Item](t *testing.T, d *desk.Desk, item T) {
	t.Helper()
	if _, err := desk.PutOnShelf(t.Context(), d, boss, desk.Shelved[T]{Item: item}); err != nil {
		t.Fatal(err)
	}
}

func inches(n int) measure.Length { return measure.Inch.Times(n) }

func strip(width int) stock.Strip {
	return stock.Strip{Material: "STEEL", Gauge: "0.0232 in", Width: inches(width), Colour: "CHAR"}
}

// girth12 is a section of 4 bends and 2 hems whose blank is 12 in wide, to the
// sixteenth: its first leg takes up what the bends give.
func girth12(t *testing.T, sheet metal.Sheet) metal.Section {
	t.Helper()
	hem := metal.Edge{Hem: metal.ClosedHem, HemDepth: measure.Inch / 2, HemSide: metal.Left}
	section := metal.Section{Legs: []metal.Leg{{Length: inches(3)}, {Length: inches(2), Turn: 30}, {Length: inches(2), Turn: -30}, {Length: inches(2), Turn: -30}, {Length: inches(2), Turn: 30}}, Start: hem, End: hem}
	for range 4 {
		blank, err := metal.Girth(section, sheet, metal.UsualFolding())
		if err != nil {
			t.Fatal(err)
		}
		section.Legs[0].Length += inches(12) - blank.Exact
	}
	blank, err := metal.Girth(section, sheet, metal.UsualFolding())
	if err != nil || blank.Girth != inches(12) || blank.Bends != 4 || blank.Hemmed != 2 {
		t.Fatalf("blank %+v, %v", blank, err)
	}
	return section
}

func workedRates() price.Shop {
	m := money.Must
	return price.Shop{
		Centers: []price.Center{
			{ID: "FORMER", Label: "Roll former", Dated: "2026-10-01", Machine: price.Machine{Sheet: &price.HourSheet{
				Purchase: m("98000"), Residual: m("29400"), Interest: m(".08"), Years: 10, AnnualHours: m("600"), OwnShare: m(".02"), RepairShare: m(".03"),
				Fuel: m("1.2"), FuelEach: m("3.60"), Lubricant: m(".15")}},
				Crew: []price.Wage{{Label: "operator", Hourly: m("26")}, {Label: "helper", Hourly: m("19")}}, Burden: m(".38"), Overhead: m("50")},
			{ID: "BRAKE", Label: "Brake", Dated: "2026-10-01", Machine: price.Machine{Given: &price.GivenHour{Rate: m("12.50"), Pocket: m("2.00")}},
				Crew: []price.Wage{{Label: "operator", Hourly: m("26")}}, Burden: m(".38"), Overhead: m("18")},
		},
		Targets:  []price.Target{{Goal: price.Margin, Value: m(".28")}},
		Policy:   price.Policy{MinimumSetups: true, Deposit: m(".5")},
		Bundle:   m("18"),
		Delivery: &price.Tariff{Base: m("65"), Included: m("10"), PerMile: m("2.85"), Lengths: []price.LengthStep{{Over: 20 * measure.Foot, Add: m("40")}}},
		Onsite:   &price.Onsite{Center: "FORMER", Mph: m("45"), PerMile: m("2.85"), SetupHours: m("1")},
		Tax: price.Tax{Jurisdictions: []price.Jurisdiction{
			{ID: "state", Label: "State", State: "XX", Rate: m(".055"), Classes: []string{price.Goods}},
			{ID: "county", Label: "County", State: "XX", Rate: m(".015"), Classes: []string{price.Goods}},
			{ID: "away", Label: "The state next door", State: "YY", Rate: m(".09"), Classes: []string{price.Goods}},
		}},
	}
}

// seam is a line of the example's panels, lengths in inches.
func seam(cuts ...[2]int) order.Line {
	l := order.Line{Kind: order.Formed, Code: "SEAM", Material: "STEEL", Gauge: "0.0232 in", Colour: "CHAR"}
	for _, c := range cuts {
		l.Cuts = append(l.Cuts, order.CutItem{Qty: c[0], Length: inches(c[1])})
	}
	return l
}

// orderA is order A of the example: panels, caps, delivered over 34 miles.
func orderA() order.Order {
	return order.Order{CustomerID: 1, Fulfil: order.Haul, MilesTenths: 340, Contact: order.Contact{Name: "A"},
		ShipTo: party.Address{Street: "1 Road", City: "Town", State: "XX"},
		Lines: []order.Line{seam([2]int{30, 268}, [2]int{18, 176}, [2]int{12, 114}),
			{Kind: order.Trim, Code: "CAP", Material: "STEEL", Gauge: "0.0232 in", Colour: "CHAR", Cuts: []order.CutItem{{Qty: 11, Length: 10 * measure.Foot}}}}}
}

// acceptB takes order B of the example the way to the run plan.
func acceptB(t *testing.T, d *desk.Desk) order.Order {
	t.Helper()
	b, err := d.TakeOrder(t.Context(), clerk, order.Order{CustomerID: 2, Fulfil: order.PickUp, Contact: order.Contact{Name: "B"}, Lines: []order.Line{seam([2]int{40, 123})}})
	if err != nil {
		t.Fatal(err)
	}
	q, err := d.QuoteOrder(t.Context(), clerk, b.ID, b.Version, nil)
	if err != nil {
		t.Fatal(err)
	}
	b, err = d.AcceptOrder(t.Context(), clerk, b.ID, q.Order.Version, yes)
	if err != nil {
		t.Fatal(err)
	}
	p, err := d.ProposePlan(t.Context(), boss)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := d.AdoptPlan(t.Context(), boss, p.Stamp); err != nil {
		t.Fatal(err)
	}
	return b
}

// From the ask at the counter to the total of the quote, to the cent.
func TestWorkedExampleThroughTheDesk(t *testing.T) {
	d := workedShop(t)
	acceptB(t, d)
	a, err := d.Ask(t.Context(), clerk, orderA())
	if err != nil {
		t.Fatal(err)
	}
	if a.Quote.Shared == nil {
		t.Fatal("nobody to share with")
	}
	o := a.Quote.Shared
	want := []struct{ what, unit, amount string }{
		{"670 ft", "3.05", "2,043.50"}, {"264 ft", "3.05", "805.20"}, {"114 ft", "3.05", "347.70"},
		{"caps", "26.27", "288.97"}, {"bundles", "25.00", "50.00"}, {"delivery", "173.40", "173.40"},
	}
	if len(o.Lines) != len(want) {
		t.Fatalf("%d lines", len(o.Lines))
	}
	for i, w := range want {
		if l := o.Lines[i]; l.Price.Fixed(2) != w.unit || l.Amount.String() != w.amount {
			t.Errorf("%s: %s each, %s; by hand %s, %s", w.what, l.Price, l.Amount, w.unit, w.amount)
		}
	}
	for what, pair := range map[string][2]string{
		"goods": {o.Goods.String(), "3,535.37"}, "subtotal": {o.Subtotal.String(), "3,708.77"}, "tax": {o.Tax.String(), "247.48"},
		"total": {o.Total.String(), "3,956.25"}, "deposit": {o.Deposit.String(), "1,978.13"}, "balance": {o.Balance.String(), "1,978.12"},
		"on the order": {a.Order.Shared.Total.String(), "3,956.25"},
		"profile":      {o.Setups[0].Cost.Fixed(4), "63.3669"}, "coil change": {o.Setups[1].Cost.Fixed(4), "30.8496"},
		"half of each": {o.Setups[0].Part.String() + " " + o.Setups[1].Part.String(), "0.5 0.5"},
		"panel cost":   {o.Lines[0].Build.Find("cost").Value.Fixed(2), "2301.38"},
		"metal":        {a.Quote.Rates[2].Value.Fixed(5), "2.05310"},
	} {
		if pair[0] != pair[1] {
			t.Errorf("%s is %s, by hand %s", what, pair[0], pair[1])
		}
	}
}

// With a resale certificate for the state the total is the subtotal.
func TestWorkedExampleExempt(t *testing.T) {
	d := workedShop(t)
	acceptB(t, d)
	_, err := d.AddCertificate(t.Context(), boss, party.Certificate{CustomerID: 1, Number: "R-1", State: "XX",
		Signed: time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC), Expires: time.Date(2027, 1, 1, 0, 0, 0, 0, time.UTC)})
	if err != nil {
		t.Fatal(err)
	}
	a, err := d.Ask(t.Context(), clerk, orderA())
	if err != nil {
		t.Fatal(err)
	}
	if got := a.Order.Shared.Total.String(); got != "3,708.77" || a.Order.Exempt != "R-1" {
		t.Errorf("total %s, exempt by %q", got, a.Order.Exempt)
	}
	away := orderA()
	away.CustomerID, away.ShipTo.State = 2, "YY"
	if a, err = d.Ask(t.Context(), clerk, away); err != nil {
		t.Fatal(err)
	}
	if got := a.Quote.Shared.Taxes; len(got) != 1 || got[0].Label != "The state next door" {
		t.Errorf("taxed by %+v", got)
	}
	away.ShipTo.State = "ZZ"
	if a, err = d.Ask(t.Context(), clerk, away); err != nil || !a.Order.Shared.Tax.IsZero() || len(a.ForShop) == 0 {
		t.Errorf("tax %s, the shop is told %q, %v", a.Order.Shared.Tax, a.ForShop, err)
	}
}

// B cancels after A was quoted and accepted sharing its set-ups: A's price
// holds, and the shop carries the half that B doesn't pay any more, 47.11 of
// 94.22 (the example's saving of 94.2165 is what both would pay apart).
func TestPartnerCancels(t *testing.T) {
	d := workedShop(t)
	b := acceptB(t, d)
	ask := orderA()
	ask.Sharing = true
	a, err := d.TakeOrder(t.Context(), clerk, ask)
	if err != nil {
		t.Fatal(err)
	}
	q, err := d.QuoteOrder(t.Context(), clerk, a.ID, a.Version, nil)
	if err != nil {
		t.Fatal(err)
	}
	sharing := yes
	sharing.Sharing = true
	if a, err = d.AcceptOrder(t.Context(), clerk, a.ID, q.Order.Version, sharing); err != nil {
		t.Fatal(err)
	}
	before := a.Charged().Total
	c, err := d.IfCancelled(t.Context(), boss, b.ID)
	if err != nil {
		t.Fatal(err)
	}
	if len(c.Left) != 1 || c.Left[0].Order != a.Number || c.Policy != price.ShopCarries {
		t.Fatalf("left behind: %+v", c)
	}
	if c.Total.String() != "94.22" || c.Left[0].Pays.String() != "47.10" && c.Left[0].Pays.String() != "47.11" || c.Shop.Add(c.Left[0].Pays).Cmp(c.Total) != 0 {
		t.Errorf("of %s A pays %s and the shop carries %s", c.Total, c.Left[0].Pays, c.Shop)
	}
	if c.Left[0].Anew.Cmp(c.Total) != 0 {
		t.Errorf("anew A would pay %s", c.Left[0].Anew)
	}
	if _, err := d.CancelOrder(t.Context(), clerk, b.ID, 0, "the job is off"); err != nil {
		t.Fatal(err)
	}
	f, err := d.OrderFile(t.Context(), boss, a.ID)
	if err != nil || f.Order.Charged().Total.Cmp(before) != 0 {
		t.Errorf("A's price moved from %s to %s, %v", before, f.Order.Charged().Total, err)
	}
	gone, err := d.OrderFile(t.Context(), boss, b.ID)
	if err != nil {
		t.Fatal(err)
	}
	told := false
	for _, e := range gone.Events {
		told = told || e.Action == "left a shared set-up; the shop carries "+c.Shop.Format()
	}
	if !told {
		t.Error("the log doesn't say what the shop carries")
	}
	// A leaves, too: nobody is left.
	if c, err = d.IfCancelled(t.Context(), boss, a.ID); err != nil || len(c.Left) != 0 || !c.Shop.IsZero() {
		t.Errorf("the last one leaves %+v, %v", c, err)
	}
}
