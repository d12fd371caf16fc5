package desk

import (
	"cmp"
	"slices"

	"ribdesk/internal/order"
	"ribdesk/internal/store"
)

// rowKey names a row of an order: a cut-list row, or with cut 0 an accessory.
type rowKey struct{ line, cut int64 }

// handed is what a customer has of an order, in pieces by row.
type handed struct {
	pieces    map[rowKey]int
	tickets   []string // of the stops signed so far
	last      order.Stop
	signed    int
	unsigned  int
	undecided int // exceptions nobody has decided on
	awaited   int // remakes that haven't arrived yet
}

// readHanded counts the pieces handed over on all signed stops of an order, less
// those that the tickets except.
func readHanded(tx *store.Tx, o order.Order) (handed, error) {
	stops, err := tx.StopsOf(o.ID)
	if err != nil {
		return handed{}, err
	}
	bundles, err := tx.BundlesOf(o.ID)
	if err != nil {
		return handed{}, err
	}
	remade := map[int64]bool{}
	for _, s := range stops {
		for _, e := range s.Exceptions {
			if e.FollowUp == 0 {
				continue
			}
			follow, err := tx.Order(e.FollowUp)
			if err != nil {
				return handed{}, err
			}
			remade[e.FollowUp] = follow.State.Reached(order.Delivered)
		}
	}
	return countHanded(o, stops, bundles, remade), nil
}

// countHanded does the counting. remade tells which follow-up orders have
// arrived.
func countHanded(o order.Order, stops []order.Stop, bundles []order.Bundle, remade map[int64]bool) handed {
	h := handed{pieces: map[rowKey]int{}}
	for _, s := range stops {
		if s.SignedAt.IsZero() {
			h.unsigned++
			continue
		}
		h.signed++
		h.tickets = append(h.tickets, s.Ticket)
		if !s.SignedAt.Before(h.last.SignedAt) {
			h.last = s
		}
		on := slices.DeleteFunc(slices.Clone(bundles), func(b order.Bundle) bool { return b.LoadID != s.LoadID })
		if len(on) == 0 && o.Fulfil == order.OnSite {
			on = []order.Bundle{wholeOrder(o)} // formed where it is used: nothing was hauled
		}
		for key, n := range h.accepted(on, s.Exceptions, remade) {
			h.pieces[key] += n
		}
	}
	return h
}

// accepted gives what of the bundles of a stop the customer pays for. What was
// short, damaged, wrong or refused isn't, unless it was made again and has
// arrived: the follow-up order is free, so the pieces are billed here. As long
// as nobody has decided, the doubt is the shop's.
func (h *handed) accepted(on []order.Bundle, exceptions []order.Exception, remade map[int64]bool) map[rowKey]int {
	load := map[rowKey]int{}
	for _, b := range on {
		for _, it := range b.Items {
			load[rowKey{it.LineID, it.CutID}] += it.Qty + it.Short // what picking missed is an exception too
		}
	}
	for _, e := range exceptions {
		switch {
		case e.Kind == "over", e.Decision == order.Remake && remade[e.FollowUp]:
			continue
		case e.Decision == "":
			h.undecided++
		case e.Decision == order.Remake:
			h.awaited++
		}
		except(load, on, e)
	}
	return load
}

// except takes an exception's pieces off a load. Where the ticket doesn't say of
// which length they were, the longest of the bundle go first.
func except(load map[rowKey]int, on []order.Bundle, e order.Exception) {
	var items []order.BundleItem
	for _, b := range on {
		if e.BundleID != 0 && b.ID != e.BundleID {
			continue
		}
		for _, it := range b.Items {
			if e.CutID == 0 || it.CutID == e.CutID {
				items = append(items, it)
			}
		}
	}
	slices.SortStableFunc(items, func(a, b order.BundleItem) int { return cmp.Compare(b.Length, a.Length) })
	left := e.Pieces
	for _, it := range items {
		key := rowKey{it.LineID, it.CutID}
		n := min(left, load[key], it.Qty+it.Short)
		load[key] -= n
		left -= n
	}
}

// wholeOrder gives all of an order as one bundle.
func wholeOrder(o order.Order) (b order.Bundle) {
	for _, l := range o.Lines {
		if l.Kind == order.Accessory {
			b.Items = append(b.Items, order.BundleItem{LineID: l.ID, Qty: l.Count})
		}
		for _, c := range l.Cuts {
			b.Items = append(b.Items, order.BundleItem{LineID: l.ID, CutID: c.ID, Qty: c.Qty, Length: c.Length})
		}
	}
	return b
}
