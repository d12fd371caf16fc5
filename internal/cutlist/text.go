package cutlist

import (
	"bytes"
	"encoding/csv"
	"regexp"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"

	"ribdesk/internal/fault"
	"ribdesk/internal/words"
)

// Open reads a file by what is in it, whatever it is called: an XLSX workbook,
// or a text with or without columns. The fault's field is "file".
func Open(body []byte) ([]Sheet, error) {
	switch {
	case len(body) > MostBytes:
		return nil, fault.Invalidf("file", "a list has at most %d MB; send the sheet alone, without pictures", MostBytes>>20)
	case len(bytes.TrimSpace(body)) == 0:
		return nil, fault.Invalidf("file", "this file is empty")
	case bytes.HasPrefix(body, []byte("PK\x03\x04")):
		return openXLSX(body)
	case bytes.HasPrefix(body, []byte{0xd0, 0xcf, 0x11, 0xe0}):
		return nil, fault.Invalidf("file", "this workbook is of an old kind or has a password; save it as .xlsx without one, or as CSV")
	}
	picture := words.Say("a picture")
	for _, kind := range []struct {
		start string
		name  words.Text
	}{{"%PDF", words.Say("a PDF")}, {"\xff\xd8\xff", picture}, {"\x89PNG", picture}, {"GIF8", picture}, {"{\\rtf", words.Say("a text with layout")}} {
		if bytes.HasPrefix(body, []byte(kind.start)) {
			return nil, fault.Invalidf("file", "this is %s, which isn't read by machine; give a sheet or a text, and send this along as a photo or in a message", kind.name)
		}
	}
	return Paste(decode(body))
}

// Paste reads a text as it was pasted: cells of a sheet with tabs between them,
// a CSV text, or lines of a message.
func Paste(text string) ([]Sheet, error) {
	if len(text) > MostBytes {
		return nil, fault.Invalidf("file", "a list has at most %d MB; send the sheet alone, without pictures", MostBytes>>20)
	}
	if strings.ContainsRune(text, 0) {
		return nil, fault.Invalidf("file", "this isn't a text or a sheet that can be read; save it as .xlsx or CSV")
	}
	text = strings.NewReplacer("\r\n", "\n", "\r", "\n", "\f", "\n").Replace(text)
	// Some programs name their separator in the first line.
	if first, rest, _ := strings.Cut(text, "\n"); len(first) == 5 && strings.HasPrefix(strings.ToLower(first), "sep=") {
		return fit([]Sheet{{Rows: split(rest, rune(first[4]))}})
	}
	if sep, ok := separator(text); ok {
		return fit([]Sheet{{Rows: split(text, sep)}})
	}
	var rows [][]Cell
	for line := range strings.SplitSeq(strings.TrimRight(text, "\n"), "\n") {
		rows = append(rows, []Cell{{Text: line}})
	}
	return fit([]Sheet{{Rows: rows, Lines: true}})
}

// decode turns a file's bytes into text: UTF-8 and UTF-16 by their marks or by
// how they look, else Windows-1252, in which any bytes are text.
func decode(b []byte) string {
	utf16 := func(e unicode.Endianness) string {
		s, err := unicode.UTF16(e, unicode.UseBOM).NewDecoder().Bytes(b)
		if err != nil {
			return string(bytes.ToValidUTF8(b, nil))
		}
		return string(s)
	}
	switch {
	case bytes.HasPrefix(b, []byte{0xef, 0xbb, 0xbf}):
		return string(b[3:])
	case bytes.HasPrefix(b, []byte{0xff, 0xfe}), halfZero(b, 1):
		return utf16(unicode.LittleEndian)
	case bytes.HasPrefix(b, []byte{0xfe, 0xff}), halfZero(b, 0):
		return utf16(unicode.BigEndian)
	case utf8.Valid(b):
		return string(b)
	}
	s, err := charmap.Windows1252.NewDecoder().Bytes(b)
	if err != nil {
		return string(bytes.ToValidUTF8(b, nil))
	}
	return string(s)
}

// halfZero reports whether every other byte is zero, as in UTF-16 of English.
func halfZero(b []byte, from int) bool {
	if len(b) < 8 || len(b)%2 != 0 {
		return false
	}
	zeros, n := 0, min(len(b), 400)
	for i := from; i < n; i += 2 {
		if b[i] == 0 {
			zeros++
		}
	}
	return zeros > n/4
}

var (
	decimalComma = regexp.MustCompile(`\d,\d`)
	wordComma    = regexp.MustCompile(`[A-Za-z"'”″)#]\s*,|,\s*[A-Za-z"'“(]|,,|^,|,$`)
)

// separator finds what stands between the columns: the one that cuts most lines
// into the same number of cells. A comma between figures only is a decimal
// comma, not a separator.
func separator(text string) (rune, bool) {
	best, most := rune(0), 0.0
	for _, sep := range []rune{'\t', ';', '|', ','} {
		if sep == ',' && !wordComma.MatchString(text) && decimalComma.MatchString(text) {
			continue
		}
		counts := map[int]int{}
		lines := 0
		for _, row := range split(text, sep) {
			n := 0
			for _, c := range row {
				if !c.blank() {
					n++
				}
			}
			if n == 0 {
				continue
			}
			lines++
			counts[len(row)]++
		}
		share := 0.0
		for width, n := range counts {
			if width > 1 {
				share = max(share, float64(n)/float64(lines))
			}
		}
		if sep == ',' && lines == 1 {
			share /= 2 // one line of a message with a comma in it
		}
		if share > most {
			best, most = sep, share
		}
	}
	return best, most >= 0.55
}

// split cuts a text into cells. Inch marks make bad quotes, so quotes are read
// lazily; where one swallows the lines after it, each line is read by itself.
func split(text string, sep rune) [][]Cell {
	if !swallowed(text, sep) {
		return cells(readAll(text, sep))
	}
	var rows [][]string
	for line := range strings.SplitSeq(strings.TrimRight(text, "\n"), "\n") {
		one := readAll(line, sep)
		if len(one) == 0 {
			one = [][]string{nil}
		}
		rows = append(rows, one[0])
	}
	return cells(rows)
}

// readAll keeps blank lines as rows, so that numbers are those of the sheet.
func readAll(text string, sep rune) [][]string {
	r := csv.NewReader(strings.NewReader(text))
	r.Comma, r.LazyQuotes, r.FieldsPerRecord, r.TrimLeadingSpace = sep, true, -1, sep != '\t'
	var rows [][]string
	next := 1 // line of the text that the next record would start on
	for len(rows) <= MostRows {
		record, err := r.Read()
		if err != nil && len(record) == 0 {
			return rows
		}
		line := next
		if len(record) > 0 {
			line, _ = r.FieldPos(0)
		}
		for ; next < line && len(rows) <= MostRows; next++ {
			rows = append(rows, nil)
		}
		rows = append(rows, record)
		for _, field := range record {
			next += strings.Count(field, "\n")
		}
		next++
	}
	return rows
}

// swallowed reports whether a quote that was never meant as one ran over the end
// of its line: in a file whose quotes are sound, a cell may have several lines.
func swallowed(text string, sep rune) bool {
	several := false
	for _, row := range readAll(text, sep) {
		for _, field := range row {
			several = several || strings.Contains(field, "\n")
		}
	}
	if !several {
		return false
	}
	strict := csv.NewReader(strings.NewReader(text))
	strict.Comma, strict.FieldsPerRecord = sep, -1
	_, err := strict.ReadAll()
	return err != nil
}

func cells(rows [][]string) [][]Cell {
	out := make([][]Cell, len(rows))
	for i, row := range rows {
		for _, field := range row {
			out[i] = append(out[i], Cell{Text: field})
		}
	}
	return out
}
