package web

import (
	"fmt"
	"html/template"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
)

// binder ties the fields of a large form to the places of a record that they
// stand for, so that one description both shows the record and reads it back.
// Fields are named as the record's faults name their places.
type binder struct {
	v       *visit
	reading bool   // from the form into the record; else the other way
	prefix  string // of the names at this point of the record
	at      *formPart
	fields  []*Field
}

// formPart is one part of such a form: fields under a heading, and parts within.
type formPart struct {
	ID, Title string
	Say       string
	Warn      []string
	Fields    []*Field
	Sum       []sumLine // a worked sum, with its terms in place
	Parts     []*formPart
	Picture   template.HTML
	Name      string // of a list: the form counts its rows under this name
	Rows      int
	Add       string // word on the button that adds a row to the list
	Remove    string // what the button that takes this row off sends
	Off       string // word on that button; "" is the usual one
	Swap      string // what the button that changes the way of a part sends
	SwapWord  string
	Row       bool
	Hidden    []Option // what goes along unseen, by name
	Fold      bool     // shut until something in it needs a hand
	Open      bool
	Brief     string // beside the title of a folded part
}

// Opened reports whether a folded part is open: when it is asked for, or
// something in it is wrong.
func (p *formPart) Opened() bool {
	for _, f := range p.Fields {
		if f.Error != "" {
			return true
		}
	}
	for _, l := range p.Sum {
		for _, f := range l.Fields {
			if f.Error != "" {
				return true
			}
		}
		if slices.ContainsFunc(l.Parts, (*formPart).Opened) {
			return true
		}
	}
	return p.Open || len(p.Warn) > 0 || slices.ContainsFunc(p.Parts, (*formPart).Opened)
}

// unfold opens the part of the list that a button changed.
func unfold(parts []*formPart, list string) bool {
	for _, p := range parts {
		inside := unfold(p.Parts, list)
		for _, l := range p.Sum {
			inside = unfold(l.Parts, list) || inside
		}
		if inside || p.Name == list && list != "" {
			p.Open = true
			return true
		}
	}
	return false
}

// listOf gives the list that a button's value is about.
func listOf(do string) string {
	what, place, _ := strings.Cut(do, ":")
	switch what {
	case "add":
		return place
	case "remove":
		return place[:max(0, strings.LastIndex(place, "."))]
	}
	return ""
}

// sumLine is one line of a worked sum: terms on the left, the figure that comes
// of them at the right.
type sumLine struct {
	Label  string
	How    string
	Fields []*Field
	Parts  []*formPart
	Nodes  []string // of the build-up, whose values add up to the figure
	Figure string
	Unit   string
	Sum    bool // ruled off above
}

func (v *visit) newBinder(reading bool) *binder {
	return &binder{v: v, reading: reading, at: &formPart{}}
}

// part adds a part and describes what is in it.
func (b *binder) part(title string, describe func(*formPart)) *formPart {
	p := &formPart{Title: title, ID: partID(b.prefix, title)}
	outer := b.at
	outer.Parts = append(outer.Parts, p)
	b.at = p
	describe(p)
	b.at = outer
	return p
}

func partID(prefix, title string) string {
	return "part-" + strings.Trim(strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z' || r >= '0' && r <= '9':
			return r
		case r >= 'A' && r <= 'Z':
			return r + 'a' - 'A'
		}
		return '-'
	}, prefix+title), "-")
}

// within describes a place of the record under its name.
func (b *binder) within(name string, describe func()) {
	outer := b.prefix
	b.prefix += name + "."
	describe()
	b.prefix = outer
}

// add puts a field in the present part.
func (b *binder) add(f Field) *Field {
	f.Name = b.prefix + f.Name
	if b.reading && f.Kind != "checkbox" {
		f.Value = ""
	}
	p := &f
	b.at.Fields = append(b.at.Fields, p)
	b.fields = append(b.fields, p)
	return p
}

// hidden sends a value along that no person types.
func (b *binder) hidden(name, value string) {
	b.at.Hidden = append(b.at.Hidden, Option{b.prefix + name, value})
}

// line gathers the fields and lists that terms adds into a line of a worked sum.
func (b *binder) line(l sumLine, terms func()) {
	fields, parts := len(b.at.Fields), len(b.at.Parts)
	terms()
	l.Fields, l.Parts = slices.Clone(b.at.Fields[fields:]), slices.Clone(b.at.Parts[parts:])
	b.at.Fields, b.at.Parts = b.at.Fields[:fields], b.at.Parts[:parts]
	b.at.Sum = append(b.at.Sum, l)
}

func (b *binder) text(f Field, at *string) {
	p := b.add(f)
	if b.reading {
		*at = b.v.text(p)
		return
	}
	p.Value = *at
}

// words reads a list with commas between.
func (b *binder) words(f Field, at *[]string) {
	p := b.add(f)
	if !b.reading {
		p.Value = strings.Join(*at, ", ")
		return
	}
	*at = nil
	for word := range strings.SplitSeq(b.v.text(p), ",") {
		if word = strings.TrimSpace(word); word != "" {
			*at = append(*at, word)
		}
	}
}

func (b *binder) rate(f Field, at *money.Rate) {
	f.Keys = "decimal"
	p := b.add(f)
	if b.reading {
		*at = b.v.rate(p)
		return
	}
	if !p.Optional || !at.IsZero() {
		p.Value = at.String()
	}
}

// percent reads a share that is written in percent.
func (b *binder) percent(f Field, at *money.Rate) {
	f.Keys, f.Unit = "decimal", "%"
	p := b.add(f)
	if b.reading {
		*at = b.v.percent(p)
		return
	}
	if !p.Optional || !at.IsZero() {
		p.Value = at.Percent()
	}
}

func (b *binder) amount(f Field, at *money.Amount) {
	f.Keys, f.Unit = "decimal", "$"
	p := b.add(f)
	if b.reading {
		*at = b.v.amount(p, money.USD)
		return
	}
	p.Value = at.Plain()
}

func (b *binder) length(f Field, at *measure.Length) {
	p := b.add(f)
	if !b.reading {
		if !p.Optional || *at != 0 {
			p.Value = typedLength(*at)
		}
		return
	}
	*at = 0
	if p.Optional && strings.TrimSpace(b.v.c.Request.PostFormValue(p.Name)) == "" {
		b.v.text(p)
		return
	}
	*at = b.v.length(p, measure.Inches)
}

// offset reads a length that may lie ahead of where it is measured from, with a
// minus before it.
func (b *binder) offset(f Field, at *measure.Length) {
	p := b.add(f)
	if !b.reading {
		p.Value = typedLength(*at)
		return
	}
	s := b.v.text(p)
	rest := strings.TrimLeft(s, "-−–")
	r, err := measure.Read(rest, measure.Inches)
	if err != nil {
		b.v.note(p, err)
	}
	if *at = r.Length; rest != s {
		*at = -r.Length
	}
}

// typedLength writes a length so that it reads back the same: short ones in
// decimal inches, as strip and thickness are spoken of.
func typedLength(l measure.Length) string {
	const step = measure.Inch / 100_000
	if l.Abs() < 5*measure.Foot && l%step == 0 {
		s := l.Decimal(measure.Inch, 5)
		if strings.Contains(s, ".") {
			s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
		}
		return s + " in"
	}
	text, err := l.MarshalText()
	if err != nil {
		return l.Metric(measure.Millimetre)
	}
	return string(text)
}

func (b *binder) whole(f Field, at *int) {
	f.Keys = "numeric"
	p := b.add(f)
	if b.reading {
		*at = b.v.whole(p)
		return
	}
	if !p.Optional || *at != 0 {
		p.Value = strconv.Itoa(*at)
	}
}

func (b *binder) tick(f Field, at *bool) {
	f.Kind, f.Optional = "checkbox", true
	p := b.add(f)
	if b.reading {
		*at = b.v.yes(p)
		return
	}
	p.Checked = *at
}

// day reads a day that the record keeps as 2006-01-02.
func (b *binder) day(f Field, at *string) {
	p := b.add(f)
	if !b.reading {
		if d, err := time.Parse(time.DateOnly, *at); err == nil {
			p.Value = d.Format("1/2/2006")
		}
		return
	}
	*at = ""
	if d := b.v.day(p); !d.IsZero() {
		*at = d.Format(time.DateOnly)
	}
}

// choose reads one of the field's options.
func choose[T ~string](b *binder, f Field, at *T) {
	p := b.add(f)
	if b.reading {
		*at = T(b.v.choice(p))
		return
	}
	p.Value = string(*at)
}

// rows describes a list whose rows can be added and taken off. one is called
// for each, below a part of its own.
func rows[T any](b *binder, name, title, word string, list *[]T, one func(i int, row *T)) *formPart {
	return b.part(title, func(p *formPart) {
		p.Name, p.Add = b.prefix+name, word
		p.Rows = len(*list)
		if b.reading {
			p.Rows = countRows(b.v.c.Request.PostForm, p.Name)
			*list = make([]T, p.Rows)
		}
		for i := range *list {
			place := fmt.Sprintf("%s.%d", name, i+1)
			outer := b.prefix
			row := b.part(b.v.reader.Read(title)+" "+strconv.Itoa(i+1), func(row *formPart) {
				row.Row, row.Remove, row.ID = true, outer+place, partID(outer, place)
				b.prefix = outer + place + "."
				one(i, &(*list)[i])
			})
			if i > 0 {
				row.sayOnce(p.Parts[0])
			}
			b.prefix = outer
		}
	})
}

// sayOnce leaves out the help that the first row gave already.
func (p *formPart) sayOnce(first *formPart) {
	for i, f := range p.Fields {
		if i < len(first.Fields) && f.Help == first.Fields[i].Help {
			f.Help = ""
		}
	}
}

// mostRows bounds a list of a form.
const mostRows = 200

func countRows(form url.Values, name string) int {
	n, err := strconv.Atoi(form.Get(name + ".rows"))
	if err != nil {
		return 0
	}
	return min(max(n, 0), mostRows)
}

// reshape does what a button of a list asks for on the form as it was typed:
// "add:crew" adds an empty row, "remove:crew.2" takes one off and moves the
// others up. It reports whether the button was one of these.
func reshape(form url.Values, do string) bool {
	what, place, ok := strings.Cut(do, ":")
	switch {
	case ok && what == "add":
		form.Set(place+".rows", strconv.Itoa(min(countRows(form, place)+1, mostRows)))
		return true
	case ok && what == "remove":
		dot := strings.LastIndex(place, ".")
		if dot < 0 {
			return true
		}
		name := place[:dot]
		no, err := strconv.Atoi(place[dot+1:])
		n := countRows(form, name)
		if err != nil || no < 1 || no > n {
			return true
		}
		for i := no; i <= n; i++ {
			move(form, fmt.Sprintf("%s.%d.", name, i+1), fmt.Sprintf("%s.%d.", name, i))
		}
		form.Set(name+".rows", strconv.Itoa(n-1))
		return true
	case ok && what == "swap":
		to, value, _ := strings.Cut(place, "=")
		form.Set(to, value)
		return true
	}
	return false
}

// move puts all that is typed under one prefix under another, in place of what
// is there.
func move(form url.Values, from, to string) {
	for name := range form {
		if strings.HasPrefix(name, to) {
			delete(form, name)
		}
	}
	moved := url.Values{}
	for name, values := range form {
		if rest, ok := strings.CutPrefix(name, from); ok {
			moved[to+rest] = values
			delete(form, name)
		}
	}
	for name, values := range moved {
		form[name] = values
	}
}

// nearest moves each fault that has no field of its own to the field nearest to
// its place: the first of those below it, or of the list it is in.
func (b *binder) nearest(err error) error {
	if err == nil {
		return nil
	}
	var l fault.List
	for _, f := range fault.All(err) {
		g := *f
		g.Field = b.fieldFor(f.Field)
		l = append(l, &g)
	}
	return l.Err()
}

func (b *binder) fieldFor(place string) string {
	for at := place; at != ""; {
		for _, f := range b.fields {
			if f.Name == at || strings.HasPrefix(f.Name, at+".") {
				return f.Name
			}
		}
		dot := strings.LastIndex(at, ".")
		if dot < 0 {
			break
		}
		at = at[:dot]
	}
	return place
}

// checked reads a whole form: what can't be read and what the record itself
// refuses, all at once.
func (b *binder) checked(err error) error {
	b.v.check(b.nearest(err))
	return b.v.wrongs()
}

func options[T ~string](words ...T) []Option {
	list := make([]Option, len(words))
	for i, w := range words {
		list[i] = Option{string(w), string(w)}
	}
	return list
}
