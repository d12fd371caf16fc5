package desk

import (
	"context"
	"crypto/subtle"
	"log/slog"
	"strings"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
)

// NeedsOwner reports whether nobody can sign in yet.
func (d *Desk) NeedsOwner(ctx context.Context) (bool, error) {
	var n int64
	err := d.store.Read(ctx, func(tx *store.Tx) (err error) {
		n, err = tx.CountPeople()
		return err
	})
	return n == 0, err
}

// SetupCode gives the code that proves, to FirstOwner, that a person can read
// the server's log. It is another one each time the program starts.
func (d *Desk) SetupCode() string { return d.setupCode() }

// setupLasts is how long a setup code holds at other servers than its own.
const setupLasts = 24 * time.Hour

// OfferSetup is SetupCode for several servers on one database: each may be asked
// to make the first account with the code of any.
func (d *Desk) OfferSetup(ctx context.Context) (string, error) {
	code := d.SetupCode()
	err := d.store.Write(ctx, func(tx *store.Tx) error { return tx.OfferSetupCode(setupHash(code)) })
	return code, err
}

// setupHash is how a setup code is kept: it has 59 random bits.
func setupHash(code string) string { return store.HashToken("setup " + code) }

// setupFits reports whether a typed code is this server's or another's.
func (d *Desk) setupFits(ctx context.Context, typed string) (fits bool, err error) {
	if subtle.ConstantTimeCompare([]byte(typed), []byte(d.SetupCode())) == 1 {
		return true, nil
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		fits, err = tx.SetupCodeOffered(setupHash(typed), tx.Now().Add(-setupLasts))
		return err
	})
	return fits, err
}

// FirstOwner makes the first account, an owner's. It works once, while there is
// nobody, and only with the setup code.
func (d *Desk) FirstOwner(ctx context.Context, code, name, email, password string) (party.Person, error) {
	typed := strings.ToUpper(strings.Join(strings.Fields(strings.ReplaceAll(code, "-", " ")), ""))
	fits, err := d.setupFits(ctx, typed)
	if err != nil {
		return party.Person{}, err
	}
	if !fits {
		d.watch(ctx, slog.LevelWarn, "setup code refused")
		return party.Person{}, fault.Invalidf("code", "this isn't the code; the server wrote it to its log when it started")
	}
	p := party.Person{Name: strings.TrimSpace(name), Email: strings.TrimSpace(email), Role: party.Owner}
	return d.addPerson(ctx, party.System, p, password, func(tx *store.Tx) error {
		n, err := tx.CountPeople()
		if err == nil && n > 0 {
			err = fault.Conflictf("there is an owner already; sign in, or ask the owner for an account")
		}
		if err != nil {
			return err
		}
		return tx.ForgetSetupCodes()
	})
}

// AddPerson makes an account. Owners do that.
func (d *Desk) AddPerson(ctx context.Context, actor party.Actor, p party.Person, password string) (party.Person, error) {
	if err := allow(actor, party.Owner); err != nil {
		return p, err
	}
	p.ID, p.Disabled, p.TOTPSecret = 0, false, ""
	return d.addPerson(ctx, actor, p, password, func(*store.Tx) error { return nil })
}

func (d *Desk) addPerson(ctx context.Context, actor party.Actor, p party.Person, password string, first func(*store.Tx) error) (party.Person, error) {
	var l fault.List
	l.Add("", p.Check())
	l.Add("", CheckPassword("password", password, p.Name, p.Email))
	if err := l.Err(); err != nil {
		return p, err
	}
	hash, err := d.hashPassword(ctx, password)
	if err != nil {
		return p, err
	}
	p.PasswordHash = hash
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		if err := first(tx); err != nil {
			return err
		}
		return keepPerson(tx, actor, &p)
	})
	return p, err
}

// keepPerson keeps a new account.
func keepPerson(tx *store.Tx, actor party.Actor, p *party.Person) error {
	if err := firmOf(tx, *p); err != nil {
		return err
	}
	if err := tx.AddPerson(p); err != nil {
		return err
	}
	return tx.Log(actor, "added", "person", p.ID, account(*p))
}

// firmOf refuses a customer's person whose firm isn't there.
func firmOf(tx *store.Tx, p party.Person) error {
	if p.CustomerID == 0 {
		return nil
	}
	_, err := tx.Customer(p.CustomerID)
	if fault.Is(err, fault.NotFound) {
		return fault.Invalidf("customer", "choose the firm this person buys for").Because(err)
	}
	return err
}

// accountRecord is what the log keeps of a person: nothing secret.
type accountRecord struct {
	Name     string     `json:"name"`
	Email    string     `json:"email"`
	Role     party.Role `json:"role"`
	Customer int64      `json:"customer,omitempty"`
	Disabled bool       `json:"disabled"`
}

func account(p party.Person) accountRecord {
	return accountRecord{p.Name, p.Email, p.Role, p.CustomerID, p.Disabled}
}

// People gives everybody with an account. Owners see that.
func (d *Desk) People(ctx context.Context, actor party.Actor) (people []party.Person, err error) {
	if err := allow(actor, party.Owner); err != nil {
		return nil, err
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		people, err = tx.People()
		return err
	})
	return people, err
}

// Person gives one account: an owner sees all, anybody their own.
func (d *Desk) Person(ctx context.Context, actor party.Actor, id int64) (p party.Person, err error) {
	if actor.PersonID != id || id == 0 {
		if err := allow(actor, party.Owner); err != nil {
			return p, err
		}
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		p, err = tx.Person(id)
		return err
	})
	return p, err
}

// ChangePerson changes an account's name, address, role, firm, and whether it
// may sign in; its sessions end when the role or that right changes. There is
// always one owner left who can sign in.
func (d *Desk) ChangePerson(ctx context.Context, actor party.Actor, p party.Person) (party.Person, error) {
	if err := allow(actor, party.Owner); err != nil {
		return p, err
	}
	if err := p.Check(); err != nil {
		return p, err
	}
	err := d.store.Write(ctx, func(tx *store.Tx) error {
		before, err := tx.Person(p.ID)
		if err != nil {
			return err
		}
		p.PasswordHash, p.TOTPSecret, p.CreatedAt = before.PasswordHash, before.TOTPSecret, before.CreatedAt
		if err := firmOf(tx, p); err != nil {
			return err
		}
		if err := tx.ChangePerson(&p); err != nil {
			return err
		}
		if err := keepAnOwner(tx); err != nil {
			return err
		}
		if p.Disabled || p.Role != before.Role || p.CustomerID != before.CustomerID {
			if err := tx.EndSessions(p.ID, ""); err != nil {
				return err
			}
		}
		return tx.Log(actor, "changed", "person", p.ID, changes(account(before), account(p)))
	})
	return p, err
}

// DisablePerson takes away the right to sign in, at once.
func (d *Desk) DisablePerson(ctx context.Context, actor party.Actor, id int64) error {
	p, err := d.Person(ctx, actor, id)
	if err != nil {
		return err
	}
	p.Disabled = true
	_, err = d.ChangePerson(ctx, actor, p)
	return err
}

func keepAnOwner(tx *store.Tx) error {
	n, err := tx.CountOwners()
	if err == nil && n == 0 {
		err = fault.Conflictf("this is the last owner who can sign in; make another owner first")
	}
	return err
}

// ChangePassword gives a person a new password of their own. The other browsers
// they are signed in with are signed out; the one with keepToken stays.
func (d *Desk) ChangePassword(ctx context.Context, actor party.Actor, current, password, keepToken string) error {
	p, err := d.Person(ctx, actor, actor.PersonID)
	if err != nil {
		return err
	}
	if err := d.ownPassword(ctx, p, current, fault.Invalidf("current", "this isn't your present password")); err != nil {
		return err
	}
	return d.newPassword(ctx, actor, p, password, keepToken)
}

// SetPassword gives somebody a new password, for those who forgot theirs. They
// are signed out everywhere. Owners do that.
func (d *Desk) SetPassword(ctx context.Context, actor party.Actor, id int64, password string) error {
	if err := allow(actor, party.Owner); err != nil {
		return err
	}
	p, err := d.Person(ctx, actor, id)
	if err != nil {
		return err
	}
	return d.newPassword(ctx, actor, p, password, "")
}

func (d *Desk) newPassword(ctx context.Context, actor party.Actor, p party.Person, password, keepToken string) error {
	if err := CheckPassword("password", password, p.Name, p.Email); err != nil {
		return err
	}
	hash, err := d.hashPassword(ctx, password)
	if err != nil {
		return err
	}
	p.PasswordHash = hash
	keep := ""
	if keepToken != "" {
		keep = store.HashToken(keepToken)
	}
	return d.store.Write(ctx, func(tx *store.Tx) error { return savePassword(tx, actor, p, keep) })
}

// savePassword keeps a person with a new password: browsers but the one with the
// kept session are signed out, links to choose a password and tries are forgotten.
func savePassword(tx *store.Tx, actor party.Actor, p party.Person, keep string) error {
	if err := tx.ChangePerson(&p); err != nil {
		return err
	}
	if err := tx.EndSessions(p.ID, keep); err != nil {
		return err
	}
	if err := tx.DropPasswordLinks(p.ID); err != nil {
		return err
	}
	if err := tx.ForgetTries(codesOf(p)); err != nil {
		return err
	}
	return tx.Log(actor, "changed password", "person", p.ID, nil)
}
