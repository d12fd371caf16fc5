package desk_test

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"ribdesk/internal/demo"
	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
)

// works is a desk on a shop that is furnished but has no orders yet.
type works struct {
	*desk.Desk
	store *store.Store
	clock *demo.Clock
	path  string
}

// The people of the tests act without signing in.
var (
	boss    = party.Actor{PersonID: 1, Name: "Demo Owner", Role: party.Owner}
	clerk   = party.Actor{PersonID: 2, Name: "Demo Counter", Role: party.Counter}
	visitor = party.Actor{Name: "visitor", Role: party.Visitor}
	buyer   = party.Actor{PersonID: 6, Name: "Demo Customer", Role: party.Buyer, CustomerID: tradeFirm}
	rival   = party.Actor{PersonID: 99, Name: "Rival", Role: party.Buyer, CustomerID: rivalFirm}
)

// Customers of the furnished shop: both of the trade; the first has a resale
// certificate, the rival has none.
const (
	tradeFirm = 1
	rivalFirm = 3
)

// opening is the morning the furnished shop opens.
var opening = demo.At(time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC))

// furnished is the database of a furnished shop, made once and copied for each test.
var furnished = sync.OnceValues(func() (image []byte, err error) {
	dir, err := os.MkdirTemp("", "works")
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(dir)) }()
	path := filepath.Join(dir, "works.db")
	s, err := store.Open(context.Background(), path)
	if err != nil {
		return nil, err
	}
	clock := demo.NewClock(opening)
	_, err = demo.Furnish(context.Background(), desk.New(s, desk.Options{Now: clock.Now, Random: demo.Random()}), clock, opening)
	if err = errors.Join(err, s.Close()); err != nil {
		return nil, err
	}
	return os.ReadFile(path)
})

func newWorks(t testing.TB) *works {
	t.Helper()
	image, err := furnished()
	if err != nil {
		t.Fatal(err)
	}
	w := &works{path: filepath.Join(t.TempDir(), "works.db"), clock: demo.NewClock(opening.Add(-4 * time.Hour))}
	if err := os.WriteFile(w.path, image, 0o600); err != nil {
		t.Fatal(err)
	}
	w.Desk, w.store = w.another(t)
	return w
}

// another gives a second desk on the same file, as a second process has.
func (w *works) another(t testing.TB) (*desk.Desk, *store.Store) {
	t.Helper()
	s, err := store.Open(t.Context(), w.path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return desk.New(s, desk.Options{Now: w.clock.Now}), s
}

// pass lets time go by.
func (w *works) pass(d time.Duration) { w.clock.Set(w.clock.Now().Add(d)) }

// panels is a line of snap seam panels in charcoal.
func panels(qty int, feet int) order.Line {
	return order.Line{Kind: order.Formed, Code: "SEAM16", Material: "AZ50", Gauge: "24 ga", Colour: "CHAR", Cuts: []order.CutItem{{Qty: qty, Length: measure.Foot.Times(feet)}}}
}

func ridge(qty int) order.Line {
	return order.Line{Kind: order.Trim, Code: "RIDGE", Material: "AZ50", Gauge: "24 ga", Colour: "CHAR", Cuts: []order.CutItem{{Qty: qty, Length: 10 * measure.Foot}}}
}

func tubes(n int) order.Line { return order.Line{Kind: order.Accessory, Code: "SEALANT", Count: n} }

// asked is an order of the trade firm that is picked up.
func asked(lines ...order.Line) order.Order {
	return order.Order{CustomerID: tradeFirm, Fulfil: order.PickUp, Contact: order.Contact{Name: "Wren Sparrow"}, Lines: lines}
}

func (w *works) take(t testing.TB, o order.Order) order.Order {
	t.Helper()
	o, err := w.TakeOrder(t.Context(), clerk, o)
	if err != nil {
		t.Fatal(err)
	}
	return o
}

func (w *works) quote(t testing.TB, o order.Order) desk.Quoted {
	t.Helper()
	q, err := w.QuoteOrder(t.Context(), clerk, o.ID, o.Version, nil)
	if err != nil {
		t.Fatal(err)
	}
	return q
}

var yes = desk.Yes{Name: "Wren Sparrow", Title: "owner", Consent: true, Method: "counter"}

func (w *works) accept(t testing.TB, q desk.Quoted) order.Order {
	t.Helper()
	o, err := w.AcceptOrder(t.Context(), clerk, q.Order.ID, q.Order.Version, yes)
	if err != nil {
		t.Fatal(err)
	}
	return o
}

// order reads an order as it is kept.
func (w *works) order(t testing.TB, id int64) order.Order {
	t.Helper()
	f, err := w.OrderFile(t.Context(), boss, id)
	if err != nil {
		t.Fatal(err)
	}
	return f.Order
}

func kindOf(err error) string {
	if err == nil {
		return "none"
	}
	return fault.KindOf(err).String()
}

type measureLength = measure.Length

const (
	foot   = measure.Foot
	span20 = 20 * measure.Inch
)
