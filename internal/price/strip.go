package price

import (
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
)

// feet gives a length in feet to 24 places, for weights and for showing.
func feet(l measure.Length) money.Rate { return money.Fraction(int64(l), int64(measure.Foot)) }

// along gives what a length comes to at a rate per foot. It divides last, so
// that a whole number of cents and a half comes out as exactly that.
func along(l measure.Length, perFoot money.Rate) money.Rate {
	return perFoot.Mul(money.Int(int64(l))).Div(money.Int(int64(measure.Foot)))
}

// metal is what a foot of a stock's full width weighs and costs.
type metal struct {
	perFoot money.Rate // lb
	raw     money.Rate // landed, with damaged ends
	scrap   money.Rate // what a foot fetches as scrap
	cost    money.Rate // with planned ends
	build   *Node
}

// lead gives what a foot run in or out costs: landed less what it fetches.
func (m metal) lead() money.Rate { return m.raw.Sub(m.scrap) }

// PoundsPerSquareFoot gives 144 t density + coating/16 + paint.
func (s Stock) PoundsPerSquareFoot() money.Rate {
	return gross.Mul(s.Thickness).Mul(s.Density).Add(s.Coating.Div(sixteen)).Add(s.Paint)
}

// PoundsPerFoot gives what a foot of the full width weighs: as measured, else
// computed.
func (s Stock) PoundsPerFoot() money.Rate {
	if s.Measured.Sign() > 0 {
		return s.Measured
	}
	return along(s.Width, s.PoundsPerSquareFoot())
}

func (s Stock) weightNode(perFoot money.Rate) *Node {
	if s.Measured.Sign() > 0 {
		return node("weight", "as weighed", perFoot, "lb/ft")
	}
	return node("weight", "(144 x thickness x density + coating/16 + paint) x width/12", perFoot, "lb/ft",
		leaf("base metal", s.Thickness, "in"), leaf("density", s.Density, "lb/in3"), leaf("coating", s.Coating, "oz/ft2"),
		leaf("paint", s.Paint, "lb/ft2"), leaf("width", feet(s.Width).Mul(twelve), "in"))
}

// bought gives the feet bought and whether they are known.
func (s Stock) bought(perFoot money.Rate) (ft money.Rate, known bool) {
	switch {
	case s.Sheet > 0:
		return feet(s.Sheet), true
	case s.Feet > 0:
		return feet(s.Feet), true
	case s.Weight.Sign() > 0:
		return s.Weight.Div(perFoot), true
	}
	return money.Rate{}, false
}

// landed gives what a price comes to per foot.
func landed(price money.Rate, per Per, perFoot, bought money.Rate) money.Rate {
	switch per {
	case PerPound:
		return price.Mul(perFoot)
	case PerCoil, PerSheet:
		return price.Div(bought)
	}
	return price
}

func (s Stock) metal(factor money.Rate) metal {
	m := metal{perFoot: s.PoundsPerFoot()}
	ft, known := s.bought(m.perFoot)
	freightPer := s.FreightPer
	if freightPer == "" {
		freightPer = s.Per
	}
	price := landed(s.Price.Mul(factor), s.Per, m.perFoot, ft)
	freight := landed(s.Freight, freightPer, m.perFoot, ft)
	m.scrap = s.Scrap.Mul(m.perFoot)
	m.raw = price.Add(freight)
	parts := []*Node{s.weightNode(m.perFoot), leaf("bought", price, unitFoot)}
	if freight.Sign() > 0 {
		parts = append(parts, leaf("freight", freight, unitFoot))
	}
	if known && s.Damaged > 0 {
		damaged := feet(s.Damaged)
		m.raw = m.raw.Mul(ft).Sub(m.scrap.Mul(damaged)).Div(ft.Sub(damaged))
		parts = append(parts, leaf("feet bought", ft, "ft"), leaf("damaged", damaged, "ft"))
	}
	parts = append(parts,
		node("landed", "((bought + freight) x feet - scrap x damaged) / (feet - damaged)", m.raw, unitFoot),
		leaf("scrap", m.scrap, unitFoot), leaf("planned ends", s.Loss, unitShare))
	m.cost = m.raw.Add(s.Loss.Mul(m.raw.Sub(m.scrap)))
	how := "landed + planned ends x (landed - scrap)"
	if !s.WriteDown.IsZero() {
		m.cost = m.cost.Mul(one.Sub(s.WriteDown))
		parts = append(parts, leaf("write-down", s.WriteDown, unitShare))
		how = "(landed + planned ends x (landed - scrap)) x (1 - write-down)"
	}
	m.build = node(s.Label+", strip", how, m.cost, unitFoot, parts...)
	return m
}

// Strip is what a foot of a stock costs, with its build-up.
type Strip struct {
	Stock  string     `json:"stock"`
	Pounds money.Rate `json:"pounds"` // lb per foot
	Landed money.Rate `json:"landed"`
	Cost   money.Rate `json:"cost"` // with planned ends
	Build  *Node      `json:"build"`
}

// Strip gives the cost of a foot of the stock, for the page where it is edited.
func (s Stock) Strip() (Strip, error) {
	if err := s.Check(); err != nil {
		return Strip{}, err
	}
	m := s.metal(one)
	return Strip{Stock: s.ID, Pounds: shown(m.perFoot), Landed: shown(m.raw), Cost: shown(m.cost), Build: m.build}, nil
}
