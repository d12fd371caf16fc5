package main

import (
	"context"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"ribdesk/internal/demo"
	"ribdesk/internal/desk"
	"ribdesk/internal/mail/mailtest"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
)

// Mail that can't work stops the start, and the password is never in what is
// said.
func TestWrongMailSettingsAreNamed(t *testing.T) {
	db := filepath.Join(t.TempDir(), "x.db")
	for _, c := range []map[string]string{
		{"RIBDESK_MAIL_HOST": "mail.example.com"}, // no sender
		{"RIBDESK_MAIL_HOST": "mail.example.com", "RIBDESK_MAIL_FROM": "Desk <d@example.com>"},
		{"RIBDESK_MAIL_HOST": "mail.example.com", "RIBDESK_MAIL_FROM": "d@example.com", "RIBDESK_MAIL_TLS": "ssl"},
		{"RIBDESK_MAIL_HOST": "mail.example.com", "RIBDESK_MAIL_FROM": "d@example.com", "RIBDESK_MAIL_PORT": "smtp"},
		{"RIBDESK_MAIL_HOST": "mail.example.com", "RIBDESK_MAIL_FROM": "d@example.com", "RIBDESK_MAIL_USER": "d"},
		{"RIBDESK_MAIL_HOST": "mail.example.com", "RIBDESK_MAIL_FROM": "d@example.com", "RIBDESK_MAIL_USER": "d", mailPasswordKey: "s3cret", "RIBDESK_MAIL_TLS": "none"},
	} {
		c["RIBDESK_DB"] = db
		code, out, stderr := call(t, "", c, "serve")
		want(t, code, exitFailed, stderr, "RIBDESK_MAIL_")
		if strings.Contains(out+stderr, "s3cret") {
			t.Error("the password is shown")
		}
	}
}

// A mail that waited while the server was down goes out when it is up again; one
// that is being sent when it stops is finished and kept as sent.
func TestMailIsAwaitedAtTheStop(t *testing.T) {
	db := filepath.Join(t.TempDir(), "x.db")
	quoteOne(t, db)
	sink := mailtest.Start(t)
	sink.Next(mailtest.Slow)
	var log lockedBuffer
	conf, err := readServing(flags("serve"), env{
		args:   []string{"--addr", "127.0.0.1:0", "--mail-host", sink.Host, "--mail-port", strconv.Itoa(sink.Port), "--mail-tls", "none", "--mail-from", "desk@example.com"},
		stdout: &log, getenv: func(string) string { return "" },
	})
	if err != nil {
		t.Fatal(err)
	}
	conf.db = db
	ctx, stop := context.WithCancel(t.Context())
	stopped := make(chan error, 1)
	go func() { stopped <- conf.run(ctx, nil) }()
	for end := time.Now().Add(10 * time.Second); len(sink.Taken()) == 0; time.Sleep(5 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatal("nothing was sent")
		}
	}
	stop() // the sink has the mail and hasn't said so yet
	if err := <-stopped; err != nil {
		t.Fatal(err)
	}
	if strings.Contains(log.String(), "failed") {
		t.Errorf("the log tells of a failure:\n%s", log.String())
	}
	s, err := store.Open(t.Context(), db)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	list, _, err := desk.New(s, desk.Options{}).Mails(t.Context(), party.System, desk.MailFilter{})
	if err != nil || len(list) != 1 || list[0].State != store.SendDone {
		t.Errorf("%+v, %v", list, err)
	}
}

// quoteOne makes a database with one quote that waits to be mailed.
func quoteOne(t *testing.T, db string) {
	t.Helper()
	s, err := store.Open(t.Context(), db)
	if err != nil {
		t.Fatal(err)
	}
	day := demo.At(time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC))
	clock := demo.NewClock(day)
	d := desk.New(s, desk.Options{Now: clock.Now, MailFrom: "desk@example.com"})
	if _, err := demo.Furnish(t.Context(), d, clock, day); err != nil {
		t.Fatal(err)
	}
	o, err := d.TakeOrder(t.Context(), party.System, order.Order{CustomerID: 1, Fulfil: order.PickUp, Lines: []order.Line{{Kind: order.Accessory, Code: "SEALANT", Count: 1}}})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := d.QuoteOrder(t.Context(), party.System, o.ID, o.Version, nil); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
}
