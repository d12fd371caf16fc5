package desk

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
	"ribdesk/internal/store"
)

// SheetReceipt is a pile of flat sheets as it comes off the truck.
type SheetReceipt struct {
	Strip    stock.Strip // its width is the sheet's
	Length   measure.Length
	Sheets   int
	Lot      string
	Supplier string
	Landed   money.Amount // of all of them
}

// ReceiveSheets takes a pile of sheets into the ledger.
func (d *Desk) ReceiveSheets(ctx context.Context, actor party.Actor, r SheetReceipt) (p stock.Pile, err error) {
	if err := allow(actor, party.Owner, party.Counter, party.Operator); err != nil {
		return p, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return p, err
	}
	p = stock.Pile{
		Metal:  stock.Metal{Tag: "S", Strip: r.Strip, Lot: r.Lot, Supplier: r.Supplier, Landed: r.Landed, Received: d.now()},
		Length: r.Length, Original: r.Sheets,
	}
	if _, _, err := s.handled(&p.Strip); err != nil {
		return p, err
	}
	if err := p.Check(); err != nil {
		return p, err
	}
	return p, d.store.Write(ctx, func(tx *store.Tx) error {
		if p.Tag, err = pileTags.take(tx); err != nil {
			return err
		}
		if p, err = tx.AddPile(actor, p); err != nil {
			return err
		}
		_, err = tx.MovePile(actor, stock.PileMovement{PileID: p.ID, Kind: stock.MovedReceived, Sheets: p.Original, Reason: "as received"})
		if err == nil {
			p, err = tx.Pile(p.ID)
		}
		return err
	})
}

// MoveSheets books scrap, a count that differs, or a return. Sheets is positive
// for scrap and returns; for a count it is what was counted to be on the pile.
func (d *Desk) MoveSheets(ctx context.Context, actor party.Actor, pileID int64, kind stock.Moved, sheets int, reason string) error {
	if err := allow(actor, party.Owner, party.Counter, party.Operator); err != nil {
		return err
	}
	if sheets < 0 {
		return fault.Invalidf("sheets", "give a whole number of sheets")
	}
	return d.store.Write(ctx, func(tx *store.Tx) error {
		p, err := tx.Pile(pileID)
		if err != nil {
			return err
		}
		m := stock.PileMovement{PileID: pileID, Kind: kind, Reason: reason}
		if m.Sheets, err = stock.Booked(kind, sheets, p.OnHand); err != nil {
			return err
		}
		if p.OnHand+m.Sheets < p.Promised {
			return fault.Conflictf("%d sheets of pile %s are promised to patterns, and %d would be left; adopt a new trim plan first", p.Promised, p.Tag, max(0, p.OnHand+m.Sheets))
		}
		_, err = tx.MovePile(actor, m)
		return err
	})
}

// SheetRack is the flat sheets in the shop and what is to be cut from them.
type SheetRack struct {
	Piles []PileCard
}

// PileCard is a pile with its history and the sheets promised of it.
type PileCard struct {
	stock.Pile
	Name      string // its metal in the catalogue's words
	Colour    stock.Colour
	Movements []stock.PileMovement
	Patterns  []PilePattern
}

// PilePattern is a number of sheets of a pile that are slit alike.
type PilePattern struct {
	Words  string
	Sheets []int64 // promises
	Orders []string
}

// SheetRack gives the piles on hand.
func (d *Desk) SheetRack(ctx context.Context, actor party.Actor) (r SheetRack, err error) {
	if err := allow(actor, party.Owner, party.Counter, party.Operator); err != nil {
		return r, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return r, err
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error { return r.read(tx, s) })
	return r, err
}

func (r *SheetRack) read(tx *store.Tx, s *snapshot) error {
	piles, err := tx.Piles()
	if err != nil || len(piles) == 0 {
		return err
	}
	var ids []int64
	for _, p := range piles {
		ids = append(ids, p.ID)
	}
	moves, err := tx.PileMovements(ids...)
	if err != nil {
		return err
	}
	promises, err := tx.SheetPromises()
	if err != nil {
		return err
	}
	for _, p := range piles {
		card := PileCard{Pile: p, Colour: s.colours[p.Strip.Colour], Name: s.sheetName(p)}
		for _, m := range moves {
			if m.PileID == p.ID {
				card.Movements = append(card.Movements, m)
			}
		}
		for _, sheet := range promises {
			if sheet.PileID == p.ID {
				card.promise(s, sheet)
			}
		}
		r.Piles = append(r.Piles, card)
	}
	return nil
}

// sheetName says what a pile is: the metal, and the sheet's size.
func (s *snapshot) sheetName(p stock.Pile) string {
	return cmp.Or(s.materials[p.Strip.Material].Name, p.Strip.Material) + " " + p.Strip.Gauge + ", " + cmp.Or(s.colours[p.Strip.Colour].Name, p.Strip.Colour) +
		", " + p.Strip.Width.Across().String() + " × " + p.Length.Pretty()
}

func (c *PileCard) promise(s *snapshot, sheet order.SheetPromise) {
	i := slices.IndexFunc(c.Patterns, func(p PilePattern) bool { return p.Words == sheet.Pattern })
	if i < 0 {
		i = len(c.Patterns)
		c.Patterns = append(c.Patterns, PilePattern{Words: sheet.Pattern})
	}
	p := &c.Patterns[i]
	p.Sheets = append(p.Sheets, sheet.ID)
	for _, b := range sheet.Blanks {
		if l, ok := s.lines[b.LineID]; ok && !slices.Contains(p.Orders, l.of.Number) {
			p.Orders = append(p.Orders, l.of.Number)
		}
	}
}

// CutSheets books sheets as slit and folded: each off its pile, its blanks onto
// their orders. A sheet that was cut already, on this tablet or another, is
// passed over; with none left of those named it is refused.
func (d *Desk) CutSheets(ctx context.Context, actor party.Actor, promiseIDs []int64) (cut int, err error) {
	if err := allow(actor, party.Owner, party.Operator); err != nil {
		return 0, err
	}
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		cut = 0
		all, err := tx.SheetPromises()
		if err != nil {
			return err
		}
		for _, sheet := range all {
			if !slices.Contains(promiseIDs, sheet.ID) {
				continue
			}
			if err := d.cutSheet(tx, actor, sheet); err != nil {
				return err
			}
			cut++
		}
		if cut == 0 {
			return fault.Conflictf("these sheets are cut already, or promised otherwise; look at the list anew")
		}
		return nil
	})
	return cut, err
}

func (d *Desk) cutSheet(tx *store.Tx, actor party.Actor, sheet order.SheetPromise) error {
	if err := tx.TakeSheet(sheet.ID); err != nil {
		return err
	}
	m, err := tx.MovePile(actor, stock.PileMovement{PileID: sheet.PileID, Kind: stock.MovedCut, Sheets: -1, Reason: sheet.Pattern})
	if err != nil {
		return err
	}
	for _, b := range sheet.Blanks {
		o, err := tx.OrderOfLine(b.LineID)
		if err != nil {
			return err
		}
		if !o.State.Allows(order.Finish) {
			return fault.Conflictf("order %s is %s; nothing is cut for it now", o.Number, o.State)
		}
		line, cut, err := findCut(o, b.LineID, b.CutID)
		if err != nil {
			return err
		}
		done, err := madeOf(tx, line)
		if err != nil {
			return err
		}
		pieces := min(b.Qty, cut.Qty-done[cut.ID])
		if pieces < 1 {
			continue // made otherwise meanwhile
		}
		record := order.CutRecord{Key: fmt.Sprintf("sheet-%d-%d", sheet.ID, b.ID), LineID: line.ID, CutID: cut.ID, FromPile: m.ID, Pieces: pieces, Length: cut.Length}
		if _, err := tx.AddCutRecord(actor, record); err != nil {
			return err
		}
		if err := tx.Log(actor, "made", "order", o.ID, map[string]any{"line": line.ID, "pieces": pieces, "length": cut.Length, "pile": sheet.PileID}); err != nil {
			return err
		}
		done[cut.ID] += pieces
		if err := d.afterMade(tx, actor, &o, line, done); err != nil {
			return err
		}
	}
	return nil
}

// takeBlanks takes pieces that were made otherwise off the sheets promised to a
// line; a sheet that is left with none is free.
func takeBlanks(tx *store.Tx, lineID, cutID int64, pieces int) error {
	blanks, err := tx.SheetBlanks(lineID)
	if err != nil {
		return err
	}
	for _, b := range blanks {
		if b.CutID != cutID || pieces == 0 {
			continue
		}
		n := min(b.Qty, pieces)
		b.Qty -= n
		pieces -= n
		if err := tx.SaveSheetBlank(b); err != nil {
			return err
		}
	}
	return nil
}
