package cutlist_test

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"ribdesk/internal/cutlist"
	"ribdesk/internal/measure"
	"ribdesk/internal/order"
)

// want is what a list of testdata/lists says of itself.
type want struct {
	answers cutlist.Answers
	sheets  [][]string // lines like `2 = 4 @ 12' 6" #A1`, `3 ?`, `4 -`
}

func readWant(t *testing.T, file string) want {
	t.Helper()
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	w := want{sheets: [][]string{nil}}
	for line := range strings.Lines(string(text)) {
		line = strings.TrimSpace(line)
		switch {
		case strings.HasPrefix(line, "answer "):
			for _, word := range strings.Fields(line)[1:] {
				name, value, _ := strings.Cut(word, "=")
				switch name {
				case "bare":
					w.answers.Bare = measure.Unit(value)
				case "dash":
					w.answers.Dash = true
				case "point":
					w.answers.Point = cutlist.Pointed(value)
				default:
					t.Fatalf("%s: %s", file, line)
				}
			}
		case strings.HasPrefix(line, "sheet "):
			if len(w.sheets[len(w.sheets)-1]) > 0 {
				w.sheets = append(w.sheets, nil)
			}
		case line != "":
			w.sheets[len(w.sheets)-1] = append(w.sheets[len(w.sheets)-1], line)
		}
	}
	return w
}

// said writes a row as the .want files do.
func said(r cutlist.Row) string {
	switch r.Status {
	case cutlist.Flagged:
		return r.Key + " ?"
	case cutlist.Ignored:
		return r.Key + " -"
	}
	return r.Key + " = " + cutlist.Line(r.Item.Qty, r.Item.Length, r.Item.Mark)
}

// canonical brings the length of an expected line into one form.
func canonical(t *testing.T, line string) string {
	t.Helper()
	key, cut, ok := strings.Cut(line, " = ")
	if !ok {
		return line
	}
	rows := order.ReadCutList(cut, measure.NoUnit)
	if len(rows) != 1 || rows[0].Err != nil {
		t.Fatalf("%q expects what can't be read", line)
	}
	return key + " = " + cutlist.Line(rows[0].Item.Qty, rows[0].Item.Length, rows[0].Item.Mark)
}

// The lists are of our own making, after the ways people are known to write them
// (common practice, no published source): every row is understood as its .want
// file says, flagged, or passed over; none is lost.
func TestLists(t *testing.T) {
	files, err := filepath.Glob("testdata/lists/*.want")
	if err != nil {
		t.Fatal(err)
	}
	if len(files) < 60 {
		t.Fatalf("%d lists, 60 wanted", len(files))
	}
	count := map[cutlist.Status]int{}
	for _, file := range files {
		list := strings.TrimSuffix(file, ".want")
		t.Run(filepath.Base(list), func(t *testing.T) {
			body, err := os.ReadFile(list)
			if err != nil {
				t.Fatal(err)
			}
			sheets, err := cutlist.Open(body)
			if err != nil {
				t.Fatal(err)
			}
			w := readWant(t, file)
			if len(sheets) != len(w.sheets) {
				t.Fatalf("%d sheets, want %d", len(sheets), len(w.sheets))
			}
			for i, s := range sheets {
				reading := cutlist.Understand(s, w.answers)
				compare(t, reading, w.sheets[i])
				nothingLost(t, s, reading)
				for _, r := range reading.Rows {
					count[r.Status]++
				}
			}
		})
	}
	t.Logf("%d lists: rows %v", len(files), count)
}

func compare(t *testing.T, reading cutlist.Reading, lines []string) {
	t.Helper()
	var got []string
	for _, r := range reading.Rows {
		got = append(got, said(r))
	}
	for i := range max(len(got), len(lines)) {
		g, w := "nothing", "nothing"
		if i < len(got) {
			g = got[i]
		}
		if i < len(lines) {
			w = canonical(t, lines[i])
		}
		if g != w {
			why := ""
			if i < len(got) {
				r := reading.Rows[i]
				why = fmt.Sprintf(" (%v; asks %q, says %q %q, choices %v)", r.Cells, r.Ask, r.Why, r.Check, r.Choices)
			}
			t.Errorf("got %s, want %s%s", g, w, why)
		}
	}
}

// nothingLost checks that every row with something on it is among the rows, and
// that each says what a person needs.
func nothingLost(t *testing.T, s cutlist.Sheet, reading cutlist.Reading) {
	t.Helper()
	there := map[int]bool{}
	keys := map[string]bool{}
	for _, r := range reading.Rows {
		there[r.No] = true
		if keys[r.Key] {
			t.Errorf("two rows have the key %s", r.Key)
		}
		keys[r.Key] = true
		switch {
		case r.Status == cutlist.Flagged && r.Ask.String() == "":
			t.Errorf("row %s asks nothing", r.Key)
		case r.Status == cutlist.Ignored && r.Why.String() == "":
			t.Errorf("row %s is passed over without a reason", r.Key)
		case r.Status == cutlist.Understood && (r.Item.Qty < 1 || r.Item.Qty > order.MaxPieces || r.Item.Length <= 0):
			t.Errorf("row %s is understood as %+v", r.Key, r.Item)
		}
		for _, c := range r.Choices {
			if got := order.ReadCutList(c.Line, measure.NoUnit); len(got) != 1 || got[0].Err != nil {
				t.Errorf("row %s offers %q, which can't be read", r.Key, c.Line)
			}
		}
	}
	for i, row := range s.Rows {
		for _, c := range row {
			if c.Text != "" && !there[i+1] {
				t.Errorf("row %d is lost: %v", i+1, row)
				break
			}
		}
	}
}
