// Package party holds the people and firms of the desk: who acts and in what
// role, who buys and on what terms, where goods go, and which resale
// certificates are on file. It knows no orders, prices or sessions.
package party

import (
	"net/mail"
	"strings"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/words"
)

// Role is what a person may do; every route names the roles it admits.
type Role string

// The roles. A Visitor is anybody without an account.
const (
	Owner      Role = "owner"
	Counter    Role = "counter"
	Operator   Role = "operator"
	Driver     Role = "driver"
	Bookkeeper Role = "bookkeeper"
	Buyer      Role = "customer"
	Visitor    Role = "visitor"
)

// Roles lists the roles a person can be given.
var Roles = []Role{Owner, Counter, Operator, Driver, Bookkeeper, Buyer}

// Valid reports whether r can be given to a person.
func (r Role) Valid() bool {
	for _, k := range Roles {
		if r == k {
			return true
		}
	}
	return false
}

// Staff reports whether r works in the shop.
func (r Role) Staff() bool { return r.Valid() && r != Buyer }

// Actor is who does something. It is an argument of every use case.
type Actor struct {
	PersonID   int64
	Name       string
	Role       Role
	CustomerID int64 // the firm of a Buyer, else 0
}

// System is the actor of work that no person asked for.
var System = Actor{Name: "ribdesk", Role: Owner}

// Sees reports whether the actor may look at this customer's things.
func (a Actor) Sees(customerID int64) bool {
	return a.Role.Staff() || (a.Role == Buyer && a.CustomerID == customerID && customerID != 0)
}

// Person is somebody who can sign in.
type Person struct {
	ID           int64
	Name         string
	Email        string
	Role         Role
	CustomerID   int64
	PasswordHash string
	TOTPSecret   string // "" while no second factor is set up
	Disabled     bool
	Version      int64
	CreatedAt    time.Time
}

// Actor gives the person as one who acts.
func (p Person) Actor() Actor {
	return Actor{PersonID: p.ID, Name: p.Name, Role: p.Role, CustomerID: p.CustomerID}
}

// Check refuses what can't be a person.
func (p Person) Check() error {
	var l fault.List
	checkText(&l, "name", p.Name, 1, 80)
	checkEmail(&l, "email", p.Email)
	if !p.Role.Valid() {
		l.Addf("role", "choose one of the roles")
	}
	if p.Role == Buyer && p.CustomerID == 0 {
		l.Addf("customer", "choose the firm this person buys for")
	}
	if p.Role != Buyer && p.CustomerID != 0 {
		l.Addf("customer", "only a customer's person belongs to a firm")
	}
	return l.Err()
}

// Invite is an invitation to make an account for a firm's person. It opens once
// and not for long.
type Invite struct {
	ID         int64
	CustomerID int64
	Email      string // for whom it is meant
	MadeBy     string
	MadeAt     time.Time
	ExpiresAt  time.Time
	Used       bool
}

// Address is a postal address.
type Address struct {
	Street  string `json:"street"`
	City    string `json:"city"`
	State   string `json:"state"` // two letters in the US
	Postal  string `json:"postal"`
	Country string `json:"country"` // ISO 3166-1 alpha-2
}

// Line gives the address in one line.
func (a Address) Line() string {
	parts := []string{a.Street, a.City, strings.TrimSpace(a.State + " " + a.Postal)}
	kept := parts[:0]
	for _, p := range parts {
		if p != "" {
			kept = append(kept, p)
		}
	}
	return strings.Join(kept, ", ")
}

// Terms is when an invoice is due.
type Terms struct {
	NetDays      int        `json:"net_days"`      // 0 is due on receipt
	DiscountDays int        `json:"discount_days"` // 0 is no discount
	Discount     money.Rate `json:"discount"`      // share off when paid within DiscountDays
}

// String writes the terms as the trade does: due on receipt, net 30, 2/10 net 30.
func (t Terms) String() string {
	return t.Said().String()
}

// Said gives the terms as a text, for a reader of any language.
func (t Terms) Said() words.Text {
	switch {
	case t.NetDays == 0:
		return words.Say("due on receipt")
	case t.DiscountDays > 0:
		return words.Say("%s/%d net %d", t.Discount.Percent(), t.DiscountDays, t.NetDays)
	}
	return words.Say("net %d", t.NetDays)
}

// Equal reports whether both terms ask the same.
func (t Terms) Equal(u Terms) bool {
	return t.NetDays == u.NetDays && t.DiscountDays == u.DiscountDays && t.Discount.Cmp(u.Discount) == 0
}

// Due gives the day an invoice of this date is due.
func (t Terms) Due(issued time.Time) time.Time { return issued.AddDate(0, 0, t.NetDays) }

// Customer is a firm or walk-in that buys.
type Customer struct {
	ID          int64
	Name        string
	Class       string // prices by class: "trade", "walk-in", ...
	Email       string
	Phone       string
	Billing     Address
	Terms       Terms
	CreditLimit money.Amount
	Hold        bool // no new orders on account until the bookkeeper lifts it
	HoldReason  string
	Language    string // "en" or "es"
	Style       measure.Style
	Version     int64
	CreatedAt   time.Time
}

// Check refuses what can't be a customer.
func (c Customer) Check() error {
	var l fault.List
	checkText(&l, "name", c.Name, 1, 120)
	if c.Email != "" {
		checkEmail(&l, "email", c.Email)
	}
	checkText(&l, "phone", c.Phone, 0, 40)
	if c.Terms.NetDays < 0 || c.Terms.NetDays > 120 {
		l.Addf("terms", "net days must be 0 to 120")
	}
	c.Terms.checkDiscount(&l)
	if c.CreditLimit.Sign() < 0 {
		l.Addf("credit_limit", "a credit limit can't be negative")
	}
	return l.Err()
}

// checkDiscount refuses an early-payment discount that can't be.
func (t Terms) checkDiscount(l *fault.List) {
	switch {
	case t.DiscountDays < 0 || t.DiscountDays > max(0, t.NetDays):
		l.Addf("discount_days", "the discount days lie within the days until it is due")
	case t.DiscountDays == 0 && t.Discount.Sign() > 0:
		l.Addf("discount_days", "say within how many days the discount holds")
	case t.DiscountDays > 0 && t.Discount.Sign() == 0:
		l.Addf("discount", "say how much is let off, or leave its days empty")
	}
	if t.Discount.Sign() < 0 || t.Discount.Cmp(money.Int(1)) >= 0 {
		l.Addf("discount", "a discount is 0 or more and below 100 %%")
	}
}

// Site is a place goods are delivered to.
type Site struct {
	ID          int64
	CustomerID  int64
	Name        string
	Address     Address
	Contact     string
	Phone       string
	AccessNotes string
	MilesTenths int64 // road miles from the shop, in tenths
}

// Check refuses what can't be a site.
func (s Site) Check() error {
	var l fault.List
	checkText(&l, "name", s.Name, 1, 80)
	checkText(&l, "street", s.Address.Street, 1, 120)
	checkText(&l, "city", s.Address.City, 1, 80)
	checkText(&l, "contact", s.Contact, 0, 80)
	checkText(&l, "phone", s.Phone, 0, 40)
	if len([]rune(s.AccessNotes)) > 500 {
		l.Addf("access_notes", "use at most 500 characters")
	}
	if s.MilesTenths < 0 || s.MilesTenths > 10_000 {
		l.Addf("miles", "give road miles from the shop, 0 to 1,000")
	}
	return l.Err()
}

// Certificate is a resale or exemption certificate on file. Without one that
// covers the invoice date and state, tax is charged. Whether a contractor may
// use one at all is for the state to say.
type Certificate struct {
	ID         int64
	CustomerID int64
	Number     string
	State      string
	Goods      string
	Signed     time.Time
	Expires    time.Time // the last day it holds
	Revoked    bool
}

// Covers reports whether the certificate holds in a state on a day.
func (c Certificate) Covers(state string, day time.Time) bool {
	return !c.Revoked && c.Number != "" && strings.EqualFold(c.State, state) &&
		!day.Before(c.Signed) && !day.After(c.Expires)
}

// Check refuses what can't be a certificate.
func (c Certificate) Check() error {
	var l fault.List
	checkText(&l, "number", c.Number, 1, 60)
	if len(c.State) != 2 {
		l.Addf("state", "give the state as two letters")
	}
	if c.Signed.IsZero() {
		l.Addf("signed", "give the day it was signed")
	}
	if c.Expires.Before(c.Signed) {
		l.Addf("expires", "it can't expire before it was signed")
	}
	return l.Err()
}

func checkText(l *fault.List, field, s string, min, max int) {
	n := len([]rune(strings.TrimSpace(s)))
	switch {
	case n < min:
		l.Addf(field, "fill this in")
	case n > max:
		l.Addf(field, "use at most %d characters", max)
	case strings.ContainsAny(s, "\r\n\x00"):
		l.Addf(field, "keep this to one line")
	}
}

func checkEmail(l *fault.List, field, s string) {
	a, err := mail.ParseAddress(s)
	if err != nil || a.Address != s || len(s) > 200 {
		l.Addf(field, "“%s” isn't an e-mail address; write it like name@example.com", s)
	}
}
