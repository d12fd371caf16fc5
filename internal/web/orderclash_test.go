package web_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"ribdesk/internal/party"
	"ribdesk/internal/web/webtest"
)

// Two clerks have one draft open. The second to save is shown both sides, keeps
// all that was typed, and can then put it in place of the other's knowingly.
func TestTwoClerksOneDraft(t *testing.T) {
	site := webtest.Furnished(t)
	first, second := site.As(t, party.Counter), site.As(t, party.Owner)
	values := ask(seam, charcoal, "4 @ 12'")
	values["do"], values["job"] = []string{"keep"}, []string{"Barn"}
	path := first.Submit(first.Get("/counter"), "#ask", values).Header.Get("Location")
	if !strings.HasPrefix(path, "/orders/") {
		t.Fatal("not kept:", path)
	}
	one, two := first.Get(path+"/edit").Want(http.StatusOK), second.Get(path+"/edit").Want(http.StatusOK)
	first.Submit(one, "#ask", url.Values{"do": {"keep"}, "job": {"Long barn"}, "lines.0.cuts": {"6 @ 12'"}}).WantRedirect(path)

	typed := url.Values{"do": {"keep"}, "po": {"P-77"}, "note": {"call first"}, "lines.0.cuts": {"4 @ 12'\n2 @ 9' 3\" #B"}}
	refused := second.Submit(two, "#ask", typed).Want(http.StatusConflict)
	said := refused.Text(".problems")
	for _, want := range []string{"changed meanwhile by", "Job name Long barn Barn", "PO – P-77", "Note for the shop – call first", "6 @ 12'", "4 @ 12'; 2 @ 9' 3\" #B"} {
		if !strings.Contains(said, want) {
			t.Errorf("nothing says %q: %s", want, said)
		}
	}
	if strings.Contains(said, "Phone") {
		t.Errorf("what is the same is listed: %s", said)
	}
	if got := webtest.Attr(refused.One("[name=po]"), "value") + "|" + refused.Text("[name=note]") + "|" + refused.Text("[name=lines.0.cuts]"); got != "P-77|call first|4 @ 12' 2 @ 9' 3\" #B" {
		t.Errorf("of what was typed is left %q", got)
	}
	second.Submit(refused, "#ask", url.Values{"do": {"keep"}}).WantRedirect(path)
	if page := second.Get(path).Text("main"); !strings.Contains(page, "P-77") || !strings.Contains(page, "2 × 9′ 3″") || strings.Contains(page, "Long barn") {
		t.Errorf("sent again, it is %s", page)
	}
}

// A draft that was quoted meanwhile can't be changed; what was typed stays.
func TestChangingWhatWasQuoted(t *testing.T) {
	site := webtest.Furnished(t)
	b := site.As(t, party.Counter)
	values := ask(seam, charcoal, "4 @ 12'")
	values["do"] = []string{"keep"}
	path := b.Submit(b.Get("/counter"), "#ask", values).Header.Get("Location")
	open := b.Get(path + "/edit").Want(http.StatusOK)
	b.Submit(b.Get(path), "#quote", nil).Want(http.StatusSeeOther)
	refused := b.Submit(open, "#ask", url.Values{"do": {"keep"}, "job": {"Shed"}}).Want(http.StatusConflict)
	if said := refused.Text(".problems"); !strings.Contains(said, "is quoted") || !strings.Contains(said, "Job name – Shed") {
		t.Errorf("it says %s", said)
	}
	if webtest.Attr(refused.One("[name=job]"), "value") != "Shed" {
		t.Error("what was typed is gone")
	}
}

// Two steps at once on an order's page: the second sees how it stands and what
// it wanted.
func TestTwoStepsOneOrder(t *testing.T) {
	site := webtest.Furnished(t)
	first, second := site.As(t, party.Counter), site.As(t, party.Owner)
	values := ask(seam, charcoal, "4 @ 12'")
	values["do"] = []string{"keep"}
	path := first.Submit(first.Get("/counter"), "#ask", values).Header.Get("Location")
	first.Submit(first.Get(path), "#quote", nil).Want(http.StatusSeeOther)
	one, two := first.Get(path), second.Get(path)
	first.Submit(one, "#accept", url.Values{"name": {"Pat Buyer"}, "consent": {"yes"}}).WantRedirect(path)
	refused := second.Submit(two, "form[action="+path+"/cancel]", url.Values{"reason": {"called it off"}}).Want(http.StatusConflict)
	said := refused.Text(".problems")
	for _, want := range []string{"changed meanwhile by", "accepted, $", "cancel", "Reason – called it off"} {
		if !strings.Contains(said, want) {
			t.Errorf("nothing says %q: %s", want, said)
		}
	}
	second.Submit(refused, "form[action="+path+"/cancel]", nil).WantRedirect(path)
}
