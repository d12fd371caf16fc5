package web

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"html"
	"html/template"
	"io/fs"

	"ribdesk/internal/fault"
	"ribdesk/internal/words"
)

// chapter is one page of the guide: one task of one kind of reader. Its text is
// a fragment in templates/guide, in a folder for each language it is read in.
type chapter struct{ Code, Title string }

// customerChapters are for customers and visitors, in both languages; those for
// the shop are shopChapters.
var customerChapters = []chapter{
	{"price", "Ask for a price in a minute"},
	{"list", "Bring a cut list as you have it"},
	{"roof", "Take off a roof"},
	{"trim", "Draw a trim"},
	{"quote", "Read a quote and accept it"},
	{"order", "After the order: track, change, pick up"},
}

// guidePage is the contents of the guide.
type guidePage struct {
	Base
	Customers, Shop []chapter
}

func (guidePage) file() string { return "guide" }

// chapterPage is one chapter, with the one after it.
type chapterPage struct {
	Base
	Text template.HTML
	Next *chapter
}

func (chapterPage) file() string { return "chapter" }

// chapters gives what the person reads of the guide.
func (v *visit) chapters() (customers, shop []chapter) {
	if v.actor.Role.Staff() {
		return customerChapters, shopChapters
	}
	return customerChapters, nil
}

func showGuide(v *visit) error {
	p := &guidePage{Base: Base{Title: "Guide"}}
	p.Customers, p.Shop = v.chapters()
	return v.show(p)
}

func showChapter(v *visit) error {
	customers, shop := v.chapters()
	for _, list := range [][]chapter{customers, shop} {
		for i, c := range list {
			if c.Code != v.c.Param("chapter") {
				continue
			}
			p := &chapterPage{Base: Base{Title: c.Title, Block: Block{Thing: "Guide"}}}
			if i+1 < len(list) {
				p.Next = &list[i+1]
			}
			var err error
			if p.Text, err = v.s.pages.chapter(c.Code, v.reader.Language, v.s.assets); err != nil {
				return err
			}
			return v.show(p)
		}
	}
	return fault.NotFoundf("there is nothing at this address")
}

// chapter gives the text of a chapter. In it {{t "Get this quote"}} names a
// thing of the pages as they do, and {{picture "slip" "what it shows"}} puts in
// a picture that 'make guide' took.
func (p *pages) chapter(code string, in words.Language, a *assets) (template.HTML, error) {
	if in != words.Spanish {
		in = words.English
	}
	name := code + ".html"
	set, err := template.New(name).Funcs(template.FuncMap{
		"t":       readWith(words.Reader{Language: in}),
		"picture": func(name, alt string) (template.HTML, error) { return a.picture(name+"-"+string(in), alt) },
	}).ParseFS(p.files, "guide/"+string(in)+"/"+name)
	if err != nil {
		return "", fmt.Errorf("guide: %w", err)
	}
	var b bytes.Buffer
	if err := set.Execute(&b, nil); err != nil {
		return "", fmt.Errorf("guide: %w", err)
	}
	return template.HTML(b.String()), nil
}

// picture gives the element that shows a picture of the guide, with its size, so
// that nothing moves when it comes.
func (a *assets) picture(name, alt string) (template.HTML, error) {
	file := "guide/" + name + ".webp"
	body, err := fs.ReadFile(a.files, file)
	if err != nil {
		return "", err
	}
	width, height, err := sizeOfWebP(body)
	if err != nil {
		return "", fmt.Errorf("%s: %w", file, err)
	}
	return template.HTML(fmt.Sprintf(`<figure><img src="%s" width="%d" height="%d" alt="%s" loading="lazy" decoding="async"></figure>`,
		a.url(file), width, height, html.EscapeString(alt))), nil
}

// sizeOfWebP reads the size of a picture from its head, in the two forms that
// browsers write: a plain lossy file and an extended one (RFC 9649, 2.5 and 2.7;
// the plain one's head is that of a key frame, RFC 6386, 9.1).
func sizeOfWebP(body []byte) (width, height int, err error) {
	if len(body) < 30 || string(body[:4]) != "RIFF" {
		return 0, 0, fmt.Errorf("not a WebP picture")
	}
	switch string(body[8:16]) {
	case "WEBPVP8 ":
		const sides = 1<<14 - 1 // the upper two bits scale
		return int(binary.LittleEndian.Uint16(body[26:]) & sides), int(binary.LittleEndian.Uint16(body[28:]) & sides), nil
	case "WEBPVP8X":
		side := func(at []byte) int { return 1 + int(at[0]) + int(at[1])<<8 + int(at[2])<<16 }
		return side(body[24:]), side(body[27:]), nil
	}
	return 0, 0, fmt.Errorf("a WebP picture of another form")
}
