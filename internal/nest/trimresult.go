package nest

import (
	"cmp"
	"context"
	"slices"
)

// TrimResult is a plan for problem B with what the shop has to know about it.
type TrimResult struct {
	Report
	Runs    []Run
	Setups  int        // different set-ups
	Sheets  int64      // sheets and coil cuts
	Extra   []MadeItem // made more often than wanted
	Missing []MadeItem // not made, because the stock is too small or used up
	Stock   int64      // square sixteenths of sheet and coil used
	Blanks  int64      // square sixteenths of wanted blanks in it
	Drops   int64      // square sixteenths of drops wide enough to keep
}

// MadeItem is a number of pieces of an item.
type MadeItem struct {
	Item   Item
	Pieces int64
}

// Nest solves problem B. The error is a fault about the problem; running out of
// time or being cancelled isn't one, and gives the best plan so far. When the
// stock can't yield everything, the status is Infeasible and Missing says what.
func Nest(ctx context.Context, p *TrimProblem, s Settings) (*TrimResult, error) {
	if err := p.Validate(); err != nil {
		return nil, err
	}
	c := s.start(ctx, trimSteps)
	defer c.cancel()
	b := newShop(p)
	search := newTrimSearch(b, s, c, trimBound(b, c))
	search.run()
	return trimResult(b, search.best, c.report(b.planCost(search.best), search.bound)), nil
}

// trimResult tells a plan in the problem's words; the report's cost is set here.
func trimResult(b *shop, sheets []sheet, r Report) *TrimResult {
	p := b.p
	out := &TrimResult{Report: r, Runs: []Run{}}
	setups := map[string]bool{}
	made := make([]int64, len(p.Items))
	sheets = slices.Clone(sheets)
	slices.SortStableFunc(sheets, func(x, y sheet) int {
		return cmp.Or(cmp.Compare(x.stock, y.stock), cmp.Compare(x.key, y.key), cmp.Compare(y.times, x.times))
	})
	for _, x := range sheets {
		st := p.Stock[x.stock]
		setups[x.key] = true
		out.Sheets += x.times
		out.Stock += x.times * x.length * st.Width
		if drop := p.room(st) - b.width(x.strips); drop >= p.Params.DropMin {
			out.Drops += x.times * x.length * drop
		}
		run := Run{Stock: st.ID, Length: x.length, Times: x.times}
		for _, group := range b.groups(x.strips) {
			run.Strips = append(run.Strips, b.strips(group))
			for _, u := range group[0].uses {
				made[u.item] += u.n * int64(len(group)) * x.times
			}
		}
		out.Runs = append(out.Runs, run)
	}
	out.Setups = len(setups)
	for i, t := range p.Items {
		out.Blanks += min(made[i], t.Qty) * t.Girth * t.Length
		if d := made[i] - t.Qty; d > 0 {
			out.Extra = append(out.Extra, MadeItem{t, d})
		} else if d < 0 {
			out.Missing = append(out.Missing, MadeItem{t, -d})
		}
	}
	out.Cost = b.planCost(sheets)
	if len(out.Missing) > 0 {
		out.Status = Infeasible
	}
	return out
}

// groups puts equal strips together, widest first.
func (s *shop) groups(strips []strip) [][]strip {
	sorted := slices.Clone(strips)
	for i := range sorted {
		sorted[i].uses = slices.Clone(sorted[i].uses)
		slices.SortFunc(sorted[i].uses, func(a, b use) int { return cmp.Compare(a.item, b.item) })
	}
	slices.SortStableFunc(sorted, func(a, b strip) int {
		return cmp.Or(cmp.Compare(s.girth[b.girth], s.girth[a.girth]),
			slices.CompareFunc(a.uses, b.uses, func(x, y use) int { return cmp.Or(cmp.Compare(x.item, y.item), cmp.Compare(y.n, x.n)) }))
	})
	var out [][]strip
	for _, t := range sorted {
		if n := len(out); n > 0 && out[n-1][0].girth == t.girth && slices.Equal(out[n-1][0].uses, t.uses) {
			out[n-1] = append(out[n-1], t)
		} else {
			out = append(out, []strip{t})
		}
	}
	return out
}

func (s *shop) strips(group []strip) Strips {
	out := Strips{Girth: s.girth[group[0].girth], Count: int64(len(group)), Pieces: []Pieces{}}
	for _, u := range group[0].uses {
		out.Pieces = append(out.Pieces, Pieces{s.p.Items[u.item].ID, u.n})
	}
	return out
}
