package store

import (
	"context"
	"time"

	"gorm.io/gorm"
)

// Exec runs SQL as somebody with the file in hand would.
func Exec(s *Store, sql string) error { return translate(s.writer.Exec(sql).Error) }

// RowTypes are the row structs, for the comparison with the schema.
var RowTypes = rowTypes

// Writer gives the gorm handle, for looking at the schema.
func Writer(s *Store) *gorm.DB { return s.writer }

// OpenSQLite opens a pool that keeps its prepared statements.
var OpenSQLite = openSQLite

// MostKept is how many statements a connection keeps.
const MostKept = mostKept

// OpenAt makes a database with the schema as it was at a version, as an older
// program left it.
func OpenAt(ctx context.Context, path string, version int64) (*Store, error) {
	return open(ctx, path, func(s *Store) error {
		list, err := s.kind.migrations()
		if err != nil {
			return err
		}
		newest := list[len(list)-1].version
		for _, m := range list {
			if m.version > version {
				break
			}
			if err := s.apply(s.writer.WithContext(ctx), m, newest); err != nil {
				return err
			}
		}
		return nil
	})
}

// OpenSlowly is Open with a rest inside each migration, for somebody who wants to
// kill it there.
func OpenSlowly(ctx context.Context, path string, rest time.Duration) (*Store, error) {
	return open(ctx, path, func(s *Store) error {
		s.Clock = func() time.Time { time.Sleep(rest); return time.Now() }
		return s.migrate(ctx)
	})
}

// OnSQLite reports whether a store is kept in a file.
func OnSQLite(s *Store) bool { return s.kind == sqliteDialect }
