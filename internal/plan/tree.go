package plan

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

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

// reader reads a tree and knows the line it is in.
type reader struct {
	*json.Decoder
	data []byte
}

// parseTree reads one JSON value and nothing behind it. A byte order mark in
// front of it is passed over, as editors put it there unasked.
func parseTree(data []byte) (value, error) {
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	switch {
	case len(bytes.TrimSpace(data)) == 0:
		return value{}, fault.Invalidf("", "the problem is empty")
	case !utf8.Valid(data):
		return value{}, fault.Invalidf("", "this isn't text in UTF-8, as JSON has to be")
	}
	dec := &reader{json.NewDecoder(bytes.NewReader(data)), data}
	dec.UseNumber()
	v, err := parseValue(dec, "", 0)
	if err != nil {
		return value{}, err
	}
	if _, err := dec.Token(); err != io.EOF {
		return value{}, fault.Invalidf("", "line %d: something stands behind the end of the problem", dec.line())
	}
	return v, nil
}

// line is where the reader stands.
func (r *reader) line() int { return 1 + bytes.Count(r.data[:r.InputOffset()], []byte("\n")) }

func (r *reader) notJSON(path string, err error) error {
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		return fault.Invalidf(path, "the JSON ends here in the middle, in line %d", r.line()).Because(err)
	}
	return fault.Invalidf(path, "this isn't JSON, in line %d: %v", r.line(), err).Because(err)
}

func parseValue(dec *reader, path string, depth int) (value, error) {
	v := value{path: path}
	if depth > maxDepth {
		return v, fault.Invalidf(path, "this is nested too deep")
	}
	token, err := dec.Token()
	if err != nil {
		return v, dec.notJSON(path, err)
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
			return v, dec.notJSON(path, err)
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

func parseObject(dec *reader, v value, depth int) (value, error) {
	v.kind = 'o'
	seen := map[string]bool{}
	for dec.More() {
		token, err := dec.Token()
		if err != nil {
			return v, dec.notJSON(v.path, err)
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
		return v, dec.notJSON(v.path, err)
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
