package desk

import (
	"context"
	"encoding/base64"
	"fmt"
	"strings"
	"time"

	"ribdesk/internal/calendar"
	"ribdesk/internal/fault"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
	"ribdesk/internal/store"
)

// calendarLooksBack is how far a calendar reaches into the past.
const calendarLooksBack = 30 * 24 * time.Hour

// AddCalendarLink makes a private link to the runs of a machine, or, for "", to
// the deliveries. Its token is known only now: the store keeps its hash.
func (d *Desk) AddCalendarLink(ctx context.Context, actor party.Actor, machine, purpose string) (token string, err error) {
	if err := allow(actor, party.Owner, party.Counter); err != nil {
		return "", err
	}
	if purpose == "" || len([]rune(purpose)) > 80 {
		return "", fault.Invalidf("for", "say who will use it, in at most 80 characters")
	}
	token = base64.RawURLEncoding.EncodeToString(d.bytes(24))
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		if machine != "" {
			if _, err := store.FromShelf[stock.Machine](tx, machine); err != nil {
				return fault.Invalidf("machine", "choose a machine, or the deliveries")
			}
		}
		_, err := tx.AddCalendarLink(actor, order.CalendarLink{Machine: machine, For: purpose}, token)
		return err
	})
	return token, err
}

// RevokeCalendarLink makes a calendar link useless.
func (d *Desk) RevokeCalendarLink(ctx context.Context, actor party.Actor, id int64) error {
	if err := allow(actor, party.Owner, party.Counter); err != nil {
		return err
	}
	return d.store.Write(ctx, func(tx *store.Tx) error { return tx.RevokeCalendarLink(actor, id) })
}

// CalendarLinks lists the links, the newest first.
func (d *Desk) CalendarLinks(ctx context.Context, actor party.Actor) (links []order.CalendarLink, err error) {
	if err := allow(actor, party.Owner, party.Counter); err != nil {
		return nil, err
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		links, err = tx.CalendarLinks()
		return err
	})
	return links, err
}

// Calendar gives the feed behind a private link. It shows order numbers, what is
// made and where it goes, and no price.
func (d *Desk) Calendar(ctx context.Context, token string) (feed calendar.Feed, err error) {
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return feed, err
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		link, err := tx.CalendarLink(token)
		if err != nil {
			return err
		}
		from := d.now().Add(-calendarLooksBack)
		if link.Machine == "" {
			feed, err = s.deliveryFeed(tx, from)
			return err
		}
		feed, err = s.runFeed(tx, link.Machine, from)
		return err
	})
	return feed, err
}

// uid names an entry for good.
func uid(kind string, id int64) string { return fmt.Sprintf("%s-%d@ribdesk", kind, id) }

// runFeed has the lines in the plan of a machine, and what else takes its time.
func (s *snapshot) runFeed(tx *store.Tx, machine string, from time.Time) (calendar.Feed, error) {
	m, err := store.FromShelf[stock.Machine](tx, machine)
	if err != nil {
		return calendar.Feed{}, err
	}
	feed := calendar.Feed{Name: m.Item.Name + ", runs"}
	notices, err := tx.RunNotices(machine, from)
	if err != nil {
		return feed, err
	}
	for _, n := range notices {
		o, err := tx.OrderOfLine(n.LineID)
		if err != nil {
			return feed, err
		}
		l := lineOf(o, n.LineID)
		feed.Events = append(feed.Events, calendar.Event{
			UID: uid("line", n.LineID), Start: n.Start, End: n.End, Sequence: n.Sequence, Cancelled: n.Cancelled, Changed: n.At,
			Summary:     fmt.Sprintf("%s, %s %s %s: order %s", l.Name, l.Material, l.Gauge, l.Colour, o.Number),
			Description: fmt.Sprintf("%d pieces, %s ft, longest %s", l.Pieces(), l.Feet().Feet(), l.Longest().FeetInches(16)),
		})
	}
	blocks, err := tx.Blocks(from)
	if err != nil {
		return feed, err
	}
	for _, b := range blocks {
		if b.Machine != machine {
			continue
		}
		feed.Events = append(feed.Events, calendar.Event{
			UID: uid("block", b.ID), Start: b.From, End: b.To, Sequence: int(b.Version) - 1, Changed: b.From,
			Summary: strings.TrimSuffix(string(b.Kind)+": "+b.Reason, ": "),
		})
	}
	return feed, nil
}

// deliveryFeed has the loads by day; one that was given up is cancelled.
func (s *snapshot) deliveryFeed(tx *store.Tx, from time.Time) (calendar.Feed, error) {
	feed := calendar.Feed{Name: s.seller.Name + ", deliveries"}
	trips, err := tx.Loads(from)
	if err != nil {
		return feed, err
	}
	for _, t := range trips {
		if t.Vehicle == "" {
			continue // fetched at the shop
		}
		e := calendar.Event{
			UID: uid("load", t.ID), WholeDay: true, Start: t.Day, End: t.Day.AddDate(0, 0, 1), Sequence: int(t.Version) - 1, Cancelled: t.Dropped(), Changed: t.Day,
			Summary: fmt.Sprintf("Load %s, %s, %s", t.Number, s.vehicles[t.Vehicle].Name, t.Driver),
		}
		events, err := tx.Events("load", t.ID)
		if err != nil {
			return feed, err
		}
		if len(events) > 0 {
			e.Changed = events[len(events)-1].At
		}
		var stops []string
		for i, stop := range t.Stops {
			o, err := tx.Order(stop.OrderID)
			if err != nil {
				return feed, err
			}
			stops = append(stops, fmt.Sprintf("%d. Order %s, %s, %s", i+1, o.Number, o.Customer, o.ShipTo.Line()))
		}
		e.Description = strings.Join(stops, "\n")
		feed.Events = append(feed.Events, e)
	}
	return feed, nil
}
