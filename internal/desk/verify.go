package desk

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"

	"ribdesk/internal/books"
	"ribdesk/internal/document"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/store"
)

// Checked is one check of the whole database: how many records it went through
// and a sentence for each that is wrong. Notes are worth knowing but no fault of
// the records.
type Checked struct {
	Name  string
	Of    string // what was counted
	Count int
	Wrong []string
	Notes []string
}

// mostWrong bounds what one check lists; the rest is counted.
const mostWrong = 50

// fail adds a wrong record.
func (c *Checked) fail(format string, args ...any) {
	if len(c.Wrong) < mostWrong {
		c.Wrong = append(c.Wrong, fmt.Sprintf(format, args...))
		return
	}
	c.Wrong[mostWrong-1] = "... and more"
}

// verifier reads the database in one moment and checks what must always hold.
type verifier struct {
	tx *store.Tx
	s  *snapshot
	d  *Desk
}

// check is one line of what Verify does.
type check struct {
	name, of string
	run      func(*Checked) error
}

// checks are all but that of the database file itself.
func (v *verifier) checks() []check {
	return []check{
		{"event log", "events in one chain", v.events},
		{"numbers", "numbers without a gap", v.numbers},
		{"journal", "balanced entries", v.journal},
		{"invoices", "invoices and credit memos", v.invoices},
		{"receivables", "open items and credits", v.receivables},
		{"papers", "papers as they were issued", v.papers},
		{"prices", "prices replayed to the same cents", v.prices},
		{"order states", "orders whose steps are allowed", v.states},
		{"order totals", "orders listed at the total they stand at", v.totals},
		{"coil ledgers", "coils that balance", v.coils},
		{"sheet ledgers", "piles of sheets that balance", v.piles},
		{"cut records", "lines whose cuts are in the ledger", v.cuts},
		{"run plan", "places in the plan", v.plan},
		{"references", "references that lead somewhere", v.references},
		{"mails", "mails, one for each event that customers hear of", v.mails},
		{"hooks", "events on their way to addresses, each once", v.hooks},
	}
}

// Verify checks every invariant of the database; each is called with the outcome
// of every check as it is done. It changes nothing. The error says that a check
// couldn't be made, not that one failed.
func (d *Desk) Verify(ctx context.Context, each func(Checked)) error {
	return d.verify(ctx, each, func(string) bool { return true })
}

func (d *Desk) verify(ctx context.Context, each func(Checked), wanted func(name string) bool) error {
	file := Checked{Name: "database", Of: "file", Count: 1}
	if err := d.store.Check(ctx); err != nil {
		file.fail("%v", err)
	}
	each(file)
	return d.store.Read(ctx, func(tx *store.Tx) error {
		s, err := readSnapshot(tx, d.now())
		if err != nil {
			each(Checked{Name: "catalogue", Of: "snapshot", Wrong: []string{err.Error()}})
			return nil
		}
		v := &verifier{tx: tx, d: d, s: s}
		for _, c := range v.checks() {
			if !wanted(c.name) {
				continue
			}
			out := Checked{Name: c.name, Of: c.of}
			if err := c.run(&out); err != nil {
				out.fail("can't be read: %v", err)
			}
			each(out)
		}
		return nil
	})
}

func (v *verifier) events(out *Checked) error {
	n, _, err := v.tx.VerifyEvents()
	out.Count = int(n)
	if err != nil {
		out.fail("%v", err)
	}
	return nil
}

// numbers checks each series: what was numbered is exactly 1 to the counter.
func (v *verifier) numbers(out *Checked) error {
	next, err := v.tx.NextNumbers()
	if err != nil {
		return err
	}
	skipped, err := skippedOf(v.tx)
	if err != nil {
		return err
	}
	for _, series := range []struct {
		numbering
		list func() ([]string, error)
	}{
		{orderNumbers, v.orderNumbers},
		{loadNumbers, v.loadNumbers},
		{ticketNumbers, v.papersOf(document.KindDeliveryTicket)},
		{runSheetNumbers, v.papersOf(document.KindRunSheet)},
		{behindDash("pick ticket", "P"), v.papersOf(document.KindPickTicket)},
		{behindDash("labels", "B"), v.papersOf(document.KindBundleLabels)},
		{behindDash("coil tag", ""), v.papersOf(document.KindCoilTag)},
		{bookNumbers(invoicePrefix), v.papersOf(document.KindInvoice)},
		{bookNumbers(memoPrefix), v.papersOf(document.KindCreditMemo)},
		{bookNumbers(statementPrefix), v.papersOf(document.KindStatement)},
		{bookNumbers(invoicePrefix), v.invoiceNumbers},
		{bookNumbers(memoPrefix), v.memoNumbers},
		{bookNumbers(paymentPrefix), v.paymentNumbers},
		{bookNumbers(financePrefix), v.itemNumbers(books.FinanceItem)},
		{bookNumbers(retentionPrefix), v.itemNumbers(books.RetentionItem)},
		{bookNumbers(returnFeePrefix), v.itemNumbers(books.ReturnFeeItem)},
		{bookNumbers(refundPrefix), v.refundNumbers},
	} {
		list, err := series.list()
		if err != nil {
			return err
		}
		out.Count += len(list)
		gapless(out, series.numbering, list, max(1, next[series.series]), skipped[series.series])
	}
	return nil
}

// gapless names the first number of a series that is missing, doubled or
// foreign. Those skipped are given to nothing.
func gapless(out *Checked, by numbering, list []string, next int64, skipped map[int64]bool) {
	seen := map[int64]string{}
	for _, number := range list {
		n, ok := by.read(number)
		switch {
		case !ok || n < 1 || n >= next:
			out.fail("%s isn't a number that the series “%s” gave; it stands at %d", number, by.series, next)
		case skipped[n]:
			out.fail("%s was skipped, and is there", number)
		case seen[n] != "":
			out.fail("%s and %s have one number of the series “%s”", seen[n], number, by.series)
		}
		seen[n] = number
	}
	for n := int64(1); n < next; n++ {
		if seen[n] == "" && !skipped[n] {
			out.fail("number %d of the series “%s” is missing", n, by.series)
			return
		}
	}
}

func (v *verifier) papersOf(kind document.Kind) func() ([]string, error) {
	return func() ([]string, error) { return v.tx.PaperNumbers(string(kind)) }
}

func (v *verifier) orderNumbers() ([]string, error) {
	orders, err := v.tx.Orders(store.OrderFilter{Limit: 10_000_000})
	return numbersOf(orders, func(o order.Order) string { return o.Number }), err
}

func (v *verifier) loadNumbers() ([]string, error) {
	loads, err := v.tx.Loads(books.Day(v.s.zeroDay()))
	return numbersOf(loads, func(t order.Trip) string { return t.Number }), err
}

func (v *verifier) invoiceNumbers() ([]string, error) {
	bills, err := v.tx.Invoices(store.BooksFilter{})
	return numbersOf(bills, func(b store.Bill) string { return b.Invoice.Number }), err
}

func (v *verifier) memoNumbers() ([]string, error) {
	notes, err := v.tx.Memos(store.BooksFilter{})
	return numbersOf(notes, func(n store.Note) string { return n.Memo.Number }), err
}

func (v *verifier) paymentNumbers() ([]string, error) {
	list, err := v.tx.Payments(store.BooksFilter{})
	return numbersOf(list, func(r store.Receipt) string { return r.Payment.Number }), err
}

func (v *verifier) itemNumbers(kind books.ItemKind) func() ([]string, error) {
	return func() (numbers []string, err error) {
		items, err := v.tx.Items(store.BooksFilter{})
		for _, it := range items {
			if it.Kind == kind {
				numbers = append(numbers, it.Number)
			}
		}
		return numbers, err
	}
}

func (v *verifier) refundNumbers() (numbers []string, err error) {
	changes, err := v.tx.Changes()
	for _, c := range changes {
		if c.What == store.Refunded {
			numbers = append(numbers, c.Document)
		}
	}
	return numbers, err
}

func numbersOf[T any](list []T, number func(T) string) []string {
	out := make([]string, len(list))
	for i, x := range list {
		out[i] = number(x)
	}
	return out
}

// papers prints every paper again from its record and compares hashes. One that an
// earlier edition of the printing made has to print, but to other bytes.
func (v *verifier) papers(out *Checked) error {
	earlier := 0
	err := v.tx.EachPaper(func(p order.Paper) error {
		out.Count++
		if got := hashOf(p.PDF); got != p.SHA256 {
			out.fail("%s %s revision %d (paper %d): its bytes hash to %s…, kept was %s…", p.Kind, p.Number, p.Revision, p.ID, got[:12], clip12(p.SHA256))
			return nil
		}
		again, edition, err := reprint(p)
		if err != nil {
			out.fail("%s %s revision %d (paper %d) can't be printed again: %v", p.Kind, p.Number, p.Revision, p.ID, err)
			return nil
		}
		switch {
		case p.Edition < 1 || p.Edition > edition:
			out.fail("%s %s revision %d (paper %d) is of edition %d; there are %d", p.Kind, p.Number, p.Revision, p.ID, p.Edition, edition)
		case p.Edition < edition:
			earlier++
		case hashOf(again) != p.SHA256:
			out.fail("%s %s revision %d (paper %d): its record prints to other bytes than were issued", p.Kind, p.Number, p.Revision, p.ID)
		}
		return nil
	})
	if earlier > 0 {
		out.Notes = append(out.Notes, fmt.Sprintf("%d of an earlier edition of the printing: their bytes are as kept, and would be others today", earlier))
	}
	return err
}

func hashOf(b []byte) string {
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}

func clip12(s string) string {
	if len(s) > 12 {
		return s[:12]
	}
	return s
}

// prices prices every order again from its stored inputs.
func (v *verifier) prices(out *Checked) error {
	return v.eachOrder(func(o order.Order) error {
		if len(o.PriceJSON) == 0 {
			if !o.Charged().Total.IsZero() {
				out.fail("order %s has a price of %s and nothing that it was made of", o.Number, o.Charged().Total.Format())
			}
			return nil
		}
		out.Count++
		in, q, err := ReplayPrice(o)
		if err != nil {
			out.fail("order %s can't be priced again: %v", o.Number, err)
			return nil
		}
		again := o
		again.Lines = append([]order.Line(nil), o.Lines...)
		if err := writeFigures(&again, in, q); err != nil {
			out.fail("order %s: %v", o.Number, err)
			return nil
		}
		if !sameJSON(again.Alone, o.Alone) || (o.Sharing && !sameJSON(again.Shared, o.Shared)) {
			out.fail("order %s is priced %s, its inputs make %s", o.Number, o.Charged().Total.Format(), again.Charged().Total.Format())
			return nil
		}
		for i, l := range o.Lines {
			if l.Amount.Cents() != again.Lines[i].Amount.Cents() {
				out.fail("order %s, line %d: %s, its inputs make %s", o.Number, l.Pos, l.Amount.Format(), again.Lines[i].Amount.Format())
			}
		}
		return nil
	})
}

func sameJSON(a, b any) bool {
	x, err := json.Marshal(a)
	if err != nil {
		return false
	}
	y, err := json.Marshal(b)
	return err == nil && string(x) == string(y)
}

// eachOrder reads order by order, so that one that can't be read is named and
// the others are still looked at.
func (v *verifier) eachOrder(fn func(order.Order) error) error {
	ids, err := v.tx.OrderIDs()
	if err != nil {
		return err
	}
	for _, id := range ids {
		o, err := v.tx.Order(id)
		if err != nil {
			return fmt.Errorf("order with id %d: %w", id, err)
		}
		if err := fn(o); err != nil {
			return err
		}
	}
	return nil
}

// zeroAmount is nothing, in the shop's currency.
func (v *verifier) zeroAmount() money.Amount { return money.Cents(0, v.s.seller.Currency) }
