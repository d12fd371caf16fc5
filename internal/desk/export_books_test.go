package desk

import (
	"context"
	"time"

	"ribdesk/internal/books"
	"ribdesk/internal/party"
	"ribdesk/internal/price"
)

// Billing lets tests invoice an offer without a shop around it: so many pieces
// of each row have been handed over by now.
func Billing(in price.Input, offer price.Offer, pieces map[string]int, before []books.Invoice, certificate *party.Certificate, day time.Time) (books.Draft, error) {
	b := newBilling(in, offer, before, nil)
	for id, n := range pieces {
		b.rows[id] = billRow{pieces: n}
	}
	return b.draft(certificate, day)
}

// RowID names a row of goods on an invoice.
func RowID(l price.Line) string { return rowID(l) }

// IsGoods tells goods from charges.
func IsGoods(l price.Line) bool { return isGoods(l) }

// VerifyOnly makes one check, for tests that damage one thing at a time.
func (d *Desk) VerifyOnly(ctx context.Context, name string, each func(Checked)) error {
	return d.verify(ctx, each, func(n string) bool { return n == name })
}
