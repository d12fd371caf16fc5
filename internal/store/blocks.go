package store

import (
	"time"

	"ribdesk/internal/party"
	"ribdesk/internal/stock"
)

type blockRow struct {
	ID       int64 `gorm:"primaryKey"`
	Machine  string
	StartsAt time.Time
	EndsAt   time.Time
	Kind     string
	Reason   string
	Version  int64
}

func (blockRow) TableName() string { return "blocks" }

func (r blockRow) block() stock.Block {
	return stock.Block{ID: r.ID, Machine: r.Machine, From: r.StartsAt.UTC(), To: r.EndsAt.UTC(), Kind: stock.BlockKind(r.Kind), Reason: r.Reason, Version: r.Version}
}

// Blocks gives the blocks of all machines that end after from, by start.
func (tx *Tx) Blocks(from time.Time) ([]stock.Block, error) {
	var rows []blockRow
	err := tx.db.Where("ends_at > ?", moment(from)).Order("starts_at, id").Find(&rows).Error
	return convert(rows, blockRow.block), err
}

// Block gives one block.
func (tx *Tx) Block(id int64) (stock.Block, error) {
	var row blockRow
	err := tx.db.Take(&row, id).Error
	return row.block(), found(err, "there is no such block")
}

// SaveBlock adds a block (id 0) or changes it.
func (tx *Tx) SaveBlock(actor party.Actor, b stock.Block) (stock.Block, error) {
	row := blockRow{ID: b.ID, Machine: b.Machine, StartsAt: moment(b.From), EndsAt: moment(b.To), Kind: string(b.Kind), Reason: b.Reason, Version: b.Version + 1}
	var err error
	if b.ID == 0 {
		err = tx.db.Create(&row).Error
	} else {
		err = tx.update(&row, "block", b.ID, b.Version)
	}
	if err != nil {
		return b, err
	}
	return row.block(), tx.Log(actor, "blocked time", "block", row.ID, row)
}

// DeleteBlock opens the time again.
func (tx *Tx) DeleteBlock(actor party.Actor, id int64) error {
	if err := tx.db.Delete(&blockRow{}, id).Error; err != nil {
		return err
	}
	return tx.Log(actor, "freed time", "block", id, nil)
}
