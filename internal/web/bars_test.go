package web_test

import (
	"crypto/sha256"
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"golang.org/x/net/html"

	"ribdesk/internal/demo"
	"ribdesk/internal/desk"
	"ribdesk/internal/measure"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/store/storetest"
	"ribdesk/internal/web"
	"ribdesk/internal/web/browsertest"
	"ribdesk/internal/web/webtest"
)

// noPages are GET routes that answer with something else than a page, or with
// one that only leads on.
var noPages = []string{
	"/healthz", "/readyz", "/static/:stamp/*file", "/", "/search", "/first-run", "/sign-in/code", "/orders/:id/price.json", "/papers/:id", "/q/:token/papers/:id",
	"/photos/:id", "/stops/:id/signature", "/calendar/:token", "/drive/sw.js", "/drive/token", "/coils.csv", "/coils/buy.csv", "/books/journal.csv", "/books/owed.csv", "/books/tax.csv", "/today/:figure/records.csv",
	"/orders/:id/photos/:photo", "/shop/mail/kinds/:kind/html", "/shop/mail/:id/html", "/roof/:code/sheet",
}

// unlinked are addresses that stand in a mail or come of a form.
func unlinked(t *testing.T, site *webtest.Site) map[party.Role][]string {
	t.Helper()
	owner := site.As(t, party.Owner)
	o, err := site.Desk.TakeOrder(t.Context(), site.Person(t, party.Owner).Actor(), order.Order{CustomerID: 1, Fulfil: order.PickUp, Contact: order.Contact{Name: "Wren"},
		Lines: []order.Line{{Kind: order.Formed, Code: "SEAM16", Material: "AZ50", Gauge: "24 ga", Colour: "CHAR", Cuts: []order.CutItem{{Qty: 4, Length: 12 * measure.Foot}}}}})
	if err != nil {
		t.Fatal(err)
	}
	q, err := site.Desk.QuoteOrder(t.Context(), site.Person(t, party.Owner).Actor(), o.ID, 0, nil)
	if err != nil {
		t.Fatal(err)
	}
	owner.Submit(owner.Get("/customers/1"), "#invite", url.Values{"invite": {"finch@example.com"}}).WantRedirect("/customers/1")
	join := regexp.MustCompile(`/join/[\w-]{24}`).FindString(owner.Get("/customers/1").Text(".notice"))
	planned, err := site.Desk.Orders(t.Context(), site.Owner, desk.OrderFilter{States: []order.State{order.Planned}, Limit: 1})
	if err != nil || len(planned) == 0 {
		t.Fatal("no order of the demo is planned: ", err)
	}
	roof := owner.Submit(owner.Get("/roof"), "#roof", url.Values{"do": {"keep"}, "planes.1.pitch": {"6"}, "planes.1.eave": {"40 ft"}, "planes.1.up": {"12 ft"}}).Want(http.StatusSeeOther).Header.Get("Location")
	return map[party.Role][]string{party.Visitor: {"/q/" + q.Token, join, passwordLink(t, site, party.Driver)}, party.Buyer: {"/trim?shape=drip-edge"}, party.Owner: {"/trim?shape=valley-w", roof, fmt.Sprintf("/orders/%d/promise", planned[0].ID), fmt.Sprintf("/books/invoices/new?order=%d", handedOver(t, site, 1).ID)}}
}

// TestEveryPage opens every page of the route table, as every role it admits, in
// a shop with three weeks of life, and holds it to browsertest's bars; and each
// form can be sent without script. A page that is the same for several roles is opened once.
func TestEveryPage(t *testing.T) {
	t.Parallel()
	site := lived(t)
	b := browsertest.Start(t, site)
	tabs := []*browsertest.Browser{b, b.Tab()}
	extra := unlinked(t, site)
	seen, opened := map[[32]byte]bool{}, map[string]bool{}
	var worst browsertest.Bars
	var pages int
	for _, role := range append(slices.Clone(party.Roles), party.Visitor) {
		found := crawl(t, site, role, extra[role], opened)
		fresh := slices.DeleteFunc(found, func(p crawled) bool {
			was := seen[p.looks]
			seen[p.looks] = true
			return was
		})
		b.As(role)
		var work sync.WaitGroup
		var mu sync.Mutex
		next := make(chan crawled, len(fresh))
		for _, p := range fresh {
			next <- p
		}
		close(next)
		for _, tab := range tabs {
			work.Go(func() {
				for p := range next {
					m := tab.HoldToBars(string(role)+" "+p.path, p.path)
					mu.Lock()
					worst.LCP, worst.Bytes = max(worst.LCP, m.LCP), max(worst.Bytes, m.Bytes)
					pages++
					mu.Unlock()
				}
			})
		}
		work.Wait()
	}
	t.Logf("%d pages; largest contentful paint at the latest after %.0f ms, %d bytes at most", pages, worst.LCP, worst.Bytes)
	for _, line := range web.Table() {
		if line.Method == "GET" && !opened[line.Path] && !slices.Contains(noPages, line.Path) {
			t.Errorf("%s was never opened: nothing of the demo leads there; give it an example in unlinked", line.Path)
		}
	}
}

// lived starts a site on the demo's shop after three weeks.
func lived(t *testing.T) *webtest.Site {
	t.Helper()
	now := demo.At(time.Date(2026, 11, 25, 0, 0, 0, 0, time.UTC))
	clock := demo.NewClock(now)
	d := desk.New(storetest.Open(t), desk.Options{Now: clock.Now, Random: demo.Random()})
	accounts, err := demo.Seed(t.Context(), d, clock, now)
	if err != nil {
		t.Fatal(err)
	}
	handler, err := web.New(d, web.Options{})
	if err != nil {
		t.Fatal(err)
	}
	server := httptest.NewServer(handler)
	t.Cleanup(server.Close)
	return webtest.On(server.URL, handler, d, accounts)
}

// crawled is a page that a role can open, and how it looks.
type crawled struct {
	path  string
	looks [32]byte // of the sheet's structure
}

// crawl opens what a role can reach by links, at most two of each route.
func crawl(t *testing.T, site *webtest.Site, role party.Role, extra []string, opened map[string]bool) (pages []crawled) {
	t.Helper()
	b := site.As(t, role)
	var queue []string
	asked, linked, examples := map[string]bool{}, map[string]bool{}, map[string]int{}
	reach := func(path string) {
		path, _, _ = strings.Cut(path, "#")
		plain, _, _ := strings.Cut(path, "?")
		line := lineFor(plain)
		if asked[path] || line == "" || slices.Contains(noPages, line) || examples[line] >= 2 {
			return
		}
		asked[path] = true
		examples[line]++
		queue = append(queue, path)
	}
	for _, line := range web.Table() {
		if line.Method == "GET" && slices.Contains(line.Admits, role) && !parameter.MatchString(line.Path) {
			reach(line.Path)
		}
	}
	for _, path := range extra {
		reach(path)
	}
	for len(queue) > 0 {
		path := queue[0]
		queue = queue[1:]
		page := b.Get(path)
		if page.Status == http.StatusSeeOther || page.Status == http.StatusForbidden || !strings.HasPrefix(page.Header.Get("Content-Type"), "text/html") {
			continue
		}
		if page.Status == http.StatusNotFound && !linked[path] {
			examples[path] = 0 // it takes more than its bare address
			continue
		}
		page.Want(http.StatusOK)
		plain, _, _ := strings.Cut(path, "?")
		opened[lineFor(plain)] = true
		pages = append(pages, crawled{path, looks(page)})
		for _, a := range page.All("a[href]") {
			if href := webtest.Attr(a, "href"); strings.HasPrefix(href, "/") {
				linked[href] = true
				reach(href)
			}
		}
		wantForms(t, string(role)+" "+path, page)
	}
	return pages
}

// lineFor gives the path of the table that an address is for, "" for none; plain
// words go before parameters.
func lineFor(path string) (best string) {
	parts := strings.Split(path, "/")
	for _, line := range web.Table() {
		form := strings.Split(line.Path, "/")
		if line.Method != "GET" || len(form) != len(parts) {
			continue
		}
		fits := true
		for i := range form {
			fits = fits && (form[i] == parts[i] || strings.HasPrefix(form[i], ":") && parts[i] != "")
		}
		if fits && (best == "" || strings.Count(line.Path, ":") < strings.Count(best, ":")) {
			best = line.Path
		}
	}
	return best
}

// looks stands for the structure of a page's sheet: its elements and classes,
// rows that are alike counted once.
func looks(page *webtest.Page) [32]byte {
	var b strings.Builder
	var walk func(n *html.Node)
	walk = func(n *html.Node) {
		last := ""
		for d := n.FirstChild; d != nil; d = d.NextSibling {
			if d.Type != html.ElementNode {
				continue
			}
			from := b.Len()
			b.WriteString("<" + d.Data + " " + webtest.Attr(d, "class") + " " + webtest.Attr(d, "type"))
			walk(d)
			b.WriteString(">")
			if this := b.String()[from:]; this != last {
				last = this
				continue
			}
			kept := b.String()[:from]
			b.Reset()
			b.WriteString(kept)
		}
	}
	walk(page.One("main"))
	return sha256.Sum256([]byte(b.String()))
}

// wantForms checks that each form can be sent without script: it has a button,
// and where it goes is in the table.
func wantForms(t *testing.T, where string, page *webtest.Page) {
	t.Helper()
	for _, form := range page.All("form") {
		if webtest.HasAttr(form, "hidden") { // filled by a script, beside forms that do the same
			continue
		}
		action, err := url.Parse(webtest.Attr(form, "action"))
		if err != nil || action.Path == "" {
			t.Errorf("%s: a form goes nowhere: %s", where, webtest.Attr(form, "action"))
		}
		if len(webtest.Find(form, "button")) > 0 || webtest.Attr(form, "role") == "search" {
			continue
		}
		if id := webtest.Attr(form, "id"); id == "" || len(page.All(fmt.Sprintf("button[form=%s]", id))) == 0 {
			t.Errorf("%s: the form to %s has no button", where, action)
		}
	}
}
