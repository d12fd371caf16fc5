package document

import (
	"bytes"
	"image/color"
	"image/png"

	"ribdesk/internal/drawing"
)

// The most that a signature's picture may measure; a larger one isn't drawn.
const (
	mostSignatureSide = 3000
	signatureHigh     = 16.0 // mm on the paper
)

// inkRun is a row's stretch of dark pixels.
type inkRun struct{ x, y, n int }

// scrawl is a drawn signature as the dark stretches of its rows, cut to what was
// drawn. As rectangles it prints sharp, and the paper's bytes are the same each
// time it is made.
type scrawl struct {
	wide, high int
	runs       []inkRun
}

// readScrawl reads a PNG; nothing drawn, or no picture that can be read, gives a
// scrawl without runs.
func readScrawl(picture []byte) scrawl {
	size, err := png.DecodeConfig(bytes.NewReader(picture))
	if err != nil || size.Width > mostSignatureSide || size.Height > mostSignatureSide {
		return scrawl{}
	}
	img, err := png.Decode(bytes.NewReader(picture))
	if err != nil {
		return scrawl{}
	}
	var runs []inkRun
	b := img.Bounds()
	left, top, right, bottom := b.Max.X, b.Max.Y, b.Min.X, b.Min.Y
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			if !inked(img.At(x, y)) {
				continue
			}
			from := x
			for x < b.Max.X && inked(img.At(x, y)) {
				x++
			}
			runs = append(runs, inkRun{from, y, x - from})
			left, top, right, bottom = min(left, from), min(top, y), max(right, x), max(bottom, y+1)
		}
	}
	for i := range runs {
		runs[i].x -= left
		runs[i].y -= top
	}
	return scrawl{max(0, right-left), max(0, bottom-top), runs}
}

// inked reports ink: on a page without ground as on a white one.
func inked(c color.Color) bool {
	n := color.NRGBAModel.Convert(c).(color.NRGBA)
	light := (299*int(n.R) + 587*int(n.G) + 114*int(n.B)) / 1000
	return (light*int(n.A)+255*(255-int(n.A)))/255 < 128
}

// scrawl draws a signature into a box, standing on its foot, as large as fits.
func (p *press) scrawl(s scrawl, x, y, w, h float64) {
	if len(s.runs) == 0 {
		return
	}
	scale := min(w/float64(s.wide), h/float64(s.high))
	top := y + h - scale*float64(s.high)
	for _, r := range s.runs {
		p.block(x+scale*float64(r.x), top+scale*float64(r.y), scale*float64(r.n), scale, drawing.Ink.Colour())
	}
}

// signedBy sets name, drawn signature and time over their lines.
func (c *composer) signedBy(name, signature, when fact, s scrawl) {
	if len(s.runs) == 0 {
		c.blanks(name, signature, when)
		return
	}
	w := c.sheet.inner() / 3
	c.add(signatureHigh+4.5, func(y float64) {
		foot := y + signatureHigh + 0.5
		for i, f := range []fact{name, {signature.name, ""}, when} {
			x := c.sheet.left + w*float64(i)
			c.line(x, foot, x+w-4, foot, hairline, drawing.Ink)
			size, value := c.fitting(bold, 10, 7, w-5, f.value)
			c.say(x+0.5, foot-1.1, bold, size, value)
			c.small(x, foot+3.3, f.name)
		}
		c.scrawl(s, c.sheet.left+w+2, y, w-8, signatureHigh-0.5)
	})
}
