package store_test

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"testing"

	"ribdesk/internal/store"
)

// A kept statement must answer as a fresh one does: inside the reading of its
// own rows, after it failed, after the tables changed under it, and when more
// were used than are kept.
func TestKeptStatements(t *testing.T) {
	pool, err := store.OpenSQLite("file:" + filepath.Join(t.TempDir(), "kept.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer pool.Close()
	pool.SetMaxOpenConns(1)
	run := func(query string, args ...any) {
		t.Helper()
		if _, err := pool.ExecContext(t.Context(), query, args...); err != nil {
			t.Fatal(query, err)
		}
	}
	run("CREATE TABLE a (n INTEGER PRIMARY KEY, word TEXT NOT NULL)")
	for i := range 3 {
		run("INSERT INTO a VALUES (?, ?)", i, fmt.Sprint("word ", i))
	}
	if _, err := pool.ExecContext(t.Context(), "INSERT INTO a VALUES (?, ?)", 1, "twice"); err == nil {
		t.Error("the same key went in twice")
	}
	run("INSERT INTO a VALUES (?, ?)", 3, "word 3")

	tx, err := pool.BeginTx(t.Context(), nil)
	if err != nil {
		t.Fatal(err)
	}
	const from = "SELECT n, word FROM a WHERE n >= ? ORDER BY n"
	outer, err := tx.QueryContext(t.Context(), from, 0)
	if err != nil {
		t.Fatal(err)
	}
	seen := ""
	for outer.Next() {
		var n, inner int
		var word string
		if err := errors.Join(outer.Scan(&n, &word), tx.QueryRowContext(t.Context(), from, n+1).Scan(&inner, &word)); n < 3 && (err != nil || inner != n+1) {
			t.Errorf("inside row %d: %d, %v", n, inner, err)
		}
		seen += fmt.Sprint(n)
	}
	if err := errors.Join(outer.Err(), outer.Close(), tx.Commit()); err != nil || seen != "0123" {
		t.Errorf("read %s, %v", seen, err)
	}

	run("ALTER TABLE a ADD COLUMN more TEXT NOT NULL DEFAULT 'x'")
	for i := range 2 * store.MostKept {
		var more string
		if err := pool.QueryRowContext(t.Context(), fmt.Sprintf("SELECT more FROM a WHERE n = %d %% 4", i)).Scan(&more); err != nil || more != "x" {
			t.Fatal(more, err)
		}
	}
	ended, end := context.WithCancel(t.Context())
	end()
	if _, err := pool.QueryContext(ended, from, 0); !errors.Is(err, context.Canceled) {
		t.Error("a request that ended still reads:", err)
	}
}
