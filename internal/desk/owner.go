package desk

import (
	"context"
	"encoding/json"
	"fmt"
	"sync"
	"time"

	"ribdesk/internal/books"
	"ribdesk/internal/figures"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/price"
	"ribdesk/internal/stock"
	"ribdesk/internal/store"
)

// looks keeps the records of the owner's figures as they were last read, as long
// as nothing was written since.
type looks struct {
	mu    sync.Mutex
	stamp int64
	day   string
	kept  *figures.Records
}

// OwnerRecords reads everything the owner's figures are made of, to the owner:
// they hold what things cost.
func (d *Desk) OwnerRecords(ctx context.Context, actor party.Actor) (figures.Records, error) {
	if err := allow(actor, party.Owner); err != nil {
		return figures.Records{}, err
	}
	d.looked.mu.Lock()
	defer d.looked.mu.Unlock()
	err := d.store.Read(ctx, func(tx *store.Tx) error {
		s, err := d.snapshotIn(tx)
		if err != nil {
			return err
		}
		if d.looked.kept != nil && d.looked.stamp == s.stamp && d.looked.day == s.day {
			return nil
		}
		r, err := s.ownerRecords(tx)
		if err == nil {
			d.looked.stamp, d.looked.day, d.looked.kept = s.stamp, s.day, &r
		}
		return err
	})
	if err != nil {
		return figures.Records{}, err
	}
	r := *d.looked.kept
	r.Now = d.now()
	if r.First.IsZero() {
		r.First = r.Now
	}
	return r, nil
}

// ownerRead gathers records; heads and what each order counts for are looked up
// while reading the others.
type ownerRead struct {
	*figures.Records
	s        *snapshot
	tx       *store.Tx
	heads    map[int64]store.OrderHead
	followOf map[int64]int64 // a remake's order: the one it repairs
	stops    map[int64][]order.Stop
}

func (s *snapshot) ownerRecords(tx *store.Tx) (figures.Records, error) {
	r := ownerRead{Records: &figures.Records{Zone: s.seller.Location(), Currency: s.seller.Currency}, s: s, tx: tx}
	for _, read := range []func() error{r.readHeads, r.readMachines, r.readWork, r.readDraws, r.readJobs, r.readAnswers, r.readHanded} {
		if err := read(); err != nil {
			return figures.Records{}, err
		}
	}
	r.readCoils()
	return *r.Records, nil
}

func (r *ownerRead) readHeads() (err error) {
	if r.First, err = r.tx.FirstEvent(); err != nil {
		return err
	}
	heads, err := r.tx.OrderHeads()
	if err != nil {
		return err
	}
	stops, err := r.tx.AllStops()
	if err != nil {
		return err
	}
	r.heads, r.followOf, r.stops = map[int64]store.OrderHead{}, map[int64]int64{}, map[int64][]order.Stop{}
	for _, h := range heads {
		r.heads[h.ID] = h
	}
	for _, s := range stops {
		r.stops[s.OrderID] = append(r.stops[s.OrderID], s)
		for _, e := range s.Exceptions {
			if e.FollowUp != 0 {
				r.followOf[e.FollowUp] = s.OrderID
			}
		}
	}
	return nil
}

// countsFor gives the order that pays for an order's metal and hours: itself, or
// what it repairs, through remakes of remakes.
func (r *ownerRead) countsFor(id int64) int64 {
	for range len(r.followOf) + 1 {
		of, remake := r.followOf[id]
		if !remake {
			break
		}
		id = of
	}
	return id
}

func (r *ownerRead) readMachines() (err error) {
	for _, m := range r.s.machines {
		one := figures.Machine{Machine: m, Price: money.Cents(0, r.Currency)}
		for _, c := range r.s.rates.Centers {
			if c.ID == m.Code && c.Machine.Sheet != nil {
				if one.Price, err = c.Machine.Sheet.Purchase.Round(r.Currency); err != nil {
					return err
				}
			}
		}
		r.Machines = append(r.Machines, one)
	}
	r.Blocks, err = r.tx.Blocks(r.First)
	return err
}

func (r *ownerRead) readWork() error {
	lines, err := r.tx.MadeLines()
	if err != nil {
		return err
	}
	for _, l := range lines {
		p := l.Place
		r.Work = append(r.Work, figures.Work{
			LineID: p.LineID, OrderID: p.OrderID, Order: r.heads[p.OrderID].Number, For: r.countsFor(p.OrderID), Machine: p.Machine, What: l.Name,
			Done: p.DoneAt, Change: p.ChangeMinutes, Run: l.Minutes, Saved: p.SavedMinutes, SavedCost: p.Saved,
		})
	}
	return nil
}

func (r *ownerRead) readDraws() error {
	coils, err := r.tx.AllCoils()
	if err != nil {
		return err
	}
	byID := map[int64]stock.Coil{}
	for _, c := range coils {
		byID[c.ID] = c
	}
	drawn, err := r.tx.DrawnStrip()
	if err != nil {
		return err
	}
	for _, d := range drawn {
		m, c := d.Movement, byID[d.Movement.CoilID]
		one := figures.Draw{CoilID: c.ID, Tag: c.Tag, Strip: c.Strip, Kind: m.Kind, Reason: m.Reason, Length: -m.Length, PerFoot: c.PerFoot(), At: m.At, OrderID: d.OrderID}
		if d.OrderID != 0 {
			one.For = r.countsFor(d.OrderID)
		}
		r.Draws = append(r.Draws, one)
	}
	return nil
}

func (r *ownerRead) readJobs() error {
	bills, err := r.tx.Invoices(store.BooksFilter{})
	if err != nil {
		return err
	}
	notes, err := r.tx.Memos(store.BooksFilter{})
	if err != nil {
		return err
	}
	at := map[int64]int{}
	var ids []int64
	for i := len(bills) - 1; i >= 0; i-- { // they come newest first
		b := bills[i]
		k, ok := at[b.OrderID]
		if !ok {
			k, at[b.OrderID] = len(r.Jobs), len(r.Jobs)
			ids = append(ids, b.OrderID)
			h := r.heads[b.OrderID]
			zero := money.Cents(0, r.Currency)
			r.Jobs = append(r.Jobs, figures.Job{
				OrderID: h.ID, Order: h.Number, Customer: h.Customer, First: localDay(b.Invoice.Issued, r.Zone),
				Invoiced: zero, Credited: zero, Open: !h.State.Reached(order.Delivered),
			})
		}
		r.Jobs[k].Invoiced = r.Jobs[k].Invoiced.Add(withoutDelivery(b.Invoice.Figures))
	}
	for _, n := range notes {
		if k, ok := at[n.OrderID]; ok {
			r.Jobs[k].Credited = r.Jobs[k].Credited.Add(withoutDelivery(n.Memo.Figures))
		}
	}
	return r.readSpending(ids)
}

// withoutDelivery gives what a document bills before tax, less its charges for
// delivery.
func withoutDelivery(f books.Figures) money.Amount {
	sum := f.Subtotal
	for _, a := range f.Adjustments {
		if a.Account == books.Delivery && !a.Allowance {
			sum = sum.Sub(a.Amount)
		}
	}
	return sum
}

// localDay gives a day of the books as the moment it begins in the shop.
func localDay(day time.Time, zone *time.Location) time.Time {
	y, m, d := day.Date()
	return time.Date(y, m, d, 0, 0, 0, 0, zone)
}

// readSpending reads from the stored inputs of the prices what accessories and
// packing cost and what an hour of each machine took out of the pocket.
func (r *ownerRead) readSpending(ids []int64) error {
	inputs, err := r.tx.PriceInputs(ids)
	if err != nil {
		return err
	}
	for i := range r.Jobs {
		j := &r.Jobs[i]
		body := inputs[j.OrderID]
		if len(body) == 0 {
			continue
		}
		var in price.Input
		if err := json.Unmarshal(body, &in); err != nil {
			return fmt.Errorf("the price of order %s: %w", j.Order, err)
		}
		if err := spentOn(j, in); err != nil {
			return fmt.Errorf("the price of order %s: %w", j.Order, err)
		}
	}
	return nil
}

func spentOn(j *figures.Job, in price.Input) error {
	for _, it := range in.Order.Items {
		if it.Bought != nil {
			j.Bought = j.Bought.Add(it.Bought.Each.Mul(money.Int(int64(it.Bought.Pieces))))
		}
	}
	j.Packing = in.Shop.Bundle.Mul(money.Int(int64(in.Order.Bundles)))
	j.Pocket = map[string]money.Rate{}
	for _, c := range in.Shop.Centers {
		h, err := c.Worksheet()
		if err != nil {
			return err
		}
		j.Pocket[c.ID] = h.Pocket
	}
	return nil
}

// readAnswers takes the last answer to each quote. Remakes and changes of
// accepted orders were no quotes of their own; a quote that is open again has no
// answer.
func (r *ownerRead) readAnswers() error {
	events, err := r.tx.EventsNamed("order", string(order.Accepted), string(order.Declined), string(order.Lapsed))
	if err != nil {
		return err
	}
	at := map[int64]int{}
	for _, e := range events {
		h, ok := r.heads[e.SubjectID]
		if _, remake := r.followOf[h.ID]; !ok || remake || h.Follows != 0 || h.State == order.Draft || h.State == order.Quoted {
			continue
		}
		one := figures.Answer{OrderID: h.ID, Order: h.Number, Customer: h.Customer, At: e.At, Outcome: figures.Outcome(e.Action), Why: h.Why, Total: h.Total}
		if one.Outcome == figures.Won {
			one.Why = ""
		}
		if i, again := at[h.ID]; again {
			if r.Answers[i].Outcome == figures.Won && one.Outcome == figures.Won {
				continue // logged again by a step back in the plan: won is won
			}
			r.Answers[i] = one
			continue
		}
		at[h.ID] = len(r.Answers)
		r.Answers = append(r.Answers, one)
	}
	return nil
}

func (r *ownerRead) readHanded() error {
	moves, err := r.tx.EventsNamed("order", "promise moved because")
	if err != nil {
		return err
	}
	first := map[int64]time.Time{}
	for _, e := range moves {
		var moved struct{ Was time.Time }
		if _, known := first[e.SubjectID]; known || json.Unmarshal(e.Detail, &moved) != nil {
			continue
		}
		first[e.SubjectID] = moved.Was
	}
	cut, err := r.tx.EventsNamed("order", string(order.Cut))
	if err != nil {
		return err
	}
	ready := map[int64]time.Time{}
	for _, e := range cut {
		if ready[e.SubjectID].IsZero() { // taken off a load again, it is cut again too
			ready[e.SubjectID] = e.At
		}
	}
	for id, stops := range r.stops {
		h := r.heads[id]
		if !h.State.Reached(order.Delivered) {
			continue
		}
		one := figures.HandOver{OrderID: id, Order: h.Number, Customer: h.Customer, Promised: h.Promise, PickUp: h.Fulfil == order.PickUp}
		if was, moved := first[id]; moved {
			one.Promised, one.Moved = was, h.Promise
		}
		for _, s := range stops {
			one.At = stock.Later(one.At, s.SignedAt)
		}
		if at, known := ready[id]; known && one.PickUp {
			one.At = at
		}
		if !one.At.IsZero() {
			r.Handed = append(r.Handed, one)
		}
	}
	sortHanded(r.Handed)
	return nil
}

func (r *ownerRead) readCoils() {
	for _, c := range r.s.coils {
		of := RackStrip{Strip: c.Strip, Material: r.s.materials[c.Strip.Material], Colour: r.s.colours[c.Strip.Colour]}
		r.Coils = append(r.Coils, figures.Coil{Coil: c, Name: of.Name(), Short: of.Short()})
	}
}
