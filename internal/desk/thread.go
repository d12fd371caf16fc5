package desk

import (
	"context"
	"fmt"
	"slices"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
	"ribdesk/internal/store"
)

// Thread is a coil that goes on a machine for a line.
type Thread struct {
	Key     string // the tap's own; the same key again counts once
	Machine string
	CoilID  int64
	LineID  int64
}

// ThreadCoil puts a coil on a machine for a line. The lead-out of the coil that
// comes off and the lead-in of the one that goes on are booked as scrap, as the
// machine's sheet has them; so are the feet that the promises keep for ends. The
// line is cut from this coil from now on: its promises move here as far as the
// coil has room, the rest is looked for on other coils. What the lead-in takes
// from other orders is looked for elsewhere too, so nothing stays promised that
// isn't there.
func (d *Desk) ThreadCoil(ctx context.Context, actor party.Actor, t Thread) error {
	if err := allow(actor, party.Owner, party.Operator); err != nil {
		return err
	}
	if t.Key == "" || len(t.Key) > 64 {
		return fault.Invalidf("key", "the page is too old; load it again")
	}
	return d.store.Write(ctx, func(tx *store.Tx) error {
		m, err := store.FromShelf[stock.Machine](tx, t.Machine)
		if err != nil {
			return err
		}
		o, err := tx.OrderOfLine(t.LineID)
		if err != nil {
			return err
		}
		coil, err := tx.Coil(t.CoilID)
		if err != nil {
			return fault.Invalidf("coil", "choose the coil that goes on")
		}
		line := lineOf(o, t.LineID)
		if !serves(coil.Strip, line) {
			return fault.Invalidf("coil", "coil %s is %s; this line is %s", coil.Tag, coil.Strip, line.Metal())
		}
		fresh, err := tx.AddFloorNote(actor, order.FloorNote{Key: t.Key, Machine: t.Machine, LineID: t.LineID, Kind: order.Threaded, Note: "coil " + coil.Tag})
		if err != nil || !fresh {
			return err
		}
		if coil.Mounted != t.Machine {
			if err := changeCoil(tx, actor, m.Item, coil); err != nil {
				return err
			}
		}
		return moveTo(tx, actor, &o, line, t.CoilID)
	})
}

// changeCoil takes one coil off a machine and puts another on, with their ends.
func changeCoil(tx *store.Tx, actor party.Actor, m stock.Machine, on stock.Coil) error {
	if on.OnHand <= m.LeadIn {
		return fault.Invalidf("coil", "coil %s has %s left, and threading takes %s", on.Tag, on.OnHand, m.LeadIn)
	}
	coils, err := tx.Coils()
	if err != nil {
		return err
	}
	for _, c := range coils {
		if c.Mounted == m.Code {
			if err := bookEnd(tx, actor, c.ID, min(m.LeadOut, c.OnHand), "lead-out"); err != nil {
				return err
			}
		}
	}
	if err := mount(tx, actor, on.ID, m.Code); err != nil {
		return err
	}
	return bookEnd(tx, actor, on.ID, m.LeadIn, "lead-in")
}

func bookEnd(tx *store.Tx, actor party.Actor, coilID int64, length measure.Length, why string) error {
	if length <= 0 {
		return nil
	}
	return scrap(tx, actor, coilID, length, why)
}

// scrap books metal as lost, first what the promises keep for ends.
func scrap(tx *store.Tx, actor party.Actor, coilID int64, length measure.Length, why string) error {
	c, err := tx.Coil(coilID)
	if err != nil {
		return err
	}
	if length > c.OnHand {
		return fault.Invalidf("length", "coil %s has only %s left", c.Tag, c.OnHand)
	}
	if err := useEnds(tx, coilID, length); err != nil {
		return err
	}
	if _, err := tx.AddMovement(actor, stock.Movement{CoilID: coilID, Kind: stock.MovedScrap, Length: -length, Reason: why}); err != nil {
		return err
	}
	if err := spend(tx, actor, c, c.OnHand-length); err != nil {
		return err
	}
	return refit(tx, actor, coilID)
}

// refit takes back promises of metal that a coil hasn't any more, the youngest
// first, and looks for other coils for them.
func refit(tx *store.Tx, actor party.Actor, coilID int64) error {
	c, err := tx.Coil(coilID)
	if err != nil {
		return err
	}
	over := c.Promised - c.OnHand
	if over <= 0 {
		return nil
	}
	promises, err := tx.ReservationsOn(coilID)
	if err != nil {
		return err
	}
	var taken []order.Reservation
	for _, r := range slices.Backward(promises) {
		if over <= 0 {
			break
		}
		over -= takeBack(&r, over)
		if err := tx.SaveReservation(r); err != nil {
			return err
		}
		taken = append(taken, r)
	}
	return promiseAgain(tx, actor, taken)
}

// takeBack takes whole pieces off a promise, the shortest first, until so much
// is free. Blanks that lie abreast give back their part of the promise.
func takeBack(r *order.Reservation, over measure.Length) (freed measure.Length) {
	was := r.Length
	pieces := 0
	for _, c := range r.Cuts {
		pieces += c.Qty
	}
	slices.SortStableFunc(r.Cuts, func(a, b order.CutShare) int { return int(a.Length - b.Length) })
	for i := range r.Cuts {
		for r.Cuts[i].Qty > 0 && was-r.Length < over {
			r.Cuts[i].Qty--
			pieces--
			r.Length -= min(r.Length, r.Cuts[i].Length)
		}
	}
	if pieces == 0 {
		r.Length = 0
	}
	r.Cuts = slices.DeleteFunc(r.Cuts, func(c order.CutShare) bool { return c.Qty == 0 })
	return was - r.Length
}

// moveTo promises a line's pieces from one coil as far as it has room, and the
// rest from others.
func moveTo(tx *store.Tx, actor party.Actor, o *order.Order, line order.Line, coilID int64) error {
	promises, err := tx.Reservations(line.ID)
	if err != nil {
		return err
	}
	if !slices.ContainsFunc(promises, func(r order.Reservation) bool { return r.CoilID != coilID }) && len(promises) > 0 {
		return nil // it is all on this coil already
	}
	if err := tx.Release(line.ID); err != nil {
		return err
	}
	coil, err := tx.Coil(coilID)
	if err != nil {
		return err
	}
	rest, err := unpromised(tx, *o)
	if err != nil {
		return err
	}
	for _, l := range rest {
		if l.ID != line.ID {
			continue
		}
		for _, r := range spread(l, []stock.Coil{coil}, "") {
			r.LineID = l.ID
			if err := tx.Reserve(r); err != nil {
				return err
			}
		}
	}
	return promiseCoil(tx, actor, o)
}

// NoteOnFloor keeps what an operator notes: stopped and why, going again, or the
// first piece measured.
func (d *Desk) NoteOnFloor(ctx context.Context, actor party.Actor, n order.FloorNote) error {
	if err := allow(actor, party.Owner, party.Operator); err != nil {
		return err
	}
	switch {
	case n.Key == "" || len(n.Key) > 64:
		return fault.Invalidf("key", "the page is too old; load it again")
	case n.Kind == order.Stopped && n.Note == "":
		return fault.Invalidf("note", "say why it stands")
	case n.Kind == order.Checked && (n.Measured <= 0 || n.Nominal <= 0):
		return fault.Invalidf("measured", "give the length as measured")
	case n.Kind != order.Stopped && n.Kind != order.Resumed && n.Kind != order.Checked:
		return fault.Invalidf("kind", "choose what is noted")
	case len([]rune(n.Note)) > 200:
		return fault.Invalidf("note", "use at most 200 characters")
	}
	return d.store.Write(ctx, func(tx *store.Tx) error {
		if _, err := store.FromShelf[stock.Machine](tx, n.Machine); err != nil {
			return err
		}
		_, err := tx.AddFloorNote(actor, n)
		return err
	})
}

// OffBy says how far a measured piece is from its length, and whether that is
// more than the tolerance of the first-piece check.
func OffBy(n order.FloorNote) (measure.Length, bool) {
	off := n.Measured - n.Nominal
	return off, off > formingTolerance || off < -formingTolerance
}

// StandStill takes a machine out of work from now on for about so many minutes.
// The plan isn't changed by it: the plan's page shows what it does.
func (d *Desk) StandStill(ctx context.Context, actor party.Actor, machine string, minutes int, reason string) (stock.Block, error) {
	if minutes < 1 || minutes > 14*24*60 {
		return stock.Block{}, fault.Invalidf("minutes", "say about how long, up to 14 days")
	}
	now := d.now().Truncate(time.Minute)
	return d.BlockTime(ctx, actor, stock.Block{Machine: machine, From: now, To: now.Add(time.Duration(minutes) * time.Minute), Kind: stock.Down, Reason: reason})
}

// Floor is a machine's page for its operator.
type Floor struct {
	Sheet
	Changeover []string // what the first run needs changed, with minutes
	Now        time.Time
	Notes      []order.FloorNote // of today
	Stopped    *order.FloorNote  // while it stands
	Down       *stock.Block      // while it is out of work
	Mounted    *stock.Coil
	CutToday   []PlacedLine
}

// Floor gives a machine's page.
func (d *Desk) Floor(ctx context.Context, actor party.Actor, machine string) (f Floor, err error) {
	if f.Sheet, err = d.Sheet(ctx, actor, machine); err != nil {
		return f, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return f, err
	}
	f.Now = d.now()
	if len(f.Runs) > 0 {
		f.Changeover = changeParts(planRule(f.Machine), s.standing(f.Machine), f.Runs[0].Setup)
	}
	for _, b := range s.blocksOf(machine) {
		if b.Kind == stock.Down && !b.From.After(f.Now) && b.To.After(f.Now) {
			f.Down = &b
		}
	}
	for _, c := range s.coils {
		if c.Mounted == machine {
			f.Mounted = &c
		}
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error { return f.readToday(tx, s) })
	return f, err
}

func (f *Floor) readToday(tx *store.Tx, s *snapshot) (err error) {
	today := dayStart(f.Now, s.seller.Location())
	if f.Notes, err = tx.FloorNotes(f.Machine.Code, today); err != nil {
		return err
	}
	for i, n := range f.Notes {
		switch n.Kind {
		case order.Stopped:
			f.Stopped = &f.Notes[i]
		case order.Resumed:
			f.Stopped = nil
		}
	}
	done, err := doneLines(tx, today)
	for _, x := range done {
		if x.at.Machine == f.Machine.Code {
			o, err := tx.Order(x.at.OrderID)
			if err != nil {
				return err
			}
			f.CutToday = append(f.CutToday, s.placedLine(plannedLine{x.line, &o}, x.at))
		}
	}
	return err
}

// CheckedPiece is the first-piece check of a run, nil while nobody made one
// today.
func (f Floor) CheckedPiece(r SheetRun) *order.FloorNote {
	var last *order.FloorNote
	for i, n := range f.Notes {
		if n.Kind == order.Checked && r.has(n.LineID) {
			last = &f.Notes[i]
		}
	}
	return last
}

// ToLoad gives the coils that may serve a line, those promised to it first.
func (f Floor) ToLoad(r SheetRow) []stock.Coil {
	var out []stock.Coil
	for _, p := range r.Promises {
		if c, ok := f.Coils[p.CoilID]; ok && !c.Spent {
			out = append(out, c)
		}
	}
	promised := len(out)
	for _, c := range f.Coils {
		if serves(c.Strip, r.Line) && !c.Spent && !slices.ContainsFunc(out, func(o stock.Coil) bool { return o.ID == c.ID }) {
			out = append(out, c)
		}
	}
	slices.SortFunc(out[promised:], func(a, b stock.Coil) int { return int(a.ID - b.ID) })
	return out
}

// Machines lists the machines, for who chooses one.
func (d *Desk) Machines(ctx context.Context) ([]stock.Machine, error) {
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return nil, err
	}
	return s.machines, nil
}

// minutesWord writes a part of a changeover.
func minutesWord(name string, minutes int64) string { return fmt.Sprintf("%s (%d min)", name, minutes) }
