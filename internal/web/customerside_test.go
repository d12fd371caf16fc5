package web_test

import (
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"ribdesk/internal/desk"
	"ribdesk/internal/measure"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/web"
	"ribdesk/internal/web/webtest"
)

// quoteFor takes an order of a customer and quotes it.
func quoteFor(t *testing.T, site *webtest.Site, customer int64, feet int, job string) desk.Quoted {
	t.Helper()
	clerk := site.Person(t, party.Counter).Actor()
	o, err := site.Desk.TakeOrder(t.Context(), clerk, order.Order{
		CustomerID: customer, Fulfil: order.PickUp, Job: job, Contact: order.Contact{Name: "Wren Sparrow", Phone: "555 0160"},
		Lines: []order.Line{{Kind: order.Formed, Code: "SEAM16", Material: "AZ50", Gauge: "24 ga", Colour: "CHAR", Cuts: []order.CutItem{{Qty: 4, Length: measure.Foot.Times(feet)}}}},
	})
	if err != nil {
		t.Fatal(err)
	}
	q, err := site.Desk.QuoteOrder(t.Context(), clerk, o.ID, o.Version, nil)
	if err != nil {
		t.Fatal(err)
	}
	return q
}

// mine and theirs are customers of the furnished shop; the site's Buyer buys for
// the first.
const (
	mine   = 1
	theirs = 3
)

// A customer's person on every route that names a record, with the ids of
// another firm's order, paper, site and certificate: nothing of it comes back.
func TestOneCustomerNeverSeesAnother(t *testing.T) {
	site := webtest.Furnished(t)
	q := quoteFor(t, site, theirs, 22, "Zebra barn")
	if _, err := site.Desk.AcceptOrder(t.Context(), site.Person(t, party.Counter).Actor(), q.Order.ID, 0, desk.Yes{Name: "Wren Sparrow", Consent: true, Method: "counter"}); err != nil {
		t.Fatal(err)
	}
	place, err := site.Desk.SaveSite(t.Context(), site.Owner, party.Site{CustomerID: theirs, Name: "Zebra barn", Address: party.Address{Street: "9 Zebra Rd", City: "Eastfork", State: "OH"}})
	if err != nil {
		t.Fatal(err)
	}
	file, err := site.Desk.OrderFile(t.Context(), site.Owner, q.Order.ID)
	if err != nil {
		t.Fatal(err)
	}
	if len(file.Papers) < 2 {
		t.Fatalf("%d papers of the other firm", len(file.Papers))
	}
	bill, err := site.Desk.IssueInvoice(t.Context(), site.Owner, desk.InvoiceAsk{OrderID: handedOver(t, site, theirs).ID})
	if err != nil {
		t.Fatal(err)
	}
	for _, kind := range []string{"invoice", "invoice-xml"} {
		file.Papers = append(file.Papers, paperOf(t, site, bill.OrderID, kind))
	}
	secrets := regexp.MustCompile(`(?i)zebra|` + bill.Invoice.Number + `|` + regexp.QuoteMeta(file.Order.Customer) + `|` + regexp.QuoteMeta(file.Order.Charged().Total.Format()) + `|%PDF`)
	b := site.As(t, party.Buyer)
	named := regexp.MustCompile(`:\w+`)
	tried := 0
	for _, line := range web.Table() {
		if !strings.Contains(line.Path, ":") || strings.HasPrefix(line.Path, "/static/") {
			continue
		}
		ids := []int64{q.Order.ID, place.ID, theirs, bill.ID, bill.OrderID}
		for _, p := range file.Papers {
			ids = append(ids, p.ID)
		}
		for _, id := range ids {
			path := named.ReplaceAllString(line.Path, fmt.Sprint(id))
			if strings.HasPrefix(line.Path, "/customers/:id/") {
				path = strings.Replace(named.ReplaceAllString(line.Path, fmt.Sprint(id)), "/customers/"+fmt.Sprint(id), fmt.Sprintf("/customers/%d", theirs), 1)
			}
			var page *webtest.Page
			if line.Method == "GET" {
				page = b.Get(path)
			} else {
				page = b.PostForm(path, url.Values{"version": {"1"}, "name": {"Mallory"}, "consent": {"yes"}, "reason": {"mine"}, "why": {"other"}, "message": {"hello"}, "from": {"Mallory"}})
			}
			tried++
			if page.Status != http.StatusForbidden && page.Status != http.StatusNotFound {
				if theirsIsOurs(line.Path, id, []int64{q.Order.ID, bill.OrderID}, bill.ID, file) {
					t.Errorf("%s %s answers %d", line.Method, path, page.Status)
				}
			}
			if leak := secrets.Find(page.Body); leak != nil {
				t.Errorf("%s %s leaks %q", line.Method, path, leak)
			}
		}
	}
	after, err := site.Desk.OrderFile(t.Context(), site.Owner, q.Order.ID)
	if err != nil || after.Order.Version != file.Order.Version || len(after.Messages) != 0 {
		t.Errorf("the other firm's order was touched: version %d, then %d, %d messages, %v", file.Order.Version, after.Order.Version, len(after.Messages), err)
	}
	for _, path := range []string{"/orders", "/orders?q=zebra", "/orders?q=" + q.Order.Number, "/account", "/counter", fmt.Sprintf("/counter?from=%d", q.Order.ID)} {
		if leak := secrets.Find(b.Get(path).Body); leak != nil && !strings.Contains(path, "q=zebra") {
			t.Errorf("%s leaks %q", path, leak)
		}
	}
	t.Logf("%d requests for another firm's records", tried)
}

// theirsIsOurs reports whether an id in a path of orders or papers is really the
// other firm's; the same number may be a record that anybody may see.
func theirsIsOurs(path string, id int64, orders []int64, invoice int64, file desk.OrderFile) bool {
	if strings.HasPrefix(path, "/orders/") {
		return slices.Contains(orders, id)
	}
	if strings.HasPrefix(path, "/books/invoices/") {
		return id == invoice
	}
	if strings.HasPrefix(path, "/papers/") {
		for _, p := range file.Papers {
			if p.ID == id {
				return true
			}
		}
		return false
	}
	return strings.HasPrefix(path, "/customers/") || strings.HasPrefix(path, "/q/")
}

func TestAccountShowsTheFirm(t *testing.T) {
	site := webtest.Furnished(t)
	q := quoteFor(t, site, mine, 20, "Hill house")
	b := site.As(t, party.Buyer)
	before := b.Get("/account").Want(http.StatusOK)
	if got := before.Text("table"); !strings.Contains(got, q.Order.Number) || !strings.Contains(got, "quoted") {
		t.Errorf("orders: %q", got)
	}
	b.Submit(b.Get(fmt.Sprintf("/orders/%d", q.Order.ID)), "#accept", url.Values{"name": {"Wren"}, "consent": {"yes"}}).Want(http.StatusSeeOther)
	page := b.Get("/account")
	if got := page.Text(".facts"); !strings.Contains(got, "Ordered, not delivered "+q.Order.Alone.Total.Format()) {
		t.Errorf("what is committed: %q, the order is %s", got, q.Order.Alone.Total.Format())
	}
	wantNoCosts(t, "account", page.Text("main"))
	// Reorder: one click to the counter, priced; one to the quote.
	counter := b.Get(webtest.Attr(page.One("td a.button"), "href")).Want(http.StatusOK)
	if got := counter.Text("#echo-1 li"); !strings.Contains(got, "4 × 20′") || !strings.Contains(counter.Text("#slip"), "Alone") {
		t.Fatalf("copied as %q", got)
	}
	again := b.Submit(counter, "#ask", url.Values{"do": {"quote"}}).Want(http.StatusSeeOther)
	if !strings.HasPrefix(again.Header.Get("Location"), "/q/") {
		t.Errorf("led to %s", again.Header.Get("Location"))
	}
}

// What a customer's page of an order shows: the customer's papers and states,
// not who did what in the shop.
func TestCustomersPageHoldsNothingOfTheShop(t *testing.T) {
	site := webtest.Furnished(t)
	q := quoteFor(t, site, mine, 20, "")
	clerk := site.Person(t, party.Counter)
	for _, page := range []*webtest.Page{
		site.As(t, party.Buyer).Get(fmt.Sprintf("/orders/%d", q.Order.ID)).Want(http.StatusOK),
		site.As(t, party.Visitor).Get("/q/" + q.Token).Want(http.StatusOK),
	} {
		for _, stranger := range []string{clerk.Name, "promised coil", "run sheet", "What the price is made of"} {
			if strings.Contains(page.Text(".path")+page.Text(".history")+page.Text(".lines")+page.Text("details"), stranger) {
				t.Errorf("%s shows %q", page.Asked, stranger)
			}
		}
		wantNoCosts(t, page.Asked, page.Text("main"))
	}
}

func TestQuestionsOnAQuote(t *testing.T) {
	site := webtest.Furnished(t)
	q := quoteFor(t, site, theirs, 20, "")
	guest, shop := site.As(t, party.Visitor), site.As(t, party.Counter)
	path := "/q/" + q.Token
	form := "[action=" + path + "/messages]"
	guest.Submit(guest.Get(path), form, url.Values{"from": {""}, "message": {""}}).Want(http.StatusUnprocessableEntity)
	guest.Submit(guest.Get(path), form, url.Values{"from": {"Wren <b>"}, "message": {"Is the <script>ridge</script> in it?"}}).WantRedirect(path)
	at := fmt.Sprintf("/orders/%d", q.Order.ID)
	page := shop.Get(at)
	if got := page.Text(".thread"); !strings.Contains(got, "Wren <b>") || !strings.Contains(got, "Is the <script>ridge</script> in it?") {
		t.Errorf("the shop reads %q", got)
	}
	shop.Submit(page, "[action="+at+"/messages]", url.Values{"message": {"Not yet; I can add it."}}).WantRedirect(at)
	if got := guest.Get(path).Text(".thread .ours"); !strings.Contains(got, "I can add it") {
		t.Errorf("the customer reads %q", got)
	}
}

func TestRevisionsSideBySide(t *testing.T) {
	site := webtest.Furnished(t)
	q := quoteFor(t, site, theirs, 20, "")
	b := site.As(t, party.Counter)
	at := fmt.Sprintf("/orders/%d", q.Order.ID)
	b.Submit(b.Get(at), "[action="+at+"/reopen]", nil).WantRedirect(at)
	b.Submit(b.Get(at+"/edit"), "#ask", url.Values{"lines.0.cuts": {"6 @ 20 ft\n2 @ 11 ft"}, "do": {"keep"}}).WantRedirect(at)
	b.Submit(b.Get(at), "#quote", nil).WantRedirect(at)
	got := b.Get(at).Text("[aria-labelledby=revisions-title]")
	for _, want := range []string{"Revision 2", "20′", "4 pieces at", "6 pieces at", "11′", "2 pieces at", "Total " + q.Order.Alone.Total.Format()} {
		if !strings.Contains(got, want) {
			t.Errorf("the difference doesn't say %q: %s", want, got)
		}
	}
	site.As(t, party.Visitor).Get("/q/" + q.Token).Want(http.StatusNotFound) // the first quote's link went with it
}

func TestLinksAreRenewedAndEnd(t *testing.T) {
	site := webtest.Furnished(t)
	q := quoteFor(t, site, theirs, 20, "")
	b, guest := site.As(t, party.Counter), site.As(t, party.Visitor)
	at := fmt.Sprintf("/orders/%d", q.Order.ID)
	b.Submit(b.Get(at), "[action="+at+"/new-link]", nil).WantRedirect(at)
	fresh := regexp.MustCompile(`/q/[\w-]{24}`).FindString(b.Get(at).Text(".notice"))
	guest.Get("/q/" + q.Token).Want(http.StatusNotFound)
	guest.Get(fresh).Want(http.StatusOK)
	b.Submit(b.Get(at), "[action="+at+"/revoke-link]", nil).WantRedirect(at)
	guest.Get(fresh).Want(http.StatusNotFound)

	other := quoteFor(t, site, theirs, 20, "")
	guest.Get("/q/" + other.Token).Want(http.StatusOK)
	site.Pass(8 * 30 * 24 * time.Hour)
	guest.Get("/q/" + other.Token).Want(http.StatusNotFound)
}

func TestInvitation(t *testing.T) {
	site := webtest.Furnished(t)
	b := site.As(t, party.Counter)
	at := fmt.Sprintf("/customers/%d", theirs)
	b.Submit(b.Get(at), "#invite", url.Values{"invite": {"not an address"}}).Want(http.StatusUnprocessableEntity)
	b.Submit(b.Get(at), "#invite", url.Values{"invite": {"finch@example.com"}}).WantRedirect(at)
	link := regexp.MustCompile(`/join/[\w-]{24}`).FindString(b.Get(at).Text(".notice"))
	guest := site.As(t, party.Visitor)
	guest.Submit(guest.Get(link).Want(http.StatusOK), "#join", url.Values{"name": {"Finch"}, "password": {"short"}}).Want(http.StatusUnprocessableEntity)
	guest.Submit(guest.Get(link), "#join", url.Values{"name": {"Finch"}, "password": {webtest.Password}}).WantRedirect("/sign-in")
	guest.Get(link).Want(http.StatusNotFound) // it opens once
	guest.Submit(guest.Get("/sign-in"), "#sign-in", url.Values{"email": {"finch@example.com"}, "password": {webtest.Password}}).WantRedirect("/")
	if got := guest.Get("/account").Want(http.StatusOK).Text("main"); !strings.Contains(got, "finch@example.com") {
		t.Errorf("the account shows %q", got)
	}
	b.Submit(b.Get(at), "#invite", url.Values{"invite": {"late@example.com"}}).WantRedirect(at)
	late := regexp.MustCompile(`/join/[\w-]{24}`).FindString(b.Get(at).Text(".notice"))
	site.Pass(8 * 24 * time.Hour)
	site.As(t, party.Visitor).Get(late).Want(http.StatusNotFound)
}

func TestChangeOfWhatWasAccepted(t *testing.T) {
	site := webtest.Furnished(t)
	q := quoteFor(t, site, theirs, 20, "")
	yes := url.Values{"name": {"Wren"}, "consent": {"yes"}}
	guest, b := site.As(t, party.Visitor), site.As(t, party.Counter)
	guest.Submit(guest.Get("/q/"+q.Token), "#accept", yes).WantRedirect("/q/" + q.Token)
	at := fmt.Sprintf("/orders/%d", q.Order.ID)
	opened := b.Submit(b.Get(at), "[action="+at+"/change]", nil).Want(http.StatusSeeOther).Header.Get("Location")
	b.Submit(b.Get(at), "[action="+at+"/change]", nil).Want(http.StatusConflict) // one change at a time
	second := strings.TrimSuffix(opened, "/edit")
	b.Submit(b.Get(opened), "#ask", url.Values{"lines.0.cuts": {"5 @ 20 ft"}, "do": {"keep"}}).WantRedirect(second)
	if got := b.Get(at).Text(".block"); !strings.Contains(got, "accepted") {
		t.Errorf("the first order is %q before the change is accepted", got)
	}
	b.Submit(b.Get(second), "#quote", nil).WantRedirect(second)
	b.Submit(b.Get(second), "#accept", yes).WantRedirect(second)
	if got := b.Get(at); !strings.Contains(got.Text(".block"), "cancelled") || !strings.Contains(got.Text("main"), "changed by order") {
		t.Errorf("the first order stays %q", got.Text(".block"))
	}
	if got := b.Get(second); !strings.Contains(got.Text(".block"), "accepted") || !strings.Contains(got.Text(".notice"), q.Order.Number) {
		t.Errorf("the change is %q, %q", got.Text(".block"), got.Text(".notice"))
	}
}

func TestDeclinedIsCounted(t *testing.T) {
	site := webtest.Furnished(t)
	guest := site.As(t, party.Visitor)
	for i, why := range []string{"price", "date", "price"} {
		q := quoteFor(t, site, theirs, 20+i, "")
		guest.Submit(guest.Get("/q/"+q.Token), "[action=/q/"+q.Token+"/decline]", url.Values{"why": {why}, "reason": {"asked around"}}).WantRedirect("/q/" + q.Token)
	}
	counts, err := site.Desk.DeclinedBy(t.Context(), site.Owner)
	if err != nil || counts["price"] != 2 || counts["date"] != 1 {
		t.Errorf("%v, %v", counts, err)
	}
	if got := site.As(t, party.Owner).Get("/orders?state=declined").Text(".declined"); !strings.Contains(got, "The price is too high 2") {
		t.Errorf("the list says %q", got)
	}
}

// An order of accessories alone goes from accepted to ready by one button.
func TestPickedFromTheShelf(t *testing.T) {
	site := webtest.Furnished(t)
	b := site.As(t, party.Counter)
	kept := b.Submit(b.Get("/counter"), "#ask", url.Values{"lines.0.make": {"accessory:SEALANT"}, "lines.0.count": {"4"}, "do": {"keep"}}).Want(http.StatusSeeOther)
	at := kept.Header.Get("Location")
	b.Submit(b.Get(at), "#quote", nil).WantRedirect(at)
	b.Submit(b.Get(at), "#accept", url.Values{"name": {"Wren"}, "consent": {"yes"}}).WantRedirect(at)
	b.Submit(b.Get(at), "[action="+at+"/ready]", nil).WantRedirect(at)
	if got := b.Get(at).Text(".block"); !strings.Contains(got, "cut") {
		t.Errorf("the order is %q", got)
	}
}

// paperOf gives the newest paper of a kind that belongs to an order.
func paperOf(t *testing.T, site *webtest.Site, orderID int64, kind string) order.Paper {
	t.Helper()
	f, err := site.Desk.OrderFile(t.Context(), site.Owner, orderID)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range slices.Backward(f.Papers) {
		if p.Kind == kind {
			return p
		}
	}
	t.Fatalf("order %d has no %s", orderID, kind)
	return order.Paper{}
}
