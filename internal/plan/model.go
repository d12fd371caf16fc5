package plan

import (
	"fmt"
	"math"

	"ribdesk/internal/fault"
)

// model is a problem with names replaced by numbers and rules by tables.
type model struct {
	p        *Problem
	fam      []int32 // family of each line
	families []Setup
	stands   []station
	open     []int32   // lines to be placed: all but the frozen ones
	ofFam    [][]int32 // the same by family
	ordered  bool      // some pin fixes a position or an order
	adds     bool      // the clock is additive, see estimate.go
	fixed    score     // what the frozen heads come to
}

// station is one machine as the search sees it.
type station struct {
	cal    calendar
	t      *table
	tasks  []task // by line; run 0 where the line may not run
	clock  int64  // when the frozen head ends
	fam    int32  // the setup it stands in then
	limit  int64  // clock at the end of the last window
	frozen []int32
	ruler  ruler // see estimate.go
}

// task is one line on one machine, in that machine's clock.
type task struct {
	run       int64
	release   int64 // neither changeover nor run before
	due       int64 // late when ended after
	notBefore int64 // run not before
	by        int64 // run not started after
	lateCents int64
	dueMinute int64
}

// score adds up what is compared. Over counts minutes behind the last window
// and broken pins; a plan with any is no plan.
type score struct{ over, late, change, ends int64 }

func (a score) plus(b score) score {
	return score{a.over + b.over, a.late + b.late, a.change + b.change, a.ends + b.ends}
}

func (a score) minus(b score) score {
	return score{a.over - b.over, a.late - b.late, a.change - b.change, a.ends - b.ends}
}

// less reports whether a is better than b.
func (m *model) less(a, b score) bool {
	if a.over != b.over {
		return a.over < b.over
	}
	if m.p.Goal.Weighted {
		w := &m.p.Goal.Weights
		return w[0]*(a.late-b.late)+w[1]*(a.change-b.change)+w[2]*(a.ends-b.ends) < 0
	}
	if a.late != b.late {
		return a.late < b.late
	}
	if a.change != b.change {
		return a.change < b.change
	}
	return a.ends < b.ends
}

// newModel checks the problem and compiles it.
func newModel(p *Problem) (*model, error) {
	if err := p.Validate(); err != nil {
		return nil, err
	}
	m := &model{p: p}
	number := map[Setup]int32{}
	family := func(s Setup) int32 {
		n, ok := number[s]
		if !ok {
			n = int32(len(number))
			number[s] = n
			m.families = append(m.families, s)
		}
		return n
	}
	for _, l := range p.Lines {
		m.fam = append(m.fam, family(l.Setup))
	}
	for _, machine := range p.Machines {
		family(machine.Initial)
	}
	tables := map[string]*table{}
	for i := range p.Machines {
		tables[p.Machines[i].Rule] = nil
	}
	if n := len(m.families); n*n*len(tables) > maxTable {
		return nil, fault.Invalidf("lines", "%d different setups are too many for one plan", n)
	}
	for name := range tables {
		t := newTable(p, p.Rules[name], m.families)
		tables[name] = &t
	}
	frozen := make([]bool, len(p.Lines))
	lines := lineIndex(*p)
	for i := range p.Machines {
		m.addStation(&p.Machines[i], tables[p.Machines[i].Rule], number, lines, frozen)
	}
	for i := range p.Lines {
		if pin := p.Lines[i].Pin; pin != nil && (pin.Position > 0 || pin.After != "") {
			m.ordered = true
		}
		if !frozen[i] {
			m.open = append(m.open, int32(i))
		}
	}
	m.ofFam = make([][]int32, len(m.families))
	for _, l := range m.open {
		m.ofFam[m.fam[l]] = append(m.ofFam[m.fam[l]], l)
	}
	if m.adds = m.additive(); m.adds {
		for k := range m.stands {
			m.stands[k].ruler = newRuler(m, &m.stands[k])
		}
	}
	return m, nil
}

func (m *model) addStation(machine *Machine, t *table, number map[Setup]int32, lines map[string]int, frozen []bool) {
	s := station{cal: newCalendar(machine.Windows, m.p.Split), t: t, fam: number[machine.Initial]}
	s.limit = s.cal.limit()
	s.tasks = make([]task, len(m.p.Lines))
	for i := range m.p.Lines {
		s.tasks[i] = newTask(&m.p.Lines[i], machine.ID, &s.cal)
	}
	for _, job := range machine.Frozen {
		l := int32(lines[job.Line])
		frozen[l] = true
		s.frozen = append(s.frozen, l)
		m.fixed = m.fixed.plus(score{
			late:   s.tasks[l].lateCents * max(0, job.End-m.p.Lines[l].Due),
			change: t.cents[int(s.fam)*t.n+int(m.fam[l])],
			ends:   job.End,
		})
		s.clock, s.fam = s.cal.clock(job.End), m.fam[l]
	}
	m.stands = append(m.stands, s)
}

func newTask(l *Line, machine string, cal *calendar) task {
	t := task{
		run:       l.Minutes[machine],
		release:   cal.clock(l.Earliest),
		due:       math.MaxInt64,
		by:        math.MaxInt64,
		lateCents: l.LateCents,
		dueMinute: l.Due,
	}
	if l.LateCents > 0 {
		t.due = cal.clock(l.Due)
		if !cal.split {
			t.due = l.Due
		}
	}
	if pin := l.Pin; pin != nil {
		if pin.Machine != "" && pin.Machine != machine {
			t.run = 0
		}
		t.notBefore = cal.clock(pin.NotBefore)
		if pin.StartBy != nil {
			t.by = *pin.StartBy
		}
	}
	return t
}

// nothing is the family that stands for the end of an order.
func (m *model) nothing() int32 { return int32(len(m.families)) }

// change gives the cents of changing from family a to b on this machine.
func (s *station) change(a, b int32) int64 { return s.t.cents[int(a)*s.t.n+int(b)] }

// step runs a task behind a clock with so many minutes of changeover.
func (s *station) step(t *task, clock, change int64) (start, end int64) {
	at := max(clock, t.release)
	if s.cal.split {
		at = max(at+change, t.notBefore)
		return at, at + t.run
	}
	if change > 0 {
		at = s.cal.fit(at, change) + change
	}
	at = s.cal.fit(max(at, t.notBefore), t.run)
	return at, at + t.run
}

// add runs one line behind a family and clock and adds what it comes to.
func (m *model) add(s *station, line, fam int32, clock int64, sum *score) int64 {
	end := m.addCoarse(s, line, fam, clock, sum)
	sum.ends += s.cal.ended(end)
	return end
}

// addCoarse is add without the ends, which take a look at the calendar each.
func (m *model) addCoarse(s *station, line, fam int32, clock int64, sum *score) int64 {
	t := &s.tasks[line]
	cell := int(fam)*s.t.n + int(m.fam[line])
	start, end := s.step(t, clock, int64(s.t.minutes[cell]))
	sum.change += s.t.cents[cell]
	if end > t.due {
		sum.late += t.lateCents * (s.cal.ended(end) - t.dueMinute)
	}
	if end > s.limit {
		sum.over += end - s.limit
	}
	if t.by != math.MaxInt64 {
		sum.over += max(0, s.cal.minute(start)-t.by)
	}
	return end
}

// impossible names a line that fits no machine even when it runs alone there.
func (m *model) impossible() error {
	for _, l := range m.open {
		if why := m.misfit(l); why != "" {
			id := m.p.Lines[l].ID
			return fault.Conflictf("line %q can't be planned: %s", id, why)
		}
	}
	return nil
}

// misfit says why a line fits nowhere, "" when it may fit.
func (m *model) misfit(l int32) string {
	why := "it may run on no machine"
	for k := range m.stands {
		s := &m.stands[k]
		t := &s.tasks[l]
		if t.run == 0 {
			continue
		}
		id := m.p.Machines[k].ID
		if !s.cal.holds(t.run) {
			why = fmt.Sprintf("its %d minutes fit no window of machine %q", t.run, id)
			if m.p.Split {
				why = fmt.Sprintf("its %d minutes are more than machine %q is open in all, %d", t.run, id, s.limit)
			}
			continue
		}
		change := m.leastInto(k, l)
		if !m.p.Split && change > 0 && !s.cal.holds(change) {
			why = fmt.Sprintf("the %d minutes of changeover to it fit no window of machine %q", change, id)
			continue
		}
		start, end := s.step(t, s.clock, change)
		if end > s.limit {
			why = fmt.Sprintf("it can't be done before the last window of machine %q ends at minute %d", id, s.cal.last)
			continue
		}
		if at := s.cal.minute(start); at > t.by {
			why = fmt.Sprintf("it is pinned to start by minute %d, but machine %q can't start it before %d", t.by, id, at)
			continue
		}
		return ""
	}
	return why
}

// leastInto gives the fewest changeover minutes with which a line can start on
// a machine, whatever runs before it.
func (m *model) leastInto(k int, l int32) int64 {
	s := &m.stands[k]
	to := m.fam[l]
	if s.fam == to {
		return 0
	}
	least := int64(s.t.minutes[int(s.fam)*s.t.n+int(to)])
	for _, o := range m.open {
		if o != l && s.tasks[o].run > 0 {
			least = min(least, int64(s.t.minutes[int(m.fam[o])*s.t.n+int(to)]))
		}
	}
	return least
}
