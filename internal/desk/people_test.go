package desk_test

import (
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/money"
	"ribdesk/internal/party"
	"ribdesk/internal/store/storetest"
)

const goodPassword = "rib over rib, lap over lap"

// shop is a desk on an empty database, with a clock of its own.
type shop struct {
	*desk.Desk
	now   time.Time
	owner party.Actor
}

func newShop(t *testing.T) *shop {
	t.Helper()
	sh := &shop{now: time.Date(2026, 3, 2, 14, 0, 0, 0, time.UTC)}
	sh.Desk = desk.New(storetest.Open(t), desk.Options{Now: func() time.Time { return sh.now }})
	p, err := sh.FirstOwner(t.Context(), sh.SetupCode(), "Ann Owner", "ann@example.com", goodPassword)
	if err != nil {
		t.Fatal(err)
	}
	sh.owner = p.Actor()
	return sh
}

func (sh *shop) add(t *testing.T, name string, role party.Role, customer int64) party.Person {
	t.Helper()
	p, err := sh.AddPerson(t.Context(), sh.owner, party.Person{Name: name, Email: name + "@example.com", Role: role, CustomerID: customer}, goodPassword)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func wantFault(t *testing.T, err error, kind fault.Kind, field string) {
	t.Helper()
	if err == nil {
		t.Fatalf("no error, want %v at %q", kind, field)
	}
	if f := fault.All(err)[0]; f.Kind != kind || f.Field != field {
		t.Fatalf("got %v at %q (%v), want %v at %q", f.Kind, f.Field, err, kind, field)
	}
}

func TestFirstOwner(t *testing.T) {
	d := desk.New(storetest.Open(t), desk.Options{})
	if needs, err := d.NeedsOwner(t.Context()); !needs || err != nil {
		t.Fatalf("needs owner: %v, %v", needs, err)
	}
	_, err := d.FirstOwner(t.Context(), "WRONG", "Ann", "ann@example.com", goodPassword)
	wantFault(t, err, fault.Invalid, "code")
	code := d.SetupCode()
	typed := strings.ToLower(code[:4] + "-" + code[4:8] + " " + code[8:])
	if _, err := d.FirstOwner(t.Context(), typed, "Ann", "ann@example.com", goodPassword); err != nil {
		t.Fatal(err)
	}
	_, err = d.FirstOwner(t.Context(), code, "Bo", "bo@example.com", goodPassword)
	wantFault(t, err, fault.Conflict, "")
}

func TestPasswordsRefused(t *testing.T) {
	sh := newShop(t)
	for _, password := range []string{
		"", "short", "password", "Password1!", "P@ssw0rd2024", "12345678", "87654321", "qwertyui", "aaaaaaaa",
		"abababab", "Letmein!!", "1qaz2wsx", "bo-example", strings.Repeat("x", 300), "Football123", "11223311",
	} {
		_, err := sh.AddPerson(t.Context(), sh.owner, party.Person{Name: "Bo Example", Email: "bo@example.com", Role: party.Driver}, password)
		wantFault(t, err, fault.Invalid, "password")
	}
	for _, password := range []string{goodPassword, "trim coil 14 in", "пароль из слов", strings.Repeat("lap over rib, ", 8), "8 Zylinder", "  spaces  kept "} {
		p, err := sh.AddPerson(t.Context(), sh.owner, party.Person{Name: "Bo", Email: "bo@example.com", Role: party.Driver}, password)
		if err != nil {
			t.Errorf("%q: %v", password, err)
			continue
		}
		if !strings.HasPrefix(p.PasswordHash, "$argon2id$v=19$m=19456,t=2,p=1$") || strings.Contains(p.PasswordHash, password) {
			t.Errorf("stored as %s", p.PasswordHash)
		}
		if _, err := sh.Authenticate(t.Context(), desk.Login{Email: "bo@example.com", Password: password}); err != nil {
			t.Errorf("%q doesn't sign in: %v", password, err)
		}
		p.Email = time.Now().Format("150405.000000") + "@example.com"
		if _, err := sh.ChangePerson(t.Context(), sh.owner, p); err != nil {
			t.Fatal(err)
		}
	}
}

func TestAuthenticate(t *testing.T) {
	sh := newShop(t)
	bo := sh.add(t, "bo", party.Counter, 0)
	gone := sh.add(t, "gone", party.Counter, 0)
	if err := sh.DisablePerson(t.Context(), sh.owner, gone.ID); err != nil {
		t.Fatal(err)
	}
	said := map[string]bool{}
	for _, l := range []desk.Login{
		{Email: "bo@example.com", Password: "wrong words here"},
		{Email: "nobody@example.com", Password: goodPassword},
		{Email: "gone@example.com", Password: goodPassword},
		{Email: "' OR 1=1 --", Password: goodPassword},
	} {
		_, err := sh.Authenticate(t.Context(), l)
		wantFault(t, err, fault.Invalid, "password")
		said[err.Error()] = true
	}
	if len(said) != 1 {
		t.Errorf("answers differ: %v", said)
	}
	p, err := sh.Authenticate(t.Context(), desk.Login{Email: " BO@example.com ", Password: goodPassword})
	if err != nil || p.ID != bo.ID {
		t.Fatalf("got %+v, %v", p, err)
	}
}

// 1,000 wrong sign-ins from one place: ten a minute are looked at, and the
// owner of the account still gets in from another.
func TestThrottle(t *testing.T) {
	sh := newShop(t)
	evaluated := 0
	for range 1000 {
		_, err := sh.Authenticate(t.Context(), desk.Login{Email: "ann@example.com", Password: "wrong words", Address: "192.0.2.66"})
		switch {
		case fault.Is(err, fault.Invalid):
			evaluated++
		case fault.Is(err, fault.Busy):
			var wait desk.RetryAfter
			if !errors.As(err, &wait) || time.Duration(wait) > time.Minute {
				t.Fatalf("no time to wait in %v", err)
			}
		default:
			t.Fatal(err)
		}
	}
	if evaluated != 10 {
		t.Errorf("%d were evaluated", evaluated)
	}
	if _, _, err := sh.SignIn(t.Context(), desk.Login{Email: "ann@example.com", Password: goodPassword, Address: "198.51.100.7"}); err != nil {
		t.Errorf("the owner is locked out elsewhere: %v", err)
	}
	sh.now = sh.now.Add(time.Minute)
	if _, _, err := sh.SignIn(t.Context(), desk.Login{Email: "ann@example.com", Password: goodPassword, Address: "192.0.2.66"}); err != nil {
		t.Errorf("a minute later: %v", err)
	}
}

func TestSessions(t *testing.T) {
	sh := newShop(t)
	bo := sh.add(t, "bo", party.Counter, 0)
	in := func(t *testing.T) string {
		t.Helper()
		token, _, err := sh.SignIn(t.Context(), desk.Login{Email: "bo@example.com", Password: goodPassword, Agent: strings.Repeat("é", 500)})
		if err != nil {
			t.Fatal(err)
		}
		if len(token) < 43 {
			t.Fatalf("token %q is short", token)
		}
		return token
	}
	alive := func(token string) bool {
		s, err := sh.Resume(context.Background(), token)
		if err != nil && !fault.Is(err, fault.NotFound) {
			t.Fatal(err)
		}
		return err == nil && s.Person.ID == bo.ID
	}
	ends := map[string]func(token string) error{
		"sign-out":     func(token string) error { return sh.SignOut(t.Context(), bo.Actor(), token) },
		"12 h unused":  func(string) error { sh.now = sh.now.Add(12 * time.Hour); return nil },
		"new password": func(string) error { return sh.SetPassword(t.Context(), sh.owner, bo.ID, goodPassword) },
		"own password": func(string) error { return sh.ChangePassword(t.Context(), bo.Actor(), goodPassword, goodPassword, "") },
		"elsewhere":    func(string) error { return sh.SignOutElsewhere(t.Context(), bo.Actor(), "another") },
		"tidied away":  func(string) error { sh.now = sh.now.Add(12 * time.Hour); return sh.Tidy(t.Context()) },
	}
	for name, end := range ends {
		t.Run(name, func(t *testing.T) {
			token := in(t)
			if !alive(token) {
				t.Fatal("a new session isn't alive")
			}
			if err := end(token); err != nil {
				t.Fatal(err)
			}
			if alive(token) {
				t.Error("still alive")
			}
		})
	}
	t.Run("a changed role", func(t *testing.T) {
		token := in(t)
		if err := sh.setRole(bo.ID, party.Driver); err != nil {
			t.Fatal(err)
		}
		if alive(token) {
			t.Error("still alive")
		}
	})
	t.Run("7 days although used", func(t *testing.T) {
		token := in(t)
		for range 2*7 - 1 {
			sh.now = sh.now.Add(11 * time.Hour)
			if !alive(token) {
				t.Fatal("ended early")
			}
		}
		sh.now = sh.now.Add(26 * time.Hour)
		if alive(token) {
			t.Error("still alive")
		}
	})
	t.Run("disabled", func(t *testing.T) {
		token := in(t)
		if err := sh.DisablePerson(t.Context(), sh.owner, bo.ID); err != nil {
			t.Fatal(err)
		}
		if alive(token) {
			t.Error("still alive")
		}
	})
}

func (sh *shop) setRole(id int64, role party.Role) error {
	p, err := sh.Person(context.Background(), sh.owner, id)
	if err != nil {
		return err
	}
	p.Role = role
	_, err = sh.ChangePerson(context.Background(), sh.owner, p)
	return err
}

func TestOwnPasswordKeepsThisBrowser(t *testing.T) {
	sh := newShop(t)
	login := desk.Login{Email: "ann@example.com", Password: goodPassword}
	here, _, err := sh.SignIn(t.Context(), login)
	if err != nil {
		t.Fatal(err)
	}
	there, _, err := sh.SignIn(t.Context(), login)
	if err != nil {
		t.Fatal(err)
	}
	wantFault(t, sh.ChangePassword(t.Context(), sh.owner, "not this one", "another set of words", here), fault.Invalid, "current")
	if err := sh.ChangePassword(t.Context(), sh.owner, goodPassword, "another set of words", here); err != nil {
		t.Fatal(err)
	}
	if _, err := sh.Resume(t.Context(), here); err != nil {
		t.Errorf("this browser: %v", err)
	}
	if _, err := sh.Resume(t.Context(), there); !fault.Is(err, fault.NotFound) {
		t.Errorf("the other browser: %v", err)
	}
}

func TestAnOwnerIsLeft(t *testing.T) {
	sh := newShop(t)
	wantFault(t, sh.DisablePerson(t.Context(), sh.owner, sh.owner.PersonID), fault.Conflict, "")
	wantFault(t, sh.setRole(sh.owner.PersonID, party.Counter), fault.Conflict, "")
	sh.add(t, "second", party.Owner, 0)
	if err := sh.DisablePerson(t.Context(), sh.owner, sh.owner.PersonID); err != nil {
		t.Error(err)
	}
}

func TestOnlyOwnersManagePeople(t *testing.T) {
	sh := newShop(t)
	for _, role := range []party.Role{party.Counter, party.Operator, party.Driver, party.Bookkeeper, party.Buyer, party.Visitor, ""} {
		actor := party.Actor{PersonID: 77, Role: role}
		_, err := sh.AddPerson(t.Context(), actor, party.Person{Name: "x", Email: "x@example.com", Role: party.Owner}, goodPassword)
		wantFault(t, err, fault.Denied, "")
		_, err = sh.People(t.Context(), actor)
		wantFault(t, err, fault.Denied, "")
		wantFault(t, sh.DisablePerson(t.Context(), actor, sh.owner.PersonID), fault.Denied, "")
		wantFault(t, sh.SetPassword(t.Context(), actor, sh.owner.PersonID, goodPassword), fault.Denied, "")
	}
}

func TestCustomers(t *testing.T) {
	sh := newShop(t)
	counter := party.Actor{PersonID: 5, Name: "Cy", Role: party.Counter}
	c, err := sh.AddCustomer(t.Context(), counter, party.Customer{Name: " Ridge Roofing ", Billing: party.Address{State: "oh"}})
	if err != nil || c.Name != "Ridge Roofing" || c.Billing.State != "OH" {
		t.Fatalf("added %+v, %v", c, err)
	}
	limit := c
	limit.CreditLimit = money.Cents(1_000_00, money.USD)
	_, err = sh.ChangeCustomer(t.Context(), counter, limit)
	wantFault(t, err, fault.Denied, "")
	if limit, err = sh.ChangeCustomer(t.Context(), sh.owner, limit); err != nil {
		t.Fatal(err)
	}
	_, err = sh.ChangeCustomer(t.Context(), sh.owner, c)
	wantFault(t, err, fault.Conflict, "")

	buyer := party.Actor{PersonID: 9, Name: "Bea", Role: party.Buyer, CustomerID: c.ID}
	other := party.Actor{PersonID: 10, Name: "Oz", Role: party.Buyer, CustomerID: c.ID + 1}
	site := party.Site{CustomerID: c.ID, Name: "Barn", Address: party.Address{Street: "1 Mill Rd", City: "Eastfork"}}
	site, err = sh.SaveSite(t.Context(), buyer, site)
	if err != nil {
		t.Fatal(err)
	}
	_, err = sh.SaveSite(t.Context(), other, site)
	wantFault(t, err, fault.NotFound, "")
	_, err = sh.CustomerFile(t.Context(), other, c.ID)
	wantFault(t, err, fault.NotFound, "")
	_, err = sh.CustomerFile(t.Context(), party.Actor{Role: party.Driver}, c.ID)
	wantFault(t, err, fault.Denied, "")

	cert, err := sh.AddCertificate(t.Context(), counter, party.Certificate{CustomerID: c.ID, Number: "R-7", State: "oh", Signed: sh.now, Expires: sh.now.AddDate(1, 0, 0)})
	if err != nil {
		t.Fatal(err)
	}
	_, err = sh.RevokeCertificate(t.Context(), counter, cert.ID)
	wantFault(t, err, fault.Denied, "")
	if _, err := sh.RevokeCertificate(t.Context(), sh.owner, cert.ID); err != nil {
		t.Fatal(err)
	}
	f, err := sh.CustomerFile(t.Context(), buyer, c.ID)
	if err != nil || len(f.Sites) != 1 || len(f.Certificates) != 1 || !f.Certificates[0].Revoked || len(f.Events) != 5 {
		t.Errorf("file %+v, %v", f, err)
	}
}
