package desk

import (
	"cmp"
	"context"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/mail"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
)

// Mail is a mail of the outbox as it is kept.
type Mail = store.Mail

// MailFilter says which mails are wanted.
type MailFilter = store.MailFilter

// QuietAddress is an address that gets no mail.
type QuietAddress = store.QuietAddress

// SendMail sends what is due of the outbox, as workOff does. With mail off it
// sends nothing.
func (d *Desk) SendMail(ctx context.Context, send func(context.Context, mail.Message) error) error {
	if d.mailFrom == "" {
		return nil
	}
	return workOff(ctx, d, outbox[store.Mail, mail.Message]{
		due:     (*store.Tx).DueMail,
		fresh:   func(tx *store.Tx, m store.Mail) (store.Mail, error) { return tx.Mail(m.ID) },
		compose: d.composeMail,
		state:   func(m *store.Mail) *store.Sending { return &m.Sending },
		save:    (*store.Tx).SaveMail,
		over:    func(err error) bool { return mail.IsRefused(err) || fault.Is(err, fault.Conflict) },
		ended:   func(m *store.Mail) { m.Link = "" }, // the customer has it, or gets a new one
	}, send)
}

// composeMail writes a mail as it goes out.
func (d *Desk) composeMail(tx *store.Tx, m store.Mail) (out mail.Message, err error) {
	if _, quiet, err := tx.QuietAddress(m.ToAddress); err != nil {
		return out, err
	} else if quiet {
		return out, fault.Conflictf("%s", wantsNoMail)
	}
	if mail.Kind(m.Kind) == mail.Quoted {
		if err := quoteStands(tx, m); err != nil {
			return out, err
		}
	}
	letter, f, err := d.letter(m)
	if err != nil {
		return out, err
	}
	_, domain, _ := strings.Cut(d.mailFrom, "@")
	out = mail.Message{
		ID: m.Code + "@" + cmp.Or(domain, mailIDDomain), Date: m.CreatedAt, FromName: f.Shop, ToName: m.ToName, To: m.ToAddress,
		Subject: letter.Subject, Text: letter.Text, HTML: letter.HTML,
	}
	if mail.CheckAddress(f.Email) == nil {
		out.ReplyTo = f.Email
	}
	if m.PaperID != 0 {
		p, err := tx.Paper(m.PaperID)
		if err != nil {
			return out, err
		}
		out.Files = []mail.File{{Name: paperName(p), Kind: "application/pdf", Body: p.PDF}}
	}
	return out, nil
}

// quoteStands refuses to send a quote that was taken back meanwhile.
func quoteStands(tx *store.Tx, m store.Mail) error {
	o, err := tx.Order(m.OrderID)
	if err != nil {
		return err
	}
	if m.Occasion != quotedOccasion(o) || o.State != order.Quoted {
		return fault.Conflictf("this quote doesn't stand any more")
	}
	return nil
}

func paperName(p order.Paper) string {
	name := p.Kind + "-" + p.Number
	if p.Revision > 1 {
		name += fmt.Sprintf("-r%d", p.Revision)
	}
	return name + ".pdf"
}

func (d *Desk) letter(m store.Mail) (l mail.Letter, f mail.Facts, err error) {
	if err := json.Unmarshal([]byte(m.Facts), &f); err != nil {
		return l, f, fmt.Errorf("the facts of mail %d can't be read: %w", m.ID, err)
	}
	link := ""
	if m.Link != "" {
		link = d.baseURL + "/q/" + m.Link
	}
	l, err = mail.Write(mail.Kind(m.Kind), mail.Language(m.Language), f, link)
	return l, f, err
}

// seesMail are who may look at what customers were told.
func seesMail(actor party.Actor) error {
	return allow(actor, party.Owner, party.Counter, party.Bookkeeper)
}

// MailListed is a mail in a list, with the number of its order.
type MailListed struct {
	Mail
	Order string
}

// Mails lists the outbox, the newest first, for the office. No link is in it.
func (d *Desk) Mails(ctx context.Context, actor party.Actor, f MailFilter) (list []MailListed, counts map[string]int, err error) {
	if err := seesMail(actor); err != nil {
		return nil, nil, err
	}
	var mails []store.Mail
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		if counts, err = tx.CountMails(); err != nil {
			return err
		}
		mails, err = tx.Mails(f)
		return err
	})
	if err != nil {
		return nil, nil, err
	}
	for _, m := range mails {
		var f mail.Facts
		_ = json.Unmarshal([]byte(m.Facts), &f) // what can't be read shows when it is opened
		m.Link = ""
		list = append(list, MailListed{m, f.Order})
	}
	return list, counts, nil
}

// MailRead is a mail with what it says.
type MailRead struct {
	Mail   Mail
	Letter mail.Letter
	Paper  order.Paper // that goes with it, without its bytes
	Order  order.Order
}

// shownLink stands where a private link does: only the customer gets to see it.
const shownLink = "private-link"

// Mail gives one mail of the outbox as it reads, its private link left out.
func (d *Desk) Mail(ctx context.Context, actor party.Actor, id int64) (r MailRead, err error) {
	if err := seesMail(actor); err != nil {
		return r, err
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		if r.Mail, err = tx.Mail(id); err != nil {
			return err
		}
		if r.Mail.PaperID != 0 {
			if r.Paper, err = tx.Paper(r.Mail.PaperID); err != nil {
				return err
			}
			r.Paper.PDF, r.Paper.Body = nil, nil
		}
		r.Order, err = tx.Order(r.Mail.OrderID)
		return err
	})
	if err != nil {
		return r, err
	}
	r.Mail.Link = ""
	if mail.Kind(r.Mail.Kind) == mail.Quoted {
		r.Mail.Link = shownLink
	}
	r.Letter, _, err = d.letter(r.Mail)
	return r, err
}

// PreviewMail shows a kind of mail as it would read: about what it was last
// about, or about an invented order while there is none.
func (d *Desk) PreviewMail(ctx context.Context, actor party.Actor, k mail.Kind, lang mail.Language) (l mail.Letter, invented bool, err error) {
	if err := seesMail(actor); err != nil {
		return l, false, err
	}
	if !k.Valid() {
		return l, false, fault.NotFoundf("there is no such message")
	}
	seller, _, err := d.Seller(ctx)
	if err != nil {
		return l, false, err
	}
	var last []store.Mail
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		last, err = tx.Mails(store.MailFilter{Kind: string(k), Limit: 1})
		return err
	})
	if err != nil {
		return l, false, err
	}
	m := store.Mail{Kind: string(k), Language: string(lang)}
	if invented = len(last) == 0; invented {
		body, err := json.Marshal(inventedFacts(seller, d.now()))
		if err != nil {
			return l, true, err
		}
		m.Facts = string(body)
	} else {
		m.Facts = last[0].Facts
	}
	if k == mail.Quoted {
		m.Link = shownLink
	}
	l, _, err = d.letter(m)
	return l, invented, err
}

// inventedFacts are about nobody.
func inventedFacts(s party.Seller, now time.Time) mail.Facts {
	at := now.In(s.Location())
	return mail.Facts{
		Shop: s.Name, Address: s.Address.Line(), Phone: s.Phone, Email: s.Email, To: "Sample Customer", Order: "1001", Job: "Barn roof", PO: "4711",
		Total: "$2,345.60", Deposit: "$500.00", Until: at.AddDate(0, 0, s.QuoteDays), Promise: at.AddDate(0, 0, 4), Was: at.AddDate(0, 0, 2),
		Place: "12 Sample Road", Driver: "Sample Driver", Ticket: "T1001", Receiver: "Sample Receiver", At: at,
		Invoice: invoicePrefix + "00001", Open: "$1,845.60", Due: at.AddDate(0, 0, -14), Days: 14,
	}
}

// SendAgain sends a mail that wasn't sent, was given up, or was sent before, to
// where its receiver is reached now. A quote gets a new private link with it,
// when the one before is forgotten; that one then opens nothing any more.
func (d *Desk) SendAgain(ctx context.Context, actor party.Actor, id int64) (m Mail, err error) {
	if err := seesMail(actor); err != nil {
		return m, err
	}
	if d.mailFrom == "" {
		return m, fault.Conflictf("mail is off; whoever runs the server can turn it on")
	}
	err = d.store.Write(ctx, func(tx *store.Tx) error {
		if m, err = tx.Mail(id); err != nil {
			return err
		}
		if m.State == store.SendWaiting {
			return fault.Conflictf("it waits to be sent already")
		}
		o, err := tx.Order(m.OrderID)
		if err != nil {
			return err
		}
		if err := d.readdress(tx, o, &m); err != nil {
			return err
		}
		if mail.Kind(m.Kind) == mail.Quoted {
			if err := d.relink(tx, actor, o, &m); err != nil {
				return err
			}
		}
		m.Code = hex.EncodeToString(d.bytes(12)) // a new mail, not a try of the one before
		m.Sending = store.Sending{State: store.SendWaiting, NextAt: tx.Now(), Outcome: "waiting"}
		if err := tx.SaveMail(m); err != nil {
			return err
		}
		return tx.Log(actor, "sent mail again", "order", m.OrderID, map[string]any{"mail": m.ID, "kind": m.Kind})
	})
	m.Link = ""
	return m, err
}

func (d *Desk) readdress(tx *store.Tx, o order.Order, m *store.Mail) error {
	c, err := customerOf(tx, o)
	if err != nil {
		return err
	}
	m.ToName, m.ToAddress = receiver(mail.Kind(m.Kind), o, c)
	why, err := d.whyKept(tx, *m)
	if err == nil && why != "" && why != kindIsOff { // a person wants it sent
		err = fault.Conflictf("it can't be sent: %s", why)
	}
	return err
}

// relink sees to it that a quote's mail has a link that opens it.
func (d *Desk) relink(tx *store.Tx, actor party.Actor, o order.Order, m *store.Mail) error {
	if err := quoteStands(tx, *m); err != nil || m.Link != "" {
		return err
	}
	o.Token = base64.RawURLEncoding.EncodeToString(d.bytes(18))
	if _, err := tx.SaveOrder(actor, o, "renewed link"); err != nil {
		return err
	}
	m.Link = o.Token
	return nil
}

// QuietAddresses lists the addresses that get no mail.
func (d *Desk) QuietAddresses(ctx context.Context, actor party.Actor) (list []QuietAddress, err error) {
	if err := seesMail(actor); err != nil {
		return nil, err
	}
	err = d.store.Read(ctx, func(tx *store.Tx) error {
		list, err = tx.QuietAddresses()
		return err
	})
	return list, err
}

// Quieten sends an address no mail from now on, whoever's it is.
func (d *Desk) Quieten(ctx context.Context, actor party.Actor, address, why string) error {
	if err := seesMail(actor); err != nil {
		return err
	}
	var l fault.List
	if err := mail.CheckAddress(address); err != nil {
		l.Addf("address", "%s; write it like name@example.com", err)
	}
	if len([]rune(why)) > 120 || strings.ContainsAny(why, "\r\n") {
		l.Addf("why", "use one line of at most 120 characters")
	}
	if err := l.Err(); err != nil {
		return err
	}
	return d.store.Write(ctx, func(tx *store.Tx) error {
		id, err := tx.AddQuietAddress(QuietAddress{Address: address, Why: why})
		if err != nil {
			return err
		}
		return tx.Log(actor, "mails no more to", "quiet address", id, map[string]string{"address": address, "why": why})
	})
}

// Unquieten sends an address mail again.
func (d *Desk) Unquieten(ctx context.Context, actor party.Actor, id int64) error {
	if err := seesMail(actor); err != nil {
		return err
	}
	return d.store.Write(ctx, func(tx *store.Tx) error {
		if err := tx.DropQuietAddress(id); err != nil {
			return err
		}
		return tx.Log(actor, "mails again to", "quiet address", id, nil)
	})
}
