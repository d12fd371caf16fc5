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

// Requests for an account that are taken: from one network address in an hour,
// and waiting in all.
const (
	requestsPerHour  = 5
	mostRequestsWait = 200
)

// AskForAccount keeps a firm's wish for an account until the shop answers. What
// it answers is the same whether or not the e-mail has an account already.
func (d *Desk) AskForAccount(ctx context.Context, address string, r party.AccountRequest) error {
	for _, s := range []*string{&r.Firm, &r.Name, &r.Email, &r.Phone, &r.Note, &r.Address.Street, &r.Address.City, &r.Address.State, &r.Address.Postal} {
		*s = strings.TrimSpace(*s)
	}
	r.Address.State = strings.ToUpper(r.Address.State)
	if r.Language != "es" {
		r.Language = "en"
	}
	if err := r.Check(); err != nil {
		return err
	}
	return d.store.Write(ctx, func(tx *store.Tx) error {
		tries, ends, err := tx.Try("account requests "+address, time.Hour)
		if err != nil {
			return err
		}
		waiting, err := tx.CountAccountRequests()
		if err != nil {
			return err
		}
		if tries > requestsPerHour || waiting >= mostRequestsWait {
			wait := RetryAfter(max(ends.Sub(tx.Now()), time.Minute))
			return fault.New(fault.Busy, "", "The shop has many requests to answer. Try again in an hour, or call.").Because(wait)
		}
		if r, err = tx.AddAccountRequest(r); err != nil {
			return err
		}
		actor := party.Actor{Name: r.Name, Role: party.Visitor}
		return tx.Log(actor, "asked", "account request", r.ID, map[string]any{"firm": r.Firm})
	})
}

// AccountRequests gives the requests that wait, oldest first, and some of those
// that were answered.
func (d *Desk) AccountRequests(ctx context.Context, actor party.Actor) (waiting, answered []party.AccountRequest, err error) {
	if err := allow(actor, party.Owner, party.Counter); err != nil {
		return nil, nil, err
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		if waiting, err = tx.AccountRequests(party.Waiting, mostRequestsWait); err != nil {
			return err
		}
		for _, s := range []party.Standing{party.Approved, party.Declined} {
			list, err := tx.AccountRequests(s, mostRequestsWait)
			if err != nil {
				return err
			}
			answered = append(answered, list...)
		}
		slices.SortFunc(answered, func(a, b party.AccountRequest) int { return b.DecidedAt.Compare(a.DecidedAt) })
		answered = answered[:min(len(answered), 20)]
		return nil
	})
	return waiting, answered, err
}

// ApproveAccount puts the firm of a request on file and invites the person who
// asked, in one step. terms holds the class, and from owner the terms and the
// credit limit: the counter gives none. The invitation's token is known only now.
func (d *Desk) ApproveAccount(ctx context.Context, actor party.Actor, id int64, terms party.Customer) (c party.Customer, token string, err error) {
	if err := allow(actor, party.Owner, party.Counter); err != nil {
		return c, "", err
	}
	token = base64.RawURLEncoding.EncodeToString(d.bytes(18))
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		r, err := waitingRequest(tx, id)
		if err != nil {
			return err
		}
		c = tidyCustomer(party.Customer{
			Name: r.Firm, Email: r.Email, Phone: r.Phone, Billing: r.Address, Language: r.Language,
			Class: terms.Class, Terms: terms.Terms, CreditLimit: terms.CreditLimit,
		})
		if err := c.Check(); err != nil {
			return err
		}
		if err := mayGiveCredit(actor, party.Customer{}, c); err != nil {
			return err
		}
		if _, err := customerNamed(tx, c.Name); !fault.Is(err, fault.NotFound) {
			if err != nil {
				return err
			}
			return fault.Conflictf("“%s” is on file already; invite the person from its page, and decline this request", c.Name)
		}
		if _, err := tx.PersonByEmail(r.Email); !fault.Is(err, fault.NotFound) {
			if err != nil {
				return err
			}
			return fault.Conflictf("somebody signs in with %s already; decline this request", r.Email)
		}
		if err := tx.AddCustomer(&c); err != nil {
			return err
		}
		if err := tx.Log(actor, "added", "customer", c.ID, map[string]any{"name": c.Name, "request": r.ID}); err != nil {
			return err
		}
		invite, err := tx.AddInvite(party.Invite{CustomerID: c.ID, Email: r.Email, MadeBy: actor.Name, ExpiresAt: d.now().Add(invitesLast)}, token)
		if err != nil {
			return err
		}
		if err := tx.Log(actor, "invited", "customer", c.ID, map[string]any{"email": r.Email, "invite": invite.ID}); err != nil {
			return err
		}
		r.Standing, r.CustomerID, r.DecidedBy = party.Approved, c.ID, actor.Name
		return decide(tx, actor, r)
	})
	return c, token, err
}

// DeclineAccount answers a request with no; the reason stays in the shop.
func (d *Desk) DeclineAccount(ctx context.Context, actor party.Actor, id int64, reason string) (r party.AccountRequest, err error) {
	if err := allow(actor, party.Owner, party.Counter); err != nil {
		return r, err
	}
	reason = strings.Join(strings.Fields(reason), " ")
	if reason == "" || len(reason) > 300 {
		return r, fault.Invalidf("reason", "say why in a few words")
	}
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		if r, err = waitingRequest(tx, id); err != nil {
			return err
		}
		r.Standing, r.Reason, r.DecidedBy = party.Declined, reason, actor.Name
		return decide(tx, actor, r)
	})
	return r, err
}

func waitingRequest(tx *store.Tx, id int64) (party.AccountRequest, error) {
	r, err := tx.AccountRequest(id)
	if err == nil && r.Standing != party.Waiting {
		err = fault.Conflictf("this request was %s by %s already", r.Standing, r.DecidedBy)
	}
	return r, err
}

func decide(tx *store.Tx, actor party.Actor, r party.AccountRequest) error {
	if err := tx.DecideAccountRequest(r); err != nil {
		return err
	}
	return tx.Log(actor, string(r.Standing), "account request", r.ID, map[string]any{"firm": r.Firm, "customer": r.CustomerID, "reason": r.Reason})
}

// Classes gives the price classes that customers can be in: those that targets
// are set for, and the two that are always there.
func (d *Desk) Classes(ctx context.Context) ([]string, error) {
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return nil, err
	}
	classes := []string{usualClass, walkIn}
	for _, t := range s.rates.Targets {
		if t.Class != "" && !slices.Contains(classes, t.Class) {
			classes = append(classes, t.Class)
		}
	}
	return classes, nil
}
