package price

import (
	"ribdesk/internal/money"
)

// sharing gives the order's stakes when it shares set-ups as Order.Sharing says.
func (c *calc) sharing() []stake {
	stakes := c.alone()
	sh := c.in.Order.Sharing
	for _, s := range sh.Setups {
		for i, ch := range c.changes {
			if ch.setup.ID != s.Setup {
				continue
			}
			pays := sh.Rule.part(ch, s.With)
			stakes[i] = stake{pays: pays, causes: pays}
			if s.Planned {
				stakes[i].causes = money.Rate{}
			}
		}
	}
	return stakes
}

// weight gives what a user of a set-up counts under the rule.
func (r ShareRule) weight(min, ft money.Rate) money.Rate {
	switch r {
	case ShareMinutes:
		return min
	case ShareFeet:
		return ft
	}
	return one
}

// part gives this order's part of a set-up that partners use too. An order
// whose weight is nothing beside partners whose weight is nothing pays alone.
func (r ShareRule) part(ch *change, with []Partner) money.Rate {
	own := r.weight(ch.weight, feet(ch.feet))
	sum := own
	for _, p := range with {
		sum = sum.Add(r.weight(p.Minutes, feet(p.Feet)))
	}
	if sum.IsZero() {
		return one
	}
	return own.Div(sum)
}
