package store

import (
	"strings"
	"time"

	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/party"
)

type customerRow struct {
	ID               int64 `gorm:"primaryKey"`
	Name             string
	Class            string
	Email            string
	Phone            string
	Street           string
	City             string
	State            string
	Postal           string
	Country          string
	NetDays          int64
	DiscountDays     int64
	Discount         string
	CreditLimitCents int64
	Currency         string
	Hold             bool
	HoldReason       string
	Language         string
	Style            string
	Search           string
	Version          int64
	CreatedAt        time.Time
}

func (customerRow) TableName() string { return "customers" }

func (r customerRow) customer() party.Customer {
	return party.Customer{
		ID: r.ID, Name: r.Name, Class: r.Class, Email: r.Email, Phone: r.Phone,
		Billing:     party.Address{Street: r.Street, City: r.City, State: r.State, Postal: r.Postal, Country: r.Country},
		Terms:       party.Terms{NetDays: int(r.NetDays), DiscountDays: int(r.DiscountDays), Discount: readRate(r.Discount)},
		CreditLimit: money.Cents(r.CreditLimitCents, money.Currency(r.Currency)),
		Hold:        r.Hold, HoldReason: r.HoldReason, Language: r.Language, Style: measure.Style(r.Style),
		Version: r.Version, CreatedAt: r.CreatedAt.UTC(),
	}
}

func rowOfCustomer(c party.Customer) *customerRow {
	return &customerRow{
		ID: c.ID, Name: c.Name, Class: c.Class, Email: c.Email, Phone: c.Phone,
		Street: c.Billing.Street, City: c.Billing.City, State: c.Billing.State, Postal: c.Billing.Postal, Country: c.Billing.Country,
		NetDays: int64(c.Terms.NetDays), DiscountDays: int64(c.Terms.DiscountDays), Discount: c.Terms.Discount.String(),
		CreditLimitCents: c.CreditLimit.Cents(), Currency: string(c.CreditLimit.Currency()),
		Hold: c.Hold, HoldReason: c.HoldReason, Language: c.Language, Style: string(c.Style),
		Search:  strings.ToLower(strings.Join([]string{c.Name, c.Email, c.Phone, c.Billing.City}, "\n")),
		Version: c.Version, CreatedAt: c.CreatedAt,
	}
}

// AddCustomer keeps a new customer and sets its ID, Version and CreatedAt.
func (tx *Tx) AddCustomer(c *party.Customer) error {
	c.Version, c.CreatedAt = 1, tx.now
	row := rowOfCustomer(*c)
	if err := tx.db.Create(row).Error; err != nil {
		return err
	}
	c.ID = row.ID
	return nil
}

// ChangeCustomer keeps a changed customer; c.Version is the one that was looked at.
func (tx *Tx) ChangeCustomer(c *party.Customer) error {
	row := rowOfCustomer(*c)
	row.Version++
	if err := tx.update(row, "customer", c.ID, c.Version); err != nil {
		return err
	}
	c.Version = row.Version
	return nil
}

// Customer gives one customer.
func (tx *Tx) Customer(id int64) (party.Customer, error) {
	var row customerRow
	err := tx.db.Take(&row, id).Error
	return row.customer(), found(err, "there is no customer %d", id)
}

// Customers gives customers by name whose name, e-mail, phone or city holds
// search, at most limit of them after the first offset.
func (tx *Tx) Customers(search string, offset, limit int) ([]party.Customer, error) {
	q := tx.db.Order("name, id").Offset(offset).Limit(limit)
	if strings.TrimSpace(search) != "" {
		q = q.Where(`search LIKE ? ESCAPE '\'`, contains(search))
	}
	var rows []customerRow
	err := q.Find(&rows).Error
	return convert(rows, customerRow.customer), err
}

// CustomersCalled gives the customers of exactly this name.
func (tx *Tx) CustomersCalled(name string) ([]party.Customer, error) {
	var rows []customerRow
	err := tx.db.Where("name = ?", name).Order("id").Find(&rows).Error
	return convert(rows, customerRow.customer), err
}

// CustomerNames gives the first customers by name, names only.
func (tx *Tx) CustomerNames(limit int) (names []string, err error) {
	err = tx.db.Model(&customerRow{}).Order("name, id").Limit(limit).Pluck("name", &names).Error
	return names, err
}

type siteRow struct {
	ID          int64 `gorm:"primaryKey"`
	CustomerID  int64
	Name        string
	Street      string
	City        string
	State       string
	Postal      string
	Country     string
	Contact     string
	Phone       string
	AccessNotes string
	MilesTenths int64
}

func (siteRow) TableName() string { return "sites" }

func (r siteRow) site() party.Site {
	return party.Site{
		ID: r.ID, CustomerID: r.CustomerID, Name: r.Name,
		Address: party.Address{Street: r.Street, City: r.City, State: r.State, Postal: r.Postal, Country: r.Country},
		Contact: r.Contact, Phone: r.Phone, AccessNotes: r.AccessNotes, MilesTenths: r.MilesTenths,
	}
}

func rowOfSite(s party.Site) *siteRow {
	return &siteRow{
		ID: s.ID, CustomerID: s.CustomerID, Name: s.Name,
		Street: s.Address.Street, City: s.Address.City, State: s.Address.State, Postal: s.Address.Postal, Country: s.Address.Country,
		Contact: s.Contact, Phone: s.Phone, AccessNotes: s.AccessNotes, MilesTenths: s.MilesTenths,
	}
}

// SaveSite keeps a site: a new one when its ID is 0, which is then set.
func (tx *Tx) SaveSite(s *party.Site) error {
	row := rowOfSite(*s)
	err := tx.db.Save(row).Error
	s.ID = row.ID
	return err
}

// Site gives one site.
func (tx *Tx) Site(id int64) (party.Site, error) {
	var row siteRow
	err := tx.db.Take(&row, id).Error
	return row.site(), found(err, "there is no site %d", id)
}

// Sites gives the sites of a customer, by name.
func (tx *Tx) Sites(customerID int64) ([]party.Site, error) {
	var rows []siteRow
	err := tx.db.Where("customer_id = ?", customerID).Order("name, id").Find(&rows).Error
	return convert(rows, siteRow.site), err
}

type certificateRow struct {
	ID         int64 `gorm:"primaryKey"`
	CustomerID int64
	Number     string
	State      string
	Goods      string
	Signed     string
	Expires    string
	Revoked    bool
}

func (certificateRow) TableName() string { return "certificates" }

func (r certificateRow) certificate() party.Certificate {
	return party.Certificate{
		ID: r.ID, CustomerID: r.CustomerID, Number: r.Number, State: r.State, Goods: r.Goods,
		Signed: readDay(r.Signed), Expires: readDay(r.Expires), Revoked: r.Revoked,
	}
}

func rowOfCertificate(c party.Certificate) *certificateRow {
	return &certificateRow{
		ID: c.ID, CustomerID: c.CustomerID, Number: c.Number, State: c.State, Goods: c.Goods,
		Signed: dayText(c.Signed), Expires: dayText(c.Expires), Revoked: c.Revoked,
	}
}

// SaveCertificate keeps a certificate: a new one when its ID is 0, which is then set.
func (tx *Tx) SaveCertificate(c *party.Certificate) error {
	row := rowOfCertificate(*c)
	err := tx.db.Save(row).Error
	c.ID = row.ID
	return err
}

// Certificate gives one certificate.
func (tx *Tx) Certificate(id int64) (party.Certificate, error) {
	var row certificateRow
	err := tx.db.Take(&row, id).Error
	return row.certificate(), found(err, "there is no certificate %d", id)
}

// Certificates gives the certificates of a customer, the longest-lasting first.
func (tx *Tx) Certificates(customerID int64) ([]party.Certificate, error) {
	var rows []certificateRow
	err := tx.db.Where("customer_id = ?", customerID).Order("expires DESC, id").Find(&rows).Error
	return convert(rows, certificateRow.certificate), err
}
