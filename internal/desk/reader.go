package desk

import (
	"cmp"
	"context"

	"ribdesk/internal/measure"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
	"ribdesk/internal/words"
)

// ReaderOf gives the language and unit of length that a customer is spoken to
// in, the shop's own where they have none on file or id is 0.
func (d *Desk) ReaderOf(ctx context.Context, id int64) (words.Reader, error) {
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return words.Reader{}, err
	}
	var c party.Customer
	if id != 0 {
		err = d.store.Read(ctx, func(tx *store.Tx) error {
			c, err = tx.Customer(id)
			return err
		})
	}
	return s.readerOf(c), err
}

// shopReader reads what stays in the shop.
var shopReader = words.Reader{Units: string(measure.StyleFeetInches)}

// readerOf is how a customer is spoken to, on pages, papers and in messages.
func (s *snapshot) readerOf(c party.Customer) words.Reader {
	language, _ := words.Known(c.Language)
	return words.Reader{Language: language, Units: string(cmp.Or(c.Style, s.seller.Style, measure.StyleFeetInches))}
}
