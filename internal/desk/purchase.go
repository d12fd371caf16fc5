package desk

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"time"

	"ribdesk/internal/document"
	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/nest"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
	"ribdesk/internal/store"
)

// Shortage is a strip that open orders lack, and what to buy of it.
type Shortage struct {
	Strip    stock.Strip
	Name     string
	Supply   stock.Supply   // how it is bought; Code is "" when nobody sells it to the shop
	Pieces   int            // rows of blanks count as one
	Short    measure.Length // of pieces alone, with what each cut loses
	Lead     measure.Length // threading and tail of the coils bought
	Coils    int            // whole coils, 0 when no usual coil is known
	Feet     measure.Length // to buy
	Pounds   int
	Estimate money.Amount // at today's cost, for the shop's eyes
	For      []string     // numbers of the orders that wait
	TooLong  []string     // of those, with a piece longer than a coil that can be bought
	Due      time.Time    // the first promise among them, zero when none is promised
	OrderBy  time.Time    // to be there by then, never before today
	OneLot   bool         // one order waits for more than one coil of it
}

// Shortages gives what open orders lack in coil, what has to be ordered first
// in front. Feet are those of the pieces with threading and tail, rounded up to
// coils that can be bought.
func (d *Desk) Shortages(ctx context.Context, actor party.Actor) ([]Shortage, error) {
	if err := allow(actor, party.Owner, party.Counter, party.Operator); err != nil {
		return nil, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return nil, err
	}
	var f cutFloor
	if err := d.store.Read(ctx, func(tx *store.Tx) error { return f.read(tx, s) }); err != nil {
		return nil, err
	}
	return s.shortages(ctx, f, d.now())
}

func (s *snapshot) shortages(ctx context.Context, f cutFloor, now time.Time) ([]Shortage, error) {
	free := s.freeCoils()
	groups := map[stock.Strip]*AllocationGroup{}
	due := map[stock.Strip]time.Time{}
	var strips []stock.Strip
	for i := range s.open {
		o := &s.open[i]
		for _, l := range o.Lines {
			if l = f.unserved(l); l.Kind == order.Accessory || len(l.Cuts) == 0 {
				continue
			}
			if l = free.serve(l); len(l.Cuts) == 0 {
				continue
			}
			strip := l.Metal()
			if groups[strip] == nil {
				g := s.newGroup(l)
				groups[strip], strips = &g, append(strips, strip)
			}
			groups[strip].lack(o.Number, l)
			if !o.Promise.IsZero() && (due[strip].IsZero() || o.Promise.Before(due[strip])) {
				due[strip] = o.Promise
			}
		}
	}
	var out []Shortage
	for _, strip := range strips {
		short, err := s.shortage(ctx, groups[strip], due[strip], now)
		if err != nil {
			return nil, err
		}
		out = append(out, short)
	}
	slices.SortStableFunc(out, func(a, b Shortage) int { return cmp.Or(a.OrderBy.Compare(b.OrderBy), cmp.Compare(a.Name, b.Name)) })
	return out, nil
}

// freeCoils are the coils on hand as far as nobody is promised them.
type freeCoils []stock.Coil

func (s *snapshot) freeCoils() freeCoils { return slices.Clone(s.coils) }

// serve takes what a line still wants from what is free, and gives the line with
// what isn't there. A wider coil does for trim.
func (f freeCoils) serve(l order.Line) order.Line {
	var may []stock.Coil
	for _, c := range f {
		if serves(c.Strip, l) {
			may = append(may, c)
		}
	}
	got := spread(l, may, "")
	for _, r := range got {
		for i := range f {
			if f[i].ID == r.CoilID {
				f[i].Promised += r.Length
			}
		}
	}
	cuts := served{}
	cuts.add(got)
	return cuts.rest(l)
}

// lack adds a line's pieces; trim blanks lie abreast, a row of them is one piece.
func (g *AllocationGroup) lack(number string, l order.Line) {
	row := abreast(l, l.Strip)
	for _, c := range l.Cuts {
		g.Problem.Lines = append(g.Problem.Lines, nest.Line{ID: cutID(c.ID), Order: number, Length: eighths(c.Length), Qty: int64((c.Qty + row - 1) / row)})
	}
}

// shortage asks the allocation core what a shop without a coil would have to buy.
func (s *snapshot) shortage(ctx context.Context, g *AllocationGroup, due, now time.Time) (Shortage, error) {
	out := Shortage{Strip: g.Strip, Name: g.Name, Due: due}
	out.Supply, _ = s.supplyOf(g.Strip)
	r, err := nest.Allocate(ctx, &g.Problem, nest.Settings{Iterations: 1, Seed: 1})
	if err != nil {
		return out, err
	}
	out.Pieces, out.Coils = int(r.Buy.Pieces), int(r.Buy.Coils)
	out.Short, out.Lead = inEighths(r.Buy.Strip), inEighths(r.Buy.Lead)
	out.Feet = inEighths(r.Buy.Length).Up(measure.Foot)
	of := map[string]string{}
	for _, l := range g.Problem.Lines {
		of[l.ID] = l.Order
		if !slices.Contains(out.For, l.Order) {
			out.For = append(out.For, l.Order)
		}
	}
	for _, id := range r.Buy.TooLong {
		if !slices.Contains(out.TooLong, of[id]) {
			out.TooLong = append(out.TooLong, of[id])
		}
	}
	out.OneLot = out.Coils > 1 && len(out.For) < out.Coils
	out.OrderBy = buyBy(due, now, out.Supply.LeadDays)
	m := s.materials[g.Strip.Material]
	weight := s.stripWeight(m, g.Strip).Mul(money.FromRat(out.Feet.Ratio(measure.Foot)))
	out.Pounds = pounds(weight)
	out.Estimate, err = weight.Mul(out.Supply.PerPound.Add(out.Supply.Freight)).Round(s.seller.Currency)
	return out, err
}

func inEighths(n int64) measure.Length { return measure.Eighth * measure.Length(n) }

// buyBy is the day by which something must be ordered to be there in time; it is
// never before today.
func buyBy(due, now time.Time, leadDays int) time.Time {
	by := due.AddDate(0, 0, -leadDays)
	if due.IsZero() || by.Before(now) {
		return now
	}
	return by
}

// IssuePurchaseList prints what to buy, of one supplier or ("") of all.
func (d *Desk) IssuePurchaseList(ctx context.Context, actor party.Actor, supplier string) (p order.Paper, err error) {
	if err := allow(actor, party.Owner, party.Counter); err != nil {
		return p, err
	}
	short, err := d.Shortages(ctx, actor)
	if err != nil {
		return p, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return p, err
	}
	doc := &document.PurchaseList{Head: document.Head{State: "to order", Issued: s.local(d.now()), By: actor.Name, Paper: s.paperSize(), Style: s.seller.Style, Seller: s.firm()}, Supplier: supplier}
	for _, one := range short {
		if supplier == "" || one.Supply.Supplier == supplier {
			doc.Lines = append(doc.Lines, s.purchaseLine(one))
		}
	}
	if len(doc.Lines) == 0 {
		return p, fault.Conflictf("open orders lack nothing of it; there is nothing to print")
	}
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		if doc.Number, err = purchaseNumbers.take(tx); err != nil {
			return err
		}
		p, err = issuePaper(tx, actor, order.Paper{}, doc)
		return err
	})
	return p, err
}

func (s *snapshot) purchaseLine(b Shortage) document.Purchase {
	l := document.Purchase{
		Goods: s.goods(order.Line{Kind: order.Formed, Material: b.Strip.Material, Gauge: b.Strip.Gauge, Colour: b.Strip.Colour}, shopReader),
		Width: b.Strip.Width, Short: b.Short, Quantity: money.FromRat(b.Feet.Ratio(measure.Foot)), Unit: "ft", Pounds: b.Pounds, For: b.For, OneLot: b.OneLot,
		By: s.local(b.Due), Note: fmt.Sprintf("order by %s, it takes %d days", s.local(b.OrderBy).Format("Jan 2"), b.Supply.LeadDays),
	}
	if b.Coils > 0 {
		l.Quantity, l.Unit = money.Int(int64(b.Coils)), "coils"
		l.Note = fmt.Sprintf("%s ft in all, of about %d lb each; ", b.Feet.Decimal(measure.Foot, 0), b.Supply.CoilLb) + l.Note
	}
	if b.Coils == 1 {
		l.Unit = "coil"
	}
	for _, n := range b.TooLong {
		l.Note += "; order " + n + " has a piece longer than such a coil"
	}
	return l
}
