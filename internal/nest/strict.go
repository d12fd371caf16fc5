package nest

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"strconv"

	"ribdesk/internal/fault"
)

// maxDepth is the deepest nesting of a file; a problem needs four levels.
const maxDepth = 16

// tree reads JSON into maps, slices, strings, bools, nil and json.Number, and
// refuses a name that stands twice in one object, which encoding/json would
// silently take.
func tree(data []byte) (any, error) {
	d := json.NewDecoder(bytes.NewReader(data))
	d.UseNumber()
	v, err := value(d, "", 0)
	if err != nil {
		return nil, err
	}
	if _, err := d.Token(); err != io.EOF {
		return nil, fault.Invalidf("", "something follows the end of the problem")
	}
	return v, nil
}

func value(d *json.Decoder, at string, depth int) (any, error) {
	if depth > maxDepth {
		return nil, fault.Invalidf(at, "is nested too deeply")
	}
	t, err := d.Token()
	if err != nil {
		return nil, broken(d, at, err)
	}
	switch t {
	case json.Delim('{'):
		return members(d, at, depth)
	case json.Delim('['):
		list := []any{}
		for d.More() {
			v, err := value(d, fmt.Sprintf("%s[%d]", at, len(list)), depth+1)
			if err != nil {
				return nil, err
			}
			list = append(list, v)
		}
		if _, err := d.Token(); err != nil {
			return nil, broken(d, at, err)
		}
		return list, nil
	}
	return t, nil
}

func members(d *json.Decoder, at string, depth int) (any, error) {
	m := map[string]any{}
	for d.More() {
		t, err := d.Token()
		if err != nil {
			return nil, broken(d, at, err)
		}
		name, ok := t.(string)
		if !ok {
			return nil, fault.Invalidf(at, "a name is wanted, not %v", t)
		}
		if _, twice := m[name]; twice {
			return nil, fault.Invalidf(join(at, name), "stands twice")
		}
		if m[name], err = value(d, join(at, name), depth+1); err != nil {
			return nil, err
		}
	}
	if _, err := d.Token(); err != nil {
		return nil, broken(d, at, err)
	}
	return m, nil
}

func broken(d *json.Decoder, at string, err error) error {
	return fault.Invalidf(at, "the file isn't JSON near byte %d", d.InputOffset()).Because(err)
}

func join(at, name string) string {
	if len(name) > maxText {
		name = name[:maxText] + "..."
	}
	if at == "" {
		return name
	}
	return at + "." + name
}

// object walks one JSON object and keeps the first fault of every field. A name
// that nobody asked for is refused by done.
type object struct {
	at     string
	m      map[string]any
	faults *fault.List
}

// open takes v as an object.
func open(v any, at string, l *fault.List) object {
	m, ok := v.(map[string]any)
	if !ok {
		l.Addf(at, "must be an object, not %s", kindOf(v))
	}
	return object{at, m, l}
}

// take gives a field's value once; a missing one is a fault unless optional.
func (o object) take(name string, wanted bool) (any, bool) {
	v, ok := o.m[name]
	delete(o.m, name)
	if !ok && wanted && o.m != nil {
		o.faults.Addf(join(o.at, name), "is missing")
	}
	return v, ok
}

func (o object) whole(name string) int64 {
	v, ok := o.take(name, true)
	if !ok {
		return 0
	}
	n, isNumber := v.(json.Number)
	if !isNumber {
		o.faults.Addf(join(o.at, name), "must be a whole number, not %s", kindOf(v))
		return 0
	}
	i, err := strconv.ParseInt(string(n), 10, 64)
	if err != nil {
		o.faults.Addf(join(o.at, name), "must be a whole number in range, not %.40s", n)
	}
	return i
}

func (o object) maybeWhole(name string) *int64 {
	v, ok := o.m[name]
	if ok && v == nil {
		delete(o.m, name)
		return nil
	}
	n := o.whole(name)
	return &n
}

func (o object) text(name string, wanted bool) string {
	v, ok := o.take(name, wanted)
	if !ok {
		return ""
	}
	s, isText := v.(string)
	if !isText {
		o.faults.Addf(join(o.at, name), "must be text, not %s", kindOf(v))
	}
	if len(s) > maxText*10 {
		o.faults.Addf(join(o.at, name), "is longer than %d bytes", maxText*10)
		return ""
	}
	return s
}

func (o object) flag(name string) bool {
	v, ok := o.take(name, true)
	if !ok {
		return false
	}
	b, isBool := v.(bool)
	if !isBool {
		o.faults.Addf(join(o.at, name), "must be true or false, not %s", kindOf(v))
	}
	return b
}

// each calls row for every object of a list.
func (o object) each(name string, row func(object)) {
	v, ok := o.take(name, true)
	if !ok {
		return
	}
	at := join(o.at, name)
	list, isList := v.([]any)
	if !isList {
		o.faults.Addf(at, "must be a list, not %s", kindOf(v))
		return
	}
	if len(list) > maxRows {
		tooMany(o.faults, at, len(list))
		return
	}
	for i, v := range list {
		r := open(v, fmt.Sprintf("%s[%d]", at, i), o.faults)
		row(r)
		r.done()
	}
}

// done refuses the names nobody took.
func (o object) done() {
	for name := range o.m {
		o.faults.Addf(join(o.at, name), "is not a field of this file")
	}
}

func kindOf(v any) string {
	switch v.(type) {
	case nil:
		return "null"
	case bool:
		return "true or false"
	case string:
		return "text"
	case json.Number:
		return "a number"
	case []any:
		return "a list"
	}
	return "an object"
}
