package desk

import (
	"context"
	"time"

	"ribdesk/internal/books"
	"ribdesk/internal/document"
	"ribdesk/internal/fault"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
)

// Statement gives what a customer owes today, to staff and to the customer.
func (d *Desk) Statement(ctx context.Context, actor party.Actor, customerID int64) (st books.Statement, err error) {
	f := BooksFilter{CustomerID: customerID}
	if err := ownBooks(actor, &f); err != nil {
		return st, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return st, err
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		st, err = statement(tx, s, f.CustomerID, dayStart(d.now(), s.seller.Location()))
		return err
	})
	return st, err
}

// statement makes a customer's statement as it stood at the end of a day, and
// holds it against the journal through that day.
func statement(tx *store.Tx, s *snapshot, customerID int64, asOf time.Time) (st books.Statement, err error) {
	of := BooksFilter{CustomerID: customerID}
	items, err := tx.Items(of)
	if err != nil {
		return st, err
	}
	credits, err := tx.Credits(of)
	if err != nil {
		return st, err
	}
	changes, err := tx.ChangesOf(customerID)
	if err != nil {
		return st, err
	}
	uses := make([]books.Application, len(changes))
	for i, ch := range changes {
		uses[i] = useOf(ch)
	}
	items, credits = books.StoodOn(asOf, items, credits, uses)
	receivable, err := tx.AccountBalanceOn(books.Receivable, customerID, asOf, s.seller.Currency)
	if err != nil {
		return st, err
	}
	retained, err := tx.AccountBalanceOn(books.Retention, customerID, asOf, s.seller.Currency)
	if err != nil {
		return st, err
	}
	return books.NewStatement(customerID, asOf, items, credits, receivable, retained)
}

// IssueStatement prints a customer's statement as it stood at the end of a day,
// today when the day is zero.
func (d *Desk) IssueStatement(ctx context.Context, actor party.Actor, customerID int64, asOf time.Time) (p order.Paper, err error) {
	if err := keepsBooks(actor); err != nil {
		return p, err
	}
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return p, err
	}
	today := dayStart(d.now(), s.seller.Location())
	if asOf.IsZero() {
		asOf = today
	}
	if asOf = books.Day(asOf); asOf.After(today) {
		return p, fault.Invalidf("as_of", "that day is still to come; a statement tells what was owed on a day that is here")
	}
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		c, err := tx.Customer(customerID)
		if err != nil {
			return err
		}
		st, err := statement(tx, s, customerID, asOf)
		if err != nil {
			return err
		}
		rules, err := readBooksRules(tx)
		if err != nil {
			return err
		}
		number, err := takeNumber(tx, statementPrefix)
		if err != nil {
			return err
		}
		p, err = issuePaper(tx, actor, order.Paper{CustomerID: c.ID}, s.statementPaper(st, c, rules, number, d.now(), actor))
		return err
	})
	return p, err
}

// Statements lists the statements issued to a customer.
func (d *Desk) Statements(ctx context.Context, actor party.Actor, customerID int64) (list []order.Paper, err error) {
	f := BooksFilter{CustomerID: customerID}
	if err := ownBooks(actor, &f); err != nil {
		return nil, err
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		list, err = tx.PapersFor(f.CustomerID, string(document.KindStatement))
		return err
	})
	return list, err
}
