package books

import (
	"fmt"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/money"
)

// Memo is a credit memo as it stands in the record: the only way to correct an
// issued invoice. Its amounts are positive and say what is taken back.
type Memo struct {
	Number     string         `json:"number"`
	Invoice    string         `json:"invoice"` // number of the invoice it corrects
	InvoiceDay time.Time      `json:"invoice_day"`
	Customer   int64          `json:"customer"`
	Currency   money.Currency `json:"currency"`
	Order      string         `json:"order"`
	PO         string         `json:"po"`
	Job        string         `json:"job"`
	Day        time.Time      `json:"day"`
	Reason     string         `json:"reason"`
	Figures
}

// MemoDraft is what a credit memo is made from.
type MemoDraft struct {
	Day         time.Time
	Reason      string
	Lines       []MemoLine
	Adjustments []MemoAdjustment
	// Forgiven is what was already let off on this invoice otherwise: discounts
	// taken and amounts written off. It isn't given back a second time.
	Forgiven money.Amount
}

// MemoLine takes back part of an invoice line: a quantity of goods (short,
// damaged, returned), or an amount off the price. Give one of the two.
type MemoLine struct {
	ID       string
	Quantity money.Rate
	Amount   money.Amount // before tax
}

// MemoAdjustment takes back part of a charge, or of an allowance, which lowers
// the credit.
type MemoAdjustment struct {
	ID     string
	Amount money.Amount
}

// Whole gives the draft that takes back all that is left of an invoice.
func (inv Invoice) Whole(before []Memo, day time.Time, reason string) MemoDraft {
	d := MemoDraft{Day: day, Reason: reason}
	for _, line := range inv.Lines {
		u := usedOf(line, before)
		switch {
		case u.net.Cmp(line.Net) >= 0:
		case !u.priceOnly: // what is left of the goods is worth what is left of the line
			d.Lines = append(d.Lines, MemoLine{ID: line.ID, Quantity: line.Quantity.Sub(u.quantity)})
		default:
			d.Lines = append(d.Lines, MemoLine{ID: line.ID, Amount: line.Net.Sub(u.net)})
		}
	}
	for _, a := range inv.Adjustments {
		if left := a.Amount.Sub(usedAdjustment(a.ID, before)); left.Sign() > 0 {
			d.Adjustments = append(d.Adjustments, MemoAdjustment{a.ID, left})
		}
	}
	return d
}

// Credited is what issuing a credit memo leaves behind.
type Credited struct {
	Memo   Memo
	Credit Credit // open until applied or refunded
	Entry  Entry
}

// Credit makes a credit memo against the invoice. before are the memos already
// issued on it. Tax is taken back at the original rate to the jurisdictions
// that charged it; each memo takes the tax on all that is credited so far less
// what was taken back before, so that crediting everything in any number of
// memos gives back the tax to the cent.
//
// It refuses a missing reason, a line or charge that isn't on the invoice, and
// anything bigger than what is left of the quantity, the line, the tax base or
// the invoice.
func (inv Invoice) Credit(number string, d MemoDraft, before []Memo) (Credited, error) {
	if err := inv.checkMemo(number, d, before); err != nil {
		return Credited{}, err
	}
	m := Memo{Number: number, Invoice: inv.Number, InvoiceDay: inv.Issued, Customer: inv.Customer, Currency: inv.Currency,
		Order: inv.Order, PO: inv.PO, Job: inv.Job, Day: Day(d.Day), Reason: d.Reason, Figures: Figures{Basis: inv.Basis}}
	var l fault.List
	for i, ml := range d.Lines {
		line, err := inv.memoLine(ml, before)
		l.Add(fmt.Sprintf("lines.%d", i+1), err)
		m.Lines = append(m.Lines, line)
	}
	for i, ma := range d.Adjustments {
		a, err := inv.memoAdjustment(ma, before)
		l.Add(fmt.Sprintf("adjustments.%d", i+1), err)
		m.Adjustments = append(m.Adjustments, a)
	}
	if err := l.Err(); err != nil {
		return Credited{}, err
	}
	if err := m.takeBackTax(inv, before); err != nil {
		return Credited{}, err
	}
	m.addUp(inv.Currency)
	if err := m.within(inv.Left(before), d.Forgiven); err != nil {
		return Credited{}, err
	}
	return m.post()
}

func (inv Invoice) checkMemo(number string, d MemoDraft, before []Memo) error {
	var l fault.List
	needText(&l, "number", number, 40)
	needText(&l, "reason", d.Reason, 300)
	needDay(&l, "day", d.Day)
	if Day(d.Day).Before(inv.Issued) {
		l.Addf("day", "a credit memo can't be older than its invoice")
	}
	if len(d.Lines)+len(d.Adjustments) == 0 {
		l.Addf("lines", "choose what to credit")
	}
	needMoney(&l, "forgiven", inv.Currency, d.Forgiven)
	if d.Forgiven.Sign() < 0 {
		l.Addf("forgiven", "this can't be negative")
	}
	seen := map[string]bool{}
	twice := func(field, id string) {
		if seen[id] {
			l.Addf(field, "%s is named twice", id)
		}
		seen[id] = true
	}
	for i, ml := range d.Lines {
		twice(fmt.Sprintf("lines.%d.id", i+1), ml.ID)
		needMoney(&l, fmt.Sprintf("lines.%d.amount", i+1), inv.Currency, ml.Amount)
	}
	seen = map[string]bool{}
	for i, ma := range d.Adjustments {
		twice(fmt.Sprintf("adjustments.%d.id", i+1), ma.ID)
		needMoney(&l, fmt.Sprintf("adjustments.%d.amount", i+1), inv.Currency, ma.Amount)
	}
	for _, m := range before {
		if m.Invoice != inv.Number {
			l.Addf("", "%s doesn't belong to %s", m.Number, inv.Number)
		}
	}
	return l.Err()
}

// Left gives what of the invoice total no memo has credited yet.
func (inv Invoice) Left(before []Memo) money.Amount {
	left := inv.Total
	for _, m := range before {
		left = left.Sub(m.Total)
	}
	return left
}

// LineLeft is what of an invoice line no memo has credited yet.
type LineLeft struct {
	Quantity money.Rate
	Net      money.Amount
}

// LeftOf gives what is left to credit of each line, by its place.
func (inv Invoice) LeftOf(before []Memo) []LineLeft {
	out := make([]LineLeft, len(inv.Lines))
	for i, line := range inv.Lines {
		u := usedOf(line, before)
		out[i] = LineLeft{line.Quantity.Sub(u.quantity), line.Net.Sub(u.net)}
	}
	return out
}

// LeftOfCharge gives what is left to credit of a charge or allowance.
func (inv Invoice) LeftOfCharge(a Adjustment, before []Memo) money.Amount {
	return a.Amount.Sub(usedAdjustment(a.ID, before))
}

// used is what earlier memos took back of a line.
type used struct {
	quantity  money.Rate
	net       money.Amount
	priceOnly bool // some of it was money off without goods
}

func usedOf(line Line, before []Memo) (u used) {
	u.net = money.Cents(0, line.Net.Currency())
	for _, m := range before {
		for _, ml := range m.Lines {
			if ml.ID != line.ID {
				continue
			}
			u.net = u.net.Add(ml.Net)
			if ml.PriceOnly {
				u.priceOnly = true
			} else {
				u.quantity = u.quantity.Add(ml.Quantity)
			}
		}
	}
	return u
}

func usedAdjustment(id string, before []Memo) (sum money.Amount) {
	for _, m := range before {
		for _, a := range m.Adjustments {
			if a.ID == id {
				sum = sum.Add(a.Amount)
			}
		}
	}
	return sum
}

func (inv Invoice) memoLine(ml MemoLine, before []Memo) (Line, error) {
	for _, line := range inv.Lines {
		if line.ID != ml.ID {
			continue
		}
		u := usedOf(line, before)
		switch {
		case ml.Amount.Sign() < 0:
			return line, fault.Invalidf("amount", "the amount must be above 0")
		case ml.Quantity.Sign() < 0:
			return line, fault.Invalidf("quantity", "the quantity must be above 0")
		case ml.Quantity.IsZero() == ml.Amount.IsZero():
			return line, fault.Invalidf("quantity", "give either the quantity taken back or the amount taken off")
		case !ml.Amount.IsZero():
			return line.lessPrice(ml.Amount, u)
		}
		return line.lessGoods(ml.Quantity, u)
	}
	return Line{}, fault.Invalidf("id", "%s has no line %s", inv.Number, ml.ID)
}

func (line Line) lessPrice(amount money.Amount, u used) (Line, error) {
	if left := line.Net.Sub(u.net); left.Less(amount) {
		return line, fault.Invalidf("amount", "only %s of this line is left to credit", left.Format())
	}
	line.PriceOnly, line.Detail = true, ""
	line.Quantity, line.Unit, line.UnitPrice, line.Net = money.Int(1), UnitOne, amount.Rate(), amount
	return line, nil
}

// lessGoods takes a quantity back. What was taken back before and now together
// is rounded once, so that the parts add up to the line.
func (line Line) lessGoods(q money.Rate, u used) (Line, error) {
	q = q.Shorten(quantityPlaces)
	if left := line.Quantity.Sub(u.quantity); exceeds(q, left) {
		return line, fault.Invalidf("quantity", "only %s of this line are left to credit", withUnit(left, line.Unit))
	}
	done, err := extend(u.quantity, line.UnitPrice, line.Net.Currency())
	if err != nil {
		return line, err
	}
	now, err := extend(u.quantity.Add(q), line.UnitPrice, line.Net.Currency())
	if err != nil {
		return line, err
	}
	net := now.Sub(done)
	if left := line.Net.Sub(u.net); left.Less(net) {
		return line, fault.Invalidf("quantity", "that is worth %s, but only %s of this line is left to credit", net.Format(), left.Format())
	}
	line.Detail, line.Quantity, line.Net = "", q, net
	return line, nil
}

// withUnit writes a quantity for people.
func withUnit(q money.Rate, unit string) string {
	if unit == UnitLinealFoot {
		return q.Shorten(3).String() + " ft"
	}
	return q.Shorten(3).String()
}

func (inv Invoice) memoAdjustment(ma MemoAdjustment, before []Memo) (Adjustment, error) {
	for _, a := range inv.Adjustments {
		if a.ID != ma.ID {
			continue
		}
		left := a.Amount.Sub(usedAdjustment(a.ID, before))
		if ma.Amount.Sign() <= 0 || left.Less(ma.Amount) {
			return a, fault.Invalidf("amount", "credit more than 0 and at most the %s that is left", left.Format())
		}
		a.Amount = ma.Amount
		return a, nil
	}
	return Adjustment{}, fault.Invalidf("id", "%s has no charge or allowance %s", inv.Number, ma.ID)
}

func (m *Memo) takeBackTax(inv Invoice, before []Memo) error {
	ps := m.parts()
	for _, t := range inv.Taxes {
		base, touched := baseOf(ps, taxedBy, t.Jurisdiction)
		if !touched {
			continue
		}
		earlier := taxedBefore(t.Jurisdiction, before)
		sum := earlier.Base.Add(base)
		if base.Sign() < 0 || t.Base.Less(sum) {
			return fault.Invalidf("lines", "only %s of what %s taxed is left to credit", t.Base.Sub(earlier.Base).Format(), t.Jurisdiction)
		}
		due, err := t.taxOn(sum)
		if err != nil {
			return err
		}
		m.Taxes = append(m.Taxes, TaxLine{t.Jurisdiction, t.State, t.Rate, base, due.Sub(earlier.Tax)})
	}
	for _, e := range inv.Exempt {
		if base, touched := baseOf(ps, exemptIn, e.Jurisdiction); touched {
			e.Base = base
			m.Exempt = append(m.Exempt, e)
		}
	}
	return nil
}

func taxedBefore(jurisdiction string, before []Memo) (sum TaxLine) {
	for _, m := range before {
		for _, t := range m.Taxes {
			if t.Jurisdiction == jurisdiction {
				sum.Base, sum.Tax = sum.Base.Add(t.Base), sum.Tax.Add(t.Tax)
			}
		}
	}
	return sum
}

// taxOn gives the original tax on part of the base: at the original rate, at
// most what was charged, and all of it on the whole base.
func (t TaxLine) taxOn(base money.Amount) (money.Amount, error) {
	if base.Cmp(t.Base) == 0 {
		return t.Tax, nil
	}
	tax, err := base.Rate().Mul(t.Rate).Round(t.Tax.Currency())
	return money.Min(tax, t.Tax), err
}

func (m Memo) within(left, forgiven money.Amount) error {
	switch {
	case m.Total.Sign() <= 0:
		return fault.Invalidf("lines", "this credits nothing")
	case left.Less(m.Total):
		return fault.Invalidf("lines", "this comes to %s, but only %s of %s is left to credit", m.Total.Format(), left.Format(), m.Invoice)
	case left.Sub(forgiven).Less(m.Total):
		return fault.Invalidf("lines", "this comes to %s, but only %s of %s is left to credit: %s of it was let off already, as discount or written off",
			m.Total.Format(), left.Sub(forgiven).Format(), m.Invoice, forgiven.Format())
	}
	return nil
}

func (m Memo) post() (Credited, error) {
	ps := []Posting{Cr(Unapplied, m.Total), Cr(Discounts, m.Allowances)}
	for _, p := range m.earned() {
		ps = append(ps, Posting{p.Account, p.Amount.Neg()})
	}
	e, err := NewEntry(Head{m.Day, m.Number, m.Customer, "Credit memo " + m.Number + " on " + m.Invoice}, ps...)
	c := Credit{Kind: MemoCredit, Number: m.Number, Customer: m.Customer, Day: m.Day, Order: m.Order, Original: m.Total, Open: m.Total}
	return Credited{m, c, e}, err
}
