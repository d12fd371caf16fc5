package plan_test

import (
	"context"
	"math/rand/v2"
	"testing"

	"ribdesk/internal/plan"
)

// TestAirport checks the worked examples of Littlechild and Owen (1973), "A
// simple expression for the Shapley value in a special case", where each longer
// runway is a facility of the larger aeroplanes only, and one of three orders
// worked by hand (values from memory of the method, recomputed here by hand).
func TestAirport(t *testing.T) {
	chain := func(costs ...int64) []plan.Facility {
		var out []plan.Facility
		names := []string{"a", "b", "c", "d"}[:len(costs)]
		var below int64
		for i, c := range costs {
			out = append(out, plan.Facility{Cents: c - below, Users: names[i:]})
			below = c
		}
		return out
	}
	for name, c := range map[string]struct {
		facilities []plan.Facility
		want       []int64
	}{
		"four":  {chain(8, 11, 13, 18), []int64{2, 3, 4, 9}},
		"three": {chain(1500, 2200, 3000), []int64{500, 850, 1650}},
		"rollers and coils": {[]plan.Facility{
			{Cents: 6000, Users: []string{"A", "B", "C"}}, {Cents: 1500, Users: []string{"A", "B"}}, {Cents: 1500, Users: []string{"C"}},
		}, []int64{2750, 2750, 3500}},
		"cents left go to the largest remainder, then the smaller id": {[]plan.Facility{{Cents: 100, Users: []string{"z", "x", "y"}}}, []int64{34, 33, 33}},
	} {
		for i, s := range plan.SplitFacilities(c.facilities, nil) {
			if s.Cents != c.want[i] {
				t.Errorf("%s: %s pays %d, want %d", name, s.Order, s.Cents, c.want[i])
			}
		}
	}
}

func TestCapAtAlone(t *testing.T) {
	shares := plan.SplitFacilities([]plan.Facility{{Cents: 90, Users: []string{"a", "b", "c"}}, {Cents: 30, Users: []string{"b"}}},
		map[string]int64{"a": 10, "b": 200, "c": 35, "idle": 0})
	// 30, 60, 30 at first; a is capped at 10, its 20 go to b and c as 10 each;
	// c is capped at 35, its 5 go to b.
	for i, want := range []int64{10, 75, 35, 0} {
		if shares[i].Cents != want {
			t.Errorf("%s pays %d, want %d", shares[i].Order, shares[i].Cents, want)
		}
	}
}

// TestSharesOfPlans checks on random plans that the shares add up to the cost,
// equal users pay the same, idle orders nothing, and one more user of a facility
// raises nobody else's share.
func TestSharesOfPlans(t *testing.T) {
	for seed := range uint64(25) {
		rng := rand.New(rand.NewPCG(seed, 3))
		p := random(rng, shape{lines: 12, families: 6, machines: 1 + rng.IntN(2), split: true, slack: 0.5})
		r, err := plan.Solve(context.Background(), p, plan.Settings{Iterations: 20})
		if err != nil {
			t.Fatal(err)
		}
		facilities, err := plan.Facilities(p, r.Plan)
		if err != nil {
			t.Fatal(err)
		}
		shares, err := plan.Shares(p, r.Plan)
		if err != nil {
			t.Fatal(err)
		}
		users := map[string]string{}
		for i, f := range facilities {
			for _, u := range f.Users {
				users[u] += string(rune('A' + i))
			}
		}
		var sum int64
		for _, s := range shares {
			sum += s.Cents
			if users[s.Order] == "" && s.Cents != 0 {
				t.Errorf("seed %d: order %s uses nothing and pays %d", seed, s.Order, s.Cents)
			}
		}
		if sum != r.Objective.Changeover {
			t.Errorf("seed %d: shares come to %d, changeovers to %d", seed, sum, r.Objective.Changeover)
		}
		plain := plan.SplitFacilities(facilities, nil)
		for i, a := range plain {
			for _, b := range plain[:i] {
				if users[a.Order] == users[b.Order] && a.Exact.Cmp(b.Exact) != 0 {
					t.Errorf("seed %d: %s and %s use the same and pay %v and %v", seed, a.Order, b.Order, a.Exact, b.Exact)
				}
			}
		}
		if len(facilities) == 0 {
			continue
		}
		more := append([]plan.Facility{}, facilities...)
		k := rng.IntN(len(more))
		more[k].Users = append(append([]string{}, more[k].Users...), "newcomer")
		after := map[string]plan.Share{}
		for _, s := range plan.SplitFacilities(more, nil) {
			after[s.Order] = s
		}
		for _, s := range plain {
			if after[s.Order].Exact.Cmp(s.Exact) > 0 {
				t.Errorf("seed %d: a newcomer raises the share of %s", seed, s.Order)
			}
		}
	}
}
