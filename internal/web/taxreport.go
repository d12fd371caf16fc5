package web

import (
	"strings"
	"time"

	"ribdesk/internal/books"
	"ribdesk/internal/desk"
)

// taxPage is what each jurisdiction taxed in a time, for the tax return.
type taxPage struct {
	Base
	Sums     []books.TaxSum
	Rows     []desk.TaxedDocument
	From, To Field
	CSV      string
}

func (taxPage) file() string { return "tax" }

// taxAsked reads from the address which days are wanted: this month so far when
// it names none.
func (v *visit) taxAsked() (p *taxPage, from, to time.Time, err error) {
	p = &taxPage{Base: v.booksBase("Sales tax", "Sales tax"),
		From: Field{Name: "from", Label: "From", Short: true, Optional: true, Value: v.query("from")},
		To:   Field{Name: "to", Label: "To", Short: true, Optional: true, Value: v.query("to")},
	}
	today := books.Day(v.desk.Now().In(v.zoneOf()))
	if from, to = v.queryDay(&p.From), v.queryDay(&p.To); to.IsZero() {
		to = today
	}
	if from.IsZero() {
		from = to.AddDate(0, 0, 1-to.Day())
	}
	if err = v.wrongs(); err != nil {
		return p, from, to, err
	}
	p.CSV = "/books/tax.csv?from=" + dayQuery(from) + "&to=" + dayQuery(to)
	p.Block = Block{Thing: "Sales tax", State: from.Format("Jan 2") + " to " + to.Format("Jan 2, 2006")}
	p.Rows, err = v.desk.TaxReport(v.ctx(), v.actor, from, to)
	return p, from, to, err
}

func showTax(v *visit) error {
	p, _, _, err := v.taxAsked()
	if err != nil {
		return v.again(p, err)
	}
	var rows []books.TaxRow
	for _, r := range p.Rows {
		rows = append(rows, r.TaxRow)
	}
	p.Sums = books.TaxSums(rows)
	return v.show(p)
}

// Rates writes the rates that a jurisdiction charged.
func (taxPage) Rates(s books.TaxSum) string {
	var list []string
	for _, r := range s.Rates {
		list = append(list, r.Percent()+" %")
	}
	return strings.Join(list, ", ")
}

// sendTaxCSV saves a row for each document and jurisdiction.
func sendTaxCSV(v *visit) error {
	p, from, to, err := v.taxAsked()
	if err != nil {
		return err
	}
	rows := [][]string{{"date", "document", "corrects", "order", "customer", "jurisdiction", "state", "rate_percent", "subtotal", "taxable", "tax", "exempt", "not_taxed", "certificate", "currency"}}
	for _, r := range p.Rows {
		rows = append(rows, []string{r.Day.Format(time.DateOnly), r.Document, r.Corrects, r.Order, r.Name, r.Jurisdiction, r.State, r.Rate.Percent(),
			r.Subtotal.Plain(), r.Base.Plain(), r.Tax.Plain(), r.Exempt.Plain(), r.Other().Plain(), r.Certificate, string(r.Subtotal.Currency())})
	}
	return v.sendCSV("sales-tax-"+dayQuery(from)+"-"+dayQuery(to)+".csv", rows)
}
