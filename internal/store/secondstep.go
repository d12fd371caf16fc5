package store

import (
	"errors"
	"time"

	"gorm.io/gorm"
)

type totpStepRow struct {
	PersonID int64 `gorm:"primaryKey;autoIncrement:false"`
	Step     int64
}

func (totpStepRow) TableName() string { return "totp_steps" }

type recoveryRow struct {
	ID       int64 `gorm:"primaryKey"`
	PersonID int64
	CodeHash string
}

func (recoveryRow) TableName() string { return "recovery_codes" }

// HalfSession is a sign-in whose password was right and whose code is awaited.
type HalfSession struct {
	ID        int64
	TokenHash string
	PersonID  int64
	CreatedAt time.Time
}

type halfSessionRow struct {
	ID        int64 `gorm:"primaryKey"`
	TokenHash string
	PersonID  int64
	CreatedAt time.Time
}

func (halfSessionRow) TableName() string { return "half_sessions" }

func (r halfSessionRow) half() HalfSession {
	h := HalfSession(r)
	h.CreatedAt = r.CreatedAt.UTC()
	return h
}

// TOTPStep gives the step whose code a person used last, 0 for none.
func (tx *Tx) TOTPStep(personID int64) (int64, error) {
	var row totpStepRow
	err := tx.db.Where("person_id = ?", personID).Take(&row).Error
	if errors.Is(err, gorm.ErrRecordNotFound) {
		err = nil
	}
	return row.Step, err
}

// UseTOTPStep notes the step whose code a person used.
func (tx *Tx) UseTOTPStep(personID, step int64) error {
	return tx.db.Save(&totpStepRow{PersonID: personID, Step: step}).Error
}

// SetRecoveryCodes puts new codes for a lost phone, by their hashes, in the place
// of those a person had.
func (tx *Tx) SetRecoveryCodes(personID int64, hashes []string) error {
	if err := tx.db.Where("person_id = ?", personID).Delete(&recoveryRow{}).Error; err != nil || len(hashes) == 0 {
		return err
	}
	rows := make([]recoveryRow, len(hashes))
	for i, h := range hashes {
		rows[i] = recoveryRow{PersonID: personID, CodeHash: h}
	}
	return tx.db.Create(&rows).Error
}

// SpendRecoveryCode deletes a code and tells whether it was there.
func (tx *Tx) SpendRecoveryCode(personID int64, hash string) (bool, error) {
	done := tx.db.Where("person_id = ? AND code_hash = ?", personID, hash).Delete(&recoveryRow{})
	return done.RowsAffected == 1, done.Error
}

// CountRecoveryCodes tells how many codes a person has left.
func (tx *Tx) CountRecoveryCodes(personID int64) (n int64, err error) {
	err = tx.db.Model(&recoveryRow{}).Where("person_id = ?", personID).Count(&n).Error
	return n, err
}

// AddHalfSession keeps a sign-in that waits for its code, dated now.
func (tx *Tx) AddHalfSession(h HalfSession) error {
	return tx.db.Create(&halfSessionRow{TokenHash: h.TokenHash, PersonID: h.PersonID, CreatedAt: tx.now}).Error
}

// HalfSession gives the waiting sign-in with this token hash.
func (tx *Tx) HalfSession(hash string) (HalfSession, error) {
	var row halfSessionRow
	err := tx.db.Where("token_hash = ?", hash).Take(&row).Error
	return row.half(), found(err, "there is no such sign-in")
}

// EndHalfSession ends a waiting sign-in by its token hash.
func (tx *Tx) EndHalfSession(hash string) error {
	return tx.db.Where("token_hash = ?", hash).Delete(&halfSessionRow{}).Error
}

// ForgetHalfSessions deletes those begun before a time.
func (tx *Tx) ForgetHalfSessions(before time.Time) error {
	return tx.db.Where("created_at < ?", before).Delete(&halfSessionRow{}).Error
}
