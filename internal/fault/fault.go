// Package fault is the one way a rule says no. A Fault has a kind (which the
// web maps to a status, a command to an exit code), the field it belongs to in
// the words of the form, a sentence for the person, and the cause for the log.
//
// The sentence is kept as a text with its figures too, so that a customer reads it
// in their own language (package words).
//
// It doesn't know pages, statuses or logs. Anything that isn't a Fault is a
// defect: it is logged and shown as one neutral sentence.
package fault

import (
	"errors"
	"strings"

	"ribdesk/internal/words"
)

// Kind says what sort of no this is.
type Kind int

const (
	// Invalid is input that can't be used as it stands.
	Invalid Kind = iota + 1
	// NotFound is a thing that isn't there, or isn't this person's to see.
	NotFound
	// Conflict is a step that the present state doesn't allow, or a record
	// that somebody else changed meanwhile.
	Conflict
	// Denied is a person without the right to do this.
	Denied
	// Busy is a limit on how often or how much at once; try again later.
	Busy
	// Storage is a database that can't take the write now: disk full, read only.
	Storage
)

// String gives the kind as one plain word.
func (k Kind) String() string {
	switch k {
	case Invalid:
		return "invalid"
	case NotFound:
		return "not found"
	case Conflict:
		return "conflict"
	case Denied:
		return "denied"
	case Busy:
		return "busy"
	case Storage:
		return "storage"
	}
	return "unknown"
}

// Fault is one refusal.
type Fault struct {
	Kind     Kind
	Field    string     // the form's or file's name for the place, "" for the whole
	Sentence string     // for the person, complete, with what to do where there is something
	Text     words.Text // the same with its figures apart, for other languages
	Cause    error      // for the log; never shown
}

// Error gives the field and the sentence; the cause stays out of it.
func (f *Fault) Error() string {
	if f.Field == "" {
		return f.Sentence
	}
	return f.Field + ": " + f.Sentence
}

// Unwrap gives the cause to errors.Is and errors.As.
func (f *Fault) Unwrap() error { return f.Cause }

// New makes a fault of a kind at a field.
func New(kind Kind, field, format string, args ...any) *Fault {
	text := words.Say(format, args...)
	return &Fault{Kind: kind, Field: field, Sentence: text.String(), Text: text}
}

// Said gives the sentence as a text, for a reader of any language.
func (f *Fault) Said() words.Text {
	if f.Text.Format == "" {
		return words.Say("%s", f.Sentence)
	}
	return f.Text
}

// Within returns a copy of f whose sentence stands in a larger one, as its last
// figure: "row %d: %s".
func (f *Fault) Within(format string, args ...any) *Fault {
	g := *f
	g.Text = words.Say(format, append(args, f.Said())...)
	g.Sentence = g.Text.String()
	return &g
}

// Invalidf refuses the input of a field.
func Invalidf(field, format string, args ...any) *Fault { return New(Invalid, field, format, args...) }

// NotFoundf says that a thing isn't there.
func NotFoundf(format string, args ...any) *Fault { return New(NotFound, "", format, args...) }

// Conflictf says that the present state doesn't allow the step.
func Conflictf(format string, args ...any) *Fault { return New(Conflict, "", format, args...) }

// Deniedf says that the person may not.
func Deniedf(format string, args ...any) *Fault { return New(Denied, "", format, args...) }

// Because returns a copy of f that keeps cause for the log.
func (f *Fault) Because(cause error) *Fault {
	g := *f
	g.Cause = cause
	return &g
}

// At returns a copy of f whose field is prefixed, as in "lines.3" + "length".
func (f *Fault) At(prefix string) *Fault {
	g := *f
	switch {
	case g.Field == "":
		g.Field = prefix
	case prefix != "":
		g.Field = prefix + "." + g.Field
	}
	return &g
}

// List is several faults of one input, so that a person sees all of them at once.
type List []*Fault

// Error joins the faults, one a line.
func (l List) Error() string {
	texts := make([]string, len(l))
	for i, f := range l {
		texts[i] = f.Error()
	}
	return strings.Join(texts, "\n")
}

// Unwrap gives the faults to errors.Is and errors.As.
func (l List) Unwrap() []error {
	errs := make([]error, len(l))
	for i, f := range l {
		errs[i] = f
	}
	return errs
}

// Add appends err at prefix: a Fault, a List, or a defect wrapped as it is.
// A nil err adds nothing.
func (l *List) Add(prefix string, err error) {
	for _, f := range All(err) {
		*l = append(*l, f.At(prefix))
	}
}

// Addf appends an invalid fault.
func (l *List) Addf(field, format string, args ...any) {
	*l = append(*l, Invalidf(field, format, args...))
}

// Err gives nil for an empty list, else the list.
func (l List) Err() error {
	if len(l) == 0 {
		return nil
	}
	return l
}

// All gives the faults inside err; an err that holds none becomes one Fault of
// kind 0 (a defect) with the neutral sentence and err as its cause.
func All(err error) []*Fault {
	if err == nil {
		return nil
	}
	var list List
	if errors.As(err, &list) {
		return list
	}
	var one *Fault
	if errors.As(err, &one) {
		return []*Fault{one}
	}
	return []*Fault{New(0, "", "Something went wrong here. It has been noted; please try again.").Because(err)}
}

// KindOf gives the kind of the first fault in err, 0 when it holds none.
func KindOf(err error) Kind {
	if err == nil {
		return 0
	}
	return All(err)[0].Kind
}

// Is reports whether err holds a fault of this kind.
func Is(err error, kind Kind) bool {
	if err == nil {
		return false
	}
	for _, f := range All(err) {
		if f.Kind == kind {
			return true
		}
	}
	return false
}
