// Package plan decides in which order the open lines run on the machines: it
// batches lines of one setup, puts the batches into the free windows of the
// machines, and says how good the plan is by a proven lower bound.
//
// First nothing should be late, then the changeovers should cost least, then
// everything should be done soon. Times are whole minutes counted from the
// planning time 0, money is whole cents, scrap is whole feet.
//
// The package is pure: it knows no calendar dates, customers, coils or pages.
// Whoever calls it turns days into windows and minutes, and stock into earliest
// times. It reads no clock; a time budget is a deadline of the context.
package plan

import (
	"math"
	"strconv"
)

// Setup is how a machine stands: its rollers and the coil that is threaded.
// Lines of equal setups run one after another without a changeover.
type Setup struct {
	Profile, Material, Gauge, Width, Colour, Rib string
}

// Keys are the names of a setup's parts, as rules use them.
var Keys = []string{"profile", "material", "gauge", "width", "colour", "rib"}

// Part gives the value of one key, "" for a key that isn't one.
func (s Setup) Part(key string) string {
	switch key {
	case "profile":
		return s.Profile
	case "material":
		return s.Material
	case "gauge":
		return s.Gauge
	case "width":
		return s.Width
	case "colour":
		return s.Colour
	case "rib":
		return s.Rib
	}
	return ""
}

// Aggregate says how the counted attributes of a changeover add up.
type Aggregate string

// One person does one part after the other; several people work side by side.
const (
	Sum Aggregate = "sum"
	Max Aggregate = "max"
)

// Rule tells what a changeover takes: its attributes in the order in which they
// are looked at.
type Rule struct {
	Attributes []Attribute
	Aggregate  Aggregate // "" is Sum
}

// Attribute is one thing that may have to be changed, such as rollers or coil.
// Its value is the values of its keys joined with "|".
type Attribute struct {
	Name    string
	Keys    []string
	Minutes int64
	Feet    int64    // of scrap
	Covers  []string // later attributes that are done along with this one
	Pairs   []Pair   // what this change takes from one value to another, instead
}

// Pair overrides an attribute's minutes and scrap for one direction.
type Pair struct {
	From, To string
	Minutes  int64
	Feet     int64
}

// Window is a stretch [Start, End) in which a machine is free.
type Window struct{ Start, End int64 }

// Machine is one roll former with its free windows, sorted and disjoint, the
// setup it stands in at time 0, and a frozen head of its plan: jobs that stay
// in their order and at their times whatever is planned behind them.
type Machine struct {
	ID      string
	Rule    string
	Initial Setup
	Windows []Window
	Frozen  []Job
}

// Line is one order line to run. Minutes holds its run time on each machine
// that may run it. Neither changeover nor run starts before Earliest. Each
// minute past Due costs LateCents.
type Line struct {
	ID        string
	Order     string
	Setup     Setup
	Minutes   map[string]int64
	Earliest  int64
	Due       int64
	LateCents int64
	Pin       *Pin
}

// Pin is what a person fixed about a line. Zero values fix nothing.
type Pin struct {
	Machine   string // the only machine it may run on
	NotBefore int64  // its run starts at this minute or later; the changeover may come before
	StartBy   *int64 // its run starts at this minute or earlier; with NotBefore equal, exactly then
	Position  int    // its place on its machine behind the frozen head, 1 for the first
	After     string // a line that runs earlier on the same machine
}

// Goal says what a better plan is.
type Goal struct {
	// Weighted compares the sum of Weights[i] x component i; otherwise the
	// components (late cost, changeover cost, sum of ends) are compared one
	// after the other.
	Weighted bool
	Weights  [3]int64 // in units of 1/Scale
	Scale    int64    // a power of ten; 0 is 1
}

// Problem is everything one plan depends on.
type Problem struct {
	Name        string
	Split       bool // changeovers and runs may pause at a window's end
	MinuteCents int64
	FootCents   int64
	Goal        Goal
	Rules       map[string]Rule
	Machines    []Machine
	Lines       []Line
}

// Limits of one problem, so that no sum can overflow and no table fills memory.
const (
	MaxLines    = 5000
	MaxMachines = 50
	MaxWindows  = 20000
	MaxMinutes  = 1_000_000_000 // any time or duration
	MaxRate     = 10_000_000    // cents a minute or a foot
	maxTable    = 12_000_000    // changeovers held in tables
)

// Objective is what a plan comes to. Late and Changeover are cents, Ends is the
// sum of all ends in minutes; Minutes and Feet are the changeovers' own.
type Objective struct {
	Late, Changeover, Ends int64
	Minutes, Feet          int64
}

// Plus adds two objectives part by part.
func (o Objective) Plus(p Objective) Objective {
	return Objective{o.Late + p.Late, o.Changeover + p.Changeover, o.Ends + p.Ends, o.Minutes + p.Minutes, o.Feet + p.Feet}
}

// Minus subtracts p part by part.
func (o Objective) Minus(p Objective) Objective {
	return Objective{o.Late - p.Late, o.Changeover - p.Changeover, o.Ends - p.Ends, o.Minutes - p.Minutes, o.Feet - p.Feet}
}

// Compare gives -1, 0 or 1 as a is better than, as good as or worse than b.
func (g Goal) Compare(a, b Objective) int {
	if g.Weighted {
		return sign(g.weigh(a) - g.weigh(b))
	}
	for _, d := range [3]int64{a.Late - b.Late, a.Changeover - b.Changeover, a.Ends - b.Ends} {
		if d != 0 {
			return sign(d)
		}
	}
	return 0
}

// Number writes the weighted sum exactly, such as "1234.5".
func (g Goal) Number(o Objective) string {
	n, scale := g.weigh(o), max(g.Scale, 1)
	text := strconv.FormatInt(n/scale, 10)
	if rest := n % scale; rest != 0 {
		digits := strconv.FormatInt(scale+rest, 10)[1:]
		for digits[len(digits)-1] == '0' {
			digits = digits[:len(digits)-1]
		}
		text += "." + digits
	}
	return text
}

func (g Goal) weigh(o Objective) int64 {
	return g.Weights[0]*o.Late + g.Weights[1]*o.Changeover + g.Weights[2]*o.Ends
}

func sign(n int64) int {
	switch {
	case n < 0:
		return -1
	case n > 0:
		return 1
	}
	return 0
}

// Plan is the order of the jobs on each machine of the problem.
type Plan struct {
	Case     string
	Machines []Sequence
}

// Sequence is one machine's jobs in running order.
type Sequence struct {
	Machine string
	Jobs    []Job
}

// Job is one line's run [Start, End) and the changeover before it.
type Job struct {
	Line       string
	Start, End int64
	Change     Change
}

// Change is a changeover: the first minute and the end of the stretch it is
// done in (which spans closed hours when splitting is allowed), and what it takes.
type Change struct {
	Start, End           int64
	Minutes, Feet, Cents int64
}

// Find gives the job of a line and its machine, nil when the plan hasn't it.
func (p Plan) Find(line string) (machine string, job *Job) {
	for i := range p.Machines {
		for j := range p.Machines[i].Jobs {
			if p.Machines[i].Jobs[j].Line == line {
				return p.Machines[i].Machine, &p.Machines[i].Jobs[j]
			}
		}
	}
	return "", nil
}

// Batch is a stretch of consecutive jobs of one setup on one machine.
type Batch struct {
	Machine    string
	Setup      Setup
	Lines      []string
	Change     Change
	Start, End int64
}

// Batches groups the plan's jobs into runs of equal setup, machine by machine.
func Batches(p Problem, plan Plan) []Batch {
	lines := lineIndex(p)
	var out []Batch
	for _, seq := range plan.Machines {
		first := true
		for _, job := range seq.Jobs {
			i, ok := lines[job.Line]
			if !ok {
				continue
			}
			setup := p.Lines[i].Setup
			if first || out[len(out)-1].Setup != setup {
				out = append(out, Batch{Machine: seq.Machine, Setup: setup, Change: job.Change, Start: job.Start})
				first = false
			}
			last := &out[len(out)-1]
			last.Lines, last.End = append(last.Lines, job.Line), job.End
		}
	}
	return out
}

func lineIndex(p Problem) map[string]int {
	index := make(map[string]int, len(p.Lines))
	for i, l := range p.Lines {
		index[l.ID] = i
	}
	return index
}

// mulAdd gives sum + a*b, or MaxInt64 when that doesn't fit; nothing is negative.
func mulAdd(sum, a, b int64) int64 {
	if a != 0 && b > (math.MaxInt64-sum)/a {
		return math.MaxInt64
	}
	return sum + a*b
}
