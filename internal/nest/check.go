package nest

import (
	"fmt"

	"ribdesk/internal/fault"
)

// CheckCoils takes a plan for problem A apart without using anything the solver
// uses: it refuses a plan that breaks a rule and gives the cost by the
// definition at the head of the package.
func CheckCoils(p *CoilProblem, cuts []Cut) (int64, error) {
	t, err := p.tally(cuts)
	if err != nil {
		return 0, err
	}
	var cost int64
	for i, c := range p.Coils {
		if end := c.Length - p.threading(c) - t.load[i]; t.used[i] && end < 0 {
			return 0, fault.Invalidf("", "coil %q is cut %d eighths of an inch beyond its end", c.ID, -end)
		}
		cost += p.costOf(c, t.used[i], t.load[i])
	}
	for i, n := range p.Lines {
		if t.made[i] > n.Qty {
			return 0, fault.Invalidf("", "line %q is cut %d times, ordered %d", n.ID, t.made[i], n.Qty)
		}
		cost += (n.Qty - t.made[i]) * (n.Length + p.Params.Slug) * p.Params.Short
	}
	for _, l := range t.lots {
		cost += int64(len(l)-1) * p.Params.LotSplit
	}
	return cost, nil
}

// tally is what a plan cuts, added up from nothing but its cuts.
type tally struct {
	used []bool                     // of each coil
	load []int64                    // of each coil, with slugs
	made []int64                    // of each line
	lots map[string]map[string]bool // paint lots of each order
}

func (p *CoilProblem) tally(cuts []Cut) (t tally, err error) {
	coilAt, lineAt := map[string]int{}, map[string]int{}
	for i, c := range p.Coils {
		coilAt[c.ID] = i
	}
	for i, n := range p.Lines {
		lineAt[n.ID] = i
	}
	t = tally{used: make([]bool, len(p.Coils)), load: make([]int64, len(p.Coils)), made: make([]int64, len(p.Lines)), lots: map[string]map[string]bool{}}
	for i, cut := range cuts {
		at := fmt.Sprintf("cuts[%d]", i)
		c, okC := coilAt[cut.Coil]
		n, okN := lineAt[cut.Line]
		switch {
		case !okC:
			return t, fault.Invalidf(at+".coil", "there is no coil %q", cut.Coil)
		case !okN:
			return t, fault.Invalidf(at+".line", "there is no line %q", cut.Line)
		case cut.Qty < 1:
			return t, fault.Invalidf(at+".qty", "must be at least 1, not %d", cut.Qty)
		}
		t.used[c] = true
		t.load[c] += cut.Qty * (p.Lines[n].Length + p.Params.Slug)
		t.made[n] += cut.Qty
		order := p.Lines[n].Order
		if t.lots[order] == nil {
			t.lots[order] = map[string]bool{}
		}
		t.lots[order][p.Coils[c].Lot] = true
	}
	return t, nil
}

// costOf is what one coil costs by the definition, with its load of pieces.
func (p *CoilProblem) costOf(c Coil, used bool, load int64) (cost int64) {
	q := p.Params
	switch {
	case used:
	case c.Remnant:
		return q.Keep
	default:
		return 0
	}
	if !c.Mounted {
		cost += q.Change
	}
	lead := p.threading(c)
	cost += q.Mat * lead
	end := c.Length - lead - load
	if end < q.ScrapMax {
		return cost + q.Mat*end
	}
	cost += q.Keep
	if end < q.UsefulMin {
		cost += q.Mat * end * q.AwkwardPct / 100
	}
	return cost
}

// threading is what a coil loses at its beginning and end, counted here anew.
func (p *CoilProblem) threading(c Coil) int64 {
	if c.Mounted {
		return p.Params.LeadOut
	}
	return p.Params.LeadOut + p.Params.LeadIn
}

// CheckTrim does for problem B what CheckCoils does for A. Items that the runs
// don't make often enough are refused.
func CheckTrim(p *TrimProblem, runs []Run) (int64, error) {
	made := map[string]int64{}
	cut := map[string]int64{}
	setups := map[string]bool{}
	var cost int64
	for i, r := range runs {
		c, key, err := checkRun(p, r, made)
		if err != nil {
			return 0, fault.All(err)[0].At(fmt.Sprintf("runs[%d]", i))
		}
		cost += c
		cut[r.Stock] += r.Times
		if !setups[key] {
			setups[key] = true
			cost += p.Params.Setup
		}
	}
	for _, s := range p.Stock {
		if s.Count != nil && cut[s.ID] > *s.Count {
			return 0, fault.Invalidf("", "stock %q is used %d times, there are %d", s.ID, cut[s.ID], *s.Count)
		}
	}
	for _, t := range p.Items {
		if made[t.ID] < t.Qty {
			return 0, fault.Invalidf("", "item %q is made %d times, wanted %d", t.ID, made[t.ID], t.Qty)
		}
	}
	return cost, nil
}

// checkRun adds a run's pieces to made and gives its cost without the set-up,
// and the set-up's key.
func checkRun(p *TrimProblem, r Run, made map[string]int64) (int64, string, error) {
	q := p.Params
	var s *Stock
	for i := range p.Stock {
		if p.Stock[i].ID == r.Stock {
			s = &p.Stock[i]
		}
	}
	if s == nil {
		return 0, "", fault.Invalidf("stock", "there is no stock %q", r.Stock)
	}
	length := r.Length
	if s.Form == SheetForm && length == 0 {
		length = s.Length
	}
	switch {
	case r.Times < 1:
		return 0, "", fault.Invalidf("times", "must be at least 1, not %d", r.Times)
	case s.Form == SheetForm && length != s.Length:
		return 0, "", fault.Invalidf("length", "is %d, the sheet's is %d", length, s.Length)
	case s.Form == CoilForm && (length < q.MinCut || length > q.MaxCut):
		return 0, "", fault.Invalidf("length", "must be %d to %d, not %d", q.MinCut, q.MaxCut, length)
	}
	var width, strips int64
	girths := map[int64]int64{}
	for i, t := range r.Strips {
		if t.Count < 1 {
			return 0, "", fault.Invalidf(fmt.Sprintf("strips[%d].count", i), "must be at least 1, not %d", t.Count)
		}
		width += t.Girth * t.Count
		strips += t.Count
		girths[t.Girth] += t.Count
		if err := checkStrip(p, t, length, r.Times, made); err != nil {
			return 0, "", fault.All(err)[0].At(fmt.Sprintf("strips[%d]", i))
		}
	}
	room := s.Width - 2*q.EdgeTrim
	if width > room {
		return 0, "", fault.Invalidf("strips", "are %d wide together, the stock holds %d", width, room)
	}
	if strips > q.MaxStrips {
		return 0, "", fault.Invalidf("strips", "are %d, the knives make %d", strips, q.MaxStrips)
	}
	cost := s.Cost
	if s.Form == CoilForm {
		cost = s.CostPerUnit * length
	}
	cost = r.Times * (cost + q.Pass)
	if room-width >= q.DropMin {
		cost -= r.Times * q.DropCredit * (room - width) * length
	}
	// fmt prints maps in the order of their keys, so equal multisets give equal keys.
	return cost, fmt.Sprint(s.Width, girths), nil
}

func checkStrip(p *TrimProblem, t Strips, length, times int64, made map[string]int64) error {
	var used, n int64
	for i, x := range t.Pieces {
		at := fmt.Sprintf("pieces[%d]", i)
		if x.Qty < 1 {
			return fault.Invalidf(at+".qty", "must be at least 1, not %d", x.Qty)
		}
		found := false
		for _, item := range p.Items {
			if item.ID != x.Item {
				continue
			}
			if item.Girth != t.Girth {
				return fault.Invalidf(at+".item", "%q has girth %d, the strip %d", item.ID, item.Girth, t.Girth)
			}
			used += x.Qty * item.Length
			n += x.Qty
			made[item.ID] += x.Qty * t.Count * times
			found = true
		}
		if !found {
			return fault.Invalidf(at+".item", "there is no item %q", x.Item)
		}
	}
	if used += p.Params.Saw * max(n-1, 0); used > length {
		return fault.Invalidf("pieces", "are %d long together, the strip %d", used, length)
	}
	return nil
}
