package store

import (
	"encoding/json"
	"errors"
	"time"

	"gorm.io/gorm"

	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
)

// Reads of many records at once, each in one query, for figures that look back
// over everything.

// FirstEvent gives when the first thing was written down; zero when nothing was.
func (tx *Tx) FirstEvent() (time.Time, error) {
	var row eventRow
	err := tx.db.Order("id").Take(&row).Error
	if errors.Is(err, gorm.ErrRecordNotFound) {
		return time.Time{}, nil
	}
	return row.At.UTC(), err
}

// EventsNamed gives the events with these names on records of a kind, oldest first.
func (tx *Tx) EventsNamed(subjectKind string, actions ...string) ([]Event, error) {
	var rows []eventRow
	err := tx.db.Where("subject_kind = ? AND action IN ?", subjectKind, actions).Order("id").Find(&rows).Error
	return convert(rows, eventRow.event), err
}

// OrderHead is what a list of records says of an order.
type OrderHead struct {
	ID       int64
	Number   string
	Customer string
	State    order.State
	Why      order.Why
	Total    money.Amount
	Fulfil   order.Fulfil
	Promise  time.Time
	Follows  int64
	Version  int64
}

// OrderHeads gives the head of every order.
func (tx *Tx) OrderHeads() ([]OrderHead, error) {
	var rows []orderRow
	err := tx.db.Select("id, number, customer, contact, state, why, total, currency, fulfil, promise, follows, version").Order("id").Find(&rows).Error
	return convert(rows, func(r orderRow) OrderHead {
		h := OrderHead{
			ID: r.ID, Number: r.Number, Customer: r.Customer, State: order.State(r.State), Why: order.Why(r.Why),
			Total: cents(r.Total, r.Currency), Fulfil: order.Fulfil(r.Fulfil), Promise: readTime(r.Promise), Follows: r.Follows, Version: r.Version,
		}
		if h.Customer == "" {
			var c order.Contact
			_ = json.Unmarshal([]byte(r.Contact), &c) // written by newOrderRow
			h.Customer = c.Name
		}
		return h
	}), err
}

// PriceInputs gives the stored inputs of these orders' prices, by order.
func (tx *Tx) PriceInputs(orderIDs []int64) (map[int64][]byte, error) {
	inputs := map[int64][]byte{}
	for len(orderIDs) > 0 {
		some := orderIDs[:min(len(orderIDs), atOnce)]
		orderIDs = orderIDs[len(some):]
		var rows []orderRow
		if err := tx.db.Select("id, price_inputs").Where("id IN ?", some).Find(&rows).Error; err != nil {
			return nil, err
		}
		for _, r := range rows {
			inputs[r.ID] = []byte(r.PriceInputs)
		}
	}
	return inputs, nil
}

// atOnce is how many ids one statement names.
const atOnce = 500

// MadeLine is a line that was made, with its place in the plan.
type MadeLine struct {
	Place   order.Placed
	Name    string
	Minutes int // of the run, as priced
}

// MadeLines gives every line of the plan that is done, by when it was.
func (tx *Tx) MadeLines() ([]MadeLine, error) {
	var rows []struct {
		Row     placedRow `gorm:"embedded"`
		Name    string
		Minutes int64
	}
	err := tx.db.Table("placed").Joins("JOIN order_lines ON order_lines.id = placed.line_id").
		Where("placed.done_at IS NOT NULL").Select("placed.*, order_lines.name, order_lines.minutes").
		Order("placed.done_at, placed.line_id").Find(&rows).Error
	list := make([]MadeLine, len(rows))
	for i, r := range rows {
		list[i] = MadeLine{r.Row.placed(), r.Name, int(r.Minutes)}
	}
	return list, err
}

// Drawn is a movement out of a coil, with the order it was for, 0 for none.
type Drawn struct {
	Movement stock.Movement
	OrderID  int64
}

// DrawnStrip gives what was cut and scrapped off all coils, in order.
func (tx *Tx) DrawnStrip() ([]Drawn, error) {
	var rows []struct {
		Row     movementRow `gorm:"embedded"`
		OrderID *int64
	}
	err := tx.db.Table("movements").Joins("LEFT JOIN order_lines ON order_lines.id = movements.line_id").
		Where("movements.kind IN ?", []string{string(stock.MovedCut), string(stock.MovedScrap)}).
		Select("movements.*, order_lines.order_id").Order("movements.id").Find(&rows).Error
	list := make([]Drawn, len(rows))
	for i, r := range rows {
		list[i] = Drawn{r.Row.movement(), value(r.OrderID)}
	}
	return list, err
}

// AllStops gives every hand-over of every order, without signatures.
func (tx *Tx) AllStops() ([]order.Stop, error) {
	var rows []stopRow
	err := tx.db.Omit("signature").Order("id").Find(&rows).Error
	return convert(rows, stopRow.stop), err
}

// AskedOutside gives the drafts that a customer or a visitor asked for, oldest
// first.
func (tx *Tx) AskedOutside() (ids []int64, err error) {
	err = tx.db.Model(&eventRow{}).
		Where("subject_kind = ? AND action = ? AND role IN ?", "order", "asked", []string{string(party.Buyer), string(party.Visitor)}).
		Where("subject_id IN (?)", tx.db.Model(&orderRow{}).Select("id").Where("state = ?", string(order.Draft))).
		Order("id").Pluck("subject_id", &ids).Error
	return ids, err
}

// Unanswered gives the orders whose last message came from the customer.
func (tx *Tx) Unanswered() (orderIDs []int64, err error) {
	last := tx.db.Model(&messageRow{}).Select("MAX(id)").Group("order_id")
	err = tx.db.Model(&messageRow{}).Where("id IN (?) AND ours = ?", last, false).Order("id").Pluck("order_id", &orderIDs).Error
	return orderIDs, err
}

// CertificateOf is a certificate with whose it is.
type CertificateOf struct {
	party.Certificate
	CustomerName string
}

// Expiring gives the certificates that aren't revoked and end in the days from
// one to another, where the customer has none in that state that lasts longer.
func (tx *Tx) Expiring(from, to time.Time) ([]CertificateOf, error) {
	var rows []struct {
		Row          certificateRow `gorm:"embedded"`
		CustomerName string
	}
	err := tx.db.Table("certificates").Joins("JOIN customers ON customers.id = certificates.customer_id").
		Where("NOT certificates.revoked AND certificates.expires >= ? AND certificates.expires <= ?", dayText(from), dayText(to)).
		Where(`NOT EXISTS (SELECT 1 FROM certificates AS other WHERE other.customer_id = certificates.customer_id
			AND other.state = certificates.state AND NOT other.revoked AND other.expires > ?)`, dayText(to)).
		Select("certificates.*, customers.name AS customer_name").Order("certificates.expires, certificates.id").Find(&rows).Error
	list := make([]CertificateOf, len(rows))
	for i, r := range rows {
		list[i] = CertificateOf{r.Row.certificate(), r.CustomerName}
	}
	return list, err
}
