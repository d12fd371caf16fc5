package web

import (
	"fmt"
	"strconv"

	"ribdesk/internal/books"
	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/words"
)

// invoicesPage lists issued invoices.
type invoicesPage struct {
	Base
	Invoices []desk.InvoiceRow
	More     string
}

func (invoicesPage) file() string { return "invoices" }

const invoicesAPage = 50

func showInvoices(v *visit) error {
	before, _ := strconv.ParseInt(v.query("before"), 10, 64)
	list, err := v.desk.Invoices(v.ctx(), v.actor, desk.BooksFilter{Before: max(before, 0), Limit: invoicesAPage + 1})
	if err != nil {
		return err
	}
	p := &invoicesPage{Base: v.booksBase("Invoices", "Invoices")}
	if len(list) > invoicesAPage {
		list = list[:invoicesAPage]
		p.More = fmt.Sprintf("/books/invoices?before=%d", list[len(list)-1].ID)
	}
	p.Invoices = list
	return v.show(p)
}

// draftPage shows an invoice before it is issued.
type draftPage struct {
	Base
	View   desk.InvoiceView
	Inv    books.Invoice
	Retain Field
	Shown  string // the share held back that the figures were worked out with
	Look   string // asks to look again, after the share was changed
}

func (draftPage) file() string { return "invoice-draft" }

func (v *visit) loadDraft(ask desk.InvoiceAsk) (*draftPage, error) {
	view, err := v.desk.PreviewInvoice(v.ctx(), v.actor, ask)
	if err != nil {
		return nil, err
	}
	p := &draftPage{Base: v.booksBase("Invoice order "+view.Order.Number, "Owed"), View: view, Inv: view.Invoice, Shown: percentOf(ask.Retain)}
	p.Block = Block{Thing: "Invoice, not issued", Number: "given when issued", State: "review"}
	p.Retain = Field{Name: "retain", Label: "Held back by agreement", Value: p.Shown, Unit: "%", Keys: "decimal", Optional: true, Short: true, Help: "A share of the total that is payable only when it is released."}
	return p, nil
}

func showInvoiceDraft(v *visit) error {
	orderID, err := strconv.ParseInt(v.query("order"), 10, 64)
	if err != nil {
		return fault.NotFoundf("choose an order to invoice")
	}
	p, err := v.loadDraft(desk.InvoiceAsk{OrderID: orderID})
	if err != nil {
		return err
	}
	return v.show(p)
}

// doIssueInvoice issues what was looked at: another share held back than the one
// on the page is shown first.
func doIssueInvoice(v *visit) error {
	ask := desk.InvoiceAsk{OrderID: v.number("order")}
	p, err := v.loadDraft(ask)
	if err != nil {
		return err
	}
	ask.Retain = v.percent(&p.Retain)
	if err := v.wrongs(); err != nil {
		return v.again(p, err)
	}
	with, err := v.loadDraft(ask)
	if err != nil {
		return v.again(p, err)
	}
	p = with
	if v.c.PostForm("step") == "show" || v.c.PostForm("shown") != p.Shown {
		p.Look = "Nothing is issued yet: these are the figures with what is held back."
		return v.show(p)
	}
	ask.Seen = v.number("version")
	bill, err := v.desk.IssueInvoice(v.ctx(), v.actor, ask)
	if err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying(invoicePath(bill.ID), fmt.Sprintf("%s issued, due %s.", bill.Invoice.Number, bill.Invoice.Due.Format("January 2, 2006")))
}

func invoicePath(id int64) string { return "/books/invoices/" + strconv.FormatInt(id, 10) }

// invoicePage is one invoice with what became of it.
type invoicePage struct {
	Base
	File  desk.InvoiceRecord
	Inv   books.Invoice
	Own   bool // seen by the customer
	Keeps bool // keeps the books
	Paper order.Paper
	XML   order.Paper
	Memo  memoForm
	Doing string // the form that was sent, shown open again when it is refused

	OffAmount, OffReason Field
	Release              Field
	ReleaseDue           Field
}

func (invoicePage) file() string { return "invoice" }

func (v *visit) loadInvoice() (*invoicePage, error) {
	id, err := v.id("id")
	if err != nil {
		return nil, err
	}
	f, err := v.desk.InvoiceRecord(v.ctx(), v.actor, id)
	if err != nil {
		return nil, err
	}
	inv := f.Bill.Invoice
	p := &invoicePage{Base: v.booksBase("Invoice "+inv.Number, "Invoices"), File: f, Inv: inv, Own: v.actor.Role == party.Buyer}
	p.Keeps = v.actor.Role == party.Owner || v.actor.Role == party.Bookkeeper
	if p.Own {
		p.Base = Base{Title: v.reader.T("Invoice %s", inv.Number), Sheet: "Orders", Tabs: v.ownTabs("Account")}
	}
	p.Block = Block{Thing: words.Key("Invoice"), Number: inv.Number, State: p.state(), Date: inv.Issued.Format("2006-01-02"), By: f.Bill.By}
	for _, paper := range f.Papers {
		if paper.Number != inv.Number {
			continue
		}
		if desk.IsExchangeFile(paper) {
			p.XML = paper
		} else {
			p.Paper = paper
		}
	}
	p.formFields()
	return p, nil
}

func (p *invoicePage) state() string {
	switch {
	case p.File.Item.Open.IsZero() && p.File.Held.Sign() > 0:
		return words.Key("paid, part held back")
	case p.File.Item.Open.IsZero():
		return words.Key("settled")
	case p.File.Item.Open.Cmp(p.File.Item.Original) < 0:
		return words.Key("part paid")
	}
	return words.Key("open")
}

func (p *invoicePage) formFields() {
	p.Memo = newMemoForm(p.File)
	p.OffAmount = Field{Name: "amount", Label: "Amount", Keys: "decimal", Unit: "$", Short: true, Value: p.File.Item.Open.Plain(), Prefix: "off."}
	p.OffReason = Field{Name: "reason", Label: "Reason", Prefix: "off."}
	p.Release = Field{Name: "amount", Label: "Amount", Keys: "decimal", Unit: "$", Short: true, Value: p.File.Held.Plain(), Prefix: "release."}
	p.ReleaseDue = Field{Name: "due", Label: "Due on", Short: true, Optional: true, Help: "Empty goes by the invoice's terms.", Prefix: "release."}
}

func showInvoice(v *visit) error {
	p, err := v.loadInvoice()
	if err != nil {
		return err
	}
	return v.show(p)
}

// onInvoice does something with an invoice and comes back to it; doing names the
// form.
func (v *visit) onInvoice(doing string, do func(*invoicePage) (string, error)) error {
	p, err := v.loadInvoice()
	if err != nil {
		return err
	}
	p.Doing = doing
	said, err := do(p)
	if err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying(invoicePath(p.File.Bill.ID), said)
}

func doWriteOff(v *visit) error {
	return v.onInvoice("off", func(p *invoicePage) (string, error) {
		amount, reason := v.amount(&p.OffAmount, p.Inv.Currency), v.text(&p.OffReason)
		if err := v.wrongs(); err != nil {
			return "", err
		}
		_, err := v.desk.WriteOff(v.ctx(), v.actor, p.Inv.Number, amount, reason)
		return "Written off " + amount.Format() + ".", err
	})
}

func doRelease(v *visit) error {
	return v.onInvoice("release", func(p *invoicePage) (string, error) {
		amount, due := v.amount(&p.Release, p.Inv.Currency), v.day(&p.ReleaseDue)
		if err := v.wrongs(); err != nil {
			return "", err
		}
		it, err := v.desk.ReleaseRetention(v.ctx(), v.actor, p.File.Bill.ID, amount, due)
		return fmt.Sprintf("%s is payable as %s.", amount.Format(), it.Number), err
	})
}
