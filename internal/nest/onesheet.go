package nest

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"ribdesk/internal/fault"
)

// SheetProblem asks for the blanks worth most that one flat sheet yields by
// two-stage guillotine cuts: the sheet is slit along its length into strips,
// each strip is cut across, and a blank narrower than its strip is trimmed to
// its width. Blanks aren't turned. It answers what is best made of a sheet or a
// drop when not everything wanted can be had from it.
type SheetProblem struct {
	Width  int64 // of the sheet, across the strips
	Length int64 // of the sheet, along the strips
	Blanks []SheetBlank
	Exact  bool // a strip is cut into blanks of its own width only
}

// SheetBlank is a size of blank, at most Qty of it. Worth is in any money.
type SheetBlank struct {
	Width, Length int64
	Worth         int64
	Qty           int64
}

// SheetStrip is one strip and how many of each blank, by index, it is cut into.
type SheetStrip struct {
	Width  int64
	Blanks map[int]int64
}

// SheetResult is a filled sheet. Its Report speaks of worth: Cost is the worth
// left undone, the bound less the worth reached, and Bound is 0.
type SheetResult struct {
	Report
	Strips []SheetStrip
	Worth  int64
	Most   int64 // no way of cutting is worth more
}

// Validate refuses what the solver can't take, at the field's path.
func (p *SheetProblem) Validate() error {
	var l fault.List
	inRange(&l, "width", p.Width, 1, maxWidth)
	inRange(&l, "length", p.Length, 1, maxLength)
	tooMany(&l, "blanks", len(p.Blanks))
	var worth int64
	for i, b := range p.Blanks {
		at := fmt.Sprintf("blanks[%d]", i)
		inRange(&l, at+".width", b.Width, 1, maxWidth)
		inRange(&l, at+".length", b.Length, 1, maxLength)
		inRange(&l, at+".worth", b.Worth, 0, maxRate)
		inRange(&l, at+".qty", b.Qty, 0, maxQty)
		if len(l) == 0 {
			if worth += b.Worth * b.Qty; worth > maxWorth/grain {
				l.Addf("blanks", "are worth more than one sheet ever is")
			}
		}
	}
	return l.Err()
}

// CheckSheet gives what strips are worth when they keep every rule of p. It
// shares nothing with the search.
func CheckSheet(p *SheetProblem, strips []SheetStrip) (worth int64, err error) {
	var wide int64
	made := make([]int64, len(p.Blanks))
	for i, s := range strips {
		wide += s.Width
		var long int64
		for k, n := range s.Blanks {
			if k < 0 || k >= len(p.Blanks) || n < 0 {
				return 0, fault.Invalidf(fmt.Sprintf("strips[%d]", i), "there is no blank %d", k)
			}
			b := p.Blanks[k]
			if b.Width > s.Width || p.Exact && b.Width != s.Width {
				return 0, fault.Invalidf(fmt.Sprintf("strips[%d]", i), "blank %d is %d wide, the strip %d", k, b.Width, s.Width)
			}
			long += n * b.Length
			made[k] += n
			worth += n * b.Worth
		}
		if long > p.Length {
			return 0, fault.Invalidf(fmt.Sprintf("strips[%d]", i), "is %d long, the sheet %d", long, p.Length)
		}
	}
	if wide > p.Width {
		return 0, fault.Invalidf("strips", "are %d wide together, the sheet %d", wide, p.Width)
	}
	for k, n := range made {
		if n > p.Blanks[k].Qty {
			return 0, fault.Invalidf(fmt.Sprintf("blanks[%d]", k), "is made %d times, %d are wanted", n, p.Blanks[k].Qty)
		}
	}
	return worth, nil
}

// usualSheetSteps limits a search that nothing else limits.
const usualSheetSteps = 2_000_000

// FillSheet finds the most valuable way to cut one sheet. It proves it where the
// settings leave time for that: a price is put on each blank (Lagrange), which
// bounds every plan; only strips that a better plan could hold are kept, and
// those are tried in all ways.
func FillSheet(ctx context.Context, p *SheetProblem, s Settings) (*SheetResult, error) {
	if err := p.Validate(); err != nil {
		return nil, err
	}
	c := s.start(ctx, usualSheetSteps)
	defer c.cancel()
	f := newSheetFill(p, c)
	f.priceBlanks()
	if f.bound/grain > f.worth {
		f.search()
	}
	most := max(f.bound/grain, f.worth)
	slices.SortStableFunc(f.best, func(a, b SheetStrip) int { return cmp.Compare(b.Width, a.Width) })
	return &SheetResult{Report: c.report(most-f.worth, 0), Strips: f.best, Worth: f.worth, Most: most}, nil
}
