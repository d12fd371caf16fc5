package web

import (
	"ribdesk/internal/party"
)

// choosePage is where somebody chooses their password, by a link that the owner
// gave them.
type choosePage struct {
	Base
	Token, Email string
	Password     Field
}

func (choosePage) file() string { return "choose-password" }

func (v *visit) loadPasswordLink() (*choosePage, error) {
	token := v.c.Param("token")
	p, err := v.desk.OpenPasswordLink(v.ctx(), token)
	if err != nil {
		return nil, err
	}
	if p.Role == party.Buyer {
		if err := v.readAs(p.CustomerID); err != nil {
			return nil, err
		}
	}
	return &choosePage{
		Base: Base{Title: "Your password", Small: true, Block: Block{Thing: "Account", State: "open"}}, Token: token, Email: p.Email,
		Password: newPasswordField("password", "A password"),
	}, nil
}

func showChoosePassword(v *visit) error {
	p, err := v.loadPasswordLink()
	if err != nil {
		return err
	}
	return v.show(p)
}

func doChoosePassword(v *visit) error {
	p, err := v.loadPasswordLink()
	if err != nil {
		return err
	}
	password := v.secretText(&p.Password)
	if err := v.wrongs(); err != nil {
		return v.again(p, err)
	}
	if _, err := v.desk.ChoosePassword(v.ctx(), p.Token, password); err != nil {
		return v.again(p, err)
	}
	if v.token != "" { // whoever was signed in here isn't necessarily they
		v.endSession()
	}
	return v.redirectSaying("/sign-in", "That is your password now. Sign in with %s.", p.Email)
}

// doPasswordLink shows the link by which somebody chooses a new password, once.
func doPasswordLink(v *visit) error {
	p, err := v.loadPerson()
	if err != nil {
		return err
	}
	token, err := v.desk.MakePasswordLink(v.ctx(), v.actor, p.ID)
	if err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying(recordPath("person", p.ID), passwordLinkSaid, p.Name.Value, v.desk.BaseURL()+"/password/"+token)
}

// passwordLinkSaid is what the owner reads with a link to a password.
const passwordLinkSaid = "Give this link to %s, it is shown only now, opens once and for a day: %s"
