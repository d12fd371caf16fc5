package cutlist

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"ribdesk/internal/measure"
	"ribdesk/internal/order"
	"ribdesk/internal/words"
)

// Status is what came of a row.
type Status string

// The outcomes.
const (
	Understood Status = "understood"
	Flagged    Status = "flagged" // a person is asked
	Ignored    Status = "ignored" // passed over, with the reason
)

// Row is one entry of the list: a row of the sheet, or a part of one where two
// lists stand side by side or a line names several lengths.
type Row struct {
	Key    string // "12", or "12b" for the second part of row 12
	No     int    // of the sheet, from 1
	Cells  []Cell // as it stood
	Status Status
	Item   order.CutItem // of an understood row

	Sure    bool // nothing about it needs a look
	Check   words.Text
	Ask     words.Text // of a flagged row
	Choices []Choice
	Doubt   Doubt      // the answer for the whole list that would settle it
	Why     words.Text // an ignored row was passed over

	Product, Colour, Note string // words of other columns
	Mended                bool   // as a person corrected it
}

// Choice is one answer to a flagged row, as a line of a cut list.
type Choice struct{ Line string }

// Answers are what a person decided about a list.
type Answers struct {
	Roles map[int]Role // of columns, from 0
	Bare  measure.Unit // what numbers without a unit are
	Dash  bool         // 12-6 is 12' 6"
	Point Pointed      // what 12.6 is
	Lines map[string]string
	Out   map[string]bool // rows to leave out
}

// Reading is a list as it was understood.
type Reading struct {
	Rows    []Row
	Columns []Column // of the first list on the sheet, without those of no cell
	Headed  bool     // they have headings
	Doubts  map[Doubt]int
}

// Count counts the rows with an outcome.
func (r Reading) Count(s Status) (n int) {
	for _, row := range r.Rows {
		if row.Status == s {
			n++
		}
	}
	return n
}

// Cuts are the understood rows.
func (r Reading) Cuts() (cuts []order.CutItem) {
	for _, row := range r.Rows {
		if row.Status == Understood {
			cuts = append(cuts, row.Item)
		}
	}
	return cuts
}

// Understand reads a sheet. It never fails: what it can't place is flagged.
func Understand(s Sheet, a Answers) Reading {
	r := &reader{sheet: s, a: a, out: Reading{Doubts: map[Doubt]int{}}}
	if s.Lines {
		for i, row := range s.Rows {
			if len(row) > 0 && !row[0].blank() {
				r.line(i+1, row, row[0].Text)
			}
		}
	} else {
		r.grid()
	}
	return r.out
}

// reader goes down a sheet.
type reader struct {
	sheet  Sheet
	a      Answers
	out    Reading
	blocks []block
	head   []Column // the headings that hold now, nil before any
	title  string   // the last text on a line of its own
	pieces int      // of the rows so far, for totals without a word
}

func (r *reader) grid() {
	columns, headed := []Column(nil), false
	if first := r.firstHead(); first < 0 {
		columns = byContent(r.sheet.Rows)
		r.use(columns)
	} else {
		headed = true
	}
	for i := 0; i < len(r.sheet.Rows); i++ {
		row := r.sheet.Rows[i]
		if empty(row) {
			continue
		}
		head, ok := headRow(row, r.head != nil)
		if !ok {
			r.row(i+1, row)
			continue
		}
		r.headed(i+1, row)
		if i+1 < len(r.sheet.Rows) {
			if second, ok := headRow(r.sheet.Rows[i+1], true); ok {
				head = under(head, second)
				i++
				r.headed(i+1, r.sheet.Rows[i])
			}
		}
		if columns == nil {
			columns = head
		}
		r.numbered(head, i+1)
		r.use(head)
	}
	r.out.Headed = headed
	if len(r.out.Columns) == 0 {
		r.out.Columns = columns
	}
}

// use sets the columns that hold from here on. What a person said of a column
// goes before what was found.
func (r *reader) use(columns []Column) {
	for no, role := range r.a.Roles {
		found := false
		for i := range columns {
			if columns[i].No == no {
				columns[i].Role, columns[i].maybe, found = role, Skip, true
			}
		}
		if !found {
			columns = append(columns, Column{No: no, Role: role})
		}
	}
	columns = r.all(columns)
	r.blocks = blocksOf(columns)
	r.head = columns
	if len(r.out.Columns) == 0 {
		for _, b := range r.blocks {
			r.out.Columns = append(r.out.Columns, b.columns...)
		}
	}
}

// all adds the columns that nothing is known of, in their order.
func (r *reader) all(columns []Column) []Column {
	width := 0
	for _, row := range r.sheet.Rows {
		width = max(width, len(row))
	}
	out := make([]Column, width)
	for i := range out {
		out[i].No = i
	}
	for _, c := range columns {
		if c.No >= 0 && c.No < width {
			out[c.No] = c
		}
	}
	return out
}

func (r *reader) firstHead() int {
	for i, row := range r.sheet.Rows {
		if _, ok := headRow(row, false); ok {
			return i
		}
	}
	return -1
}

// numbered takes a column headed # for what it is: 1, 2, 3 down the list are the
// numbers of its rows.
func (r *reader) numbered(columns []Column, from int) {
	for i := range columns {
		c := &columns[i]
		if c.maybe != Quantity || c.Role != Skip || strings.ContainsAny(strings.ToLower(c.Heading), "tp") {
			continue
		}
		if ascends(r.sheet.Rows[min(from, len(r.sheet.Rows)):], c.No) {
			c.maybe = Skip
		}
	}
}

// ascends reports whether a column counts 1, 2, 3.
func ascends(rows [][]Cell, column int) bool {
	next := 1
	for _, row := range rows {
		if column >= len(row) || row[column].blank() {
			continue
		}
		n, err := strconv.Atoi(strings.TrimRight(row[column].Text, ".)"))
		if err != nil {
			continue
		}
		if n != next {
			return false
		}
		next++
	}
	return next > 2
}

func empty(row []Cell) bool {
	for _, c := range row {
		if !c.blank() {
			return false
		}
	}
	return true
}

// headed notes a row of headings.
func (r *reader) headed(no int, row []Cell) {
	r.pass(Row{Key: strconv.Itoa(no), No: no, Cells: row}, words.Say("headings"))
}

// add keeps a row, as the person corrected it where they did.
func (r *reader) add(row Row) {
	if r.a.Out[row.Key] {
		row = Row{Key: row.Key, No: row.No, Cells: row.Cells, Status: Ignored, Why: words.Say("left out by you"), Ask: row.Ask, Choices: row.Choices, Mended: true}
	} else if text := strings.TrimSpace(r.a.Lines[row.Key]); text != "" {
		row = r.mend(row, text)
	}
	switch row.Status {
	case Understood:
		if len(r.out.Cuts()) >= order.MaxCuts {
			row.Status, row.Ask = Flagged, words.Say("a cut list takes at most %d rows; order the rest apart", order.MaxCuts)
		}
		r.pieces += row.Item.Qty
	case Flagged:
		if row.Doubt != "" {
			r.out.Doubts[row.Doubt]++
		}
	}
	r.out.Rows = append(r.out.Rows, row)
}

// mend reads what a person wrote for a row, as at the counter: a bare number
// still has no unit.
func (r *reader) mend(row Row, text string) Row {
	row.Mended = true
	got := order.ReadCutList(strings.ReplaceAll(text, "\n", " "), r.a.Bare)
	if len(got) != 1 {
		return row
	}
	if got[0].Err != nil {
		row.Status, row.Ask, row.Choices = Flagged, got[0].Err.Said(), nil
		return row
	}
	row.Status, row.Item, row.Sure, row.Ask, row.Why, row.Doubt = Understood, got[0].Item, true, words.Text{}, words.Text{}, ""
	row.Check = words.Text{}
	if got[0].Note.Format != "" {
		row.Check = got[0].Note
	}
	return row
}

// flag makes a row a question, with the lengths it could be.
func flag(row Row, qty int, mark string, h heard) Row {
	row.Status, row.Ask, row.Doubt = Flagged, h.ask, h.doubt
	for _, l := range h.may {
		row.Choices = append(row.Choices, Choice{Line(qty, l, mark)})
	}
	return row
}

// Line writes a cut so that order.ReadCutList reads it back.
func Line(qty int, l measure.Length, mark string) string {
	s := fmt.Sprintf("%d @ %s", qty, l.Exact())
	if mark != "" {
		s += " #" + mark
	}
	return s
}

var notMark = regexp.MustCompile(`[^A-Za-z0-9._-]+`)

// markOf makes a mark as the tally takes it: at most 16 plain letters, figures
// and dashes.
func markOf(text string) string {
	m := strings.Trim(notMark.ReplaceAllString(accents.Replace(text), "-"), "-._")
	if len(m) > 16 {
		m = strings.TrimRight(m[:16], "-._")
	}
	return m
}
