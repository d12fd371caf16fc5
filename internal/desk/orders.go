package desk

import (
	"context"
	"encoding/base64"
	"slices"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/price"
	"ribdesk/internal/store"
	"ribdesk/internal/words"
)

// TakeOrder keeps an ask as a draft with a number, priced as it stands. Whoever
// may ask may do this: staff, a customer for their own firm, and a visitor.
func (d *Desk) TakeOrder(ctx context.Context, actor party.Actor, o order.Order) (order.Order, error) {
	priced, _, err := d.answer(ctx, actor, o)
	if err != nil {
		return o, err
	}
	o = priced.Order
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		if o.CustomerID != 0 {
			if err := openForOrders(tx, actor, o.CustomerID); err != nil {
				return err
			}
		}
		o, err = d.addDraft(tx, actor, o)
		return err
	})
	return o, err
}

// ChangeOrder replaces what a draft asks for. o.Version is the one looked at.
func (d *Desk) ChangeOrder(ctx context.Context, actor party.Actor, o order.Order) (order.Order, error) {
	if err := allow(actor, party.Owner, party.Counter, party.Buyer); err != nil {
		return o, err
	}
	priced, _, err := d.answer(ctx, actor, o)
	if err != nil {
		return o, err
	}
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		there, err := seeOrder(tx, actor, o.ID)
		if err != nil {
			return err
		}
		if there.State != order.Draft {
			return fault.Conflictf("order %s is %s; open it again before you change it", there.Number, there.State)
		}
		next := priced.Order
		next.ID, next.Number, next.Revision, next.State = there.ID, there.Number, there.Revision, there.State
		next.CreatedAt, next.CreatedBy, next.Version, next.Follows = there.CreatedAt, there.CreatedBy, o.Version, there.Follows
		if next, err = tx.SaveOrder(actor, next, "changed"); err != nil {
			return err
		}
		if o, err = tx.ReplaceLines(next); err != nil {
			return err
		}
		return d.tieTakeOff(tx, actor, o)
	})
	return o, err
}

// seeOrder reads an order that the actor may look at; another customer's order
// isn't there at all.
func seeOrder(tx *store.Tx, actor party.Actor, id int64) (order.Order, error) {
	o, err := tx.Order(id)
	if err != nil {
		return o, err
	}
	if !actor.Sees(o.CustomerID) {
		return order.Order{}, fault.NotFoundf("there is no such order")
	}
	return o, nil
}

// OrderFile is an order with all that became of it.
type OrderFile struct {
	Order   order.Order
	Events  []store.Event
	Papers  []order.Paper
	Places  []order.Placed
	Bundles []order.Bundle
	Stops   []order.Stop

	Messages  []order.Message
	Revisions []Revision    // how each later quote differs from the one before
	FollowUps []order.Order // that change this one after it was accepted
	First     order.Order   // the accepted order that this one changes, when it does

	Ready time.Time    // of a quote: what can be promised if it is accepted now
	Quote *price.Quote // replayed from the stored inputs; nil for a customer
}

// OrderFile gives one order with its history.
func (d *Desk) OrderFile(ctx context.Context, actor party.Actor, id int64) (f OrderFile, err error) {
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		if f.Order, err = seeOrder(tx, actor, id); err != nil {
			return err
		}
		return f.read(tx)
	})
	if err == nil {
		err = d.readyNow(ctx, &f)
	}
	if err != nil {
		return OrderFile{}, err
	}
	if !actor.Role.Staff() {
		f.keepForCustomer()
		return f, nil
	}
	if _, q, err := ReplayPrice(f.Order); err == nil {
		f.Quote = &q
	}
	return f, nil
}

// Changeovers is the order's part of the changeovers of its runs, as the plan
// that was adopted shares them out; zero before.
func (f *OrderFile) Changeovers() money.Amount {
	sum := money.Cents(0, f.Order.Charged().Total.Currency())
	for _, at := range f.Places {
		sum = sum.Add(at.Share)
	}
	return sum
}

// keepForCustomer leaves out what stays in the shop: its own papers, who did
// what there, coils and places in the run plan.
func (f *OrderFile) keepForCustomer() {
	f.Papers = CustomerPapers(f.Papers)
	f.Places, f.Bundles, f.Stops, f.Quote, f.FollowUps = nil, nil, nil, nil, nil
	f.Order.PriceJSON = nil
	var path []store.Event
	for _, e := range f.Events {
		if e.Action == words.Key("asked") || slices.Contains(order.States, order.State(e.Action)) {
			e.PersonName, e.Detail = "", nil // staff are nobody's business outside
			path = append(path, e)
		}
	}
	f.Events = path
}

func (f *OrderFile) read(tx *store.Tx) (err error) {
	id := f.Order.ID
	if f.Events, err = tx.Events("order", id); err != nil {
		return err
	}
	if f.Papers, err = tx.PapersOf(id); err != nil {
		return err
	}
	if f.Places, err = tx.PlacesOf(id); err != nil {
		return err
	}
	if f.Bundles, err = tx.BundlesOf(id); err != nil {
		return err
	}
	if f.Stops, err = tx.StopsOf(id); err != nil {
		return err
	}
	if f.Messages, err = tx.Messages(id); err != nil {
		return err
	}
	if f.Revisions, err = revisions(tx, f.Papers); err != nil {
		return err
	}
	if f.Order.Follows != 0 {
		if f.First, err = tx.Order(f.Order.Follows); err != nil {
			return err
		}
	}
	f.FollowUps, err = tx.FollowUps(id)
	return err
}

// Orders lists orders the actor may see, newest first.
func (d *Desk) Orders(ctx context.Context, actor party.Actor, f store.OrderFilter) (list []order.Order, err error) {
	if actor.Role == party.Buyer {
		f.CustomerID = actor.CustomerID
		if f.CustomerID == 0 {
			return nil, nil
		}
	} else if !actor.Role.Staff() {
		return nil, fault.Deniedf("sign in to see orders")
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		list, err = tx.Orders(f)
		return err
	})
	return list, err
}

// CountOrders counts all orders by state, for staff.
func (d *Desk) CountOrders(ctx context.Context) (counts map[order.State]int, err error) {
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		counts, err = tx.CountOrders()
		return err
	})
	return counts, err
}

// step takes an order one step in its own transaction. Then does what belongs
// to the step before the order is saved.
func (d *Desk) step(ctx context.Context, actor party.Actor, id, seen int64, s order.Step, then func(*store.Tx, *order.Order) error) (o order.Order, err error) {
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		if o, err = seeOrder(tx, actor, id); err != nil {
			return err
		}
		if seen != 0 {
			o.Version = seen
		}
		if err := o.Apply(s); err != nil {
			return err
		}
		if then != nil {
			if err := then(tx, &o); err != nil {
				return err
			}
		}
		o, err = tx.SaveOrder(actor, o, string(o.State))
		return err
	})
	return o, err
}

// Quoted is an issued quote with the private link that opens it. The link is
// known only now: the store keeps its hash.
type Quoted struct {
	Order order.Order
	Paper order.Paper
	Token string
}

// QuoteOrder prices a draft afresh, issues the quote as a paper and makes its
// private link. The price then stands until the quote's last day. Below makes
// it go out below the floor, with the owner's reason.
func (d *Desk) QuoteOrder(ctx context.Context, actor party.Actor, id, seen int64, below *price.Override) (out Quoted, err error) {
	if err := allow(actor, party.Owner, party.Counter); err != nil {
		return out, err
	}
	if below != nil && actor.Role != party.Owner {
		return out, fault.Deniedf("only the owner lets a price go below the floor")
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return out, err
	}
	token := base64.RawURLEncoding.EncodeToString(d.bytes(18))
	out.Order, err = d.step(ctx, actor, id, seen, order.Quote, func(tx *store.Tx, o *order.Order) error {
		b, err := readBuyer(tx, s, o, d.now())
		if err != nil {
			return err
		}
		priced, err := s.askWith(*o, b, d.now(), below)
		if err != nil {
			return err
		}
		offer := &priced.Quote.Alone
		if priced.Order.Sharing {
			offer = priced.Quote.Shared
		}
		if err := offer.Release(); err != nil {
			return err
		}
		*o = priced.Order
		o.ValidTo = dayStart(d.now(), s.seller.Location()).AddDate(0, 0, s.seller.QuoteDays)
		o.Token = token
		for _, l := range o.Lines {
			if err := tx.SaveLineFigures(l); err != nil {
				return err
			}
		}
		customer, err := customerOf(tx, *o)
		if err != nil {
			return err
		}
		if out.Paper, err = d.issue(tx, actor, *o, customer, s.quotePaper(*o, customer, priced, d.now(), actor)); err != nil {
			return err
		}
		if err := d.issueTakeOffs(tx, actor, s, *o, customer); err != nil {
			return err
		}
		return d.tellQuoted(tx, *o, customer, out.Paper.ID)
	})
	out.Token = token
	return out, err
}

// askWith is ask with the owner's word about the floor.
func (s *snapshot) askWith(o order.Order, b buyer, now time.Time, below *price.Override) (Priced, error) {
	priced, err := s.ask(o, b, now)
	if err != nil || below == nil {
		return priced, err
	}
	priced.Input.Order.BelowFloor = below
	if priced.Quote, err = price.Price(priced.Input); err != nil {
		return priced, err
	}
	return priced, writeFigures(&priced.Order, priced.Input, priced.Quote)
}

func customerOf(tx *store.Tx, o order.Order) (party.Customer, error) {
	if o.CustomerID == 0 {
		name := o.Contact.Name
		if name == "" {
			name = "Walk-in customer"
		}
		return party.Customer{Name: name, Email: o.Contact.Email, Phone: o.Contact.Phone, Class: walkIn}, nil
	}
	return tx.Customer(o.CustomerID)
}

// OpenLink gives the order behind a private link, for the page that shows it.
func (d *Desk) OpenLink(ctx context.Context, token string) (f OrderFile, err error) {
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		if f.Order, err = tx.OrderByToken(token); err != nil {
			return err
		}
		return f.read(tx)
	})
	if err == nil && d.now().After(LinkUntil(f.Order)) {
		return OrderFile{}, fault.NotFoundf("this link has expired; ask the shop for a new one")
	}
	if err == nil {
		err = d.readyNow(ctx, &f)
	}
	f.keepForCustomer()
	return f, err
}

// LinkUntil is when an order's private link ends by itself: half a year after
// the quote does.
func LinkUntil(o order.Order) time.Time { return o.ValidTo.AddDate(0, 6, 0) }

// RenewLink makes a new private link for an order that was quoted; the one
// before opens nothing any more.
func (d *Desk) RenewLink(ctx context.Context, actor party.Actor, id int64) (token string, err error) {
	if err := allow(actor, party.Owner, party.Counter); err != nil {
		return "", err
	}
	token = base64.RawURLEncoding.EncodeToString(d.bytes(18))
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		o, err := tx.Order(id)
		if err != nil {
			return err
		}
		if o.State == order.Draft || o.ValidTo.IsZero() {
			return fault.Conflictf("order %s is %s; a private link comes with its quote", o.Number, o.State)
		}
		o.Token = token
		if _, err = tx.SaveOrder(actor, o, "renewed link"); err != nil {
			return err
		}
		return tx.ForgetMailLinks(id)
	})
	return token, err
}

// RevokeLink makes an order's private link useless.
func (d *Desk) RevokeLink(ctx context.Context, actor party.Actor, id int64) error {
	if err := allow(actor, party.Owner, party.Counter); err != nil {
		return err
	}
	return d.store.Write(ctx, func(tx *store.Tx) error {
		if err := tx.RevokeLink(actor, id); err != nil {
			return err
		}
		return tx.ForgetMailLinks(id)
	})
}

// DeclineOrder ends a quote with the customer's reason.
func (d *Desk) DeclineOrder(ctx context.Context, actor party.Actor, id, seen int64, reason string) (order.Order, error) {
	if err := allow(actor, party.Owner, party.Counter, party.Buyer); err != nil {
		return order.Order{}, err
	}
	if reason == "" {
		return order.Order{}, fault.Invalidf("reason", "say why; it helps the shop to do better")
	}
	return d.step(ctx, actor, id, seen, order.Decline, func(_ *store.Tx, o *order.Order) error {
		o.Reason, o.Why = reason, order.ReadWhy(reason)
		return nil
	})
}

// DeclineByLink declines a quote through its private link.
func (d *Desk) DeclineByLink(ctx context.Context, token, reason string) (order.Order, error) {
	f, err := d.OpenLink(ctx, token)
	if err != nil {
		return order.Order{}, err
	}
	actor := party.System
	actor.Name = "customer, by private link"
	return d.DeclineOrder(ctx, actor, f.Order.ID, 0, reason)
}

// ReopenOrder makes a quote a draft again, as its next revision.
func (d *Desk) ReopenOrder(ctx context.Context, actor party.Actor, id, seen int64) (order.Order, error) {
	if err := allow(actor, party.Owner, party.Counter); err != nil {
		return order.Order{}, err
	}
	return d.step(ctx, actor, id, seen, order.Reopen, func(_ *store.Tx, o *order.Order) error {
		o.Revision++
		return nil
	})
}

// CancelOrder ends an order before it is cut: its coil is free again and its
// place in the plan is given up. Prices of orders that shared its set-ups hold.
func (d *Desk) CancelOrder(ctx context.Context, actor party.Actor, id, seen int64, reason string) (order.Order, error) {
	if err := allow(actor, party.Owner, party.Counter); err != nil {
		return order.Order{}, err
	}
	if reason == "" {
		return order.Order{}, fault.Invalidf("reason", "say why")
	}
	return d.step(ctx, actor, id, seen, order.Cancel, func(tx *store.Tx, o *order.Order) error {
		return giveUp(tx, actor, o, reason)
	})
}

// giveUp frees what a cancelled order held.
func giveUp(tx *store.Tx, actor party.Actor, o *order.Order, reason string) error {
	o.Reason = reason
	ids := lineIDs(*o)
	made, err := tx.CutRecords(ids...)
	if err != nil {
		return err
	}
	if len(made) > 0 {
		return fault.Conflictf("pieces of order %s are already cut; it can't be cancelled", o.Number)
	}
	if err := noteLeftBehind(tx, actor, *o); err != nil {
		return err
	}
	if err := tx.Release(ids...); err != nil {
		return err
	}
	return tx.TakeOutOfPlan(ids...)
}

func lineIDs(o order.Order) []int64 {
	ids := make([]int64, len(o.Lines))
	for i, l := range o.Lines {
		ids[i] = l.ID
	}
	return ids
}

// LapseQuotes ends the quotes whose last day is past. It gives how many.
func (d *Desk) LapseQuotes(ctx context.Context) (n int, err error) {
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return 0, err
	}
	today := dayStart(d.now(), s.seller.Location())
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		n = 0
		quoted, err := tx.Orders(store.OrderFilter{States: []order.State{order.Quoted}, Limit: maxOpenOrders})
		if err != nil {
			return err
		}
		for _, o := range quoted {
			if !today.After(o.ValidTo) {
				continue
			}
			if err := o.Apply(order.Lapse); err != nil {
				return err
			}
			if _, err := tx.SaveOrder(party.System, o, string(o.State)); err != nil {
				return err
			}
			n++
		}
		return nil
	})
	return n, err
}
