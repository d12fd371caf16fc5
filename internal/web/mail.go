package web

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"ribdesk/internal/desk"
	"ribdesk/internal/mail"
	"ribdesk/internal/party"
)

// mailsPage is the outbox: what customers were told, what waits, and what wasn't
// sent and why. The owner says there what is mailed at all.
type mailsPage struct {
	Base
	From    string // "" while mail is off
	Mails   []mailLine
	States  []stateCount
	More    string
	Quiet   []desk.QuietAddress
	Address Field
	Why     Field
	Sent    []*Field // one for each kind
	Overdue Field
	Version int64
}

func (mailsPage) file() string { return "mails" }

// mailLine is one mail in a list.
type mailLine struct {
	desk.Mail
	What  string // its kind in words
	Order string
	Says  string // how it stands, in words
	Again bool   // it can be sent, or sent again
}

func newMailLine(m desk.MailListed, on bool) mailLine {
	l := mailLine{Mail: m.Mail, What: mail.Kind(m.Kind).Name(), Order: m.Order, Says: m.Outcome, Again: on && m.State != "waiting"}
	switch m.State {
	case "sent":
		l.Says = "sent"
	case "kept":
		l.Says = "not sent, " + m.Outcome
	case "given up":
		l.Says = "given up: " + m.Outcome
	case "waiting":
		if m.Tries > 0 && m.Outcome != "being sent" {
			l.Says = fmt.Sprintf("tried %d times: %s; tried again", m.Tries, m.Outcome)
			if m.Tries == 1 {
				l.Says = "tried once: " + m.Outcome + "; tried again"
			}
		}
	}
	return l
}

// mailStates are the states of the outbox and what they are called here.
var mailStates = []struct{ state, name string }{{"waiting", "waiting"}, {"given up", "given up"}, {"kept", "not sent"}, {"sent", "sent"}}

const mailsAPage = 30

func (v *visit) newMailsPage() (*mailsPage, error) {
	p := &mailsPage{
		Base: Base{Title: "Mail to customers", Sheet: "Shop"}, From: v.desk.MailFrom(),
		Address: Field{Name: "address", Label: "E-mail address", Kind: "email", Auto: "off"},
		Why:     Field{Name: "why", Label: "Why", Optional: true},
		Overdue: Field{Name: "overdue", Label: "Remind of an invoice when it is past due by", Unit: "days", Optional: true, Help: "Up to six stages, such as 3, 14, 30. Empty reminds of none."},
	}
	for _, k := range mail.Kinds {
		p.Sent = append(p.Sent, &Field{Name: "send." + string(k), Label: k.Name(), Kind: "checkbox", Optional: true})
	}
	habits, version, err := v.desk.MailHabits(v.ctx(), v.actor)
	if err != nil {
		return nil, err
	}
	p.fill(habits, version)
	if p.Quiet, err = v.desk.QuietAddresses(v.ctx(), v.actor); err != nil {
		return nil, err
	}
	return p, v.fillOutbox(p)
}

func (p *mailsPage) fill(h desk.MailHabits, version int64) {
	p.Version = version
	for i, k := range mail.Kinds {
		p.Sent[i].Checked = !slices.Contains(h.Silent, k)
	}
	var days []string
	for _, n := range h.Overdue {
		days = append(days, strconv.Itoa(n))
	}
	p.Overdue.Value = strings.Join(days, ", ")
}

func (v *visit) fillOutbox(p *mailsPage) error {
	state := v.query("state")
	before, _ := strconv.ParseInt(v.query("before"), 10, 64) // anything else starts at the newest
	list, counts, err := v.desk.Mails(v.ctx(), v.actor, desk.MailFilter{State: state, Before: max(before, 0), Limit: mailsAPage + 1})
	if err != nil {
		return err
	}
	if len(list) > mailsAPage {
		list = list[:mailsAPage]
		p.More = fmt.Sprintf("/shop/mail?state=%s&before=%d", strings.ReplaceAll(state, " ", "+"), list[len(list)-1].ID)
	}
	for _, m := range list {
		p.Mails = append(p.Mails, newMailLine(m, p.From != ""))
	}
	for _, s := range mailStates {
		if counts[s.state] > 0 {
			p.States = append(p.States, stateCount{s.name, "/shop/mail?state=" + strings.ReplaceAll(s.state, " ", "+"), counts[s.state], state == s.state})
		}
	}
	return nil
}

func showMails(v *visit) error {
	p, err := v.newMailsPage()
	if err != nil {
		return err
	}
	return v.show(p)
}

func doSaveMailHabits(v *visit) error {
	p, err := v.newMailsPage()
	if err != nil {
		return err
	}
	var h desk.MailHabits
	for i, k := range mail.Kinds {
		if !v.yes(p.Sent[i]) {
			h.Silent = append(h.Silent, k)
		}
	}
	for _, word := range strings.FieldsFunc(v.text(&p.Overdue), func(r rune) bool { return r == ',' || r == ' ' }) {
		days, err := strconv.Atoi(word)
		if err != nil {
			v.wrong(&p.Overdue, "write whole days with commas between, such as 3, 14, 30")
			break
		}
		h.Overdue = append(h.Overdue, days)
	}
	if err := v.wrongs(); err != nil {
		return v.again(p, err)
	}
	if err := v.desk.SaveMailHabits(v.ctx(), v.actor, h, v.number("version")); err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying("/shop/mail", "Saved. It holds for what happens from now on.")
}

func doQuieten(v *visit) error {
	p, err := v.newMailsPage()
	if err != nil {
		return err
	}
	if err := v.desk.Quieten(v.ctx(), v.actor, v.text(&p.Address), v.text(&p.Why)); err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying("/shop/mail", "It gets no mail any more.")
}

func doUnquieten(v *visit) error {
	id, err := v.id("id")
	if err != nil {
		return err
	}
	if err := v.desk.Unquieten(v.ctx(), v.actor, id); err != nil {
		return err
	}
	return v.redirectSaying("/shop/mail", "It gets mail again.")
}

// mailPage is one mail, or how a kind of mail would read.
type mailPage struct {
	Base
	Line      *mailLine // nil for a preview
	Read      desk.MailRead
	Letter    mail.Letter
	HTML      string // where its HTML is
	Kinds     []Link
	Languages []Link
	Invented  bool
	From      string
}

func (mailPage) file() string { return "mail" }

func showMail(v *visit) error {
	r, err := v.readMail()
	if err != nil {
		return err
	}
	p := &mailPage{
		Base: Base{Title: mail.Kind(r.Mail.Kind).Name(), Sheet: "Shop", Block: Block{Thing: "Mail", Number: strconv.FormatInt(r.Mail.ID, 10)}},
		Read: r, Letter: r.Letter, HTML: fmt.Sprintf("/shop/mail/%d/html", r.Mail.ID), From: v.desk.MailFrom(),
	}
	line := newMailLine(desk.MailListed{Mail: r.Mail, Order: r.Order.Number}, p.From != "")
	p.Line = &line
	return v.show(p)
}

func (v *visit) readMail() (r desk.MailRead, err error) {
	id, err := v.id("id")
	if err != nil {
		return r, err
	}
	return v.desk.Mail(v.ctx(), v.actor, id)
}

func sendMailHTML(v *visit) error {
	r, err := v.readMail()
	if err != nil {
		return err
	}
	return v.sendLetter(r.Letter)
}

func doSendMail(v *visit) error {
	id, err := v.id("id")
	if err != nil {
		return err
	}
	if _, err := v.desk.SendAgain(v.ctx(), v.actor, id); err != nil {
		return err
	}
	return v.redirectSaying(fmt.Sprintf("/shop/mail/%d", id), "It goes out in a moment.")
}

func showMailPreview(v *visit) error {
	kind, lang := v.previewed()
	l, invented, err := v.desk.PreviewMail(v.ctx(), v.actor, kind, lang)
	if err != nil {
		return err
	}
	at := "/shop/mail/kinds/" + string(kind)
	p := &mailPage{
		Base: Base{Title: "How mails read", Sheet: "Shop", Block: Block{Thing: "Preview"}}, Letter: l, Invented: invented,
		HTML: at + "/html?language=" + string(lang), From: v.desk.MailFrom(),
	}
	for _, k := range mail.Kinds {
		p.Kinds = append(p.Kinds, Link{k.Name(), "/shop/mail/kinds/" + string(k) + "?language=" + string(lang), k == kind})
	}
	for _, one := range mail.Languages {
		name := map[mail.Language]string{mail.English: "English", mail.Spanish: "Español"}[one]
		p.Languages = append(p.Languages, Link{name, at + "?language=" + string(one), one == lang})
	}
	return v.show(p)
}

// previewed reads which kind in which language is looked at.
func (v *visit) previewed() (mail.Kind, mail.Language) {
	if mail.Language(v.query("language")) == mail.Spanish {
		return mail.Kind(v.c.Param("kind")), mail.Spanish
	}
	return mail.Kind(v.c.Param("kind")), mail.English
}

func sendMailPreview(v *visit) error {
	kind, lang := v.previewed()
	l, _, err := v.desk.PreviewMail(v.ctx(), v.actor, kind, lang)
	if err != nil {
		return err
	}
	return v.sendLetter(l)
}

// letterPolicy shows a letter in a frame of our own pages: with its styles, and
// with nothing that runs or is fetched.
const letterPolicy = "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'; frame-ancestors 'self'; sandbox"

func (v *visit) sendLetter(l mail.Letter) error {
	v.c.Header("Content-Security-Policy", letterPolicy)
	v.send(200, "text/html; charset=utf-8", []byte(l.HTML))
	return nil
}

// mailsOf lists what a customer was told about an order, for the office.
func (v *visit) mailsOf(p *orderPage) error {
	if !slices.Contains([]party.Role{party.Owner, party.Counter, party.Bookkeeper}, v.actor.Role) {
		return nil
	}
	list, _, err := v.desk.Mails(v.ctx(), v.actor, desk.MailFilter{OrderID: p.File.Order.ID})
	for _, m := range list {
		p.Mails = append(p.Mails, newMailLine(m, v.desk.MailFrom() != ""))
	}
	return err
}
