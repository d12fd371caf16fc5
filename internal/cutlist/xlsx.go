package cutlist

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"

	"github.com/xuri/excelize/v2"

	"ribdesk/internal/fault"
)

// What a workbook may unfold to. A cut list of 2,000 rows takes well under 1 MB.
const (
	mostUnfolded = 12 << 20 // bytes of all its parts
	mostParts    = 400
	mostReach    = 250_000 // cells from A1 to the last one of each row, of all sheets
)

var (
	cellPlace   = regexp.MustCompile(`<(?:\w+:)?c\s[^<>]*?\br\s*=\s*["']\s*\$?([A-Za-z]{1,8})\$?(\d{1,10})`)
	rowPlace    = regexp.MustCompile(`<(?:\w+:)?row\s[^<>]*?\br\s*=\s*["']\s*(\d{1,12})`)
	mergePlace  = regexp.MustCompile(`<(?:\w+:)?mergeCell\s`)
	knownCoding = regexp.MustCompile(`(?i)^\s*<\?xml[^>]*encoding\s*=\s*["'](?:utf-?8|us-ascii|iso-8859-1|windows-1252)["']`)
	saysCoding  = regexp.MustCompile(`(?i)^\s*<\?xml[^>]*encoding`)
)

// openXLSX reads a workbook's sheets as they show, cached results of formulas
// included, hidden sheets left out. A fault of the library is a file that can't
// be read, never a panic.
func openXLSX(body []byte) (sheets []Sheet, err error) {
	damaged := fault.Invalidf("file", "this workbook is damaged or isn't one; save it anew as .xlsx or CSV")
	defer func() {
		if p := recover(); p != nil {
			sheets, err = nil, damaged.Because(fmt.Errorf("panic of the reader: %v", p))
		}
	}()
	if err := weigh(body); err != nil {
		return nil, err
	}
	f, err := excelize.OpenReader(bytes.NewReader(body), excelize.Options{UnzipSizeLimit: mostUnfolded, UnzipXMLSizeLimit: mostUnfolded})
	if err != nil {
		return nil, damaged.Because(err)
	}
	defer f.Close()
	for _, name := range f.GetSheetList() {
		if shown, err := f.GetSheetVisible(name); err != nil || !shown {
			continue
		}
		if len(sheets) > MostSheets {
			break // fit says so
		}
		s, err := readSheet(f, name)
		if err != nil {
			return nil, damaged.Because(err)
		}
		sheets = append(sheets, s)
	}
	return fit(sheets)
}

// weigh looks at a workbook before it is unfolded: a small file may hold
// gigabytes, or a single cell at the far end of a sheet of a million rows.
func weigh(body []byte) error {
	z, err := zip.NewReader(bytes.NewReader(body), int64(len(body)))
	if err != nil {
		return fault.Invalidf("file", "this workbook is damaged or isn't one; save it anew as .xlsx or CSV").Because(err)
	}
	if len(z.File) > mostParts {
		return fault.Invalidf("file", "this workbook has too many parts for a cut list; copy the list to a new one")
	}
	left, reach, workbook := int64(mostUnfolded), 0, false
	for _, part := range z.File {
		name := strings.ToLower(part.Name)
		workbook = workbook || strings.HasSuffix(name, "workbook.xml") || strings.HasSuffix(name, "workbook.bin")
		text, err := unfold(part, left)
		if err != nil {
			return err
		}
		left -= int64(len(text))
		n, err := reachOf(text, strings.HasSuffix(name, ".xml"))
		if err != nil {
			return err
		}
		if reach += n; reach > mostReach {
			return fault.Invalidf("file", "a sheet of this workbook reaches too far down or to the right; copy the list alone to a new one")
		}
	}
	if !workbook {
		return fault.Invalidf("file", "this isn't a workbook; save the list as .xlsx or CSV")
	}
	return nil
}

func tooMuch() error {
	return fault.Invalidf("file", "this workbook unfolds to more than %d MB; copy the list alone to a new one", mostUnfolded>>20)
}

func unfold(part *zip.File, most int64) ([]byte, error) {
	r, err := part.Open()
	if err != nil {
		return nil, fault.Invalidf("file", "this workbook is damaged or isn't one; save it anew as .xlsx or CSV").Because(err)
	}
	defer r.Close()
	text, err := io.ReadAll(io.LimitReader(r, most+1))
	if int64(len(text)) > most {
		return nil, tooMuch()
	}
	if err != nil {
		return nil, fault.Invalidf("file", "this workbook is damaged or isn't one; save it anew as .xlsx or CSV").Because(err)
	}
	return text, nil
}

// reachOf adds up how far each row of a part reaches. The library makes room for
// all cells up to the last one, whether they are there or not; any part may be a
// sheet, whatever its name says.
func reachOf(text []byte, xml bool) (int, error) {
	if bytes.HasPrefix(text, []byte{0xff, 0xfe}) || bytes.HasPrefix(text, []byte{0xfe, 0xff}) || xml && bytes.IndexByte(text, 0) >= 0 ||
		saysCoding.Match(text) && !knownCoding.Match(text) {
		return 0, fault.Invalidf("file", "this workbook is written in an unusual coding; save it anew as .xlsx or CSV")
	}
	last := 0
	for _, m := range rowPlace.FindAllSubmatch(text, -1) {
		n, _ := strconv.Atoi(string(m[1])) // digits; too many of them are too far
		if n > MostRows {
			return 0, fault.Invalidf("file", "the list has more than %d rows; send it in parts", MostRows)
		}
		last = max(last, n)
	}
	reach := last
	for _, m := range cellPlace.FindAllSubmatch(text, -1) {
		row, err := strconv.Atoi(string(m[2]))
		if err != nil || row > MostRows {
			return 0, fault.Invalidf("file", "the list has more than %d rows; send it in parts", MostRows)
		}
		column, err := excelize.ColumnNameToNumber(string(m[1]))
		if err != nil || column > 1024 {
			return 0, fault.Invalidf("file", "row %d has more than %d columns; a cut list has a few", row, MostColumns)
		}
		reach += column
	}
	if len(mergePlace.FindAllIndex(text, 5001)) > 5000 {
		return 0, tooMuch()
	}
	return reach, nil
}

// readSheet reads the cells of one sheet: as they show, and as they are kept.
func readSheet(f *excelize.File, name string) (Sheet, error) {
	shown, err := f.GetRows(name)
	if err != nil {
		return Sheet{}, err
	}
	kept, err := f.GetRows(name, excelize.Options{RawCellValue: true})
	if err != nil {
		return Sheet{}, err
	}
	s := Sheet{Name: name}
	for i, row := range shown {
		if i > MostRows {
			break
		}
		var cells []Cell
		for j, text := range row {
			raw := ""
			if i < len(kept) && j < len(kept[i]) {
				raw = kept[i][j]
			}
			c := cellOf(text, raw)
			if c.blank() {
				c, err = unworked(f, name, j+1, i+1)
				if err != nil {
					return s, err
				}
			}
			cells = append(cells, c)
		}
		for len(cells) > 0 && cells[len(cells)-1].blank() {
			cells = cells[:len(cells)-1]
		}
		s.Rows = append(s.Rows, cells)
	}
	return s, spread(f, name, &s)
}

// unworked tells an empty cell from a formula that was never worked out.
func unworked(f *excelize.File, sheet string, column, row int) (Cell, error) {
	place, err := excelize.CoordinatesToCellName(column, row)
	if err != nil {
		return Cell{}, err
	}
	formula, err := f.GetCellFormula(sheet, place)
	if err != nil || formula == "" {
		return Cell{}, nil // a formula that can't be read is no text either
	}
	return Cell{Text: "=" + formula, Taken: Unworked}, nil
}

var (
	plainNumber  = regexp.MustCompile(`^-?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?$`)
	looksDated   = regexp.MustCompile(`(?i)\d\s*[-/:]\s*\d|\d\.\d+\.\d|[-/ ](?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)|(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)\w*[-/ ]`)
	shownMixed   = regexp.MustCompile(`^\s*(?:(\d+)\s+)?(\d+)\s*/\s*(\d+)\s*$`)
	shownNumeric = regexp.MustCompile(`^[\s\d.,%$()-]*$`)
)

// cellOf makes a cell of how a value shows and how it is kept. A number that
// shows as a day is a date; a number is taken with all the decimals it has, not
// as few as the format shows.
func cellOf(shown, raw string) Cell {
	shown, raw = strings.TrimSpace(shown), strings.TrimSpace(raw)
	if !plainNumber.MatchString(raw) {
		return Cell{Text: shown}
	}
	n, err := strconv.ParseFloat(raw, 64)
	if err != nil {
		return Cell{Text: shown}
	}
	exact := strconv.FormatFloat(roundTo(n), 'f', -1, 64)
	switch {
	case shown == raw || shown == exact:
		return Cell{Text: exact, Taken: Number}
	case shownMixed.MatchString(shown) && near(shown, n):
		return Cell{Text: shown, Taken: Number} // a number format with fractions
	case looksDated.MatchString(shown):
		if day, err := excelize.ExcelDateToTime(n, false); err == nil {
			return Cell{Text: shown, Taken: Date, Month: int(day.Month()), Day: day.Day()}
		}
		return Cell{Text: shown, Taken: Date}
	case shownNumeric.MatchString(shown):
		return Cell{Text: exact, Taken: Number}
	}
	return Cell{Text: shown} // the format adds words, such as a unit
}

// roundTo takes the noise of binary fractions off.
func roundTo(n float64) float64 {
	r, err := strconv.ParseFloat(strconv.FormatFloat(n, 'f', 6, 64), 64)
	if err != nil {
		return n
	}
	return r
}

// near reports whether a fraction shows the whole of a number, to 1/128.
func near(shown string, n float64) bool {
	m := shownMixed.FindStringSubmatch(shown)
	whole, _ := strconv.ParseFloat("0"+m[1], 64)
	over, _ := strconv.ParseFloat(m[2], 64)
	under, _ := strconv.ParseFloat(m[3], 64)
	if under == 0 {
		return false
	}
	off := whole + over/under - n
	return off < 1.0/128 && off > -1.0/128
}

// spread copies what stands in merged cells to the cells below that are part of
// them, so that each row can be read by itself.
func spread(f *excelize.File, name string, s *Sheet) error {
	merged, err := f.GetMergeCells(name, true)
	if err != nil {
		return err
	}
	for _, m := range merged {
		column, top, err := excelize.CellNameToCoordinates(m.GetStartAxis())
		if err != nil {
			return err
		}
		_, bottom, err := excelize.CellNameToCoordinates(m.GetEndAxis())
		if err != nil {
			return err
		}
		if top > len(s.Rows) || column > len(s.Rows[top-1]) || column > MostColumns {
			continue
		}
		from := s.Rows[top-1][column-1]
		from.Spread = true
		for row := top + 1; row <= min(bottom, len(s.Rows)); row++ {
			for len(s.Rows[row-1]) < column {
				s.Rows[row-1] = append(s.Rows[row-1], Cell{})
			}
			s.Rows[row-1][column-1] = from
		}
	}
	return nil
}
