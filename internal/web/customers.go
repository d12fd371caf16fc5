package web

import (
	"net/url"
	"strconv"
	"strings"

	"ribdesk/internal/desk"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
)

// customersPage lists customers.
type customersPage struct {
	Base
	Find      Field
	Customers []party.Customer
	Earlier   string // address of the page before, "" on the first
	Later     string
	Asking    int // requests for an account that wait
}

func (customersPage) file() string { return "customers" }

func showCustomers(v *visit) error {
	p := &customersPage{
		Base: Base{Title: "Customers", Sheet: "Shop"},
		Find: Field{Name: "q", Label: "Find by name, e-mail, phone or city", Kind: "search", Value: v.query("q")},
	}
	n, _ := strconv.Atoi(v.query("page")) // anything else is the first
	n = min(max(n, 0), 10_000)
	list, more, err := v.desk.Customers(v.ctx(), v.actor, p.Find.Value, n)
	if err != nil {
		return err
	}
	p.Customers = list
	at := func(page int) string {
		return "/customers?" + url.Values{"q": {p.Find.Value}, "page": {strconv.Itoa(page)}}.Encode()
	}
	if n > 0 {
		p.Earlier = at(n - 1)
	}
	if more {
		p.Later = at(n + 1)
	}
	if v.actor.Role != party.Bookkeeper {
		waiting, _, err := v.desk.AccountRequests(v.ctx(), v.actor)
		if err != nil {
			return err
		}
		p.Asking = len(waiting)
	}
	return v.show(p)
}

// customerPage puts a customer on file or changes it.
type customerPage struct {
	Base
	ID, Version                                       int64
	File                                              desk.CustomerFile
	Name, Class, Email, Phone                         Field
	Street, City, State, Postal                       Field
	NetDays, DiscountDays, Discount, Limit, Hold, Why Field
	Language, Style                                   Field
	Invite                                            Field
	Lists                                             []order.SavedList
}

func (customerPage) file() string { return "customer" }

func newCustomerPage(title string) *customerPage {
	return &customerPage{
		Base:  Base{Title: title, Sheet: "Shop"},
		Name:  Field{Name: "name", Label: "Name", Auto: "organization"},
		Class: Field{Name: "class", Label: "Price class", Value: "trade"},
		Email: Field{Name: "email", Label: "E-mail", Kind: "email", Auto: "email", Optional: true},
		Phone: Field{Name: "phone", Label: "Phone", Kind: "tel", Auto: "tel", Optional: true},

		Street: Field{Name: "street", Label: "Street", Auto: "billing street-address", Optional: true},
		City:   Field{Name: "city", Label: "City", Auto: "billing address-level2", Optional: true},
		State:  Field{Name: "state", Label: "State", Auto: "billing address-level1", Short: true, Optional: true, Help: "Two letters."},
		Postal: Field{Name: "postal", Label: "ZIP", Auto: "billing postal-code", Short: true, Optional: true},

		NetDays:      Field{Name: "terms", Label: "Due after", Keys: "numeric", Unit: "days", Value: "0", Short: true, Help: "0 is due on receipt."},
		DiscountDays: Field{Name: "discount_days", Label: "Discount within", Keys: "numeric", Unit: "days", Short: true, Optional: true},
		Discount:     Field{Name: "discount", Label: "Discount", Keys: "decimal", Unit: "%", Short: true, Optional: true},
		Limit:        Field{Name: "credit_limit", Label: "Credit limit", Keys: "decimal", Unit: "$", Optional: true, Help: "0 is none: paid before cutting."},
		Hold:         Field{Name: "hold", Label: "On hold: no new orders on account", Kind: "checkbox", Optional: true},
		Why:          Field{Name: "hold_reason", Label: "Reason of the hold", Optional: true},

		Language: Field{Name: "language", Label: "Papers in", Value: "en", Options: []Option{{"en", "English"}, {"es", "Spanish"}}},
		Invite:   Field{Name: "invite", Label: "E-mail of the person", Kind: "email", Auto: "off", Help: "The link is shown once, opens once, and for seven days."},
		Style:    Field{Name: "style", Label: "Lengths written as", Optional: true, Options: styles()},
	}
}

func styles() []Option {
	example := measure.Inch.Times(150) + measure.Inch/2
	list := []Option{{"", "as the shop does"}}
	for _, s := range []measure.Style{measure.StyleFeetInches, measure.StyleInches, measure.StyleFeet, measure.StyleMetric} {
		list = append(list, Option{string(s), example.Format(s)})
	}
	return list
}

func (p *customerPage) fields() []*Field {
	return []*Field{&p.Name, &p.Class, &p.Email, &p.Phone, &p.Street, &p.City, &p.State, &p.Postal,
		&p.NetDays, &p.DiscountDays, &p.Discount, &p.Limit, &p.Hold, &p.Why, &p.Language, &p.Style}
}

// customer reads the fields. The counter doesn't see those of credit; then what
// is on file stays.
func (v *visit) customer(p *customerPage, c party.Customer) party.Customer {
	c.Version = p.Version
	c.Name, c.Class, c.Email, c.Phone = v.text(&p.Name), v.choice(&p.Class), v.text(&p.Email), v.text(&p.Phone)
	c.Billing.Street, c.Billing.City = v.text(&p.Street), v.text(&p.City)
	c.Billing.State, c.Billing.Postal = v.text(&p.State), v.text(&p.Postal)
	c.Language, c.Style = v.choice(&p.Language), measure.Style(v.choice(&p.Style))
	if v.actor.Role == party.Counter {
		return c
	}
	c.Terms = party.Terms{NetDays: v.whole(&p.NetDays), DiscountDays: v.whole(&p.DiscountDays), Discount: v.percent(&p.Discount)}
	c.CreditLimit = v.amount(&p.Limit, money.USD)
	c.Hold, c.HoldReason = v.yes(&p.Hold), v.text(&p.Why)
	return c
}

func showNewCustomer(v *visit) error {
	p, err := v.newCustomer()
	if err != nil {
		return err
	}
	return v.show(p)
}

// newCustomer gives the empty page, with the price classes there are.
func (v *visit) newCustomer() (p *customerPage, err error) {
	p = newCustomerPage("New customer")
	p.Class.Options, err = v.classOptions("")
	return p, err
}

func doAddCustomer(v *visit) error {
	p, err := v.newCustomer()
	if err != nil {
		return err
	}
	c := v.customer(p, party.Customer{})
	v.check(c.Check())
	if err := v.wrongs(); err != nil {
		return v.again(p, err)
	}
	made, err := v.desk.AddCustomer(v.ctx(), v.actor, c)
	if err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying(recordPath("customer", made.ID), made.Name+" is on file.")
}

// loadCustomer gives the page of a customer as it is on file.
func (v *visit) loadCustomer() (*customerPage, error) {
	id, err := v.id("id")
	if err != nil {
		return nil, err
	}
	f, err := v.desk.CustomerFile(v.ctx(), v.actor, id)
	if err != nil {
		return nil, err
	}
	c := f.Customer
	p := newCustomerPage(c.Name)
	p.ID, p.Version, p.File = c.ID, c.Version, f
	if p.Class.Options, err = v.classOptions(c.Class); err != nil {
		return nil, err
	}
	if p.Lists, err = v.desk.Lists(v.ctx(), v.actor, c.ID); err != nil {
		return nil, err
	}
	p.Name.Value, p.Class.Value, p.Email.Value, p.Phone.Value = c.Name, c.Class, c.Email, c.Phone
	p.Street.Value, p.City.Value, p.State.Value, p.Postal.Value = c.Billing.Street, c.Billing.City, c.Billing.State, c.Billing.Postal
	p.NetDays.Value, p.Limit.Value = strconv.Itoa(c.Terms.NetDays), c.CreditLimit.String()
	if c.Terms.DiscountDays > 0 {
		p.DiscountDays.Value, p.Discount.Value = strconv.Itoa(c.Terms.DiscountDays), c.Terms.Discount.Percent()
	}
	p.Hold.Checked, p.Why.Value = c.Hold, c.HoldReason
	p.Language.Value, p.Style.Value = c.Language, string(c.Style)
	p.Block = Block{Thing: "Customer", Number: strconv.FormatInt(c.ID, 10), Revision: strconv.FormatInt(c.Version, 10), State: c.Terms.String()}
	if c.Hold {
		p.Block.State = "on hold"
	}
	return p, nil
}

func showCustomer(v *visit) error {
	p, err := v.loadCustomer()
	if err != nil {
		return err
	}
	return v.show(p)
}

func doChangeCustomer(v *visit) error {
	p, err := v.loadCustomer()
	if err != nil {
		return err
	}
	onFile := values(p.fields())
	newest := p.Version
	p.Version = v.number("version")
	c := v.customer(p, p.File.Customer)
	v.check(c.Check())
	if err := v.wrongs(); err != nil {
		return v.again(p, err)
	}
	if _, err := v.desk.ChangeCustomer(v.ctx(), v.actor, c); err != nil {
		p.Version = v.meanwhile(&p.Base, p.fields(), onFile, p.Version, newest)
		return v.again(p, err)
	}
	return v.redirectSaying(recordPath("customer", c.ID), "Saved.")
}

// sitePage is a place goods go to.
type sitePage struct {
	Base
	Customer                                                         party.Customer
	ID                                                               int64
	Name, Street, City, State, Postal, Contact, Phone, Access, Miles Field
	At                                                               string // where the form goes
	Own                                                              bool   // the customer's own person looks
}

func (sitePage) file() string { return "site" }

// newSitePage gives the empty page for the customer in the path.
func (v *visit) newSitePage() (*sitePage, []party.Site, error) {
	id, err := v.id("id")
	if err != nil {
		return nil, nil, err
	}
	return v.sitePageOf(id)
}

// sitePageOf gives it for any customer.
func (v *visit) sitePageOf(id int64) (*sitePage, []party.Site, error) {
	f, err := v.desk.CustomerFile(v.ctx(), v.actor, id)
	if err != nil {
		return nil, nil, err
	}
	p := &sitePage{
		At:       recordPath("customer", id) + "/sites",
		Base:     Base{Title: "New site", Sheet: "Shop"},
		Customer: f.Customer,
		Name:     Field{Name: "name", Label: "Name of the site", Help: "As the customer calls it."},
		Street:   Field{Name: "street", Label: "Street", Auto: "shipping street-address"},
		City:     Field{Name: "city", Label: "City", Auto: "shipping address-level2"},
		State:    Field{Name: "state", Label: "State", Auto: "shipping address-level1", Short: true, Optional: true},
		Postal:   Field{Name: "postal", Label: "ZIP", Auto: "shipping postal-code", Short: true, Optional: true},
		Contact:  Field{Name: "contact", Label: "Who is there", Auto: "off", Optional: true},
		Phone:    Field{Name: "phone", Label: "Their phone", Kind: "tel", Auto: "off", Optional: true},
		Access:   Field{Name: "access_notes", Label: "How to get in and unload", Rows: 3, Optional: true, Help: "Gate, turning space, overhead lines, who unloads with what."},
		Miles:    Field{Name: "miles", Label: "Road miles from the shop", Keys: "decimal", Unit: "mi", Short: true, Optional: true},
	}
	p.Block = Block{Thing: "Site", Number: f.Customer.Name}
	return p, f.Sites, nil
}

func showNewSite(v *visit) error {
	p, _, err := v.newSitePage()
	if err != nil {
		return err
	}
	return v.show(p)
}

func showSite(v *visit) error {
	p, sites, err := v.newSitePage()
	if err != nil {
		return err
	}
	return v.showSiteOf(p, sites)
}

// showSiteOf shows the site that the path names, among a customer's.
func (v *visit) showSiteOf(p *sitePage, sites []party.Site) error {
	id, err := v.id("site")
	if err != nil {
		return err
	}
	for _, s := range sites {
		if s.ID == id {
			p.fill(s)
			return v.show(p)
		}
	}
	return refusal{404, "Nothing here", "This customer has no such site."}
}

func (p *sitePage) fill(s party.Site) {
	p.ID, p.Title = s.ID, s.Name
	p.Name.Value, p.Contact.Value, p.Phone.Value, p.Access.Value = s.Name, s.Contact, s.Phone, s.AccessNotes
	p.Street.Value, p.City.Value, p.State.Value, p.Postal.Value = s.Address.Street, s.Address.City, s.Address.State, s.Address.Postal
	p.Miles.Value = money.NewRate(s.MilesTenths, -1).String()
}

func doSaveSite(v *visit) error {
	p, _, err := v.newSitePage()
	if err != nil {
		return err
	}
	s, err := v.saveSite(p)
	if err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying(recordPath("customer", s.CustomerID), "The site "+s.Name+" is on file.")
}

// saveSite reads the form of a site and keeps it.
func (v *visit) saveSite(p *sitePage) (party.Site, error) {
	p.ID = v.number("site")
	s := party.Site{
		ID: p.ID, CustomerID: p.Customer.ID, Name: v.text(&p.Name),
		Address: party.Address{Street: v.text(&p.Street), City: v.text(&p.City), State: v.text(&p.State), Postal: v.text(&p.Postal)},
		Contact: v.text(&p.Contact), Phone: v.text(&p.Phone), AccessNotes: v.text(&p.Access), MilesTenths: v.tenths(&p.Miles),
	}
	v.check(s.Check())
	if err := v.wrongs(); err != nil {
		return s, err
	}
	return v.desk.SaveSite(v.ctx(), v.actor, s)
}

// certificatePage puts a resale or exemption certificate on file.
type certificatePage struct {
	Base
	Customer                              party.Customer
	Number, State, Goods, Signed, Expires Field
}

func (certificatePage) file() string { return "certificate" }

func (v *visit) newCertificatePage() (*certificatePage, error) {
	id, err := v.id("id")
	if err != nil {
		return nil, err
	}
	f, err := v.desk.CustomerFile(v.ctx(), v.actor, id)
	if err != nil {
		return nil, err
	}
	p := &certificatePage{
		Base:     Base{Title: "New certificate", Sheet: "Shop"},
		Customer: f.Customer,
		Number:   Field{Name: "number", Label: "Registration number"},
		State:    Field{Name: "state", Label: "State", Short: true, Help: "Two letters."},
		Goods:    Field{Name: "goods", Label: "Goods it covers", Optional: true},
		Signed:   Field{Name: "signed", Label: "Signed on", Short: true, Help: "Month/day/year."},
		Expires:  Field{Name: "expires", Label: "Last day it holds", Short: true, Help: "Month/day/year."},
	}
	p.Block = Block{Thing: "Certificate", Number: f.Customer.Name}
	return p, nil
}

func showNewCertificate(v *visit) error {
	p, err := v.newCertificatePage()
	if err != nil {
		return err
	}
	return v.show(p)
}

func doAddCertificate(v *visit) error {
	p, err := v.newCertificatePage()
	if err != nil {
		return err
	}
	c := party.Certificate{
		CustomerID: p.Customer.ID, Number: v.text(&p.Number), State: strings.ToUpper(v.text(&p.State)),
		Goods: v.text(&p.Goods), Signed: v.day(&p.Signed), Expires: v.day(&p.Expires),
	}
	v.check(c.Check())
	if err := v.wrongs(); err != nil {
		return v.again(p, err)
	}
	if c, err = v.desk.AddCertificate(v.ctx(), v.actor, c); err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying(recordPath("customer", c.CustomerID), "Certificate "+c.Number+" is on file.")
}

func doRevokeCertificate(v *visit) error {
	id, err := v.id("certificate")
	if err != nil {
		return err
	}
	c, err := v.desk.RevokeCertificate(v.ctx(), v.actor, id)
	if err != nil {
		return err
	}
	return v.redirectSaying(recordPath("customer", c.CustomerID), "Certificate "+c.Number+" no longer holds. From now on tax is charged.")
}
