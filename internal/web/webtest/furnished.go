package webtest

import (
	"context"
	"errors"
	"net/http"
	"os"
	"path/filepath"
	"sync"
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
func Furnished(t testing.TB) *Site {
	t.Helper()
	image, err := furnishedImage()
	if err != nil {
		t.Fatal(err)
	}
	site := Empty(t, storetest.OpenCopy(t, image), web.Options{})
	site.settle(demo.People())
	return site
}

// furnishedImage is the file of a furnished shop, made once: a hundred tests
// begin with a copy.
var furnishedImage = sync.OnceValues(func() ([]byte, error) {
	dir, err := os.MkdirTemp("", "furnished")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	path := filepath.Join(dir, "shop.db")
	s, err := store.Open(context.Background(), path)
	if err != nil {
		return nil, err
	}
	day := furnishingDay()
	if _, err := demo.Furnish(context.Background(), desk.New(s, desk.Options{Now: func() time.Time { return opening }}), demo.NewClock(day), day); err != nil {
		return nil, errors.Join(err, s.Close())
	}
	if err := s.Close(); err != nil {
		return nil, err
	}
	return os.ReadFile(path)
})

func furnishingDay() time.Time { return demo.At(time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)) }

// FurnishedOn does so on a store of the caller's.
func FurnishedOn(t testing.TB, s *store.Store) *Site {
	t.Helper()
	return FurnishedWith(t, s, web.Options{})
}

// FurnishedWith does so with the web as the caller wants it.
func FurnishedWith(t testing.TB, s *store.Store, o web.Options) *Site {
	t.Helper()
	site := Empty(t, s, o)
	day := furnishingDay()
	accounts, err := demo.Furnish(t.Context(), site.Desk, demo.NewClock(day), day)
	if err != nil {
		t.Fatal(err)
	}
	site.settle(accounts)
	return site
}

// settle takes the accounts of a furnished shop over; the buyer is the first
// customer's.
func (s *Site) settle(accounts demo.Accounts) {
	s.password = demo.Password
	for i, a := range accounts {
		p := party.Person{ID: int64(i + 1), Name: a.Name, Email: a.Email, Role: a.Role}
		if a.Role == party.Buyer {
			p.CustomerID = 1
		}
		s.people[a.Role] = p
	}
	s.Owner = party.Actor{PersonID: 1, Name: s.people[party.Owner].Name, Role: party.Owner}
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
