package desk

import (
	"cmp"
	"context"
	"slices"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
	"ribdesk/internal/store"
)

// Sheet is what a machine's operator runs from: the runs in order, each line
// with what is made of it already and the coils promised to it.
type Sheet struct {
	Machine stock.Machine
	Runs    []SheetRun
	Coils   map[int64]stock.Coil // those promised, mounted or of a strip needed here
	Zone    *time.Location
}

// SheetRun is a run with its lines.
type SheetRun struct {
	Run
	Rows []SheetRow
}

// SheetRow is a line on the operator's sheet.
type SheetRow struct {
	PlacedLine
	Cuts     []SheetCut // longest first
	Promises []order.Reservation
	FromPile int // pieces promised from flat sheets
}

// SheetCut is a row of the cut list with what is made of it.
type SheetCut struct {
	order.CutItem
	Made int
}

// Left gives the pieces still to make.
func (c SheetCut) Left() int { return c.Qty - c.Made }

// Sheet gives the operator's sheet of a machine.
func (d *Desk) Sheet(ctx context.Context, actor party.Actor, machine string) (out Sheet, err error) {
	if err := allow(actor, party.Owner, party.Counter, party.Operator); err != nil {
		return out, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return out, err
	}
	out = Sheet{Coils: map[int64]stock.Coil{}, Zone: s.seller.Location()}
	for _, m := range s.machines {
		if m.Code == machine {
			out.Machine = m
		}
	}
	if out.Machine.Code == "" {
		return out, fault.NotFoundf("there is no machine %q", machine)
	}
	runs := s.dressed(s.runs(s.placesOn(machine)))
	err = d.store.Read(ctx, func(tx *store.Tx) error { return out.fill(tx, s, runs) })
	return out, err
}

func (sh *Sheet) fill(tx *store.Tx, s *snapshot, runs []Run) error {
	for _, r := range runs {
		row := SheetRun{Run: r}
		for _, l := range r.Lines {
			made, err := madeOf(tx, l.Line)
			if err != nil {
				return err
			}
			promises, err := tx.Reservations(l.Line.ID)
			if err != nil {
				return err
			}
			sr := SheetRow{PlacedLine: l, Promises: promises}
			blanks, err := tx.SheetBlanks(l.Line.ID)
			if err != nil {
				return err
			}
			for _, b := range blanks {
				sr.FromPile += b.Qty
			}
			for _, c := range longestFirst(l.Line.Cuts) {
				sr.Cuts = append(sr.Cuts, SheetCut{c, made[c.ID]})
			}
			row.Rows = append(row.Rows, sr)
			for _, c := range s.serving(l.Line) {
				sh.Coils[c.ID] = c
			}
		}
		sh.Runs = append(sh.Runs, row)
	}
	return nil
}

// madeOf counts the pieces made of each row of a line's cut list.
func madeOf(tx *store.Tx, l order.Line) (map[int64]int, error) {
	records, err := tx.CutRecords(l.ID)
	made := map[int64]int{}
	for _, r := range records {
		made[r.CutID] += r.Pieces
	}
	return made, err
}

// Made is pieces off the machine: one tap of the operator.
type Made struct {
	Key    string // the tap's own; the same key again counts once
	LineID int64
	CutID  int64
	CoilID int64
	Pieces int
}

// RecordMade books pieces: off the coil, off the promise, onto the order. The
// last piece of a line ends its run; the last of an order makes it cut and
// bundles it. More than were ordered are refused, so a second tablet can't
// book the same piece again.
func (d *Desk) RecordMade(ctx context.Context, actor party.Actor, m Made) (o order.Order, err error) {
	if err := allow(actor, party.Owner, party.Operator); err != nil {
		return o, err
	}
	if m.Key == "" || len(m.Key) > 64 {
		return o, fault.Invalidf("key", "the page is too old; load it again")
	}
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		o, err = tx.OrderOfLine(m.LineID)
		if err != nil {
			return err
		}
		return d.recordMade(tx, actor, &o, m)
	})
	return o, err
}

func (d *Desk) recordMade(tx *store.Tx, actor party.Actor, o *order.Order, m Made) error {
	if !o.State.Allows(order.Finish) {
		return fault.Conflictf("order %s is %s; nothing is cut for it now", o.Number, o.State)
	}
	line, cut, err := findCut(*o, m.LineID, m.CutID)
	if err != nil {
		return err
	}
	done, err := madeOf(tx, line)
	if err != nil {
		return err
	}
	if m.Pieces < 1 || done[cut.ID]+m.Pieces > cut.Qty {
		if fresh, err := keyIsFresh(tx, m); err != nil || !fresh {
			return err
		}
		return fault.Conflictf("%d of %d pieces of %s are made already; %d more can't be", done[cut.ID], cut.Qty, cut.Length, m.Pieces)
	}
	fresh, err := tx.AddCutRecord(actor, order.CutRecord{Key: m.Key, LineID: m.LineID, CutID: m.CutID, CoilID: m.CoilID, Pieces: m.Pieces, Length: cut.Length})
	if err != nil || !fresh {
		return err
	}
	if err := useCoil(tx, actor, line, cut, m); err != nil {
		return err
	}
	if err := tx.Log(actor, "made", "order", o.ID, map[string]any{"line": m.LineID, "pieces": m.Pieces, "length": cut.Length, "coil": m.CoilID}); err != nil {
		return err
	}
	done[cut.ID] += m.Pieces
	return d.afterMade(tx, actor, o, line, done)
}

func keyIsFresh(tx *store.Tx, m Made) (bool, error) {
	records, err := tx.CutRecords(m.LineID)
	for _, r := range records {
		if r.Key == m.Key {
			return false, err
		}
	}
	return true, err
}

func findCut(o order.Order, lineID, cutID int64) (order.Line, order.CutItem, error) {
	for _, l := range o.Lines {
		if l.ID != lineID {
			continue
		}
		for _, c := range l.Cuts {
			if c.ID == cutID {
				return l, c, nil
			}
		}
	}
	return order.Line{}, order.CutItem{}, fault.NotFoundf("this piece isn't in the order's cut list")
}

// useCoil takes the metal off the coil it was really cut from, and the promise
// off the coil it was meant from.
func useCoil(tx *store.Tx, actor party.Actor, l order.Line, cut order.CutItem, m Made) error {
	coil, err := tx.Coil(m.CoilID)
	if err != nil {
		return fault.Invalidf("coil", "choose the coil it was cut from")
	}
	if !serves(coil.Strip, l) {
		return fault.Invalidf("coil", "coil %s is %s; this line is %s", coil.Tag, coil.Strip, l.Metal())
	}
	from := l
	from.Strip = coil.Strip.Width
	used := metalFor(from, cut.Length, m.Pieces)
	if used > coil.OnHand {
		return fault.Conflictf("coil %s has only %s left; count it, or cut from another", coil.Tag, coil.OnHand)
	}
	if err := usePromise(tx, l, cut, m); err != nil {
		return err
	}
	_, err = tx.AddMovement(actor, stock.Movement{
		CoilID: coil.ID, Kind: stock.MovedCut, Length: -used, Reason: "cut", LineID: l.ID, Pieces: m.Pieces,
	})
	if err != nil {
		return err
	}
	if err := spend(tx, actor, coil, coil.OnHand-used); err != nil {
		return err
	}
	return refit(tx, actor, coil.ID)
}

// serves reports whether a line can be cut from a strip: panels from their own,
// trim from any of its metal that is wide enough.
func serves(strip stock.Strip, l order.Line) bool {
	if l.Kind == order.Trim && l.Girth > 0 && strip.Width >= l.Girth {
		strip.Width = l.Strip
	}
	return strip == l.Metal()
}

// metalFor is the strip that so many pieces take; trim blanks lie abreast, and
// each carries its part of the strip.
func metalFor(l order.Line, length measure.Length, pieces int) measure.Length {
	if l.Kind != order.Trim || l.Girth <= 0 {
		return length.Times(pieces)
	}
	row := measure.Length(abreast(l, l.Strip))
	return ((length.Times(pieces) + row - 1) / row).Up(measure.SixtyFourth)
}

// usePromise takes pieces off the promises to a line, the coil in use first, then
// other coils, then sheets.
func usePromise(tx *store.Tx, l order.Line, cut order.CutItem, m Made) error {
	promises, err := tx.Reservations(l.ID)
	if err != nil {
		return err
	}
	left := m.Pieces
	for _, onThisCoil := range []bool{true, false} {
		for i := range promises {
			r := &promises[i]
			if (r.CoilID == m.CoilID) != onThisCoil || left == 0 {
				continue
			}
			before := runOf(r.Cuts)
			took := takeCuts(r, cut.ID, left)
			if took == 0 {
				continue
			}
			left -= took
			if l.Kind == order.Trim { // by its share: the promise may be of any width
				r.Length = measure.Length(float64(r.Length) * runOf(r.Cuts).InFeet() / before.InFeet()).Up(measure.SixtyFourth)
			} else {
				r.Length -= min(r.Length, metalFor(l, cut.Length, took))
			}
			if err := tx.SaveReservation(*r); err != nil {
				return err
			}
		}
	}
	return takeBlanks(tx, l.ID, cut.ID, left)
}

// runOf is how long the pieces of a promise are end to end.
func runOf(cuts []order.CutShare) (sum measure.Length) {
	for _, c := range cuts {
		sum += c.Length.Times(c.Qty)
	}
	return sum
}

// takeCuts takes up to n pieces of a cut-list row off a promise.
func takeCuts(r *order.Reservation, cutID int64, n int) (took int) {
	kept := r.Cuts[:0]
	for _, c := range r.Cuts {
		if c.CutID == cutID {
			k := min(n, c.Qty)
			c.Qty -= k
			n -= k
			took += k
		}
		if c.Qty > 0 {
			kept = append(kept, c)
		}
	}
	r.Cuts = kept
	return took
}

// afterMade marks a line begun or done, what stands on the machine now, and an
// order that is all cut.
func (d *Desk) afterMade(tx *store.Tx, actor party.Actor, o *order.Order, line order.Line, done map[int64]int) error {
	lineDone := true
	for _, c := range line.Cuts {
		lineDone = lineDone && done[c.ID] >= c.Qty
	}
	places, err := tx.PlacesOf(o.ID)
	if err != nil {
		return err
	}
	for _, p := range places {
		if p.LineID != line.ID {
			continue
		}
		if p.BegunAt.IsZero() {
			p.BegunAt = tx.Now()
			if err := standIn(tx, actor, p.Machine, line); err != nil {
				return err
			}
		}
		if lineDone {
			p.DoneAt = tx.Now()
		}
		if err := tx.SavePlace(p); err != nil {
			return err
		}
	}
	if !lineDone {
		return nil
	}
	if err := tx.Release(line.ID); err != nil {
		return err
	}
	return d.finishWhenCut(tx, actor, o)
}

// standIn writes down what a machine stands in now; the next plan starts there.
func standIn(tx *store.Tx, actor party.Actor, machine string, l order.Line) error {
	m, err := store.FromShelf[stock.Machine](tx, machine)
	if err != nil {
		return err
	}
	setup := setupOf(l)
	m.Item.Setup = map[string]string{}
	for _, k := range stock.SetupKeys {
		m.Item.Setup[k] = setup.Part(k)
	}
	_, err = store.PutOnShelf(tx, actor, m)
	return err
}

// finishWhenCut makes an order cut when all its pieces are made.
func (d *Desk) finishWhenCut(tx *store.Tx, actor party.Actor, o *order.Order) error {
	for _, l := range o.Lines {
		if l.Kind == order.Accessory {
			continue
		}
		made, err := madeOf(tx, l)
		if err != nil {
			return err
		}
		for _, c := range l.Cuts {
			if made[c.ID] < c.Qty {
				return nil
			}
		}
	}
	return d.finish(tx, actor, o)
}

func (d *Desk) finish(tx *store.Tx, actor party.Actor, o *order.Order) error {
	if err := o.Apply(order.Finish); err != nil {
		return err
	}
	if err := d.bundle(tx, actor, *o); err != nil {
		return err
	}
	saved, err := tx.SaveOrder(actor, *o, string(o.State))
	if err != nil {
		return err
	}
	*o = saved
	if err := d.tellReady(tx, *o); err != nil {
		return err
	}
	return d.settle(tx, actor, o) // formed on site, and signed for there before this was recorded
}

// PickFromShelf readies an order of accessories alone, which no machine runs.
func (d *Desk) PickFromShelf(ctx context.Context, actor party.Actor, id int64) (o order.Order, err error) {
	if err := allow(actor, party.Owner, party.Counter, party.Operator); err != nil {
		return o, err
	}
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		if o, err = tx.Order(id); err != nil {
			return err
		}
		for _, l := range o.Lines {
			if l.Kind != order.Accessory {
				return fault.Conflictf("order %s has pieces to cut; it is ready when they are", o.Number)
			}
		}
		return d.finish(tx, actor, &o)
	})
	return o, err
}

// Scrap books metal lost at a machine, with a reason; Key makes a double tap
// count once, like any create.
func (d *Desk) Scrap(ctx context.Context, actor party.Actor, coilID int64, length measure.Length, reason string) error {
	if err := allow(actor, party.Owner, party.Operator); err != nil {
		return err
	}
	if length <= 0 {
		return fault.Invalidf("length", "give the length that was lost")
	}
	if reason == "" {
		return fault.Invalidf("reason", "say why")
	}
	return d.store.Write(ctx, func(tx *store.Tx) error { return scrap(tx, actor, coilID, length, reason) })
}

// EndCoil closes a coil that is used up: what the ledger still shows is
// adjusted away as the difference between promised and real length, and its
// promises are taken back for the next allocation.
func (d *Desk) EndCoil(ctx context.Context, actor party.Actor, coilID int64) error {
	if err := allow(actor, party.Owner, party.Operator); err != nil {
		return err
	}
	return d.store.Write(ctx, func(tx *store.Tx) error { return endCoil(tx, actor, coilID, 0) })
}

// endCoil leaves so much on a coil that holds less than its ledger shows, and
// looks for other coils for what was promised of it.
func endCoil(tx *store.Tx, actor party.Actor, coilID int64, left measure.Length) error {
	c, err := tx.Coil(coilID)
	if err != nil {
		return err
	}
	promises, err := tx.ReservationsOn(coilID)
	if err != nil {
		return err
	}
	for _, r := range promises {
		r.Length = 0
		if err := tx.SaveReservation(r); err != nil {
			return err
		}
	}
	reason := "coil ran out"
	if left > 0 {
		reason = "less on it than booked"
	}
	if c.OnHand != left {
		if _, err := tx.AddMovement(actor, stock.Movement{CoilID: coilID, Kind: stock.MovedAdjusted, Length: left - c.OnHand, Reason: reason}); err != nil {
			return err
		}
	}
	if err := spend(tx, actor, c, left); err != nil {
		return err
	}
	return promiseAgain(tx, actor, promises)
}

// promiseAgain looks for other coils for lines whose promises were taken back.
func promiseAgain(tx *store.Tx, actor party.Actor, taken []order.Reservation) error {
	seen := map[int64]bool{}
	for _, r := range taken {
		o, err := tx.OrderOfLine(r.LineID)
		if err != nil {
			return err
		}
		if seen[o.ID] {
			continue
		}
		seen[o.ID] = true
		if err := promiseCoil(tx, actor, &o); err != nil {
			return err
		}
	}
	return nil
}

func longestFirst(cuts []order.CutItem) []order.CutItem {
	return slices.SortedStableFunc(slices.Values(cuts), func(a, b order.CutItem) int { return cmp.Compare(b.Length, a.Length) })
}
