package web_test

import (
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"ribdesk/internal/desk"
	"ribdesk/internal/party"
	"ribdesk/internal/web"
	"ribdesk/internal/web/webtest"
	"ribdesk/internal/words"
)

// readIn gives a browser whose person picked a language in the foot of a page.
func readIn(t *testing.T, site *webtest.Site, role party.Role, l words.Language) *webtest.Browser {
	t.Helper()
	b := site.As(t, role)
	u, err := url.Parse(site.URL)
	if err != nil {
		t.Fatal(err)
	}
	b.Client.Jar.SetCookies(u, []*http.Cookie{{Name: "language", Value: string(l), Path: "/"}})
	return b
}

// Every page that a visitor or a customer can open, and forms sent wrong, in the
// language that brackets each text of the catalogue: what stands outside of the
// brackets is data, or was forgotten.
func TestNoEnglishLeft(t *testing.T) {
	site := webtest.Furnished(t)
	web.Mark(site.Handler)
	seen := map[string]bool{}
	c := customersSide(t, site)
	for _, role := range []party.Role{party.Visitor, party.Buyer} {
		b := readIn(t, site, role, words.Marked)
		for _, line := range web.Table() {
			if line.Method != "GET" || !slices.Contains(line.Admits, role) {
				continue
			}
			paths, ok := c.at[line.Path]
			if !ok && parameter.MatchString(line.Path) {
				t.Errorf("%s has no example among customersSide: give it one", line.Path)
			}
			if !ok {
				paths = []string{line.Path}
			}
			for _, path := range paths {
				if page := b.Get(path); page.Status != http.StatusSeeOther && strings.HasPrefix(page.Header.Get("Content-Type"), "text/html") {
					seen[line.Path] = true
					wantBracketed(t, string(role)+" "+path, page, c.data)
				}
			}
		}
		c.sendWrong(t, b, role)
	}
	for _, path := range []string{"/sign-in", "/counter", "/orders", "/orders/:id", "/account", "/account/books", "/books/invoices/:id", "/q/:token", "/join/:token", "/password/:token", "/trim", "/me"} {
		if !seen[path] {
			t.Errorf("%s was never looked at", path)
		}
	}
}

// customers is a furnished shop with something on each page of a customer.
type customers struct {
	at    map[string][]string // examples, by the path of the table; none for what is no page
	quote string              // the private link of an open quote
	join  string
	data  map[string]bool // words of names, numbers and addresses
}

func customersSide(t *testing.T, site *webtest.Site) customers {
	t.Helper()
	counter := site.As(t, party.Counter)
	clerk := site.Person(t, party.Counter).Actor()
	open, agreed, draft, refused := quoteFor(t, site, mine, 31, "Barn"), quoteFor(t, site, mine, 22, "Barn"), quoteFor(t, site, mine, 9, "Barn"), quoteFor(t, site, mine, 9, "Barn")
	at := func(q desk.Quoted) string { return fmt.Sprintf("/orders/%d", q.Order.ID) }
	if _, err := site.Desk.AcceptOrder(t.Context(), clerk, agreed.Order.ID, 0, desk.Yes{Name: "Wren Sparrow", Consent: true, Method: "counter"}); err != nil {
		t.Fatal(err)
	}
	if _, err := site.Desk.DeclineOrder(t.Context(), clerk, refused.Order.ID, 0, "The price is too high"); err != nil {
		t.Fatal(err)
	}
	counter.Submit(counter.Get(at(draft)), "[action="+at(draft)+"/reopen]", nil).WantRedirect(at(draft))
	counter.Submit(counter.Get(at(draft)+"/edit"), "#ask", url.Values{"lines.0.cuts": {"6 @ 20 ft\n2 @ 11 ft"}, "do": {"keep"}}).WantRedirect(at(draft))
	counter.Submit(counter.Get(at(draft)), "#quote", nil).WantRedirect(at(draft))
	if err := site.Desk.WriteMessage(t.Context(), clerk, open.Order.ID, "Barn"); err != nil {
		t.Fatal(err)
	}
	trimmed := ownTrim(t, site)
	done := handedOver(t, site, mine)
	bill, err := site.Desk.IssueInvoice(t.Context(), site.Owner, desk.InvoiceAsk{OrderID: done.ID})
	if err != nil {
		t.Fatal(err)
	}
	credit := fmt.Sprintf("/books/invoices/%d", bill.ID)
	keeper := site.As(t, party.Bookkeeper)
	keeper.Submit(keeper.Get(credit), "[action="+credit+"/credit]", url.Values{"quantity.0": {"2"}, "reason": {"Barn"}}).WantRedirect(credit)
	keeper.Submit(keeper.Get("/books/customers/1"), "#payment", url.Values{"amount": {"20"}, "method": {"check"}, "reference": {"1001"}}).WantRedirect("/books/customers/1")
	keeper.Submit(keeper.Get("/books/customers/1"), `[action="/books/customers/1/statement"]`, nil).Want(http.StatusSeeOther)
	firm := fmt.Sprintf("/customers/%d", mine)
	counter.Submit(counter.Get(firm), "#invite", url.Values{"invite": {"finch@example.com"}}).WantRedirect(firm)
	c := customers{quote: "/q/" + open.Token, join: regexp.MustCompile(`/join/[\w-]{24}`).FindString(counter.Get(firm).Text(".notice"))}
	c.at = map[string][]string{
		"/healthz": {}, "/readyz": {}, "/static/:stamp/*file": {}, "/calendar/:token": {}, "/q/:token/papers/:id": {}, "/papers/:id": {"/papers/9999"},
		"/first-run": {}, "/sign-in/code": {}, "/guide/:chapter": {"/guide/price", "/guide/order", "/guide/nothing"},
		"/q/:token":           {c.quote, "/q/" + strings.Repeat("x", 24)},
		"/join/:token":        {c.join, "/join/" + strings.Repeat("x", 24)},
		"/password/:token":    {passwordLink(t, site, party.Driver), "/password/" + strings.Repeat("x", 24)},
		"/orders/:id":         {at(open), at(agreed), at(draft), at(refused), trimmed, fmt.Sprintf("/orders/%d", done.ID), "/orders/9999"},
		"/books/invoices/:id": {credit, "/books/invoices/9999"},
		"/counter":            {"/counter", "/counter?from=" + fmt.Sprint(open.Order.ID), "/counter?from=" + fmt.Sprint(done.ID)},
		"/orders":             {"/orders", "/orders?q=zzz"},
		"/":                   {"/nowhere"},
		"/roof/:code":         {ownRoof(t, site), "/roof/NONE"},
		"/roof/:code/sheet":   {},

		"/orders/:id/photos/:photo": {fmt.Sprintf("/orders/%d/photos/9999", open.Order.ID)},
		"/account/sites/:site":      {"/account/sites/9999"},
	}
	c.data = dataOf(t, site)
	for _, l := range bill.Invoice.Lines { // in the language of the day it was issued
		for _, w := range wordForm.FindAllString(l.Description+" "+l.Detail, -1) {
			c.data[w] = true
		}
	}
	return c
}

// ownTrim takes an order of a trim shape and gives its page.
func ownTrim(t *testing.T, site *webtest.Site) string {
	t.Helper()
	b := site.As(t, party.Buyer)
	page := b.Submit(b.Get("/trim"), "#trim", url.Values{"name": {"Barn"}, "do": {"use"}}).Want(http.StatusSeeOther)
	counter := b.Get(page.Header.Get("Location")).Want(http.StatusOK)
	to := b.Submit(counter, "#ask", url.Values{"lines.0.cuts": {"4 @ 8 ft"}, "do": {"quote"}}).Want(http.StatusSeeOther).Header.Get("Location")
	if !strings.HasPrefix(to, "/q/") {
		t.Fatalf("the ask leads to %s", to)
	}
	id := regexp.MustCompile(`\d+`).FindString(b.Get(to).Text("h1"))
	list := b.Get("/orders?q=" + id)
	return leads(t, list, "/orders/")[0]
}

// ownRoof keeps a take-off and gives its page.
func ownRoof(t *testing.T, site *webtest.Site) string {
	t.Helper()
	b := site.As(t, party.Buyer)
	return b.Submit(b.Get("/roof"), "#roof", url.Values{"do": {"keep"}, "planes.1.pitch": {"6"}, "planes.1.eave": {"40 ft"}, "planes.1.up": {"12 ft"}}).Want(http.StatusSeeOther).Header.Get("Location")
}

// sendWrong sends the customer's forms with what they refuse.
func (c customers) sendWrong(t *testing.T, b *webtest.Browser, role party.Role) {
	t.Helper()
	try := func(page *webtest.Page, form string, values url.Values) {
		t.Helper()
		if got := b.Submit(page, form, values); got.Status != http.StatusSeeOther {
			wantBracketed(t, fmt.Sprintf("%s %s %v", role, form, values), got, c.data)
		}
	}
	for _, cuts := range []string{"", "12 6", "1/3", "4 @ 9000 ft", "12' 14\"", "3 @ 0.2 in", "2 @ 12-6 1/2\n4 @ 24 ft"} {
		try(b.Get("/counter"), "#ask", url.Values{"lines.0.cuts": {cuts}, "fulfil": {"delivery"}, "miles": {"x"}, "want_by": {"soon"}, "contact.email": {"nobody"}, "do": {"price"}})
		try(b.Get("/counter"), "#ask", url.Values{"lines.0.cuts": {cuts}, "do": {"price"}})
	}
	try(b.Get("/counter"), "#ask", url.Values{"lines.0.make": {"accessory:SEALANT"}, "lines.0.count": {"two"}, "do": {"price"}})
	try(b.Get("/counter"), "#ask", url.Values{"lines.0.make": {"accessory:SEALANT"}, "lines.0.count": {"2"}, "do": {"price"}})
	try(b.Get("/counter"), "#ask", url.Values{"lines.0.cuts": {"4 @ 24 ft"}, "do": {"add"}})
	try(b.Get("/trim"), "#trim", url.Values{"legs.1.length": {"0.05 in"}, "legs.2.turn": {"190"}, "start.hem": {"closed"}, "start.hem_depth": {"9 in"}, "do": {"draw"}})
	try(b.Get(c.quote), "#accept", url.Values{"name": {""}})
	try(b.Get(c.quote), fmt.Sprintf("[action=%s/decline]", c.quote), url.Values{"why": {""}})
	try(b.Get(c.quote), fmt.Sprintf("[action=%s/messages]", c.quote), url.Values{"from": {""}, "message": {""}})
	try(b.Get(c.join), "#join", url.Values{"name": {""}, "password": {"short"}})
	if role == party.Visitor {
		try(b.Get("/sign-in"), "#sign-in", url.Values{"email": {"finch@example.com"}, "password": {"wrong and wrong"}})
		return
	}
	try(b.Get("/me"), "#password", url.Values{"current": {"wrong"}, "password": {"short"}})
}

// dataOf gives the words that stand on pages as data.
func dataOf(t *testing.T, site *webtest.Site) map[string]bool {
	t.Helper()
	data := map[string]bool{}
	add := func(texts ...string) {
		for _, s := range texts {
			for _, w := range wordForm.FindAllString(s, -1) {
				data[w] = true
			}
		}
	}
	offer, err := site.Desk.Offering(t.Context(), site.Owner)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range offer.Profiles {
		add(p.Name)
	}
	for _, s := range offer.Shapes {
		add(s.Name)
	}
	for _, a := range offer.Accessories {
		add(a.Name)
	}
	for _, m := range offer.Metals {
		add(m.Material.Name, m.Gauge, m.Colour.Name)
	}
	file, err := site.Desk.CustomerFile(t.Context(), site.Owner, mine)
	if err != nil {
		t.Fatal(err)
	}
	add(offer.Seller.Name, offer.Seller.Address.Line(), file.Customer.Name, file.Customer.Billing.Line())
	for _, s := range file.Sites {
		add(s.Name, s.Address.Line(), s.AccessNotes, s.Contact)
	}
	for _, role := range party.Roles {
		add(site.Person(t, role).Name, site.Person(t, role).Email)
	}
	add("Barn", "Wren Sparrow", "finch@example.com", "Go-http-client", "Wren", "zzz", "nobody", "soon", "two")
	add("pencil flat nominal") // as the revisions quote an issued paper
	return data
}

// wordForm is a word of two letters or more.
var wordForm = regexp.MustCompile(`\p{L}{2,}`)

// innermost is a bracket with none inside.
var innermost = regexp.MustCompile(`⟦[^⟦⟧]*⟧`)

// spoken are the attributes that are read out or shown.
var spoken = []string{"aria-label", "placeholder", "title", "alt", "data-head"}

// wantBracketed fails the test for each word of a page that is neither in the
// catalogue nor data.
func wantBracketed(t *testing.T, where string, page *webtest.Page, data map[string]bool) {
	t.Helper()
	if page.Status >= 500 {
		t.Errorf("%s: got %d", where, page.Status)
	}
	check := func(text string) {
		for last := ""; last != text; {
			last = text
			text = innermost.ReplaceAllString(text, " ")
		}
		var loose []string
		for _, w := range wordForm.FindAllString(text, -1) {
			if !data[w] && strings.ToUpper(w) != w { // codes are in capitals
				loose = append(loose, w)
			}
		}
		if loose != nil {
			t.Errorf("%s: not in the catalogue: %q in %q", where, loose, strings.Join(strings.Fields(text), " "))
		}
	}
	var walk func(n *html.Node)
	walk = func(n *html.Node) {
		if n.Type == html.ElementNode {
			if webtest.HasAttr(n, "data-guide") { // its text lies in a file for each language: TestGuideInBothLanguages
				return
			}
			if slices.Contains([]string{"script", "style", "textarea", "code", "datalist"}, n.Data) || strings.Contains(webtest.Attr(n, "class"), "tongues") {
				return
			}
			for _, a := range spoken {
				check(webtest.Attr(n, a))
			}
		}
		if n.Type == html.TextNode {
			check(n.Data)
		}
		for d := n.FirstChild; d != nil; d = d.NextSibling {
			walk(d)
		}
	}
	walk(page.Doc())
}
