package demo_test

import (
	"bytes"
	"testing"
	"time"

	"ribdesk/internal/demo"
	"ribdesk/internal/desk"
	"ribdesk/internal/measure"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
	"ribdesk/internal/store"
	"ribdesk/internal/store/storetest"
)

var day = time.Date(2026, 11, 25, 0, 0, 0, 0, time.UTC)

func seed(t *testing.T, day time.Time) (*desk.Desk, *store.Store, demo.Accounts) {
	now := demo.At(day)
	clock := demo.NewClock(now)
	s := storetest.Open(t)
	d := desk.New(s, desk.Options{Now: clock.Now, Random: demo.Random()})
	accounts, err := demo.Seed(t.Context(), d, clock, now)
	if err != nil {
		t.Error(err)
	}
	return d, s, accounts
}

// The demo has something to show everywhere, its ledgers balance, and the same
// day makes the same shop: the log's last hash covers all that was done, and
// the hashes of all papers.
func TestSeed(t *testing.T) {
	t.Parallel()
	again := make(chan string, 1)
	go func() {
		_, s, _ := seed(t, day)
		again <- lastHash(t, s)
	}()
	d, s, accounts := seed(t, day)
	if t.Failed() {
		return
	}
	if one, other := lastHash(t, s), <-again; one != other {
		t.Errorf("the same day made two shops: %s and %s", one, other)
	}
	t.Run("every state", func(t *testing.T) { inEveryState(t, d) })
	t.Run("plan ahead", func(t *testing.T) { planAhead(t, d, demo.At(day)) })
	t.Run("every account signs in", func(t *testing.T) {
		for _, role := range party.Roles {
			a := accounts.Of(role)
			p, err := d.Authenticate(t.Context(), desk.Login{Email: a.Email, Password: a.Password})
			if err != nil || p.Role != role {
				t.Errorf("%s signs in as %s, %v", a.Email, p.Role, err)
			}
		}
	})
	t.Run("coils balance", func(t *testing.T) { coilsBalance(t, s) })
	t.Run("prices replay", func(t *testing.T) { pricesReplay(t, d) })
}

// On a weekend, when the shop is shut, the demo stands on Friday.
func TestAt(t *testing.T) {
	sunday := demo.At(day.AddDate(0, 0, 4))
	if want := "Fri 2026-11-27 11:00"; sunday.Format("Mon 2006-01-02 15:04") != want {
		t.Errorf("a demo of a Sunday stands at %s, not %s", sunday, want)
	}
}

func inEveryState(t *testing.T, d *desk.Desk) {
	counts, err := d.CountOrders(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	t.Log(counts)
	for _, state := range order.States {
		if counts[state] == 0 {
			t.Errorf("no order is %s", state)
		}
	}
}

// planAhead sees that the plan has work for the days to come, that only what was
// accepted a moment ago waits for a place in it, and that few promises are broken.
func planAhead(t *testing.T, d *desk.Desk, now time.Time) {
	plan, err := d.RunPlan(t.Context(), now, now.AddDate(0, 0, 14))
	if err != nil {
		t.Fatal(err)
	}
	orders, late := map[string]bool{}, map[string]bool{}
	for _, r := range plan.Runs {
		for _, l := range r.Lines {
			orders[l.Number] = true
			late[l.Number] = late[l.Number] || l.Late
		}
	}
	broken := 0
	for _, is := range late {
		if is {
			broken++
		}
	}
	waiting := map[string]bool{}
	for _, l := range plan.Unplaced {
		waiting[l.Number] = true
	}
	if len(orders) < 6 || broken > 2 || len(waiting) != 1 {
		t.Errorf("%d orders in the plan, %d of them late, %d wait for a place", len(orders), broken, len(waiting))
	}
}

func lastHash(t *testing.T, s *store.Store) (hash string) {
	err := s.Read(t.Context(), func(tx *store.Tx) error {
		var err error
		_, hash, err = tx.VerifyEvents()
		return err
	})
	if err != nil {
		t.Error(err)
	}
	return hash
}

// coilsBalance sums the ledger anew: received = cut + scrap - adjusted + on hand.
func coilsBalance(t *testing.T, s *store.Store) {
	var coils []stock.Coil
	var ledger []stock.Movement
	err := s.Read(t.Context(), func(tx *store.Tx) (err error) {
		if coils, err = tx.AllCoils(); err == nil {
			ledger, err = tx.AllMovements()
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	left, cut := map[int64]measure.Length{}, 0
	for _, m := range ledger {
		left[m.CoilID] += m.Length
		if m.Kind == stock.MovedCut {
			cut++
		}
	}
	for _, c := range coils {
		if left[c.ID] != c.OnHand || c.OnHand < 0 || c.Promised > c.OnHand {
			t.Errorf("coil %s: ledger %s, on hand %s, promised %s", c.Tag, left[c.ID], c.OnHand, c.Promised)
		}
	}
	if cut < 50 {
		t.Errorf("only %d cuts in three weeks", cut)
	}
}

func pricesReplay(t *testing.T, d *desk.Desk) {
	list, err := d.Orders(t.Context(), party.System, desk.OrderFilter{Lines: true, Limit: 500})
	if err != nil {
		t.Fatal(err)
	}
	for _, o := range list {
		if bytes.Equal(o.PriceJSON, nil) {
			continue // a remake is free of charge
		}
		_, q, err := desk.ReplayPrice(o)
		if err != nil || q.Alone.Total.Cmp(o.Alone.Total) != 0 {
			t.Errorf("order %s of %s replays to %s, %v", o.Number, o.Alone.Total, q.Alone.Total, err)
		}
	}
	if len(list) < 40 {
		t.Errorf("only %d orders", len(list))
	}
}
