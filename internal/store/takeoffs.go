package store

import (
	"time"

	"ribdesk/internal/party"
)

// TakeOff is a roof take-off as it is kept; Inputs is the desk's own JSON.
type TakeOff struct {
	ID         int64
	Code       string
	OrderID    int64 // 0 until an order is made from it
	CustomerID int64 // 0 for nobody's
	Name       string
	Inputs     []byte
	MadeBy     string
	CreatedAt  time.Time
	UpdatedAt  time.Time
	Version    int64
}

type takeOffRow struct {
	ID         int64 `gorm:"primaryKey"`
	Code       string
	OrderID    *int64
	CustomerID *int64
	Name       string
	Inputs     string
	MadeBy     string
	CreatedAt  time.Time
	UpdatedAt  time.Time
	Version    int64
}

func (takeOffRow) TableName() string { return "take_offs" }

func newTakeOffRow(t TakeOff) takeOffRow {
	return takeOffRow{
		ID: t.ID, Code: t.Code, OrderID: optional(t.OrderID), CustomerID: optional(t.CustomerID), Name: t.Name,
		Inputs: string(t.Inputs), MadeBy: t.MadeBy, CreatedAt: moment(t.CreatedAt), UpdatedAt: moment(t.UpdatedAt), Version: t.Version,
	}
}

func (r takeOffRow) takeOff() TakeOff {
	return TakeOff{
		ID: r.ID, Code: r.Code, OrderID: value(r.OrderID), CustomerID: value(r.CustomerID), Name: r.Name, Inputs: []byte(r.Inputs),
		MadeBy: r.MadeBy, CreatedAt: r.CreatedAt.UTC(), UpdatedAt: r.UpdatedAt.UTC(), Version: r.Version,
	}
}

// AddTakeOff keeps a new take-off.
func (tx *Tx) AddTakeOff(actor party.Actor, t TakeOff) (TakeOff, error) {
	t.ID, t.CreatedAt, t.UpdatedAt, t.MadeBy, t.Version = 0, tx.now, tx.now, actor.Name, 1
	row := newTakeOffRow(t)
	if err := tx.db.Create(&row).Error; err != nil {
		return t, err
	}
	return row.takeOff(), tx.Log(actor, "kept", "take-off", row.ID, map[string]any{"name": t.Name, "order": t.OrderID})
}

// SaveTakeOff replaces a take-off whose version is still the one looked at.
func (tx *Tx) SaveTakeOff(actor party.Actor, t TakeOff, what string) (TakeOff, error) {
	seen := t.Version
	t.Version, t.UpdatedAt = seen+1, tx.now
	row := newTakeOffRow(t)
	if err := tx.update(&row, "take-off", t.ID, seen); err != nil {
		return t, err
	}
	return t, tx.Log(actor, what, "take-off", t.ID, map[string]any{"name": t.Name, "order": t.OrderID})
}

// TakeOff gives the take-off of a code.
func (tx *Tx) TakeOff(code string) (TakeOff, error) {
	var row takeOffRow
	err := tx.db.Where("code = ?", code).Take(&row).Error
	return row.takeOff(), found(err, "there is no such take-off")
}

// TakeOffsOf gives the take-offs that an order was made from, oldest first.
func (tx *Tx) TakeOffsOf(orderID int64) ([]TakeOff, error) {
	var rows []takeOffRow
	err := tx.db.Where("order_id = ?", orderID).Order("id").Find(&rows).Error
	return convert(rows, takeOffRow.takeOff), err
}

// TakeOffs gives the newest take-offs of a customer, or with 0 of everybody.
func (tx *Tx) TakeOffs(customerID int64, limit int) ([]TakeOff, error) {
	q := tx.db
	if customerID != 0 {
		q = q.Where("customer_id = ?", customerID)
	}
	var rows []takeOffRow
	err := q.Order("id DESC").Limit(limit).Find(&rows).Error
	return convert(rows, takeOffRow.takeOff), err
}
