package desk

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"strconv"
	"strings"

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
		{"papers", "papers printed again to the same hash", v.papers},
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
		name string
		list func() ([]string, error)
		read func(string) (int64, bool)
	}{
		{"order", v.orderNumbers, after("", 1000)},
		{"load", v.loadNumbers, after("L", 100)},
		{"ticket", v.papersOf(document.KindDeliveryTicket), after("T", 1000)},
		{"run sheet", v.papersOf(document.KindRunSheet), after("R", 1000)},
		{"pick ticket", v.papersOf(document.KindPickTicket), afterDash("P")},
		{"labels", v.papersOf(document.KindBundleLabels), afterDash("B")},
		{"coil tag", v.papersOf(document.KindCoilTag), afterDash("")},
		{invoicePrefix, v.papersOf(document.KindInvoice), inSeries(invoicePrefix)},
		{memoPrefix, v.papersOf(document.KindCreditMemo), inSeries(memoPrefix)},
		{statementPrefix, v.papersOf(document.KindStatement), inSeries(statementPrefix)},
		{invoicePrefix, v.invoiceNumbers, inSeries(invoicePrefix)},
		{memoPrefix, v.memoNumbers, inSeries(memoPrefix)},
		{paymentPrefix, v.paymentNumbers, inSeries(paymentPrefix)},
		{financePrefix, v.itemNumbers(books.FinanceItem), inSeries(financePrefix)},
		{retentionPrefix, v.itemNumbers(books.RetentionItem), inSeries(retentionPrefix)},
		{returnFeePrefix, v.itemNumbers(books.ReturnFeeItem), inSeries(returnFeePrefix)},
		{refundPrefix, v.refundNumbers, inSeries(refundPrefix)},
	} {
		list, err := series.list()
		if err != nil {
			return err
		}
		out.Count += len(list)
		gapless(out, series.name, list, series.read, max(1, next[series.name]), skipped[series.name])
	}
	return nil
}

// gapless names the first number of a series that is missing, doubled or
// foreign. Those skipped are given to nothing.
func gapless(out *Checked, name string, list []string, read func(string) (int64, bool), next int64, skipped map[int64]bool) {
	seen := map[int64]string{}
	for _, number := range list {
		n, ok := read(number)
		switch {
		case !ok || n < 1 || n >= next:
			out.fail("%s isn't a number that the series “%s” gave; it stands at %d", number, name, next)
		case skipped[n]:
			out.fail("%s was skipped, and is there", number)
		case seen[n] != "":
			out.fail("%s and %s have one number of the series “%s”", seen[n], number, name)
		}
		seen[n] = number
	}
	for n := int64(1); n < next; n++ {
		if seen[n] == "" && !skipped[n] {
			out.fail("number %d of the series “%s” is missing", n, name)
			return
		}
	}
}

// after reads the counter out of numbers like L101, which start above a figure.
func after(prefix string, above int64) func(string) (int64, bool) {
	return func(number string) (int64, bool) {
		digits, ok := strings.CutPrefix(number, prefix)
		n, err := strconv.ParseInt(digits, 10, 64)
		return n - above, ok && err == nil
	}
}

// afterDash reads the counter at the end of numbers like 1007-P12.
func afterDash(letter string) func(string) (int64, bool) {
	return func(number string) (int64, bool) {
		i := strings.LastIndex(number, "-"+letter)
		if i < 0 {
			return 0, false
		}
		n, err := strconv.ParseInt(number[i+1+len(letter):], 10, 64)
		return n, err == nil
	}
}

func inSeries(prefix string) func(string) (int64, bool) {
	return func(number string) (int64, bool) {
		n, err := books.Series{Prefix: prefix, Next: 1}.Count(number)
		return n, err == nil
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

// papers prints every paper again from its record and compares hashes.
func (v *verifier) papers(out *Checked) error {
	return v.tx.EachPaper(func(p order.Paper) error {
		out.Count++
		if got := hashOf(p.PDF); got != p.SHA256 {
			out.fail("%s %s revision %d (paper %d): its bytes hash to %s…, kept was %s…", p.Kind, p.Number, p.Revision, p.ID, got[:12], clip12(p.SHA256))
			return nil
		}
		again, err := reprint(p)
		if err != nil {
			out.fail("%s %s revision %d (paper %d) can't be printed again: %v", p.Kind, p.Number, p.Revision, p.ID, err)
			return nil
		}
		if hashOf(again) != p.SHA256 {
			out.fail("%s %s revision %d (paper %d): its record prints to other bytes than were issued", p.Kind, p.Number, p.Revision, p.ID)
		}
		return nil
	})
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
