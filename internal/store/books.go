package store

import (
	"encoding/json"
	"errors"
	"time"

	"gorm.io/gorm"

	"ribdesk/internal/books"
	"ribdesk/internal/money"
	"ribdesk/internal/party"
)

// Bill is an issued invoice as it is kept.
type Bill struct {
	ID      int64
	OrderID int64
	Invoice books.Invoice
	At      time.Time
	By      string
}

// Note is an issued credit memo as it is kept.
type Note struct {
	ID      int64
	OrderID int64
	Memo    books.Memo
	At      time.Time
	By      string
}

type invoiceRow struct {
	ID         int64 `gorm:"primaryKey"`
	Number     string
	OrderID    int64
	CustomerID int64
	Issued     string
	Due        string
	Total      int64
	Currency   string
	Body       string
	MadeAt     time.Time
	MadeBy     string
}

func (invoiceRow) TableName() string { return "invoices" }

func (r invoiceRow) bill() (Bill, error) {
	b := Bill{ID: r.ID, OrderID: r.OrderID, At: r.MadeAt.UTC(), By: r.MadeBy}
	return b, json.Unmarshal([]byte(r.Body), &b.Invoice)
}

type memoRow struct {
	ID         int64 `gorm:"primaryKey"`
	Number     string
	Invoice    string
	OrderID    int64
	CustomerID int64
	Day        string
	Total      int64
	Currency   string
	Body       string
	MadeAt     time.Time
	MadeBy     string
}

func (memoRow) TableName() string { return "memos" }

func (r memoRow) note() (Note, error) {
	n := Note{ID: r.ID, OrderID: r.OrderID, At: r.MadeAt.UTC(), By: r.MadeBy}
	return n, json.Unmarshal([]byte(r.Body), &n.Memo)
}

// AddInvoice keeps an issued invoice for good.
func (tx *Tx) AddInvoice(actor party.Actor, orderID int64, inv books.Invoice) (Bill, error) {
	body, err := json.Marshal(inv)
	if err != nil {
		return Bill{}, err
	}
	row := invoiceRow{Number: inv.Number, OrderID: orderID, CustomerID: inv.Customer, Issued: dayText(inv.Issued), Due: dayText(inv.Due),
		Total: inv.Total.Cents(), Currency: string(inv.Currency), Body: string(body), MadeAt: tx.now, MadeBy: actor.Name}
	if err := tx.db.Create(&row).Error; err != nil {
		return Bill{}, err
	}
	if err := tx.Log(actor, "invoiced", "invoice", row.ID, map[string]any{"number": inv.Number, "order": orderID, "total": inv.Total}); err != nil {
		return Bill{}, err
	}
	return row.bill()
}

// AddMemo keeps an issued credit memo for good.
func (tx *Tx) AddMemo(actor party.Actor, orderID int64, m books.Memo) (Note, error) {
	body, err := json.Marshal(m)
	if err != nil {
		return Note{}, err
	}
	row := memoRow{Number: m.Number, Invoice: m.Invoice, OrderID: orderID, CustomerID: m.Customer, Day: dayText(m.Day),
		Total: m.Total.Cents(), Currency: string(m.Currency), Body: string(body), MadeAt: tx.now, MadeBy: actor.Name}
	if err := tx.db.Create(&row).Error; err != nil {
		return Note{}, err
	}
	if err := tx.Log(actor, "credited", "memo", row.ID, map[string]any{"number": m.Number, "invoice": m.Invoice, "total": m.Total, "reason": m.Reason}); err != nil {
		return Note{}, err
	}
	return row.note()
}

// BooksFilter narrows a list of invoices, memos, payments, items or credits;
// zero fields don't narrow.
type BooksFilter struct {
	CustomerID int64
	OrderID    int64
	OpenOnly   bool  // items and credits
	Before     int64 // ids below this one, for paging
	Limit      int   // all when 0
}

func (tx *Tx) filtered(f BooksFilter) *gorm.DB {
	q := tx.db.Order("id DESC")
	if f.CustomerID != 0 {
		q = q.Where("customer_id = ?", f.CustomerID)
	}
	if f.OrderID != 0 {
		q = q.Where("order_id = ?", f.OrderID)
	}
	if f.OpenOnly {
		q = q.Where("open > 0")
	}
	if f.Before != 0 {
		q = q.Where("id < ?", f.Before)
	}
	if f.Limit != 0 {
		q = q.Limit(f.Limit)
	}
	return q
}

// Invoices gives issued invoices, the newest first.
func (tx *Tx) Invoices(f BooksFilter) ([]Bill, error) {
	var rows []invoiceRow
	if err := tx.filtered(f).Find(&rows).Error; err != nil {
		return nil, err
	}
	return decoded(rows, invoiceRow.bill)
}

// Memos gives issued credit memos, the newest first.
func (tx *Tx) Memos(f BooksFilter) ([]Note, error) {
	var rows []memoRow
	if err := tx.filtered(f).Find(&rows).Error; err != nil {
		return nil, err
	}
	return decoded(rows, memoRow.note)
}

// IssuedBetween gives the invoices and credit memos of some days, both included.
func (tx *Tx) IssuedBetween(from, to time.Time) ([]Bill, []Note, error) {
	var invoices []invoiceRow
	if err := tx.db.Where("issued BETWEEN ? AND ?", dayText(from), dayText(to)).Order("id").Find(&invoices).Error; err != nil {
		return nil, nil, err
	}
	var memos []memoRow
	if err := tx.db.Where("day BETWEEN ? AND ?", dayText(from), dayText(to)).Order("id").Find(&memos).Error; err != nil {
		return nil, nil, err
	}
	bills, err := decoded(invoices, invoiceRow.bill)
	if err != nil {
		return nil, nil, err
	}
	notes, err := decoded(memos, memoRow.note)
	return bills, notes, err
}

// decoded turns rows that hold a record into values, or names the first that
// can't be read.
func decoded[R, V any](rows []R, value func(R) (V, error)) ([]V, error) {
	out := make([]V, len(rows))
	for i, r := range rows {
		var err error
		if out[i], err = value(r); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// Invoice gives one issued invoice by its id.
func (tx *Tx) Invoice(id int64) (Bill, error) { return tx.oneInvoice(tx.db.Where("id = ?", id)) }

// InvoiceByNumber gives one issued invoice.
func (tx *Tx) InvoiceByNumber(number string) (Bill, error) {
	return tx.oneInvoice(tx.db.Where("number = ?", number))
}

func (tx *Tx) oneInvoice(q *gorm.DB) (Bill, error) {
	var row invoiceRow
	err := q.Take(&row).Error
	if err := found(err, "there is no such invoice"); err != nil {
		return Bill{}, err
	}
	return row.bill()
}

// Memo gives one issued credit memo by its id.
func (tx *Tx) Memo(id int64) (Note, error) {
	var row memoRow
	err := tx.db.Take(&row, id).Error
	if err := found(err, "there is no such credit memo"); err != nil {
		return Note{}, err
	}
	return row.note()
}

// MemosOn gives the credit memos on an invoice, the oldest first.
func (tx *Tx) MemosOn(invoice string) ([]Note, error) {
	var rows []memoRow
	if err := tx.db.Where("invoice = ?", invoice).Order("id").Find(&rows).Error; err != nil {
		return nil, err
	}
	return decoded(rows, memoRow.note)
}

type financeRow struct {
	CustomerID int64 `gorm:"primaryKey;autoIncrement:false"`
	AgreedOn   string
	YearRate   string
	GraceDays  int64
	ChargedTo  string
}

func (financeRow) TableName() string { return "finance_terms" }

// FinanceTerms gives what a customer agreed to about late payment, and the last
// day they were charged for; the zero terms when nothing was agreed.
func (tx *Tx) FinanceTerms(customerID int64) (t books.FinanceTerms, charged time.Time, err error) {
	var row financeRow
	err = tx.db.Where("customer_id = ?", customerID).Take(&row).Error
	if errors.Is(err, gorm.ErrRecordNotFound) {
		return t, charged, nil
	}
	return books.FinanceTerms{AgreedOn: readDay(row.AgreedOn), YearRate: readRate(row.YearRate), GraceDays: int(row.GraceDays)}, readDay(row.ChargedTo), err
}

// SaveFinanceTerms keeps what a customer agreed to, and how far it was charged.
func (tx *Tx) SaveFinanceTerms(actor party.Actor, customerID int64, t books.FinanceTerms, charged time.Time) error {
	row := financeRow{CustomerID: customerID, AgreedOn: dayText(t.AgreedOn), YearRate: t.YearRate.String(), GraceDays: int64(t.GraceDays), ChargedTo: dayText(charged)}
	if err := tx.db.Save(&row).Error; err != nil {
		return err
	}
	return tx.Log(actor, "set finance terms", "customer", customerID, row)
}

func cents(n int64, currency string) money.Amount { return money.Cents(n, money.Currency(currency)) }
