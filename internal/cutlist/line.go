package cutlist

import (
	"regexp"
	"strconv"
	"strings"

	"ribdesk/internal/measure"
	"ribdesk/internal/order"
	"ribdesk/internal/words"
)

// A length with its unit in the midst of words.
var inWords = regexp.MustCompile(`(?i)\d+(?:\.\d+)?\s*(?:'|ft\b\.?|feet\b|foot\b|pies?\b)\s*-?\s*(?:\d+(?:\.\d+)?(?:\s*-?\s*\d+/\d+)?\s*(?:''|"|in(?:s|ch|ches)?\b\.?|pulg(?:adas?)?\b\.?)|\d+/\d+\s*(?:''|"|in(?:s|ch|ches)?\b\.?)|\d+(?:\s*-?\s*\d+/\d+)?)?` +
	`|\d+(?:\.\d+)?(?:\s*-?\s*\d+/\d+)?\s*(?:''|"|in(?:s|ch|ches)?\b\.?|pulg(?:adas?)?\b\.?)` +
	`|\d+(?:[.,]\d+)?\s*(?:mm|cm|mts?|metros?|met(?:er|re)s?|m)\b` +
	`|\d{1,3}-\d{1,2}(?:[- ]\d{1,2}/\d{1,2})?\b`)

var (
	lastNumber  = regexp.MustCompile(`(?i)^(\d+\s*(?:'|ft\.?|feet|foot|pies?))\s*-?\s*(\d+)$`)
	bareInches  = regexp.MustCompile(`(?i)(?:'|ft\.?|feet|foot|pies?)\s*-?\s*\d+$`)
	allNumbers  = regexp.MustCompile(`\d+(?:[.,/-]\d+)*`)
	pieceNumber = regexp.MustCompile(`(?i)(?:^|[^\w.,/-])(?:\(\s*(\d{1,6})\s*\)|(\d{1,6})\s*(?:x\b|pieces?\b|pcs?\b|each\b|ea\b|piezas?\b|pzas?\b|pzs?\b|panels?\b|sheets?\b|l[aá]minas?\b|hojas?\b|off\b|@|-\s*$|:\s*$)|(?:x|qty\.?:?|cant\.?:?)\s*(\d{1,6}))`)
	qtyComma    = regexp.MustCompile(`^(\d{1,4})\s*,\s*(\d[^,]*)$`)
	signOfCount = regexp.MustCompile(`(?i)@|(?:^|\s)x(?:\s|$)|\b(?:qty|pcs|pieces|piezas|pzas|some|few|several|couple|dozen|docena|unos|unas|varias)\b`)
	leading     = regexp.MustCompile(`^\s*\(?(\d{1,6})\)?\s+`)
	numbering   = regexp.MustCompile(`^\s*\d{1,3}[.)]\s+`)
	several     = regexp.MustCompile(`\s*(?:[;,+&]|\band\b|\by\b)\s+`)
	tailMark    = regexp.MustCompile(`(?i)(?:#|\bmark\s+|\bmarca\s+)([A-Za-z0-9][A-Za-z0-9._-]{0,15})\s*$`)
	headMark    = regexp.MustCompile(`^\s*([A-Za-z]{1,3}-?\d{1,3}[A-Za-z]?|[A-Z])\s*[:=)]\s*`)
)

// line reads a line of text that has no columns.
func (r *reader) line(no int, row []Cell, s string) {
	out := Row{Key: strconv.Itoa(no), No: no, Cells: row, Product: r.title}
	s = strings.TrimSpace(measure.Plain(s))
	switch {
	case totalWord.MatchString(s):
		r.pass(out, words.Say("a total"))
		return
	case !anyDigit.MatchString(s):
		if len(s) <= 60 && !strings.ContainsAny(s, "?!@") {
			r.title = s
		}
		r.pass(out, words.Say("words without a figure"))
		return
	case pageOrForm.MatchString(s) && !inWords.MatchString(s):
		r.pass(out, words.Say("about the job, not a length"))
		return
	}
	if parts := several.Split(s, -1); len(parts) > 1 && r.severalLengths(out, parts) {
		return
	}
	r.oneLine(out, s)
}

func (r *reader) pass(out Row, why words.Text) {
	out.Status, out.Why = Ignored, why
	r.add(out)
}

// severalLengths reads 10 @ 24'6", 8 @ 18'3" as two rows, if each part is one.
func (r *reader) severalLengths(out Row, parts []string) bool {
	rows := make([]Row, 0, len(parts))
	for i, part := range parts {
		p, err := order.PartCut(part)
		if err != nil || !p.Counted {
			return false
		}
		if h := r.a.length(Cell{Text: p.Length}, Column{}); !h.asked() || h.doubt != "" {
			one := out
			if i > 0 {
				one.Key += string(rune('a' + min(i, 25)))
			}
			rows = append(rows, r.outcome(one, p.Qty, p.Mark, h, words.Text{}))
			continue
		}
		return false
	}
	for _, row := range rows {
		r.add(row)
	}
	return true
}

func (r *reader) outcome(out Row, qty int, mark string, h heard, check words.Text) Row {
	if h.asked() {
		return flag(out, qty, mark, h)
	}
	out.Status = Understood
	out.Item = order.CutItem{Qty: qty, Length: h.length, Mark: mark, Typed: typed(out.Cells)}
	out.Check = h.check
	if check.Format != "" {
		out.Check = check
	}
	out.Sure = out.Check.Format == ""
	return out
}

// oneLine reads a line with one length: as at the counter, or with words around.
func (r *reader) oneLine(out Row, s string) {
	mark := ""
	if m := tailMark.FindStringSubmatch(s); m != nil {
		mark, s = m[1], strings.TrimSpace(s[:len(s)-len(m[0])])
	}
	p, err := order.PartCut(s)
	if err == nil {
		if h := r.a.length(Cell{Text: p.Length}, Column{}); !h.asked() || h.doubt != "" {
			check := words.Text{}
			if !p.Counted {
				if h, two := r.inchesOrPieces(p.Length); two {
					r.add(h.into(out, mark))
					return
				}
				check = words.Say("no quantity is given: one piece")
			}
			r.add(r.outcome(out, p.Qty, mark, h, check))
			return
		}
	}
	if row, ok := r.amongWords(out, s, mark); ok {
		r.add(row)
		return
	}
	h := ask("what is this? Write it like 4 @ 12' 6\", or leave the row out")
	if err == nil {
		if said := r.a.length(Cell{Text: p.Length}, Column{}); len(said.may) > 0 {
			h.may, h.ask = said.may, said.ask
		}
		out = flag(out, p.Qty, mark, h)
		if m := qtyComma.FindStringSubmatch(s); m != nil {
			if h := r.a.length(Cell{Text: m[2]}, Column{}); !h.asked() {
				n, _ := strconv.Atoi(m[1]) // four figures at most
				out.Choices = append(out.Choices, Choice{Line(max(n, 1), h.length, mark)})
			}
		}
		r.add(out)
		return
	}
	r.add(flag(out, 1, mark, h))
}

// amongWords finds the one length and the one quantity in a line with words.
func (r *reader) amongWords(out Row, s, mark string) (Row, bool) {
	if m := headMark.FindStringSubmatch(s); m != nil && mark == "" {
		mark, s = m[1], s[len(m[0]):]
	}
	s = numbering.ReplaceAllString(s, "")
	found := inWords.FindAllStringIndex(s, -1)
	if len(found) != 1 {
		return out, false
	}
	span := strings.TrimSpace(s[found[0][0]:found[0][1]])
	before, after := s[:found[0][0]], s[found[0][1]:]
	if bareInches.MatchString(span) && strings.TrimSpace(after) != "" {
		return out, false // 12' 3 pcs: the 3 may be inches or pieces
	}
	rest := strings.TrimSpace(before + " § " + after)
	numbers := allNumbers.FindAllString(rest, -1)
	h := r.a.length(Cell{Text: span}, Column{})
	out.Note = strings.Trim(strings.ReplaceAll(rest, "§", ""), " ,;:-@")
	switch m := pieceNumber.FindStringSubmatch(before + " "); {
	case len(numbers) == 0 && signOfCount.MatchString(rest):
		return out, false // x @ 12': so many, but how many?
	case len(numbers) == 0:
		return r.outcome(out, 1, mark, h, words.Say("no quantity is given: one piece")), true
	case len(numbers) > 1:
		return out, false
	case m != nil:
		return r.counted(out, first(m[1:]), mark, h), true
	}
	if m := pieceNumber.FindStringSubmatch(" " + after + " "); m != nil {
		return r.counted(out, first(m[1:]), mark, h), true
	}
	if m := leading.FindStringSubmatch(before + " "); m != nil {
		return r.counted(out, m[1], mark, h), true
	}
	return out, false
}

// either is a row that is so many pieces of one length, or one of another.
type either struct {
	text  string
	whole measure.Length
	part  measure.Length
	qty   int
}

func (e either) into(out Row, mark string) Row {
	out = flag(out, 1, mark, ask("in “%s”, does the last number count inches or pieces?", e.text))
	out.Choices = []Choice{{Line(1, e.whole, mark)}, {Line(e.qty, e.part, mark)}}
	return out
}

// inchesOrPieces finds out whether a line without a quantity ends in a number
// that may be one: 12' - 2 is 12' 2", or two of 12'.
func (r *reader) inchesOrPieces(s string) (either, bool) {
	m := lastNumber.FindStringSubmatch(s)
	if m == nil {
		return either{}, false
	}
	qty, err := strconv.Atoi(m[2])
	if err != nil || qty < 1 {
		return either{}, false
	}
	all, part := r.a.length(Cell{Text: s}, Column{}), r.a.length(Cell{Text: m[1]}, Column{})
	return either{s, all.length, part.length, qty}, !all.asked() && !part.asked()
}

func (r *reader) counted(out Row, qty, mark string, h heard) Row {
	n, err := strconv.Atoi(qty)
	if err != nil || n < 1 || n > order.MaxPieces {
		return flag(out, 1, mark, ask("“%s” isn't a quantity; how many pieces?", qty))
	}
	return r.outcome(out, n, mark, h, words.Say("words around it were left aside"))
}

func first(groups []string) string {
	for _, g := range groups {
		if g != "" {
			return g
		}
	}
	return ""
}

// byContent finds the columns of a sheet without headings: one whose cells are
// lengths with their units, and beside it one of small whole numbers.
func byContent(rows [][]Cell) []Column {
	type tally struct{ filled, lengths, counts, texts int }
	var of []tally
	for _, row := range rows {
		for i, c := range row {
			for len(of) <= i {
				of = append(of, tally{})
			}
			if c.blank() {
				continue
			}
			of[i].filled++
			switch {
			case c.Taken == Date || lengthLike(c.Text):
				of[i].lengths++
			case countWord.MatchString(c.Text):
				of[i].counts++
			case !anyDigit.MatchString(c.Text) || len(c.Text) < 12:
				of[i].texts++
			}
		}
	}
	best := -1
	for i, t := range of {
		if t.lengths > 0 && t.lengths*2 >= t.filled && (best < 0 || t.lengths > of[best].lengths) {
			best = i
		}
	}
	if best < 0 {
		return nil
	}
	columns := make([]Column, len(of))
	counted := -1
	for i, t := range of {
		columns[i].No = i
		if i != best && t.counts > 0 && t.counts*2 >= t.filled && !ascends(rows, i) {
			if counted >= 0 {
				return nil // two could be the quantity
			}
			counted = i
		}
	}
	columns[best].Role = Length
	if counted >= 0 {
		columns[counted].Role = Quantity
	}
	for i, t := range of {
		if columns[i].Role == Skip && t.texts > 0 && t.texts*2 >= t.filled {
			columns[i].Role = Mark
			break
		}
	}
	return columns
}
