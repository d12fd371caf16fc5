package desk

import (
	"context"
	"encoding/base64"
	"log/slog"
	"strings"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
)

// A session ends when it wasn't used for sessionIdle, and anyway after
// sessionLasts.
const (
	sessionIdle  = 12 * time.Hour
	sessionLasts = 7 * 24 * time.Hour
	// sessionTouch is how exactly its last use is kept: not every look at a page
	// should be a write.
	sessionTouch = 5 * time.Minute
)

// Sign-ins that are tried in a minute: for one account from one address, and
// from one address in all. An account can't be locked from outside: its owner,
// at another address, has a count of their own.
const (
	triesWindow     = time.Minute
	triesPerAccount = 10
	triesPerAddress = 60
)

// Login is what somebody who wants to sign in shows.
type Login struct {
	Email    string
	Password string
	Address  string // network address, for the throttle and the list of sessions
	Agent    string // what the browser calls itself
}

// RetryAfter is the cause of a Busy fault that knows when to try again.
type RetryAfter time.Duration

// Error says how long to wait.
func (r RetryAfter) Error() string { return "retry after " + time.Duration(r).String() }

// Session is a browser that somebody is signed in with.
type Session struct {
	ID        int64
	Person    party.Person
	Address   string
	Agent     string
	CreatedAt time.Time
	SeenAt    time.Time
}

// wrongLogin is the same for a wrong password, an unknown address and a
// disabled account, and takes as long.
var wrongLogin = fault.New(fault.Invalid, "password", "e-mail and password don't fit together")

// Authenticate finds out whose address and password these are.
func (d *Desk) Authenticate(ctx context.Context, l Login) (party.Person, error) {
	if err := d.throttle(ctx, l); err != nil {
		return party.Person{}, err
	}
	var p party.Person
	err := d.store.Read(ctx, func(tx *store.Tx) (err error) {
		p, err = tx.PersonByEmail(l.Email)
		return err
	})
	known := err == nil
	if err != nil && !fault.Is(err, fault.NotFound) {
		return party.Person{}, err
	}
	hash := nobodysHash
	if known {
		hash = p.PasswordHash
	}
	fits, err := d.passwordFits(ctx, l.Password, hash)
	if err != nil {
		return party.Person{}, err
	}
	if !known || !fits || p.Disabled {
		d.watch(ctx, slog.LevelWarn, "sign-in refused", "person", p.ID, "address", l.Address, "disabled", p.Disabled)
		return party.Person{}, wrongLogin
	}
	return p, nil
}

func (d *Desk) throttle(ctx context.Context, l Login) error {
	return d.limit(ctx,
		tryBucket{accountBucket(l), triesPerAccount, triesWindow},
		tryBucket{"address " + l.Address, triesPerAddress, triesWindow})
}

// tryBucket counts tries of one kind: so many in a window.
type tryBucket struct {
	name   string
	limit  int64
	window time.Duration
}

// limit counts a try in each bucket and refuses when one is full.
func (d *Desk) limit(ctx context.Context, buckets ...tryBucket) error {
	full := ""
	err := d.store.Write(ctx, func(tx *store.Tx) error {
		full = ""
		for _, b := range buckets {
			tries, ends, err := tx.Try(b.name, b.window)
			if err != nil {
				return err
			}
			if tries > b.limit {
				full, _, _ = strings.Cut(b.name, " ")
				wait := max(ends.Sub(tx.Now()), time.Second)
				return fault.New(fault.Busy, "", "Too many wrong sign-ins from here. Wait a minute, then try again.").Because(RetryAfter(wait))
			}
		}
		return nil
	})
	if full != "" {
		d.watch(ctx, slog.LevelWarn, "too many tries", "of", full)
	}
	return err
}

// accountBucket names a try by account and address; the account goes in as a
// hash, so that a password typed into the wrong box isn't kept.
func accountBucket(l Login) string {
	return "account " + store.HashToken(strings.ToLower(strings.TrimSpace(l.Email))) + " " + l.Address
}

// SignIn checks a login and gives the token of a new session, which the browser
// keeps; only its hash is stored. Somebody with a second step gets CodeWanted.
func (d *Desk) SignIn(ctx context.Context, l Login) (token string, p party.Person, err error) {
	p, err = d.Authenticate(ctx, l)
	if err != nil {
		return "", p, err
	}
	if p.TOTPSecret != "" {
		return "", p, d.awaitCode(ctx, l, p)
	}
	token = base64.RawURLEncoding.EncodeToString(d.bytes(32))
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		if err := tx.ForgetTries(accountBucket(l)); err != nil {
			return err
		}
		return openSession(tx, token, l, p, "password")
	})
	d.signedIn(ctx, l, p, "password", err)
	return token, p, err
}

// signedIn logs a sign-in that was done.
func (d *Desk) signedIn(ctx context.Context, l Login, p party.Person, how string, err error) {
	if err == nil {
		d.watch(ctx, slog.LevelInfo, "signed in", "person", p.ID, "role", p.Role, "address", l.Address, "by", how)
	}
}

func openSession(tx *store.Tx, token string, l Login, p party.Person, how string) error {
	s := store.Session{TokenHash: store.HashToken(token), PersonID: p.ID, Address: l.Address, Agent: cut(l.Agent, 200)}
	if err := tx.AddSession(&s); err != nil {
		return err
	}
	return tx.Log(p.Actor(), "signed in", "person", p.ID, map[string]string{"address": l.Address, "by": how})
}

func cut(s string, n int) string {
	if r := []rune(s); len(r) > n {
		return string(r[:n])
	}
	return s
}

// Resume gives the session of a token. A token that is unknown, ran out, or
// whose person may no longer sign in gives NotFound.
func (d *Desk) Resume(ctx context.Context, token string) (Session, error) {
	var row store.Session
	var p party.Person
	err := d.store.Read(ctx, func(tx *store.Tx) (err error) {
		if row, err = tx.SessionByToken(store.HashToken(token)); err != nil {
			return err
		}
		p, err = tx.Person(row.PersonID)
		return err
	})
	if err != nil {
		return Session{}, err
	}
	now := d.now()
	if p.Disabled || now.Sub(row.SeenAt) >= sessionIdle || now.Sub(row.CreatedAt) >= sessionLasts {
		return Session{}, fault.NotFoundf("this session has ended")
	}
	if now.Sub(row.SeenAt) >= sessionTouch {
		// Not worth failing the page for: the session only ends sooner.
		if err := d.store.Write(ctx, func(tx *store.Tx) error { return tx.TouchSession(row.ID) }); err != nil {
			d.log.WarnContext(ctx, "session not touched", "error", err)
		}
	}
	return session(row, p), nil
}

func session(row store.Session, p party.Person) Session {
	return Session{ID: row.ID, Person: p, Address: row.Address, Agent: row.Agent, CreatedAt: row.CreatedAt, SeenAt: row.SeenAt}
}

// Sessions gives the browsers a person is signed in with, newest first.
func (d *Desk) Sessions(ctx context.Context, actor party.Actor) (sessions []Session, err error) {
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		rows, err := tx.Sessions(actor.PersonID)
		for _, r := range rows {
			sessions = append(sessions, session(r, party.Person{ID: actor.PersonID, Name: actor.Name, Role: actor.Role}))
		}
		return err
	})
	return sessions, err
}

// SignOut ends the session of a token.
func (d *Desk) SignOut(ctx context.Context, actor party.Actor, token string) error {
	return d.store.Write(ctx, func(tx *store.Tx) error {
		if err := tx.EndSession(store.HashToken(token)); err != nil {
			return err
		}
		return tx.Log(actor, "signed out", "person", actor.PersonID, nil)
	})
}

// SignOutElsewhere ends a person's sessions but the one with this token.
func (d *Desk) SignOutElsewhere(ctx context.Context, actor party.Actor, token string) error {
	return d.store.Write(ctx, func(tx *store.Tx) error {
		if err := tx.EndSessions(actor.PersonID, store.HashToken(token)); err != nil {
			return err
		}
		return tx.Log(actor, "signed out elsewhere", "person", actor.PersonID, nil)
	})
}
