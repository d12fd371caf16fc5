package price

import (
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"ribdesk/internal/fault"
	"ribdesk/internal/money"
)

// WhatIf prices an input with other metal prices, hours or margins. Prices that
// a person set by hand stay as they are; only their cost moves.
func WhatIf(in Input, ch Changes) (Quote, error) {
	in.WhatIf = &ch
	return Price(in)
}

// Check refuses a change that can't be tried, at coil, hour or margin.
func (w Changes) Check() error {
	f := &form{}
	w.check(f)
	return f.Err()
}

// Outcome is what one of many inputs comes to, before tax.
type Outcome struct {
	Alone  money.Amount
	Shared money.Amount // as Alone where there is nobody to share with
	Floor  money.Amount // of Alone
	Below  bool         // either is below its floor
	Err    error        // why it can't be priced
}

// Reprice prices many inputs with the same changes, as open quotes are when an
// owner tries a coil price, on every core. Outcomes stand in the inputs' order.
func Reprice(ins []Input, ch Changes) []Outcome {
	outcomes := make([]Outcome, len(ins))
	var next atomic.Int64
	var wg sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(ins)) {
		wg.Go(func() {
			for i := next.Add(1) - 1; i < int64(len(ins)); i = next.Add(1) - 1 {
				outcomes[i] = outcome(ins[i], ch)
			}
		})
	}
	wg.Wait()
	return outcomes
}

func outcome(in Input, ch Changes) Outcome {
	q, err := WhatIf(in, ch)
	if err != nil {
		return Outcome{Err: err}
	}
	o := Outcome{Alone: q.Alone.Subtotal, Shared: q.Alone.Subtotal, Floor: q.Alone.Floor.Least, Below: q.Alone.Floor.Below}
	if q.Shared != nil {
		o.Shared = q.Shared.Subtotal
		o.Below = o.Below || q.Shared.Floor.Below
	}
	return o
}

// Effect is what one change does to a quote's totals.
type Effect struct {
	Name   string       `json:"name"` // coil, hour or margin
	Down   money.Amount `json:"down"` // the change of the total when it falls by the step
	Up     money.Amount `json:"up"`   // and when it rises
	Step   money.Rate   `json:"step"` // .10 of a price, .02 points of a margin
	Shared bool         `json:"shared"`
}

// Sensitivity gives how the total before tax moves when metal or hours cost a
// tenth more or less, and with two points of margin; largest effect first.
func Sensitivity(in Input) ([]Effect, error) {
	base, err := Price(in)
	if err != nil {
		return nil, err
	}
	tenth, points := money.Must(".1"), money.Must(".02")
	tries := []struct {
		name string
		step money.Rate
		at   func(r money.Rate) Changes
	}{
		{"coil", tenth, func(r money.Rate) Changes { f := one.Add(r); return Changes{Coil: &f} }},
		{"hour", tenth, func(r money.Rate) Changes { f := one.Add(r); return Changes{Hour: &f} }},
		{"margin", points, func(r money.Rate) Changes { return Changes{Margin: r} }},
	}
	var effects []Effect
	for _, try := range tries {
		down, err := WhatIf(in, try.at(try.step.Neg()))
		if err != nil {
			return nil, err
		}
		up, err := WhatIf(in, try.at(try.step))
		if err != nil {
			return nil, err
		}
		effects = append(effects, Effect{Name: try.name, Step: try.step,
			Down: down.Alone.Subtotal.Sub(base.Alone.Subtotal), Up: up.Alone.Subtotal.Sub(base.Alone.Subtotal)})
		if base.Shared != nil {
			effects = append(effects, Effect{Name: try.name, Step: try.step, Shared: true,
				Down: down.Shared.Subtotal.Sub(base.Shared.Subtotal), Up: up.Shared.Subtotal.Sub(base.Shared.Subtotal)})
		}
	}
	slices.SortStableFunc(effects, func(a, b Effect) int { return b.Up.Cmp(a.Up) })
	return effects, nil
}

// BreakEven asks how many feet a month a machine must sell to pay for itself.
type BreakEven struct {
	FixedMonth money.Rate `json:"fixed_month"`         // what is paid whether it runs or not
	Price      money.Rate `json:"price"`               // per foot sold
	Variable   money.Rate `json:"variable"`            // spent per foot
	OwnFeet    money.Rate `json:"own_feet,omitzero"`   // a month, on the shop's own jobs
	OwnSaving  money.Rate `json:"own_saving,omitzero"` // per foot, against buying the panel
}

// BreakEvenPoint is the answer.
type BreakEvenPoint struct {
	Ratio money.Rate `json:"ratio"` // contribution as a share of the price
	Own   money.Rate `json:"own"`   // of the fixed cost, what own jobs pay
	Feet  money.Rate `json:"feet"`  // to sell outside, a month
	Sales money.Rate `json:"sales"` // what they come to
}

// Point gives the feet to sell outside: (fixed - own feet x saving) / (price -
// variable), none when own jobs pay for the machine.
func (b BreakEven) Point() (BreakEvenPoint, error) {
	f := &form{}
	f.above("price", b.Price, maxMoney)
	f.money("fixed_month", b.FixedMonth)
	f.money("variable", b.Variable)
	f.figure("own_feet", b.OwnFeet)
	f.money("own_saving", b.OwnSaving)
	if len(f.List) == 0 && b.Price.Cmp(b.Variable) <= 0 {
		f.bad("price", "a foot sold at %s that costs %s never pays for the machine", b.Price, b.Variable)
	}
	if err := f.Err(); err != nil {
		return BreakEvenPoint{}, err
	}
	each := b.Price.Sub(b.Variable)
	p := BreakEvenPoint{Ratio: shown(each.Div(b.Price)), Own: b.OwnFeet.Mul(b.OwnSaving)}
	if left := b.FixedMonth.Sub(p.Own); left.Sign() > 0 {
		p.Feet = shown(left.Div(each))
		p.Sales = shown(left.Mul(b.Price).Div(each))
	}
	return p, nil
}

// BreakEvenFor fills a BreakEven from an order taken as typical: the center's
// ownership and overhead a month, its price and its marginal cost per foot. Both
// hold the set-ups, also where they are sold on lines of their own.
func BreakEvenFor(in Input, center string) (BreakEven, error) {
	in.Shop.Policy.SetupLine = false
	q, err := Price(in)
	if err != nil {
		return BreakEven{}, err
	}
	i := slices.IndexFunc(in.Shop.Centers, func(c Center) bool { return c.ID == center })
	if i < 0 {
		return BreakEven{}, fault.Invalidf("center", "there is no center “%s” in this input", center)
	}
	c := in.Shop.Centers[i]
	if c.Machine.Sheet == nil {
		return BreakEven{}, fault.Invalidf(place("shop.centers", i)+".machine.sheet", "the monthly cost comes from the worksheet of the machine; fill it in")
	}
	var sold, ft money.Rate
	for _, item := range in.Order.Items {
		if item.Formed == nil || item.Formed.Center != center {
			continue
		}
		for _, l := range q.Alone.Lines {
			if l.Item != item.ID {
				continue
			}
			sold = sold.Add(l.Amount.Rate())
			if l.Kind == CutLine {
				ft = ft.Add(l.Quantity)
			}
		}
	}
	if ft.IsZero() {
		return BreakEven{}, fault.Invalidf("center", "the order runs nothing on “%s”", c.Label)
	}
	sold = sold.Mul(one.Sub(in.Order.Discount))
	k := slices.IndexFunc(q.Alone.Contributions, func(e Contribution) bool { return e.Center == center })
	fixed, err := c.fixedMonth()
	if err != nil {
		return BreakEven{}, err
	}
	return BreakEven{FixedMonth: shown(fixed), Price: shown(sold.Div(ft)), Variable: shown(sold.Sub(q.Alone.Contributions[k].Earned).Div(ft))}, nil
}

// fixedMonth gives ownership and overhead, and the crew that is paid idle, for
// a month of the year's hours.
func (c Center) fixedMonth() (money.Rate, error) {
	own, err := c.Machine.Sheet.ownership()
	if err != nil {
		return money.Rate{}, err
	}
	hourly := own.Value.Add(c.Overhead)
	if c.PaidIdle {
		hourly = hourly.Add(c.labor().Value)
	}
	return hourly.Mul(c.Machine.Sheet.AnnualHours).Div(twelve), nil
}
