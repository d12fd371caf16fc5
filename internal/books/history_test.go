package books_test

import (
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"ribdesk/internal/books"
	"ribdesk/internal/fault"
	"ribdesk/internal/money"
	"ribdesk/internal/party"
)

// shop is a store of the books in maps, driven by random operations. It keeps
// what a database would keep and adds nothing up by itself.
type shop struct {
	*testing.T
	rng      *rand.Rand
	today    time.Time
	series   map[string]books.Series
	invoices map[string]books.Invoice
	memos    map[string][]books.Memo
	items    map[string]books.Item
	credits  map[string]books.Credit
	apps     map[string][]books.Application // by credit
	forgiven map[string]money.Amount        // by invoice
	released map[string]money.Amount
	uses     []books.Application // every change of what is open, in its order
	evenings map[time.Time]map[int64]evening
	journal  []books.Posted
	done     map[string]int
	refused  map[string]int
}

const customers = 4

// evening is what a customer owed and had to their good at the end of a day.
type evening struct{ owed, good money.Amount }

func newShop(t *testing.T, seed uint64) *shop {
	return &shop{T: t, rng: rand.New(rand.NewPCG(seed, 1)), today: day("2026-01-05"), series: map[string]books.Series{},
		invoices: map[string]books.Invoice{}, memos: map[string][]books.Memo{}, items: map[string]books.Item{}, credits: map[string]books.Credit{},
		apps: map[string][]books.Application{}, forgiven: map[string]money.Amount{}, released: map[string]money.Amount{},
		evenings: map[time.Time]map[int64]evening{}, done: map[string]int{}, refused: map[string]int{}}
}

// endDay keeps what everybody owes, before the next day begins.
func (s *shop) endDay() {
	s.evenings[s.today] = map[int64]evening{}
	for c := int64(1); c <= customers; c++ {
		s.evenings[s.today][c] = sums(s.itemsOf(c), s.creditsOf(c))
	}
	s.today = s.today.AddDate(0, 0, 1)
}

func sums(items []books.Item, credits []books.Credit) evening {
	e := evening{usd(0), usd(0)}
	for _, it := range items {
		e.owed = e.owed.Add(it.Open)
	}
	for _, c := range credits {
		e.good = e.good.Add(c.Open)
	}
	return e
}

// lookBack makes the past again from what is kept now, and holds it against what
// was seen on the day and against the journal through that day.
func (s *shop) lookBack(every int) {
	n := 0
	for day, seen := range s.evenings {
		if n++; n%every != 0 {
			continue
		}
		var through []books.Entry
		for _, p := range s.journal {
			if !p.Entry.Day().After(day) {
				through = append(through, p.Entry)
			}
		}
		for c := int64(1); c <= customers; c++ {
			items, credits := books.StoodOn(day, s.itemsOf(c), s.creditsOf(c), s.uses)
			if got := sums(items, credits); got != seen[c] {
				s.Fatalf("%s: customer %d stood at %+v, seen on the day %+v", day.Format(time.DateOnly), c, got, seen[c])
			}
			if _, err := books.NewStatement(c, day, items, credits, books.Balance(through, books.Receivable, c), usd(0)); err != nil {
				s.Fatal(err)
			}
		}
	}
}

func (s *shop) number(prefix string) string {
	x, ok := s.series[prefix]
	if !ok {
		x = books.Series{Prefix: prefix, Next: 1}
	}
	s.series[prefix] = x.After()
	return x.Number()
}

// undo gives a number back, as a rolled back transaction does.
func (s *shop) undo(prefix string) {
	x := s.series[prefix]
	x.Next--
	s.series[prefix] = x
}

func (s *shop) post(entries ...books.Entry) {
	for _, e := range entries {
		s.journal = append(s.journal, books.Posted{No: int64(len(s.journal) + 1), Entry: e})
	}
}

// any picks a key by counting numbers of a series, so that runs repeat.
func (s *shop) any(prefix string) string {
	n := s.series[prefix].Next - 1
	if n < 1 {
		return ""
	}
	return books.Series{Prefix: prefix, Next: 1 + s.rng.Int64N(n)}.Number()
}

func (s *shop) cents(max int64) money.Amount { return usd(1 + s.rng.Int64N(max)) }

func (s *shop) draft(customer int64) books.Draft {
	d := books.Draft{Customer: customer, Currency: money.USD, Issued: s.today, Supplied: s.today,
		Terms: party.Terms{NetDays: 30, DiscountDays: 10, Discount: money.Must(".02")}}
	for i := range 1 + s.rng.IntN(4) {
		l := line(fmt.Sprint(i+1), "1", "1")
		l.Quantity, l.UnitPrice = money.NewRate(1+s.rng.Int64N(900_000), -3), money.NewRate(1+s.rng.Int64N(1_000), -2)
		l.Group = []string{"panels", "trim", "gutter"}[s.rng.IntN(3)]
		d.Lines = append(d.Lines, l)
	}
	if s.rng.IntN(2) == 0 {
		d.Adjustments = append(d.Adjustments, books.Adjustment{Reason: "Delivery", Class: "delivery", Account: books.Delivery, Amount: s.cents(20000)})
	}
	if s.rng.IntN(3) == 0 {
		d.Adjustments = append(d.Adjustments, books.Adjustment{Allowance: true, Reason: "Trade discount", Class: "goods", Amount: s.cents(2000)})
	}
	if s.rng.IntN(8) == 0 {
		d.Retain = money.Must(".05")
	}
	d.Tax = books.TaxRules{Basis: []books.Basis{books.PerInvoice, books.PerItem}[s.rng.IntN(2)], Jurisdictions: []books.Jurisdiction{
		{Name: "State", State: "EX", Rate: money.Must(".0625"), Classes: []string{"goods"}}, {Name: "City", State: "EX", Rate: money.Must(".01875")}}}
	if customer == 1 {
		d.Tax.Certificates = []party.Certificate{{Number: "R-1", State: "EX", Signed: day("2026-01-01"), Expires: day("2026-12-31")}}
	}
	return d
}

func (s *shop) take(step books.Step) {
	s.items[step.Item.Number], s.credits[step.Credit.Number] = step.Item, step.Credit
	s.apps[step.Credit.Number] = append(s.apps[step.Credit.Number], step.Application)
	s.uses = append(s.uses, step.Application)
	if !step.Application.Discount.IsZero() {
		s.forgiven[step.Item.Number] = s.forgiven[step.Item.Number].Add(step.Application.Discount)
	}
	s.post(step.Entry)
}

func (s *shop) issue() error {
	customer := 1 + s.rng.Int64N(customers)
	d := s.draft(customer)
	if c := s.credits[s.any("P-")]; c.Kind == books.DepositCredit && c.Customer == customer {
		d.Deposits = []books.DepositUse{{Deposit: c, Amount: s.cents(c.Original.Cents())}}
	}
	got, err := d.Issue(s.number("INV-"))
	if err != nil {
		s.undo("INV-")
		return err
	}
	if err := got.Invoice.Verify(); err != nil {
		s.Fatal(err)
	}
	applied := usd(0)
	for i, c := range got.Deposits {
		s.credits[c.Number] = c
		s.apps[c.Number] = append(s.apps[c.Number], got.Applications[i])
		s.uses = append(s.uses, got.Applications[i])
		applied = applied.Add(got.Applications[i].Amount)
	}
	inv := got.Invoice
	if applied.Add(inv.AmountDue).Add(inv.Retained) != inv.Total {
		s.Fatalf("deposit %s + balance %s + retained %s isn't the total %s", applied, inv.AmountDue, inv.Retained, inv.Total)
	}
	s.invoices[inv.Number], s.items[inv.Number] = inv, got.Item
	s.post(got.Entries...)
	return nil
}

func (s *shop) receive() error {
	p := books.Payment{Number: s.number("P-"), Customer: 1 + s.rng.Int64N(customers), Day: s.today, Reference: "1",
		Method: []books.Method{books.ByCheck, books.ByCash, books.ByTransfer, books.ByCard}[s.rng.IntN(4)], Amount: s.cents(400_000)}
	if s.rng.IntN(3) == 0 {
		p.Deposit, p.Order = true, "O-1"
	}
	c, e, err := p.Receive()
	if err != nil {
		s.undo("P-")
		return err
	}
	s.credits[c.Number] = c
	s.post(e)
	return nil
}

func (s *shop) apply() error {
	c, it := s.credits[s.any([]string{"P-", "CM-"}[s.rng.IntN(2)])], s.items[s.any([]string{"INV-", "INV-", "FC-", "RR-"}[s.rng.IntN(4)])]
	if c.Number == "" || it.Number == "" {
		return nil
	}
	amount := money.Min(c.Open, it.Open)
	if s.rng.IntN(3) == 0 {
		amount = s.cents(300_000)
	}
	step, err := books.Apply(c, it, amount, s.today)
	if err == nil {
		s.take(step)
	}
	return err
}

func (s *shop) settle() error {
	c := s.credits[s.any("P-")]
	if c.Number == "" {
		return nil
	}
	steps, left, err := books.Settle(c, s.itemsOf(c.Customer), s.today)
	if err != nil {
		return err
	}
	for _, step := range steps {
		s.take(step)
	}
	s.credits[c.Number] = left
	return nil
}

func (s *shop) discount() error {
	it := s.items[s.any("INV-")]
	if s.rng.IntN(2) == 0 { // the newest, which is still within its days
		it = s.items[books.Series{Prefix: "INV-", Next: s.series["INV-"].Next - 1}.Number()]
	}
	if it.Open.Sign() <= 0 {
		return nil
	}
	c, e, err := books.Payment{Number: s.number("P-"), Customer: it.Customer, Day: s.today, Method: books.ByTransfer, Amount: it.Open}.Receive()
	if err != nil {
		s.undo("P-")
		return err
	}
	s.credits[c.Number] = c
	s.post(e)
	step, err := books.SettleWithDiscount(c, it, s.invoices[it.Number], s.memos[it.Number], s.today)
	if err == nil {
		s.take(step)
	}
	return err
}

func (s *shop) memo() error {
	inv := s.invoices[s.any("INV-")]
	if inv.Number == "" {
		return nil
	}
	before := s.memos[inv.Number]
	d := books.MemoDraft{Day: s.today, Reason: "short", Forgiven: s.forgiven[inv.Number]}
	if s.rng.IntN(4) == 0 {
		d = inv.Whole(before, s.today, "sent back")
		d.Forgiven = s.forgiven[inv.Number]
	} else {
		l := inv.Lines[s.rng.IntN(len(inv.Lines))]
		d.Lines = []books.MemoLine{{ID: l.ID, Quantity: money.NewRate(1+s.rng.Int64N(500_000), -3)}}
	}
	got, err := inv.Credit(s.number("CM-"), d, before)
	if err != nil {
		s.undo("CM-")
		return err
	}
	if err := got.Memo.Verify(); err != nil {
		s.Fatal(err)
	}
	s.memos[inv.Number] = append(before, got.Memo)
	if s.invoices[inv.Number].Left(s.memos[inv.Number]).Sign() < 0 {
		s.Fatalf("%s is credited beyond its total", inv.Number)
	}
	s.credits[got.Credit.Number] = got.Credit
	s.post(got.Entry)
	return nil
}

func (s *shop) give() error {
	c := s.credits[s.any("P-")]
	if c.Number == "" {
		return nil
	}
	amount := s.cents(100_000)
	var e books.Entry
	var err error
	switch s.rng.IntN(3) {
	case 0:
		c, e, err = books.Refund(c, "RF-1", amount, books.ByTransfer, s.today)
	case 1:
		c, e, err = books.KeepDeposit(c, amount, "cancelled after cutting", s.today)
	case 2:
		c, e, err = books.Recover(c, amount, "paid after all", s.today)
	}
	if err != nil {
		return err
	}
	s.credits[c.Number] = c
	s.uses = append(s.uses, books.Application{Credit: c.Number, Day: s.today, Amount: amount, Discount: usd(0)})
	s.post(e)
	return nil
}

func (s *shop) bounce() error {
	c := s.credits[s.any("P-")]
	if c.Number == "" {
		return nil
	}
	got, err := books.TakeBack(c, s.apps[c.Number], s.itemsOf(c.Customer), books.Return{Method: books.ByCheck, Banked: s.rng.IntN(2) == 0, Day: s.today})
	if err != nil {
		return err
	}
	s.uses = append(s.uses, books.Application{Credit: c.Number, Day: s.today, Amount: c.Original, Discount: usd(0)})
	for _, a := range s.apps[c.Number] {
		s.uses = append(s.uses, books.Application{Credit: a.Credit, Item: a.Item, Day: s.today, Amount: a.Amount.Neg(), Discount: a.Discount.Neg()})
		if !a.Discount.IsZero() {
			s.forgiven[a.Item] = s.forgiven[a.Item].Sub(a.Discount)
		}
	}
	s.apps[c.Number] = nil
	for _, it := range got.Items {
		s.items[it.Number] = it
	}
	s.credits[c.Number] = got.Credit
	s.post(got.Entry)
	return nil
}

func (s *shop) finance() error {
	customer := 1 + s.rng.Int64N(customers)
	terms := books.FinanceTerms{AgreedOn: day("2026-01-01"), YearRate: money.Must(".18"), GraceDays: 5}
	lines, _, err := books.FinanceOn(s.itemsOf(customer), terms, s.today.AddDate(0, 0, -30), s.today)
	if err != nil {
		return err
	}
	it, e, err := books.ChargeFinance(s.number("FC-"), customer, lines, s.today)
	if err != nil {
		s.undo("FC-")
		return err
	}
	s.items[it.Number] = it
	s.post(e)
	return nil
}

func (s *shop) lose() error {
	it := s.items[s.any("INV-")]
	if it.Number == "" {
		return nil
	}
	amount := s.cents(50_000)
	it, e, err := books.WriteOff(it, amount, "firm closed", s.today)
	if err != nil {
		return err
	}
	s.items[it.Number] = it
	s.forgiven[it.Number] = s.forgiven[it.Number].Add(amount)
	s.uses = append(s.uses, books.Application{Item: it.Number, Day: s.today, Amount: amount, Discount: usd(0)})
	s.post(e)
	return nil
}

func (s *shop) release() error {
	inv := s.invoices[s.any("INV-")]
	if inv.Number == "" {
		return nil
	}
	amount := s.cents(5_000)
	it, e, err := books.ReleaseRetention(inv, s.number("RR-"), amount, s.released[inv.Number], s.today.AddDate(0, 0, 30), s.today)
	if err != nil {
		s.undo("RR-")
		return err
	}
	s.released[inv.Number] = s.released[inv.Number].Add(amount)
	s.items[it.Number] = it
	s.post(e)
	return nil
}

func (s *shop) itemsOf(customer int64) (out []books.Item) {
	for _, prefix := range []string{"INV-", "FC-", "RR-"} {
		for n := int64(1); n < s.series[prefix].Next; n++ {
			if it := s.items[(books.Series{Prefix: prefix, Next: n}).Number()]; it.Customer == customer {
				out = append(out, it)
			}
		}
	}
	return out
}

func (s *shop) creditsOf(customer int64) (out []books.Credit) {
	for _, prefix := range []string{"P-", "CM-"} {
		for n := int64(1); n < s.series[prefix].Next; n++ {
			if c := s.credits[(books.Series{Prefix: prefix, Next: n}).Number()]; c.Customer == customer {
				out = append(out, c)
			}
		}
	}
	return out
}

// check holds the books against each other: journal in balance, items, buckets
// and receivable equal per customer, credits equal to their accounts.
func (s *shop) check() {
	s.Helper()
	entries := make([]books.Entry, len(s.journal))
	for i, p := range s.journal {
		entries[i] = p.Entry
	}
	trial, err := books.TrialBalance(entries, s.today)
	if err != nil || trial.Debit != trial.Credit {
		s.Fatal(trial.Debit, trial.Credit, err)
	}
	var items []books.Item
	var credits []books.Credit
	for c := int64(1); c <= customers; c++ {
		mine, good := s.itemsOf(c), s.creditsOf(c)
		receivable, retained := books.Balance(entries, books.Receivable, c), books.Balance(entries, books.Retention, c)
		st, err := books.NewStatement(c, s.today, mine, good, receivable, retained)
		if err != nil {
			s.Fatal(err)
		}
		if st.Ageing.Total().Cents() != receivable.Cents() {
			s.Fatalf("buckets %s, journal %s", st.Ageing.Total(), receivable)
		}
		for _, it := range mine {
			if it.Open.Sign() < 0 || it.Original.Less(it.Open) {
				s.Fatalf("%s is open for %s of %s", it.Number, it.Open, it.Original)
			}
		}
		items, credits = append(items, mine...), append(credits, good...)
	}
	tomorrow := s.today.AddDate(0, 0, 1)
	if err := books.CheckClose(s.today, time.Time{}, tomorrow, s.journal, items, credits); err != nil {
		s.Fatal(err)
	}
}

// taxTold holds the tax report against the journal, jurisdiction by jurisdiction.
func (s *shop) taxTold() {
	var invoices []books.Invoice
	var memos []books.Memo
	sold := usd(0)
	for number, inv := range s.invoices {
		invoices, memos = append(invoices, inv), append(memos, s.memos[number]...)
		sold = sold.Add(inv.Subtotal)
	}
	for _, m := range memos {
		sold = sold.Sub(m.Subtotal)
	}
	entries := make([]books.Entry, len(s.journal))
	for i, p := range s.journal {
		entries[i] = p.Entry
	}
	for _, sum := range books.TaxSums(books.TaxRows(invoices, memos)) {
		if owed := books.Balance(entries, books.SalesTax(sum.Jurisdiction), 0).Neg(); owed.Cmp(sum.Tax) != 0 {
			s.Errorf("%s: %s of tax told, %s in the journal", sum.Jurisdiction, sum.Tax, owed)
		}
		if sum.Base.Add(sum.Exempt).Add(sum.Other).Cmp(sum.Subtotal) != 0 || sum.Jurisdiction == "City" && sum.Subtotal.Cmp(sold) != 0 {
			s.Errorf("%s: %s taxed, %s exempt and %s not taxed make %s of %s sold", sum.Jurisdiction, sum.Base, sum.Exempt, sum.Other, sum.Subtotal, sold)
		}
	}
}

// TestRandomHistories runs 10,000 random operations, many of them impossible:
// each is either done or refused with a fault, and the books agree throughout.
func TestRandomHistories(t *testing.T) {
	const seed, steps = 20261125, 10_000
	s := newShop(t, seed)
	ops := []struct {
		name string
		do   func() error
	}{
		{"issue", s.issue}, {"receive", s.receive}, {"apply", s.apply}, {"settle", s.settle}, {"discount", s.discount}, {"memo", s.memo},
		{"give", s.give}, {"bounce", s.bounce}, {"finance", s.finance}, {"lose", s.lose}, {"release", s.release},
	}
	for i := range steps {
		if i%20 == 0 {
			s.endDay()
		}
		op := ops[s.rng.IntN(len(ops))]
		switch err := op.do(); {
		case err == nil:
			s.done[op.name]++
		case fault.KindOf(err) == 0:
			t.Fatalf("seed %d, step %d, %s: %v", seed, i, op.name, err)
		default:
			s.refused[op.name]++
		}
		if i%250 == 249 {
			s.check()
		}
	}
	s.lookBack(20)
	s.taxTold()
	for _, op := range ops {
		if s.done[op.name] < 20 {
			t.Errorf("%s was done %d times only", op.name, s.done[op.name])
		}
	}
	t.Logf("seed %d: done %v, refused %v, %d entries", seed, s.done, s.refused, len(s.journal))
}
