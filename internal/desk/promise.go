package desk

import (
	"cmp"
	"slices"

	"ribdesk/internal/measure"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
	"ribdesk/internal/store"
)

// promiseCoil promises coil to an order's lines as far as there is any and they
// have none yet, in the transaction that accepts the order: no piece across
// coils, one paint lot for the order where one holds it, shortest sufficient
// coil first, trim also from wider coils of its metal. What is missing stays for
// the purchase list, and is promised when a coil comes in. Adopting a run plan
// chooses the coils of all open orders anew.
func promiseCoil(tx *store.Tx, actor party.Actor, o *order.Order) error {
	lines, err := unpromised(tx, *o)
	if err != nil {
		return err
	}
	some := false
	err = spreadOrder(lines, func(l order.Line) ([]stock.Coil, error) { return coilsFor(tx, l) }, func(r order.Reservation) error {
		some = true
		return tx.Reserve(r)
	})
	if err != nil {
		return err
	}
	if !some {
		return nil
	}
	return tx.Log(actor, "promised coil", "order", o.ID, nil)
}

// spreadOrder puts the lines of one order on coils, one after the other, with the
// lot of the first coil before others. keep takes each promise before the coils
// of the next line are asked for.
func spreadOrder(lines []order.Line, coilsFor func(order.Line) ([]stock.Coil, error), keep func(order.Reservation) error) error {
	lot := ""
	for _, l := range lines {
		coils, err := coilsFor(l)
		if err != nil {
			return err
		}
		for _, r := range spread(l, coils, lot) {
			r.LineID = l.ID
			if err := keep(r); err != nil {
				return err
			}
			for _, c := range coils {
				if c.ID == r.CoilID && lot == "" {
					lot = c.Lot
				}
			}
		}
	}
	return nil
}

// coilsFor gives the coils that a line can be cut from, oldest first.
func coilsFor(tx *store.Tx, l order.Line) ([]stock.Coil, error) {
	if l.Kind != order.Trim {
		return tx.CoilsOf(l.Metal())
	}
	coils, err := tx.CoilsOfMetal(l.Metal())
	return slices.DeleteFunc(coils, func(c stock.Coil) bool { return !serves(c.Strip, l) }), err
}

// unpromised gives an order's lines with the pieces that are neither made nor
// promised coil.
func unpromised(tx *store.Tx, o order.Order) (out []order.Line, err error) {
	ids := lineIDs(o)
	cuts := served{}
	promises, err := tx.Reservations(ids...)
	if err != nil {
		return nil, err
	}
	cuts.add(promises)
	blanks, err := tx.SheetBlanks(ids...)
	if err != nil {
		return nil, err
	}
	cuts.addBlanks(blanks)
	made, err := tx.CutRecords(ids...)
	if err != nil {
		return nil, err
	}
	for _, r := range made {
		cuts[r.CutID] += r.Pieces
	}
	for _, l := range o.Lines {
		if l = cuts.rest(l); len(l.Cuts) > 0 {
			out = append(out, l)
		}
	}
	return out, nil
}

// promiseWaiting promises a strip that came in to the orders that wait for it,
// the oldest first.
func promiseWaiting(tx *store.Tx, actor party.Actor, strip stock.Strip) error {
	open, err := tx.Orders(store.OrderFilter{States: []order.State{order.Accepted, order.Planned}, Lines: true, Oldest: true, Limit: maxOpenOrders})
	if err != nil {
		return err
	}
	for i := range open {
		waits := false
		for _, l := range open[i].Lines {
			waits = waits || l.Kind != order.Accessory && serves(strip, l)
		}
		if !waits {
			continue
		}
		if err := promiseCoil(tx, actor, &open[i]); err != nil {
			return err
		}
	}
	return nil
}

// spread puts a line's pieces on coils, longest first. A coil that holds the
// whole line is taken alone, the order's lot before others; trim takes the width
// it was priced from before others, then the one that leaves least beside it.
func spread(l order.Line, coils []stock.Coil, lot string) []order.Reservation {
	coils = slices.Clone(coils)
	slices.SortStableFunc(coils, func(a, b stock.Coil) int {
		return cmp.Or(
			rank(a.Lot != lot && lot != "", b.Lot != lot && lot != ""),
			rank(a.Free() < stripFeet(from(l, a)), b.Free() < stripFeet(from(l, b))),
			rank(a.Strip.Width != l.Strip, b.Strip.Width != l.Strip),
			cmp.Compare(beside(l, a), beside(l, b)),
			cmp.Compare(a.Free(), b.Free()),
			cmp.Compare(a.ID, b.ID),
		)
	})
	cuts := slices.Clone(l.Cuts)
	slices.SortStableFunc(cuts, func(a, b order.CutItem) int { return cmp.Compare(b.Length, a.Length) })
	var out []order.Reservation
	for _, c := range coils {
		r := order.Reservation{CoilID: c.ID}
		left, row := c.Free(), abreast(l, c.Strip.Width)
		for i := range cuts {
			n := min(cuts[i].Qty, int(left/cuts[i].Length)*row)
			if n <= 0 {
				continue
			}
			use := cuts[i].Length.Times((n + row - 1) / row)
			r.Cuts = append(r.Cuts, order.CutShare{CutID: cuts[i].ID, Qty: n, Length: cuts[i].Length})
			r.Length += use
			left -= use
			cuts[i].Qty -= n
		}
		if r.Length > 0 {
			out = append(out, r)
		}
	}
	return out
}

// from is a line as it is cut from a coil: trim may come from another width than
// it was priced from.
func from(l order.Line, c stock.Coil) order.Line {
	l.Strip = c.Strip.Width
	return l
}

// abreast is how many of a line's pieces lie side by side on a strip.
func abreast(l order.Line, width measure.Length) int {
	if l.Kind != order.Trim || l.Girth <= 0 {
		return 1
	}
	return max(1, int(width/l.Girth))
}

// beside is the part of a foot of coil that no blank of a line takes.
func beside(l order.Line, c stock.Coil) measure.Length {
	if l.Kind != order.Trim {
		return 0
	}
	return c.Strip.Width - l.Girth.Times(abreast(l, c.Strip.Width))
}

// useEnds takes metal that was scrapped off what a coil's promises keep for
// threading and tail: it was meant to go that way.
func useEnds(tx *store.Tx, coilID int64, scrapped measure.Length) error {
	promises, err := tx.ReservationsOn(coilID)
	if err != nil {
		return err
	}
	for _, r := range promises {
		end := r.Length
		for _, c := range r.Cuts {
			end -= c.Length.Times(c.Qty)
		}
		took := min(end, scrapped)
		if took <= 0 {
			continue
		}
		scrapped -= took
		r.Length -= took
		if err := tx.SaveReservation(r); err != nil {
			return err
		}
	}
	return nil
}

// rank orders false before true.
func rank(a, b bool) int {
	switch {
	case a == b:
		return 0
	case a:
		return 1
	}
	return -1
}
