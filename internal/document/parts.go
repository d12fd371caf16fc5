package document

import (
	"ribdesk/internal/caution"
	"ribdesk/internal/drawing"
	"ribdesk/internal/party"
)

// fact is a named value.
type fact struct{ name, value string }

// masthead opens the paper: the shop, what this is, and three columns with the
// customer, the place, and the facts.
func (c *composer) masthead(facts ...fact) {
	h := c.head
	left, right := c.sheet.left, c.sheet.width-c.sheet.right
	lines := c.firmLines(h.Seller)
	for i, s := range lines {
		_, lines[i] = c.fitting(regular, bodySize, bodySize, right-left-76, s)
	}
	high := max(8+lineHigh(bodySize)*float64(len(lines)), 19) + 2
	c.add(high, func(y float64) {
		size, name := c.fitting(bold, 16, 10, 112, h.Seller.Name)
		c.say(left, y+5.6, bold, size, name)
		for i, s := range lines {
			c.say(left, y+8+base(bodySize)+float64(i)*lineHigh(bodySize), regular, bodySize, s)
		}
		size, thing := c.fitting(bold, 22, 12, 74, c.thing)
		c.sayRight(right, y+7, bold, size, thing)
		size, number := c.fitting(regular, 15, 9, 74, h.Number)
		c.sayRight(right, y+14, regular, size, number)
		c.line(left, y+high-1, right, y+high-1, cutEdge, drawing.Ink)
	})
	place := columnText{c.t(wShipTo), c.placeBlock(h.ShipTo)}
	if c.noGoods && h.ShipTo == (Place{}) {
		place = columnText{}
	}
	c.columns([]columnText{
		{c.t(wCustomer), c.firmBlock(h.Customer)},
		place,
		{"", c.factBlock(append([]fact{{c.t(wJob), h.Job}, {c.t(wPO), h.PO}}, facts...))},
	})
}

// styled is a line of text with its look; a name makes it a pair.
type styled struct {
	name, text string
	face       face
}

type columnText struct {
	title string
	lines []styled
}

// columns sets blocks side by side with hairlines between.
func (c *composer) columns(cols []columnText) {
	left, right := c.sheet.left, c.sheet.width-c.sheet.right
	w := (right - left) / float64(len(cols))
	most := 0
	for i := range cols {
		cols[i].lines = c.wrapStyled(cols[i].lines, w-6)
		n := len(cols[i].lines)
		if cols[i].title != "" {
			n++
		}
		most = max(most, n)
	}
	high := float64(most)*lineHigh(bodySize) + 3
	c.add(high+2, func(y float64) {
		for i, col := range cols {
			x := left + w*float64(i)
			if i > 0 {
				c.line(x-3, y, x-3, y+high-1, hairline, drawing.Rule)
			}
			at := y + base(bodySize)
			if col.title != "" {
				c.small(x, at, col.title)
				at += lineHigh(bodySize)
			}
			for _, l := range col.lines {
				if l.name != "" {
					c.small(x, at, l.name)
				}
				tx := x
				if l.name != "" || l.text != "" && l.face == (face{}) {
					tx = x + nameWide
				}
				f := l.face
				if f == (face{}) {
					f = bold
				}
				c.say(tx, at, f, bodySize, l.text)
				at += lineHigh(bodySize)
			}
		}
		c.line(left, y+high, right, y+high, hairline, drawing.Ink)
	})
}

const nameWide = 24.0 // of the names in a block of facts

func (c *composer) wrapStyled(lines []styled, w float64) []styled {
	var out []styled
	for _, l := range lines {
		room, f := w, l.face
		if f == (face{}) {
			room, f = w-nameWide, bold
		}
		for i, s := range few(c.wrap(f, bodySize, room, l.text), 5) {
			next := styled{text: s, face: l.face}
			if i == 0 {
				next.name = l.name
			}
			out = append(out, next)
		}
	}
	return out
}

func (c *composer) factBlock(facts []fact) []styled {
	var lines []styled
	for _, f := range facts {
		if f.value != "" {
			lines = append(lines, styled{name: f.name, text: f.value})
		}
	}
	return lines
}

func (c *composer) firmLines(f Firm) []string {
	var lines []string
	for _, s := range []string{
		f.Address.Line(), join("  ·  ", f.Phone, f.Email),
		join("  ·  ", named(c.t(wRegistration), f.Registration), named(c.t(wTaxNumber), f.TaxNumber)),
	} {
		if s != "" {
			lines = append(lines, s)
		}
	}
	return lines
}

func named(name, value string) string {
	if value == "" {
		return ""
	}
	return name + " " + value
}

func (c *composer) firmBlock(f Firm) []styled {
	lines := []styled{{text: f.Name, face: bold}}
	return append(lines, plain(append([]string{f.Contact}, append(addressLines(f.Address), f.Phone, f.Email, named(c.t(wTaxNumber), f.TaxNumber))...)...)...)
}

func (c *composer) placeBlock(p Place) []styled {
	if p == (Place{}) {
		return []styled{{text: c.t(wPickUp), face: regular}}
	}
	var lines []styled
	if p.Name != "" {
		lines = append(lines, styled{text: p.Name, face: bold})
	}
	return append(lines, plain(append(addressLines(p.Address), join("  ·  ", p.Contact, p.Phone))...)...)
}

func plain(texts ...string) []styled {
	var lines []styled
	for _, s := range texts {
		if s != "" {
			lines = append(lines, styled{text: s, face: regular})
		}
	}
	return lines
}

func addressLines(a party.Address) []string {
	town := a
	town.Street = ""
	return []string{a.Street, town.Line()}
}

// title opens a part of the paper; it stays with what follows.
func (c *composer) title(s string) {
	c.under = nil
	c.space(2)
	c.add(5.8, func(y float64) {
		c.say(c.sheet.left, y+4, bold, 10.5, s)
	}).keep = true
}

// paragraphs sets texts one under the other, each line a strip, so that long
// text breaks between lines and never gets lost.
func (c *composer) paragraphs(size float64, texts ...string) {
	w := c.sheet.inner()
	for _, text := range texts {
		lines := c.wrap(regular, size, w-4, text)
		for i, l := range lines {
			first := i == 0
			high := lineHigh(size)
			if i == len(lines)-1 {
				high += 0.8
			}
			// A text of a few lines stays whole; the first two lines of a longer
			// one stay together.
			keep := i+1 < len(lines) && (len(lines) <= 4 || first)
			c.add(high, func(y float64) {
				if first {
					c.line(c.sheet.left+0.2, y+base(size)-0.3*size*point, c.sheet.left+2.2, y+base(size)-0.3*size*point, 0.35, drawing.Ink)
				}
				c.say(c.sheet.left+4, y+base(size), regular, size, l)
			}).keep = keep
		}
	}
}

// cautions prints the cautions of a sort of paper.
func (c *composer) cautions(paper caution.Paper) {
	c.title(c.t(wCautions))
	var texts []string
	for _, w := range caution.For(paper, c.head.Language) {
		texts = append(texts, w.Title+": "+w.Text)
	}
	c.paragraphs(bodySize, texts...)
}

// drawn draws what is made, if anything is.
func (c *composer) drawn(views []drawing.Section) {
	if len(views) == 0 {
		return
	}
	c.title(c.t(wDrawn))
	c.sections(views)
}

// slits draws how widths are slit, one below the other.
func (c *composer) slits(views []drawing.SlitPattern) {
	if len(views) == 0 {
		return
	}
	c.title(c.t(wSlit))
	w := c.sheet.inner()
	for _, v := range views {
		p := v.Picture()
		high := w * p.Height / p.Width
		c.add(high+7, func(y float64) {
			c.say(c.sheet.left, y+base(bodySize), bold, bodySize, v.Title)
			c.picture(p, c.sheet.left, y+5, w, high)
		})
	}
}

// sections draws cross-sections, two to a row.
func (c *composer) sections(views []drawing.Section) {
	const gap = 6.0
	w := (c.sheet.inner() - gap) / 2
	for i := 0; i < len(views); i += 2 {
		pair := views[i:min(i+2, len(views))]
		high := 0.0
		for _, v := range pair {
			p := v.Picture()
			high = max(high, w*p.Height/p.Width)
		}
		c.add(high+8, func(y float64) {
			for j, v := range pair {
				x := c.sheet.left + float64(j)*(w+gap)
				c.say(x, y+base(bodySize), bold, bodySize, v.Title)
				c.frame(x, y+5, w, high+1, hairline)
				c.picture(v.Picture(), x+0.5, y+5.5, w-1, high)
			}
		})
	}
}

// blanks sets ruled blanks to be filled in by hand, side by side; a value that
// is known already is printed on its line.
func (c *composer) blanks(fields ...fact) {
	w := c.sheet.inner() / float64(len(fields))
	c.add(12.5, func(y float64) {
		for i, f := range fields {
			x := c.sheet.left + w*float64(i)
			c.line(x, y+8.5, x+w-4, y+8.5, hairline, drawing.Ink)
			size, value := c.fitting(bold, 10, 7, w-5, f.value)
			c.say(x+0.5, y+7.4, bold, size, value)
			c.small(x, y+11.8, f.name)
		}
	})
}

// ticks sets named boxes to tick, all on one page.
func (c *composer) ticks(names ...string) {
	for n, name := range names {
		lines := few(c.wrap(regular, bodySize, c.sheet.inner()-8, name), 8)
		c.add(float64(len(lines))*lineHigh(bodySize)+1.6, func(y float64) {
			c.frame(c.sheet.left, y+0.4, 3.4, 3.4, 0.3)
			for i, l := range lines {
				c.say(c.sheet.left+6, y+base(bodySize)+float64(i)*lineHigh(bodySize), regular, bodySize, l)
			}
		}).keep = n+1 < len(names)
	}
}

// sum is a line of the reckoning at the right.
type sum struct {
	name, figure string
	strong       bool
}

// sums sets a reckoning at the right: names, figures under each other, a rule
// over what is strong. The figures stay together.
func (c *composer) sums(rows ...sum) {
	right := c.sheet.width - c.sheet.right
	const wide, figureWide = 122.0, 34.0
	for i, r := range rows {
		size := 10.0
		f := regular
		if r.strong {
			f, size = bold, 13
		}
		lines := few(c.wrap(f, min(size, 10), wide-figureWide, r.name), 8)
		high := max(lineHigh(size), float64(len(lines))*lineHigh(min(size, 10))) + 0.8
		s := c.add(high, func(y float64) {
			if r.strong {
				c.line(right-wide, y, right, y, hairline, drawing.Ink)
			}
			for j, l := range lines {
				c.say(right-wide, y+0.4+base(size)+float64(j)*lineHigh(10), f, min(size, 10), l)
			}
			c.sayRight(right, y+0.4+base(size), f, size, r.figure)
		})
		s.keep = i+1 < len(rows)
	}
}
