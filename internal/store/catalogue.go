package store

import (
	"encoding/json"
	"errors"
	"fmt"

	"gorm.io/gorm"

	"ribdesk/internal/fault"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
)

// Shelved is a catalogue item as it is kept.
type Shelved[T stock.Item] struct {
	ID      int64
	Item    T
	Retired bool
	Version int64
}

type catalogueRow struct {
	ID      int64 `gorm:"primaryKey"`
	Kind    string
	Code    string
	Name    string
	Body    string
	Retired bool
	Version int64
}

func (catalogueRow) TableName() string { return "catalogue" }

func shelved[T stock.Item](r catalogueRow) (Shelved[T], error) {
	s := Shelved[T]{ID: r.ID, Retired: r.Retired, Version: r.Version}
	if err := json.Unmarshal([]byte(r.Body), &s.Item); err != nil {
		return s, fmt.Errorf("catalogue %s %s: %w", r.Kind, r.Code, err)
	}
	return s, nil
}

// Shelf gives every item of a kind by code, retired ones last.
func Shelf[T stock.Item](tx *Tx) ([]Shelved[T], error) {
	var none T
	var rows []catalogueRow
	if err := tx.db.Where("kind = ?", string(none.Shelf())).Order("retired, code").Find(&rows).Error; err != nil {
		return nil, err
	}
	items := make([]Shelved[T], len(rows))
	for i, r := range rows {
		var err error
		if items[i], err = shelved[T](r); err != nil {
			return nil, err
		}
	}
	return items, nil
}

// FromShelf gives one item by its code, retired or not.
func FromShelf[T stock.Item](tx *Tx, code string) (Shelved[T], error) {
	var none T
	var row catalogueRow
	err := tx.db.Where("kind = ? AND code = ?", string(none.Shelf()), code).Take(&row).Error
	if err := found(err, "there is no %s %q", none.Shelf(), code); err != nil {
		return Shelved[T]{}, err
	}
	return shelved[T](row)
}

// PutOnShelf adds an item (id 0) or changes it when its version is still the
// one the person saw. The code of an item that is there never changes: orders
// refer to it.
func PutOnShelf[T stock.Item](tx *Tx, actor party.Actor, s Shelved[T]) (Shelved[T], error) {
	body, err := json.Marshal(s.Item)
	if err != nil {
		return s, err
	}
	kind := string(s.Item.Shelf())
	row := catalogueRow{ID: s.ID, Kind: kind, Code: s.Item.Key(), Name: s.Item.Label(), Body: string(body), Retired: s.Retired, Version: s.Version + 1}
	if s.ID == 0 {
		err = tx.db.Create(&row).Error
	} else {
		var there catalogueRow
		if err := tx.db.Take(&there, s.ID).Error; err != nil {
			return s, err
		}
		if there.Code != row.Code {
			return s, fault.Invalidf("code", "the code stays %s: orders and coils refer to it", there.Code)
		}
		err = tx.update(&row, kind, s.ID, s.Version)
	}
	if err != nil {
		return s, err
	}
	s.ID, s.Version = row.ID, row.Version
	return s, tx.Log(actor, "saved", kind, s.ID, s.Item)
}

type settingRow struct {
	ID      int64 `gorm:"primaryKey"`
	Name    string
	Body    string
	Version int64
}

func (settingRow) TableName() string { return "settings" }

// Setting reads a named document into v and gives its version; 0 when it was
// never saved, which leaves v as it is.
func (tx *Tx) Setting(name string, v any) (version int64, err error) {
	var row settingRow
	err = tx.db.Where("name = ?", name).Take(&row).Error
	if errors.Is(err, gorm.ErrRecordNotFound) {
		return 0, nil
	}
	if err != nil {
		return 0, err
	}
	return row.Version, json.Unmarshal([]byte(row.Body), v)
}

// SaveSetting keeps a named document when its version is still the one seen.
func (tx *Tx) SaveSetting(actor party.Actor, name string, v any, seen int64) error {
	body, err := json.Marshal(v)
	if err != nil {
		return err
	}
	row := settingRow{Name: name, Body: string(body), Version: seen + 1}
	if seen == 0 {
		err = tx.db.Create(&row).Error
	} else {
		var there settingRow
		if err := tx.db.Where("name = ?", name).Take(&there).Error; err != nil {
			return err
		}
		row.ID = there.ID
		err = tx.update(&row, "setting", there.ID, seen)
	}
	if err != nil {
		return err
	}
	return tx.Log(actor, "saved "+name, "setting", row.ID, v)
}
