package web

import (
	"errors"
	"net/url"

	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/party"
)

// firstRunPage makes the owner's account, once.
type firstRunPage struct {
	Base
	Code, Name, Email, Password Field
}

func (firstRunPage) file() string { return "first-run" }

func newFirstRunPage() *firstRunPage {
	return &firstRunPage{
		Base:     Base{Title: "First run", Small: true},
		Code:     Field{Name: "code", Label: "Setup code", Auto: "off", Help: "The server wrote it to its log when it started. It shows that the machine is yours."},
		Name:     Field{Name: "name", Label: "Your name", Auto: "name"},
		Email:    Field{Name: "email", Label: "E-mail", Kind: "email", Auto: "username", Help: "You sign in with it."},
		Password: newPasswordField("password", "Password"),
	}
}

func newPasswordField(name, label string) Field {
	return Field{Name: name, Label: label, Kind: "password", Auto: "new-password", Help: "8 characters or more. A few words in a row are good; pasting is fine."}
}

func showFirstRun(v *visit) error {
	needs, err := v.desk.NeedsOwner(v.ctx())
	if err != nil {
		return err
	}
	if !needs {
		return v.redirect("/sign-in")
	}
	return v.show(newFirstRunPage())
}

func doFirstRun(v *visit) error {
	p := newFirstRunPage()
	code, name, email, password := v.text(&p.Code), v.text(&p.Name), v.text(&p.Email), v.secretText(&p.Password)
	if err := v.wrongs(); err != nil {
		return v.again(p, err)
	}
	if _, err := v.desk.FirstOwner(v.ctx(), code, name, email, password); err != nil {
		return v.again(p, err)
	}
	return v.enter(email, password, "/")
}

// enter signs somebody in and sends them on, by way of the second step if they
// have one.
func (v *visit) enter(email, password, next string) error {
	l := v.login()
	l.Email, l.Password = email, password
	token, _, err := v.desk.SignIn(v.ctx(), l)
	var wanted desk.CodeWanted
	if errors.As(err, &wanted) {
		v.s.setCookie(v.c, halfCookie, wanted.Token, codeWait)
		return v.redirect("/sign-in/code?next=" + url.QueryEscape(local(next)))
	}
	if err != nil {
		return err
	}
	v.startSession(token)
	return v.redirect(local(next))
}

// login is from where somebody signs in.
func (v *visit) login() desk.Login {
	return desk.Login{Address: v.c.ClientIP(), Agent: v.c.Request.UserAgent()}
}

// signInPage asks who it is.
type signInPage struct {
	Base
	Email, Password Field
	Next            string // where they wanted to go
}

func (signInPage) file() string { return "sign-in" }

func newSignInPage() *signInPage {
	return &signInPage{
		Base:     Base{Title: "Sign in", Small: true},
		Email:    Field{Name: "email", Label: "E-mail", Kind: "email", Auto: "username"},
		Password: Field{Name: "password", Label: "Password", Kind: "password", Auto: "current-password"},
	}
}

func showSignIn(v *visit) error {
	if v.actor.Role != party.Visitor {
		return v.redirect(local(v.query("next")))
	}
	p := newSignInPage()
	p.Next = local(v.query("next"))
	return v.show(p)
}

func doSignIn(v *visit) error {
	p := newSignInPage()
	p.Next = local(v.c.PostForm("next"))
	email, password := v.text(&p.Email), v.secretText(&p.Password)
	if err := v.wrongs(); err != nil {
		return v.again(p, err)
	}
	if err := v.enter(email, password, p.Next); err != nil {
		return v.again(p, err)
	}
	return nil
}

func doSignOut(v *visit) error {
	if err := v.desk.SignOut(v.ctx(), v.actor, v.token); err != nil {
		return err
	}
	v.endSession()
	return v.redirectSaying("/sign-in", "You are signed out.")
}

// mePage is a person's own account.
type mePage struct {
	Base
	Account           party.Person
	Sessions          []desk.Session
	Current, Password Field
	Second            bool // whether the second step is for this role
}

func (mePage) file() string { return "me" }

func (v *visit) newMePage() (*mePage, error) {
	p := &mePage{
		Base:     Base{Title: "Your account"},
		Current:  Field{Name: "current", Label: "Present password", Kind: "password", Auto: "current-password"},
		Password: newPasswordField("password", "New password"),
		Second:   desk.MindsSecond(v.actor.Role),
	}
	var err error
	if p.Account, err = v.desk.Person(v.ctx(), v.actor, v.actor.PersonID); err != nil {
		return nil, err
	}
	p.Sessions, err = v.desk.Sessions(v.ctx(), v.actor)
	return p, err
}

func showMe(v *visit) error {
	p, err := v.newMePage()
	if err != nil {
		return err
	}
	return v.show(p)
}

func doMyPassword(v *visit) error {
	p, err := v.newMePage()
	if err != nil {
		return err
	}
	current, password := v.secretText(&p.Current), v.secretText(&p.Password)
	if err := v.wrongs(); err != nil {
		return v.again(p, err)
	}
	if err := v.desk.ChangePassword(v.ctx(), v.actor, current, password, v.token); err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying("/me", "You have a new password. Other browsers are signed out.")
}

func doSignOutElsewhere(v *visit) error {
	if err := v.desk.SignOutElsewhere(v.ctx(), v.actor, v.token); err != nil {
		return err
	}
	return v.redirectSaying("/me", "Other browsers are signed out.")
}

// notFoundIs gives err another field, for a thing chosen in a form that is gone.
func notFoundIs(err error, field string) error {
	if fault.Is(err, fault.NotFound) {
		return fault.Invalidf(field, "this isn't there any more; choose another").Because(err)
	}
	return err
}
