package desk

import (
	"context"
	"strings"
	"time"

	"ribdesk/internal/books"
	"ribdesk/internal/fault"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/price"
	"ribdesk/internal/store"
	"ribdesk/internal/words"
)

// Bill, Note, Payment and Change are records of the books as they are kept.
type (
	Bill    = store.Bill
	Note    = store.Note
	Payment = store.Receipt
	Change  = store.Change
)

// TakenBack is what a change says of a payment that was returned.
const TakenBack = store.Returned

// The series of the books: what each number begins with.
const (
	invoicePrefix   = "INV-"
	memoPrefix      = "CM-"
	paymentPrefix   = "PAY-"
	refundPrefix    = "RF-"
	financePrefix   = "FC-"
	retentionPrefix = "RT-"
	returnFeePrefix = "BF-"
	statementPrefix = "ST-"
)

// takeNumber takes the next number of a series of the books; it is used if and
// only if the transaction commits.
func takeNumber(tx *store.Tx, prefix string) (string, error) {
	n, err := tx.NextNumber(prefix)
	return books.Series{Prefix: prefix, Next: n}.Number(), err
}

// keepsBooks refuses whoever doesn't keep the books.
func keepsBooks(actor party.Actor) error { return allow(actor, party.Owner, party.Bookkeeper) }

// post puts entries into the journal, unless their day is closed.
func post(tx *store.Tx, actor party.Actor, entries ...books.Entry) error {
	closed, err := tx.ClosedThrough()
	if err != nil {
		return err
	}
	for _, e := range entries {
		if err := books.InOpenPeriod(e, closed); err != nil {
			return err
		}
		if _, err := tx.AddEntry(actor, e); err != nil {
			return err
		}
	}
	return nil
}

// InvoiceAsk is what somebody wants invoiced: what was handed over of an order
// and isn't billed yet. Retain is the share held back by agreement.
type InvoiceAsk struct {
	OrderID int64
	Seen    int64 // version of the order that was looked at, 0 for any
	Retain  money.Rate
}

// bill is an order on its way to an invoice.
type bill struct {
	order    order.Order
	customer party.Customer
	billing  billing
	handed   handed
	day      time.Time
	draft    books.Draft
}

// readBill reads what an invoice of the order would be made from. An order that
// isn't delivered, or has nothing left to invoice, gives a conflict.
func (d *Desk) readBill(tx *store.Tx, s *snapshot, o order.Order, retain money.Rate) (b bill, err error) {
	b.order, b.day = o, dayStart(d.now(), s.seller.Location())
	if b.handed, err = readHanded(tx, o); err != nil {
		return b, err
	}
	switch {
	case free(o):
		return b, fault.Conflictf("order %s is without charge", o.Number)
	case b.handed.signed == 0:
		return b, fault.Conflictf("order %s is %s; only what was handed over is invoiced", o.Number, o.State)
	}
	if b.billing, err = readBilling(tx, o, b.handed); err != nil {
		return b, err
	}
	if b.customer, err = customerOf(tx, o); err != nil {
		return b, err
	}
	s.nameRows(b.billing, o, s.readerOf(b.customer))
	certificate, err := s.certificateFor(tx, o, b.day)
	if err != nil {
		return b, err
	}
	if b.draft, err = b.billing.draft(certificate, b.day); err != nil {
		return b, err
	}
	b.draft.Customer, b.draft.Currency, b.draft.Order, b.draft.PO, b.draft.Job = o.CustomerID, o.Charged().Total.Currency(), o.Number, o.PO, o.Job
	b.draft.Ticket, b.draft.Terms, b.draft.Retain = clipped(strings.Join(b.handed.tickets, ", ")), b.customer.Terms, retain
	b.draft.Supplied = dayStart(b.handed.last.SignedAt, s.seller.Location())
	return b, b.takeDeposits(tx)
}

func clipped(s string) string {
	if r := []rune(s); len(r) > 80 {
		return string(r[:79]) + "…"
	}
	return s
}

// readBilling replays the accepted price, counts what was handed over and reads
// what is billed already.
func readBilling(tx *store.Tx, o order.Order, h handed) (billing, error) {
	in, q, err := ReplayPrice(o)
	if err != nil {
		return billing{}, err
	}
	offer := q.Alone
	if o.Sharing && q.Shared != nil {
		offer = *q.Shared
	}
	bills, err := tx.Invoices(store.BooksFilter{OrderID: o.ID})
	if err != nil {
		return billing{}, err
	}
	notes, err := tx.Memos(store.BooksFilter{OrderID: o.ID})
	if err != nil {
		return billing{}, err
	}
	b := newBilling(in, offer, invoicesOf(bills), memosOf(notes))
	for _, pl := range b.lines {
		if key, ok := keyOf(o, pl); ok && isGoods(pl) {
			b.rows[rowID(pl)] = billRow{pieces: h.pieces[key]}
		}
	}
	return b, nil
}

// keyOf finds the row of the order that a line of its price is for.
func keyOf(o order.Order, pl price.Line) (rowKey, bool) {
	i, cut := placeOf(pl)
	if i >= len(o.Lines) {
		return rowKey{}, false
	}
	l := o.Lines[i]
	switch {
	case l.Kind == order.Accessory:
		return rowKey{line: l.ID}, true
	case cut < 0 || cut >= len(l.Cuts):
		return rowKey{}, false
	}
	return rowKey{l.ID, l.Cuts[cut].ID}, true
}

// nameRows names the goods as the customer's papers do.
func (s *snapshot) nameRows(b billing, o order.Order, r words.Reader) {
	for _, pl := range b.lines {
		key, ok := keyOf(o, pl)
		if !ok || !isGoods(pl) {
			continue
		}
		i, cut := placeOf(pl)
		l, row := o.Lines[i], b.rows[rowID(pl)]
		row.description = l.Name
		if g := s.goods(l, r); g.Material != "" {
			row.description = joined(", ", g.Profile, g.Gauge, g.Material, g.Colour)
		}
		if key.cut != 0 {
			row.detail = r.N(row.pieces, "%d piece of %s", "%d pieces of %s", row.pieces, l.Cuts[cut].Length)
			if mark := l.Cuts[cut].Mark; mark != "" {
				row.detail += r.T(", mark %s", mark)
			}
		}
		b.rows[rowID(pl)] = row
	}
}

func joined(sep string, parts ...string) string {
	var kept []string
	for _, p := range parts {
		if p != "" {
			kept = append(kept, p)
		}
	}
	return strings.Join(kept, sep)
}

func invoicesOf(bills []store.Bill) []books.Invoice {
	out := make([]books.Invoice, len(bills))
	for i, b := range bills {
		out[i] = b.Invoice
	}
	return out
}

func memosOf(notes []store.Note) []books.Memo {
	out := make([]books.Memo, len(notes))
	for i, n := range notes {
		out[i] = n.Memo
	}
	return out
}

// certificateFor gives the certificate that holds on a day in the state that the
// goods went to, nil when none does; then tax is charged.
func (s *snapshot) certificateFor(tx *store.Tx, o order.Order, day time.Time) (*party.Certificate, error) {
	if o.CustomerID == 0 {
		return nil, nil
	}
	all, err := tx.Certificates(o.CustomerID)
	state := s.stateOf(o)
	for i := range all {
		if all[i].Covers(state, day) {
			return &all[i], err
		}
	}
	return nil, err
}

// stateOf is where the goods are handed over: the shop's own state for a pick-up.
func (s *snapshot) stateOf(o order.Order) string {
	if o.Fulfil != order.PickUp && o.ShipTo.State != "" {
		return o.ShipTo.State
	}
	return s.seller.Address.State
}

// takeDeposits puts the order's open deposits on the draft: with part invoices
// each takes its share, and the last one all that is left, as far as it is owed
// now and not held back.
func (b *bill) takeDeposits(tx *store.Tx) error {
	deposits, err := tx.DepositsFor(b.order.Number)
	if err != nil {
		return err
	}
	trial, err := b.draft.Issue("trial")
	if err != nil {
		return err
	}
	owed := trial.Item.Open
	left := b.order.Charged().Total
	for _, inv := range b.billing.before {
		left = left.Sub(inv.Total)
	}
	for _, m := range b.billing.memos {
		left = left.Add(m.Total)
	}
	for _, c := range deposits {
		use, err := books.DepositFor(c.Open, trial.Invoice.Total, left)
		if err != nil {
			return err
		}
		if use = money.Min(use, owed); use.Sign() <= 0 {
			continue
		}
		b.draft.Deposits = append(b.draft.Deposits, books.DepositUse{Deposit: c, Amount: use})
		owed = owed.Sub(use)
	}
	return nil
}

// InvoiceView is an invoice as it would be issued now, with how far each row of
// the order is billed by it.
type InvoiceView struct {
	Order     order.Order
	Invoice   books.Invoice // without a number
	Progress  []books.LineProgress
	Undecided int // exceptions on the tickets that nobody has decided on
}

// PreviewInvoice shows what IssueInvoice would issue.
func (d *Desk) PreviewInvoice(ctx context.Context, actor party.Actor, ask InvoiceAsk) (v InvoiceView, err error) {
	if err := keepsBooks(actor); err != nil {
		return v, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return v, err
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		if v.Order, err = tx.Order(ask.OrderID); err != nil {
			return err
		}
		b, err := d.readBill(tx, s, v.Order, ask.Retain)
		if err != nil {
			return err
		}
		b.draft.Customer = max(1, b.draft.Customer) // a walk-in gets a file when the invoice is issued
		b.draft.Deposits = ofCustomer(b.draft.Deposits, b.draft.Customer)
		trial, err := b.draft.Issue("preview")
		v.Invoice, v.Progress, v.Undecided = trial.Invoice, books.Progress(b.billing.orderLines()), b.handed.undecided
		v.Invoice.Number = ""
		return err
	})
	return v, err
}

func ofCustomer(uses []books.DepositUse, customer int64) (kept []books.DepositUse) {
	for _, u := range uses {
		if u.Deposit.Customer == customer {
			kept = append(kept, u)
		}
	}
	return kept
}

// IssueInvoice invoices what was handed over of an order and isn't billed yet:
// the number, the paper with its exchange file, what the customer owes, the
// deposits taken off and the journal entries, all in one transaction.
func (d *Desk) IssueInvoice(ctx context.Context, actor party.Actor, ask InvoiceAsk) (bill Bill, err error) {
	if err := keepsBooks(actor); err != nil {
		return bill, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return bill, err
	}
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		o, err := tx.Order(ask.OrderID)
		if err != nil {
			return err
		}
		if ask.Seen != 0 && ask.Seen != o.Version {
			return fault.Conflictf("order %s was changed meanwhile; look at it again before you invoice it", o.Number)
		}
		if o, err = d.openFile(tx, actor, o); err != nil {
			return err
		}
		bill, err = d.issueInvoice(tx, actor, s, o, ask.Retain)
		return err
	})
	return bill, err
}

func (d *Desk) issueInvoice(tx *store.Tx, actor party.Actor, s *snapshot, o order.Order, retain money.Rate) (Bill, error) {
	b, err := d.readBill(tx, s, o, retain)
	if err != nil {
		return Bill{}, err
	}
	number, err := takeNumber(tx, invoicePrefix)
	if err != nil {
		return Bill{}, err
	}
	issued, err := b.draft.Issue(number)
	if err != nil {
		return Bill{}, err
	}
	kept, err := tx.AddInvoice(actor, o.ID, issued.Invoice)
	if err != nil {
		return Bill{}, err
	}
	if err := tx.AddItem(o.ID, issued.Item); err != nil {
		return Bill{}, err
	}
	for i, c := range issued.Deposits {
		if err := tx.SaveCredit(c); err != nil {
			return Bill{}, err
		}
		if err := tx.AddChange(actor, changeOf(issued.Applications[i])); err != nil {
			return Bill{}, err
		}
	}
	if err := post(tx, actor, issued.Entries...); err != nil {
		return Bill{}, err
	}
	if err := d.invoicePapers(tx, actor, s, b, issued.Invoice); err != nil {
		return Bill{}, err
	}
	if err := d.tellInvoiced(tx, o, b.customer, issued.Invoice); err != nil {
		return Bill{}, err
	}
	return kept, d.closeIfPaid(tx, actor, o.ID)
}

func changeOf(a books.Application) store.Change {
	return store.Change{What: store.Applied, Document: a.Credit, Credit: a.Credit, Item: a.Item, Day: a.Day, Amount: a.Amount, Discount: a.Discount}
}

// openFile puts whoever ordered without an account on file, so that the books
// know who owes; the order belongs to that file from then on.
func (d *Desk) openFile(tx *store.Tx, actor party.Actor, o order.Order) (order.Order, error) {
	if o.CustomerID != 0 {
		return o, nil
	}
	c, err := customerOf(tx, o)
	if err != nil {
		return o, err
	}
	c.Billing = o.ShipTo
	c = tidyCustomer(c)
	if c.Check() != nil { // a contact that isn't a proper one stays on the order only
		c = tidyCustomer(party.Customer{Name: "Walk-in, order " + o.Number, Class: walkIn})
	}
	if err := tx.AddCustomer(&c); err != nil {
		return o, err
	}
	if err := tx.Log(actor, "added", "customer", c.ID, map[string]string{"name": c.Name, "order": o.Number}); err != nil {
		return o, err
	}
	o.CustomerID = c.ID
	if o.Customer == "" {
		o.Customer = c.Name
	}
	return tx.SaveOrder(actor, o, "put on file")
}

// closeIfPaid closes an order once all that was handed over is invoiced, every
// exception is decided on, and nothing is owed or held back any more.
func (d *Desk) closeIfPaid(tx *store.Tx, actor party.Actor, orderID int64) error {
	if orderID == 0 {
		return nil
	}
	o, err := tx.Order(orderID)
	if err != nil || o.State != order.Delivered {
		return err
	}
	why, err := d.whyOpen(tx, o)
	if err != nil || why != "" {
		return err
	}
	if err := o.Apply(order.Close); err != nil {
		return err
	}
	_, err = tx.SaveOrder(actor, o, string(o.State))
	return err
}

// free reports an order without charge, such as a remake.
func free(o order.Order) bool { return len(o.PriceJSON) == 0 && o.Charged().Total.IsZero() }

// whyOpen says what keeps a delivered order from being closed, "" for nothing.
func (d *Desk) whyOpen(tx *store.Tx, o order.Order) (string, error) {
	h, err := readHanded(tx, o)
	if err != nil {
		return "", err
	}
	bills, err := tx.Invoices(store.BooksFilter{OrderID: o.ID})
	if err != nil {
		return "", err
	}
	items, err := tx.Items(store.BooksFilter{OrderID: o.ID})
	if err != nil {
		return "", err
	}
	switch {
	case h.unsigned > 0:
		return "a stop isn't signed yet", nil
	case h.undecided > 0:
		return "an exception on a ticket isn't decided", nil
	case h.awaited > 0:
		return "a remake hasn't arrived yet", nil
	case free(o):
		return "", nil
	}
	b, err := readBilling(tx, o, h)
	if err != nil {
		return "", err
	}
	for _, l := range b.orderLines() {
		if l.Delivered.Sign() > 0 {
			return "not all that was handed over is invoiced", nil
		}
	}
	return owing(bills, items), nil
}

func owing(bills []store.Bill, items []books.Item) string {
	retained := money.Amount{}
	for _, b := range bills {
		retained = retained.Add(b.Invoice.Retained)
	}
	for _, it := range items {
		if it.Open.Sign() > 0 {
			return it.Number + " isn't paid in full"
		}
		if it.Kind == books.RetentionItem {
			retained = retained.Sub(it.Original)
		}
	}
	if retained.Sign() > 0 {
		return retained.Format() + " are held back"
	}
	return ""
}
