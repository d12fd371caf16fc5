package store

import (
	"encoding/json"
	"time"

	"gorm.io/gorm"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
)

// metalRow is what the rows of coils and piles have in common. Where it is
// embedded the field has a name of its own: gorm passes over an embedded struct
// whose type isn't exported.
type metalRow struct {
	ID       int64 `gorm:"primaryKey"`
	Tag      string
	Material string
	Gauge    string
	Width    int64
	Colour   string
	Lot      string
	Supplier string
	Received string
	Landed   int64
	Currency string
	Spent    bool
	Version  int64
}

func newMetalRow(m stock.Metal) metalRow {
	return metalRow{
		ID: m.ID, Tag: m.Tag, Material: m.Strip.Material, Gauge: m.Strip.Gauge, Width: int64(m.Strip.Width), Colour: m.Strip.Colour,
		Lot: m.Lot, Supplier: m.Supplier, Received: dayText(m.Received), Landed: m.Landed.Cents(), Currency: string(m.Landed.Currency()),
		Spent: m.Spent, Version: m.Version,
	}
}

func (r metalRow) metal() stock.Metal {
	return stock.Metal{
		ID: r.ID, Tag: r.Tag, Strip: stock.Strip{Material: r.Material, Gauge: r.Gauge, Width: measure.Length(r.Width), Colour: r.Colour},
		Lot: r.Lot, Supplier: r.Supplier, Received: readDay(r.Received), Landed: money.Cents(r.Landed, money.Currency(r.Currency)),
		Spent: r.Spent, Version: r.Version,
	}
}

type coilRow struct {
	Metal     metalRow `gorm:"embedded"`
	Thickness int64
	Pounds    string
	Original  int64
	Remnant   bool
	Mounted   string
}

func (coilRow) TableName() string { return "coils" }

func newCoilRow(c stock.Coil) coilRow {
	return coilRow{
		Metal: newMetalRow(c.Metal), Thickness: int64(c.Thickness), Pounds: c.Pounds.String(), Original: int64(c.Original),
		Remnant: c.Remnant, Mounted: c.Mounted,
	}
}

// countedCoil is a coil row with its sums.
type countedCoil struct {
	Row      coilRow `gorm:"embedded"`
	OnHand   int64
	Promised int64
}

func (c countedCoil) coil() stock.Coil {
	r := c.Row
	return stock.Coil{
		Metal: r.Metal.metal(), Thickness: measure.Length(r.Thickness), Pounds: readRate(r.Pounds), Original: measure.Length(r.Original),
		Remnant: r.Remnant, Mounted: r.Mounted,
		OnHand: measure.Length(c.OnHand), Promised: measure.Length(c.Promised),
	}
}

// What is on hand and promised is summed where it is read; it is stored nowhere.
const coilSums = `coils.*,
	(SELECT COALESCE(SUM(length), 0) FROM movements WHERE coil_id = coils.id) AS on_hand,
	(SELECT COALESCE(SUM(length), 0) FROM reservations WHERE coil_id = coils.id) AS promised`

func (tx *Tx) coils(q *gorm.DB) ([]stock.Coil, error) {
	var rows []countedCoil
	err := q.Model(&coilRow{}).Select(coilSums).Find(&rows).Error
	return convert(rows, countedCoil.coil), err
}

// Coils gives the coils that aren't spent, by strip and tag.
func (tx *Tx) Coils() ([]stock.Coil, error) {
	return tx.coils(tx.db.Where("NOT spent").Order("material, gauge, colour, width, remnant, tag"))
}

// AllCoils gives every coil there ever was.
func (tx *Tx) AllCoils() ([]stock.Coil, error) { return tx.coils(tx.db.Order("id")) }

// CoilsOf gives the coils of one strip that aren't spent, oldest first.
func (tx *Tx) CoilsOf(s stock.Strip) ([]stock.Coil, error) {
	return tx.coils(tx.db.Where("NOT spent AND material = ? AND gauge = ? AND width = ? AND colour = ?",
		s.Material, s.Gauge, int64(s.Width), s.Colour).Order("received, id"))
}

// CoilsOfMetal gives the coils of a strip's metal in any width that aren't spent,
// oldest first.
func (tx *Tx) CoilsOfMetal(s stock.Strip) ([]stock.Coil, error) {
	return tx.coils(tx.db.Where("NOT spent AND material = ? AND gauge = ? AND colour = ?", s.Material, s.Gauge, s.Colour).Order("received, id"))
}

// Coil gives one coil.
func (tx *Tx) Coil(id int64) (stock.Coil, error) {
	list, err := tx.coils(tx.db.Where("id = ?", id))
	return only(list, err, "there is no coil %d", id)
}

// CoilByTag gives the coil with this tag.
func (tx *Tx) CoilByTag(tag string) (stock.Coil, error) {
	list, err := tx.coils(tx.db.Where("tag = ?", tag))
	return only(list, err, "there is no coil %q", tag)
}

// AddCoil keeps a new coil; its feet come by a movement.
func (tx *Tx) AddCoil(actor party.Actor, c stock.Coil) (stock.Coil, error) {
	row := newCoilRow(c)
	row.Metal.Version = 1
	if err := tx.db.Create(&row).Error; err != nil {
		return c, err
	}
	c.ID, c.Version = row.Metal.ID, row.Metal.Version
	return c, tx.Log(actor, "received", "coil", c.ID, row)
}

// SaveCoil changes a coil's own data (never its feet) when its version is still
// the one seen.
func (tx *Tx) SaveCoil(actor party.Actor, c stock.Coil, what string) (stock.Coil, error) {
	row := newCoilRow(c)
	row.Metal.Version++
	if err := tx.update(&row, "coil", c.ID, c.Version); err != nil {
		return c, err
	}
	c.Version = row.Metal.Version
	return c, tx.Log(actor, what, "coil", c.ID, row)
}

type movementRow struct {
	ID     int64 `gorm:"primaryKey"`
	CoilID int64
	Kind   string
	Length int64
	Reason string
	LineID *int64
	Pieces int64
	MadeAt time.Time
	MadeBy string
}

func (movementRow) TableName() string { return "movements" }

func (r movementRow) movement() stock.Movement {
	return stock.Movement{
		ID: r.ID, CoilID: r.CoilID, Kind: stock.Moved(r.Kind), Length: measure.Length(r.Length), Reason: r.Reason,
		LineID: value(r.LineID), Pieces: int(r.Pieces), At: r.MadeAt.UTC(), By: r.MadeBy,
	}
}

// AddMovement appends to a coil's ledger. It refuses what would leave less than
// nothing on the coil.
func (tx *Tx) AddMovement(actor party.Actor, m stock.Movement) (stock.Movement, error) {
	if err := m.Check(); err != nil {
		return m, err
	}
	row := movementRow{
		CoilID: m.CoilID, Kind: string(m.Kind), Length: int64(m.Length), Reason: m.Reason,
		LineID: optional(m.LineID), Pieces: int64(m.Pieces), MadeAt: tx.now, MadeBy: actor.Name,
	}
	if err := tx.db.Create(&row).Error; err != nil {
		return m, err
	}
	var left int64
	if err := tx.db.Model(&movementRow{}).Where("coil_id = ?", m.CoilID).Select("SUM(length)").Scan(&left).Error; err != nil {
		return m, err
	}
	if left < 0 {
		return m, fault.Conflictf("the coil holds %s less than that; count it first", measure.Length(-left))
	}
	return row.movement(), tx.Log(actor, "moved "+string(m.Kind), "coil", m.CoilID, row)
}

// Movements gives a coil's ledger, oldest first.
func (tx *Tx) Movements(coilID int64) ([]stock.Movement, error) {
	var rows []movementRow
	err := tx.db.Where("coil_id = ?", coilID).Order("id").Find(&rows).Error
	return convert(rows, movementRow.movement), err
}

// AllMovements gives the whole ledger in order.
func (tx *Tx) AllMovements() ([]stock.Movement, error) {
	var rows []movementRow
	err := tx.db.Order("id").Find(&rows).Error
	return convert(rows, movementRow.movement), err
}

type reservationRow struct {
	ID     int64 `gorm:"primaryKey"`
	CoilID int64
	LineID int64
	Length int64
	Cuts   string
}

func (reservationRow) TableName() string { return "reservations" }

func (r reservationRow) reservation() order.Reservation {
	v := order.Reservation{ID: r.ID, CoilID: r.CoilID, LineID: r.LineID, Length: measure.Length(r.Length)}
	_ = json.Unmarshal([]byte(r.Cuts), &v.Cuts) // written by Reserve
	return v
}

// Reserve promises feet of a coil to a line, or refuses when the coil hasn't
// that much free. Writes run one at a time, so two can't promise the same feet.
func (tx *Tx) Reserve(r order.Reservation) error {
	c, err := tx.Coil(r.CoilID)
	if err != nil {
		return err
	}
	if r.Length > c.Free() {
		return fault.Conflictf("coil %s has only %s free; %s was asked of it", c.Tag, c.Free(), r.Length)
	}
	cuts, err := json.Marshal(r.Cuts)
	if err != nil {
		return err
	}
	return tx.db.Create(&reservationRow{CoilID: r.CoilID, LineID: r.LineID, Length: int64(r.Length), Cuts: string(cuts)}).Error
}

// SaveReservation changes how much of a promise is left; nothing left takes it away.
func (tx *Tx) SaveReservation(r order.Reservation) error {
	if r.Length <= 0 || len(r.Cuts) == 0 {
		return tx.db.Delete(&reservationRow{}, r.ID).Error
	}
	cuts, err := json.Marshal(r.Cuts)
	if err != nil {
		return err
	}
	return tx.db.Model(&reservationRow{}).Where("id = ?", r.ID).Updates(map[string]any{"length": int64(r.Length), "cuts": string(cuts)}).Error
}

// Reservations gives what is promised to these lines.
func (tx *Tx) Reservations(lineIDs ...int64) ([]order.Reservation, error) {
	var rows []reservationRow
	err := tx.db.Where("line_id IN ?", lineIDs).Order("id").Find(&rows).Error
	return convert(rows, reservationRow.reservation), err
}

// ReservationsOn gives what is promised of a coil.
func (tx *Tx) ReservationsOn(coilID int64) ([]order.Reservation, error) {
	var rows []reservationRow
	err := tx.db.Where("coil_id = ?", coilID).Order("id").Find(&rows).Error
	return convert(rows, reservationRow.reservation), err
}

// Release takes the promises to these lines back, of coil and of sheets.
func (tx *Tx) Release(lineIDs ...int64) error {
	if err := tx.db.Where("line_id IN ?", lineIDs).Delete(&reservationRow{}).Error; err != nil {
		return err
	}
	return tx.releaseSheets(lineIDs)
}
