package desk

import (
	"context"
	"encoding/base64"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
)

// passwordLinkLasts is how long a link to choose a password opens.
const passwordLinkLasts = 24 * time.Hour

// AddPersonByLink makes an account that nobody can sign in to until its person has
// chosen a password by the link whose token comes back, to be read once. Nobody
// but they ever know it. Owners do that.
func (d *Desk) AddPersonByLink(ctx context.Context, actor party.Actor, p party.Person) (made party.Person, token string, err error) {
	if err := allow(actor, party.Owner); err != nil {
		return p, "", err
	}
	if err := p.Check(); err != nil {
		return p, "", err
	}
	p.ID, p.Disabled, p.TOTPSecret, p.PasswordHash = 0, false, "", nobodysHash
	token = d.linkToken()
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		made = p
		if err := keepPerson(tx, actor, &made); err != nil {
			return err
		}
		return tx.AddPasswordLink(made.ID, token)
	})
	return made, token, err
}

// MakePasswordLink gives the token of a link by which somebody who forgot their
// password chooses another; the old one holds until they do. Owners do that.
func (d *Desk) MakePasswordLink(ctx context.Context, actor party.Actor, id int64) (token string, err error) {
	if err := allow(actor, party.Owner); err != nil {
		return "", err
	}
	token = d.linkToken()
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		p, err := tx.Person(id)
		if err != nil {
			return err
		}
		if p.Disabled {
			return fault.Conflictf("%s may not sign in", p.Name)
		}
		if err := tx.AddPasswordLink(p.ID, token); err != nil {
			return err
		}
		return tx.Log(actor, "made password link", "person", p.ID, nil)
	})
	return token, err
}

func (d *Desk) linkToken() string { return base64.RawURLEncoding.EncodeToString(d.bytes(18)) }

// OpenPasswordLink tells whose password a link is for.
func (d *Desk) OpenPasswordLink(ctx context.Context, token string) (p party.Person, err error) {
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		p, err = linkedPerson(tx, token)
		return err
	})
	return p, err
}

func linkedPerson(tx *store.Tx, token string) (party.Person, error) {
	id, since, err := tx.PasswordLink(token)
	if err != nil {
		return party.Person{}, err
	}
	p, err := tx.Person(id)
	if err == nil && (p.Disabled || tx.Now().Sub(since) >= passwordLinkLasts) {
		err = fault.NotFoundf("this link opens nothing any more; ask the shop for a new one")
	}
	return p, err
}

// ChoosePassword gives the person of a link the password they chose. The link is
// spent, and they are signed out everywhere; a second step stays as it is.
func (d *Desk) ChoosePassword(ctx context.Context, token, password string) (p party.Person, err error) {
	if p, err = d.OpenPasswordLink(ctx, token); err != nil {
		return p, err
	}
	if err := CheckPassword("password", password, p.Name, p.Email); err != nil {
		return p, err
	}
	hash, err := d.hashPassword(ctx, password)
	if err != nil {
		return p, err
	}
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		if p, err = linkedPerson(tx, token); err != nil { // spent meanwhile by another
			return err
		}
		p.PasswordHash = hash
		return savePassword(tx, p.Actor(), p, "")
	})
	return p, err
}
