package figures

import (
	"slices"
	"time"

	"ribdesk/internal/money"
	"ribdesk/internal/stock"
)

// Saving is changeover time that a plan saved against first come, first served.
type Saving struct {
	Minutes int
	Worth   money.Amount
	Spent   int // minutes of changeover that remained
}

var sixty = money.Int(60)

func (r Records) zero() money.Amount { return money.Cents(0, r.Currency) }

// Earned is what an order contributed: Net is what was invoiced less what was
// credited, before tax and without delivery; the costs are those that were
// spent only because the order was made.
type Earned struct {
	Job
	Net     money.Amount
	Metal   money.Amount // cut and scrapped for it, at what its coils cost landed
	Goods   money.Amount // accessories
	Packing money.Amount
	Running money.Amount // the machines' out-of-pocket hours
	Left    money.Amount // the contribution
	Minutes map[string]int
}

// Worked is the time of all machines on the order.
func (e Earned) Worked() (sum int) {
	for _, m := range e.Minutes {
		sum += m
	}
	return sum
}

// PerHour gives what an hour of so many minutes earned; nothing for no minutes.
func PerHour(a money.Amount, minutes int) money.Amount {
	if minutes <= 0 {
		return money.Cents(0, a.Currency())
	}
	return rounded(a.Rate().Mul(sixty).Div(money.Int(int64(minutes))), a.Currency())
}

// rounded is the place where a figure becomes cents. What an order holds is far
// below what an amount can hold; a sum beyond it is taken as the most there is.
func rounded(r money.Rate, c money.Currency) money.Amount {
	a, err := r.Round(c)
	if err != nil {
		return money.Cents(int64(r.Sign())*money.MaxCents, c)
	}
	return a
}

// Earned works out every order whose first invoice lies in the period, whole:
// all that was invoiced, credited, cut and made for it to date. Remakes count
// with the order they repair.
func (r Records) Earned(p Period) []Earned {
	var list []Earned
	at := map[int64]int{}
	for _, j := range r.Jobs {
		if p.Holds(j.First) {
			at[j.OrderID] = len(list)
			list = append(list, Earned{Job: j, Net: j.Invoiced.Sub(j.Credited), Minutes: map[string]int{}})
		}
	}
	metal := make([]money.Rate, len(list))
	for _, d := range r.Draws {
		if i, ok := at[d.For]; ok && d.For != 0 {
			metal[i] = metal[i].Add(d.Cost())
		}
	}
	for _, w := range r.Work {
		if i, ok := at[w.For]; ok {
			list[i].Minutes[w.Machine] += w.Minutes()
		}
	}
	for i := range list {
		list[i].finish(metal[i], r.Currency)
	}
	return list
}

func (e *Earned) finish(metal money.Rate, c money.Currency) {
	var running money.Rate
	for machine, minutes := range e.Minutes {
		running = running.Add(e.Pocket[machine].Mul(money.Int(int64(minutes))).Div(sixty))
	}
	e.Metal, e.Goods, e.Packing, e.Running = rounded(metal, c), rounded(e.Bought, c), rounded(e.Job.Packing, c), rounded(running, c)
	e.Left = e.Net.Sub(e.Metal).Sub(e.Goods).Sub(e.Packing).Sub(e.Running)
}

// Loose is the metal that was scrapped for no order in a period: ends,
// threading, damage.
func (r Records) Loose(p Period) (list []Draw) {
	for _, d := range r.Draws {
		if d.For == 0 && d.Kind == stock.MovedScrap && p.Holds(d.At) {
			list = append(list, d)
		}
	}
	return list
}

// Contribution is what orders earned together, less the loose scrap.
type Contribution struct {
	Net     money.Amount
	Metal   money.Amount
	Goods   money.Amount
	Packing money.Amount
	Running money.Amount
	Scrap   money.Amount // of no order
	Left    money.Amount
	Minutes int
}

// PerHour is the contribution of an hour of the machines.
func (c Contribution) PerHour() money.Amount { return PerHour(c.Left, c.Minutes) }

// Contributed sums orders and loose scrap; each piece of scrap is rounded.
func (r Records) Contributed(orders []Earned, loose []Draw) Contribution {
	z := r.zero()
	c := Contribution{z, z, z, z, z, z, z, 0}
	for _, e := range orders {
		c.Net, c.Metal, c.Goods = c.Net.Add(e.Net), c.Metal.Add(e.Metal), c.Goods.Add(e.Goods)
		c.Packing, c.Running = c.Packing.Add(e.Packing), c.Running.Add(e.Running)
		c.Left, c.Minutes = c.Left.Add(e.Left), c.Minutes+e.Worked()
	}
	for _, d := range loose {
		c.Scrap = c.Scrap.Add(rounded(d.Cost(), r.Currency))
	}
	c.Left = c.Left.Sub(c.Scrap)
	return c
}

// ScrapCost is what a piece of loose scrap cost.
func (r Records) ScrapCost(d Draw) money.Amount { return rounded(d.Cost(), r.Currency) }

// paceDays is how far back the pace of a payback looks.
const paceDays = 90

// Payback is how far a machine has earned what was paid for it.
type Payback struct {
	Machine Machine
	Shares  []Share      // by order, whose sum is Earned
	Earned  money.Amount // since the first record
	Left    money.Amount // to earn, 0 when it is paid back
	Recent  money.Amount // earned in the last Days
	Days    int
	By      time.Time // when it is paid back at that pace; zero when never
}

// Share is a machine's part of an order's contribution: by minutes, to the cent.
type Share struct {
	Earned
	Of      money.Amount // this machine's
	Minutes int
}

// Paybacks works out each machine whose price is known. Own jobs, which save
// money too, and delivery aren't in it, nor what the machine was worth before
// the first record.
func (r Records) Paybacks() []Payback {
	since := Period{Start, r.First, r.Now}
	if r.First.After(r.Now) {
		since.From = r.Now
	}
	since.From = dayOf(since.From, r.Zone) // an invoice counts with its day
	recent := Period{Start, stock.Later(since.From, dayOf(r.Now, r.Zone).AddDate(0, 0, -paceDays)), r.Now}
	orders := r.Earned(since)
	var list []Payback
	for _, m := range r.Machines {
		if m.Price.Sign() <= 0 {
			continue
		}
		b := Payback{Machine: m, Earned: r.zero(), Recent: r.zero(), Days: max(1, int(recent.To.Sub(recent.From).Hours()/24+0.5))}
		for _, e := range orders {
			part, ok := e.partOf(m.Code)
			if !ok {
				continue
			}
			b.Shares = append(b.Shares, Share{e, part, e.Minutes[m.Code]})
			b.Earned = b.Earned.Add(part)
			if recent.Holds(e.First) {
				b.Recent = b.Recent.Add(part)
			}
		}
		b.look(r.Now)
		list = append(list, b)
	}
	return list
}

// partOf splits an order's contribution among the machines by their minutes.
func (e Earned) partOf(machine string) (money.Amount, bool) {
	var codes []string
	for code, minutes := range e.Minutes {
		if minutes > 0 {
			codes = append(codes, code)
		}
	}
	slices.Sort(codes)
	i := slices.Index(codes, machine)
	if i < 0 {
		return money.Amount{}, false
	}
	weights := make([]money.Rate, len(codes))
	for k, code := range codes {
		weights[k] = money.Int(int64(e.Minutes[code]))
	}
	parts, err := money.Split(e.Left, weights)
	if err != nil {
		return money.Amount{}, false // never: every weight is above 0
	}
	return parts[i], true
}

// farthest is as far ahead as a pace is believed.
const farthest = 100 * 365

func (b *Payback) look(now time.Time) {
	b.Left = money.Max(b.Machine.Price.Sub(b.Earned), money.Cents(0, b.Machine.Price.Currency()))
	if b.Left.IsZero() || b.Recent.Sign() <= 0 {
		return
	}
	days := b.Left.Rate().Mul(money.Int(int64(b.Days))).Div(b.Recent.Rate())
	if days.Cmp(money.Int(farthest)) <= 0 {
		b.By = now.AddDate(0, 0, int(days.Float()+0.999))
	}
}
