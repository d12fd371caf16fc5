package store

import (
	"time"

	"gorm.io/gorm"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
)

type placedRow struct {
	LineID        int64 `gorm:"primaryKey"`
	OrderID       int64
	Machine       string
	Seq           int64
	ChangeAt      time.Time
	ChangeMinutes int64
	StartsAt      time.Time
	EndsAt        time.Time
	Pinned        bool
	BegunAt       *time.Time
	DoneAt        *time.Time
	Share         int64
	Currency      string
	SavedMinutes  int64
	Saved         int64
}

func (placedRow) TableName() string { return "placed" }

func (r placedRow) placed() order.Placed {
	return order.Placed{
		LineID: r.LineID, OrderID: r.OrderID, Machine: r.Machine, Seq: int(r.Seq), Change: r.ChangeAt.UTC(), ChangeMinutes: int(r.ChangeMinutes),
		Start: r.StartsAt.UTC(), End: r.EndsAt.UTC(), Pinned: r.Pinned, BegunAt: readTime(r.BegunAt), DoneAt: readTime(r.DoneAt),
		Share: money.Cents(r.Share, money.Currency(r.Currency)), SavedMinutes: int(r.SavedMinutes), Saved: money.Cents(r.Saved, money.Currency(r.Currency)),
	}
}

func newPlacedRow(p order.Placed) placedRow {
	return placedRow{
		LineID: p.LineID, OrderID: p.OrderID, Machine: p.Machine, Seq: int64(p.Seq), ChangeAt: moment(p.Change), ChangeMinutes: int64(p.ChangeMinutes),
		StartsAt: moment(p.Start), EndsAt: moment(p.End), Pinned: p.Pinned, BegunAt: optionalTime(p.BegunAt), DoneAt: optionalTime(p.DoneAt),
		Share: p.Share.Cents(), Currency: string(p.Share.Currency()), SavedMinutes: int64(p.SavedMinutes), Saved: p.Saved.Cents(),
	}
}

// Plan gives the run plan: all places not done yet, by machine and sequence.
func (tx *Tx) Plan() ([]order.Placed, error) {
	return tx.placed(tx.db.Where("done_at IS NULL").Order("machine, seq"))
}

// PlanSince gives the places that end after a moment, done or not, by start.
func (tx *Tx) PlanSince(from time.Time) ([]order.Placed, error) {
	return tx.placed(tx.db.Where("ends_at > ?", moment(from)).Order("machine, starts_at, seq"))
}

// PlacesOf gives the places of one order.
func (tx *Tx) PlacesOf(orderID int64) ([]order.Placed, error) {
	return tx.placed(tx.db.Where("order_id = ?", orderID).Order("machine, seq"))
}

func (tx *Tx) placed(q *gorm.DB) ([]order.Placed, error) {
	var rows []placedRow
	err := q.Find(&rows).Error
	return convert(rows, placedRow.placed), err
}

// ReplacePlan writes the places not done yet anew; the done ones stay.
func (tx *Tx) ReplacePlan(actor party.Actor, places []order.Placed, what string) error {
	if err := tx.db.Where("done_at IS NULL").Delete(&placedRow{}).Error; err != nil {
		return err
	}
	rows := convert(places, newPlacedRow)
	if len(rows) > 0 {
		if err := tx.db.CreateInBatches(&rows, 200).Error; err != nil {
			return err
		}
	}
	if err := tx.notify(); err != nil {
		return err
	}
	return tx.Log(actor, what, "plan", 0, map[string]int{"lines": len(places)})
}

// SavePlace changes one place: pinned, begun or done.
func (tx *Tx) SavePlace(p order.Placed) error {
	row := newPlacedRow(p)
	done := tx.db.Model(&row).Where("line_id = ?", p.LineID).Select("*").Omit("line_id").Updates(&row)
	if done.Error == nil && done.RowsAffected == 0 {
		return fault.NotFoundf("this line isn't in the run plan")
	}
	return done.Error
}

// TakeOutOfPlan gives up the places of these lines.
func (tx *Tx) TakeOutOfPlan(lineIDs ...int64) error {
	if err := tx.db.Where("line_id IN ?", lineIDs).Delete(&placedRow{}).Error; err != nil {
		return err
	}
	return tx.notify()
}

type cutRecordRow struct {
	ID             int64 `gorm:"primaryKey"`
	Key            string
	LineID         int64
	CutID          int64
	CoilID         *int64
	Pieces         int64
	Length         int64
	MadeAt         time.Time
	MadeBy         string
	PileMovementID *int64
}

func (cutRecordRow) TableName() string { return "cut_records" }

func (r cutRecordRow) record() order.CutRecord {
	return order.CutRecord{
		ID: r.ID, Key: r.Key, LineID: r.LineID, CutID: r.CutID, CoilID: value(r.CoilID), FromPile: value(r.PileMovementID),
		Pieces: int(r.Pieces), Length: measure.Length(r.Length), At: r.MadeAt.UTC(), By: r.MadeBy,
	}
}

// AddCutRecord keeps pieces made. fresh is false when this key was kept before:
// then nothing is written.
func (tx *Tx) AddCutRecord(actor party.Actor, c order.CutRecord) (fresh bool, err error) {
	var there int64
	if err := tx.db.Model(&cutRecordRow{}).Where("key = ?", c.Key).Count(&there).Error; err != nil || there > 0 {
		return false, err
	}
	row := cutRecordRow{Key: c.Key, LineID: c.LineID, CutID: c.CutID, CoilID: optional(c.CoilID), PileMovementID: optional(c.FromPile), Pieces: int64(c.Pieces), Length: int64(c.Length), MadeAt: tx.now, MadeBy: actor.Name}
	return true, tx.db.Create(&row).Error
}

// CutRecords gives what was made of these lines, in order.
func (tx *Tx) CutRecords(lineIDs ...int64) ([]order.CutRecord, error) {
	var rows []cutRecordRow
	err := tx.db.Where("line_id IN ?", lineIDs).Order("id").Find(&rows).Error
	return convert(rows, cutRecordRow.record), err
}
