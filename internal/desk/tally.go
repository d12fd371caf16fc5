package desk

import (
	"slices"
	"strings"

	"ribdesk/internal/order"
	"ribdesk/internal/stock"
)

// groupTally counts what a way of cutting a group comes to, the same for what
// stands and for what is proposed.
type groupTally struct {
	g    *AllocationGroup
	coil map[string]stock.Coil       // by tag
	cuts map[string]map[string]int64 // pieces by coil and row of a cut list
}

// cut counts pieces of a row of a cut list on a coil.
func (t *groupTally) cut(coil, row string, qty int64) {
	if t.cuts == nil {
		t.cuts = map[string]map[string]int64{}
	}
	if t.cuts[coil] == nil {
		t.cuts[coil] = map[string]int64{}
	}
	t.cuts[coil][row] += qty
}

func (t *groupTally) at(coil, row string) int64 { return t.cuts[coil][row] }

// sum gives the figures. Promises made at the counter leave nothing for threading
// and tail: that is scrap all the same, and where a coil has no room for it, so
// much of the pieces will be short.
func (t *groupTally) sum() Tally {
	var out Tally
	served := map[string]int64{}
	lots := map[string]map[string]bool{}
	for _, c := range t.g.Problem.Coils {
		if len(t.cuts[c.ID]) == 0 {
			continue
		}
		out.Coils++
		lead := t.g.lead(c)
		end := c.Length - lead
		for _, l := range t.g.Problem.Lines {
			n := t.at(c.ID, l.ID)
			if n == 0 {
				continue
			}
			served[l.ID] += n
			end -= n * (l.Length + t.g.Problem.Params.Slug)
			if lots[l.Order] == nil {
				lots[l.Order] = map[string]bool{}
			}
			lots[l.Order][c.Lot] = true
		}
		out.Scrap += inEighths(lead)
		if end < t.g.Problem.Params.ScrapMax {
			out.Scrap += inEighths(max(0, end))
		}
		out.Short += inEighths(max(0, -end))
	}
	for _, l := range t.g.Problem.Lines {
		out.Short += inEighths(max(0, l.Qty-served[l.ID]) * l.Length)
	}
	for _, of := range lots {
		if len(of) > 1 {
			out.Mixed++
		}
	}
	return out
}

// tags names the coils that a line's pieces come from.
func (t *groupTally) tags(l order.Line) string {
	var tags []string
	for tag, rows := range t.cuts {
		for _, c := range l.Cuts {
			if rows[cutID(c.ID)] > 0 && !slices.Contains(tags, tag) {
				tags = append(tags, tag)
			}
		}
	}
	slices.Sort(tags)
	return strings.Join(tags, ", ")
}
