package desk

import (
	"ribdesk/internal/measure"
	"ribdesk/internal/order"
	"ribdesk/internal/stock"
)

// piles walks each pile's ledger of whole sheets, and holds the blanks made from
// each sheet to what a sheet can yield.
func (v *verifier) piles(out *Checked) error {
	piles, err := v.tx.AllPiles()
	if err != nil {
		return err
	}
	moves, err := v.tx.PileMovements()
	if err != nil {
		return err
	}
	ledger := map[int64][]stock.PileMovement{}
	for _, m := range moves {
		ledger[m.PileID] = append(ledger[m.PileID], m)
	}
	for _, p := range piles {
		out.Count++
		v.pile(out, p, ledger[p.ID])
		delete(ledger, p.ID)
	}
	for id := range ledger {
		out.fail("movements of pile %d, which isn't there", id)
	}
	if len(piles) == 0 {
		return nil
	}
	return v.sheetsCut(out, piles, moves)
}

// pile checks that received = cut + scrap + returned - adjusted + on hand, that
// it never was below nothing, and that no more is promised than is there.
func (v *verifier) pile(out *Checked, p stock.Pile, moves []stock.PileMovement) {
	sums := map[stock.Moved]int{}
	at := 0
	for _, m := range moves {
		if err := m.Check(); err != nil {
			out.fail("pile %s, movement %d: %v", p.Tag, m.ID, err)
		}
		sums[m.Kind] += m.Sheets
		if at += m.Sheets; at < 0 {
			out.fail("pile %s stood at %d sheets after movement %d", p.Tag, at, m.ID)
		}
	}
	received := sums[stock.MovedReceived]
	gone := -(sums[stock.MovedCut] + sums[stock.MovedScrap] + sums[stock.MovedReturned])
	if received != gone-sums[stock.MovedAdjusted]+p.OnHand {
		out.fail("pile %s: received %d sheets, gone %d, adjusted %d, on hand %d", p.Tag, received, gone, sums[stock.MovedAdjusted], p.OnHand)
	}
	if received != p.Original {
		out.fail("pile %s: its ledger begins with %d sheets, the pile had %d", p.Tag, received, p.Original)
	}
	if p.Promised > p.OnHand {
		out.fail("pile %s: %d sheets are promised of %d on hand", p.Tag, p.Promised, p.OnHand)
	}
}

// sheetsCut checks that each sheet cut gave blanks of orders, no more than lie on
// it, and that each promised blank is of a row there is.
func (v *verifier) sheetsCut(out *Checked, piles []stock.Pile, moves []stock.PileMovement) error {
	size := map[int64]stock.Pile{}
	for _, p := range piles {
		size[p.ID] = p
	}
	cuts := sheetCuts{}
	for _, m := range moves {
		if p := size[m.PileID]; m.Kind == stock.MovedCut {
			cuts[m.ID] = &sheetCut{pile: p, room: -float64(m.Sheets) * squareInches(p.Strip.Width, p.Length)}
		}
	}
	rows := map[int64]bool{}
	err := v.eachOrder(func(o order.Order) error {
		for _, l := range o.Lines {
			for _, c := range l.Cuts {
				rows[c.ID] = true
			}
			records, err := v.tx.CutRecords(l.ID)
			if err != nil {
				return err
			}
			cuts.take(out, o, l, records)
		}
		return nil
	})
	if err != nil {
		return err
	}
	for id, c := range cuts {
		switch {
		case c.gave == 0:
			out.fail("pile %s: a sheet was cut (movement %d), and no order has a piece of it", c.pile.Tag, id)
		case c.room < -0.01:
			out.fail("pile %s: the pieces of movement %d are larger than the sheet by %.0f sq in", c.pile.Tag, id, -c.room)
		}
	}
	promises, err := v.tx.SheetPromises()
	for _, s := range promises {
		for _, b := range s.Blanks {
			if !rows[b.CutID] {
				out.fail("pile %s: a sheet is promised to a row that no order has", size[s.PileID].Tag)
			}
		}
	}
	return err
}

// sheetCut is sheets that were cut, and what the records of pieces leave of them.
type sheetCut struct {
	pile stock.Pile
	room float64 // square inches not made into blanks yet
	gave int
}

type sheetCuts map[int64]*sheetCut // by movement

// take takes the pieces of a line that came from sheets off them.
func (cuts sheetCuts) take(out *Checked, o order.Order, l order.Line, records []order.CutRecord) {
	for _, r := range records {
		if r.FromPile == 0 {
			continue
		}
		c := cuts[r.FromPile]
		if c == nil {
			out.fail("order %s, line %d: %d pieces came from a sheet that was never cut", o.Number, l.Pos, r.Pieces)
			continue
		}
		c.room -= float64(r.Pieces) * squareInches(l.Girth, r.Length)
		c.gave += r.Pieces
	}
}

func squareInches(w, l measure.Length) float64 { return w.InInches() * l.InInches() }
