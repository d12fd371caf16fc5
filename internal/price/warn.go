package price

import (
	"fmt"
	"time"

	"ribdesk/internal/money"
)

// Warning is a slip that people make often; the price stands all the same.
type Warning struct {
	Field string `json:"field"` // place in the input
	Text  string `json:"text"`
}

const staleDays = 90

// highMargin is where a margin looks like a markup typed into the wrong field
// (common practice, no published source).
var highMargin = money.Must("0.5")

// Warnings gives the slips in a shop's figures as they stand on a day, for the
// page where they are edited: a markup taken for a margin, and costs older than
// Policy.StaleDays.
func (s *Shop) Warnings(on Day) []Warning { return append(s.slips(), s.stale(on)...) }

func (c *calc) warnings() []Warning {
	ws := c.in.Shop.Warnings(c.in.Order.Day)
	for i, item := range c.in.Order.Items {
		if item.Bought != nil {
			ws = c.in.Shop.old(ws, c.in.Order.Day, place("order.items", i)+".bought.dated", item.Label, item.Bought.Dated)
		}
	}
	return ws
}

// slips gives the targets that look like a markup taken for a margin.
func (s *Shop) slips() []Warning {
	var ws []Warning
	for i, t := range s.Targets {
		field := place("shop.targets", i)
		switch {
		case t.Goal == Markup && t.Value.Sign() > 0:
			m := t.Value.Div(one.Add(t.Value))
			ws = append(ws, Warning{field, fmt.Sprintf("a markup of %s %% on cost is a margin of %s %% on the price; if %s %% is the margin you want, choose margin",
				t.Value.Percent(), m.Mul(hundred).Fixed(2), t.Value.Percent())})
		case t.Goal == Margin && t.Value.Cmp(highMargin) >= 0:
			k := t.Value.Div(one.Sub(t.Value))
			ws = append(ws, Warning{field, fmt.Sprintf("a margin of %s %% is a markup of %s %% on cost; if you meant a markup of %s %%, choose markup",
				t.Value.Percent(), k.Mul(hundred).Fixed(2), t.Value.Percent())})
		}
	}
	return ws
}

// stale gives the figures of the shop that nobody has looked at for long.
func (s *Shop) stale(on Day) (ws []Warning) {
	for i, st := range s.Stock {
		ws = s.old(ws, on, place("shop.stock", i)+".dated", st.Label, st.Dated)
	}
	for i, center := range s.Centers {
		ws = s.old(ws, on, place("shop.centers", i)+".dated", center.Label, center.Dated)
	}
	return ws
}

// old adds a warning when a cost is older than the shop allows.
func (s *Shop) old(ws []Warning, on Day, field, label string, dated Day) []Warning {
	limit := s.Policy.StaleDays
	if limit == 0 {
		limit = staleDays
	}
	if age, known := on.since(dated); known && age > limit {
		ws = append(ws, Warning{field, fmt.Sprintf("the cost of %s is of %s, %d days old; look whether it still holds", label, dated, age)})
	}
	return ws
}

// since gives the days from an earlier day, when both are known.
func (d Day) since(earlier Day) (days int, known bool) {
	to, err := time.Parse(time.DateOnly, string(d))
	from, err2 := time.Parse(time.DateOnly, string(earlier))
	if err != nil || err2 != nil {
		return 0, false
	}
	return int(to.Sub(from).Hours() / 24), true
}

func (d Day) valid() bool {
	_, err := time.Parse(time.DateOnly, string(d))
	return err == nil
}
