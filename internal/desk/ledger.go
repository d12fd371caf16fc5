package desk

import (
	"bytes"
	"context"
	"time"

	"ribdesk/internal/books"
	"ribdesk/internal/fault"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
)

// Owed is an open item with whose it is.
type Owed struct {
	books.Item
	Name      string // of the customer
	OrderID   int64
	InvoiceID int64 // 0 for what isn't an invoice
	DaysLate  int   // past the due day, 0 when not
}

// Good is an open credit with whose it is.
type Good struct {
	books.Credit
	Name    string
	OrderID int64
}

// Ready is an order with something to invoice, or something that keeps it open.
type Ready struct {
	Order order.Order
	Bills int    // invoices so far
	Why   string // what keeps it from being invoiced or closed; "" means ready
}

// Receivables is what the Books sheet opens with.
type Receivables struct {
	Today   time.Time
	Ageing  books.Ageing
	Owed    []Owed // the one due first before the others
	Credits []Good
	Ready   []Ready
	Closed  time.Time // the last closed day
}

// Receivables gives what customers owe and have to their good, and the orders
// that wait for an invoice.
func (d *Desk) Receivables(ctx context.Context, actor party.Actor) (r Receivables, err error) {
	if err := allow(actor, party.Owner, party.Bookkeeper, party.Counter); err != nil {
		return r, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return r, err
	}
	r.Today = dayStart(d.now(), s.seller.Location())
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		names := customerNames{tx: tx, known: map[int64]string{}}
		if r.Owed, err = owedBy(tx, names, 0, r.Today); err != nil {
			return err
		}
		for _, o := range r.Owed {
			r.Ageing = addAge(r.Ageing, books.Age([]books.Item{o.Item}, r.Today))
		}
		if r.Credits, err = goodOf(tx, names, 0); err != nil {
			return err
		}
		if r.Closed, err = tx.ClosedThrough(); err != nil {
			return err
		}
		r.Ready, err = d.readyOrders(tx)
		return err
	})
	return r, err
}

func addAge(a, b books.Ageing) books.Ageing {
	return books.Ageing{Current: a.Current.Add(b.Current), To30: a.To30.Add(b.To30), To60: a.To60.Add(b.To60), To90: a.To90.Add(b.To90), Over90: a.Over90.Add(b.Over90)}
}

// customerNames looks names up once each.
type customerNames struct {
	tx    *store.Tx
	known map[int64]string
}

func (n customerNames) of(id int64) (string, error) {
	if name, ok := n.known[id]; ok {
		return name, nil
	}
	c, err := n.tx.Customer(id)
	n.known[id] = c.Name
	return c.Name, err
}

func owedBy(tx *store.Tx, names customerNames, customerID int64, today time.Time) ([]Owed, error) {
	items, err := tx.Items(store.BooksFilter{CustomerID: customerID, OpenOnly: true})
	if err != nil {
		return nil, err
	}
	sortByDue(items)
	out := make([]Owed, len(items))
	for i, it := range items {
		out[i] = Owed{Item: it, DaysLate: daysLate(it, today)}
		if out[i].Name, err = names.of(it.Customer); err != nil {
			return nil, err
		}
		if out[i].OrderID, err = tx.OrderOfItem(it.Number); err != nil {
			return nil, err
		}
		if it.Kind == books.InvoiceItem {
			kept, err := tx.InvoiceByNumber(it.Number)
			if err != nil {
				return nil, err
			}
			out[i].InvoiceID = kept.ID
		}
	}
	return out, nil
}

func goodOf(tx *store.Tx, names customerNames, customerID int64) ([]Good, error) {
	credits, err := tx.Credits(store.BooksFilter{CustomerID: customerID, OpenOnly: true})
	if err != nil {
		return nil, err
	}
	out := make([]Good, len(credits))
	for i, c := range credits {
		out[i] = Good{Credit: c}
		if out[i].Name, err = names.of(c.Customer); err != nil {
			return nil, err
		}
		if c.Order == "" {
			continue
		}
		o, err := tx.OrderByNumber(c.Order)
		if err != nil {
			return nil, err
		}
		out[i].OrderID = o.ID
	}
	return out, nil
}

// readyOrders gives the orders that are on their way out or delivered and not
// closed, those with something to invoice first.
func (d *Desk) readyOrders(tx *store.Tx) ([]Ready, error) {
	orders, err := tx.Orders(store.OrderFilter{States: []order.State{order.Cut, order.Loaded, order.Delivered}, Lines: true, Oldest: true, Limit: maxOpenOrders})
	if err != nil {
		return nil, err
	}
	var ready, waiting []Ready
	for _, o := range orders {
		h, err := readHanded(tx, o)
		if err != nil {
			return nil, err
		}
		if h.signed == 0 {
			continue
		}
		bills, err := tx.Invoices(store.BooksFilter{OrderID: o.ID})
		if err != nil {
			return nil, err
		}
		r := Ready{Order: o, Bills: len(bills)}
		left, err := hasUnbilled(tx, o, h)
		if err != nil {
			return nil, err
		}
		if left {
			ready = append(ready, r)
			continue
		}
		if r.Why, err = d.whyOpen(tx, o); err != nil {
			return nil, err
		}
		waiting = append(waiting, r)
	}
	return append(ready, waiting...), nil
}

// hasUnbilled reports whether the customer has more of an order than is invoiced.
func hasUnbilled(tx *store.Tx, o order.Order, h handed) (bool, error) {
	if free(o) {
		return false, nil
	}
	b, err := readBilling(tx, o, h)
	if err != nil {
		return false, err
	}
	for _, l := range b.orderLines() {
		if l.Delivered.Sign() > 0 {
			return true, nil
		}
	}
	return false, nil
}

// BooksFilter and JournalFilter narrow lists of the books.
type (
	BooksFilter   = store.BooksFilter
	JournalFilter = store.JournalFilter
)

// ownBooks lets customers see their own records only, and staff who deal with
// money see all.
func ownBooks(actor party.Actor, f *BooksFilter) error {
	if actor.Role == party.Buyer && actor.CustomerID != 0 {
		f.CustomerID = actor.CustomerID
		return nil
	}
	return allow(actor, party.Owner, party.Bookkeeper, party.Counter)
}

// InvoiceRow is an invoice in a list, with what of it is still open.
type InvoiceRow struct {
	Bill
	Open Owed
}

// Invoices lists issued invoices that the actor may see, the newest first.
func (d *Desk) Invoices(ctx context.Context, actor party.Actor, f BooksFilter) (list []InvoiceRow, err error) {
	if err := ownBooks(actor, &f); err != nil {
		return nil, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return nil, err
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		list, err = invoiceRows(tx, f, dayStart(d.now(), s.seller.Location()))
		return err
	})
	return list, err
}

func invoiceRows(tx *store.Tx, f BooksFilter, today time.Time) ([]InvoiceRow, error) {
	bills, err := tx.Invoices(f)
	if err != nil {
		return nil, err
	}
	names := customerNames{tx: tx, known: map[int64]string{}}
	list := make([]InvoiceRow, len(bills))
	for i, b := range bills {
		it, err := tx.Item(b.Invoice.Number)
		if err != nil {
			return nil, err
		}
		list[i] = InvoiceRow{Bill: b, Open: Owed{Item: it, OrderID: b.OrderID, InvoiceID: b.ID}}
		if it.Open.Sign() > 0 {
			list[i].Open.DaysLate = daysLate(it, today)
		}
		if list[i].Open.Name, err = names.of(b.Invoice.Customer); err != nil {
			return nil, err
		}
	}
	return list, nil
}

func daysLate(it books.Item, today time.Time) int {
	return max(0, int(today.Sub(books.Day(it.Due))/(24*time.Hour)))
}

// Payments lists money received that the actor may see, the newest first.
func (d *Desk) Payments(ctx context.Context, actor party.Actor, f BooksFilter) (list []Payment, err error) {
	if err := ownBooks(actor, &f); err != nil {
		return nil, err
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		list, err = tx.Payments(f)
		return err
	})
	return list, err
}

// ReturnedPayments gives the payments that were taken back, each with why, to
// staff who deal with money.
func (d *Desk) ReturnedPayments(ctx context.Context, actor party.Actor) (back map[string]string, err error) {
	if err := allow(actor, party.Owner, party.Bookkeeper, party.Counter); err != nil {
		return nil, err
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		back, err = tx.ReturnedPayments(0)
		return err
	})
	return back, err
}

// PaymentFile is a payment with what became of it.
type PaymentFile struct {
	Payment  Payment
	Customer party.Customer
	Credit   books.Credit
	Changes  []Change
	Banked   bool // money was paid in at the bank since it came
}

// PaymentFile gives one payment, to staff who deal with money.
func (d *Desk) PaymentFile(ctx context.Context, actor party.Actor, id int64) (f PaymentFile, err error) {
	if err := allow(actor, party.Owner, party.Bookkeeper, party.Counter); err != nil {
		return f, err
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		if f.Payment, err = tx.Payment(id); err != nil {
			return err
		}
		if f.Customer, err = tx.Customer(f.Payment.Payment.Customer); err != nil {
			return err
		}
		if f.Credit, err = tx.Credit(f.Payment.Payment.Number); err != nil {
			return err
		}
		if f.Changes, err = tx.ChangesOfCredit(f.Credit.Number); err != nil {
			return err
		}
		f.Banked, err = bankedSince(tx, f.Payment.Payment)
		return err
	})
	return f, err
}

// bankedSince reports whether the drawer was paid in at the bank after a payment
// was entered, or whether the payment went to the bank by itself.
func bankedSince(tx *store.Tx, p books.Payment) (bool, error) {
	list, err := tx.Journal(JournalFilter{From: p.Day, Account: books.Cash})
	if err != nil {
		return false, err
	}
	own, err := tx.Journal(JournalFilter{Document: p.Number, CustomerID: p.Customer})
	if err != nil || len(own) == 0 {
		return false, err
	}
	for _, e := range list {
		if e.No == own[0].No || e.No > own[0].No && e.Entry.Customer() == 0 && e.Entry.On(books.Undeposited).Sign() < 0 {
			return true, nil
		}
	}
	return false, nil
}

// InvoiceRecord is an invoice with all that became of it.
type InvoiceRecord struct {
	Bill     Bill
	Customer party.Customer
	Item     books.Item
	Notes    []Note
	Changes  []Change
	Papers   []order.Paper    // of the invoice and its memos, exchange files too
	Over     []books.MemoLine // billed, but by now known not to have been handed over
	Held     money.Amount     // held back by agreement and not released yet
	Pieces   map[string]int   // billed of each line that is sold by length
	Left     []books.LineLeft // to credit, by line
	Early    money.Amount     // let off if the rest is paid in full by EarlyBy; 0 for nothing
	EarlyBy  time.Time
}

// InvoiceRecord gives one invoice to whoever may see it; another customer's
// isn't there.
func (d *Desk) InvoiceRecord(ctx context.Context, actor party.Actor, id int64) (f InvoiceRecord, err error) {
	filter := BooksFilter{}
	if err := ownBooks(actor, &filter); err != nil {
		return f, err
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		if f.Bill, err = tx.Invoice(id); err != nil {
			return err
		}
		if filter.CustomerID != 0 && f.Bill.Invoice.Customer != filter.CustomerID {
			return fault.NotFoundf("there is no such invoice")
		}
		return d.readInvoice(tx, &f)
	})
	if err != nil {
		return InvoiceRecord{}, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return InvoiceRecord{}, err
	}
	return f, f.lookEarly(dayStart(d.now(), s.seller.Location()))
}

// lookEarly works out what the customer can still save by paying early.
func (f *InvoiceRecord) lookEarly(today time.Time) error {
	inv := f.Bill.Invoice
	off, err := books.TermsDiscount(inv, memosOf(f.Notes), today)
	f.Early, f.EarlyBy = money.Min(off, f.Item.Open), inv.Issued.AddDate(0, 0, inv.Terms.DiscountDays)
	return err
}

func (d *Desk) readInvoice(tx *store.Tx, f *InvoiceRecord) (err error) {
	number := f.Bill.Invoice.Number
	if f.Customer, err = tx.Customer(f.Bill.Invoice.Customer); err != nil {
		return err
	}
	if f.Item, err = tx.Item(number); err != nil {
		return err
	}
	if f.Notes, err = tx.MemosOn(number); err != nil {
		return err
	}
	if f.Changes, err = tx.ChangesOfItem(number); err != nil {
		return err
	}
	if f.Over, err = d.overbilled(tx, f.Bill); err != nil {
		return err
	}
	rows, err := rowsBilled(tx, f.Bill)
	if err != nil {
		return err
	}
	f.Pieces = map[string]int{}
	for _, line := range f.Bill.Invoice.Lines {
		if row, byLength := rows[line.ID]; byLength {
			f.Pieces[line.ID] = piecesIn(row, line.Quantity)
		}
	}
	f.Left = f.Bill.Invoice.LeftOf(memosOf(f.Notes))
	released, err := releasedOf(tx, f.Bill)
	if err != nil {
		return err
	}
	f.Held = f.Bill.Invoice.Retained.Sub(released)
	papers, err := tx.PapersOf(f.Bill.OrderID)
	if err != nil {
		return err
	}
	of := map[string]bool{number: true}
	for _, n := range f.Notes {
		of[n.Memo.Number] = true
	}
	for _, p := range papers {
		if of[p.Number] {
			f.Papers = append(f.Papers, p)
		}
	}
	return nil
}

// Journal gives entries of the journal, to those who keep the books.
func (d *Desk) Journal(ctx context.Context, actor party.Actor, f JournalFilter) (list []books.Posted, err error) {
	if err := keepsBooks(actor); err != nil {
		return nil, err
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		list, err = tx.Journal(f)
		return err
	})
	return list, err
}

// AccountsUsed gives every account that was ever posted on, to those who keep
// the books.
func (d *Desk) AccountsUsed(ctx context.Context, actor party.Actor) (list []books.Account, err error) {
	if err := keepsBooks(actor); err != nil {
		return nil, err
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		list, err = tx.AccountsUsed()
		return err
	})
	return list, err
}

// JournalCSV gives entries of the journal as a file for any accountant.
func (d *Desk) JournalCSV(ctx context.Context, actor party.Actor, f JournalFilter) ([]byte, error) {
	list, err := d.Journal(ctx, actor, f)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	err = books.WriteJournal(&b, list)
	return b.Bytes(), err
}

// TrialBalance adds the journal up by account, through a day.
func (d *Desk) TrialBalance(ctx context.Context, actor party.Actor, through time.Time) (books.Trial, error) {
	list, err := d.Journal(ctx, actor, JournalFilter{To: through})
	if err != nil {
		return books.Trial{}, err
	}
	return books.TrialBalance(entriesOf(list), through)
}

func entriesOf(list []books.Posted) []books.Entry {
	out := make([]books.Entry, len(list))
	for i, p := range list {
		out[i] = p.Entry
	}
	return out
}

// CloseBooks locks the journal through a day, after everything in it was found
// to agree. Nothing dated in a closed period can be posted afterwards.
func (d *Desk) CloseBooks(ctx context.Context, actor party.Actor, through time.Time) error {
	if err := keepsBooks(actor); err != nil {
		return err
	}
	if through.IsZero() {
		return fault.Invalidf("through", "give the last day of the period")
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return err
	}
	return d.store.Write(ctx, func(tx *store.Tx) error {
		closed, err := tx.ClosedThrough()
		if err != nil {
			return err
		}
		journal, err := tx.Journal(JournalFilter{})
		if err != nil {
			return err
		}
		items, err := tx.Items(BooksFilter{})
		if err != nil {
			return err
		}
		credits, err := tx.Credits(BooksFilter{})
		if err != nil {
			return err
		}
		if err := books.CheckClose(through, closed, dayStart(d.now(), s.seller.Location()), journal, items, credits); err != nil {
			return err
		}
		return tx.AddClose(actor, books.Day(through))
	})
}
