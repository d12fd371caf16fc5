package price

import "ribdesk/internal/money"

// Fall is one step from nothing to a price: it starts where the one before
// ended. Totals stand on the ground.
type Fall struct {
	Label string     `json:"label"`
	Value money.Rate `json:"value"`
	From  money.Rate `json:"from"`
	To    money.Rate `json:"to"`
	Total bool       `json:"total,omitempty"`
}

// falls collects steps.
type falls struct {
	steps []Fall
	at    money.Rate
}

func (f *falls) step(label string, v money.Rate) {
	if v.IsZero() {
		return
	}
	to := f.at.Add(v)
	f.steps = append(f.steps, Fall{Label: label, Value: v, From: f.at, To: to})
	f.at = to
}

func (f *falls) total(label string) {
	f.steps = append(f.steps, Fall{Label: label, Value: f.at, To: f.at, Total: true})
}

func (f *falls) costs(c Costs) {
	f.step("metal and parts", c.Metal)
	f.step("machine and labor", c.Work)
	f.step("set-ups", c.Setups)
	f.step("overhead", c.Overhead)
	f.step("packing and travel", c.Other)
	f.step("being paid", c.Payment)
	f.total("cost")
}

// Waterfall gives the steps from a line's cost to its amount. The margin is
// what is left, with what rounding gave or took.
func (l Line) Waterfall() []Fall {
	var f falls
	f.costs(l.Costs)
	f.step("margin", l.Amount.Rate().Sub(l.Costs.Total()))
	f.total("price")
	return f.steps
}

// Waterfall gives the steps from an offer's costs to its total: costs and margin
// of all lines but delivery, then delivery and tax.
func (o *Offer) Waterfall() []Fall {
	var f falls
	var costs Costs
	var sold, hauled money.Amount
	for _, l := range o.Lines {
		if l.Kind == HaulLine {
			hauled = hauled.Add(l.Amount)
			continue
		}
		costs, sold = costs.add(l.Costs), sold.Add(l.Amount)
	}
	f.costs(costs)
	f.step("margin", sold.Rate().Sub(costs.Total()))
	f.step("delivery", hauled.Rate())
	f.total("before tax")
	f.step("tax", o.Tax.Rate())
	f.total("total")
	return f.steps
}
