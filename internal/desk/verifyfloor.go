package desk

import (
	"encoding/json"
	"fmt"
	"time"

	"ribdesk/internal/document"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/plan"
	"ribdesk/internal/stock"
	"ribdesk/internal/store"
)

// zeroDay is earlier than anything the shop has done.
func (s *snapshot) zeroDay() time.Time { return time.Date(1900, 1, 1, 0, 0, 0, 0, time.UTC) }

// states follows each order's log: every change of state must be a step that
// was allowed, and the last one the state it is in.
func (v *verifier) states(out *Checked) error {
	return v.eachOrder(func(o order.Order) error {
		out.Count++
		events, err := v.tx.Events("order", o.ID)
		if err != nil {
			return err
		}
		at := order.State("")
		for _, e := range events {
			var detail struct {
				State order.State `json:"state"`
			}
			if err := json.Unmarshal(e.Detail, &detail); err != nil || detail.State == "" || detail.State == at {
				continue
			}
			if !mayFollow(at, detail.State) {
				out.fail("order %s went from %s to %s (event %d), which no step does", o.Number, named(at), detail.State, e.ID)
			}
			at = detail.State
		}
		if at != o.State {
			out.fail("order %s is %s, its log ends with %s", o.Number, o.State, named(at))
		}
		return nil
	})
}

// totals holds what lists and figures say of an order to the price it stands at.
func (v *verifier) totals(out *Checked) error {
	heads, err := v.tx.OrderHeads()
	if err != nil {
		return err
	}
	listed := map[int64]money.Amount{}
	for _, h := range heads {
		listed[h.ID] = h.Total
	}
	return v.eachOrder(func(o order.Order) error {
		out.Count++
		if total := o.Charged().Total; listed[o.ID].Cents() != total.Cents() {
			out.fail("order %s is listed at %s, it stands at %s", o.Number, listed[o.ID], total)
		}
		return nil
	})
}

func named(s order.State) string {
	if s == "" {
		return "nothing"
	}
	return string(s)
}

// mayFollow reports whether one step leads from a state to another. An order
// begins as a draft; a remake begins accepted.
func mayFollow(from, to order.State) bool {
	if from == "" {
		return to == order.Draft || to == order.Accepted
	}
	for _, step := range order.Steps {
		if next, err := from.Next(step); err == nil && next == to {
			return true
		}
	}
	return false
}

// coils walks each coil's ledger.
func (v *verifier) coils(out *Checked) error {
	coils, err := v.tx.AllCoils()
	if err != nil {
		return err
	}
	moves, err := v.tx.AllMovements()
	if err != nil {
		return err
	}
	ledger := map[int64][]stock.Movement{}
	for _, m := range moves {
		ledger[m.CoilID] = append(ledger[m.CoilID], m)
	}
	for _, c := range coils {
		out.Count++
		v.coil(out, c, ledger[c.ID])
		delete(ledger, c.ID)
	}
	for id := range ledger {
		out.fail("movements of coil %d, which isn't there", id)
	}
	return nil
}

// coil checks that received = cut + scrap + slit + returned - adjusted + on hand,
// that it never was below nothing, and that no more is promised than is there.
func (v *verifier) coil(out *Checked, c stock.Coil, moves []stock.Movement) {
	sums := map[stock.Moved]measure.Length{}
	var at measure.Length
	for _, m := range moves {
		if err := m.Check(); err != nil {
			out.fail("coil %s, movement %d: %v", c.Tag, m.ID, err)
		}
		sums[m.Kind] += m.Length
		if at += m.Length; at < 0 {
			out.fail("coil %s stood at %s after movement %d", c.Tag, at, m.ID)
		}
	}
	received := sums[stock.MovedReceived]
	gone := -(sums[stock.MovedCut] + sums[stock.MovedScrap] + sums[stock.MovedSlit] + sums[stock.MovedReturned])
	if received != gone-sums[stock.MovedAdjusted]+c.OnHand {
		out.fail("coil %s: received %s, gone %s, adjusted %s, on hand %s", c.Tag, received, gone, sums[stock.MovedAdjusted], c.OnHand)
	}
	if received != c.Original {
		out.fail("coil %s: its ledger begins with %s, the coil was %s", c.Tag, received, c.Original)
	}
	if c.Promised > c.OnHand {
		out.fail("coil %s: %s are promised of %s on hand", c.Tag, c.Promised, c.OnHand)
	}
}

// cuts checks that the pieces made of each line are the pieces the coils' ledgers
// say were cut for it.
func (v *verifier) cuts(out *Checked) error {
	moves, err := v.tx.AllMovements()
	if err != nil {
		return err
	}
	cut := map[int64]int{}
	for _, m := range moves {
		if m.Kind == stock.MovedCut {
			cut[m.LineID] += m.Pieces
		}
	}
	return v.eachOrder(func(o order.Order) error {
		for _, l := range o.Lines {
			records, err := v.tx.CutRecords(l.ID)
			if err != nil {
				return err
			}
			if len(records) == 0 && cut[l.ID] == 0 {
				continue
			}
			out.Count++
			made := 0
			for _, r := range records {
				if r.CoilID != 0 {
					made += r.Pieces
				}
				if !rowIn(l, r.CutID) {
					out.fail("order %s, line %d: %d pieces were made of a row that it doesn't have", o.Number, l.Pos, r.Pieces)
				}
			}
			if made != cut[l.ID] {
				out.fail("order %s, line %d: %d pieces were made, the coils' ledgers say %d", o.Number, l.Pos, made, cut[l.ID])
			}
		}
		return nil
	})
}

func rowIn(l order.Line, cutID int64) bool {
	for _, c := range l.Cuts {
		if c.ID == cutID {
			return true
		}
	}
	return false
}

// plan checks that what stands in the plan can be made there, and that no two
// runs are on a machine at once. That it still fits calendar and change-over
// rules as they are now is the planner's to say, and a note where it doesn't:
// those may have been changed since.
func (v *verifier) plan(out *Checked) error {
	places, err := v.tx.Plan()
	if err != nil {
		return err
	}
	out.Count = len(places)
	machines := map[string]stock.Machine{}
	for _, m := range v.s.machines {
		machines[m.Code] = m
	}
	last := map[string]order.Placed{}
	for _, p := range places {
		l, ok := v.s.lines[p.LineID]
		m, known := machines[p.Machine]
		switch {
		case !known:
			out.fail("line %d stands on machine %s, which isn't there", p.LineID, p.Machine)
			continue
		case !ok:
			out.fail("line %d stands in the plan, but no order that is accepted or planned has it", p.LineID)
			continue
		case l.of.ID != p.OrderID:
			out.fail("line %d of order %s stands in the plan for another order", p.LineID, l.of.Number)
		case l.Kind == order.Formed && !m.Makes(l.Code), l.Kind == order.Trim && !m.Folder, l.Kind == order.Accessory:
			out.fail("order %s, line %d stands on %s, which can't make it", l.of.Number, l.Pos, m.Name)
		}
		if p.Change.After(p.Start) || !p.Start.Before(p.End) {
			out.fail("order %s, line %d: its run ends before it begins", l.of.Number, l.Pos)
		}
		if before, ok := last[p.Machine]; ok && p.Change.Before(before.End) {
			out.fail("order %s, line %d begins on %s at %s, before the run before it ends", l.of.Number, l.Pos, m.Name, p.Change.Format(time.DateTime))
		}
		last[p.Machine] = p
	}
	v.replan(out)
	return nil
}

// replan rebuilds the plan as a problem and has it checked.
func (v *verifier) replan(out *Checked) {
	if len(out.Wrong) > 0 || out.Count == 0 {
		return
	}
	now := v.d.now()
	for _, p := range v.s.places {
		if p.BegunAt.IsZero() && p.Start.Before(now) {
			out.Notes = append(out.Notes, "a run that should have begun hasn't; plan again")
			return
		}
	}
	p := v.s.planningAt(now, everything)
	if _, err := plan.Check(p.problem, p.present); err != nil {
		out.Notes = append(out.Notes, fmt.Sprintf("the plan no longer fits calendar, coils and rules as they are now: %v; plan again", err))
	}
}

// references follows what the database itself can't: ids inside records.
func (v *verifier) references(out *Checked) error {
	err := v.eachOrder(func(o order.Order) error {
		if a := o.Accepted; a != nil && a.PaperID != 0 {
			out.Count++
			kind, number, sha, found, err := v.tx.PaperHead(a.PaperID)
			if err != nil {
				return err
			}
			if !found || kind != string(document.KindQuote) || number != o.Number || sha != a.Hash {
				out.fail("order %s was accepted on a quote (paper %d) that isn't there as it was", o.Number, a.PaperID)
			}
		}
		return v.orderReferences(out, o)
	})
	if err != nil {
		return err
	}
	return v.bookReferences(out)
}

func (v *verifier) orderReferences(out *Checked, o order.Order) error {
	rows := map[rowKey]bool{}
	for _, l := range o.Lines {
		rows[rowKey{line: l.ID}] = l.Kind == order.Accessory
		for _, c := range l.Cuts {
			rows[rowKey{l.ID, c.ID}] = true
		}
		promises, err := v.tx.Reservations(l.ID)
		if err != nil {
			return err
		}
		for _, r := range promises {
			out.Count++
			for _, c := range r.Cuts {
				if !rowIn(l, c.CutID) {
					out.fail("order %s, line %d: coil is promised to a row that it doesn't have", o.Number, l.Pos)
				}
			}
		}
	}
	bundles, err := v.tx.BundlesOf(o.ID)
	if err != nil {
		return err
	}
	byID := map[int64]bool{}
	for _, b := range bundles {
		out.Count++
		byID[b.ID] = true
		for _, it := range b.Items {
			if !rows[rowKey{it.LineID, it.CutID}] {
				out.fail("bundle %s holds pieces of a row that order %s doesn't have", b.Code, o.Number)
			}
		}
	}
	stops, err := v.tx.StopsOf(o.ID)
	if err != nil {
		return err
	}
	for _, s := range stops {
		out.Count++
		if s.PaperID == 0 {
			continue
		}
		kind, number, _, found, err := v.tx.PaperHead(s.PaperID)
		if err != nil {
			return err
		}
		if !found || kind != string(document.KindDeliveryTicket) || number != s.Ticket {
			out.fail("ticket %s of order %s (paper %d) isn't there", s.Ticket, o.Number, s.PaperID)
		}
		for _, e := range s.Exceptions {
			if e.BundleID != 0 && !byID[e.BundleID] {
				out.fail("an exception on ticket %s names bundle %d, which order %s doesn't have", s.Ticket, e.BundleID, o.Number)
			}
		}
	}
	return nil
}

// bookReferences checks that each invoice and memo has its paper, and that each
// deposit's order is there.
func (v *verifier) bookReferences(out *Checked) error {
	bills, err := v.tx.Invoices(store.BooksFilter{})
	if err != nil {
		return err
	}
	notes, err := v.tx.Memos(store.BooksFilter{})
	if err != nil {
		return err
	}
	paper := func(kind document.Kind, number string) {
		out.Count++
		if _, err := v.tx.PaperByNumber(string(kind), number); err != nil {
			out.fail("%s %s has no paper: %v", kind, number, err)
		}
	}
	for _, b := range bills {
		paper(document.KindInvoice, b.Invoice.Number)
	}
	for _, n := range notes {
		paper(document.KindCreditMemo, n.Memo.Number)
	}
	credits, err := v.tx.Credits(store.BooksFilter{})
	if err != nil {
		return err
	}
	for _, c := range credits {
		if c.Order == "" {
			continue
		}
		out.Count++
		if _, err := v.tx.OrderByNumber(c.Order); err != nil {
			out.fail("%s %s is for order %s, which isn't there", c.Kind, c.Number, c.Order)
		}
	}
	return nil
}
