package web_test

import (
	"net/url"
	"strings"
	"testing"

	"ribdesk/internal/party"
	"ribdesk/internal/web/webtest"
)

// Sheets come in, are promised by the trim plan, cut and counted, all by form;
// each fault stands at its field.
func TestSheetsByForm(t *testing.T) {
	site := webtest.Furnished(t)
	takeOrder(t, site, 4)
	b := site.As(t, party.Operator)
	page := b.Get("/coils/sheets").Want(200)
	pile := url.Values{"do": {"receive"}, "material": {"AZ50"}, "gauge": {"24 ga"}, "colour": {"CHAR"}, "width": {"48"}, "length": {"10"}, "sheets": {"0"}, "lot": {"P7"}, "landed": {"9"}}
	b.Submit(page, "#receive", pile).Want(422).One("#f-sheets-error")
	pile.Set("sheets", "12")
	pile.Set("length", "10 parsecs")
	b.Submit(page, "#receive", pile).Want(422).One("#f-length-error")
	pile.Set("length", "10'")
	b.Submit(page, "#receive", pile).WantRedirect("/coils/sheets")

	plan := b.Get("/coils/trim-plan").Want(200)
	if got := plan.Text(".metal"); !strings.Contains(got, "sheet") {
		t.Fatalf("the plan passes over cheap sheets: %s", got)
	}
	b.Submit(plan, ".act form", url.Values{"do": {"adopt"}}).WantRedirect("/coils/trim-plan")
	page = b.Get("/coils/sheets").Want(200)
	forms := page.All("form.ask")
	if len(forms) == 0 {
		t.Fatal("no sheet is promised")
	}
	counter := site.As(t, party.Counter)
	if got := counter.Get("/coils/sheets").Text("main"); strings.Contains(got, "is cut") || !strings.Contains(got, "landed") {
		t.Error("the counter's page isn't the counter's")
	}
	if got := page.Text("main"); strings.Contains(got, "landed,") {
		t.Error("the operator sees what sheets cost")
	}
	b.Submit(page, "form.ask", url.Values{"do": {"cut"}}).WantRedirect("/coils/sheets")
	b.Submit(page, "form.ask", url.Values{"do": {"cut"}}).WantRedirect("/coils/sheets") // a double tap, answered as the first

	move := url.Values{"do": {"move"}, "pile": {"1"}, "kind": {"scrap"}, "sheets": {"1"}, "reason": {""}}
	b.Submit(page, "#move", move).Want(422)
	move.Set("reason", "bent")
	b.Submit(page, "#move", move).WantRedirect("/coils/sheets")
	move.Set("sheets", "99")
	b.Submit(b.Get("/coils/sheets"), "#move", move).Want(409)
}
