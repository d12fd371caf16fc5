package desk

import (
	"context"
	"strings"

	"ribdesk/internal/fault"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
)

// usualClass is the price class of a customer of whom nothing else is said.
const usualClass = "trade"

// CustomerFile is all that is on file about a customer.
type CustomerFile struct {
	Customer     party.Customer
	Sites        []party.Site
	Certificates []party.Certificate
	Events       []store.Event
}

// AddCustomer puts a customer on file.
func (d *Desk) AddCustomer(ctx context.Context, actor party.Actor, c party.Customer) (party.Customer, error) {
	if err := allow(actor, party.Owner, party.Counter, party.Bookkeeper); err != nil {
		return c, err
	}
	c = tidyCustomer(c)
	if err := c.Check(); err != nil {
		return c, err
	}
	if err := mayGiveCredit(actor, party.Customer{}, c); err != nil {
		return c, err
	}
	err := d.store.Write(ctx, func(tx *store.Tx) error {
		if err := tx.AddCustomer(&c); err != nil {
			return err
		}
		return tx.Log(actor, "added", "customer", c.ID, map[string]string{"name": c.Name})
	})
	return c, err
}

// ChangeCustomer changes what is on file; c.Version is the one that was looked at.
func (d *Desk) ChangeCustomer(ctx context.Context, actor party.Actor, c party.Customer) (party.Customer, error) {
	if err := allow(actor, party.Owner, party.Counter, party.Bookkeeper); err != nil {
		return c, err
	}
	c = tidyCustomer(c)
	if err := c.Check(); err != nil {
		return c, err
	}
	err := d.store.Write(ctx, func(tx *store.Tx) error {
		before, err := tx.Customer(c.ID)
		if err != nil {
			return err
		}
		c.CreatedAt = before.CreatedAt
		if err := mayGiveCredit(actor, before, c); err != nil {
			return err
		}
		if err := tx.ChangeCustomer(&c); err != nil {
			return err
		}
		return tx.Log(actor, "changed", "customer", c.ID, changes(before, c))
	})
	return c, err
}

func tidyCustomer(c party.Customer) party.Customer {
	for _, s := range []*string{&c.Name, &c.Class, &c.Email, &c.Phone, &c.HoldReason,
		&c.Billing.Street, &c.Billing.City, &c.Billing.State, &c.Billing.Postal, &c.Billing.Country} {
		*s = strings.TrimSpace(*s)
	}
	c.Billing.State = strings.ToUpper(c.Billing.State)
	if c.Class == "" {
		c.Class = usualClass
	}
	if c.Language == "" {
		c.Language = "en"
	}
	if c.Billing.Country == "" {
		c.Billing.Country = "US"
	}
	if !c.Hold {
		c.HoldReason = ""
	}
	return c
}

// mayGiveCredit keeps terms, limits and holds to those who answer for money.
func mayGiveCredit(actor party.Actor, before, after party.Customer) error {
	if actor.Role == party.Owner || actor.Role == party.Bookkeeper {
		return nil
	}
	if !before.Terms.Equal(after.Terms) || before.CreditLimit.Cents() != after.CreditLimit.Cents() || before.Hold != after.Hold {
		return fault.Deniedf("only the owner and the bookkeeper change terms, credit limits and holds")
	}
	return nil
}

// Customers gives a page of customers by name, 50 a page counted from 0, whose
// name, e-mail, phone or city holds search; more tells whether another follows.
func (d *Desk) Customers(ctx context.Context, actor party.Actor, search string, page int) (list []party.Customer, more bool, err error) {
	if err := allow(actor, party.Owner, party.Counter, party.Bookkeeper); err != nil {
		return nil, false, err
	}
	const size = 50
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		list, err = tx.Customers(search, max(page, 0)*size, size+1)
		return err
	})
	if len(list) > size {
		return list[:size], true, err
	}
	return list, false, err
}

// CustomerFile gives what is on file about a customer, to staff who deal with
// customers and to the customer's own people.
func (d *Desk) CustomerFile(ctx context.Context, actor party.Actor, id int64) (f CustomerFile, err error) {
	if err := seesFile(actor, id); err != nil {
		return f, err
	}
	err = d.store.Read(ctx, func(tx *store.Tx) (err error) {
		if f.Customer, err = tx.Customer(id); err != nil {
			return err
		}
		if f.Sites, err = tx.Sites(id); err != nil {
			return err
		}
		if f.Certificates, err = tx.Certificates(id); err != nil {
			return err
		}
		f.Events, err = tx.Events("customer", id)
		return err
	})
	return f, err
}

// seesFile answers a customer's person who asks for another firm's file as if
// it weren't there.
func seesFile(actor party.Actor, customerID int64) error {
	if actor.Role == party.Buyer {
		if !actor.Sees(customerID) {
			return fault.NotFoundf("there is no customer %d", customerID)
		}
		return nil
	}
	return allow(actor, party.Owner, party.Counter, party.Bookkeeper)
}

// SaveSite keeps a place goods go to, new when its ID is 0.
func (d *Desk) SaveSite(ctx context.Context, actor party.Actor, s party.Site) (party.Site, error) {
	if err := seesFile(actor, s.CustomerID); err != nil {
		return s, err
	}
	s = tidySite(s)
	if err := s.Check(); err != nil {
		return s, err
	}
	err := d.store.Write(ctx, func(tx *store.Tx) error {
		action := "added site"
		if _, err := tx.Customer(s.CustomerID); err != nil {
			return err
		}
		if s.ID != 0 {
			action = "changed site"
			before, err := tx.Site(s.ID)
			if err != nil {
				return err
			}
			if before.CustomerID != s.CustomerID {
				return fault.NotFoundf("there is no site %d", s.ID)
			}
			if actor.Role == party.Buyer && before.MilesTenths != 0 && before.Address == s.Address {
				s.MilesTenths = before.MilesTenths // the shop's own figure, which delivery is priced with
			}
		}
		if err := tx.SaveSite(&s); err != nil {
			return err
		}
		return tx.Log(actor, action, "customer", s.CustomerID, map[string]any{"site": s.ID, "name": s.Name, "address": s.Address.Line()})
	})
	return s, err
}

func tidySite(s party.Site) party.Site {
	for _, t := range []*string{&s.Name, &s.Contact, &s.Phone, &s.AccessNotes,
		&s.Address.Street, &s.Address.City, &s.Address.State, &s.Address.Postal, &s.Address.Country} {
		*t = strings.TrimSpace(*t)
	}
	s.Address.State = strings.ToUpper(s.Address.State)
	if s.Address.Country == "" {
		s.Address.Country = "US"
	}
	return s
}

// AddCertificate puts a resale or exemption certificate on file. Whether it
// frees a sale from tax is for the state's law to say.
func (d *Desk) AddCertificate(ctx context.Context, actor party.Actor, c party.Certificate) (party.Certificate, error) {
	if err := allow(actor, party.Owner, party.Bookkeeper, party.Counter); err != nil {
		return c, err
	}
	c.ID, c.Revoked = 0, false
	c.Number, c.State, c.Goods = strings.TrimSpace(c.Number), strings.ToUpper(strings.TrimSpace(c.State)), strings.TrimSpace(c.Goods)
	if err := c.Check(); err != nil {
		return c, err
	}
	err := d.store.Write(ctx, func(tx *store.Tx) error {
		if _, err := tx.Customer(c.CustomerID); err != nil {
			return err
		}
		if err := tx.SaveCertificate(&c); err != nil {
			return err
		}
		return tx.Log(actor, "added certificate", "customer", c.CustomerID, map[string]any{"certificate": c.ID, "number": c.Number, "state": c.State})
	})
	return c, err
}

// RevokeCertificate says that a certificate no longer holds; from now on tax is
// charged. It stays on file.
func (d *Desk) RevokeCertificate(ctx context.Context, actor party.Actor, id int64) (c party.Certificate, err error) {
	if err := allow(actor, party.Owner, party.Bookkeeper); err != nil {
		return c, err
	}
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		if c, err = tx.Certificate(id); err != nil {
			return err
		}
		c.Revoked = true
		if err := tx.SaveCertificate(&c); err != nil {
			return err
		}
		return tx.Log(actor, "revoked certificate", "customer", c.CustomerID, map[string]any{"certificate": c.ID, "number": c.Number})
	})
	return c, err
}
