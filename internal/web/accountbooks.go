package web

import (
	"fmt"
	"html/template"
	"strconv"
	"time"

	"ribdesk/internal/books"
	"ribdesk/internal/desk"
	"ribdesk/internal/money"
	"ribdesk/internal/party"
	"ribdesk/internal/words"
)

// accountPage is one customer's side of the books; customers see their own.
type accountPage struct {
	Base
	A            desk.Account
	Wide, Narrow template.HTML
	Own          bool // seen by the customer
	ToPay        money.Amount

	Doing                        string // the form that was sent, shown open again when it is refused
	Pay                          paymentForm
	Agreed, YearRate, Grace      Field
	Credit, UseAmount, UseMethod Field
	UseReason, What, ApplyTo     Field
	UseDay                       Field
	Off, OffAmount, OffReason    Field
	AsOf                         Field
}

func (accountPage) file() string { return "account" }

func (v *visit) loadAccount(id int64) (*accountPage, error) {
	a, err := v.desk.Account(v.ctx(), v.actor, id)
	if err != nil {
		return nil, err
	}
	own := v.actor.Role == party.Buyer
	p := &accountPage{Base: v.booksBase(a.Customer.Name, ""), A: a, Own: own, ToPay: a.Statement.Balance.Sub(a.Statement.Credit)}
	if own {
		p.Base = Base{Title: words.Key("Your account"), Sheet: "Orders", Tabs: v.ownTabs("Account")}
	}
	p.Block = Block{Thing: "Account", Number: strconv.FormatInt(a.Customer.ID, 10), State: v.reader.Read(a.Customer.Terms)}
	p.Wide, p.Narrow = ageingBars(a.Statement.Ageing, "ageing", 1040, v.reader).SVG(), ageingBars(a.Statement.Ageing, "ageing-phone", 312, v.reader).SVG()
	p.Pay = newPaymentForm(a.Owed)
	p.Agreed = Field{Name: "agreed", Label: "Agreed on", Value: usDay(a.Finance.AgreedOn), Optional: true, Short: true, Help: "The day the customer signed it. Empty: nothing is agreed, and nothing is charged. Local law limits it."}
	p.YearRate = Field{Name: "rate", Label: "A year", Value: percentOf(a.Finance.YearRate), Unit: "%", Keys: "decimal", Optional: true, Short: true}
	p.Grace = Field{Name: "grace_days", Label: "Free days past due", Value: strconv.Itoa(a.Finance.GraceDays), Unit: "days", Keys: "numeric", Optional: true, Short: true}
	p.AsOf = Field{Name: "as_of", Label: "As of", Optional: true, Short: true, Help: "What was owed on the evening of that day. Empty is today."}
	p.creditFields()
	p.offFields()
	return p, nil
}

// offFields ask what to give up of what isn't an invoice; an invoice has a page
// of its own for that.
func (p *accountPage) offFields() {
	p.Off = Field{Name: "item", Label: "What to give up", Prefix: "off."}
	for _, o := range p.A.Owed {
		if o.InvoiceID == 0 {
			p.Off.Options = append(p.Off.Options, Option{o.Number, fmt.Sprintf("%s, %s, %s open", o.Number, o.Kind, o.Open.Format())})
		}
	}
	p.Off.onlyOne()
	p.OffAmount = Field{Name: "amount", Label: "Amount", Keys: "decimal", Unit: "$", Short: true, Prefix: "off."}
	p.OffReason = Field{Name: "reason", Label: "Reason", Prefix: "off."}
}

func (p *accountPage) creditFields() {
	p.Credit = Field{Name: "credit", Label: "Credit"}
	for _, c := range p.A.Credits {
		p.Credit.Options = append(p.Credit.Options, Option{c.Number, fmt.Sprintf("%s, %s, %s open", c.Number, c.Kind, c.Open.Format())})
	}
	p.Credit.onlyOne()
	p.What = Field{Name: "what", Label: "What to do with it", Options: []Option{{"apply", "Pay what is owed"}, {"refund", "Pay it back"}, {"keep", "Keep the deposit"}, {"recover", "Against bad debt"}}}
	p.UseAmount = Field{Name: "amount", Label: "Amount", Keys: "decimal", Unit: "$", Optional: true, Help: "Empty pays what is owed as far as it reaches.", Prefix: "use."}
	p.UseMethod = Field{Name: "method", Label: "Paid back by", Options: methods, Optional: true, Prefix: "use."}
	p.UseReason = Field{Name: "reason", Label: "Reason", Optional: true, Prefix: "use."}
	p.UseDay = Field{Name: "day", Label: "When", Optional: true, Short: true, Help: "Empty is today.", Prefix: "use."}
	p.ApplyTo = itemChoice(p.A.Owed, "use.")
}

// onlyOne chooses what there is no choice about.
func (f *Field) onlyOne() {
	if len(f.Options) == 1 {
		f.Value = f.Options[0].Value
	}
}

func usDay(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format("1/2/2006")
}

func percentOf(r money.Rate) string {
	if r.IsZero() {
		return ""
	}
	return r.Percent()
}

// ownTabs lead a customer between their orders and their account.
func (v *visit) ownTabs(here string) []Link {
	return open(v.actor.Role, []Link{{Name: words.Key("Orders"), Path: "/orders"}, {Name: words.Key("Account"), Path: "/account/books"}}, here)
}

func showOwnAccount(v *visit) error {
	p, err := v.loadAccount(v.actor.CustomerID)
	if err != nil {
		return err
	}
	return v.show(p)
}

func showAccount(v *visit) error {
	p, err := v.accountAt()
	if err != nil {
		return err
	}
	return v.show(p)
}

func (v *visit) accountAt() (*accountPage, error) {
	id, err := v.id("id")
	if err != nil {
		return nil, err
	}
	return v.loadAccount(id)
}

func accountPath(id int64) string { return "/books/customers/" + strconv.FormatInt(id, 10) }

// onAccount does something with a customer's account and comes back to it; doing
// names the form.
func (v *visit) onAccount(doing string, do func(*accountPage) (string, error)) error {
	p, err := v.accountAt()
	if err != nil {
		return err
	}
	p.Doing = doing
	said, err := do(p)
	if err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying(accountPath(p.A.Customer.ID), said)
}

func doStatement(v *visit) error {
	p, err := v.accountAt()
	if err != nil {
		return err
	}
	asOf := v.day(&p.AsOf)
	if err := v.wrongs(); err != nil {
		return v.again(p, err)
	}
	paper, err := v.desk.IssueStatement(v.ctx(), v.actor, p.A.Customer.ID, asOf)
	if err != nil {
		return v.again(p, err)
	}
	return v.redirect("/papers/" + strconv.FormatInt(paper.ID, 10))
}

// doLetOff gives up part of a finance charge, a fee or a released retention.
func doLetOff(v *visit) error {
	return v.onAccount("off", func(p *accountPage) (string, error) {
		seller, _, err := v.desk.Seller(v.ctx())
		if err != nil {
			return "", err
		}
		item, amount, reason := v.choice(&p.Off), v.amount(&p.OffAmount, seller.Currency), v.text(&p.OffReason)
		if err := v.wrongs(); err != nil {
			return "", err
		}
		_, err = v.desk.WriteOff(v.ctx(), v.actor, item, amount, reason)
		return fmt.Sprintf("%s of %s given up.", amount.Format(), item), err
	})
}

func doFinanceTerms(v *visit) error {
	return v.onAccount("finance", func(p *accountPage) (string, error) {
		terms := books.FinanceTerms{AgreedOn: v.day(&p.Agreed), YearRate: v.percent(&p.YearRate), GraceDays: v.whole(&p.Grace)}
		if err := v.wrongs(); err != nil {
			return "", err
		}
		return "Kept.", v.desk.SetFinanceTerms(v.ctx(), v.actor, p.A.Customer.ID, terms)
	})
}

func doFinanceCharge(v *visit) error {
	return v.onAccount("finance", func(p *accountPage) (string, error) {
		it, lines, err := v.desk.ChargeFinance(v.ctx(), v.actor, p.A.Customer.ID)
		if err != nil {
			return "", err
		}
		items := "1 late item"
		if len(lines) != 1 {
			items = fmt.Sprintf("%d late items", len(lines))
		}
		return fmt.Sprintf("Charged %s on %s as %s.", it.Open.Format(), items, it.Number), nil
	})
}

// doUseCredit pays with, pays back or keeps what a customer has to their good.
func doUseCredit(v *visit) error {
	return v.onAccount("use", func(p *accountPage) (string, error) {
		seller, _, err := v.desk.Seller(v.ctx())
		if err != nil {
			return "", err
		}
		use := desk.CreditUse{Credit: v.choice(&p.Credit), Amount: v.amount(&p.UseAmount, seller.Currency), Method: books.Method(v.choice(&p.UseMethod)), Reason: v.text(&p.UseReason), Day: v.day(&p.UseDay)}
		what, to := v.choice(&p.What), v.choice(&p.ApplyTo)
		if err := v.wrongs(); err != nil {
			return "", err
		}
		switch what {
		case "apply":
			r, err := v.desk.ApplyCredit(v.ctx(), v.actor, use, listed(to))
			return appliedWord(use.Credit, r), err
		case "refund":
			_, err = v.desk.Refund(v.ctx(), v.actor, use)
		case "keep":
			_, err = v.desk.KeepDeposit(v.ctx(), v.actor, use)
		default:
			_, err = v.desk.Recover(v.ctx(), v.actor, use)
		}
		return "Booked " + use.Amount.Format() + " of " + use.Credit + ".", err
	})
}

func appliedWord(credit string, r desk.Received) string {
	said := credit
	for i, a := range r.Applied {
		said += []string{" paid ", ", "}[min(i, 1)] + a.Item + " with " + a.Amount.Format()
	}
	return said + "; " + r.Left.Open.Format() + " of it is left."
}

func listed(number string) []string {
	if number == "" {
		return nil
	}
	return []string{number}
}
