package price

import (
	"slices"
	"strconv"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
)

// Bounds of an input. Beyond them lies a slip of the pen, and below them no
// arithmetic here can overflow.
const (
	MaxPieces = 1_000_000
	maxLines  = 2000 // items, and cuts of an item
	maxMany   = 200  // centers, stocks, targets, set-ups, partners, jurisdictions
)

var (
	maxMoney   = money.Int(MaxCents / 100)
	maxFigure  = money.Int(1_000_000)
	maxMinutes = money.Int(100_000)
	maxShare   = money.Int(maxLines * 1_000_000)
	maxRun     = money.Int(1_000_000) // minutes, two years
)

// place writes a place in a list, counted from 1: order.items.3.
func place(list string, i int) string { return list + "." + strconv.Itoa(i+1) }

// at puts a prefix before the fields of err.
func at(prefix string, err error) error {
	var l fault.List
	l.Add(prefix, err)
	return l.Err()
}

// form collects what is wrong with an input.
type form struct {
	fault.List
	prefix string
}

func (f *form) in(prefix string) *form { return &form{prefix: join(f.prefix, prefix)} }

func join(a, b string) string {
	if a == "" || b == "" {
		return a + b
	}
	return a + "." + b
}

// part checks one part of the input under its prefix.
func (f *form) part(prefix string, check func(*form)) {
	g := f.in(prefix)
	check(g)
	f.List = append(f.List, g.List...)
}

func (f *form) bad(field, format string, args ...any) { f.Addf(join(f.prefix, field), format, args...) }

// figure is a named number of the input.
type figure struct {
	name  string
	value money.Rate
}

// between refuses a figure outside 0 to limit.
func (f *form) between(field string, r, limit money.Rate) {
	switch {
	case r.Sign() < 0:
		f.bad(field, "this can't be negative")
	case r.Cmp(limit) > 0:
		f.bad(field, "%s is more than the %s that is priced here", r, limit)
	}
}

func (f *form) money(field string, r money.Rate)  { f.between(field, r, maxMoney) }
func (f *form) figure(field string, r money.Rate) { f.between(field, r, maxFigure) }

// share refuses what isn't a share from 0 to 1.
func (f *form) share(field string, r money.Rate) {
	if r.Sign() < 0 || r.Cmp(one) > 0 {
		f.bad(field, "write a share from 0 to 1, such as .10 for 10 %%")
	}
}

// above refuses 0 and less.
func (f *form) above(field string, r, limit money.Rate) {
	if r.Sign() <= 0 {
		f.bad(field, "this must be above zero")
		return
	}
	f.between(field, r, limit)
}

func (f *form) length(field string, l measure.Length) {
	if l < 0 || l > measure.Longest {
		f.bad(field, "write a length from 0 to 1,000,000 ft")
	}
}

func (f *form) span(field string, l measure.Length) {
	if l <= 0 {
		f.bad(field, "this must be longer than zero")
		return
	}
	f.length(field, l)
}

func (f *form) pieces(field string, n int) {
	if n < 1 || n > MaxPieces {
		f.bad(field, "write 1 to 1,000,000 pieces")
	}
}

func (f *form) whole(field string, n, limit int) {
	if n < 0 || n > limit {
		f.bad(field, "write a whole number from 0 to %d", limit)
	}
}

func (f *form) many(field string, n, limit int) {
	if n > limit {
		f.bad(field, "%d is more than the %d that are priced at once", n, limit)
	}
}

func (f *form) day(field string, d Day, must bool) {
	if d == "" && !must {
		return
	}
	if !d.valid() {
		f.bad(field, "write a day like 2026-11-25")
	}
}

func (f *form) known(field, id string, ids []string, what string) bool {
	if slices.Contains(ids, id) {
		return true
	}
	f.bad(field, "there is no %s “%s” in this input", what, id)
	return false
}

// oneOf refuses a word that isn't one of those known; "" stands for the first.
func oneOf[T ~string](f *form, field string, word T, words ...T) {
	if word != "" && !slices.Contains(words, word) {
		f.bad(field, "“%s” isn't one of %v", string(word), words)
	}
}

// ids gives the ids of a list and refuses empty and double ones.
func ids[T any](f *form, field string, list []T, id func(T) string) []string {
	known := make([]string, 0, len(list))
	for i, x := range list {
		switch s := id(x); {
		case s == "":
			f.bad(place(field, i)+".id", "this needs an id")
		case slices.Contains(known, s):
			f.bad(place(field, i)+".id", "the id “%s” is taken", s)
		default:
			known = append(known, s)
		}
	}
	return known
}

// Check refuses an input that can't be priced, with every fault at its place.
func (in Input) Check() error {
	f := &form{}
	if in.Rules < 1 || in.Rules > Rules {
		f.bad("rules", "rule set %d isn't known here; this program knows 1 to %d", in.Rules, Rules)
	}
	f.part("shop", in.Shop.check)
	if len(f.List) > 0 { // an order is checked against a shop that is right
		return f.Err()
	}
	f.part("order", func(f *form) { in.Order.check(f, &in.Shop) })
	if w := in.WhatIf; w != nil {
		f.part("what_if", w.check)
	}
	return f.Err()
}

func (w *Changes) check(f *form) {
	for i, r := range []*money.Rate{w.Coil, w.Hour} {
		if r != nil {
			f.between([]string{"coil", "hour"}[i], *r, hundred)
		}
	}
	if w.Margin.Cmp(one) >= 0 || w.Margin.Cmp(one.Neg()) <= 0 {
		f.bad("margin", "write points as a share between -1 and 1, such as .02")
	}
}

func (s Shop) check(f *form) {
	if s.Currency != "" && len(s.Currency) != 3 {
		f.bad("currency", "write the currency as three letters, such as USD")
	}
	f.many("centers", len(s.Centers), maxMany)
	f.many("stock", len(s.Stock), maxMany)
	f.many("targets", len(s.Targets), maxMany)
	f.many("tax.jurisdictions", len(s.Tax.Jurisdictions), maxMany)
	centers := ids(f, "centers", s.Centers, func(c Center) string { return c.ID })
	ids(f, "stock", s.Stock, func(s Stock) string { return s.ID })
	for i, c := range s.Centers {
		f.part(place("centers", i), c.check)
	}
	for i, st := range s.Stock {
		f.part(place("stock", i), st.check)
	}
	for i, t := range s.Targets {
		f.part(place("targets", i), t.check)
	}
	if !slices.ContainsFunc(s.Targets, func(t Target) bool { return t.Group == "" && t.Class == "" }) {
		f.bad("targets", "one target must hold for everything: leave its group and class empty")
	}
	f.part("policy", s.Policy.check)
	f.money("bundle", s.Bundle)
	if s.Delivery != nil {
		f.part("delivery", s.Delivery.check)
	}
	if s.Onsite != nil {
		f.part("onsite", func(f *form) { s.Onsite.check(f, centers) })
	}
	f.part("tax", s.Tax.check)
}

// Check refuses a stock that can't be costed.
func (s Stock) Check() error {
	f := &form{}
	s.check(f)
	return f.Err()
}

func (s Stock) check(f *form) {
	f.span("width", s.Width)
	f.length("sheet", s.Sheet)
	f.length("feet", s.Feet)
	f.length("damaged", s.Damaged)
	for _, n := range []figure{{"thickness", s.Thickness}, {"density", s.Density}, {"coating", s.Coating}, {"paint", s.Paint}, {"measured", s.Measured}} {
		f.between(n.name, n.value, hundred)
	}
	f.money("price", s.Price)
	f.money("freight", s.Freight)
	f.money("scrap", s.Scrap)
	f.figure("weight", s.Weight)
	f.share("loss", s.Loss)
	f.share("write_down", s.WriteDown)
	f.day("dated", s.Dated, false)
	if s.Per == "" {
		f.bad("per", "say what the price is by: lb, ft, coil or sheet")
	}
	oneOf(f, "per", s.Per, PerPound, PerFoot, PerCoil, PerSheet)
	oneOf(f, "freight_per", s.FreightPer, PerPound, PerFoot, PerCoil, PerSheet)
	if len(f.List) > 0 {
		return
	}
	perFoot := s.PoundsPerFoot()
	if perFoot.Sign() <= 0 {
		f.bad("thickness", "write thickness and density above zero, or the measured pounds per foot")
		return
	}
	bought, known := s.bought(perFoot)
	switch {
	case known && feet(s.Damaged).Cmp(bought) >= 0:
		f.bad("damaged", "there are %s ft in it, which leaves nothing", bought.Fixed(1))
	case !known && s.Damaged > 0:
		f.bad("damaged", "write the weight or the feet bought, to spread the damage over")
	case !known && (s.byPiece(s.Per) || s.byPiece(s.FreightPer)):
		f.bad("weight", "write the weight or the feet bought, to spread the price over")
	}
}

func (s Stock) byPiece(per Per) bool { return per == PerCoil || per == PerSheet }

func (c Center) check(f *form) {
	f.part("machine", c.Machine.check)
	for i, w := range c.Crew {
		f.money(place("crew", i)+".hourly", w.Hourly)
		f.whole(place("crew", i)+".count", w.Count, 100)
	}
	f.between("burden", c.Burden, hundred)
	f.money("overhead", c.Overhead)
	f.day("dated", c.Dated, false)
}

func (m Machine) check(f *form) {
	switch {
	case m.Given != nil && m.Sheet != nil:
		f.bad("given", "either give the hour or work it out, not both")
	case m.Given != nil:
		f.money("given.rate", m.Given.Rate)
		f.between("given.pocket", m.Given.Pocket, m.Given.Rate)
	case m.Sheet != nil:
		f.part("sheet", m.Sheet.check)
	}
}

func (s *HourSheet) check(f *form) {
	for _, n := range []figure{{"purchase", s.Purchase}, {"insurance", s.Insurance}, {"repair", s.Repair}, {"fuel_each", s.FuelEach}, {"power_each", s.PowerEach}} {
		f.money(n.name, n.value)
	}
	for _, n := range []figure{{"interest", s.Interest}, {"own_share", s.OwnShare}, {"repair_share", s.RepairShare}, {"lubricant", s.Lubricant}} {
		f.share(n.name, n.value)
	}
	f.between("residual", s.Residual, s.Purchase)
	f.between("repair_life", s.RepairLife, hundred)
	f.figure("fuel", s.Fuel)
	f.figure("power", s.Power)
	f.above("annual_hours", s.AnnualHours, money.Int(8784))
	f.figure("life_hours", s.LifeHours)
	f.whole("years", s.Years, 100)
	if s.Years <= 0 && s.LifeHours.Sign() <= 0 {
		f.bad("years", "write the years or the life hours of the machine")
	}
	if s.RepairLife.Sign() > 0 && s.LifeHours.Sign() <= 0 {
		f.bad("life_hours", "repair over life needs the life hours")
	}
	f.charges("yearly", s.Yearly)
	f.charges("hourly", s.Hourly)
}

func (f *form) charges(field string, list []Charge) {
	f.many(field, len(list), maxMany)
	for i, c := range list {
		f.part(place(field, i), c.check)
	}
}

func (c Charge) check(f *form) {
	f.money("rate", c.Rate)
	f.figure("times", c.Times)
	f.figure("over", c.Over)
}

func (t Target) check(f *form) {
	if t.Goal == "" {
		f.bad("goal", "say margin (on the price) or markup (on the cost)")
	}
	oneOf(f, "goal", t.Goal, Margin, Markup)
	t.checkValue(f, "value", t.Value)
	f.many("steps", len(t.Steps), maxMany)
	value, beyond := t.Value, money.Rate{}
	for i, s := range t.Steps {
		field := place("steps", i)
		t.checkValue(f, field+".value", s.Value)
		f.above(field+".beyond", s.Beyond, maxFigure)
		if s.Beyond.Cmp(beyond) <= 0 {
			f.bad(field+".beyond", "each step must lie beyond the one before")
		}
		if s.Value.Cmp(value) > 0 {
			f.bad(field+".value", "more feet can't earn a larger %s than fewer", string(t.Goal))
		}
		value, beyond = s.Value, s.Beyond
	}
}

func (t Target) checkValue(f *form, field string, v money.Rate) {
	switch {
	case t.Goal == Markup:
		f.between(field, v, hundred)
	case v.Sign() < 0 || v.Cmp(one) >= 0:
		f.List.Add(f.prefix, badMargin(field, v))
	}
}

func (p Policy) check(f *form) {
	if p.UnitPlaces != 0 && (p.UnitPlaces < 2 || p.UnitPlaces > 4) {
		f.bad("unit_places", "a unit price has 2 to 4 decimals")
	}
	f.money("minimum", p.Minimum)
	for _, n := range []figure{{"rush", p.Rush}, {"deposit", p.Deposit}, {"payment_share", p.PaymentShare}, {"payment_interest", p.PaymentInterest}} {
		f.share(n.name, n.value)
	}
	f.whole("payment_days", p.PaymentDays, 365)
	f.whole("stale_days", p.StaleDays, 3650)
	oneOf(f, "on_cancel", p.OnCancel, ShopCarries, Requote)
	if p.PaymentShare.Add(p.PaymentInterest).Cmp(one) >= 0 {
		f.bad("payment_share", "being paid can't cost the whole price")
	}
}
