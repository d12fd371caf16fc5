package document

import (
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/money"
)

// Payment is a deposit, payment or credit applied to a paper. Its reference is
// never a whole card number.
type Payment struct {
	Date      time.Time    `json:"date"`
	What      string       `json:"what"`
	Reference string       `json:"reference,omitempty"`
	Amount    money.Amount `json:"amount"`
}

// Invoice asks for money for goods supplied.
type Invoice struct {
	Head
	Order    string       `json:"order"`
	Ticket   string       `json:"ticket,omitempty"`
	Supplied time.Time    `json:"supplied"`
	Due      time.Time    `json:"due"`
	Terms    string       `json:"terms"`
	Lines    []Line       `json:"lines"`
	Charges  []Charge     `json:"charges,omitempty"`
	Subtotal money.Amount `json:"subtotal"`
	Taxes    []Tax        `json:"taxes,omitempty"`
	Exempt   []Exemption  `json:"exempt,omitempty"`
	Total    money.Amount `json:"total"`
	Payments []Payment    `json:"payments,omitempty"`
	Retained money.Amount `json:"retained,omitzero"` // of the total, held back by agreement until released
	Paid     money.Amount `json:"paid"`              // the payments' sum
	Owed     money.Amount `json:"owed"`              // what is left to pay
	RemitTo  []string     `json:"remit_to,omitempty"`
	LateFee  string       `json:"late_fee,omitempty"` // only where it was agreed
	Notes    []string     `json:"notes,omitempty"`
}

// Kind names the paper.
func (*Invoice) Kind() Kind { return KindInvoice }

func (i *Invoice) check(l *fault.List) {
	if len(i.Lines) == 0 && len(i.Charges) == 0 {
		l.Addf("lines", "an invoice needs at least one line")
	}
	if i.Due.IsZero() {
		l.Addf("due", "an invoice needs the day it is due")
	}
	if i.Customer.Name == "" {
		l.Addf("customer", "an invoice needs the customer")
	}
}

func (i *Invoice) compose(c *composer) {
	c.masthead(
		fact{c.t(wDate), c.date(i.Issued)}, fact{c.t(wSupplied), c.date(i.Supplied)}, fact{c.t(wDue), c.date(i.Due)},
		fact{c.t(wTerms), i.Terms}, fact{c.t(wOrder), i.Order}, fact{c.t(wTicket), i.Ticket},
	)
	c.lines(i.Lines)
	c.charges(i.Charges)
	rows := c.reckoning(i.Subtotal, i.Taxes, i.Exempt, wTaxOn)
	c.sums(append(rows, sum{name: c.t(wTotal), figure: i.Total.Format(), strong: true})...)
	c.payments(i.Payments)
	c.sums(i.due(c)...)
	if len(i.RemitTo) > 0 {
		c.title(c.t(wRemit))
		c.paragraphs(10, i.RemitTo...)
	}
	c.title(c.t(wNotes))
	if i.LateFee != "" {
		c.paragraphs(bodySize, c.f(wLateFee, i.LateFee))
	}
	c.paragraphs(bodySize, append(i.Notes[:len(i.Notes):len(i.Notes)], c.t(wLienLaw))...)
}

// due leads from the total to what is to be paid now.
func (i *Invoice) due(c *composer) (rows []sum) {
	if !i.Retained.IsZero() {
		rows = append(rows, sum{name: c.t(wHeldBack), figure: i.Retained.Neg().String()})
	}
	if !i.Paid.IsZero() {
		rows = append(rows, sum{name: c.t(wPaidSoFar), figure: i.Paid.Neg().String()})
	}
	return append(rows, sum{name: c.t(wAmountDue), figure: i.Owed.Format(), strong: true})
}

func (c *composer) payments(payments []Payment) {
	if len(payments) == 0 {
		return
	}
	c.title(c.t(wPayments))
	var rows []record
	for _, p := range payments {
		rows = append(rows, record{cells: []string{c.date(p.Date), p.What, p.Reference, p.Amount.String()}})
	}
	c.table([]column{
		{title: c.t(wDate), width: 32}, {title: c.t(wWhat)}, {title: c.t(wReference), width: 50}, {title: c.t(wAmount), width: 32, right: true},
	}, rows)
}

// CreditMemo corrects an issued invoice; nothing else does. Its amounts are
// positive.
type CreditMemo struct {
	Head
	Invoice       string       `json:"invoice"`
	InvoiceIssued time.Time    `json:"invoice_issued"`
	Order         string       `json:"order,omitempty"`
	Reason        string       `json:"reason"`
	Lines         []Line       `json:"lines"`
	Charges       []Charge     `json:"charges,omitempty"`
	Subtotal      money.Amount `json:"subtotal"`
	Taxes         []Tax        `json:"taxes,omitempty"`
	Exempt        []Exemption  `json:"exempt,omitempty"`
	Total         money.Amount `json:"total"`
	Payments      []Payment    `json:"applied_to,omitempty"`
	Applied       money.Amount `json:"applied"`
	Unapplied     money.Amount `json:"unapplied"`
}

// Kind names the paper.
func (*CreditMemo) Kind() Kind { return KindCreditMemo }

func (m *CreditMemo) check(l *fault.List) {
	if m.Invoice == "" {
		l.Addf("invoice", "a credit memo names the invoice it corrects")
	}
	if m.Reason == "" {
		l.Addf("reason", "a credit memo says why")
	}
}

func (m *CreditMemo) compose(c *composer) {
	c.noGoods = true
	c.masthead(
		fact{c.t(wDate), c.date(m.Issued)}, fact{c.t(wOriginal), m.Invoice}, fact{c.t(wOriginalDate), c.date(m.InvoiceIssued)}, fact{c.t(wOrder), m.Order},
	)
	c.title(c.t(wWhy))
	c.paragraphs(11, m.Reason)
	if len(m.Lines) > 0 {
		c.lines(m.Lines)
	}
	c.charges(m.Charges)
	rows := c.reckoning(m.Subtotal, m.Taxes, m.Exempt, wTaxBack)
	c.sums(append(rows, sum{name: c.t(wCredit), figure: m.Total.Format(), strong: true})...)
	c.payments(m.Payments)
	c.sums(sum{name: c.t(wApplied), figure: m.Applied.String()}, sum{name: c.t(wUnapplied), figure: m.Unapplied.Format(), strong: true})
}

// OpenItem is a paper that isn't settled.
type OpenItem struct {
	Number   string       `json:"number"`
	What     string       `json:"what,omitempty"` // where it isn't an invoice
	Date     time.Time    `json:"date"`
	Due      time.Time    `json:"due,omitzero"`
	PastDue  int          `json:"past_due,omitempty"` // days
	Original money.Amount `json:"original"`
	Open     money.Amount `json:"open"`
}

// Ageing is what is open by days past due. The buckets add up to the balance.
type Ageing struct {
	Current money.Amount `json:"current"`
	To30    money.Amount `json:"to_30"`
	To60    money.Amount `json:"to_60"`
	To90    money.Amount `json:"to_90"`
	Over90  money.Amount `json:"over_90"`
}

// Statement lists what a customer owes on a day.
type Statement struct {
	Head
	AsOf      time.Time    `json:"as_of"`
	Items     []OpenItem   `json:"items"`
	Credits   []OpenItem   `json:"credits,omitempty"` // not yet applied, kept apart
	Ageing    Ageing       `json:"ageing"`
	Balance   money.Amount `json:"balance"`   // of the open items
	Unapplied money.Amount `json:"unapplied"` // of the credits
	ToPay     money.Amount `json:"to_pay"`
	Retained  money.Amount `json:"retained,omitzero"` // invoiced, payable only when released
	RemitTo   []string     `json:"remit_to,omitempty"`
}

// Kind names the paper.
func (*Statement) Kind() Kind { return KindStatement }

// A statement whose parts don't agree would be argued over, so it isn't printed.
func (s *Statement) check(l *fault.List) {
	if s.AsOf.IsZero() {
		l.Addf("as_of", "a statement needs its day")
	}
	a := s.Ageing
	var open money.Amount
	for _, i := range s.Items {
		open = open.Add(i.Open)
	}
	buckets := money.Sum(a.Current, a.To30, a.To60, a.To90, a.Over90)
	if open.Cents() != s.Balance.Cents() || buckets.Cents() != s.Balance.Cents() {
		l.Addf("balance", "open items (%s), ageing (%s) and balance (%s) don't agree", open, buckets, s.Balance)
	}
}

func (s *Statement) compose(c *composer) {
	c.noGoods = true
	c.masthead(fact{c.t(wAsOf), c.date(s.AsOf)})
	c.title(c.t(wOpenItems))
	c.openItems(s.Items)
	if len(s.Credits) > 0 {
		c.title(c.t(wCredits))
		c.openItems(s.Credits)
	}
	c.title(c.t(wAgeing))
	a := s.Ageing
	c.table([]column{
		{title: c.t(wCurrent), width: 38, right: true, size: 12}, {title: "1–30", width: 38, right: true, size: 12}, {title: "31–60", width: 38, right: true, size: 12},
		{title: "61–90", width: 38, right: true, size: 12}, {title: c.t(wOver90), right: true, size: 12},
	}, []record{{cells: []string{a.Current.String(), a.To30.String(), a.To60.String(), a.To90.String(), a.Over90.String()}}})
	c.space(2)
	rows := []sum{{name: c.t(wBalance), figure: s.Balance.String()}}
	if !s.Unapplied.IsZero() {
		rows = append(rows, sum{name: c.t(wLessCredits), figure: s.Unapplied.Neg().String()})
	}
	c.sums(append(rows, sum{name: c.t(wToPay), figure: s.ToPay.Format(), strong: true})...)
	if !s.Retained.IsZero() {
		c.sums(sum{name: c.t(wHeldBack), figure: s.Retained.String()})
	}
	if len(s.RemitTo) > 0 {
		c.title(c.t(wRemit))
		c.paragraphs(10, s.RemitTo...)
	}
}

func numbered(number, what string) string {
	if what == "" {
		return number
	}
	return number + ", " + what
}

func (c *composer) openItems(items []OpenItem) {
	var rows []record
	for _, i := range items {
		rows = append(rows, record{cells: []string{
			numbered(i.Number, i.What), c.date(i.Date), c.date(i.Due), count(i.PastDue), i.Original.String(), i.Open.String(),
		}})
	}
	c.table([]column{
		{title: c.t(wNumber), face: bold}, {title: c.t(wDate), width: 26}, {title: c.t(wDue), width: 26}, {title: c.t(wDaysPast), width: 28, right: true},
		{title: c.t(wOriginalSum), width: 32, right: true}, {title: c.t(wOpen), width: 32, right: true},
	}, rows)
}
