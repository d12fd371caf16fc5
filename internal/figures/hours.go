package figures

import (
	"cmp"
	"slices"
	"time"

	"ribdesk/internal/stock"
)

// Day is one day of a machine in whole minutes. Open is the weekly opening with
// extra openings; of it Own went to own jobs and Out to service, faults and the
// operator's absence. Sold is the work for customers that was finished on the
// day. What is left is idle; less than nothing is work beyond the opening.
type Day struct {
	Machine string
	Date    time.Time
	Open    int
	Own     int
	Out     int
	Sold    int
}

// Free is what could be sold: open, less own jobs and what was out.
func (d Day) Free() int { return d.Open - d.Own - d.Out }

// Left is what wasn't sold of it.
func (d Day) Left() int { return d.Free() - d.Sold }

// Use is a machine's time over a period: the sum of its days.
type Use struct {
	Machine Machine
	Day     // summed; its date is the first
	Days    []Day
}

// Idle is the time in which the machine could have run and didn't.
func (u Use) Idle() int { return max(0, u.Left()) }

// Beyond is the work done outside the opening.
func (u Use) Beyond() int { return max(0, -u.Left()) }

// Hours gives each machine's time in a period, days without anything left out.
// The weekly opening is the one in force when the records were read; a machine
// that isn't in the catalogue any more comes last, with its work alone.
func (r Records) Hours(p Period) []Use {
	sold := map[string]map[time.Time]int{}
	for _, w := range r.WorkIn(p) {
		if sold[w.Machine] == nil {
			sold[w.Machine] = map[time.Time]int{}
		}
		sold[w.Machine][dayOf(w.Done, r.Zone)] += w.Minutes()
	}
	uses := make([]Use, 0, len(r.Machines))
	for _, m := range append(slices.Clone(r.Machines), r.gone(sold)...) {
		u := Use{Machine: m, Day: Day{Machine: m.Code, Date: p.From}}
		for at := dayOf(p.From, r.Zone); !at.After(p.To); at = at.AddDate(0, 0, 1) {
			d := r.day(m, at, p)
			d.Sold = sold[m.Code][at]
			if d.Open == 0 && d.Sold == 0 {
				continue
			}
			u.Open, u.Own, u.Out, u.Sold = u.Open+d.Open, u.Own+d.Own, u.Out+d.Out, u.Sold+d.Sold
			u.Days = append(u.Days, d)
		}
		uses = append(uses, u)
	}
	return uses
}

// gone gives the machines that work was done on and the catalogue has no more.
func (r Records) gone(sold map[string]map[time.Time]int) (list []Machine) {
	for code := range sold {
		if !slices.ContainsFunc(r.Machines, func(m Machine) bool { return m.Code == code }) {
			list = append(list, Machine{Machine: stock.Machine{Code: code, Name: code}, Price: r.zero()})
		}
	}
	slices.SortFunc(list, func(a, b Machine) int { return cmp.Compare(a.Code, b.Code) })
	return list
}

// day divides the opening of one day by taking more and more blocks off it.
func (r Records) day(m Machine, at time.Time, p Period) Day {
	part, _ := stock.Span{From: at, To: at.AddDate(0, 0, 1)}.Both(stock.Span{From: p.From, To: p.To})
	open := func(kinds ...stock.BlockKind) int {
		var blocks []stock.Block
		for _, b := range r.Blocks {
			for _, k := range kinds {
				if b.Machine == m.Code && b.Kind == k {
					blocks = append(blocks, b)
				}
			}
		}
		var sum time.Duration
		for _, s := range stock.Open(m.Week, blocks, part.From, part.To, r.Zone) {
			sum += s.To.Sub(s.From)
		}
		return int(sum / time.Minute)
	}
	whole := open(stock.Opening)
	ours := open(stock.Opening, stock.OwnJob)
	free := open(stock.Opening, stock.OwnJob, stock.Service, stock.Down, stock.Away)
	return Day{Machine: m.Code, Date: at, Open: whole, Own: whole - ours, Out: ours - free}
}

// Together sums the machines' times.
func Together(uses []Use) (sum Day) {
	for _, u := range uses {
		sum.Open, sum.Own, sum.Out, sum.Sold = sum.Open+u.Open, sum.Own+u.Own, sum.Out+u.Out, sum.Sold+u.Sold
	}
	return sum
}

// WorkIn gives the lines that were finished in a period.
func (r Records) WorkIn(p Period) (list []Work) {
	for _, w := range r.Work {
		if p.Holds(w.Done) {
			list = append(list, w)
		}
	}
	return list
}

// Saved sums the changeover minutes of lines, and what they would have cost.
func (r Records) Saved(lines []Work) (s Saving) {
	s.Worth = s.Worth.Add(r.zero())
	for _, w := range lines {
		s.Minutes += w.Saved
		s.Worth = s.Worth.Add(w.SavedCost)
		s.Spent += w.Change
	}
	return s
}
