package web

import (
	"net/url"
	"strconv"

	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
)

// listsPage are the cut lists that a firm keeps under names.
type listsPage struct {
	Base
	Lists []order.SavedList
}

func (listsPage) file() string { return "lists" }

func showLists(v *visit) error {
	p := &listsPage{Base: Base{Title: "Cut lists you keep", Sheet: "Account", Block: Block{Thing: "Cut lists"}}}
	var err error
	if p.Lists, err = v.desk.Lists(v.ctx(), v.actor, v.actor.CustomerID); err != nil {
		return err
	}
	return v.show(p)
}

// doSaveList keeps the lines of an earlier order, or what stands at the counter,
// under a name.
func doSaveList(v *visit) error {
	if from := v.number("from"); from != 0 {
		name := Field{Name: "list_name"}
		s, err := v.desk.SaveListOf(v.ctx(), v.actor, v.text(&name), from)
		if err != nil {
			return v.backToOrder(from, name, err)
		}
		return v.redirectSaying("/account/lists", "Kept as %s.", s.Name)
	}
	p, err := v.newCounterPage()
	if err != nil {
		return err
	}
	o, err := v.readAsk(p, false)
	if err != nil {
		return err
	}
	v.text(&p.ListName)
	if err = v.wrongs(); err == nil {
		var s order.SavedList
		if s, err = v.desk.SaveList(v.ctx(), v.actor, p.ListName.Value, o); err == nil {
			return v.redirectSaying("/account/lists", "Kept as %s.", s.Name)
		}
	}
	if drawn := v.drawLines(p, o); drawn != nil {
		return drawn
	}
	return v.showCounterPage(p, err)
}

// backToOrder shows an order's page with what is wrong with the name of a list.
func (v *visit) backToOrder(id int64, name Field, err error) error {
	f, other := v.desk.OrderFile(v.ctx(), v.actor, id)
	if other != nil {
		return other
	}
	p := newOrderPage(f, v.actor, v.reader)
	p.ListName.Value = name.Value
	v.read = []*Field{&p.ListName}
	if other := v.drawOrder(p); other != nil {
		return other
	}
	return v.again(p, err)
}

func doDropList(v *visit) error {
	id, err := v.id("id")
	if err != nil {
		return err
	}
	s, err := v.desk.DropList(v.ctx(), v.actor, id)
	if err != nil {
		return err
	}
	return v.redirectSaying("/account/lists", "%s is dropped.", s.Name)
}

// showListed opens the counter with a kept list, at today's price.
func showListed(v *visit, id string) error {
	n, err := strconv.ParseInt(id, 10, 64)
	if err != nil {
		return fault.NotFoundf("there is no such list")
	}
	if v.actor.Role == party.Visitor {
		return v.redirect("/sign-in?next=" + url.QueryEscape(v.c.Request.URL.RequestURI()))
	}
	s, o, err := v.desk.List(v.ctx(), v.actor, n)
	if err != nil {
		return err
	}
	p, err := v.newCounterPage()
	if err != nil {
		return err
	}
	p.Notice = v.reader.T("The list %s, at today's price. Change what is different.", s.Name)
	if v.takesAsks() {
		f, err := v.desk.CustomerFile(v.ctx(), v.actor, s.CustomerID)
		if err != nil {
			return err
		}
		o.Customer = f.Customer.Name
	}
	return v.showFilled(p, desk.Again(o))
}
