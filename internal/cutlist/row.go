package cutlist

import (
	"regexp"
	"strconv"
	"strings"

	"ribdesk/internal/measure"
	"ribdesk/internal/order"
	"ribdesk/internal/words"
)

var (
	totalWord  = regexp.MustCompile(`(?i)^\W*(?:grand\s+|sub[- ]?|gran\s+)?(?:totals?|totales|sum|suma|sum total)\b`)
	countWord  = regexp.MustCompile(`(?i)^(?:x\s*)?\(?\s*(\d{1,3}(?:,\d{3})+|\d{1,7})(?:\.0+)?\s*\)?\s*(?:x|pieces?\.?|pcs?\.?|each|ea\.?|piezas?|pzas?\.?|pzs?\.?|panels?|sheets?|unidades|uds?\.?|nos?\.?|off|l[aá]minas?|hojas?)?$`)
	noneWord   = regexp.MustCompile(`(?i)^(?:-+|–|—|n/?a|none|nil|0+(?:\.0+)?|x|tbd|ninguno|ninguna)$`)
	anyDigit   = regexp.MustCompile(`\d`)
	pageOrForm = regexp.MustCompile(`(?i)^\W*(?:page|p[aá]gina|sheet \d|rev|revision|date|fecha|phone|tel|cell|fax|e-?mail|attn|to:|from:|job|project|proyecto|obra|po\b|p\.o\.|order|pedido|quote|cotizaci[oó]n|customer|cliente|address|direcci[oó]n|deliver|entrega|need(?:ed)? by|contact|contacto|prepared|drawn|file|archivo|printed|tel[eé]fono|bill|ship|sent from|enviado)`)
)

// row reads a row of cells, once for each list that stands beside another.
func (r *reader) row(no int, row []Cell) {
	if len(r.blocks) == 0 {
		r.prose(no, row)
		return
	}
	part := 0
	for _, b := range r.blocks {
		cells := b.cells(row)
		if empty(cells) && len(r.blocks) > 1 {
			continue
		}
		key := strconv.Itoa(no)
		if part > 0 {
			key += string(rune('a' + min(part, 25)))
		}
		part++
		r.entry(Row{Key: key, No: no, Cells: row}, b, row)
	}
	if part == 0 {
		r.prose(no, row)
	}
}

// cells are those of a row that stand in the block's columns; a sheet with one
// list has all of them.
func (b block) cells(row []Cell) (cells []Cell) {
	for _, c := range b.columns {
		if c.No < len(row) {
			cells = append(cells, row[c.No])
		}
	}
	return cells
}

func at(row []Cell, c Column, ok bool) Cell {
	if !ok || c.No >= len(row) {
		return Cell{}
	}
	return row[c.No]
}

// entry reads one row of one list.
func (r *reader) entry(out Row, b block, row []Cell) {
	qtyAt, hasQty := b.find(Quantity)
	lengthAt, hasLength := b.find(Length)
	qty, length := at(row, qtyAt, hasQty), at(row, lengthAt, hasLength)
	feet, inches, fraction := r.parts(b, row)
	out.Product, out.Colour, out.Note = text(b, row, Product), text(b, row, Colour), text(b, row, Note)
	if out.Product == "" {
		out.Product = r.title
	}
	mark := markOf(text(b, row, Mark))
	measured := !length.blank() || !feet.blank() || !inches.blank() || !fraction.blank()
	switch {
	case r.total(row, qty, measured):
		r.pass(out, words.Say("a total"))
		return
	case !b.listed() && !qty.blank() && r.described(out, qty, qtyAt, row, mark):
		return
	case qty.blank() && !measured || !b.listed():
		r.prose(out.No, row)
		return
	case hasQty && noneWord.MatchString(qty.Text) && qty.Taken != Date && strings.Trim(qty.Text, "0.") == "":
		r.pass(out, words.Say("its quantity is 0"))
		return
	case !measured:
		if !countWord.MatchString(qty.Text) {
			r.prose(out.No, row)
			return
		}
		r.add(flag(out, 1, mark, ask("the length is missing")))
		return
	}
	if qty.blank() && !anyDigit.MatchString(length.Text+feet.Text+inches.Text+fraction.Text) && length.Taken != Date {
		r.prose(out.No, row)
		return
	}
	h, inCell := r.measured(b, length, lengthAt, feet, inches, fraction)
	n, counted := r.count(qty, hasQty, inCell)
	switch {
	case h.asked():
		r.add(flag(out, max(n, 1), mark, h))
	case counted.asked():
		counted.may = nil
		out = flag(out, 1, mark, counted)
		out.Choices = []Choice{{Line(1, h.length, mark)}}
		if n > 1 {
			out.Choices = append(out.Choices, Choice{Line(n, h.length, mark)})
		}
		r.add(out)
	case length.Spread || qty.Spread:
		out = flag(out, n, mark, ask("this is one cell for several rows of the sheet; is it meant for each of them?"))
		out.Choices = []Choice{{Line(n, h.length, mark)}}
		r.add(out)
	default:
		r.understood(out, n, mark, h, counted.check)
	}
}

// described reads a row whose length stands among the words of some column:
// 12' panel. It must be the only figure there.
func (r *reader) described(out Row, qty Cell, qtyAt Column, row []Cell, mark string) bool {
	length := ""
	for i, c := range row {
		if i == qtyAt.No || !inWords.MatchString(measure.Plain(c.Text)) {
			continue
		}
		s := measure.Plain(c.Text)
		found := inWords.FindAllString(s, -1)
		if length != "" || len(found) != 1 || anyDigit.MatchString(strings.Replace(s, found[0], "", 1)) {
			return false
		}
		length = found[0]
	}
	n, counted := r.count(qty, true, 0)
	if length == "" || counted.asked() {
		return false
	}
	h := r.a.length(Cell{Text: length}, Column{})
	if h.asked() {
		r.add(flag(out, n, mark, h))
		return true
	}
	r.understood(out, n, mark, h, words.Say("words around it were left aside"))
	return true
}

func (r *reader) understood(out Row, n int, mark string, h heard, also words.Text) {
	out.Status = Understood
	out.Item = order.CutItem{Qty: n, Length: h.length, Mark: mark, Typed: typed(out.Cells)}
	out.Check = h.check
	if also.Format != "" {
		out.Check = also
	}
	out.Sure = out.Check.Format == ""
	r.add(out)
}

// typed is the row in one line, to keep with the cut.
func typed(row []Cell) string {
	var kept []string
	for _, c := range row {
		if c.Text != "" {
			kept = append(kept, c.Text)
		}
	}
	s := strings.Join(kept, " | ")
	if len(s) > 120 {
		s = strings.ToValidUTF8(s[:120], "") + "…"
	}
	return s
}

func text(b block, row []Cell, role Role) string {
	c, ok := b.find(role)
	return at(row, c, ok).Text
}

// parts are the cells of a length in several columns.
func (r *reader) parts(b block, row []Cell) (feet, inches, fraction Cell) {
	f, okF := b.find(WholeFt)
	i, okI := b.find(Inches)
	p, okP := b.find(Fraction)
	return at(row, f, okF), at(row, i, okI), at(row, p, okP)
}

// measured reads the length of a row, from one cell or from feet and inches; a
// cell that holds the quantity too, as in 2 @ 12'6", gives it as n.
func (r *reader) measured(b block, c Cell, col Column, feet, inches, fraction Cell) (h heard, n int) {
	if c.blank() {
		part, _ := b.find(Fraction)
		return r.a.feetInches(feet, inches, fraction, part.Parts), 0
	}
	if c.Taken == Plain {
		if p, err := order.PartCut(measure.Plain(c.Text)); err == nil && p.Counted {
			c.Text, n = p.Length, p.Qty
		}
	}
	return r.a.length(c, col), n
}

// feetInches puts a length together that stands in several columns.
func (a Answers) feetInches(feet, inches, fraction Cell, parts int) heard {
	for _, c := range []Cell{feet, inches, fraction} {
		switch {
		case c.Taken == Date && c.Month > 0:
			return dated(c.Text, c.Month, c.Day)
		case c.Taken == Date || c.Taken == Unworked || unfit.MatchString(c.Text):
			return ask("the sheet shows an error here; write the length")
		}
	}
	ft := strings.TrimRight(strings.TrimSpace(measure.Plain(feet.Text)), "' ")
	in := strings.TrimRight(strings.TrimSpace(measure.Plain(inches.Text)), `" `)
	fr := strings.TrimRight(strings.TrimSpace(measure.Plain(fraction.Text)), `" `)
	if in == "-" || in == "" {
		in = "0"
	}
	if parts > 0 && whole.MatchString(fr) {
		fr += "/" + strconv.Itoa(parts)
	}
	total := measure.Length(0)
	if ft != "" && ft != "-" && ft != "0" {
		if !whole.MatchString(ft) {
			if in == "0" && fr == "" {
				return a.length(feet, Column{Unit: measure.Feet})
			}
			return ask("“%s” feet and “%s” inches: feet before inches must be a whole number", ft, in)
		}
		r, err := measure.Read(ft, measure.Feet)
		if err != nil {
			return ask("“%s” isn't a number of feet", ft)
		}
		total = r.Length
	}
	over := measure.Length(0)
	for _, s := range []string{in, fr} {
		if s == "" || s == "0" || s == "0/16" || s == "0/8" {
			continue
		}
		r, err := measure.Read(strings.Replace(s, ",", ".", 1), measure.Inches)
		if err != nil {
			return ask("“%s” isn't a number of inches", s)
		}
		over += r.Length
	}
	if total > 0 && over >= measure.Foot {
		h := ask("%d feet and %s inches: is that one length, or the same length twice?", int(total/measure.Foot), in)
		h.may = []measure.Length{total + over}
		if over >= total {
			h.may = append(h.may, over)
		}
		return h
	}
	l := total + over
	if l == 0 {
		return ask("the length is missing")
	}
	if h, odd := unlikely(l); odd {
		return h
	}
	return heard{length: l}
}

// count reads the quantity. inCell is one that stood with the length.
func (r *reader) count(qty Cell, has bool, inCell int) (int, heard) {
	if !has || qty.blank() && inCell > 0 {
		if inCell > 0 {
			return inCell, heard{}
		}
		if r.uncounted() {
			return 1, ask("how many pieces? Choose above which column has the quantity")
		}
		return 1, heard{check: words.Say("no quantity is given: one piece")}
	}
	if qty.blank() {
		return 1, ask("the quantity is missing; is it one piece?")
	}
	m := countWord.FindStringSubmatch(strings.TrimSpace(qty.Text))
	if qty.Taken == Date || qty.Taken == Unworked || m == nil {
		return 1, ask("“%s” isn't a quantity; how many pieces?", qty.Text)
	}
	n, err := strconv.Atoi(strings.ReplaceAll(m[1], ",", ""))
	if err != nil || n < 1 || n > order.MaxPieces {
		return 1, ask("“%s” isn't a quantity; how many pieces?", qty.Text)
	}
	if inCell > 0 && inCell != n {
		return n, ask("the quantity column says %d and the length says %d; how many pieces?", n, inCell)
	}
	return n, heard{}
}

// uncounted reports whether a list without a quantity has a column of small
// numbers that nobody named: it may be that one.
func (r *reader) uncounted() bool {
	if len(r.a.Roles) > 0 {
		return false
	}
	named := map[int]bool{}
	for _, c := range r.head {
		if c.Role != Skip || c.Heading != "" && c.maybe == Skip && known(c.Heading) {
			named[c.No] = true
		}
	}
	counts := map[int]int{}
	for _, row := range r.sheet.Rows {
		for i, c := range row {
			if !named[i] && c.Taken != Date && whole.MatchString(c.Text) && len(c.Text) <= 4 {
				counts[i]++
			}
		}
	}
	for _, n := range counts {
		if n >= 2 {
			return true
		}
	}
	return false
}

// known reports whether a heading is one that the list doesn't need.
func known(text string) bool {
	_, ok := heading(text)
	return ok && text != "#"
}

// total reports whether a row adds up those above it: it says so, or it has the
// sum in its quantity and no length.
func (r *reader) total(row []Cell, qty Cell, measured bool) bool {
	for _, c := range row {
		if totalWord.MatchString(c.Text) {
			return true
		}
	}
	n, err := strconv.Atoi(strings.TrimSpace(qty.Text))
	return err == nil && !measured && n == r.pieces && n > 1
}

// prose is a row that has nothing in the columns of the list: a title, a note,
// an address. One that may hold a length after all is asked about.
func (r *reader) prose(no int, row []Cell) {
	var all []string
	for _, c := range row {
		if c.Text != "" && !c.Spread {
			all = append(all, c.Text)
		}
	}
	s := strings.Join(all, " ")
	for _, c := range row {
		if c.Taken == Date && len(all) == 1 {
			r.add(flag(Row{Key: strconv.Itoa(no), No: no, Cells: row}, 1, "", dated(c.Text, c.Month, c.Day)))
			return
		}
	}
	if s == "" {
		return
	}
	r.line(no, row, s)
}
