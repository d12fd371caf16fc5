package desk

import (
	"context"
	"fmt"
	"sort"
	"strings"
	"time"

	"ribdesk/internal/books"
	"ribdesk/internal/einvoice"
	"ribdesk/internal/fault"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
)

func sortByDue(items []books.Item) {
	sort.SliceStable(items, func(i, j int) bool { return items[i].Due.Before(items[j].Due) })
}

// MemoAsk is what somebody wants to take back of an invoice. Whole takes all
// that is left of it.
type MemoAsk struct {
	InvoiceID   int64
	Reason      string
	Lines       []books.MemoLine
	Adjustments []books.MemoAdjustment
	Whole       bool
}

// CreditMemo corrects an issued invoice, with its tax at the rate that was
// charged. It pays what is still open of the invoice; the rest stays to the
// customer's good, to be applied or refunded.
func (d *Desk) CreditMemo(ctx context.Context, actor party.Actor, ask MemoAsk) (note Note, err error) {
	if err := keepsBooks(actor); err != nil {
		return note, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return note, err
	}
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		note, err = d.creditMemo(tx, actor, s, ask)
		return err
	})
	return note, err
}

func (d *Desk) creditMemo(tx *store.Tx, actor party.Actor, s *snapshot, ask MemoAsk) (Note, error) {
	kept, err := tx.Invoice(ask.InvoiceID)
	if err != nil {
		return Note{}, err
	}
	notes, err := tx.MemosOn(kept.Invoice.Number)
	if err != nil {
		return Note{}, err
	}
	day := dayStart(d.now(), s.seller.Location())
	draft := books.MemoDraft{Day: day, Reason: strings.TrimSpace(ask.Reason), Lines: ask.Lines, Adjustments: ask.Adjustments}
	if ask.Whole {
		draft = kept.Invoice.Whole(memosOf(notes), day, draft.Reason)
	}
	if draft.Forgiven, err = forgiven(tx, kept.Invoice); err != nil {
		return Note{}, err
	}
	number, err := takeNumber(tx, memoPrefix)
	if err != nil {
		return Note{}, err
	}
	credited, err := kept.Invoice.Credit(number, draft, memosOf(notes))
	if err != nil {
		return Note{}, err
	}
	note, err := tx.AddMemo(actor, kept.OrderID, credited.Memo)
	if err != nil {
		return Note{}, err
	}
	if err := tx.AddCredit(credited.Credit); err != nil {
		return Note{}, err
	}
	if err := post(tx, actor, credited.Entry); err != nil {
		return Note{}, err
	}
	applied, _, err := d.payWith(tx, actor, credited.Credit, []string{kept.Invoice.Number}, false, day)
	if err != nil {
		return Note{}, err
	}
	if err := d.memoPapers(tx, actor, s, kept.OrderID, credited.Memo, applied); err != nil {
		return Note{}, err
	}
	return note, d.closeIfPaid(tx, actor, kept.OrderID)
}

// forgiven is what was let off of an invoice otherwise: discounts and what was
// written off.
func forgiven(tx *store.Tx, inv books.Invoice) (money.Amount, error) {
	sum := money.Cents(0, inv.Currency)
	changes, err := tx.ChangesOfItem(inv.Number)
	for _, ch := range changes {
		sum = sum.Add(ch.Discount)
		if ch.What == store.WrittenOff {
			sum = sum.Add(ch.Amount)
		}
	}
	return sum, err
}

func (d *Desk) memoPapers(tx *store.Tx, actor party.Actor, s *snapshot, orderID int64, m books.Memo, applied []books.Application) error {
	o, err := tx.Order(orderID)
	if err != nil {
		return err
	}
	customer, err := customerOf(tx, o)
	if err != nil {
		return err
	}
	b, err := readBilling(tx, o, handed{})
	if err != nil {
		return err
	}
	if _, err := d.issue(tx, actor, o, customer, s.memoPaper(b, o, customer, m, applied, d.now(), actor)); err != nil {
		return err
	}
	file := einvoice.FromMemo(m, einvoice.SellerOf(s.seller), einvoice.BuyerOf(customer))
	return keepFile(tx, actor, o, CreditMemoFile, file)
}

// overbilled gives, by row of an invoice, the pieces that were billed but turned
// out not to be handed over, because an exception came to light later: what a
// credit memo should take back.
func (d *Desk) overbilled(tx *store.Tx, kept Bill) ([]books.MemoLine, error) {
	o, err := tx.Order(kept.OrderID)
	if err != nil {
		return nil, err
	}
	h, err := readHanded(tx, o)
	if err != nil {
		return nil, err
	}
	b, err := readBilling(tx, o, h)
	if err != nil {
		return nil, err
	}
	var lines []books.MemoLine
	for _, pl := range b.lines {
		if !isGoods(pl) {
			continue
		}
		id := rowID(pl)
		over := b.kept(id).Sub(quantityOf(pl, b.rows[id].pieces)).Shorten(12)
		for _, l := range kept.Invoice.Lines {
			if l.ID == id && over.Sign() > 0 {
				lines = append(lines, books.MemoLine{ID: id, Quantity: minRate(over, l.Quantity)})
			}
		}
	}
	return lines, nil
}

func minRate(a, b money.Rate) money.Rate {
	if a.Cmp(b) < 0 {
		return a
	}
	return b
}

// WriteOff gives up part of what is owed, with the reason.
func (d *Desk) WriteOff(ctx context.Context, actor party.Actor, number string, amount money.Amount, reason string) (it books.Item, err error) {
	if err := keepsBooks(actor); err != nil {
		return it, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return it, err
	}
	reason = strings.TrimSpace(reason)
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		if it, err = tx.Item(number); err != nil {
			return err
		}
		after, entry, err := books.WriteOff(it, amount, reason, dayStart(d.now(), s.seller.Location()))
		if err != nil {
			return err
		}
		it = after
		if err := tx.SaveItem(it); err != nil {
			return err
		}
		if err := tx.AddChange(actor, store.Change{What: store.WrittenOff, Document: number, Item: number, Day: entry.Day(), Amount: amount, Discount: money.Cents(0, amount.Currency()), Note: reason}); err != nil {
			return err
		}
		if err := post(tx, actor, entry); err != nil {
			return err
		}
		if err := tx.Log(actor, "written off", "customer", it.Customer, map[string]any{"item": number, "amount": amount, "reason": reason}); err != nil {
			return err
		}
		orderID, err := tx.OrderOfItem(number)
		if err != nil {
			return err
		}
		return d.closeIfPaid(tx, actor, orderID)
	})
	return it, err
}

// ReleaseRetention makes payable what an invoice holds back, all or part of it.
func (d *Desk) ReleaseRetention(ctx context.Context, actor party.Actor, invoiceID int64, amount money.Amount, due time.Time) (it books.Item, err error) {
	if err := keepsBooks(actor); err != nil {
		return it, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return it, err
	}
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		kept, err := tx.Invoice(invoiceID)
		if err != nil {
			return err
		}
		released, err := releasedOf(tx, kept)
		if err != nil {
			return err
		}
		n, err := takeNumber(tx, retentionPrefix)
		if err != nil {
			return err
		}
		today := dayStart(d.now(), s.seller.Location())
		if due.IsZero() {
			due = kept.Invoice.Terms.Due(today)
		}
		var entry books.Entry
		if it, entry, err = books.ReleaseRetention(kept.Invoice, n, amount, released, due, today); err != nil {
			return err
		}
		if err := tx.AddItem(kept.OrderID, it); err != nil {
			return err
		}
		if err := tx.Log(actor, "released retention", "invoice", kept.ID, map[string]any{"number": n, "amount": amount}); err != nil {
			return err
		}
		return post(tx, actor, entry)
	})
	return it, err
}

// releasedOf adds up what was made payable of what an invoice holds back. The
// journal says it: each release names its invoice.
func releasedOf(tx *store.Tx, kept Bill) (money.Amount, error) {
	sum := money.Cents(0, kept.Invoice.Currency)
	items, err := tx.Items(store.BooksFilter{OrderID: kept.OrderID})
	if err != nil {
		return sum, err
	}
	for _, it := range items {
		if it.Kind != books.RetentionItem {
			continue
		}
		entries, err := tx.Journal(store.JournalFilter{Document: it.Number, CustomerID: it.Customer})
		if err != nil {
			return sum, err
		}
		for _, p := range entries {
			if p.Entry.Memo() == fmt.Sprintf("Retention of %s released", kept.Invoice.Number) {
				sum = sum.Sub(p.Entry.On(books.Retention))
			}
		}
	}
	return sum, nil
}

// SetFinanceTerms keeps what a customer agreed to about late payment; a zero
// agreed day means that nothing was agreed. Local law limits what may be asked.
func (d *Desk) SetFinanceTerms(ctx context.Context, actor party.Actor, customerID int64, t books.FinanceTerms) error {
	if err := keepsBooks(actor); err != nil {
		return err
	}
	var l fault.List
	if t.YearRate.Sign() < 0 || t.YearRate.Cmp(money.Int(1)) > 0 {
		l.Addf("year_rate", "a yearly rate is 0 to 100 %%")
	}
	if t.GraceDays < 0 || t.GraceDays > 365 {
		l.Addf("grace_days", "give 0 to 365 days")
	}
	if err := l.Err(); err != nil {
		return err
	}
	return d.store.Write(ctx, func(tx *store.Tx) error {
		if _, err := tx.Customer(customerID); err != nil {
			return err
		}
		_, charged, err := tx.FinanceTerms(customerID)
		if err != nil {
			return err
		}
		return tx.SaveFinanceTerms(actor, customerID, t, charged)
	})
}

// ChargeFinance charges a customer for what is late, as they agreed to, from the
// day after the last charge to today.
func (d *Desk) ChargeFinance(ctx context.Context, actor party.Actor, customerID int64) (it books.Item, lines []books.FinanceLine, err error) {
	if err := keepsBooks(actor); err != nil {
		return it, nil, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return it, nil, err
	}
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		terms, charged, err := tx.FinanceTerms(customerID)
		if err != nil {
			return err
		}
		items, err := tx.Items(store.BooksFilter{CustomerID: customerID, OpenOnly: true})
		if err != nil {
			return err
		}
		today := dayStart(d.now(), s.seller.Location())
		var total money.Amount
		if lines, total, err = books.FinanceOn(items, terms, charged, today); err != nil {
			return err
		}
		if total.Sign() <= 0 {
			return fault.Conflictf("nothing is late that bears a charge")
		}
		n, err := takeNumber(tx, financePrefix)
		if err != nil {
			return err
		}
		var entry books.Entry
		if it, entry, err = books.ChargeFinance(n, customerID, total, today); err != nil {
			return err
		}
		if err := tx.AddItem(0, it); err != nil {
			return err
		}
		if err := post(tx, actor, entry); err != nil {
			return err
		}
		return tx.SaveFinanceTerms(actor, customerID, terms, today)
	})
	return it, lines, err
}

// CloseOrder closes a delivered order of which nothing is left to do, or says
// what is.
func (d *Desk) CloseOrder(ctx context.Context, actor party.Actor, id int64) (o order.Order, err error) {
	if err := keepsBooks(actor); err != nil {
		return o, err
	}
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		if o, err = tx.Order(id); err != nil {
			return err
		}
		why, err := d.whyOpen(tx, o)
		if err != nil {
			return err
		}
		if why != "" {
			return fault.Conflictf("order %s stays open: %s", o.Number, why)
		}
		if err := o.Apply(order.Close); err != nil {
			return err
		}
		o, err = tx.SaveOrder(actor, o, string(o.State))
		return err
	})
	return o, err
}
