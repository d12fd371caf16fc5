package store

import (
	"errors"
	"strings"
	"time"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"ribdesk/internal/fault"
)

// Mail is one mail of the outbox.
type Mail struct {
	ID         int64
	Occasion   string // what it tells of; nothing is told twice
	Kind       string
	OrderID    int64
	CustomerID int64
	PaperID    int64
	ToName     string
	ToAddress  string
	Language   string
	Facts      string // JSON
	Link       string // token of a private link, while it waits
	Code       string // of its Message-ID
	CreatedAt  time.Time
	Sending
}

type mailRow struct {
	ID         int64 `gorm:"primaryKey"`
	Occasion   string
	Kind       string
	OrderID    *int64
	CustomerID *int64
	PaperID    *int64
	ToName     string
	ToAddress  string
	Language   string
	Facts      string
	Link       string
	Code       string
	CreatedAt  time.Time
	Sending
}

func (mailRow) TableName() string { return "mails" }

func (r mailRow) mail() Mail {
	m := Mail{
		ID: r.ID, Occasion: r.Occasion, Kind: r.Kind, OrderID: value(r.OrderID), CustomerID: value(r.CustomerID), PaperID: value(r.PaperID),
		ToName: r.ToName, ToAddress: r.ToAddress, Language: r.Language, Facts: r.Facts, Link: r.Link, Code: r.Code,
		CreatedAt: r.CreatedAt.UTC(), Sending: r.Sending,
	}
	m.NextAt = m.NextAt.UTC()
	return m
}

// AddMail puts a mail into the outbox, unless its occasion was told already.
func (tx *Tx) AddMail(m Mail) error {
	row := mailRow{
		Occasion: m.Occasion, Kind: m.Kind, OrderID: optional(m.OrderID), CustomerID: optional(m.CustomerID), PaperID: optional(m.PaperID),
		ToName: m.ToName, ToAddress: m.ToAddress, Language: m.Language, Facts: m.Facts, Link: m.Link, Code: m.Code,
		CreatedAt: tx.now, Sending: m.Sending,
	}
	row.NextAt = tx.now
	return tx.db.Clauses(clause.OnConflict{Columns: []clause.Column{{Name: "occasion"}}, DoNothing: true}).Create(&row).Error
}

// Told reports whether an occasion is in the outbox.
func (tx *Tx) Told(occasion string) (bool, error) {
	var n int64
	err := tx.db.Model(&mailRow{}).Where("occasion = ?", occasion).Count(&n).Error
	return n > 0, err
}

// Mail gives one mail.
func (tx *Tx) Mail(id int64) (Mail, error) {
	var row mailRow
	err := tx.db.Take(&row, id).Error
	return row.mail(), found(err, "there is no such mail")
}

// DueMail gives the mail that waits longest, false when none is due.
func (tx *Tx) DueMail() (Mail, bool, error) {
	row, waits, err := due(tx, mailRow{})
	return row.mail(), waits, err
}

// SaveMail keeps how a mail stands, to whom it goes, its link and its code.
func (tx *Tx) SaveMail(m Mail) error {
	row := mailRow{ID: m.ID, ToName: m.ToName, ToAddress: m.ToAddress, Link: m.Link, Code: m.Code, Sending: m.Sending}
	row.NextAt = moment(m.NextAt)
	return tx.db.Model(&row).Select("to_name", "to_address", "link", "code", "tries", "state", "next_at", "outcome").Updates(&row).Error
}

// ForgetMailLinks drops the links of an order's mails: they open nothing any more.
func (tx *Tx) ForgetMailLinks(orderID int64) error {
	return tx.db.Model(&mailRow{}).Where("order_id = ?", orderID).Update("link", "").Error
}

// MailFilter says which mails are wanted; zero fields don't narrow.
type MailFilter struct {
	OrderID int64
	Kind    string
	State   string
	Before  int64 // only older ones than this id
	Limit   int
}

// Mails lists mails, the newest first.
func (tx *Tx) Mails(f MailFilter) ([]Mail, error) {
	q := tx.db.Order("id DESC")
	if f.OrderID != 0 {
		q = q.Where("order_id = ?", f.OrderID)
	}
	if f.Kind != "" {
		q = q.Where("kind = ?", f.Kind)
	}
	if f.State != "" {
		q = q.Where("state = ?", f.State)
	}
	if f.Before != 0 {
		q = q.Where("id < ?", f.Before)
	}
	if f.Limit != 0 {
		q = q.Limit(f.Limit)
	}
	var rows []mailRow
	err := q.Find(&rows).Error
	return convert(rows, mailRow.mail), err
}

// CountMails counts the outbox by state.
func (tx *Tx) CountMails() (map[string]int, error) {
	var rows []struct {
		State string
		N     int
	}
	err := tx.db.Model(&mailRow{}).Select("state, COUNT(*) AS n").Group("state").Find(&rows).Error
	counts := map[string]int{}
	for _, r := range rows {
		counts[r.State] = r.N
	}
	return counts, err
}

// QuietAddress is an address that gets no mail.
type QuietAddress struct {
	ID        int64
	Address   string
	Why       string
	CreatedAt time.Time
}

type quietAddressRow struct {
	ID        int64 `gorm:"primaryKey"`
	Address   string
	Why       string
	CreatedAt time.Time
}

func (quietAddressRow) TableName() string { return "quiet_addresses" }

func (r quietAddressRow) quiet() QuietAddress {
	q := QuietAddress(r)
	q.CreatedAt = r.CreatedAt.UTC()
	return q
}

// QuietAddress gives the entry of an address, false when it gets mail.
func (tx *Tx) QuietAddress(address string) (QuietAddress, bool, error) {
	var row quietAddressRow
	err := tx.db.Where("address = ?", strings.ToLower(address)).Take(&row).Error
	if errors.Is(err, gorm.ErrRecordNotFound) {
		return QuietAddress{}, false, nil
	}
	return row.quiet(), err == nil, err
}

// QuietAddresses lists the addresses that get no mail.
func (tx *Tx) QuietAddresses() ([]QuietAddress, error) {
	var rows []quietAddressRow
	err := tx.db.Order("address").Find(&rows).Error
	return convert(rows, quietAddressRow.quiet), err
}

// AddQuietAddress sends an address no mail from now on.
func (tx *Tx) AddQuietAddress(q QuietAddress) (int64, error) {
	row := quietAddressRow{Address: strings.ToLower(q.Address), Why: q.Why, CreatedAt: tx.now}
	err := tx.db.Create(&row).Error
	return row.ID, err
}

// DropQuietAddress sends an address mail again.
func (tx *Tx) DropQuietAddress(id int64) error {
	done := tx.db.Delete(&quietAddressRow{}, id)
	if done.Error == nil && done.RowsAffected != 1 {
		return fault.NotFoundf("this address gets mail already")
	}
	return done.Error
}
