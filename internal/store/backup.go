package store

import (
	"context"
	"database/sql"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"ribdesk/internal/fault"
)

// Backup writes a copy of the database as of one moment to a new file, while
// others go on working, and checks it. For PostgreSQL use its own pg_dump.
func (s *Store) Backup(ctx context.Context, path string) error {
	if s.kind == postgresDialect {
		return fault.Invalidf("database", "a PostgreSQL database is backed up by its own tool: pg_dump --format=custom --file=%s URL", path)
	}
	if _, err := os.Stat(path); err == nil {
		return fault.Conflictf("%s is already there; name a new file", path)
	}
	part := path + ".part"
	if err := os.RemoveAll(part); err != nil {
		return err
	}
	if err := s.vacuumInto(ctx, part); err != nil {
		return fmt.Errorf("back up to %s: %w", path, err)
	}
	if err := CheckFile(ctx, part); err != nil {
		return fmt.Errorf("check backup %s: %w", path, err)
	}
	return settle(part, path)
}

// vacuumInto uses a connection of its own: the readers may not write, and the
// writer is needed elsewhere.
func (s *Store) vacuumInto(ctx context.Context, path string) error {
	if err := makePrivate(path); err != nil {
		return err
	}
	pool, err := sql.Open("sqlite", sqliteDSN(s.source))
	if err != nil {
		return err
	}
	defer pool.Close()
	_, err = pool.ExecContext(ctx, "VACUUM INTO ?", path)
	return translate(err)
}

// settle makes a finished file last through a power cut and gives it its name.
func settle(part, path string) error {
	f, err := os.OpenFile(part, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	err = f.Sync()
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	if err != nil {
		return err
	}
	if err := os.Rename(part, path); err != nil {
		return err
	}
	dir, err := os.Open(filepath.Dir(path))
	if err != nil {
		return err
	}
	defer dir.Close()
	return dir.Sync()
}

// Restore puts a checked copy of a backup in the place of a SQLite database that
// nobody has open. The file that was there is kept under a name ending in
// ".before-restore"; without force, Restore refuses when there is one.
func Restore(ctx context.Context, backup, url string, force bool) error {
	kind, path, err := parseURL(url)
	if err != nil {
		return err
	}
	if kind == postgresDialect {
		return fault.Invalidf("database", "a PostgreSQL database is restored by its own tool: pg_restore --clean --if-exists --single-transaction --dbname=URL %s", backup)
	}
	if _, err := os.Stat(backup); err != nil {
		return fault.NotFoundf("there is no backup %s", backup)
	}
	if err := CheckFile(ctx, backup); err != nil {
		return fmt.Errorf("check backup %s: %w", backup, err)
	}
	if err := checkSchema(ctx, backup); err != nil {
		return err
	}
	part := path + ".part"
	if err := os.RemoveAll(part); err != nil {
		return err
	}
	if err := (&Store{kind: kind, source: backup}).vacuumInto(ctx, part); err != nil {
		return fmt.Errorf("copy backup %s: %w", backup, err)
	}
	if err := setAside(ctx, path, force); err != nil {
		return err
	}
	return settle(part, path)
}

// LatestBackup gives the backup to restore: the file itself, or of a folder the
// one whose log goes furthest. Files there that aren't backups of this program
// are passed over.
func LatestBackup(ctx context.Context, path string) (string, error) {
	info, err := os.Stat(path)
	if err != nil || !info.IsDir() {
		return path, nil // Restore says what is wrong with it
	}
	files, err := filepath.Glob(filepath.Join(path, "*.db"))
	if err != nil {
		return "", err
	}
	latest, furthest := "", int64(-1)
	for _, file := range files {
		if last, err := lastEvent(ctx, file); err == nil && last > furthest {
			latest, furthest = file, last
		}
	}
	if latest == "" {
		return "", fault.NotFoundf("there is no backup (*.db) in the folder %s", path)
	}
	return latest, nil
}

// lastEvent gives the id of the last line in a file's log.
func lastEvent(ctx context.Context, path string) (id int64, err error) {
	pool, err := sql.Open("sqlite", "file:"+path+"?mode=ro")
	if err != nil {
		return 0, err
	}
	defer pool.Close()
	err = pool.QueryRowContext(ctx, "SELECT COALESCE(MAX(id), 0) FROM events").Scan(&id)
	return id, err
}

// setAside renames the database that is there, after its write-ahead log went
// into it. A database that somebody has open is refused.
func setAside(ctx context.Context, path string, force bool) error {
	if _, err := os.Stat(path); os.IsNotExist(err) {
		return nil
	}
	if !force {
		return fault.Conflictf("%s is already there; --force replaces it and keeps it as %s.before-restore", path, path)
	}
	if err := foldLog(ctx, path); err != nil {
		return err
	}
	return os.Rename(path, path+".before-restore")
}

// foldLog takes the database for itself and moves its log into it.
func foldLog(ctx context.Context, path string) error {
	pool, err := sql.Open("sqlite", "file:"+path+"?_pragma=busy_timeout(500)")
	if err != nil {
		return err
	}
	defer pool.Close()
	pool.SetMaxOpenConns(1)
	var mode string
	err = pool.QueryRowContext(ctx, "PRAGMA journal_mode=DELETE").Scan(&mode)
	if err != nil || mode != "delete" {
		return fault.Conflictf("%s is in use; stop the server before restoring", path).Because(err)
	}
	return nil
}

// CheckFile reads a SQLite file from end to end: its structure, and that no row
// refers to one that isn't there.
func CheckFile(ctx context.Context, path string) error {
	if _, err := os.Stat(path); err != nil {
		return err
	}
	pool, err := sql.Open("sqlite", "file:"+path+"?mode=ro")
	if err != nil {
		return err
	}
	defer pool.Close()
	return checkPool(ctx, pool)
}

func checkPool(ctx context.Context, pool *sql.DB) error {
	lines, err := column(ctx, pool, "PRAGMA integrity_check")
	if err != nil {
		return fault.Conflictf("the file isn't a sound database").Because(err)
	}
	if len(lines) != 1 || lines[0] != "ok" {
		return fault.Conflictf("the file is damaged: %s", strings.Join(lines, "; "))
	}
	orphans, err := column(ctx, pool, "SELECT \"table\" || ' row ' || rowid || ' refers to a missing ' || parent FROM pragma_foreign_key_check LIMIT 5")
	if err != nil {
		return err
	}
	if len(orphans) > 0 {
		return fault.Conflictf("records are missing: %s", strings.Join(orphans, "; "))
	}
	return nil
}

// checkSchema refuses a file that isn't ours, or is of a newer program.
func checkSchema(ctx context.Context, path string) error {
	list, err := sqliteDialect.migrations()
	if err != nil {
		return err
	}
	pool, err := sql.Open("sqlite", "file:"+path+"?mode=ro")
	if err != nil {
		return err
	}
	defer pool.Close()
	var at int64
	if err := pool.QueryRowContext(ctx, "SELECT MAX(version) FROM schema_versions").Scan(&at); err != nil {
		return fault.Invalidf("backup", "%s isn't a backup of this program", path).Because(err)
	}
	return refuseNewer(at, list[len(list)-1].version)
}

func column(ctx context.Context, pool *sql.DB, query string) ([]string, error) {
	rows, err := pool.QueryContext(ctx, query)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var lines []string
	for rows.Next() {
		var s string
		if err := rows.Scan(&s); err != nil {
			return nil, err
		}
		lines = append(lines, s)
	}
	return lines, rows.Err()
}

// Check reads the open database from end to end (SQLite), or asks the server
// whether it answers (PostgreSQL looks after its files itself).
func (s *Store) Check(ctx context.Context) error {
	if s.kind == sqliteDialect {
		pool, err := s.reader.DB()
		if err != nil {
			return err
		}
		return checkPool(ctx, pool)
	}
	return translate(s.reader.WithContext(ctx).Exec("SELECT 1").Error)
}
