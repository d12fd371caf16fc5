package price

import (
	"slices"

	"ribdesk/internal/fault"
	"ribdesk/internal/money"
)

// floorPlaces cuts off the dust of divisions before a floor is rounded up.
const floorPlaces = 12

// Product groups of what an order holds besides items. Targets may name them.
const (
	packingGroup = "packing"
	setupGroup   = "set-ups"
	siteGroup    = "mobilisation"
)

// stake is an order's part of one set-up: what it pays of it, and what of it
// wouldn't be spent without this order.
type stake struct{ pays, causes money.Rate }

// alone is the stake of an order that carries every set-up itself.
func (c *calc) alone() []stake {
	s := make([]stake, len(c.changes))
	for i := range s {
		s[i] = stake{one, one}
	}
	return s
}

// bill is an offer in the making.
type bill struct {
	*calc
	offer  *Offer
	stakes map[*change]stake
	least  money.Rate // marginal cost so far
	earned map[string]*Contribution
}

// duty is an item's part of the set-ups.
type duty struct {
	cost, pocket, caused, overhead, minutes money.Rate
	parts                                   []*Node
}

func (c *calc) offer(stakes []stake) (*Offer, error) {
	b := &bill{calc: c, offer: &Offer{Weight: c.weight, Feet: c.total}, earned: map[string]*Contribution{}}
	b.stakes = make(map[*change]stake, len(stakes))
	for i, ch := range c.changes {
		b.stakes[ch] = stakes[i]
		b.offer.Setups = append(b.offer.Setups, SetupShare{Setup: ch.setup.ID, Label: ch.setup.Label,
			Cost: ch.cost, Part: stakes[i].pays, Value: ch.cost.Mul(stakes[i].pays), Build: ch.build})
	}
	for _, step := range []func() error{b.items, b.setups, b.packing, b.discount, b.minimum, b.rush, b.mobilisation, b.delivery} {
		if err := step(); err != nil {
			return nil, err
		}
	}
	b.totals()
	b.floor()
	b.contributions()
	b.offer.shorten()
	if c.err != nil {
		return nil, c.err
	}
	if b.offer.Total.Cents() > MaxCents {
		return nil, fault.Invalidf("order", "this comes to %s; orders over %s aren't priced here, check lengths and quantities",
			b.offer.Total.Format(), money.Cents(MaxCents, c.currency).Format())
	}
	return b.offer, nil
}

// cents makes an amount; the first that can't be made fails the offer.
func (c *calc) cents(r money.Rate) money.Amount {
	a, err := r.Round(c.currency)
	if err != nil && c.err == nil {
		c.err = err
	}
	return a
}

func (b *bill) add(l Line) {
	if l.TaxClass == "" {
		l.TaxClass = Goods
	}
	if l.Kind != HaulLine {
		l.Costs.Payment = l.Amount.Rate().Mul(b.payment)
	}
	b.offer.Lines = append(b.offer.Lines, l)
	b.offer.Subtotal = b.offer.Subtotal.Add(l.Amount)
	if l.Kind != TripLine && l.Kind != HaulLine {
		b.offer.Goods = b.offer.Goods.Add(l.Amount)
		b.offer.Cost = b.offer.Cost.Add(l.Costs.Total())
	}
}

// duty gives an item's part of the set-ups it needs: items of one order split
// a set-up by their run minutes, so that splitting an item changes nothing.
func (b *bill) duty(j *job) duty {
	var d duty
	if b.in.Shop.Policy.SetupLine {
		return d // set-ups are sold apart
	}
	for _, ch := range j.changes {
		s := b.stakes[ch]
		part := one
		if j.minutes.Cmp(ch.users) != 0 {
			part = j.minutes.Div(ch.users)
		}
		pays := s.pays.Mul(part)
		cost := ch.cost.Mul(pays)
		d.cost = d.cost.Add(cost)
		d.pocket = d.pocket.Add(ch.pocket.Mul(pays))
		d.caused = d.caused.Add(ch.pocket.Mul(s.causes).Mul(part))
		d.overhead = d.overhead.Add(ch.overhead.Mul(pays))
		d.minutes = d.minutes.Add(ch.minutes.Mul(pays))
		d.parts = append(d.parts, node(ch.setup.Label, "cost x part of this item", cost, unitMoney, leaf("part", pays, unitShare), ch.build))
	}
	return d
}

func (b *bill) items() error {
	for _, j := range b.jobs {
		if err := b.item(j, b.duty(j)); err != nil {
			return err
		}
	}
	return nil
}

// item adds an item's lines and books its marginal cost.
func (b *bill) item(j *job, d duty) error {
	overhead := minutes(j.minutes, j.hour.overhead)
	costs := Costs{Metal: j.metal, Work: j.run, Setups: d.cost, Overhead: overhead.Add(d.overhead)}
	parts := slices.Clone(j.parts)
	if len(d.parts) > 0 {
		parts = append(parts, node("set-ups", "sum", d.cost, unitMoney, d.parts...))
	}
	if costs.Overhead.Sign() > 0 {
		parts = append(parts, node("overhead", "rate x (run + set-up minutes) / 60", costs.Overhead, unitMoney,
			leaf("rate", j.hour.overhead, unitHour), leaf("minutes", j.minutes.Add(d.minutes), unitMin)))
	}
	build := node("cost", "sum", costs.Total(), unitMoney, parts...)
	before := len(b.offer.Lines)
	if err := b.sell(j, costs, build); err != nil {
		return err
	}
	sold := money.Amount{}
	for _, l := range b.offer.Lines[before:] {
		sold = sold.Add(l.Amount)
	}
	b.book(j, d, sold)
	return nil
}

// book keeps what the floor and the contribution are made of.
func (b *bill) book(j *job, d duty, sold money.Amount) {
	direct := j.metal.Add(j.pocket)
	least := direct.Add(d.caused)
	b.least = b.least.Add(least)
	if net := b.net(sold); net.Cmp(least.Div(one.Sub(b.payment)).Shorten(floorPlaces)) < 0 {
		b.offer.Floor.Items = append(b.offer.Floor.Items, j.item.ID)
	}
	if j.center == "" {
		return
	}
	b.earn(j.center, sold, direct.Add(d.pocket), j.minutes.Add(d.minutes))
}

// net gives what is sold after the order's discount.
func (b *bill) net(sold money.Amount) money.Rate {
	return sold.Rate().Mul(one.Sub(b.in.Order.Discount))
}

// earn books what a center's minutes brought in over what they cost.
func (b *bill) earn(center string, sold money.Amount, marginal, min money.Rate) {
	e := b.earned[center]
	if e == nil {
		e = &Contribution{Center: center}
		b.earned[center] = e
	}
	e.Earned = e.Earned.Add(b.net(sold).Mul(one.Sub(b.payment))).Sub(marginal)
	e.Hours = e.Hours.Add(min.Div(sixty))
}

// discount takes a share off the goods so far, on a line per tax class.
func (b *bill) discount() error {
	off := b.in.Order.Discount
	if off.IsZero() {
		return nil
	}
	var classes []string
	base := map[string]money.Amount{}
	for _, l := range b.offer.Lines {
		if _, seen := base[l.TaxClass]; !seen {
			classes = append(classes, l.TaxClass)
		}
		base[l.TaxClass] = base[l.TaxClass].Add(l.Amount)
	}
	for _, class := range classes {
		a := b.cents(base[class].Rate().Mul(off)).Neg()
		b.add(Line{Kind: DiscountLine, Label: "Discount", Quantity: one, Unit: "each", Price: a.Rate(), Amount: a, TaxClass: class,
			Build: node("discount", "goods x share", a.Rate(), unitMoney, leaf("goods", base[class].Rate(), unitMoney), leaf("share", off, unitShare))})
	}
	return nil
}

// packing adds the bundles.
func (b *bill) packing() error {
	n, cost := b.in.Order.Bundles, b.in.Shop.Bundle
	if n == 0 || cost.IsZero() {
		return nil
	}
	t := b.in.Shop.target(packingGroup, b.in.Order.Class)
	r, err := b.raise(t, t.Value)
	if err != nil {
		return err
	}
	count := money.Int(int64(n))
	total := cost.Mul(count)
	unit := r.price(cost).Shorten(b.places())
	a := b.cents(unit.Mul(count))
	b.least = b.least.Add(total)
	b.add(Line{Kind: PackingLine, Label: "Packing", Pieces: n, Quantity: count, Unit: "bundle", Price: unit, Amount: a, Costs: Costs{Other: total},
		Build: b.priceNode("packing", "bundles x unit price", a, count, "bundle", unit, t, t.Value, node("cost", "bundles x cost", total, unitMoney, leaf("bundles", count, ""), leaf("cost of a bundle", cost, unitMoney)))})
	return nil
}

// minimum adds the difference to the smallest order the shop takes.
func (b *bill) minimum() error {
	p := b.in.Shop.Policy
	least := b.cents(p.Minimum)
	parts := []*Node{leaf("smallest order", p.Minimum, unitMoney)}
	if p.MinimumSetups {
		t := b.in.Shop.target(setupGroup, b.in.Order.Class)
		r, err := b.raise(t, t.Value)
		if err != nil {
			return err
		}
		cost := money.Rate{}
		for _, s := range b.offer.Setups {
			cost = cost.Add(s.Value)
		}
		set := r.price(cost)
		least = money.Max(least, b.cents(set))
		parts = append(parts, node("set-ups at their price", how(t), set, unitMoney, leaf("set-ups", cost, unitMoney), leaf(string(t.Goal), t.Value.Add(b.points), unitShare)))
	}
	diff := least.Sub(b.offer.Goods)
	if diff.Sign() <= 0 {
		return nil
	}
	b.add(Line{Kind: MinimumLine, Label: "Minimum order", Quantity: one, Unit: "each", Price: diff.Rate(), Amount: diff,
		Build: node("minimum order", "larger of the two - goods", diff.Rate(), unitMoney, append(parts, leaf("goods", b.offer.Goods.Rate(), unitMoney))...)})
	return nil
}

// rush adds the surcharge of an order that jumps the line.
func (b *bill) rush() error {
	share := b.in.Shop.Policy.Rush
	if !b.in.Order.Rush || share.IsZero() {
		return nil
	}
	goods := b.offer.Goods.Rate()
	a := b.cents(goods.Mul(share))
	b.add(Line{Kind: RushLine, Label: "Rush", Quantity: one, Unit: "each", Price: a.Rate(), Amount: a,
		Build: node("rush", "goods x share", a.Rate(), unitMoney, leaf("goods", goods, unitMoney), leaf("share", share, unitShare))})
	return nil
}

func (b *bill) totals() {
	o := b.offer
	b.tax()
	o.Total = o.Subtotal.Add(o.Tax)
	o.Deposit = b.cents(o.Total.Rate().Mul(b.in.Shop.Policy.Deposit))
	o.Balance = o.Total.Sub(o.Deposit)
	if o.Goods.Sign() > 0 {
		goods := o.Goods.Rate()
		o.Margin = goods.Sub(o.Cost).Div(goods)
	}
}

// floor compares what the goods and the trip are sold for with what they cost
// an idle machine.
func (b *bill) floor() {
	o := b.offer
	f := &o.Floor
	f.Sold = o.Goods
	for _, l := range o.Lines {
		if l.Kind == TripLine {
			f.Sold = f.Sold.Add(l.Amount)
		}
	}
	least, err := b.least.Div(one.Sub(b.payment)).Shorten(floorPlaces).RoundUp(b.currency)
	if err != nil && b.err == nil {
		b.err = err
	}
	f.Least = least
	f.Below = f.Sold.Less(f.Least) || len(f.Items) > 0
	if f.Below {
		f.Override = b.in.Order.BelowFloor
	}
}

func (b *bill) contributions() {
	for _, center := range b.in.Shop.Centers {
		e := b.earned[center.ID]
		if e == nil {
			continue
		}
		if e.Hours.Sign() > 0 {
			e.PerHour = e.Earned.Div(e.Hours)
		}
		b.offer.Contributions = append(b.offer.Contributions, *e)
	}
}

// shorten cuts what is only shown to shownPlaces.
func (o *Offer) shorten() {
	for i := range o.Lines {
		l := &o.Lines[i]
		l.Quantity, l.Costs = shown(l.Quantity), l.Costs.shown()
	}
	for i := range o.Setups {
		s := &o.Setups[i]
		s.Cost, s.Part, s.Value = shown(s.Cost), shown(s.Part), shown(s.Value)
	}
	for i := range o.Contributions {
		e := &o.Contributions[i]
		e.Earned, e.Hours, e.PerHour = shown(e.Earned), shown(e.Hours), shown(e.PerHour)
	}
	o.Cost, o.Margin, o.Weight = shown(o.Cost), shown(o.Margin), shown(o.Weight)
}
