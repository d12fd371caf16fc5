package store

import (
	"context"
	"errors"
	"time"

	"gorm.io/gorm"
)

// slow is what is done about statements that take long.
type slow struct {
	from time.Duration // 0 for never
	tell func(ctx context.Context, took time.Duration, statement string)
}

// Slow tells of statements that take from or longer, without the values in them,
// which are people's. Set it before the store is used; 0 tells of none.
func (s *Store) Slow(from time.Duration, tell func(ctx context.Context, took time.Duration, statement string)) {
	s.slow = slow{from, tell}
}

// begunKey is where a statement keeps when it began.
const begunKey = "store:begun"

func (s *Store) begin(db *gorm.DB) {
	if s.slow.from > 0 && !db.DryRun {
		db.InstanceSet(begunKey, time.Now())
	}
}

func (s *Store) end(db *gorm.DB) {
	begun, ok := db.InstanceGet(begunKey)
	if !ok || s.slow.from <= 0 {
		return
	}
	if took := time.Since(begun.(time.Time)); took >= s.slow.from {
		s.slow.tell(db.Statement.Context, took, db.Statement.SQL.String())
	}
}

// timeStatements puts begin and end around every statement.
func (s *Store) timeStatements(db *gorm.DB) error {
	on := db.Callback()
	return errors.Join(
		on.Create().Before("gorm:create").Register("store:begin", s.begin), on.Create().After("gorm:create").Register("store:end", s.end),
		on.Query().Before("gorm:query").Register("store:begin", s.begin), on.Query().After("gorm:query").Register("store:end", s.end),
		on.Update().Before("gorm:update").Register("store:begin", s.begin), on.Update().After("gorm:update").Register("store:end", s.end),
		on.Delete().Before("gorm:delete").Register("store:begin", s.begin), on.Delete().After("gorm:delete").Register("store:end", s.end),
		on.Row().Before("gorm:row").Register("store:begin", s.begin), on.Row().After("gorm:row").Register("store:end", s.end),
		on.Raw().Before("gorm:raw").Register("store:begin", s.begin), on.Raw().After("gorm:raw").Register("store:end", s.end),
	)
}
