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
	"ribdesk/internal/mail"
	"ribdesk/internal/store"
	"ribdesk/internal/web"
)

func init() {
	register(command{
		name:    "serve",
		summary: "serve the pages",
		usage:   "[flags]",
		help: `Flags, their environment variables and usual values:
` + listSettings(settings...) + `
A variable that begins with RIBDESK_ and isn't named here is refused.
/healthz says that the process lives, /readyz that the database can be written.
On the first run it logs a setup code; /first-run asks for it and makes the
owner's account. It stops on SIGTERM or Ctrl-C, after what it is doing is done.
Beyond this machine, put a proxy that speaks https in front, and set --base-url.

Examples:
  ribdesk serve
  ribdesk serve --db /var/lib/ribdesk/shop.db --base-url https://desk.example.com
  RIBDESK_DB=postgres://desk@db.example.com/desk ribdesk serve --addr :8080

As a service, /etc/systemd/system/ribdesk.service:

  [Unit]
  Description=Ribdesk order desk
  After=network-online.target
  Wants=network-online.target

  [Service]
  ExecStart=/usr/local/bin/ribdesk serve
  Environment=RIBDESK_DB=/var/lib/ribdesk/shop.db
  Environment=RIBDESK_BASE_URL=https://desk.example.com
  Environment=RIBDESK_TRUSTED_PROXIES=127.0.0.1
  Environment=RIBDESK_METRICS_ADDR=127.0.0.1:9090
  Environment=RIBDESK_MAIL_HOST=mail.example.com
  Environment=RIBDESK_MAIL_FROM=desk@example.com
  DynamicUser=yes
  StateDirectory=ribdesk
  UMask=0077
  Restart=on-failure
  TimeoutStopSec=20
  MemoryMax=1G
  ProtectSystem=strict
  ProtectHome=yes
  ProtectProc=invisible
  ProtectClock=yes
  ProtectHostname=yes
  ProtectKernelLogs=yes
  ProtectKernelModules=yes
  ProtectKernelTunables=yes
  ProtectControlGroups=yes
  PrivateTmp=yes
  PrivateDevices=yes
  PrivateUsers=yes
  NoNewPrivileges=yes
  RestrictNamespaces=yes
  RestrictRealtime=yes
  RestrictSUIDSGID=yes
  RestrictAddressFamilies=AF_INET AF_INET6 AF_UNIX
  LockPersonality=yes
  MemoryDenyWriteExecute=yes
  SystemCallArchitectures=native
  SystemCallFilter=@system-service
  SystemCallFilter=~@privileged @resources
  SystemCallErrorNumber=EPERM
  CapabilityBoundingSet=

  [Install]
  WantedBy=multi-user.target

The log is JSON lines on standard output, times in UTC. Those with "security":true
tell of sign-ins, done and refused, of too many tries, and of whoever asked for
what isn't theirs; what was done to records is in the desk's own log.

Mails to customers wait in the database until the mail server takes them, through
restarts too, and are tried for two days. What isn't sent while mail is off can be
sent later from the Mail page, where each message can be read beforehand. Put the
password into a file that only root reads, and name it as EnvironmentFile.

The proxy in front must pass the Host it was asked for, set X-Forwarded-For
afresh, take bodies of 10 MB, and wait two minutes for an answer; with nginx:

  server {
    listen 443 ssl;
    server_name desk.example.com;
    ssl_certificate     /etc/ssl/desk.pem;
    ssl_certificate_key /etc/ssl/desk.key;
    client_max_body_size 10m;
    location / {
      proxy_pass http://127.0.0.1:8080;
      proxy_set_header Host $host;
      proxy_set_header X-Forwarded-For $remote_addr;
      proxy_read_timeout 120s;
    }
  }

Keep a SQLite file on a local disk, and let one process have it. Where that is too
little, give any number of processes one PostgreSQL, each an --addr of its own:
they share no memory, and a proxy may send each request to any of them that says
200 at /readyz. Leave PostgreSQL's fsync and synchronous_commit on. Put a
RIBDESK_DB with a password in it into the file named as EnvironmentFile, too.

Back up every night to another disk, with ribdesk-backup.service

  [Service]
  Type=oneshot
  UMask=0077
  ExecStart=/bin/sh -c 'ribdesk backup --db /var/lib/ribdesk/shop.db /media/backup/shop-$(date +%%F).db'

and ribdesk-backup.timer

  [Timer]
  OnCalendar=*-*-* 02:00
  Persistent=true

  [Install]
  WantedBy=timers.target

For PostgreSQL, in its place: pg_dump --format=custom --file=FILE URL. Try a restore
every quarter: 'ribdesk restore', or into an empty database pg_restore
--single-transaction --dbname=URL FILE, and follow it with 'ribdesk verify'.
'ribdesk help skip' says what else to do when an older backup had to be taken.`,
		run: serve,
	})
}

// serving is the checked configuration of a server.
type serving struct {
	db, addr, baseURL string
	metrics           string        // address, "" for none
	slow              time.Duration // see store.Slow; 0 for none
	log               *slog.Logger
	web               web.Options
	mail              mail.Server // without a host, mail is off
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
	metrics, slow := metricsSetting.on(fs, e.getenv), slowSetting.on(fs, e.getenv)
	host, port, security := mailHostSetting.on(fs, e.getenv), mailPortSetting.on(fs, e.getenv), mailTLSSetting.on(fs, e.getenv)
	from, user := mailFromSetting.on(fs, e.getenv), mailUserSetting.on(fs, e.getenv)
	if _, err := parse(fs, e.args, 0, ""); err != nil {
		return nil, err
	}
	conf := &serving{metrics: *metrics.value}
	var err error
	if conf.metrics != "" {
		if _, err := metrics.address(); err != nil {
			return nil, err
		}
	}
	if conf.slow, err = slow.span(); err != nil {
		return nil, err
	}
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
	if conf.mail, err = readMail(host, port, user, from, security, e.getenv); err != nil {
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
	s.Slow(conf.slow, func(ctx context.Context, took time.Duration, statement string) {
		conf.log.WarnContext(ctx, "slow statement", "ms", took.Milliseconds(), "statement", statement)
	})
	d := desk.New(s, desk.Options{Log: conf.log, BaseURL: conf.baseURL, MailFrom: conf.mail.From})
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
	stopMetrics, err := conf.serveMetrics(handler.Metrics())
	if err != nil {
		return errors.Join(err, listener.Close())
	}
	defer stopMetrics()
	working, stopWork := context.WithCancel(ctx)
	defer stopWork()
	worked := conf.startWork(working, d, handler)
	failed := make(chan error, 1)
	go func() { failed <- server.Serve(listener) }()
	select {
	case err := <-failed:
		stopWork()
		<-worked
		return err
	case <-ctx.Done():
	}
	conf.log.Info("stopping", "drain", drain.String())
	last, cancel := context.WithTimeout(context.WithoutCancel(ctx), drain)
	defer cancel()
	err = server.Shutdown(last)
	if err != nil {
		err = errors.Join(fmt.Errorf("some requests didn't finish in %s", drain), server.Close())
	}
	select {
	case <-worked:
	case <-last.Done():
		err = errors.Join(err, fmt.Errorf("what was being sent didn't finish in %s; it is sent again", drain))
	}
	return err
}

// serveMetrics serves the counters at an address of their own, if there is one.
func (conf *serving) serveMetrics(metrics http.Handler) (stop func(), err error) {
	if conf.metrics == "" {
		return func() {}, nil
	}
	listener, err := net.Listen("tcp", conf.metrics)
	if err != nil {
		return nil, fmt.Errorf("%s (--%s): %w", metricsSetting.env, metricsSetting.flag, err)
	}
	mux := http.NewServeMux()
	mux.Handle("GET /metrics", metrics)
	server := &http.Server{Handler: mux, ReadHeaderTimeout: headerWait, WriteTimeout: bodyWait}
	go func() { _ = server.Serve(listener) }() // ends with an error when it is closed
	conf.log.Info("serving metrics", "address", listener.Addr().String())
	return func() { _ = server.Close() }, nil
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
	code, err := d.OfferSetup(ctx)
	if err != nil {
		return err
	}
	conf.log.Info("nobody has an account yet: open the page and give this setup code",
		"page", conf.baseURL+"/first-run", "setup_code", code[:4]+"-"+code[4:8]+"-"+code[8:])
	return nil
}
