package webtest

import (
	"net/http"
	"testing"
	"time"

	"ribdesk/internal/demo"
	"ribdesk/internal/desk"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
	"ribdesk/internal/store/storetest"
	"ribdesk/internal/web"
)

// Furnished starts a site on the invented shop of the demo as it opens one
// morning: with catalogue, rates, coils, customers and people, and no order yet.
func Furnished(t testing.TB) *Site { return FurnishedOn(t, storetest.Open(t)) }

// FurnishedOn does so on a store of the caller's.
func FurnishedOn(t testing.TB, s *store.Store) *Site {
	t.Helper()
	return FurnishedWith(t, s, web.Options{})
}

// FurnishedWith does so with the web as the caller wants it.
func FurnishedWith(t testing.TB, s *store.Store, o web.Options) *Site {
	t.Helper()
	site := Empty(t, s, o)
	day := demo.At(time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC))
	accounts, err := demo.Furnish(t.Context(), site.Desk, demo.NewClock(day), day)
	if err != nil {
		t.Fatal(err)
	}
	site.password = demo.Password
	for i, a := range accounts {
		p := party.Person{ID: int64(i + 1), Name: a.Name, Email: a.Email, Role: a.Role}
		if a.Role == party.Buyer {
			p.CustomerID = 1
		}
		site.people[a.Role] = p
	}
	site.Owner = party.Actor{PersonID: 1, Name: site.people[party.Owner].Name, Role: party.Owner}
	return site
}

// On gives a site that the caller started, with the accounts of the demo.
func On(url string, handler http.Handler, d *desk.Desk, accounts demo.Accounts) *Site {
	site := &Site{Desk: d, URL: url, Handler: handler, people: map[party.Role]party.Person{}, password: demo.Password}
	for i, a := range accounts {
		site.people[a.Role] = party.Person{ID: int64(i + 1), Name: a.Name, Email: a.Email, Role: a.Role}
	}
	site.Owner = party.Actor{PersonID: 1, Name: site.people[party.Owner].Name, Role: party.Owner}
	return site
}
