package web

import (
	"net/http"

	"ribdesk/internal/party"
)

// showHealth says that the process lives.
func showHealth(v *visit) error {
	v.send(http.StatusOK, "text/plain; charset=utf-8", []byte("ok\n"))
	return nil
}

// showReady says whether the database can be written.
func showReady(v *visit) error {
	if err := v.desk.Ready(v.ctx()); err != nil {
		v.s.log.ErrorContext(v.ctx(), "not ready", "error", err)
		v.send(http.StatusServiceUnavailable, "text/plain; charset=utf-8", []byte("the database can't be written\n"))
		return nil
	}
	v.send(http.StatusOK, "text/plain; charset=utf-8", []byte("ok\n"))
	return nil
}

// showHome leads to the first sheet of a role: what it works on.
func showHome(v *visit) error {
	first := map[party.Role]string{
		party.Owner:      "/today",
		party.Operator:   "/plan",
		party.Driver:     "/drive",
		party.Bookkeeper: "/books",
		party.Buyer:      "/account",
	}
	if path := first[v.actor.Role]; path != "" && admitted(v.actor.Role, path) {
		return v.redirect(path)
	}
	for _, sheet := range open(v.actor.Role, sheets, "") {
		return v.redirect(sheet.Path)
	}
	if v.actor.Role == party.Visitor {
		return v.redirect("/sign-in")
	}
	return v.redirect("/me")
}

// shopPage lists what is kept about the shop itself.
type shopPage struct {
	Base
	Parts []part
}

func (shopPage) file() string { return "shop" }

// part is one thing to look after, with a sentence on what it is for.
type part struct {
	Link
	For string
}

// parts are what the Shop sheet leads to. One that the role may not open isn't
// shown.
var parts = []part{
	{Link{Name: "People", Path: "/shop/people"}, "Who can sign in, and as what."},
	{Link{Name: "Mail to customers", Path: "/shop/mail"}, "What customers are told by e-mail, what waits, and how it reads."},
	{Link{Name: "Programs", Path: "/shop/programs"}, "Other programs of yours that may ask here."},
	{Link{Name: "Customers", Path: "/customers"}, "Who buys, on what terms; where goods go; resale certificates."},
	{Link{Name: "Settings", Path: "/shop/settings"}, "What papers say of the shop, and the habits of the house."},
}

func showShop(v *visit) error {
	p := &shopPage{Base: Base{Title: "Shop", Sheet: "Shop"}}
	for _, one := range parts {
		if admitted(v.actor.Role, one.Path) {
			p.Parts = append(p.Parts, one)
		}
	}
	p.Parts = append(p.Parts, catalogueParts(v.actor.Role)...)
	return v.show(p)
}
