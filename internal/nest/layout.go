package nest

// board is problem A by numbers: every piece on its own, orders and lots as
// indices. Coil len(coils) stands for "nowhere": the pieces that are short.
type board struct {
	p      *CoilProblem
	fixed  []int64 // cost of each coil once it is used, without its end
	idle   []int64 // and while it is untouched
	room   []int64 // of each coil for pieces and slugs; negative when its lead is longer
	lot    []int32 // of each coil
	line   []int32 // of each piece
	order  []int32 // of each piece
	size   []int64 // length + slug of each piece
	first  []int32 // first piece of each line, and the number of pieces at the end
	unit   int64   // all sizes are whole multiples of it
	lots   int
	orders int
}

func newBoard(p *CoilProblem) *board {
	b := &board{p: p}
	lots, orders := map[string]int32{}, map[string]int32{}
	for _, c := range p.Coils {
		b.room = append(b.room, c.Length-p.lead(c))
		b.lot = append(b.lot, number(lots, c.Lot))
		b.idle = append(b.idle, p.useCost(c, false, 0))
		b.fixed = append(b.fixed, p.useCost(c, true, c.Length-p.lead(c))-p.Params.endCost(0))
	}
	for i, n := range p.Lines {
		o := number(orders, n.Order)
		b.first = append(b.first, int32(len(b.line)))
		size := n.Length + p.Params.Slug
		b.unit = gcd(b.unit, size)
		for range n.Qty {
			b.line = append(b.line, int32(i))
			b.order = append(b.order, o)
			b.size = append(b.size, size)
		}
	}
	b.first = append(b.first, int32(len(b.line)))
	b.lots, b.orders = len(lots), len(orders)
	b.unit = max(b.unit, 1)
	return b
}

// number gives a name its index, the next free one when it is new.
func number(seen map[string]int32, name string) int32 {
	i, ok := seen[name]
	if !ok {
		i = int32(len(seen))
		seen[name] = i
	}
	return i
}

func gcd(a, b int64) int64 {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

// layout is a plan in the making. Only move changes it, so its cost and counts
// are always right, and undo takes moves back.
type layout struct {
	*board
	at      []int32   // coil of each piece
	pos     []int32   // place of each piece in in[at]
	in      [][]int32 // pieces of each coil, and of nowhere
	load    []int64
	inLot   []int32 // pieces of order o in lot l, at o*lots+l
	spread  []int32 // number of lots of each order
	used    []int32 // coils with pieces
	usedAt  []int32 // place of each coil in used, -1 when untouched
	cost    int64
	journal []hop
}

type hop struct{ piece, from int32 }

// newLayout has every piece short.
func newLayout(b *board) *layout {
	coils := len(b.room)
	l := &layout{board: b,
		at: make([]int32, len(b.line)), pos: make([]int32, len(b.line)),
		in: make([][]int32, coils+1), load: make([]int64, coils+1),
		inLot: make([]int32, b.orders*b.lots), spread: make([]int32, b.orders),
		usedAt: make([]int32, coils),
	}
	for c := range b.room {
		l.usedAt[c] = -1
		l.cost += b.idle[c]
	}
	for i := range b.line {
		l.at[i], l.pos[i] = int32(coils), int32(i)
		l.in[coils] = append(l.in[coils], int32(i))
		l.load[coils] += b.size[i]
	}
	l.cost += b.p.Params.Short * l.load[coils]
	return l
}

func (l *layout) nowhere() int32 { return int32(len(l.room)) }

func (l *layout) fits(piece, coil int32) bool {
	return coil == l.nowhere() || l.load[coil]+l.size[piece] <= l.room[coil]
}

func (l *layout) left(coil int32) int64 { return l.room[coil] - l.load[coil] }

// coilCost is the part of the cost that hangs on one coil's pieces.
func (l *layout) coilCost(c int32) int64 {
	if c == l.nowhere() {
		return l.p.Params.Short * l.load[c]
	}
	if len(l.in[c]) == 0 {
		return l.idle[c]
	}
	return l.fixed[c] + l.p.Params.endCost(l.left(c))
}

// move puts a piece into a coil that it fits, or nowhere.
func (l *layout) move(piece, to int32) {
	from := l.at[piece]
	if from == to {
		return
	}
	l.journal = append(l.journal, hop{piece, from})
	l.shift(piece, from, to)
}

func (l *layout) shift(piece, from, to int32) {
	l.cost -= l.coilCost(from) + l.coilCost(to)
	list := l.in[from]
	last := list[len(list)-1]
	list[l.pos[piece]] = last
	l.pos[last] = l.pos[piece]
	l.in[from] = list[:len(list)-1]
	l.pos[piece] = int32(len(l.in[to]))
	l.in[to] = append(l.in[to], piece)
	l.at[piece] = to
	l.load[from] -= l.size[piece]
	l.load[to] += l.size[piece]
	l.count(piece, from, -1)
	l.count(piece, to, 1)
	l.cost += l.coilCost(from) + l.coilCost(to)
}

// count keeps the lots of orders and the list of used coils.
func (l *layout) count(piece, coil, by int32) {
	if coil == l.nowhere() {
		return
	}
	o := l.order[piece]
	n := &l.inLot[int(o)*l.lots+int(l.lot[coil])]
	before := *n
	if *n += by; before == 0 || *n == 0 {
		l.cost -= int64(max(l.spread[o]-1, 0)) * l.p.Params.LotSplit
		l.spread[o] += by
		l.cost += int64(max(l.spread[o]-1, 0)) * l.p.Params.LotSplit
	}
	switch {
	case by > 0 && l.usedAt[coil] < 0:
		l.usedAt[coil] = int32(len(l.used))
		l.used = append(l.used, coil)
	case len(l.in[coil]) == 0 && l.usedAt[coil] >= 0:
		last := l.used[len(l.used)-1]
		l.used[l.usedAt[coil]] = last
		l.usedAt[last] = l.usedAt[coil]
		l.used = l.used[:len(l.used)-1]
		l.usedAt[coil] = -1
	}
}

// undo takes back all moves since the last commit.
func (l *layout) undo() {
	for i := len(l.journal) - 1; i >= 0; i-- {
		h := l.journal[i]
		l.shift(h.piece, l.at[h.piece], h.from)
	}
	l.journal = l.journal[:0]
}

func (l *layout) commit() { l.journal = l.journal[:0] }

// restore brings back a remembered plan.
func (l *layout) restore(at []int32) {
	l.emptyAll()
	for i, c := range at {
		l.move(int32(i), c)
	}
	l.commit()
}

// emptyAll makes every piece short.
func (l *layout) emptyAll() {
	for i := range l.at {
		l.move(int32(i), l.nowhere())
	}
	l.commit()
}
