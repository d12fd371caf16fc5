package web_test

import (
	"bytes"
	"fmt"
	"log/slog"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"ribdesk/internal/desk"
	"ribdesk/internal/party"
	"ribdesk/internal/store/storetest"
	"ribdesk/internal/web"
	"ribdesk/internal/web/webtest"
)

// allRoles are those that ask for pages.
var allRoles = append([]party.Role{party.Visitor}, party.Roles...)

var parameter = regexp.MustCompile(`[:*]\w+`)

// Each role on each route: who isn't named is refused, who is named isn't.
func TestMatrix(t *testing.T) {
	site := webtest.Start(t)
	for _, role := range allRoles {
		browser := site.As(t, role)
		for _, line := range web.Table() {
			t.Run(fmt.Sprintf("%s %s %s", role, line.Method, line.Path), func(t *testing.T) {
				path := parameter.ReplaceAllString(line.Path, "1")
				var page *webtest.Page
				switch {
				case line.Method == "GET":
					page = browser.Get(path)
				case line.Path == "/sign-out": // ends the session: in a browser of its own
					page = site.As(t, role).PostForm(path, nil)
				default:
					page = browser.PostForm(path, nil)
				}
				if slices.Contains(line.Admits, role) {
					if page.Status == 401 || page.Status == 403 || page.Status >= 500 || page.Status == 400 {
						t.Errorf("admitted, but got %d: %s", page.Status, page.Text("main"))
					}
					return
				}
				wantRefused(t, page, role, line)
			})
		}
	}
}

func wantRefused(t *testing.T, page *webtest.Page, role party.Role, line web.Line) {
	t.Helper()
	switch {
	case role != party.Visitor:
		page.Want(http.StatusForbidden)
	case line.Method == "POST":
		page.Want(http.StatusUnauthorized)
	case page.Status != http.StatusSeeOther || !strings.HasPrefix(page.Header.Get("Location"), "/sign-in?next="):
		t.Errorf("a visitor got %d to %q", page.Status, page.Header.Get("Location"))
	}
}

// Headers that are on every answer, errors too.
func TestHeaders(t *testing.T) {
	site := webtest.Start(t)
	b := site.As(t, party.Owner)
	big := url.Values{"x": {strings.Repeat("y", 2<<20)}}
	for _, page := range []*webtest.Page{
		b.Get("/shop"), b.Get("/nowhere"), b.Get("/shop/people/999"), b.Get("/healthz"), b.Get("/static/x/css/sheet.css"),
		b.Post("/shop/people", nil), b.Post("/shop/people", big), b.Post("/healthz", nil), site.As(t, party.Driver).Get("/shop/people"),
	} {
		for name, want := range map[string]string{
			"Content-Security-Policy": "default-src 'self'; object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'",
			"X-Content-Type-Options":  "nosniff",
			"Referrer-Policy":         "same-origin",
		} {
			if got := page.Header.Get(name); got != want {
				t.Errorf("%s (%d): %s is %q", page.Asked, page.Status, name, got)
			}
		}
		if kind := page.Header.Get("Content-Type"); !strings.Contains(kind, "; charset=utf-8") {
			t.Errorf("%s: type %q", page.Asked, kind)
		}
		if page.Header.Get("Access-Control-Allow-Origin") != "" {
			t.Errorf("%s: open to other origins", page.Asked)
		}
	}
	if got := b.Get("/shop").Header.Get("Cache-Control"); got != "no-store" {
		t.Errorf("a signed-in page may be stored: %q", got)
	}
	b.Post("/shop/people", big).Want(http.StatusRequestEntityTooLarge)
	b.Post("/healthz", nil).Want(http.StatusMethodNotAllowed)
	r, err := http.NewRequest("TRACE", site.URL+"/shop", nil)
	if err != nil {
		t.Fatal(err)
	}
	b.Do(r).Want(http.StatusMethodNotAllowed)
}

func TestSecureCookies(t *testing.T) {
	d := desk.New(storetest.Open(t), desk.Options{BaseURL: "https://desk.example.com"})
	s, err := web.New(d, web.Options{})
	if err != nil {
		t.Fatal(err)
	}
	w := record(s, "GET", "/first-run", nil)
	cookie := w.Header().Get("Set-Cookie")
	for _, want := range []string{"__Host-visitor=", "Path=/", "HttpOnly", "Secure", "SameSite=Lax"} {
		if !strings.Contains(cookie, want) {
			t.Errorf("cookie %q lacks %s", cookie, want)
		}
	}
	if got := w.Header().Get("Strict-Transport-Security"); !strings.HasPrefix(got, "max-age=31536000") {
		t.Errorf("HSTS %q", got)
	}
}

func TestFirstRun(t *testing.T) {
	site := webtest.Empty(t, storetest.Open(t), web.Options{})
	b := site.As(t, party.Visitor)
	b.Get("/shop/people").WantRedirect("/first-run")
	page := b.Get("/first-run").Want(200)
	owner := url.Values{"code": {"WRONGCODE"}, "name": {"Ann <b>"}, "email": {"ann@example.com"}, "password": {webtest.Password}}
	page = b.Submit(page, "#first-run", owner).Want(422)
	if got := page.Text("#f-code-error"); !strings.Contains(got, "isn't the code") {
		t.Errorf("at the code: %q", got)
	}
	if got := webtest.Attr(page.One("#f-name"), "value"); got != "Ann <b>" {
		t.Errorf("what was typed is %q now", got)
	}
	if got := webtest.Attr(page.One("#f-password"), "value"); got != "" {
		t.Errorf("the password is shown again: %q", got)
	}
	b.Submit(page, "#first-run", url.Values{"code": {site.Desk.SetupCode()}, "password": {webtest.Password}}).WantRedirect("/")
	b.Get("/first-run").WantRedirect("/sign-in")
	if got := b.Get("/shop").Want(200).Text(".person"); got != "Ann <b> owner" {
		t.Errorf("signed in as %q", got)
	}
}

func TestSignIn(t *testing.T) {
	site := webtest.Start(t)
	site.Person(t, party.Driver)
	b := site.As(t, party.Visitor)
	b.Get("/shop/people?x=1").WantRedirect("/sign-in?next=%2Fshop%2Fpeople%3Fx%3D1")
	page := b.Get("/sign-in?next=%2Fme")
	page = b.Submit(page, "#sign-in", url.Values{"email": {"driver@example.com"}, "password": {"not the words"}}).Want(422)
	if got := page.Text("title"); !strings.HasPrefix(got, "Error: ") {
		t.Errorf("title %q", got)
	}
	if webtest.Attr(page.One(".problems a"), "href") != "#f-password" || webtest.Attr(page.One("#f-password"), "aria-describedby") != "f-password-error" {
		t.Error("the list of problems doesn't lead to the field")
	}
	before := b.Client.Jar.Cookies(mustParse(site.URL))
	b.Submit(page, "#sign-in", url.Values{"email": {"driver@example.com"}, "password": {webtest.Password}}).WantRedirect("/me")
	b.Get("/me").Want(200)
	for _, c := range b.Client.Jar.Cookies(mustParse(site.URL)) {
		for _, old := range before {
			if c.Name == "desk" && c.Value == old.Value {
				t.Error("the token isn't new")
			}
		}
	}
	stolen := b.Client.Jar.Cookies(mustParse(site.URL))
	b.Submit(b.Get("/me"), "form[action=/sign-out]", nil).WantRedirect("/sign-in")
	again := site.As(t, party.Visitor)
	again.Client.Jar.SetCookies(mustParse(site.URL), stolen)
	again.Get("/me").WantRedirect("/sign-in?next=%2Fme")
}

func TestSignInIsThrottled(t *testing.T) {
	site := webtest.Start(t)
	b := site.As(t, party.Visitor)
	page := b.Get("/sign-in")
	for range 10 {
		page = b.Submit(page, "#sign-in", url.Values{"email": {"owner@example.com"}, "password": {"wrong words"}}).Want(422)
	}
	page = b.Submit(page, "#sign-in", url.Values{"email": {"owner@example.com"}, "password": {webtest.Password}}).Want(429)
	if page.Header.Get("Retry-After") == "" || page.Header.Get("Retry-After") == "0" {
		t.Errorf("Retry-After %q", page.Header.Get("Retry-After"))
	}
	// Another address named in a header nobody trusts changes nothing.
	form := url.Values{"email": {"owner@example.com"}, "password": {webtest.Password}, "form_token": {webtest.Attr(page.One("[name=form_token]"), "value")}}
	r, err := http.NewRequest("POST", site.URL+"/sign-in", strings.NewReader(form.Encode()))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("X-Forwarded-For", "198.51.100.9")
	b.Do(r).Want(429)
	site.Pass(time.Minute)
	b.Submit(page, "#sign-in", url.Values{"email": {"owner@example.com"}, "password": {webtest.Password}}).WantRedirect("/")
}

func TestForeignForms(t *testing.T) {
	site := webtest.Start(t)
	b := site.As(t, party.Owner)
	page := b.Get("/shop/people/new")
	form := url.Values{"form_key": {"0123456789abcdef"}, "name": {"Mallory"}, "email": {"m@example.com"}, "role": {"owner"}, "password": {webtest.Password}}
	good := webtest.Attr(page.One("[name=form_token]"), "value")
	for name, token := range map[string]string{"none": "", "junk": "AAAA", "another browser's": webtest.Attr(site.As(t, party.Owner).Get("/me").One("[name=form_token]"), "value")} {
		form.Set("form_token", token)
		if got := b.Post("/shop/people", form).Status; got != http.StatusForbidden {
			t.Errorf("token %s: %d", name, got)
		}
	}
	form.Set("form_token", good)
	for name, value := range map[string]string{"Sec-Fetch-Site": "cross-site", "Origin": "https://evil.example"} {
		r, err := http.NewRequest("POST", site.URL+"/shop/people", strings.NewReader(form.Encode()))
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set(name, value)
		b.Do(r).Want(http.StatusForbidden)
	}
	if got := b.Get("/shop/people").Text("tbody"); strings.Contains(got, "Mallory") {
		t.Error("it was done all the same")
	}
	b.Post("/shop/people", form).WantRedirect("/shop/people")
	form.Del("form_key")
	b.Post("/shop/people", form).Want(http.StatusBadRequest)
}

// A double click, a lost answer: the same form does its work once and gets the
// same answer; the same key with other contents is refused.
func TestFormSentTwice(t *testing.T) {
	site := webtest.Start(t)
	b := site.As(t, party.Owner)
	page := b.Get("/customers/new")
	values := url.Values{"name": {"Twice Metal"}}
	var wg sync.WaitGroup
	answers := make([]*webtest.Page, 4)
	for i := range answers {
		wg.Go(func() { answers[i] = b.Submit(page, "#customer", values) })
	}
	wg.Wait()
	for _, a := range answers {
		a.WantRedirect("/customers/2")
	}
	if n := len(b.Get("/customers?q=twice").All("tbody tr")); n != 1 {
		t.Errorf("%d are on file", n)
	}
	b.Submit(page, "#customer", url.Values{"name": {"Thrice Metal"}}).Want(422)
}

func TestPeople(t *testing.T) {
	site := webtest.Start(t)
	b := site.As(t, party.Owner)
	page := b.Submit(b.Get("/shop/people/new"), "#person", url.Values{"name": {""}, "email": {"not an address"}, "role": {"king"}, "password": {"short"}}).Want(422)
	if got := page.Text(".problems h2"); got != "4 things to put right" {
		t.Errorf("said %q", got)
	}
	if got := len(page.All(".error")); got != 4 {
		t.Errorf("%d fields are marked: %s", got, page.Text(".error"))
	}
	b.Submit(page, "#person", url.Values{"name": {"Dee"}, "email": {"dee@example.com"}, "role": {"driver"}, "password": {webtest.Password}}).WantRedirect("/shop/people")
	page = b.Get("/shop/people")
	if got := page.Text(".notice"); !strings.HasPrefix(got, "Dee can sign in now.") {
		t.Errorf("notice %q", got)
	}
	if b.Get("/shop/people").Text(".notice") != "" {
		t.Error("the notice stays")
	}
	page = b.Get("/shop/people/2").Want(200)
	b.Submit(page, "#person", url.Values{"disabled": {"yes"}}).WantRedirect("/shop/people")
	if got := b.Get("/shop/people").Text("tr.off"); !strings.Contains(got, "Dee") {
		t.Errorf("off: %q", got)
	}
	page = b.Submit(b.Get("/shop/people/1"), "#person", url.Values{"role": {"driver"}}).Want(409)
	if got := page.Text(".problems"); !strings.Contains(got, "last owner") {
		t.Errorf("said %q", got)
	}
	b.Submit(b.Get("/shop/people/2"), "form[action=/shop/people/2/password]", url.Values{"password": {"password1"}}).Want(422)
	b.Submit(b.Get("/shop/people/2"), "form[action=/shop/people/2/password]", url.Values{"password": {"other words for Dee"}}).WantRedirect("/shop/people")
}

// P5: the second of two changes is refused and shows both sides; sent again, it
// goes through knowingly.
func TestBothSidesAreShown(t *testing.T) {
	site := webtest.Start(t)
	b := site.As(t, party.Owner)
	mine, theirs := b.Get("/customers/1"), site.As(t, party.Counter).Get("/customers/1")
	site.As(t, party.Counter).Submit(theirs, "#customer", url.Values{"form_token": nil}).Want(403)
	counter := site.As(t, party.Counter)
	counter.Submit(counter.Get("/customers/1"), "#customer", url.Values{"phone": {"555 0199"}}).WantRedirect("/customers/1")
	page := b.Submit(mine, "#customer", url.Values{"phone": {"555 0122"}, "city": {"Westfork"}}).Want(409)
	if got := page.Text(".problems"); !strings.Contains(got, "Counter") || !strings.Contains(got, "Phone 555 0199 555 0122") || !strings.Contains(got, "City Eastfork Westfork") {
		t.Errorf("said %q", got)
	}
	b.Submit(page, "#customer", nil).WantRedirect("/customers/1")
	if got := webtest.Attr(b.Get("/customers/1").One("#f-phone"), "value"); got != "555 0122" {
		t.Errorf("phone is %q", got)
	}
}

func TestCustomerForms(t *testing.T) {
	site := webtest.Start(t)
	b := site.As(t, party.Bookkeeper)
	page := b.Submit(b.Get("/customers/1"), "#customer", url.Values{"terms": {"soon"}, "credit_limit": {"1.234"}, "name": {""}}).Want(422)
	for _, id := range []string{"#f-terms-error", "#f-credit-limit-error"} {
		page.One(id)
	}
	if got := webtest.Attr(page.One("#f-terms"), "value"); got != "soon" {
		t.Errorf("what was typed is %q now", got)
	}
	b.Submit(page, "#customer", url.Values{"name": {"Ridge"}, "terms": {"30"}, "discount": {"2"}, "discount_days": {"10"}, "credit_limit": {"$12,000.50"}}).WantRedirect("/customers/1")
	if got := b.Get("/customers").Text("tbody"); !strings.Contains(got, "2/10 net 30 $12,000.50") {
		t.Errorf("list says %q", got)
	}
	b.Submit(b.Get("/customers/1/sites/new"), "#site", url.Values{"name": {"Barn"}, "street": {"2 Mill Rd"}, "city": {"Eastfork"}, "miles": {"12.5"}}).WantRedirect("/customers/1")
	page = b.Get("/customers/1/sites/1").Want(200)
	if got := webtest.Attr(page.One("#f-miles"), "value"); got != "12.5" {
		t.Errorf("miles %q", got)
	}
	b.Submit(page, "#site", url.Values{"miles": {"12.55"}}).Want(422).One("#f-miles-error")
	b.Get("/customers/1/sites/9").Want(404)
	page = b.Submit(b.Get("/customers/1/certificates/new"), "#certificate", url.Values{"number": {"R-1"}, "state": {"oh"}, "signed": {"3/2/2026"}, "expires": {"1/2/2026"}}).Want(422)
	b.Submit(page, "#certificate", url.Values{"expires": {"2027-03-01"}}).WantRedirect("/customers/1")
	b.Submit(b.Get("/customers/1"), "form[action=/customers/1/certificates/1/revoke]", nil).WantRedirect("/customers/1")
	if got := b.Get("/customers/1").Text("main"); !strings.Contains(got, "revoked") {
		t.Error("the certificate isn't shown as revoked")
	}
}

// The counter sees no credit, and posting it all the same changes nothing.
func TestCounterGivesNoCredit(t *testing.T) {
	site := webtest.Start(t)
	b := site.As(t, party.Counter)
	page := b.Get("/customers/1")
	if len(page.All("#f-credit-limit")) != 0 {
		t.Error("the counter sees the credit limit")
	}
	b.Submit(page, "#customer", url.Values{"credit_limit": {"99999"}, "terms": {"90"}, "phone": {"1"}}).WantRedirect("/customers/1")
	if got := site.As(t, party.Owner).Get("/customers").Text("tbody"); !strings.Contains(got, "net 30 $0.00") {
		t.Errorf("the list says %q", got)
	}
}

func TestRepeatedFieldIsRefused(t *testing.T) {
	site := webtest.Start(t)
	b := site.As(t, party.Owner)
	b.Submit(b.Get("/customers/new"), "#customer", url.Values{"name": {"A", "B"}}).Want(422).One("#f-name-error")
	b.Get("/customers?q=a&q=b").Want(400)
	b.Get("/customers?q=a&page=1").Want(200)
}

// Hostile text in every field stays text.
func TestHostileText(t *testing.T) {
	site := webtest.Start(t)
	b := site.As(t, party.Owner)
	for i, bad := range []string{`<script>alert(1)</script>`, `"><img src=x onerror=alert(1)>`, `javascript:alert(1)`, `{{.FormToken}}`, "a\x00b", `'; DROP TABLE people; --`, `</textarea><script>x</script>`, "\u202eabc"} {
		page := b.Submit(b.Get("/customers/new"), "#customer", url.Values{"name": {bad}, "street": {bad}, "city": {bad}, "phone": {bad}, "hold": {"yes"}, "hold_reason": {bad}})
		if page.Status != 303 && page.Status != 422 {
			t.Fatalf("%q: %d", bad, page.Status)
		}
		for _, page := range []*webtest.Page{page, b.Get(fmt.Sprintf("/customers/%d", i+2)), b.Get("/customers?q=" + url.QueryEscape(bad))} {
			for _, n := range page.All("script") {
				if !strings.HasPrefix(webtest.Attr(n, "src"), "/static/") {
					t.Errorf("%q became a script", bad)
				}
			}
			if len(page.All("[onerror]")) > 0 {
				t.Errorf("%q became a handler", bad)
			}
		}
	}
}

func TestLogTellsNoSecrets(t *testing.T) {
	var log safeBuffer
	site := webtest.StartOn(t, storetest.Open(t), web.Options{Log: slog.New(slog.NewJSONHandler(&log, nil))})
	b := site.As(t, party.Owner)
	r, err := http.NewRequest("GET", site.URL+"/shop", nil)
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("X-Request-Id", "evil id\tx")
	if got := b.Do(r).Header.Get("X-Request-Id"); !regexp.MustCompile(`^[0-9a-f]{24}$`).MatchString(got) {
		t.Errorf("request id %q", got)
	}
	site.As(t, party.Driver).Get("/shop/people").Want(403)
	text := log.String()
	for _, want := range []string{`"route":"/shop"`, `"msg":"refused"`, `"request_id":`, `"person":1`} {
		if !strings.Contains(text, want) {
			t.Errorf("the log lacks %s", want)
		}
	}
	for _, secret := range []string{webtest.Password, "evil id", b.Client.Jar.Cookies(mustParse(site.URL))[0].Value} {
		if strings.Contains(text, secret) {
			t.Errorf("the log holds %q", secret)
		}
	}
}

func TestAssets(t *testing.T) {
	site := webtest.Start(t)
	b := site.As(t, party.Visitor)
	href := webtest.Attr(b.Get("/sign-in").One("link[rel=stylesheet]"), "href")
	page := b.Get(href).Want(200)
	if got := page.Header.Get("Cache-Control"); !strings.Contains(got, "immutable") {
		t.Errorf("%s: %q", href, got)
	}
	if got := b.Get("/static/old/css/sheet.css").Want(200).Header.Get("Cache-Control"); got != "no-cache" {
		t.Errorf("old stamp: %q", got)
	}
	for _, path := range []string{"/static/x/static.go", "/static/x/../static.go", "/static/x/css/", "/static/x/", "/static/x/%2e%2e/go.mod"} {
		if got := b.Get(path).Status; got == 200 {
			t.Errorf("%s is served", path)
		}
	}
}

// The first page of a new browser: all it loads, compressed, below 150 kB.
func TestPageWeight(t *testing.T) {
	site := webtest.Start(t)
	b := site.As(t, party.Visitor)
	total := 0
	weigh := func(path string) *webtest.Page {
		r, err := http.NewRequest("GET", site.URL+path, nil)
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Accept-Encoding", "gzip") // by hand: it stays compressed
		page := b.Do(r).Want(200)
		total += len(page.Body)
		return page
	}
	weigh("/sign-in")
	page := b.Get("/sign-in")
	base := strings.TrimSuffix(webtest.Attr(page.One("link[rel=stylesheet]"), "href"), "css/sheet.css")
	for _, name := range []string{"css/sheet.css", "js/desk.js", "mark.svg", "fonts/open-sans-regular.woff2", "fonts/open-sans-semibold.woff2", "fonts/open-sans-condensed.woff2"} {
		weigh(base + name)
	}
	if total > 100_000 {
		t.Errorf("the first page weighs %d bytes", total)
	}
	t.Logf("first page, all parts, compressed: %d bytes", total)
}

func TestOverload(t *testing.T) {
	site := webtest.StartOn(t, storetest.Open(t), web.Options{MaxInFlight: 1})
	b := site.As(t, party.Visitor)
	page := b.Get("/sign-in")
	var wg sync.WaitGroup
	status := make([]int, 40)
	for i := range status {
		wg.Go(func() {
			// Each hashes a password: about 0.04 s, one after the other.
			status[i] = b.Submit(page, "#sign-in", url.Values{"email": {fmt.Sprintf("n%d@example.com", i)}, "password": {"some words here"}}).Status
		})
	}
	wg.Wait()
	for _, s := range status {
		if s != 422 && s != 503 && s != 429 {
			t.Errorf("got %d", s)
		}
	}
	b.Get("/sign-in").Want(200)
}

func TestLocal(t *testing.T) {
	for path, want := range map[string]string{
		"/shop?x=1": "/shop?x=1", "": "/", "//evil.example": "/", "https://evil.example": "/", `/\evil.example`: "/", "shop": "/", "/a\r\nb": "/", "javascript:x": "/",
	} {
		if got := web.Local(path); got != want {
			t.Errorf("%q leads to %q, want %q", path, got, want)
		}
	}
}

func mustParse(s string) *url.URL {
	u, err := url.Parse(s)
	if err != nil {
		panic(err)
	}
	return u
}

// safeBuffer is a log that several requests write.
type safeBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (s *safeBuffer) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.Write(p)
}

func (s *safeBuffer) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.String()
}
