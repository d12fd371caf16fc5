package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/party"
)

// Event is one line of the log: who did what to which record, when.
type Event struct {
	ID          int64
	At          time.Time
	PersonID    int64
	PersonName  string
	Role        party.Role
	Action      string
	SubjectKind string
	SubjectID   int64
	Detail      json.RawMessage
	RequestID   string
	PrevHash    string
	Hash        string
}

type eventRow struct {
	ID          int64 `gorm:"primaryKey"`
	At          time.Time
	PersonID    int64
	PersonName  string
	Role        string
	Action      string
	SubjectKind string
	SubjectID   int64
	Detail      string
	RequestID   string
	PrevHash    string
	Hash        string
}

func (eventRow) TableName() string { return "events" }

func (r eventRow) event() Event {
	return Event{
		ID: r.ID, At: r.At.UTC(), PersonID: r.PersonID, PersonName: r.PersonName,
		Role: party.Role(r.Role), Action: r.Action,
		SubjectKind: r.SubjectKind, SubjectID: r.SubjectID,
		Detail: json.RawMessage(r.Detail), RequestID: r.RequestID,
		PrevHash: r.PrevHash, Hash: r.Hash,
	}
}

// sum gives the row's hash. Each row's hash covers the one before it, so a
// changed, missing or slipped-in row breaks the chain from there on. Fields are
// written with their lengths: no two rows can read the same.
func (r eventRow) sum() string {
	h := sha256.New()
	for _, s := range []string{
		r.PrevHash, r.At.UTC().Format(time.RFC3339Nano), fmt.Sprint(r.PersonID), r.PersonName, r.Role,
		r.Action, r.SubjectKind, fmt.Sprint(r.SubjectID), r.Detail, r.RequestID,
	} {
		fmt.Fprintf(h, "%d:%s", len(s), s)
	}
	return hex.EncodeToString(h.Sum(nil))
}

type requestIDKey struct{}

// WithRequest marks ctx with the id of the request it serves, for the log.
func WithRequest(ctx context.Context, id string) context.Context {
	return context.WithValue(ctx, requestIDKey{}, id)
}

// RequestID gives the id that WithRequest set, "" where there is none.
func RequestID(ctx context.Context) string {
	id, _ := ctx.Value(requestIDKey{}).(string)
	return id
}

// Log appends an event to the log, in the same transaction as what it tells of.
// detail is kept as JSON: what changed, before and after; nil for nothing. It
// must hold no password and no token.
func (tx *Tx) Log(actor party.Actor, action, subjectKind string, subjectID int64, detail any) error {
	if detail == nil {
		detail = struct{}{}
	}
	text, err := json.Marshal(detail)
	if err != nil {
		return fmt.Errorf("log %s: %w", action, err)
	}
	row := eventRow{
		At: tx.now, PersonID: actor.PersonID, PersonName: actor.Name, Role: string(actor.Role), Action: action,
		SubjectKind: subjectKind, SubjectID: subjectID, Detail: string(text), RequestID: RequestID(tx.ctx),
	}
	err = tx.db.Raw("SELECT hash FROM events ORDER BY id DESC LIMIT 1").Scan(&row.PrevHash).Error
	if err != nil {
		return err
	}
	row.Hash = row.sum()
	if tx.first == nil {
		tx.first = &subject{subjectKind, subjectID}
	}
	return tx.db.Create(&row).Error
}

// Events gives the log of one record, oldest first.
func (tx *Tx) Events(subjectKind string, subjectID int64) ([]Event, error) {
	var rows []eventRow
	err := tx.db.Where("subject_kind = ? AND subject_id = ?", subjectKind, subjectID).Order("id").Find(&rows).Error
	return convert(rows, eventRow.event), err
}

// Stamp gives the id of the last event. As every write leaves one, two equal
// stamps mean that nothing was written in between.
func (tx *Tx) Stamp() (id int64, err error) {
	err = tx.db.Raw("SELECT COALESCE(MAX(id), 0) FROM events").Scan(&id).Error
	return id, err
}

// Happened is a kind of event: what was done to what kind of record.
type Happened struct{ Action, SubjectKind string }

// Since gives the kinds of event after a stamp, each once.
func (tx *Tx) Since(stamp int64) (kinds []Happened, err error) {
	err = tx.db.Model(&eventRow{}).Where("id > ?", stamp).Distinct("action", "subject_kind").Find(&kinds).Error
	return kinds, err
}

// LatestEvents gives the newest events of all records, newest first.
func (tx *Tx) LatestEvents(limit int) ([]Event, error) {
	var rows []eventRow
	err := tx.db.Order("id DESC").Limit(limit).Find(&rows).Error
	return convert(rows, eventRow.event), err
}

// VerifyEvents follows the chain of the whole log and names the first event
// that doesn't fit. It gives the number of events and the last hash; kept
// elsewhere, those also show whether events were cut off at the end.
func (tx *Tx) VerifyEvents() (count int64, last string, err error) {
	rows, err := tx.db.Model(&eventRow{}).Order("id").Rows()
	if err != nil {
		return 0, "", err
	}
	defer rows.Close()
	for rows.Next() {
		var r eventRow
		if err := tx.db.ScanRows(rows, &r); err != nil {
			return count, last, err
		}
		if r.PrevHash != last || r.Hash != r.sum() {
			return count, last, fault.Conflictf("event %d of the log (%s %s %d, %s) was changed or the one before it is missing",
				r.ID, r.Action, r.SubjectKind, r.SubjectID, r.At.UTC().Format(time.RFC3339))
		}
		last = r.Hash
		count++
	}
	return count, last, rows.Err()
}
