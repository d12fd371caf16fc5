package main

import (
	"context"
	"errors"
	"fmt"

	"ribdesk/internal/desk"
	"ribdesk/internal/party"
	"ribdesk/internal/store"
)

func init() {
	register(command{
		name:    "skip",
		summary: "pass over numbers that a lost database handed out",
		usage:   "[flags] --reason WHY NUMBER...",
		help: `After an older backup was restored, the desk knows nothing of what was issued
since, and would give the same numbers again. Look for the highest number of each
kind that anybody has on paper (orders, loads, delivery tickets, invoices, credit
memos, statements, payments), and name them before the desk is used again: it goes
on behind them. Each gap is kept with its reason, and 'ribdesk verify' knows of it.
What was on those papers has to be entered anew, from the papers.

Flags:
` + listSettings(dbSetting) + `  --reason WHY                               kept beside the gap

Example:
  ribdesk skip --reason "disk lost on March 3, backup of March 2" INV-00123 1047 T1031`,
		run: skip,
	})
}

func skip(ctx context.Context, e env) error {
	fs := flags("skip")
	db := dbSetting.on(fs, e.getenv)
	reason := fs.String("reason", "", "")
	numbers, err := parse(fs, e.args, someArguments, "the highest number of each kind that is on paper")
	if err != nil {
		return err
	}
	return withDesk(ctx, store.OpenExisting, db, func(d *desk.Desk) error {
		skipped, err := d.SkipNumbers(ctx, party.System, numbers, *reason)
		for _, s := range skipped {
			_, werr := fmt.Fprintf(e.stdout, "%s to %s are passed over (%d)\n", s.First, s.Last, s.Count)
			err = errors.Join(err, werr)
		}
		return err
	})
}
