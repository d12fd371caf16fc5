package desk

import (
	"context"
	"encoding/base64"
	"net/mail"
	"strings"
	"time"

	"ribdesk/internal/books"
	"ribdesk/internal/fault"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
)

// Firm is what a customer's person sees of their firm.
type Firm struct {
	CustomerFile
	Orders    []order.Order // newest first
	People    []party.Person
	Statement books.Statement
	Committed money.Amount // accepted and not delivered yet
	Used      money.Amount // of the credit limit: owed and committed
}

// accountOrders is how many orders stand on the account's own page; the others
// are on the list of orders.
const accountOrders = 20

// committed are the states in which an order counts against the credit limit
// before it is invoiced.
var committed = []order.State{order.Accepted, order.Planned, order.Cut, order.Loaded}

// Firm gives the firm of a customer's person, and nothing of anybody else's.
func (d *Desk) Firm(ctx context.Context, actor party.Actor) (a Firm, err error) {
	if err := allow(actor, party.Buyer); err != nil {
		return a, err
	}
	id := actor.CustomerID
	if a.CustomerFile, err = d.CustomerFile(ctx, actor, id); err != nil {
		return a, err
	}
	a.Events = nil // the shop's own log
	if a.Orders, err = d.Orders(ctx, actor, OrderFilter{Limit: accountOrders}); err != nil {
		return a, err
	}
	if a.Statement, err = d.Statement(ctx, actor, id); err != nil {
		return a, err
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		if a.People, err = tx.PeopleOf(id); err != nil {
			return err
		}
		sum, err := tx.SumOrders(id, committed)
		a.Committed = money.Cents(sum, a.Customer.CreditLimit.Currency())
		return err
	})
	a.Used = a.Committed.Add(a.Statement.Balance).Sub(a.Statement.Credit)
	return a, err
}

// WriteMessage keeps a message about an order, from the shop or from a person of
// the customer's.
func (d *Desk) WriteMessage(ctx context.Context, actor party.Actor, id int64, body string) error {
	if err := allow(actor, party.Owner, party.Counter, party.Bookkeeper, party.Buyer); err != nil {
		return err
	}
	return d.store.Write(ctx, func(tx *store.Tx) error {
		if _, err := seeOrder(tx, actor, id); err != nil {
			return err
		}
		return keepMessage(tx, actor, id, actor.Name, body)
	})
}

// WriteByLink keeps a message from whoever holds an order's private link.
func (d *Desk) WriteByLink(ctx context.Context, token, name, body string) error {
	f, err := d.OpenLink(ctx, token)
	if err != nil {
		return err
	}
	actor := party.Actor{Name: strings.TrimSpace(name), Role: party.Visitor}
	return d.store.Write(ctx, func(tx *store.Tx) error { return keepMessage(tx, actor, f.Order.ID, actor.Name, body) })
}

// mostMessages keeps a thread from being filled by a program.
const mostMessages = 200

func keepMessage(tx *store.Tx, actor party.Actor, id int64, name, body string) error {
	m := order.Message{OrderID: id, PersonID: actor.PersonID, Name: name, Ours: actor.Role.Staff(), Body: strings.TrimSpace(body)}
	if err := m.Check(); err != nil {
		return err
	}
	there, err := tx.Messages(id)
	if err != nil {
		return err
	}
	if len(there) >= mostMessages {
		return fault.Conflictf("this thread is full; call the shop")
	}
	if err := tx.AddMessage(m); err != nil {
		return err
	}
	return tx.Log(actor, "wrote", "order", id, nil)
}

// invitesLast is how long an invitation opens.
const invitesLast = 7 * 24 * time.Hour

// InvitePerson invites somebody of a customer's to make an account. The token of
// the link is known only now: the store keeps its hash.
func (d *Desk) InvitePerson(ctx context.Context, actor party.Actor, customerID int64, email string) (token string, err error) {
	if err := allow(actor, party.Owner, party.Counter); err != nil {
		return "", err
	}
	email = strings.TrimSpace(email)
	if a, err := mail.ParseAddress(email); err != nil || a.Address != email {
		return "", fault.Invalidf("invite", "write one e-mail address, like name@example.com")
	}
	token = base64.RawURLEncoding.EncodeToString(d.bytes(18))
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		if _, err := tx.Customer(customerID); err != nil {
			return err
		}
		if _, err := tx.PersonByEmail(email); !fault.Is(err, fault.NotFound) {
			if err != nil {
				return err
			}
			return fault.Invalidf("invite", "somebody signs in with %s already", email)
		}
		i, err := tx.AddInvite(party.Invite{CustomerID: customerID, Email: email, MadeBy: actor.Name, ExpiresAt: d.now().Add(invitesLast)}, token)
		if err != nil {
			return err
		}
		return tx.Log(actor, "invited", "customer", customerID, map[string]any{"email": email, "invite": i.ID})
	})
	return token, err
}

// OpenInvite gives the invitation behind a link, and the firm it is for.
func (d *Desk) OpenInvite(ctx context.Context, token string) (i party.Invite, c party.Customer, err error) {
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		if i, err = d.openInvite(tx, token); err != nil {
			return err
		}
		c, err = tx.Customer(i.CustomerID)
		return err
	})
	return i, c, err
}

func (d *Desk) openInvite(tx *store.Tx, token string) (party.Invite, error) {
	i, err := tx.InviteByToken(token)
	if err == nil && (i.Used || d.now().After(i.ExpiresAt)) {
		err = fault.NotFoundf("this invitation opens nothing any more; ask the shop for a new one")
	}
	return i, err
}

// Join makes the account of an invited person; the invitation is used up in the
// same step.
func (d *Desk) Join(ctx context.Context, token, name, password string) (party.Person, error) {
	i, _, err := d.OpenInvite(ctx, token)
	if err != nil {
		return party.Person{}, err
	}
	p := party.Person{Name: strings.TrimSpace(name), Email: i.Email, Role: party.Buyer, CustomerID: i.CustomerID}
	actor := party.Actor{Name: p.Name, Role: party.Buyer, CustomerID: i.CustomerID}
	return d.addPerson(ctx, actor, p, password, func(tx *store.Tx) error {
		if _, err := d.openInvite(tx, token); err != nil {
			return err
		}
		return tx.UseInvite(i.ID)
	})
}

// DeclinedBy counts the quotes declined in the last 90 days by kind of reason.
func (d *Desk) DeclinedBy(ctx context.Context, actor party.Actor) (counts map[string]int, err error) {
	if err := allow(actor, party.Owner, party.Counter); err != nil {
		return nil, err
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		counts, err = tx.CountDeclined(d.now().AddDate(0, 0, -90))
		return err
	})
	return counts, err
}
