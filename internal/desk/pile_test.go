package desk_test

import (
	"fmt"
	"sync"
	"testing"

	"pgregory.net/rapid"

	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/order"
	"ribdesk/internal/stock"
)

// sheets takes in so many 48 in x 10 ft sheets of the metal of a trim line.
func (w *works) sheets(t testing.TB, l order.Line, n int) stock.Pile {
	t.Helper()
	strip := l.Metal()
	strip.Width = 48 * measure.Inch
	p, err := w.ReceiveSheets(t.Context(), clerk, desk.SheetReceipt{Strip: strip, Length: 10 * foot, Sheets: n, Lot: "P7", Landed: usd(int64(n) * 6_00)}) // cheaper than coil: it is taken first
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func (w *works) pile(t testing.TB, id int64) desk.PileCard {
	t.Helper()
	r, err := w.SheetRack(t.Context(), clerk)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range r.Piles {
		if p.ID == id {
			return p
		}
	}
	t.Fatalf("pile %d isn't on hand", id)
	return desk.PileCard{}
}

// A trim plan takes sheets, promises them whole, and what is cut of them goes
// off the pile and onto the order, on both databases; a second tap counts once.
func TestTrimFromSheets(t *testing.T) {
	onBoth(t, func(t *testing.T, w *works) {
		o := w.accept(t, w.quote(t, w.take(t, asked(ridge(14)))))
		prop := must[desk.Proposal](t)(w.ProposePlan(t.Context(), boss))
		must[desk.Proposal](t)(w.AdoptPlan(t.Context(), boss, prop.Stamp))
		pile := w.sheets(t, o.Lines[0], 9)
		plan := must[desk.TrimPlan](t)(w.TrimPlan(t.Context(), clerk))
		g := plan.Groups[0]
		if g.Sheets == 0 || g.Sheets > 9 {
			t.Fatalf("the plan takes %d sheets and %s of coil: %+v", g.Sheets, g.Feet, g.Takes)
		}
		must[desk.TrimPlan](t)(w.AdoptTrimPlan(t.Context(), clerk, plan.Stamp))
		card := w.pile(t, pile.ID)
		if card.Promised != g.Sheets || card.OnHand != 9 || len(card.Patterns) == 0 || card.Patterns[0].Orders[0] != o.Number {
			t.Fatalf("%+v", card)
		}
		for _, run := range must[desk.Sheet](t)(w.Sheet(t.Context(), worker, "FOLDER")).Runs {
			for _, row := range run.Rows {
				if row.Line.ID == o.Lines[0].ID && g.Feet == 0 && row.FromPile != 14 {
					t.Errorf("the operator's sheet shows %d of 14 pieces from sheets", row.FromPile)
				}
			}
		}
		short := must[[]desk.Shortage](t)(w.Shortages(t.Context(), clerk))
		if len(short) > 0 {
			t.Errorf("what sheets yield is to be bought: %+v", short)
		}
		if again := must[desk.TrimPlan](t)(w.TrimPlan(t.Context(), clerk)); again.Groups[0].Sheets != g.Sheets {
			t.Errorf("planned again it takes %d sheets, was %d", again.Groups[0].Sheets, g.Sheets)
		}
		if err := w.MoveSheets(t.Context(), clerk, pile.ID, stock.MovedReturned, 9-g.Sheets+1, "bent"); kindOf(err) != "conflict" {
			t.Errorf("sending promised sheets back gives %v", err)
		}
		if _, err := w.IssueTrimSheet(t.Context(), clerk, 0); err != nil {
			t.Error(err)
		}
		var all []int64
		for _, p := range card.Patterns {
			all = append(all, p.Sheets...)
		}
		if n, err := w.CutSheets(t.Context(), boss, all); err != nil || n != g.Sheets {
			t.Fatalf("%d sheets cut, %v", n, err)
		}
		if _, err := w.CutSheets(t.Context(), boss, all); kindOf(err) != "conflict" {
			t.Errorf("a second tap gives %v", err)
		}
		if _, err := w.CutSheets(t.Context(), clerk, all); kindOf(err) != "denied" {
			t.Errorf("the counter cuts: %v", err)
		}
		if card = w.pile(t, pile.ID); card.OnHand != 9-g.Sheets || card.Promised != 0 {
			t.Errorf("%d on hand, %d promised", card.OnHand, card.Promised)
		}
		if g.Feet == 0 {
			if o = w.order(t, o.ID); o.State != order.Cut {
				t.Errorf("all is cut and the order is %s", o.State)
			}
		}
		for name, c := range verified(t, w.Desk) {
			if len(c.Wrong) > 0 {
				t.Errorf("%s: %v", name, c.Wrong)
			}
		}
	})
}

// Sheets whose order goes are free again, and pieces made from a coil instead
// free the sheet they were meant from.
func TestSheetsComeFree(t *testing.T) {
	w := newWorks(t)
	o := w.accept(t, w.quote(t, w.take(t, asked(ridge(4)))))
	pile := w.sheets(t, o.Lines[0], 3)
	plan := must[desk.TrimPlan](t)(w.TrimPlan(t.Context(), clerk))
	must[desk.TrimPlan](t)(w.AdoptTrimPlan(t.Context(), clerk, plan.Stamp))
	if card := w.pile(t, pile.ID); card.Promised == 0 {
		t.Fatalf("%+v takes no sheet", plan.Groups[0].Takes)
	}
	if _, err := w.CancelOrder(t.Context(), boss, o.ID, o.Version, "changed their mind"); err != nil {
		t.Fatal(err)
	}
	if card := w.pile(t, pile.ID); card.Promised != 0 || card.Free() != 3 {
		t.Errorf("%d still promised", card.Promised)
	}
}

// A hundred ask for the sheets of one pile at once: never one too many, on both
// databases.
func TestSheetsUnderRush(t *testing.T) {
	onBoth(t, func(t *testing.T, w *works) {
		o := w.accept(t, w.quote(t, w.take(t, asked(ridge(14)))))
		pile := w.sheets(t, o.Lines[0], 20)
		var wg sync.WaitGroup
		for i := range 100 {
			wg.Go(func() {
				var err error
				if i%2 == 0 {
					err = w.MoveSheets(t.Context(), clerk, pile.ID, stock.MovedScrap, 1, fmt.Sprint("bent ", i))
				} else if plan, perr := w.TrimPlan(t.Context(), clerk); perr == nil && i%10 == 1 {
					_, err = w.AdoptTrimPlan(t.Context(), clerk, plan.Stamp)
				}
				if err != nil && !fault.Is(err, fault.Conflict) {
					t.Error(err)
				}
			})
		}
		wg.Wait()
		if c := verified(t, w.Desk)["sheet ledgers"]; len(c.Wrong) > 0 {
			t.Error(c.Wrong)
		}
	})
}

// Random histories of a pile balance in whole sheets.
func TestPileBalances(t *testing.T) {
	w := newWorks(t)
	o := w.accept(t, w.quote(t, w.take(t, asked(ridge(40)))))
	rounds := 0
	rapid.Check(t, func(r *rapid.T) {
		if rounds++; rounds > 25 {
			return
		}
		n := rapid.IntRange(1, 12).Draw(r, "sheets")
		pile := w.sheets(t, o.Lines[0], n)
		onHand := n
		for range rapid.IntRange(1, 8).Draw(r, "steps") {
			k := rapid.IntRange(0, 14).Draw(r, "n")
			kind := rapid.SampledFrom([]stock.Moved{stock.MovedScrap, stock.MovedReturned, stock.MovedAdjusted}).Draw(r, "kind")
			err := w.MoveSheets(t.Context(), clerk, pile.ID, kind, k, "so")
			switch {
			case err != nil && !fault.Is(err, fault.Conflict) && !fault.Is(err, fault.Invalid):
				r.Fatal(err)
			case err == nil && kind == stock.MovedAdjusted:
				onHand = k
			case err == nil:
				onHand -= k
			}
			if onHand < 0 {
				r.Fatalf("%d sheets left", onHand)
			}
			if onHand == 0 {
				break
			}
		}
		if onHand > 0 {
			if got := w.pile(t, pile.ID).OnHand; got != onHand {
				r.Fatalf("%d on hand, counted %d", got, onHand)
			}
			if err := w.MoveSheets(t.Context(), clerk, pile.ID, stock.MovedReturned, onHand, "back"); err != nil {
				r.Fatal(err)
			}
		}
	})
	if c := verified(t, w.Desk)["sheet ledgers"]; len(c.Wrong) > 0 || c.Count == 0 {
		t.Error(c)
	}
}
