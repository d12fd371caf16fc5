package words

import (
	_ "embed"
	"fmt"
	"maps"
	"strconv"
	"strings"
)

// es.po holds the Spanish of every text, in the format of GNU gettext's
// catalogues, which translators' tools read.
//
//go:embed es.po
var spanishFile string

var spanish = mustParse(spanishFile)

func mustParse(file string) map[string]string {
	list, err := ParseCatalogue(file)
	if err != nil {
		panic("words: es.po: " + err.Error()) // it is compiled in: only a slip of ours
	}
	return list
}

// Catalogue gives the Spanish of every text, by its English.
func Catalogue() map[string]string { return maps.Clone(spanish) }

// ParseCatalogue reads a catalogue: msgid and msgstr in quotes, a long one over
// several lines, remarks behind #. It refuses a text that stands there twice or
// has no translation.
func ParseCatalogue(file string) (map[string]string, error) {
	list := map[string]string{}
	var id, str string
	var into *string
	keep := func(line int) error {
		if into == nil {
			return nil
		}
		_, twice := list[id]
		switch {
		case twice:
			return fmt.Errorf("line %d: %q stands there twice", line, id)
		case str == "":
			return fmt.Errorf("line %d: %q has no translation", line, id)
		}
		list[id], into = str, nil
		return nil
	}
	for i, line := range strings.Split(file, "\n") {
		line = strings.TrimSpace(line)
		quoted := line
		switch {
		case line == "" || line[0] == '#':
			continue
		case strings.HasPrefix(line, "msgid "):
			if err := keep(i); err != nil {
				return nil, err
			}
			id, str, into, quoted = "", "", &id, line[len("msgid "):]
		case strings.HasPrefix(line, "msgstr ") && into == &id:
			into, quoted = &str, line[len("msgstr "):]
		}
		part, err := strconv.Unquote(quoted)
		if err != nil || into == nil || quoted[0] != '"' {
			return nil, fmt.Errorf("line %d: %s isn't understood", i+1, line)
		}
		*into += part
	}
	return list, keep(strings.Count(file, "\n") + 1)
}
