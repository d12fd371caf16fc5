package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"
	"time"
	"unicode"

	"ribdesk/internal/drawing"
	"ribdesk/internal/money"
	"ribdesk/internal/plan"
)

func init() {
	register(command{
		name:    "plan",
		summary: "plan runs and changeovers into the machines' free windows",
		usage:   "[--json | --svg] [--budget 1s] [--seed N] [--iterations N] FILE.json",
		help: `FILE.json holds lines, machines with their free windows, and changeover rules;
- reads it from standard input.

The table lists the runs with their times and changeovers, what the plan comes to
part by part, and how much could still be saved at most. A problem that has no plan
is one line on standard error and exit code 1.

Flags:
  --json          the plan with objective, lower_bound, status and seconds as JSON
  --svg           the plan drawn as lanes over days
  --budget 1s     longest search time, such as 500ms, 10s or 2m
  --seed N        of the random choices, 0 or more; the default is 1
  --iterations N  search steps in place of the clock, for the same plan everywhere

Examples:
  ribdesk plan testdata/plan-example.json
  ribdesk plan --svg testdata/plan-example.json > week.svg
  ribdesk plan --json --iterations 2000 - < week.json

` + strings.TrimSpace(plan.FileFormat),
		run: runPlan,
	})
}

func runPlan(ctx context.Context, e env) error {
	s, file, err := readSearch("plan", e.args)
	if err != nil {
		return err
	}
	in, err := openProblem(e.stdin, file)
	if err != nil {
		return err
	}
	defer in.Close()
	p, err := plan.Decode(in)
	if err != nil {
		return err
	}
	began := time.Now()
	r, failure := plan.Solve(ctx, p, plan.Settings{Budget: s.budget, Iterations: s.iterations, Seed: s.seed})
	if failure != nil && !(s.json && r.Status == plan.Infeasible) {
		return failure
	}
	var out bytes.Buffer
	switch {
	case s.json:
		err = writeJSON(&out, planAnswer(p, r, time.Since(began).Round(time.Millisecond).Seconds()))
	case s.svg:
		out.WriteString(string(planLanes(p, r).Picture().SVG()))
	default:
		err = planTable(&out, p, r)
	}
	if err != nil {
		return err
	}
	if _, err := out.WriteTo(e.stdout); err != nil {
		return err
	}
	return failure
}

// planFacts is the JSON answer.
type planFacts struct {
	Case              string               `json:"case"`
	Machines          map[string][]planRun `json:"machines"`
	Objective         any                  `json:"objective"`
	ChangeoverMinutes any                  `json:"changeover_minutes"`
	LowerBound        any                  `json:"lower_bound"`
	Status            plan.Status          `json:"status"`
	Seconds           float64              `json:"seconds"`
}

type planRun struct {
	Line  string `json:"line"`
	Start int64  `json:"start"`
	End   int64  `json:"end"`
}

func planAnswer(p plan.Problem, r plan.Result, seconds float64) planFacts {
	a := planFacts{Case: p.Name, Machines: map[string][]planRun{}, Status: r.Status, Seconds: seconds}
	if r.Status == plan.Infeasible {
		return a
	}
	for _, seq := range r.Plan.Machines {
		runs := []planRun{}
		for _, job := range seq.Jobs {
			runs = append(runs, planRun{job.Line, job.Start, job.End})
		}
		a.Machines[seq.Machine] = runs
	}
	bound := plan.Objective{Late: r.Bound.Late, Changeover: r.Bound.Changeover, Ends: r.Bound.Ends}
	a.Objective, a.LowerBound = goalValue(p.Goal, r.Objective), goalValue(p.Goal, bound)
	a.ChangeoverMinutes = r.Objective.Minutes
	return a
}

// goalValue is the vector, or the weighted sum as a number.
func goalValue(g plan.Goal, o plan.Objective) any {
	if g.Weighted {
		return json.Number(g.Number(o))
	}
	return [3]int64{o.Late, o.Changeover, o.Ends}
}

func planTable(w io.Writer, p plan.Problem, r plan.Result) error {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "machine\tchangeover\trun\tlines\tsetup")
	for _, b := range r.Batches {
		change := "-"
		if b.Change.Minutes > 0 {
			change = fmt.Sprintf("%d min from %s", b.Change.Minutes, dayClock(b.Change.Start))
		}
		fmt.Fprintf(t, "%s\t%s\t%s to %s\t%s\t%s\n", plain(b.Machine), change, dayClock(b.Start), dayClock(b.End), plain(strings.Join(b.Lines, " ")), plain(setupWords(b.Setup)))
	}
	if err := t.Flush(); err != nil {
		return err
	}
	late := 0
	for _, l := range p.Lines {
		if _, job := r.Plan.Find(l.ID); job.End > l.Due {
			late++
		}
	}
	o := r.Objective
	fmt.Fprintf(w, "\nLate: %d of %s, %s\nChangeovers: %s and %d ft of scrap, %s\nSum of ends: %s\n",
		late, counted(len(p.Lines), "line"), cents(o.Late), counted(int(o.Minutes), "minute"), o.Feet, cents(o.Changeover), counted(int(o.Ends), "minute"))
	words, why := r.InWords(), r.Stopped+"; "
	if r.Stopped == words {
		why = ""
	}
	_, err := fmt.Fprintf(w, "\n%s%s (%s%d kicks, %d moves, %d states).\n", strings.ToUpper(words[:1]), words[1:], why, r.Work.Iterations, r.Work.Moves, r.Work.States)
	return err
}

// plain shows a text of the file in one line, whatever is in it: what a terminal
// would take for an order is shown as a question mark.
func plain(s string) string {
	return strings.Map(func(r rune) rune {
		if !unicode.IsPrint(r) {
			return '?'
		}
		return r
	}, s)
}

func counted(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

func cents(n int64) string { return money.Cents(n, money.USD).Format() }

// dayClock writes a plan's minute as a day and a time of day.
func dayClock(minute int64) string {
	return fmt.Sprintf("day %d %02d:%02d", minute/1440+1, minute%1440/60, minute%60)
}

func setupWords(s plan.Setup) string {
	var words []string
	for _, part := range []string{s.Profile, s.Material, s.Gauge, s.Width, s.Colour, s.Rib} {
		if part != "" && part != "none" {
			words = append(words, part)
		}
	}
	return strings.Join(words, " ")
}

// planLanes draws the plan; its minute 0 is midnight before day 1.
func planLanes(p plan.Problem, r plan.Result) drawing.Lanes {
	zero := time.Date(2000, time.January, 1, 0, 0, 0, 0, time.UTC)
	at := func(minute int64) time.Time { return zero.Add(time.Duration(minute) * time.Minute) }
	v := drawing.Lanes{ID: "plan", Title: "Run plan " + p.Name, First: zero, Days: 1}
	v.Desc = fmt.Sprintf("%s on %s, %s of changeover, %s", counted(len(r.Batches), "run"), counted(len(p.Machines), "machine"), counted(int(r.Objective.Minutes), "minute"), r.InWords())
	v.Open, v.Close = workingDay(p)
	for _, seq := range r.Plan.Machines {
		lane := drawing.Lane{Name: seq.Machine}
		for _, b := range r.Batches {
			if b.Machine != seq.Machine {
				continue
			}
			if c := b.Change; c.Minutes > 0 {
				lane.Blocks = append(lane.Blocks, drawing.Block{Kind: drawing.BlockChangeover, Start: at(c.Start), End: at(c.End), Label: fmt.Sprint(c.Minutes)})
			}
			lane.Blocks = append(lane.Blocks, drawing.Block{Kind: drawing.BlockRun, Start: at(b.Start), End: at(b.End),
				Label: setupWords(b.Setup), Detail: strings.Join(b.Lines, " "), Alert: anyLate(p, r.Plan, b.Lines)})
			v.Days = max(v.Days, int((b.End-1)/1440)+1)
		}
		v.Lanes = append(v.Lanes, lane)
	}
	for i := range v.Lanes {
		v.Lanes[i].Open = openHours(p, v.Lanes[i].Name, int64(v.Days)*1440, at)
	}
	for d := range v.Days {
		v.DayNames = append(v.DayNames, fmt.Sprintf("Day %d", d+1))
	}
	v.Width = max(1120, 150*float64(min(v.Days, 60)))
	return v
}

// openHours gives the windows of a machine that start before a minute.
func openHours(p plan.Problem, machine string, before int64, at func(int64) time.Time) (open []drawing.Hours) {
	for _, m := range p.Machines {
		for _, w := range m.Windows {
			if m.ID == machine && w.Start < before {
				open = append(open, drawing.Hours{From: at(w.Start), To: at(w.End)})
			}
		}
	}
	return open
}

// workingDay gives the hours of the day that any window touches.
func workingDay(p plan.Problem) (from, to time.Duration) {
	first, last := int64(1440), int64(0)
	for _, m := range p.Machines {
		for _, w := range m.Windows {
			if w.Start/1440 != (w.End-1)/1440 {
				return 0, 24 * time.Hour
			}
			first, last = min(first, w.Start%1440), max(last, (w.End-1)%1440+1)
		}
	}
	return time.Duration(first) * time.Minute, time.Duration(last) * time.Minute
}

func anyLate(p plan.Problem, at plan.Plan, ids []string) bool {
	for _, l := range p.Lines {
		for _, id := range ids {
			if l.ID != id {
				continue
			}
			if _, job := at.Find(id); job != nil && job.End > l.Due {
				return true
			}
		}
	}
	return false
}
