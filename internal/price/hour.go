package price

import (
	"ribdesk/internal/fault"
	"ribdesk/internal/money"
)

// powerPlaces bounds the digits of compound interest in rule set 1.
const powerPlaces = 30

// CapitalRecovery gives the factor i(1+i)^n / ((1+i)^n - 1) that turns a sum
// into n equal payments at interest i per period; 1/n at no interest. n must be
// 1 to 1,200 and i 0 or more.
func CapitalRecovery(i money.Rate, n int) (money.Rate, error) {
	switch {
	case n < 1 || n > 1200:
		return money.Rate{}, fault.Invalidf("years", "write 1 to 1,200 periods, not %d", n)
	case i.Sign() < 0 || i.Cmp(one) > 0:
		return money.Rate{}, fault.Invalidf("interest", "write interest as a share from 0 to 1, such as .08")
	case i.IsZero():
		return money.Fraction(1, int64(n)), nil
	}
	growth := one
	for range n {
		growth = growth.Mul(one.Add(i)).Shorten(powerPlaces)
	}
	if growth.Cmp(one) <= 0 {
		return money.Rate{}, fault.Invalidf("interest", "%s is too small to count; write 0", i)
	}
	return i.Mul(growth).Div(growth.Sub(one)), nil
}

// Total gives what the charge comes to.
func (c Charge) Total() money.Rate {
	v := c.Rate
	if !c.Times.IsZero() {
		v = v.Mul(c.Times)
	}
	if !c.Over.IsZero() {
		v = v.Div(c.Over)
	}
	return v
}

// hour is what an hour of a center costs, and the part of it that is spent only
// when the center works.
type hour struct {
	full, pocket, labor, overhead money.Rate
	crew                          money.Rate // labor, unless it is paid anyway
	build                         *Node
}

// minutes gives what so many minutes cost at a rate per hour.
func minutes(min, perHour money.Rate) money.Rate { return min.Mul(perHour).Div(sixty) }

// Hour is the worked sum of a center's hour.
type Hour struct {
	Center string     `json:"center"`
	Rate   money.Rate `json:"rate"`   // machine and labor
	Pocket money.Rate `json:"pocket"` // spent only when it runs
	Labor  money.Rate `json:"labor"`
	Build  *Node      `json:"build"`
}

// Worksheet gives the worked sum of a center's hour, for the page where it is
// edited.
func (c Center) Worksheet() (Hour, error) {
	f := &form{}
	c.check(f)
	if err := f.Err(); err != nil {
		return Hour{}, err
	}
	h, err := c.hour(one)
	if err != nil {
		return Hour{}, err
	}
	return Hour{Center: c.ID, Rate: shown(h.full), Pocket: shown(h.pocket), Labor: shown(h.labor), Build: h.build}, nil
}

func (c Center) hour(factor money.Rate) (hour, error) {
	machine, pocket, err := c.Machine.hour()
	if err != nil {
		return hour{}, err
	}
	labor := c.labor()
	h := hour{
		full:     machine.Value.Add(labor.Value).Mul(factor),
		pocket:   pocket.Mul(factor),
		labor:    labor.Value.Mul(factor),
		overhead: c.Overhead,
	}
	if !c.PaidIdle {
		h.crew = h.labor
		h.pocket = h.pocket.Add(h.crew)
	}
	parts := []*Node{machine, labor}
	how := "machine + labor"
	if factor.Cmp(one) != 0 {
		parts, how = append(parts, leaf("tried factor", factor, "x")), "(machine + labor) x tried factor"
	}
	h.build = node(c.Label+", hour", how, h.full, unitHour, append(parts, leaf("out of pocket", h.pocket, unitHour))...)
	return h, nil
}

func (c Center) labor() *Node {
	var s sheet
	for _, w := range c.Crew {
		v := w.Hourly
		if w.Count > 1 {
			v = v.Mul(money.Int(int64(w.Count)))
		}
		s.add(leaf(w.Label, v, unitHour))
	}
	s.parts = append(s.parts, leaf("burden", c.Burden, unitShare))
	return node("labor", "sum of wages x (1 + burden)", s.total.Mul(one.Add(c.Burden)), unitHour, s.parts...)
}

// hour gives the machine's rate and the part of it spent only when it runs.
func (m Machine) hour() (*Node, money.Rate, error) {
	switch {
	case m.Sheet != nil:
		return m.Sheet.hour()
	case m.Given != nil:
		return node("machine", "as given", m.Given.Rate, unitHour), m.Given.Pocket, nil
	}
	return leaf("machine", money.Rate{}, unitHour), money.Rate{}, nil
}

func (s *HourSheet) hour() (*Node, money.Rate, error) {
	own, err := s.ownership()
	if err != nil {
		return nil, money.Rate{}, err
	}
	var pocket sheet
	pocket.add(node("repair", "(share of purchase + per year) / annual hours", s.Purchase.Mul(s.RepairShare).Add(s.Repair).Div(s.AnnualHours), unitHour))
	if !s.RepairLife.IsZero() {
		pocket.add(node("repair over life", "purchase x factor / life hours", s.Purchase.Mul(s.RepairLife).Div(s.LifeHours), unitHour))
	}
	fuel := s.Fuel.Mul(s.FuelEach)
	pocket.add(node("fuel", "gallons an hour x price", fuel, unitHour))
	pocket.add(node("lubricant", "share of fuel", fuel.Mul(s.Lubricant), unitHour))
	pocket.add(node("power", "kilowatts x price", s.Power.Mul(s.PowerEach), unitHour))
	for _, c := range s.Hourly {
		pocket.add(node(c.Label, "rate x times / over", c.Total(), unitHour))
	}
	parts := append([]*Node{own}, pocket.parts...)
	return node("machine", "ownership + operating", own.Value.Add(pocket.total), unitHour, parts...), pocket.total, nil
}

// ownership is what the machine costs whether it runs or not, per hour run.
func (s *HourSheet) ownership() (*Node, error) {
	mean := s.Purchase.Add(s.Residual).Div(two)
	var year, hourly sheet
	if s.LifeHours.Sign() > 0 && s.Years == 0 {
		hourly.add(node("depreciation", "(purchase - residual) / life hours", s.Purchase.Sub(s.Residual).Div(s.LifeHours), unitHour))
		year.add(node("interest", "interest x (purchase + residual)/2", s.Interest.Mul(mean), unitYear))
	} else {
		crf, err := CapitalRecovery(s.Interest, s.Years)
		if err != nil {
			return nil, err
		}
		year.add(node("capital", "(purchase - residual) x recovery factor + residual x interest",
			s.Purchase.Sub(s.Residual).Mul(crf).Add(s.Residual.Mul(s.Interest)), unitYear,
			leaf("purchase", s.Purchase, unitMoney), leaf("residual", s.Residual, unitMoney),
			node("recovery factor", "i(1+i)^n / ((1+i)^n - 1)", crf, "",
				leaf("interest", s.Interest, unitShare), leaf("years", money.Int(int64(s.Years)), "years"))))
	}
	year.add(node("own", "share x (purchase + residual)/2", s.OwnShare.Mul(mean), unitYear))
	year.add(leaf("insurance", s.Insurance, unitYear))
	for _, c := range s.Yearly {
		year.add(node(c.Label, "rate x times / over", c.Total(), unitYear))
	}
	hourly.add(node("standing", "per year / annual hours", year.total.Div(s.AnnualHours), unitHour,
		append(year.parts, leaf("annual hours", s.AnnualHours, "h"))...))
	return hourly.node("ownership", unitHour), nil
}
