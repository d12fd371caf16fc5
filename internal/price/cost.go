package price

import (
	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
)

// weightPlaces is how run minutes are written down as weights among orders, so
// that what one order stores as its partner's is what that partner computes.
const weightPlaces = 9

// calc is one pricing under way: the input, what its shop's figures come to,
// and what the order costs before any question of sharing or price.
type calc struct {
	in       *Input
	currency money.Currency
	payment  money.Rate // cost of being paid, as a share of the price
	points   money.Rate // tried on every target
	hours    map[string]hour
	metals   map[string]metal
	stocks   map[string]*Stock
	jobs     []*job
	changes  []*change
	weight   money.Rate // lb
	longest  measure.Length
	total    measure.Length // formed
	err      error          // the first amount that couldn't be made
}

// job is one item of the order and what it costs apart from shared set-ups.
type job struct {
	item     *Item
	unit     string     // "ft" or "each"
	quantity money.Rate // in unit
	length   measure.Length
	hour     hour
	center   string
	minutes  money.Rate // run, with a set-up of its own
	metal    money.Rate
	run      money.Rate
	pocket   money.Rate // run at the out-of-pocket rate
	weight   money.Rate // lb
	parts    []*Node    // metal and run
	cuts     []piece
	changes  []*change
}

// piece is one cut of a formed item.
type piece struct {
	cut     *Cut
	length  measure.Length // all pieces together
	minutes money.Rate
	metal   money.Rate
}

// change is one set-up of the order.
type change struct {
	setup    *Setup
	cost     money.Rate
	pocket   money.Rate
	overhead money.Rate
	minutes  money.Rate
	users    money.Rate // run minutes of the items that need it
	weight   money.Rate // the same to weightPlaces, as a weight among orders
	feet     measure.Length
	build    *Node
}

func newCalc(in *Input) (*calc, error) {
	c := &calc{in: in, currency: in.Shop.Currency}
	if c.currency == "" {
		c.currency = money.USD
	}
	p := in.Shop.Policy
	c.payment = p.PaymentShare.Add(p.PaymentInterest.Mul(money.Fraction(int64(p.PaymentDays), 365)))
	coil, hourly := one, one
	if w := in.WhatIf; w != nil {
		c.points = w.Margin
		if w.Coil != nil {
			coil = *w.Coil
		}
		if w.Hour != nil {
			hourly = *w.Hour
		}
	}
	if err := c.readShop(coil, hourly); err != nil {
		return nil, err
	}
	return c, c.costOrder()
}

func (c *calc) readShop(coil, hourly money.Rate) error {
	s := &c.in.Shop
	c.hours = make(map[string]hour, len(s.Centers))
	for _, center := range s.Centers {
		h, err := center.hour(hourly)
		if err != nil {
			return err
		}
		c.hours[center.ID] = h
	}
	c.metals = make(map[string]metal, len(s.Stock))
	c.stocks = make(map[string]*Stock, len(s.Stock))
	for i := range s.Stock {
		c.stocks[s.Stock[i].ID] = &s.Stock[i]
		m := s.Stock[i].metal(coil)
		if m.scrap.Cmp(m.raw) > 0 {
			return fault.Invalidf(place("shop.stock", i)+".scrap", "scrap can't fetch more than the metal cost")
		}
		c.metals[s.Stock[i].ID] = m
	}
	return nil
}

func (c *calc) costOrder() error {
	o := &c.in.Order
	byID := make(map[string]*change, len(o.Setups))
	for i := range o.Setups {
		ch := c.change(&o.Setups[i])
		c.changes = append(c.changes, ch)
		byID[ch.setup.ID] = ch
	}
	for i := range o.Items {
		j, err := c.job(&o.Items[i])
		if err != nil {
			return at(place("order.items", i), err)
		}
		c.jobs = append(c.jobs, j)
		c.weight = c.weight.Add(j.weight)
		if j.item.Formed == nil {
			continue
		}
		c.total += j.length
		for _, id := range j.item.Formed.Setups {
			ch := byID[id]
			ch.users = ch.users.Add(j.minutes)
			ch.feet += j.length
			j.changes = append(j.changes, ch)
		}
	}
	for _, ch := range c.changes {
		ch.weight = ch.users.Shorten(weightPlaces)
	}
	return nil
}

func (c *calc) job(item *Item) (*job, error) {
	switch {
	case item.Formed != nil:
		return c.formed(item)
	case item.Trim != nil:
		return c.trim(item)
	}
	return c.bought(item), nil
}

// strip gives the cost and weight of a foot of the width that an item consumes.
func (c *calc) strip(f *Formed) (cost, pounds money.Rate) {
	m := c.metals[f.Stock]
	if f.Strip == 0 {
		return m.cost, m.perFoot
	}
	part := money.Fraction(int64(f.Strip), int64(c.stocks[f.Stock].Width))
	return m.cost.Mul(part), m.perFoot.Mul(part)
}

func (c *calc) formed(item *Item) (*job, error) {
	f := item.Formed
	cost, pounds := c.strip(f)
	h := c.hours[f.Center]
	j := &job{item: item, unit: "ft", hour: h, center: f.Center}
	each := f.Shear.Add(f.Handling).Div(sixty)
	allow := one.Add(f.Allowance)
	var used measure.Length
	pieces := int64(0)
	for i := range f.Cuts {
		cut := &f.Cuts[i]
		if cut.Length > measure.Longest/measure.Length(cut.Pieces) {
			return nil, fault.Invalidf(place("formed.cuts", i)+".pieces", "this is more than 1,000,000 ft of one length; split the order")
		}
		p := piece{cut: cut, length: cut.Length.Times(cut.Pieces)}
		n := money.Int(int64(cut.Pieces))
		p.minutes = feet(p.length).Div(f.Speed).Add(n.Mul(each)).Mul(allow)
		metalUsed := p.length + f.Kerf.Times(cut.Pieces)
		p.metal = along(metalUsed, cost)
		used += metalUsed
		j.length += p.length
		j.minutes = j.minutes.Add(p.minutes)
		pieces += int64(cut.Pieces)
		j.cuts = append(j.cuts, p)
		c.longest = max(c.longest, cut.Length)
	}
	if used > measure.Longest {
		return nil, fault.Invalidf("formed.cuts", "this is more than 1,000,000 ft of one product; split the order")
	}
	if j.minutes.Cmp(maxRun) > 0 {
		return nil, fault.Invalidf("formed.speed", "this would run for %s minutes; check the speed and the times", j.minutes.Fixed(0))
	}
	j.quantity = feet(j.length)
	j.metal = along(used, cost)
	j.run = minutes(j.minutes, h.full)
	j.pocket = minutes(j.minutes, h.pocket)
	j.weight = along(j.length, pounds)
	j.parts = []*Node{
		node("metal", "feet of strip x cost per foot", j.metal, unitMoney, leaf("strip used", feet(used), "ft"), leaf("cost of strip", cost, unitFoot)),
		node("run", "minutes x hour rate / 60", j.run, unitMoney,
			node("run time", "(feet/speed + pieces x (shear + handling)/60) x (1 + allowance)", j.minutes, unitMin,
				leaf("feet", j.quantity, "ft"), leaf("speed", f.Speed, "ft/min"), leaf("pieces", money.Int(pieces), ""),
				leaf("shear", f.Shear, "s"), leaf("handling", f.Handling, "s"), leaf("allowance", f.Allowance, unitShare)),
			leaf("hour rate", h.full, unitHour)),
	}
	return j, nil
}

// blanks gives how many blanks of a trim one sheet yields and the sheet's
// length; off a coil the sheet is cut as long as the piece.
func (t *Trim) blanks(s *Stock) (perSheet int, length measure.Length) {
	if s.Sheet == 0 {
		return int(s.Width / t.Girth), t.Length
	}
	return int(s.Width/t.Girth) * int(s.Sheet/t.Length), s.Sheet
}

func (c *calc) trim(item *Item) (*job, error) {
	t := item.Trim
	s, m, h := c.stocks[t.Stock], c.metals[t.Stock], c.hours[t.Center]
	per, length := t.blanks(s)
	if per == 0 {
		return nil, fault.Invalidf("trim.girth", "no blank of %s x %s fits %s", t.Girth.Across(), t.Length, s.Label)
	}
	sheets := (t.Pieces + per - 1) / per
	if t.Sheets > 0 {
		if t.Sheets < sheets {
			return nil, fault.Invalidf("trim.sheets", "%d pieces need at least %d sheets", t.Pieces, sheets)
		}
		sheets = t.Sheets
	}
	if length > measure.Longest/measure.Length(sheets) {
		return nil, fault.Invalidf("trim.pieces", "this is more than 1,000,000 ft of one length; split the order")
	}
	left := sheets*per - t.Pieces
	n, count := money.Int(int64(t.Pieces)), money.Int(int64(sheets))
	sheetCost := along(length, m.cost)
	drop := t.Credit.Mul(money.Int(int64(left))).Mul(sheetCost).Div(money.Int(int64(per)))
	work := money.Int(int64(t.Bends)).Mul(t.Bend).Add(money.Int(int64(t.Hems)).Mul(t.Hem)).Add(t.Handling)
	j := &job{item: item, unit: "each", quantity: n, hour: h, center: t.Center, length: t.Length.Times(t.Pieces)}
	j.metal = sheetCost.Mul(count).Sub(drop)
	j.minutes = t.Slit.Mul(count).Add(n.Mul(work)).Mul(one.Add(t.Allowance)).Add(t.Setup)
	if j.minutes.Cmp(maxRun) > 0 {
		return nil, fault.Invalidf("trim.handling", "this would take %s minutes; check the times", j.minutes.Fixed(0))
	}
	j.run = minutes(j.minutes, h.full)
	j.pocket = minutes(j.minutes, h.pocket)
	j.weight = along(j.length, m.perFoot).Mul(money.Fraction(int64(t.Girth), int64(s.Width)))
	c.longest = max(c.longest, t.Length)
	j.parts = []*Node{
		node("metal", "sheets x cost of a sheet - credit x blanks left x cost of a blank", j.metal, unitMoney,
			leaf("sheets", count, ""), leaf("cost of a sheet", sheetCost, unitMoney), leaf("weight of a sheet", along(length, m.perFoot), "lb"),
			leaf("blanks a sheet", money.Int(int64(per)), ""), leaf("blanks left", money.Int(int64(left)), ""), leaf("credit", t.Credit, unitShare)),
		node("brake", "minutes x hour rate / 60", j.run, unitMoney,
			node("brake time", "(slit x sheets + pieces x (bends, hems, handling)) x (1 + allowance) + set-up", j.minutes, unitMin,
				leaf("slit and shear", t.Slit, "min a sheet"), leaf("pieces", n, ""), leaf("work on a piece", work, unitMin),
				leaf("allowance", t.Allowance, unitShare), leaf("set-up", t.Setup, unitMin)),
			leaf("hour rate", h.full, unitHour)),
	}
	return j, nil
}

func (c *calc) bought(item *Item) *job {
	b := item.Bought
	n := money.Int(int64(b.Pieces))
	j := &job{item: item, unit: "each", quantity: n, metal: b.Each.Mul(n), weight: b.Weight.Mul(n)}
	j.parts = []*Node{node("bought", "pieces x landed cost", j.metal, unitMoney, leaf("pieces", n, ""), leaf("landed cost", b.Each, unitMoney))}
	return j
}

func (c *calc) change(s *Setup) *change {
	h := c.hours[s.Center]
	ch := &change{setup: s, minutes: s.Minutes, overhead: minutes(s.Minutes, h.overhead)}
	time, lead := minutes(s.Minutes, h.full), money.Rate{}
	parts := []*Node{node("time", "minutes x hour rate / 60", time, unitMoney, leaf("minutes", s.Minutes, unitMin), leaf("hour rate", h.full, unitHour))}
	if s.Lead > 0 {
		m := c.metals[s.Stock]
		lead = along(s.Lead, m.lead())
		parts = append(parts, node("lead", "feet x (landed - scrap)", lead, unitMoney, leaf("lead", feet(s.Lead), "ft"), leaf("landed - scrap", m.lead(), unitFoot)))
	}
	ch.cost = time.Add(lead)
	ch.pocket = minutes(s.Minutes, h.pocket).Add(lead)
	ch.build = node(s.Label, "time + lead", ch.cost, unitMoney, parts...)
	return ch
}
