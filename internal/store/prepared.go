package store

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"

	"modernc.org/sqlite"
)

// openSQLite opens a pool whose connections keep the statements they have
// prepared: SQLite spends more time reading an INSERT of a dozen rows than
// running it. gorm's own PrepareStmt is of no use for that here: what it
// prepares in a transaction is closed with it, and everything is in one.
func openSQLite(dsn string) (*sql.DB, error) {
	c, err := sqlite.NewConnector(dsn)
	if err != nil {
		return nil, err
	}
	return sql.OpenDB(keepingConnector{c}), nil
}

type keepingConnector struct{ driver.Connector }

// Connect opens one connection.
func (k keepingConnector) Connect(ctx context.Context) (driver.Conn, error) {
	c, err := k.Connector.Connect(ctx)
	if err != nil {
		return nil, err
	}
	full, ok := c.(sqliteConn)
	if !ok {
		return nil, errors.Join(fmt.Errorf("a connection of type %T can't prepare under a context", c), c.Close())
	}
	return &keepingConn{sqliteConn: full, kept: map[string]sqliteStmt{}}, nil
}

// sqliteConn is what the driver's connections can do, without running a
// statement at once: database/sql then prepares each, runs it, and closes it when
// its rows are read, which is where it comes back to be kept.
type sqliteConn interface {
	driver.Conn
	driver.ConnBeginTx
	driver.ConnPrepareContext
	driver.Pinger
	driver.SessionResetter
	driver.Validator
}

type sqliteStmt interface {
	driver.Stmt
	driver.StmtExecContext
	driver.StmtQueryContext
}

const (
	mostKept    = 128  // statements on one connection
	longestKept = 4096 // bytes of one; longer ones are rare and large
)

// keepingConn is one connection; database/sql lets one goroutine at a time at it.
type keepingConn struct {
	sqliteConn
	kept map[string]sqliteStmt // none of them in use
}

// Unwrap gives the driver's own connection.
func (c *keepingConn) Unwrap() driver.Conn { return c.sqliteConn }

// PrepareContext gives a kept statement out, or prepares one.
func (c *keepingConn) PrepareContext(ctx context.Context, query string) (driver.Stmt, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if s, ok := c.kept[query]; ok {
		delete(c.kept, query) // the same query inside the reading of its rows gets another
		return keptStmt{s, c, query}, nil
	}
	s, err := c.sqliteConn.PrepareContext(ctx, query)
	if err != nil {
		return nil, err
	}
	full, ok := s.(sqliteStmt)
	if !ok || len(query) > longestKept || !changesOrReads(query) {
		return s, nil
	}
	return keptStmt{full, c, query}, nil
}

// changesOrReads leaves out statements about the schema and the connection.
func changesOrReads(query string) bool {
	for _, verb := range []string{"SELECT", "INSERT", "UPDATE", "DELETE"} {
		if len(query) > len(verb) && query[:len(verb)] == verb {
			return true
		}
	}
	return false
}

// Close closes the connection with all that it kept.
func (c *keepingConn) Close() error {
	var errs []error
	for _, s := range c.kept {
		errs = append(errs, s.Close())
	}
	c.kept = nil
	return errors.Join(append(errs, c.sqliteConn.Close())...)
}

// keep takes a statement back. Where there are too many, some other one goes.
func (c *keepingConn) keep(query string, s sqliteStmt) error {
	if _, twice := c.kept[query]; twice || c.kept == nil {
		return s.Close()
	}
	c.kept[query] = s
	if len(c.kept) <= mostKept {
		return nil
	}
	for other, s := range c.kept {
		if other != query {
			delete(c.kept, other)
			return s.Close()
		}
	}
	return nil
}

// keptStmt is a statement in use.
type keptStmt struct {
	sqliteStmt
	conn  *keepingConn
	query string
}

// Close gives the statement back to its connection.
func (s keptStmt) Close() error { return s.conn.keep(s.query, s.sqliteStmt) }
