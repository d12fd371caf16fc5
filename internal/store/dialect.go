package store

import (
	"database/sql"
	"net/url"
	"os"
	"strings"

	_ "github.com/jackc/pgx/v5/stdlib" // registers "pgx"
	"gorm.io/driver/postgres"
	"gorm.io/driver/sqlite"
	"gorm.io/gorm"

	"ribdesk/internal/fault"
)

// dialect is where the two databases differ: how to connect, how to start a
// transaction, and a few words of schema (migrate.go). The rest is one code.
type dialect int

const (
	sqliteDialect dialect = iota + 1
	postgresDialect
)

const (
	sqliteReaders = 4
	postgresConns = 8
)

// parseURL tells which database a URL or path names.
func parseURL(u string) (dialect, string, error) {
	switch {
	case u == "":
		return 0, "", fault.Invalidf("database", "name a file, or a postgres:// URL")
	case strings.HasPrefix(u, "postgres://"), strings.HasPrefix(u, "postgresql://"):
		return postgresDialect, u, nil
	case strings.HasPrefix(u, "sqlite:"):
		u = strings.TrimPrefix(u, "sqlite:")
	case strings.Contains(u, "://"):
		return 0, "", fault.Invalidf("database", "%q is neither a file nor a postgres:// URL", strings.SplitN(u, "://", 2)[0]+"://…")
	}
	if strings.Contains(u, ":memory:") {
		return 0, "", fault.Invalidf("database", "a database in memory would be a new one on each connection; name a file")
	}
	return sqliteDialect, u, nil
}

func (d dialect) open(source string) (*sql.DB, error) {
	if d == postgresDialect {
		return sql.Open("pgx", source) // keeps prepared statements by itself
	}
	return openSQLite(source)
}

func (d dialect) gorm(pool *sql.DB) gorm.Dialector {
	if d == postgresDialect {
		return postgres.New(postgres.Config{Conn: pool})
	}
	return sqlite.Dialector{DriverName: "sqlite", Conn: pool}
}

// writers is the size of the writing pool. SQLite has one writer, so a second
// connection would only wait for it, and fail as locked when it had read before.
func (d dialect) writers() int {
	if d == postgresDialect {
		return postgresConns
	}
	return 1
}

func (d dialect) writer(source string) string {
	if d == postgresDialect {
		return source
	}
	return sqliteDSN(source, "_txlock=immediate")
}

func (d dialect) reader(source string) string {
	return sqliteDSN(source, "_pragma=query_only(1)")
}

// sqliteDSN names a file with the settings that the promises rest on. The time
// format makes stored times text that SQL can compare.
func sqliteDSN(path string, more ...string) string {
	settings := append([]string{
		"_pragma=busy_timeout(5000)",
		"_pragma=journal_mode(WAL)",
		"_pragma=synchronous(FULL)",
		"_pragma=foreign_keys(1)",
		"_pragma=recursive_triggers(1)", // so that REPLACE meets what refuses a DELETE
		"_time_format=sqlite",
		"_timezone=UTC",
	}, more...)
	return "file:" + (&url.URL{Path: path}).EscapedPath() + "?" + strings.Join(settings, "&")
}

// makePrivate creates a database file that only its owner can read; SQLite
// gives its companion files the same rights.
func makePrivate(path string) error {
	f, err := os.OpenFile(path, os.O_CREATE|os.O_RDWR, 0o600)
	if err != nil {
		return err
	}
	return f.Close()
}

func (d dialect) writeOptions() *sql.TxOptions {
	if d == postgresDialect {
		return &sql.TxOptions{Isolation: sql.LevelRepeatableRead}
	}
	return &sql.TxOptions{}
}

func (d dialect) readOptions() *sql.TxOptions {
	if d == postgresDialect {
		return &sql.TxOptions{Isolation: sql.LevelRepeatableRead, ReadOnly: true}
	}
	return &sql.TxOptions{}
}

// oneWriter makes a PostgreSQL write wait for the one before it, as SQLite's
// does. LOCK TABLE runs before the transaction takes its snapshot, so what is
// read afterwards is the newest. Readers aren't held up.
func (d dialect) oneWriter(db *gorm.DB) error {
	if d == postgresDialect {
		return db.Exec("LOCK TABLE events IN EXCLUSIVE MODE").Error
	}
	return nil
}
