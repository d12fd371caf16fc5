package web

import (
	"time"

	"ribdesk/internal/desk"
	"ribdesk/internal/money"
	"ribdesk/internal/order"
)

// firmPage is what a customer's person sees of their firm.
type firmPage struct {
	Base
	Firm desk.Firm
	Free money.Amount // of the credit limit
	Over bool

	Today time.Time
	Lists []order.SavedList
}

func (firmPage) file() string { return "firm" }

func showFirm(v *visit) error {
	a, err := v.desk.Firm(v.ctx(), v.actor)
	if err != nil {
		return err
	}
	c := a.Customer
	p := &firmPage{
		Base: Base{Title: c.Name, Sheet: "Account", Block: Block{Thing: "Account", State: v.reader.Read(c.Terms)}},
		Firm: a, Free: c.CreditLimit.Sub(a.Used),
	}
	p.Over = p.Free.Sign() < 0
	seller, _, err := v.desk.Seller(v.ctx())
	if err != nil {
		return err
	}
	y, m, d := v.desk.Now().In(seller.Location()).Date()
	p.Today = time.Date(y, m, d, 0, 0, 0, 0, time.UTC) // certificates are kept by the day
	if p.Lists, err = v.desk.Lists(v.ctx(), v.actor, c.ID); err != nil {
		return err
	}
	return v.show(p)
}

// joinPage makes an account of an invitation.
type joinPage struct {
	Base
	Token, Email, Of string
	Name, Password   Field
}

func (joinPage) file() string { return "join" }

func (v *visit) loadInvite() (*joinPage, error) {
	token := v.c.Param("token")
	invite, firm, err := v.desk.OpenInvite(v.ctx(), token)
	if err != nil {
		return nil, err
	}
	if err := v.readAs(firm.ID); err != nil {
		return nil, err
	}
	return &joinPage{
		Base: Base{Title: "Your account", Small: true, Block: Block{Thing: "Invitation", State: "open"}}, Token: token, Email: invite.Email, Of: firm.Name,
		Name:     Field{Name: "name", Label: "Your name", Auto: "name"},
		Password: newPasswordField("password", "A password"),
	}, nil
}

func showJoin(v *visit) error {
	p, err := v.loadInvite()
	if err != nil {
		return err
	}
	return v.show(p)
}

func doJoin(v *visit) error {
	p, err := v.loadInvite()
	if err != nil {
		return err
	}
	name, password := v.text(&p.Name), v.secretText(&p.Password)
	if err := v.wrongs(); err != nil {
		return v.again(p, err)
	}
	if _, err := v.desk.Join(v.ctx(), p.Token, name, password); err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying("/sign-in", "Your account is there. Sign in with %s and your password.", p.Email)
}

// doInvite shows the link of a new invitation, once.
func doInvite(v *visit) error {
	p, err := v.loadCustomer()
	if err != nil {
		return err
	}
	token, err := v.desk.InvitePerson(v.ctx(), v.actor, p.ID, v.text(&p.Invite))
	if err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying(recordPath("customer", p.ID), "Give this link to %s, it is shown only now and opens once: %s", p.Invite.Value, v.desk.BaseURL()+"/join/"+token)
}
