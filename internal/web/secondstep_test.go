package web_test

import (
	"fmt"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"ribdesk/internal/party"
	"ribdesk/internal/totp"
	"ribdesk/internal/web/browsertest"
	"ribdesk/internal/web/webtest"
)

func codeFor(t *testing.T, site *webtest.Site, secret string) string {
	t.Helper()
	b, err := totp.Secret(secret)
	if err != nil {
		t.Fatal(err)
	}
	return totp.Code(b, totp.StepAt(site.Now()), totp.Digits)
}

// The bookkeeper is made to set a second step up, signs in with it, loses the
// phone, uses a recovery code, and gets it turned off by the owner.
func TestSecondStepPages(t *testing.T) {
	site := webtest.Start(t)
	owner := site.As(t, party.Owner)
	keeper := site.As(t, party.Bookkeeper)
	owner.Submit(owner.Get("/shop/people"), "form[action=/shop/guard]", url.Values{"second_step": {"yes"}}).WantRedirect("/shop/people")
	owner.Get("/shop/people").WantRedirect("/me/second") // the owner too
	keeper.Get("/customers").WantRedirect("/me/second")
	keeper.PostForm("/customers", nil).WantRedirect("/me/second")

	page := keeper.Get("/me/second").Want(200)
	secret := webtest.Attr(page.One("[name=secret]"), "value")
	if got := strings.ReplaceAll(page.Text(".letters"), " ", ""); got != secret {
		t.Errorf("letters %s, secret %s", got, secret)
	}
	if !strings.HasPrefix(webtest.Attr(page.One(".phone-link a"), "href"), "otpauth://totp/") || len(page.All(".phone-link svg path")) < 100 {
		t.Error("no link or no square code")
	}
	page = keeper.Submit(page, "#second", url.Values{"code": {"000000"}, "password": {webtest.Password}}).Want(422)
	if webtest.Attr(page.One("[name=secret]"), "value") != secret {
		t.Error("another secret after a wrong code")
	}
	page = keeper.Submit(page, "#second", url.Values{"code": {codeFor(t, site, secret)}, "password": {webtest.Password}}).Want(200)
	codes := regexp.MustCompile(`[2-9A-Z]{5}-[2-9A-Z]{5}`).FindAllString(page.Text(".codes"), -1)
	if len(codes) != 10 {
		t.Fatalf("recovery codes: %v", codes)
	}
	keeper.Get("/customers").Want(200)

	site.Pass(time.Minute)
	login := url.Values{"email": {"bookkeeper@example.com"}, "password": {webtest.Password}}
	again := site.As(t, party.Visitor)
	again.Get("/sign-in/code").WantRedirect("/sign-in")
	again.Submit(again.Get("/sign-in?next=/customers"), "#sign-in", login).WantRedirect("/sign-in/code?next=%2Fcustomers")
	again.Get("/customers").WantRedirect("/sign-in?next=%2Fcustomers")
	page = again.Submit(again.Get("/sign-in/code?next=/customers"), "#code", url.Values{"code": {"123"}}).Want(422)
	if page.Text("#f-code-error") == "" {
		t.Error("nothing said at the code")
	}
	again.Submit(page, "#code", url.Values{"code": {codeFor(t, site, secret)}}).WantRedirect("/customers")
	again.Get("/customers").Want(200)

	lost := site.As(t, party.Visitor)
	lost.Submit(lost.Get("/sign-in"), "#sign-in", login).WantRedirect("/sign-in/code?next=%2F")
	lost.Submit(lost.Get("/sign-in/code"), "#code", url.Values{"code": {strings.ToLower(codes[3])}}).WantRedirect("/")
	if said := lost.Get("/me/second").Want(200).Text("main"); !strings.Contains(said, "9 recovery codes") {
		t.Errorf("said %q", said)
	}
	page = lost.Submit(lost.Get("/me/second"), "#second", url.Values{"password": {webtest.Password}}).Want(200)
	if len(page.All(".codes li")) != 10 {
		t.Error("no fresh codes")
	}

	ownerPage := owner.Get("/me/second")
	own := webtest.Attr(ownerPage.One("[name=secret]"), "value")
	owner.Submit(ownerPage, "#second", url.Values{"code": {codeFor(t, site, own)}, "password": {webtest.Password}}).Want(200)
	id := "2"
	owner.Submit(owner.Get("/shop/people/"+id), "form[action=/shop/people/2/second]", nil).WantRedirect("/shop/people")
	lost.Get("/customers").WantRedirect("/sign-in?next=%2Fcustomers")
	lost.Submit(lost.Get("/sign-in"), "#sign-in", login).WantRedirect("/")
	lost.Get("/customers").WantRedirect("/me/second")
}

// The pages of the second step in a browser: offered, with the codes for paper,
// looked after, and asked for at sign-in.
func TestLookAtTheSecondStep(t *testing.T) {
	t.Parallel()
	site := webtest.Start(t)
	b := browsertest.Start(t, site)
	b.As(party.Owner)
	b.Look("second-offer", "/me/second")
	secret := browsertest.Ask[string](b, `document.querySelector("[name=secret]").value`)
	code := codeFor(t, site, secret)
	b.Do(chromedp.SendKeys("#f-code", code), chromedp.SendKeys("#f-password", webtest.Password),
		chromedp.Click("button.primary"), chromedp.WaitVisible(".codes"))
	for _, width := range browsertest.Widths {
		b.Size(width)
		b.LookHere(fmt.Sprintf("second-codes-%d", width))
	}
	b.Look("second-on", "/me/second")
	b.Look("me-second", "/me")
	site.Pass(time.Minute)
	b.Do(chromedp.Click("form[action='/sign-out'] button"), chromedp.WaitVisible("#sign-in"),
		chromedp.SendKeys("#f-email", "owner@example.com"), chromedp.SendKeys("#f-password", webtest.Password),
		chromedp.Click("button.primary"), chromedp.WaitVisible("#code"))
	b.Look("code", "/sign-in/code")
}
