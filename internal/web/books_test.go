package web_test

import (
	"bytes"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"testing"

	"ribdesk/internal/books"
	"ribdesk/internal/desk"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/web/webtest"
)

// handedOver takes shelf goods of a customer all the way to the hand-over.
func handedOver(t *testing.T, site *webtest.Site, customer int64) order.Order {
	t.Helper()
	ctx := t.Context()
	o, err := site.Desk.TakeOrder(ctx, site.Owner, order.Order{CustomerID: customer, Fulfil: order.PickUp, Contact: order.Contact{Name: "Wren Sparrow"},
		Lines: []order.Line{{Kind: order.Accessory, Code: "SEALANT", Count: 30}}})
	if err != nil {
		t.Fatal(err)
	}
	q, err := site.Desk.QuoteOrder(ctx, site.Owner, o.ID, o.Version, nil)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := site.Desk.AcceptOrder(ctx, site.Owner, q.Order.ID, 0, desk.Yes{Name: "Wren", Consent: true, Method: "counter"}); err != nil {
		t.Fatal(err)
	}
	if _, err := site.Desk.PickFromShelf(ctx, site.Owner, o.ID); err != nil {
		t.Fatal(err)
	}
	f, err := site.Desk.OrderFile(ctx, site.Owner, o.ID)
	if err != nil {
		t.Fatal(err)
	}
	for _, b := range f.Bundles {
		if _, err := site.Desk.CheckOff(ctx, site.Owner, o.ID, b.Code); err != nil {
			t.Fatal(err)
		}
	}
	if o, err = site.Desk.PickUp(ctx, site.Owner, o.ID, desk.HandOver{Key: "k" + o.Number, Receiver: "Wren"}); err != nil {
		t.Fatal(err)
	}
	return o
}

// The bookkeeper invoices, takes a check, credits and closes, on the pages alone.
func TestBooksOnThePages(t *testing.T) {
	site := webtest.Furnished(t)
	o := handedOver(t, site, 1)
	keeper := site.As(t, party.Bookkeeper)
	keeper.Get("/books").Want(http.StatusOK)
	review := keeper.Get("/books/invoices/new?order=" + strconv.FormatInt(o.ID, 10)).Want(http.StatusOK)
	keeper.Submit(review, "#issue", nil).WantRedirect("/books/invoices/1")
	page := keeper.Get("/books/invoices/1").Want(http.StatusOK)
	if text := page.Text("main"); !strings.Contains(text, "INV-00001") || !strings.Contains(text, "Exchange file") {
		t.Errorf("the invoice's page: %s", text)
	}
	for _, a := range page.All("a.button") {
		if href := webtest.Attr(a, "href"); strings.HasPrefix(href, "/papers/") {
			paper := keeper.Get(href).Want(http.StatusOK)
			kind := paper.Header.Get("Content-Type")
			if !bytes.HasPrefix(paper.Body, []byte("%PDF")) && !strings.HasPrefix(kind, "application/xml") {
				t.Errorf("%s is %s", href, kind)
			}
		}
	}
	wrong := keeper.Submit(page, "form[action=/books/invoices/1/credit]", url.Values{"quantity.0": {"31"}, "reason": {"x"}})
	if wrong.Want(http.StatusUnprocessableEntity); !strings.Contains(wrong.Text("main"), "are left to credit") {
		t.Errorf("too much credited: %s", wrong.Text("main"))
	}
	keeper.Submit(page, "form[action=/books/invoices/1/credit]", url.Values{"quantity.0": {"2"}, "reason": {"two leaked"}}).WantRedirect("/books/invoices/1")
	account := keeper.Get("/books/customers/1").Want(http.StatusOK)
	lost := keeper.Submit(account, "#payment", url.Values{"amount": {"12.345"}, "method": {"check"}, "reference": {"check 7"}})
	if lost.Want(http.StatusUnprocessableEntity); webtest.Attr(lost.One("#payment [name=reference]"), "value") != "check 7" {
		t.Error("what was typed is lost")
	}
	keeper.Submit(account, "#payment", url.Values{"amount": {"5000"}, "method": {"check"}, "reference": {"check 7"}}).WantRedirect("/books/customers/1")
	if f, err := site.Desk.OrderFile(t.Context(), site.Owner, o.ID); err != nil || f.Order.State != order.Closed {
		t.Errorf("the paid order is %s: %v", f.Order.State, err)
	}
	for _, path := range []string{"/books/invoices", "/books/payments", "/books/payments/1", "/books/journal", "/books/trial", "/books/habits", "/orders/" + strconv.FormatInt(o.ID, 10)} {
		keeper.Get(path).Want(http.StatusOK)
	}
	sheet := keeper.Get("/books/journal.csv").Want(http.StatusOK)
	if !bytes.HasPrefix(sheet.Body, []byte("date,entry,account")) {
		t.Errorf("the journal's file begins %.40s", sheet.Body)
	}
}

// A customer sees their own account and invoices, and nobody else's.
func TestCustomersSeeTheirOwnBooks(t *testing.T) {
	site := webtest.Furnished(t)
	theirs, others := handedOver(t, site, 1), handedOver(t, site, 3)
	for _, o := range []order.Order{theirs, others} {
		if _, err := site.Desk.IssueInvoice(t.Context(), site.Owner, desk.InvoiceAsk{OrderID: o.ID}); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := site.Desk.RecordPayment(t.Context(), site.Owner, desk.MoneyIn{CustomerID: 3, Amount: money.Cents(77_77, money.USD), Method: books.ByCash}); err != nil {
		t.Fatal(err)
	}
	buyer := site.As(t, party.Buyer)
	own := buyer.Get("/account/books").Want(http.StatusOK).Text("main")
	if !strings.Contains(own, "INV-00001") || strings.Contains(own, "INV-00002") || strings.Contains(own, "77.77") {
		t.Errorf("the customer's account shows: %s", own)
	}
	buyer.Get("/books/invoices/1").Want(http.StatusOK)
	buyer.Get("/books/invoices/2").Want(http.StatusNotFound)
	buyer.Get("/books/customers/3").Want(http.StatusForbidden)
	buyer.Get("/books").Want(http.StatusForbidden)
}
