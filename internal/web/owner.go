package web

import (
	"fmt"
	"html/template"
	"strconv"
	"strings"

	"ribdesk/internal/desk"
	"ribdesk/internal/drawing"
	"ribdesk/internal/fault"
	"ribdesk/internal/figures"
	"ribdesk/internal/money"
	"ribdesk/internal/words"
)

// todayPage is what the owner opens first: what waits for them, and how the shop
// does, in pictures that open into their records.
type todayPage struct {
	Base
	Needs   []need
	Figures []figureView
	Period  string
}

func (todayPage) file() string { return "today" }

// need is one kind of thing that waits, with the first of its records.
type need struct {
	N     int
	Words string
	Path  string // of all of them
	First []Link
}

// More is how many aren't named.
func (n need) More() int { return n.N - len(n.First) }

// figureView is one figure with its picture for a desk and for a phone.
type figureView struct {
	Name         string // in the address
	Title        string
	Headline     string
	Beside       string // the rest of the sentence
	Wide, Narrow template.HTML
	Empty        string // said instead of a picture
	Means        string // how it is worked out
	Path         string // of its records
	CSV          string
}

func showToday(v *visit) error {
	r, p, err := v.looksBack()
	if err != nil {
		return err
	}
	page := &todayPage{Base: v.todayBase("Today", "/today", p), Period: p.Stretch.Words()}
	m, err := v.desk.Morning(v.ctx(), v.actor)
	if err != nil {
		return err
	}
	page.Needs = v.needsOf(m, page)
	owed, err := v.desk.Receivables(v.ctx(), v.actor)
	if err != nil {
		return err
	}
	view := ownerView{r, p}
	page.Figures = []figureView{
		view.hours(), view.contribution(), view.changeovers(), view.promises(), view.quotes(), owedView(owed), view.coils(), view.payback(),
	}
	return v.show(page)
}

// looksBack reads the records and the period that the address names.
func (v *visit) looksBack() (figures.Records, figures.Period, error) {
	r, err := v.desk.OwnerRecords(v.ctx(), v.actor)
	if err != nil {
		return r, figures.Period{}, err
	}
	stretch := v.query("of")
	if stretch == "" {
		stretch = string(figures.Month)
	}
	for _, s := range figures.Stretches {
		if string(s) == stretch {
			return r, figures.PeriodOf(s, r.First, r.Now, r.Zone), nil
		}
	}
	return r, figures.Period{}, fault.NotFoundf("the page looks back on a week, month, quarter, year or to the start")
}

// todayBase dresses a page of the owner's with the choice of a period.
func (v *visit) todayBase(title, path string, p figures.Period) Base {
	b := Base{Title: title, Sheet: "Today", Block: Block{State: p.Stretch.Words()}}
	for _, s := range figures.Stretches {
		words := s.Words()
		b.Tabs = append(b.Tabs, Link{Name: strings.ToUpper(words[:1]) + words[1:], Path: path + "?of=" + string(s), Here: s == p.Stretch})
	}
	return b
}

// ownerView turns records of a period into pictures and tables.
type ownerView struct {
	r figures.Records
	p figures.Period
}

func (o ownerView) view(name, title string) figureView {
	at := "/today/" + name
	of := "?of=" + string(o.p.Stretch)
	return figureView{Name: name, Title: title, Means: means[name], Path: at + of, CSV: at + "/records.csv" + of}
}

const (
	wideFigure   = 500
	narrowFigure = 296
)

// draw draws the figure in both sizes.
func (f *figureView) draw(picture func(id string, width float64) drawing.Picture) {
	f.Wide, f.Narrow = picture(f.Name+"0", wideFigure).SVG(), picture(f.Name+"1", narrowFigure).SVG()
}

func (f *figureView) stacked(s drawing.Stack) {
	s.Title = f.Title
	f.draw(func(id string, width float64) drawing.Picture {
		s.ID, s.Width = id, width
		return s.Picture()
	})
}

func (f *figureView) barred(b drawing.Bars) {
	b.Title = f.Title
	f.draw(func(id string, width float64) drawing.Picture {
		b.ID, b.Width = id, width
		return b.Picture()
	})
}

// hourMinutes writes minutes as hours: 12:05.
func hourMinutes(n int) string {
	if n < 0 {
		return "-" + hourMinutes(-n)
	}
	return fmt.Sprintf("%d:%02d", n/60, n%60)
}

// shareOf writes a part of a whole in whole percents.
func shareOf(part, whole int) string {
	if whole <= 0 {
		return "–"
	}
	return money.Fraction(int64(100*part), int64(whole)).Shorten(0).String() + " %"
}

func (o ownerView) hours() figureView {
	f := o.view("hours", "Idle hours sold")
	uses := o.r.Hours(o.p)
	all := figures.Together(uses)
	f.Headline = hourMinutes(all.Sold)
	f.Beside = fmt.Sprintf("hours of %s that the own jobs left, %s", hourMinutes(all.Free()), shareOf(all.Sold, all.Free()))
	s := drawing.Stack{Key: []drawing.StackKey{{Kind: drawing.StackSolid, Name: "sold"}, {Kind: drawing.StackShade, Name: "own jobs"}, {Kind: drawing.StackHatched, Name: "out of use"}, {Kind: drawing.StackOpen, Name: "idle"}}}
	for _, u := range uses {
		s.Rows = append(s.Rows, drawing.StackRow{Label: u.Machine.Name, Figure: shareOf(u.Sold, u.Free()), Parts: []drawing.StackPart{
			{Kind: drawing.StackSolid, Share: float64(u.Sold)}, {Kind: drawing.StackShade, Share: float64(u.Own)},
			{Kind: drawing.StackHatched, Share: float64(u.Out)}, {Kind: drawing.StackOpen, Share: float64(u.Idle())},
		}})
		s.Desc += fmt.Sprintf("%s: %s sold, %s own jobs, %s out of use, %s idle of %s open. ", u.Machine.Name, hourMinutes(u.Sold), hourMinutes(u.Own), hourMinutes(u.Out), hourMinutes(u.Idle()), hourMinutes(u.Open))
	}
	f.stacked(s)
	return f
}

func (o ownerView) contribution() figureView {
	f := o.view("contribution", "Contribution per machine hour")
	orders := o.r.Earned(o.p)
	c := o.r.Contributed(orders, o.r.Loose(o.p))
	f.Headline = c.PerHour().Format()
	f.Beside = fmt.Sprintf("an hour: %s in %s hours, from %d orders", c.Left.Format(), hourMinutes(c.Minutes), len(orders))
	if len(orders) == 0 {
		f.Empty = "Nothing was invoiced in this time."
		return f
	}
	w := drawing.Waterfall{Title: f.Title, Desc: "From what was invoiced down to what is left of it."}
	w.Steps = append(w.Steps, drawing.Step{Label: "invoiced", Figure: c.Net.Format(), Share: c.Net.Rate().Float(), Sum: true})
	for _, cost := range []struct {
		label  string
		amount money.Amount
	}{{"metal", c.Metal}, {"accessories", c.Goods}, {"packing", c.Packing}, {"running", c.Running}, {"loose scrap", c.Scrap}} {
		if !cost.amount.IsZero() {
			off := cost.amount.Neg()
			w.Steps = append(w.Steps, drawing.Step{Label: cost.label, Figure: off.Format(), Share: off.Rate().Float()})
		}
	}
	w.Steps = append(w.Steps, drawing.Step{Label: "contribution", Figure: c.Left.Format(), Share: c.Left.Rate().Float(), Sum: true})
	f.draw(func(id string, width float64) drawing.Picture {
		w.ID, w.Width = id, width
		return w.Picture()
	})
	return f
}

func (o ownerView) changeovers() figureView {
	f := o.view("lines", "Changeover minutes saved")
	lines := o.r.WorkIn(o.p)
	s := o.r.Saved(lines)
	f.Headline = strconv.Itoa(s.Minutes)
	f.Beside = fmt.Sprintf("minutes less than first come, first served, worth %s", s.Worth.Format())
	if len(lines) == 0 {
		f.Empty = "No line was made in this time."
		return f
	}
	f.barred(drawing.Bars{Desc: "Minutes of changeover, first come, first served and as it was done.", Bars: []drawing.Bar{
		{Label: "first come, first served", Figure: fmt.Sprintf("%d min", s.Spent+s.Minutes), Share: float64(max(0, s.Spent+s.Minutes))},
		{Label: "as planned", Figure: fmt.Sprintf("%d min", s.Spent), Share: float64(s.Spent)},
	}})
	return f
}

func (o ownerView) promises() figureView {
	f := o.view("promises", "On time")
	list := o.r.HandedIn(o.p)
	n := o.r.Punctual(list)
	f.Headline = shareOf(n.OnTime, n.Of)
	f.Beside = fmt.Sprintf("%d of %d orders by the day first promised", n.OnTime, n.Of)
	if n.Of == 0 {
		f.Empty = "No promised order was ready or handed over in this time."
		return f
	}
	late := [4]int{n.OnTime}
	for _, h := range list {
		switch d := h.DaysLate(o.r.Zone); {
		case d == 1:
			late[1]++
		case d > 1 && d <= 3:
			late[2]++
		case d > 3:
			late[3]++
		}
	}
	b := drawing.Bars{}
	for i, label := range []string{"on time", "1 day late", "2–3 days late", "later"} {
		b.Bars = append(b.Bars, drawing.Bar{Label: label, Figure: strconv.Itoa(late[i]), Share: float64(late[i]), Alert: i > 0 && late[i] > 0})
		b.Desc += fmt.Sprintf("%s: %d. ", label, late[i])
	}
	f.barred(b)
	return f
}

// endingWords says how a quote ended.
func endingWords(e figures.Outcome, why string) string {
	switch {
	case e == figures.Lapsed:
		return "lapsed without an answer"
	case e == figures.Lost:
		return "declined: " + why
	}
	return string(e)
}

func (o ownerView) quotes() figureView {
	f := o.view("quotes", "Quotes won")
	endings := o.r.Endings(o.r.AnswersIn(o.p))
	won, of := figures.WonOf(endings)
	f.Headline = shareOf(won, of)
	f.Beside = fmt.Sprintf("%d of %d quotes that were answered or lapsed", won, of)
	if of == 0 {
		f.Empty = "No quote was answered in this time."
		return f
	}
	b := drawing.Bars{}
	for _, e := range endings {
		label := shortEnding(e)
		b.Bars = append(b.Bars, drawing.Bar{Label: label, Figure: fmt.Sprintf("%d, %s", e.N, e.Total.Format()), Share: float64(e.N)})
		b.Desc += fmt.Sprintf("%s: %d for %s. ", endingWords(e.Outcome, e.Why.Words()), e.N, e.Total.Format())
	}
	f.barred(b)
	return f
}

// shortEnding labels a bar.
func shortEnding(e figures.Ending) string {
	switch e.Outcome {
	case figures.Won:
		return "accepted"
	case figures.Lapsed:
		return "lapsed"
	}
	return "declined: " + string(e.Why)
}

func owedView(r desk.Receivables) figureView {
	f := figureView{Name: "owed", Title: "Receivables by age", Headline: r.Ageing.Total().Format(), Means: means["owed"], Path: "/books", CSV: "/books/owed.csv"}
	f.Beside = fmt.Sprintf("owed in %d open items, %s of it past due", len(r.Owed), r.Ageing.PastDue().Format())
	if len(r.Owed) == 0 {
		f.Headline, f.Empty = "Nothing", "Nobody owes anything."
		return f
	}
	f.draw(func(id string, width float64) drawing.Picture { return ageingBars(r.Ageing, id, width, words.Reader{}) })
	return f
}

// mostStrips are drawn one by one; the others share a bar.
const mostStrips = 6

func (o ownerView) coils() figureView {
	f := o.view("coils", "Coil on hand")
	list, days := o.r.Stock()
	value, lasts, used := o.r.AllStock(list, days)
	f.Headline, f.Beside = value.Format(), "at what it cost landed; none was used yet"
	if used {
		f.Beside = fmt.Sprintf("at what it cost landed, %d days at the pace of the last %d days", lasts, days)
	}
	if len(list) == 0 {
		f.Empty = "No coil is on hand."
		return f
	}
	b := drawing.Bars{}
	rest := money.Cents(0, o.r.Currency)
	for i, s := range list {
		if i >= mostStrips && len(list) > mostStrips+1 {
			rest = rest.Add(s.Value)
			continue
		}
		b.Bars = append(b.Bars, drawing.Bar{Label: s.Short, Figure: s.Value.Format(), Share: s.Value.Rate().Float()})
		b.Desc += fmt.Sprintf("%s: %s, %s. ", s.Name, s.Value.Format(), lastsWords(s, days))
	}
	if !rest.IsZero() {
		b.Bars = append(b.Bars, drawing.Bar{Label: fmt.Sprintf("%d more", len(list)-mostStrips), Figure: rest.Format(), Share: rest.Rate().Float()})
	}
	f.barred(b)
	return f
}

func lastsWords(s figures.Stocked, days int) string {
	if n, ok := s.DaysOnHand(days); ok {
		return strconv.Itoa(n) + " days on hand"
	}
	return "not used"
}

func (o ownerView) payback() figureView {
	f := o.view("payback", "Payback of the machines")
	list := o.r.Paybacks()
	if len(list) == 0 {
		f.Headline, f.Empty = "–", "The Rates sheet has no machine with what was paid for it."
		return f
	}
	s := drawing.Stack{Key: []drawing.StackKey{{Kind: drawing.StackSolid, Name: "earned"}, {Kind: drawing.StackOpen, Name: "still to earn"}}}
	price, earned := money.Cents(0, o.r.Currency), money.Cents(0, o.r.Currency)
	for _, b := range list {
		price, earned = price.Add(b.Machine.Price), earned.Add(b.Earned)
		s.Rows = append(s.Rows, drawing.StackRow{Label: b.Machine.Name, Figure: centShare(b.Earned, b.Machine.Price), Full: b.Machine.Price.Rate().Float(), Parts: []drawing.StackPart{
			{Kind: drawing.StackSolid, Share: max(0, b.Earned.Rate().Float())}, {Kind: drawing.StackOpen, Share: b.Left.Rate().Float()},
		}})
		s.Desc += fmt.Sprintf("%s earned %s of %s, %s. ", b.Machine.Name, b.Earned.Format(), b.Machine.Price.Format(), backWords(b))
	}
	f.Headline = earned.Format()
	f.Beside = fmt.Sprintf("earned since the start of %s paid for the machines; %s", price.Format(), firstBack(list))
	f.stacked(s)
	return f
}

func centShare(part, whole money.Amount) string {
	return part.Rate().Mul(money.Int(100)).Div(whole.Rate()).Shorten(1).String() + " %"
}

func backWords(b figures.Payback) string {
	switch {
	case b.Left.IsZero():
		return "paid back"
	case b.By.IsZero():
		return "not paid back at this pace"
	}
	return "paid back by " + b.By.Format("January 2006") + " at this pace"
}

// firstBack says when the dearest machine is paid back.
func firstBack(list []figures.Payback) string {
	dearest := list[0]
	for _, b := range list {
		if dearest.Machine.Price.Less(b.Machine.Price) {
			dearest = b
		}
	}
	return dearest.Machine.Name + " " + backWords(dearest)
}
