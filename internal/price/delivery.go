package price

import (
	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
)

// delivery adds the charge of the shop's tariff.
func (b *bill) delivery() error {
	trip := b.in.Order.Delivery
	if trip == nil {
		return nil
	}
	s := b.in.Shop.Delivery.sum(trip.Miles, b.weight, b.longest)
	a := b.cents(s.total)
	b.add(Line{Kind: HaulLine, Label: "Delivery", Quantity: one, Unit: "trip", Price: a.Rate(), Amount: a, TaxClass: DeliveryLine,
		Build: node("delivery", "sum", a.Rate(), unitMoney, s.parts...)})
	return nil
}

// sum gives what a trip of so many miles with so much on it comes to.
func (t *Tariff) sum(miles, pounds money.Rate, longest measure.Length) sheet {
	var s sheet
	beyond := miles.Sub(t.Included)
	if len(t.Bands) == 0 {
		s.add(leaf("base", t.Base, unitMoney))
	} else {
		band := t.band(miles)
		s.add(node("distance band", "up to its miles", band.Charge, unitMoney, leaf("up to", band.UpTo, "mi")))
		beyond = miles.Sub(t.Bands[len(t.Bands)-1].UpTo)
	}
	if beyond.Sign() > 0 {
		s.add(node("miles", "miles beyond x rate", beyond.Mul(t.PerMile), unitMoney, leaf("beyond", beyond, "mi"), leaf("rate", t.PerMile, "$/mi")))
	}
	var step money.Rate
	for _, w := range t.Weights {
		if pounds.Cmp(w.Over) > 0 {
			step = w.Add
		}
	}
	s.add(node("weight", "the highest step reached", step, unitMoney, leaf("load", pounds, "lb")))
	step = money.Rate{}
	for _, l := range t.Lengths {
		if longest > l.Over {
			step = l.Add
		}
	}
	s.add(node("length", "the highest step reached", step, unitMoney, leaf("longest piece", feet(longest), "ft")))
	return s
}

// band gives the first band that reaches the miles, the last for those beyond.
func (t *Tariff) band(miles money.Rate) Band {
	for _, band := range t.Bands {
		if miles.Cmp(band.UpTo) <= 0 {
			return band
		}
	}
	return t.Bands[len(t.Bands)-1]
}

// mobilisation adds what bringing the machine to the building takes, at the
// margin of the group "mobilisation".
func (b *bill) mobilisation() error {
	trip := b.in.Order.Onsite
	if trip == nil {
		return nil
	}
	site := b.in.Shop.Onsite
	if b.total < site.MinimumFeet {
		return fault.Invalidf("order.onsite", "forming on site starts at %s ft; this order has %s ft", site.MinimumFeet.Feet(), b.total.Feet())
	}
	t := b.in.Shop.target(siteGroup, b.in.Order.Class)
	r, err := b.raise(t, t.Value)
	if err != nil {
		return err
	}
	h := b.hours[site.Center]
	round := trip.Miles.Mul(two)
	hours := round.Div(site.Mph)
	crew, truck, set := hours.Mul(h.labor), round.Mul(site.PerMile), site.SetupHours.Mul(h.full)
	costs := Costs{Work: crew.Add(set), Other: truck}
	price := r.price(costs.Total())
	a := money.Max(b.cents(price), b.cents(site.Minimum))
	b.least = b.least.Add(truck).Add(hours.Mul(h.crew)).Add(site.SetupHours.Mul(h.pocket))
	b.add(Line{Kind: TripLine, Label: "Mobilisation", Quantity: one, Unit: "trip", Price: a.Rate(), Amount: a, TaxClass: Mobilisation, Costs: costs,
		Build: node("mobilisation", how(t)+", at least the minimum", a.Rate(), unitMoney,
			leaf("minimum", site.Minimum, unitMoney), leaf(string(t.Goal), t.Value.Add(b.points), unitShare),
			node("cost", "sum", costs.Total(), unitMoney,
				node("crew on the road", "hours x labor", crew, unitMoney, leaf("hours", hours, "h"), leaf("labor", h.labor, unitHour)),
				node("truck", "miles both ways x rate", truck, unitMoney, leaf("miles", round, "mi"), leaf("rate", site.PerMile, "$/mi")),
				node("set-up on site", "hours x hour rate", set, unitMoney, leaf("hours", site.SetupHours, "h"), leaf("hour rate", h.full, unitHour))))})
	return nil
}

// FeetToSpread gives the least whole feet over which a charge stays at or under
// so much per foot, for saying when forming on site pays.
func FeetToSpread(charge money.Amount, perFoot money.Rate) (int64, error) {
	if perFoot.Sign() <= 0 || charge.Sign() < 0 {
		return 0, fault.Invalidf("per_foot", "write a charge and a rate per foot above zero")
	}
	n := charge.Rate().Div(perFoot)
	cents, err := n.Shorten(floorPlaces).Round("")
	if err != nil {
		return 0, err
	}
	whole := cents.Cents() / 100
	if n.Shorten(floorPlaces).Cmp(money.Int(whole)) > 0 {
		whole++
	}
	return whole, nil
}
