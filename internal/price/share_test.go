package price_test

import (
	"fmt"
	"testing"

	"pgregory.net/rapid"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/price"
)

func usd(cents int64) money.Amount { return money.Cents(cents, money.USD) }

func set(id string, cents int64, users ...string) price.BatchSetup {
	s := price.BatchSetup{ID: id, Cost: usd(cents)}
	for _, u := range users {
		s.Users = append(s.Users, price.User{Order: u})
	}
	return s
}

func TestSettle(t *testing.T) {
	cases := []struct {
		name  string
		batch price.Batch
		want  []int64
	}{
		{"airport of costs 8, 11, 13, 18 (Littlechild and Owen 1973)", price.Batch{Orders: []string{"1", "2", "3", "4"}, Setups: []price.BatchSetup{
			set("to 8", 800, "1", "2", "3", "4"), set("to 11", 300, "2", "3", "4"), set("to 13", 200, "3", "4"), set("to 18", 500, "4")}},
			[]int64{200, 300, 400, 900}},
		{"airport of costs 1500, 2200, 3000 (Littlechild and Owen 1973)", price.Batch{Orders: []string{"1", "2", "3"}, Setups: []price.BatchSetup{
			set("a", 150000, "1", "2", "3"), set("b", 70000, "2", "3"), set("c", 80000, "3")}},
			[]int64{50000, 85000, 165000}},
		{"rollers for three, coils for two and one (by hand)", price.Batch{Orders: []string{"A", "B", "C"}, Setups: []price.BatchSetup{
			set("rollers", 6000, "A", "B", "C"), set("coil 1", 1500, "A", "B"), set("coil 2", 1500, "C")}},
			[]int64{2750, 2750, 3500}},
		{"the two set-ups of the worked example", price.Batch{Orders: []string{"A", "B"}, Setups: []price.BatchSetup{
			set("coil", 3085, "A", "B"), set("profile", 6337, "A", "B")}}, []int64{4711, 4711}},
		{"a cent left goes to the earliest", price.Batch{Orders: []string{"B", "A"}, Setups: []price.BatchSetup{set("x", 1001, "A", "B")}}, []int64{501, 500}},
		{"largest remainder", price.Batch{Rule: price.ShareMinutes, Orders: []string{"A", "B", "C"}, Setups: []price.BatchSetup{{ID: "x", Cost: usd(100), Users: []price.User{
			{Order: "A", Minutes: money.Int(1)}, {Order: "B", Minutes: money.Int(1)}, {Order: "C", Minutes: money.Int(4)}}}}}, []int64{17, 17, 66}},
	}
	for _, c := range cases {
		s, err := c.batch.Settle()
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		for i, w := range c.want {
			if s.Shares[i].Amount.Cents() != w {
				t.Errorf("%s: order %s pays %s, want %d", c.name, s.Shares[i].Order, s.Shares[i].Amount, w)
			}
		}
	}
}

// Nobody above what it would pay alone: the rest falls on the others, and on
// the shop when all are capped.
func TestSettleCaps(t *testing.T) {
	ten, thirty := usd(1000), usd(3000)
	b := price.Batch{Orders: []string{"A", "B", "C"}, Setups: []price.BatchSetup{{ID: "x", Cost: usd(9000), Users: []price.User{
		{Order: "A", Alone: &ten}, {Order: "B"}, {Order: "C"}}}}}
	s, err := b.Settle()
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []int64{1000, 4000, 4000} {
		if s.Shares[i].Amount.Cents() != want {
			t.Errorf("order %d pays %s", i, s.Shares[i].Amount)
		}
	}
	b.Setups[0].Users[1].Alone, b.Setups[0].Users[2].Alone = &thirty, &thirty
	if s, err = b.Settle(); err != nil || s.Shop.Cents() != 2000 {
		t.Errorf("the shop carries %s, %v", s.Shop, err)
	}
}

func TestCancel(t *testing.T) {
	b := price.Batch{Orders: []string{"A", "B", "C"}, Setups: []price.BatchSetup{
		set("rollers", 6000, "A", "B", "C"), set("coil 1", 1500, "A", "B"), set("coil 2", 1500, "C")}}
	c, err := b.Cancel("C", "")
	if err != nil {
		t.Fatal(err)
	}
	// Coil 2 isn't mounted; A and B hold at 27.50, and of the 75.00 the shop
	// carries C's third of the rollers.
	if c.Policy != price.ShopCarries || c.Total.Cents() != 7500 || c.Shop.Cents() != 2000 {
		t.Errorf("got %+v", c)
	}
	for _, r := range c.Left {
		if r.Quoted.Cents() != 2750 || r.Pays.Cents() != 2750 || r.Anew.Cents() != 3750 {
			t.Errorf("got %+v", r)
		}
	}
	c, err = b.Cancel("C", price.Requote)
	if err != nil || !c.Shop.IsZero() || c.Left[0].Pays.Cents() != 3750 {
		t.Errorf("requote: %+v %v", c, err)
	}
	if _, err := b.Cancel("D", ""); !fault.Is(err, fault.Invalid) {
		t.Errorf("cancelled an order that isn't there: %v", err)
	}
	if c, err := (price.Batch{Orders: []string{"A"}, Setups: []price.BatchSetup{set("x", 100, "A")}}).Cancel("A", ""); err != nil || !c.Shop.IsZero() || len(c.Left) != 0 {
		t.Errorf("the last order leaves %+v %v", c, err)
	}
}

// randomBatch draws set-ups, users, weights and caps.
func randomBatch(t *rapid.T, rule price.ShareRule, caps bool) price.Batch {
	b := price.Batch{Rule: rule}
	n := rapid.IntRange(1, 7).Draw(t, "orders")
	for i := range n {
		b.Orders = append(b.Orders, fmt.Sprint("o", i))
	}
	for s := range rapid.IntRange(1, 5).Draw(t, "setups") {
		set := price.BatchSetup{ID: fmt.Sprint("s", s), Cost: usd(rapid.Int64Range(0, 100000).Draw(t, "cost"))}
		for i, id := range b.Orders {
			if i > 0 && !rapid.Bool().Draw(t, "uses") {
				continue
			}
			u := price.User{Order: id, Minutes: money.NewRate(rapid.Int64Range(0, 5000).Draw(t, "minutes"), -2), Feet: measure.Length(rapid.Int64Range(0, 1e12).Draw(t, "feet"))}
			if caps && rapid.Bool().Draw(t, "capped") {
				a := usd(rapid.Int64Range(0, 100000).Draw(t, "alone"))
				u.Alone = &a
			}
			set.Users = append(set.Users, u)
		}
		b.Setups = append(b.Setups, set)
	}
	return b
}

func settle(t *rapid.T, b price.Batch) price.Settlement {
	s, err := b.Settle()
	if err != nil {
		t.Fatal(err)
	}
	return s
}

var rules = []price.ShareRule{price.ShareEqual, price.ShareMinutes, price.ShareFeet}

func TestSharesAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := randomBatch(t, rapid.SampledFrom(rules).Draw(t, "rule"), true)
		s := settle(t, b)
		sum, cost := s.Shop, usd(0)
		for _, set := range b.Setups {
			cost = cost.Add(set.Cost)
		}
		for _, share := range s.Shares {
			sum = sum.Add(share.Amount)
			if share.Alone.Less(share.Amount) {
				t.Fatalf("%s pays %s, alone %s", share.Order, share.Amount, share.Alone)
			}
			if share.Amount.Sign() < 0 {
				t.Fatalf("%s pays %s", share.Order, share.Amount)
			}
		}
		if sum != cost && !(sum.IsZero() && cost.IsZero()) {
			t.Fatalf("shares and shop come to %s, set-ups cost %s", sum, cost)
		}
	})
}

// One more user of a set-up never raises another's exact share under any rule,
// capped or not, and under equal shares not by a cent either.
func TestOneMoreOrderRaisesNobody(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rule := rapid.SampledFrom(rules).Draw(t, "rule")
		more := randomBatch(t, rule, rapid.Bool().Draw(t, "caps"))
		if len(more.Orders) < 2 {
			return
		}
		last := more.Orders[len(more.Orders)-1]
		fewer := price.Batch{Rule: rule, Orders: more.Orders[:len(more.Orders)-1]}
		for _, s := range more.Setups {
			var users []price.User
			for _, u := range s.Users {
				if u.Order != last {
					users = append(users, u)
				}
			}
			s.Users = users
			fewer.Setups = append(fewer.Setups, s)
		}
		before, after := settle(t, fewer), settle(t, more)
		dust := money.Must("0.000000001")
		for i, share := range before.Shares {
			if now := after.Shares[i].Exact; now.Sub(share.Exact).Cmp(dust) > 0 {
				t.Fatalf("%s paid %s, pays %s", share.Order, share.Exact, now)
			}
		}
	})
}

// Whoever leaves, those who stay pay what they were quoted or less, and the
// shop never gains.
func TestCancelHoldsPrices(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := randomBatch(t, rapid.SampledFrom(rules).Draw(t, "rule"), false)
		order := rapid.SampledFrom(b.Orders).Draw(t, "leaves")
		c, err := b.Cancel(order, price.ShopCarries)
		if err != nil {
			t.Fatal(err)
		}
		sum := c.Shop
		for _, r := range c.Left {
			sum = sum.Add(r.Pays)
			if r.Pays != r.Quoted {
				t.Fatalf("%s was quoted %s and pays %s", r.Order, r.Quoted, r.Pays)
			}
		}
		if c.Shop.Sign() < 0 || sum.Cmp(c.Total) != 0 {
			t.Fatalf("shop %s, together %s of %s", c.Shop, sum, c.Total)
		}
	})
}

func TestBatchRefusals(t *testing.T) {
	ok := price.Batch{Orders: []string{"A"}, Setups: []price.BatchSetup{set("x", 100, "A")}}
	bad := map[string]func(*price.Batch){
		"rule":                   func(b *price.Batch) { b.Rule = "by colour" },
		"orders.2.id":            func(b *price.Batch) { b.Orders = []string{"A", "A"} },
		"setups.1.cost":          func(b *price.Batch) { b.Setups[0].Cost = usd(-1) },
		"setups.1.users":         func(b *price.Batch) { b.Setups[0].Users = nil },
		"setups.1.users.1.order": func(b *price.Batch) { b.Setups[0].Users[0].Order = "Z" },
		"setups.1.users.1.minutes": func(b *price.Batch) {
			b.Setups[0].Users[0].Minutes = money.Int(-1)
		},
	}
	for field, spoil := range bad {
		b := price.Batch{Orders: ok.Orders, Setups: []price.BatchSetup{set("x", 100, "A")}}
		spoil(&b)
		_, err := b.Settle()
		if all := fault.All(err); len(all) == 0 || all[0].Field != field {
			t.Errorf("%s: got %v", field, err)
		}
	}
	a, b := panelsOnly(example(t)), orderB(t)
	b.Order.Setups = append([]price.Setup(nil), b.Order.Setups...)
	b.Order.Setups[0].Minutes = money.Int(20)
	if _, err := price.PriceBatch("", []price.Input{a, b}); fault.All(err)[0].Field != "orders.2.order.setups.1" {
		t.Errorf("one set-up at two costs: %v", err)
	}
	b.Order.ID = ""
	if _, err := price.PriceBatch("", []price.Input{a, b}); !fault.Is(err, fault.Invalid) {
		t.Errorf("an order without an id: %v", err)
	}
}

// A batch's inputs replay by themselves, and its settlement is what its quotes
// charge, to the cent.
func TestBatchReplays(t *testing.T) {
	for _, rule := range rules {
		q, err := price.PriceBatch(rule, []price.Input{panelsOnly(example(t)), orderB(t)})
		if err != nil {
			t.Fatal(err)
		}
		for i, in := range q.Inputs {
			same(t, q.Quotes[i], quote(t, through(t, in)))
			charged := money.Rate{}
			for _, s := range q.Quotes[i].Shared.Setups {
				charged = charged.Add(s.Value)
			}
			gap := charged.Sub(q.Settlement.Shares[i].Amount.Rate())
			if gap.Cmp(money.Must("0.02")) > 0 || gap.Cmp(money.Must("-0.02")) < 0 {
				t.Errorf("%s: charged %s, settled %s", rule, charged, q.Settlement.Shares[i].Amount)
			}
		}
	}
}
