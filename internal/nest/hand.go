package nest

import (
	"cmp"
	"math"
	"slices"
)

// Way is a way of planning by hand, to compare with. They are common practice;
// no source is published.
type Way string

// The ways.
const (
	NextCoil     Way = "arrival order, each coil until a piece doesn't fit" // coils
	FirstCoil    Way = "arrival order, first coil that fits"                // coils
	LongestFirst Way = "longest first, first coil that fits"                // coils
	OneTrim      Way = "one trim at a time"                                 // trim
	FirstSheet   Way = "arrival order, first sheet that fits"               // trim
	WidestFirst  Way = "widest first, first sheet that fits"                // trim
)

// AllocateByHand plans problem A in a way of NextCoil, FirstCoil or
// LongestFirst: the threaded coil first, the others as they are listed. Its
// Report has no bound.
func AllocateByHand(p *CoilProblem, way Way) (*CoilResult, error) {
	if err := p.Validate(); err != nil {
		return nil, err
	}
	b := newBoard(p)
	l := newLayout(b)
	coils := make([]int32, len(p.Coils))
	for c := range coils {
		coils[c] = int32(c)
	}
	slices.SortStableFunc(coils, func(x, y int32) int {
		return cmp.Compare(btoi(p.Coils[y].Mounted), btoi(p.Coils[x].Mounted))
	})
	pieces := make([]int32, len(b.line))
	for i := range pieces {
		pieces[i] = int32(i)
	}
	if way == LongestFirst {
		slices.SortStableFunc(pieces, func(x, y int32) int { return cmp.Compare(b.size[y], b.size[x]) })
	}
	at := 0
	for _, i := range pieces {
		for k := at; k < len(coils); k++ {
			if l.fits(i, coils[k]) {
				l.move(i, coils[k])
				if way == NextCoil {
					at = k
				}
				break
			}
		}
	}
	return coilResult(b, l.at, Report{Cost: l.cost, Status: Feasible, Stopped: OutOfWork, Work: 1}), nil
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

// NestByHand plans problem B in a way of OneTrim, FirstSheet or WidestFirst, on
// the first stock that a piece fits. Its Report has no bound.
func NestByHand(p *TrimProblem, way Way) (*TrimResult, error) {
	if err := p.Validate(); err != nil {
		return nil, err
	}
	b := newShop(p)
	return trimResult(b, byHand(b, way), Report{Status: Feasible, Stopped: OutOfWork, Work: 1}), nil
}

func byHand(b *shop, way Way) []sheet {
	p := b.p
	h := handNest{shop: b, left: make([]int64, len(p.Stock))}
	for i, k := range p.Stock {
		h.left[i] = math.MaxInt64
		if k.Count != nil {
			h.left[i] = *k.Count
		}
	}
	order := make([]int, len(p.Items))
	for i := range order {
		order[i] = i
	}
	if way == WidestFirst {
		slices.SortStableFunc(order, func(x, y int) int { return cmp.Compare(p.Items[y].Girth, p.Items[x].Girth) })
	}
	for _, i := range order {
		if way == OneTrim {
			h.closed = len(h.sheets)
		}
		for range h.want[i] {
			h.place(i)
		}
	}
	return h.runs()
}

// handNest is sheets as they fill up.
type handNest struct {
	*shop
	left   []int64
	sheets []sheet
	closed int // sheets before it aren't looked at again
}

// place puts one piece into the first strip or sheet that takes it, else on a
// new sheet; it's left out when there is no stock for it.
func (h *handNest) place(item int) {
	for k := h.closed; k < len(h.sheets); k++ {
		if h.onto(&h.sheets[k], item) {
			return
		}
	}
	t := h.p.Items[item]
	for i, s := range h.p.Stock {
		if h.left[i] > 0 && h.p.room(s) >= t.Girth && h.p.longest(s) >= t.Length {
			if h.left[i] != math.MaxInt64 {
				h.left[i]--
			}
			x := sheet{stock: i, times: 1, length: h.p.longest(s)}
			h.onto(&x, item)
			h.sheets = append(h.sheets, x)
			return
		}
	}
}

func (h *handNest) onto(x *sheet, item int) bool {
	t, g := h.p.Items[item], h.of[item]
	long := h.p.longest(h.p.Stock[x.stock])
	for k := range x.strips {
		s := &x.strips[k]
		if s.girth == g && s.used+h.p.Params.Saw+t.Length <= long {
			s.used += h.p.Params.Saw + t.Length
			if last := len(s.uses) - 1; s.uses[last].item == item {
				s.uses[last].n++
			} else {
				s.uses = append(s.uses, use{item, 1})
			}
			return true
		}
	}
	room := h.p.room(h.p.Stock[x.stock]) - h.width(x.strips)
	if room < t.Girth || t.Length > long || int64(len(x.strips)) >= h.p.Params.MaxStrips {
		return false
	}
	x.strips = append(x.strips, strip{girth: g, uses: []use{{item, 1}}, used: t.Length})
	return true
}

// runs names set-ups, shortens coil cuts and puts equal sheets together.
func (h *handNest) runs() []sheet {
	c := cutter{shop: h.shop}
	var out []sheet
	for _, x := range h.sheets {
		c.close(&x)
		out = merge(out, x)
	}
	return out
}
