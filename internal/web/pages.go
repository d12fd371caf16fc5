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

	"ribdesk/templates"
)

// pages holds one set of templates for each page: the layout, the shared parts
// and the page's own file.
type pages struct {
	files fs.FS
	funcs template.FuncMap
	sets  map[string]*template.Template
	dev   bool
}

// newPages parses every page now, so that a slip in a template stops the start.
func newPages(o Options, a *assets) (*pages, error) {
	p := &pages{files: templates.FS, dev: o.Dev, sets: map[string]*template.Template{}}
	if o.Dev {
		p.files = os.DirFS(filepath.Join(o.Root, "templates"))
	}
	p.funcs = template.FuncMap{"asset": a.url}
	names, err := fs.Glob(p.files, "pages/*.html")
	if err != nil {
		return nil, err
	}
	for _, name := range names {
		if err := p.parse(strings.TrimSuffix(path.Base(name), ".html")); err != nil {
			return nil, err
		}
	}
	return p, nil
}

func (p *pages) parse(name string) error {
	set, err := template.New("page").Funcs(p.funcs).Option("missingkey=error").
		ParseFS(p.files, "layout.html", "shared/*.html", "pages/"+name+".html")
	if err != nil {
		return fmt.Errorf("page %s: %w", name, err)
	}
	p.sets[name] = set
	return nil
}

// render makes a page in memory; or, where a script asks for it, one part of it:
// a template of the page's own whose name starts with "part-".
func (p *pages) render(of page, part string) ([]byte, error) {
	name := of.file()
	set := p.sets[name]
	if p.dev {
		fresh := &pages{files: p.files, funcs: p.funcs, sets: map[string]*template.Template{}}
		if err := fresh.parse(name); err != nil {
			return nil, err
		}
		set = fresh.sets[name]
	}
	if set == nil {
		return nil, fmt.Errorf("there is no template pages/%s.html", name)
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
