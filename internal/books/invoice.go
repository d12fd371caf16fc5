package books

import (
	"fmt"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/money"
	"ribdesk/internal/party"
)

// Line is one line of an invoice or credit memo.
type Line struct {
	ID          string       `json:"id"` // of the order's line; unique in the document
	Description string       `json:"description"`
	Detail      string       `json:"detail"`  // pieces and lengths, as printed under the description
	Group       string       `json:"group"`   // sales group: the account it is sold on
	Class       string       `json:"class"`   // tax class, as the jurisdictions name it
	OwnUse      bool         `json:"own_use"` // for the buyer's own use: no certificate counts
	Quantity    money.Rate   `json:"quantity"`
	Unit        string       `json:"unit"` // UN/ECE Rec 20/21 code, see UnitLinealFoot and the others
	UnitPrice   money.Rate   `json:"unit_price"`
	Net         money.Amount `json:"net"`        // quantity x unit price, rounded to the cent
	PriceOnly   bool         `json:"price_only"` // on a credit memo: money off, no goods back
	Tax         Treatment    `json:"tax"`        // set when the document is made
}

// Unit codes of UN/ECE Recommendations 20 and 21 for what a shop bills.
const (
	UnitLinealFoot = "LF"
	UnitPiece      = "H87"
	UnitEach       = "EA"
	UnitBundle     = "XBE"
	UnitPound      = "LBR"
	UnitHour       = "HUR"
	UnitMile       = "SMI"
	UnitOne        = "C62" // a bare count
)

// Adjustment is a charge or an allowance on the whole document.
type Adjustment struct {
	ID        string       `json:"id"`        // A1, A2, ... by place, set when the invoice is made
	Allowance bool         `json:"allowance"` // takes off; else it adds
	Reason    string       `json:"reason"`
	Class     string       `json:"class"` // tax class: an allowance shares that of the goods it is on
	OwnUse    bool         `json:"own_use"`
	Account   Account      `json:"account"` // where a charge is earned; allowances go to Discounts
	Amount    money.Amount `json:"amount"`  // above 0 either way
	Tax       Treatment    `json:"tax"`     // set when the document is made
}

func (a Adjustment) signed() money.Amount {
	if a.Allowance {
		return a.Amount.Neg()
	}
	return a.Amount
}

// Figures are the lines and sums of an invoice or credit memo.
type Figures struct {
	Basis       Basis        `json:"basis"`
	Lines       []Line       `json:"lines"`
	Adjustments []Adjustment `json:"adjustments"`
	Taxes       []TaxLine    `json:"taxes"`
	Exempt      []ExemptLine `json:"exempt"`
	LineTotal   money.Amount `json:"line_total"`
	Allowances  money.Amount `json:"allowances"`
	Charges     money.Amount `json:"charges"`
	Subtotal    money.Amount `json:"subtotal"` // lines - allowances + charges
	TaxTotal    money.Amount `json:"tax_total"`
	Total       money.Amount `json:"total"`
}

// Invoice is an invoice as it stands in the record: every printed figure, so
// that paper and exchange file repeat it and compute nothing. It is made by
// Draft.Issue and never changed; credits and payments are documents of their own.
type Invoice struct {
	Number   string         `json:"number"`
	Customer int64          `json:"customer"`
	Currency money.Currency `json:"currency"`
	Order    string         `json:"order"`
	Ticket   string         `json:"ticket"` // the delivery ticket it bills
	PO       string         `json:"po"`
	Job      string         `json:"job"`
	Issued   time.Time      `json:"issued"`
	Supplied time.Time      `json:"supplied"` // the day the goods were handed over
	Terms    party.Terms    `json:"terms"`
	Due      time.Time      `json:"due"`
	Figures
	Retained  money.Amount `json:"retained"`   // of the total, held back by agreement until released
	Applied   []Applied    `json:"applied"`    // deposits shown on the invoice itself
	AmountDue money.Amount `json:"amount_due"` // total - retained - applied
}

// Applied is a deposit that an invoice shows as taken off.
type Applied struct {
	Day       time.Time    `json:"day"`
	Reference string       `json:"reference"` // number of the deposit
	Amount    money.Amount `json:"amount"`
}

// Draft is what an invoice is made from. A draft has no number.
type Draft struct {
	Customer    int64
	Currency    money.Currency
	Order       string
	Ticket      string
	PO          string
	Job         string
	Issued      time.Time
	Supplied    time.Time
	Terms       party.Terms
	Lines       []Line // ID to UnitPrice; Net and Tax are worked out
	Adjustments []Adjustment
	Tax         TaxRules
	Retain      money.Rate   // share of the total held back by agreement, 0 for none
	Deposits    []DepositUse // deposits to take off, in this order
}

// DepositUse takes an amount of an open deposit off an invoice.
type DepositUse struct {
	Deposit Credit
	Amount  money.Amount
}

// Limits of one document.
const (
	MaxLines       = 1000
	maxAdjustments = 100
)

// Issued is what issuing an invoice leaves behind, to be stored in one
// transaction.
type Issued struct {
	Invoice      Invoice
	Item         Item // what the customer now owes, after the deposits
	Deposits     []Credit
	Applications []Application
	Entries      []Entry
}

// Issue makes the invoice of this number from the draft, with its journal
// entries. Tax follows the rules at the draft's Issued day: a certificate counts
// only if it covers that day in that state. It refuses, at the field, a draft
// that is incomplete, bills nothing, gives more allowance than there is to give
// it on, or takes off more deposit than is open or due.
func (d Draft) Issue(number string) (Issued, error) {
	if err := d.check(number); err != nil {
		return Issued{}, err
	}
	inv, err := d.compute(number)
	if err != nil {
		return Issued{}, err
	}
	return inv.post(d.Deposits)
}

func (d Draft) check(number string) error {
	var l fault.List
	needText(&l, "number", number, 40)
	if d.Customer == 0 {
		l.Addf("customer", "choose the customer")
	}
	if d.Currency == "" {
		l.Addf("currency", "give the currency")
	}
	needDay(&l, "issued", d.Issued)
	needDay(&l, "supplied", d.Supplied)
	if Day(d.Supplied).After(Day(d.Issued)) {
		l.Addf("supplied", "an invoice can't bill what is delivered only later")
	}
	allowText(&l, "order", d.Order, 80)
	allowText(&l, "ticket", d.Ticket, 80)
	allowText(&l, "po", d.PO, 80)
	allowText(&l, "job", d.Job, 80)
	l.Add("", CheckTerms(d.Terms))
	l.Add("tax", d.Tax.Check())
	if d.Retain.Sign() < 0 || d.Retain.Cmp(money.Int(1)) >= 0 {
		l.Addf("retain", "the share held back is 0 or more and below 100 %%")
	}
	if len(d.Lines) == 0 {
		l.Addf("lines", "an invoice needs a line")
	}
	checkParts(&l, d.Lines, d.Adjustments)
	for i, a := range d.Adjustments {
		needMoney(&l, fmt.Sprintf("adjustments.%d.amount", i+1), d.Currency, a.Amount)
	}
	for i, u := range d.Deposits {
		needMoney(&l, fmt.Sprintf("deposits.%d.amount", i+1), d.Currency, u.Amount, u.Deposit.Open)
	}
	return l.Err()
}

func checkParts(l *fault.List, lines []Line, adjustments []Adjustment) {
	if len(lines) > MaxLines || len(adjustments) > maxAdjustments {
		l.Addf("lines", "a document holds at most %d lines and %d charges and allowances", MaxLines, maxAdjustments)
		return
	}
	seen := map[string]bool{}
	for i, line := range lines {
		at := fmt.Sprintf("lines.%d", i+1)
		l.Add(at, line.check())
		if seen[line.ID] {
			l.Addf(at+".id", "the line %s is billed twice", line.ID)
		}
		seen[line.ID] = true
	}
	for i, a := range adjustments {
		l.Add(fmt.Sprintf("adjustments.%d", i+1), a.check())
	}
}

func (line Line) check() error {
	var l fault.List
	needText(&l, "id", line.ID, 40)
	needText(&l, "description", line.Description, 200)
	allowText(&l, "detail", line.Detail, 400)
	needText(&l, "unit", line.Unit, 3)
	if err := Sales(line.Group).Check(); err != nil {
		l.Addf("group", "give the sales group")
	}
	if line.Quantity.Sign() <= 0 {
		l.Addf("quantity", "the quantity must be above 0; goods taken back go on a credit memo")
	}
	if line.UnitPrice.Sign() < 0 {
		l.Addf("unit_price", "a price can't be negative; use an allowance with a reason")
	}
	return l.Err()
}

func (a Adjustment) check() error {
	var l fault.List
	needText(&l, "reason", a.Reason, 200)
	if a.Amount.Sign() <= 0 {
		l.Addf("amount", "the amount must be above 0")
	}
	if !a.Allowance && (a.Account.Check() != nil || a.Account.Kind() != Income) {
		l.Addf("account", "choose the income account of this charge")
	}
	return l.Err()
}

// Places of a quantity or price that a record keeps, and of a line before it is rounded.
// A length in feet seldom ends (1 in is .08333... ft); the dust of such a
// fraction must not push a whole half cent to the wrong side, so it is cut off
// first: 6 ft 2 in at 3.03 is 18.685 and comes to 18.69.
const (
	quantityPlaces = 18
	linePlaces     = 12
)

// extend works out a line: quantity x unit price to the cent.
func extend(quantity, price money.Rate, c money.Currency) (money.Amount, error) {
	return quantity.Mul(price).Shorten(linePlaces).Round(c)
}

func (d Draft) compute(number string) (Invoice, error) {
	day := Day(d.Issued)
	inv := Invoice{
		Number: number, Customer: d.Customer, Currency: d.Currency, Order: d.Order, Ticket: d.Ticket, PO: d.PO, Job: d.Job,
		Issued: day, Supplied: Day(d.Supplied), Terms: d.Terms, Due: d.Terms.Due(day), Figures: Figures{Basis: d.Tax.Basis},
	}
	for i, line := range d.Lines {
		var err error
		line.Quantity, line.UnitPrice = line.Quantity.Shorten(quantityPlaces), line.UnitPrice.Shorten(quantityPlaces)
		if line.Net, err = extend(line.Quantity, line.UnitPrice, d.Currency); err != nil {
			var l fault.List
			l.Add(fmt.Sprintf("lines.%d.quantity", i+1), err)
			return inv, l.Err()
		}
		line.Tax = d.Tax.treat(line.Class, line.OwnUse, day)
		inv.Lines = append(inv.Lines, line)
	}
	for i, a := range d.Adjustments {
		a.ID = fmt.Sprintf("A%d", i+1)
		a.Tax = d.Tax.treat(a.Class, a.OwnUse, day)
		if a.Allowance {
			a.Account = Discounts
		}
		inv.Adjustments = append(inv.Adjustments, a)
	}
	var err error
	if inv.Taxes, inv.Exempt, err = d.Tax.assess(inv.parts(), day); err != nil {
		return inv, err
	}
	inv.addUp(d.Currency)
	if inv.Total.Sign() <= 0 {
		return inv, fault.Invalidf("lines", "there is nothing to bill: the total is %s", inv.Total.Format())
	}
	if inv.Total.Cents() > money.MaxCents {
		return inv, fault.Invalidf("lines", "this comes to more money than the desk can hold; check lengths and quantities")
	}
	if inv.Retained, err = inv.Total.Rate().Mul(d.Retain).Round(d.Currency); err != nil {
		return inv, err
	}
	inv.takeOff(d.Deposits)
	return inv, nil
}

// parts gives lines and adjustments as tax sees them.
func (f Figures) parts() []part {
	var ps []part
	for _, line := range f.Lines {
		ps = append(ps, part{line.Net, line.Tax})
	}
	for _, a := range f.Adjustments {
		ps = append(ps, part{a.signed(), a.Tax})
	}
	return ps
}

// addUp makes the totals from the rounded figures.
func (f *Figures) addUp(c money.Currency) {
	zero := money.Cents(0, c)
	f.LineTotal, f.Allowances, f.Charges, f.TaxTotal = zero, zero, zero, zero
	for _, line := range f.Lines {
		f.LineTotal = f.LineTotal.Add(line.Net)
	}
	for _, a := range f.Adjustments {
		if a.Allowance {
			f.Allowances = f.Allowances.Add(a.Amount)
		} else {
			f.Charges = f.Charges.Add(a.Amount)
		}
	}
	for _, t := range f.Taxes {
		f.TaxTotal = f.TaxTotal.Add(t.Tax)
	}
	f.Subtotal = f.LineTotal.Sub(f.Allowances).Add(f.Charges)
	f.Total = f.Subtotal.Add(f.TaxTotal)
}

// takeOff shows the deposits on the invoice; post applies them and refuses what
// can't be.
func (inv *Invoice) takeOff(uses []DepositUse) {
	inv.AmountDue = inv.Total.Sub(inv.Retained)
	for _, u := range uses {
		inv.Applied = append(inv.Applied, Applied{u.Deposit.Day, u.Deposit.Number, u.Amount})
		inv.AmountDue = inv.AmountDue.Sub(u.Amount)
	}
}

// entry posts the invoice: what is owed now and what is retained against sales,
// charges and tax, each on its own account.
func (inv Invoice) entry() (Entry, error) {
	ps := []Posting{Dr(Receivable, inv.Total.Sub(inv.Retained)), Dr(Retention, inv.Retained), Dr(Discounts, inv.Allowances)}
	ps = append(ps, inv.earned()...)
	return NewEntry(Head{inv.Issued, inv.Number, inv.Customer, "Invoice " + inv.Number}, ps...)
}

// earned gives the credit side of an invoice, allowances apart.
func (f Figures) earned() (ps []Posting) {
	for _, line := range f.Lines {
		ps = append(ps, Cr(Sales(line.Group), line.Net))
	}
	for _, a := range f.Adjustments {
		if !a.Allowance {
			ps = append(ps, Cr(a.Account, a.Amount))
		}
	}
	for _, t := range f.Taxes {
		ps = append(ps, Cr(SalesTax(t.Jurisdiction), t.Tax))
	}
	return ps
}

// item gives what the customer owes for the invoice before any credit.
func (inv Invoice) item() Item {
	owed := inv.Total.Sub(inv.Retained)
	return Item{Kind: InvoiceItem, Number: inv.Number, Customer: inv.Customer, Day: inv.Issued, Due: inv.Due, Original: owed, Open: owed}
}

func (inv Invoice) post(uses []DepositUse) (Issued, error) {
	e, err := inv.entry()
	if err != nil {
		return Issued{}, err
	}
	out := Issued{Invoice: inv, Item: inv.item(), Entries: []Entry{e}}
	for i, u := range uses {
		step, err := Apply(u.Deposit, out.Item, u.Amount, inv.Issued)
		if err != nil {
			var l fault.List
			l.Add(fmt.Sprintf("deposits.%d", i+1), err)
			return Issued{}, l.Err()
		}
		out.Item = step.Item
		out.Deposits = append(out.Deposits, step.Credit)
		out.Applications = append(out.Applications, step.Application)
		out.Entries = append(out.Entries, step.Entry)
	}
	return out, nil
}
