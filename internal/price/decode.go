package price

import (
	"encoding"
	"encoding/json"
	"errors"
	"io"
	"reflect"
	"slices"
	"strings"

	"ribdesk/internal/fault"
)

// maxBytes bounds a file.
const maxBytes = 8 << 20

// Decode reads an input from JSON, strictly: a field that isn't known, a
// wrong kind of value and a length or number that can't be read are each
// refused at their place, as order.items.2.formed.cuts.1.length, lists counted
// from 1. Names are as in the structs' tags. Lengths are texts with a unit
// ("22' 4\"", "20 in"), figures are numbers or texts and are taken digit by
// digit. What Decode reads, json.Marshal writes back.
func Decode(r io.Reader) (Input, error) {
	raw, err := io.ReadAll(io.LimitReader(r, maxBytes+1))
	if err != nil {
		return Input{}, err
	}
	if len(raw) > maxBytes {
		return Input{}, fault.Invalidf("", "the file is larger than 8 MB")
	}
	if err := wellFormed(raw); err != nil {
		return Input{}, err
	}
	var in Input
	d := &decoder{}
	d.value(raw, reflect.ValueOf(&in).Elem(), "")
	return in, d.Err()
}

// wellFormed refuses what isn't one JSON value, saying on which line.
func wellFormed(raw []byte) error {
	var v json.RawMessage
	err := json.Unmarshal(raw, &v)
	if err == nil {
		return nil
	}
	var syntax *json.SyntaxError
	if !errors.As(err, &syntax) {
		return fault.Invalidf("", "this isn't JSON").Because(err)
	}
	line := 1 + strings.Count(string(raw[:min(int(syntax.Offset), len(raw))]), "\n")
	return fault.Invalidf("", "line %d isn't JSON: %s", line, syntax.Error()).Because(err)
}

// decoder walks a value and its type together, so that each fault has a place.
type decoder struct{ fault.List }

func (d *decoder) value(raw json.RawMessage, v reflect.Value, path string) {
	switch {
	case reads(v):
		d.leaf(raw, v, path)
	case string(raw) == "null":
	case v.Kind() == reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		d.value(raw, v.Elem(), path)
	case v.Kind() == reflect.Struct:
		d.object(raw, v, path)
	case v.Kind() == reflect.Slice:
		d.list(raw, v, path)
	default:
		d.leaf(raw, v, path)
	}
}

// reads reports whether the type reads its own text.
func reads(v reflect.Value) bool {
	if v.Kind() == reflect.Pointer {
		return false
	}
	switch v.Addr().Interface().(type) {
	case json.Unmarshaler, encoding.TextUnmarshaler:
		return true
	}
	return false
}

func (d *decoder) object(raw json.RawMessage, v reflect.Value, path string) {
	var fields map[string]json.RawMessage
	if json.Unmarshal(raw, &fields) != nil {
		d.Addf(path, "write an object in braces here")
		return
	}
	t := v.Type()
	known := make([]string, t.NumField())
	for i := range t.NumField() {
		known[i], _, _ = strings.Cut(t.Field(i).Tag.Get("json"), ",")
		if r, ok := fields[known[i]]; ok {
			d.value(r, v.Field(i), join(path, known[i]))
			delete(fields, known[i])
		}
	}
	unknown := make([]string, 0, len(fields))
	for name := range fields {
		unknown = append(unknown, name)
	}
	slices.Sort(unknown)
	for _, name := range unknown {
		d.Addf(join(path, name), "there is no such field; the ones here are %s", strings.Join(known, ", "))
	}
}

func (d *decoder) list(raw json.RawMessage, v reflect.Value, path string) {
	var items []json.RawMessage
	if json.Unmarshal(raw, &items) != nil {
		d.Addf(path, "write a list in brackets here")
		return
	}
	v.Set(reflect.MakeSlice(v.Type(), len(items), len(items)))
	for i, r := range items {
		d.value(r, v.Index(i), place(path, i))
	}
}

func (d *decoder) leaf(raw json.RawMessage, v reflect.Value, path string) {
	err := json.Unmarshal(raw, v.Addr().Interface())
	if err == nil {
		return
	}
	var f *fault.Fault
	if errors.As(err, &f) {
		d.Addf(path, "%s", f.Sentence)
		return
	}
	d.Addf(path, "%s", wanted(v, clip(string(raw))))
}

// wanted says what a place takes instead of what stands there.
func wanted(v reflect.Value, got string) string {
	switch v.Kind() {
	case reflect.String:
		return "write a text in quotes instead of " + got
	case reflect.Bool:
		return "write true or false instead of " + got
	case reflect.Int:
		return "write a whole number instead of " + got
	}
	return "write a length as a text with its unit, such as \"22' 4\\\"\", instead of " + got
}

func clip(s string) string {
	if r := []rune(s); len(r) > 40 {
		return string(r[:40]) + "…"
	}
	return s
}
