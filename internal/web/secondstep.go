package web

import (
	"html/template"
	"strings"
	"time"

	"ribdesk/internal/desk"
	"ribdesk/internal/document"
	"ribdesk/internal/fault"
	"ribdesk/internal/words"
)

// codeWait is how long a browser keeps a sign-in that waits for its code; the
// desk has its own limit.
const codeWait = 10 * time.Minute

// codePage asks for the second step.
type codePage struct {
	Base
	Code Field
	Next string
}

func (codePage) file() string { return "code" }

func newCodePage(next string) *codePage {
	return &codePage{
		Base: Base{Title: "Your code", Small: true},
		Code: Field{Name: "code", Label: "Code", Keys: "numeric", Auto: "one-time-code", Short: true, Focus: true,
			Help: "The six figures that your phone shows now. Phone lost? One of your recovery codes."},
		Next: local(next),
	}
}

func showCode(v *visit) error {
	if v.s.cookie(v.c, halfCookie) == "" {
		return v.redirect("/sign-in")
	}
	v.reader.Language = words.English // only the shop's own people have a second step
	return v.show(newCodePage(v.query("next")))
}

func doCode(v *visit) error {
	v.reader.Language = words.English
	p := newCodePage(v.c.PostForm("next"))
	code := v.text(&p.Code)
	p.Code.Value = ""
	if err := v.wrongs(); err != nil {
		return v.again(p, err)
	}
	token, _, err := v.desk.FinishSignIn(v.ctx(), v.s.cookie(v.c, halfCookie), code, v.login())
	if fault.Is(err, fault.NotFound) {
		v.s.setCookie(v.c, halfCookie, "", -1)
		return v.redirectSaying("/sign-in", "That took too long. Please give your password once more.")
	}
	if err != nil {
		return v.again(p, err)
	}
	v.startSession(token)
	return v.redirect(p.Next)
}

// secondPage sets one's own second step up, or looks after it.
type secondPage struct {
	Base
	On             bool
	Left           int64 // recovery codes
	Secret         string
	Groups         string       // the secret as one types it
	Link           template.URL // for a phone that opens this page itself
	Picture        template.HTML
	Code, Password Field
	Fresh          []string // recovery codes, shown once
}

func (secondPage) file() string { return "second" }

func (v *visit) newSecondPage() (*secondPage, error) {
	p := &secondPage{
		Base:     Base{Title: "Second step at sign-in"},
		Code:     Field{Name: "code", Label: "Code the phone shows", Keys: "numeric", Auto: "one-time-code", Short: true},
		Password: Field{Name: "password", Label: "Your password", Kind: "password", Auto: "current-password", Help: "Once more, so that an open browser alone can't change this."},
	}
	one, err := v.desk.Person(v.ctx(), v.actor, v.actor.PersonID)
	if err != nil {
		return nil, err
	}
	p.On = one.TOTPSecret != ""
	p.Left, err = v.desk.CodesLeft(v.ctx(), v.actor)
	return p, err
}

// offer puts a secret on the page, to be taken over by a phone.
func (v *visit) offer(p *secondPage, secret string) error {
	one, err := v.desk.Person(v.ctx(), v.actor, v.actor.PersonID)
	if err != nil {
		return err
	}
	seller, _, err := v.desk.Seller(v.ctx())
	if err != nil {
		return err
	}
	link := desk.PhoneLink(secret, seller.Name, one.Email)
	if link == "" {
		return fault.Invalidf("code", "the secret got lost on the way; open the page afresh")
	}
	p.Secret, p.Link = secret, template.URL(link) // made here, every part of it escaped
	var groups []string
	for at := 0; at < len(secret); at += 4 {
		groups = append(groups, secret[at:min(at+4, len(secret))])
	}
	p.Groups = strings.Join(groups, " ")
	square, err := document.Square(link, "Square code for your phone", "Holds the same secret as the letters beside it.")
	p.Picture = square.SVG()
	return err
}

func showSecond(v *visit) error {
	p, err := v.newSecondPage()
	if err != nil {
		return err
	}
	if !p.On {
		if err := v.offer(p, v.desk.NewTOTPSecret()); err != nil {
			return err
		}
	}
	return v.show(p)
}

func doSecond(v *visit) error {
	p, err := v.newSecondPage()
	if err != nil {
		return err
	}
	secret, code, password := v.c.PostForm("secret"), v.text(&p.Code), v.secretText(&p.Password)
	p.Code.Value = ""
	if err := v.offer(p, secret); err != nil {
		return v.redirectSaying("/me/second", "Please start again: the page was out of date.")
	}
	if err := v.wrongs(); err != nil {
		return v.again(p, err)
	}
	fresh, err := v.desk.SetSecondStep(v.ctx(), v.actor, password, secret, code, v.token)
	if err != nil {
		return v.again(p, err)
	}
	p.On, p.Fresh, p.Left = true, fresh, int64(len(fresh))
	p.Notice = "The second step is on. Other browsers are signed out."
	return v.show(p)
}

func doFreshCodes(v *visit) error {
	p, err := v.newSecondPage()
	if err != nil {
		return err
	}
	password := v.secretText(&p.Password)
	if err := v.wrongs(); err != nil {
		return v.again(p, err)
	}
	if p.Fresh, err = v.desk.NewRecoveryCodes(v.ctx(), v.actor, password); err != nil {
		return v.again(p, err)
	}
	p.Left = int64(len(p.Fresh))
	return v.show(p)
}

func doDropSecond(v *visit) error {
	p, err := v.newSecondPage()
	if err != nil {
		return err
	}
	password := v.secretText(&p.Password)
	if err := v.wrongs(); err != nil {
		return v.again(p, err)
	}
	if err := v.desk.DropSecondStep(v.ctx(), v.actor, password); err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying("/me", "The second step is off: your password alone signs you in.")
}
