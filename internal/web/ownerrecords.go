package web

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/figures"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
)

// recordsPage lists the records behind one of the owner's figures; their sums
// are the figure.
type recordsPage struct {
	Base
	View  figureView
	Table recordTable
	Also  []Link
}

func (recordsPage) file() string { return "records" }

// recordTable is the records of a figure: the page shows it and the CSV holds it.
type recordTable struct {
	Heads []recordHead
	Rows  [][]recordCell
	Sums  []recordCell // under the columns, empty where nothing is summed
	Empty string
}

// recordHead names a column, for people and for a spreadsheet.
type recordHead struct {
	Name   string
	CSV    string
	Figure bool
}

// recordCell is one value: as it reads, as a spreadsheet takes it, and where it
// leads.
type recordCell struct {
	Text  string
	Plain string // as Text unless set
	Path  string
}

func textCell(s string) recordCell         { return recordCell{Text: s} }
func countCell(n int) recordCell           { return recordCell{Text: strconv.Itoa(n)} }
func hoursCell(n int) recordCell           { return recordCell{Text: hourMinutes(n), Plain: strconv.Itoa(n)} }
func moneyCell(a money.Amount) recordCell  { return recordCell{Text: a.String(), Plain: a.Plain()} }
func feetCell(l measure.Length) recordCell { return recordCell{Text: wholeFeet(l), Plain: l.Feet()} }

func linkCell(path, text string) recordCell { return recordCell{Text: text, Path: path} }

func orderCell(id int64, number string) recordCell { return linkCell(recordPath("order", id), number) }

func (o ownerView) moment(t time.Time) recordCell {
	if t.IsZero() {
		return recordCell{}
	}
	t = t.In(o.r.Zone)
	return recordCell{Text: t.Format("Jan 2, 3:04 PM"), Plain: t.Format(time.RFC3339)}
}

func (o ownerView) date(t time.Time) recordCell {
	if t.IsZero() {
		return recordCell{}
	}
	t = t.In(o.r.Zone)
	return recordCell{Text: t.Format("Jan 2, 2006"), Plain: t.Format(time.DateOnly)}
}

// behind are the figures that open into records, with their tables.
var behind = map[string]struct {
	view  func(ownerView) figureView
	table func(ownerView) recordTable
}{
	"hours":        {ownerView.hours, ownerView.hourRecords},
	"contribution": {ownerView.contribution, ownerView.contributionRecords},
	"lines":        {ownerView.changeovers, ownerView.lineRecords},
	"promises":     {ownerView.promises, ownerView.promiseRecords},
	"quotes":       {ownerView.quotes, ownerView.quoteRecords},
	"coils":        {ownerView.coils, ownerView.coilRecords},
	"payback":      {ownerView.payback, ownerView.paybackRecords},
}

// recordsAsked gives the figure that the address names with its records.
func (v *visit) recordsAsked() (name string, page *recordsPage, p figures.Period, err error) {
	name = v.c.Param("figure")
	of, ok := behind[name]
	if !ok {
		return name, nil, p, fault.NotFoundf("there is no such figure")
	}
	r, p, err := v.looksBack()
	if err != nil {
		return name, nil, p, err
	}
	o := ownerView{r, p}
	return name, &recordsPage{View: of.view(o), Table: of.table(o)}, p, nil
}

func showRecords(v *visit) error {
	name, page, p, err := v.recordsAsked()
	if err != nil {
		return err
	}
	page.Base = v.todayBase(page.View.Title, "/today/"+name, p)
	page.Block.Thing = "Records of a figure"
	back := "?of=" + string(p.Stretch)
	page.Also = []Link{{Name: "All figures", Path: "/today" + back}}
	if name == "hours" {
		page.Also = append(page.Also, Link{Name: "The lines behind the hours sold", Path: "/today/lines" + back})
	}
	return v.show(page)
}

func sendRecords(v *visit) error {
	name, page, p, err := v.recordsAsked()
	if err != nil {
		return err
	}
	return v.sendCSV(name+"-"+string(p.Stretch)+".csv", page.Table.plain())
}

// plain gives the table as a spreadsheet takes it, without the sums.
func (t recordTable) plain() [][]string {
	head := make([]string, len(t.Heads))
	for i, h := range t.Heads {
		head[i] = h.CSV
	}
	rows := [][]string{head}
	for _, cells := range t.Rows {
		row := make([]string, len(cells))
		for i, c := range cells {
			if row[i] = c.Plain; c.Plain == "" {
				row[i] = c.Text
			}
		}
		rows = append(rows, row)
	}
	return rows
}

func (o ownerView) hourRecords() recordTable {
	t := recordTable{Heads: []recordHead{{"Day", "day", false}, {"Machine", "machine", false}, {"Open", "open_minutes", true}, {"Own jobs", "own_minutes", true},
		{"Out of use", "out_minutes", true}, {"Sold", "sold_minutes", true}, {"Idle", "idle_minutes", true}}, Empty: "No machine was open in this time."}
	uses := o.r.Hours(o.p)
	for _, u := range uses {
		for _, d := range u.Days {
			t.Rows = append(t.Rows, []recordCell{o.date(d.Date), textCell(u.Machine.Name), hoursCell(d.Open), hoursCell(d.Own), hoursCell(d.Out), hoursCell(d.Sold), hoursCell(d.Left())})
		}
	}
	all := figures.Together(uses)
	t.Sums = []recordCell{textCell("Sum"), {}, hoursCell(all.Open), hoursCell(all.Own), hoursCell(all.Out), hoursCell(all.Sold), hoursCell(all.Left())}
	return t
}

func (o ownerView) lineRecords() recordTable {
	t := recordTable{Heads: []recordHead{{"Order", "order", false}, {"What", "what", false}, {"Machine", "machine", false}, {"Made", "made_at", false}, {"Changeover", "changeover_minutes", true},
		{"Run", "run_minutes", true}, {"Together", "minutes", true}, {"Saved, min", "saved_minutes", true}, {"Worth", "saved_worth", true}}, Empty: "No line was made in this time."}
	lines := o.r.WorkIn(o.p)
	run := 0
	for _, w := range lines {
		run += w.Run
		t.Rows = append(t.Rows, []recordCell{orderCell(w.OrderID, w.Order), textCell(w.What), textCell(w.Machine), o.moment(w.Done),
			hoursCell(w.Change), hoursCell(w.Run), hoursCell(w.Minutes()), countCell(w.Saved), moneyCell(w.SavedCost)})
	}
	s := o.r.Saved(lines)
	t.Sums = []recordCell{textCell("Sum"), {}, {}, {}, hoursCell(s.Spent), hoursCell(run), hoursCell(s.Spent + run), countCell(s.Minutes), moneyCell(s.Worth)}
	return t
}

func (o ownerView) contributionRecords() recordTable {
	t := recordTable{Heads: []recordHead{{"Order", "order", false}, {"Customer", "customer", false}, {"First invoice", "first_invoice", false}, {"Net", "net", true}, {"Metal", "metal", true},
		{"Accessories", "accessories", true}, {"Packing", "packing", true}, {"Running", "running", true}, {"Contribution", "contribution", true}, {"Hours", "minutes", true}, {"An hour", "per_hour", true}},
		Empty: "Nothing was invoiced in this time."}
	orders, loose := o.r.Earned(o.p), o.r.Loose(o.p)
	for _, e := range orders {
		name := textCell(e.Customer)
		if e.Open {
			name = textCell(strings.TrimSpace(e.Customer + " (invoiced in part)"))
		}
		t.Rows = append(t.Rows, []recordCell{orderCell(e.OrderID, e.Order), name, o.date(e.First), moneyCell(e.Net), moneyCell(e.Metal), moneyCell(e.Goods), moneyCell(e.Packing), moneyCell(e.Running),
			moneyCell(e.Left), hoursCell(e.Worked()), moneyCell(figures.PerHour(e.Left, e.Worked()))})
	}
	zero := money.Cents(0, o.r.Currency)
	for _, d := range loose {
		cost := o.r.ScrapCost(d)
		t.Rows = append(t.Rows, []recordCell{linkCell(recordPath("coil", d.CoilID), d.Tag), textCell("scrap: " + d.Reason), o.date(d.At), moneyCell(zero), moneyCell(cost), moneyCell(zero), moneyCell(zero), moneyCell(zero),
			moneyCell(cost.Neg()), hoursCell(0), moneyCell(zero)})
	}
	c := o.r.Contributed(orders, loose)
	t.Sums = []recordCell{textCell("Sum"), {}, {}, moneyCell(c.Net), moneyCell(c.Metal.Add(c.Scrap)), moneyCell(c.Goods), moneyCell(c.Packing), moneyCell(c.Running), moneyCell(c.Left), hoursCell(c.Minutes), moneyCell(c.PerHour())}
	return t
}

func (o ownerView) promiseRecords() recordTable {
	t := recordTable{Heads: []recordHead{{"Order", "order", false}, {"Customer", "customer", false}, {"Promised first", "promised_first", false}, {"Moved to", "moved_to", false},
		{"Handed over or ready", "came", false}, {"Days late", "days_late", true}, {"On time", "on_time", true}}, Empty: "No promised order was ready or handed over in this time."}
	list := o.r.HandedIn(o.p)
	for _, h := range list {
		onTime := 0
		if h.OnTime(o.r.Zone) {
			onTime = 1
		}
		t.Rows = append(t.Rows, []recordCell{orderCell(h.OrderID, h.Order), textCell(h.Customer), o.date(h.Promised), o.date(h.Moved), o.date(h.At), countCell(h.DaysLate(o.r.Zone)), countCell(onTime)})
	}
	n := o.r.Punctual(list)
	t.Sums = []recordCell{textCell(fmt.Sprintf("%d orders", n.Of)), {}, {}, {}, {}, {}, countCell(n.OnTime)}
	return t
}

func (o ownerView) quoteRecords() recordTable {
	t := recordTable{Heads: []recordHead{{"Order", "order", false}, {"Customer", "customer", false}, {"Answered", "answered", false}, {"Ended", "ended", false}, {"Total with tax", "total", true}, {"Won", "won", true}},
		Empty: "No quote was answered in this time."}
	answers := o.r.AnswersIn(o.p)
	sum := money.Cents(0, o.r.Currency)
	for _, a := range answers {
		won := 0
		if a.Outcome == figures.Won {
			won = 1
		}
		sum = sum.Add(a.Total)
		t.Rows = append(t.Rows, []recordCell{orderCell(a.OrderID, a.Order), textCell(a.Customer), o.moment(a.At), textCell(endingWords(a.Outcome, a.Why.Words())), moneyCell(a.Total), countCell(won)})
	}
	won, of := figures.WonOf(o.r.Endings(answers))
	t.Sums = []recordCell{textCell(fmt.Sprintf("%d quotes", of)), {}, {}, {}, moneyCell(sum), countCell(won)}
	return t
}

func (o ownerView) coilRecords() recordTable {
	t := recordTable{Heads: []recordHead{{"Coil", "coil", false}, {"Strip", "strip", false}, {"On hand, ft", "on_hand_ft", true}, {"A foot", "per_foot", true}, {"Value", "value", true}, {"Strip lasts, days", "strip_days_on_hand", true}},
		Empty: "No coil is on hand."}
	list, days := o.r.Stock()
	var feet measure.Length
	for _, s := range list {
		lasts := textCell("not used")
		if n, ok := s.DaysOnHand(days); ok {
			lasts = countCell(n)
		}
		for _, c := range s.Coils {
			feet += c.OnHand
			t.Rows = append(t.Rows, []recordCell{linkCell(recordPath("coil", c.ID), c.Tag), textCell(s.Name), feetCell(c.OnHand), textCell(c.PerFoot().Fixed(4)), moneyCell(c.Value(o.r.Currency)), lasts})
		}
	}
	value, lasts, used := o.r.AllStock(list, days)
	t.Sums = []recordCell{textCell("Sum"), {}, feetCell(feet), {}, moneyCell(value), {}}
	if used {
		t.Sums[5] = countCell(lasts)
	}
	return t
}

func (o ownerView) paybackRecords() recordTable {
	t := recordTable{Heads: []recordHead{{"Machine", "machine", false}, {"Order", "order", false}, {"Customer", "customer", false}, {"First invoice", "first_invoice", false}, {"Order's contribution", "contribution", true},
		{"Hours here", "minutes_here", true}, {"Earned here", "earned_here", true}}, Empty: "No machine with a known price earned anything yet."}
	sum := money.Cents(0, o.r.Currency)
	minutes := 0
	for _, b := range o.r.Paybacks() {
		for _, s := range b.Shares {
			sum, minutes = sum.Add(s.Of), minutes+s.Minutes
			t.Rows = append(t.Rows, []recordCell{textCell(b.Machine.Name), orderCell(s.OrderID, s.Order), textCell(s.Customer), o.date(s.First), moneyCell(s.Left), hoursCell(s.Minutes), moneyCell(s.Of)})
		}
	}
	t.Sums = []recordCell{textCell("Sum"), {}, {}, {}, {}, hoursCell(minutes), moneyCell(sum)}
	return t
}

// sendOwedCSV gives the open items, the ones due first in front.
func sendOwedCSV(v *visit) error {
	r, err := v.desk.Receivables(v.ctx(), v.actor)
	if err != nil {
		return err
	}
	rows := [][]string{{"number", "kind", "customer", "date", "due", "days_late", "original", "open", "currency"}}
	for _, o := range r.Owed {
		rows = append(rows, []string{o.Number, string(o.Kind), o.Name, o.Day.Format(time.DateOnly), o.Due.Format(time.DateOnly), strconv.Itoa(o.DaysLate), o.Original.Plain(), o.Open.Plain(), string(o.Open.Currency())})
	}
	return v.sendCSV("owed.csv", rows)
}
