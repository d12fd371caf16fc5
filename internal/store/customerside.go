package store

import (
	"strings"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
)

type messageRow struct {
	ID       int64 `gorm:"primaryKey"`
	OrderID  int64
	At       time.Time
	PersonID int64
	Name     string
	Ours     bool
	Body     string
}

func (messageRow) TableName() string { return "messages" }

func (r messageRow) message() order.Message {
	m := order.Message(r)
	m.At = m.At.UTC()
	return m
}

// AddMessage keeps a message of an order for good.
func (tx *Tx) AddMessage(m order.Message) error {
	m.ID, m.At = 0, tx.now
	row := messageRow(m)
	return tx.db.Create(&row).Error
}

// Messages gives an order's messages, oldest first.
func (tx *Tx) Messages(orderID int64) ([]order.Message, error) {
	var rows []messageRow
	err := tx.db.Where("order_id = ?", orderID).Order("id").Find(&rows).Error
	return convert(rows, messageRow.message), err
}

type inviteRow struct {
	ID         int64 `gorm:"primaryKey"`
	TokenHash  string
	CustomerID int64
	Email      string
	MadeBy     string
	MadeAt     time.Time
	ExpiresAt  time.Time
	Used       bool
}

func (inviteRow) TableName() string { return "invites" }

func (r inviteRow) invite() party.Invite {
	return party.Invite{ID: r.ID, CustomerID: r.CustomerID, Email: r.Email, MadeBy: r.MadeBy, MadeAt: r.MadeAt.UTC(), ExpiresAt: r.ExpiresAt.UTC(), Used: r.Used}
}

// AddInvite keeps an invitation by the hash of its token.
func (tx *Tx) AddInvite(i party.Invite, token string) (party.Invite, error) {
	row := inviteRow{TokenHash: HashToken(token), CustomerID: i.CustomerID, Email: strings.ToLower(i.Email), MadeBy: i.MadeBy, MadeAt: tx.now, ExpiresAt: moment(i.ExpiresAt)}
	err := tx.db.Create(&row).Error
	return row.invite(), err
}

// InviteByToken gives the invitation of a token.
func (tx *Tx) InviteByToken(token string) (party.Invite, error) {
	var row inviteRow
	err := tx.db.Where("token_hash = ?", HashToken(token)).Take(&row).Error
	return row.invite(), found(err, "this invitation opens nothing any more; ask the shop for a new one")
}

// UseInvite marks an invitation as used, once.
func (tx *Tx) UseInvite(id int64) error {
	done := tx.db.Model(&inviteRow{}).Where("id = ? AND used = ?", id, false).Update("used", true)
	if done.Error == nil && done.RowsAffected != 1 {
		return fault.NotFoundf("this invitation was used already")
	}
	return done.Error
}

// PeopleOf gives the people who buy for a customer, by name.
func (tx *Tx) PeopleOf(customerID int64) ([]party.Person, error) {
	var rows []personRow
	err := tx.db.Where("customer_id = ?", customerID).Order("disabled, name, id").Find(&rows).Error
	return convert(rows, personRow.person), err
}

// FollowUps gives the orders that change an accepted one, oldest first.
func (tx *Tx) FollowUps(orderID int64) ([]order.Order, error) {
	return tx.orders(tx.db.Where("follows = ?", orderID).Order("id"), false)
}

// CountDeclined counts declined quotes by kind of reason, since a moment.
func (tx *Tx) CountDeclined(since time.Time) (map[string]int, error) {
	var rows []struct {
		Why string
		N   int
	}
	err := tx.db.Model(&orderRow{}).Select("why, COUNT(*) AS n").Where("state = ? AND updated_at >= ?", string(order.Declined), moment(since)).Group("why").Find(&rows).Error
	counts := map[string]int{}
	for _, r := range rows {
		counts[r.Why] = r.N
	}
	return counts, err
}

// SumOrders sums the charged totals of a customer's orders in some states, in cents.
func (tx *Tx) SumOrders(customerID int64, states []order.State) (cents int64, err error) {
	err = tx.db.Model(&orderRow{}).Select("COALESCE(SUM(total), 0)").Where("customer_id = ? AND state IN ?", customerID, states).Scan(&cents).Error
	return cents, err
}
