package web

import (
	"strings"

	"ribdesk/internal/calendar"
	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/order"
	"ribdesk/internal/stock"
)

// calendarsPage manages the private links to calendars.
type calendarsPage struct {
	Base
	Links    []order.CalendarLink
	What     Field
	For      Field
	Machines map[string]string // names by code
}

func (calendarsPage) file() string { return "calendars" }

// deliveriesChoice stands for the calendar of deliveries in the list of machines.
const deliveriesChoice = "-"

func (v *visit) newCalendarsPage() (*calendarsPage, error) {
	p := &calendarsPage{
		Base:     Base{Title: "Calendars", Sheet: "Loads", Tabs: open(v.actor.Role, loadTabs("Calendars"), "Calendars"), Block: Block{Thing: "Calendars"}},
		What:     Field{Name: "what", Label: "Calendar of", Options: []Option{{deliveriesChoice, "deliveries"}}},
		For:      Field{Name: "for", Label: "Who will use it", Help: "In words, so that you know which link to revoke."},
		Machines: map[string]string{},
	}
	machines, err := desk.Shelf[stock.Machine](v.ctx(), v.desk)
	if err != nil {
		return nil, err
	}
	for _, m := range machines {
		p.Machines[m.Item.Code] = m.Item.Name
		if !m.Retired {
			p.What.Options = append(p.What.Options, Option{m.Item.Code, "runs of " + m.Item.Name})
		}
	}
	p.Links, err = v.desk.CalendarLinks(v.ctx(), v.actor)
	return p, err
}

func showCalendars(v *visit) error {
	p, err := v.newCalendarsPage()
	if err != nil {
		return err
	}
	return v.show(p)
}

func doAddCalendar(v *visit) error {
	p, err := v.newCalendarsPage()
	if err != nil {
		return err
	}
	what, purpose := v.choice(&p.What), v.text(&p.For)
	if err := v.wrongs(); err != nil {
		return v.again(p, err)
	}
	if what == deliveriesChoice {
		what = ""
	}
	token, err := v.desk.AddCalendarLink(v.ctx(), v.actor, what, purpose)
	if err != nil {
		return v.again(p, err)
	}
	return v.redirectSaying("/loads/calendars", "The private link, shown only now: "+v.desk.BaseURL()+"/calendar/"+token+".ics")
}

func doRevokeCalendar(v *visit) error {
	id, err := v.id("id")
	if err != nil {
		return err
	}
	if err := v.desk.RevokeCalendarLink(v.ctx(), v.actor, id); err != nil {
		return err
	}
	return v.redirectSaying("/loads/calendars", "The link opens nothing any more.")
}

// sendCalendar answers a calendar program that subscribed to a private link.
func sendCalendar(v *visit) error {
	token, ok := strings.CutSuffix(v.c.Param("token"), ".ics")
	if !ok {
		return fault.NotFoundf("there is no such calendar")
	}
	feed, err := v.desk.Calendar(v.ctx(), token)
	if err != nil {
		return err
	}
	return v.sendFile(calendar.Type, "ribdesk.ics", true, feed.Bytes())
}
