package document

import (
	"ribdesk/internal/drawing"
)

// column is a column of a table. Its width is in millimetres; one column of 0
// takes what is left. A right column aligns figures, which are all of one width,
// on their last digit.
type column struct {
	title string
	width float64
	right bool
	size  float64 // of its text; 0 is the body's
	face  face    // zero is regular
}

// record is a row of a table: cells, or a group line over the rows that follow.
type record struct {
	cells  []string
	group  string // a line across instead of cells
	hex    string // swatch before the group line
	note   string // remark under the row
	strong bool
}

// gutter keeps a right column clear of the one after it.
const gutter = 4.0

// rightEdge is where the figures of a right column end.
func rightEdge(cols []column, i int, x float64) float64 {
	if i+1 == len(cols) {
		return x + cols[i].width - 0.5
	}
	return x + cols[i].width - gutter
}

// maxCellLines is how many lines of a cell stand in one strip; a longer text
// goes on in strips of its own, so that no row is taller than a page.
const maxCellLines = 24

// table sets a ruled table whose head is repeated on every page.
func (c *composer) table(cols []column, rows []record) {
	cols = c.widths(cols)
	c.under = nil
	head := c.add(6, func(y float64) {
		x := c.sheet.left
		c.line(x, y+0.3, c.sheet.width-c.sheet.right, y+0.3, cutEdge, drawing.Ink)
		for i, col := range cols {
			if col.right {
				c.small(rightEdge(cols, i, x)-c.width(narrow, labelSize, col.title), y+4.2, col.title)
			} else {
				c.small(x+0.5, y+4.2, col.title)
			}
			x += col.width
		}
		c.line(c.sheet.left, y+5.6, c.sheet.width-c.sheet.right, y+5.6, hairline, drawing.Ink)
	})
	head.keep = true
	top := *head
	c.under = []strip{top}
	for _, r := range rows {
		if r.group != "" {
			c.under = []strip{top} // a group line repeats the head, not the group before it
			c.under = []strip{top, c.groupRow(r)}
			continue
		}
		c.cellRows(cols, r)
	}
	c.under = nil
	c.add(1.5, func(y float64) {
		c.line(c.sheet.left, y, c.sheet.width-c.sheet.right, y, hairline, drawing.Ink)
	})
}

func (c *composer) widths(cols []column) []column {
	out := append([]column(nil), cols...)
	left, flex := c.sheet.inner(), -1
	for i, col := range out {
		left -= col.width
		if col.width == 0 {
			flex = i
		}
	}
	if flex >= 0 {
		out[flex].width = left
	}
	for i := range out {
		if out[i].size == 0 {
			out[i].size = bodySize
		}
		if out[i].face == (face{}) {
			out[i].face = regular
		}
	}
	return out
}

func (c *composer) groupRow(r record) strip {
	x := c.sheet.left
	lines := few(c.wrap(bold, bodySize, c.sheet.inner()-8, r.group), 6)
	row := c.add(float64(len(lines))*lineHigh(bodySize)+2, func(y float64) {
		at := x + 0.5
		if c.swatch(at, y+1.2, 3.2, r.hex) {
			at += 5
		}
		for i, l := range lines {
			c.say(at, y+1+base(bodySize)+float64(i)*lineHigh(bodySize), bold, bodySize, l)
		}
	})
	row.keep = true
	return *row
}

// cellRows adds one row as a strip, or several where a cell is very long.
func (c *composer) cellRows(cols []column, r record) {
	texts := make([][]string, len(cols))
	most := 1
	for i, col := range cols {
		if i < len(r.cells) {
			room := col.width - 1.5
			if col.right {
				room = rightEdge(cols, i, 0)
			}
			texts[i] = c.wrap(c.faceOf(col, r), col.size, room, r.cells[i])
			most = max(most, len(texts[i]))
		}
	}
	for from := 0; from < most; from += maxCellLines {
		part := make([][]string, len(cols))
		for i, lines := range texts {
			if from < len(lines) {
				part[i] = lines[from:min(from+maxCellLines, len(lines))]
			}
		}
		note := ""
		if from+maxCellLines >= most {
			note = r.note
		}
		c.cellStrip(cols, r, part, note)
	}
}

func (c *composer) faceOf(col column, r record) face {
	if r.strong {
		return bold
	}
	return col.face
}

func (c *composer) cellStrip(cols []column, r record, texts [][]string, note string) {
	const pad = 0.9
	high, first := 0.0, 0.0
	for i, col := range cols {
		high = max(high, float64(len(texts[i]))*lineHigh(col.size))
		if len(texts[i]) > 0 {
			first = max(first, base(col.size))
		}
	}
	var notes []string
	if note != "" {
		notes = few(c.wrap(regular, bodySize, c.sheet.inner()-cols[0].width-2, note), 12)
	}
	text := high
	high += float64(len(notes))*lineHigh(bodySize) + 2*pad
	c.add(high, func(y float64) {
		x := c.sheet.left
		for i, col := range cols {
			for j, s := range texts[i] {
				at := y + pad + first + float64(j)*lineHigh(col.size)
				if col.right {
					c.sayRight(rightEdge(cols, i, x), at, c.faceOf(col, r), col.size, s)
				} else {
					c.say(x+0.5, at, c.faceOf(col, r), col.size, s)
				}
			}
			x += col.width
		}
		for j, s := range notes {
			c.tone(regular, bodySize, drawing.Second, c.sheet.left+cols[0].width+0.5, y+pad+text+base(bodySize)+float64(j)*lineHigh(bodySize), s)
		}
		c.rule(c.sheet.left, c.sheet.width-c.sheet.right, y+high)
	})
}
