package web

import (
	"fmt"
	"strconv"

	"ribdesk/internal/desk"
)

// mostShown is how many records of a kind the morning names one by one.
const mostShown = 4

// needsOf puts what waits for the owner into words and links, what is broken
// already before what only waits.
func (v *visit) needsOf(m desk.Morning, b *todayPage) []need {
	var needs []need
	add := func(one, more, path string, links []Link) {
		if len(links) == 1 {
			more = one
		}
		if len(links) > 0 {
			needs = append(needs, need{len(links), more, path, links[:min(len(links), mostShown)]})
		}
	}
	add("promise broken, or broken by the plan", "promises broken, or broken by the plan", "/plan", brokenLinks(m, b))
	add("exception at hand-over to decide", "exceptions at hand-over to decide", "/loads", undecidedLinks(m))
	add("request to price", "requests to price", "/orders?state=draft", headLinks(m.Asks, ""))
	add("customer waiting for an answer", "customers waiting for an answer", "/orders", headLinks(m.Messages, "#messages"))
	add("accepted order in no run plan", "accepted orders in no run plan", "/plan/proposal", headLinks(m.Unplanned, ""))
	add("strip that open orders lack", "strips that open orders lack", "/coils/buy", shortLinks(m, b))
	add("item past due", "items past due", "/books", overdueLinks(m))
	add("order handed over, not invoiced", "orders handed over, not invoiced", "/books", readyLinks(m))
	add("certificate running out", "certificates running out", "/customers", certificateLinks(m))
	add("service due", "services due", "/plan/calendar", serviceLinks(m))
	return needs
}

func headLinks(list []desk.OrderHead, anchor string) (links []Link) {
	for _, h := range list {
		links = append(links, Link{Name: h.Number + " " + orWalkIn(h.Customer), Path: recordPath("order", h.ID) + anchor})
	}
	return links
}

func orWalkIn(name string) string {
	if name == "" {
		return "walk-in"
	}
	return name
}

func brokenLinks(m desk.Morning, b *todayPage) (links []Link) {
	for _, p := range m.Broken {
		name := fmt.Sprintf("%s %s, promised %s", p.Number, orWalkIn(p.Customer), b.ShortDay(p.Promise))
		if !p.Past {
			name += fmt.Sprintf(", ready %s as things stand, %s late", b.ShortDay(p.Ready), spanSaid(p.Late))
		}
		links = append(links, Link{Name: name, Path: recordPath("order", p.ID)})
	}
	return links
}

func undecidedLinks(m desk.Morning) (links []Link) {
	for _, u := range m.Undecided {
		links = append(links, Link{Name: fmt.Sprintf("%s %s: %d %s", u.Number, orWalkIn(u.Customer), u.Exception.Pieces, u.Exception.Kind), Path: recordPath("order", u.ID)})
	}
	return links
}

func shortLinks(m desk.Morning, b *todayPage) (links []Link) {
	for _, s := range m.Short {
		links = append(links, Link{Name: fmt.Sprintf("%s: %s ft, order by %s", s.Name, wholeFeet(s.Feet), b.ShortDay(s.OrderBy)), Path: "/coils/buy"})
	}
	return links
}

func overdueLinks(m desk.Morning) (links []Link) {
	for _, o := range m.Overdue {
		late := "1 day"
		if o.DaysLate != 1 {
			late = fmt.Sprintf("%d days", o.DaysLate)
		}
		links = append(links, Link{Name: fmt.Sprintf("%s %s: %s, %s late", o.Number, o.Name, o.Open.Format(), late), Path: accountPath(o.Customer)})
	}
	return links
}

func readyLinks(m desk.Morning) (links []Link) {
	for _, r := range m.ToInvoice {
		links = append(links, Link{Name: r.Order.Number + " " + orWalkIn(r.Order.Customer), Path: "/books/invoices/new?order=" + strconv.FormatInt(r.Order.ID, 10)})
	}
	return links
}

func certificateLinks(m desk.Morning) (links []Link) {
	for _, c := range m.Certificates {
		word := "ends"
		if c.Over {
			word = "ended"
		}
		links = append(links, Link{Name: fmt.Sprintf("%s, %s %s %s", c.CustomerName, c.State, word, c.Expires.Format("Jan 2, 2006")), Path: recordPath("customer", c.CustomerID)})
	}
	return links
}

func serviceLinks(m desk.Morning) (links []Link) {
	for _, s := range m.Services {
		name := s.Machine.Name + " is past its interval"
		if !s.Over {
			name = s.Machine.Name + " comes to it on " + s.Due.Format("Mon Jan 2")
		}
		links = append(links, Link{Name: name, Path: "/plan/calendar"})
	}
	return links
}
