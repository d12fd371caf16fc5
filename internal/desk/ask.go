package desk

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/plan"
	"ribdesk/internal/price"
	"ribdesk/internal/store"
	"ribdesk/internal/words"
)

// Priced is the answer to an ask: the order with its figures, how they were
// made, and when it can be ready.
type Priced struct {
	Order    order.Order
	Quote    price.Quote
	Input    price.Input
	Cheapest When  // where the changeovers cost least
	Earliest When  // as soon as can be without making another order late
	Offers   []Due // what waiting saves, soonest first; empty when it saves nothing
	Notices  []Notice
	Warnings []words.Text // for everybody
	ForShop  []string     // slips in the rates that the price was made with

	place *placing
	key   string // of what was asked, to find the answer again
}

// When is a place in the run plan that an order could take.
type When struct {
	Ready        time.Time // promised: cut, bundled, and delivered when it is hauled
	ExtraMinutes int64     // changeover minutes that the whole plan gains
	Found        bool
}

// Due is a date by which the order can be ready, and what it costs then.
type Due struct {
	By           time.Time // the day it would be due
	Ready        time.Time
	SavedMinutes int64        // changeover minutes less than at the soonest date
	Total        money.Amount // with tax; sharing a set-up where that is cheaper
	Saved        money.Amount // against the soonest date
}

// placing is an order's lines on their way into the run plan.
type placing struct {
	lines []made
	p     *planning
	in    *plan.Insertion
	base  price.Input // without sharing
}

func newID(i int) string { return fmt.Sprintf("new%d", i) }

// Ask prices an order that isn't kept yet and looks for its place in the run
// plan. Nothing is written; faults are at their places in the order.
func (d *Desk) Ask(ctx context.Context, actor party.Actor, o order.Order) (Priced, error) {
	a, p, err := d.answer(ctx, actor, o)
	if err != nil {
		return a, err
	}
	if err := p.s.offerDates(&a); err != nil {
		return a, err
	}
	p.said.keep(a)
	return a, nil
}

// answer is an ask without what later dates would save, unless the same was just
// asked; and the planning it was made in.
func (d *Desk) answer(ctx context.Context, actor party.Actor, o order.Order) (Priced, *planning, error) {
	if actor.Role != party.Owner {
		o.Discount = money.Rate{} // the owner's to give: see DiscountOrder
	}
	if !actor.Role.Staff() {
		o.CustomerID = actor.CustomerID // never anybody else's; 0 for a visitor
	}
	var s *snapshot
	var b buyer
	now := d.now()
	err := d.store.Read(ctx, func(tx *store.Tx) (err error) {
		if s, err = d.snapshotIn(tx); err == nil {
			b, err = readBuyer(tx, s, &o, now)
		}
		return err
	})
	if err != nil {
		return Priced{}, nil, err
	}
	p, key := s.seated(now), askKey(o, b)
	if a, ok := p.said.find(key); ok {
		return a, p, nil
	}
	a, err := s.askBest(o, b, now)
	a.key = key
	return a, p, err
}

// waits are the days after the soonest possible that are looked at for savings.
var waits = []int{0, 2, 5, 9}

// lookSooner says how soon the order can be ready, where the cheapest place isn't
// the soonest.
func (s *snapshot) lookSooner(a *Priced) {
	if a.place == nil {
		return
	}
	if soonest := a.place.in.Earliest(); soonest != nil {
		a.Earliest = s.when(a.place.p, soonest, a.Order)
	}
}

// offerDates says how soon the order can be ready, and what a few later dates save.
func (s *snapshot) offerDates(a *Priced) error {
	at := a.place
	if at == nil || !a.Earliest.Found {
		return nil
	}
	s.lookSooner(a)
	var dues []int64
	var days []time.Time
	for _, n := range waits {
		day := dayStart(a.Earliest.Ready, s.seller.Location()).AddDate(0, 0, n)
		days, dues = append(days, day), append(dues, at.p.due(order.Order{WantBy: day, Fulfil: a.Order.Fulfil}))
	}
	var last *plan.Fit
	for i, offer := range at.in.Promise(dues) {
		if offer.Fit == nil || last != nil && last.Extra.Changeover == offer.Fit.Extra.Changeover {
			continue // nothing new by then
		}
		last = offer.Fit
		total, err := s.totalAt(at, offer.Fit)
		if err != nil {
			return err
		}
		due := Due{By: days[i], Ready: s.when(at.p, offer.Fit, a.Order).Ready, SavedMinutes: offer.SavedMinutes, Total: total}
		if len(a.Offers) > 0 {
			due.Saved = a.Offers[0].Total.Sub(total)
			if due.Saved.Sign() <= 0 {
				continue
			}
		}
		a.Offers = append(a.Offers, due)
	}
	if len(a.Offers) < 2 {
		a.Offers = nil
	}
	return nil
}

// totalAt is the lower of both prices with the lines at one place of the plan.
func (s *snapshot) totalAt(at *placing, f *plan.Fit) (money.Amount, error) {
	in := at.base
	s.share(&in, at.lines, at.p, f.Plan)
	q, err := price.Price(in)
	if err != nil {
		return money.Amount{}, err
	}
	if q.Shared != nil && q.Shared.Total.Cmp(q.Alone.Total) < 0 {
		return q.Shared.Total, nil
	}
	return q.Alone.Total, nil
}

// walkIn is the class of customers who aren't on file.
const walkIn = "walk-in"

// readBuyer reads the customer of an order; an order of nobody known is a walk-in's.
func readBuyer(tx *store.Tx, s *snapshot, o *order.Order, now time.Time) (buyer, error) {
	if o.CustomerID == 0 {
		return buyer{class: walkIn}, nil
	}
	c, err := tx.Customer(o.CustomerID)
	if err != nil {
		return buyer{}, err
	}
	o.Customer = c.Name
	certificates, err := tx.Certificates(o.CustomerID)
	if err != nil {
		return buyer{}, err
	}
	return s.buyerOf(c, certificates, *o, now), nil
}

// ask is the whole answer from one snapshot.
func (s *snapshot) ask(o order.Order, b buyer, now time.Time) (Priced, error) {
	a, err := s.askBest(o, b, now)
	if err == nil {
		s.lookSooner(&a)
	}
	return a, err
}

// askBest is the answer for the place that is taken unless somebody chooses
// otherwise; it doesn't look how much sooner another would be.
func (s *snapshot) askBest(o order.Order, b buyer, now time.Time) (Priced, error) {
	o.Promise = time.Time{} // of an earlier answer; it isn't when the order is due
	lines, err := s.resolve(&o)
	if err != nil {
		return Priced{Order: o}, err
	}
	in, err := s.input(&o, lines, b)
	if err != nil {
		return Priced{Order: o}, err
	}
	a := Priced{Order: o, Notices: s.notices(o, lines)}
	if err := s.look(&a, &in, lines, now); err != nil {
		return a, err
	}
	q, err := price.Price(in)
	if err != nil {
		return a, atLines(err)
	}
	a.Input, a.Quote = in, q
	for _, w := range q.Warnings {
		a.ForShop = append(a.ForShop, w.Text)
	}
	if len(s.rates.Tax.Jurisdictions) > 0 && len(in.Shop.Tax.Jurisdictions) == 0 {
		a.ForShop = append(a.ForShop, fmt.Sprintf("The Rates sheet has no tax for %s, where the goods change hands; whether the shop must collect there is for that state to say.", s.destination(o)))
	}
	return a, writeFigures(&a.Order, in, q)
}

// look finds the order's place in the plan, and with it the promise and whom it
// shares set-ups with. An order of accessories alone is ready at once.
func (s *snapshot) look(a *Priced, in *price.Input, lines []made, now time.Time) error {
	p := s.seated(now)
	news := p.newLines(a.Order, lines)
	if len(news) == 0 {
		a.Cheapest = When{Ready: s.ready(now, a.Order), Found: true}
		a.Earliest = a.Cheapest
		a.Order.Promise = a.Cheapest.Ready
		return nil
	}
	place, best, err := p.place(news)
	if err != nil {
		if fault.Is(err, fault.Conflict) {
			a.Warnings = append(a.Warnings, words.Say("The machine's calendar has no room for this order within %d days; the shop will say when.", horizonDays))
			return nil
		}
		return err
	}
	a.Cheapest = s.when(p, best, a.Order)
	a.Earliest = a.Cheapest
	a.Order.Promise = a.Cheapest.Ready
	a.place = &placing{lines: lines, p: p, in: place, base: *in}
	s.share(in, lines, p, best.Plan)
	return nil
}

func (s *snapshot) when(p *planning, f *plan.Fit, o order.Order) When {
	return When{Ready: s.ready(p.at(f.Promise), o), ExtraMinutes: f.Extra.Minutes, Found: true}
}

// atLines moves faults of the price room to the order as a whole; what belongs
// to a line was refused before.
func atLines(err error) error {
	var l fault.List
	for _, f := range fault.All(err) {
		g := *f
		g.Field = "lines"
		l = append(l, &g)
	}
	return l.Err()
}

// ReplayPrice prices an order again from its stored inputs. It gives the cents the
// order was quoted at, for as long as the rule set is known.
func ReplayPrice(o order.Order) (price.Input, price.Quote, error) {
	var in price.Input
	if len(o.PriceJSON) == 0 {
		return in, price.Quote{}, fault.NotFoundf("order %s wasn't priced yet", o.Number)
	}
	if err := json.Unmarshal(o.PriceJSON, &in); err != nil {
		return in, price.Quote{}, err
	}
	q, err := price.Price(in)
	return in, q, err
}
