package web

import (
	"strconv"

	"ribdesk/internal/desk"
	"ribdesk/internal/party"
)

// peoplePage lists who can sign in.
type peoplePage struct {
	Base
	People  []party.Person
	Demand  Field // of the second step
	Version int64 // of the demands
}

func (peoplePage) file() string { return "people" }

func (v *visit) newPeoplePage() (*peoplePage, error) {
	p := &peoplePage{
		Base: Base{Title: "People", Sheet: "Shop"},
		Demand: Field{Name: "second_step", Label: "Owner and bookkeeper must have a second step", Kind: "checkbox", Optional: true,
			Help: "Six figures from a phone after the password. Who has none yet is led to set it up first."},
	}
	guard, version, err := v.desk.Guard(v.ctx())
	if err != nil {
		return nil, err
	}
	p.Demand.Checked, p.Version = guard.SecondStep, version
	p.People, err = v.desk.People(v.ctx(), v.actor)
	return p, err
}

func showPeople(v *visit) error {
	p, err := v.newPeoplePage()
	if err != nil {
		return err
	}
	return v.show(p)
}

func doSaveGuard(v *visit) error {
	p, err := v.newPeoplePage()
	if err != nil {
		return err
	}
	guard := desk.Guard{SecondStep: v.yes(&p.Demand)}
	if err := v.wrongs(); err != nil {
		return v.again(p, err)
	}
	if err := v.desk.SaveGuard(v.ctx(), v.actor, guard, v.number("version")); err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying("/shop/people", "Saved.")
}

// personPage makes or changes an account.
type personPage struct {
	Base
	ID, Version                      int64
	Name, Email, Role, Customer, Off Field
	Password                         Field // for a new account, or a forgotten one
	Second                           bool  // whether the second step is on
}

func (personPage) file() string { return "person" }

func newPersonPage(title string) *personPage {
	roles := make([]Option, len(party.Roles))
	for i, r := range party.Roles {
		roles[i] = Option{string(r), roleSentence[r]}
	}
	return &personPage{
		Base:     Base{Title: title, Sheet: "Shop"},
		Name:     Field{Name: "name", Label: "Name", Auto: "off"},
		Email:    Field{Name: "email", Label: "E-mail", Kind: "email", Auto: "off", Help: "They sign in with it."},
		Role:     Field{Name: "role", Label: "Role", Options: roles},
		Customer: Field{Name: "customer", Label: "Customer number", Keys: "numeric", Short: true, Optional: true, Help: "Only for a customer's person: the firm they buy for."},
		Off:      Field{Name: "disabled", Label: "May not sign in", Kind: "checkbox", Optional: true},
		Password: newPasswordField("password", "Password"),
	}
}

var roleSentence = map[party.Role]string{
	party.Owner:      "Owner: everything",
	party.Counter:    "Counter: asks, quotes, orders",
	party.Operator:   "Operator: runs the machine",
	party.Driver:     "Driver: loads and delivers",
	party.Bookkeeper: "Bookkeeper: invoices and payments",
	party.Buyer:      "Customer: buys for a firm, sees only its own",
}

// newPerson is the page of an account to come.
func newPerson() *personPage {
	p := newPersonPage("New person")
	p.Password.Optional = true
	p.Password.Help = "Leave it empty, and you get a link by which they choose their own."
	return p
}

func showNewPerson(v *visit) error { return v.show(newPerson()) }

// person reads the fields of an account.
func (v *visit) person(p *personPage) party.Person {
	return party.Person{
		ID: p.ID, Version: p.Version,
		Name: v.text(&p.Name), Email: v.text(&p.Email), Role: party.Role(v.choice(&p.Role)),
		CustomerID: int64(v.whole(&p.Customer)), Disabled: v.yes(&p.Off),
	}
}

func doAddPerson(v *visit) error {
	p := newPerson()
	one, password := v.person(p), v.secretText(&p.Password)
	v.check(one.Check())
	if password != "" {
		v.check(desk.CheckPassword(p.Password.Name, password, one.Name, one.Email))
	}
	if err := v.wrongs(); err != nil {
		return v.again(p, err)
	}
	if password == "" {
		made, token, err := v.desk.AddPersonByLink(v.ctx(), v.actor, one)
		if err != nil {
			return v.again(p, err)
		}
		return v.redirectSaying("/shop/people", passwordLinkSaid, made.Name, v.desk.BaseURL()+"/password/"+token)
	}
	made, err := v.desk.AddPerson(v.ctx(), v.actor, one, password)
	if err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying("/shop/people", made.Name+" can sign in now. Tell them their password yourself; it isn't sent.")
}

// loadPerson gives the page of an account as it is on file.
func (v *visit) loadPerson() (*personPage, error) {
	id, err := v.id("id")
	if err != nil {
		return nil, err
	}
	one, err := v.desk.Person(v.ctx(), v.actor, id)
	if err != nil {
		return nil, err
	}
	p := newPersonPage(one.Name)
	p.ID, p.Version = one.ID, one.Version
	p.Name.Value, p.Email.Value, p.Role.Value, p.Off.Checked = one.Name, one.Email, string(one.Role), one.Disabled
	if one.CustomerID != 0 {
		p.Customer.Value = strconv.FormatInt(one.CustomerID, 10)
	}
	p.Password.Label = "New password"
	p.Second = one.TOTPSecret != ""
	p.Block = Block{Thing: "Person", Number: strconv.FormatInt(one.ID, 10), State: state(one)}
	return p, nil
}

func state(p party.Person) string {
	if p.Disabled {
		return "may not sign in"
	}
	return "may sign in"
}

func showPerson(v *visit) error {
	p, err := v.loadPerson()
	if err != nil {
		return err
	}
	return v.show(p)
}

func doChangePerson(v *visit) error {
	p, err := v.loadPerson()
	if err != nil {
		return err
	}
	onFile := values(p.fields())
	newest := p.Version
	p.Version = v.number("version")
	one := v.person(p)
	v.check(one.Check())
	if err := v.wrongs(); err != nil {
		return v.again(p, err)
	}
	if _, err := v.desk.ChangePerson(v.ctx(), v.actor, one); err != nil {
		p.Version = v.meanwhile(&p.Base, p.fields(), onFile, p.Version, newest)
		return v.again(p, err)
	}
	return v.redirectSaying("/shop/people", one.Name+" is changed.")
}

func (p *personPage) fields() []*Field {
	return []*Field{&p.Name, &p.Email, &p.Role, &p.Customer, &p.Off}
}

func doSetPassword(v *visit) error {
	p, err := v.loadPerson()
	if err != nil {
		return err
	}
	password := v.secretText(&p.Password)
	if err := v.wrongs(); err != nil {
		return v.again(p, err)
	}
	if err := v.desk.SetPassword(v.ctx(), v.actor, p.ID, password); err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying("/shop/people", p.Name.Value+" has a new password and is signed out everywhere. Tell it to them yourself.")
}

func doResetSecond(v *visit) error {
	p, err := v.loadPerson()
	if err != nil {
		return err
	}
	if err := v.desk.ResetSecondStep(v.ctx(), v.actor, p.ID); err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying("/shop/people", p.Name.Value+" signs in with the password alone until they set the second step up again, and is signed out everywhere.")
}
