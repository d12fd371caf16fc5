package desk

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"ribdesk/internal/document"
	"ribdesk/internal/mail"
	"ribdesk/internal/order"
	"ribdesk/internal/store"
)

// longestWait is more than any pause between two tries, and more than a clock
// that was set back by a day makes of it.
const longestWait = 3 * 24 * time.Hour

// mails checks that each event of the log that customers hear of has its mail and
// each mail its event, that none is in the outbox twice, and that each stands as
// a sender leaves it and can be read.
func (v *verifier) mails(out *Checked) error {
	mails, err := v.tx.Mails(store.MailFilter{})
	if err != nil {
		return err
	}
	out.Count = len(mails)
	wanted, moves, err := v.occasions()
	if err != nil {
		return err
	}
	codes, told, movedTold := map[string]bool{}, map[string]bool{}, map[int64]int{}
	for _, m := range mails {
		name := fmt.Sprintf("mail %d (%s)", m.ID, m.Occasion)
		v.sending(out, name, m.Sending, true)
		switch {
		case told[m.Occasion] || codes[m.Code]:
			out.fail("%s is in the outbox twice", name)
		case m.Link != "" && m.State != store.SendWaiting:
			out.fail("%s is %s and still holds the link it was to carry", name, m.State)
		}
		told[m.Occasion], codes[m.Code] = true, true
		switch mail.Kind(m.Kind) {
		case mail.Moved:
			movedTold[m.OrderID]++
		case mail.Overdue: // told by the calendar, not by an event
		default:
			if !wanted[m.Occasion] {
				out.fail("%s tells of what the log doesn't hold", name)
			}
		}
		if err := v.mailReferences(out, name, m); err != nil {
			return err
		}
	}
	for occasion := range wanted {
		if !told[occasion] {
			out.fail("no mail tells of “%s”", occasion)
		}
	}
	for id, n := range moves {
		if movedTold[id] != n {
			out.fail("the promise of order %d was moved %d times and told %d times", id, n, movedTold[id])
		}
	}
	slices.Sort(out.Wrong)
	return nil
}

// occasions follows the log and gives what customers must have been told, and how
// often the promise of each order was moved.
func (v *verifier) occasions() (wanted map[string]bool, moves map[int64]int, err error) {
	wanted, moves = map[string]bool{}, map[int64]int{}
	left := map[int64]bool{} // loads
	cut := map[int64]bool{}  // orders
	err = v.eachEvent(func(e store.Event) error {
		var detail struct {
			Number   string      `json:"number"`
			Revision int         `json:"revision"`
			State    order.State `json:"state"`
		}
		_ = json.Unmarshal(e.Detail, &detail) // other events have other details
		switch (store.Happened{Action: e.Action, SubjectKind: e.SubjectKind}) {
		case store.Happened{Action: string(order.Quoted), SubjectKind: "order"}:
			wanted[fmt.Sprintf("quoted %d.%d", e.SubjectID, detail.Revision)] = true
		case store.Happened{Action: string(order.Accepted), SubjectKind: "order"}:
			if detail.State == order.Accepted { // a remake is accepted by nobody
				wanted[fmt.Sprintf("accepted %d.%d", e.SubjectID, detail.Revision)] = true
			}
		case store.Happened{Action: string(order.Cut), SubjectKind: "order"}:
			cut[e.SubjectID] = true
		case store.Happened{Action: "promise moved because", SubjectKind: "order"}:
			moves[e.SubjectID]++
		case store.Happened{Action: "loaded", SubjectKind: "load"}:
			left[e.SubjectID] = true
		case store.Happened{Action: "delivered", SubjectKind: "stop"}:
			wanted[fmt.Sprintf("delivered %d", e.SubjectID)] = true
		case store.Happened{Action: "invoiced", SubjectKind: "invoice"}:
			wanted["invoiced "+detail.Number] = true
		}
		return nil
	})
	if err != nil {
		return nil, nil, err
	}
	heads, err := v.tx.OrderHeads()
	for _, h := range heads {
		if cut[h.ID] && h.Fulfil != order.OnSite {
			wanted[fmt.Sprintf("ready %d", h.ID)] = true
		}
	}
	if err != nil {
		return nil, nil, err
	}
	stops, err := v.tx.AllStops()
	for _, s := range stops {
		if left[s.LoadID] && s.Ticket != "" {
			wanted["leaving "+s.Ticket] = true
		}
	}
	return wanted, moves, err
}

// eachEvent goes through the log, oldest first.
func (v *verifier) eachEvent(fn func(store.Event) error) error {
	for after := int64(0); ; {
		events, err := v.tx.EventsAfter(after, hookBatch)
		if err != nil || len(events) == 0 {
			return err
		}
		for _, e := range events {
			if err := fn(e); err != nil {
				return err
			}
		}
		after = events[len(events)-1].ID
	}
}

// sending checks one row of an outbox: a state that it can be in, and no wait
// that never ends.
func (v *verifier) sending(out *Checked, name string, s store.Sending, mayKeep bool) {
	now := v.tx.Now()
	switch {
	case s.State == store.SendWaiting && s.NextAt.After(now.Add(longestWait)):
		out.fail("%s waits until %s, longer than any pause between tries", name, s.NextAt.Format(time.DateTime))
	case s.State == store.SendWaiting && s.NextAt.Before(now.Add(-longestWait)):
		out.Notes = append(out.Notes, fmt.Sprintf("%s waits since %s: no server sends", name, s.NextAt.Format(time.DateTime)))
	case s.State == store.SendWaiting:
	case s.State == store.SendDone && s.Tries > 0 && s.Outcome == outcomeTaken:
	case s.State == store.SendGivenUp && s.Outcome != "" && (s.Tries > 0 || s.Outcome == store.OutcomeTurnedOff):
	case s.State == store.SendKept && mayKeep && s.Tries == 0 && s.Outcome != "":
	default:
		out.fail("%s is %s after %d tries with the outcome “%s”, which no sender leaves", name, s.State, s.Tries, s.Outcome)
	}
}

// paperOf says which paper goes with a kind of mail.
var paperOf = map[mail.Kind]document.Kind{
	mail.Quoted: document.KindQuote, mail.Accepted: document.KindAcknowledgement, mail.Delivered: document.KindDeliveryTicket,
	mail.Invoiced: document.KindInvoice, mail.Overdue: document.KindInvoice,
}

// mailReferences checks that a mail is about an order that is there, for its
// customer, with its paper, and that it can be written.
func (v *verifier) mailReferences(out *Checked, name string, m store.Mail) error {
	_, facts, err := v.d.letter(m)
	if err != nil {
		out.fail("%s can't be written: %v", name, err)
		return nil
	}
	o, err := v.tx.Order(m.OrderID)
	if err != nil {
		out.fail("%s is about order %d, which isn't there", name, m.OrderID)
		return nil
	}
	if facts.Order != o.Number || m.CustomerID != 0 && m.CustomerID != o.CustomerID {
		out.fail("%s speaks of order %s, and is kept with order %s", name, facts.Order, o.Number)
	}
	want, ok := paperOf[mail.Kind(m.Kind)]
	if !ok && m.PaperID == 0 {
		return nil
	}
	kind, number, _, found, err := v.tx.PaperHead(m.PaperID)
	if err != nil {
		return err
	}
	numbers := map[document.Kind]string{document.KindDeliveryTicket: facts.Ticket, document.KindInvoice: facts.Invoice}
	wantNumber, ok := numbers[want]
	if !ok {
		wantNumber = o.Number
	}
	if !found || kind != string(want) || number != wantNumber {
		out.fail("%s should carry %s %s, and carries paper %d (%s %s)", name, want, wantNumber, m.PaperID, kind, number)
	}
	return nil
}

// hooks checks that each address has a delivery for each event it wanted, as far
// as the log was handed out to it, and no other; that none is there twice, and
// that each stands as a sender leaves it.
func (v *verifier) hooks(out *Checked) error {
	hooks, err := v.tx.Hooks()
	if err != nil {
		return err
	}
	deliveries, err := v.tx.AllHookDeliveries()
	if err != nil {
		return err
	}
	out.Count = len(deliveries)
	last, err := v.tx.Stamp()
	if err != nil {
		return err
	}
	wanted, err := v.wantedByHooks(hooks)
	if err != nil {
		return err
	}
	off := map[int64]bool{}
	for _, h := range hooks {
		off[h.ID] = h.Off
		if h.After > last {
			out.fail("hook %d was told up to event %d, the log ends with %d", h.ID, h.After, last)
		}
		if _, err := hookKey(h); err != nil {
			out.fail("hook %d: %v", h.ID, err)
		}
	}
	seen := map[delivery]bool{}
	for _, d := range deliveries {
		name := fmt.Sprintf("delivery %d (event %d to hook %d)", d.ID, d.EventID, d.HookID)
		v.sending(out, name, d.Sending, false)
		at := delivery{d.HookID, d.EventID}
		switch {
		case seen[at]:
			out.fail("%s is there twice", name)
		case wanted[at] != d.Kind:
			out.fail("%s tells of %s, which isn't what this event is to that address", name, d.Kind)
		case off[d.HookID] && d.State == store.SendWaiting:
			out.fail("%s waits, and the address is off", name)
		}
		seen[at] = true
	}
	for at, kind := range wanted {
		if !seen[at] {
			out.fail("hook %d isn't told of event %d (%s)", at.hook, at.event, kind)
		}
	}
	slices.Sort(out.Wrong)
	return nil
}

// delivery is one event on its way to one address.
type delivery struct{ hook, event int64 }

// wantedByHooks gives the kind of each event that an address is to hear of: from
// the event that added it to the last one handed out to it.
func (v *verifier) wantedByHooks(hooks []store.Hook) (map[delivery]string, error) {
	wanted := map[delivery]string{}
	added := map[int64]bool{}
	err := v.eachEvent(func(e store.Event) error {
		if e.SubjectKind == "hook" && e.Action == "added" {
			added[e.SubjectID] = true
		}
		kind := hookKinds[store.Happened{Action: e.Action, SubjectKind: e.SubjectKind}]
		for _, h := range hooks {
			if kind != "" && added[h.ID] && e.ID <= h.After && slices.Contains(strings.Fields(h.Kinds), kind) {
				wanted[delivery{h.ID, e.ID}] = kind
			}
		}
		return nil
	})
	return wanted, err
}
