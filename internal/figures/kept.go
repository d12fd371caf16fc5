package figures

import (
	"cmp"
	"slices"
	"time"

	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/stock"
)

// OnTime reports whether an order was there by the end of the day that
// was promised first.
func (h HandOver) OnTime(zone *time.Location) bool { return h.DaysLate(zone) == 0 }

// DaysLate counts calendar days past the day promised first, 0 when in time.
func (h HandOver) DaysLate(zone *time.Location) int {
	late := 0
	for day := dayOf(h.Promised, zone); day.Before(dayOf(h.At, zone)) && late < 10_000; day = day.AddDate(0, 0, 1) {
		late++
	}
	return late
}

// HandedIn gives the orders that came in a period and that a day was promised for.
func (r Records) HandedIn(p Period) (list []HandOver) {
	for _, h := range r.Handed {
		if !h.Promised.IsZero() && p.Holds(h.At) {
			list = append(list, h)
		}
	}
	return list
}

// Punctual is how many of so many came in time.
type Punctual struct{ OnTime, Of int }

// Punctual counts them.
func (r Records) Punctual(list []HandOver) (n Punctual) {
	for _, h := range list {
		n.Of++
		if h.OnTime(r.Zone) {
			n.OnTime++
		}
	}
	return n
}

// AnswersIn gives the quotes that were answered, or lapsed, in a period.
func (r Records) AnswersIn(p Period) (list []Answer) {
	for _, a := range r.Answers {
		if p.Holds(a.At) {
			list = append(list, a)
		}
	}
	return list
}

// Ending is one way quotes ended, counted.
type Ending struct {
	Outcome Outcome
	Why     order.Why // of declined ones
	N       int
	Total   money.Amount
}

// Endings counts quotes by how they ended: won first, then each reason in the
// order of the form, then lapsed. Ways that didn't happen are left out.
func (r Records) Endings(list []Answer) (out []Ending) {
	rank := func(e Ending) int {
		switch e.Outcome {
		case Won:
			return -1
		case Lapsed:
			return len(order.Whys) + 1
		}
		return slices.Index(order.Whys, e.Why)
	}
	for _, a := range list {
		one := Ending{a.Outcome, "", 1, r.zero().Add(a.Total)}
		if a.Outcome == Lost {
			if one.Why = a.Why; !slices.Contains(order.Whys, a.Why) {
				one.Why = order.OtherWhys
			}
		}
		i := slices.IndexFunc(out, func(e Ending) bool { return e.Outcome == one.Outcome && e.Why == one.Why })
		if i < 0 {
			out = append(out, one)
			continue
		}
		out[i].N, out[i].Total = out[i].N+1, out[i].Total.Add(a.Total)
	}
	slices.SortStableFunc(out, func(a, b Ending) int { return cmp.Compare(rank(a), rank(b)) })
	return out
}

// WonOf gives how many of the answered quotes were won, and of how many.
func WonOf(endings []Ending) (won, of int) {
	for _, e := range endings {
		of += e.N
		if e.Outcome == Won {
			won += e.N
		}
	}
	return won, of
}

// Stocked is the coil on hand of one strip, and how long it lasts.
type Stocked struct {
	Strip  stock.Strip
	Name   string
	Short  string
	Coils  []Coil
	OnHand measure.Length
	Value  money.Amount
	Used   measure.Length // cut and scrapped in the last UsedDays
	Spent  money.Amount   // what that cost
}

// Value is what the rest of a coil cost landed, to the cent.
func (c Coil) Value(currency money.Currency) money.Amount {
	return rounded(c.PerFoot().Mul(money.FromRat(c.OnHand.Ratio(measure.Foot))), currency)
}

// usedDays is how far back use is looked at.
const usedDays = 90

// Stock is the coils on hand by strip, the most valuable first, and how many
// days of use were looked at: 90, or all there are.
func (r Records) Stock() (list []Stocked, days int) {
	from := stock.Later(dayOf(r.First, r.Zone), dayOf(r.Now, r.Zone).AddDate(0, 0, -usedDays))
	days = max(1, int(r.Now.Sub(from).Hours()/24+0.5))
	at := map[stock.Strip]int{}
	for _, c := range r.Coils {
		i, ok := at[c.Strip]
		if !ok {
			i, at[c.Strip] = len(list), len(list)
			list = append(list, Stocked{Strip: c.Strip, Name: c.Name, Short: c.Short, Value: r.zero(), Spent: r.zero()})
		}
		s := &list[i]
		s.Coils, s.OnHand, s.Value = append(s.Coils, c), s.OnHand+c.OnHand, s.Value.Add(c.Value(r.Currency))
	}
	for _, d := range r.Draws {
		i, ok := at[d.Strip]
		if ok && !d.At.Before(from) && (d.Kind == stock.MovedCut || d.Kind == stock.MovedScrap) {
			list[i].Used += d.Length
			list[i].Spent = list[i].Spent.Add(rounded(d.Cost(), r.Currency))
		}
	}
	slices.SortStableFunc(list, func(a, b Stocked) int { return b.Value.Cmp(a.Value) })
	return list, days
}

// DaysOnHand is how long the strip lasts at the pace of so many days; ok is
// false when none was used.
func (s Stocked) DaysOnHand(days int) (n int, ok bool) {
	if s.Used <= 0 {
		return 0, false
	}
	return int(money.FromRat(s.OnHand.Ratio(s.Used)).Mul(money.Int(int64(days))).Float() + 0.5), true
}

// AllStock sums the strips: what is on hand, what was spent, and how many days
// what is on hand would last by value.
func (r Records) AllStock(list []Stocked, days int) (value money.Amount, lasts int, ok bool) {
	value, spent := r.zero(), r.zero()
	for _, s := range list {
		value, spent = value.Add(s.Value), spent.Add(s.Spent)
	}
	if spent.Sign() <= 0 {
		return value, 0, false
	}
	return value, int(value.Rate().Mul(money.Int(int64(days))).Div(spent.Rate()).Float() + 0.5), true
}
