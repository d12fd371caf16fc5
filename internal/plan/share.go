package plan

import (
	"cmp"
	"math/big"
	"slices"

	"ribdesk/internal/fault"
)

// Facility is one change of one attribute in a plan and the orders that use it:
// those that run until the attribute is changed again.
type Facility struct {
	Machine   string
	Attribute string
	Cents     int64
	Users     []string // distinct order ids
}

// Share is what one order bears of a plan's changeovers.
type Share struct {
	Order string
	Cents int64
	Exact *big.Rat // before rounding to cents, in cents
	Alone int64    // cents of its own changeovers if it ran alone; -1 when not known
}

// Facilities lists the attribute changes of a plan that cost something, in
// order, with their users.
func Facilities(p Problem, plan Plan) ([]Facility, error) {
	if err := p.Validate(); err != nil {
		return nil, err
	}
	lines := lineIndex(p)
	var out []Facility
	for _, seq := range plan.Machines {
		i := slices.IndexFunc(p.Machines, func(m Machine) bool { return m.ID == seq.Machine })
		if i < 0 {
			return nil, fault.Conflictf("the plan names machine %q, which isn't there", seq.Machine)
		}
		m, rule := p.Machines[i], p.Rules[p.Machines[i].Rule]
		current := make([]*Facility, len(rule.Attributes)) // nil while as found
		var all []*Facility
		setup := m.Initial
		for _, job := range seq.Jobs {
			j, ok := lines[job.Line]
			if !ok {
				return nil, fault.Conflictf("the plan names line %q, which isn't there", job.Line)
			}
			line := p.Lines[j]
			for a, attr := range rule.Attributes {
				if attr.value(setup) != attr.value(line.Setup) {
					current[a] = nil // changed along with another, unless counted below
				}
			}
			for _, part := range rule.Between(setup, line.Setup) {
				f := &Facility{Machine: m.ID, Attribute: rule.Attributes[part.Attribute].Name,
					Cents: part.Minutes*p.MinuteCents + part.Feet*p.FootCents}
				current[part.Attribute] = f
				all = append(all, f)
			}
			for _, f := range current {
				if f != nil && !slices.Contains(f.Users, line.Order) {
					f.Users = append(f.Users, line.Order)
				}
			}
			setup = line.Setup
		}
		for _, f := range all {
			if f.Cents > 0 {
				out = append(out, *f)
			}
		}
	}
	return out, nil
}

// Shares splits the changeover cost of a plan fairly among its orders: each
// facility in equal parts among its users, which is the Shapley value of this
// facility game (Littlechild and Owen 1973 for the chain of an airport's
// runways). No order pays more than its own changeovers if it ran alone; what
// that takes off is spread equally over the others who pay. The shares add up
// to the plan's changeover cost exactly.
func Shares(p Problem, plan Plan) ([]Share, error) {
	facilities, err := Facilities(p, plan)
	if err != nil {
		return nil, err
	}
	alone := map[string]int64{}
	for _, l := range p.Lines {
		alone[l.Order] = 0
	}
	for order := range alone {
		alone[order] = standAlone(p, plan, order)
	}
	return SplitFacilities(facilities, alone), nil
}

// SplitFacilities splits costs equally among each one's users and caps each
// order at its cost alone. Orders named in alone take part even if they use
// nothing; an order missing from a non-empty alone has no cap.
func SplitFacilities(facilities []Facility, alone map[string]int64) []Share {
	exact := map[string]*big.Rat{}
	for order := range alone {
		exact[order] = new(big.Rat)
	}
	total := new(big.Rat)
	for _, f := range facilities {
		part := big.NewRat(f.Cents, int64(max(1, len(f.Users))))
		for _, u := range f.Users {
			if exact[u] == nil {
				exact[u] = new(big.Rat)
			}
			exact[u].Add(exact[u], part)
			total.Add(total, part)
		}
	}
	capAlone(exact, alone)
	return roundShares(exact, alone, total)
}

// capAlone lowers shares to the cost alone and spreads the rest equally over
// payers below theirs, until nothing is left to spread. Where all are capped the
// rest is spread over all who pay.
func capAlone(exact map[string]*big.Rat, alone map[string]int64) {
	var payers []string
	for _, order := range sortedKeys(exact) {
		if exact[order].Sign() > 0 {
			payers = append(payers, order)
		}
	}
	free, rest := payers, new(big.Rat)
	for {
		var still []string
		for _, order := range free {
			most, capped := alone[order]
			if over := new(big.Rat).Sub(exact[order], big.NewRat(most, 1)); capped && over.Sign() > 0 {
				rest.Add(rest, over)
				exact[order].SetInt64(most)
			} else {
				still = append(still, order)
			}
		}
		if rest.Sign() == 0 || len(payers) == 0 {
			return
		}
		if free = still; len(free) == 0 {
			spread(exact, payers, rest)
			return
		}
		spread(exact, free, rest)
		rest = new(big.Rat)
	}
}

func spread(exact map[string]*big.Rat, orders []string, rest *big.Rat) {
	part := new(big.Rat).Mul(rest, big.NewRat(1, int64(len(orders))))
	for _, order := range orders {
		exact[order].Add(exact[order], part)
	}
}

// roundShares rounds down to cents and gives the cents left over to the largest
// remainders, ties to the smaller order id.
func roundShares(exact map[string]*big.Rat, alone map[string]int64, total *big.Rat) []Share {
	var out []Share
	left := new(big.Int).Div(total.Num(), total.Denom()).Int64()
	for _, order := range sortedKeys(exact) {
		cents := new(big.Int).Div(exact[order].Num(), exact[order].Denom()).Int64()
		own, known := alone[order]
		if !known {
			own = -1
		}
		out = append(out, Share{Order: order, Cents: cents, Exact: exact[order], Alone: own})
		left -= cents
	}
	rank := make([]int, len(out))
	for i := range rank {
		rank[i] = i
	}
	slices.SortStableFunc(rank, func(a, b int) int { return -remainder(out[a]).Cmp(remainder(out[b])) })
	for _, i := range rank[:min(int(left), len(rank))] {
		out[i].Cents++
	}
	slices.SortFunc(out, func(a, b Share) int { return cmp.Compare(a.Order, b.Order) })
	return out
}

func remainder(s Share) *big.Rat {
	return new(big.Rat).Sub(s.Exact, new(big.Rat).SetInt64(s.Cents))
}

// standAlone gives the changeovers of one order's lines on the machines where
// the plan runs them, if nothing else ran: the cheapest way through their
// setups, or for many setups the cheapest next one each time.
func standAlone(p Problem, plan Plan, order string) (cents int64) {
	lines := lineIndex(p)
	for _, seq := range plan.Machines {
		i := slices.IndexFunc(p.Machines, func(m Machine) bool { return m.ID == seq.Machine })
		setups := []Setup{p.Machines[i].Initial}
		for _, job := range seq.Jobs {
			if l := p.Lines[lines[job.Line]]; l.Order == order && !slices.Contains(setups, l.Setup) {
				setups = append(setups, l.Setup)
			}
		}
		t := newTable(&p, p.Rules[p.Machines[i].Rule], setups)
		w := newSquare(len(setups))
		for a := range setups {
			for b := range setups {
				w.set(a, b, t.cents[a*t.n+b])
			}
		}
		if w.n <= tableNodes {
			table := pathTable(w)
			cents += table[len(table)-w.n]
		} else {
			cents += nearestFirst(w)
		}
	}
	return cents
}

// nearestFirst goes from node 0 to the cheapest node not yet visited.
func nearestFirst(w square) (cents int64) {
	done := make([]bool, w.n)
	for at, left := 0, w.n-1; left > 0; left-- {
		done[at] = true
		next := -1
		for j := range w.n {
			if !done[j] && (next < 0 || w.at(at, j) < w.at(at, next)) {
				next = j
			}
		}
		cents += w.at(at, next)
		at = next
	}
	return cents
}
