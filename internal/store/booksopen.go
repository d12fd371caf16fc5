package store

import (
	"time"

	"gorm.io/gorm"

	"ribdesk/internal/books"
	"ribdesk/internal/fault"
	"ribdesk/internal/money"
	"ribdesk/internal/party"
)

type paymentRow struct {
	ID         int64 `gorm:"primaryKey"`
	Number     string
	CustomerID int64
	OrderID    *int64
	OrderNo    string
	Day        string
	Method     string
	Reference  string
	Deposit    bool
	Amount     int64
	Currency   string
	MadeAt     time.Time
	MadeBy     string
}

func (paymentRow) TableName() string { return "payments" }

// Receipt is a payment as it is kept.
type Receipt struct {
	ID      int64
	OrderID int64 // of a deposit
	Payment books.Payment
	At      time.Time
	By      string
}

func (r paymentRow) receipt() Receipt {
	return Receipt{ID: r.ID, OrderID: value(r.OrderID), At: r.MadeAt.UTC(), By: r.MadeBy, Payment: books.Payment{
		Number: r.Number, Customer: r.CustomerID, Day: readDay(r.Day), Method: books.Method(r.Method), Reference: r.Reference,
		Order: r.OrderNo, Deposit: r.Deposit, Amount: cents(r.Amount, r.Currency),
	}}
}

// AddPayment keeps money received for good.
func (tx *Tx) AddPayment(actor party.Actor, orderID int64, p books.Payment) (Receipt, error) {
	row := paymentRow{Number: p.Number, CustomerID: p.Customer, OrderID: optional(orderID), OrderNo: p.Order, Day: dayText(p.Day), Method: string(p.Method),
		Reference: p.Reference, Deposit: p.Deposit, Amount: p.Amount.Cents(), Currency: string(p.Amount.Currency()), MadeAt: tx.now, MadeBy: actor.Name}
	if err := tx.db.Create(&row).Error; err != nil {
		return Receipt{}, err
	}
	what := "received payment"
	if p.Deposit {
		what = "received deposit"
	}
	return row.receipt(), tx.Log(actor, what, "payment", row.ID, map[string]any{"number": p.Number, "customer": p.Customer, "method": p.Method, "amount": p.Amount})
}

// Payments gives money received, the newest first.
func (tx *Tx) Payments(f BooksFilter) ([]Receipt, error) {
	var rows []paymentRow
	err := tx.filtered(f).Find(&rows).Error
	return convert(rows, paymentRow.receipt), err
}

// Payment gives one payment by its id.
func (tx *Tx) Payment(id int64) (Receipt, error) {
	var row paymentRow
	err := tx.db.Take(&row, id).Error
	return row.receipt(), found(err, "there is no such payment")
}

type itemRow struct {
	ID         int64 `gorm:"primaryKey"`
	Number     string
	Kind       string
	CustomerID int64
	OrderID    *int64
	Day        string
	Due        string
	Original   int64
	Open       int64
	Currency   string
}

func (itemRow) TableName() string { return "items" }

func (r itemRow) item() books.Item {
	return books.Item{Kind: books.ItemKind(r.Kind), Number: r.Number, Customer: r.CustomerID, Day: readDay(r.Day), Due: readDay(r.Due),
		Original: cents(r.Original, r.Currency), Open: cents(r.Open, r.Currency)}
}

// AddItem keeps something that a customer owes; orderID is 0 where it belongs to
// no order.
func (tx *Tx) AddItem(orderID int64, it books.Item) error {
	return tx.db.Create(&itemRow{Number: it.Number, Kind: string(it.Kind), CustomerID: it.Customer, OrderID: optional(orderID), Day: dayText(it.Day), Due: dayText(it.Due),
		Original: it.Original.Cents(), Open: it.Open.Cents(), Currency: string(it.Original.Currency())}).Error
}

// SaveItem keeps what of an item is still open.
func (tx *Tx) SaveItem(it books.Item) error {
	return tx.changeOpen(&itemRow{}, it.Number, it.Open)
}

// changeOpen sets the only column of an item or credit that changes.
func (tx *Tx) changeOpen(row any, number string, open money.Amount) error {
	done := tx.db.Model(row).Where("number = ?", number).Update("open", open.Cents())
	if done.Error == nil && done.RowsAffected != 1 {
		return fault.NotFoundf("there is no %s in the books", number)
	}
	return done.Error
}

// Items gives what is owed, the oldest first.
func (tx *Tx) Items(f BooksFilter) ([]books.Item, error) {
	var rows []itemRow
	err := tx.filtered(f).Find(&rows).Error
	return oldestFirst(convert(rows, itemRow.item)), err
}

// Item gives one item.
func (tx *Tx) Item(number string) (books.Item, error) {
	var row itemRow
	err := tx.db.Where("number = ?", number).Take(&row).Error
	return row.item(), found(err, "nothing is owed under %s", number)
}

// OrderOfItem gives the order an item belongs to, 0 for none.
func (tx *Tx) OrderOfItem(number string) (int64, error) {
	var row itemRow
	err := tx.db.Where("number = ?", number).Take(&row).Error
	return value(row.OrderID), err
}

type creditRow struct {
	ID         int64 `gorm:"primaryKey"`
	Number     string
	Kind       string
	CustomerID int64
	OrderNo    string
	Day        string
	Original   int64
	Open       int64
	Currency   string
}

func (creditRow) TableName() string { return "credits" }

func (r creditRow) credit() books.Credit {
	return books.Credit{Kind: books.CreditKind(r.Kind), Number: r.Number, Customer: r.CustomerID, Day: readDay(r.Day), Order: r.OrderNo,
		Original: cents(r.Original, r.Currency), Open: cents(r.Open, r.Currency)}
}

// AddCredit keeps something that a customer has to their good.
func (tx *Tx) AddCredit(c books.Credit) error {
	return tx.db.Create(&creditRow{Number: c.Number, Kind: string(c.Kind), CustomerID: c.Customer, OrderNo: c.Order, Day: dayText(c.Day),
		Original: c.Original.Cents(), Open: c.Open.Cents(), Currency: string(c.Original.Currency())}).Error
}

// SaveCredit keeps what of a credit is still open.
func (tx *Tx) SaveCredit(c books.Credit) error { return tx.changeOpen(&creditRow{}, c.Number, c.Open) }

// Credits gives what customers have to their good, the oldest first.
func (tx *Tx) Credits(f BooksFilter) ([]books.Credit, error) {
	var rows []creditRow
	err := tx.filtered(f).Find(&rows).Error
	return oldestFirst(convert(rows, creditRow.credit)), err
}

// Credit gives one credit.
func (tx *Tx) Credit(number string) (books.Credit, error) {
	var row creditRow
	err := tx.db.Where("number = ?", number).Take(&row).Error
	return row.credit(), found(err, "there is no credit %s", number)
}

// DepositsFor gives the deposits paid for an order, the oldest first.
func (tx *Tx) DepositsFor(order string) ([]books.Credit, error) {
	var rows []creditRow
	err := tx.db.Where("order_no = ? AND kind = ?", order, string(books.DepositCredit)).Order("id").Find(&rows).Error
	return convert(rows, creditRow.credit), err
}

func oldestFirst[T any](list []T) []T {
	for i, j := 0, len(list)-1; i < j; i, j = i+1, j-1 {
		list[i], list[j] = list[j], list[i]
	}
	return list
}

// Use says what a change of what is open was.
type Use string

// The uses. All but Applied and Returned concern one side only.
const (
	Applied    Use = "applied"
	Returned   Use = "returned"
	Refunded   Use = "refunded"
	Kept       Use = "kept"
	Recovered  Use = "recovered"
	WrittenOff Use = "written off"
)

// Change is one change of what is open on a credit, an item or both.
type Change struct {
	ID       int64
	What     Use
	Document string
	Credit   string // "" where none is concerned
	Item     string
	Day      time.Time
	Amount   money.Amount
	Discount money.Amount
	Note     string
	At       time.Time
	By       string
}

type applicationRow struct {
	ID       int64 `gorm:"primaryKey"`
	What     string
	Document string
	Credit   *string
	Item     *string
	Day      string
	Amount   int64
	Discount int64
	Currency string
	Note     string
	MadeAt   time.Time
	MadeBy   string
}

func (applicationRow) TableName() string { return "applications" }

func (r applicationRow) change() Change {
	return Change{ID: r.ID, What: Use(r.What), Document: r.Document, Credit: text(r.Credit), Item: text(r.Item), Day: readDay(r.Day),
		Amount: cents(r.Amount, r.Currency), Discount: cents(r.Discount, r.Currency), Note: r.Note, At: r.MadeAt.UTC(), By: r.MadeBy}
}

func optionalText(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}

func text(s *string) string {
	if s == nil {
		return ""
	}
	return *s
}

// AddChange keeps a change of what is open for good.
func (tx *Tx) AddChange(actor party.Actor, c Change) error {
	return tx.db.Create(&applicationRow{What: string(c.What), Document: c.Document, Credit: optionalText(c.Credit), Item: optionalText(c.Item), Day: dayText(c.Day),
		Amount: c.Amount.Cents(), Discount: c.Discount.Cents(), Currency: string(c.Amount.Currency()), Note: c.Note, MadeAt: tx.now, MadeBy: actor.Name}).Error
}

// ChangesOfCredit gives what a credit was used for, the oldest first.
func (tx *Tx) ChangesOfCredit(number string) ([]Change, error) {
	return tx.changes(tx.db.Where("credit = ?", number))
}

// ChangesOfItem gives what happened to an item, the oldest first.
func (tx *Tx) ChangesOfItem(number string) ([]Change, error) {
	return tx.changes(tx.db.Where("item = ?", number))
}

// ChangesOf gives all changes of what is open of a customer, the oldest first.
func (tx *Tx) ChangesOf(customerID int64) ([]Change, error) {
	return tx.changes(tx.db.Where("credit IN (SELECT number FROM credits WHERE customer_id = ?) OR item IN (SELECT number FROM items WHERE customer_id = ?)", customerID, customerID))
}

// ReturnedPayments gives the payments that were taken back, each with why; a
// customer other than 0 narrows it to that customer.
func (tx *Tx) ReturnedPayments(customerID int64) (map[string]string, error) {
	q := tx.db.Where("what = ? AND item IS NULL", string(Returned))
	if customerID != 0 {
		q = q.Where("credit IN (SELECT number FROM credits WHERE customer_id = ?)", customerID)
	}
	list, err := tx.changes(q)
	back := make(map[string]string, len(list))
	for _, c := range list {
		back[c.Credit] = c.Note
	}
	return back, err
}

// Changes gives all changes of what is open, the oldest first.
func (tx *Tx) Changes() ([]Change, error) { return tx.changes(tx.db) }

func (tx *Tx) changes(q *gorm.DB) ([]Change, error) {
	var rows []applicationRow
	err := q.Order("id").Find(&rows).Error
	return convert(rows, applicationRow.change), err
}
