package desk_test

import (
	"context"
	"testing"
	"time"

	"ribdesk/internal/desk"
	"ribdesk/internal/mail"
	"ribdesk/internal/order"
)

// told makes a shop whose customers and programs were told of an order's way.
func (w *works) told(t *testing.T) {
	t.Helper()
	ctx := t.Context()
	w.mailing()
	must[string](t)(w.AddHook(ctx, boss, "https://books.example.com/told", []string{"order.accepted", "invoice.issued"}))
	o := w.accept(t, w.quote(t, w.take(t, wren(asked(tubes(3))))))
	o = must[order.Order](t)(w.MovePromise(ctx, boss, o.ID, o.Version, w.Now().Add(96*time.Hour), "coil is late"))
	w.invoice(t, w.handOver(t, o).ID)
	w.quote(t, w.take(t, wren(asked(tubes(2)))))
	w.pass(60 * 24 * time.Hour)
	must[int](t)(w.RemindOverdue(ctx))
	if err := w.TellHooks(ctx, (&heard{}).send); err != nil {
		t.Fatal(err)
	}
	if err := w.SendMail(ctx, func(context.Context, mail.Message) error { return nil }); err != nil {
		t.Fatal(err)
	}
}

// Mails and deliveries that wait, were refused, given up, sent again or turned
// off are as they may be: verify says nothing.
func TestVerifyKnowsWhatSendersLeave(t *testing.T) {
	onBoth(t, func(t *testing.T, w *works) {
		w.told(t)
		ctx := t.Context()
		other := wren(asked(tubes(4)))
		other.CustomerID = rivalFirm // the first one's invoice is past due
		w.accept(t, w.quote(t, w.take(t, other)))
		refusing := &heard{fails: 100}
		for range 3 {
			if err := w.TellHooks(ctx, refusing.send); err != nil {
				t.Fatal(err)
			}
			err := w.SendMail(ctx, func(context.Context, mail.Message) error { return context.DeadlineExceeded })
			if err != nil {
				t.Fatal(err)
			}
			w.pass(time.Hour)
		}
		w.holds(t, "trying")
		w.pass(sendingAtMost)
		w.holds(t, "with mail switched off meanwhile")
		for range 12 {
			if err := w.TellHooks(ctx, refusing.send); err != nil {
				t.Fatal(err)
			}
			if err := w.SendMail(ctx, func(context.Context, mail.Message) error { return context.DeadlineExceeded }); err != nil {
				t.Fatal(err)
			}
			w.pass(2 * 24 * time.Hour)
		}
		w.holds(t, "given up")
		for _, m := range w.mails(t) {
			if m.Kind == "accepted" {
				must[desk.Mail](t)(w.SendAgain(ctx, boss, m.ID))
			}
		}
		w.invoice(t, w.delivered(t, rivalFirm, 2).ID)
		if err := w.TellHooks(ctx, refusing.send); err != nil {
			t.Fatal(err)
		}
		if err := w.TurnHookOff(ctx, boss, 1); err != nil {
			t.Fatal(err)
		}
		w.holds(t, "off and sent again")
	})
}

// sendingAtMost is longer than anything is tried.
const sendingAtMost = 10 * 24 * time.Hour

// holds fails for each thing that verify finds in the outbox.
func (w *works) holds(t *testing.T, when string) {
	t.Helper()
	for _, name := range []string{"mails", "hooks"} {
		err := w.VerifyOnly(t.Context(), name, func(c desk.Checked) {
			if len(c.Wrong) > 0 || c.Count == 0 {
				t.Errorf("%s, %s: %v of %d", when, name, c.Wrong, c.Count)
			}
		})
		if err != nil {
			t.Error(err)
		}
	}
}

var outboxDamages = []damage{
	{"a mail is gone", []string{"DELETE FROM mails WHERE occasion = 'invoiced INV-00001'"}, "mails", "no mail tells of “invoiced INV-00001”"},
	{"a quote's mail is gone", []string{"DELETE FROM mails WHERE occasion = 'quoted 1.1'"}, "mails", "“quoted 1.1”"},
	{"the mail of a moved promise is gone", []string{"DELETE FROM mails WHERE kind = 'promise-moved'"}, "mails", "told 0 times"},
	{"a mail tells of nothing", []string{"UPDATE mails SET occasion = 'invoiced INV-00077' WHERE occasion = 'invoiced INV-00001'"}, "mails", "(invoiced INV-00077) tells of what the log doesn't hold"},
	{"a mail is there twice", []string{"DROP INDEX mails_occasion", "INSERT INTO mails SELECT 9999, occasion, kind, order_id, customer_id, paper_id, to_name, to_address, language, facts, link, code, created_at, tries, state, next_at, outcome FROM mails WHERE occasion = 'quoted 1.1'"}, "mails", "(quoted 1.1) is in the outbox twice"},
	{"two mails have one Message-ID", []string{"UPDATE mails SET code = (SELECT code FROM mails WHERE occasion = 'quoted 1.1') WHERE occasion = 'accepted 1.1'"}, "mails", "(quoted 1.1) is in the outbox twice"},
	{"a mail is in no state", []string{"UPDATE mails SET state = 'sending' WHERE occasion = 'quoted 1.1'"}, "mails", "(quoted 1.1) is sending"},
	{"a mail was sent without a try", []string{"UPDATE mails SET state = 'sent', tries = 0, outcome = 'taken' WHERE occasion = 'quoted 1.1'"}, "mails", "(quoted 1.1) is sent after 0 tries"},
	{"a mail waits for good", []string{"UPDATE mails SET state = 'waiting', next_at = '2036-01-01 00:00:00+00:00' WHERE occasion = 'quoted 1.1'"}, "mails", "(quoted 1.1) waits until 2036-01-01"},
	{"a mail that was sent keeps its link", []string{"UPDATE mails SET link = 'abc' WHERE occasion = 'quoted 1.1'"}, "mails", "still holds the link"},
	{"a mail is about another order", []string{"UPDATE mails SET order_id = 2 WHERE occasion = 'quoted 1.1'"}, "mails", "kept with order 1002"},
	{"a mail carries another paper", []string{"UPDATE mails SET paper_id = (SELECT paper_id FROM mails WHERE occasion = 'accepted 1.1') WHERE occasion = 'quoted 1.1'"}, "mails", "should carry quote 1001"},
	{"a mail can't be written", []string{"UPDATE mails SET kind = 'poem' WHERE occasion = 'quoted 1.1'"}, "mails", "can't be written"},
	{"an event isn't told", []string{"DELETE FROM hook_deliveries WHERE id = (SELECT MIN(id) FROM hook_deliveries)"}, "hooks", "hook 1 isn't told of event"},
	{"a delivery tells of another event", []string{"UPDATE hook_deliveries SET event_id = 2 WHERE id = 1"}, "hooks", "delivery 1 (event 2 to hook 1)"},
	{"a delivery is there twice", []string{"DROP INDEX hook_deliveries_hook_id_event_id", "INSERT INTO hook_deliveries SELECT 9999, hook_id, event_id, kind, tries, state, next_at, outcome FROM hook_deliveries WHERE id = 1"}, "hooks", "delivery 9999"},
	{"a delivery is given up untried", []string{"UPDATE hook_deliveries SET state = 'given up', tries = 0, outcome = 'no' WHERE id = 1"}, "hooks", "delivery 1 "},
	{"a delivery waits for an address that is off", []string{"UPDATE hooks SET off = 1", "UPDATE hook_deliveries SET state = 'waiting' WHERE id = 1"}, "hooks", "the address is off"},
	{"an address is told ahead of the log", []string{"UPDATE hooks SET after = 99999"}, "hooks", "the log ends with"},
	{"the secret of an address is lost", []string{"UPDATE hooks SET secret = 'x'"}, "hooks", "secret of hook 1"},
}

func TestVerifyFindsDamageInTheOutbox(t *testing.T) {
	w := newWorks(t)
	w.told(t)
	w.findsDamages(t, outboxDamages)
}
