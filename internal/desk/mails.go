package desk

import (
	"cmp"
	"context"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"ribdesk/internal/books"
	"ribdesk/internal/document"
	"ribdesk/internal/fault"
	"ribdesk/internal/mail"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
)

// MailHabits are what the shop mails of its own accord.
type MailHabits struct {
	Silent  []mail.Kind `json:"silent"`  // kinds that aren't sent
	Overdue []int       `json:"overdue"` // days past due on which an invoice is reminded of, rising
}

const (
	mailSetting  = "mail"
	mostStages   = 6
	latestStage  = 365
	morning      = 8 // reminders go out from this hour of the shop on
	mailIDDomain = "mail.invalid"
)

func usualMailHabits() MailHabits { return MailHabits{Overdue: []int{3, 14, 30}} }

// Check refuses what can't be habits.
func (h MailHabits) Check() error {
	var l fault.List
	for _, k := range h.Silent {
		if !k.Valid() {
			l.Addf("silent", "there is no message %q", k)
		}
	}
	if len(h.Overdue) > mostStages {
		l.Addf("overdue", "give at most %d stages", mostStages)
	}
	for i, days := range h.Overdue {
		if days < 1 || days > latestStage || i > 0 && days <= h.Overdue[i-1] {
			l.Addf("overdue", "give days from 1 to %d, each more than the one before, such as 3, 14, 30", latestStage)
			break
		}
	}
	return l.Err()
}

func readMailHabits(tx *store.Tx) (h MailHabits, version int64, err error) {
	h = usualMailHabits()
	version, err = tx.Setting(mailSetting, &h)
	return h, version, err
}

// MailHabits gives what the shop mails, with the version to change it.
func (d *Desk) MailHabits(ctx context.Context, actor party.Actor) (h MailHabits, version int64, err error) {
	if err := allow(actor, party.Owner, party.Counter, party.Bookkeeper); err != nil {
		return h, 0, err
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		h, version, err = readMailHabits(tx)
		return err
	})
	return h, version, err
}

// SaveMailHabits changes what the shop mails from now on.
func (d *Desk) SaveMailHabits(ctx context.Context, actor party.Actor, h MailHabits, seen int64) error {
	if err := allow(actor, party.Owner); err != nil {
		return err
	}
	if err := h.Check(); err != nil {
		return err
	}
	return d.store.Write(ctx, func(tx *store.Tx) error { return tx.SaveSetting(actor, mailSetting, h, seen) })
}

// MailFrom gives the address that mail comes from, "" while mail is off.
func (d *Desk) MailFrom() string { return d.mailFrom }

// telling is something a customer is to hear of.
type telling struct {
	kind     mail.Kind
	order    order.Order
	customer party.Customer
	occasion string // what it is, so that it is told once
	paper    int64  // that goes with it
	link     string // token of the order's private page
	facts    func(*mail.Facts)
}

// tell puts a mail into the outbox, in the transaction of what it tells of. What
// isn't to be sent is kept with the reason, so that staff see what the customer
// didn't hear.
func (d *Desk) tell(tx *store.Tx, t telling) error {
	seller := party.UsualSeller()
	if _, err := tx.Setting(sellerSetting, &seller); err != nil {
		return err
	}
	m := store.Mail{
		Occasion: t.occasion, Kind: string(t.kind), OrderID: t.order.ID, CustomerID: t.customer.ID, PaperID: t.paper,
		Language: cmp.Or(t.customer.Language, string(mail.English)), Link: t.link, Code: hex.EncodeToString(d.bytes(12)),
		Sending: store.Sending{State: store.SendWaiting, Outcome: "waiting"},
	}
	m.ToName, m.ToAddress = receiver(t.kind, t.order, t.customer)
	facts := orderFacts(seller, t.order)
	facts.To = m.ToName
	if t.facts != nil {
		t.facts(&facts)
	}
	body, err := json.Marshal(facts)
	if err != nil {
		return err
	}
	m.Facts = string(body)
	why, err := d.whyKept(tx, m)
	if err != nil {
		return err
	}
	if why != "" {
		m.State, m.Outcome, m.Link = store.SendKept, why, ""
	}
	return tx.AddMail(m)
}

// receiver is whom a mail of a kind goes to: bills to the firm, the rest to
// whoever asked for the order, each else to the other.
func receiver(k mail.Kind, o order.Order, c party.Customer) (name, address string) {
	if k == mail.Invoiced || k == mail.Overdue {
		if c.Email != "" {
			return c.Name, c.Email
		}
	} else if o.Contact.Email != "" {
		return cmp.Or(o.Contact.Name, c.Name), o.Contact.Email
	}
	return cmp.Or(o.Contact.Name, c.Name), cmp.Or(c.Email, o.Contact.Email)
}

func orderFacts(s party.Seller, o order.Order) mail.Facts {
	f := mail.Facts{
		Shop: s.Name, Address: s.Address.Line(), Phone: s.Phone, Email: s.Email,
		Order: o.Number, Job: o.Job, PO: o.PO, PickUp: o.Fulfil == order.PickUp,
	}
	if total := o.Charged().Total; !total.IsZero() {
		f.Total = total.Format()
	}
	if deposit := o.Charged().Deposit; !deposit.IsZero() {
		f.Deposit = deposit.Format()
	}
	if !o.Promise.IsZero() {
		f.Promise = o.Promise.In(s.Location())
	}
	if f.PickUp {
		f.Place = s.Address.Line()
	} else {
		f.Place = o.ShipTo.Line()
	}
	return f
}

// Why a mail is kept instead of sent.
const (
	mailIsOff   = "mail is off"
	kindIsOff   = "this kind isn't sent"
	noAddress   = "no e-mail address is known"
	wantsNoMail = "this address gets no mail"
)

// whyKept says why a mail isn't sent, "" when it is.
func (d *Desk) whyKept(tx *store.Tx, m store.Mail) (string, error) {
	habits, _, err := readMailHabits(tx)
	if err != nil {
		return "", err
	}
	_, quiet, err := tx.QuietAddress(m.ToAddress)
	switch {
	case err != nil:
		return "", err
	case m.ToAddress == "":
		return noAddress, nil
	case mail.CheckAddress(m.ToAddress) != nil:
		return mail.CheckAddress(m.ToAddress).Error(), nil
	case quiet:
		return wantsNoMail, nil
	case slices.Contains(habits.Silent, mail.Kind(m.Kind)):
		return kindIsOff, nil
	case d.mailFrom == "":
		return mailIsOff, nil
	}
	return "", nil
}

// The occasions below are told in the transactions that cause them.

func (d *Desk) tellQuoted(tx *store.Tx, o order.Order, c party.Customer, paper int64) error {
	return d.tell(tx, telling{
		kind: mail.Quoted, order: o, customer: c, occasion: quotedOccasion(o), paper: paper, link: o.Token,
		facts: func(f *mail.Facts) { f.Until = o.ValidTo },
	})
}

func quotedOccasion(o order.Order) string { return fmt.Sprintf("quoted %d.%d", o.ID, o.Revision) }

func (d *Desk) tellAccepted(tx *store.Tx, o order.Order, c party.Customer, paper int64) error {
	return d.tell(tx, telling{kind: mail.Accepted, order: o, customer: c, occasion: fmt.Sprintf("accepted %d.%d", o.ID, o.Revision), paper: paper})
}

func (d *Desk) tellMoved(tx *store.Tx, o order.Order, was time.Time) error {
	c, err := customerOf(tx, o)
	if err != nil {
		return err
	}
	return d.tell(tx, telling{
		kind: mail.Moved, order: o, customer: c, occasion: fmt.Sprintf("moved %d.%d", o.ID, o.Version),
		facts: func(f *mail.Facts) {
			if !was.IsZero() {
				f.Was = was.In(f.Promise.Location())
			}
		},
	})
}

// tellReady tells that an order is cut. What is formed on the site is there
// already.
func (d *Desk) tellReady(tx *store.Tx, o order.Order) error {
	if o.Fulfil == order.OnSite {
		return nil
	}
	c, err := customerOf(tx, o)
	if err != nil {
		return err
	}
	return d.tell(tx, telling{kind: mail.Ready, order: o, customer: c, occasion: fmt.Sprintf("ready %d", o.ID)})
}

// tellLeaving tells each customer of a trip that it is on the way.
func (d *Desk) tellLeaving(tx *store.Tx, f TripFile) error {
	for _, stop := range f.Trip.Stops {
		o := f.Orders[stop.OrderID]
		c, err := customerOf(tx, o)
		if err != nil {
			return err
		}
		err = d.tell(tx, telling{
			kind: mail.Leaving, order: o, customer: c, occasion: "leaving " + stop.Ticket,
			facts: func(facts *mail.Facts) { facts.Ticket, facts.Driver = stop.Ticket, f.Trip.Driver },
		})
		if err != nil {
			return err
		}
	}
	return nil
}

func (d *Desk) tellDelivered(tx *store.Tx, s *snapshot, o order.Order, c party.Customer, stop order.Stop) error {
	return d.tell(tx, telling{
		kind: mail.Delivered, order: o, customer: c, occasion: fmt.Sprintf("delivered %d", stop.ID), paper: stop.PaperID,
		facts: func(f *mail.Facts) {
			f.Ticket, f.Receiver, f.Left, f.At, f.Noted = stop.Ticket, stop.Receiver, stop.Unattended, s.local(stop.SignedAt), len(stop.Exceptions)
		},
	})
}

func (d *Desk) tellInvoiced(tx *store.Tx, o order.Order, c party.Customer, inv books.Invoice) error {
	paper, err := tx.PaperByNumber(string(document.KindInvoice), inv.Number)
	if err != nil {
		return err
	}
	return d.tell(tx, telling{
		kind: mail.Invoiced, order: o, customer: c, occasion: "invoiced " + inv.Number, paper: paper.ID,
		facts: func(f *mail.Facts) {
			f.Invoice, f.Total, f.Open, f.Due = inv.Number, inv.Total.Format(), inv.AmountDue.Format(), inv.Due
		},
	})
}

// RemindOverdue tells customers of invoices that are past due: once for each
// invoice and stage, in the day time of the shop. It gives how many. Any number
// of processes may ask for it at any time.
func (d *Desk) RemindOverdue(ctx context.Context) (n int, err error) {
	s, err := d.snapshotNow(ctx)
	if err != nil {
		return 0, err
	}
	if d.now().In(s.seller.Location()).Hour() < morning {
		return 0, nil
	}
	today := dayStart(d.now(), s.seller.Location())
	var late []reminder
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		late, err = lateInvoices(tx, today)
		return err
	})
	if err != nil {
		return 0, err
	}
	for _, r := range late {
		err = d.store.Write(ctx, func(tx *store.Tx) error { return d.remind(tx, r, today) })
		if err != nil {
			return n, err
		}
		n++
	}
	return n, err
}

// reminder is an invoice that a stage is due for.
type reminder struct {
	number   string
	occasion string
}

// lateInvoices gives the open invoices whose latest stage wasn't told yet. A
// stage that was passed over, because the desk stood still, isn't made up for.
func lateInvoices(tx *store.Tx, today time.Time) (late []reminder, err error) {
	habits, _, err := readMailHabits(tx)
	if err != nil {
		return nil, err
	}
	items, err := tx.Items(store.BooksFilter{OpenOnly: true})
	if err != nil {
		return nil, err
	}
	for _, it := range items {
		stage := 0
		for _, days := range habits.Overdue {
			if daysPast(it.Due, today) >= days {
				stage = days
			}
		}
		if it.Kind != books.InvoiceItem || stage == 0 {
			continue
		}
		r := reminder{number: it.Number, occasion: fmt.Sprintf("overdue %s after %d", it.Number, stage)}
		told, err := tx.Told(r.occasion)
		if err != nil {
			return nil, err
		}
		if !told {
			late = append(late, r)
		}
	}
	return late, nil
}

func daysPast(due, today time.Time) int { return int(today.Sub(due).Hours() / 24) }

// remind reads the invoice once more: it may have been paid a moment ago.
func (d *Desk) remind(tx *store.Tx, r reminder, today time.Time) error {
	it, err := tx.Item(r.number)
	if err != nil || it.Open.Sign() <= 0 {
		return err
	}
	bill, err := tx.InvoiceByNumber(r.number)
	if err != nil {
		return err
	}
	o, err := tx.Order(bill.OrderID)
	if err != nil {
		return err
	}
	c, err := customerOf(tx, o)
	if err != nil {
		return err
	}
	paper, err := tx.PaperByNumber(string(document.KindInvoice), r.number)
	if err != nil {
		return err
	}
	return d.tell(tx, telling{
		kind: mail.Overdue, order: o, customer: c, occasion: r.occasion, paper: paper.ID,
		facts: func(f *mail.Facts) {
			f.Invoice, f.Open, f.Due, f.Days = r.number, it.Open.Format(), it.Due, daysPast(it.Due, today)
		},
	})
}
