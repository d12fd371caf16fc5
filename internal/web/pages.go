package web

import (
	"bytes"
	"fmt"
	"html/template"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"
	"sync"

	"ribdesk/internal/desk"
	"ribdesk/internal/words"
	"ribdesk/templates"
)

// pages holds one set of templates for each page and language: the layout, the
// shared parts and the page's own file.
type pages struct {
	files fs.FS
	asset func(string) string
	dev   bool

	mu     sync.Mutex
	sets   map[setOf]*template.Template
	frames map[words.Language]*template.Template // the layout and the shared parts
}

// setOf names a set: English ones are there from the start, others from when
// they are first asked for.
type setOf struct {
	page     string
	language words.Language
}

// newPages parses every page now, so that a slip in a template stops the start.
func newPages(o Options, a *assets) (*pages, error) {
	p := &pages{files: templates.FS, asset: a.url, dev: o.Dev, sets: map[setOf]*template.Template{}, frames: map[words.Language]*template.Template{}}
	if o.Dev {
		p.files = os.DirFS(filepath.Join(o.Root, "templates"))
	}
	names, err := fs.Glob(p.files, "pages/*.html")
	if err != nil {
		return nil, err
	}
	for _, name := range names {
		if _, err := p.set(setOf{strings.TrimSuffix(path.Base(name), ".html"), words.English}); err != nil {
			return nil, err
		}
	}
	return p, nil
}

// set gives the templates of a page. In them {{t "text" figures…}} is the text
// in the reader's language, and {{tn count "one" "many" figures…}} one that
// counts.
func (p *pages) set(of setOf) (*template.Template, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if set := p.sets[of]; set != nil && !p.dev {
		return set, nil
	}
	frame, err := p.frame(of.language)
	if err != nil {
		return nil, err
	}
	set, err := frame.ParseFS(p.files, "pages/"+of.page+".html")
	if err != nil {
		return nil, fmt.Errorf("page %s: %w", of.page, err)
	}
	p.sets[of] = set
	return set, nil
}

// frame gives what all pages share in a language, to put a page into.
func (p *pages) frame(language words.Language) (frame *template.Template, err error) {
	frame = p.frames[language]
	if frame == nil || p.dev {
		reader := words.Reader{Language: language}
		frame, err = template.New("page").Funcs(template.FuncMap{"asset": p.asset, "t": readWith(reader), "tn": reader.N, "charge": func(s string) string { return desk.ChargeName(s, reader) }, "unit": func(s string) string { return desk.UnitName(s, reader) }}).Option("missingkey=error").
			ParseFS(p.files, "layout.html", "shared/*.html")
		if err != nil {
			return nil, fmt.Errorf("what pages share: %w", err)
		}
		p.frames[language] = frame
	}
	return frame.Clone()
}

// readWith reads a text that the template names, with its figures, or whatever
// it is given.
func readWith(r words.Reader) func(any, ...any) string {
	return func(v any, args ...any) string {
		if text, ok := v.(string); ok {
			return r.T(text, args...)
		}
		return r.Read(v)
	}
}

// render makes a page in memory; or, where a script asks for it, one part of it:
// a template of the page's own whose name starts with "part-".
func (p *pages) render(of page, part string, in words.Language) ([]byte, error) {
	name := of.file()
	set, err := p.set(setOf{name, in})
	if err != nil {
		return nil, err
	}
	which := "layout.html"
	if strings.HasPrefix(part, "part-") && set.Lookup(part) != nil {
		which = part
	}
	var b bytes.Buffer
	if err := set.ExecuteTemplate(&b, which, of); err != nil {
		return nil, fmt.Errorf("page %s: %w", name, err)
	}
	return b.Bytes(), nil
}
