package web

import (
	"fmt"
	"html/template"
	"strconv"
	"time"

	"ribdesk/internal/books"
	"ribdesk/internal/desk"
	"ribdesk/internal/drawing"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/words"
)

// booksPage is what customers owe: by age, item by item, and what waits to be
// invoiced.
type booksPage struct {
	Base
	R            desk.Receivables
	Total        money.Amount
	Wide, Narrow template.HTML // the ageing, for a desk and for a phone
	Accounts     bool          // may invoice
}

func (booksPage) file() string { return "books" }

// bookTabs are what else is on the Books sheet.
func (v *visit) bookTabs(here string) []Link {
	return open(v.actor.Role, []Link{
		{Name: "Owed", Path: "/books"}, {Name: "Invoices", Path: "/books/invoices"}, {Name: "Payments", Path: "/books/payments"},
		{Name: "Journal", Path: "/books/journal"}, {Name: "Trial balance", Path: "/books/trial"}, {Name: "Habits", Path: "/books/habits"},
	}, here)
}

func (v *visit) booksBase(title, here string) Base {
	return Base{Title: title, Sheet: "Books", Tabs: v.bookTabs(here)}
}

func showBooks(v *visit) error {
	r, err := v.desk.Receivables(v.ctx(), v.actor)
	if err != nil {
		return err
	}
	p := &booksPage{Base: v.booksBase("What is owed", "Owed"), R: r, Accounts: v.actor.Role != party.Counter, Total: r.Ageing.Total()}
	p.Block = Block{Thing: "Receivables by age", State: closedWord(r.Closed)}
	p.Wide, p.Narrow = ageingBars(r.Ageing, "ageing", 1040, v.reader).SVG(), ageingBars(r.Ageing, "ageing-phone", 312, v.reader).SVG()
	return v.show(p)
}

func closedWord(closed time.Time) string {
	if closed.IsZero() {
		return "open"
	}
	return "closed through " + closed.Format("Jan 2, 2006")
}

// ageingBars draws what is open by days past due, all five on one scale; what is
// late is hatched and marked.
func ageingBars(a books.Ageing, id string, width float64, r words.Reader) drawing.Picture {
	bars := drawing.Bars{ID: id, Title: r.T("Receivables by age"), Width: width}
	for i, b := range []struct {
		name string
		sum  money.Amount
	}{{r.T("current"), a.Current}, {r.T("1–30 days"), a.To30}, {"31–60", a.To60}, {"61–90", a.To90}, {r.T("over 90"), a.Over90}} {
		bars.Bars = append(bars.Bars, drawing.Bar{Label: b.name, Figure: b.sum.Format(), Share: b.sum.Rate().Float(), Alert: i > 0 && b.sum.Sign() > 0})
		bars.Desc += fmt.Sprintf("%s: %s. ", b.name, b.sum.Format())
	}
	return bars.Picture()
}

// accountPage is one customer's side of the books; customers see their own.
type accountPage struct {
	Base
	A            desk.Account
	Wide, Narrow template.HTML
	Own          bool // seen by the customer
	ToPay        money.Amount

	Pay                          paymentForm
	Agreed, YearRate, Grace      Field
	Credit, UseAmount, UseMethod Field
	UseReason, What, ApplyTo     Field
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
	p.creditFields()
	return p, nil
}

func (p *accountPage) creditFields() {
	p.Credit = Field{Name: "credit", Label: "Credit"}
	for _, c := range p.A.Credits {
		p.Credit.Options = append(p.Credit.Options, Option{c.Number, fmt.Sprintf("%s, %s, %s open", c.Number, c.Kind, c.Open.Format())})
	}
	p.What = Field{Name: "what", Label: "What to do with it", Options: []Option{{"apply", "Pay what is owed"}, {"refund", "Pay it back"}, {"keep", "Keep the deposit"}, {"recover", "Against bad debt"}}}
	p.UseAmount = Field{Name: "amount", Label: "Amount", Keys: "decimal", Unit: "$", Optional: true, Help: "Not needed for paying what is owed.", Prefix: "use."}
	p.UseMethod = Field{Name: "method", Label: "Paid back by", Options: methods, Optional: true, Prefix: "use."}
	p.UseReason = Field{Name: "reason", Label: "Reason", Optional: true, Prefix: "use."}
	p.ApplyTo = itemChoice(p.A.Owed, "use.")
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

// onAccount does something with a customer's account and comes back to it.
func (v *visit) onAccount(do func(*accountPage) (string, error)) error {
	p, err := v.accountAt()
	if err != nil {
		return err
	}
	said, err := do(p)
	if err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying(accountPath(p.A.Customer.ID), said)
}

func doStatement(v *visit) error {
	id, err := v.id("id")
	if err != nil {
		return err
	}
	paper, err := v.desk.IssueStatement(v.ctx(), v.actor, id)
	if err != nil {
		return err
	}
	return v.redirect("/papers/" + strconv.FormatInt(paper.ID, 10))
}

func doFinanceTerms(v *visit) error {
	return v.onAccount(func(p *accountPage) (string, error) {
		terms := books.FinanceTerms{AgreedOn: v.day(&p.Agreed), YearRate: v.percent(&p.YearRate), GraceDays: v.whole(&p.Grace)}
		if err := v.wrongs(); err != nil {
			return "", err
		}
		return "Kept.", v.desk.SetFinanceTerms(v.ctx(), v.actor, p.A.Customer.ID, terms)
	})
}

func doFinanceCharge(v *visit) error {
	return v.onAccount(func(p *accountPage) (string, error) {
		it, lines, err := v.desk.ChargeFinance(v.ctx(), v.actor, p.A.Customer.ID)
		return fmt.Sprintf("Charged %s on %d late items as %s.", it.Open.Format(), len(lines), it.Number), err
	})
}

// doUseCredit pays with, pays back or keeps what a customer has to their good.
func doUseCredit(v *visit) error {
	return v.onAccount(func(p *accountPage) (string, error) {
		seller, _, err := v.desk.Seller(v.ctx())
		if err != nil {
			return "", err
		}
		use := desk.CreditUse{Credit: v.choice(&p.Credit), Amount: v.amount(&p.UseAmount, seller.Currency), Method: books.Method(v.choice(&p.UseMethod)), Reason: v.text(&p.UseReason)}
		what, to := v.choice(&p.What), v.choice(&p.ApplyTo)
		if err := v.wrongs(); err != nil {
			return "", err
		}
		switch what {
		case "apply":
			r, err := v.desk.ApplyCredit(v.ctx(), v.actor, use.Credit, listed(to), time.Time{})
			return fmt.Sprintf("%s paid %d items; %s of it is left.", use.Credit, len(r.Applied), r.Left.Open.Format()), err
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

func listed(number string) []string {
	if number == "" {
		return nil
	}
	return []string{number}
}

// sendPaper sends an issued document as it was issued, in the browser's own
// view of PDFs; an exchange file is saved.
func (v *visit) sendPaper(p order.Paper) error {
	if desk.IsExchangeFile(p) {
		return v.sendFile("application/xml; charset=utf-8", p.Kind+"-"+p.Number+".xml", false, p.PDF)
	}
	return v.sendFile("application/pdf", p.Kind+"-"+p.Number+".pdf", true, p.PDF)
}
