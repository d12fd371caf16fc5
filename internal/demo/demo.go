// Package demo makes an invented shop with its prices, coils and customers, and
// three weeks of its life, for people who want to look around and for tests that
// need a shop at work. Everything goes through the desk's use cases, in the roles
// that people have; nothing is written past them.
//
// No firm, place, person or figure in it is real. The same date gives the same
// shop, to the byte, when the desk's randomness is Random().
package demo

import (
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"sync"
	"time"

	"ribdesk/internal/desk"
	"ribdesk/internal/party"
)

// Clock is the time of a demo: it stands where it is set until it is started,
// and runs on from there.
type Clock struct {
	mu      sync.Mutex
	at      time.Time
	started time.Time // by the real clock; zero while it stands
}

// NewClock gives a clock that stands at a time.
func NewClock(at time.Time) *Clock { return &Clock{at: at} }

// Now gives the time; it fits desk.Options.
func (c *Clock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.started.IsZero() {
		return c.at
	}
	return c.at.Add(time.Since(c.started))
}

// Set stops the clock at a time.
func (c *Clock) Set(at time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.at, c.started = at, time.Time{}
}

// Start lets the clock run on from where it stands.
func (c *Clock) Start() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.started = time.Now()
}

// Random gives the bytes that make a seeded shop the same each time. They are no
// secret: serve the shop with a desk that has randomness of its own.
func Random() io.Reader {
	return rand.NewChaCha8([32]byte([]byte("ribs and rollers, slits and shear"[:32])))
}

// Zone is the invented shop's time zone.
const Zone = "America/Chicago"

// At gives the moment a demo of a day stands at: late in the morning, when there
// is something in every state. The shop is shut on weekends; a demo of one stands
// on the Friday before.
func At(day time.Time) time.Time {
	zone, err := time.LoadLocation(Zone)
	if err != nil {
		zone = time.UTC
	}
	y, m, d := day.Date()
	at := time.Date(y, m, d, 11, 0, 0, 0, zone)
	for at.Weekday() == time.Saturday || at.Weekday() == time.Sunday {
		at = at.AddDate(0, 0, -1)
	}
	return at
}

// Account is somebody who can sign in to the demo.
type Account struct {
	Role     party.Role
	Name     string
	Email    string
	Password string
	Does     string // one line for the page that lists the accounts
}

// Accounts are everybody who can sign in, the owner first.
type Accounts []Account

// Of gives the account of a role.
func (a Accounts) Of(role party.Role) Account {
	for _, x := range a {
		if x.Role == role {
			return x
		}
	}
	return Account{}
}

// Password is everybody's in the demo. It is no secret, so a demo shouldn't be
// reachable from outside.
const Password = "eave ridge hip valley"

// People gives the accounts every demo has.
func People() Accounts {
	return Accounts{
		{party.Owner, "Demo Owner", "owner@example.com", Password, "quotes, plans the idle hours, sets the rates, buys coil"},
		{party.Counter, "Demo Counter", "counter@example.com", Password, "takes asks at the counter and gives quotes"},
		{party.Operator, "Demo Operator", "operator@example.com", Password, "runs the machines from the run sheet"},
		{party.Driver, "Demo Driver", "driver@example.com", Password, "loads, hauls and gets the signature"},
		{party.Bookkeeper, "Demo Bookkeeper", "books@example.com", Password, "invoices, takes payments, keeps customers' terms"},
		{party.Buyer, "Demo Customer", "customer@example.com", Password, "a roofing contractor: sees only their own orders"},
	}
}

// weeks of life that a demo looks back on.
const days = 21

// Seed fills the empty shop of a desk with the invented catalogue and with three
// weeks of life up to now, by moving the clock, which must be the desk's own,
// from 21 days back to now.
func Seed(ctx context.Context, d *desk.Desk, clock *Clock, now time.Time) (Accounts, error) {
	y, m, day := now.Date()
	s := &shop{Desk: d, clock: clock, now: now, zone: now.Location(), start: time.Date(y, m, day-days, 6, 0, 0, 0, now.Location())}
	if err := s.furnish(ctx); err != nil {
		return nil, err
	}
	if err := s.live(ctx); err != nil {
		return nil, s.wrong(err, "three weeks of life")
	}
	clock.Set(now)
	return s.accounts, nil
}

// Furnish fills the empty shop of a desk as it opens in the morning of a day:
// with catalogue, rates, coils and customers, and no order yet.
func Furnish(ctx context.Context, d *desk.Desk, clock *Clock, day time.Time) (Accounts, error) {
	y, m, date := day.Date()
	s := &shop{Desk: d, clock: clock, now: day, zone: day.Location(), start: time.Date(y, m, date, 6, 0, 0, 0, day.Location())}
	err := s.furnish(ctx)
	return s.accounts, err
}

func (s *shop) furnish(ctx context.Context) error {
	s.accounts = People()
	s.clock.Set(s.start)
	for _, step := range []struct {
		what string
		do   func(context.Context) error
	}{
		{"people", s.addPeople}, {"settings", s.addSeller}, {"catalogue", s.addCatalogue}, {"machines", s.addMachines},
		{"supplies", s.addSupplies}, {"rates", s.addRates}, {"customers", s.addCustomers}, {"coils", s.addCoils},
	} {
		if err := step.do(ctx); err != nil {
			return s.wrong(err, step.what)
		}
	}
	return nil
}

// wrong says where in the making of a demo something went wrong.
func (s *shop) wrong(err error, what string) error {
	return fmt.Errorf("demo: %s, at %s: %w", what, s.clock.Now().Format(time.DateTime), err)
}

// shop is a demo being made.
type shop struct {
	*desk.Desk
	clock    *Clock
	start    time.Time
	now      time.Time
	zone     *time.Location
	accounts Accounts
	people   map[party.Role]party.Actor
	clients  []client
	firm     int64 // the customer that the Buyer belongs to
}

// as gives the one who acts in a role.
func (s *shop) as(r party.Role) party.Actor { return s.people[r] }

func (s *shop) addPeople(ctx context.Context) error {
	s.people = map[party.Role]party.Actor{}
	for _, a := range s.accounts {
		var p party.Person
		var err error
		switch a.Role {
		case party.Owner:
			p, err = s.FirstOwner(ctx, s.SetupCode(), a.Name, a.Email, a.Password)
		case party.Buyer:
			continue // when their firm is on file
		default:
			p, err = s.AddPerson(ctx, s.as(party.Owner), party.Person{Name: a.Name, Email: a.Email, Role: a.Role}, a.Password)
		}
		if err != nil {
			return err
		}
		s.people[a.Role] = p.Actor()
	}
	return nil
}

func (s *shop) addBuyer(ctx context.Context) error {
	a := s.accounts.Of(party.Buyer)
	p, err := s.AddPerson(ctx, s.as(party.Owner), party.Person{Name: a.Name, Email: a.Email, Role: a.Role, CustomerID: s.firm}, a.Password)
	s.people[a.Role] = p.Actor()
	return err
}

func (s *shop) addSeller(ctx context.Context) error {
	seller, version, err := s.Seller(ctx)
	if err != nil {
		return err
	}
	seller.Name, seller.Legal = "Three Rib Demo Shop", "Three Rib Demo Shop (an invented firm)"
	seller.Address = party.Address{Street: "12 Shear Lane", City: "Flangeford", State: home, Postal: "00112", Country: "US"}
	seller.Phone, seller.Email = "(555) 555-0100", "desk@example.com"
	seller.Registration, seller.TaxNumber = "DEMO-000-REG", "00-0000000"
	seller.Zone, seller.QuoteDays, seller.TermsVersion = Zone, 10, "demo 1"
	seller.Cancelling = "If an order that shares your set-up is cancelled, your price holds."
	return s.SaveSeller(ctx, s.as(party.Owner), seller, version)
}

// home is the invented state of the shop; away is the one across the river.
const (
	home = "ZE"
	away = "ZW"
)
