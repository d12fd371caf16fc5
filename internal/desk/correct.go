package desk

import (
	"context"
	"fmt"
	"sort"
	"strings"
	"time"

	"ribdesk/internal/books"
	"ribdesk/internal/fault"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
)

func sortByDue(items []books.Item) {
	sort.SliceStable(items, func(i, j int) bool { return items[i].Due.Before(items[j].Due) })
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
		today := dayStart(d.now(), s.seller.Location())
		if due.IsZero() {
			due = kept.Invoice.Terms.Due(today)
		}
		it, err = release(tx, actor, kept, amount, due, today)
		return err
	})
	return it, err
}

// release makes an amount of what an invoice holds back an item of its own.
func release(tx *store.Tx, actor party.Actor, kept Bill, amount money.Amount, due, day time.Time) (books.Item, error) {
	released, err := releasedOf(tx, kept)
	if err != nil {
		return books.Item{}, err
	}
	number, err := takeNumber(tx, retentionPrefix)
	if err != nil {
		return books.Item{}, err
	}
	it, entry, err := books.ReleaseRetention(kept.Invoice, number, amount, released, due, day)
	if err != nil {
		return it, err
	}
	if err := tx.AddItem(kept.OrderID, it); err != nil {
		return it, err
	}
	if err := tx.Log(actor, "released retention", "invoice", kept.ID, map[string]any{"number": number, "amount": amount}); err != nil {
		return it, err
	}
	return it, post(tx, actor, entry)
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
		l.Addf("rate", "a yearly rate is 0 to 100 %%")
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
		if it, entry, err = books.ChargeFinance(n, customerID, lines, today); err != nil {
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
