package web_test

import (
	"strconv"
	"testing"
	"time"

	"ribdesk/internal/books"
	"ribdesk/internal/desk"
	"ribdesk/internal/money"
	"ribdesk/internal/party"
	"ribdesk/internal/web/browsertest"
	"ribdesk/internal/web/webtest"
)

// The Books sheets fit phone and desk, and axe finds nothing on them.
func TestLookOfTheBooks(t *testing.T) {
	t.Parallel()
	site := webtest.Furnished(t)
	late, fresh := handedOver(t, site, 3), handedOver(t, site, 1)
	if _, err := site.Desk.IssueInvoice(t.Context(), site.Owner, desk.InvoiceAsk{OrderID: late.ID}); err != nil {
		t.Fatal(err)
	}
	if _, err := site.Desk.RecordPayment(t.Context(), site.Owner, desk.MoneyIn{CustomerID: 3, Amount: money.Cents(50_00, money.USD), Method: books.ByCheck, Reference: "check 12"}); err != nil {
		t.Fatal(err)
	}
	site.Pass(50 * 24 * time.Hour)
	b := browsertest.Start(t, site)
	b.As(party.Bookkeeper)
	for _, page := range [][2]string{
		{"books", "/books"}, {"invoices", "/books/invoices"}, {"invoice", "/books/invoices/1"}, {"invoice-draft", "/books/invoices/new?order=" + strconv.FormatInt(fresh.ID, 10)},
		{"account", "/books/customers/3"}, {"payments", "/books/payments"}, {"payment", "/books/payments/1"},
		{"journal", "/books/journal"}, {"trial", "/books/trial"}, {"habits", "/books/habits"}, {"order-money", "/orders/" + strconv.FormatInt(late.ID, 10)},
	} {
		b.Look(page[0], page[1])
	}
}
