package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"ribdesk/internal/money"
	"ribdesk/internal/price"
)

func init() {
	register(command{
		name:    "price",
		summary: "price a described order against a described shop",
		usage:   "[--explain] [--json] [--coil X] [--hour X] [--margin POINTS] FILE.json",
		help: `FILE.json holds one input: the rule set, the shop's figures and the order; - reads
it from standard input. Nothing else is read, no database is needed, and the same
file gives the same cents on every machine. testdata/price-example.json is one to
start from; 'go doc ribdesk/internal/price' describes every field, its unit and
where money is rounded.

Both prices are printed side by side: carrying the set-ups alone, and sharing them
as order.sharing says. A field that isn't known, or that can't be read, is named by
its place, lists counted from 1: order.items.2.formed.cuts.1.length.

Flags:
  --explain    the whole build-up of every line and rate
  --json       the quote as JSON
  --coil X     try metal prices times X, such as 1.10
  --hour X     try machine and labor hours times X
  --margin P   try targets P points higher, such as .02 (or -.02)

Examples:
  ribdesk price testdata/price-example.json
  ribdesk price --coil 1.10 --explain testdata/price-example.json
  ribdesk price --json - < order.json`,
		run: runPrice,
	})
}

// rateFlag reads a flag's figure digit by digit.
type rateFlag struct{ rate *money.Rate }

func (f *rateFlag) String() string { return "" }

func (f *rateFlag) Set(s string) error {
	r, err := money.ReadRate(s)
	if err != nil {
		return fmt.Errorf("“%s” isn't a number", s)
	}
	f.rate = &r
	return nil
}

func runPrice(_ context.Context, e env) error {
	fs := flags("price")
	explain := fs.Bool("explain", false, "")
	asJSON := fs.Bool("json", false, "")
	var coil, hour, margin rateFlag
	fs.Var(&coil, "coil", "")
	fs.Var(&hour, "hour", "")
	fs.Var(&margin, "margin", "")
	args, err := parse(fs, e.args, 1, oneFile)
	if err != nil {
		return err
	}
	file, err := openProblem(e.stdin, args[0])
	if err != nil {
		return err
	}
	defer file.Close()
	in, err := price.Decode(file)
	if err != nil {
		return err
	}
	if coil.rate != nil || hour.rate != nil || margin.rate != nil {
		in.WhatIf = &price.Changes{Coil: coil.rate, Hour: hour.rate}
		if margin.rate != nil {
			in.WhatIf.Margin = *margin.rate
		}
	}
	q, err := price.Price(in)
	if err != nil {
		return err
	}
	var out bytes.Buffer
	if *asJSON {
		err = writeJSON(&out, q)
	} else {
		err = printQuote(&out, in, q, *explain)
	}
	if err != nil {
		return err
	}
	_, err = out.WriteTo(e.stdout)
	return err
}

// printQuote writes the quote as tables for a person.
func printQuote(w io.Writer, in price.Input, q price.Quote, explain bool) error {
	fmt.Fprintf(w, "%s priced %s, rule set %d\n\n", orderName(in.Order), in.Order.Day, q.Rules)
	p := quotePrinter{w: w, alone: &q.Alone, shared: q.Shared}
	p.lines()
	p.waterfall()
	p.earnings()
	for _, warning := range q.Warnings {
		fmt.Fprintf(w, "\nLook at %s: %s\n", warning.Field, warning.Text)
	}
	for _, o := range p.offers() {
		if err := o.Release(); err != nil {
			fmt.Fprintf(w, "\nNot to be sold like this: %s\n", err)
		}
	}
	if q.Shared != nil && q.OnCancel == price.ShopCarries {
		fmt.Fprint(w, "\nThe shared price holds if a partner cancels; the shop carries the difference.\n")
	}
	if explain {
		p.explain(q.Rates)
	}
	return nil
}

func orderName(o price.Order) string {
	if o.ID == "" {
		return "Order"
	}
	return "Order " + o.ID
}

// quotePrinter writes one quote's offers side by side.
type quotePrinter struct {
	w             io.Writer
	alone, shared *price.Offer
}

func (p quotePrinter) offers() []*price.Offer {
	if p.shared == nil {
		return []*price.Offer{p.alone}
	}
	return []*price.Offer{p.alone, p.shared}
}

// table writes rows of tab-separated cells: words to the left, figures to the
// right.
func (p quotePrinter) table(rows [][]string) {
	widths := map[int]int{}
	for _, row := range rows {
		for i, cell := range row {
			widths[i] = max(widths[i], len([]rune(cell)))
		}
	}
	for _, row := range rows {
		var b strings.Builder
		for i, cell := range row {
			pad := strings.Repeat(" ", widths[i]-len([]rune(cell)))
			if i == 0 {
				b.WriteString(cell + pad)
				continue
			}
			b.WriteString("  " + pad + cell)
		}
		fmt.Fprintln(p.w, strings.TrimRight(b.String(), " "))
	}
}

// both gives a figure of every offer.
func (p quotePrinter) both(label string, get func(*price.Offer) string) []string {
	row := []string{label, "", "", get(p.alone)}
	if p.shared != nil {
		row = append(row, "", get(p.shared))
	}
	return row
}

func (p quotePrinter) lines() {
	head := []string{"", "quantity", "alone", ""}
	if p.shared != nil {
		head = append(head, "sharing", "")
	}
	rows := [][]string{head}
	for _, pair := range p.pairs() {
		l := pair[0]
		if l == nil {
			l = pair[1]
		}
		row := []string{lineLabel(*l), l.Quantity.Fixed(2) + " " + l.Unit}
		for i := range p.offers() {
			if pair[i] == nil {
				row = append(row, "", "")
				continue
			}
			row = append(row, unitPrice(pair[i].Price), pair[i].Amount.String())
		}
		rows = append(rows, row)
	}
	total := func(label string, get func(*price.Offer) money.Amount) {
		rows = append(rows, p.both(label, func(o *price.Offer) string { return get(o).String() }))
	}
	total("before tax", func(o *price.Offer) money.Amount { return o.Subtotal })
	total("tax", func(o *price.Offer) money.Amount { return o.Tax })
	total("total", func(o *price.Offer) money.Amount { return o.Total })
	if !p.alone.Deposit.IsZero() {
		total("deposit", func(o *price.Offer) money.Amount { return o.Deposit })
		total("balance", func(o *price.Offer) money.Amount { return o.Balance })
	}
	p.table(rows)
	if c := p.alone.Exempt; c != nil {
		fmt.Fprintf(p.w, "No tax in %s by certificate %s, good to %s\n", c.State, c.Number, c.Expires)
	}
}

// pairs puts the two offers' lines of one thing beside each other.
func (p quotePrinter) pairs() [][2]*price.Line {
	var pairs [][2]*price.Line
	used := map[int]bool{}
	shared := p.alone.Lines[:0:0]
	if p.shared != nil {
		shared = p.shared.Lines
	}
	for i := range p.alone.Lines {
		pair := [2]*price.Line{&p.alone.Lines[i], nil}
		for k := range shared {
			if !used[k] && sameThing(p.alone.Lines[i], shared[k]) {
				pair[1], used[k] = &shared[k], true
				break
			}
		}
		pairs = append(pairs, pair)
	}
	for k := range shared {
		if !used[k] {
			pairs = append(pairs, [2]*price.Line{nil, &shared[k]})
		}
	}
	return pairs
}

func sameThing(a, b price.Line) bool {
	return a.Kind == b.Kind && a.Item == b.Item && a.Label == b.Label && a.Pieces == b.Pieces && a.Length == b.Length && a.TaxClass == b.TaxClass
}

func lineLabel(l price.Line) string {
	switch {
	case l.Pieces > 0 && l.Length > 0:
		return fmt.Sprintf("%s, %d @ %s", l.Label, l.Pieces, l.Length.FeetInches(16))
	case l.Kind == price.DiscountLine && l.TaxClass != price.Goods:
		return l.Label + ", " + l.TaxClass
	}
	return l.Label
}

// unitPrice writes a unit price with two decimals at least.
func unitPrice(r money.Rate) string {
	if s := r.Fixed(2); money.Must(s).Cmp(r) == 0 {
		return s
	}
	return r.String()
}

func (p quotePrinter) waterfall() {
	for i, o := range p.offers() {
		fmt.Fprintf(p.w, "\nHow the price builds up, %s\n", []string{"alone", "sharing"}[i])
		rows := [][]string{}
		for _, f := range o.Waterfall() {
			label := "  " + f.Label
			if f.Total {
				label = f.Label
			}
			rows = append(rows, []string{label, f.Value.Fixed(2)})
		}
		p.table(rows)
	}
}

func (p quotePrinter) earnings() {
	fmt.Fprintln(p.w)
	rows := [][]string{
		p.both("margin on goods, %", func(o *price.Offer) string { return o.Margin.Mul(money.Int(100)).Fixed(2) }),
		p.both("floor", func(o *price.Offer) string { return o.Floor.Least.String() }),
		p.both("weight, lb", func(o *price.Offer) string { return o.Weight.Fixed(1) }),
	}
	for i, c := range p.alone.Contributions {
		rows = append(rows, p.both("contribution an hour, "+c.Center, func(o *price.Offer) string { return o.Contributions[i].PerHour.Fixed(2) }))
	}
	p.table(rows)
}

func (p quotePrinter) explain(rates []*price.Node) {
	for i, o := range p.offers() {
		fmt.Fprintf(p.w, "\nEvery line, %s\n", []string{"alone", "sharing"}[i])
		for _, l := range o.Lines {
			p.tree(l.Build)
		}
	}
	fmt.Fprint(p.w, "\nWhat rates are made of\n")
	for _, n := range rates {
		p.tree(n)
	}
}

func (p quotePrinter) tree(n *price.Node) {
	tw := tabwriter.NewWriter(p.w, 0, 0, 2, ' ', 0)
	n.Walk(func(n *price.Node, depth int) {
		fmt.Fprintf(tw, "%s%s\t%s %s\t%s\n", strings.Repeat("  ", depth), n.Label, n.Value.Fixed(4), n.Unit, n.How)
	})
	tw.Flush()
}
