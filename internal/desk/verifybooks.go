package desk

import (
	"fmt"

	"ribdesk/internal/books"
	"ribdesk/internal/money"
	"ribdesk/internal/store"
)

// journal makes every entry again, which proves it balanced, and adds all up.
func (v *verifier) journal(out *Checked) error {
	list, wrong, err := v.tx.JournalEntries()
	if err != nil {
		return err
	}
	out.Count = len(list)
	for _, w := range wrong {
		out.fail("%s", w)
	}
	if len(wrong) == 0 {
		for i, p := range list {
			if p.No != int64(i+1) {
				out.fail("entry %d of the journal is missing", i+1)
				break
			}
		}
	}
	next, err := v.tx.NextNumbers()
	if err != nil {
		return err
	}
	if last := max(1, next["journal"]); len(wrong) == 0 && int64(len(list)) != last-1 {
		out.fail("the journal has %d entries, %d were posted", len(list), last-1)
	}
	if len(list) == 0 {
		return nil
	}
	latest := list[0].Entry.Day()
	for _, p := range list {
		if p.Entry.Day().After(latest) {
			latest = p.Entry.Day()
		}
	}
	if _, err := books.TrialBalance(entriesOf(list), latest); err != nil {
		out.fail("%v", err)
	}
	return nil
}

// invoices works each invoice out again from its lines, and compares it with its
// row, its entry in the journal, what is owed for it, and its order.
func (v *verifier) invoices(out *Checked) error {
	n, wrong, err := v.tx.BookRows()
	if err != nil {
		return err
	}
	out.Count = n
	if len(wrong) > 0 {
		for _, w := range wrong {
			out.fail("%s", w)
		}
		return nil
	}
	bills, err := v.tx.Invoices(store.BooksFilter{})
	if err != nil {
		return err
	}
	posted, err := v.postedBy()
	if err != nil {
		return err
	}
	for _, b := range bills {
		if err := v.invoice(out, b, posted); err != nil {
			return fmt.Errorf("invoice %s: %w", b.Invoice.Number, err)
		}
	}
	return v.billedOnce(out)
}

// postedBy gives the entries by the number of their document.
func (v *verifier) postedBy() (map[string][]books.Entry, error) {
	list, _, err := v.tx.JournalEntries()
	by := map[string][]books.Entry{}
	for _, p := range list {
		by[p.Entry.Document()] = append(by[p.Entry.Document()], p.Entry)
	}
	return by, err
}

func (v *verifier) invoice(out *Checked, b store.Bill, posted map[string][]books.Entry) error {
	inv := b.Invoice
	if err := inv.Verify(); err != nil {
		out.fail("invoice %s: %v", inv.Number, err)
	}
	owed := inv.Total.Sub(inv.Retained)
	entries := posted[inv.Number]
	switch {
	case len(entries) == 0:
		out.fail("invoice %s isn't in the journal", inv.Number)
	case entries[0].On(books.Receivable).Cmp(owed) != 0 || entries[0].On(books.Retention).Cmp(inv.Retained.Add(v.zeroAmount())) != 0:
		out.fail("invoice %s comes to %s, the journal posts %s of it", inv.Number, inv.Total.Format(), entries[0].On(books.Receivable).Add(entries[0].On(books.Retention)).Format())
	}
	it, err := v.tx.Item(inv.Number)
	if err != nil {
		out.fail("invoice %s has no open item: %v", inv.Number, err)
		return nil
	}
	if it.Original.Cmp(owed) != 0 || it.Customer != inv.Customer {
		out.fail("invoice %s asks for %s, the item for %s", inv.Number, owed.Format(), it.Original.Format())
	}
	notes, err := v.tx.MemosOn(inv.Number)
	if err != nil {
		return err
	}
	for _, n := range notes {
		if err := n.Memo.Verify(); err != nil {
			out.fail("credit memo %s: %v", n.Memo.Number, err)
		}
		if entries := posted[n.Memo.Number]; len(entries) == 0 || entries[0].On(books.Unapplied).Neg().Cmp(n.Memo.Total) != 0 {
			out.fail("credit memo %s comes to %s, the journal says otherwise", n.Memo.Number, n.Memo.Total.Format())
		}
	}
	if inv.Left(memosOf(notes)).Sign() < 0 {
		out.fail("invoice %s was credited by more than it came to", inv.Number)
	}
	o, err := v.tx.Order(b.OrderID)
	if err != nil {
		return err
	}
	if o.Number != inv.Order || o.CustomerID != inv.Customer {
		out.fail("invoice %s says it is for order %s, and is kept with order %s", inv.Number, inv.Order, o.Number)
	}
	return nil
}

// billedOnce checks for each order with an invoice that no row of it was billed
// for more than was ordered.
func (v *verifier) billedOnce(out *Checked) error {
	bills, err := v.tx.Invoices(store.BooksFilter{})
	if err != nil {
		return err
	}
	seen := map[int64]bool{}
	for _, b := range bills {
		if seen[b.OrderID] {
			continue
		}
		seen[b.OrderID] = true
		o, err := v.tx.Order(b.OrderID)
		if err != nil {
			return err
		}
		whole, err := readBilling(v.tx, o, handed{})
		if err != nil {
			out.fail("order %s: %v", o.Number, err)
			continue
		}
		for _, pl := range whole.lines {
			if isGoods(pl) && whole.kept(rowID(pl)).Sub(quantityOf(pl, pl.Pieces)).Shorten(9).Sign() > 0 {
				out.fail("order %s, row %s: %s were billed of %s ordered", o.Number, rowID(pl), whole.kept(rowID(pl)).Shorten(3), quantityOf(pl, pl.Pieces).Shorten(3))
			}
		}
	}
	return nil
}

// receivables checks that each item and credit stands at what its changes make,
// and that per customer they come to what the journal says.
func (v *verifier) receivables(out *Checked) error {
	items, err := v.tx.Items(store.BooksFilter{})
	if err != nil {
		return err
	}
	credits, err := v.tx.Credits(store.BooksFilter{})
	if err != nil {
		return err
	}
	changes, err := v.tx.Changes()
	if err != nil {
		return err
	}
	out.Count = len(items) + len(credits)
	used := map[string]money.Amount{}
	for _, c := range changes {
		if c.Credit != "" {
			used["credit "+c.Credit] = used["credit "+c.Credit].Add(c.Amount)
		}
		if c.Item != "" {
			used["item "+c.Item] = used["item "+c.Item].Add(c.Amount).Add(c.Discount)
		}
	}
	want := map[stand]money.Amount{}
	add := func(customer int64, a books.Account, open money.Amount) {
		want[stand{customer, a}] = want[stand{customer, a}].Add(open)
	}
	for _, it := range items {
		if left := it.Original.Sub(used["item "+it.Number]); left.Cmp(it.Open) != 0 {
			out.fail("%s %s is open for %s, what was paid leaves %s", it.Kind, it.Number, it.Open.Format(), left.Format())
		}
		add(it.Customer, books.Receivable, it.Open)
	}
	for _, c := range credits {
		if left := c.Original.Sub(used["credit "+c.Number]); left.Cmp(c.Open) != 0 {
			out.fail("%s %s is open for %s, what was used leaves %s", c.Kind, c.Number, c.Open.Format(), left.Format())
		}
		account := books.Unapplied
		if c.Kind == books.DepositCredit {
			account = books.Deposits
		}
		add(c.Customer, account, c.Open.Neg())
	}
	if err := v.accounts(out, want); err != nil {
		return err
	}
	today := dayStart(v.d.now(), v.s.seller.Location())
	open := money.Amount{}
	for _, it := range items {
		open = open.Add(it.Open)
	}
	if age := books.Age(items, today).Total(); age.Cmp(open) != 0 {
		out.fail("the ageing comes to %s, the open items to %s", age.Format(), open.Format())
	}
	return v.paymentsBooked(out)
}

type stand struct {
	customer int64
	account  books.Account
}

// accounts compares what is open per customer with the journal.
func (v *verifier) accounts(out *Checked, want map[stand]money.Amount) error {
	customers, err := v.tx.CustomerIDs()
	if err != nil {
		return err
	}
	for _, id := range customers {
		for _, a := range []books.Account{books.Receivable, books.Deposits, books.Unapplied} {
			got, err := v.tx.AccountBalance(a, id, v.s.seller.Currency)
			if err != nil {
				return err
			}
			if w := want[stand{id, a}].Add(v.zeroAmount()); got.Cmp(w) != 0 {
				out.fail("customer %d: %s stands at %s, the open parts come to %s", id, a.Name(), got.Format(), w.Format())
			}
		}
	}
	return nil
}

// paymentsBooked checks that each payment is a credit of the same amount.
func (v *verifier) paymentsBooked(out *Checked) error {
	list, err := v.tx.Payments(store.BooksFilter{})
	if err != nil {
		return err
	}
	for _, r := range list {
		c, err := v.tx.Credit(r.Payment.Number)
		if err != nil || c.Original.Cmp(r.Payment.Amount) != 0 || c.Customer != r.Payment.Customer {
			out.fail("payment %s of %s isn't to its customer's good", r.Payment.Number, r.Payment.Amount.Format())
		}
	}
	return nil
}
