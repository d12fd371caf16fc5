package desk

import (
	"context"
	"encoding/base64"
	"slices"
	"strings"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
)

// Scope is one thing that a program may do.
type Scope string

// The scopes. Each route of the API needs one.
const (
	MayPrice     Scope = "price"
	MayReadOrder Scope = "orders:read"
	MayMakeOrder Scope = "orders:write"
	MayReadPaper Scope = "papers:read"
	MayReadCoil  Scope = "coils:read"
	MayReadFirm  Scope = "customers:read"
)

// Scopes lists every scope.
var Scopes = []Scope{MayPrice, MayReadOrder, MayMakeOrder, MayReadPaper, MayReadCoil, MayReadFirm}

// Program is something other than a person that may ask the desk, within its
// scopes. It sees what the counter sees.
type Program struct {
	ID        int64
	Name      string
	Scopes    []Scope
	By        int64 // the person who let it in
	Revoked   bool
	CreatedAt time.Time
	SeenAt    time.Time
}

// May reports whether the program has a scope.
func (p Program) May(s Scope) bool { return slices.Contains(p.Scopes, s) }

// Actor gives the program as one who acts: a clerk under its own name, whom the
// owner who let it in answers for.
func (p Program) Actor() party.Actor {
	return party.Actor{PersonID: p.By, Name: p.Name + " (program)", Role: party.Counter}
}

func program(row store.Program) Program {
	p := Program{ID: row.ID, Name: row.Name, By: row.PersonID, Revoked: row.Revoked, CreatedAt: row.CreatedAt, SeenAt: row.SeenAt}
	for s := range strings.FieldsSeq(row.Scopes) {
		p.Scopes = append(p.Scopes, Scope(s))
	}
	return p
}

const (
	mostPrograms = 100
	programTouch = time.Hour // how exactly its last use is kept
)

// AddProgram lets a program in and gives its token, once; only its hash is kept.
func (d *Desk) AddProgram(ctx context.Context, actor party.Actor, name string, scopes []Scope) (token string, p Program, err error) {
	if err := allow(actor, party.Owner); err != nil {
		return "", p, err
	}
	if err := checkProgram(name, scopes); err != nil {
		return "", p, err
	}
	token = "rd_" + base64.RawURLEncoding.EncodeToString(d.bytes(32))
	words := make([]string, len(scopes))
	for i, s := range scopes {
		words[i] = string(s)
	}
	row := store.Program{Name: name, TokenHash: store.HashToken(token), Scopes: strings.Join(words, " "), PersonID: actor.PersonID}
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		all, err := tx.Programs()
		if err != nil {
			return err
		}
		if len(all) >= mostPrograms {
			return fault.Conflictf("there are %d programs already", len(all))
		}
		row.ID = 0
		if err := tx.AddProgram(&row); err != nil {
			return err
		}
		return tx.Log(actor, "let in", "program", row.ID, map[string]any{"name": name, "scopes": scopes})
	})
	return token, program(row), err
}

func checkProgram(name string, scopes []Scope) error {
	var l fault.List
	if name == "" || len([]rune(name)) > 60 {
		l.Addf("name", "name the program, in 60 characters at most")
	}
	if len(scopes) == 0 {
		l.Addf("scopes", "choose what it may do")
	}
	for _, s := range scopes {
		if !slices.Contains(Scopes, s) {
			l.Addf("scopes", "there is no scope %q", string(s))
		}
	}
	return l.Err()
}

// Programs gives all programs. Owners see that.
func (d *Desk) Programs(ctx context.Context, actor party.Actor) (list []Program, err error) {
	if err := allow(actor, party.Owner); err != nil {
		return nil, err
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		rows, err := tx.Programs()
		for _, r := range rows {
			list = append(list, program(r))
		}
		return err
	})
	return list, err
}

// RevokeProgram shuts a program out, at once.
func (d *Desk) RevokeProgram(ctx context.Context, actor party.Actor, id int64) error {
	if err := allow(actor, party.Owner); err != nil {
		return err
	}
	return d.store.Write(ctx, func(tx *store.Tx) error {
		p, err := tx.Program(id)
		if err != nil {
			return err
		}
		if p.Revoked {
			return fault.Conflictf("%s is shut out already", p.Name)
		}
		if err := tx.RevokeProgram(id); err != nil {
			return err
		}
		return tx.Log(actor, "shut out", "program", id, nil)
	})
}

// ProgramOf gives the program of a token. A token that is unknown or revoked, or
// whose owner may no longer sign in, gives NotFound.
func (d *Desk) ProgramOf(ctx context.Context, token string) (p Program, err error) {
	var row store.Program
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		if row, err = tx.ProgramByToken(store.HashToken(token)); err != nil {
			return err
		}
		by, err := tx.Person(row.PersonID)
		if err != nil {
			return err
		}
		if row.Revoked || by.Disabled || by.Role != party.Owner {
			return fault.NotFoundf("this program is shut out")
		}
		return nil
	})
	if err != nil {
		return p, err
	}
	if d.now().Sub(row.SeenAt) >= programTouch {
		// Not worth failing the request for.
		if err := d.store.Write(ctx, func(tx *store.Tx) error { return tx.TouchProgram(row.ID) }); err != nil {
			d.log.WarnContext(ctx, "program not touched", "error", err)
		}
	}
	return program(row), nil
}
