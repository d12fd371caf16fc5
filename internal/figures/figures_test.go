package figures_test

import (
	"fmt"
	"math/big"
	"testing"
	"time"

	"pgregory.net/rapid"

	"ribdesk/internal/figures"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/stock"
)

var zone = mustZone("America/Chicago")

func mustZone(name string) *time.Location {
	z, err := time.LoadLocation(name)
	if err != nil {
		panic(err)
	}
	return z
}

func at(month time.Month, day, hour, minute int) time.Time {
	return time.Date(2026, month, day, hour, minute, 0, 0, zone)
}

func usd(cents int64) money.Amount { return money.Cents(cents, money.USD) }

// former is open Monday to Friday, 8 to 16.
func former() figures.Machine {
	m := stock.Machine{Code: "FORMER", Name: "Former"}
	for d := time.Monday; d <= time.Friday; d++ {
		m.Week = append(m.Week, stock.Window{Day: d, From: 8 * 60, To: 16 * 60})
	}
	return figures.Machine{Machine: m, Price: usd(5_000_000)}
}

func TestPeriodOf(t *testing.T) {
	// Wednesday, May 13, 2026.
	now, long := at(5, 13, 9, 30), at(1, 1, 0, 0).AddDate(-2, 0, 0)
	for s, want := range map[figures.Stretch]time.Time{
		figures.Week: at(5, 11, 0, 0), figures.Month: at(5, 1, 0, 0), figures.Quarter: at(4, 1, 0, 0), figures.Year: at(1, 1, 0, 0),
		figures.Start: long, "nonsense": at(5, 1, 0, 0),
	} {
		p := figures.PeriodOf(s, long, now, zone)
		if !p.From.Equal(want) || !p.To.Equal(now) {
			t.Errorf("%s: from %s, want %s", s, p.From, want)
		}
	}
	if p := figures.PeriodOf(figures.Week, at(5, 10, 0, 0).AddDate(-1, 0, 0), at(5, 17, 23, 0), zone); !p.From.Equal(at(5, 11, 0, 0)) {
		t.Errorf("a Sunday belongs to the week that began on %s", p.From)
	}
	// A shop that began on the 6th wasn't idle before.
	if p := figures.PeriodOf(figures.Month, at(5, 6, 14, 0), now, zone); !p.From.Equal(at(5, 6, 0, 0)) {
		t.Errorf("the month begins %s", p.From)
	}
}

// Worked by hand: Monday to Wednesday 10:00 are 8 + 8 + 2 hours open, and a
// Saturday opening isn't there yet. Tuesday's own job takes 8 to 12; the service
// from 11 to 13 takes only the hour that the own job left. 250 minutes were sold.
func TestHoursByHand(t *testing.T) {
	r := figures.Records{
		Now: at(5, 13, 10, 0), First: at(5, 1, 0, 0), Zone: zone, Currency: money.USD, Machines: []figures.Machine{former()},
		Blocks: []stock.Block{
			{Machine: "FORMER", Kind: stock.OwnJob, From: at(5, 12, 6, 0), To: at(5, 12, 12, 0)},
			{Machine: "FORMER", Kind: stock.Service, From: at(5, 12, 11, 0), To: at(5, 12, 13, 0)},
			{Machine: "FORMER", Kind: stock.Opening, From: at(5, 16, 8, 0), To: at(5, 16, 12, 0)},
			{Machine: "GUTTER", Kind: stock.Down, From: at(5, 11, 0, 0), To: at(5, 13, 0, 0)},
		},
		Work: []figures.Work{
			{Machine: "FORMER", Done: at(5, 11, 11, 0), Change: 60, Run: 100, Saved: 15},
			{Machine: "FORMER", Done: at(5, 12, 15, 0), Run: 90, Saved: -5},
			{Machine: "FORMER", Done: at(5, 8, 15, 0), Run: 999, Saved: 99},
			{Machine: "SOLD LAST YEAR", Done: at(5, 11, 15, 0), Run: 40},
		},
	}
	p := figures.PeriodOf(figures.Week, r.First, r.Now, zone)
	uses := r.Hours(p)
	if all := figures.Together(uses); len(uses) != 2 || all.Sold != 290 || uses[1].Beyond() != 40 {
		t.Errorf("together %+v", all)
	}
	u := uses[0]
	if u.Open != 1080 || u.Own != 240 || u.Out != 60 || u.Sold != 250 || u.Free() != 780 || u.Idle() != 530 || u.Beyond() != 0 || len(u.Days) != 3 {
		t.Errorf("got %+v", u)
	}
	if s := r.Saved(r.WorkIn(p)); s.Minutes != 10 || s.Spent != 60 {
		t.Errorf("saved %+v", s)
	}
}

// The division of a machine's time against minutes counted one by one.
func TestHoursMinuteByMinute(t *testing.T) {
	m := former()
	m.Week = append(m.Week, stock.Window{Day: time.Sunday, From: 4 * 60, To: 5*60 + 30}) // the nights of the time change
	kinds := []stock.BlockKind{stock.OwnJob, stock.Service, stock.Down, stock.Away, stock.Opening}
	rapid.Check(t, func(t *rapid.T) {
		start := at(time.Month(rapid.SampledFrom([]int{3, 5, 11}).Draw(t, "month")), 1, 0, 0).AddDate(0, 0, rapid.IntRange(0, 9).Draw(t, "day"))
		r := figures.Records{First: start, Now: start.Add(time.Duration(rapid.IntRange(0, 4*24*60).Draw(t, "long")) * time.Minute), Zone: zone, Machines: []figures.Machine{m}}
		for range rapid.IntRange(0, 5).Draw(t, "blocks") {
			from := start.Add(time.Duration(rapid.IntRange(-600, 4*24*60).Draw(t, "from")) * time.Minute)
			r.Blocks = append(r.Blocks, stock.Block{Machine: "FORMER", Kind: rapid.SampledFrom(kinds).Draw(t, "kind"), From: from, To: from.Add(time.Duration(rapid.IntRange(1, 900).Draw(t, "for")) * time.Minute)})
		}
		got := r.Hours(figures.PeriodOf(figures.Start, r.First, r.Now, zone))[0]
		var open, own, out int
		for at := start; at.Before(r.Now); at = at.Add(time.Minute) {
			in := func(kinds ...stock.BlockKind) bool {
				for _, b := range r.Blocks {
					for _, k := range kinds {
						if b.Kind == k && !at.Before(b.From) && at.Before(b.To) {
							return true
						}
					}
				}
				return false
			}
			isOpen := in(stock.Opening)
			for _, w := range m.Week {
				minute := at.In(zone).Hour()*60 + at.In(zone).Minute()
				isOpen = isOpen || w.Day == at.In(zone).Weekday() && w.From <= minute && minute < w.To
			}
			switch {
			case !isOpen:
				continue
			case in(stock.OwnJob):
				own++
			case in(stock.Service, stock.Down, stock.Away):
				out++
			}
			open++
		}
		if got.Open != open || got.Own != own || got.Out != out {
			t.Fatalf("got %d open, %d own, %d out; minute by minute %d, %d, %d", got.Open, got.Own, got.Out, open, own, out)
		}
	})
}

// Worked by hand. Order 1001: $1,000.00 invoiced, $40.00 credited, 200 ft cut
// and 3 ft scrapped at $1.25 (253.75), accessories 12.345 (12.35), packing 18,
// 120 minutes on the former at $30 (60.00) and 30 on the brake at $11 (5.50):
// 960 - 253.75 - 12.35 - 18 - 60 - 5.50 = 610.40, in 2 1/2 h 244.16 an hour. Its
// remake took 10 ft and 6 minutes more: 12.50 and 3.00, and 595 - .10 = 594.90 is
// left of 156 minutes. Loose scrap of 8 ft is 10.00.
func TestContributionByHand(t *testing.T) {
	r := figures.Records{
		Now: at(5, 13, 10, 0), First: at(5, 1, 0, 0), Zone: zone, Currency: money.USD, Machines: []figures.Machine{former()},
		Jobs: []figures.Job{
			{OrderID: 1, Order: "1001", First: at(5, 12, 0, 0), Invoiced: usd(100_000), Credited: usd(4_000), Bought: money.Must("12.345"), Packing: money.Int(18),
				Pocket: map[string]money.Rate{"FORMER": money.Int(30), "BRAKE": money.Int(11)}},
			{OrderID: 2, Order: "1002", First: at(4, 30, 0, 0), Invoiced: usd(999), Credited: usd(0)},
		},
		Draws: []figures.Draw{
			{For: 1, OrderID: 1, Kind: stock.MovedCut, Length: 200 * measure.Foot, PerFoot: money.Must("1.25"), At: at(5, 11, 9, 0)},
			{For: 1, OrderID: 1, Kind: stock.MovedScrap, Length: 3 * measure.Foot, PerFoot: money.Must("1.25"), At: at(5, 11, 9, 0)},
			{For: 0, Kind: stock.MovedScrap, Length: 8 * measure.Foot, PerFoot: money.Must("1.25"), At: at(5, 11, 9, 0)},
			{For: 0, Kind: stock.MovedScrap, Length: 8 * measure.Foot, PerFoot: money.Must("1.25"), At: at(4, 1, 9, 0)},
		},
		Work: []figures.Work{{OrderID: 1, For: 1, Machine: "FORMER", Change: 20, Run: 100, Done: at(5, 11, 11, 0)}, {OrderID: 1, For: 1, Machine: "BRAKE", Run: 30, Done: at(5, 11, 11, 0)}},
	}
	p := figures.PeriodOf(figures.Week, r.First, r.Now, zone)
	check := func(left, whole, hour int64, minutes int) {
		t.Helper()
		orders := r.Earned(p)
		sum := r.Contributed(orders, r.Loose(p))
		if len(orders) != 1 || orders[0].Left != usd(left) || sum.Left != usd(whole) || sum.PerHour() != usd(hour) || sum.Minutes != minutes {
			t.Errorf("got %d orders, %+v, together %+v, %s an hour", len(orders), orders[0], sum, sum.PerHour().Format())
		}
	}
	check(610_40, 600_40, 240_16, 150)
	r.Draws = append(r.Draws, figures.Draw{For: 1, OrderID: 7, Kind: stock.MovedCut, Length: 10 * measure.Foot, PerFoot: money.Must("1.25"), At: at(5, 12, 9, 0)})
	r.Work = append(r.Work, figures.Work{OrderID: 7, For: 1, Machine: "FORMER", Run: 6, Done: at(5, 12, 9, 0)})
	check(594_90, 584_90, 224_96, 156)

	// The former has 126 of 156 minutes: 480.50, the 50,000 less that is left.
	b := r.Paybacks()[0]
	if b.Earned != usd(480_50) || b.Left != usd(5_000_000-480_50) || len(b.Shares) != 1 || b.Days != 12 {
		t.Errorf("payback %+v", b)
	}
	if days := int(b.By.Sub(r.Now).Hours()/24 + 0.5); days != 1237 { // 49,519.50 x 12 / 480.50 = 1,236.7
		t.Errorf("paid back in %d days", days)
	}
}

// Contribution against a sum of exact fractions, and payback's shares against
// the whole.
func TestContributionSlowly(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := figures.Records{Now: at(5, 13, 10, 0), First: at(1, 1, 0, 0), Zone: zone, Currency: money.USD}
		for _, code := range []string{"A", "B", "C"} {
			m := former()
			m.Code = code
			r.Machines = append(r.Machines, m)
		}
		cost := map[int64]*big.Rat{}
		jobs := rapid.IntRange(1, 6).Draw(t, "jobs")
		for id := int64(1); id <= int64(jobs); id++ {
			pocket := rapid.Int64Range(0, 9000).Draw(t, "pocket")
			r.Jobs = append(r.Jobs, figures.Job{OrderID: id, Order: fmt.Sprint(id), First: at(5, rapid.IntRange(1, 13).Draw(t, "day"), 0, 0),
				Invoiced: usd(rapid.Int64Range(0, 1_000_000).Draw(t, "net")), Credited: usd(rapid.Int64Range(0, 1000).Draw(t, "credit")),
				Pocket: map[string]money.Rate{"A": money.NewRate(pocket, -2), "B": money.Int(7)}})
			cost[id] = new(big.Rat)
			run := new(big.Rat)
			for range rapid.IntRange(0, 4).Draw(t, "lines") {
				w := figures.Work{For: id, Machine: rapid.SampledFrom([]string{"A", "B", "C"}).Draw(t, "machine"), Change: rapid.IntRange(0, 60).Draw(t, "change"), Run: rapid.IntRange(0, 300).Draw(t, "run"), Done: at(5, 2, 9, 0)}
				r.Work = append(r.Work, w)
				hour := map[string]*big.Rat{"A": big.NewRat(pocket, 100), "B": big.NewRat(7, 1), "C": new(big.Rat)}[w.Machine]
				run.Add(run, new(big.Rat).Mul(hour, big.NewRat(int64(w.Change+w.Run), 60)))
			}
			metal := new(big.Rat)
			for range rapid.IntRange(0, 4).Draw(t, "draws") {
				d := figures.Draw{For: id, Kind: stock.MovedCut, Length: measure.Length(rapid.Int64Range(1, int64(900*measure.Foot)).Draw(t, "length")), PerFoot: money.NewRate(rapid.Int64Range(1, 99_999).Draw(t, "foot"), -4), At: at(5, 2, 9, 0)}
				r.Draws = append(r.Draws, d)
				perFoot, _ := new(big.Rat).SetString(d.PerFoot.String())
				metal.Add(metal, perFoot.Mul(perFoot, d.Length.Ratio(measure.Foot)))
			}
			cost[id].Add(cents(metal), cents(run))
		}
		orders := r.Earned(figures.PeriodOf(figures.Year, r.First, r.Now, zone))
		var all, split money.Amount
		for _, e := range orders {
			want := new(big.Rat).SetInt64(e.Invoiced.Cents() - e.Credited.Cents())
			if want.Sub(want, cost[e.OrderID]); want.Cmp(big.NewRat(e.Left.Cents(), 1)) != 0 {
				t.Fatalf("order %s: %d cents, by fractions %s", e.Order, e.Left.Cents(), want.FloatString(3))
			}
			if e.Worked() > 0 {
				all = all.Add(e.Left)
			}
		}
		for _, b := range r.Paybacks() {
			var sum money.Amount
			for _, s := range b.Shares {
				sum = sum.Add(s.Of)
			}
			if sum.Cmp(b.Earned) != 0 {
				t.Fatalf("%s: the shares are %s, the machine earned %s", b.Machine.Code, sum, b.Earned)
			}
			split = split.Add(b.Earned)
		}
		if split.Cmp(all) != 0 {
			t.Fatalf("the machines earned %s, the orders %s", split, all)
		}
	})
}

// cents rounds an exact amount of dollars half away from zero.
func cents(r *big.Rat) *big.Rat {
	x := new(big.Rat).Mul(r, big.NewRat(200, 1))
	n := new(big.Int).Add(x.Num(), x.Denom())
	return new(big.Rat).SetInt(n.Div(n, new(big.Int).Mul(x.Denom(), big.NewInt(2))))
}

func TestPromises(t *testing.T) {
	r := figures.Records{Now: at(5, 13, 10, 0), First: at(3, 1, 0, 0), Zone: zone, Handed: []figures.HandOver{
		{Order: "same day, later hour", Promised: at(5, 4, 10, 0), At: at(5, 4, 23, 59)},
		{Order: "next day", Promised: at(5, 4, 10, 0), At: at(5, 5, 0, 1)},
		{Order: "moved, and late by what was said first", Promised: at(5, 4, 10, 0), Moved: at(5, 8, 10, 0), At: at(5, 8, 9, 0)},
		{Order: "never promised", At: at(5, 8, 9, 0)},
		{Order: "another month", Promised: at(4, 4, 10, 0), At: at(4, 4, 9, 0)},
	}}
	list := r.HandedIn(figures.PeriodOf(figures.Month, r.First, r.Now, zone))
	if n := r.Punctual(list); n != (figures.Punctual{OnTime: 1, Of: 3}) {
		t.Errorf("got %+v", n)
	}
	if list[1].DaysLate(zone) != 1 || list[2].DaysLate(zone) != 4 {
		t.Errorf("late by %d and %d days", list[1].DaysLate(zone), list[2].DaysLate(zone))
	}
}

func TestEndings(t *testing.T) {
	r := figures.Records{Now: at(5, 13, 10, 0), First: at(3, 1, 0, 0), Zone: zone, Currency: money.USD, Answers: []figures.Answer{
		{At: at(5, 2, 9, 0), Outcome: figures.Lapsed, Total: usd(100)},
		{At: at(5, 2, 9, 0), Outcome: figures.Lost, Why: order.TooLate, Total: usd(200)},
		{At: at(5, 2, 9, 0), Outcome: figures.Lost, Why: "who knows", Total: usd(300)},
		{At: at(5, 2, 9, 0), Outcome: figures.Won, Total: usd(400)},
		{At: at(5, 3, 9, 0), Outcome: figures.Won, Total: usd(500)},
		{At: at(4, 3, 9, 0), Outcome: figures.Won, Total: usd(600)},
	}}
	got := r.Endings(r.AnswersIn(figures.PeriodOf(figures.Month, r.First, r.Now, zone)))
	want := []figures.Ending{{figures.Won, "", 2, usd(900)}, {figures.Lost, order.TooLate, 1, usd(200)}, {figures.Lost, order.OtherWhys, 1, usd(300)}, {figures.Lapsed, "", 1, usd(100)}}
	if fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("got %v, want %v", got, want)
	}
	if won, of := figures.WonOf(got); won != 2 || of != 5 {
		t.Errorf("%d of %d", won, of)
	}
}

// Worked by hand: 1,000 ft left of 4,000 that cost $5,000.00 are worth $1,250.00;
// 450 ft used in 90 days last 200 days.
func TestStockByHand(t *testing.T) {
	strip := stock.Strip{Material: "GL", Gauge: "26", Width: 41 * measure.Inch, Colour: "GREY"}
	r := figures.Records{Now: at(5, 13, 10, 0), First: at(1, 1, 0, 0).AddDate(-1, 0, 0), Zone: zone, Currency: money.USD,
		Coils: []figures.Coil{{Coil: stock.Coil{Metal: stock.Metal{Tag: "C1", Strip: strip, Landed: usd(500_000)}, Original: 4000 * measure.Foot, OnHand: 1000 * measure.Foot}}},
		Draws: []figures.Draw{
			{Strip: strip, Kind: stock.MovedCut, Length: 440 * measure.Foot, PerFoot: money.Must("1.25"), At: at(5, 1, 9, 0)},
			{Strip: strip, Kind: stock.MovedScrap, Length: 10 * measure.Foot, PerFoot: money.Must("1.25"), At: at(3, 1, 9, 0)},
			{Strip: strip, Kind: stock.MovedCut, Length: 999 * measure.Foot, PerFoot: money.Must("1.25"), At: at(1, 1, 9, 0)},
		}}
	list, days := r.Stock()
	value, lasts, ok := r.AllStock(list, days)
	if n, used := list[0].DaysOnHand(days); days != 90 || value != usd(125_000) || !ok || lasts != 200 || n != 200 || !used {
		t.Errorf("worth %s, lasts %d of %d days: %+v", value, lasts, days, list)
	}
}
