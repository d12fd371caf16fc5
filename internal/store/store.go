// Package store keeps the desk's records in one database: SQLite in one file, or
// PostgreSQL chosen by a URL, with the same code and the same SQL files.
//
// It holds rows and turns them into domain values and back; it decides nothing.
// Only this package knows gorm. Every access happens inside Write, Read or Glance, and
// each subject (people, orders, coils, ...) has one file of methods on *Tx.
//
// What a caller may rely on: a Write that returns nil is on disk (write-ahead
// log, synchronous=FULL, foreign keys on); writes run one at a time, on both
// databases, so what a Write has read can't change before it commits; a Read
// sees one moment. Times are UTC, to the microsecond.
package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math/rand/v2"
	"net/url"
	"os"
	"time"

	"gorm.io/gorm"
	"gorm.io/gorm/logger"

	"ribdesk/internal/fault"
)

// Store is an open database.
type Store struct {
	// Clock dates rows. Set it before the store is used by others; desk.New does.
	Clock func() time.Time

	// Probe, if set, is called before each statement and fails it by its error.
	// Tests use it to break off at every place; set it before the store is used.
	Probe func() error

	slow   slow
	ready  readiness
	kind   dialect
	source string   // file path, or the URL
	writer *gorm.DB // SQLite: one connection, BEGIN IMMEDIATE
	reader *gorm.DB // SQLite: query_only; PostgreSQL: the writer's pool
	pools  []*sql.DB
}

// Tx is one transaction. It is valid only inside the function it was given to.
type Tx struct {
	db    *gorm.DB
	ctx   context.Context
	kind  dialect
	now   time.Time
	first *subject // of the first event logged here, for the idempotency key
}

// subject names a record: "order" 12.
type subject struct {
	kind string
	id   int64
}

// Open opens the database at a file path ("shop.db", "sqlite:/var/lib/shop.db")
// or a "postgres://" URL, and brings its schema up to date. A schema newer than
// this program is refused.
func Open(ctx context.Context, url string) (*Store, error) {
	return open(ctx, url, func(s *Store) error { return s.migrate(ctx) })
}

// open connects to a database and has it made ready.
func open(ctx context.Context, url string, ready func(*Store) error) (*Store, error) {
	kind, source, err := parseURL(url)
	if err != nil {
		return nil, err
	}
	s := &Store{Clock: time.Now, kind: kind, source: source}
	if err := s.connect(ctx); err != nil {
		return nil, errors.Join(fmt.Errorf("open database %s: %w", Named(url), translate(err)), s.Close())
	}
	if err := ready(s); err != nil {
		return nil, errors.Join(err, s.Close())
	}
	return s, nil
}

// OpenExisting opens a database that must be there already, with the schema of
// this program: it makes no new file, and changes nothing.
func OpenExisting(ctx context.Context, url string) (*Store, error) {
	return openThere(ctx, url, func(at, newest int64) error {
		if at < newest {
			return fault.Conflictf("the database has schema %d, and this program works with %d: 'ribdesk serve' brings it up to date; back it up first", at, newest)
		}
		return refuseNewer(at, newest)
	})
}

// OpenToCopy is OpenExisting for a database whose schema may be an older one: it
// may be backed up before a newer program changes it.
func OpenToCopy(ctx context.Context, url string) (*Store, error) {
	return openThere(ctx, url, refuseNewer)
}

func openThere(ctx context.Context, url string, check func(at, newest int64) error) (*Store, error) {
	kind, source, err := parseURL(url)
	if err != nil {
		return nil, err
	}
	if kind == sqliteDialect {
		if _, err := os.Stat(source); err != nil {
			return nil, fault.NotFoundf("there is no database %s", source).Because(err)
		}
	}
	return open(ctx, url, func(s *Store) error { return s.checkVersion(ctx, check) })
}

// Named gives a database's file or URL as it may be shown: without a password.
func Named(database string) string {
	kind, source, err := parseURL(database)
	if err != nil || kind == sqliteDialect {
		return source
	}
	u, err := url.Parse(source)
	if err != nil {
		return "postgres://…"
	}
	u.RawQuery = "" // may hold a password too
	return u.Redacted()
}

// connect opens the pools. The writer is pinged first: it makes the file and
// turns the write-ahead log on, which the readers then find.
func (s *Store) connect(ctx context.Context) error {
	var err error
	if s.kind == sqliteDialect {
		if err := makePrivate(s.source); err != nil {
			return err
		}
	}
	if s.writer, err = s.pool(ctx, s.kind.writer(s.source), s.kind.writers()); err != nil {
		return err
	}
	if s.reader = s.writer; s.kind == sqliteDialect {
		s.reader, err = s.pool(ctx, s.kind.reader(s.source), sqliteReaders)
	}
	return err
}

func (s *Store) pool(ctx context.Context, dsn string, size int) (*gorm.DB, error) {
	pool, err := s.kind.open(dsn)
	if err != nil {
		return nil, err
	}
	s.pools = append(s.pools, pool)
	pool.SetMaxOpenConns(size)
	pool.SetMaxIdleConns(size)
	if err := pool.PingContext(ctx); err != nil {
		return nil, err
	}
	db, err := gorm.Open(s.kind.gorm(pool), &gorm.Config{
		SkipDefaultTransaction: true, // Write and Read are the transactions
		DisableAutomaticPing:   true,
		Logger:                 logger.Discard, // errors are returned, and logged once at the rim
		NowFunc:                func() time.Time { return moment(s.Clock()) },
	})
	if err != nil {
		return nil, err
	}
	probe := func(db *gorm.DB) {
		if s.Probe != nil && !db.DryRun { // a subquery being written is no statement
			_ = db.AddError(s.Probe())
		}
	}
	on := db.Callback()
	return db, errors.Join(
		on.Create().Before("gorm:create").Register("store:probe", probe), on.Query().Before("gorm:query").Register("store:probe", probe),
		on.Update().Before("gorm:update").Register("store:probe", probe), on.Delete().Before("gorm:delete").Register("store:probe", probe),
		on.Row().Before("gorm:row").Register("store:probe", probe), on.Raw().Before("gorm:raw").Register("store:probe", probe),
		s.timeStatements(db),
	)
}

// Close closes the database. Transactions still running fail.
func (s *Store) Close() error {
	var errs []error
	for _, p := range s.pools {
		errs = append(errs, p.Close())
	}
	return errors.Join(errs...)
}

// retries bounds how often a PostgreSQL write is run again after it lost
// against another one.
const retries = 8

// Write runs fn in one transaction and commits when fn returns nil. Writes run
// one at a time. fn may be run again when the database asks for it, so it
// must only touch tx and its own variables. Don't call Write inside fn.
//
// Errors of the database come back as faults: Conflict, Storage, Busy.
func (s *Store) Write(ctx context.Context, fn func(*Tx) error) error {
	for attempt := 0; ; attempt++ {
		err := s.writeOnce(ctx, fn)
		if err == nil || attempt == retries || !mayRetry(err) {
			return translate(err)
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(time.Duration(rand.IntN(10<<attempt)) * time.Millisecond):
		}
	}
}

func (s *Store) writeOnce(ctx context.Context, fn func(*Tx) error) error {
	return s.writer.WithContext(ctx).Transaction(func(db *gorm.DB) error {
		if err := s.kind.oneWriter(db); err != nil {
			return err
		}
		tx := s.tx(ctx, db)
		if err := tx.refuseReplay(); err != nil {
			return err
		}
		if err := fn(tx); err != nil {
			return err
		}
		return tx.spendKey()
	}, s.kind.writeOptions())
}

// Read runs fn on one moment of the database. fn can't change anything.
func (s *Store) Read(ctx context.Context, fn func(*Tx) error) error {
	return translate(s.reader.WithContext(ctx).Transaction(func(db *gorm.DB) error {
		return fn(s.tx(ctx, db))
	}, s.kind.readOptions()))
}

// Glance runs fn without a transaction, which costs more than a short statement
// does. It is for one statement, which sees one moment by itself.
func (s *Store) Glance(ctx context.Context, fn func(*Tx) error) error {
	return translate(fn(s.tx(ctx, s.reader.WithContext(ctx))))
}

func (s *Store) tx(ctx context.Context, db *gorm.DB) *Tx {
	return &Tx{db: db, ctx: ctx, kind: s.kind, now: moment(s.Clock())}
}

// Now gives the moment of the transaction; every row it writes carries it.
func (tx *Tx) Now() time.Time { return tx.now }

// moment cuts a time to what both databases keep.
func moment(t time.Time) time.Time { return t.UTC().Truncate(time.Microsecond) }
