package store

import (
	"context"
	"math/rand/v2"
	"os"
	"sync"
	"time"

	"gorm.io/gorm/clause"
)

// readiness remembers for a moment whether writing worked, so that whoever asks
// often makes the database write once a second at most.
type readiness struct {
	mu  sync.Mutex
	at  time.Time
	err error
}

// readyFor is how long an answer holds.
const readyFor = time.Second

// fillerSize is about what keeping an order takes: a disk that holds no more than
// a few bytes isn't ready.
const fillerSize = 32 << 10

type readinessRow struct {
	ID      int64 `gorm:"primaryKey"`
	TriedAt time.Time
	Filler  []byte
}

func (readinessRow) TableName() string { return "readiness" }

// Ready reports whether the database can be written now. It writes one row over
// and over, synced like any other; no record and no line of the log comes of it.
func (s *Store) Ready(ctx context.Context) error {
	s.ready.mu.Lock()
	defer s.ready.mu.Unlock()
	if now := time.Now(); now.Sub(s.ready.at) < readyFor {
		return s.ready.err
	}
	err := s.Write(ctx, func(tx *Tx) error {
		row := readinessRow{ID: 1, TriedAt: tx.now, Filler: make([]byte, fillerSize)}
		for i := range row.Filler {
			row.Filler[i] = byte(rand.Uint32()) // doesn't compress
		}
		return tx.db.Clauses(clause.OnConflict{UpdateAll: true}).Create(&row).Error
	})
	if ctx.Err() != nil {
		return err // whoever asked went away: nothing is known
	}
	s.ready.at, s.ready.err = time.Now(), err
	return err
}

// Size gives how large the database is, and the write-ahead log beside a SQLite
// file.
func (s *Store) Size(ctx context.Context) (bytes, log int64, err error) {
	if s.kind == postgresDialect {
		err = translate(s.reader.WithContext(ctx).Raw("SELECT pg_database_size(current_database())").Scan(&bytes).Error)
		return bytes, 0, err
	}
	file, err := os.Stat(s.source)
	if err != nil {
		return 0, 0, err
	}
	if wal, err := os.Stat(s.source + "-wal"); err == nil {
		log = wal.Size()
	}
	return file.Size(), log, nil
}
