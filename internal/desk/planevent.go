package desk

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/price"
	"ribdesk/internal/stock"
	"ribdesk/internal/store"
)

// What happens to the shop along with a plan: time that is taken or given back,
// an order that becomes urgent or is cancelled, a coil that holds less than is
// booked. Each is tried on a snapshot first, then carried out in the transaction
// that adopts the plan, and is taken back with it as far as that can be.

// block takes time, or changes how much is taken.
func (s *snapshot) block(b stock.Block) error {
	if err := b.Check(); err != nil {
		return err
	}
	if !slices.ContainsFunc(s.machines, func(m stock.Machine) bool { return m.Code == b.Machine }) {
		return fault.Invalidf("machine", "choose one of the machines")
	}
	if b.ID != 0 && s.blockNo(b.ID) < 0 {
		return fault.NotFoundf("this block is gone already, or over")
	}
	s.blocks = slices.DeleteFunc(slices.Clone(s.blocks), func(old stock.Block) bool { return b.ID != 0 && old.ID == b.ID })
	s.blocks = append(s.blocks, b)
	return nil
}

// free gives a block back.
func (s *snapshot) free(id int64) error {
	i := s.blockNo(id)
	if i < 0 {
		return fault.NotFoundf("this block is gone already, or over")
	}
	s.blocks = slices.Delete(slices.Clone(s.blocks), i, i+1)
	return nil
}

func (s *snapshot) blockNo(id int64) int {
	return slices.IndexFunc(s.blocks, func(b stock.Block) bool { return b.ID == id })
}

// urgent makes an order urgent, promised for an earlier time when one is given,
// and says what that means when none is.
func (s *snapshot) urgent(id int64, by, now time.Time) (also []string, err error) {
	o := s.openOrder(id)
	switch {
	case o == nil:
		return nil, fault.NotFoundf("this order isn't waiting for the machines")
	case by.IsZero():
		also = append(also, "Its promise stays. Where not every promise can be kept, this one comes before others.")
	case !by.After(now):
		return nil, fault.Invalidf("by", "this time is past")
	case !o.Promise.IsZero() && by.After(o.Promise):
		return nil, fault.Invalidf("by", "that is later than promised now; only the owner moves a promise back, on the order's page")
	}
	return also, s.eachOrder(id, func(o *order.Order) bool {
		o.Rush = true
		if !by.IsZero() {
			o.Promise = by
		}
		return true
	})
}

func (s *snapshot) openOrder(id int64) *order.Order {
	i := slices.IndexFunc(s.open, func(o order.Order) bool { return o.ID == id })
	if i < 0 {
		return nil
	}
	return &s.open[i]
}

// drop takes an order out, and with it what it was promised of coils, and says
// how much that is.
func (s *snapshot) drop(id int64, reason string) (also []string, err error) {
	if reason == "" {
		return nil, fault.Invalidf("reason", "say why")
	}
	o := s.openOrder(id)
	if o == nil {
		return nil, fault.NotFoundf("this order isn't waiting for the machines")
	}
	var freed measure.Length
	s.coils = slices.Clone(s.coils)
	for _, l := range o.Lines {
		for _, r := range s.promises[l.ID] {
			if i := s.coilNo(r.CoilID); i >= 0 {
				s.coils[i].Promised -= r.Length
				freed += r.Length
			}
		}
	}
	if freed > 0 {
		also = append(also, fmt.Sprintf("%s ft of coil that were promised to it are free again.", freed.Feet()))
	}
	return also, s.eachOrder(id, func(*order.Order) bool { return false })
}

// leaves says what the shop carries of the set-ups that a cancelled order shared.
func (d *Desk) leaves(ctx context.Context, id int64) (also []string, err error) {
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		o, err := tx.Order(id)
		if err != nil {
			return err
		}
		c, err := leftBehind(tx, o)
		if err != nil || len(c.Left) == 0 {
			return err
		}
		var others []string
		for _, left := range c.Left {
			others = append(others, left.Order)
		}
		hold := "whose prices hold"
		if c.Policy == price.Requote {
			hold = "who may be quoted anew"
		}
		also = append(also, fmt.Sprintf("It shares set-ups with %s, %s; the shop carries %s of them.", strings.Join(others, ", "), hold, c.Shop.Format()))
		return nil
	})
	return also, err
}

// eachOrder changes one open order, or takes it out when keep says no.
func (s *snapshot) eachOrder(id int64, keep func(*order.Order) bool) error {
	open := slices.Clone(s.open)
	i := slices.IndexFunc(open, func(o order.Order) bool { return o.ID == id })
	if i < 0 {
		return fault.NotFoundf("this order isn't waiting for the machines")
	}
	if !keep(&open[i]) {
		open = slices.Delete(open, i, i+1)
	}
	s.open, s.lines = open, map[int64]plannedLine{}
	for i := range open {
		for _, l := range open[i].Lines {
			s.lines[l.ID] = plannedLine{l, &open[i]}
		}
	}
	s.places = slices.DeleteFunc(slices.Clone(s.places), func(p order.Placed) bool { return s.lines[p.LineID].of == nil })
	return nil
}

func (s *snapshot) coilNo(id int64) int {
	return slices.IndexFunc(s.coils, func(c stock.Coil) bool { return c.ID == id })
}

// short leaves only so much on a coil, looks for other coils for what was promised
// of it, as endCoil does when it holds, and says what is lacking then.
func (s *snapshot) short(coil int64, left measure.Length) (also []string, err error) {
	i := s.coilNo(coil)
	if i < 0 {
		return nil, fault.NotFoundf("there is no such coil on hand")
	}
	if left < 0 || left >= s.coils[i].OnHand {
		return nil, fault.Invalidf("left", "%s ft are booked on this coil; write what is left of them, or nothing when it is gone", s.coils[i].OnHand.Feet())
	}
	s.coils = slices.Clone(s.coils)
	s.coils[i].OnHand, s.coils[i].Promised = left, 0
	if left == 0 {
		s.coils = slices.Delete(s.coils, i, i+1)
	}
	var taken []order.Reservation
	promises := map[int64][]order.Reservation{}
	for line, list := range s.promises {
		for _, r := range list {
			if r.CoilID == coil {
				taken = append(taken, r)
			} else {
				promises[line] = append(promises[line], r)
			}
		}
	}
	s.promises = promises
	slices.SortFunc(taken, func(a, b order.Reservation) int { return cmp.Compare(a.ID, b.ID) })
	var promised, lacks measure.Length
	seen := map[int64]bool{}
	for _, r := range taken {
		promised += r.Length
		if l, open := s.lines[r.LineID]; open && !seen[l.of.ID] {
			seen[l.of.ID] = true
			lacks += s.promiseAgain(l.of)
		}
	}
	switch {
	case lacks > 0:
		also = append(also, fmt.Sprintf("%s ft of it are promised; %s ft of that are on no coil then and have to be bought.", promised.Feet(), lacks.Feet()))
	case promised > 0:
		also = append(also, fmt.Sprintf("%s ft of it are promised; all of that is on coils that are here.", promised.Feet()))
	}
	return also, nil
}

// promiseAgain gives an order coil for what it lacks, and says what it lacks
// then.
func (s *snapshot) promiseAgain(o *order.Order) (lacks measure.Length) {
	lines := s.unserved(o)
	coilsFor := func(l order.Line) ([]stock.Coil, error) {
		if l.Kind == order.Trim {
			return s.serving(l), nil
		}
		return s.coilsOf(l.Metal()), nil
	}
	_ = spreadOrder(lines, coilsFor, func(r order.Reservation) error { // neither can fail here
		s.promises[r.LineID] = append(s.promises[r.LineID], r)
		s.coils[s.coilNo(r.CoilID)].Promised += r.Length
		return nil
	})
	for _, l := range s.unserved(o) {
		lacks += stripFeet(l)
	}
	return lacks
}

// unserved gives an order's lines with the pieces that are neither made nor
// promised metal.
func (s *snapshot) unserved(o *order.Order) (lines []order.Line) {
	for _, l := range o.Lines {
		cuts := served{}
		cuts.add(s.promises[l.ID])
		cuts.addBlanks(s.blanks)
		if l = cuts.rest(s.rest(l)); len(l.Cuts) > 0 && l.Kind != order.Accessory {
			lines = append(lines, l)
		}
	}
	return lines
}

// takeBack undoes what happened along with an adopted plan, and says in words
// what goes back and what can't.
func (s *snapshot) takeBack(e order.PlanEvent, now time.Time) (also []string) {
	switch {
	case e.Block != 0:
		i := s.blockNo(e.Block)
		if i < 0 || s.blocks[i].Version != e.Version {
			return []string{"The time that was taken with it is over or was changed since; it stays."}
		}
		also = append(also, "Given back with it: "+s.blockWords(s.blocks[i])+".")
		s.blocks = slices.Delete(slices.Clone(s.blocks), i, i+1)
		if e.Was != nil {
			was := *e.Was
			was.Version = e.Version
			s.blocks = append(s.blocks, was)
			also[0] = "Put back with it: " + s.blockWords(was) + "."
		}
	case e.Was != nil && e.Was.To.After(now):
		again := *e.Was
		again.ID, again.Version = 0, 0
		s.blocks = append(slices.Clone(s.blocks), again)
		also = append(also, "Taken again with it: "+s.blockWords(again)+".")
	case e.Urgent != 0:
		if o := s.openOrder(e.Urgent); o != nil {
			if !e.WasUrgent {
				also = append(also, fmt.Sprintf("Order %s isn't urgent any more.", o.Number))
			}
			if e.Moved(o.Promise) && !e.Promise.IsZero() {
				also = append(also, fmt.Sprintf("Order %s is promised for %s again, and its customer is told.", o.Number, s.moment(e.Promise)))
			}
			_ = s.eachOrder(e.Urgent, func(o *order.Order) bool { calm(o, e); return true }) // it is open
		}
	}
	if e.Stays != "" {
		also = append(also, e.Stays)
	}
	return also
}

// calm makes an order as it was before it became urgent. A promise that was
// moved again since stays.
func calm(o *order.Order, e order.PlanEvent) {
	o.Rush = e.WasUrgent
	if e.Moved(o.Promise) {
		o.Promise = e.Promise
	}
}

// mayTakeBack refuses those who couldn't have done it.
func mayTakeBack(actor party.Actor, e order.PlanEvent) error {
	switch {
	case e.Urgent != 0:
		return PlanChange{Rush: e.Urgent}.allow(actor)
	case e.Block != 0 || e.Was != nil:
		return PlanChange{Free: 1}.allow(actor)
	}
	return nil
}

// carryOut does what a change carries with it beside the plan, and gives what
// taking it back needs.
func (d *Desk) carryOut(tx *store.Tx, actor party.Actor, c PlanChange) (e order.PlanEvent, err error) {
	switch {
	case c.Block != nil:
		return carryBlock(tx, actor, *c.Block)
	case c.Free != 0:
		was, err := tx.Block(c.Free)
		if err != nil {
			return e, err
		}
		return order.PlanEvent{Was: &was}, tx.DeleteBlock(actor, c.Free)
	case c.Rush != 0:
		return d.carryRush(tx, actor, c)
	case c.Drop != 0:
		o, err := tx.Order(c.Drop)
		if err != nil {
			return e, err
		}
		if err := o.Apply(order.Cancel); err != nil {
			return e, err
		}
		if err := giveUp(tx, actor, &o, c.Reason); err != nil {
			return e, err
		}
		_, err = tx.SaveOrder(actor, o, string(o.State))
		return order.PlanEvent{Stays: fmt.Sprintf("Order %s stays cancelled.", o.Number)}, err
	case c.Coil != 0:
		coil, err := tx.Coil(c.Coil)
		if err != nil {
			return e, err
		}
		stays := fmt.Sprintf("Coil %s stays booked at %s ft; count it on its page if that was wrong.", coil.Tag, c.Left.Feet())
		return order.PlanEvent{Stays: stays}, endCoil(tx, actor, c.Coil, c.Left)
	}
	return e, nil
}

func carryBlock(tx *store.Tx, actor party.Actor, b stock.Block) (e order.PlanEvent, err error) {
	if b.ID != 0 {
		was, err := tx.Block(b.ID)
		if err != nil {
			return e, err
		}
		e.Was = &was
	}
	saved, err := tx.SaveBlock(actor, b)
	e.Block, e.Version = saved.ID, saved.Version
	return e, err
}

func (d *Desk) carryRush(tx *store.Tx, actor party.Actor, c PlanChange) (e order.PlanEvent, err error) {
	o, err := tx.Order(c.Rush)
	if err != nil {
		return e, err
	}
	was := o.Promise
	e.Urgent, e.WasUrgent = o.ID, o.Rush
	o.Rush = true
	if !c.By.IsZero() && !c.By.Equal(was) {
		o.Promise = c.By
		e.Promise, e.Promised = was, c.By
	}
	if o, err = tx.SaveOrder(actor, o, "made urgent"); err != nil || e.Promised.IsZero() {
		return e, err
	}
	if err := tx.Log(actor, "promise moved because", "order", o.ID, map[string]any{"was": was, "is": c.By, "reason": "urgent"}); err != nil {
		return e, err
	}
	return e, d.tellMoved(tx, o, was)
}

// carryBack takes back what was carried out, as far as takeBack says.
func (d *Desk) carryBack(tx *store.Tx, actor party.Actor, e order.PlanEvent) error {
	switch {
	case e.Block != 0:
		b, err := tx.Block(e.Block)
		if fault.Is(err, fault.NotFound) || err == nil && (b.Version != e.Version || !b.To.After(tx.Now())) {
			return nil // over or changed since: it stays
		}
		if err != nil {
			return err
		}
		if e.Was == nil {
			return tx.DeleteBlock(actor, e.Block)
		}
		was := *e.Was
		was.Version = b.Version
		_, err = tx.SaveBlock(actor, was)
		return err
	case e.Was != nil && e.Was.To.After(tx.Now()):
		again := *e.Was
		again.ID, again.Version = 0, 0
		_, err := tx.SaveBlock(actor, again)
		return err
	case e.Urgent != 0:
		o, err := tx.Order(e.Urgent)
		if err != nil || o.State != order.Accepted && o.State != order.Planned {
			return err
		}
		was := o.Promise
		calm(&o, e)
		if o, err = tx.SaveOrder(actor, o, "not urgent any more"); err != nil || o.Promise.Equal(was) {
			return err
		}
		return d.tellMoved(tx, o, was)
	}
	return nil
}
