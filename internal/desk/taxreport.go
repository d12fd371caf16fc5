package desk

import (
	"context"
	"time"

	"ribdesk/internal/books"
	"ribdesk/internal/fault"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
)

// TaxedDocument is a row of the tax report with whose document it is.
type TaxedDocument struct {
	books.TaxRow
	Name   string // of the customer
	BillID int64  // the invoice, or the one that a memo corrects
}

// TaxReport tells what each jurisdiction taxed in some days, both included, by
// the day that documents were issued on. Which day counts, and what has to be
// told to whom, is for local law.
func (d *Desk) TaxReport(ctx context.Context, actor party.Actor, from, to time.Time) (list []TaxedDocument, err error) {
	if err := keepsBooks(actor); err != nil {
		return nil, err
	}
	if to.Before(from) {
		return nil, fault.Invalidf("to", "this lies before the day it begins")
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		bills, notes, err := tx.IssuedBetween(from, to)
		if err != nil {
			return err
		}
		names := customerNames{tx: tx, known: map[int64]string{}}
		for _, r := range books.TaxRows(invoicesOf(bills), memosOf(notes)) {
			row := TaxedDocument{TaxRow: r}
			if row.Name, err = names.of(r.Customer); err != nil {
				return err
			}
			number := r.Document
			if r.Corrects != "" {
				number = r.Corrects
			}
			bill, err := tx.InvoiceByNumber(number)
			if err != nil {
				return err
			}
			row.BillID = bill.ID
			list = append(list, row)
		}
		return nil
	})
	return list, err
}
