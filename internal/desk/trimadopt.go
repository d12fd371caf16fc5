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
// patterns, not what they would take alone. Cuts that no coil on hand holds stay
// for the purchase list.
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
		for i := range plan.Groups {
			for _, r := range plan.Groups[i].promises(coils) {
				if err := tx.Reserve(r); err != nil {
					return err
				}
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

// trimCutting puts the plan's cuts on coils, one whole cut on one coil, and
// hands their pieces to the lines in order.
type trimCutting struct {
	g     *TrimGroup
	coils map[string][]stock.Coil // by stock of the problem
	used  map[int64]measure.Length
	left  []int // pieces still wanted of each blank
	out   []order.Reservation
}

// promises gives what each line takes of each coil; the shares of one cut add up
// to its length.
func (g *TrimGroup) promises(coils []stock.Coil) []order.Reservation {
	c := &trimCutting{g: g, coils: map[string][]stock.Coil{}, used: map[int64]measure.Length{}}
	for _, coil := range coils {
		metal := coil.Strip
		metal.Width = 0
		for _, t := range g.Takes {
			if metal == g.Strip && coil.Strip.Width == t.Width {
				c.coils[t.ID] = append(c.coils[t.ID], coil)
			}
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
	return c.out
}

func (c *trimCutting) cut(run nest.Run) {
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
