package desk_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"sync"
	"testing"
	"time"

	"ribdesk/internal/demo"
	"ribdesk/internal/desk"
	"ribdesk/internal/document"
	"ribdesk/internal/fault"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/price"
	"ribdesk/internal/stock"
	"ribdesk/internal/store"
)

// An order from ask to acceptance, with what is kept as evidence.
func TestQuoteAndAccept(t *testing.T) {
	w := newWorks(t)
	o := w.take(t, asked(panels(20, 12), ridge(4), tubes(6)))
	if o.State != order.Draft || o.Number == "" || o.Revision != 1 {
		t.Fatalf("taken as %+v", o)
	}
	q := w.quote(t, o)
	if q.Order.State != order.Quoted || q.Paper.Kind != string(document.KindQuote) || q.Paper.Number != o.Number {
		t.Fatalf("quoted as %s with %s %s", q.Order.State, q.Paper.Kind, q.Paper.Number)
	}
	if want := time.Date(2026, 3, 12, 0, 0, 0, 0, time.UTC); !q.Order.ValidTo.Equal(want) {
		t.Errorf("open until %v, want %v", q.Order.ValidTo, want)
	}
	link, err := w.OpenLink(t.Context(), q.Token)
	if err != nil || link.Order.ID != o.ID {
		t.Fatalf("the link opens %d, %v", link.Order.ID, err)
	}
	w.pass(time.Hour)
	done, err := w.AcceptByLink(t.Context(), q.Token, desk.Yes{Name: "Wren Sparrow", Consent: true, Origin: "192.0.2.9"})
	if err != nil {
		t.Fatal(err)
	}
	a := done.Accepted
	if done.State != order.Accepted || a == nil || a.Hash != q.Paper.SHA256 || a.PaperID != q.Paper.ID || a.Method != "private link" ||
		a.Origin != "192.0.2.9" || !a.At.Equal(w.Now().UTC()) || a.Consent != desk.ConsentText {
		t.Errorf("acceptance %+v", a)
	}
	if _, err := w.AcceptByLink(t.Context(), q.Token, yes); !fault.Is(err, fault.Conflict) {
		t.Errorf("accepted twice: %v", err)
	}
	f, err := w.OrderFile(t.Context(), boss, o.ID)
	if err != nil || len(f.Papers) != 2 || f.Quote == nil || f.Quote.Alone.Total.Cmp(done.Alone.Total) != 0 {
		t.Errorf("file with %d papers, %v", len(f.Papers), err)
	}
	var actions []string
	for _, e := range f.Events {
		actions = append(actions, e.Action)
	}
	for _, want := range []string{"asked", "quoted", "accepted", "promised coil"} {
		found := false
		for _, a := range actions {
			found = found || a == want
		}
		if !found {
			t.Errorf("the log doesn't hold %q: %v", want, actions)
		}
	}
}

func TestYesIsAPersons(t *testing.T) {
	w := newWorks(t)
	q := w.quote(t, w.take(t, asked(tubes(20))))
	_, err := w.AcceptByLink(t.Context(), q.Token, desk.Yes{Consent: true})
	wantFault(t, err, fault.Invalid, "name")
	_, err = w.AcceptByLink(t.Context(), q.Token, desk.Yes{Name: "Wren"})
	wantFault(t, err, fault.Invalid, "consent")
	_, err = w.AcceptByLink(t.Context(), q.Token, desk.Yes{Name: "Wren", Consent: true, Sharing: true})
	wantFault(t, err, fault.Invalid, "sharing")
	_, err = w.AcceptByLink(t.Context(), "no such token", yes)
	wantFault(t, err, fault.NotFound, "")
}

func TestOtherEnds(t *testing.T) {
	w := newWorks(t)
	ctx := t.Context()

	q := w.quote(t, w.take(t, asked(panels(5, 10))))
	_, err := w.DeclineOrder(ctx, clerk, q.Order.ID, 0, "")
	wantFault(t, err, fault.Invalid, "reason")
	o, err := w.DeclineByLink(ctx, q.Token, "found it cheaper")
	if err != nil || o.State != order.Declined || o.Reason != "found it cheaper" {
		t.Fatalf("declined as %s, %v", o.State, err)
	}
	if o, err = w.ReopenOrder(ctx, clerk, o.ID, o.Version); err != nil || o.State != order.Draft || o.Revision != 2 {
		t.Fatalf("opened again as %s revision %d, %v", o.State, o.Revision, err)
	}
	o.Lines[0].Cuts[0].Qty = 7
	if o, err = w.ChangeOrder(ctx, clerk, o); err != nil || w.order(t, o.ID).Lines[0].Pieces() != 7 {
		t.Fatalf("changed: %v", err)
	}
	second := w.quote(t, o)
	if second.Paper.Revision != 2 || second.Token == q.Token {
		t.Errorf("the second quote is revision %d", second.Paper.Revision)
	}
	if _, err := w.OpenLink(ctx, q.Token); !fault.Is(err, fault.NotFound) {
		t.Errorf("the first link still opens: %v", err)
	}
	done := w.accept(t, second)
	if done.Accepted.Hash != second.Paper.SHA256 {
		t.Error("another quote was accepted than the last")
	}
	_, err = w.CancelOrder(ctx, clerk, done.ID, 0, "")
	wantFault(t, err, fault.Invalid, "reason")
	if o, err = w.CancelOrder(ctx, clerk, done.ID, 0, "fell through"); err != nil || o.State != order.Cancelled {
		t.Fatalf("cancelled as %s, %v", o.State, err)
	}
	if n := w.promised(t); n != 0 {
		t.Errorf("%s of coil is still promised", n)
	}
	_, err = w.ReopenOrder(ctx, clerk, o.ID, 0)
	wantFault(t, err, fault.Conflict, "")

	silent := w.quote(t, w.take(t, asked(panels(5, 10))))
	w.pass(10 * 24 * time.Hour) // its last day
	if n, err := w.LapseQuotes(ctx); n != 0 || err != nil {
		t.Fatalf("%d lapsed on the last day, %v", n, err)
	}
	w.pass(24 * time.Hour)
	_, err = w.AcceptByLink(ctx, silent.Token, yes)
	wantFault(t, err, fault.Conflict, "")
	if n, err := w.LapseQuotes(ctx); n != 1 || err != nil || w.order(t, silent.Order.ID).State != order.Lapsed {
		t.Fatalf("%d lapsed, %v", n, err)
	}
}

func (w *works) promised(t testing.TB) (sum measureLength) {
	t.Helper()
	coils, err := w.Coils(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range coils {
		sum += c.Promised
	}
	return sum
}

// Two people can't overwrite each other: the second is told, and nothing is lost.
func TestTwoPeople(t *testing.T) {
	w := newWorks(t)
	ctx := t.Context()
	first := w.take(t, asked(panels(5, 10)))
	second := w.order(t, first.ID)
	first.Job = "first"
	if _, err := w.ChangeOrder(ctx, clerk, first); err != nil {
		t.Fatal(err)
	}
	second.Job = "second"
	_, err := w.ChangeOrder(ctx, boss, second)
	wantFault(t, err, fault.Conflict, "")
	_, err = w.QuoteOrder(ctx, boss, second.ID, second.Version, nil)
	wantFault(t, err, fault.Conflict, "")
	if o := w.order(t, first.ID); o.Job != "first" || o.State != order.Draft {
		t.Errorf("kept as %q, %s", o.Job, o.State)
	}
	q := w.quote(t, w.order(t, first.ID))
	var wg sync.WaitGroup
	errs := make([]error, 2)
	for i := range errs {
		wg.Go(func() { _, errs[i] = w.AcceptOrder(ctx, clerk, q.Order.ID, q.Order.Version, yes) })
	}
	wg.Wait()
	if (errs[0] == nil) == (errs[1] == nil) {
		t.Errorf("two at once: %v and %v", errs[0], errs[1])
	}
}

// A price that was given stands when what things cost changes; a new ask pays
// the new price.
func TestGivenPricesStand(t *testing.T) {
	w := newWorks(t)
	ctx := t.Context()
	quoted := w.quote(t, w.take(t, asked(panels(20, 12), ridge(4))))
	accepted := w.accept(t, w.quote(t, w.take(t, asked(panels(20, 12), ridge(4)))))

	dear := demo.Rates(w.Now())
	for i := range dear.Centers {
		dear.Centers[i].Overhead = dear.Centers[i].Overhead.Add(money.Int(100))
	}
	if err := w.SetRates(ctx, boss, dear, w.Now(), "dearer"); err != nil {
		t.Fatal(err)
	}
	supply, err := desk.FromShelf[stock.Supply](ctx, w.Desk, "AZ50-24-20-CHAR")
	if err != nil {
		t.Fatal(err)
	}
	supply.Item.PerPound = money.Must("2.50")
	if _, err := desk.PutOnShelf(ctx, w.Desk, boss, supply); err != nil {
		t.Fatal(err)
	}
	again, err := w.Ask(ctx, clerk, asked(panels(20, 12), ridge(4)))
	if err != nil || !accepted.Alone.Total.Less(again.Order.Alone.Total) {
		t.Fatalf("asked again: %s after %s, %v", again.Order.Alone.Total, accepted.Alone.Total, err)
	}
	stands := w.accept(t, quoted)
	for _, o := range []order.Order{stands, w.order(t, accepted.ID)} {
		_, replayed, err := desk.ReplayPrice(o)
		if err != nil || o.Alone != quoted.Order.Alone || replayed.Alone.Total.Cmp(quoted.Order.Alone.Total) != 0 {
			t.Errorf("order %s went from %s to %s, replayed %s (%v)", o.Number, quoted.Order.Alone.Total, o.Alone.Total, replayed.Alone.Total, err)
		}
	}
}

// A price below the floor goes out with the owner's reason only.
func TestOnlyTheOwnerGoesBelow(t *testing.T) {
	w := newWorks(t)
	o := w.take(t, asked(panels(5, 10)))
	_, err := w.QuoteOrder(t.Context(), clerk, o.ID, 0, &price.Override{By: "Counter", Reason: "nice people"})
	wantFault(t, err, fault.Denied, "")
	for _, role := range []party.Role{party.Operator, party.Driver, party.Bookkeeper, party.Visitor} {
		_, err := w.QuoteOrder(t.Context(), party.Actor{Role: role}, o.ID, 0, nil)
		wantFault(t, err, fault.Denied, "")
	}
}

// Customers see their own things alone; others' aren't there.
func TestCustomersSeeTheirOwn(t *testing.T) {
	w := newWorks(t)
	ctx := t.Context()
	q := w.quote(t, w.take(t, asked(panels(5, 10))))
	for name, actor := range map[string]party.Actor{"the rival": rival, "a visitor": visitor, "a customer of nobody": {Role: party.Buyer}} {
		_, fileErr := w.OrderFile(ctx, actor, q.Order.ID)
		_, paperErr := w.Paper(ctx, actor, q.Paper.ID)
		for what, err := range map[string]error{"the order": fileErr, "its paper": paperErr} {
			if !fault.Is(err, fault.NotFound) {
				t.Errorf("%s asked for %s: %s", name, what, kindOf(err))
			}
		}
		_, acceptErr := w.AcceptOrder(ctx, actor, q.Order.ID, 0, yes)
		_, declineErr := w.DeclineOrder(ctx, actor, q.Order.ID, 0, "mine now")
		_, changeErr := w.ChangeOrder(ctx, actor, q.Order)
		for what, err := range map[string]error{"accept": acceptErr, "decline": declineErr, "change": changeErr} {
			if !fault.Is(err, fault.NotFound) && !fault.Is(err, fault.Denied) {
				t.Errorf("%s could %s it: %v", name, what, err)
			}
		}
		list, err := w.Orders(ctx, actor, store.OrderFilter{})
		if len(list) > 0 {
			t.Errorf("%s lists %d orders, %v", name, len(list), err)
		}
	}
	list, err := w.Orders(ctx, buyer, store.OrderFilter{CustomerID: rivalFirm})
	if err != nil || len(list) != 1 || list[0].ID != q.Order.ID {
		t.Errorf("the buyer lists %d orders, %v", len(list), err)
	}
	f, err := w.OrderFile(ctx, buyer, q.Order.ID)
	if err != nil || f.Quote != nil {
		t.Errorf("the buyer sees the build-up: %v, %v", f.Quote != nil, err)
	}
	if _, err := w.Paper(ctx, buyer, q.Paper.ID); err != nil {
		t.Errorf("their own quote: %v", err)
	}
}

func TestHeldCustomersDontOrder(t *testing.T) {
	w := newWorks(t)
	_, err := w.TakeOrder(t.Context(), clerk, func() order.Order { o := asked(tubes(20)); o.CustomerID = 14; return o }())
	wantFault(t, err, fault.Conflict, "")
}

// Fifty accepted at once promise no foot of coil twice.
func TestPromisesUnderRush(t *testing.T) {
	w := newWorks(t)
	const crowd = 50
	quotes := make([]desk.Quoted, crowd)
	for i := range quotes {
		quotes[i] = w.quote(t, w.take(t, asked(panels(10+i%4, 14))))
	}
	var wg sync.WaitGroup
	for _, q := range quotes {
		wg.Go(func() {
			if _, err := w.AcceptByLink(t.Context(), q.Token, yes); err != nil {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	coils, err := w.Coils(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	var free, promised measureLength
	for _, c := range coils {
		if c.Free() < 0 {
			t.Errorf("coil %s: %s promised of %s", c.Tag, c.Promised, c.OnHand)
		}
		if c.Strip.Colour == "CHAR" && c.Strip.Width == span20 {
			free += c.Free()
			promised += c.Promised
		}
	}
	var want measureLength
	for _, q := range quotes {
		want += q.Order.Feet()
	}
	if promised == 0 || promised > want || promised < want && free > 14*foot*crowd {
		t.Errorf("%s promised of %s asked, %s left free", promised, want, free)
	}
}

// A coil that comes in is promised to those who wait for it.
func TestNewCoilServesTheWaiting(t *testing.T) {
	w := newWorks(t)
	line := with(panels(40, 20), func(l *order.Line) { l.Colour = "GRN" })
	var waiting []order.Order
	for range 4 {
		waiting = append(waiting, w.accept(t, w.quote(t, w.take(t, asked(line)))))
	}
	short := func() (n measureLength) {
		for _, o := range waiting {
			n += o.Feet()
		}
		return n - w.promised(t)
	}
	before := short()
	if before <= 0 {
		t.Fatal("the rack holds all that was asked; the test needs more")
	}
	_, err := w.ReceiveCoil(t.Context(), clerk, desk.Receipt{Strip: stock.Strip{Material: "AZ50", Gauge: "24", Width: span20, Colour: "GRN"}, Feet: 5000 * foot, Landed: usd(100_00)})
	if err != nil {
		t.Fatal(err)
	}
	if after := short(); after != 0 {
		t.Errorf("%s were missing, %s still are", before, after)
	}
}

// Every paper prints again from its record to the same bytes.
func TestPapersPrintAgain(t *testing.T) {
	w := newWorks(t)
	o := asked(panels(20, 12), ridge(4), tubes(6))
	o.Fulfil, o.MilesTenths, o.ShipTo = order.Haul, 145, party.Address{Street: "88 Millpond Rd", City: "Lower Seam", State: "ZE", Country: "US"}
	done := w.accept(t, w.quote(t, w.take(t, o)))
	f, err := w.OrderFile(t.Context(), boss, done.ID)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range f.Papers {
		p, err := w.Paper(t.Context(), boss, p.ID)
		if err != nil {
			t.Fatal(err)
		}
		again, err := document.Reprint(document.Kind(p.Kind), p.Body)
		if err != nil {
			t.Fatal(err)
		}
		sum := sha256.Sum256(again)
		if !bytes.Equal(again, p.PDF) || hex.EncodeToString(sum[:]) != p.SHA256 {
			t.Errorf("%s prints differently", p.Title)
		}
	}
}

// What another process writes is seen at once.
func TestAnotherProcessWrites(t *testing.T) {
	w := newWorks(t)
	ctx := t.Context()
	other, _ := w.another(t)
	ask := func() desk.Priced {
		t.Helper()
		a, err := w.Ask(ctx, clerk, asked(panels(20, 10)))
		if err != nil {
			t.Fatal(err)
		}
		return a
	}
	before := ask()
	supply, err := desk.FromShelf[stock.Supply](ctx, other, "AZ50-24-20-CHAR")
	if err != nil {
		t.Fatal(err)
	}
	supply.Item.PerPound = money.Must("1.90")
	if _, err := desk.PutOnShelf(ctx, other, boss, supply); err != nil {
		t.Fatal(err)
	}
	if after := ask(); !before.Order.Alone.Total.Less(after.Order.Alone.Total) {
		t.Error("the price doesn't know what the other process wrote")
	}
	if _, err := other.BlockTime(ctx, boss, stock.Block{Machine: "FORMER", From: w.Now().Add(-time.Hour), To: w.Now().AddDate(0, 0, 9), Kind: stock.Down, Reason: "gearbox"}); err != nil {
		t.Fatal(err)
	}
	if after := ask(); !after.Order.Promise.After(before.Order.Promise.AddDate(0, 0, 7)) {
		t.Errorf("promised for %v although the machine is down; before %v", after.Order.Promise, before.Order.Promise)
	}
	// And a rate sheet of tomorrow holds from tomorrow.
	dear := demo.Rates(w.Now())
	dear.Bundle = money.Int(500)
	if err := other.SetRates(ctx, boss, dear, w.Now().AddDate(0, 0, 1), "tomorrow"); err != nil {
		t.Fatal(err)
	}
	today := ask()
	w.pass(24 * time.Hour)
	if tomorrow := ask(); !today.Order.Alone.Packing.Less(tomorrow.Order.Alone.Packing) {
		t.Errorf("packing %s today, %s tomorrow", today.Order.Alone.Packing, tomorrow.Order.Alone.Packing)
	}
}

// The numbers of orders have no gap and none twice, with many at once.
func TestNumbersUnderRush(t *testing.T) {
	w := newWorks(t)
	var wg sync.WaitGroup
	var mu sync.Mutex
	seen := map[string]bool{}
	for range 20 {
		wg.Go(func() {
			o, err := w.TakeOrder(t.Context(), clerk, asked(tubes(20)))
			mu.Lock()
			defer mu.Unlock()
			if err != nil || seen[o.Number] {
				t.Errorf("number %s, %v", o.Number, err)
			}
			seen[o.Number] = true
		})
	}
	wg.Wait()
	for n := 1001; n <= 1020; n++ {
		if !seen[fmt.Sprint(n)] {
			t.Errorf("number %d is missing", n)
		}
	}
}
