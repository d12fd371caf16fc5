package store

import (
	"encoding/json"
	"time"

	"ribdesk/internal/party"
)

// RateSheet is what things cost and earn from a day on. The body is the price
// room's own document; the store doesn't look into it.
type RateSheet struct {
	ID        int64
	Effective string // 2006-01-02
	Body      json.RawMessage
	Note      string
	MadeAt    time.Time
	MadeBy    string
}

type rateRow struct {
	ID        int64 `gorm:"primaryKey"`
	Effective string
	Body      string
	Note      string
	MadeAt    time.Time
	MadeBy    string
}

func (rateRow) TableName() string { return "rates" }

func (r rateRow) sheet() RateSheet {
	return RateSheet{ID: r.ID, Effective: r.Effective, Body: json.RawMessage(r.Body), Note: r.Note, MadeAt: r.MadeAt.UTC(), MadeBy: r.MadeBy}
}

// RatesOn gives the sheet that holds on a day: the newest of those effective
// then.
func (tx *Tx) RatesOn(day string) (RateSheet, error) {
	var row rateRow
	err := tx.db.Where("effective <= ?", day).Order("effective DESC, id DESC").Take(&row).Error
	return row.sheet(), found(err, "there are no rates for %s yet; enter them on the Rates sheet", day)
}

// RateSheets gives all sheets, the newest first.
func (tx *Tx) RateSheets() ([]RateSheet, error) {
	var rows []rateRow
	err := tx.db.Order("effective DESC, id DESC").Find(&rows).Error
	return convert(rows, rateRow.sheet), err
}

// AddRates appends a sheet.
func (tx *Tx) AddRates(actor party.Actor, s RateSheet) (RateSheet, error) {
	row := rateRow{Effective: s.Effective, Body: string(s.Body), Note: s.Note, MadeAt: tx.now, MadeBy: actor.Name}
	if err := tx.db.Create(&row).Error; err != nil {
		return s, err
	}
	return row.sheet(), tx.Log(actor, "set rates", "rates", row.ID, map[string]string{"effective": s.Effective, "note": s.Note})
}
