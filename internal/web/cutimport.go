package web

import (
	"cmp"
	"fmt"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"ribdesk/internal/cutlist"
	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/order"
	"ribdesk/internal/words"
)

// listPage takes a cut list in from a file or a pasted sheet: first the list
// itself, then how each row was understood, until a person is content with it.
// Nothing is kept: the list and the ask it is for travel in the form.
type listPage struct {
	Base
	Ask, Rest         string // the counter's form and the list, as they travel
	File, Text        Field
	Bare, Dash, Point Field
	Sheets            []sheetView
	Groups            []*groupView
	Understood, Open  int // rows
	Passed            int
	Feet              measure.Length
	Pieces            int
}

func (listPage) file() string { return "list" }

// sheetView is one sheet of the list with its columns and rows.
type sheetView struct {
	Name    string
	Lines   bool
	Columns []Field
	Letters []string // of the columns, as sheets have them
	Rows    []rowView
	Ask     bool // the columns need a look: they have no headings, or rows are asked about
}

// rowView is one row as it stood, as it was understood, and what can be said of it.
type rowView struct {
	cutlist.Row
	ID     string // starts its fields' names
	Label  string
	Stood  string
	Pick   Field
	Fix    Field
	Out    Field
	Wanted bool // an answer is missing
}

const (
	listRead = "read"
	listLook = "look"
	listUse  = "use"
	listNote = "note"
	listAsk  = "ask" // of a doubt: ask about each row
)

func newListPage() *listPage {
	return &listPage{
		Base: Base{Title: "A cut list you have", Sheet: "Counter", Block: Block{Thing: "Cut list", State: "to be read"}},
		File: Field{Name: "file", Label: "A sheet or text file", Optional: true, Help: "XLSX, CSV or text, at most 2 MB. The columns are found by their headings and by what stands in them."},
		Text: Field{Name: "text", Label: "Or paste it", Rows: 8, Optional: true, Help: "Cells copied from a sheet, or the lines of a message."},
		Bare: Field{Name: "bare", Label: "Numbers without a unit are", Value: listAsk, Options: []Option{
			{listAsk, "asked about"}, {string(measure.Inches), "inches"}, {string(measure.Feet), "feet"}, {string(measure.Millimetres), "millimetres"}, {string(measure.Metres), "metres"}}},
		Dash: Field{Name: "dash", Label: "12-6 means", Value: listAsk, Options: []Option{{listAsk, "ask about each"}, {"yes", "12 ft 6 in"}}},
		Point: Field{Name: "point", Label: "12.6 means", Value: listAsk, Options: []Option{
			{listAsk, "ask about each"}, {string(cutlist.AsDecimals), "decimal feet, 12.6 ft"}, {string(cutlist.AsInches), "12 ft 6 in"}}},
	}
}

func showList(v *visit) error { return v.show(newListPage()) }

// doList takes the page one step on: from the counter with its ask, to the list
// as it was read, through corrections, and back to the counter.
func doList(v *visit) error {
	p := newListPage()
	do := v.posted("do")
	if v.c.Request.PostForm.Has("lines.0.make") { // from the counter
		p.Ask = askOf(v.c.Request.PostForm)
		return v.show(p)
	}
	p.Ask = v.c.Request.PostForm.Get("ask")
	if do != listLook && do != listUse && do != listNote {
		return v.readList(p)
	}
	p.Rest = v.c.Request.PostForm.Get("rest")
	sheets, err := cutlist.Again(p.Rest)
	if err != nil {
		return v.again(p, err)
	}
	v.read = append(v.read, &p.File)
	if err := v.understand(p, sheets); err != nil {
		return err
	}
	if do != listLook {
		v.usable(p, do)
	}
	switch err := v.wrongs(); {
	case err != nil:
		return v.again(p, err)
	case do == listLook:
		return v.show(p)
	}
	return v.useList(p, do)
}

// askOf packs the counter's form to travel along.
func askOf(form url.Values) string {
	kept := url.Values{}
	for name, values := range form {
		if name != tokenField && name != keyField && name != "do" && len(values) == 1 {
			kept[name] = values
		}
	}
	return kept.Encode()
}

// readList reads the file, or the text when there is no file.
func (v *visit) readList(p *listPage) error {
	text := v.c.Request.PostForm.Get(p.Text.Name)
	v.read = append(v.read, &p.File, &p.Text)
	p.Text.Value = text
	if len(text) > cutlist.MostBytes/2 {
		p.Text.Value = ""
	}
	sheets, err := v.sheetsOf(text)
	if err != nil {
		return v.again(p, err)
	}
	p.Rest = cutlist.Rest(sheets)
	if err := v.understand(p, sheets); err != nil {
		return err
	}
	return v.show(p)
}

func (v *visit) sheetsOf(text string) ([]cutlist.Sheet, error) {
	if form := v.c.Request.MultipartForm; form != nil {
		for _, file := range form.File["file"] {
			if file.Size == 0 {
				continue
			}
			body, err := readPart(file.Open, cutlist.MostBytes)
			if err != nil {
				return nil, fault.Invalidf("file", "a list has at most %d MB; send the sheet alone, without pictures", cutlist.MostBytes>>20)
			}
			return cutlist.Open(body)
		}
	}
	if strings.TrimSpace(text) == "" {
		return nil, fault.Invalidf("file", "choose a file, or paste the list below")
	}
	sheets, err := cutlist.Paste(text)
	if err != nil {
		return nil, atField(err, "text")
	}
	return sheets, nil
}

// atField moves faults to a field.
func atField(err error, field string) error {
	var l fault.List
	for _, f := range fault.All(err) {
		g := *f
		g.Field = field
		l = append(l, &g)
	}
	return l
}

// understand reads the sheets with the answers of the form, and shows them.
func (v *visit) understand(p *listPage, sheets []cutlist.Sheet) error {
	a := cutlist.Answers{Bare: measure.Unit(v.said(&p.Bare)), Dash: v.said(&p.Dash) != "", Point: cutlist.Pointed(v.said(&p.Point))}
	doubts := map[cutlist.Doubt]int{}
	for i, s := range sheets {
		pre := fmt.Sprintf("s%d.", i)
		first := cutlist.Understand(s, a)
		a := a
		a.Roles = v.rolesOf(pre, first.Columns)
		a.Lines, a.Out = v.linesOf(pre, first, s)
		reading := cutlist.Understand(s, a)
		for d, n := range cutlist.Understand(s, cutlist.Answers{Roles: a.Roles, Out: a.Out}).Doubts {
			doubts[d] += n
		}
		view := v.viewOf(pre, s, reading)
		p.Sheets = append(p.Sheets, view)
		for _, row := range view.Rows {
			p.count(row)
			if row.Status == cutlist.Understood {
				p.group(row.Row)
			}
		}
	}
	for d, f := range map[cutlist.Doubt]*Field{cutlist.Bare: &p.Bare, cutlist.Dash: &p.Dash, cutlist.Point: &p.Point} {
		if doubts[d] == 0 && f.Value == listAsk {
			f.Options = nil // nothing on the list asks for it
		}
	}
	if err := v.offerMakes(p); err != nil {
		return err
	}
	p.Title, p.Block.State = words.Key("The list as it was understood"), words.Key("not added yet")
	return nil
}

// said reads an answer for the whole list, "" while each row is asked about.
func (v *visit) said(f *Field) string {
	if said := v.posted(f.Name); said != listAsk && hasOption(f.Options, said) {
		f.Value = said
		return said
	}
	return ""
}

func (p *listPage) count(row rowView) {
	switch row.Status {
	case cutlist.Understood:
		p.Understood++
		p.Pieces += row.Item.Qty
		p.Feet += row.Item.Length.Times(row.Item.Qty)
	case cutlist.Flagged:
		p.Open++
	default:
		p.Passed++
	}
}

// Sum writes feet, or metres, of pieces.
func (p *listPage) Sum(l measure.Length) string { return running(p.Reader, l) }

// Said writes a question as a sentence.
func (p *listPage) Said(t words.Text) string { return sentence(p.Reader.Read(t)) }

// Cuts reports whether there is anything to add.
func (p *listPage) Cuts() bool { return p.Understood > 0 }

// roleOptions are what a column can hold.
func roleOptions() (out []Option) {
	names := map[cutlist.Role]string{
		cutlist.Skip: words.Key("not needed"), cutlist.Quantity: words.Key("quantity"), cutlist.Length: words.Key("length"),
		cutlist.WholeFt: words.Key("feet of the length"), cutlist.Inches: words.Key("inches of the length"), cutlist.Fraction: words.Key("fraction of an inch"),
		cutlist.Mark: words.Key("mark"), cutlist.Product: words.Key("product"), cutlist.Colour: words.Key("color"), cutlist.Note: words.Key("note"),
	}
	for _, r := range cutlist.Roles {
		out = append(out, Option{cmp.Or(string(r), "skip"), names[r]})
	}
	return out
}

// rolesOf reads what the person said the columns hold; nil when it is what was
// found anyway.
func (v *visit) rolesOf(pre string, columns []cutlist.Column) map[int]cutlist.Role {
	roles, changed := map[int]cutlist.Role{}, false
	for _, c := range columns {
		said := v.posted(pre + "c" + strconv.Itoa(c.No))
		role := cutlist.Role(said)
		if said == "skip" {
			role = cutlist.Skip
		}
		if said == "" || !slices.Contains(cutlist.Roles, role) {
			role = c.Role
		}
		roles[c.No] = role
		changed = changed || role != c.Role
	}
	if !changed {
		return nil
	}
	return roles
}

// linesOf reads corrections: a line written for a row goes before one picked.
func (v *visit) linesOf(pre string, reading cutlist.Reading, s cutlist.Sheet) (map[string]string, map[string]bool) {
	lines, out := map[string]string{}, map[string]bool{}
	form := v.c.Request.PostForm
	for name := range form {
		key, ok := strings.CutPrefix(name, pre+"r.")
		if !ok {
			continue
		}
		key, what, ok := strings.Cut(key, ".")
		if !ok || len(key) > 12 {
			continue
		}
		value := strings.TrimSpace(form.Get(name))
		switch {
		case what == "fix" && value != "" && len(value) <= 200:
			lines[key] = value
		case what == "pick" && value != "" && len(value) <= 200 && lines[key] == "" && strings.TrimSpace(form.Get(pre+"r."+key+".fix")) == "":
			lines[key] = value
		case what == "out" && value != "":
			out[key] = true
		}
	}
	return lines, out
}

// viewOf makes the fields of a sheet.
func (v *visit) viewOf(pre string, s cutlist.Sheet, reading cutlist.Reading) sheetView {
	view := sheetView{Name: s.Name, Lines: s.Lines, Ask: !reading.Headed && !s.Lines}
	for _, c := range reading.Columns {
		f := Field{Name: pre + "c" + strconv.Itoa(c.No), Label: columnLetter(c.No), Value: cmp.Or(string(c.Role), "skip"), Options: roleOptions(), Help: c.Heading}
		view.Columns = append(view.Columns, f)
	}
	for _, r := range reading.Rows {
		id := pre + "r." + r.Key
		row := rowView{
			Row: r, ID: id, Label: r.Key, Stood: stood(r.Cells), Wanted: r.Status == cutlist.Flagged,
			Pick: Field{Name: id + ".pick", Label: "It means"},
			Fix:  Field{Name: id + ".fix", Label: "Write it"},
			Out:  Field{Name: id + ".out", Label: "Leave it out", Kind: "checkbox", Checked: v.posted(id+".out") != ""},
		}
		row.Fix.Value = v.posted(id + ".fix")
		row.Pick.Value = v.posted(id + ".pick")
		for _, c := range r.Choices {
			row.Pick.Options = append(row.Pick.Options, Option{c.Line, v.cutWords(c.Line)})
		}
		if r.Mended && row.Fix.Value == "" && row.Pick.Value != "" && len(row.Pick.Options) == 0 {
			row.Fix.Value = row.Pick.Value // keeps a choice whose question is settled
		}
		view.Rows = append(view.Rows, row)
	}
	return view
}

// cutWords writes a line of a cut list in the reader's unit.
func (v *visit) cutWords(line string) string {
	for _, r := range order.ReadCutList(line, measure.NoUnit) {
		if r.Err == nil {
			return v.reader.T("%d × %s", r.Item.Qty, r.Item.Length)
		}
	}
	return line
}

func columnLetter(n int) string {
	s := ""
	for n++; n > 0; n = (n - 1) / 26 {
		s = string(rune('A'+(n-1)%26)) + s
	}
	return s
}

// stood is a row as the sheet shows it.
func stood(cells []cutlist.Cell) string {
	var kept []string
	for _, c := range cells {
		if c.Text != "" && !c.Spread {
			kept = append(kept, c.Text)
		}
	}
	return strings.Join(kept, " · ")
}

// usable notes what keeps the list from being added.
func (v *visit) usable(p *listPage, do string) {
	if !p.Cuts() {
		v.found.Addf("file", "no row of this list is understood yet")
		return
	}
	if do == listNote {
		return
	}
	for _, s := range p.Sheets {
		for i := range s.Rows {
			row := &s.Rows[i]
			if row.Status != cutlist.Flagged {
				continue
			}
			field := &row.Fix
			if len(row.Pick.Options) > 0 {
				field = &row.Pick
			}
			field.Label = v.reader.T("Row %s", row.Key)
			v.read = append(v.read, field)
			v.found.Addf(field.Name, "answer this row, or leave it out")
		}
	}
}
