package web_test

import (
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"ribdesk/internal/party"
	"ribdesk/internal/web/browsertest"
	"ribdesk/internal/web/webtest"
)

// passwordLink has the owner make a link by which somebody chooses a password.
func passwordLink(t *testing.T, site *webtest.Site, role party.Role) string {
	t.Helper()
	token, err := site.Desk.MakePasswordLink(t.Context(), site.Owner, site.Person(t, role).ID)
	if err != nil {
		t.Fatal(err)
	}
	return "/password/" + token
}

var passwordLinkForm = regexp.MustCompile(`/password/[\w-]{24}`)

// 6.4.1, 6.4.3: the owner makes an account, or helps somebody who forgot, with a
// link that opens once and for a day. Nobody but the person knows the password, the
// old one holds until then, and the second step stays.
func TestPasswordLinks(t *testing.T) {
	site := webtest.Start(t)
	owner := site.As(t, party.Owner)
	login := func(email, password string) *webtest.Page {
		b := site.As(t, party.Visitor)
		return b.Submit(b.Get("/sign-in"), "#sign-in", url.Values{"email": {email}, "password": {password}})
	}
	owner.Submit(owner.Get("/shop/people/new"), "#person", url.Values{"name": {"Dee"}, "email": {"dee@example.com"}, "role": {"driver"}, "password": {""}}).WantRedirect("/shop/people")
	link := passwordLinkForm.FindString(owner.Get("/shop/people").Text(".notice"))
	if link == "" || strings.Contains(string(owner.Get("/shop/people").Body), link) {
		t.Fatalf("the link is shown as %q, or twice", link)
	}
	login("dee@example.com", "").Want(http.StatusUnprocessableEntity)
	login("dee@example.com", webtest.Password).Want(http.StatusUnprocessableEntity)
	dee := site.As(t, party.Visitor)
	page := dee.Submit(dee.Get(link).Want(200), "#choose", url.Values{"password": {"password1"}}).Want(http.StatusUnprocessableEntity)
	if page.Text("#f-password-error") == "" {
		t.Error("nothing said at the password")
	}
	dee.Submit(page, "#choose", url.Values{"password": {"words of my own"}}).WantRedirect("/sign-in")
	login("dee@example.com", "words of my own").WantRedirect("/")
	dee.Get(link).Want(404)
	if made := dee.Submit(page, "#choose", url.Values{"password": {"words of another"}, "form_key": {"another-form-key"}}); made.Status != 404 {
		t.Errorf("a spent link takes a password: %d", made.Status)
	}

	// Forgotten: on the person's page.
	signedIn := site.As(t, party.Bookkeeper)
	id := "/shop/people/3"
	make := func() string {
		owner.Submit(owner.Get(id), "form[action="+id+"/link]", nil).WantRedirect(id)
		return passwordLinkForm.FindString(owner.Get(id).Text(".notice"))
	}
	first, second := make(), make()
	dee.Get(first).Want(404) // only the newest opens
	signedIn.Get("/customers").Want(200)
	guest := site.As(t, party.Visitor)
	late := guest.Get(second).Want(200)
	guest.Submit(late, "#choose", url.Values{"password": {"other words for it"}}).WantRedirect("/sign-in")
	signedIn.Get("/customers").WantRedirect("/sign-in?next=%2Fcustomers")
	login("bookkeeper@example.com", "other words for it").WantRedirect("/")
	login("bookkeeper@example.com", webtest.Password).Want(http.StatusUnprocessableEntity)

	old := make()
	site.Pass(24 * time.Hour)
	guest.Get(old).Want(404)
	owner = site.As(t, party.Owner) // the session has ended meanwhile
	gone := make()
	owner.Submit(owner.Get(id), "#person", url.Values{"disabled": {"yes"}}).WantRedirect("/shop/people")
	guest.Get(gone).Want(404)
	owner.Submit(owner.Get(id), "form[action="+id+"/link]", nil).Want(http.StatusConflict)
	if got := guest.Get("/password/" + strings.Repeat("x", 24)).Want(404).Text("main"); !strings.Contains(got, "opens nothing any more") {
		t.Errorf("an unknown link says %q", got)
	}
}

// A link doesn't get around the second step.
func TestPasswordLinkKeepsTheSecondStep(t *testing.T) {
	site := webtest.Start(t)
	secret := site.Desk.NewTOTPSecret()
	if _, err := site.Desk.SetSecondStep(t.Context(), site.Owner, webtest.Password, secret, codeFor(t, site, secret), ""); err != nil {
		t.Fatal(err)
	}
	b := site.As(t, party.Visitor)
	b.Submit(b.Get(passwordLink(t, site, party.Owner)), "#choose", url.Values{"password": {"words of a new kind"}}).WantRedirect("/sign-in")
	b.Submit(b.Get("/sign-in"), "#sign-in", url.Values{"email": {"owner@example.com"}, "password": {"words of a new kind"}}).WantRedirect("/sign-in/code?next=%2F")
}

// The pages on phone and desk.
func TestLookAtPasswordLinks(t *testing.T) {
	t.Parallel()
	site := webtest.Start(t)
	b := browsertest.Start(t, site)
	b.Look("choose-password", passwordLink(t, site, party.Driver))
	b.As(party.Owner)
	b.Look("person", "/shop/people/2")
	b.Look("person-new", "/shop/people/new")
}
