package web

import (
	"fmt"
	"strings"

	"ribdesk/internal/money"
	"ribdesk/internal/price"
)

// ratesForm ties a shop's rates to their form, down the page as one reads them:
// hours, targets, policy, packing and delivery, on site, tax.
func ratesForm(b *binder, s *price.Shop) {
	list := rows(b, "centers", "Machine hour", "Add a machine hour", &s.Centers, func(_ int, c *price.Center) { centerForm(b, c) })
	list.Title, list.Say = "What an hour costs", "One worked sum for each machine. The code is the machine's in the catalogue. Figures at the right follow when you press “Work it out” or keep the sheet."
	for i, row := range list.Parts {
		row.Fold, row.Open = true, i == 0
	}
	targetsForm(b, s)
	policyForm(b, &s.Policy)
	deliveryForm(b, s)
	onsiteForm(b, s)
	taxForm(b, &s.Tax)
	for _, p := range b.at.Parts[1:] {
		p.Fold = true
	}
}

func centerForm(b *binder, c *price.Center) {
	b.text(Field{Name: "id", Label: "Machine's code", Short: true}, &c.ID)
	b.text(Field{Name: "label", Label: "Name"}, &c.Label)
	dated := string(c.Dated)
	b.day(Field{Name: "dated", Label: "Figures looked at on", Short: true, Optional: true, Help: "Month/day/year."}, &dated)
	c.Dated = price.Day(dated)
	if b.reading {
		b.readHour(c)
	}
	b.part("Worked sum", func(*formPart) {
		// The terms first; the figures beside them are worked out of them.
		if c.Machine.Given != nil {
			givenHour(b, c.Machine.Given)
		} else {
			if c.Machine.Sheet == nil {
				c.Machine.Sheet = &price.HourSheet{}
			}
			workedHour(b, c.Machine.Sheet)
		}
		crew(b, c)
		b.at.figures(c)
	})
	if c.Label != "" {
		b.at.Title = c.Label
	}
	if hour, err := c.Worksheet(); err == nil {
		b.at.Brief = dollars(hour.Rate) + " an hour, " + dollars(hour.Pocket) + " of it only when it works"
	}
}

// readHour reads which way the machine's hour is made.
func (b *binder) readHour(c *price.Center) {
	if b.v.c.Request.PostFormValue(b.prefix+"how") == "given" {
		c.Machine = price.Machine{Given: &price.GivenHour{}}
		return
	}
	c.Machine = price.Machine{Sheet: &price.HourSheet{}}
}

func givenHour(b *binder, g *price.GivenHour) {
	b.hidden("how", "given")
	b.within("machine.given", func() {
		b.line(sumLine{Label: "Machine", How: "as given", Nodes: []string{"machine"}}, func() {
			b.rate(Field{Name: "rate", Label: "An hour of it", Unit: "$/h", Short: true}, &g.Rate)
			b.rate(Field{Name: "pocket", Label: "Of that, spent only when it runs", Unit: "$/h", Short: true, Optional: true}, &g.Pocket)
		})
	})
	b.at.Swap, b.at.SwapWord = b.prefix+"how=sheet", "Work the hour out instead"
}

// workedHour is the machine's hour as arithmetic down the page.
func workedHour(b *binder, s *price.HourSheet) {
	b.hidden("how", "sheet")
	b.at.Swap, b.at.SwapWord = b.prefix+"how=given", "Give the hour as one figure instead"
	money4 := func(name, label, unit string, at *money.Rate) {
		b.rate(Field{Name: name, Label: label, Unit: unit, Short: true, Optional: true}, at)
	}
	share := func(name, label string, at *money.Rate) {
		b.percent(Field{Name: name, Label: label, Short: true, Optional: true}, at)
	}
	b.within("machine.sheet", func() {
		b.line(sumLine{Label: "Capital", How: "(purchase − residual) × recovery factor + residual × interest", Nodes: []string{"capital", "depreciation"}}, func() {
			money4("purchase", "Purchase", "$", &s.Purchase)
			money4("residual", "Residual", "$", &s.Residual)
			share("interest", "Interest", &s.Interest)
			b.whole(Field{Name: "years", Label: "Over", Unit: "years", Short: true, Optional: true}, &s.Years)
			money4("life_hours", "Or over its life", "h", &s.LifeHours)
		})
		b.line(sumLine{Label: "Insurance, tax, shelter", How: "share × (purchase + residual) / 2, or a sum a year", Nodes: []string{"own", "insurance"}}, func() {
			share("own_share", "Share", &s.OwnShare)
			money4("insurance", "Or a year", "$", &s.Insurance)
		})
		b.line(sumLine{Label: "Standing charges", How: "rent, supervisor: sum × ÷, by the year"}, func() {
			charges(b, "yearly", "Standing charge", "Add a standing charge", &s.Yearly)
		})
		b.line(sumLine{Label: "÷ hours run in a year", How: "hours run, not hours open", Nodes: []string{"ownership"}}, func() {
			money4("annual_hours", "Hours", "h", &s.AnnualHours)
		})
		b.line(sumLine{Label: "Repair", How: "share of the purchase a year, or a sum a year, ÷ hours", Nodes: []string{"repair"}}, func() {
			share("repair_share", "Share", &s.RepairShare)
			money4("repair", "Or a year", "$", &s.Repair)
			money4("repair_life", "Or factor over its life", "×", &s.RepairLife)
		})
		b.line(sumLine{Label: "Fuel", How: "gallons an hour × price", Nodes: []string{"fuel"}}, func() {
			money4("fuel", "Gallons", "gal/h", &s.Fuel)
			money4("fuel_each", "Price", "$/gal", &s.FuelEach)
		})
		b.line(sumLine{Label: "Lubricant", How: "share of fuel", Nodes: []string{"lubricant"}}, func() { share("lubricant", "Share", &s.Lubricant) })
		b.line(sumLine{Label: "Power", How: "kilowatts × price", Nodes: []string{"power"}}, func() {
			money4("power", "Draws", "kW", &s.Power)
			money4("power_each", "Price", "$/kWh", &s.PowerEach)
		})
		b.line(sumLine{Label: "Running charges", How: "water, tooling: only when it runs"}, func() {
			charges(b, "hourly", "Running charge", "Add a running charge", &s.Hourly)
		})
		b.line(sumLine{Label: "Machine", Nodes: []string{"machine"}, Sum: true}, func() {})
	})
}

// charges are a list of further sums; they stand below the worked sum.
func charges(b *binder, name, title, word string, list *[]price.Charge) {
	rows(b, name, title, word, list, func(_ int, c *price.Charge) {
		b.text(Field{Name: "label", Label: "What for"}, &c.Label)
		b.rate(Field{Name: "rate", Label: "Sum", Unit: "$", Short: true}, &c.Rate)
		b.rate(Field{Name: "times", Label: "×", Short: true, Optional: true, Help: "12 for what is paid by the month."}, &c.Times)
		b.rate(Field{Name: "over", Label: "÷", Short: true, Optional: true, Help: "How many machines share it."}, &c.Over)
	})
}

func crew(b *binder, c *price.Center) {
	b.line(sumLine{Label: "Labor", How: "wages × (1 + burden)", Nodes: []string{"labor"}}, func() {
		b.percent(Field{Name: "burden", Label: "Burden", Short: true, Optional: true, Help: "Taxes, insurance, paid time off."}, &c.Burden)
		rows(b, "crew", "Hand", "Add a hand", &c.Crew, func(_ int, w *price.Wage) {
			b.text(Field{Name: "label", Label: "Who", Short: true}, &w.Label)
			b.rate(Field{Name: "hourly", Label: "Wage", Unit: "$/h", Short: true}, &w.Hourly)
			b.whole(Field{Name: "count", Label: "How many", Short: true, Optional: true}, &w.Count)
		})
	})
	b.line(sumLine{Label: "The hour", How: "machine + labor", Nodes: []string{"hour"}, Sum: true}, func() {})
	b.line(sumLine{Label: "Of that, spent only when it works", How: "what the floor counts", Nodes: []string{"out of pocket"}}, func() {
		b.tick(Field{Name: "paid_idle", Label: "The crew is paid whether it works or not"}, &c.PaidIdle)
	})
	b.line(sumLine{Label: "Overhead on top", How: "a machine hour"}, func() {
		b.rate(Field{Name: "overhead", Label: "Overhead", Unit: "$/h", Short: true, Optional: true}, &c.Overhead)
	})
}

// figures puts the worked-out figure beside each line of the sum; none while
// the terms don't make one.
func (p *formPart) figures(c *price.Center) {
	hour, err := c.Worksheet()
	if err != nil {
		return
	}
	for i := range p.Sum {
		l := &p.Sum[i]
		var sum money.Rate
		unit := ""
		for _, label := range l.Nodes {
			n := hour.Build.Find(label)
			if label == "hour" {
				n = hour.Build
			}
			if n != nil {
				sum, unit = sum.Add(n.Value), n.Unit
			}
		}
		if unit != "" {
			l.Figure, l.Unit = dollars(sum), strings.TrimPrefix(unit, "$")
		}
	}
}

// dollars writes a rate of money with 4 decimals below 1,000 and 2 above, as a
// worked sum has it.
func dollars(r money.Rate) string {
	if r.Cmp(money.Int(1000)) >= 0 {
		if a, err := r.Round(money.USD); err == nil {
			return a.Format()
		}
	}
	return "$" + r.Fixed(4)
}

func targetsForm(b *binder, s *price.Shop) {
	list := rows(b, "targets", "Target", "Add a target", &s.Targets, func(_ int, t *price.Target) {
		b.text(Field{Name: "group", Label: "Product group", Short: true, Optional: true, Help: "panel, gutter, downspout, trim, accessory, packing, set-ups, mobilisation"}, &t.Group)
		b.text(Field{Name: "class", Label: "Customer class", Short: true, Optional: true, Help: "trade, walk-in"}, &t.Class)
		choose(b, Field{Name: "goal", Label: "Earns, as a", Short: true, Options: []Option{{string(price.Margin), "margin"}, {string(price.Markup), "markup"}}, Help: "A margin is a share of the price, a markup of the cost."}, &t.Goal)
		b.percent(Field{Name: "value", Label: "Of", Short: true, Help: markupHelp(*t)}, &t.Value)
		rows(b, "steps", "Break", "Add a quantity break", &t.Steps, func(_ int, st *price.Step) {
			b.rate(Field{Name: "beyond", Label: "Beyond", Unit: "ft", Short: true, Help: "Or pieces. It holds for what lies beyond only."}, &st.Beyond)
			b.percent(Field{Name: "value", Label: "Earns", Short: true}, &st.Value)
		})
	})
	list.Title, list.Brief = "What it is to earn", fmt.Sprintf("%d targets", len(s.Targets))
	list.Say = "The most exact target counts: group and class, then group, then class, then the one with neither, which must be there."
}

// markupHelp says a margin as a markup and the other way, so that nobody takes
// one for the other.
func markupHelp(t price.Target) string {
	if t.Goal == price.Markup {
		if m, err := price.MarginOf(t.Value); err == nil {
			return "A margin of " + m.Mul(money.Int(100)).Fixed(2) + " % of the price."
		}
	}
	if m, err := price.MarkupOf(t.Value); err == nil && t.Goal == price.Margin {
		return "A markup of " + m.Mul(money.Int(100)).Fixed(2) + " % on the cost."
	}
	return ""
}

func policyForm(b *binder, p *price.Policy) {
	b.part("Policy", func(*formPart) {
		b.within("policy", func() {
			b.rate(Field{Name: "minimum", Label: "Smallest order in goods", Unit: "$", Short: true, Optional: true}, &p.Minimum)
			b.percent(Field{Name: "rush", Label: "Rush adds", Short: true, Optional: true}, &p.Rush)
			b.percent(Field{Name: "deposit", Label: "Deposit", Short: true, Optional: true}, &p.Deposit)
			b.whole(Field{Name: "unit_places", Label: "Decimals of a unit price", Short: true, Optional: true, Help: "2 to 4; 2 when empty."}, &p.UnitPlaces)
			b.percent(Field{Name: "payment_share", Label: "Being paid costs", Short: true, Optional: true, Help: "Card and bank, of the price."}, &p.PaymentShare)
			b.whole(Field{Name: "payment_days", Label: "Days of credit", Unit: "days", Short: true, Optional: true}, &p.PaymentDays)
			b.percent(Field{Name: "payment_interest", Label: "Interest on them, a year", Short: true, Optional: true}, &p.PaymentInterest)
			b.whole(Field{Name: "stale_days", Label: "Warn of a cost older than", Unit: "days", Short: true, Optional: true, Help: "90 when empty."}, &p.StaleDays)
			b.tick(Field{Name: "setup_line", Label: "Set-ups on lines of their own, not in the price per foot"}, &p.SetupLine)
			b.tick(Field{Name: "minimum_setups", Label: "An order pays its set-ups with their margin at least"}, &p.MinimumSetups)
			choose(b, Field{Name: "on_cancel", Label: "When an order that shares a set-up is cancelled", Optional: true, Options: []Option{
				{string(price.ShopCarries), "the others' prices hold; the shop carries the rest"}, {string(price.Requote), "the others may be quoted anew, and their quotes say so"}}}, &p.OnCancel)
		})
	})
}

func deliveryForm(b *binder, s *price.Shop) {
	b.part("Packing and delivery", func(*formPart) {
		b.rate(Field{Name: "bundle", Label: "Packing a bundle costs", Unit: "$", Short: true, Optional: true}, &s.Bundle)
		on := s.Delivery != nil
		b.tick(Field{Name: "delivers", Label: "The shop delivers"}, &on)
		d := s.Delivery
		if d == nil {
			d = &price.Tariff{}
		}
		b.within("delivery", func() {
			b.rate(Field{Name: "base", Label: "Base", Unit: "$", Short: true, Optional: true}, &d.Base)
			b.rate(Field{Name: "included", Label: "Miles included", Unit: "mi", Short: true, Optional: true}, &d.Included)
			b.rate(Field{Name: "per_mile", Label: "A mile beyond", Unit: "$/mi", Short: true, Optional: true}, &d.PerMile)
			rows(b, "bands", "Distance band", "Add a distance band", &d.Bands, func(_ int, x *price.Band) {
				b.rate(Field{Name: "up_to", Label: "Up to", Unit: "mi", Short: true}, &x.UpTo)
				b.rate(Field{Name: "charge", Label: "Instead of the base", Unit: "$", Short: true}, &x.Charge)
			})
			rows(b, "weights", "Weight step", "Add a weight step", &d.Weights, func(_ int, x *price.WeightStep) {
				b.rate(Field{Name: "over", Label: "Over", Unit: "lb", Short: true}, &x.Over)
				b.rate(Field{Name: "add", Label: "Adds", Unit: "$", Short: true}, &x.Add)
			})
			rows(b, "lengths", "Length step", "Add a length step", &d.Lengths, func(_ int, x *price.LengthStep) {
				b.length(Field{Name: "over", Label: "Pieces longer than", Short: true}, &x.Over)
				b.rate(Field{Name: "add", Label: "Add", Unit: "$", Short: true}, &x.Add)
			})
		})
		if s.Delivery = nil; on {
			s.Delivery = d
		}
	})
}

func onsiteForm(b *binder, s *price.Shop) {
	b.part("Forming on site", func(*formPart) {
		on := s.Onsite != nil
		b.tick(Field{Name: "forms_onsite", Label: "The shop forms on site"}, &on)
		o := s.Onsite
		if o == nil {
			o = &price.Onsite{}
		}
		b.within("onsite", func() {
			b.text(Field{Name: "center", Label: "Machine that goes", Short: true, Optional: !on}, &o.Center)
			b.rate(Field{Name: "mph", Label: "Road speed", Unit: "mph", Short: true, Optional: !on}, &o.Mph)
			b.rate(Field{Name: "per_mile", Label: "Truck and trailer", Unit: "$/mi", Short: true, Optional: true}, &o.PerMile)
			b.rate(Field{Name: "setup_hours", Label: "Setting up there", Unit: "h", Short: true, Optional: true}, &o.SetupHours)
			b.rate(Field{Name: "minimum", Label: "Smallest mobilisation", Unit: "$", Short: true, Optional: true}, &o.Minimum)
			b.length(Field{Name: "minimum_feet", Label: "Least run", Short: true, Optional: true, Help: "Less isn't worth the trip."}, &o.MinimumFeet)
		})
		if s.Onsite = nil; on {
			s.Onsite = o
		}
	})
}

func taxForm(b *binder, t *price.Tax) {
	b.part("Tax", func(p *formPart) {
		p.Say = "Which rates, classes and delivery rules hold is for the states to say. A resale certificate on the customer's file takes the tax off and is printed."
		b.within("tax", func() {
			choose(b, Field{Name: "basis", Label: "Computed on", Optional: true, Short: true, Options: []Option{{string(price.PerDocument), "the whole document"}, {string(price.PerItem), "each line"}}, Help: "Keep to one through a reporting period."}, &t.Basis)
			rows(b, "jurisdictions", "Jurisdiction", "Add a jurisdiction", &t.Jurisdictions, func(_ int, j *price.Jurisdiction) {
				b.text(Field{Name: "id", Label: "Code", Short: true}, &j.ID)
				b.text(Field{Name: "label", Label: "Name"}, &j.Label)
				b.text(Field{Name: "state", Label: "State", Short: true}, &j.State)
				b.percent(Field{Name: "rate", Label: "Rate", Short: true}, &j.Rate)
				b.words(Field{Name: "classes", Label: "Taxes", Help: "With commas between: goods, mobilisation."}, &j.Classes)
				choose(b, Field{Name: "delivery", Label: "Delivery", Optional: true, Options: []Option{
					{"", "untaxed"}, {string(price.DeliveryTaxed), "taxed"}, {string(price.DeliveryAsGoods), "as the goods are"}}}, &j.Delivery)
			})
		})
	})
}
