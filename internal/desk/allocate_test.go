package desk_test

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"sync"
	"testing"

	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/nest"
	"ribdesk/internal/order"
	"ribdesk/internal/stock"
	"ribdesk/internal/store"
	"ribdesk/internal/store/storetest"
)

// rush accepts so many orders of panels in white and charcoal, no two alike.
func rush(t testing.TB, w *works, n int) (out []order.Order) {
	t.Helper()
	dice := rand.New(rand.NewPCG(5, uint64(n)))
	for range n {
		l := with(panels(4+dice.IntN(20), 8+dice.IntN(20)), func(l *order.Line) {
			l.Cuts[0].Length += measure.Eighth * measure.Length(dice.IntN(96))
			l.Cuts = append(l.Cuts, order.CutItem{Qty: 1 + dice.IntN(6), Length: measure.Inch * measure.Length(110+dice.IntN(200)) / 3})
			if dice.IntN(2) == 0 {
				l.Colour = "WHT"
			}
		})
		out = append(out, w.accept(t, w.quote(t, w.take(t, asked(l)))))
	}
	return out
}

// What is adopted covers each piece once, holds no coil to more than it has, and
// is the plan that the independent checker prices the same.
func TestAllocate(t *testing.T) {
	w := newWorks(t)
	orders := rush(t, w, 14)
	a, err := w.Allocate(t.Context(), clerk)
	if err != nil {
		t.Fatal(err)
	}
	if len(a.Groups) != 2 {
		t.Fatalf("%d groups, want white and charcoal", len(a.Groups))
	}
	for _, g := range a.Groups {
		cost, err := nest.CheckCoils(&g.Problem, g.Result.Cuts)
		if err != nil || cost != g.Result.Cost {
			t.Errorf("%s: the checker says %d, %v; the plan %d", g.Name, cost, err, g.Result.Cost)
		}
		if g.Result.Bound > g.Result.Cost {
			t.Errorf("%s: bound %d above cost %d", g.Name, g.Result.Bound, g.Result.Cost)
		}
	}
	if a.After.Short > a.Before.Short {
		t.Errorf("short of %s, was %s", a.After.Short, a.Before.Short)
	}
	if _, err := w.AdoptAllocation(t.Context(), clerk, a.Stamp-1); kindOf(err) != "conflict" {
		t.Errorf("an old stamp gives %v", err)
	}
	if _, err := w.AdoptAllocation(t.Context(), clerk, a.Stamp); err != nil {
		t.Fatal(err)
	}
	w.wantSound(t)
	left := map[int64]int{}
	for _, o := range orders {
		for _, l := range o.Lines {
			for _, c := range l.Cuts {
				left[c.ID] = c.Qty
			}
		}
	}
	for _, r := range w.everyPromise(t) {
		for _, c := range r.Cuts {
			left[c.CutID] -= c.Qty
		}
	}
	for id, n := range left {
		if n < 0 {
			t.Errorf("row %d is promised %d pieces too many", id, -n)
		}
	}
	again, err := w.Allocate(t.Context(), clerk)
	if err != nil {
		t.Fatal(err)
	}
	for _, g := range again.Groups {
		if len(g.Moves) > 0 {
			t.Errorf("%s: the plan just adopted moves again: %v", g.Name, g.Moves)
		}
	}
	if _, err := w.Allocate(t.Context(), buyer); kindOf(err) != "denied" {
		t.Errorf("a buyer gets %v", err)
	}
}

// Lines that are partly cut are allocated for what is left, and metal scrapped
// in threading is taken from what was kept for it.
func TestAllocatePartlyCut(t *testing.T) {
	w := newWorks(t)
	o := rush(t, w, 1)[0]
	propose, err := w.ProposePlan(t.Context(), boss)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := w.AdoptPlan(t.Context(), boss, propose.Stamp); err != nil {
		t.Fatal(err)
	}
	a, err := w.Allocate(t.Context(), boss)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := w.AdoptAllocation(t.Context(), boss, a.Stamp); err != nil {
		t.Fatal(err)
	}
	use := a.Groups[0].Result.Coils[0]
	coil := w.coilTagged(t, use.Coil.ID)
	if err := w.Scrap(t.Context(), boss, coil.ID, measure.Foot, "lead-in"); err != nil {
		t.Fatal(err)
	}
	if after := w.coilTagged(t, use.Coil.ID); after.OnHand-after.Promised != coil.OnHand-coil.Promised {
		t.Errorf("scrap in threading took %s of what is free", coil.Free()-after.Free())
	}
	l := o.Lines[0]
	if _, err := w.RecordMade(t.Context(), boss, desk.Made{Key: "one", LineID: l.ID, CutID: l.Cuts[0].ID, CoilID: coil.ID, Pieces: 2}); err != nil {
		t.Fatal(err)
	}
	b, err := w.Allocate(t.Context(), boss)
	if err != nil {
		t.Fatal(err)
	}
	if got, want := b.Groups[0].Problem.Lines[0].Qty, int64(l.Cuts[0].Qty-2); got != want {
		t.Errorf("%d pieces left to allocate, want %d", got, want)
	}
	if _, err := w.AdoptAllocation(t.Context(), boss, b.Stamp); err != nil {
		t.Fatal(err)
	}
	w.wantSound(t)
}

// What is short comes to feet with threading and tail, rounded up to coils, and
// prints.
func TestShortages(t *testing.T) {
	w := newWorks(t)
	w.accept(t, w.quote(t, w.take(t, asked(with(panels(200, 20), func(l *order.Line) { l.Colour = "GRN" })))))
	short, err := w.Shortages(t.Context(), clerk)
	if err != nil {
		t.Fatal(err)
	}
	if len(short) != 1 {
		t.Fatalf("%d shortages, want one", len(short))
	}
	s := short[0]
	var have measure.Length
	for _, r := range w.everyPromise(t) {
		have += r.Length
	}
	if want := 4000*foot - have; s.Short != want {
		t.Errorf("short of %s, want %s", s.Short, want)
	}
	if s.Coils < 1 || s.Feet < s.Short+s.Lead || s.Pounds < 1 || s.Supply.LeadDays == 0 || s.Estimate.Sign() <= 0 {
		t.Errorf("%+v", s)
	}
	p, err := w.IssuePurchaseList(t.Context(), clerk, s.Supply.Supplier)
	if err != nil || len(p.PDF) == 0 || !strings.HasPrefix(p.Number, "PL") {
		t.Errorf("paper %q, %v", p.Number, err)
	}
	if _, err := w.IssuePurchaseList(t.Context(), clerk, "nobody"); kindOf(err) != "conflict" {
		t.Errorf("a list of nobody's gives %v", err)
	}
}

// Allocating again while orders are accepted never promises a foot twice: one
// of the two loses, or both fit.
func TestAllocateUnderRush(t *testing.T) {
	w := newWorks(t)
	rush(t, w, 6)
	quotes := make([]desk.Quoted, 20)
	for i := range quotes {
		quotes[i] = w.quote(t, w.take(t, asked(panels(10+i%5, 16))))
	}
	other, _ := w.another(t)
	var wg sync.WaitGroup
	for _, q := range quotes {
		wg.Go(func() {
			if _, err := w.AcceptByLink(t.Context(), q.Token, yes); err != nil {
				t.Error(err)
			}
		})
	}
	for range 4 {
		wg.Go(func() {
			a, err := other.Allocate(t.Context(), boss)
			if err == nil {
				_, err = other.AdoptAllocation(t.Context(), boss, a.Stamp)
			}
			if err != nil && !fault.Is(err, fault.Conflict) {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	w.wantSound(t)
}

// A hundred ask for the same coil at once: it is promised as often as it holds,
// and never once more.
func TestReservationsUnderRush(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		const each, room, crowd = 12 * measure.Foot, 1000 * measure.Foot, 100
		var coil stock.Coil
		var lines []int64
		err := s.Write(t.Context(), func(tx *store.Tx) (err error) {
			coil, err = tx.AddCoil(boss, stock.Coil{Metal: stock.Metal{Tag: "C1", Strip: stock.Strip{Material: "M", Gauge: "24 ga", Width: span20, Colour: "W"}, Landed: money.Cents(0, money.USD)}, Thickness: measure.Mil, Original: room})
			if err != nil {
				return err
			}
			if _, err := tx.AddMovement(boss, stock.Movement{CoilID: coil.ID, Kind: stock.MovedReceived, Length: room, Reason: "as received"}); err != nil {
				return err
			}
			for i := range crowd {
				o, err := tx.AddOrder(boss, order.Order{Number: fmt.Sprint(i), State: order.Accepted, Lines: []order.Line{{Pos: 1, Kind: order.Formed, Code: "X"}}})
				if err != nil {
					return err
				}
				lines = append(lines, o.Lines[0].ID)
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
		var wg sync.WaitGroup
		var mu sync.Mutex
		granted := 0
		for _, id := range lines {
			wg.Go(func() {
				err := s.Write(t.Context(), func(tx *store.Tx) error {
					if err := tx.Reserve(order.Reservation{CoilID: coil.ID, LineID: id, Length: each, Cuts: []order.CutShare{{CutID: 1, Qty: 1, Length: each}}}); err != nil {
						return err
					}
					return tx.Log(boss, "promised coil", "coil", coil.ID, nil)
				})
				switch {
				case err == nil:
					mu.Lock()
					granted++
					mu.Unlock()
				case !fault.Is(err, fault.Conflict):
					t.Error(err)
				}
			})
		}
		wg.Wait()
		if want := int(room / each); granted != want {
			t.Errorf("%d promises were given, the coil holds %d", granted, want)
		}
		err = s.Read(t.Context(), func(tx *store.Tx) error {
			coil, err = tx.Coil(coil.ID)
			return err
		})
		if err != nil || coil.Free() < 0 || coil.Promised != each.Times(granted) {
			t.Errorf("%s promised of %s, %v", coil.Promised, coil.OnHand, err)
		}
	})
}

// wantSound holds the whole rack to its promises.
func (w *works) wantSound(t testing.TB) {
	t.Helper()
	coils, err := w.Coils(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range coils {
		if c.Free() < 0 {
			t.Errorf("coil %s: %s promised of %s", c.Tag, c.Promised, c.OnHand)
		}
	}
}

func (w *works) everyPromise(t testing.TB) (out []order.Reservation) {
	t.Helper()
	coils, err := w.Coils(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range coils {
		card, err := w.CoilCard(t.Context(), c.ID)
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range card.Promises {
			out = append(out, p.Reservation)
		}
	}
	return out
}

func (w *works) coilTagged(t testing.TB, tag string) stock.Coil {
	t.Helper()
	coils, err := w.Coils(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range coils {
		if c.Tag == tag {
			return c
		}
	}
	t.Fatalf("there is no coil %s", tag)
	return stock.Coil{}
}
