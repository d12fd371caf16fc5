package drawing

import (
	"html/template"
	"math"
	"strconv"
	"strings"
)

// SVG gives the picture as markup for a page. It holds no style attribute, no
// script and no reference to anything outside, so it passes a policy of
// default-src 'self'. Colours stand as presentation attributes beside the
// classes stroke-ROLE and fill-ROLE, which a style sheet can override under
// .drawing; text takes the page's font. With an ID the title and description
// are tied to the picture by ids that begin with it.
func (p Picture) SVG() template.HTML {
	w := &svg{}
	w.add(`<svg xmlns="http://www.w3.org/2000/svg" class="drawing" role="img" viewBox="0 0 `,
		number(p.Width), " ", number(p.Height), `" width="`, number(p.Width), `" height="`, number(p.Height), `"`)
	id := escape(p.ID)
	if id != "" {
		w.add(` aria-labelledby="`, id, `-title" aria-describedby="`, id, `-desc"><title id="`, id, `-title">`,
			escape(p.Title), `</title><desc id="`, id, `-desc">`, escape(p.Desc), `</desc>`)
	} else {
		w.add(`><title>`, escape(p.Title), `</title><desc>`, escape(p.Desc), `</desc>`)
	}
	w.add("\n")
	p.Paint(w)
	w.add("</svg>\n")
	return template.HTML(w.b.String()) // every text in it went through escape
}

type svg struct{ b strings.Builder }

func (w *svg) add(parts ...string) {
	for _, s := range parts {
		w.b.WriteString(s)
	}
}

// Path writes lines and surfaces.
func (w *svg) Path(s Path) {
	w.add(`<path d="`)
	for _, run := range s.Runs {
		for i, p := range run {
			if i == 0 {
				w.add("M")
			} else {
				w.add("L")
			}
			w.add(number(p.X), " ", number(p.Y))
		}
		if s.Closed {
			w.add("Z")
		}
	}
	w.add(`"`)
	w.surface(s.Pen, s.Fill, "path")
}

// Circle writes a circle.
func (w *svg) Circle(s Circle) {
	w.add(`<circle cx="`, number(s.Centre.X), `" cy="`, number(s.Centre.Y), `" r="`, number(s.R), `"`)
	w.surface(s.Pen, s.Fill, "circle")
}

// Text writes one line of words.
func (w *svg) Text(s Text) {
	w.add(`<text x="`, number(s.At.X), `" y="`, number(s.At.Y), `" font-size="`, number(s.Size), `"`)
	if s.Anchor != Start {
		w.add(` text-anchor="`, string(s.Anchor), `"`)
	}
	if s.Bold {
		w.add(` font-weight="700"`)
	}
	if s.Turn != 0 {
		w.add(` transform="rotate(`, number(s.Turn), " ", number(s.At.X), " ", number(s.At.Y), `)"`)
	}
	w.add(` class="fill-`, string(s.Role), `" fill="`, s.Role.Colour(), `">`, escape(s.String), "</text>\n")
}

// surface writes pen and fill, and closes the element.
func (w *svg) surface(pen Pen, fill Fill, element string) {
	var classes []string
	if pen.Role != None {
		classes = append(classes, "stroke-"+string(pen.Role))
		w.add(` stroke="`, pen.Role.Colour(), `"`)
		if pen.Width != 1 {
			w.add(` stroke-width="`, number(pen.Width), `"`)
		}
		if pen.Dashed {
			w.add(` stroke-dasharray="5 3"`)
		}
	}
	colour := fill.Colour()
	switch {
	case colour == "":
		colour = "none"
	case fill.Role != None:
		classes = append(classes, "fill-"+string(fill.Role))
	default:
		classes = append(classes, "swatch")
	}
	w.add(` fill="`, colour, `"`)
	if len(classes) > 0 {
		w.add(` class="`, strings.Join(classes, " "), `"`)
	}
	if fill.Name != "" {
		w.add("><title>", escape(fill.Name), "</title></", element, ">\n")
		return
	}
	w.add("/>\n")
}

// number writes a coordinate to a hundredth, which is finer than any screen.
func number(f float64) string {
	if math.IsNaN(f) || math.IsInf(f, 0) {
		return "0"
	}
	s := strconv.FormatFloat(math.Round(f*100)/100, 'f', -1, 64)
	if s == "-0" {
		return "0"
	}
	return s
}

var marks = strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;", `"`, "&#34;", "'", "&#39;")

// escape makes text safe in markup and drops what XML can't hold.
func escape(s string) string {
	s = strings.Map(func(r rune) rune {
		switch {
		case r == '\t' || r == '\n' || r == '\r':
			return ' '
		case r < 0x20 || r == 0xFFFE || r == 0xFFFF || r == 0xFFFD:
			return -1
		}
		return r
	}, s)
	return marks.Replace(s)
}
