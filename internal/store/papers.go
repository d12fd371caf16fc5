package store

import (
	"time"

	"gorm.io/gorm"

	"ribdesk/internal/order"
	"ribdesk/internal/party"
)

type paperRow struct {
	ID         int64 `gorm:"primaryKey"`
	Kind       string
	Number     string
	Revision   int64
	OrderID    *int64
	CustomerID *int64
	Title      string
	Body       []byte
	PDF        []byte `gorm:"column:pdf"`
	SHA256     string `gorm:"column:sha256"`
	Edition    int64
	MadeAt     time.Time
	MadeBy     string
}

func (paperRow) TableName() string { return "papers" }

func (r paperRow) paper() order.Paper {
	return order.Paper{
		ID: r.ID, Kind: r.Kind, Number: r.Number, Revision: int(r.Revision), OrderID: value(r.OrderID),
		CustomerID: value(r.CustomerID), Title: r.Title, Body: r.Body, PDF: r.PDF, SHA256: r.SHA256, Edition: int(r.Edition), At: r.MadeAt.UTC(), By: r.MadeBy,
	}
}

// AddPaper keeps an issued document for good.
func (tx *Tx) AddPaper(actor party.Actor, p order.Paper) (order.Paper, error) {
	row := paperRow{
		Kind: p.Kind, Number: p.Number, Revision: int64(p.Revision), OrderID: optional(p.OrderID), CustomerID: optional(p.CustomerID),
		Title: p.Title, Body: p.Body, PDF: p.PDF, SHA256: p.SHA256, Edition: int64(p.Edition), MadeAt: tx.now, MadeBy: actor.Name,
	}
	if err := tx.db.Create(&row).Error; err != nil {
		return p, err
	}
	return row.paper(), tx.Log(actor, "issued "+p.Kind, "paper", row.ID, map[string]any{"number": p.Number, "revision": p.Revision, "sha256": p.SHA256, "order": p.OrderID})
}

// Paper gives one issued document with its bytes.
func (tx *Tx) Paper(id int64) (order.Paper, error) {
	var row paperRow
	err := tx.db.Take(&row, id).Error
	return row.paper(), found(err, "there is no such document")
}

// PaperByNumber gives the newest revision of a document.
func (tx *Tx) PaperByNumber(kind, number string) (order.Paper, error) {
	var row paperRow
	err := tx.db.Where("kind = ? AND number = ?", kind, number).Order("revision DESC").Take(&row).Error
	return row.paper(), found(err, "there is no %s %s", kind, number)
}

// PapersOf gives an order's documents without their bytes, oldest first.
func (tx *Tx) PapersOf(orderID int64) ([]order.Paper, error) {
	return tx.papers(tx.db.Where("order_id = ?", orderID))
}

// PapersFor gives a customer's documents of a kind without their bytes.
func (tx *Tx) PapersFor(customerID int64, kind string) ([]order.Paper, error) {
	return tx.papers(tx.db.Where("customer_id = ? AND kind = ?", customerID, kind))
}

func (tx *Tx) papers(q *gorm.DB) ([]order.Paper, error) {
	var rows []paperRow
	err := q.Omit("body", "pdf").Order("id").Find(&rows).Error
	return convert(rows, paperRow.paper), err
}

// EachPaper calls fn with every document and its bytes, in order, one at a time.
func (tx *Tx) EachPaper(fn func(order.Paper) error) error {
	var ids []int64
	if err := tx.db.Model(&paperRow{}).Order("id").Pluck("id", &ids).Error; err != nil {
		return err
	}
	for _, id := range ids {
		p, err := tx.Paper(id)
		if err != nil {
			return err
		}
		if err := fn(p); err != nil {
			return err
		}
	}
	return nil
}
