package main

import (
	"bytes"
	"database/sql"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// spoil runs SQL on a database behind the program's back, after what guards its
// records is taken away.
func spoil(t *testing.T, db, statement string) {
	t.Helper()
	pool, err := sql.Open("sqlite", "file:"+db)
	if err != nil {
		t.Fatal(err)
	}
	defer pool.Close()
	pool.SetMaxOpenConns(1)
	rows, err := pool.Query("SELECT name FROM sqlite_master WHERE type = 'trigger'")
	if err != nil {
		t.Fatal(err)
	}
	var drops []string
	for rows.Next() {
		var name string
		if err := rows.Scan(&name); err != nil {
			t.Fatal(err)
		}
		drops = append(drops, "DROP TRIGGER "+name)
	}
	if err := rows.Close(); err != nil {
		t.Fatal(err)
	}
	for _, s := range append(drops, statement) {
		if _, err := pool.Exec(s); err != nil {
			t.Fatal(err)
		}
	}
}

// copyOf copies a database that nobody has open.
func copyOf(t *testing.T, db string) string {
	t.Helper()
	body, err := os.ReadFile(db)
	if err != nil {
		t.Fatal(err)
	}
	to := filepath.Join(t.TempDir(), "copy.db")
	if err := os.WriteFile(to, body, 0o600); err != nil {
		t.Fatal(err)
	}
	return to
}

// A sound database exits 0; a record that was changed behind the program's back
// is named and exits 1, and so do a file with broken pages and one that isn't
// there; a call that names no work exits 2.
func TestVerifyCommand(t *testing.T) {
	db := filepath.Join(t.TempDir(), "shop.db")
	quoteOne(t, db)
	verify := func(db string) (int, string, string) {
		return call(t, "", map[string]string{"RIBDESK_DB": db}, "verify")
	}
	code, out, stderr := verify(db)
	want(t, code, exitOK, stderr, "")
	for _, said := range []string{"holds every invariant", "database", "log", "papers", "journal"} {
		if !strings.Contains(out, said) {
			t.Errorf("a sound database: no %q in\n%s", said, out)
		}
	}
	if strings.Contains(out, "WRONG") {
		t.Errorf("a sound database:\n%s", out)
	}
	for damage, said := range map[string]string{
		"UPDATE events SET action = 'nothing' WHERE id = 3":        "event 3",
		"UPDATE papers SET pdf = 'x' WHERE kind = 'quote'":         "quote 1001",
		"UPDATE orders SET total = total + 1":                      "order 1001",
		"DELETE FROM customers WHERE id = 1":                       "missing",
		"UPDATE movements SET length = length - 1000 WHERE id = 1": "coil",
		"INSERT INTO series (name, next) VALUES ('INV-', 12)":      "inv-",
	} {
		spoiled := copyOf(t, db)
		spoil(t, spoiled, damage)
		code, out, stderr := verify(spoiled)
		if code != exitFailed || !strings.Contains(stderr, "not as they must be") || !strings.Contains(out, "WRONG") {
			t.Errorf("%s: exit %d, %q\n%s", damage, code, stderr, out)
			continue
		}
		if !strings.Contains(strings.ToLower(out[strings.Index(out, "wrong:"):]), said) {
			t.Errorf("%s: no %q in\n%s", damage, said, out)
		}
	}
	broken := copyOf(t, db)
	body, err := os.ReadFile(broken)
	if err != nil {
		t.Fatal(err)
	}
	copy(body[len(body)/2:], bytes.Repeat([]byte{0xA5}, 64<<10))
	if err := os.WriteFile(broken, body, 0o600); err != nil {
		t.Fatal(err)
	}
	if code, out, stderr := verify(broken); code != exitFailed || strings.Count(strings.TrimSpace(stderr), "\n") > 0 {
		t.Errorf("broken pages: exit %d, %q\n%s", code, stderr, out)
	}
	code, _, stderr = verify(filepath.Join(t.TempDir(), "none.db"))
	want(t, code, exitFailed, stderr, "there is no database")
	code, _, stderr = call(t, "", map[string]string{"RIBDESK_DB": db}, "verify", "what")
	want(t, code, exitUsage, stderr, "ribdesk help verify")
}

// On an empty machine one command takes the latest of the backups and verifies
// what it made; a backup with a wrong record says so by its exit code.
func TestRestoreTheLatest(t *testing.T) {
	db, folder := filepath.Join(t.TempDir(), "shop.db"), t.TempDir()
	settings := map[string]string{"RIBDESK_DB": db, "RIBDESK_PASSWORD": "rib over rib"}
	quoteOne(t, db)
	first, second := filepath.Join(folder, "z-first.db"), filepath.Join(folder, "a-second.db")
	code, _, stderr := call(t, "", settings, "backup", first)
	want(t, code, exitOK, stderr, "")
	code, _, stderr = call(t, "", settings, "person", "add", "--name", "Ann", "--email", "ann@example.com", "--role", "owner")
	want(t, code, exitOK, stderr, "")
	code, _, stderr = call(t, "", settings, "backup", second)
	want(t, code, exitOK, stderr, "")
	for name, body := range map[string]string{"junk.db": "no database at all", "notes.txt": "bring the paper"} {
		if err := os.WriteFile(filepath.Join(folder, name), []byte(body), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	settings["RIBDESK_DB"] = filepath.Join(t.TempDir(), "shop.db")
	code, out, stderr := call(t, "", settings, "restore", folder)
	want(t, code, exitOK, stderr, "")
	if !strings.Contains(out, "restored from "+second) || !strings.Contains(out, "holds every invariant") {
		t.Errorf("restored:\n%s", out)
	}
	if _, out, _ := call(t, "", settings, "person", "list"); !strings.Contains(out, "ann@example.com") {
		t.Errorf("who is there:\n%s", out)
	}

	spoil(t, first, "UPDATE orders SET total = total + 1")
	settings["RIBDESK_DB"] = filepath.Join(t.TempDir(), "shop.db")
	code, out, stderr = call(t, "", settings, "restore", "--unverified", first)
	want(t, code, exitOK, stderr, "")
	if strings.Contains(out, "WRONG") || strings.Contains(out, "invariant") {
		t.Errorf("verified all the same:\n%s", out)
	}
	code, out, stderr = call(t, "", settings, "restore", "--force", first)
	want(t, code, exitFailed, stderr, "not as they must be")
	if !strings.Contains(out, "WRONG") {
		t.Errorf("a backup with a wrong record:\n%s", out)
	}
	code, _, stderr = call(t, "", settings, "restore", "--force", t.TempDir())
	want(t, code, exitFailed, stderr, "there is no backup")
}

// The number that somebody has on paper is named once; the desk goes on behind it
// and verify holds.
func TestSkipCommand(t *testing.T) {
	db := filepath.Join(t.TempDir(), "shop.db")
	quoteOne(t, db)
	settings := map[string]string{"RIBDESK_DB": db}
	code, _, stderr := call(t, "", settings, "skip", "--reason", "disk lost")
	want(t, code, exitUsage, stderr, "on paper")
	code, _, stderr = call(t, "", settings, "skip", "INV-00005")
	want(t, code, exitFailed, stderr, "say why")
	code, out, stderr := call(t, "", settings, "skip", "INV-00005", "--reason", "disk lost", "1009")
	want(t, code, exitOK, stderr, "")
	if out != "INV-00001 to INV-00005 are passed over (5)\n1002 to 1009 are passed over (8)\n" {
		t.Errorf("said %q", out)
	}
	code, _, stderr = call(t, "", settings, "skip", "INV-00005", "--reason", "disk lost")
	want(t, code, exitFailed, stderr, "INV-00006")
	if code, out, stderr := call(t, "", settings, "verify"); code != exitOK {
		t.Errorf("verify: %s%s", out, stderr)
	}
}
