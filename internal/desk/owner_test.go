package desk_test

import (
	"testing"
	"time"

	"ribdesk/internal/books"
	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/figures"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
	"ribdesk/internal/store"
)

// One order cut, delivered, invoiced, credited and made again in part: what the
// owner's records say of it is summed once more, row by row, from the ledgers.
func TestOwnerRecords(t *testing.T) {
	onBoth(t, func(t *testing.T, w *works) {
		ctx := t.Context()
		o := w.hauled(t, "1 Mill Rd", 12, order.Haul, panels(20, 12), tubes(3))
		lost := w.quote(t, w.take(t, asked(panels(5, 10))))
		get(w.DeclineOrder(ctx, clerk, lost.Order.ID, 0, order.TooLate.Words()))(t)
		again := w.quote(t, w.take(t, asked(panels(5, 9))))
		get(w.DeclineOrder(ctx, clerk, again.Order.ID, 0, "no idea"))(t)
		get(w.ReopenOrder(ctx, clerk, again.Order.ID, 0))(t)
		w.cutAll(t)
		moved := w.order(t, o.ID).Promise
		get(w.MovePromise(ctx, boss, o.ID, 0, moved.AddDate(0, 0, 9), "the truck is away"))(t)
		trip := w.leave(t, w.build(t, []int64{o.ID}))
		w.deliver(t, trip.Stops[0], order.Exception{Kind: "damaged", Pieces: 2, BundleID: w.file(t, o).Bundles[0].ID})
		stop := w.file(t, o).Stops[0]
		follow := get(w.Decide(ctx, clerk, stop.ID, 0, order.Remake))(t)
		w.cutAll(t)
		bill := w.invoice(t, o.ID)
		memo := get(w.CreditMemo(ctx, keeper, desk.MemoAsk{InvoiceID: bill.ID, Reason: "late", Lines: []books.MemoLine{{ID: bill.Invoice.Lines[0].ID, Amount: cash(500)}}}))(t)

		if _, err := w.OwnerRecords(ctx, clerk); !fault.Is(err, fault.Denied) {
			t.Fatalf("the counter sees what things cost: %v", err)
		}
		if _, err := w.Morning(ctx, keeper); !fault.Is(err, fault.Denied) {
			t.Fatalf("the bookkeeper sees the owner's morning: %v", err)
		}
		r := get(w.OwnerRecords(ctx, boss))(t)
		p := figures.PeriodOf(figures.Start, r.First, r.Now, r.Zone)
		orders := r.Earned(p)
		if len(orders) != 1 || orders[0].OrderID != o.ID {
			t.Fatalf("invoiced orders: %+v", orders)
		}
		w.checkEarned(t, orders[0], bill.Invoice, memo.Memo, o, follow)
		if n := len(r.WorkIn(p)); n != 2 || r.WorkIn(p)[1].For != o.ID {
			t.Errorf("%d lines made, %+v", n, r.Work)
		}
		answers := r.AnswersIn(p)
		if len(answers) != 2 || answers[0].Outcome != figures.Won || answers[1].Outcome != figures.Lost || answers[1].Why != order.TooLate {
			t.Errorf("answers: %+v", answers)
		}
		handed := r.HandedIn(p)
		if len(handed) != 1 || !handed[0].Promised.Equal(moved) || handed[0].Moved.IsZero() || handed[0].PickUp {
			t.Errorf("hand-overs: %+v", handed)
		}
		// The same records again, until something is written.
		w.pass(time.Minute)
		if later := get(w.OwnerRecords(ctx, boss))(t); !later.Now.After(r.Now) || len(later.Work) != len(r.Work) {
			t.Errorf("read again: %s, %d lines", later.Now, len(later.Work))
		}
		w.deliveredMore(t, r)
	})
}

// checkEarned sums an order's figures from the movements, the stored price and
// the invoice.
func (w *works) checkEarned(t *testing.T, e figures.Earned, inv books.Invoice, memo books.Memo, parts ...order.Order) {
	t.Helper()
	net := inv.Subtotal.Sub(memo.Subtotal)
	for _, a := range inv.Adjustments {
		if a.Account == books.Delivery {
			net = net.Sub(a.Amount)
		}
	}
	var metal money.Rate
	minutes, lines := 0, map[int64]bool{}
	for _, o := range parts {
		o = w.order(t, o.ID)
		for _, l := range o.Lines {
			lines[l.ID] = true
			if l.Kind != order.Accessory {
				minutes += l.Minutes
			}
		}
		for _, p := range w.file(t, o).Places {
			minutes += p.ChangeMinutes
		}
	}
	err := w.store.Read(t.Context(), func(tx *store.Tx) error {
		moves, err := tx.AllMovements()
		for _, m := range moves {
			if lines[m.LineID] && m.LineID != 0 && m.Kind != stock.MovedReceived {
				c, err := tx.Coil(m.CoilID)
				if err != nil {
					return err
				}
				metal = metal.Add(c.Landed.Rate().Mul(money.FromRat((-m.Length).Ratio(c.Original))))
			}
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	cost, err := metal.Round(money.USD)
	if err != nil {
		t.Fatal(err)
	}
	in, _, err := desk.ReplayPrice(w.order(t, parts[0].ID))
	if err != nil {
		t.Fatal(err)
	}
	var goods money.Rate
	for _, it := range in.Order.Items {
		if it.Bought != nil {
			goods = goods.Add(it.Bought.Each.Mul(money.Int(int64(it.Bought.Pieces))))
		}
	}
	if e.Net.Cmp(net) != 0 || e.Metal.Cmp(cost) != 0 || e.Worked() != minutes || e.Goods.Rate().Cmp(goods) != 0 || e.Metal.IsZero() || e.Goods.IsZero() || e.Running.IsZero() || minutes == 0 {
		t.Errorf("net %s, metal %s, accessories %s, running %s, %d minutes; by the ledgers %s, %s, %s, %d minutes", e.Net, e.Metal, e.Goods, e.Running, e.Worked(), net, cost, goods, minutes)
	}
	if sum := e.Metal.Add(e.Goods).Add(e.Packing).Add(e.Running).Add(e.Left); sum.Cmp(net) != 0 {
		t.Errorf("costs and contribution are %s of %s", sum, net)
	}
}

// deliveredMore writes one order more: the records must have it.
func (w *works) deliveredMore(t *testing.T, before figures.Records) {
	t.Helper()
	o := w.delivered(t, rivalFirm, 7)
	w.invoice(t, o.ID)
	after := get(w.OwnerRecords(t.Context(), boss))(t)
	if len(after.Jobs) != len(before.Jobs)+1 {
		t.Errorf("%d orders invoiced after %d", len(after.Jobs), len(before.Jobs))
	}
	last := after.Handed[len(after.Handed)-1]
	if last.OrderID != o.ID || !last.PickUp {
		t.Errorf("handed over last: %+v", last)
	}
}

// Each kind of thing that waits for the owner is found, and is gone when it is
// seen to.
func TestMorning(t *testing.T) {
	w := newWorks(t)
	ctx := t.Context()
	morning := func() desk.Morning { t.Helper(); return get(w.Morning(ctx, boss))(t) }
	asked := func() order.Order { return get(w.TakeOrder(ctx, buyer, asked(panels(4, 10))))(t) }
	if m := morning(); len(m.Asks)+len(m.Messages)+len(m.Broken)+len(m.Undecided)+len(m.Unplanned)+len(m.Overdue)+len(m.ToInvoice) != 0 {
		t.Fatalf("a new shop has something to see to: %+v", m)
	}
	ask := asked()
	w.take(t, order.Order{CustomerID: tradeFirm, Fulfil: order.PickUp, Lines: []order.Line{panels(3, 10)}}) // the shop's own draft
	write := func(actor party.Actor, words string) {
		t.Helper()
		if err := w.WriteMessage(ctx, actor, ask.ID, words); err != nil {
			t.Fatal(err)
		}
	}
	write(buyer, "When can you?")
	if m := morning(); len(m.Asks) != 1 || m.Asks[0].ID != ask.ID || len(m.Messages) != 1 {
		t.Fatalf("asked from outside: %+v, messages %+v", m.Asks, m.Messages)
	}
	write(clerk, "On Friday.")
	o := w.accept(t, w.quote(t, ask))
	if m := morning(); len(m.Asks) != 0 || len(m.Messages) != 0 || len(m.Unplanned) != 1 {
		t.Fatalf("accepted: %+v", m)
	}
	w.plan(t)
	w.pass(30 * 24 * time.Hour)
	if m := morning(); len(m.Unplanned) != 0 || len(m.Broken) != 1 || !m.Broken[0].Past || m.Broken[0].ID != o.ID {
		t.Fatalf("past its promise: %+v", m.Broken)
	}
	shelf := w.delivered(t, rivalFirm, 4, order.Exception{Kind: "short", Pieces: 1})
	m := morning()
	if len(m.Undecided) != 1 || m.Undecided[0].ID != shelf.ID {
		t.Fatalf("undecided: %+v", m.Undecided)
	}
	stop := w.file(t, shelf).Stops[0]
	get(w.Decide(ctx, clerk, stop.ID, 0, order.Credit))(t)
	if m = morning(); len(m.Undecided) != 0 || len(m.ToInvoice) != 1 {
		t.Fatalf("to invoice: %+v", m.ToInvoice)
	}
	w.invoice(t, shelf.ID)
	w.pass(60 * 24 * time.Hour)
	if m = morning(); len(m.ToInvoice) != 0 || len(m.Overdue) != 1 || m.Overdue[0].DaysLate == 0 {
		t.Fatalf("overdue: %+v", m.Overdue)
	}
}
