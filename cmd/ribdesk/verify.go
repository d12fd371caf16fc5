package main

import (
	"context"
	"errors"
	"fmt"

	"ribdesk/internal/desk"
	"ribdesk/internal/fault"
	"ribdesk/internal/store"
)

func init() {
	register(command{
		name:    "verify",
		summary: "check every invariant of a database",
		usage:   "[flags]",
		help: `Goes through the whole database and changes nothing: the file itself, the chain
of the log, numbers without gaps, the journal and what is owed against it, each
invoice against its lines, every paper printed again to the bytes that were
issued, every price made again from its inputs, the steps of each order, the
ledger of each coil, the plan, what records refer to, and that customers and
programs are told of each event once. Each check says how many records it saw; whatever is wrong is named. The exit code is 1 when anything
is. The server may go on working.

Flags:
` + listSettings(dbSetting) + `
Example:
  ribdesk verify --db shop.db`,
		run: verify,
	})
}

func verify(ctx context.Context, e env) error {
	fs := flags("verify")
	db := dbSetting.on(fs, e.getenv)
	if _, err := parse(fs, e.args, 0, ""); err != nil {
		return err
	}
	return verifyAll(ctx, store.OpenExisting, e, db)
}

// verifyAll makes every check of a database and prints it; the error says how
// many records are wrong.
func verifyAll(ctx context.Context, open opener, e env, db setting) error {
	s, err := open(ctx, *db.value)
	if err != nil {
		return db.wrong("%w", err)
	}
	wrong := 0
	var told error
	err = desk.New(s, desk.Options{}).Verify(ctx, func(c desk.Checked) {
		wrong += len(c.Wrong)
		told = errors.Join(told, tell(e, c))
	})
	if err := errors.Join(err, told, s.Close()); err != nil {
		return err
	}
	if wrong > 0 {
		return fault.Conflictf("%d records of %s are not as they must be", wrong, store.Named(*db.value))
	}
	_, err = fmt.Fprintf(e.stdout, "%s holds every invariant\n", store.Named(*db.value))
	return err
}

// tell prints one check in one line, and a line for each record that is wrong.
func tell(e env, c desk.Checked) error {
	verdict := "ok"
	if len(c.Wrong) > 0 {
		verdict = fmt.Sprintf("%d WRONG", len(c.Wrong))
	}
	_, err := fmt.Fprintf(e.stdout, "%-13s %-8s %6d %s\n", c.Name, verdict, c.Count, c.Of)
	for _, w := range c.Wrong {
		_, werr := fmt.Fprintf(e.stdout, "    wrong: %s\n", w)
		err = errors.Join(err, werr)
	}
	for _, n := range c.Notes {
		_, werr := fmt.Fprintf(e.stdout, "    note: %s\n", n)
		err = errors.Join(err, werr)
	}
	return err
}
