package desk_test

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"pgregory.net/rapid"

	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/stock"
	"ribdesk/internal/store"
)

// book is what a person with pencil and paper would know of a coil.
type book struct{ received, cut, scrap, slit, returned, adjusted, onHand measure.Length }

// TestLedgerBalances walks through random histories of receipts, cuts, scrap,
// counts, returns, slitting and ended coils, and holds every coil's ledger to
// received = cut + scrap + slit + returned - adjusted + on hand, to the
// nanometre, against books kept beside it; and no coil to less than nothing.
func TestLedgerBalances(t *testing.T) {
	w := newWorks(t)
	h := &history{w: w, t: t}
	h.start()
	image := filepath.Join(t.TempDir(), "open.db")
	if err := w.store.Backup(t.Context(), image); err != nil {
		t.Fatal(err)
	}
	n := 0
	rapid.Check(t, func(r *rapid.T) {
		n++
		h := &history{w: w.copied(t, image, n), t: t, books: map[int64]*book{}}
		for _, c := range h.coils() {
			h.books[c.ID] = &book{received: c.Original, onHand: c.OnHand}
		}
		for range rapid.IntRange(6, 16).Draw(r, "steps") {
			h.step(r)
		}
		h.check(r)
		if err := h.w.store.Close(); err != nil {
			t.Error(err)
		}
	})
}

// The same on PostgreSQL, where copying a database is dear: the histories follow
// each other in one shop, the books go on, and at the end the whole shop verifies.
func TestLedgerBalancesOnPostgres(t *testing.T) {
	if testing.Short() {
		t.Skip("left to the run without -short")
	}
	w := postgresWorks(t)
	h := &history{w: w, t: t, books: map[int64]*book{}}
	h.start()
	for _, c := range h.coils() {
		h.books[c.ID] = &book{received: c.Original, onHand: c.OnHand}
	}
	rounds := 0
	rapid.Check(t, func(r *rapid.T) {
		if rounds++; rounds > 12 {
			return
		}
		for range rapid.IntRange(6, 16).Draw(r, "steps") {
			h.step(r)
		}
		h.check(r)
	})
	h.w.wantSound(t)
	for name, c := range verified(t, w.Desk) {
		if len(c.Wrong) > 0 {
			t.Errorf("%s: %v", name, c.Wrong)
		}
	}
}

// copied opens a desk on a copy of a database.
func (w *works) copied(t *testing.T, image string, n int) *works {
	t.Helper()
	body, err := os.ReadFile(image)
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(filepath.Dir(image), fmt.Sprintf("h%d.db", n))
	if err := os.WriteFile(path, body, 0o600); err != nil {
		t.Fatal(err)
	}
	s, err := store.Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	return &works{Desk: desk.New(s, desk.Options{Now: w.clock.Now}), store: s, clock: w.clock, path: path}
}

// history is a works with pencilled books beside it.
type history struct {
	w     *works
	t     *testing.T
	books map[int64]*book
	keys  int
}

func (h *history) start() {
	rush(h.t, h.w, 3)
	p, err := h.w.ProposePlan(h.t.Context(), boss)
	if err == nil {
		_, err = h.w.AdoptPlan(h.t.Context(), boss, p.Stamp)
	}
	if err != nil {
		h.t.Fatal(err)
	}
}

func (h *history) coils() []stock.Coil {
	list, err := h.w.Coils(h.t.Context())
	if err != nil {
		h.t.Fatal(err)
	}
	return list
}

func (h *history) step(r *rapid.T) {
	ctx := h.t.Context()
	coil := rapid.SampledFrom(h.coils()).Draw(r, "coil")
	b := h.books[coil.ID]
	length := measure.SixtyFourth * measure.Length(rapid.IntRange(0, 300*12*64).Draw(r, "length"))
	var err error
	switch rapid.SampledFrom([]string{"receive", "scrap", "floor scrap", "count", "return", "slit", "cut", "cut", "cut", "end", "allocate"}).Draw(r, "step") {
	case "receive":
		var c stock.Coil
		if c, err = h.w.ReceiveCoil(ctx, clerk, desk.Receipt{Strip: coil.Strip, Feet: length, Landed: usd(900_00)}); err == nil {
			h.books[c.ID] = &book{received: length, onHand: length}
		}
	case "scrap":
		if err = h.w.MoveCoil(ctx, boss, coil.ID, stock.MovedScrap, length, "dented"); err == nil {
			b.scrap, b.onHand = b.scrap+length, b.onHand-length
		}
	case "floor scrap":
		if err = h.w.Scrap(ctx, boss, coil.ID, min(length, coil.Free()), "lead-in"); err == nil {
			b.scrap, b.onHand = b.scrap+min(length, coil.Free()), b.onHand-min(length, coil.Free())
		}
	case "count":
		if err = h.w.MoveCoil(ctx, boss, coil.ID, stock.MovedAdjusted, length, "counted"); err == nil {
			b.adjusted, b.onHand = b.adjusted+length-coil.OnHand, length
		}
	case "return":
		if err = h.w.MoveCoil(ctx, boss, coil.ID, stock.MovedReturned, length, "wrong colour"); err == nil {
			b.returned, b.onHand = b.returned+length, b.onHand-length
		}
	case "slit":
		err = h.slit(r, coil, length)
	case "cut":
		err = h.cut(r)
	case "end":
		if err = h.w.EndCoil(ctx, boss, coil.ID); err == nil {
			b.adjusted, b.onHand = b.adjusted-coil.OnHand, 0
		}
	case "allocate":
		a, aerr := h.w.Allocate(ctx, boss)
		if err = aerr; err == nil {
			_, err = h.w.AdoptAllocation(ctx, boss, a.Stamp)
		}
	}
	if err != nil && !fault.Is(err, fault.Invalid) && !fault.Is(err, fault.Conflict) {
		r.Fatal(err)
	}
}

func (h *history) slit(r *rapid.T, coil stock.Coil, length measure.Length) error {
	n := rapid.IntRange(1, 4).Draw(r, "strips")
	made, err := h.w.SlitCoil(h.t.Context(), boss, coil.ID, desk.Slit{Feet: length, EdgeTrim: measure.Eighth, Strips: []desk.SlitStrip{{Width: (coil.Strip.Width - measure.Inch) / measure.Length(n), Count: n}}})
	if err != nil {
		return err
	}
	b := h.books[coil.ID]
	b.slit, b.onHand = b.slit+length, b.onHand-length
	for _, c := range made {
		h.books[c.ID] = &book{received: length, onHand: length}
	}
	return nil
}

// cut makes pieces of an open line from a coil of its strip.
func (h *history) cut(r *rapid.T) error {
	sheet, err := h.w.Sheet(h.t.Context(), boss, "FORMER")
	if err != nil || len(sheet.Runs) == 0 {
		return err
	}
	row := rapid.SampledFrom(rapid.SampledFrom(sheet.Runs).Draw(r, "run").Rows).Draw(r, "row")
	cut := rapid.SampledFrom(row.Cuts).Draw(r, "cut")
	var fit []stock.Coil
	for _, c := range h.coils() {
		if c.Strip == row.Line.Metal() {
			fit = append(fit, c)
		}
	}
	if len(fit) == 0 {
		return nil
	}
	coil := rapid.SampledFrom(fit).Draw(r, "from")
	n := rapid.IntRange(1, 3).Draw(r, "pieces")
	h.keys++
	key := "k" + string(rune('a'+h.keys%26)) + row.Number + string(rune('a'+h.keys/26))
	if _, err := h.w.RecordMade(h.t.Context(), boss, desk.Made{Key: key, LineID: row.Line.ID, CutID: cut.ID, CoilID: coil.ID, Pieces: n}); err != nil {
		return err
	}
	b := h.books[coil.ID]
	b.cut, b.onHand = b.cut+cut.Length.Times(n), b.onHand-cut.Length.Times(n)
	return nil
}

func (h *history) check(r *rapid.T) {
	err := h.w.store.Read(h.t.Context(), func(tx *store.Tx) error {
		all, err := tx.AllCoils()
		if err != nil {
			return err
		}
		for _, c := range all {
			moves, err := tx.Movements(c.ID)
			if err != nil {
				return err
			}
			h.checkCoil(r, c, moves)
		}
		return nil
	})
	if err != nil {
		r.Fatal(err)
	}
}

func (h *history) checkCoil(r *rapid.T, c stock.Coil, moves []stock.Movement) {
	sum := map[stock.Moved]measure.Length{}
	for _, m := range moves {
		sum[m.Kind] += m.Length
	}
	b := h.books[c.ID]
	if b == nil {
		r.Fatalf("coil %s came from nowhere", c.Tag)
	}
	got := book{sum[stock.MovedReceived], -sum[stock.MovedCut], -sum[stock.MovedScrap], -sum[stock.MovedSlit], -sum[stock.MovedReturned], sum[stock.MovedAdjusted], c.OnHand}
	if got != *b {
		r.Fatalf("coil %s: the ledger says %+v, the books %+v", c.Tag, got, *b)
	}
	if got.received != got.cut+got.scrap+got.slit+got.returned-got.adjusted+got.onHand {
		r.Fatalf("coil %s doesn't balance: %+v", c.Tag, got)
	}
	if c.OnHand < 0 || c.Spent != (c.OnHand == 0) {
		r.Fatalf("coil %s holds %s, spent %v", c.Tag, c.OnHand, c.Spent)
	}
}
