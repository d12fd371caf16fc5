// Package webtest runs the whole desk on a temporary database and asks it over
// HTTP, as each role, for tests of pages and forms.
package webtest

import (
	"bytes"
	"cmp"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"strings"
	"sync"
	"testing"
	"time"

	"golang.org/x/net/html"

	"ribdesk/internal/desk"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
	"ribdesk/internal/store/storetest"
	"ribdesk/internal/web"
)

// Password is everybody's on a test site.
const Password = "rib over rib, lap over lap"

// Site is a desk that serves on loopback.
type Site struct {
	Desk    *desk.Desk
	URL     string
	Handler http.Handler
	Owner   party.Actor
	Firm    party.Customer // the customer that a Buyer buys for

	mu     sync.Mutex
	now    time.Time
	people map[party.Role]party.Person

	password string
}

// Start starts a site with an owner and one customer. Its clock stands at
// 2026-03-02 14:00 UTC until Pass moves it.
func Start(t testing.TB) *Site { return StartOn(t, storetest.Open(t), web.Options{}) }

// StartOn starts one on a store of the caller's.
func StartOn(t testing.TB, s *store.Store, o web.Options) *Site {
	t.Helper()
	site := Empty(t, s, o)
	p, err := site.Desk.FirstOwner(t.Context(), site.Desk.SetupCode(), "Ann Owner", "owner@example.com", Password)
	if err != nil {
		t.Fatal(err)
	}
	site.Owner, site.people[party.Owner] = p.Actor(), p
	site.Firm, err = site.Desk.AddCustomer(t.Context(), site.Owner, party.Customer{
		Name: "Ridge Roofing", Phone: "555 0100", Billing: party.Address{Street: "1 Mill Rd", City: "Eastfork", State: "OH", Postal: "45000"},
		Terms: party.Terms{NetDays: 30},
	})
	if err != nil {
		t.Fatal(err)
	}
	return site
}

// opening is when a site's clock begins.
var opening = time.Date(2026, 3, 2, 14, 0, 0, 0, time.UTC)

// Empty starts a site on which nobody has an account.
func Empty(t testing.TB, s *store.Store, o web.Options) *Site {
	t.Helper()
	site := &Site{now: opening, people: map[party.Role]party.Person{}, password: Password}
	site.Desk = desk.New(s, desk.Options{Now: site.Now, Log: o.Log})
	o.Patience = cmp.Or(o.Patience, time.Minute) // a page with its plan, however busy the machine is
	handler, err := web.New(site.Desk, o)
	if err != nil {
		t.Fatal(err)
	}
	server := httptest.NewServer(handler)
	t.Cleanup(server.Close)
	site.URL, site.Handler = server.URL, handler
	return site
}

// Now gives the site's time.
func (s *Site) Now() time.Time {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.now
}

// Pass moves the site's clock.
func (s *Site) Pass(d time.Duration) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.now = s.now.Add(d)
}

// Person gives the account of a role, made when first asked for.
func (s *Site) Person(t testing.TB, role party.Role) party.Person {
	t.Helper()
	s.mu.Lock()
	p, ok := s.people[role]
	s.mu.Unlock()
	if ok {
		return p
	}
	p = party.Person{Name: strings.ToUpper(string(role[:1])) + string(role[1:]), Email: string(role) + "@example.com", Role: role}
	if role == party.Buyer {
		p.CustomerID = s.Firm.ID
	}
	p, err := s.Desk.AddPerson(t.Context(), s.Owner, p, Password)
	if err != nil {
		t.Fatal(err)
	}
	s.mu.Lock()
	s.people[role] = p
	s.mu.Unlock()
	return p
}

// As gives a browser that is signed in as a role; a Visitor's isn't.
func (s *Site) As(t testing.TB, role party.Role) *Browser {
	t.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	b := &Browser{t: t, site: s, Client: &http.Client{Jar: jar, CheckRedirect: func(*http.Request, []*http.Request) error {
		return http.ErrUseLastResponse
	}}}
	if role == party.Visitor {
		return b
	}
	page := b.Submit(b.Get("/sign-in"), "#sign-in", url.Values{"email": {s.Person(t, role).Email}, "password": {s.password}})
	page.WantRedirect("/")
	return b
}

// Browser asks a site for pages and keeps cookies. It doesn't follow redirects
// by itself.
type Browser struct {
	Client *http.Client
	t      testing.TB
	site   *Site
}

// Get asks for a page.
func (b *Browser) Get(path string) *Page {
	b.t.Helper()
	r, err := http.NewRequestWithContext(b.t.Context(), http.MethodGet, b.site.URL+path, nil)
	if err != nil {
		b.t.Fatal(err)
	}
	return b.Do(r)
}

// Submit sends the form that selector names on a page, with what the page filled
// in and values over it, as a browser does.
func (b *Browser) Submit(p *Page, selector string, values url.Values) *Page {
	b.t.Helper()
	form := p.One(selector)
	sent := p.entries(form)
	for name, v := range values {
		sent[name] = v
	}
	action := Attr(form, "action")
	if strings.EqualFold(Attr(form, "method"), "post") {
		return b.Post(action, sent)
	}
	return b.Get(action + "?" + sent.Encode())
}

// Post sends values as they are: without the token and key that a page's form
// has, unless they are among them.
func (b *Browser) Post(path string, values url.Values) *Page {
	b.t.Helper()
	r, err := http.NewRequestWithContext(b.t.Context(), http.MethodPost, b.site.URL+path, strings.NewReader(values.Encode()))
	if err != nil {
		b.t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	return b.Do(r)
}

// PostForm sends values with a token and a fresh key, taken from a page that
// everybody has.
func (b *Browser) PostForm(path string, values url.Values) *Page {
	b.t.Helper()
	from := b.Get("/me")
	if from.Status != http.StatusOK {
		from = b.Get("/sign-in")
	}
	sent := url.Values{"form_token": {Attr(from.One("[name=form_token]"), "value")}, "form_key": {Attr(from.One("[name=form_key]"), "value")}}
	for name, v := range values {
		sent[name] = v
	}
	return b.Post(path, sent)
}

// Do sends any request.
func (b *Browser) Do(r *http.Request) *Page {
	b.t.Helper()
	answer, err := b.Client.Do(r)
	if err != nil {
		b.t.Fatal(err)
	}
	defer answer.Body.Close()
	body, err := io.ReadAll(answer.Body)
	if err != nil {
		b.t.Fatal(err)
	}
	return &Page{t: b.t, Asked: r.Method + " " + r.URL.Path, Status: answer.StatusCode, Header: answer.Header, Body: body}
}

// Page is an answer.
type Page struct {
	t      testing.TB
	Asked  string
	Status int
	Header http.Header
	Body   []byte
	doc    *html.Node
}

// Want checks the status.
func (p *Page) Want(status int) *Page {
	p.t.Helper()
	if p.Status != status {
		p.t.Fatalf("%s: got %d, want %d: %s", p.Asked, p.Status, status, p.Text("main"))
	}
	return p
}

// WantRedirect checks that the browser is sent on to a path.
func (p *Page) WantRedirect(path string) *Page {
	p.t.Helper()
	if got := p.Header.Get("Location"); p.Status != http.StatusSeeOther || got != path {
		p.t.Fatalf("%s: got %d to %q, want 303 to %q: %s", p.Asked, p.Status, got, path, p.Text(".problems"))
	}
	return p
}

// Doc gives the parsed HTML.
func (p *Page) Doc() *html.Node {
	if p.doc == nil {
		doc, err := html.Parse(bytes.NewReader(p.Body))
		if err != nil {
			p.t.Fatal(err)
		}
		p.doc = doc
	}
	return p.doc
}

// All gives the elements that fit a selector: see Find.
func (p *Page) All(selector string) []*html.Node { return Find(p.Doc(), selector) }

// One gives the first element that fits, and fails the test when there is none.
func (p *Page) One(selector string) *html.Node {
	p.t.Helper()
	found := p.All(selector)
	if len(found) == 0 {
		p.t.Fatalf("%s (%d): nothing fits %q", p.Asked, p.Status, selector)
	}
	return found[0]
}

// Text gives the words in all elements that fit, with single spaces.
func (p *Page) Text(selector string) string {
	var texts []string
	for _, n := range p.All(selector) {
		texts = append(texts, Text(n))
	}
	return strings.Join(texts, " ")
}

// entries are what a form would send as it stands.
func (p *Page) entries(form *html.Node) url.Values {
	sent := url.Values{}
	for _, n := range Find(form, "input") {
		kind := Attr(n, "type")
		if name := Attr(n, "name"); name != "" && (kind != "checkbox" && kind != "radio" || HasAttr(n, "checked")) {
			sent.Add(name, Attr(n, "value"))
		}
	}
	for _, n := range Find(form, "textarea") {
		sent.Add(Attr(n, "name"), strings.TrimPrefix(raw(n), "\n"))
	}
	for _, n := range Find(form, "select") {
		chosen := Find(n, "option[selected]")
		if len(chosen) == 0 {
			chosen = Find(n, "option")
		}
		if len(chosen) > 0 {
			sent.Add(Attr(n, "name"), Attr(chosen[0], "value"))
		}
	}
	return sent
}
