package desk_test

import (
	"context"
	"fmt"
	"maps"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"ribdesk/internal/books"
	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/mail"
	"ribdesk/internal/mail/mailtest"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
)

const shopMail = "desk@shop.example.com"

// mailing turns mail on.
func (w *works) mailing() *works {
	w.Desk = desk.New(w.store, desk.Options{Now: w.clock.Now, MailFrom: shopMail, BaseURL: "https://desk.example.com"})
	return w
}

// smtp sends by a sink.
func smtp(s *mailtest.Sink) func(context.Context, mail.Message) error {
	return mail.Server{Host: s.Host, Port: s.Port, From: shopMail, Security: mail.Plain}.Send
}

func (w *works) mails(t testing.TB) []desk.Mail {
	t.Helper()
	list, _, err := w.Mails(t.Context(), boss, desk.MailFilter{})
	if err != nil {
		t.Fatal(err)
	}
	var mails []desk.Mail
	for _, m := range slices.Backward(list) {
		mails = append(mails, m.Mail)
	}
	return mails
}

func kindsOf(list []desk.Mail) (kinds []string) {
	for _, m := range list {
		kinds = append(kinds, m.Kind)
	}
	return kinds
}

// lastSubject is that of the newest message a sink took.
func lastSubject(s *mailtest.Sink) string {
	all := s.Taken()
	return all[len(all)-1].Message.Header.Get("Subject")
}

// wren is a contact with an address.
func wren(o order.Order) order.Order {
	o.Contact = order.Contact{Name: "Wren Sparrow", Email: "wren@example.com"}
	return o
}

// An order's whole way is mailed: each step once, in the transaction of the step,
// with its paper, and the quote with a link that opens it.
func TestMailsFollowAnOrder(t *testing.T) {
	onBoth(t, func(t *testing.T, w *works) {
		w.mailing()
		q := w.quote(t, w.take(t, wren(asked(tubes(5)))))
		sink := mailtest.Start(t)
		if err := w.SendMail(t.Context(), smtp(sink)); err != nil {
			t.Fatal(err)
		}
		if got := sink.Taken(); len(got) != 1 || got[0].To != "wren@example.com" || !strings.Contains(got[0].Data, "quote-"+q.Order.Number+".pdf") {
			t.Fatalf("%+v", got)
		}
		if !strings.Contains(strings.ReplaceAll(sink.Taken()[0].Data, "=\r\n", ""), "https://desk.example.com/q/"+q.Token) {
			t.Error("the quote's mail has no link to it")
		}
		o := w.accept(t, q)
		o = must[order.Order](t)(w.MovePromise(t.Context(), boss, o.ID, o.Version, w.Now().Add(72*time.Hour), "coil is late"))
		w.handOver(t, o)
		w.invoice(t, o.ID)
		w.pass(60 * 24 * time.Hour)
		if n, err := w.RemindOverdue(t.Context()); err != nil || n != 1 {
			t.Fatalf("reminded of %d, %v", n, err)
		}
		if err := w.SendMail(t.Context(), smtp(sink)); err != nil {
			t.Fatal(err)
		}
		want := []string{"quote", "accepted", "promise-moved", "ready", "delivered", "invoice", "overdue"}
		if got := kindsOf(w.mails(t)); !slices.Equal(got, want) {
			t.Fatalf("in the outbox: %v", got)
		}
		for i, m := range w.mails(t) {
			data := sink.Taken()[i]
			if m.State != store.SendDone || data.Message.Header.Get("Message-ID") != "<"+m.Code+"@shop.example.com>" {
				t.Errorf("%s stands %s; sent with %s", m.Kind, m.State, data.Message.Header.Get("Message-ID"))
			}
			if withPaper := m.Kind != "promise-moved" && m.Kind != "ready"; strings.Contains(data.Data, "application/pdf") != withPaper {
				t.Errorf("%s: a paper goes with it: %t", m.Kind, !withPaper)
			}
		}
		if got := lastSubject(sink); got != "Invoice INV-00001 is past due" {
			t.Errorf("the last says %q", got)
		}
	})
}

// A load tells each of its customers that it is on the way.
func TestMailsOfALoad(t *testing.T) {
	w := newWorks(t).mailing()
	o := w.hauled(t, "1 Far Road", 12, order.Haul, panels(4, 10))
	w.cutAll(t)
	trip := w.leave(t, w.build(t, []int64{o.ID}))
	w.deliver(t, trip.Stops[0])
	got := kindsOf(w.mails(t))
	if !slices.Equal(got, []string{"quote", "accepted", "ready", "on-the-way", "delivered"}) {
		t.Errorf("told %v", got)
	}
}

// With mail off all is kept, and says why; a person can send it once mail is on.
// What a step that failed would have told isn't there.
func TestMailIsOff(t *testing.T) {
	w := newWorks(t)
	q := w.quote(t, w.take(t, wren(asked(tubes(1)))))
	if _, err := w.AcceptOrder(t.Context(), clerk, q.Order.ID, q.Order.Version, desk.Yes{Name: "Wren", Consent: true, Sharing: true}); err == nil {
		t.Fatal("a price that isn't there was accepted")
	}
	all := w.mails(t)
	if len(all) != 1 || all[0].State != store.SendKept || all[0].Outcome != "mail is off" {
		t.Fatalf("%+v", all)
	}
	sink := mailtest.Start(t)
	if err := w.SendMail(t.Context(), smtp(sink)); err != nil || sink.Connections() > 0 {
		t.Fatalf("%d connections, %v", sink.Connections(), err)
	}
	_, err := w.SendAgain(t.Context(), clerk, all[0].ID)
	wantFault(t, err, fault.Conflict, "")

	w.mailing()
	if err := w.SendMail(t.Context(), smtp(sink)); err != nil || sink.Connections() > 0 {
		t.Fatal("what was kept went out by itself")
	}
	must[desk.Mail](t)(w.SendAgain(t.Context(), clerk, all[0].ID))
	if err := w.SendMail(t.Context(), smtp(sink)); err != nil || len(sink.Taken()) != 1 {
		t.Fatalf("%d taken, %v", len(sink.Taken()), err)
	}
	if _, err := w.OpenLink(t.Context(), q.Token); !fault.Is(err, fault.NotFound) {
		t.Error("the link from before still opens the quote")
	}
	data := strings.ReplaceAll(sink.Taken()[0].Data, "=\r\n", "")
	_, rest, _ := strings.Cut(data, "https://desk.example.com/q/")
	if f, err := w.OpenLink(t.Context(), rest[:24]); err != nil || f.Order.ID != q.Order.ID {
		t.Errorf("the mailed link: %v", err)
	}
}

// Nothing is lost on a bad day of the mail server, and only what nobody knows the
// outcome of comes twice, with the same id.
func TestNoMailIsLost(t *testing.T) {
	w := newWorks(t).mailing()
	const orders = 6
	for range orders {
		w.quote(t, w.take(t, wren(asked(tubes(1)))))
	}
	sink := mailtest.Start(t)
	sink.Next(mailtest.Busy, mailtest.DropData, mailtest.Later, mailtest.DropAnswer, mailtest.None, mailtest.DropData)
	for range 12 {
		if err := w.SendMail(t.Context(), smtp(sink)); err != nil {
			t.Fatal(err)
		}
		w.pass(time.Hour)
	}
	taken := map[string]int{}
	for _, m := range sink.Taken() {
		taken[m.Message.Header.Get("Message-ID")]++
	}
	if len(taken) != orders || len(sink.Taken()) != orders+1 {
		t.Errorf("%d messages, %d different; %d orders, one answer lost", len(sink.Taken()), len(taken), orders)
	}
	for _, m := range w.mails(t) {
		if m.State != store.SendDone {
			t.Errorf("mail %d stands %s: %s", m.ID, m.State, m.Outcome)
		}
	}
}

// A mailbox that isn't there is given up at once; a server that never answers,
// after eight tries. Both are seen, and can be sent again with a new id.
func TestMailIsGivenUp(t *testing.T) {
	w := newWorks(t).mailing()
	w.quote(t, w.take(t, wren(asked(tubes(1)))))
	w.quote(t, w.take(t, wren(asked(tubes(2)))))
	sink := mailtest.Start(t)
	sink.Next(mailtest.NoMailbox)
	for range 9 {
		sink.Next(mailtest.Busy)
	}
	for range 9 {
		if err := w.SendMail(t.Context(), smtp(sink)); err != nil {
			t.Fatal(err)
		}
		w.pass(10 * 24 * time.Hour)
	}
	all := w.mails(t)
	if all[0].State != store.SendGivenUp || all[0].Tries != 1 || !strings.Contains(all[0].Outcome, "550") {
		t.Errorf("no mailbox: %+v", all[0])
	}
	if all[1].State != store.SendGivenUp || all[1].Tries != 8 || !strings.Contains(all[1].Outcome, "421") {
		t.Errorf("no answer: %+v", all[1])
	}
	_, err := w.SendAgain(t.Context(), keeper, all[0].ID)
	if err != nil {
		t.Fatal(err)
	}
	fresh := w.mails(t)[0]
	if fresh.Code == all[0].Code || fresh.Tries != 0 || fresh.State != store.SendWaiting {
		t.Errorf("again: %+v", fresh)
	}
	_, err = w.SendAgain(t.Context(), clerk, all[0].ID)
	wantFault(t, err, fault.Conflict, "")
	_, err = w.SendAgain(t.Context(), buyer, all[0].ID)
	wantFault(t, err, fault.Denied, "")
}

// A process that dies while it sends leaves the mail to the next one, after its
// claim has run out.
func TestMailSurvivesARestart(t *testing.T) {
	w := newWorks(t).mailing()
	w.quote(t, w.take(t, wren(asked(tubes(1)))))
	w.quote(t, w.take(t, wren(asked(tubes(2)))))
	var died sync.WaitGroup
	died.Go(func() {
		_ = w.SendMail(context.Background(), func(context.Context, mail.Message) error { runtime.Goexit(); return nil })
	})
	died.Wait()
	d, _ := w.another(t)
	w.Desk = d
	w.mailing()
	sink := mailtest.Start(t)
	if err := w.SendMail(t.Context(), smtp(sink)); err != nil || len(sink.Taken()) != 1 {
		t.Fatalf("%d taken at once, %v", len(sink.Taken()), err)
	}
	w.pass(3 * time.Minute)
	if err := w.SendMail(t.Context(), smtp(sink)); err != nil || len(sink.Taken()) != 2 {
		t.Fatalf("%d taken after the claim, %v", len(sink.Taken()), err)
	}
}

// Several processes on one database send each mail once.
func TestMailsAreSentOnceByMany(t *testing.T) {
	w := newWorks(t).mailing()
	const orders = 10
	for range orders {
		w.quote(t, w.take(t, wren(asked(tubes(1)))))
	}
	sink := mailtest.Start(t)
	var all sync.WaitGroup
	for range 3 {
		_, s := w.another(t)
		d := desk.New(s, desk.Options{Now: w.clock.Now, MailFrom: shopMail})
		all.Go(func() {
			if err := d.SendMail(t.Context(), smtp(sink)); err != nil {
				t.Error(err)
			}
		})
	}
	all.Wait()
	ids := map[string]bool{}
	for _, m := range sink.Taken() {
		ids[m.Message.Header.Get("Message-ID")] = true
	}
	if len(sink.Taken()) != orders || len(ids) != orders {
		t.Errorf("%d messages, %d different, of %d", len(sink.Taken()), len(ids), orders)
	}
}

// When the program is told to stop, what is being sent is finished, and what
// waits stays waiting.
func TestMailStopsAfterTheOneBeingSent(t *testing.T) {
	w := newWorks(t).mailing()
	w.quote(t, w.take(t, wren(asked(tubes(1)))))
	w.quote(t, w.take(t, wren(asked(tubes(2)))))
	ctx, stop := context.WithCancel(t.Context())
	sent := 0
	err := w.SendMail(ctx, func(sending context.Context, _ mail.Message) error {
		stop()
		sent++
		return sending.Err()
	})
	if err == nil || sent != 1 {
		t.Errorf("%d sent, %v", sent, err)
	}
	states := []string{}
	for _, m := range w.mails(t) {
		states = append(states, m.State)
	}
	if !slices.Equal(states, []string{store.SendDone, store.SendWaiting}) {
		t.Errorf("they stand %v", states)
	}
}

// Reminders: once for each invoice and stage, in the day time of the shop, none
// for what is paid, and the stages are the owner's.
func TestOverdueStages(t *testing.T) {
	w := newWorks(t).mailing()
	o := w.delivered(t, tradeFirm, 3)
	bill := w.invoice(t, o.ID)
	paid := w.invoice(t, w.delivered(t, rivalFirm, 3).ID)
	due := bill.Invoice.Due
	zone := w.Now().Location()
	if s, _, err := w.Seller(t.Context()); err == nil {
		zone = s.Location()
	}
	at := func(days, hour int) {
		w.clock.Set(time.Date(due.Year(), due.Month(), due.Day()+days, hour, 0, 0, 0, zone))
	}
	at(0, 9)
	if _, err := w.RecordPayment(t.Context(), keeper, desk.MoneyIn{CustomerID: rivalFirm, Amount: paid.Invoice.AmountDue, Method: books.ByCheck, Reference: "1"}); err != nil {
		t.Fatal(err)
	}
	remind := func(days, hour, want int) {
		t.Helper()
		at(days, hour)
		for i := range 2 {
			n, err := w.RemindOverdue(t.Context())
			if err != nil || n != want*(1-i) {
				t.Fatalf("day %d, %d o'clock, ask %d: reminded of %d, %v; want %d", days, hour, i+1, n, err, want)
			}
		}
	}
	for _, c := range []struct{ days, hour, want int }{{0, 12, 0}, {2, 12, 0}, {3, 6, 0}, {3, 8, 1}, {9, 12, 0}, {31, 12, 1}, {90, 12, 0}} {
		remind(c.days, c.hour, c.want)
	}
	h, version, err := w.MailHabits(t.Context(), boss)
	if err != nil {
		t.Fatal(err)
	}
	h.Overdue = []int{3, 100}
	if err := w.SaveMailHabits(t.Context(), boss, h, version); err != nil {
		t.Fatal(err)
	}
	remind(101, 12, 1)
	var told []string
	for _, m := range w.mails(t) {
		if m.Kind == string(mail.Overdue) {
			told = append(told, m.Occasion)
		}
	}
	n := bill.Invoice.Number
	if !slices.Equal(told, []string{"overdue " + n + " after 3", "overdue " + n + " after 30", "overdue " + n + " after 100"}) {
		t.Errorf("told %v", told)
	}
}

// What the owner switches off, an address that wants no mail, and one that isn't
// an address, are kept with their reasons; nothing else stops.
func TestWhoGetsNoMail(t *testing.T) {
	w := newWorks(t).mailing()
	if err := w.SaveMailHabits(t.Context(), boss, desk.MailHabits{Silent: []mail.Kind{mail.Accepted}, Overdue: []int{14}}, 0); err != nil {
		t.Fatal(err)
	}
	q := w.quote(t, w.take(t, wren(asked(tubes(1)))))
	w.accept(t, q)
	if err := w.Quieten(t.Context(), clerk, "Wren@Example.com", "asked by phone"); err != nil {
		t.Fatal(err)
	}
	wantFault(t, w.Quieten(t.Context(), clerk, "wren@example.com", ""), fault.Conflict, "address")
	w.quote(t, w.take(t, wren(asked(tubes(1)))))
	odd := asked(tubes(1))
	odd.Contact.Email = "wren at example"
	odd.CustomerID = 0
	w.quote(t, w.take(t, odd))
	nobody := asked(tubes(1))
	nobody.CustomerID = 0
	w.quote(t, w.take(t, nobody))
	if err := w.SendMail(t.Context(), func(context.Context, mail.Message) error { t.Error("something was sent"); return nil }); err != nil {
		t.Fatal(err)
	}
	var says []string
	for _, m := range w.mails(t) {
		says = append(says, m.State+": "+m.Outcome)
	}
	want := []string{"given up: this address gets no mail", "kept: this kind isn't sent", "kept: this address gets no mail",
		"kept: “wren at example” isn't an e-mail address", "kept: no e-mail address is known"}
	if !slices.Equal(says, want) {
		t.Errorf("they stand\n%s", strings.Join(says, "\n"))
	}
	quiet := must[[]desk.QuietAddress](t)(w.QuietAddresses(t.Context(), boss))
	if err := w.Unquieten(t.Context(), boss, quiet[0].ID); err != nil {
		t.Fatal(err)
	}
	wantFault(t, w.Unquieten(t.Context(), boss, quiet[0].ID), fault.NotFound, "")
	wantFault(t, w.Quieten(t.Context(), clerk, "x@example.com\r\nBcc: y", "a\nb"), fault.Invalid, "address")
	wantFault(t, w.SaveMailHabits(t.Context(), boss, desk.MailHabits{Overdue: []int{14, 3}}, 1), fault.Invalid, "overdue")
	wantFault(t, w.SaveMailHabits(t.Context(), clerk, desk.MailHabits{}, 1), fault.Denied, "")
}

// A quote that was taken back while its mail waited isn't sent.
func TestStaleQuoteIsNotMailed(t *testing.T) {
	w := newWorks(t).mailing()
	q := w.quote(t, w.take(t, wren(asked(tubes(1)))))
	must[order.Order](t)(w.ReopenOrder(t.Context(), clerk, q.Order.ID, q.Order.Version))
	if err := w.SendMail(t.Context(), func(context.Context, mail.Message) error { t.Error("sent"); return nil }); err != nil {
		t.Fatal(err)
	}
	if m := w.mails(t)[0]; m.State != store.SendGivenUp || !strings.Contains(m.Outcome, "doesn't stand") {
		t.Errorf("it stands %s: %s", m.State, m.Outcome)
	}
}

// Each reads in the language on file; previews work before there is anything to
// tell; no list or page gives away a private link.
func TestMailLanguagesAndPreviews(t *testing.T) {
	w := newWorks(t).mailing()
	for _, k := range mail.Kinds {
		for _, lang := range mail.Languages {
			if _, invented, err := w.PreviewMail(t.Context(), clerk, k, lang); err != nil || !invented {
				t.Errorf("%s %s: invented %t, %v", k, lang, invented, err)
			}
		}
	}
	c := must[desk.CustomerFile](t)(w.CustomerFile(t.Context(), boss, tradeFirm)).Customer
	c.Language = "es"
	must[party.Customer](t)(w.ChangeCustomer(t.Context(), boss, c))
	q := w.quote(t, w.take(t, wren(asked(tubes(1)))))
	r := must[desk.MailRead](t)(w.Mail(t.Context(), clerk, w.mails(t)[0].ID))
	if !strings.HasPrefix(r.Letter.Subject, "Cotización "+q.Order.Number) || !strings.Contains(r.Letter.Text, "Hola, Wren Sparrow") {
		t.Errorf("%s\n%s", r.Letter.Subject, r.Letter.Text)
	}
	l, invented, err := w.PreviewMail(t.Context(), keeper, mail.Quoted, mail.English)
	if err != nil || invented || !strings.Contains(l.Text, q.Order.Number) {
		t.Errorf("preview: %v, invented %t\n%s", err, invented, l.Text)
	}
	if shown := fmt.Sprint(r, l, w.mails(t)); strings.Contains(shown, q.Token) {
		t.Error("the private link is shown")
	}
	for _, actor := range []party.Actor{buyer, visitor, {PersonID: 9, Role: party.Driver}} {
		_, _, err := w.Mails(t.Context(), actor, desk.MailFilter{})
		wantFault(t, err, fault.Denied, "")
		_, err = w.Mail(t.Context(), actor, r.Mail.ID)
		wantFault(t, err, fault.Denied, "")
	}
	counts := map[string]int{store.SendWaiting: 1}
	if _, got, err := w.Mails(t.Context(), boss, desk.MailFilter{}); err != nil || !maps.Equal(got, counts) {
		t.Errorf("counted %v, %v", got, err)
	}
}
