package nest

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"
)

// CoilResult is a plan for problem A with what the shop has to know about it.
type CoilResult struct {
	Report
	Cuts     []Cut // what is cut where, in the order of Coils
	Coils    []CoilUse
	Orders   []OrderLots
	Short    []ShortLine
	Buy      Purchase
	Warnings []string // sentences for the person
}

// CoilUse is a used coil: what to cut in what order, and what will be left.
// Longest first, so that a coil shorter than booked fails on a short piece.
type CoilUse struct {
	Coil   Coil
	Pieces []CoilPieces
	Lead   int64 // lost to threading and tail, eighths of an inch
	Slugs  int64 // lost to cuts
	End    int64 // expected remainder
	Scrap  bool  // the end is too short to keep
}

// CoilPieces are equal pieces cut one after the other.
type CoilPieces struct {
	Line   Line
	Pieces int64
}

// OrderLots are the paint lots that an order's pieces come from.
type OrderLots struct {
	Order string
	Lots  []string
}

// ShortLine is how much of a line no coil yields.
type ShortLine struct {
	Line   Line
	Pieces int64
}

// Purchase is what to buy so that nothing is short.
type Purchase struct {
	Pieces  int64
	Strip   int64    // pieces with their slugs, eighths of an inch
	Lead    int64    // threading and tail of the coils bought
	Coils   int64    // number of coils, 0 when they come in any length
	Length  int64    // to buy: Strip + Lead, or Coils whole coils
	TooLong []string // lines whose piece is longer than a coil one can buy
}

const coilSteps = 400_000 // when the settings name no limit

// Allocate solves problem A. The error is a fault about the problem; running
// out of time or being cancelled isn't one, and gives the best plan so far.
func Allocate(ctx context.Context, p *CoilProblem, s Settings) (*CoilResult, error) {
	if err := p.Validate(); err != nil {
		return nil, err
	}
	c := s.start(ctx, coilSteps)
	defer c.cancel()
	b := newBoard(p)
	search := newCoilSearch(b, s, c, coilBound(b))
	search.run()
	return coilResult(b, search.best, c.report(search.least, search.bound)), nil
}

func coilResult(b *board, at []int32, r Report) *CoilResult {
	p := b.p
	out := &CoilResult{Report: r, Cuts: []Cut{}}
	counts := make([][]int64, len(p.Coils)+1)
	for c := range counts {
		counts[c] = make([]int64, len(p.Lines))
	}
	for i, c := range at {
		counts[c][b.line[i]]++
	}
	lots := map[string]map[string]bool{}
	for c, coil := range p.Coils {
		use := CoilUse{Coil: coil, Lead: p.lead(coil), End: b.room[c]}
		for n, k := range counts[c] {
			if k == 0 {
				continue
			}
			line := p.Lines[n]
			use.Pieces = append(use.Pieces, CoilPieces{line, k})
			use.Slugs += k * p.Params.Slug
			use.End -= k * (line.Length + p.Params.Slug)
			if lots[line.Order] == nil {
				lots[line.Order] = map[string]bool{}
			}
			lots[line.Order][coil.Lot] = true
		}
		if len(use.Pieces) == 0 {
			continue
		}
		slices.SortStableFunc(use.Pieces, func(a, b CoilPieces) int { return cmp.Compare(b.Line.Length, a.Line.Length) })
		use.Scrap = use.End < p.Params.ScrapMax
		for _, x := range use.Pieces {
			out.Cuts = append(out.Cuts, Cut{coil.ID, x.Line.ID, x.Pieces})
		}
		out.Coils = append(out.Coils, use)
	}
	for n, k := range counts[len(p.Coils)] {
		if k > 0 {
			out.Short = append(out.Short, ShortLine{p.Lines[n], k})
		}
	}
	out.orderLots(p, lots)
	out.Buy = p.purchase(out.Short)
	return out
}

// orderLots lists every order once, in the order of the lines, and warns of
// those that mix paint lots.
func (r *CoilResult) orderLots(p *CoilProblem, lots map[string]map[string]bool) {
	seen := map[string]bool{}
	for _, n := range p.Lines {
		if seen[n.Order] {
			continue
		}
		seen[n.Order] = true
		o := OrderLots{Order: n.Order, Lots: []string{}}
		for l := range lots[n.Order] {
			o.Lots = append(o.Lots, l)
		}
		slices.Sort(o.Lots)
		r.Orders = append(r.Orders, o)
		if len(o.Lots) > 1 {
			r.Warnings = append(r.Warnings, fmt.Sprintf(
				"Order %s is cut from paint lots %s: shades may differ; keep the lots on separate slopes or walls.",
				n.Order, strings.Join(o.Lots, ", ")))
		}
	}
}

// purchase adds up what is short. Coils of a fixed length are filled longest
// piece first.
func (p *CoilProblem) purchase(short []ShortLine) Purchase {
	lead := p.Params.LeadIn + p.Params.LeadOut
	var b Purchase
	var sizes []int64
	for _, s := range short {
		size := s.Line.Length + p.Params.Slug
		if p.BuyLength > 0 && size+lead > p.BuyLength {
			b.TooLong = append(b.TooLong, s.Line.ID)
			continue
		}
		b.Pieces += s.Pieces
		b.Strip += s.Pieces * size
		for range s.Pieces {
			sizes = append(sizes, size)
		}
	}
	switch {
	case b.Pieces == 0:
	case p.BuyLength == 0:
		b.Lead = lead
		b.Length = b.Strip + lead
	default:
		b.Coils = int64(firstFit(sizes, p.BuyLength-lead))
		b.Lead = b.Coils * lead
		b.Length = b.Coils * p.BuyLength
	}
	return b
}

// firstFit gives the number of bins that first-fit decreasing needs; every size
// must fit an empty bin.
func firstFit(sizes []int64, bin int64) int {
	sizes = slices.Clone(sizes)
	slices.SortFunc(sizes, func(a, b int64) int { return cmp.Compare(b, a) })
	var left []int64
next:
	for _, s := range sizes {
		for i := range left {
			if left[i] >= s {
				left[i] -= s
				continue next
			}
		}
		left = append(left, bin-s)
	}
	return len(left)
}
