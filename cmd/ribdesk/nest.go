package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"
	"time"

	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/nest"
	"ribdesk/internal/nestview"
)

func init() {
	register(command{
		name:    "nest",
		summary: "allocate panels to coils, or nest and slit trim blanks",
		usage:   "[--json | --svg] [--budget 1s] [--seed N] [--iterations N] FILE.json",
		help: `FILE.json holds one problem of one group of equal material; - reads it from
standard input. Kind "coil" cuts panels from coils (lengths in 1/8 in), kind "trim"
slits and cross-cuts blanks from sheet or coil (lengths in 1/16 in); money is in
thousandths of a cent. 'go doc ribdesk/internal/nest' describes every field.

The table says what is cut from each coil or sheet, what is left, what is short and
what to buy, what the plan costs, and what no plan can go below.

Flags:
  --json          the plan with cost, bound, status and seconds as JSON
  --svg           the plan drawn to scale
  --budget 1s     longest search time
  --seed N        of the random choices; the default is 1
  --iterations N  search steps in place of the clock, for the same plan everywhere

Examples:
  ribdesk nest testdata/nest-coil-example.json
  ribdesk nest --svg testdata/nest-trim-example.json > patterns.svg
  ribdesk nest --json --iterations 20000 - < week.json`,
		run: runNest,
	})
}

func runNest(ctx context.Context, e env) error {
	s, file, err := readSearch("nest", e.args)
	if err != nil {
		return err
	}
	in, err := openProblem(e.stdin, file)
	if err != nil {
		return err
	}
	defer in.Close()
	coil, trim, err := nest.Decode(in)
	if err != nil {
		return err
	}
	set := nest.Settings{Budget: s.budget, Iterations: s.iterations, Seed: s.seed}
	began := time.Now()
	var a nestAnswer
	if coil != nil {
		a, err = allocate(ctx, coil, set)
	} else {
		a, err = nestTrim(ctx, trim, set)
	}
	if err != nil {
		return err
	}
	var out bytes.Buffer
	switch {
	case s.json:
		err = writeJSON(&out, a.answer(time.Since(began).Round(time.Millisecond).Seconds()))
	case s.svg:
		out.WriteString(a.svg())
	default:
		err = a.table(&out)
	}
	if err != nil {
		return err
	}
	_, err = out.WriteTo(e.stdout)
	return err
}

// nestAnswer is a plan in the three ways of writing it.
type nestAnswer interface {
	answer(seconds float64) any
	svg() string
	table(w io.Writer) error
}

// nestFacts end every JSON answer.
type nestFacts struct {
	Cost    int64       `json:"cost"`
	Bound   int64       `json:"bound"`
	Status  nest.Status `json:"status"`
	Seconds float64     `json:"seconds"`
}

func factsOf(r nest.Report, seconds float64) nestFacts {
	return nestFacts{r.Cost, r.Bound, r.Status, seconds}
}

// millicents writes an exact count of thousandths of a cent to the nearest cent.
func millicents(n int64) string {
	if n < 0 {
		return "-" + millicents(-n)
	}
	return money.Cents((n+500)/1000, money.USD).Format()
}

// costWords says what a plan costs and how good that is.
func costWords(w io.Writer, r nest.Report) {
	switch {
	case r.Status == nest.Optimal:
		fmt.Fprintf(w, "Cost %s; no plan costs less.\n", millicents(r.Cost))
	default:
		fmt.Fprintf(w, "Cost %s; no plan costs less than %s, so at most %.1f %% could still be saved.\n",
			millicents(r.Cost), millicents(r.Bound), savable(r))
	}
	if r.Stopped == nest.Cancelled {
		fmt.Fprintln(w, "The search was called off; this is the best plan until then.")
	}
}

// savable is the part of the cost above the bound, in percent.
func savable(r nest.Report) float64 {
	if r.Cost <= r.Bound || r.Cost == 0 {
		return 0
	}
	return 100 * float64(r.Cost-r.Bound) / float64(r.Cost)
}

// coilAnswer is a plan for problem A.
type coilAnswer struct {
	p *nest.CoilProblem
	r *nest.CoilResult
}

func allocate(ctx context.Context, p *nest.CoilProblem, s nest.Settings) (nestAnswer, error) {
	r, err := nest.Allocate(ctx, p, s)
	if err != nil {
		return nil, err
	}
	if cost, err := nest.CheckCoils(p, r.Cuts); err != nil || cost != r.Cost {
		return nil, fmt.Errorf("the plan doesn't hold: cost %d, checked %d: %w", r.Cost, cost, err)
	}
	return coilAnswer{p, r}, nil
}

func (a coilAnswer) answer(seconds float64) any {
	return struct {
		ID   string     `json:"id"`
		Cuts []nest.Cut `json:"cuts"`
		nestFacts
	}{a.p.ID, a.r.Cuts, factsOf(a.r.Report, seconds)}
}

func (a coilAnswer) svg() string {
	return string(nestview.Stack("Coils of "+a.p.ID, a.headline(), nestview.Coils(a.r)))
}

func (a coilAnswer) headline() string {
	var cut, short int64
	for _, c := range a.r.Cuts {
		cut += c.Qty
	}
	for _, s := range a.r.Short {
		short += s.Pieces
	}
	return fmt.Sprintf("%d of %d coils used, %d pieces cut, %d short", len(a.r.Coils), len(a.p.Coils), cut, short)
}

func (a coilAnswer) table(w io.Writer) error {
	fmt.Fprintf(w, "%s: %s\n\n", a.p.ID, a.headline())
	tw := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(tw, "coil\tlot\tpieces\tlength\tline\torder\tend")
	for _, u := range a.r.Coils {
		for i, x := range u.Pieces {
			coil, lot, end := u.Coil.ID, u.Coil.Lot, ""
			if i > 0 {
				coil, lot = "", ""
			}
			if i == len(u.Pieces)-1 {
				end = nestview.EndWords(u)
			}
			fmt.Fprintf(tw, "%s\t%s\t%d\t%s\t%s\t%s\t%s\n", coil, lot, x.Pieces,
				nestview.Eighths(x.Line.Length).FeetInches(8), x.Line.ID, x.Line.Order, end)
		}
	}
	if err := tw.Flush(); err != nil {
		return err
	}
	fmt.Fprintln(w)
	for _, s := range a.r.Short {
		fmt.Fprintf(w, "Short: %d × %s of line %s, order %s\n", s.Pieces,
			nestview.Eighths(s.Line.Length).FeetInches(8), s.Line.ID, s.Line.Order)
	}
	if b := a.r.Buy; b.Pieces > 0 {
		fmt.Fprintf(w, "Buy at least %s: %s for pieces and %s for threading and tail\n", nestview.Eighths(b.Length).Format(measure.StyleFeet),
			nestview.Eighths(b.Strip).Format(measure.StyleFeet), nestview.Eighths(b.Lead).Format(measure.StyleFeet))
	}
	for _, s := range a.r.Warnings {
		fmt.Fprintln(w, s)
	}
	costWords(w, a.r.Report)
	return nil
}

// trimAnswer is a plan for problem B.
type trimAnswer struct {
	p *nest.TrimProblem
	r *nest.TrimResult
}

func nestTrim(ctx context.Context, p *nest.TrimProblem, s nest.Settings) (nestAnswer, error) {
	r, err := nest.Nest(ctx, p, s)
	if err != nil {
		return nil, err
	}
	if r.Status != nest.Infeasible {
		if cost, err := nest.CheckTrim(p, r.Runs); err != nil || cost != r.Cost {
			return nil, fmt.Errorf("the plan doesn't hold: cost %d, checked %d: %w", r.Cost, cost, err)
		}
	}
	return trimAnswer{p, r}, nil
}

func (a trimAnswer) answer(seconds float64) any {
	return struct {
		ID   string     `json:"id"`
		Runs []nest.Run `json:"runs"`
		nestFacts
	}{a.p.ID, a.r.Runs, factsOf(a.r.Report, seconds)}
}

func (a trimAnswer) svg() string {
	return string(nestview.Stack("Slit patterns of "+a.p.ID, a.headline(), nestview.Runs(a.p, a.r)))
}

func (a trimAnswer) headline() string {
	s := fmt.Sprintf("%d sheets or coil cuts, %d set-ups", a.r.Sheets, a.r.Setups)
	if a.r.Stock > 0 {
		s += fmt.Sprintf(", %.1f %% of the metal in blanks", 100*float64(a.r.Blanks)/float64(a.r.Stock))
	}
	return s
}

func (a trimAnswer) table(w io.Writer) error {
	fmt.Fprintf(w, "%s: %s\n\n", a.p.ID, a.headline())
	items := map[string]nest.Item{}
	for _, t := range a.p.Items {
		items[t.ID] = t
	}
	tw := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(tw, "run\ttimes\tstock\tlength\tstrips\tgirth\tcut each into")
	for i, run := range a.r.Runs {
		lead := fmt.Sprintf("%d\t%d\t%s\t%s", i+1, run.Times, run.Stock, nestview.Sixteenths(run.Length).FeetInches(16))
		for _, s := range run.Strips {
			var pieces []string
			for _, x := range s.Pieces {
				t := items[x.Item]
				pieces = append(pieces, fmt.Sprintf("%d × %s %s", x.Qty, nestview.Name(t), nestview.Sixteenths(t.Length).FeetInches(16)))
			}
			if len(pieces) == 0 {
				pieces = []string{"nothing; spare strip"}
			}
			fmt.Fprintf(tw, "%s\t%d\t%s\t%s\n", lead, s.Count, nestview.Across(nestview.Sixteenths(s.Girth)), strings.Join(pieces, ", "))
			lead = "\t\t\t"
		}
	}
	if err := tw.Flush(); err != nil {
		return err
	}
	fmt.Fprintln(w)
	for _, x := range a.r.Extra {
		fmt.Fprintf(w, "Made beyond the order: %d × %s\n", x.Pieces, nestview.Name(x.Item))
	}
	for _, x := range a.r.Missing {
		fmt.Fprintf(w, "Not made, for want of stock: %d × %s\n", x.Pieces, nestview.Name(x.Item))
	}
	costWords(w, a.r.Report)
	return nil
}
