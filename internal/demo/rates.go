package demo

import (
	"context"
	"time"

	"ribdesk/internal/money"
	"ribdesk/internal/party"
	"ribdesk/internal/price"
)

func (s *shop) addRates(ctx context.Context) error {
	from := s.start.AddDate(0, 0, -1)
	return s.SetRates(ctx, s.as(party.Owner), Rates(from), from, "as the demo opens")
}

// Rates gives what the invented shop's hours cost and what it wants to earn.
func Rates(day time.Time) price.Shop {
	m := money.Must
	dated := price.Day(day.Format(time.DateOnly))
	return price.Shop{
		Currency: money.USD,
		Centers: []price.Center{
			{ID: former, Label: "Panel former", Dated: dated, Machine: price.Machine{Sheet: &price.HourSheet{
				Purchase: m("86000"), Residual: m("26000"), Interest: m("0.085"), Years: 10, AnnualHours: m("620"), OwnShare: m("0.02"), RepairShare: m("0.03"),
				Fuel: m("1.1"), FuelEach: m("3.55"), Lubricant: m("0.15"),
				Yearly: []price.Charge{{Label: "bay rent, its share", Rate: m("420"), Times: m("12"), Over: m("2")}},
			}}, Crew: []price.Wage{{Label: "operator", Hourly: m("27")}, {Label: "helper", Hourly: m("19.50")}}, Burden: m("0.36"), Overhead: m("38")},
			{ID: gutter, Label: "Gutter machine", Dated: dated, Machine: price.Machine{Sheet: &price.HourSheet{
				Purchase: m("17500"), Residual: m("4500"), Interest: m("0.085"), Years: 8, AnnualHours: m("380"), OwnShare: m("0.02"), RepairShare: m("0.04"),
				Power: m("2.2"), PowerEach: m("0.16"),
			}}, Crew: []price.Wage{{Label: "operator", Hourly: m("24")}}, Burden: m("0.36"), Overhead: m("18")},
			{ID: folder, Label: "Folder", Dated: dated, Machine: price.Machine{Given: &price.GivenHour{Rate: m("11.40"), Pocket: m("1.90")}},
				Crew: []price.Wage{{Label: "operator", Hourly: m("25")}}, Burden: m("0.36"), Overhead: m("16")},
		},
		Targets: []price.Target{
			{Goal: price.Margin, Value: m("0.32")},
			{Class: trade, Goal: price.Margin, Value: m("0.28")},
			{Group: "panel", Class: trade, Goal: price.Margin, Value: m("0.30"), Steps: []price.Step{{Beyond: m("500"), Value: m("0.27")}, {Beyond: m("2000"), Value: m("0.24")}}},
			{Group: "panel", Goal: price.Margin, Value: m("0.34"), Steps: []price.Step{{Beyond: m("500"), Value: m("0.31")}}},
			{Group: "gutter", Class: trade, Goal: price.Margin, Value: m("0.31"), Steps: []price.Step{{Beyond: m("400"), Value: m("0.28")}}},
			{Group: "trim", Class: trade, Goal: price.Margin, Value: m("0.38")},
			{Group: "trim", Goal: price.Margin, Value: m("0.42")},
			{Group: "accessory", Goal: price.Markup, Value: m("0.45")},
		},
		Policy: price.Policy{
			SetupLine: true, MinimumSetups: true, Minimum: m("85"), Rush: m("0.15"), Deposit: m("0.30"),
			PaymentDays: 20, PaymentInterest: m("0.08"), StaleDays: 60, OnCancel: price.ShopCarries,
		},
		Bundle: m("13.50"),
		Delivery: &price.Tariff{Base: m("58"), Included: m("10"), PerMile: m("2.70"),
			Weights: []price.WeightStep{{Over: m("4000"), Add: m("35")}}, Lengths: []price.LengthStep{{Over: span("20 ft"), Add: m("38")}, {Over: span("32 ft"), Add: m("95")}}},
		Onsite: &price.Onsite{Center: former, Mph: m("40"), PerMile: m("2.70"), SetupHours: m("1"), Minimum: m("350"), MinimumFeet: span("800 ft")},
		Tax: price.Tax{Basis: price.PerDocument, Jurisdictions: []price.Jurisdiction{
			{ID: "state", Label: "State of Zeland, invented", State: home, Rate: m("0.06"), Classes: []string{price.Goods}},
			{ID: "county", Label: "Flange County, invented", State: home, Rate: m("0.0125"), Classes: []string{price.Goods}},
		}},
	}
}

// raiseWages is the owner's new sheet in the second week: wages went up.
func (s *shop) raiseWages(ctx context.Context) error {
	today := s.clock.Now()
	rates := Rates(today)
	for i := range rates.Centers {
		for j := range rates.Centers[i].Crew {
			w := &rates.Centers[i].Crew[j]
			w.Hourly = w.Hourly.Add(money.Must("0.75"))
		}
	}
	return s.SetRates(ctx, s.as(party.Owner), rates, today, "wages from this week on")
}
