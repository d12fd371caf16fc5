package store

import "time"

// Hook is an address that is told of events.
type Hook struct {
	ID        int64
	URL       string
	Secret    string
	Kinds     string // of events, separated by spaces
	After     int64  // the last event handed out
	Off       bool
	CreatedAt time.Time
}

type hookRow struct {
	ID        int64 `gorm:"primaryKey"`
	URL       string
	Secret    string
	Kinds     string
	After     int64
	Off       bool
	CreatedAt time.Time
}

func (hookRow) TableName() string { return "hooks" }

func (r hookRow) hook() Hook {
	h := Hook(r)
	h.CreatedAt = r.CreatedAt.UTC()
	return h
}

// HookDelivery is one event on its way to one hook.
type HookDelivery struct {
	ID      int64
	HookID  int64
	EventID int64
	Kind    string
	Sending
}

type hookDeliveryRow struct {
	ID      int64 `gorm:"primaryKey"`
	HookID  int64
	EventID int64
	Kind    string
	Sending
}

func (hookDeliveryRow) TableName() string { return "hook_deliveries" }

func (r hookDeliveryRow) delivery() HookDelivery {
	d := HookDelivery(r)
	d.NextAt = r.NextAt.UTC()
	return d
}

// AddHook keeps a new hook. It is told of events from now on.
func (tx *Tx) AddHook(h *Hook) (err error) {
	if h.After, err = tx.Stamp(); err != nil {
		return err
	}
	h.CreatedAt = tx.now
	row := hookRow(*h)
	err = tx.db.Create(&row).Error
	h.ID = row.ID
	return err
}

// Hook gives one hook.
func (tx *Tx) Hook(id int64) (Hook, error) {
	var row hookRow
	err := tx.db.Take(&row, id).Error
	return row.hook(), found(err, "there is no such address")
}

// Hooks gives all hooks, those that are on first.
func (tx *Tx) Hooks() ([]Hook, error) {
	var rows []hookRow
	err := tx.db.Order("off, id").Find(&rows).Error
	return convert(rows, hookRow.hook), err
}

// TurnHookOff ends a hook, and what still waited for it.
func (tx *Tx) TurnHookOff(id int64) error {
	if err := tx.db.Model(&hookRow{}).Where("id = ?", id).Update("off", true).Error; err != nil {
		return err
	}
	return tx.db.Model(&hookDeliveryRow{}).Where("hook_id = ? AND state = ?", id, SendWaiting).
		Updates(map[string]any{"state": SendGivenUp, "outcome": OutcomeTurnedOff}).Error
}

// HandedOut notes how far the log was handed out to a hook.
func (tx *Tx) HandedOut(hookID, eventID int64) error {
	return tx.db.Model(&hookRow{}).Where("id = ?", hookID).Update("after", eventID).Error
}

// EventsAfter gives the events after one, oldest first.
func (tx *Tx) EventsAfter(id int64, limit int) ([]Event, error) {
	var rows []eventRow
	err := tx.db.Where("id > ?", id).Order("id").Limit(limit).Find(&rows).Error
	return convert(rows, eventRow.event), err
}

// Event gives one event.
func (tx *Tx) Event(id int64) (Event, error) {
	var row eventRow
	err := tx.db.Take(&row, id).Error
	return row.event(), found(err, "there is no event %d", id)
}

// AddHookDelivery keeps that an event is to be told.
func (tx *Tx) AddHookDelivery(d HookDelivery) error {
	row := hookDeliveryRow(d)
	return tx.db.Create(&row).Error
}

// HookDelivery gives one delivery.
func (tx *Tx) HookDelivery(id int64) (HookDelivery, error) {
	var row hookDeliveryRow
	err := tx.db.Take(&row, id).Error
	return row.delivery(), found(err, "there is no delivery %d", id)
}

// DueHookDelivery gives the delivery to a hook that waits longest, false when none
// is due.
func (tx *Tx) DueHookDelivery(hookID int64) (HookDelivery, bool, error) {
	row, waits, err := due(tx, hookDeliveryRow{HookID: hookID})
	return row.delivery(), waits, err
}

// SaveHookDelivery keeps how a delivery stands.
func (tx *Tx) SaveHookDelivery(d HookDelivery) error {
	row := hookDeliveryRow(d)
	return tx.saveSending(&row)
}

// HookDeliveries gives the newest deliveries of a hook.
func (tx *Tx) HookDeliveries(hookID int64, limit int) ([]HookDelivery, error) {
	var rows []hookDeliveryRow
	err := tx.db.Where("hook_id = ?", hookID).Order("id DESC").Limit(limit).Find(&rows).Error
	return convert(rows, hookDeliveryRow.delivery), err
}

// AllHookDeliveries gives every delivery, oldest first.
func (tx *Tx) AllHookDeliveries() ([]HookDelivery, error) {
	var rows []hookDeliveryRow
	err := tx.db.Order("id").Find(&rows).Error
	return convert(rows, hookDeliveryRow.delivery), err
}
