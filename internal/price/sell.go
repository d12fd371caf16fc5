package price

import (
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
)

// places gives the decimals of a unit price.
func (c *calc) places() int32 {
	if n := c.in.Shop.Policy.UnitPlaces; n > 0 {
		return int32(n)
	}
	return 2
}

func how(t Target) string {
	if t.Goal == Markup {
		return "cost x (1 + markup) / (1 - payment)"
	}
	return "cost / (1 - margin - payment)"
}

// priceNode is the build-up of a line that is a quantity at a unit price.
func (c *calc) priceNode(label, rule string, a money.Amount, quantity money.Rate, unit string, price money.Rate, t Target, value money.Rate, cost *Node) *Node {
	up := node("unit price", how(t)+" / quantity, rounded", price, unitMoney+"/"+unit, leaf(string(t.Goal), value.Add(c.points), unitShare))
	if !c.payment.IsZero() {
		up.Parts = append(up.Parts, leaf("payment", c.payment, unitShare))
	}
	up.Parts = append(up.Parts, cost)
	return node(label, rule, a.Rate(), unitMoney, leaf("quantity", quantity, unit), up)
}

// sell adds the lines of an item at its unit price and its breaks.
func (b *bill) sell(j *job, costs Costs, build *Node) error {
	t := b.in.Shop.target(j.item.Group, b.in.Order.Class)
	r, err := b.raise(t, t.Value)
	if err != nil {
		return err
	}
	switch {
	case j.item.Unit != nil:
		byHand := node("unit price", "set by hand", *j.item.Unit, unitMoney+"/"+j.unit, build)
		b.cutLines(j, costs, *j.item.Unit, func(label string, a money.Amount, quantity money.Rate) *Node {
			return node(label, "quantity x unit price", a.Rate(), unitMoney, leaf("quantity", quantity, j.unit), byHand)
		})
		return nil
	case b.in.Shop.Policy.SetupLine && j.item.Formed != nil:
		return b.sellByPiece(j, t, r)
	}
	unit := r.perUnit(costs.Total(), j.quantity).Shorten(b.places())
	b.cutLines(j, costs, unit, func(label string, a money.Amount, quantity money.Rate) *Node {
		return b.priceNode(label, "quantity x unit price", a, quantity, j.unit, unit, t, t.Value, build)
	})
	return b.breaks(j, t, unit, costs.Total())
}

// cutLines adds a line per cut, or one line for a trim or an accessory, at one
// unit price.
func (b *bill) cutLines(j *job, costs Costs, unit money.Rate, explain func(string, money.Amount, money.Rate) *Node) {
	if j.item.Formed == nil {
		a := b.cents(j.at(unit))
		b.add(Line{Kind: PieceLine, Item: j.item.ID, Label: j.item.Label, Pieces: j.pieces(), Length: j.pieceLength(), Quantity: j.quantity,
			Unit: j.unit, Price: unit, Amount: a, TaxClass: j.item.TaxClass, Costs: costs, Build: explain(j.item.Label, a, j.quantity)})
		return
	}
	for _, p := range j.cuts {
		quantity := feet(p.length)
		a := b.cents(along(p.length, unit))
		share := costs
		if p.length != j.length {
			share = costs.times(quantity.Div(j.quantity))
		}
		l := j.line(p, unit, a)
		l.Costs, l.Build = share, explain(l.Label, a, quantity)
		b.add(l)
	}
}

// at gives what the whole item comes to at a unit price.
func (j *job) at(unit money.Rate) money.Rate {
	if j.item.Formed != nil {
		return along(j.length, unit)
	}
	return unit.Mul(j.quantity)
}

func (j *job) line(p piece, unit money.Rate, a money.Amount) Line {
	label := p.cut.Label
	if label == "" {
		label = j.item.Label
	}
	return Line{Kind: CutLine, Item: j.item.ID, Cut: p.cut.ID, Label: label, Pieces: p.cut.Pieces, Length: p.cut.Length,
		Quantity: feet(p.length), Unit: j.unit, Price: unit, Amount: a, TaxClass: j.item.TaxClass}
}

func (j *job) pieces() int {
	if j.item.Trim != nil {
		return j.item.Trim.Pieces
	}
	return j.item.Bought.Pieces
}

func (j *job) pieceLength() measure.Length {
	if j.item.Trim != nil {
		return j.item.Trim.Length
	}
	return 0
}

// sellByPiece prices every cut by what a piece of it takes, whatever the
// quantity; the set-ups stand on lines of their own.
func (b *bill) sellByPiece(j *job, t Target, r raise) error {
	rate := j.hour
	for _, p := range j.cuts {
		quantity := feet(p.length)
		costs := Costs{Metal: p.metal, Work: minutes(p.minutes, rate.full), Overhead: minutes(p.minutes, rate.overhead)}
		unit := r.perUnit(costs.Total(), quantity).Shorten(b.places())
		a := b.cents(along(p.length, unit))
		l := j.line(p, unit, a)
		l.Costs = costs
		l.Build = b.priceNode(l.Label, "quantity x unit price", a, quantity, j.unit, unit, t, t.Value, node("cost", "sum", costs.Total(), unitMoney,
			leaf("metal", costs.Metal, unitMoney),
			node("run", "minutes x hour rate / 60", costs.Work, unitMoney, leaf("run time", p.minutes, unitMin), leaf("hour rate", rate.full, unitHour)),
			leaf("overhead", costs.Overhead, unitMoney)))
		b.add(l)
	}
	runs := Costs{Metal: j.metal, Work: j.run, Overhead: minutes(j.minutes, rate.overhead)}.Total()
	return b.breaks(j, t, r.perUnit(runs, j.quantity).Shorten(b.places()), runs)
}

// setups adds a line for each set-up where the shop sells them apart, at the
// target of the group "set-ups".
func (b *bill) setups() error {
	if !b.in.Shop.Policy.SetupLine {
		return nil
	}
	t := b.in.Shop.target(setupGroup, b.in.Order.Class)
	r, err := b.raise(t, t.Value)
	if err != nil {
		return err
	}
	for _, ch := range b.changes {
		s := b.stakes[ch]
		costs := Costs{Setups: ch.cost.Mul(s.pays), Overhead: ch.overhead.Mul(s.pays)}
		a := b.cents(r.price(costs.Total()))
		b.least = b.least.Add(ch.pocket.Mul(s.causes))
		b.earn(ch.setup.Center, a, ch.pocket.Mul(s.pays), ch.minutes.Mul(s.pays))
		b.add(Line{Kind: SetupLine, Label: ch.setup.Label, Quantity: one, Unit: "each", Price: a.Rate(), Amount: a, Costs: costs,
			Build: b.priceNode(ch.setup.Label, "unit price", a, one, "each", a.Rate(), t, t.Value, node("cost", "part x (set-up + overhead)", costs.Total(), unitMoney,
				leaf("part", s.pays, unitShare), ch.build, leaf("overhead", ch.overhead, unitMoney)))})
	}
	return nil
}

// breaks takes off, for what lies beyond each step, the difference between the
// first unit price and the step's. Each is a line of its own, so that the cut
// list keeps one unit price and its order changes nothing.
func (b *bill) breaks(j *job, t Target, first, cost money.Rate) error {
	for i, s := range t.Steps {
		if j.quantity.Cmp(s.Beyond) <= 0 {
			break
		}
		end, last := j.quantity, true
		if i+1 < len(t.Steps) && t.Steps[i+1].Beyond.Cmp(end) < 0 {
			end, last = t.Steps[i+1].Beyond, false
		}
		r, err := b.raise(t, s.Value)
		if err != nil {
			return err
		}
		unit := r.perUnit(cost, j.quantity).Shorten(b.places())
		quantity, off := end.Sub(s.Beyond), unit.Sub(first)
		value := quantity.Mul(off)
		if last {
			value = j.at(off).Sub(s.Beyond.Mul(off))
		}
		a := b.cents(value)
		if a.IsZero() {
			continue
		}
		b.add(Line{Kind: BreakLine, Item: j.item.ID, Label: "Quantity break, " + j.item.Label, Quantity: quantity, Unit: j.unit, Price: off, Amount: a, TaxClass: j.item.TaxClass,
			Build: node("quantity break", "quantity beyond the step x (unit price there - first unit price)", a.Rate(), unitMoney, leaf("quantity", quantity, j.unit), leaf("beyond", s.Beyond, j.unit),
				leaf("unit price there", unit, unitMoney+"/"+j.unit), leaf("first unit price", first, unitMoney+"/"+j.unit), leaf(string(t.Goal), s.Value.Add(b.points), unitShare))})
	}
	return nil
}
