package store

import (
	"encoding/json"
	"errors"
	"time"

	"gorm.io/gorm"

	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
)

type planHistoryRow struct {
	ID           int64 `gorm:"primaryKey"`
	What         string
	MadeAt       time.Time
	MadeBy       string
	Lines        int64
	Late         int64
	Minutes      int64
	Possible     int64
	FirstMinutes int64
	FirstLate    int64
	Saved        int64
	Currency     string
	Before       string
	Event        string
	Undone       bool
	UndoneAt     *time.Time
	UndoneBy     string
}

func (planHistoryRow) TableName() string { return "plan_history" }

func (r planHistoryRow) adoption() order.Adoption {
	a := order.Adoption{
		ID: r.ID, What: r.What, At: r.MadeAt.UTC(), By: r.MadeBy, Lines: int(r.Lines), Late: int(r.Late), Minutes: int(r.Minutes), Possible: int(r.Possible),
		FirstMinutes: int(r.FirstMinutes), FirstLate: int(r.FirstLate), Saved: money.Cents(r.Saved, money.Currency(r.Currency)),
		UndoneBy: r.UndoneBy,
	}
	if r.UndoneAt != nil {
		a.UndoneAt = r.UndoneAt.UTC()
	}
	_ = json.Unmarshal([]byte(r.Before), &a.Before) // both written by AddAdoption
	_ = json.Unmarshal([]byte(r.Event), &a.Event)
	return a
}

// AddAdoption keeps what an adopted plan came to and what stood before it.
func (tx *Tx) AddAdoption(actor party.Actor, a order.Adoption) error {
	before, err := json.Marshal(a.Before)
	if err != nil {
		return err
	}
	event, err := json.Marshal(a.Event)
	if err != nil {
		return err
	}
	return tx.db.Create(&planHistoryRow{
		What: a.What, MadeAt: tx.now, MadeBy: actor.Name, Lines: int64(a.Lines), Late: int64(a.Late), Minutes: int64(a.Minutes), Possible: int64(a.Possible),
		FirstMinutes: int64(a.FirstMinutes), FirstLate: int64(a.FirstLate), Saved: a.Saved.Cents(), Currency: string(a.Saved.Currency()), Before: string(before), Event: string(event),
	}).Error
}

// LastAdoption gives the newest adopted plan that wasn't taken back; nil when
// there is none.
func (tx *Tx) LastAdoption() (*order.Adoption, error) {
	var row planHistoryRow
	err := tx.db.Where("undone = ?", false).Order("id DESC").Take(&row).Error
	if errors.Is(err, gorm.ErrRecordNotFound) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	a := row.adoption()
	return &a, nil
}

// Adoptions gives the newest adopted plans, newest first, with those that were
// taken back.
func (tx *Tx) Adoptions(limit int) ([]order.Adoption, error) {
	var rows []planHistoryRow
	err := tx.db.Order("id DESC").Limit(limit).Find(&rows).Error
	return convert(rows, planHistoryRow.adoption), err
}

// TakeBack marks an adopted plan as undone, and by whom.
func (tx *Tx) TakeBack(actor party.Actor, id int64) error {
	return tx.db.Model(&planHistoryRow{}).Where("id = ?", id).Updates(map[string]any{"undone": true, "undone_at": tx.now, "undone_by": actor.Name}).Error
}

// SavedBetween sums what places that end from one moment to another save
// against first come, first served.
func (tx *Tx) SavedBetween(from, to time.Time, currency money.Currency) (minutes int, worth money.Amount, err error) {
	var sum struct{ Minutes, Cents int64 }
	err = tx.db.Model(&placedRow{}).Where("ends_at >= ? AND ends_at < ?", moment(from), moment(to)).
		Select("COALESCE(SUM(saved_minutes), 0) AS minutes, COALESCE(SUM(saved), 0) AS cents").Scan(&sum).Error
	return int(sum.Minutes), money.Cents(sum.Cents, currency), err
}

type floorNoteRow struct {
	ID       int64 `gorm:"primaryKey"`
	Key      string
	Machine  string
	LineID   *int64
	Kind     string
	Note     string
	Nominal  int64
	Measured int64
	MadeAt   time.Time
	MadeBy   string
}

func (floorNoteRow) TableName() string { return "floor_notes" }

func (r floorNoteRow) note() order.FloorNote {
	return order.FloorNote{
		ID: r.ID, Key: r.Key, Machine: r.Machine, LineID: value(r.LineID), Kind: order.NoteKind(r.Kind), Note: r.Note,
		Nominal: measure.Length(r.Nominal), Measured: measure.Length(r.Measured), At: r.MadeAt.UTC(), By: r.MadeBy,
	}
}

// AddFloorNote keeps a note; fresh is false when its key was kept before: then
// nothing is written.
func (tx *Tx) AddFloorNote(actor party.Actor, n order.FloorNote) (fresh bool, err error) {
	var there int64
	if err := tx.db.Model(&floorNoteRow{}).Where("key = ?", n.Key).Count(&there).Error; err != nil || there > 0 {
		return false, err
	}
	row := floorNoteRow{Key: n.Key, Machine: n.Machine, LineID: optional(n.LineID), Kind: string(n.Kind), Note: n.Note,
		Nominal: int64(n.Nominal), Measured: int64(n.Measured), MadeAt: tx.now, MadeBy: actor.Name}
	if err := tx.db.Create(&row).Error; err != nil {
		return false, err
	}
	return true, tx.Log(actor, string(n.Kind), "plan", n.LineID, map[string]any{"machine": n.Machine, "note": n.Note, "measured": n.Measured})
}

// FloorNotes gives a machine's notes from a moment on, oldest first.
func (tx *Tx) FloorNotes(machine string, from time.Time) ([]order.FloorNote, error) {
	var rows []floorNoteRow
	err := tx.db.Where("machine = ? AND made_at >= ?", machine, moment(from)).Order("id").Find(&rows).Error
	return convert(rows, floorNoteRow.note), err
}

// LastService gives when a machine's last service ended, at or before a moment;
// zero when none is on file.
func (tx *Tx) LastService(machine string, before time.Time) (time.Time, error) {
	var row blockRow
	err := tx.db.Where("machine = ? AND kind = ? AND ends_at <= ?", machine, string(stock.Service), moment(before)).Order("ends_at DESC").Take(&row).Error
	if errors.Is(err, gorm.ErrRecordNotFound) {
		return time.Time{}, nil
	}
	return row.EndsAt.UTC(), err
}

// RunSince gives the feet that a machine cut since a moment and the estimated
// minutes of the lines it finished since.
func (tx *Tx) RunSince(machine string, from time.Time) (feet measure.Length, minutes int, err error) {
	var length, took int64
	err = tx.db.Table("cut_records").Joins("JOIN placed ON placed.line_id = cut_records.line_id").
		Where("placed.machine = ? AND cut_records.made_at >= ?", machine, moment(from)).
		Select("COALESCE(SUM(cut_records.pieces * cut_records.length), 0)").Scan(&length).Error
	if err != nil {
		return 0, 0, err
	}
	err = tx.db.Table("placed").Joins("JOIN order_lines ON order_lines.id = placed.line_id").
		Where("placed.machine = ? AND placed.done_at >= ?", machine, moment(from)).
		Select("COALESCE(SUM(order_lines.minutes), 0)").Scan(&took).Error
	return measure.Length(length), int(took), err
}

// PlanEvents gives what people did to the plan and the machines' time by
// themselves, the newest first: runs held and let go, time taken and given back.
func (tx *Tx) PlanEvents(limit int) ([]Event, error) {
	var rows []eventRow
	err := tx.db.Where("subject_kind IN ? AND action IN ?", []string{"plan", "block"}, []string{"pinned", "let go", "blocked time", "freed time"}).
		Order("id DESC").Limit(limit).Find(&rows).Error
	return convert(rows, eventRow.event), err
}

// BlockIn reads the block that a "blocked time" event tells of.
func BlockIn(e Event) (stock.Block, bool) {
	var row blockRow
	if e.Action != "blocked time" || json.Unmarshal(e.Detail, &row) != nil {
		return stock.Block{}, false
	}
	return row.block(), true
}
