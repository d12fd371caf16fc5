package store

import (
	"encoding/json"
	"time"

	"gorm.io/gorm"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
)

type bundleRow struct {
	ID      int64 `gorm:"primaryKey"`
	Code    string
	OrderID int64
	No      int64
	Of      int64
	Items   string
	Pieces  int64
	Longest int64
	Width   int64
	Height  int64
	Balance int64
	Pounds  string
	LoadID  *int64
	Checked bool
}

func (bundleRow) TableName() string { return "bundles" }

func (r bundleRow) bundle() order.Bundle {
	b := order.Bundle{
		ID: r.ID, Code: r.Code, OrderID: r.OrderID, No: int(r.No), Of: int(r.Of), Pieces: int(r.Pieces),
		Longest: measure.Length(r.Longest), Width: measure.Length(r.Width), Height: measure.Length(r.Height),
		Balance: measure.Length(r.Balance), Pounds: readRate(r.Pounds), LoadID: value(r.LoadID), Checked: r.Checked,
	}
	_ = json.Unmarshal([]byte(r.Items), &b.Items) // written by newBundleRow
	return b
}

func newBundleRow(b order.Bundle) (bundleRow, error) {
	items, err := json.Marshal(b.Items)
	return bundleRow{
		ID: b.ID, Code: b.Code, OrderID: b.OrderID, No: int64(b.No), Of: int64(b.Of), Items: string(items), Pieces: int64(b.Pieces),
		Longest: int64(b.Longest), Width: int64(b.Width), Height: int64(b.Height), Balance: int64(b.Balance),
		Pounds: b.Pounds.String(), LoadID: optional(b.LoadID), Checked: b.Checked,
	}, err
}

// ReplaceBundles writes an order's bundles anew; only while none is on a load.
func (tx *Tx) ReplaceBundles(actor party.Actor, orderID int64, bundles []order.Bundle) ([]order.Bundle, error) {
	var loaded int64
	if err := tx.db.Model(&bundleRow{}).Where("order_id = ? AND load_id IS NOT NULL", orderID).Count(&loaded).Error; err != nil {
		return nil, err
	}
	if loaded > 0 {
		return nil, fault.Conflictf("%d bundles of the order are on a load; take them off first", loaded)
	}
	if err := tx.db.Where("order_id = ?", orderID).Delete(&bundleRow{}).Error; err != nil {
		return nil, err
	}
	for i := range bundles {
		bundles[i].OrderID = orderID
		row, err := newBundleRow(bundles[i])
		if err != nil {
			return nil, err
		}
		if err := tx.db.Create(&row).Error; err != nil {
			return nil, err
		}
		bundles[i].ID = row.ID
	}
	return bundles, tx.Log(actor, "bundled", "order", orderID, map[string]int{"bundles": len(bundles)})
}

// SaveBundle changes where a bundle stands and whether it is checked off.
func (tx *Tx) SaveBundle(b order.Bundle) error {
	return tx.db.Model(&bundleRow{}).Where("id = ?", b.ID).Updates(map[string]any{"load_id": optional(b.LoadID), "checked": b.Checked}).Error
}

// SaveContents changes what is in a bundle, after pieces were found missing.
func (tx *Tx) SaveContents(b order.Bundle) error {
	row, err := newBundleRow(b)
	if err != nil {
		return err
	}
	return tx.db.Model(&bundleRow{}).Where("id = ?", b.ID).Updates(map[string]any{"items": row.Items, "pieces": row.Pieces, "pounds": row.Pounds}).Error
}

// Bundle gives one bundle.
func (tx *Tx) Bundle(id int64) (order.Bundle, error) {
	list, err := tx.bundles(tx.db.Where("id = ?", id))
	return only(list, err, "there is no such bundle")
}

// BundlesOf gives an order's bundles by number.
func (tx *Tx) BundlesOf(orderIDs ...int64) ([]order.Bundle, error) {
	return tx.bundles(tx.db.Where("order_id IN ?", orderIDs).Order("order_id, no"))
}

// BundlesOn gives the bundles on a load, by order and number.
func (tx *Tx) BundlesOn(loadID int64) ([]order.Bundle, error) {
	return tx.bundles(tx.db.Where("load_id = ?", loadID).Order("order_id, no"))
}

// BundleByCode gives the bundle that a scanned code names.
func (tx *Tx) BundleByCode(code string) (order.Bundle, error) {
	list, err := tx.bundles(tx.db.Where("code = ?", code))
	return only(list, err, "no bundle has the code “%s”", code)
}

func (tx *Tx) bundles(q *gorm.DB) ([]order.Bundle, error) {
	var rows []bundleRow
	err := q.Find(&rows).Error
	return convert(rows, bundleRow.bundle), err
}

type loadRow struct {
	ID       int64 `gorm:"primaryKey"`
	Number   string
	Day      string
	Vehicle  string
	Driver   string
	DriverID *int64
	Departs  int64
	State    string
	Version  int64
}

func (loadRow) TableName() string { return "loads" }

func (r loadRow) load() order.Trip {
	return order.Trip{
		ID: r.ID, Number: r.Number, Day: readDay(r.Day), Vehicle: r.Vehicle, Driver: r.Driver, DriverID: value(r.DriverID),
		Departs: int(r.Departs), State: order.LoadState(r.State), Version: r.Version,
	}
}

// SaveLoad adds a load (id 0) or changes it, with its stops. Stops that have an
// id keep it; those no longer listed are taken away.
func (tx *Tx) SaveLoad(actor party.Actor, l order.Trip, what string) (order.Trip, error) {
	row := loadRow{
		ID: l.ID, Number: l.Number, Day: dayText(l.Day), Vehicle: l.Vehicle, Driver: l.Driver, DriverID: optional(l.DriverID),
		Departs: int64(l.Departs), State: string(l.State), Version: l.Version + 1,
	}
	var err error
	if l.ID == 0 {
		err = tx.db.Create(&row).Error
	} else {
		err = tx.update(&row, "load", l.ID, l.Version)
	}
	if err != nil {
		return l, err
	}
	l.ID, l.Version = row.ID, row.Version
	kept := []int64{0}
	for i := range l.Stops {
		l.Stops[i].LoadID, l.Stops[i].Seq = l.ID, i+1
		stop, err := newStopRow(l.Stops[i])
		if err != nil {
			return l, err
		}
		if err := tx.db.Save(&stop).Error; err != nil {
			return l, err
		}
		l.Stops[i].ID = stop.ID
		kept = append(kept, stop.ID)
	}
	if err := tx.db.Where("load_id = ? AND id NOT IN ?", l.ID, kept).Delete(&stopRow{}).Error; err != nil {
		return l, err
	}
	return l, tx.Log(actor, what, "load", l.ID, map[string]any{"number": l.Number, "state": l.State, "stops": len(l.Stops)})
}

// Load gives one load with its stops.
func (tx *Tx) Load(id int64) (order.Trip, error) {
	list, err := tx.loads(tx.db.Where("id = ?", id))
	return only(list, err, "there is no such load")
}

// Loads gives the loads from a day on that aren't older, by day and number.
func (tx *Tx) Loads(from time.Time) ([]order.Trip, error) {
	return tx.loads(tx.db.Where("day >= ?", dayText(from)).Order("day, id"))
}

// LoadsOf gives the loads that carry an order.
func (tx *Tx) LoadsOf(orderID int64) ([]order.Trip, error) {
	with := tx.db.Model(&stopRow{}).Select("load_id").Where("order_id = ?", orderID)
	return tx.loads(tx.db.Where("id IN (?)", with).Order("day, id"))
}

// LoadsOfDriver gives a driver's loads that aren't done, oldest first.
func (tx *Tx) LoadsOfDriver(personID int64) ([]order.Trip, error) {
	return tx.loads(tx.db.Where("driver_id = ? AND state <> ?", personID, string(order.Done)).Order("day, id"))
}

func (tx *Tx) loads(q *gorm.DB) ([]order.Trip, error) {
	var rows []loadRow
	if err := q.Find(&rows).Error; err != nil || len(rows) == 0 {
		return nil, err
	}
	list := convert(rows, loadRow.load)
	at := map[int64]int{}
	ids := make([]int64, len(rows))
	for i, r := range rows {
		at[r.ID], ids[i] = i, r.ID
	}
	var stops []stopRow
	if err := tx.db.Where("load_id IN ?", ids).Order("load_id, seq").Find(&stops).Error; err != nil {
		return nil, err
	}
	for _, s := range stops {
		l := &list[at[s.LoadID]]
		l.Stops = append(l.Stops, s.stop())
	}
	return list, nil
}

type stopRow struct {
	ID         int64 `gorm:"primaryKey"`
	LoadID     int64
	OrderID    int64
	Seq        int64
	Opens      int64
	Closes     int64
	Ticket     string
	PaperID    *int64
	Receiver   string
	Signature  []byte
	SignedAt   *time.Time
	Unattended string
	Exceptions string
	Key        string
}

func (stopRow) TableName() string { return "stops" }

func (r stopRow) stop() order.Stop {
	s := order.Stop{
		ID: r.ID, LoadID: r.LoadID, OrderID: r.OrderID, Seq: int(r.Seq), Opens: int(r.Opens), Closes: int(r.Closes), Ticket: r.Ticket,
		PaperID: value(r.PaperID), Receiver: r.Receiver, Signature: r.Signature, SignedAt: readTime(r.SignedAt),
		Unattended: r.Unattended, Key: r.Key,
	}
	_ = json.Unmarshal([]byte(r.Exceptions), &s.Exceptions) // written by newStopRow
	return s
}

func newStopRow(s order.Stop) (stopRow, error) {
	exceptions, err := json.Marshal(s.Exceptions)
	return stopRow{
		ID: s.ID, LoadID: s.LoadID, OrderID: s.OrderID, Seq: int64(s.Seq), Opens: int64(s.Opens), Closes: int64(s.Closes),
		Ticket: s.Ticket, PaperID: optional(s.PaperID), Receiver: s.Receiver, Signature: s.Signature,
		SignedAt: optionalTime(s.SignedAt), Unattended: s.Unattended, Exceptions: string(exceptions), Key: s.Key,
	}, err
}

// Stop gives one stop.
func (tx *Tx) Stop(id int64) (order.Stop, error) {
	var row stopRow
	err := tx.db.Take(&row, id).Error
	return row.stop(), found(err, "there is no such stop")
}

// StopsOf gives an order's stops in the order they were made.
func (tx *Tx) StopsOf(orderID int64) ([]order.Stop, error) {
	var rows []stopRow
	err := tx.db.Where("order_id = ?", orderID).Order("id").Find(&rows).Error
	return convert(rows, stopRow.stop), err
}

// SaveStop changes one stop.
func (tx *Tx) SaveStop(actor party.Actor, s order.Stop, what string) error {
	row, err := newStopRow(s)
	if err != nil {
		return err
	}
	if err := tx.db.Save(&row).Error; err != nil {
		return err
	}
	return tx.Log(actor, what, "stop", s.ID, map[string]any{"order": s.OrderID, "receiver": s.Receiver, "exceptions": len(s.Exceptions)})
}
