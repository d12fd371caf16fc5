package desk_test

import (
	"encoding/json"
	"testing"
	"time"

	"ribdesk/internal/demo"
	"ribdesk/internal/desk"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/stock"
)

// What a desk remembers of the shop is what a desk that has just started reads,
// whatever was done in between.
func TestSnapshotStaysTrue(t *testing.T) {
	w := newWorks(t)
	ctx := t.Context()
	do := func(_ any, err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	try := func(err error) { t.Helper(); do(nil, err) }
	agrees := func(what string) {
		t.Helper()
		fresh, _ := w.another(t)
		if was, is := view(t, w.Desk), view(t, fresh); was != is {
			t.Fatalf("after %s the desk remembers\n%.2000s\nbut it is\n%.2000s", what, was, is)
		}
	}
	agrees("nothing")
	q := w.quote(t, w.take(t, asked(panels(20, 12), ridge(4))))
	agrees("a quote")
	o := w.accept(t, q)
	agrees("an acceptance")
	w.plan(t)
	agrees("a plan")
	places, err := w.OrderFile(ctx, boss, o.ID)
	try(err)
	try(w.PinRun(ctx, boss, places.Places[0].LineID, true))
	agrees("a pin")
	do(w.BlockTime(ctx, boss, stock.Block{Machine: "FORMER", From: w.Now().AddDate(0, 0, 3), To: w.Now().AddDate(0, 0, 4), Kind: stock.Down, Reason: "gearbox"}))
	agrees("a block")
	coil, err := w.ReceiveCoil(ctx, clerk, desk.Receipt{Strip: stock.Strip{Material: "AZ50", Gauge: "24 ga", Width: span20, Colour: "CHAR"}, Feet: 500 * foot, Landed: usd(500_00)})
	try(err)
	agrees("a coil")
	try(w.MountCoil(ctx, boss, coil.ID, "FORMER"))
	agrees("mounting")
	try(w.Scrap(ctx, boss, coil.ID, 3*foot, "lead-in"))
	agrees("scrap")
	sheet, err := w.Sheet(ctx, boss, "FORMER")
	try(err)
	row := sheet.Runs[0].Rows[0]
	do(w.RecordMade(ctx, boss, desk.Made{Key: "k", LineID: row.Line.ID, CutID: row.Cuts[0].ID, CoilID: row.Promises[0].CoilID, Pieces: 3}))
	agrees("pieces made")
	next := w.accept(t, w.quote(t, w.take(t, asked(panels(5, 9)))))
	do(w.CancelOrder(ctx, boss, next.ID, 0, "fell through"))
	agrees("a cancelled order")
	dear := demo.Rates(w.Now())
	dear.Bundle = money.Int(99)
	try(w.SetRates(ctx, boss, dear, w.Now(), "dearer packing"))
	agrees("new rates")
	white, err := desk.FromShelf[stock.Colour](ctx, w.Desk, "WHT")
	try(err)
	white.Retired = true
	do(desk.PutOnShelf(ctx, w.Desk, boss, white))
	agrees("a retired colour")
	seller, seen, err := w.Seller(ctx)
	try(err)
	seller.ReadyHours = 9
	try(w.SaveSeller(ctx, boss, seller, seen))
	agrees("other habits")
	w.pass(24 * time.Hour)
	agrees("a night")
}

// view is all that a desk answers from its memory of the shop, as text.
func view(t *testing.T, d *desk.Desk) string {
	t.Helper()
	ctx := t.Context()
	coils, err := d.Coils(ctx)
	if err != nil {
		t.Fatal(err)
	}
	plan, err := d.RunPlan(ctx, d.Now(), d.Now().AddDate(0, 0, 14))
	if err != nil {
		t.Fatal(err)
	}
	offers, err := d.Offering(ctx, clerk)
	if err != nil {
		t.Fatal(err)
	}
	rates, _, err := d.Rates(ctx)
	if err != nil {
		t.Fatal(err)
	}
	a, err := d.Ask(ctx, clerk, order.Order{Fulfil: order.PickUp, Lines: []order.Line{panels(10, 11), ridge(2), tubes(1)}})
	if err != nil {
		t.Fatal(err)
	}
	plan.Zone = nil // a pointer has no text of its own
	text, err := json.Marshal([]any{coils, plan, offers.Metals, offers.Seller, rates, a.Order, a.Cheapest, a.Earliest})
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}
