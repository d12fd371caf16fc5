package web_test

import (
	"net/url"
	"strings"
	"testing"

	"ribdesk/internal/mail"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/web/webtest"
)

// quoted is a shop with one quote, for somebody with an address.
func quoted(t *testing.T) (*webtest.Site, string) {
	t.Helper()
	site := webtest.Furnished(t)
	o, err := site.Desk.TakeOrder(t.Context(), site.Owner, order.Order{CustomerID: 1, Fulfil: order.PickUp,
		Contact: order.Contact{Name: "Wren <Sparrow>", Email: "wren@example.com"}, Lines: []order.Line{{Kind: order.Accessory, Code: "SEALANT", Count: 1}}})
	if err != nil {
		t.Fatal(err)
	}
	q, err := site.Desk.QuoteOrder(t.Context(), site.Owner, o.ID, o.Version, nil)
	if err != nil {
		t.Fatal(err)
	}
	return site, q.Token
}

// With mail off the owner still sees what would be sent, reads each kind in both
// languages, switches kinds, and says who gets none.
func TestMailPages(t *testing.T) {
	site, token := quoted(t)
	owner := site.As(t, party.Owner)
	page := owner.Get("/shop/mail").Want(200)
	if !strings.Contains(page.Text(".notice"), "Mail is off") || !strings.Contains(page.Text("table"), "not sent, mail is off") || !strings.Contains(page.Text("table"), "wren@example.com") {
		t.Errorf("the outbox says %q", page.Text("main"))
	}
	if got := owner.Get("/orders/1").Want(200).Text("table.stack"); !strings.Contains(got, "Quote sent") {
		t.Errorf("the order's mails: %q", got)
	}
	one := owner.Get("/shop/mail/1").Want(200)
	if strings.Contains(string(one.Body), token) || !strings.Contains(one.Text("pre"), "Hello Wren <Sparrow>,") {
		t.Errorf("the mail reads %q", one.Text("pre"))
	}
	html := owner.Get("/shop/mail/1/html").Want(200)
	if policy := html.Header.Get("Content-Security-Policy"); !strings.Contains(policy, "default-src 'none'") || !strings.Contains(policy, "frame-ancestors 'self'") || !strings.Contains(policy, "sandbox") {
		t.Errorf("its policy is %q", policy)
	}
	if !strings.Contains(string(html.Body), "Wren &lt;Sparrow&gt;") || strings.Contains(string(html.Body), token) {
		t.Error("its HTML takes a name for markup, or shows the link")
	}
	for _, k := range mail.Kinds {
		for _, lang := range mail.Languages {
			at := "/shop/mail/kinds/" + string(k)
			if p := owner.Get(at + "?language=" + string(lang)).Want(200); len(p.Text("pre")) < 100 {
				t.Errorf("%s in %s reads %q", k, lang, p.Text("pre"))
			}
			owner.Get(at + "/html?language=" + string(lang)).Want(200)
		}
	}
	owner.Get("/shop/mail/kinds/birthday").Want(404)
	owner.Get("/shop/mail/99").Want(404)

	bad := owner.Submit(page, "#habits", url.Values{"overdue": {"30, 3"}}).Want(422)
	if bad.Text("#f-overdue-error") == "" {
		t.Error("nothing said at the stages")
	}
	owner.Submit(bad, "#habits", url.Values{"overdue": {"7 21"}, "send.quote": nil}).WantRedirect("/shop/mail")
	h, _, err := site.Desk.MailHabits(t.Context(), site.Owner)
	if err != nil || len(h.Silent) != 1 || h.Silent[0] != mail.Quoted || len(h.Overdue) != 2 || h.Overdue[1] != 21 {
		t.Errorf("habits %+v, %v", h, err)
	}
	counter := site.As(t, party.Counter)
	page = counter.Get("/shop/mail").Want(200)
	if len(page.All("#habits")) > 0 {
		t.Error("the counter can switch what is mailed")
	}
	bad = counter.Submit(page, "#quiet", url.Values{"address": {"wren"}, "why": {"asked us"}}).Want(422)
	if bad.Text("#f-address-error") == "" || !strings.Contains(string(bad.Body), `value="asked us"`) {
		t.Error("nothing said at the address, or what was typed is lost")
	}
	counter.Submit(bad, "#quiet", url.Values{"address": {"wren@example.com"}}).WantRedirect("/shop/mail")
	page = counter.Get("/shop/mail").Want(200)
	counter.Submit(page, "form[action=/shop/mail/quiet/1/drop]", nil).WantRedirect("/shop/mail")
	if one := counter.Get("/shop/mail/1").Want(200); len(one.All("form[action=/shop/mail/1/send]")) > 0 {
		t.Error("with mail off it offers to send")
	}
}
