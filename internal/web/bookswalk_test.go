package web_test

import (
	"encoding/csv"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"testing"
	"time"

	"ribdesk/internal/books"
	"ribdesk/internal/desk"
	"ribdesk/internal/money"
	"ribdesk/internal/party"
	"ribdesk/internal/web/webtest"
)

// wrongAt sends a form with one thing wrong in it and wants the message beside
// its field, linked from the top, and everything typed still there.
func wrongAt(t *testing.T, who *webtest.Browser, page *webtest.Page, form string, typed url.Values, field string) {
	t.Helper()
	got := who.Submit(page, form, typed)
	if got.Status != http.StatusUnprocessableEntity && got.Status != http.StatusConflict {
		t.Fatalf("%v: status %d", typed, got.Status)
	}
	if len(got.All("#f-"+field+"-error")) == 0 || len(got.All(".problems a[href=#f-"+field+"]")) == 0 {
		t.Errorf("%v: no message at %s: %s", typed, field, got.Text(".problems"))
	}
	for name, values := range typed {
		for _, in := range got.All(form + " input[name=" + name + "]") {
			if webtest.Attr(in, "value") != strings.TrimSpace(values[0]) {
				t.Errorf("%v: %s is lost", typed, name)
			}
		}
	}
}

// Everything that can be typed wrongly about money is refused at its field.
func TestMoneyMistypedOnThePages(t *testing.T) {
	site := webtest.Furnished(t)
	o := handedOver(t, site, 1)
	keeper := site.As(t, party.Bookkeeper)
	draft := keeper.Get("/books/invoices/new?order=" + strconv.FormatInt(o.ID, 10)).Want(http.StatusOK)
	for _, share := range []string{"100", "-1", "a tenth"} {
		wrongAt(t, keeper, draft, "#issue", url.Values{"retain": {share}}, "retain")
	}
	shown := keeper.Submit(draft, "#issue", url.Values{"retain": {"7.5"}}).Want(http.StatusOK)
	if text := shown.Text("main"); !strings.Contains(text, "Nothing is issued yet") || !strings.Contains(text, "7.5 % of the total") {
		t.Fatalf("what is held back isn't shown before: %s", text)
	}
	keeper.Submit(shown, "#issue", nil).WantRedirect("/books/invoices/1")
	check, err := site.Desk.RecordPayment(t.Context(), site.Owner, desk.MoneyIn{CustomerID: 1, Amount: money.Cents(4321, money.USD), Method: books.ByCheck, Reference: "8"})
	if err != nil {
		t.Fatal(err)
	}
	site.Pass(72 * time.Hour)
	if err := site.Desk.CloseBooks(t.Context(), site.Owner, check.Payment.Payment.Day.AddDate(0, 0, 1)); err != nil {
		t.Fatal(err)
	}
	keeper = site.As(t, party.Bookkeeper)
	closed, future := check.Payment.Payment.Day.Format("1/2/2006"), site.Desk.Now().AddDate(0, 0, 3).Format("1/2/2006")
	invoice := keeper.Get("/books/invoices/1").Want(http.StatusOK)
	account := keeper.Get("/books/customers/1").Want(http.StatusOK)
	payment := keeper.Get("/books/payments/1").Want(http.StatusOK)
	payments := keeper.Get("/books/payments").Want(http.StatusOK)
	trial := keeper.Get("/books/trial").Want(http.StatusOK)
	customer := keeper.Get("/customers/1").Want(http.StatusOK)
	const credit, off, release = "form[action=/books/invoices/1/credit]", "form[action=/books/invoices/1/write-off]", "form[action=/books/invoices/1/release]"
	for _, c := range []struct {
		page  *webtest.Page
		form  string
		typed url.Values
		field string
	}{
		{invoice, credit, url.Values{"quantity.0": {"31"}, "reason": {"x"}}, "quantity-0"},
		{invoice, credit, url.Values{"quantity.0": {"-1"}, "reason": {"x"}}, "quantity-0"},
		{invoice, credit, url.Values{"amount.0": {"-1"}, "reason": {"x"}}, "amount-0"},
		{invoice, credit, url.Values{"amount.0": {"99999"}, "reason": {"x"}}, "amount-0"},
		{invoice, credit, url.Values{"quantity.0": {"1"}, "amount.0": {"1"}, "reason": {"x"}}, "amount-0"},
		{invoice, credit, url.Values{"quantity.0": {"1"}, "reason": {" "}}, "reason"},
		{invoice, credit, url.Values{"reason": {"x"}}, "whole"},
		{invoice, off, url.Values{"amount": {"0"}, "reason": {"gone"}}, "off-amount"},
		{invoice, off, url.Values{"amount": {"99999"}, "reason": {"gone"}}, "off-amount"},
		{invoice, off, url.Values{"amount": {"1"}, "reason": {""}}, "off-reason"},
		{invoice, release, url.Values{"amount": {"99999"}, "due": {future}}, "release-amount"},
		{invoice, release, url.Values{"amount": {"1"}, "due": {closed}}, "release-due"},
		{account, "#payment", url.Values{"amount": {"0"}, "method": {"cash"}}, "amount"},
		{account, "#payment", url.Values{"amount": {"1"}, "method": {"cash"}, "day": {closed}}, "day"},
		{account, "#payment", url.Values{"amount": {"1"}, "method": {"cash"}, "day": {future}}, "day"},
		{account, "#payment", url.Values{"amount": {"1"}, "method": {"cash"}, "day": {"1/1/1926"}}, "day"},
		{account, "form[action=/books/customers/1/statement]", url.Values{"as_of": {future}}, "as-of"},
		{account, "form[action=/books/customers/1/finance-terms]", url.Values{"agreed": {closed}, "rate": {"180"}}, "rate"},
		{payment, "form[action=/books/payments/1/return]", url.Values{"why": {"returned"}, "day": {closed}}, "back-day"},
		{payment, "form[action=/books/payments/1/return]", url.Values{"why": {"returned"}, "fee": {"-1"}}, "fee"},
		{payment, "form[action=/books/payments/1/return]", url.Values{"why": {""}}, "why"},
		{payments, "form[action=/books/bank]", url.Values{"amount": {"50"}}, "amount"},
		{payments, "form[action=/books/bank]", url.Values{"amount": {"1"}, "day": {closed}}, "day"},
		{customer, "form[action=/customers/1]", url.Values{"terms": {"30"}, "discount_days": {"40"}, "discount": {"2"}}, "discount-days"},
		{customer, "form[action=/customers/1]", url.Values{"terms": {"30"}, "discount_days": {"10"}, "discount": {"120"}}, "discount"},
		{customer, "form[action=/customers/1]", url.Values{"terms": {"30"}, "discount_days": {"10"}, "discount": {""}}, "discount"},
		{trial, "#closing", url.Values{"through": {future}}, "close-through"},
		{trial, "#closing", url.Values{"through": {closed}}, "close-through"},
	} {
		wrongAt(t, keeper, c.page, c.form, c.typed, c.field)
	}
}

// A bad check with its fee, what a memo comes to before it is issued, a statement
// of a past day, the journal of one account, and the tax of the month.
func TestBooksWalkedOnThePages(t *testing.T) {
	site := webtest.Furnished(t)
	o := handedOver(t, site, 3)
	bill, err := site.Desk.IssueInvoice(t.Context(), site.Owner, desk.InvoiceAsk{OrderID: o.ID})
	if err != nil {
		t.Fatal(err)
	}
	keeper := site.As(t, party.Bookkeeper)
	habits := keeper.Get("/books/habits").Want(http.StatusOK)
	keeper.Submit(habits, "#habits", url.Values{"return_fee": {"35"}}).WantRedirect("/books/habits")
	keeper.Submit(keeper.Get("/books/customers/3"), "#payment", url.Values{"amount": {"43.21"}, "method": {"check"}, "reference": {"8"}}).WantRedirect("/books/customers/3")
	payment := keeper.Get("/books/payments/1").Want(http.StatusOK)
	if fee := webtest.Attr(payment.One("[name=fee]"), "value"); fee != "35.00" {
		t.Errorf("the usual fee stands at %q", fee)
	}
	if webtest.HasAttr(payment.One("[name=banked]"), "checked") {
		t.Error("nothing was paid in at the bank, but the form says so")
	}
	keeper.Submit(payment, "form[action=/books/payments/1/return]", url.Values{"why": {"returned"}}).WantRedirect("/books/payments/1")
	account := keeper.Get("/books/customers/3").Want(http.StatusOK)
	keeper.Submit(account, "form[action=/books/customers/3/let-off]", url.Values{"amount": {"5.50"}, "reason": {"half our fault"}}).WantRedirect("/books/customers/3")
	if text := keeper.Get("/books/journal?document=BF-00001").Want(http.StatusOK).Text("main"); !strings.Contains(text, "35.00") || !strings.Contains(text, "half our fault") || strings.Contains(text, "43.21") {
		t.Errorf("the fee in the journal: %s", text)
	}
	if text := keeper.Get("/books/journal?account=4210").Want(http.StatusOK).Text("main"); !strings.Contains(text, "5.50 debit, 35.00 credit, which makes -29.50") {
		t.Errorf("the account of fees: %s", text)
	}
	keeper.Get("/books/journal?account=9999").Want(http.StatusUnprocessableEntity)
	invoice := keeper.Get("/books/invoices/1").Want(http.StatusOK)
	shown := keeper.Submit(invoice, "form[action=/books/invoices/1/credit]", url.Values{"quantity.0": {"2"}, "reason": {"two leaked"}, "step": {"show"}}).Want(http.StatusOK)
	if text := shown.Text("main"); !strings.Contains(text, "What it comes to") || strings.Contains(keeper.Get("/books/invoices/1").Text("main"), "CM-00001") {
		t.Errorf("the memo before it is issued: %s", text)
	}
	keeper.Submit(shown, "form[action=/books/invoices/1/credit]", nil).WantRedirect("/books/invoices/1")
	site.Pass(24 * time.Hour)
	keeper = site.As(t, party.Bookkeeper)
	yesterday := site.Desk.Now().AddDate(0, 0, -1).Format("1/2/2006")
	paper := keeper.Submit(keeper.Get("/books/customers/3"), "form[action=/books/customers/3/statement]", url.Values{"as_of": {yesterday}})
	if at := paper.Header.Get("Location"); !strings.HasPrefix(at, "/papers/") {
		t.Errorf("the statement is at %q", at)
	}
	keeper.Get("/books/tax").Want(http.StatusOK)
	keeper.Get("/books/tax?from=2026-12-01&to=2026-01-01").Want(http.StatusUnprocessableEntity)
	file, err := csv.NewReader(strings.NewReader(string(keeper.Get("/books/tax.csv").Want(http.StatusOK).Body))).ReadAll()
	if err != nil || len(file) < 3 {
		t.Fatalf("the tax file: %v %v", file, err)
	}
	sum := money.Cents(0, money.USD)
	for _, row := range file[1:] {
		tax, err := money.Read(row[10], money.USD)
		if err != nil {
			t.Fatal(err)
		}
		sum = sum.Add(tax)
	}
	trial, err := site.Desk.TrialBalance(t.Context(), site.Owner, site.Desk.Now())
	if err != nil {
		t.Fatal(err)
	}
	owed := money.Cents(0, money.USD)
	for _, row := range trial.Rows {
		if strings.HasPrefix(string(row.Account), "2200:") {
			owed = owed.Add(row.Credit)
		}
	}
	if sum.Cmp(owed) != 0 || !sum.Less(bill.Invoice.TaxTotal) {
		t.Errorf("the file tells %s of tax, the journal owes %s, the invoice charged %s", sum, owed, bill.Invoice.TaxTotal)
	}
}
