package store

import (
	"errors"
	"time"

	"gorm.io/gorm"
)

// How something on its way to somebody outside stands.
const (
	SendWaiting = "waiting"
	SendDone    = "sent"
	SendGivenUp = "given up"
	SendKept    = "kept" // it isn't to be sent, for the reason in its outcome
)

// OutcomeTurnedOff is that of what waited for an address when it was turned off.
const OutcomeTurnedOff = "turned off"

// Sending is how something on its way to somebody outside stands. The tables
// whose rows are sent all have these columns.
type Sending struct {
	Tries   int64
	State   string
	NextAt  time.Time
	Outcome string // of the last try
}

// due gives the row of a table that waits longest, false when none is due; with
// tells which rows are looked at.
func due[R any](tx *Tx, with R) (row R, waits bool, err error) {
	err = tx.db.Where(&with).Where("state = ? AND next_at <= ?", SendWaiting, tx.now).Order("next_at, id").Take(&row).Error
	if errors.Is(err, gorm.ErrRecordNotFound) {
		return row, false, nil
	}
	return row, err == nil, err
}

// saveSending keeps how a row stands.
func (tx *Tx) saveSending(row any) error {
	return tx.db.Model(row).Select("tries", "state", "next_at", "outcome").Updates(row).Error
}

// CountWaiting counts what waits to be sent.
func (tx *Tx) CountWaiting() (mails, deliveries int64, err error) {
	if err := tx.db.Model(&mailRow{}).Where("state = ?", SendWaiting).Count(&mails).Error; err != nil {
		return 0, 0, err
	}
	err = tx.db.Model(&hookDeliveryRow{}).Where("state = ?", SendWaiting).Count(&deliveries).Error
	return mails, deliveries, err
}
