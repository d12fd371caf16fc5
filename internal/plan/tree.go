package plan

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"strings"

	"ribdesk/internal/fault"
)

// value is one JSON value with the path it stands at, so that every refusal
// names its place, such as lines[3].setup.profile.
type value struct {
	path   string
	kind   byte // 'o'bject, 'a'rray, 's'tring, 'n'umber, 'b'ool, '0' for null
	fields []field
	items  []value
	text   string
	truth  bool
}

type field struct {
	name string
	value
}

const maxDepth = 12

// parseTree reads one JSON value and nothing behind it.
func parseTree(data []byte) (value, error) {
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.UseNumber()
	v, err := parseValue(dec, "", 0)
	if err != nil {
		return value{}, err
	}
	if _, err := dec.Token(); err != io.EOF {
		return value{}, fault.Invalidf("", "something stands behind the end of the problem")
	}
	return v, nil
}

func notJSON(path string, err error) error {
	return fault.Invalidf(path, "this isn't JSON: %v", err).Because(err)
}

func parseValue(dec *json.Decoder, path string, depth int) (value, error) {
	v := value{path: path}
	if depth > maxDepth {
		return v, fault.Invalidf(path, "this is nested too deep")
	}
	token, err := dec.Token()
	if err != nil {
		return v, notJSON(path, err)
	}
	switch t := token.(type) {
	case json.Delim:
		if t == '{' {
			return parseObject(dec, v, depth)
		}
		v.kind = 'a'
		for dec.More() {
			item, err := parseValue(dec, fmt.Sprintf("%s[%d]", path, len(v.items)), depth+1)
			if err != nil {
				return v, err
			}
			v.items = append(v.items, item)
		}
		_, err = dec.Token()
		if err != nil {
			return v, notJSON(path, err)
		}
	case string:
		v.kind, v.text = 's', t
	case json.Number:
		v.kind, v.text = 'n', t.String()
	case bool:
		v.kind, v.truth = 'b', t
	case nil:
		v.kind = '0'
	}
	return v, nil
}

func parseObject(dec *json.Decoder, v value, depth int) (value, error) {
	v.kind = 'o'
	seen := map[string]bool{}
	for dec.More() {
		token, err := dec.Token()
		if err != nil {
			return v, notJSON(v.path, err)
		}
		name, _ := token.(string)
		path := strings.TrimPrefix(v.path+"."+clip(name), ".")
		if seen[name] {
			return v, fault.Invalidf(path, "this field stands here twice")
		}
		seen[name] = true
		inner, err := parseValue(dec, path, depth+1)
		if err != nil {
			return v, err
		}
		v.fields = append(v.fields, field{name, inner})
	}
	if _, err := dec.Token(); err != nil {
		return v, notJSON(v.path, err)
	}
	return v, nil
}

// clip keeps a person's word short enough for one line.
func clip(s string) string {
	s = strings.Map(func(r rune) rune {
		if r < ' ' {
			return ' '
		}
		return r
	}, s)
	if r := []rune(s); len(r) > 60 {
		return string(r[:60]) + "…"
	}
	return s
}

// words names what a value is.
func (v value) words() string {
	switch v.kind {
	case 'o':
		return "an object"
	case 'a':
		return "a list"
	case 's':
		return "a text"
	case 'n':
		return "a number"
	case 'b':
		return "true or false"
	}
	return "null"
}
