package store

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/jackc/pgx/v5/pgconn"
	"gorm.io/gorm"
	"modernc.org/sqlite"
	sqlitecode "modernc.org/sqlite/lib"

	"ribdesk/internal/fault"
)

// duplicates says, for each unique index (named table_column_column), what a
// person is told. An index that isn't here gets a general sentence.
var duplicates = map[string]*fault.Fault{
	"people_email":            fault.New(fault.Conflict, "email", "somebody already signs in with this e-mail address"),
	"quiet_addresses_address": fault.New(fault.Conflict, "address", "this address gets no mail already"),
	"catalogue_kind_code":     fault.New(fault.Conflict, "code", "this code is taken; look among those that are retired, too"),
}

// translate turns errors of the databases into faults. Faults and anything
// unknown pass as they are.
func translate(err error) error {
	if err == nil || fault.KindOf(err) != 0 {
		return err
	}
	switch kind, index := classify(err); kind {
	case duplicateKey:
		if f, ok := duplicates[index]; ok {
			return f.Because(err)
		}
		return fault.Conflictf("this is already recorded").Because(err)
	case stillReferred:
		return fault.Conflictf("other records still refer to this, or it refers to one that is gone").Because(err)
	case ruleBroken:
		return fault.Conflictf("the record refuses this change").Because(err)
	case cannotWrite:
		return fault.New(fault.Storage, "", "Nothing can be saved just now: the database can't be written. What is on screen isn't saved yet; keep it and try again soon.").Because(err)
	case lostRace:
		return fault.New(fault.Busy, "", "Too much is being saved at once. Please try again.").Because(err)
	}
	if errors.Is(err, gorm.ErrRecordNotFound) {
		return fault.NotFoundf("there is no such record").Because(err)
	}
	return err
}

// condition is what went wrong, in the same words for both databases.
type condition int

const (
	unknownCondition condition = iota
	duplicateKey
	stillReferred
	ruleBroken
	cannotWrite
	lostRace
)

// classify reads the driver's error code; for a duplicate it gives the index.
func classify(err error) (condition, string) {
	var pg *pgconn.PgError
	if errors.As(err, &pg) {
		return classifyPostgres(pg.Code), pg.ConstraintName
	}
	var lite *sqlite.Error
	if errors.As(err, &lite) {
		return classifySQLite(lite.Code()), sqliteIndex(lite.Error())
	}
	var connect *pgconn.ConnectError
	if errors.As(err, &connect) {
		return cannotWrite, ""
	}
	return unknownCondition, ""
}

// classifyPostgres reads a SQLSTATE (PostgreSQL documentation, appendix A).
func classifyPostgres(code string) condition {
	switch code {
	case "23505":
		return duplicateKey
	case "23503":
		return stillReferred
	case "23514", "23502", "P0001":
		return ruleBroken
	case "40001", "40P01", "55P03":
		return lostRace
	case "25006":
		return cannotWrite
	}
	// 08 connection, 53 out of resources (disk full), 57P shutting down, 58 system.
	for _, class := range []string{"08", "53", "57P", "58"} {
		if strings.HasPrefix(code, class) {
			return cannotWrite
		}
	}
	return unknownCondition
}

// classifySQLite reads a result code (SQLite documentation, "Result and error
// codes"): extended ones for constraints, the low byte for the rest.
func classifySQLite(code int) condition {
	switch code {
	case sqlitecode.SQLITE_CONSTRAINT_UNIQUE, sqlitecode.SQLITE_CONSTRAINT_PRIMARYKEY:
		return duplicateKey
	case sqlitecode.SQLITE_CONSTRAINT_FOREIGNKEY:
		return stillReferred
	case sqlitecode.SQLITE_CONSTRAINT_CHECK, sqlitecode.SQLITE_CONSTRAINT_NOTNULL, sqlitecode.SQLITE_CONSTRAINT_TRIGGER:
		return ruleBroken
	}
	switch code & 0xff {
	case sqlitecode.SQLITE_FULL, sqlitecode.SQLITE_READONLY, sqlitecode.SQLITE_IOERR, sqlitecode.SQLITE_CANTOPEN:
		return cannotWrite
	case sqlitecode.SQLITE_BUSY, sqlitecode.SQLITE_LOCKED:
		return lostRace
	}
	return unknownCondition
}

// sqliteIndex turns "... UNIQUE constraint failed: people.email (2067)" into
// "people_email", the name the index has by our rule.
func sqliteIndex(message string) string {
	const before = "UNIQUE constraint failed: "
	_, columns, ok := strings.Cut(message, before)
	if !ok {
		return ""
	}
	columns, _, _ = strings.Cut(columns, " (")
	var name []string
	for i, column := range strings.Split(columns, ", ") {
		table, col, _ := strings.Cut(column, ".")
		if i == 0 {
			name = append(name, table)
		}
		name = append(name, col)
	}
	return strings.Join(name, "_")
}

// mayRetry reports whether running the transaction again can help.
func mayRetry(err error) bool {
	kind, _ := classify(err)
	return kind == lostRace && !errors.Is(err, context.Canceled)
}

// found turns gorm's "not found" into a sentence about what was looked for.
func found(err error, format string, args ...any) error {
	if errors.Is(err, gorm.ErrRecordNotFound) {
		return fault.NotFoundf(format, args...).Because(err)
	}
	if err != nil {
		return fmt.Errorf("look up "+format+": %w", append(args, err)...)
	}
	return nil
}
