package web

import (
	"fmt"
	"strconv"

	"ribdesk/internal/books"
	"ribdesk/internal/desk"
	"ribdesk/internal/party"
)

var methods = []Option{{"check", "Check"}, {"cash", "Cash"}, {"transfer", "Bank transfer"}, {"card", "Card, charged on the terminal"}}

// paymentForm takes money.
type paymentForm struct {
	Day, Method, Reference, Amount, Item, Keep, Full Field
}

func newPaymentForm(owed []desk.Owed) paymentForm {
	return paymentForm{
		Amount:    Field{Name: "amount", Label: "Amount", Keys: "decimal", Unit: "$", Short: true},
		Method:    Field{Name: "method", Label: "How it came", Options: methods},
		Reference: Field{Name: "reference", Label: "Check number or reference", Optional: true, Help: "Never a card number."},
		Day:       Field{Name: "day", Label: "When", Optional: true, Short: true, Help: "Empty is today."},
		Item:      itemChoice(owed, ""),
		Keep:      Field{Name: "keep", Label: "Pay nothing with it yet", Kind: "checkbox", Optional: true},
		Full:      Field{Name: "full", Label: "Take no early-payment discount", Kind: "checkbox", Optional: true},
	}
}

// itemChoice offers what a customer owes.
func itemChoice(owed []desk.Owed, prefix string) Field {
	f := Field{Name: "item", Label: "For", Optional: true, Prefix: prefix, Options: []Option{{"", "What is due first"}}}
	for _, o := range owed {
		f.Options = append(f.Options, Option{o.Number, fmt.Sprintf("%s, %s open", o.Number, o.Open.Format())})
	}
	return f
}

func (v *visit) readPayment(f *paymentForm) (desk.MoneyIn, error) {
	seller, _, err := v.desk.Seller(v.ctx())
	if err != nil {
		return desk.MoneyIn{}, err
	}
	m := desk.MoneyIn{
		Amount: v.amount(&f.Amount, seller.Currency), Method: books.Method(v.choice(&f.Method)), Reference: v.text(&f.Reference),
		Day: v.day(&f.Day), Items: listed(v.choice(&f.Item)), Keep: v.yes(&f.Keep), NoDiscount: v.yes(&f.Full),
	}
	return m, v.wrongs()
}

func doPay(v *visit) error {
	return v.onAccount(func(p *accountPage) (string, error) {
		m, err := v.readPayment(&p.Pay)
		if err != nil {
			return "", err
		}
		m.CustomerID = p.A.Customer.ID
		r, err := v.desk.RecordPayment(v.ctx(), v.actor, m)
		return paidWord(r), err
	})
}

func paidWord(r desk.Received) string {
	said := fmt.Sprintf("%s: %s received", r.Payment.Payment.Number, r.Payment.Payment.Amount.Format())
	for _, a := range r.Applied {
		said += fmt.Sprintf("; %s paid with %s", a.Item, a.Amount.Format())
		if a.Discount.Sign() > 0 {
			said += " and a discount of " + a.Discount.Format()
		}
	}
	if r.Left.Open.Sign() > 0 {
		said += "; " + r.Left.Open.Format() + " stay to the customer's good"
	}
	return said + "."
}

// paymentsPage lists money received.
type paymentsPage struct {
	Base
	Payments []desk.Payment
	Names    map[int64]string
	More     string
	Drawer   string // waiting to be paid in at the bank
	Bank     Field
	BankDay  Field
	BankRef  Field
	Accounts bool
}

func (paymentsPage) file() string { return "payments" }

const paymentsAPage = 50

func (v *visit) loadPayments() (*paymentsPage, error) {
	before, _ := strconv.ParseInt(v.query("before"), 10, 64)
	list, err := v.desk.Payments(v.ctx(), v.actor, desk.BooksFilter{Before: max(before, 0), Limit: paymentsAPage + 1})
	if err != nil {
		return nil, err
	}
	p := &paymentsPage{Base: v.booksBase("Payments", "Payments"), Names: map[int64]string{}, Accounts: v.actor.Role != party.Counter}
	if len(list) > paymentsAPage {
		list = list[:paymentsAPage]
		p.More = fmt.Sprintf("/books/payments?before=%d", list[len(list)-1].ID)
	}
	p.Payments = list
	for _, r := range list {
		if p.Names[r.Payment.Customer] != "" {
			continue
		}
		f, err := v.desk.CustomerFile(v.ctx(), v.actor, r.Payment.Customer)
		if err != nil {
			return nil, err
		}
		p.Names[r.Payment.Customer] = f.Customer.Name
	}
	p.Bank = Field{Name: "amount", Label: "Amount paid in", Keys: "decimal", Unit: "$", Short: true}
	p.BankDay = Field{Name: "day", Label: "When", Optional: true, Short: true, Help: "Empty is today."}
	p.BankRef = Field{Name: "reference", Label: "Deposit slip", Optional: true}
	if !p.Accounts {
		return p, nil
	}
	trial, err := v.desk.TrialBalance(v.ctx(), v.actor, v.desk.Now())
	if err != nil {
		return nil, err
	}
	for _, row := range trial.Rows {
		if row.Account == books.Undeposited {
			p.Drawer, p.Bank.Value = row.Debit.Format(), row.Debit.Plain()
		}
	}
	return p, nil
}

func showPayments(v *visit) error {
	p, err := v.loadPayments()
	if err != nil {
		return err
	}
	return v.show(p)
}

func doPayIn(v *visit) error {
	p, err := v.loadPayments()
	if err != nil {
		return err
	}
	seller, _, err := v.desk.Seller(v.ctx())
	if err != nil {
		return err
	}
	amount, day, ref := v.amount(&p.Bank, seller.Currency), v.day(&p.BankDay), v.text(&p.BankRef)
	if err := v.wrongs(); err != nil {
		return v.again(p, err)
	}
	if err := v.desk.PayIn(v.ctx(), v.actor, amount, day, ref); err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying("/books/payments", amount.Format()+" paid in at the bank.")
}

// paymentPage is one payment with what became of it.
type paymentPage struct {
	Base
	File     desk.PaymentFile
	Returned bool
	Banked   Field
	Accounts bool
}

func (paymentPage) file() string { return "payment" }

func (v *visit) loadPayment() (*paymentPage, error) {
	id, err := v.id("id")
	if err != nil {
		return nil, err
	}
	f, err := v.desk.PaymentFile(v.ctx(), v.actor, id)
	if err != nil {
		return nil, err
	}
	p := &paymentPage{Base: v.booksBase("Payment "+f.Payment.Payment.Number, "Payments"), File: f, Accounts: v.actor.Role != party.Counter}
	p.Block = Block{Thing: "Payment", Number: f.Payment.Payment.Number, Date: f.Payment.Payment.Day.Format("2006-01-02"), By: f.Payment.By}
	p.Banked = Field{Name: "banked", Label: "It had been paid in at the bank", Kind: "checkbox", Optional: true, Checked: true}
	for _, c := range f.Changes {
		p.Returned = p.Returned || (c.What == "returned")
	}
	return p, nil
}

func showPayment(v *visit) error {
	p, err := v.loadPayment()
	if err != nil {
		return err
	}
	return v.show(p)
}

func doReturnCheck(v *visit) error {
	p, err := v.loadPayment()
	if err != nil {
		return err
	}
	if _, err := v.desk.ReturnCheck(v.ctx(), v.actor, p.File.Payment.ID, v.yes(&p.Banked), v.day(&Field{Name: "day", Optional: true})); err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying("/books/payments/"+strconv.FormatInt(p.File.Payment.ID, 10), "Taken back: what it paid is owed again.")
}

// orderMoney is the money side of an order on its page, for staff.
type orderMoney struct {
	desk.OrderMoney
	Form    paymentForm
	Deposit bool // may be taken now
	Keeps   bool // keeps the books
}

// moneyOf reads the money side of an order for staff who deal with money; nil
// for the others.
func (v *visit) moneyOf(p *orderPage) error {
	if !p.Base.isOffice(v.actor) {
		return nil
	}
	m, err := v.desk.OrderMoney(v.ctx(), v.actor, p.File.Order.ID)
	if err != nil {
		return err
	}
	o := p.File.Order
	p.Money = &orderMoney{OrderMoney: m, Form: newPaymentForm(nil), Deposit: o.State.Reached("accepted") && o.State.Open(), Keeps: v.actor.Role != party.Counter}
	if m.Paid.IsZero() && len(m.Invoices) == 0 {
		p.Money.Form.Amount.Value = o.Charged().Deposit.Plain()
	}
	return nil
}

func (*Base) isOffice(a party.Actor) bool {
	return a.Role == party.Owner || a.Role == party.Counter || a.Role == party.Bookkeeper
}

func doDeposit(v *visit) error {
	p, err := v.loadOrder()
	if err != nil {
		return err
	}
	m, err := v.readPayment(&p.Money.Form)
	if err != nil {
		return v.again(p, err)
	}
	m.OrderID = p.File.Order.ID
	r, err := v.desk.TakeDeposit(v.ctx(), v.actor, m)
	if err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying(recordPath("order", p.File.Order.ID), fmt.Sprintf("Deposit %s of %s taken.", r.Payment.Payment.Number, r.Payment.Payment.Amount.Format()))
}

func doCloseOrder(v *visit) error {
	p, err := v.loadOrder()
	if err != nil {
		return err
	}
	if _, err := v.desk.CloseOrder(v.ctx(), v.actor, p.File.Order.ID); err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying(recordPath("order", p.File.Order.ID), "Closed.")
}
