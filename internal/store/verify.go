package store

import (
	"fmt"
	"strings"

	"ribdesk/internal/books"
)

// What only a check of the whole database asks for.

// BookRows compares each invoice and credit memo with the columns it is found
// by, and gives how many there are and a sentence for each that disagrees or
// can't be read.
func (tx *Tx) BookRows() (count int, wrong []string, err error) {
	var bills []invoiceRow
	if err := tx.db.Order("id").Find(&bills).Error; err != nil {
		return 0, nil, err
	}
	for _, r := range bills {
		b, err := r.bill()
		inv := b.Invoice
		same := r.Number == inv.Number && r.CustomerID == inv.Customer && r.Issued == dayText(inv.Issued) && r.Due == dayText(inv.Due) &&
			r.Total == inv.Total.Cents() && r.Currency == string(inv.Currency)
		if err != nil || !same {
			wrong = append(wrong, fmt.Sprintf("invoice %s (row %d): its record says otherwise than its row", r.Number, r.ID))
		}
	}
	var memos []memoRow
	if err := tx.db.Order("id").Find(&memos).Error; err != nil {
		return 0, nil, err
	}
	for _, r := range memos {
		n, err := r.note()
		m := n.Memo
		same := r.Number == m.Number && r.Invoice == m.Invoice && r.CustomerID == m.Customer && r.Day == dayText(m.Day) && r.Total == m.Total.Cents()
		if err != nil || !same {
			wrong = append(wrong, fmt.Sprintf("credit memo %s (row %d): its record says otherwise than its row", r.Number, r.ID))
		}
	}
	return len(bills) + len(memos), wrong, nil
}

// JournalEntries makes each entry of the journal again and gives those that
// can be, and a sentence for each that can't: postings lost, changed or out of
// balance, and postings of no entry.
func (tx *Tx) JournalEntries() (list []books.Posted, wrong []string, err error) {
	var heads []entryRow
	if err := tx.db.Order("no").Find(&heads).Error; err != nil {
		return nil, nil, err
	}
	var rows []postingRow
	if err := tx.db.Order("id").Find(&rows).Error; err != nil {
		return nil, nil, err
	}
	byEntry := map[int64][]books.Posting{}
	for _, r := range rows {
		byEntry[r.EntryNo] = append(byEntry[r.EntryNo], books.Posting{Account: books.Account(r.Account), Amount: cents(r.Amount, r.Currency)})
	}
	for _, h := range heads {
		p, err := h.posted(byEntry[h.No])
		if err != nil {
			wrong = append(wrong, strings.TrimSpace(err.Error()))
			continue
		}
		delete(byEntry, h.No)
		list = append(list, p)
	}
	for no := range byEntry {
		if !has(heads, no) {
			wrong = append(wrong, fmt.Sprintf("postings of entry %d, which isn't in the journal", no))
		}
	}
	return list, wrong, nil
}

func has(heads []entryRow, no int64) bool {
	for _, h := range heads {
		if h.No == no {
			return true
		}
	}
	return false
}

// NextNumbers gives, for each series, the number it would give next.
func (tx *Tx) NextNumbers() (map[string]int64, error) {
	var rows []seriesRow
	err := tx.db.Find(&rows).Error
	next := map[string]int64{}
	for _, r := range rows {
		next[r.Name] = r.Next
	}
	return next, err
}

// PaperNumbers gives the numbers of the papers of a kind, each once.
func (tx *Tx) PaperNumbers(kind string) (numbers []string, err error) {
	err = tx.db.Model(&paperRow{}).Where("kind = ?", kind).Distinct().Order("number").Pluck("number", &numbers).Error
	return numbers, err
}

// OrderIDs gives the ids of all orders.
func (tx *Tx) OrderIDs() (ids []int64, err error) {
	err = tx.db.Model(&orderRow{}).Order("id").Pluck("id", &ids).Error
	return ids, err
}

// CustomerIDs gives the ids of all customers.
func (tx *Tx) CustomerIDs() (ids []int64, err error) {
	err = tx.db.Model(&customerRow{}).Order("id").Pluck("id", &ids).Error
	return ids, err
}

// PaperHead gives a paper without its bytes.
func (tx *Tx) PaperHead(id int64) (kind, number, sha256 string, found bool, err error) {
	var rows []paperRow
	err = tx.db.Omit("body", "pdf").Where("id = ?", id).Find(&rows).Error
	if err != nil || len(rows) == 0 {
		return "", "", "", false, err
	}
	return rows[0].Kind, rows[0].Number, rows[0].SHA256, true, nil
}
