package drill_test

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"
	"time"

	"ribdesk/internal/books"
	"ribdesk/internal/demo"
	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/store"
)

// simulation is a shop beside a model of it: after each step, done or broken off,
// the shop must be what the model says.
type simulation struct {
	t        *testing.T
	r        *rand.Rand
	clock    *demo.Clock
	d        *desk.Desk
	s        *store.Store
	left     int // statements until one fails; below 0 none does
	orders   []int64
	states   map[int64]order.State
	invoices map[int64]books.Invoice // open, by order
	billed   int
	paid     int
	broken   int // steps broken off
	last     outcome
	inParts  bool   // the step takes several transactions, and some may hold
	stamp    int64  // of the log's last event
	hash     string // its hash
}

// outcome is how a step ended.
type outcome int

const (
	refused outcome = iota // or there was nothing to do
	carriedOut
	brokenOff
)

// errBroken is the fault that the simulation puts in.
var errBroken = errors.New("the disk said no")

// F20: seeds of random steps under a clock that jumps and statements that fail.
// RIBDESK_SEED=n plays one seed again.
func TestSimulation(t *testing.T) {
	steps, least, span := times(60, 200), times(2, 1000), time.Duration(times(2, 300))*time.Second
	if seed := os.Getenv("RIBDESK_SEED"); seed != "" {
		n, err := strconv.ParseUint(seed, 10, 64)
		if err != nil {
			t.Fatal(err)
		}
		simulate(t, n, steps)
		return
	}
	start, done, broken := time.Now(), 0, 0
	first := uint64(start.UnixNano())
	for done < least && (time.Since(start) < span || done < 2) {
		broken += simulate(t, first+uint64(done), steps)
		if done++; t.Failed() {
			return
		}
	}
	figures.add("F20 simulation", "P1-P7 after each step", "%d seeds of %d steps from %d, %d steps broken off: the model holds after each, verify clean", done, steps, first, broken)
}

func simulate(t *testing.T, seed uint64, steps int) int {
	t.Helper()
	dir, err := os.MkdirTemp("", "simulation")
	if err != nil {
		t.Fatal(err)
	}
	defer os.RemoveAll(dir)
	image, err := furnished()
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(dir, "shop.db")
	if err := os.WriteFile(path, image, 0o600); err != nil {
		t.Fatal(err)
	}
	db, err := store.Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	m := &simulation{t: t, r: rand.New(rand.NewPCG(seed, 20)), clock: demo.NewClock(time.Now()), s: db, left: -1, states: map[int64]order.State{}, invoices: map[int64]books.Invoice{}}
	db.Probe = m.probe
	m.d = desk.New(db, desk.Options{Now: m.clock.Now})
	m.readLog()
	for i := range steps {
		name := m.step()
		if m.compare(); t.Failed() {
			t.Fatalf("seed %d, step %d (%s): play it again with RIBDESK_SEED=%d", seed, i, name, seed)
		}
	}
	if err := db.Close(); err != nil {
		t.Error(err)
	}
	if verify(t, path); t.Failed() {
		t.Fatalf("seed %d: play it again with RIBDESK_SEED=%d", seed, seed)
	}
	return m.broken
}

func (m *simulation) probe() error {
	if m.left < 0 {
		return nil
	}
	if m.left--; m.left < 0 {
		return errBroken
	}
	return nil
}

// step does one random thing; one in four has a statement fail somewhere, and
// then nothing of it may remain.
func (m *simulation) step() string {
	moves := []struct {
		name string
		do   func() (func(), error)
	}{
		{"ask", m.ask}, {"ask", m.ask}, {"quote", m.quote}, {"quote", m.quote}, {"accept", m.accept}, {"accept", m.accept}, {"decline", m.decline}, {"cancel", m.cancel},
		{"pick", m.pick}, {"pick", m.pick}, {"hand over", m.handOver}, {"hand over", m.handOver}, {"invoice", m.invoice}, {"invoice", m.invoice}, {"pay", m.pay}, {"pay", m.pay},
	}
	m.last, m.inParts = refused, false
	if m.r.IntN(20) == 0 { // the clock jumps, forward mostly
		m.clock.Set(m.clock.Now().Add(time.Duration(m.r.IntN(5*24*60)-60) * time.Minute))
		return "clock"
	}
	m.clock.Set(m.clock.Now().Add(time.Duration(m.r.IntN(90)) * time.Second))
	move := moves[m.r.IntN(len(moves))]
	if m.left = -1; m.r.IntN(4) == 0 {
		m.left = m.r.IntN(60)
	}
	armed := m.left >= 0
	happened, err := move.do()
	hit := armed && m.left < 0
	m.left = -1
	switch {
	case err == nil && happened != nil:
		happened()
		m.last = carriedOut
	case err != nil && hit:
		m.broken++
		m.last = brokenOff
	case err != nil && !fault.Is(err, fault.Conflict) && !fault.Is(err, fault.Invalid):
		m.t.Errorf("%s: %v", move.name, err)
	}
	return move.name
}

// one gives an order in a state, 0 when there is none.
func (m *simulation) one(states ...order.State) int64 {
	var fit []int64
	for _, id := range m.orders {
		if slices.Contains(states, m.states[id]) {
			fit = append(fit, id)
		}
	}
	if len(fit) == 0 {
		return 0
	}
	return fit[m.r.IntN(len(fit))]
}

// becomes gives what the model learns when a step of an order is done.
func (m *simulation) becomes(id int64, s order.State) func() { return func() { m.states[id] = s } }

func (m *simulation) ask() (func(), error) {
	o, err := m.d.TakeOrder(m.t.Context(), clerk, shelfOrder())
	return func() { m.orders = append(m.orders, o.ID); m.states[o.ID] = order.Draft }, err
}

func (m *simulation) quote() (func(), error) {
	id := m.one(order.Draft)
	if id == 0 {
		return nil, nil
	}
	_, err := m.d.QuoteOrder(m.t.Context(), clerk, id, 0, nil)
	return m.becomes(id, order.Quoted), err
}

func (m *simulation) accept() (func(), error) {
	id := m.one(order.Quoted, order.Accepted, order.Cancelled) // some that can't be
	if id == 0 {
		return nil, nil
	}
	_, err := m.d.AcceptOrder(m.t.Context(), boss, id, 0, yes)
	return m.becomes(id, order.Accepted), err
}

func (m *simulation) decline() (func(), error) {
	id := m.one(order.Quoted)
	if id == 0 {
		return nil, nil
	}
	_, err := m.d.DeclineOrder(m.t.Context(), clerk, id, 0, order.TooLate.Words())
	return m.becomes(id, order.Declined), err
}

func (m *simulation) cancel() (func(), error) {
	id := m.one(order.Draft, order.Accepted, order.Cut)
	if id == 0 {
		return nil, nil
	}
	_, err := m.d.CancelOrder(m.t.Context(), clerk, id, 0, "changed their mind")
	return m.becomes(id, order.Cancelled), err
}

func (m *simulation) pick() (func(), error) {
	id := m.one(order.Accepted)
	if id == 0 {
		return nil, nil
	}
	_, err := m.d.PickFromShelf(m.t.Context(), clerk, id)
	return m.becomes(id, order.Cut), err
}

func (m *simulation) handOver() (func(), error) {
	id := m.one(order.Cut)
	if id == 0 {
		return nil, nil
	}
	m.inParts = true
	if err := checkOff(m.t.Context(), m.d, id); err != nil {
		return nil, err
	}
	_, err := m.d.PickUp(m.t.Context(), clerk, id, desk.HandOver{Key: fmt.Sprint("hand ", id), Receiver: "Wren"})
	return m.becomes(id, order.Delivered), err
}

func (m *simulation) invoice() (func(), error) {
	id := m.one(order.Delivered) // billed already or not: the second time is refused
	if id == 0 {
		return nil, nil
	}
	bill, err := m.d.IssueInvoice(m.t.Context(), keeper, desk.InvoiceAsk{OrderID: id})
	return func() { m.invoices[id] = bill.Invoice; m.billed++ }, err
}

func (m *simulation) pay() (func(), error) {
	for _, id := range m.orders {
		bill, ok := m.invoices[id]
		if !ok {
			continue
		}
		_, err := m.d.RecordPayment(m.t.Context(), keeper, desk.MoneyIn{
			CustomerID: firm, Amount: bill.AmountDue, Method: books.ByCheck, Reference: fmt.Sprint(id), Items: []string{bill.Number},
		})
		return func() { delete(m.invoices, id); m.states[id] = order.Closed; m.paid++ }, err
	}
	return nil, nil
}

// compare holds the shop to the model: each order in its state, as many invoices
// and payments as were acknowledged, numbered without a gap, customers owing what
// isn't paid, and the log grown by what was done, and by nothing that broke off.
func (m *simulation) compare() {
	m.t.Helper()
	switch lines := m.readLog(); {
	case m.last == carriedOut && lines == 0:
		m.t.Error("the log doesn't tell of it")
	case m.last == brokenOff && lines > 0 && !m.inParts:
		m.t.Errorf("it broke off, and the log tells of it in %d lines", lines)
	}
	err := m.s.Read(m.t.Context(), func(tx *store.Tx) error {
		heads, err := tx.OrderHeads()
		if err != nil {
			return err
		}
		if len(heads) != len(m.orders) {
			m.t.Errorf("%d orders, the model has %d", len(heads), len(m.orders))
		}
		for _, h := range heads {
			if h.State != m.states[h.ID] {
				m.t.Errorf("order %s is %s, the model says %s", h.Number, h.State, m.states[h.ID])
			}
		}
		bills, err := tx.Invoices(store.BooksFilter{})
		if err != nil {
			return err
		}
		receipts, err := tx.Payments(store.BooksFilter{})
		if err != nil {
			return err
		}
		if len(bills) != m.billed || len(receipts) != m.paid || len(bills) > 0 && bills[0].Invoice.Number != fmt.Sprintf("INV-%05d", m.billed) {
			m.t.Errorf("%d invoices and %d payments, the model has %d and %d", len(bills), len(receipts), m.billed, m.paid)
		}
		owed := money.Cents(0, money.USD)
		for _, bill := range m.invoices {
			owed = owed.Add(bill.AmountDue)
		}
		balance, err := tx.AccountBalance(books.Receivable, firm, money.USD)
		if err == nil && balance.Cmp(owed) != 0 {
			m.t.Errorf("the journal says %s is owed, the model %s", balance, owed)
		}
		return err
	})
	if err != nil {
		m.t.Error(err)
	}
}

// readLog reads what was added to the log, each event chained to the one before.
func (m *simulation) readLog() (lines int) {
	m.t.Helper()
	err := m.s.Read(m.t.Context(), func(tx *store.Tx) error {
		for {
			events, err := tx.EventsAfter(m.stamp, 100)
			if err != nil || len(events) == 0 {
				return err
			}
			for _, e := range events {
				if e.PrevHash != m.hash {
					m.t.Errorf("event %d of the log isn't chained to the one before", e.ID)
				}
				m.stamp, m.hash = e.ID, e.Hash
				lines++
			}
		}
	})
	if err != nil {
		m.t.Error(err)
	}
	return lines
}
