package store

import (
	"context"
	"errors"
	"time"

	"gorm.io/gorm"

	"ribdesk/internal/fault"
)

// Key makes a request safe to send twice. The Scope says whose key it is, Value
// is what the form or client sent, BodyHash tells whether the same thing is
// asked again.
type Key struct {
	Scope    string
	Value    string
	BodyHash string
}

// Answer is what a request that was done got for an answer.
type Answer struct {
	SubjectKind string // the record it made or changed
	SubjectID   int64
	Status      int // 0 when the answer itself wasn't kept: show the record
	Location    string
	Body        []byte
	At          time.Time // when the key was spent
}

// Replay is the error of a Write whose key was spent before: the work is done
// already, and this is its answer.
type Replay struct{ Answer Answer }

// Error says so in one sentence.
func (Replay) Error() string { return "this was already done" }

type keyRow struct {
	ID          int64 `gorm:"primaryKey"`
	Scope       string
	Value       string
	BodyHash    string
	SubjectKind string
	SubjectID   int64
	Status      int64
	Location    string
	Body        []byte
	CreatedAt   time.Time
}

func (keyRow) TableName() string { return "request_keys" }

func (r keyRow) answer() Answer {
	return Answer{SubjectKind: r.SubjectKind, SubjectID: r.SubjectID, Status: int(r.Status), Location: r.Location, Body: r.Body, At: r.CreatedAt.UTC()}
}

type contextKey struct{}

// heldKey is the key of a running request; one Write spends it, and what the
// same request writes afterwards goes through.
type heldKey struct {
	Key
	spent bool
}

// WithKey makes the first Write under ctx spend the key in its transaction, so
// that a second request with this key does nothing: its Write gives Replay.
func WithKey(ctx context.Context, k Key) context.Context {
	return context.WithValue(ctx, contextKey{}, &heldKey{Key: k})
}

func keyOf(ctx context.Context) *heldKey {
	k, _ := ctx.Value(contextKey{}).(*heldKey)
	return k
}

// refuseReplay gives Replay when the key of this transaction was spent by
// another request.
func (tx *Tx) refuseReplay() error {
	k := keyOf(tx.ctx)
	if k == nil || k.spent {
		return nil
	}
	answer, err := tx.AnswerTo(k.Key)
	if err != nil || answer == nil {
		return err
	}
	return Replay{*answer}
}

// spendKey records the key with the transaction's first event. A transaction
// that logged nothing (a sign-in counted, a session touched) leaves it unspent.
func (tx *Tx) spendKey() error {
	k := keyOf(tx.ctx)
	if k == nil || k.spent || tx.first == nil {
		return nil
	}
	k.spent = true
	return tx.db.Create(&keyRow{
		Scope: k.Scope, Value: k.Value, BodyHash: k.BodyHash,
		SubjectKind: tx.first.kind, SubjectID: tx.first.id, CreatedAt: tx.now,
	}).Error
}

// AnswerTo gives what was answered to a spent key, nil for a fresh one. The same
// key with another body is refused.
func (tx *Tx) AnswerTo(k Key) (*Answer, error) {
	var row keyRow
	err := tx.db.Where("scope = ? AND value = ?", k.Scope, k.Value).Take(&row).Error
	switch {
	case errors.Is(err, gorm.ErrRecordNotFound):
		return nil, nil
	case err != nil:
		return nil, err
	case row.BodyHash != k.BodyHash:
		return nil, fault.Invalidf("key", "this form was already sent with other contents; open it afresh")
	}
	answer := row.answer()
	return &answer, nil
}

// KeepAnswer records the answer to a spent key, for whoever sends it again.
func (tx *Tx) KeepAnswer(k Key, status int, location string, body []byte) error {
	return tx.db.Model(&keyRow{}).Where("scope = ? AND value = ?", k.Scope, k.Value).
		Updates(map[string]any{"status": status, "location": location, "body": body}).Error
}

// ForgetKeys deletes keys spent before a time.
func (tx *Tx) ForgetKeys(before time.Time) error {
	return tx.db.Where("created_at < ?", before).Delete(&keyRow{}).Error
}
