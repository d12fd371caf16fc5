package web

import (
	"strconv"

	"ribdesk/internal/money"
	"ribdesk/internal/party"
)

// A customer's person keeps their own firm's sites on the same page as the shop.
func showOwnNewSite(v *visit) error {
	p, _, err := v.ownSitePage()
	if err != nil {
		return err
	}
	return v.show(p)
}

func (v *visit) ownSitePage() (*sitePage, []party.Site, error) {
	p, sites, err := v.sitePageOf(v.actor.CustomerID)
	if err != nil {
		return nil, nil, err
	}
	p.Sheet, p.At, p.Own = "Account", "/account/sites", true
	return p, sites, nil
}

func showOwnSite(v *visit) error {
	p, sites, err := v.ownSitePage()
	if err != nil {
		return err
	}
	return v.showSiteOf(p, sites)
}

func doSaveOwnSite(v *visit) error {
	p, _, err := v.ownSitePage()
	if err != nil {
		return err
	}
	s, err := v.saveSite(p)
	if err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying("/account", "The site %s is on file.", s.Name)
}

// requestPage asks the shop for an account.
type requestPage struct {
	Base
	Firm, Name, Email, Phone, Street, City, State, Postal, Note Field
	Sent                                                        bool
}

func (requestPage) file() string { return "account-request" }

func newRequestPage() *requestPage {
	return &requestPage{
		Base:   Base{Title: "Ask for an account", Small: true, Block: Block{Thing: "Account", State: "asked for"}},
		Firm:   Field{Name: "firm", Label: "Your firm", Auto: "organization"},
		Name:   Field{Name: "name", Label: "Your name", Auto: "name"},
		Email:  Field{Name: "email", Label: "E-mail", Kind: "email", Auto: "email", Help: "The invitation goes there."},
		Phone:  Field{Name: "phone", Label: "Phone", Kind: "tel", Auto: "tel", Optional: true},
		Street: Field{Name: "street", Label: "Street", Auto: "billing street-address", Optional: true},
		City:   Field{Name: "city", Label: "City", Auto: "billing address-level2", Optional: true},
		State:  Field{Name: "state", Label: "State", Auto: "billing address-level1", Short: true, Optional: true},
		Postal: Field{Name: "postal", Label: "ZIP", Auto: "billing postal-code", Short: true, Optional: true},
		Note:   Field{Name: "note", Label: "What the shop should know", Rows: 3, Optional: true, Help: "What you build, terms you hope for, a resale certificate you hold."},
	}
}

func showRequest(v *visit) error { return v.show(newRequestPage()) }

func doRequest(v *visit) error {
	p := newRequestPage()
	r := party.AccountRequest{
		Firm: v.text(&p.Firm), Name: v.text(&p.Name), Email: v.text(&p.Email), Phone: v.text(&p.Phone), Note: v.text(&p.Note), Language: string(v.reader.Language),
		Address: party.Address{Street: v.text(&p.Street), City: v.text(&p.City), State: v.text(&p.State), Postal: v.text(&p.Postal), Country: "US"},
	}
	v.check(r.Check())
	if err := v.wrongs(); err != nil {
		return v.again(p, err)
	}
	if err := v.desk.AskForAccount(v.ctx(), v.c.ClientIP(), r); err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying("/sign-in", "Thank you. The shop looks at it and sends you an invitation, or calls.")
}

// requestsPage is the queue of firms that asked for an account.
type requestsPage struct {
	Base
	Waiting  []requestView
	Answered []party.AccountRequest
}

func (requestsPage) file() string { return "account-requests" }

// requestView is one request with what the shop gives it.
type requestView struct {
	party.AccountRequest
	Class, NetDays, Limit, Reason Field
}

func (v *visit) newRequestsPage() (*requestsPage, error) {
	p := &requestsPage{Base: Base{Title: "Who asks for an account", Sheet: "Shop", Block: Block{Thing: "Requests"}}}
	waiting, answered, err := v.desk.AccountRequests(v.ctx(), v.actor)
	if err != nil {
		return nil, err
	}
	p.Answered = answered
	classes, err := v.classOptions("")
	if err != nil {
		return nil, err
	}
	for _, r := range waiting {
		pre := "r" + strconv.FormatInt(r.ID, 10) + "-"
		p.Waiting = append(p.Waiting, requestView{
			AccountRequest: r,
			Class:          Field{Name: "class", Label: "Price class", Value: classes[0].Value, Options: classes, Prefix: pre},
			NetDays:        Field{Name: "terms", Label: "Due after", Keys: "numeric", Unit: "days", Value: "0", Short: true, Prefix: pre, Help: "0 is due on receipt."},
			Limit:          Field{Name: "credit_limit", Label: "Credit limit", Keys: "decimal", Unit: "$", Optional: true, Prefix: pre, Help: "0 is none: paid before cutting."},
			Reason:         Field{Name: "reason", Label: "Reason of a no", Prefix: pre, Help: "It stays in the shop."},
		})
	}
	return p, nil
}

func showRequests(v *visit) error {
	p, err := v.newRequestsPage()
	if err != nil {
		return err
	}
	return v.show(p)
}

// request gives the one that the path names.
func (p *requestsPage) request(id int64) *requestView {
	for i := range p.Waiting {
		if p.Waiting[i].ID == id {
			return &p.Waiting[i]
		}
	}
	return &requestView{}
}

func doApproveAccount(v *visit) error {
	id, err := v.id("request")
	if err != nil {
		return err
	}
	p, err := v.newRequestsPage()
	if err != nil {
		return err
	}
	r := p.request(id)
	terms := party.Customer{Class: v.choice(&r.Class)}
	if v.actor.Role == party.Owner {
		terms.Terms.NetDays = v.whole(&r.NetDays)
		terms.CreditLimit = v.amount(&r.Limit, money.USD)
	}
	if err := v.wrongs(); err != nil && r.ID != 0 {
		return v.again(p, err)
	}
	c, token, err := v.desk.ApproveAccount(v.ctx(), v.actor, id, terms)
	if err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying(recordPath("customer", c.ID), "Give this link to %s, it is shown only now and opens once: %s", c.Email, v.desk.BaseURL()+"/join/"+token)
}

func doDeclineAccount(v *visit) error {
	id, err := v.id("request")
	if err != nil {
		return err
	}
	p, err := v.newRequestsPage()
	if err != nil {
		return err
	}
	r, err := v.desk.DeclineAccount(v.ctx(), v.actor, id, v.text(&p.request(id).Reason))
	if err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying("/customers/requests", "The request of %s is answered with no.", r.Firm)
}

// classOptions are the price classes to choose from, with the one a customer is
// in even when no target is set for it any more.
func (v *visit) classOptions(present string) ([]Option, error) {
	classes, err := v.desk.Classes(v.ctx())
	if err != nil {
		return nil, err
	}
	var out []Option
	there := present == ""
	for _, c := range classes {
		there = there || c == present
		out = append(out, Option{c, sentenceCase(c)})
	}
	if !there {
		out = append(out, Option{present, sentenceCase(present)})
	}
	return out, nil
}

func sentenceCase(s string) string {
	word := sentence(s)
	return word[:max(len(word)-1, 0)]
}

// Lapsed reports whether a certificate no longer holds today.
func (p *firmPage) Lapsed(c party.Certificate) bool {
	return c.Revoked || !c.Covers(c.State, p.Today)
}

// Ends reports whether a certificate that holds does so for less than two months.
func (p *firmPage) Ends(c party.Certificate) bool {
	return !p.Lapsed(c) && c.Expires.Before(p.Today.AddDate(0, 2, 0))
}
