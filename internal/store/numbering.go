package store

import "time"

// NumberGap is a run of numbers of a series that are never given again: they were
// handed out by a database that is lost.
type NumberGap struct {
	ID     int64
	Series string
	First  int64 // of the counter, and Last with it
	Last   int64
	Reason string
	MadeAt time.Time
	MadeBy string
}

type numberGapRow struct {
	ID     int64 `gorm:"primaryKey"`
	Series string
	First  int64
	Last   int64
	Reason string
	MadeAt time.Time
	MadeBy string
}

func (numberGapRow) TableName() string { return "number_gaps" }

func (r numberGapRow) gap() NumberGap {
	g := NumberGap(r)
	g.MadeAt = r.MadeAt.UTC()
	return g
}

// SkipNumbers moves a series past the gap, which begins where the series stands.
func (tx *Tx) SkipNumbers(g NumberGap) error {
	row := numberGapRow(g)
	row.MadeAt = tx.now
	if err := tx.db.Create(&row).Error; err != nil {
		return err
	}
	return tx.db.Save(&seriesRow{Name: g.Series, Next: g.Last + 1}).Error
}

// NumberGaps gives all gaps, oldest first.
func (tx *Tx) NumberGaps() ([]NumberGap, error) {
	var rows []numberGapRow
	err := tx.db.Order("id").Find(&rows).Error
	return convert(rows, numberGapRow.gap), err
}

type setupCodeRow struct {
	ID        int64 `gorm:"primaryKey"`
	CodeHash  string
	CreatedAt time.Time
}

func (setupCodeRow) TableName() string { return "setup_codes" }

// OfferSetupCode keeps the hash of a code that makes the first account.
func (tx *Tx) OfferSetupCode(hash string) error {
	return tx.db.Create(&setupCodeRow{CodeHash: hash, CreatedAt: tx.now}).Error
}

// SetupCodeOffered reports whether a code was offered since then.
func (tx *Tx) SetupCodeOffered(hash string, since time.Time) (bool, error) {
	var n int64
	err := tx.db.Model(&setupCodeRow{}).Where("code_hash = ? AND created_at >= ?", hash, moment(since)).Count(&n).Error
	return n > 0, err
}

// ForgetSetupCodes drops all of them.
func (tx *Tx) ForgetSetupCodes() error { return tx.db.Where("1 = 1").Delete(&setupCodeRow{}).Error }
