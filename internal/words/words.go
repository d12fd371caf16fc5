// Package words is where every text for customers lives in both languages. A
// text is written in English where it is used; the English text is its key in
// the catalogue (es.po), and a Reader gives it in the language and the unit of
// length of whoever reads. Texts that take figures are formats as package fmt
// knows them, kept apart from their figures as a Text until somebody reads them.
//
// It holds no data: names of firms, products and colours pass through as they
// are. What the shop itself reads stays in English. A text that isn't in the
// catalogue is shown in English; the tests find it before a person does.
package words

import (
	"fmt"
	"reflect"
	"strings"
	"time"
)

// Language is one of the languages of customers.
type Language string

// The languages. Anything else reads English.
const (
	English Language = "en"
	Spanish Language = "es"
	// Marked is no language: each text of the catalogue stands in ⟦brackets⟧, so
	// that what is outside of them is either data or was forgotten.
	Marked Language = "xx"
)

// Languages are those a person can choose, with their own names.
var Languages = []struct {
	Code Language
	Name string
}{{English, "English"}, {Spanish, "Español"}}

// Known gives the language of a code, English for one that isn't spoken here.
func Known(code string) (Language, bool) {
	for _, l := range Languages {
		if string(l.Code) == code {
			return l.Code, true
		}
	}
	return English, false
}

// Preferred gives the first language of an Accept-Language header (RFC 9110,
// 12.5.4) that is spoken here; browsers send the most liked first.
func Preferred(header string) Language {
	for part := range strings.SplitSeq(header, ",") {
		tag, _, _ := strings.Cut(part, ";")
		tag, _, _ = strings.Cut(strings.TrimSpace(tag), "-")
		if l, ok := Known(strings.ToLower(tag)); ok {
			return l
		}
	}
	return English
}

// Text is a text with its figures, not yet in anybody's language.
type Text struct {
	Format string
	Args   []any
}

// Say makes a Text.
func Say(format string, args ...any) Text { return Text{format, args} }

// String reads it in English, as the shop does.
func (t Text) String() string { return Reader{}.Read(t) }

// MarshalText gives programs the English text.
func (t Text) MarshalText() ([]byte, error) { return []byte(t.String()), nil }

// Measured is a length, which is written in the reader's unit.
type Measured interface{ InUnits(style string) string }

// Reader is somebody who reads: in which language, and how they like lengths
// written (a measure.Style). Where Units is "" a length is written out exactly,
// as the shop's own messages do.
type Reader struct {
	Language Language
	Units    string
}

// T gives a text in the reader's language, its figures put in. Figures that are
// texts themselves, or words of a vocabulary (a type of its own made of
// strings, such as the state of an order), are put in the language too; plain
// strings are data.
func (r Reader) T(text string, args ...any) string {
	format := r.look(text)
	if len(args) == 0 {
		return format
	}
	read := make([]any, len(args))
	for i, a := range args {
		read[i] = r.figure(a)
	}
	return fmt.Sprintf(format, read...)
}

// N gives a text that counts: one for a count of 1, else many. Both languages
// form their plurals so (CLDR, cardinal rules for en and es, whole numbers
// below a million).
func (r Reader) N(n int, one, many string, args ...any) string {
	if n == 1 {
		return r.T(one, args...)
	}
	return r.T(many, args...)
}

// Read gives anything in the reader's language: a Text, a word of the
// catalogue, a length. What it doesn't know it leaves as it is.
func (r Reader) Read(v any) string {
	switch v := v.(type) {
	case nil:
		return ""
	case Text:
		if len(v.Args) == 0 { // a format all the same, whose %% stands for a percent sign
			return strings.ReplaceAll(r.look(v.Format), "%%", "%")
		}
		return r.T(v.Format, v.Args...)
	case *Text:
		return r.Read(*v)
	case Date:
		return r.Day(time.Time(v))
	case Measured:
		return r.long(v)
	case string:
		return r.look(v)
	case interface{ Said() Text }:
		return r.Read(v.Said())
	}
	return r.look(fmt.Sprint(v))
}

func (r Reader) long(v Measured) string {
	if r.Units == "" {
		return fmt.Sprint(v)
	}
	return r.mark(v.InUnits(r.Units))
}

// mark puts what is already in the reader's words into the brackets of Marked.
func (r Reader) mark(s string) string {
	if r.Language == Marked {
		return "⟦" + s + "⟧"
	}
	return s
}

// figure prepares one figure of a format: numbers stay what they are.
func (r Reader) figure(v any) any {
	switch v := v.(type) {
	case Text, Measured, Date, interface{ Said() Text }:
		return r.Read(v)
	case string:
		return v
	}
	if t := reflect.TypeOf(v); t != nil && t.Kind() == reflect.String {
		return r.look(reflect.ValueOf(v).String())
	}
	return v
}

// look finds a text in the catalogue. What follows a bar in a key tells two
// uses of the same English apart and is never shown.
func (r Reader) look(text string) string {
	plain, _, remarked := strings.Cut(text, "|")
	entry, known := spanish[text]
	switch {
	case r.Language == Marked && known:
		return r.mark(plain)
	case r.Language == Spanish && known:
		return entry
	case known && remarked:
		return plain
	}
	return text
}

// Key marks a text that is read elsewhere, so that the tests find it.
func Key(text string) string { return text }
