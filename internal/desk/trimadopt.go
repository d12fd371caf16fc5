package desk

import (
	"cmp"
	"context"
	"slices"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/nest"
	"ribdesk/internal/nestview"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
	"ribdesk/internal/store"
)

// AdoptTrimPlan promises the coil of the trim plan to its lines, when nothing
// changed since it was shown: each line the feet that its blanks take in the
// patterns, not what they would take alone. Sheets are promised whole, one to
// each time a pattern is slit. Cuts that no coil on hand holds stay for the
// purchase list.
func (d *Desk) AdoptTrimPlan(ctx context.Context, actor party.Actor, stamp int64) (TrimPlan, error) {
	plan, err := d.TrimPlan(ctx, actor)
	if err != nil {
		return plan, err
	}
	stale := fault.Conflictf("something changed since this was worked out; look at the new one")
	if plan.Stamp != stamp {
		return plan, stale
	}
	return plan, d.store.Write(ctx, func(tx *store.Tx) error {
		now, err := tx.Stamp()
		if err != nil {
			return err
		}
		if now != stamp {
			return stale
		}
		for i := range plan.Groups {
			if err := tx.Release(plan.Groups[i].lineIDs()...); err != nil {
				return err
			}
		}
		coils, err := tx.Coils()
		if err != nil {
			return err
		}
		piles, err := tx.Piles()
		if err != nil {
			return err
		}
		for i := range plan.Groups {
			if err := plan.Groups[i].promise(tx, coils, piles); err != nil {
				return err
			}
		}
		return tx.Log(actor, "promised coil by the trim plan", "coil", 0, nil)
	})
}

func (g *TrimGroup) lineIDs() (ids []int64) {
	for _, b := range g.Blanks {
		if !slices.Contains(ids, b.Line.ID) {
			ids = append(ids, b.Line.ID)
		}
	}
	return ids
}

// trimCutting puts the plan's cuts on coils and sheets, one whole cut on one coil,
// and hands their pieces to the lines in order.
type trimCutting struct {
	g      *TrimGroup
	coils  map[string][]stock.Coil // by stock of the problem
	piles  map[string][]stock.Pile
	used   map[int64]measure.Length
	left   []int // pieces still wanted of each blank
	out    []order.Reservation
	sheets []order.SheetPromise
}

// promise keeps what each line takes of each coil and sheet.
func (g *TrimGroup) promise(tx *store.Tx, coils []stock.Coil, piles []stock.Pile) error {
	c := g.cutting(coils, piles)
	for _, r := range c.out {
		if err := tx.Reserve(r); err != nil {
			return err
		}
	}
	for _, s := range c.sheets {
		if err := tx.ReserveSheet(s); err != nil {
			return err
		}
	}
	return nil
}

// cutting works the promises out; the shares of one cut of coil add up to its
// length.
func (g *TrimGroup) cutting(coils []stock.Coil, piles []stock.Pile) *trimCutting {
	c := &trimCutting{g: g, coils: map[string][]stock.Coil{}, piles: map[string][]stock.Pile{}, used: map[int64]measure.Length{}}
	for _, coil := range coils {
		metal := coil.Strip
		metal.Width = 0
		for _, t := range g.Takes {
			if metal == g.Strip && coil.Strip.Width == t.Width && !t.Sheet() {
				c.coils[t.ID] = append(c.coils[t.ID], coil)
			}
		}
	}
	for _, p := range piles {
		metal := p.Strip
		metal.Width = 0
		if id := sheetID(p); metal == g.Strip {
			c.piles[id] = append(c.piles[id], p)
		}
	}
	for _, b := range g.Blanks {
		c.left = append(c.left, b.Cut.Qty)
	}
	for _, run := range g.Result.Runs {
		for range run.Times {
			c.cut(run)
		}
	}
	return c
}

func (c *trimCutting) cut(run nest.Run) {
	if piles := c.piles[run.Stock]; len(piles) > 0 {
		c.sheet(piles, run)
		return
	}
	length := nestview.Sixteenths(run.Length)
	for _, coil := range c.coils[run.Stock] {
		if coil.Free()-c.used[coil.ID] < length {
			continue
		}
		c.used[coil.ID] += length
		c.share(coil, length, c.pieces(run))
		return
	}
}

// sheet promises one sheet of the oldest pile that has one.
func (c *trimCutting) sheet(piles []stock.Pile, run nest.Run) {
	for i := range piles {
		if piles[i].Free() < 1 {
			continue
		}
		s := order.SheetPromise{PileID: piles[i].ID, Pattern: nestview.RunWords(run, c.g.Items())}
		for _, b := range c.pieces(run) {
			blank := c.g.Blanks[b]
			k := slices.IndexFunc(s.Blanks, func(x order.SheetBlank) bool { return x.CutID == blank.Cut.ID })
			if k < 0 {
				k = len(s.Blanks)
				s.Blanks = append(s.Blanks, order.SheetBlank{LineID: blank.Line.ID, CutShare: order.CutShare{CutID: blank.Cut.ID, Length: blank.Cut.Length}})
			}
			s.Blanks[k].Qty++
		}
		if len(s.Blanks) > 0 {
			piles[i].Promised++
			c.sheets = append(c.sheets, s)
		}
		return
	}
}

// pieces takes the blanks of a run off the list; what is made beyond it has no
// line.
func (c *trimCutting) pieces(run nest.Run) (blanks []int) {
	for _, s := range run.Strips {
		for range s.Count {
			for _, x := range s.Pieces {
				for range x.Qty {
					if i := c.next(x.Item); i >= 0 {
						c.left[i]--
						blanks = append(blanks, i)
					}
				}
			}
		}
	}
	slices.Sort(blanks)
	return blanks
}

func (c *trimCutting) next(item string) int {
	for i, b := range c.g.Blanks {
		if b.Item == item && c.left[i] > 0 {
			return i
		}
	}
	return -1
}

// share divides a cut's length among its blanks by area, in 64ths of an inch;
// the last takes what rounding leaves.
func (c *trimCutting) share(coil stock.Coil, length measure.Length, blanks []int) {
	var area int64
	for _, i := range blanks {
		area += c.area(i)
	}
	rest := length
	for n, i := range blanks {
		part := measure.Length(float64(length) * float64(c.area(i)) / float64(area)).Down(measure.SixtyFourth)
		if n == len(blanks)-1 {
			part = rest
		}
		rest -= part
		c.promise(coil.ID, c.g.Blanks[i], part)
	}
}

func (c *trimCutting) area(i int) int64 {
	b := c.g.Blanks[i]
	return sixteenths(b.Line.Girth) * sixteenths(b.Cut.Length)
}

// promise adds one piece to the reservation of its line on a coil.
func (c *trimCutting) promise(coilID int64, b TrimBlank, part measure.Length) {
	i := slices.IndexFunc(c.out, func(r order.Reservation) bool { return r.CoilID == coilID && r.LineID == b.Line.ID })
	if i < 0 {
		i = len(c.out)
		c.out = append(c.out, order.Reservation{CoilID: coilID, LineID: b.Line.ID})
	}
	r := &c.out[i]
	r.Length += part
	k := slices.IndexFunc(r.Cuts, func(s order.CutShare) bool { return s.CutID == b.Cut.ID })
	if k < 0 {
		k = len(r.Cuts)
		r.Cuts = append(r.Cuts, order.CutShare{CutID: b.Cut.ID, Length: b.Cut.Length})
	}
	r.Cuts[k].Qty++
	slices.SortFunc(r.Cuts, func(a, b order.CutShare) int { return cmp.Compare(b.Length, a.Length) })
}
