package books

import (
	"cmp"
	"slices"
	"time"

	"ribdesk/internal/money"
)

// TaxRow is what one document means to one jurisdiction; a credit memo's figures
// are below 0. A document that no jurisdiction touched has one row without one.
type TaxRow struct {
	Day          time.Time
	Document     string
	Corrects     string // of a credit memo: the invoice
	Order        string
	Customer     int64
	Jurisdiction string
	State        string
	Rate         money.Rate
	Subtotal     money.Amount // of the document, before tax
	Base         money.Amount // taxed
	Tax          money.Amount
	Exempt       money.Amount // by certificate
	Certificate  string
}

// Other is the part of the document that the jurisdiction doesn't tax at all.
func (r TaxRow) Other() money.Amount { return r.Subtotal.Sub(r.Base).Sub(r.Exempt) }

// TaxRows tells for invoices and credit memos what each jurisdiction taxed, and
// at what rate, by day and number.
func TaxRows(invoices []Invoice, memos []Memo) []TaxRow {
	var rows []TaxRow
	for _, inv := range invoices {
		rows = append(rows, inv.taxRows(TaxRow{Day: inv.Issued, Document: inv.Number, Order: inv.Order, Customer: inv.Customer}, 1)...)
	}
	for _, m := range memos {
		rows = append(rows, m.taxRows(TaxRow{Day: m.Day, Document: m.Number, Corrects: m.Invoice, Order: m.Order, Customer: m.Customer}, -1)...)
	}
	slices.SortStableFunc(rows, func(a, b TaxRow) int {
		return cmp.Or(a.Day.Compare(b.Day), cmp.Compare(a.Document, b.Document), cmp.Compare(a.Jurisdiction, b.Jurisdiction))
	})
	return rows
}

func (f Figures) taxRows(head TaxRow, sign int64) []TaxRow {
	signed := func(a money.Amount) money.Amount {
		if sign < 0 {
			return a.Neg()
		}
		return a
	}
	zero := f.Subtotal.Sub(f.Subtotal)
	head.Subtotal, head.Base, head.Tax, head.Exempt = signed(f.Subtotal), zero, zero, zero
	var rows []TaxRow
	at := func(jurisdiction, state string) *TaxRow {
		i := slices.IndexFunc(rows, func(r TaxRow) bool { return r.Jurisdiction == jurisdiction })
		if i < 0 {
			row := head
			row.Jurisdiction, row.State = jurisdiction, state
			i, rows = len(rows), append(rows, row)
		}
		return &rows[i]
	}
	for _, t := range f.Taxes {
		row := at(t.Jurisdiction, t.State)
		row.Rate, row.Base, row.Tax = t.Rate, signed(t.Base), signed(t.Tax)
	}
	for _, e := range f.Exempt {
		row := at(e.Jurisdiction, e.State)
		row.Exempt, row.Certificate = signed(e.Base), e.Certificate
	}
	if len(rows) == 0 {
		rows = append(rows, head)
	}
	return rows
}

// TaxSum is what a jurisdiction's documents of a time come to.
type TaxSum struct {
	Jurisdiction, State      string
	Subtotal                 money.Amount
	Base, Tax, Exempt, Other money.Amount
	Rates                    []money.Rate // that were charged
	Documents                int
}

// TaxSums adds rows up by jurisdiction, in the order of their names.
func TaxSums(rows []TaxRow) []TaxSum {
	var sums []TaxSum
	for _, r := range rows {
		i := slices.IndexFunc(sums, func(s TaxSum) bool { return s.Jurisdiction == r.Jurisdiction })
		if i < 0 {
			i, sums = len(sums), append(sums, TaxSum{Jurisdiction: r.Jurisdiction, State: r.State})
		}
		s := &sums[i]
		s.Subtotal, s.Base, s.Tax = s.Subtotal.Add(r.Subtotal), s.Base.Add(r.Base), s.Tax.Add(r.Tax)
		s.Exempt, s.Other = s.Exempt.Add(r.Exempt), s.Other.Add(r.Other())
		s.Documents++
		if r.Rate.Sign() > 0 && !slices.ContainsFunc(s.Rates, func(x money.Rate) bool { return x.Cmp(r.Rate) == 0 }) {
			s.Rates = append(s.Rates, r.Rate)
		}
	}
	slices.SortFunc(sums, func(a, b TaxSum) int { return cmp.Compare(a.Jurisdiction, b.Jurisdiction) })
	return sums
}
