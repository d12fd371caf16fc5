package store

import (
	"fmt"
	"time"

	"ribdesk/internal/books"
	"ribdesk/internal/money"
	"ribdesk/internal/party"
)

type entryRow struct {
	ID         int64 `gorm:"primaryKey"`
	No         int64
	Day        string
	Document   string
	CustomerID *int64
	Memo       string
	MadeAt     time.Time
	MadeBy     string
}

func (entryRow) TableName() string { return "entries" }

type postingRow struct {
	ID       int64 `gorm:"primaryKey"`
	EntryNo  int64
	Account  string
	Amount   int64
	Currency string
}

func (postingRow) TableName() string { return "postings" }

// journalSeries numbers the entries; like any series it has no gaps.
const journalSeries = "journal"

// AddEntry posts an entry to the journal under the next number. An entry is
// balanced by how it is made; the sum is made once more over what is written,
// and one that isn't 0 stops the transaction.
func (tx *Tx) AddEntry(actor party.Actor, e books.Entry) (int64, error) {
	no, err := tx.NextNumber(journalSeries)
	if err != nil {
		return 0, err
	}
	row := entryRow{No: no, Day: dayText(e.Day()), Document: e.Document(), CustomerID: optional(e.Customer()), Memo: e.Memo(), MadeAt: tx.now, MadeBy: actor.Name}
	if err := tx.db.Create(&row).Error; err != nil {
		return 0, err
	}
	var rows []postingRow
	sum := int64(0)
	for _, p := range e.Postings() {
		rows = append(rows, postingRow{EntryNo: no, Account: string(p.Account), Amount: p.Amount.Cents(), Currency: string(p.Amount.Currency())})
		sum += p.Amount.Cents()
	}
	if sum != 0 || len(rows) < 2 {
		return 0, fmt.Errorf("entry %d isn't balanced: %s", no, e)
	}
	return no, tx.db.Create(&rows).Error
}

// JournalFilter narrows the journal; zero fields don't narrow.
type JournalFilter struct {
	From, To   time.Time // days, both included
	CustomerID int64
	Document   string
	Account    books.Account // entries with a posting on it
	Newest     int           // only so many, the newest
}

// Journal gives entries by number. Each is made again from what is stored, so
// one that was tampered with and doesn't balance is refused by its number.
func (tx *Tx) Journal(f JournalFilter) ([]books.Posted, error) {
	q := tx.db.Order("no DESC")
	if !f.From.IsZero() {
		q = q.Where("day >= ?", dayText(f.From))
	}
	if !f.To.IsZero() {
		q = q.Where("day <= ?", dayText(f.To))
	}
	if f.CustomerID != 0 {
		q = q.Where("customer_id = ?", f.CustomerID)
	}
	if f.Document != "" {
		q = q.Where("document = ?", f.Document)
	}
	if f.Account != "" {
		q = q.Where("no IN (SELECT entry_no FROM postings WHERE account = ?)", string(f.Account))
	}
	if f.Newest != 0 {
		q = q.Limit(f.Newest)
	}
	var heads []entryRow
	if err := q.Find(&heads).Error; err != nil || len(heads) == 0 {
		return nil, err
	}
	heads = oldestFirst(heads)
	postings, err := tx.postings(heads)
	if err != nil {
		return nil, err
	}
	list := make([]books.Posted, len(heads))
	for i, h := range heads {
		if list[i], err = h.posted(postings[h.No]); err != nil {
			return nil, err
		}
	}
	return list, nil
}

func (h entryRow) posted(postings []books.Posting) (books.Posted, error) {
	e, err := books.NewEntry(books.Head{Day: readDay(h.Day), Document: h.Document, Customer: value(h.CustomerID), Memo: h.Memo}, postings...)
	if err != nil {
		return books.Posted{}, fmt.Errorf("entry %d of the journal: %w", h.No, err)
	}
	return books.Posted{No: h.No, Entry: e}, nil
}

// postings reads those of the entries, which are a run of numbers or nearly so.
func (tx *Tx) postings(heads []entryRow) (map[int64][]books.Posting, error) {
	var rows []postingRow
	err := tx.db.Where("entry_no BETWEEN ? AND ?", heads[0].No, heads[len(heads)-1].No).Order("id").Find(&rows).Error
	byEntry := map[int64][]books.Posting{}
	for _, r := range rows {
		byEntry[r.EntryNo] = append(byEntry[r.EntryNo], books.Posting{Account: books.Account(r.Account), Amount: cents(r.Amount, r.Currency)})
	}
	return byEntry, err
}

// AccountBalance adds up what the journal says of an account, debit positive; a
// customer other than 0 narrows it to that customer.
func (tx *Tx) AccountBalance(a books.Account, customerID int64, c money.Currency) (money.Amount, error) {
	return tx.AccountBalanceOn(a, customerID, time.Time{}, c)
}

// AccountBalanceOn does the same through a day, that day included; zero is all
// days.
func (tx *Tx) AccountBalanceOn(a books.Account, customerID int64, through time.Time, c money.Currency) (money.Amount, error) {
	q := tx.db.Table("postings").Select("CAST(COALESCE(SUM(postings.amount), 0) AS BIGINT)").Where("postings.account = ?", string(a))
	if customerID != 0 || !through.IsZero() {
		q = q.Joins("JOIN entries ON entries.no = postings.entry_no")
	}
	if customerID != 0 {
		q = q.Where("entries.customer_id = ?", customerID)
	}
	if !through.IsZero() {
		q = q.Where("entries.day <= ?", dayText(through))
	}
	var sum int64
	err := q.Scan(&sum).Error
	return money.Cents(sum, c), err
}

// AccountsUsed gives every account that was ever posted on, in order.
func (tx *Tx) AccountsUsed() (list []books.Account, err error) {
	err = tx.db.Table("postings").Distinct("account").Order("account").Pluck("account", &list).Error
	return list, err
}

type closeRow struct {
	ID      int64 `gorm:"primaryKey"`
	Through string
	MadeAt  time.Time
	MadeBy  string
}

func (closeRow) TableName() string { return "closes" }

// ClosedThrough gives the last closed day, zero when nothing was closed yet.
func (tx *Tx) ClosedThrough() (time.Time, error) {
	var through string
	err := tx.db.Raw("SELECT COALESCE(MAX(through), '') FROM closes").Scan(&through).Error
	return readDay(through), err
}

// AddClose locks the journal through a day for good.
func (tx *Tx) AddClose(actor party.Actor, through time.Time) error {
	row := closeRow{Through: dayText(through), MadeAt: tx.now, MadeBy: actor.Name}
	if err := tx.db.Create(&row).Error; err != nil {
		return err
	}
	return tx.Log(actor, "closed the books", "close", row.ID, map[string]string{"through": row.Through})
}
