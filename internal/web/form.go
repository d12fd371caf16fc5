package web

import (
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
)

// Field is one entry of a form, as the page shows it and as it was typed. The
// reading methods of visit take it from the form; what they can't use is noted
// at the field, and again shows it with all that was typed.
type Field struct {
	Name     string // in the form, and in the desk's faults
	Label    string
	Value    string
	Unit     string // shown inside at the right
	Help     string
	Error    string
	Kind     string // of input: "" is text; email, tel, password, search, checkbox
	Keys     string // inputmode: decimal, numeric, tel, email
	Auto     string // autocomplete
	Optional bool
	Rows     int      // a text area of so many rows
	Options  []Option // a choice
	Checked  bool     // a checkbox
	Short    bool     // for a few characters
	Prefix   string   // tells fields of the same name on one page apart
	Groups   []Group  // a choice under headings
	List     string   // id of a list of usual values
	Focus    bool     // a choice the person goes on with
}

// Option is one of a choice.
type Option struct {
	Value string
	Label string
}

// Group is a part of a long choice under a heading of its own.
type Group struct {
	Label   string
	Options []Option
}

// choices are all options of a field, grouped or not.
func (f *Field) choices() []Option {
	all := slices.Clip(f.Options)
	for _, g := range f.Groups {
		all = append(all, g.Options...)
	}
	return all
}

// ID names the field in the page.
func (f Field) ID() string {
	return "f-" + strings.NewReplacer(".", "-", "_", "-").Replace(f.Prefix+f.Name)
}

// Described lists the ids of what explains the field.
func (f Field) Described() string {
	var ids []string
	if f.Error != "" {
		ids = append(ids, f.ID()+"-error")
	}
	if f.Help != "" {
		ids = append(ids, f.ID()+"-help")
	}
	return strings.Join(ids, " ")
}

// offers reports whether a value is among the field's options.
func (f *Field) offers(value string) bool {
	return hasOption(f.Options, value) || slices.ContainsFunc(f.Groups, func(g Group) bool { return hasOption(g.Options, value) })
}

// longest is how much one field takes; the desk's own limits are narrower.
const longest = 20_000

// text reads a field as it was typed, without the space around it.
func (v *visit) text(f *Field) string {
	s := strings.TrimSpace(v.raw(f))
	if f.Kind != "password" {
		f.Value = s
	}
	return s
}

// carry reads a field that the page only carries along, out of sight: what can't
// be read is dropped, as nobody could put it right.
func (v *visit) carry(f *Field) {
	if values := v.c.Request.PostForm[f.Name]; len(values) == 1 && len(values[0]) <= longest && utf8.ValidString(values[0]) {
		f.Value = strings.TrimSpace(values[0])
	}
}

// secretText reads a password: nothing cut off, never shown again.
func (v *visit) secretText(f *Field) string { return v.raw(f) }

func (v *visit) raw(f *Field) string {
	v.read = append(v.read, f)
	values := v.c.Request.PostForm[f.Name]
	switch {
	case len(values) == 0:
		return ""
	case len(values) > 1:
		v.wrong(f, "this was sent twice; send it once")
		return ""
	case len(values[0]) > longest:
		v.wrong(f, "this is too long")
		return ""
	case !utf8.ValidString(values[0]):
		v.wrong(f, "this isn't readable text")
		return ""
	}
	return values[0]
}

// wrong notes what is wrong with a field.
func (v *visit) wrong(f *Field, format string, args ...any) {
	v.found.Addf(f.Name, format, args...)
}

// note adds a fault of a reader at a field.
func (v *visit) note(f *Field, err error) {
	for _, one := range fault.All(err) {
		one = one.At("")
		one.Field = f.Name
		v.found = append(v.found, one)
	}
}

// check adds what a record itself refuses, so that a person sees all at once; a
// field that couldn't even be read has its fault already.
func (v *visit) check(err error) {
	if err == nil {
		return
	}
	for _, f := range fault.All(err) {
		if !slices.ContainsFunc(v.found, func(g *fault.Fault) bool { return g.Field == f.Field }) {
			v.found = append(v.found, f)
		}
	}
}

// wrongs gives what was noted, nil when everything could be read.
func (v *visit) wrongs() error { return v.found.Err() }

// whole reads a whole number; an empty optional field is 0.
func (v *visit) whole(f *Field) int {
	s := v.text(f)
	if s == "" && f.Optional {
		return 0
	}
	n, err := strconv.Atoi(strings.ReplaceAll(s, ",", ""))
	if err != nil {
		v.wrong(f, "write a whole number, such as 12")
	}
	return n
}

// tenths reads a number with at most one decimal, as a count of tenths.
func (v *visit) tenths(f *Field) int64 {
	r := v.rate(f)
	t := r.Mul(money.Int(10))
	n, err := strconv.ParseInt(t.String(), 10, 64)
	if err != nil {
		v.wrong(f, "write a number with at most one decimal, such as 12.5")
	}
	return n
}

// amount reads money; an empty optional field is 0.
func (v *visit) amount(f *Field, c money.Currency) money.Amount {
	s := v.text(f)
	if s == "" && f.Optional {
		return money.Cents(0, c)
	}
	a, err := money.Read(s, c)
	if err != nil {
		v.note(f, err)
	}
	return a
}

// rate reads a plain decimal; an empty optional field is 0.
func (v *visit) rate(f *Field) money.Rate {
	s := v.text(f)
	if s == "" && f.Optional {
		return money.Rate{}
	}
	r, err := money.ReadRate(strings.ReplaceAll(s, ",", ""))
	if err != nil {
		v.note(f, err)
	}
	return r
}

// percent reads a share written as percent: 2 is 0.02.
func (v *visit) percent(f *Field) money.Rate {
	return v.rate(f).Mul(money.NewRate(1, -2))
}

// length reads a length as people type it.
func (v *visit) length(f *Field, bare measure.Unit) measure.Length {
	r, err := measure.Read(v.text(f), bare)
	if err != nil {
		v.note(f, err)
	}
	return r.Length
}

// day reads a day; an empty optional field is none.
func (v *visit) day(f *Field) time.Time {
	s := v.text(f)
	if s == "" && f.Optional {
		return time.Time{}
	}
	d, err := readDay(s)
	if err != nil {
		v.note(f, err)
	}
	return d
}

// yes reads a checkbox.
func (v *visit) yes(f *Field) bool {
	f.Checked = v.raw(f) != ""
	return f.Checked
}

// choice reads one of the field's options; anything else is refused.
func (v *visit) choice(f *Field) string {
	s := v.text(f)
	if s == "" && f.Optional {
		return ""
	}
	if f.offers(s) {
		return s
	}
	v.wrong(f, "choose one of the list")
	return ""
}

// number reads a hidden whole number that the page itself wrote: an id, a
// version.
func (v *visit) number(name string) int64 {
	values := v.c.Request.PostForm[name]
	if len(values) != 1 {
		return 0
	}
	n, err := strconv.ParseInt(values[0], 10, 64)
	if err != nil {
		return 0
	}
	return n
}
