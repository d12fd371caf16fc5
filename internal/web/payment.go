package web

import (
	"fmt"
	"strconv"

	"ribdesk/internal/books"
	"ribdesk/internal/desk"
	"ribdesk/internal/money"
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
	return v.onAccount("pay", func(p *accountPage) (string, error) {
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
	Back     map[string]string // payments that were taken back, and why
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
	if p.Back, err = v.desk.ReturnedPayments(v.ctx(), v.actor); err != nil {
		return nil, err
	}
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
	Returned string // how it was taken back; "" when it stands
	Accounts bool
	Back     returnForm
}

func (paymentPage) file() string { return "payment" }

// returnForm takes a payment back.
type returnForm struct {
	Why, Banked, Fee, Day Field
	AsksBanked            bool // a transfer is in the bank at once
}

const (
	bankReturned = "returned"
	enteredWrong = "mistake"
)

func newReturnForm(by books.Method, banked bool, fee money.Amount) returnForm {
	f := returnForm{
		Why:        Field{Name: "why", Label: "What happened", Options: []Option{{bankReturned, "The bank returned it unpaid"}, {enteredWrong, "It was entered wrongly"}}},
		Banked:     Field{Name: "banked", Label: "It had been paid in at the bank", Kind: "checkbox", Optional: true, Checked: banked},
		Fee:        Field{Name: "fee", Label: "Fee for it", Unit: "$", Keys: "decimal", Optional: true, Short: true, Help: "Only what the customer agreed to or was told; local law limits it. Empty charges none."},
		Day:        Field{Name: "day", Label: "When", Optional: true, Short: true, Help: "Empty is today.", Prefix: "back."},
		AsksBanked: by != books.ByTransfer,
	}
	if by == books.ByCash {
		f.Why.Options = f.Why.Options[1:]
		f.Why.Value = enteredWrong
	} else if fee.Sign() > 0 {
		f.Fee.Value = fee.Plain()
	}
	return f
}

func (v *visit) loadPayment() (*paymentPage, error) {
	id, err := v.id("id")
	if err != nil {
		return nil, err
	}
	f, err := v.desk.PaymentFile(v.ctx(), v.actor, id)
	if err != nil {
		return nil, err
	}
	rules, _, err := v.desk.BooksRules(v.ctx())
	if err != nil {
		return nil, err
	}
	paid := f.Payment.Payment
	p := &paymentPage{Base: v.booksBase("Payment "+paid.Number, "Payments"), File: f, Accounts: v.actor.Role != party.Counter}
	p.Block = Block{Thing: "Payment", Number: paid.Number, Date: paid.Day.Format("2006-01-02"), By: f.Payment.By}
	p.Back = newReturnForm(paid.Method, f.Banked, rules.ReturnFee)
	for _, c := range f.Changes {
		if c.What == desk.TakenBack && c.Item == "" {
			p.Returned = c.Note
		}
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

func doReturnPayment(v *visit) error {
	p, err := v.loadPayment()
	if err != nil {
		return err
	}
	paid := p.File.Payment
	ask := desk.ReturnAsk{PaymentID: paid.ID, Mistake: v.choice(&p.Back.Why) == enteredWrong, Banked: v.yes(&p.Back.Banked),
		Fee: v.amount(&p.Back.Fee, paid.Payment.Amount.Currency()), Day: v.day(&p.Back.Day)}
	if ask.Mistake { // the usual fee stood there before anybody chose
		ask.Fee = money.Cents(0, paid.Payment.Amount.Currency())
	}
	if err := v.wrongs(); err != nil {
		return v.again(p, err)
	}
	back, err := v.desk.ReturnPayment(v.ctx(), v.actor, ask)
	if err != nil {
		return v.again(p, err)
	}
	said := "Taken back: what it paid is owed again."
	if back.Fee.Number != "" {
		said = fmt.Sprintf("Taken back: what it paid is owed again, and the fee of %s as %s.", back.Fee.Original.Format(), back.Fee.Number)
	}
	return v.redirectSaying("/books/payments/"+strconv.FormatInt(paid.ID, 10), said)
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
