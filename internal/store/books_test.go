package store_test

import (
	"errors"
	"fmt"
	"reflect"
	"sync"
	"testing"
	"time"

	"ribdesk/internal/books"
	"ribdesk/internal/fault"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
	"ribdesk/internal/store/storetest"
)

var bookDay = time.Date(2026, 3, 4, 0, 0, 0, 0, time.UTC)

// ledger adds a customer and an order to hang invoices on.
func ledger(t *testing.T, s *store.Store) (customer, orderID int64) {
	t.Helper()
	err := s.Write(t.Context(), func(tx *store.Tx) error {
		c := party.Customer{Name: "Buyer"}
		if err := tx.AddCustomer(&c); err != nil {
			return err
		}
		customer = c.ID
		o, err := tx.AddOrder(party.System, order.Order{Number: "1001", State: order.Delivered, CustomerID: c.ID, Lines: []order.Line{{Kind: order.Accessory, Code: "X", Count: 1}}})
		orderID = o.ID
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return customer, orderID
}

func draftFor(customer int64) books.Draft {
	return books.Draft{
		Customer: customer, Currency: money.USD, Order: "1001", Issued: bookDay, Supplied: bookDay, Terms: party.Terms{NetDays: 30, DiscountDays: 10, Discount: money.Must("0.02")},
		Lines:       []books.Line{{ID: "1.1", Description: "Panel", Detail: "7 pieces", Group: "panels", Class: "goods", Quantity: money.Fraction(37, 12), Unit: books.UnitLinealFoot, UnitPrice: money.Must("4.385")}},
		Adjustments: []books.Adjustment{{Reason: "Delivery", Class: "delivery", Account: books.Delivery, Amount: money.Cents(5800, money.USD)}},
		Tax:         books.TaxRules{Basis: books.PerInvoice, Jurisdictions: []books.Jurisdiction{{Name: "State", State: "ZE", Rate: money.Must("0.0625"), Classes: []string{"goods"}}}},
		Retain:      money.Must("0.05"),
	}
}

func TestRecordsOfTheBooksComeBackIdentical(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		customer, orderID := ledger(t, s)
		issued, err := draftFor(customer).Issue("INV-00001")
		if err != nil {
			t.Fatal(err)
		}
		credited, err := issued.Invoice.Credit("CM-00001", books.MemoDraft{Day: bookDay, Reason: "bent", Lines: []books.MemoLine{{ID: "1.1", Quantity: money.Int(1)}}}, nil)
		if err != nil {
			t.Fatal(err)
		}
		pay := books.Payment{Number: "PAY-00001", Customer: customer, Day: bookDay, Method: books.ByCheck, Reference: "no. 7", Order: "1001", Deposit: true, Amount: money.Cents(123, money.USD)}
		deposit, entry, err := pay.Receive()
		if err != nil {
			t.Fatal(err)
		}
		entries := append(issued.Entries, credited.Entry, entry)
		err = s.Write(t.Context(), func(tx *store.Tx) error {
			if _, err := tx.AddInvoice(party.System, orderID, issued.Invoice); err != nil {
				return err
			}
			if _, err := tx.AddMemo(party.System, orderID, credited.Memo); err != nil {
				return err
			}
			if _, err := tx.AddPayment(party.System, orderID, pay); err != nil {
				return err
			}
			for _, e := range entries {
				if _, err := tx.AddEntry(party.System, e); err != nil {
					return err
				}
			}
			return errors.Join(tx.AddItem(orderID, issued.Item), tx.AddCredit(deposit), tx.AddCredit(credited.Credit))
		})
		if err != nil {
			t.Fatal(err)
		}
		err = s.Read(t.Context(), func(tx *store.Tx) error {
			bill, err := tx.InvoiceByNumber("INV-00001")
			if err != nil {
				return err
			}
			notes, err := tx.MemosOn("INV-00001")
			if err != nil {
				return err
			}
			paid, err := tx.Payments(store.BooksFilter{})
			if err != nil {
				return err
			}
			item, err := tx.Item("INV-00001")
			if err != nil {
				return err
			}
			credit, err := tx.Credit("PAY-00001")
			if err != nil {
				return err
			}
			journal, err := tx.Journal(store.JournalFilter{})
			for i, p := range journal {
				if p.No != int64(i+1) || p.Entry.String() != entries[i].String() {
					t.Errorf("entry %d came back as %d %s, posted %s", i+1, p.No, p.Entry, entries[i])
				}
			}
			for _, pair := range [][2]any{{bill.Invoice, issued.Invoice}, {notes[0].Memo, credited.Memo}, {paid[0].Payment, pay}, {item, issued.Item}, {credit, deposit}} {
				if got, want := fmt.Sprintf("%+v", pair[0]), fmt.Sprintf("%+v", pair[1]); got != want || reflect.TypeOf(pair[0]) != reflect.TypeOf(pair[1]) {
					t.Errorf("came back as\n%s\nstored as\n%s", got, want)
				}
			}
			return errors.Join(err, bill.Invoice.Verify(), notes[0].Memo.Verify())
		})
		if err != nil {
			t.Fatal(err)
		}
		for _, table := range []string{"invoices", "memos", "payments", "applications", "entries", "postings", "closes"} {
			if err := store.Writer(s).Exec("UPDATE " + table + " SET id = id").Error; err == nil && table != "applications" && table != "closes" {
				t.Errorf("%s can be changed", table)
			}
			if err := store.Writer(s).Exec("DELETE FROM " + table).Error; err == nil && table != "applications" && table != "closes" {
				t.Errorf("%s can be deleted from", table)
			}
		}
		if err := store.Writer(s).Exec("UPDATE items SET open = original + 1").Error; err == nil {
			t.Error("an item can be open for more than it came to")
		}
	})
}

// 32 workers issue a thousand invoices, and one transaction in ten fails after
// it has taken its number: the numbers are 1 to n, none twice.
func TestNumbersAreGaplessUnderLoad(t *testing.T) {
	storetest.Each(t, func(t *testing.T, s *store.Store) {
		customer, orderID := ledger(t, s)
		const workers, each = 32, 32
		torn := errors.New("torn")
		var wg sync.WaitGroup
		for range workers {
			wg.Go(func() {
				for i := range each {
					err := s.Write(t.Context(), func(tx *store.Tx) error {
						n, err := tx.NextNumber("INV-")
						if err != nil {
							return err
						}
						issued, err := draftFor(customer).Issue(books.Series{Prefix: "INV-", Next: n}.Number())
						if err != nil {
							return err
						}
						if _, err := tx.AddInvoice(party.System, orderID, issued.Invoice); err != nil {
							return err
						}
						if _, err := tx.AddEntry(party.System, issued.Entries[0]); err != nil {
							return err
						}
						if i%10 == 9 {
							return torn
						}
						return nil
					})
					if err != nil && !errors.Is(err, torn) {
						t.Error(err)
					}
				}
			})
		}
		wg.Wait()
		err := s.Read(t.Context(), func(tx *store.Tx) error {
			bills, err := tx.Invoices(store.BooksFilter{})
			if err != nil {
				return err
			}
			var numbers []string
			for _, b := range bills {
				numbers = append(numbers, b.Invoice.Number)
			}
			if want := workers * (each - each/10); len(numbers) != want {
				t.Errorf("%d invoices, want %d", len(numbers), want)
			}
			journal, err := tx.Journal(store.JournalFilter{})
			for i, p := range journal {
				if p.No != int64(i+1) {
					return fault.Conflictf("entry %d stands where entry %d should be", p.No, i+1)
				}
			}
			return errors.Join(err, books.Series{Prefix: "INV-", Next: int64(len(numbers) + 1)}.Gapless(numbers))
		})
		if err != nil {
			t.Fatal(err)
		}
	})
}
