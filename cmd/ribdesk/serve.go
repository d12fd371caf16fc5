package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"time"

	"ribdesk/internal/desk"
	"ribdesk/internal/store"
	"ribdesk/internal/web"
)

func init() {
	register(command{
		name:    "serve",
		summary: "serve the pages",
		usage:   "[flags]",
		help: `Flags, their environment variables and usual values:
` + listSettings(dbSetting, addrSetting, baseSetting, proxySetting, busySetting, levelSetting, devSetting) + `
On the first run it logs a setup code; /first-run asks for it and makes the
owner's account. It stops on SIGTERM or Ctrl-C, after what it is doing is done.
Beyond this machine, put a proxy that speaks https in front, and set --base-url.

Examples:
  ribdesk serve
  ribdesk serve --db /var/lib/ribdesk/shop.db --base-url https://desk.example.com
  RIBDESK_DB=postgres://desk@db.example.com/desk ribdesk serve --addr :8080`,
		run: serve,
	})
}

// serving is the checked configuration of a server.
type serving struct {
	db, addr, baseURL string
	log               *slog.Logger
	web               web.Options
}

func serve(ctx context.Context, e env) error {
	fs := flags("serve")
	db := dbSetting.on(fs, e.getenv)
	conf, err := readServing(fs, e)
	if err != nil {
		return err
	}
	conf.db = *db.value
	return conf.run(ctx, nil)
}

// readServing reads how to serve; fs brings the flags of the command itself,
// which says what database it is.
func readServing(fs *flag.FlagSet, e env) (*serving, error) {
	addr, base := addrSetting.on(fs, e.getenv), baseSetting.on(fs, e.getenv)
	proxies, busy := proxySetting.on(fs, e.getenv), busySetting.on(fs, e.getenv)
	level, dev := levelSetting.on(fs, e.getenv), devSetting.on(fs, e.getenv)
	if _, err := parse(fs, e.args, 0, ""); err != nil {
		return nil, err
	}
	conf := &serving{}
	var err error
	if conf.addr, err = addr.address(); err != nil {
		return nil, err
	}
	if conf.baseURL, err = base.baseURL("http://" + conf.addr); err != nil {
		return nil, err
	}
	if conf.web.TrustedProxies, err = proxies.networks(); err != nil {
		return nil, err
	}
	if conf.web.MaxInFlight, err = busy.count(); err != nil {
		return nil, err
	}
	lowest, err := level.level()
	if err != nil {
		return nil, err
	}
	conf.log = logger(e, lowest)
	conf.web.Log = conf.log
	if root := *dev.value; root != "" {
		if _, err := os.Stat(filepath.Join(root, "templates", "layout.html")); err != nil {
			return nil, dev.wrong("%q holds no templates/layout.html", root)
		}
		conf.web.Dev, conf.web.Root = true, root
	}
	return conf, nil
}

// Limits on a connection: a slow or silent client is dropped.
const (
	headerWait = 10 * time.Second
	bodyWait   = time.Minute
	answerWait = 2 * time.Minute
	idleWait   = 2 * time.Minute
	drain      = 9 * time.Second
	maxHeaders = 32 << 10
)

// run serves until ctx ends. listening, if not nil, is told the address.
func (conf *serving) run(ctx context.Context, listening func(string)) error {
	s, err := store.Open(ctx, conf.db)
	if err != nil {
		return fmt.Errorf("%s (--%s): %w", dbSetting.env, dbSetting.flag, err)
	}
	d := desk.New(s, desk.Options{Log: conf.log, BaseURL: conf.baseURL})
	err = conf.serve(ctx, d, listening)
	return errors.Join(err, s.Close())
}

func (conf *serving) serve(ctx context.Context, d *desk.Desk, listening func(string)) error {
	handler, err := web.New(d, conf.web)
	if err != nil {
		return err
	}
	listener, err := net.Listen("tcp", conf.addr)
	if err != nil {
		return fmt.Errorf("%s (--%s): %w", addrSetting.env, addrSetting.flag, err)
	}
	if err := conf.announce(ctx, d, listener.Addr().String()); err != nil {
		return err
	}
	if listening != nil {
		listening(listener.Addr().String())
	}
	server := &http.Server{
		Handler: handler, ErrorLog: slog.NewLogLogger(conf.log.Handler(), slog.LevelWarn),
		ReadHeaderTimeout: headerWait, ReadTimeout: bodyWait, WriteTimeout: answerWait, IdleTimeout: idleWait, MaxHeaderBytes: maxHeaders,
	}
	tidying, stopTidying := context.WithCancel(ctx)
	defer stopTidying()
	go handler.Tidy(tidying)
	failed := make(chan error, 1)
	go func() { failed <- server.Serve(listener) }()
	select {
	case err := <-failed:
		return err
	case <-ctx.Done():
	}
	conf.log.Info("stopping", "drain", drain.String())
	last, cancel := context.WithTimeout(context.WithoutCancel(ctx), drain)
	defer cancel()
	if err := server.Shutdown(last); err != nil {
		return errors.Join(fmt.Errorf("some requests didn't finish in %s", drain), server.Close())
	}
	return nil
}

// announce says where the desk is, and on a first run how to get in.
func (conf *serving) announce(ctx context.Context, d *desk.Desk, addr string) error {
	conf.log.Info("serving", "address", addr, "base_url", conf.baseURL)
	if host, _, err := net.SplitHostPort(addr); err == nil && !net.ParseIP(host).IsLoopback() && strings.HasPrefix(conf.baseURL, "http://") {
		conf.log.Warn("listening beyond this machine without https: passwords can be read on the way; put a proxy that speaks https in front and set --base-url")
	}
	needs, err := d.NeedsOwner(ctx)
	if err != nil || !needs {
		return err
	}
	code := d.SetupCode()
	conf.log.Info("nobody has an account yet: open the page and give this setup code",
		"page", conf.baseURL+"/first-run", "setup_code", code[:4]+"-"+code[4:8]+"-"+code[8:])
	return nil
}
