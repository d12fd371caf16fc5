package document

import (
	"strings"

	"ribdesk/internal/drawing"
	"ribdesk/internal/measure"
	"ribdesk/internal/words"
)

// The sheet in millimetres: a frame all round, text inside it, and at the foot
// the strip with the code, the shop and the title block.
const (
	frameEdge  = 7.0
	sideMargin = 13.0
	topMargin  = 12.0
	footHigh   = 27.0
	footGap    = 2.5
	blockWide  = 112.0 // of the title block
)

// size gives the sheet a paper is printed on.
func (h *Head) size() sheetSize {
	s := sheetSize{width: 215.9, height: 279.4, left: sideMargin, top: topMargin, right: sideMargin, bottom: frameEdge}
	if h.Paper == A4 {
		s.width, s.height = 210, 297
	}
	return s
}

// composer gathers the strips of one paper.
type composer struct {
	*press
	head   *Head
	thing  string // what the paper is, in its language
	strips []strip
	under  []strip // table head and group line that the strips to come repeat
	whole  bool    // strips are whole sheets without foot or frame, as labels are
	// noGoods marks a paper that moves no goods; it names no place of delivery.
	noGoods bool
	err     error
}

// printed makes the PDF of a checked paper.
func printed(d Document) ([]byte, error) {
	h := d.head()
	thing := words.Reader{Language: h.Language}.T(string(things[d.Kind()]))
	p, err := newPress(d.size(), clean(thing+" "+h.Number), h)
	if err != nil {
		return nil, err
	}
	c := &composer{press: p, head: h, thing: thing}
	d.compose(c)
	if c.err != nil {
		return nil, c.err
	}
	if c.whole {
		for _, s := range c.strips {
			p.page([]strip{s})
		}
		return p.finish(h.Language)
	}
	square, err := qrCode(h.link())
	if err != nil {
		return nil, err
	}
	pages := paginate(c.strips, p.sheet.high()-footHigh-footGap, c.continued())
	for i, strips := range pages {
		used := 0.0
		for _, s := range strips {
			used += s.high
		}
		gap := strip{high: p.sheet.high() - footHigh - used - 0.01, draw: func(float64) {}}
		foot := strip{high: footHigh, draw: func(y float64) {
			c.frame(frameEdge, frameEdge, p.sheet.width-2*frameEdge, p.sheet.height-2*frameEdge, cutEdge)
			c.square(square, frameEdge+1.5, y+1.5, footHigh-3)
			c.footText(frameEdge+footHigh+1, y)
			c.titleBlock(y, i+1, len(pages))
		}}
		p.page(append(append(strips[:len(strips):len(strips)], gap), foot))
	}
	return p.finish(h.Language)
}

// paginate lays strips on pages of a capacity. A strip that is kept goes with
// the one after it, a page that begins inside a table begins with its head, and
// every page but the first with the strip continued. Nothing is split; a chain
// of kept strips too high for a page breaks where it must.
func paginate(strips []strip, capacity float64, continued strip) [][]strip {
	var pages [][]strip
	var page []strip
	used := 0.0
	put := func(s strip) { page, used = append(page, s), used+s.high }
	fresh := true
	for i, s := range strips {
		chain := s.high
		for j := i; strips[j].keep && j+1 < len(strips); j++ {
			chain += strips[j+1].high
		}
		// Only the first of a chain may ask for the whole chain's room.
		need := s.high
		if (i == 0 || !strips[i-1].keep) && chain <= capacity {
			need = chain
		}
		if used+need > capacity && !fresh {
			pages, page, used = append(pages, page), nil, 0
			put(continued)
			for _, head := range s.head {
				put(head)
			}
		}
		put(s)
		fresh = false
	}
	return append(pages, page)
}

// continued names the paper on top of its further pages.
func (c *composer) continued() strip {
	return strip{high: 9, draw: func(y float64) {
		s := c.thing + " " + c.head.Number + ", " + c.t(wContinued)
		c.say(c.sheet.left, y+base(bodySize), bold, bodySize, s)
		c.sayRight(c.sheet.width-c.sheet.right, y+base(bodySize), regular, bodySize, c.head.Seller.Name)
		c.line(c.sheet.left, y+6, c.sheet.width-c.sheet.right, y+6, hairline, drawing.Ink)
	}}
}

// footText stands between the square code and the title block.
func (c *composer) footText(x, y float64) {
	w := c.sheet.width - frameEdge - blockWide - x - 3
	lines := []string{c.head.Seller.Name, c.head.Seller.Phone, c.head.code(), c.t(wCalculated)}
	at := y + 3.5
	for i, s := range lines {
		f, size := regular, 8.0
		if i == 0 {
			f = bold
		}
		if s == "" {
			continue
		}
		for _, l := range c.wrap(f, size, w, s) {
			at += lineHigh(size)
			if at > y+footHigh-1 {
				return
			}
			c.say(x, at, f, size, l)
		}
	}
}

// titleBlock says what the sheet is: thing and number, revision, state, date,
// by whom, sheet n of m.
func (c *composer) titleBlock(y float64, n, m int) {
	h := c.head
	x := c.sheet.width - frameEdge - blockWide
	right := x + blockWide
	const first, row = 11.0, 8.0
	c.line(frameEdge, y, right, y, cutEdge, drawing.Ink)
	c.line(x, y, x, y+footHigh, cutEdge, drawing.Ink)
	c.line(x, y+first, right, y+first, hairline, drawing.Ink)
	c.line(x, y+first+row, right, y+first+row, hairline, drawing.Ink)

	c.boxed(x, y, blockWide-18, first, c.thing, h.Number, 16)
	c.line(right-18, y, right-18, y+first, hairline, drawing.Ink)
	c.boxed(right-18, y, 18, first, c.t(wRevision), itoa(h.Revision), 16)

	half := blockWide / 2
	c.line(x+half, y+first, x+half, y+footHigh, hairline, drawing.Ink)
	c.boxed(x, y+first, half, row, c.t(wState), h.State, 10)
	c.boxed(x+half, y+first, half, row, c.t(wDate), c.date(h.Issued), 10)
	c.boxed(x, y+first+row, half, row, c.t(wBy), h.By, 10)
	c.boxed(x+half, y+first+row, half, row, c.t(wSheet), itoa(n)+" "+c.t(wOf)+" "+itoa(m), 10)
}

// boxed sets a small name over a value that shrinks to fit.
func (c *composer) boxed(x, y, w, h float64, name, value string, size float64) {
	c.small(x+1.5, y+3, name)
	size, value = c.fitting(bold, size, 7, w-3, value)
	c.say(x+1.5, y+h-1.7-0.08*size*point, bold, size, value)
}

// t gives a word in the paper's language.
func (c *composer) t(w word) string { return c.reader().T(string(w)) }

func (c *composer) reader() words.Reader { return words.Reader{Language: c.head.Language} }

// length writes a length the way the customer reads lengths: with real
// fractions where it is a whole number of sixteenths.
func (c *composer) length(l measure.Length) string {
	switch s := c.head.Style; {
	case s != "" && s != measure.StyleFeetInches:
		return l.Format(s)
	case l%measure.Sixteenth == 0:
		return l.Pretty()
	case l%measure.SixtyFourth == 0:
		return l.FeetInches(64)
	}
	return l.Format(measure.StyleInches)
}

// across writes a width or girth; a width of nothing is left blank.
func (c *composer) across(l measure.Length) string {
	if l == 0 {
		return ""
	}
	return l.Across().InUnits(string(c.head.Style))
}

// lengthOrNone leaves a length of nothing blank.
func (c *composer) lengthOrNone(l measure.Length) string {
	if l == 0 {
		return ""
	}
	return c.length(l)
}

// add appends a strip of a height.
func (c *composer) add(high float64, draw func(y float64)) *strip {
	c.strips = append(c.strips, strip{high: high, draw: draw, head: c.under})
	return &c.strips[len(c.strips)-1]
}

func (c *composer) space(high float64) { c.add(high, func(float64) {}) }

// join writes the parts that aren't empty with a separator.
func join(sep string, parts ...string) string {
	kept := parts[:0:0]
	for _, s := range parts {
		if s != "" {
			kept = append(kept, s)
		}
	}
	return strings.Join(kept, sep)
}
