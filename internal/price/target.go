package price

import (
	"ribdesk/internal/fault"
	"ribdesk/internal/money"
)

// MarkupOf gives the markup on cost that earns a margin on price: m / (1 - m).
func MarkupOf(margin money.Rate) (money.Rate, error) {
	if margin.Cmp(one) >= 0 || margin.Sign() < 0 {
		return money.Rate{}, badMargin("margin", margin)
	}
	return margin.Div(one.Sub(margin)), nil
}

// MarginOf gives the margin on price that a markup on cost earns: k / (1 + k).
func MarginOf(markup money.Rate) (money.Rate, error) {
	if markup.Sign() < 0 {
		return money.Rate{}, fault.Invalidf("markup", "a markup can't be negative")
	}
	return markup.Div(one.Add(markup)), nil
}

func badMargin(field string, v money.Rate) *fault.Fault {
	if v.Sign() < 0 {
		return fault.Invalidf(field, "a margin can't be negative; to go below cost, set a price by hand")
	}
	return fault.Invalidf(field, "a margin of %s %% can't be earned on any price; write a share below 1, such as .28", v.Percent())
}

// target gives the most exact target for a group and class.
func (s *Shop) target(group, class string) Target {
	best, rank := Target{Goal: Margin}, -1
	for _, t := range s.Targets {
		if t.Group != "" && t.Group != group || t.Class != "" && t.Class != class {
			continue
		}
		r := 0
		if t.Group != "" {
			r += 2
		}
		if t.Class != "" {
			r++
		}
		if r > rank {
			best, rank = t, r
		}
	}
	return best
}

// raise turns cost into price for a goal. Both factors are kept apart so that
// a price is made by one division.
type raise struct{ up, down money.Rate }

func (r raise) price(cost money.Rate) money.Rate { return cost.Mul(r.up).Div(r.down) }

// perUnit gives the price of one of quantity units that cost so much together.
func (r raise) perUnit(cost, quantity money.Rate) money.Rate {
	return cost.Mul(r.up).Div(r.down.Mul(quantity))
}

// raise gives the way from cost to price at a target's value, after the points
// tried and with the payment cost, refusing what no price can earn.
func (c *calc) raise(t Target, value money.Rate) (raise, error) {
	value = value.Add(c.points)
	if value.Sign() < 0 { // points tried never take a target below zero
		value = money.Rate{}
	}
	if t.Goal == Markup {
		return raise{up: one.Add(value), down: one.Sub(c.payment)}, nil
	}
	down := one.Sub(value).Sub(c.payment)
	if down.Sign() <= 0 {
		return raise{}, badMargin("shop.targets", value.Add(c.payment))
	}
	return raise{up: one, down: down}, nil
}
