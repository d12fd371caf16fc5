package desk

import (
	"context"
	"fmt"
	"slices"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/plan"
	"ribdesk/internal/stock"
	"ribdesk/internal/store"
)

// measuredWeeks is how far back what was cut is looked at.
const measuredWeeks = 8

// Measured is a figure of a machine's catalogue sheet beside what the floor's
// records say of it.
type Measured struct {
	Machine   string // code
	Name      string
	What      string // MeasuredSpeed or MeasuredChange
	Part      string // of the changeover rule, for a change
	Estimated money.Rate
	Measured  money.Rate
	Samples   int
}

// What is measured.
const (
	MeasuredSpeed  = "speed"  // feet per minute
	MeasuredChange = "change" // minutes
)

// leastSamples is from how many runs on a figure is told at all.
const leastSamples = 3

// far is how many times longer or shorter than expected a stretch may be to
// count as work: beyond it somebody was at lunch or on a roof, and below it
// pieces were booked long after they were cut.
var far = money.Int(3)

// MeasuredTimes compares the machines' speeds and changeovers with what was cut
// in the last weeks. A line's time runs from the end of the line before it on
// the same machine and day to its own end; a line that took a changeover of one
// part measures that part, with the run at the speed that was measured.
func (d *Desk) MeasuredTimes(ctx context.Context, actor party.Actor) ([]Measured, error) {
	if err := allow(actor, party.Owner); err != nil {
		return nil, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return nil, err
	}
	var done []doneLine
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		done, err = doneLines(tx, d.now().AddDate(0, 0, -7*measuredWeeks))
		return err
	})
	if err != nil {
		return nil, err
	}
	var out []Measured
	for _, m := range s.machines {
		if !m.Folder {
			out = append(out, measureMachine(m, done, s.seller.Location())...)
		}
	}
	return out, nil
}

// doneLine is a line that was cut, with its place.
type doneLine struct {
	at   order.Placed
	line order.Line
}

func doneLines(tx *store.Tx, since time.Time) ([]doneLine, error) {
	places, err := tx.PlanSince(since)
	if err != nil {
		return nil, err
	}
	lines := map[int64]order.Line{}
	read := map[int64]bool{}
	var out []doneLine
	for _, p := range places {
		if p.DoneAt.IsZero() || p.DoneAt.Before(since) {
			continue
		}
		if !read[p.OrderID] {
			read[p.OrderID] = true
			o, err := tx.Order(p.OrderID)
			if err != nil {
				return nil, err
			}
			for _, l := range o.Lines {
				lines[l.ID] = l
			}
		}
		if l, ok := lines[p.LineID]; ok {
			out = append(out, doneLine{p, l})
		}
	}
	return out, nil
}

// sample is a line's time with the parts of the changeover before it.
type sample struct {
	line    order.Line
	minutes money.Rate
	parts   []plan.Part
}

func measureMachine(m stock.Machine, done []doneLine, zone *time.Location) []Measured {
	samples := samplesOf(m, done, zone)
	var out []Measured
	speed, n := speedOf(m, samples)
	if n >= leastSamples {
		out = append(out, Measured{Machine: m.Code, Name: m.Name, What: MeasuredSpeed, Estimated: m.Speed, Measured: speed, Samples: n})
		m.Speed = speed
	}
	for i, part := range m.Rule {
		var took []money.Rate
		for _, x := range samples {
			if len(x.parts) == 1 && x.parts[0].Attribute == i {
				took = append(took, x.minutes.Sub(runTime(m, x.line)))
			}
		}
		if len(took) < leastSamples {
			continue
		}
		if median := middle(took); median.Sign() > 0 {
			out = append(out, Measured{Machine: m.Code, Name: m.Name, What: MeasuredChange, Part: part.Name,
				Estimated: money.Int(int64(part.Minutes)), Measured: median.Shorten(0), Samples: len(took)})
		}
	}
	return out
}

// samplesOf pairs each line with the one done before it on the machine that day.
func samplesOf(m stock.Machine, done []doneLine, zone *time.Location) (out []sample) {
	var mine []doneLine
	for _, x := range done {
		if x.at.Machine == m.Code {
			mine = append(mine, x)
		}
	}
	slices.SortStableFunc(mine, func(a, b doneLine) int { return a.at.DoneAt.Compare(b.at.DoneAt) })
	rule := planRule(m)
	for i := 1; i < len(mine); i++ {
		before, x := mine[i-1], mine[i]
		took := x.at.DoneAt.Sub(before.at.DoneAt)
		one := sample{line: x.line, minutes: money.Fraction(int64(took/time.Second), 60), parts: rule.Between(setupOf(before.line), setupOf(x.line))}
		if dayIn(before.at.DoneAt, zone) == dayIn(x.at.DoneAt, zone) && one.plausible(m) {
			out = append(out, one)
		}
	}
	return out
}

// plausible reports whether a stretch is near what the catalogue expects.
func (x sample) plausible(m stock.Machine) bool {
	expected := runTime(m, x.line)
	for _, p := range x.parts {
		expected = expected.Add(money.Int(p.Minutes))
	}
	return x.minutes.Cmp(expected.Mul(far)) <= 0 && x.minutes.Mul(far).Cmp(expected) >= 0
}

// speedOf solves the run time's formula for the speed, over all lines that
// followed without a changeover: feet / (minutes / (1 + allowance) - handling).
func speedOf(m stock.Machine, samples []sample) (speed money.Rate, n int) {
	var feet, minutes, hands money.Rate
	for _, x := range samples {
		if len(x.parts) > 0 {
			continue
		}
		n++
		feet = feet.Add(money.FromRat(x.line.Feet().Ratio(measure.Foot)))
		minutes = minutes.Add(x.minutes)
		hands = hands.Add(money.Int(int64(x.line.Pieces())).Mul(m.Shear.Add(m.Handling)).Div(sixty))
	}
	rolling := minutes.Div(money.Int(1).Add(m.Allowance)).Sub(hands)
	if rolling.Sign() <= 0 {
		return money.Rate{}, 0 // handling alone is put down for longer than it all took
	}
	return feet.Div(rolling).Shorten(1), n
}

func middle(list []money.Rate) money.Rate {
	slices.SortFunc(list, money.Rate.Cmp)
	return list[len(list)/2]
}

// TakeMeasured says which figure of the catalogue is to be replaced.
type TakeMeasured struct {
	Machine string
	What    string
	Part    string
}

// TakeMeasured puts a measured figure in place of the estimate on the machine's
// catalogue sheet, and says what it did. It measures again, so that nothing is
// taken that the records don't say.
func (d *Desk) TakeMeasured(ctx context.Context, actor party.Actor, take TakeMeasured) (string, error) {
	all, err := d.MeasuredTimes(ctx, actor)
	if err != nil {
		return "", err
	}
	i := slices.IndexFunc(all, func(m Measured) bool {
		return m.Machine == take.Machine && m.What == take.What && m.Part == take.Part
	})
	if i < 0 {
		return "", fault.Conflictf("the records of the last %d weeks don't say this figure any more; look again", measuredWeeks)
	}
	got := all[i]
	item, err := FromShelf[stock.Machine](ctx, d, take.Machine)
	if err != nil {
		return "", err
	}
	m := &item.Item
	said := fmt.Sprintf("%s: forming speed is %s ft/min now, as measured.", m.Name, got.Measured)
	if got.What == MeasuredSpeed {
		m.Speed = got.Measured
	} else {
		for k := range m.Rule {
			if m.Rule[k].Name == got.Part {
				m.Rule[k].Minutes = int(got.Measured.Float())
			}
		}
		said = fmt.Sprintf("%s: a change of %s takes %s minutes now, as measured.", m.Name, got.Part, got.Measured)
	}
	_, err = PutOnShelf(ctx, d, actor, item)
	return said, err
}
