package nest

import (
	"math"
)

// Limits for filling sheet after sheet, so that the start of a search stays quick.
const (
	fillSheets = 40
	fillSteps  = 2_000
)

// filled is a plan that takes one sheet after the other and makes of each the
// most blanks by area, proved best sheet by sheet. It is a start where all stock
// is sheet; nil when there is other stock or there are too many sheets.
func (t *trimSearch) filled() []sheet {
	if !t.allSheet() {
		return nil
	}
	var out []sheet
	for range fillSheets {
		t.tally(out)
		x, ok := t.fullest()
		if !ok {
			return out
		}
		x.times = min(t.repeats(x, 1), t.left[x.stock])
		out = merge(out, x)
	}
	return nil
}

// fullest is the sheet with the most wanted area for its cost.
func (t *trimSearch) fullest() (best sheet, ok bool) {
	saw := t.p.Params.Saw
	top := 0.0
	for k, st := range t.p.Stock {
		if t.left[k] < 1 || t.p.room(st) < 1 || t.clock.out() {
			continue
		}
		q := &SheetProblem{Width: t.p.room(st), Length: st.Length + saw, Exact: true}
		for i, item := range t.p.Items {
			area := item.Girth * item.Length
			q.Blanks = append(q.Blanks, SheetBlank{Width: item.Girth, Length: item.Length + saw, Worth: min(area, maxRate), Qty: min(t.rem[i], maxQty)})
		}
		r, err := FillSheet(t.clock.caller, q, Settings{Iterations: fillSteps})
		if err != nil || len(r.Strips) == 0 || len(r.Strips) > int(min(t.p.Params.MaxStrips, math.MaxInt32)) {
			continue
		}
		x := t.sheetOf(k, r)
		if score := float64(r.Worth) / float64(t.cost(x)+1); score > top {
			top, best, ok = score, x, true
		}
	}
	return best, ok
}

// sheetOf is a filled sheet as the search has it.
func (t *trimSearch) sheetOf(stock int, r *SheetResult) sheet {
	x := sheet{stock: stock, length: t.p.Stock[stock].Length, times: 1}
	for _, s := range r.Strips {
		var one strip
		for i := range t.p.Items {
			if n := s.Blanks[i]; n > 0 {
				one.girth = t.of[i]
				one.uses = append(one.uses, use{i, n})
				one.used += n * (t.p.Items[i].Length + t.p.Params.Saw)
			}
		}
		one.used -= t.p.Params.Saw
		x.strips = append(x.strips, one)
	}
	t.close(&x)
	return x
}
