package load

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
)

// Line is equal pieces to be bundled.
type Line struct {
	ID       string // of the caller, given back in the contents
	Order    string
	Customer string
	Stop     int    // place in the unloading order, 1 is unloaded first; 0 when there is no trip yet
	Kind     string // profile, metal and colour: only equal kinds share a bundle
	Length   measure.Length
	Width    measure.Length // as it lies
	Height   measure.Length // of one piece
	Nest     measure.Length // that each further piece adds to a stack; 0 takes Height
	Lb       float64        // of one piece
	Qty      int
}

// Packing is how a shop bundles.
type Packing struct {
	MaxLb     float64          // of a whole bundle, skid and all
	MaxPieces int              // 0 for no limit
	Classes   []measure.Length // upper ends of the length classes, rising; lengths of two classes never share a bundle
	Mixed     bool             // orders of one customer at one stop may share a bundle
	SkidLb    float64          // fixed weight of skid, dunnage and bands
	SkidLbFt  float64          // and its weight for each foot of the longest piece
	SkidDeep  measure.Length   // height it adds underneath
}

// Content is some equal pieces in a bundle.
type Content struct {
	Line   string
	Order  string
	Length measure.Length
	Qty    int
	Lb     float64 // together
}

// Bundle is a package that is lifted whole.
type Bundle struct {
	No       int // within its customer and stop, 1 first
	Of       int
	Stop     int
	Customer string
	Orders   []string
	Kind     string
	Contents []Content // longest first, which is the bottom
	Pieces   int
	Longest  measure.Length
	Width    measure.Length
	Height   measure.Length // with its skid
	NetLb    float64
	SkidLb   float64
	Lb       float64          // gross, calculated
	Balance  measure.Length   // centre of weight from the flush end
	Lifts    []measure.Length // suggested points of support from the flush end
	Coil     bool             // a coil taken along, not packed pieces
}

// most is how many pieces one call packs.
const mostPieces = 100_000

// Bundles packs lines: by stop, customer, order (unless mixed), kind and length
// class; longest first, equal lengths together, in as few bundles as that order
// allows and evenly filled. The result doesn't depend on the order of the lines.
// Faults are at lines.0.length and the like, and at max_lb and so on.
func Bundles(lines []Line, p Packing) ([]Bundle, error) {
	if err := checkLines(lines, p); err != nil {
		return nil, err
	}
	groups := map[groupKey][]Line{}
	for _, l := range lines {
		k := p.keyOf(l)
		groups[k] = append(groups[k], l)
	}
	keys := make([]groupKey, 0, len(groups))
	for k := range groups {
		keys = append(keys, k)
	}
	slices.SortFunc(keys, groupKey.compare)
	var out []Bundle
	for _, k := range keys {
		out = append(out, p.pack(k, groups[k])...)
	}
	return numbered(out), nil
}

// groupKey is what pieces must share to share a bundle.
type groupKey struct {
	stop     int
	customer string
	order    string
	kind     string
	class    int
}

func (a groupKey) compare(b groupKey) int {
	return cmp.Or(cmp.Compare(a.stop, b.stop), cmp.Compare(a.customer, b.customer), cmp.Compare(a.order, b.order),
		cmp.Compare(a.kind, b.kind), cmp.Compare(b.class, a.class))
}

func (p Packing) keyOf(l Line) groupKey {
	k := groupKey{l.Stop, l.Customer, l.Order, l.Kind, 0}
	if p.Mixed {
		k.order = ""
	}
	for k.class < len(p.Classes) && l.Length > p.Classes[k.class] {
		k.class++
	}
	return k
}

func checkLines(lines []Line, p Packing) error {
	var bad fault.List
	if !sensible(p.MaxLb, 100_000) || p.MaxLb == 0 {
		bad.Addf("max_lb", "give the heaviest bundle in lb")
	}
	if p.MaxPieces < 0 {
		bad.Addf("max_pieces", "the most pieces in a bundle can't be negative")
	}
	if !sensible(p.SkidLb, 10_000) || !sensible(p.SkidLbFt, 1000) {
		bad.Addf("skid_lb", "the skid's weight can't be negative")
	}
	for i := 1; i < len(p.Classes); i++ {
		if p.Classes[i] <= p.Classes[i-1] {
			bad.Addf("classes", "the length classes must rise")
		}
	}
	pieces := 0
	for i, l := range lines {
		at := fmt.Sprintf("lines.%d.", i)
		if l.Length <= 0 || l.Length > 200*measure.Foot {
			bad.Addf(at+"length", "a piece is more than 0 and at most 200 ft long")
		}
		if l.Qty < 0 || l.Qty > mostPieces-pieces {
			bad.Addf(at+"qty", "give a number of pieces, %d in all at most", mostPieces)
			continue
		}
		pieces += l.Qty
		if l.Width < 0 || l.Height < 0 || l.Nest < 0 {
			bad.Addf(at+"width", "a piece's width and height can't be negative")
		}
		switch alone := l.Lb + p.skid(l.Length); {
		case !sensible(l.Lb, 100_000):
			bad.Addf(at+"lb", "give the weight of one piece in lb")
		case l.Qty > 0 && alone > p.MaxLb && p.MaxLb > 0:
			bad.Addf(at+"lb", "one piece of %s on its skid weighs %s lb, over the %s lb of a bundle", l.Length.FeetInches(16), pounds(alone), pounds(p.MaxLb))
		}
	}
	return bad.Err()
}

func (p Packing) skid(longest measure.Length) float64 { return p.SkidLb + p.SkidLbFt*longest.InFeet() }

// pack fills one group's bundles: first as few as the limits allow, then with
// the smallest share of the limits that still needs no more, so that the last
// bundle isn't a rest of one piece.
func (p Packing) pack(k groupKey, lines []Line) []Bundle {
	slices.SortFunc(lines, func(a, b Line) int {
		return cmp.Or(cmp.Compare(b.Length, a.Length), cmp.Compare(b.Lb, a.Lb), cmp.Compare(a.Order, b.Order), cmp.Compare(a.ID, b.ID))
	})
	best := p.fill(lines, 1)
	low, high := 0.0, 1.0
	for range 20 {
		mid := (low + high) / 2
		if got := p.fill(lines, mid); len(got) <= len(best) {
			best, high = got, mid
		} else {
			low = mid
		}
	}
	out := make([]Bundle, len(best))
	for i, contents := range best {
		out[i] = p.bundle(k, lines, contents)
	}
	return out
}

// take is a count of one line's pieces.
type take struct{ line, qty int }

// fill takes pieces in order into bundles that are full at a share of the
// limits; a bundle always takes its first piece.
func (p Packing) fill(lines []Line, share float64) [][]take {
	var out [][]take
	pieces, lb := 0, 0.0
	limit := func(longest measure.Length) float64 {
		skid := p.skid(longest)
		return skid + share*(p.MaxLb-skid)
	}
	mostPieces := math.MaxInt
	if p.MaxPieces > 0 {
		mostPieces = max(1, int(math.Ceil(share*float64(p.MaxPieces))))
	}
	var longest measure.Length
	for i, l := range lines {
		for left := l.Qty; left > 0; {
			if len(out) == 0 {
				out = append(out, nil)
			}
			if pieces == 0 {
				longest, lb = l.Length, p.skid(l.Length)
			}
			room := mostPieces - pieces
			if l.Lb > 0 {
				room = min(room, int((limit(longest)-lb)/l.Lb+1e-9))
			}
			if room <= 0 && pieces > 0 {
				out, pieces = append(out, nil), 0
				continue
			}
			n := min(left, max(1, room))
			last := len(out) - 1
			out[last] = append(out[last], take{i, n})
			pieces, lb, left = pieces+n, lb+float64(n)*l.Lb, left-n
		}
	}
	return out
}

func (p Packing) bundle(k groupKey, lines []Line, takes []take) Bundle {
	b := Bundle{Stop: k.stop, Customer: k.customer, Kind: k.kind}
	moment := 0.0
	for _, t := range takes {
		l := lines[t.line]
		lb := float64(t.qty) * l.Lb
		b.Contents = append(b.Contents, Content{l.ID, l.Order, l.Length, t.qty, lb})
		if !slices.Contains(b.Orders, l.Order) {
			b.Orders = append(b.Orders, l.Order)
		}
		b.Pieces += t.qty
		b.NetLb += lb
		moment += lb * l.Length.InInches() / 2
		b.Longest, b.Width = max(b.Longest, l.Length), max(b.Width, l.Width)
		b.Height = stack(b.Height, l, t.qty)
	}
	b.Height += p.SkidDeep
	b.SkidLb = p.skid(b.Longest)
	b.Lb = b.NetLb + b.SkidLb
	b.Balance = b.Longest / 2
	if b.Lb > 0 {
		b.Balance = measure.FromInches((moment + b.SkidLb*b.Longest.InInches()/2) / b.Lb)
	}
	b.Lifts = LiftPoints(b.Longest, b.Balance)
	return b
}

// stack gives the height of a stack after more pieces are laid on it.
func stack(height measure.Length, l Line, qty int) measure.Length {
	nest := l.Nest
	if nest == 0 {
		nest = l.Height
	}
	if height == 0 {
		return l.Height + nest.Times(qty-1)
	}
	return height + nest.Times(qty)
}

// liftSpan is the longest stretch between supports when hoisting; common
// practice for panels, no published source.
const liftSpan = 10 * measure.Foot

// LiftPoints suggests where to support a bundle when hoisting it: two points at
// least, at most 10 ft apart, spread evenly about its centre of weight and
// never outside it.
func LiftPoints(length, balance measure.Length) []measure.Length {
	n := max(2, int(length.Up(liftSpan)/liftSpan))
	out := make([]measure.Length, n)
	shift := balance - length/2
	for i := range out {
		at := length*measure.Length(2*i+1)/measure.Length(2*n) + shift
		out[i] = min(length, max(0, at)).Near(measure.Inch)
	}
	return out
}

// numbered numbers the bundles of each customer at each stop.
func numbered(bundles []Bundle) []Bundle {
	for i := 0; i < len(bundles); {
		j := i
		for j < len(bundles) && bundles[j].Stop == bundles[i].Stop && bundles[j].Customer == bundles[i].Customer {
			j++
		}
		for k := i; k < j; k++ {
			bundles[k].No, bundles[k].Of = k-i+1, j-i
		}
		i = j
	}
	return bundles
}
