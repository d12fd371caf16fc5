package desk

import (
	"context"
	"time"

	"ribdesk/internal/books"
	"ribdesk/internal/document"
	"ribdesk/internal/fault"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
)

// Account is a customer's side of the books.
type Account struct {
	Customer   party.Customer
	Statement  books.Statement
	Owed       []Owed
	Credits    []Good
	Invoices   []InvoiceRow
	Payments   []Payment
	Back       map[string]string // payments that were taken back, and why
	Statements []order.Paper
	Finance    books.FinanceTerms
	Charged    time.Time // the last day a finance charge was made for
	Late       []books.FinanceLine
	LateCharge money.Amount // what a finance charge would come to today
	Standing   Standing     // as the counter sees it
}

// Account gives a customer's side of the books to staff who deal with money and
// to the customer; a customer's person always gets their own.
func (d *Desk) Account(ctx context.Context, actor party.Actor, customerID int64) (a Account, err error) {
	f := BooksFilter{CustomerID: customerID}
	if err := ownBooks(actor, &f); err != nil {
		return a, err
	}
	if f.CustomerID == 0 {
		return a, fault.NotFoundf("there is no such customer")
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return a, err
	}
	today := dayStart(d.now(), s.seller.Location())
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		if a.Customer, err = tx.Customer(f.CustomerID); err != nil {
			return err
		}
		if a.Statement, err = statement(tx, s, f.CustomerID, today); err != nil {
			return err
		}
		return a.read(tx, s, f, today)
	})
	return a, err
}

func (a *Account) read(tx *store.Tx, s *snapshot, f BooksFilter, today time.Time) (err error) {
	a.Statement.Balance, a.Statement.Credit = s.orZero(a.Statement.Balance), s.orZero(a.Statement.Credit)
	names := customerNames{tx: tx, known: map[int64]string{a.Customer.ID: a.Customer.Name}}
	if a.Owed, err = owedBy(tx, names, f.CustomerID, today); err != nil {
		return err
	}
	if a.Credits, err = goodOf(tx, names, f.CustomerID); err != nil {
		return err
	}
	if a.Invoices, err = invoiceRows(tx, f, today); err != nil {
		return err
	}
	if a.Payments, err = tx.Payments(f); err != nil {
		return err
	}
	if a.Back, err = tx.ReturnedPayments(f.CustomerID); err != nil {
		return err
	}
	if a.Statements, err = tx.PapersFor(f.CustomerID, string(document.KindStatement)); err != nil {
		return err
	}
	if a.Finance, a.Charged, err = tx.FinanceTerms(f.CustomerID); err != nil {
		return err
	}
	if !a.Finance.AgreedOn.IsZero() {
		items := make([]books.Item, len(a.Owed))
		for i, o := range a.Owed {
			items[i] = o.Item
		}
		if a.Late, a.LateCharge, err = books.FinanceOn(items, a.Finance, a.Charged, today); err != nil && !fault.Is(err, fault.Conflict) {
			return err
		}
	}
	a.Standing, err = standing(tx, a.Customer, money.Cents(0, s.seller.Currency), today, s.seller.Currency)
	return err
}

// OrderMoney is the money side of one order.
type OrderMoney struct {
	Standing Standing // of the customer, when there is one on file
	Deposits []books.Credit
	Paid     money.Amount // open deposits
	Invoices []InvoiceRow
	Unbilled bool   // something that was handed over isn't invoiced yet
	Why      string // what keeps a delivered order open
}

// OrderMoney gives the money side of an order to staff who deal with money.
func (d *Desk) OrderMoney(ctx context.Context, actor party.Actor, orderID int64) (m OrderMoney, err error) {
	if err := allow(actor, party.Owner, party.Counter, party.Bookkeeper); err != nil {
		return m, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return m, err
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		o, err := tx.Order(orderID)
		if err != nil {
			return err
		}
		return d.orderMoney(tx, s, o, &m)
	})
	return m, err
}

func (d *Desk) orderMoney(tx *store.Tx, s *snapshot, o order.Order, m *OrderMoney) (err error) {
	today := dayStart(d.now(), s.seller.Location())
	if o.CustomerID != 0 {
		c, err := tx.Customer(o.CustomerID)
		if err != nil {
			return err
		}
		another := money.Cents(0, s.seller.Currency)
		if !o.State.Reached(order.Accepted) {
			another = o.Charged().Total
		}
		if m.Standing, err = standing(tx, c, another, today, s.seller.Currency); err != nil {
			return err
		}
	}
	if m.Deposits, err = tx.DepositsFor(o.Number); err != nil {
		return err
	}
	m.Paid = money.Cents(0, s.seller.Currency)
	for _, c := range m.Deposits {
		m.Paid = m.Paid.Add(c.Open)
	}
	if m.Invoices, err = invoiceRows(tx, BooksFilter{OrderID: o.ID}, today); err != nil {
		return err
	}
	h, err := readHanded(tx, o)
	if err != nil || h.signed == 0 {
		return err
	}
	if m.Unbilled, err = hasUnbilled(tx, o, h); err != nil || o.State != order.Delivered {
		return err
	}
	m.Why, err = d.whyOpen(tx, o)
	return err
}
