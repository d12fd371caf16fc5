package cutlist

import (
	"encoding/json"
	"strings"
	"unicode/utf8"

	"ribdesk/internal/fault"
)

// Limits of what is taken for a cut list.
const (
	MostBytes   = 2 << 20 // of a file
	MostRows    = 2000    // of all sheets together
	MostColumns = 60
	MostSheets  = 12
	mostCell    = 200     // characters of a cell that are kept
	mostText    = 150_000 // characters of a whole file
)

// Taken says what a sheet's program took a cell for.
type Taken string

// The kinds of cell that matter here.
const (
	Plain    Taken = ""
	Number   Taken = "n" // a number with as many decimals as it has
	Date     Taken = "d" // turned into a date by the sheet
	Unworked Taken = "f" // a formula whose result isn't in the file
)

// Cell is one cell as the sheet shows it.
type Cell struct {
	Text   string `json:"t,omitempty"`
	Taken  Taken  `json:"k,omitempty"`
	Month  int    `json:"m,omitempty"` // of a date
	Day    int    `json:"d,omitempty"`
	Spread bool   `json:"s,omitempty"` // from the cell above that it is merged with
}

func (c Cell) blank() bool { return c.Text == "" && c.Taken == Plain }

// Sheet is a list as a grid. Row i is number i+1 in the file.
type Sheet struct {
	Name  string   `json:"name"`
	Rows  [][]Cell `json:"rows"`
	Lines bool     `json:"lines,omitempty"` // text without columns: one cell a row
}

// Rest is what can be sent back and forth with a page: the sheets as text.
func Rest(sheets []Sheet) string {
	b, err := json.Marshal(sheets)
	if err != nil {
		return "" // strings and numbers always have JSON
	}
	return string(b)
}

// Again reads what Rest wrote. It may have been meddled with: limits hold as for
// a file.
func Again(rest string) ([]Sheet, error) {
	var sheets []Sheet
	if err := json.Unmarshal([]byte(rest), &sheets); err != nil {
		return nil, fault.Invalidf("file", "the list got lost on the way; give it again")
	}
	return fit(sheets)
}

// fit holds sheets to the limits and leaves out those with nothing on them.
func fit(sheets []Sheet) ([]Sheet, error) {
	var kept []Sheet
	text, rows := 0, 0
	for _, s := range sheets {
		if rows += len(s.Rows); rows > MostRows {
			return nil, fault.Invalidf("file", "the list has more than %d rows; send it in parts", MostRows)
		}
		filled := false
		for i, row := range s.Rows {
			if len(row) > MostColumns {
				return nil, fault.Invalidf("file", "row %d has more than %d columns; a cut list has a few", i+1, MostColumns)
			}
			for j := range row {
				row[j].Text = tidy(row[j].Text)
				text += len(row[j].Text)
				filled = filled || !row[j].blank()
			}
		}
		if filled {
			s.Name = tidy(s.Name)
			kept = append(kept, s)
		}
	}
	switch {
	case len(kept) == 0:
		return nil, fault.Invalidf("file", "there is nothing on this list")
	case len(kept) > MostSheets:
		return nil, fault.Invalidf("file", "the file has more than %d sheets; send the one with the list", MostSheets)
	case text > mostText:
		return nil, fault.Invalidf("file", "this holds more text than a cut list has; send the list alone")
	}
	return kept, nil
}

// tidy keeps a cell to one line of readable text.
func tidy(s string) string {
	s = strings.Join(strings.FieldsFunc(strings.ToValidUTF8(s, "�"), func(r rune) bool {
		return r < ' ' || r == ' ' || r == '\u00a0' || r == '\u200b' || r == '\ufeff' || r == '\u007f'
	}), " ")
	if utf8.RuneCountInString(s) > mostCell {
		s = string([]rune(s)[:mostCell]) + "…"
	}
	return s
}
