package desk

import (
	"bytes"
	"context"
	"encoding/json"
	"slices"
	"sync"
	"time"

	"ribdesk/internal/drawing"
	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/price"
	"ribdesk/internal/store"
)

// PriceFile is an order's price with all it is made of, made again just now
// from the inputs that were stored when it was priced.
type PriceFile struct {
	Order   order.Order
	Input   price.Input
	Quote   price.Quote
	Same    bool // the replay gives the cents on the order
	Charged *price.Offer
}

// ExplainPrice replays an order's price for those who may see what it costs.
func (d *Desk) ExplainPrice(ctx context.Context, actor party.Actor, id int64) (f PriceFile, err error) {
	if err := allow(actor, party.Owner, party.Counter); err != nil {
		return f, err
	}
	file, err := d.OrderFile(ctx, actor, id)
	if err != nil {
		return f, err
	}
	f.Order = file.Order
	if f.Input, f.Quote, err = ReplayPrice(f.Order); err != nil {
		return f, err
	}
	f.Charged = &f.Quote.Alone
	if f.Order.Sharing && f.Quote.Shared != nil {
		f.Charged = f.Quote.Shared
	}
	f.Same = offerOf(&f.Quote.Alone) == f.Order.Alone
	if f.Quote.Shared != nil {
		f.Same = f.Same && offerOf(f.Quote.Shared) == f.Order.Shared
	}
	return f, nil
}

// PriceInput gives an order's stored input as JSON that a person can read, and
// that the price command takes.
func (d *Desk) PriceInput(ctx context.Context, actor party.Actor, id int64) (number string, body []byte, err error) {
	f, err := d.ExplainPrice(ctx, actor, id)
	if err != nil {
		return "", nil, err
	}
	var b bytes.Buffer
	if err := json.Indent(&b, f.Order.PriceJSON, "", "  "); err != nil {
		return "", nil, err
	}
	b.WriteByte('\n')
	return f.Order.Number, b.Bytes(), nil
}

// FallView draws the steps from nothing to a price.
func FallView(id, title string, steps []price.Fall) drawing.Waterfall {
	w := drawing.Waterfall{ID: id, Title: title, Desc: "Each bar begins where the one before ended; sums begin at zero."}
	for _, s := range steps {
		w.Steps = append(w.Steps, drawing.Step{Label: s.Label, Figure: dollarsOf(s.Value), Share: s.Value.Float(), Sum: s.Total})
	}
	return w
}

// dollarsOf writes a figure of a picture to the cent.
func dollarsOf(r money.Rate) string {
	a, err := r.Round(money.USD)
	if err != nil {
		return r.Fixed(2)
	}
	return a.Format()
}

// Worth is what an hour of the busiest machine earns on an order, to rank jobs
// by when hours are what the shop lacks.
type Worth struct {
	Center  string
	PerHour money.Rate
}

// worths remembers what was worked out, by order and version: stored inputs
// don't change under one version.
type worths struct {
	mu    sync.Mutex
	known map[[2]int64]Worth
}

// mostWorths bounds what is remembered.
const mostWorths = 20_000

// WorthOf gives the contribution per machine hour of orders by id, from what
// they were priced of; an order that runs on no machine has none.
func (d *Desk) WorthOf(orders []order.Order) map[int64]Worth {
	d.worth.mu.Lock()
	defer d.worth.mu.Unlock()
	if d.worth.known == nil || len(d.worth.known) > mostWorths {
		d.worth.known = map[[2]int64]Worth{}
	}
	out := map[int64]Worth{}
	for _, o := range orders {
		key := [2]int64{o.ID, o.Version}
		w, ok := d.worth.known[key]
		if !ok {
			w = worthOf(o)
			d.worth.known[key] = w
		}
		if w.Center != "" {
			out[o.ID] = w
		}
	}
	return out
}

func worthOf(o order.Order) Worth {
	_, q, err := ReplayPrice(o)
	if err != nil {
		return Worth{} // never priced
	}
	offer := &q.Alone
	if o.Sharing && q.Shared != nil {
		offer = q.Shared
	}
	var most price.Contribution
	for _, c := range offer.Contributions {
		if c.Hours.Cmp(most.Hours) > 0 {
			most = c
		}
	}
	return Worth{Center: most.Center, PerHour: most.PerHour}
}

// openQuotes gives the drafts and quotes that a what-if is tried on, the newest
// first.
func (d *Desk) openQuotes(ctx context.Context, actor party.Actor) ([]order.Order, []price.Input, error) {
	list, err := d.Orders(ctx, actor, OrderFilter{States: []order.State{order.Draft, order.Quoted}, Lines: true, Limit: maxOpenOrders})
	if err != nil {
		return nil, nil, err
	}
	var orders []order.Order
	var inputs []price.Input
	for _, o := range list {
		var in price.Input
		if len(o.PriceJSON) > 0 && json.Unmarshal(o.PriceJSON, &in) == nil {
			orders, inputs = append(orders, o), append(inputs, in)
		}
	}
	return orders, inputs, nil
}

// Tried is one open quote before and after a change that the owner tries.
type Tried struct {
	Order  order.Order
	Before money.Amount // before tax, on the offer it stands on
	After  money.Amount
	Floor  money.Amount
	Below  bool
}

// WhatIf is a change tried on all open quotes.
type WhatIf struct {
	Changes       price.Changes
	Quotes        []Tried
	Before, After money.Amount
	Failed        int // quotes that can't be priced under it
}

// TryRates tries other metal prices, hours and margins on the open quotes.
// Nothing is changed: quotes that are out hold.
func (d *Desk) TryRates(ctx context.Context, actor party.Actor, ch price.Changes) (w WhatIf, err error) {
	if err := allow(actor, party.Owner); err != nil {
		return w, err
	}
	w.Changes = ch
	if err := ch.Check(); err != nil {
		return w, err
	}
	orders, inputs, err := d.openQuotes(ctx, actor)
	if err != nil {
		return w, err
	}
	before, after := price.Reprice(inputs, price.Changes{}), price.Reprice(inputs, ch)
	w.Before, w.After = money.Cents(0, money.USD), money.Cents(0, money.USD)
	for i, o := range orders {
		if before[i].Err != nil || after[i].Err != nil {
			w.Failed++
			continue
		}
		t := Tried{Order: o, Before: before[i].Alone, After: after[i].Alone, Floor: after[i].Floor, Below: after[i].Below}
		if o.Sharing {
			t.Before, t.After = before[i].Shared, after[i].Shared
		}
		w.Before, w.After = w.Before.Add(t.Before), w.After.Add(t.After)
		w.Quotes = append(w.Quotes, t)
	}
	return w, nil
}

// Sensitivity gives how one order's total before tax moves with coil, hours and
// margin.
func (d *Desk) Sensitivity(ctx context.Context, actor party.Actor, id int64) (order.Order, []price.Effect, error) {
	if err := allow(actor, party.Owner); err != nil {
		return order.Order{}, nil, err
	}
	f, err := d.ExplainPrice(ctx, actor, id)
	if err != nil {
		return order.Order{}, nil, err
	}
	effects, err := price.Sensitivity(f.Input)
	return f.Order, effects, err
}

// PaysItself is how many feet a month a machine must sell to pay for itself,
// and how many it sold of late.
type PaysItself struct {
	Machine, Name string
	Typical       order.Order // whose price and marginal cost are taken
	Asked         price.BreakEven
	Point         price.BreakEvenPoint
	SoldFeet      money.Rate // accepted in the last 30 days
}

// PaysItself works out the break-even of a machine from the newest order that
// runs on it, with what the own jobs take: feet a month, and the saving per
// foot against buying the panel.
func (d *Desk) PaysItself(ctx context.Context, actor party.Actor, machine string, ownFeet, ownSaving money.Rate) (p PaysItself, err error) {
	if err := allow(actor, party.Owner); err != nil {
		return p, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return p, err
	}
	p.Machine = machine
	i := slices.IndexFunc(s.rates.Centers, func(c price.Center) bool { return c.ID == machine })
	if i < 0 {
		return p, fault.Invalidf("machine", "choose a machine that has its hour on the Rates sheet")
	}
	p.Name = s.rates.Centers[i].Label
	list, err := d.Orders(ctx, actor, OrderFilter{Lines: true, Limit: 500})
	if err != nil {
		return p, err
	}
	found := false
	for _, o := range list {
		var in price.Input
		if len(o.PriceJSON) == 0 || json.Unmarshal(o.PriceJSON, &in) != nil {
			continue
		}
		feet := feetOn(in, machine)
		if o.Accepted != nil && o.State != order.Cancelled && d.now().Sub(o.Accepted.At) <= 30*24*time.Hour {
			p.SoldFeet = p.SoldFeet.Add(feet)
		}
		if !found && feet.Sign() > 0 {
			if p.Asked, err = price.BreakEvenFor(in, machine); err == nil {
				p.Typical, found = o, true
			}
		}
	}
	if !found {
		return p, fault.Conflictf("no order ran on the %s yet; price one at the Counter first", p.Name)
	}
	p.Asked.OwnFeet, p.Asked.OwnSaving = ownFeet, ownSaving
	p.Point, err = p.Asked.Point()
	return p, err
}

// feetOn gives the feet that an input runs on a center.
func feetOn(in price.Input, center string) money.Rate {
	var sum measure.Length
	for _, it := range in.Order.Items {
		if it.Formed == nil || it.Formed.Center != center {
			continue
		}
		for _, c := range it.Formed.Cuts {
			sum += c.Length.Times(c.Pieces)
		}
	}
	return money.FromRat(sum.Ratio(measure.Foot))
}

// DiscountOrder prices a draft anew with a share off its goods, which only the
// owner gives. An order that is changed at the counter afterwards loses it.
func (d *Desk) DiscountOrder(ctx context.Context, actor party.Actor, id, seen int64, share money.Rate) (o order.Order, err error) {
	if err := allow(actor, party.Owner); err != nil {
		return o, err
	}
	if share.Sign() < 0 || share.Cmp(money.Int(1)) >= 0 {
		return o, fault.Invalidf("discount", "write 0 to 99 %%")
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return o, err
	}
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		if o, err = seeOrder(tx, actor, id); err != nil {
			return err
		}
		if o.State != order.Draft {
			return fault.Conflictf("order %s is %s; open it again before you change its price", o.Number, o.State)
		}
		b, err := readBuyer(tx, s, &o, d.now())
		if err != nil {
			return err
		}
		o.Version, o.Discount = seen, share
		priced, err := s.ask(o, b, d.now())
		if err != nil {
			return err
		}
		for _, l := range priced.Order.Lines {
			if err := tx.SaveLineFigures(l); err != nil {
				return err
			}
		}
		o, err = tx.SaveOrder(actor, priced.Order, "discounted "+share.Percent()+" %")
		return err
	})
	return o, err
}
