package main

import (
	"context"
	"log/slog"
	"sync"
	"time"

	"ribdesk/internal/desk"
	"ribdesk/internal/mail"
	"ribdesk/internal/web"
)

const (
	mailPause   = 3 * time.Second // between looks for something to send
	remindPause = 10 * time.Minute
)

// startWork starts what a server does besides answering: it forgets what ran
// out, tells hooks, and mails. All of it ends when ctx does; done is closed when
// it has, which takes a while for what is being sent just then.
func (conf *serving) startWork(ctx context.Context, d *desk.Desk, handler *web.Server) (done <-chan struct{}) {
	var all sync.WaitGroup
	all.Go(func() { handler.Tidy(ctx) })
	all.Go(func() { handler.TellHooks(ctx) })
	all.Go(func() {
		every(ctx, mailPause, conf.log, "sending mail", func(ctx context.Context) error { return d.SendMail(ctx, conf.mail.Send) })
	})
	all.Go(func() {
		every(ctx, remindPause, conf.log, "reminding of invoices", func(ctx context.Context) error {
			_, err := d.RemindOverdue(ctx)
			return err
		})
	})
	ended := make(chan struct{})
	go func() { all.Wait(); close(ended) }()
	return ended
}

// every does something now and again after each pause, until ctx ends.
func every(ctx context.Context, pause time.Duration, log *slog.Logger, what string, do func(context.Context) error) {
	tick := time.NewTicker(pause)
	defer tick.Stop()
	for {
		if err := do(ctx); err != nil && ctx.Err() == nil {
			log.Error(what+" failed", "error", err)
		}
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}

// readMail reads how mail is sent; without a host it isn't. The password comes
// from the environment alone: a command line can be read by anybody on the
// machine.
func readMail(host, port, user, from, security setting, getenv func(string) string) (s mail.Server, err error) {
	s = mail.Server{Host: *host.value, User: *user.value, Password: getenv(mailPasswordKey), From: *from.value, Security: mail.Security(*security.value)}
	if s.Host == "" {
		return mail.Server{}, nil
	}
	if s.Port, err = port.count(); err != nil {
		return s, err
	}
	if err := s.Check(); err != nil {
		return s, host.wrong("mail can't be sent like this: %s", err)
	}
	return s, nil
}
