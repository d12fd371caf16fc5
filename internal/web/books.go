package web

import (
	"fmt"
	"html/template"
	"time"

	"ribdesk/internal/books"
	"ribdesk/internal/desk"
	"ribdesk/internal/drawing"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/words"
)

// booksPage is what customers owe: by age, item by item, and what waits to be
// invoiced.
type booksPage struct {
	Base
	R            desk.Receivables
	Bill, Wait   []desk.Ready // to be invoiced, and waiting for something else
	Total        money.Amount
	Wide, Narrow template.HTML // the ageing, for a desk and for a phone
	Accounts     bool          // may invoice
}

func (booksPage) file() string { return "books" }

// bookTabs are what else is on the Books sheet.
func (v *visit) bookTabs(here string) []Link {
	return open(v.actor.Role, []Link{
		{Name: "Owed", Path: "/books"}, {Name: "Invoices", Path: "/books/invoices"}, {Name: "Payments", Path: "/books/payments"},
		{Name: "Journal", Path: "/books/journal"}, {Name: "Trial balance", Path: "/books/trial"}, {Name: "Sales tax", Path: "/books/tax"}, {Name: "Habits", Path: "/books/habits"},
	}, here)
}

func (v *visit) booksBase(title, here string) Base {
	return Base{Title: title, Sheet: "Books", Tabs: v.bookTabs(here)}
}

func showBooks(v *visit) error {
	r, err := v.desk.Receivables(v.ctx(), v.actor)
	if err != nil {
		return err
	}
	p := &booksPage{Base: v.booksBase("What is owed", "Owed"), R: r, Accounts: v.actor.Role != party.Counter, Total: r.Ageing.Total()}
	for _, ready := range r.Ready {
		if ready.Why == "" {
			p.Bill = append(p.Bill, ready)
		} else {
			p.Wait = append(p.Wait, ready)
		}
	}
	p.Block = Block{Thing: "Receivables by age", State: closedWord(r.Closed)}
	p.Wide, p.Narrow = ageingBars(r.Ageing, "ageing", 1040, v.reader).SVG(), ageingBars(r.Ageing, "ageing-phone", 312, v.reader).SVG()
	return v.show(p)
}

func closedWord(closed time.Time) string {
	if closed.IsZero() {
		return "open"
	}
	return "closed through " + closed.Format("Jan 2, 2006")
}

// ageingBars draws what is open by days past due, all five on one scale; what is
// late is hatched and marked.
func ageingBars(a books.Ageing, id string, width float64, r words.Reader) drawing.Picture {
	bars := drawing.Bars{ID: id, Title: r.T("Receivables by age"), Width: width}
	for i, b := range []struct {
		name string
		sum  money.Amount
	}{{r.T("current"), a.Current}, {r.T("1–30 days"), a.To30}, {"31–60", a.To60}, {"61–90", a.To90}, {r.T("over 90"), a.Over90}} {
		bars.Bars = append(bars.Bars, drawing.Bar{Label: b.name, Figure: b.sum.Format(), Share: b.sum.Rate().Float(), Alert: i > 0 && b.sum.Sign() > 0})
		bars.Desc += fmt.Sprintf("%s: %s. ", b.name, b.sum.Format())
	}
	return bars.Picture()
}

// sendPaper sends an issued document as it was issued, in the browser's own
// view of PDFs; an exchange file is saved.
func (v *visit) sendPaper(p order.Paper) error {
	if desk.IsExchangeFile(p) {
		return v.sendFile("application/xml; charset=utf-8", p.Kind+"-"+p.Number+".xml", false, p.PDF)
	}
	return v.sendFile("application/pdf", p.Kind+"-"+p.Number+".pdf", true, p.PDF)
}
