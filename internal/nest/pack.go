package nest

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"ribdesk/internal/fault"
)

// PackProblem is the one-dimensional core: put all pieces into bins of one or
// several sizes, any number of each, at the least cost of bins.
type PackProblem struct {
	Bins   []Bin
	Pieces []Piece
}

// Bin is a size of bin and what one costs, in any whole unit of money.
type Bin struct{ Size, Cost int64 }

// Piece is a size and how many there are of it.
type Piece struct{ Size, Qty int64 }

// PackResult is a packing: how often each pattern is used.
type PackResult struct {
	Report
	Patterns []PackPattern
}

// PackPattern is a bin and the number of each of the problem's pieces in it,
// used Times over.
type PackPattern struct {
	Bin   int
	Times int64
	Qty   []int64
}

const packSteps = 400 // dives, when the settings name no limit

// Validate refuses what Pack can't take.
func (p *PackProblem) Validate() error {
	var l fault.List
	var widest int64
	for i, b := range p.Bins {
		at := fmt.Sprintf("bins[%d]", i)
		inRange(&l, at+".size", b.Size, 1, maxLength)
		inRange(&l, at+".cost", b.Cost, 1, maxMoney)
		widest = max(widest, b.Size)
	}
	tooMany(&l, "bins", len(p.Bins))
	tooMany(&l, "pieces", len(p.Pieces))
	var n int64
	for i, w := range p.Pieces {
		at := fmt.Sprintf("pieces[%d]", i)
		inRange(&l, at+".size", w.Size, 1, maxLength)
		inRange(&l, at+".qty", w.Qty, 0, maxQty)
		if w.Size > widest {
			l.Addf(at+".size", "is larger than every bin")
		}
		n += max(w.Qty, 0)
	}
	if n > maxPieces {
		l.Addf("pieces", "%d pieces are more than one problem takes", n)
	}
	return l.Err()
}

// Pack solves the one-dimensional core. Running out of time or being cancelled
// gives the best packing so far.
func Pack(ctx context.Context, p *PackProblem, s Settings) (*PackResult, error) {
	if err := p.Validate(); err != nil {
		return nil, err
	}
	c := s.start(ctx, packSteps)
	defer c.cancel()
	k := newPacker(p, s, c)
	k.run()
	return &PackResult{Report: c.report(k.least, k.bound), Patterns: k.patterns()}, nil
}

// load is one bin in a packing: its size's index and the sizes in it.
type load struct {
	bin int
	qty []int64 // of each of the packer's sizes
}

// packer holds the search for a packing. Its sizes are distinct and fall.
type packer struct {
	p     *PackProblem
	clock *clock
	bins  []Bin // distinct sizes of use, falling
	binAt []int
	sizes []int64
	want  []int64
	step  int64 // every cost is a multiple of it

	bound int64
	least int64
	best  []load
	dive  *diver
}

func newPacker(p *PackProblem, s Settings, c *clock) *packer {
	k := &packer{p: p, clock: c}
	for i, b := range p.Bins {
		k.bins = append(k.bins, b)
		k.binAt = append(k.binAt, i)
		k.step = gcd(k.step, b.Cost)
	}
	count := map[int64]int64{}
	for _, w := range p.Pieces {
		if w.Qty > 0 {
			count[w.Size] += w.Qty
		}
	}
	for size := range count {
		k.sizes = append(k.sizes, size)
	}
	slices.SortFunc(k.sizes, func(a, b int64) int { return cmp.Compare(b, a) })
	for _, size := range k.sizes {
		k.want = append(k.want, count[size])
	}
	k.dive = newDiver(k, s.Seed)
	return k
}

// run closes the gap between packing and bound from both sides: the cheap
// methods first.
func (k *packer) run() {
	if len(k.sizes) == 0 {
		return
	}
	for _, b := range k.bins {
		if b.Size >= k.sizes[0] {
			k.offer(k.fitDecreasing(k.want, b.Size, false))
			k.offer(k.fitDecreasing(k.want, b.Size, true))
		}
	}
	if len(k.bins) == 1 {
		k.bound = k.bins[0].Cost * martelloToth(k.sizes, k.want, k.bins[0].Size)
	}
	if k.least > k.bound {
		k.offer(k.subsetFill(k.want))
	}
	if k.least > k.bound {
		k.dive.run()
	}
}

// offer takes a packing that is cheaper than the best one.
func (k *packer) offer(loads []load) {
	var cost int64
	for i := range loads {
		loads[i].bin = k.smallest(loads[i].qty)
		cost += k.bins[loads[i].bin].Cost
	}
	if k.best == nil || cost < k.least {
		k.least, k.best = cost, slices.Clone(loads)
	}
}

// smallest is the cheapest bin that holds some pieces.
func (k *packer) smallest(qty []int64) int {
	var sum int64
	for i, n := range qty {
		sum += n * k.sizes[i]
	}
	best := -1
	for i, b := range k.bins {
		if b.Size >= sum && (best < 0 || b.Cost < k.bins[best].Cost) {
			best = i
		}
	}
	return best
}

// patterns puts equal bins together and tells the pieces by the problem's
// numbers.
func (k *packer) patterns() []PackPattern {
	left := make([]int64, len(k.p.Pieces))
	for i, w := range k.p.Pieces {
		left[i] = w.Qty
	}
	at := make([][]int, len(k.sizes))
	for i, w := range k.p.Pieces {
		if n, ok := slices.BinarySearchFunc(k.sizes, w.Size, func(a, b int64) int { return cmp.Compare(b, a) }); ok {
			at[n] = append(at[n], i)
		}
	}
	out := []PackPattern{}
	seen := map[string]int{}
	for _, b := range k.best {
		p := PackPattern{Bin: k.binAt[b.bin], Times: 1, Qty: make([]int64, len(left))}
		for s, n := range b.qty {
			for _, i := range at[s] {
				take := min(n, left[i])
				p.Qty[i] += take
				left[i] -= take
				n -= take
			}
		}
		key := fmt.Sprint(p.Bin, p.Qty)
		if i, ok := seen[key]; ok {
			out[i].Times++
			continue
		}
		seen[key] = len(out)
		out = append(out, p)
	}
	return out
}

// CheckPack refuses a packing that doesn't hold every piece once, and gives its
// cost.
func CheckPack(p *PackProblem, patterns []PackPattern) (int64, error) {
	made := make([]int64, len(p.Pieces))
	var cost int64
	for i, t := range patterns {
		at := fmt.Sprintf("patterns[%d]", i)
		if t.Bin < 0 || t.Bin >= len(p.Bins) || t.Times < 1 || len(t.Qty) != len(p.Pieces) {
			return 0, fault.Invalidf(at, "has no such bin, times or pieces")
		}
		var sum int64
		for j, n := range t.Qty {
			if n < 0 {
				return 0, fault.Invalidf(at, "has a negative number of pieces")
			}
			sum += n * p.Pieces[j].Size
			made[j] += n * t.Times
		}
		if sum > p.Bins[t.Bin].Size {
			return 0, fault.Invalidf(at, "is %d long, the bin %d", sum, p.Bins[t.Bin].Size)
		}
		cost += t.Times * p.Bins[t.Bin].Cost
	}
	for j, n := range made {
		if n != p.Pieces[j].Qty {
			return 0, fault.Invalidf(fmt.Sprintf("pieces[%d]", j), "are packed %d times, wanted %d", n, p.Pieces[j].Qty)
		}
	}
	return cost, nil
}
