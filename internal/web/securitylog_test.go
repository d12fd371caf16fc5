package web_test

import (
	"encoding/json"
	"fmt"
	"log/slog"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"ribdesk/internal/desk"
	"ribdesk/internal/party"
	"ribdesk/internal/store/storetest"
	"ribdesk/internal/web"
	"ribdesk/internal/web/webtest"
)

// logLine is one line of the log.
type logLine struct {
	Msg      string
	Level    string
	Time     time.Time
	Request  string `json:"request_id"`
	Person   int64
	Address  string
	Route    string
	Security bool
}

// A day of people getting in, not getting in, and trying what isn't theirs: each
// is a line with its mark, who and from where, and none holds a password, code,
// token or link (ASVS 5.0, 16.2.5, 16.3.1 to 16.3.3).
func TestSecurityIsLogged(t *testing.T) {
	var log safeBuffer
	site := webtest.StartOn(t, storetest.Open(t), web.Options{Log: slog.New(slog.NewJSONHandler(&log, nil))})
	secrets := []string{webtest.Password}
	wantLine := func(msg string, person int64) {
		t.Helper()
		text := log.String()
		for line := range strings.Lines(text) {
			var l logLine
			if err := json.Unmarshal([]byte(line), &l); err != nil {
				t.Fatal(err)
			}
			if l.Msg != msg || !l.Security {
				continue
			}
			if l.Request == "" || l.Time.IsZero() || l.Person != person {
				t.Errorf("%s: %s", msg, line)
			}
			return
		}
		t.Errorf("no line says %q:\n%s", msg, text)
	}
	driver := site.Person(t, party.Driver)
	b := site.As(t, party.Visitor)
	form := func(password string) url.Values {
		return url.Values{"email": {"driver@example.com"}, "password": {password}}
	}
	page := b.Submit(b.Get("/sign-in"), "#sign-in", form("wrong words here")).Want(422)
	wantLine("sign-in refused", driver.ID)
	b.Submit(page, "#sign-in", form(webtest.Password)).WantRedirect("/")
	wantLine("signed in", driver.ID)
	b.Get("/shop/people").Want(403)
	wantLine("refused", driver.ID)
	b.Post("/me/password", url.Values{"form_token": {"forged"}}).Want(403)
	wantLine("form refused", driver.ID)
	b.Submit(b.Get("/me"), "form[action=/me/password]", url.Values{"current": {"a wrong present one"}, "password": {"new words for it"}}).Want(422)
	wantLine("own password refused", driver.ID)
	secrets = append(secrets, "wrong words here", "a wrong present one", "new words for it", b.Client.Jar.Cookies(mustParse(site.URL))[0].Value)

	r, err := http.NewRequest("POST", site.URL+"/me/password", strings.NewReader(""))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Sec-Fetch-Site", "cross-site")
	b.Do(r).Want(403)
	wantLine("cross-site post refused", 0)
	site.As(t, party.Visitor).Get("/q/made-up-link").Want(404)
	wantLine("unknown link", 0)
	buyer := site.Person(t, party.Buyer)
	site.As(t, party.Buyer).Get("/orders/4711").Want(404)
	wantLine("asked for what isn't theirs, or isn't there", buyer.ID)
	p := newProgram(t, site, desk.MayPrice)
	p.ask("GET", "/api/v1/orders", "").want(t, 403)
	secrets = append(secrets, p.token, "rd_made_up", "made-up-link")
	p.token = "rd_made_up"
	p.ask("GET", "/api/v1/orders", "").want(t, 401)
	wantLine("token refused", 0)

	secret := site.Desk.NewTOTPSecret()
	codes, err := site.Desk.SetSecondStep(t.Context(), site.Owner, webtest.Password, secret, codeFor(t, site, secret), "")
	if err != nil {
		t.Fatal(err)
	}
	owner := site.As(t, party.Visitor)
	owner.Submit(owner.Get("/sign-in"), "#sign-in", url.Values{"email": {"owner@example.com"}, "password": {webtest.Password}}).WantRedirect("/sign-in/code?next=%2F")
	half := owner.Submit(owner.Get("/sign-in/code"), "#code", url.Values{"code": {"867530"}}).Want(422)
	wantLine("sign-in code refused", site.Owner.PersonID)
	owner.Submit(half, "#code", url.Values{"code": {codes[0]}}).WantRedirect("/")
	if !strings.Contains(log.String(), `"by":"password and recovery code"`) {
		t.Error("the log doesn't say that a recovery code was used")
	}
	secrets = append(secrets, secret, "867530", codes[0], strings.ReplaceAll(codes[0], "-", ""), codes[1])
	guesser := site.As(t, party.Visitor)
	for range 11 {
		guesser.Submit(guesser.Get("/sign-in"), "#sign-in", form("wrong words here"))
	}
	wantLine("too many tries", 0)
	for _, secret := range secrets {
		if strings.Contains(log.String(), secret) {
			t.Errorf("the log holds %q", secret)
		}
	}
}

// A password is asked for again where an open browser isn't enough, and then it
// can't be guessed either: ten tries in a quarter of an hour.
func TestOwnPasswordIsThrottled(t *testing.T) {
	site := webtest.Start(t)
	b := site.As(t, party.Driver)
	page := b.Get("/me")
	try := func(password string) *webtest.Page {
		return b.Submit(page, "form[action=/me/password]", url.Values{"form_key": {fmt.Sprintf("try-%08d", len(password))}, "current": {password}, "password": {"quite new words"}})
	}
	for i := range 10 {
		try(strings.Repeat("x", 8+i)).Want(422)
	}
	if got := try(webtest.Password).Want(429).Header.Get("Retry-After"); got == "" || got == "0" {
		t.Errorf("Retry-After %q", got)
	}
	site.Pass(15 * time.Minute)
	try(webtest.Password).WantRedirect("/me")
}
