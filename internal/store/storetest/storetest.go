// Package storetest opens real databases for tests: a SQLite file, and a
// private PostgreSQL cluster started once per test binary.
//
// Where PostgreSQL's server isn't installed its half is skipped with a notice;
// under CI (environment variable CI set) that is a failure.
package storetest

import (
	"database/sql"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"sort"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	_ "github.com/jackc/pgx/v5/stdlib" // registers "pgx"

	"ribdesk/internal/store"
)

// Open gives an empty SQLite store in a file of its own.
func Open(t testing.TB) *store.Store {
	t.Helper()
	return open(t, filepath.Join(t.TempDir(), "test.db"))
}

// OpenCopy gives a SQLite store on a copy of a closed database's file.
func OpenCopy(t testing.TB, image []byte) *store.Store {
	t.Helper()
	path := filepath.Join(t.TempDir(), "test.db")
	if err := os.WriteFile(path, image, 0o600); err != nil {
		t.Fatal(err)
	}
	return open(t, path)
}

// Each runs a test on an empty SQLite store and on an empty PostgreSQL database.
func Each(t *testing.T, test func(t *testing.T, s *store.Store)) {
	t.Run("sqlite", func(t *testing.T) { test(t, Open(t)) })
	t.Run("postgres", func(t *testing.T) { test(t, OpenPostgres(t)) })
}

// OpenPostgres gives a store in a new PostgreSQL database.
func OpenPostgres(t testing.TB) *store.Store {
	t.Helper()
	return open(t, PostgresURL(t))
}

func open(t testing.TB, url string) *store.Store {
	t.Helper()
	s, err := store.Open(t.Context(), url)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return s
}

var (
	start     = sync.OnceValues(startCluster)
	databases atomic.Int64
	//lint:ignore U1000 it is only held, so that nothing closes it
	lifeline io.Closer // closes with the test binary, and the server with it
)

// PostgresURL makes a new, empty database and gives its URL.
func PostgresURL(t testing.TB) string {
	t.Helper()
	base, err := start()
	if errors.Is(err, errMissing) {
		if os.Getenv("CI") != "" {
			t.Fatal(err)
		}
		t.Skip(err)
	}
	if err != nil {
		t.Fatal(err)
	}
	name := fmt.Sprintf("test%d", databases.Add(1))
	admin, err := sql.Open("pgx", base("postgres"))
	if err != nil {
		t.Fatal(err)
	}
	defer admin.Close()
	if _, err := admin.ExecContext(t.Context(), "CREATE DATABASE "+name); err != nil {
		t.Fatal(err)
	}
	return base(name)
}

var errMissing = errors.New("PostgreSQL's server (initdb, postgres) isn't installed: tests on it don't run; Debian has it as 'postgresql'")

// superviser runs the server until its standard input closes, which happens
// when the test binary ends, however it ends; then it clears up.
const superviser = `
cd "$1" || exit 1
"$0/initdb" -D data -U ribdesk -A trust -E UTF8 --locale=C.UTF-8 --no-sync >initdb.log 2>&1 || { cat initdb.log >&2; exit 1; }
"$0/postgres" -D data -k "$1" -c listen_addresses= -c fsync=off -c full_page_writes=off -c synchronous_commit=off -c max_connections=60 >server.log 2>&1 </dev/null &
server=$!
cat >/dev/null
kill -INT "$server"; wait "$server"
cd /; rm -rf "$1"
`

// startCluster starts a server that listens on a Unix socket in a temporary
// folder, and gives the URL of a database of it.
func startCluster() (func(database string) string, error) {
	bin, err := serverPrograms()
	if err != nil {
		return nil, err
	}
	dir, err := os.MkdirTemp("", "ribdesk-pg")
	if err != nil {
		return nil, err
	}
	cmd := exec.Command("/bin/sh", "-c", superviser, bin, dir)
	if err := asServerUser(cmd, dir); err != nil {
		return nil, err
	}
	complaints, err := os.CreateTemp("", "ribdesk-pg-err")
	if err != nil {
		return nil, err
	}
	defer os.Remove(complaints.Name())
	cmd.Stderr = complaints
	if lifeline, err = cmd.StdinPipe(); err != nil {
		return nil, err
	}
	if err := cmd.Start(); err != nil {
		return nil, err
	}
	base := func(database string) string {
		return fmt.Sprintf("postgres://ribdesk@/%s?host=%s", database, dir)
	}
	if err := waitFor(base("postgres")); err != nil {
		_, _ = complaints.Seek(0, io.SeekStart)
		said, _ := io.ReadAll(complaints)
		return nil, fmt.Errorf("PostgreSQL didn't start: %w\n%s", err, said)
	}
	return base, nil
}

// serverPrograms finds the folder of the newest server installed.
func serverPrograms() (string, error) {
	found, err := filepath.Glob("/usr/lib/postgresql/*/bin/initdb")
	if err != nil {
		return "", err
	}
	if len(found) == 0 {
		path, err := exec.LookPath("initdb")
		if err != nil {
			return "", errMissing
		}
		found = []string{path}
	}
	sort.Slice(found, func(i, j int) bool { return version(found[i]) < version(found[j]) })
	return filepath.Dir(found[len(found)-1]), nil
}

func version(path string) int {
	n, _ := strconv.Atoi(strings.Split(strings.TrimPrefix(path, "/usr/lib/postgresql/"), "/")[0])
	return n
}

// asServerUser gives the folder and the process to the user postgres when we
// are root, as whom the server refuses to run.
func asServerUser(cmd *exec.Cmd, dir string) error {
	if os.Getuid() != 0 {
		return nil
	}
	u, err := user.Lookup("postgres")
	if err != nil {
		return fmt.Errorf("%w (and no user postgres to run it as)", errMissing)
	}
	uid, err := strconv.Atoi(u.Uid)
	if err != nil {
		return err
	}
	gid, err := strconv.Atoi(u.Gid)
	if err != nil {
		return err
	}
	cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}}
	return os.Chown(dir, uid, gid)
}

func waitFor(url string) error {
	db, err := sql.Open("pgx", url)
	if err != nil {
		return err
	}
	defer db.Close()
	for deadline := time.Now().Add(60 * time.Second); ; time.Sleep(50 * time.Millisecond) {
		if err = db.Ping(); err == nil || time.Now().After(deadline) {
			return err
		}
	}
}
