package main

import (
	"context"
	"errors"
	"fmt"

	"ribdesk/internal/store"
)

func init() {
	register(command{
		name:    "backup",
		summary: "write a checked copy of the database to a new file",
		usage:   "[flags] FILE",
		help: `The server may go on working: the copy is of one moment, and holds everything
that was saved before it began. It is read from end to end before it gets its
name. Before a newer program is started on a database, back it up: that one
changes its schema, and the older program then refuses it. Keep copies on another
disk. PostgreSQL has its own tool, pg_dump.

Flags:
` + listSettings(dbSetting) + `
Example:
  ribdesk backup --db shop.db /media/backup/shop-$(date +%F).db`,
		run: backup,
	})
	register(command{
		name:    "restore",
		summary: "put a backup in the place of the database",
		usage:   "[flags] FILE|FOLDER",
		help: `Stop the server first. Of a folder, the backup with the latest records is taken.
It is checked before anything is touched; a database that is there is replaced
only with --force, and kept beside it as *.before-restore. Then the restored
database is verified as 'ribdesk verify' does; the exit code is 1 when a record
is wrong. That goes through every record and prints every paper again; with
--unverified it is left for later. Papers that were issued since the backup are
missing then: before the desk is used again, 'ribdesk skip' passes over the numbers
that somebody has on paper.

Flags:
` + listSettings(dbSetting) + `  --force                                    replace the database that is there
  --unverified                               be done as soon as it is in place

Example:
  ribdesk restore --db shop.db /media/backup
  ribdesk restore --db shop.db --force /media/backup/shop-2026-03-02.db`,
		run: restore,
	})
}

func backup(ctx context.Context, e env) error {
	fs := flags("backup")
	db := dbSetting.on(fs, e.getenv)
	args, err := parse(fs, e.args, 1, "the file to write")
	if err != nil {
		return err
	}
	s, err := store.OpenToCopy(ctx, *db.value)
	if err != nil {
		return db.wrong("%w", err)
	}
	if err := errors.Join(s.Backup(ctx, args[0]), s.Close()); err != nil {
		return err
	}
	_, err = fmt.Fprintf(e.stdout, "%s holds a checked copy\n", args[0])
	return err
}

func restore(ctx context.Context, e env) error {
	fs := flags("restore")
	db := dbSetting.on(fs, e.getenv)
	force := fs.Bool("force", false, "")
	unverified := fs.Bool("unverified", false, "")
	args, err := parse(fs, e.args, 1, "the backup to restore")
	if err != nil {
		return err
	}
	from, err := store.LatestBackup(ctx, args[0])
	if err != nil {
		return err
	}
	if err := store.Restore(ctx, from, *db.value, *force); err != nil {
		return err
	}
	if _, err := fmt.Fprintf(e.stdout, "%s is restored from %s; 'ribdesk help skip' says what to do about numbers handed out since\n", *db.value, from); err != nil {
		return err
	}
	if *unverified {
		return nil
	}
	return verifyAll(ctx, store.Open, e, db) // of an older program's backup it makes a database of this one
}
