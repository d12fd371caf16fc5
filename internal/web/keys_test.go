package web_test

import (
	"net/url"
	"slices"
	"testing"

	"ribdesk/internal/desk"
	"ribdesk/internal/party"
	"ribdesk/internal/web"
	"ribdesk/internal/web/webtest"
)

// withoutKey are the posts whose forms carry no key, and why sending one twice
// does no harm. Every other post has one: a new route can't leave it out unsaid.
var withoutKey = map[string]string{
	"/first-run":             "refused once there is an owner",
	"/sign-in":               "a session of one's own, each time with a new token",
	"/sign-in/code":          "a code counts once (RFC 6238, section 5.2)",
	"/sign-out":              "signed out is signed out",
	"/language":              "sets what is set already",
	"/me/second":             "sets what is set already; a code counts once",
	"/me/second/codes":       "the codes shown last count, the others are void",
	"/counter/price":         "computes and keeps nothing",
	"/counter/list":          "reads a list and keeps nothing",
	"/trim/draw":             "draws and keeps nothing",
	"/roof/draw":             "draws and keeps nothing",
	"/plan/move":             "shows a proposal and keeps nothing",
	"/plan/calendar":         "shows a proposal and keeps nothing",
	"/plan/calendar/order":   "shows a proposal and keeps nothing",
	"/plan/calendar/coil":    "shows a proposal and keeps nothing",
	"/rates/what-if":         "computes and keeps nothing",
	"/coils/weigh":           "computes and keeps nothing",
	"/shop/draw/:kind":       "draws and keeps nothing",
	"/shop/draw/:kind/:code": "draws and keeps nothing",
	"/drive/sync":            "each hand-over in it has the phone's own key",
	"/drive/photo":           "each picture has the phone's own key",
}

// Every post that creates something carries a key, by construction: one that
// doesn't is named above with its reason, and one that does refuses to work
// without.
func TestEveryPostThatCreatesHasAKey(t *testing.T) {
	site := webtest.Start(t)
	posts := web.Posts()
	for path, keyed := range posts {
		if _, named := withoutKey[path]; keyed == named {
			t.Errorf("POST %s carries a key: %v; among those without: %v", path, keyed, named)
		}
	}
	for path := range withoutKey {
		if _, there := posts[path]; !there {
			t.Errorf("POST %s isn't there", path)
		}
	}
	browsers := map[party.Role]*webtest.Browser{}
	for _, line := range web.Table() {
		if line.Method != "POST" || !posts[line.Path] {
			continue
		}
		role := party.Owner
		if !slices.Contains(line.Admits, role) {
			role = line.Admits[0]
		}
		if browsers[role] == nil {
			browsers[role] = site.As(t, role)
		}
		b := browsers[role]
		token := webtest.Attr(b.Get("/me").Want(200).One("[name=form_token]"), "value")
		page := b.Post(parameter.ReplaceAllString(line.Path, "1"), url.Values{"form_token": {token}})
		if page.Status != 400 {
			t.Errorf("POST %s without a key: %d", line.Path, page.Status)
		}
	}
	p := newProgram(t, webtest.Furnished(t), desk.Scopes...)
	for line, keyed := range web.APIPosts() {
		if !keyed && line != "POST /api/v1/price" {
			t.Errorf("%s of the API carries no key", line)
		}
	}
	p.ask("PUT", "/api/v1/orders/1", "{}").want(t, 400)
}
