package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"text/tabwriter"
	"time"

	"ribdesk/internal/demo"
	"ribdesk/internal/desk"
	"ribdesk/internal/store"
)

func init() {
	register(command{
		name:    "demo",
		summary: "serve an invented shop with three weeks of orders",
		usage:   "[--dir FOLDER] [--date DAY] [--seed-only] [flags]",
		help: `Makes a database with an invented shop, its prices, coils, customers and three
weeks of orders up to a day, and serves it; the clock of the shop starts at 11 in
the morning of that day and runs on. A database that was made for the same day is
used again, with what was done in it since.

Flags:
  --dir FOLDER       where the demo's databases are kept (data/demo)
  --date DAY         the day it is in the shop, like 2026-11-25 (today)
  --seed-only        make the database, say where it is, and stop
` + listSettings(addrSetting, baseSetting, levelSetting, devSetting) + `
The passwords are printed and known to everybody: don't let a demo be reached from
outside.

Examples:
  ribdesk demo
  ribdesk demo --date 2026-11-25 --addr 127.0.0.1:9000
  ribdesk demo --seed-only --dir /tmp/demo`,
		run: runDemo,
	})
}

func runDemo(ctx context.Context, e env) error {
	fs := flags("demo")
	dir := fs.String("dir", filepath.Join("data", "demo"), "")
	date := fs.String("date", "", "")
	seedOnly := fs.Bool("seed-only", false, "")
	conf, err := readServing(fs, e)
	if err != nil {
		return err
	}
	day := time.Now()
	if *date != "" {
		if day, err = time.Parse(time.DateOnly, *date); err != nil {
			return usageError{fmt.Sprintf("--date takes a day like 2026-11-25, not %q", *date)}
		}
	}
	now := demo.At(day)
	conf.db = filepath.Join(*dir, "demo-"+now.Format(time.DateOnly)+".db")
	if err := makeDemo(ctx, e, conf.db, now); err != nil {
		return err
	}
	if *seedOnly {
		return printDemo(e, conf.db, now, "")
	}
	return serveDemo(ctx, e, conf, now)
}

// makeDemo seeds a database that isn't there yet. It gets its name when it is
// whole, so that a broken-off seeding is never served.
func makeDemo(ctx context.Context, e env, db string, now time.Time) error {
	if _, err := os.Stat(db); err == nil {
		return nil
	}
	fmt.Fprintf(e.stderr, "making the demo shop of %s\n", now.Format(time.DateOnly))
	if err := os.MkdirAll(filepath.Dir(db), 0o700); err != nil {
		return err
	}
	raw := db + ".part"
	for _, tail := range []string{"", "-wal", "-shm"} {
		if err := os.Remove(raw + tail); err != nil && !errors.Is(err, os.ErrNotExist) {
			return err
		}
	}
	if err := seedDemo(ctx, raw, now); err != nil {
		return err
	}
	return os.Rename(raw, db)
}

func seedDemo(ctx context.Context, db string, now time.Time) error {
	s, err := store.Open(ctx, "sqlite:"+db)
	if err != nil {
		return err
	}
	clock := demo.NewClock(now)
	d := desk.New(s, desk.Options{Now: clock.Now, Random: demo.Random()})
	_, err = demo.Seed(ctx, d, clock, now)
	return errors.Join(err, s.Close())
}

// serveDemo serves with the shop's own clock, and with real randomness.
func serveDemo(ctx context.Context, e env, conf *serving, now time.Time) error {
	s, err := store.Open(ctx, "sqlite:"+conf.db)
	if err != nil {
		return err
	}
	clock := demo.NewClock(now)
	clock.Start()
	d := desk.New(s, desk.Options{Now: clock.Now, Log: conf.log, BaseURL: conf.baseURL, MailFrom: conf.mail.From})
	err = conf.serve(ctx, d, func(addr string) {
		if err := printDemo(e, conf.db, now, "http://"+addr); err != nil {
			conf.log.Warn("the accounts can't be printed", "error", err)
		}
	})
	return errors.Join(err, s.Close())
}

// printDemo says where the demo is and how to sign in.
func printDemo(e env, db string, now time.Time, page string) error {
	w := tabwriter.NewWriter(e.stderr, 0, 4, 2, ' ', 0)
	fmt.Fprintf(w, "\nDemo shop of %s, in %s\n", now.Format("Monday, January 2, 2006"), db)
	if page != "" {
		fmt.Fprintf(w, "Open %s and sign in, or ask for a price without:\n", page)
	}
	fmt.Fprintln(w, "\nROLE\tE-MAIL\tPASSWORD\tWHAT THEY DO")
	for _, a := range demo.People() {
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\n", a.Role, a.Email, a.Password, a.Does)
	}
	fmt.Fprintln(w)
	return w.Flush()
}
