package web_test

import (
	"bytes"
	"database/sql"
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"ribdesk/internal/demo"
	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
	"ribdesk/internal/store/storetest"
	"ribdesk/internal/web"
	"ribdesk/internal/web/webtest"
)

// Lines of OWASP ASVS 5.0.0 that no test of a page holds by itself.

// 3.5.3: opening pages changes nothing. Each page is opened by each role that it
// admits, on a shop with something of everything, and the database is the same
// afterwards but for when a session was last used.
func TestOpeningPagesChangesNothing(t *testing.T) {
	s := storetest.Open(t)
	site := webtest.FurnishedOn(t, s)
	handedOver(t, site, mine)
	q := quoteFor(t, site, mine, 20, "Hill house")
	browsers := map[party.Role]*webtest.Browser{}
	for _, role := range allRoles {
		browsers[role] = site.As(t, role)
		browsers[role].Get("/me")
	}
	before := databaseOf(t, s)
	opened := 0
	for _, line := range web.Table() {
		if line.Method != "GET" {
			continue
		}
		path := strings.Replace(line.Path, "/q/:token", "/q/"+q.Token, 1)
		for _, role := range line.Admits {
			for _, id := range []string{"1", "2"} {
				page := browsers[role].Get(parameter.ReplaceAllString(path, id))
				if page.Status == http.StatusOK {
					opened++
				}
				if page.Status >= 500 {
					t.Errorf("%s: %d", page.Asked, page.Status)
				}
			}
		}
	}
	if opened < 200 {
		t.Errorf("only %d pages could be opened: the test shows nothing", opened)
	}
	after := databaseOf(t, s)
	for table, rows := range before {
		if after[table] != rows {
			t.Errorf("opening pages changed %s:\n%.500s\nwas\n%.500s", table, after[table], rows)
		}
	}
}

// databaseOf gives all that is in the database, table by table, but for what tells
// of the servers and of searches, which can be worked out again.
func databaseOf(t *testing.T, s *store.Store) map[string]string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "copy.db")
	if err := s.Backup(t.Context(), path); err != nil {
		t.Fatal(err)
	}
	db, err := sql.Open("sqlite", "file:"+path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	column := func(query string) (all []string) {
		rows, err := db.Query(query)
		if err != nil {
			t.Fatal(err)
		}
		defer rows.Close()
		for rows.Next() {
			var s string
			if err := rows.Scan(&s); err != nil {
				t.Fatal(err)
			}
			all = append(all, s)
		}
		return all
	}
	out := map[string]string{}
	for _, table := range column("SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT IN ('sessions', 'readiness', 'plan_searches', 'sqlite_sequence')") {
		fields := column("SELECT 'quote(\"' || name || '\")' FROM pragma_table_info('" + table + "')")
		out[table] = strings.Join(column("SELECT "+strings.Join(fields, " || '|' || ")+" FROM "+table), "\n")
	}
	return out
}

// 16.5.1 to 16.5.3: a fault in the program and one of the database end in a neutral
// page with all its headers, for a program in a problem, and nothing of the cause
// is in it; what needs the database to say yes is refused.
func TestFaultsTellNothing(t *testing.T) {
	s := storetest.Open(t)
	site := webtest.FurnishedOn(t, s)
	const secret = "at /srv/desk/secret.go: password=hush"
	web.Breaking(site.Handler, "/break", secret)
	web.Breaking(site.Handler, "/api/v1/break", secret)
	owner := site.As(t, party.Owner)
	p := newProgram(t, site, desk.Scopes...)
	pages := []*webtest.Page{owner.Get("/break"), owner.Get("/api/v1/break")}
	boom := errors.New(secret)
	s.Probe = func() error { return boom }
	pages = append(pages, owner.Get("/shop"), owner.Get("/orders/1"), owner.Get("/q/something"), owner.Post("/customers", url.Values{"name": {"X"}}))
	asked := httptest.NewRequest("GET", "/api/v1/orders", nil)
	asked.Header.Set("Authorization", "Bearer "+p.token)
	w := httptest.NewRecorder()
	site.Handler.ServeHTTP(w, asked)
	s.Probe = nil
	pages = append(pages, &webtest.Page{Status: w.Code, Header: w.Header(), Body: w.Body.Bytes(), Asked: "the API"})
	for _, page := range pages {
		if page.Status < 500 {
			t.Errorf("%s answers %d although nothing could be looked up", page.Asked, page.Status)
		}
		text := string(page.Body)
		for _, leak := range []string{secret, "hush", "goroutine", ".go:", "SELECT", "sqlite"} {
			if strings.Contains(text, leak) {
				t.Errorf("%s tells %q: %.300s", page.Asked, leak, text)
			}
		}
		for _, name := range []string{"Content-Security-Policy", "X-Content-Type-Options", "Referrer-Policy", "X-Request-Id", "Content-Type"} {
			if page.Header.Get(name) == "" {
				t.Errorf("%s has no %s", page.Asked, name)
			}
		}
	}
	if got := pages[1].Header.Get("Content-Type"); got != "application/problem+json" {
		t.Errorf("a program gets %s", got)
	}
	owner.Get("/shop").Want(200)
	if _, err := site.Desk.Resume(t.Context(), "x"); !fault.Is(err, fault.NotFound) {
		t.Error(err)
	}
}

// 4.1.3 and 15.3.4: behind a proxy that is trusted each client has a throttle of
// its own, by the address that the proxy saw; what the client itself writes before
// that changes nothing.
func TestAddressBehindAProxy(t *testing.T) {
	site := webtest.StartOn(t, storetest.Open(t), web.Options{TrustedProxies: []string{"127.0.0.1"}})
	b := site.As(t, party.Visitor)
	page := b.Get("/sign-in")
	try := func(forwarded, password string) int {
		form := url.Values{"email": {"owner@example.com"}, "password": {password}, "form_token": {webtest.Attr(page.One("[name=form_token]"), "value")}}
		r, err := http.NewRequest("POST", site.URL+"/sign-in", strings.NewReader(form.Encode()))
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set("X-Forwarded-For", forwarded)
		return b.Do(r).Status
	}
	for i := range 10 {
		if got := try(fmt.Sprintf("203.0.113.%d, 198.51.100.9", i), "wrong words"); got != http.StatusUnprocessableEntity {
			t.Fatalf("try %d: %d", i, got)
		}
	}
	if got := try("203.0.113.77, 198.51.100.9", webtest.Password); got != http.StatusTooManyRequests {
		t.Errorf("another address in front of the proxy's gets %d", got)
	}
	if got := try("198.51.100.10", webtest.Password); got != http.StatusSeeOther {
		t.Errorf("the owner at another address gets %d", got)
	}
}

// 15.3.3: what a form has no field for isn't taken, whoever sends it.
func TestNoMassAssignment(t *testing.T) {
	site := webtest.Furnished(t)
	visitor := site.As(t, party.Visitor)
	page := visitor.Get("/counter")
	form := url.Values{
		"lines.0.make": {"accessory:SEALANT"}, "lines.0.count": {"3"}, "contact.name": {"Mallory"}, "contact.phone": {"555 0100"}, "fulfil": {"pick-up"}, "do": {"keep"},
		"customer": {"3"}, "customer_id": {"3"}, "state": {"accepted"}, "total": {"1.00"}, "lines.0.amount": {"0.01"}, "lines.0.unit": {"0.01"}, "discount": {"99"}, "number": {"7"}, "promise": {"2020-01-01"}, "sharing": {"yes"},
	}
	for _, hidden := range []string{"form_token", "form_key"} {
		form.Set(hidden, webtest.Attr(page.One("#ask [name="+hidden+"]"), "value"))
	}
	if kept := visitor.Post("/counter", form); kept.Status != http.StatusSeeOther {
		t.Fatalf("not kept: %d %s", kept.Status, kept.Text("main"))
	}
	orders, err := site.Desk.Orders(t.Context(), site.Owner, desk.OrderFilter{Limit: 1})
	if err != nil {
		t.Fatal(err)
	}
	file, err := site.Desk.OrderFile(t.Context(), site.Owner, orders[0].ID)
	if err != nil {
		t.Fatal(err)
	}
	o := file.Order
	if o.CustomerID != 0 || o.State != order.Quoted || o.Number != "1001" || !o.Alone.Discount.IsZero() || o.Alone.Total.Cmp(money.Cents(300, money.USD)) < 0 || o.Sharing {
		t.Errorf("kept as %+v", o)
	}
	buyer := site.As(t, party.Buyer)
	before := person(t, site, party.Buyer)
	buyer.Submit(buyer.Get("/me"), "form[action=/me/password]", url.Values{"current": {demo.Password}, "password": {"words of a new kind"}, "role": {"owner"}, "customer": {"3"}, "customer_id": {"3"}, "email": {"boss@example.com"}}).WantRedirect("/me")
	if after := person(t, site, party.Buyer); after.Role != before.Role || after.CustomerID != before.CustomerID || after.Email != before.Email {
		t.Errorf("the buyer is %+v now", after)
	}
	buyer.Submit(buyer.Get("/account/sites/new"), "#site", url.Values{"name": {"Annex"}, "street": {"1 Own Rd"}, "city": {"Eastfork"}, "state": {"ZE"}, "customer": {"3"}, "customer_id": {"3"}, "id": {"1"}, "hold": {"no"}, "credit_limit": {"99999"}})
	for id, want := range map[int64]bool{mine: true, theirs: false} {
		f, err := site.Desk.CustomerFile(t.Context(), site.Owner, id)
		if err != nil {
			t.Fatal(err)
		}
		if there := slices.ContainsFunc(f.Sites, func(s party.Site) bool { return s.Name == "Annex" }); there != want {
			t.Errorf("customer %d has the new site: %t", id, there)
		}
	}
}

// person gives an account as it is on file.
func person(t *testing.T, site *webtest.Site, role party.Role) party.Person {
	t.Helper()
	p, err := site.Desk.Person(t.Context(), site.Owner, site.Person(t, role).ID)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// 8.2.3 and 15.3.1, F12: what an order costs the shop, earns it, and could least be
// sold for is on no page, paper or answer that a customer, a visitor, the holder of
// a link or a program gets; on the owner's page it is.
func TestCustomersSeeNoCosts(t *testing.T) {
	site := webtest.Furnished(t)
	q := quoteFor(t, site, mine, 23, "Hill house")
	at := fmt.Sprintf("/orders/%d", q.Order.ID)
	secrets := costsOf(t, site, q.Order.ID)
	owner := string(site.As(t, party.Owner).Get(at + "/price").Want(200).Body)
	shown := 0
	for _, s := range secrets {
		if s.MatchString(owner) {
			shown++
		}
	}
	if shown < 4 {
		t.Fatalf("only %d of %d costs are on the owner's own page: the test shows nothing", shown, len(secrets))
	}
	buyer, visitor := site.As(t, party.Buyer), site.As(t, party.Visitor)
	p := newProgram(t, site, desk.Scopes...)
	outside := map[string][]byte{
		"the order":       buyer.Get(at).Want(200).Body,
		"the list":        buyer.Get("/orders").Want(200).Body,
		"the firm's page": buyer.Get("/account").Want(200).Body,
		"its books":       buyer.Get("/account/books").Want(200).Body,
		"asking again":    buyer.Get(fmt.Sprintf("/counter?from=%d", q.Order.ID)).Want(200).Body,
		"the link":        visitor.Get("/q/" + q.Token).Want(200).Body,
		"the API":         p.ask("GET", "/api/v1"+at, "").want(t, 200).body,
	}
	if got := buyer.Get(at + "/price").Status; got != http.StatusForbidden {
		t.Errorf("the buyer gets %d for the build-up", got)
	}
	if _, err := site.Desk.AcceptOrder(t.Context(), site.Owner, q.Order.ID, 0, desk.Yes{Name: "Wren Sparrow", Consent: true}); err != nil {
		t.Fatal(err)
	}
	file, err := site.Desk.OrderFile(t.Context(), site.Owner, q.Order.ID)
	if err != nil || len(file.Papers) < 2 {
		t.Fatalf("%d papers, %v", len(file.Papers), err)
	}
	for _, paper := range file.Papers {
		outside["paper "+paper.Kind] = plainText(t, buyer.Get(fmt.Sprintf("/papers/%d", paper.ID)).Want(200).Body)
	}
	for what, body := range outside {
		for name, s := range secrets {
			if found := s.Find(body); found != nil {
				t.Errorf("%s holds %s: %s", what, name, found)
			}
		}
		if word := regexp.MustCompile(`(?i)\bmargin\b|\boverhead\b|contribution|landed|below the floor`).Find(body); word != nil {
			t.Errorf("%s speaks of %s", what, word)
		}
	}
}

// costsOf gives what of an order's price is the shop's own, as patterns of how it
// would be written. What is also a price is none.
func costsOf(t *testing.T, site *webtest.Site, id int64) map[string]*regexp.Regexp {
	t.Helper()
	f, err := site.Desk.OrderFile(t.Context(), site.Owner, id)
	if err != nil || f.Quote == nil {
		t.Fatalf("no build-up: %v", err)
	}
	alone := f.Quote.Alone
	rates := map[string]money.Rate{"its cost": alone.Cost, "its floor": alone.Floor.Least.Rate(), "its margin": alone.Margin.Mul(money.Int(100))}
	for i, l := range alone.Lines {
		rates[fmt.Sprintf("cost of line %d", i)] = l.Costs.Total()
		rates[fmt.Sprintf("metal of line %d", i)] = l.Costs.Metal
		rates[fmt.Sprintf("work of line %d", i)] = l.Costs.Work
		rates[fmt.Sprintf("overhead of line %d", i)] = l.Costs.Overhead
	}
	for _, s := range alone.Setups {
		rates["cost of set-up "+s.Setup] = s.Cost
	}
	prices := map[string]bool{}
	for _, a := range []money.Amount{alone.Goods, alone.Subtotal, alone.Tax, alone.Total, alone.Deposit, alone.Balance} {
		prices[a.Plain()] = true
	}
	for _, l := range alone.Lines {
		prices[l.Amount.Plain()], prices[l.Price.Fixed(2)] = true, true
	}
	secrets := map[string]*regexp.Regexp{}
	for name, r := range rates {
		if text := r.Fixed(2); r.Cmp(money.Int(1)) > 0 && !prices[text] {
			secrets[name] = regexp.MustCompile(`(^|[^\d.,])` + regexp.QuoteMeta(text) + `($|[^\d])`)
		}
	}
	return secrets
}

// plainText is what a paper says; the bytes themselves where nothing can read it.
func plainText(t *testing.T, pdf []byte) []byte {
	t.Helper()
	tool, err := exec.LookPath("pdftotext")
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("pdftotext is missing (package poppler-utils)")
		}
		return pdf
	}
	cmd := exec.CommandContext(t.Context(), tool, "-layout", "-", "-")
	cmd.Stdin = bytes.NewReader(pdf)
	text, err := cmd.Output()
	if err != nil || len(text) < 200 {
		t.Fatalf("%d characters, %v", len(text), err)
	}
	return text
}

// 14.3.1 and 7.4: signing out clears what the browser kept.
func TestSignOutClears(t *testing.T) {
	site := webtest.Start(t)
	b := site.As(t, party.Driver)
	page := b.Submit(b.Get("/me"), "form[action=/sign-out]", nil).WantRedirect("/sign-in")
	if got := page.Header.Get("Clear-Site-Data"); !strings.Contains(got, `"storage"`) || !strings.Contains(got, `"cache"`) {
		t.Errorf("Clear-Site-Data %q", got)
	}
	site.Pass(time.Second)
	b.Get("/me").WantRedirect("/sign-in?next=%2Fme")
}
