package desk

import (
	"context"

	"ribdesk/internal/store"
)

// Vitals are what whoever runs the machine watches: what waits to be sent, and how
// large the database has grown.
type Vitals struct {
	MailsWaiting int64
	HooksWaiting int64 // deliveries to addresses
	Bytes        int64 // of the database
	LogBytes     int64 // of SQLite's write-ahead log, beside it
}

// Vitals takes them now.
func (d *Desk) Vitals(ctx context.Context) (v Vitals, err error) {
	if v.Bytes, v.LogBytes, err = d.store.Size(ctx); err != nil {
		return v, err
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		v.MailsWaiting, v.HooksWaiting, err = tx.CountWaiting()
		return err
	})
	return v, err
}
