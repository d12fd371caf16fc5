// Package drilltest is what drills share wherever they live: whether they run at
// their full size, and one file that keeps the figures of all of them. Only tests
// import it.
package drilltest

import (
	"encoding/csv"
	"fmt"
	"os"
	"testing"
)

// FiguresEnv names the CSV file that figures are added to; without it they are
// only printed.
const FiguresEnv = "RIBDESK_FIGURES"

// Full reports whether drills run at their full size ('make drill').
func Full() bool { return os.Getenv("RIBDESK_DRILL") == "full" }

// Times gives the size of a drill.
func Times(short, long int) int {
	if Full() {
		return long
	}
	return short
}

// Figure says what a drill of another package found, and keeps it.
func Figure(t testing.TB, drill, bar, format string, args ...any) {
	t.Helper()
	found := fmt.Sprintf(format, args...)
	t.Logf("%s: %s (%s)", drill, found, bar)
	if err := Keep(drill, found, bar); err != nil {
		t.Error(err)
	}
}

// Keep adds a figure to the file, beside what it should be.
func Keep(drill, found, bar string) error {
	path := os.Getenv(FiguresEnv)
	if path == "" {
		return nil
	}
	f, err := os.OpenFile(path, os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o644)
	if err != nil {
		return err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return err
	}
	rows := [][]string{{drill, found, bar}}
	if info.Size() == 0 {
		rows = append([][]string{{"drill", "found", "bar"}}, rows...)
	}
	w := csv.NewWriter(f)
	w.UseCRLF = true // RFC 4180
	return w.WriteAll(rows)
}
