package order

import (
	"regexp"
	"strconv"
	"strings"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/words"
)

// CutRow is one line of a typed or pasted cut list, as it was understood.
type CutRow struct {
	No   int // from 1, as in the text
	Text string
	Item CutItem
	Note words.Text
	Err  *fault.Fault // nil when understood
}

// between are the marks and words people put between a quantity and a length.
const (
	between = `(?:@|x|×|\*|:|pieces?\.?|pcs?\.?|each|ea\.?|piezas?|pzas?\.?|of|de|\t|;)`
	each    = `(?:pieces?\.?|pcs?\.?|each|ea\.?|piezas?|pzas?\.?)`
)

var (
	// 4 @ 12'6"   4 x 12-6   4 pcs 12' 6"   (4) 12-6   4: 12-6
	qtyFirst = regexp.MustCompile(`(?i)^(?:\(\s*(\d{1,7})\s*\)\s*(?:` + between + `\s*)*|(\d{1,7})\s*(?:` + between + `\s*)+)(.+)$`)
	// 12'6" @ 4   12-6 x 4   12-6 (4)   12'6" - 4 pcs   12'6" qty 4
	qtyLast  = regexp.MustCompile(`(?i)^(.+?)\s*(?:(?:@|x|×|\*|:|\t|;|qty\.?|cant\.?)\s*(\d{1,7})\s*` + each + `?|\(\s*(\d{1,7})\s*` + each + `?\s*\)|[-–,]?\s*(\d{1,7})\s*` + each + `)$`)
	markTail = regexp.MustCompile(`\s+(?:#|mark\s+|marca\s+)([A-Za-z0-9][A-Za-z0-9._-]{0,15})$`)
	bullets  = regexp.MustCompile(`^\s*(?:[-*•·]\s+|\d{1,3}[.)]\s+)`)
)

// ReadCutList understands a typed or pasted cut list, one line per length and
// quantity: 4 @ 12'6", 4 x 12-6, 12-6 (4), 12' 6" qty 4. A line with a length
// alone is one piece. A trailing #A1 is the customer's mark. Blank lines are
// passed over; a line that isn't understood, or that can be read two ways, keeps
// its text and its fault. bare is the unit the field shows for bare numbers.
func ReadCutList(text string, bare measure.Unit) []CutRow {
	var rows []CutRow
	for i, raw := range strings.Split(strings.ReplaceAll(text, "\r\n", "\n"), "\n") {
		if strings.TrimSpace(raw) == "" {
			continue
		}
		row := CutRow{No: i + 1, Text: strings.TrimRight(raw, "\r")}
		if len(rows) >= MaxCuts {
			row.Err = fault.Invalidf("cuts", "a cut list takes at most %d rows; the rest wasn't read", MaxCuts)
			return append(rows, row)
		}
		item, note, err := readCut(raw, bare)
		if err != nil {
			row.Err = fault.All(err)[0]
		}
		row.Item, row.Note = item, note
		rows = append(rows, row)
	}
	return rows
}

func readCut(raw string, bare measure.Unit) (CutItem, words.Text, error) {
	item := CutItem{Qty: 1, Typed: strings.TrimSpace(raw)}
	parts, err := PartCut(raw)
	item.Mark = parts.Mark
	if err != nil {
		return item, words.Text{}, err
	}
	item.Qty = parts.Qty
	r, err := measure.Read(parts.Length, bare)
	if err != nil {
		return item, words.Text{}, err
	}
	item.Length = r.Length
	return item, r.Note, nil
}

// CutParts is a line of a cut list taken apart, its length not read yet.
type CutParts struct {
	Qty     int
	Counted bool // the quantity was written; without one it is 1
	Length  string
	Mark    string
}

// PartCut takes a line of a cut list apart as ReadCutList does. It refuses a
// quantity that can't be and a line with two numbers that could each be either.
func PartCut(raw string) (CutParts, error) {
	s := strings.TrimSpace(raw)
	p := CutParts{Qty: 1}
	if len(s) > 200 {
		return p, fault.Invalidf("length", "this line is too long to be one length and quantity")
	}
	if m := markTail.FindStringSubmatch(s); m != nil {
		p.Mark = m[1]
		s = strings.TrimSpace(s[:len(s)-len(m[0])])
	}
	qty := ""
	p.Length = s
	first, last := qtyFirst.FindStringSubmatch(s), qtyLast.FindStringSubmatch(s)
	switch {
	case first != nil && strings.Contains(s, "@"):
		qty, p.Length = qtyOf(first[1:3]), first[3] // so many at a length, as the trade says it
	case first != nil && last != nil:
		// 4 x 12 could be 12 of 4: only one side can be a length with a unit.
		_, errFirst := measure.Read(first[3], measure.NoUnit)
		_, errLast := measure.Read(last[1], measure.NoUnit)
		switch {
		case errFirst == nil && errLast != nil:
			qty, p.Length = qtyOf(first[1:3]), first[3]
		case errLast == nil && errFirst != nil:
			qty, p.Length = qtyOf(last[2:]), last[1]
		default:
			return p, fault.Invalidf("length", "“%s” can be read two ways; give the length its unit, like 4 @ 12'6\"", s)
		}
	case first != nil:
		qty, p.Length = qtyOf(first[1:3]), first[3]
	case last != nil:
		qty, p.Length = qtyOf(last[2:]), last[1]
	default:
		if b := bullets.FindString(s); b != "" {
			p.Length = s[len(b):]
		}
	}
	if qty != "" {
		n, err := strconv.Atoi(qty)
		if err != nil || n < 1 || n > MaxPieces {
			return p, fault.Invalidf("qty", "give a quantity from 1 to %d", MaxPieces)
		}
		p.Qty, p.Counted = n, true
	}
	return p, nil
}

// qtyOf gives the group that matched.
func qtyOf(groups []string) string {
	for _, g := range groups {
		if g != "" {
			return g
		}
	}
	return ""
}
