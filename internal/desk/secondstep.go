package desk

import (
	"context"
	"encoding/base64"
	"log/slog"
	"slices"
	"strings"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
	"ribdesk/internal/totp"
)

// The second step at sign-in: six figures from a phone, or a code from paper
// when the phone is lost. Those who see money are offered it, and the owner may
// demand it of them.

// minding are the roles that the second step is for.
var minding = []party.Role{party.Owner, party.Bookkeeper}

// MindsSecond reports whether a role is offered the second step.
func MindsSecond(r party.Role) bool { return slices.Contains(minding, r) }

const (
	codeWait      = 10 * time.Minute // from the password to the code
	codesWindow   = 15 * time.Minute
	triesPerCode  = 10 // codes tried for one person in that window
	recoveryCodes = 10
	recoveryLen   = 10 // characters: 49 bits
)

// CodeWanted is what SignIn gives where the password was right and the second
// step is to come; its Token goes into FinishSignIn.
type CodeWanted struct{ Token string }

// Error says so in one sentence.
func (CodeWanted) Error() string { return "the code from the phone is still to come" }

var wrongCode = fault.New(fault.Invalid, "code", "this isn't the code that holds now; take the next one your phone shows")

// awaitCode keeps that somebody's password was right.
func (d *Desk) awaitCode(ctx context.Context, l Login, p party.Person) error {
	token := base64.RawURLEncoding.EncodeToString(d.bytes(32))
	err := d.store.Write(ctx, func(tx *store.Tx) error {
		if err := tx.ForgetTries(accountBucket(l)); err != nil {
			return err
		}
		return tx.AddHalfSession(store.HalfSession{TokenHash: store.HashToken(token), PersonID: p.ID})
	})
	if err != nil {
		return err
	}
	return CodeWanted{token}
}

// FinishSignIn takes the code that SignIn asked for and gives the token of a new
// session. The code is the phone's, or one of those for a lost phone.
func (d *Desk) FinishSignIn(ctx context.Context, half, code string, l Login) (token string, p party.Person, err error) {
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		p, err = halfSigned(tx, half)
		return err
	})
	if err != nil {
		return "", p, err
	}
	if err := d.limit(ctx, tryBucket{codesOf(p), triesPerCode, codesWindow}); err != nil {
		return "", p, err
	}
	how := ""
	token = base64.RawURLEncoding.EncodeToString(d.bytes(32))
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		if p, err = halfSigned(tx, half); err != nil {
			return err
		}
		if how, err = spendCode(tx, p, code); err != nil {
			return err
		}
		if err := tx.EndHalfSession(store.HashToken(half)); err != nil {
			return err
		}
		if err := tx.ForgetTries(codesOf(p)); err != nil {
			return err
		}
		return openSession(tx, token, l, p, how)
	})
	if fault.Is(err, fault.Invalid) {
		d.watch(ctx, slog.LevelWarn, "sign-in code refused", "person", p.ID, "address", l.Address)
	}
	d.signedIn(ctx, l, p, how, err)
	return token, p, err
}

func codesOf(p party.Person) string { return "codes of person " + store.HashToken(p.Email) }

func halfSigned(tx *store.Tx, half string) (party.Person, error) {
	h, err := tx.HalfSession(store.HashToken(half))
	if err != nil {
		return party.Person{}, err
	}
	p, err := tx.Person(h.PersonID)
	if err == nil && (p.Disabled || tx.Now().Sub(h.CreatedAt) >= codeWait) {
		err = fault.NotFoundf("this sign-in took too long")
	}
	return p, err
}

// spendCode uses up a person's code and tells which kind it was.
func spendCode(tx *store.Tx, p party.Person, code string) (how string, err error) {
	if p.TOTPSecret == "" { // taken away since the password was given
		return "password", nil
	}
	last, err := tx.TOTPStep(p.ID)
	if err != nil {
		return "", err
	}
	secret, err := totp.Secret(p.TOTPSecret)
	if err != nil {
		return "", err
	}
	if step, ok := totp.Check(secret, code, tx.Now(), last); ok {
		return "password and phone", tx.UseTOTPStep(p.ID, step)
	}
	spent, err := tx.SpendRecoveryCode(p.ID, recoveryHash(code))
	if err == nil && !spent {
		err = wrongCode
	}
	return "password and recovery code", err
}

// recoveryHash is how a code for a lost phone is kept. It has 49 random bits and
// is tried ten times in a quarter of an hour at most: no slow hash is needed.
func recoveryHash(code string) string {
	plain := strings.ToUpper(strings.NewReplacer(" ", "", "-", "").Replace(code))
	return store.HashToken("recovery " + plain)
}

// NewTOTPSecret gives a secret to offer somebody who sets the second step up.
func (d *Desk) NewTOTPSecret() string { return totp.Text(d.bytes(totp.SecretBytes)) }

// PhoneLink is what a phone reads to take a secret over.
func PhoneLink(secret, shop, email string) string {
	b, err := totp.Secret(secret)
	if err != nil {
		return ""
	}
	return totp.URI(b, shop, email)
}

// SetSecondStep turns the second step on for oneself, after the password and a
// first code show that it is the person and that the phone has the secret. The
// codes for a lost phone come back, to be read once.
func (d *Desk) SetSecondStep(ctx context.Context, actor party.Actor, password, secret, code, keepToken string) ([]string, error) {
	if err := allow(actor, minding...); err != nil {
		return nil, err
	}
	b, err := totp.Secret(secret)
	if err != nil {
		return nil, fault.Invalidf("code", "the secret got lost on the way; open the page afresh").Because(err)
	}
	return d.withPassword(ctx, actor, password, func(tx *store.Tx, p party.Person) ([]string, error) {
		step, ok := totp.Check(b, code, tx.Now(), 0)
		if !ok {
			return nil, wrongCode
		}
		p.TOTPSecret = totp.Text(b)
		if err := tx.ChangePerson(&p); err != nil {
			return nil, err
		}
		if err := tx.UseTOTPStep(p.ID, step); err != nil {
			return nil, err
		}
		if err := tx.EndSessions(p.ID, store.HashToken(keepToken)); err != nil {
			return nil, err
		}
		codes, err := d.freshCodes(tx, p.ID)
		if err != nil {
			return nil, err
		}
		return codes, tx.Log(actor, "turned second step on", "person", p.ID, nil)
	})
}

// NewRecoveryCodes gives oneself new codes for a lost phone; the old ones are
// worth nothing from then on.
func (d *Desk) NewRecoveryCodes(ctx context.Context, actor party.Actor, password string) ([]string, error) {
	return d.withPassword(ctx, actor, password, func(tx *store.Tx, p party.Person) ([]string, error) {
		if p.TOTPSecret == "" {
			return nil, fault.Conflictf("the second step isn't on")
		}
		codes, err := d.freshCodes(tx, p.ID)
		if err != nil {
			return nil, err
		}
		return codes, tx.Log(actor, "took new recovery codes", "person", p.ID, nil)
	})
}

// DropSecondStep turns one's own second step off.
func (d *Desk) DropSecondStep(ctx context.Context, actor party.Actor, password string) error {
	_, err := d.withPassword(ctx, actor, password, func(tx *store.Tx, p party.Person) ([]string, error) {
		return nil, dropSecond(tx, actor, p)
	})
	return err
}

// ResetSecondStep turns somebody's second step off, for a phone lost with its
// paper codes, and signs them out everywhere. Owners do that.
func (d *Desk) ResetSecondStep(ctx context.Context, actor party.Actor, id int64) error {
	if err := allow(actor, party.Owner); err != nil {
		return err
	}
	return d.store.Write(ctx, func(tx *store.Tx) error {
		p, err := tx.Person(id)
		if err != nil {
			return err
		}
		if err := tx.EndSessions(p.ID, ""); err != nil {
			return err
		}
		return dropSecond(tx, actor, p)
	})
}

func dropSecond(tx *store.Tx, actor party.Actor, p party.Person) error {
	if p.TOTPSecret == "" {
		return fault.Conflictf("the second step isn't on")
	}
	p.TOTPSecret = ""
	if err := tx.ChangePerson(&p); err != nil {
		return err
	}
	if err := tx.SetRecoveryCodes(p.ID, nil); err != nil {
		return err
	}
	return tx.Log(actor, "turned second step off", "person", p.ID, nil)
}

// withPassword does something to the actor's own account after their password
// was checked once more; a stolen open browser isn't enough.
func (d *Desk) withPassword(ctx context.Context, actor party.Actor, password string, do func(*store.Tx, party.Person) ([]string, error)) (codes []string, err error) {
	p, err := d.Person(ctx, actor, actor.PersonID)
	if err != nil {
		return nil, err
	}
	if err := d.ownPassword(ctx, p, password, fault.Invalidf("password", "this isn't your password")); err != nil {
		return nil, err
	}
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		p, err := tx.Person(actor.PersonID)
		if err != nil {
			return err
		}
		if codes, err = do(tx, p); err != nil {
			return err
		}
		return tx.ForgetTries(codesOf(p))
	})
	return codes, err
}

// ownPassword checks somebody's own password once more, or refuses as told. It is
// tried ten times in a quarter of an hour at most, like a code.
func (d *Desk) ownPassword(ctx context.Context, p party.Person, password string, wrong error) error {
	if err := d.limit(ctx, tryBucket{codesOf(p), triesPerCode, codesWindow}); err != nil {
		return err
	}
	fits, err := d.passwordFits(ctx, password, p.PasswordHash)
	if err == nil && !fits {
		d.watch(ctx, slog.LevelWarn, "own password refused", "person", p.ID)
		err = wrong
	}
	return err
}

func (d *Desk) freshCodes(tx *store.Tx, personID int64) ([]string, error) {
	codes, hashes := make([]string, recoveryCodes), make([]string, recoveryCodes)
	for i := range codes {
		c := d.code(recoveryLen)
		codes[i], hashes[i] = c[:recoveryLen/2]+"-"+c[recoveryLen/2:], recoveryHash(c)
	}
	return codes, tx.SetRecoveryCodes(personID, hashes)
}

// CodesLeft tells how many codes for a lost phone the actor has.
func (d *Desk) CodesLeft(ctx context.Context, actor party.Actor) (n int64, err error) {
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		n, err = tx.CountRecoveryCodes(actor.PersonID)
		return err
	})
	return n, err
}

const guardSetting = "guard"

// Guard is what the owner demands of everybody who signs in.
type Guard struct {
	SecondStep bool `json:"second_step"` // owner and bookkeeper must have one
}

// Guard gives the demands and their version.
func (d *Desk) Guard(ctx context.Context) (g Guard, version int64, err error) {
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		version, err = tx.Setting(guardSetting, &g)
		return err
	})
	return g, version, err
}

// SaveGuard changes the demands.
func (d *Desk) SaveGuard(ctx context.Context, actor party.Actor, g Guard, seen int64) error {
	if err := allow(actor, party.Owner); err != nil {
		return err
	}
	return d.store.Write(ctx, func(tx *store.Tx) error { return tx.SaveSetting(actor, guardSetting, g, seen) })
}

// OwesSecondStep reports whether somebody must set the second step up before
// anything else.
func (d *Desk) OwesSecondStep(ctx context.Context, p party.Person) (bool, error) {
	if !MindsSecond(p.Role) || p.TOTPSecret != "" {
		return false, nil
	}
	g, _, err := d.Guard(ctx)
	return g.SecondStep, err
}
