package store

import (
	"time"

	"gorm.io/gorm"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
)

type pileRow struct {
	Metal  metalRow `gorm:"embedded"`
	Length int64
	Sheets int64
}

func (pileRow) TableName() string { return "piles" }

func newPileRow(p stock.Pile) pileRow {
	return pileRow{Metal: newMetalRow(p.Metal), Length: int64(p.Length), Sheets: int64(p.Original)}
}

// countedPile is a pile row with its sums.
type countedPile struct {
	Row      pileRow `gorm:"embedded"`
	OnHand   int64
	Promised int64
}

func (c countedPile) pile() stock.Pile {
	r := c.Row
	return stock.Pile{
		Metal: r.Metal.metal(), Length: measure.Length(r.Length), Original: int(r.Sheets), OnHand: int(c.OnHand), Promised: int(c.Promised),
	}
}

const pileSums = `piles.*,
	(SELECT COALESCE(SUM(sheets), 0) FROM pile_movements WHERE pile_id = piles.id) AS on_hand,
	(SELECT COUNT(*) FROM sheet_promises WHERE pile_id = piles.id) AS promised`

func (tx *Tx) piles(q *gorm.DB) ([]stock.Pile, error) {
	var rows []countedPile
	err := q.Model(&pileRow{}).Select(pileSums).Find(&rows).Error
	return convert(rows, countedPile.pile), err
}

// Piles gives the piles that aren't spent, by metal and size, the oldest first.
func (tx *Tx) Piles() ([]stock.Pile, error) {
	return tx.piles(tx.db.Where("NOT spent").Order("material, gauge, colour, width, length, received, id"))
}

// AllPiles gives every pile there ever was.
func (tx *Tx) AllPiles() ([]stock.Pile, error) { return tx.piles(tx.db.Order("id")) }

// Pile gives one pile.
func (tx *Tx) Pile(id int64) (stock.Pile, error) {
	list, err := tx.piles(tx.db.Where("id = ?", id))
	return only(list, err, "there is no pile of sheets %d", id)
}

// AddPile keeps a new pile; its sheets come by a movement.
func (tx *Tx) AddPile(actor party.Actor, p stock.Pile) (stock.Pile, error) {
	row := newPileRow(p)
	row.Metal.Version = 1
	if err := tx.db.Create(&row).Error; err != nil {
		return p, err
	}
	p.ID, p.Version = row.Metal.ID, row.Metal.Version
	return p, tx.Log(actor, "received", "pile", p.ID, row)
}

// SavePile changes a pile's own data (never its sheets) when its version is
// still the one seen.
func (tx *Tx) SavePile(actor party.Actor, p stock.Pile, what string) error {
	row := newPileRow(p)
	row.Metal.Version++
	if err := tx.update(&row, "pile", p.ID, p.Version); err != nil {
		return err
	}
	return tx.Log(actor, what, "pile", p.ID, row)
}

type pileMovementRow struct {
	ID     int64 `gorm:"primaryKey"`
	PileID int64
	Kind   string
	Sheets int64
	Reason string
	MadeAt time.Time
	MadeBy string
}

func (pileMovementRow) TableName() string { return "pile_movements" }

func (r pileMovementRow) movement() stock.PileMovement {
	return stock.PileMovement{ID: r.ID, PileID: r.PileID, Kind: stock.Moved(r.Kind), Sheets: int(r.Sheets), Reason: r.Reason, At: r.MadeAt.UTC(), By: r.MadeBy}
}

// MovePile appends to a pile's ledger. It refuses what would leave fewer sheets
// than are promised.
func (tx *Tx) MovePile(actor party.Actor, m stock.PileMovement) (stock.PileMovement, error) {
	if err := m.Check(); err != nil {
		return m, err
	}
	row := pileMovementRow{PileID: m.PileID, Kind: string(m.Kind), Sheets: int64(m.Sheets), Reason: m.Reason, MadeAt: tx.now, MadeBy: actor.Name}
	if err := tx.db.Create(&row).Error; err != nil {
		return m, err
	}
	p, err := tx.Pile(m.PileID)
	if err != nil {
		return m, err
	}
	if p.Free() < 0 {
		return m, fault.Conflictf("pile %s would hold %d sheets, and %d are promised to patterns", p.Tag, p.OnHand, p.Promised)
	}
	if p.OnHand == 0 && !p.Spent {
		p.Spent = true
		if err := tx.SavePile(actor, p, "spent"); err != nil {
			return m, err
		}
	}
	return row.movement(), tx.Log(actor, "moved "+string(m.Kind), "pile", m.PileID, row)
}

// PileMovements gives the ledgers of these piles, oldest first; of all piles
// when none is named.
func (tx *Tx) PileMovements(pileIDs ...int64) ([]stock.PileMovement, error) {
	q := tx.db.Order("id")
	if len(pileIDs) > 0 {
		q = q.Where("pile_id IN ?", pileIDs)
	}
	var rows []pileMovementRow
	err := q.Find(&rows).Error
	return convert(rows, pileMovementRow.movement), err
}

type sheetPromiseRow struct {
	ID      int64 `gorm:"primaryKey"`
	PileID  int64
	Pattern string
}

func (sheetPromiseRow) TableName() string { return "sheet_promises" }

type sheetBlankRow struct {
	ID        int64 `gorm:"primaryKey"`
	PromiseID int64
	LineID    int64
	CutID     int64
	Pieces    int64
	Length    int64
}

func (sheetBlankRow) TableName() string { return "sheet_blanks" }

func (r sheetBlankRow) blank() order.SheetBlank {
	return order.SheetBlank{ID: r.ID, LineID: r.LineID, CutShare: order.CutShare{CutID: r.CutID, Qty: int(r.Pieces), Length: measure.Length(r.Length)}}
}

// ReserveSheet promises one sheet of a pile to the blanks of a pattern, or
// refuses when the pile has none free.
func (tx *Tx) ReserveSheet(s order.SheetPromise) error {
	p, err := tx.Pile(s.PileID)
	if err != nil {
		return err
	}
	if p.Free() < 1 {
		return fault.Conflictf("pile %s has no sheet free", p.Tag)
	}
	row := sheetPromiseRow{PileID: s.PileID, Pattern: s.Pattern}
	if err := tx.db.Create(&row).Error; err != nil {
		return err
	}
	var blanks []sheetBlankRow
	for _, b := range s.Blanks {
		blanks = append(blanks, sheetBlankRow{PromiseID: row.ID, LineID: b.LineID, CutID: b.CutID, Pieces: int64(b.Qty), Length: int64(b.Length)})
	}
	return tx.db.Create(&blanks).Error
}

// SheetPromises gives all sheets that are promised, in order.
func (tx *Tx) SheetPromises() ([]order.SheetPromise, error) {
	var rows []sheetPromiseRow
	if err := tx.db.Order("id").Find(&rows).Error; err != nil {
		return nil, err
	}
	if len(rows) == 0 {
		return nil, nil
	}
	var blanks []sheetBlankRow
	if err := tx.db.Order("id").Find(&blanks).Error; err != nil {
		return nil, err
	}
	of := map[int64][]order.SheetBlank{}
	for _, b := range blanks {
		of[b.PromiseID] = append(of[b.PromiseID], b.blank())
	}
	return convert(rows, func(r sheetPromiseRow) order.SheetPromise {
		return order.SheetPromise{ID: r.ID, PileID: r.PileID, Pattern: r.Pattern, Blanks: of[r.ID]}
	}), nil
}

// SheetBlanks gives what these lines are promised from sheets.
func (tx *Tx) SheetBlanks(lineIDs ...int64) ([]order.SheetBlank, error) {
	var rows []sheetBlankRow
	err := tx.db.Where("line_id IN ?", lineIDs).Order("id").Find(&rows).Error
	return convert(rows, sheetBlankRow.blank), err
}

// SaveSheetBlank changes how many pieces a sheet still yields for a line; none
// takes it away, and a sheet that yields nothing more is free again.
func (tx *Tx) SaveSheetBlank(b order.SheetBlank) error {
	if b.Qty > 0 {
		return tx.db.Model(&sheetBlankRow{}).Where("id = ?", b.ID).Update("pieces", b.Qty).Error
	}
	if err := tx.db.Delete(&sheetBlankRow{}, b.ID).Error; err != nil {
		return err
	}
	return tx.freeSheets()
}

// TakeSheet ends the promise of a sheet that is cut.
func (tx *Tx) TakeSheet(promiseID int64) error {
	if err := tx.db.Where("promise_id = ?", promiseID).Delete(&sheetBlankRow{}).Error; err != nil {
		return err
	}
	return tx.db.Delete(&sheetPromiseRow{}, promiseID).Error
}

func (tx *Tx) releaseSheets(lineIDs []int64) error {
	done := tx.db.Where("line_id IN ?", lineIDs).Delete(&sheetBlankRow{})
	if done.Error != nil || done.RowsAffected == 0 {
		return done.Error
	}
	return tx.freeSheets()
}

// freeSheets drops promises that no blank is left of.
func (tx *Tx) freeSheets() error {
	return tx.db.Where("NOT EXISTS (SELECT 1 FROM sheet_blanks WHERE promise_id = sheet_promises.id)").Delete(&sheetPromiseRow{}).Error
}
