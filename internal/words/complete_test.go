package words_test

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"html/template"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"text/template/parse"
	"unicode"

	"ribdesk/internal/words"
)

// saying are the functions of this package and the methods of a reader that take
// a text, and which of their arguments are texts. They are looked for in every
// file.
var saying = map[string][]int{"words.Say": {0}, "words.Key": {0}, "reader.T": {0}, "reader.N": {1, 2}, "r.T": {0}, "r.N": {1, 2}}

// refusing are the functions whose text reaches a customer only where customers
// are: in the files of customerFiles.
var refusing = map[string][]int{
	"Invalidf": {1}, "NotFoundf": {0}, "Conflictf": {0}, "Deniedf": {0}, "New": {2}, "Addf": {1}, "Within": {0},
	"ask": {0}, "found": {1}, "oneOrder": {1}, "step": {0}, "newPasswordField": {1}, "length": {1}, "number": {1}, "wrong": {1}, "redirectSaying": {1}, "ownTabs": {0},
}

// shown are the parts of composite literals that a page shows through {{t}}.
var shown = map[string][]string{
	"Field": {"Label", "Help", "Unit"}, "Option": {"Label"}, "Group": {"Label"}, "Base": {"Title", "Sheet"}, "Block": {"Thing", "State"},
	"Link": {"Name"}, "fact": {"Name"}, "refusal": {"heading", "sentence"}, "said": {"Title"}, "chapter": {"Title"}, "Shape": {"Name", "Use"},
}

// places are the fields' order, for literals without names.
var places = map[string][]string{"Option": {"Value", "Label"}, "fact": {"Name", "Value"}, "chapter": {"Code", "Title"}, "refusal": {"status", "heading", "sentence"}, "Shape": {"Code", "Name", "Use"}}

// vocabularies are types of their own made of strings whose words pages show.
var vocabularies = []string{
	"roof.Edge", "roof.OpeningKind", "order.State", "order.Fulfil", "party.Role", "books.Method", "books.ItemKind", "books.CreditKind", "store.Use", "document.word", "caution.wording",
}

// customerFiles are the files whose texts customers and visitors can meet, below
// internal; behind # stands the one function of a file that they do.
var customerFiles = []string{
	"measure/*.go", "money/*.go", "order/cutlist.go", "order/order.go", "fault/fault.go", "party/party.go",
	"stock/stock.go#CheckPiece", "stock/stock.go#CheckMetal", "stock/stock.go#CheckRib", "desk/resolve.go",
	"store/orders.go#Order", "store/orders.go#OrderByToken", "store/books.go#oneInvoice", "store/papers.go#Paper", "desk/papers.go#Paper", "desk/people.go#ChangePassword",
	"metal/section.go", "metal/bend.go", "metal/param.go", "metal/shapes.go", "metal/sheet.go",
	"desk/account.go", "desk/asking.go", "desk/ask.go", "desk/firm.go", "desk/offering.go", "desk/orders.go", "desk/readiness.go", "desk/acceptance.go", "desk/password.go", "desk/pattern.go",
	"desk/signin.go", "desk/choice.go", "desk/returned.go#whyReturned", "desk/standing.go#callTheShop",
	"web/answer.go", "web/counter*.go", "web/dates.go#readDay", "web/firm.go", "web/form.go", "web/guard.go", "web/guide.go", "web/language.go",
	"web/link.go", "web/orders.go", "web/ordertalk.go", "web/page.go", "web/routes.go", "web/session.go", "web/signin.go",
	"web/trim.go", "web/visit.go",
	"cutlist/*.go", "picture/*.go", "order/keeps.go", "party/request.go", "desk/photonote.go", "desk/savedlist.go", "desk/accountrequest.go#AskForAccount",
	"store/customerkeeps.go#AddCutList", "store/customerkeeps.go#CutList", "store/customerkeeps.go#PhotoNote", "desk/customers.go#seesFile",
	"web/cutimport.go", "web/cutuse.go", "web/photonote.go", "web/lists.go", "web/customers.go#sitePageOf", "web/customers.go#showSiteOf",
	"web/accountside.go#newRequestPage", "web/accountside.go#doRequest", "web/accountside.go#ownSitePage", "web/accountside.go#doSaveOwnSite",
	"web/passwordlink.go#loadPasswordLink", "web/passwordlink.go#doChoosePassword", "desk/passwordlink.go#linkedPerson", "store/passwordlinks.go#PasswordLink",
	"roof/*.go", "desk/takeoff.go", "desk/roof*.go", "web/takeoff*.go",
}

// isCustomers reports whether a file, or a function in it, is among them.
func isCustomers(file, function string) bool {
	return slices.ContainsFunc(customerFiles, func(pattern string) bool {
		pattern, only, part := strings.Cut(pattern, "#")
		ok, err := path.Match(pattern, file)
		return ok && err == nil && (!part || only == function)
	})
}

// found are the texts of the program, by where one of them stands.
type found struct {
	t     *testing.T
	texts map[string]string
	files map[string]*ast.File // by path below internal
	set   *token.FileSet
	known map[string]string // constants, by package.name

	function string // that is being read
}

func (f *found) add(text, at string) {
	if strings.ContainsFunc(verbForm.ReplaceAllString(text, ""), unicode.IsLetter) {
		f.texts[text] = at
	}
}

func TestCatalogueIsComplete(t *testing.T) {
	f := &found{t: t, texts: map[string]string{}, files: map[string]*ast.File{}, set: token.NewFileSet(), known: map[string]string{}}
	f.readGo()
	f.readTemplates()
	if len(f.texts) < 100 {
		t.Fatalf("only %d texts are found; the search itself is broken", len(f.texts))
	}
	catalogue := words.Catalogue()
	for _, text := range sortedKeys(f.texts) {
		entry, ok := catalogue[text]
		if !ok {
			t.Errorf("no Spanish for %q of %s", text, f.texts[text])
			continue
		}
		if a, b := verbs(text), verbs(entry); !slices.Equal(a, b) {
			t.Errorf("%q takes %v, its Spanish %q takes %v", text, a, entry, b)
		}
	}
	for _, text := range sortedKeys(catalogue) {
		if _, ok := f.texts[text]; !ok {
			t.Errorf("the catalogue's %q is used nowhere", text)
		}
	}
}

func sortedKeys(m map[string]string) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

var verbForm = regexp.MustCompile(`%(?:\[(\d+)\])?([-+# 0-9.]*)([a-zA-Z%])`)

// verbs gives what a format does with each of its figures, in their order.
func verbs(format string) (list []string) {
	at := 0
	for _, m := range verbForm.FindAllStringSubmatch(format, -1) {
		if m[3] == "%" {
			list = append(list, "%%")
			continue
		}
		at++
		if m[1] != "" {
			at, _ = strconv.Atoi(m[1])
		}
		list = append(list, fmt.Sprintf("%d%s%s", at, m[2], m[3]))
	}
	slices.Sort(list)
	return slices.Compact(list)
}

func (f *found) readGo() {
	err := filepath.WalkDir("..", func(file string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || path.Ext(file) != ".go" || strings.HasSuffix(file, "_test.go") {
			return err
		}
		parsed, err := parser.ParseFile(f.set, file, nil, parser.SkipObjectResolution)
		if err != nil {
			return err
		}
		f.files[strings.TrimPrefix(filepath.ToSlash(file), "../")] = parsed
		return nil
	})
	if err != nil {
		f.t.Fatal(err)
	}
	for _, name := range sortedFiles(f.files) {
		f.constants(name, f.files[name])
	}
	for name, file := range f.files {
		for _, decl := range file.Decls {
			f.function = ""
			if fn, ok := decl.(*ast.FuncDecl); ok {
				f.function = fn.Name.Name
			}
			ast.Inspect(decl, func(n ast.Node) bool {
				switch n := n.(type) {
				case *ast.CallExpr:
					f.call(name, n)
				case *ast.CompositeLit:
					f.literal(name, n)
				}
				return true
			})
		}
	}
	for _, pattern := range customerFiles {
		pattern, _, _ := strings.Cut(pattern, "#")
		if !slices.ContainsFunc(sortedFiles(f.files), func(file string) bool { ok, _ := path.Match(pattern, file); return ok }) {
			f.t.Errorf("customerFiles names %s, which isn't there", pattern)
		}
	}
}

func sortedFiles(m map[string]*ast.File) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

// constants learns the strings of a file's constants; those of a vocabulary are
// texts.
func (f *found) constants(name string, file *ast.File) {
	for _, decl := range file.Decls {
		group, ok := decl.(*ast.GenDecl)
		if !ok || group.Tok != token.CONST && group.Tok != token.VAR {
			continue
		}
		for _, spec := range group.Specs {
			v := spec.(*ast.ValueSpec)
			kind := ""
			if id, ok := v.Type.(*ast.Ident); ok {
				kind = file.Name.Name + "." + id.Name
			}
			for i, value := range v.Values {
				text, ok := f.text(name, value)
				if !ok || i >= len(v.Names) {
					continue
				}
				f.known[file.Name.Name+"."+v.Names[i].Name] = text
				if slices.Contains(vocabularies, kind) {
					f.add(text, name)
				}
			}
		}
	}
}

// text gives the value of a constant string.
func (f *found) text(file string, e ast.Expr) (string, bool) {
	switch e := e.(type) {
	case *ast.BasicLit:
		s, err := strconv.Unquote(e.Value)
		return s, err == nil && e.Kind == token.STRING
	case *ast.BinaryExpr:
		a, okA := f.text(file, e.X)
		b, okB := f.text(file, e.Y)
		return a + b, okA && okB && e.Op == token.ADD
	case *ast.ParenExpr:
		return f.text(file, e.X)
	case *ast.Ident:
		s, ok := f.known[path.Base(path.Dir(file))+"."+e.Name]
		return s, ok
	case *ast.SelectorExpr:
		if of, ok := e.X.(*ast.Ident); ok {
			s, ok := f.known[of.Name+"."+e.Sel.Name]
			return s, ok
		}
	}
	return "", false
}

func (f *found) call(file string, c *ast.CallExpr) {
	name, on := "", ""
	switch fun := c.Fun.(type) {
	case *ast.Ident:
		name = fun.Name
	case *ast.SelectorExpr:
		name, on = fun.Sel.Name, lastName(fun.X)
	}
	args := saying[on+"."+name]
	if isCustomers(file, f.function) {
		args = append(slices.Clone(args), refusing[name]...)
	}
	for _, i := range args {
		if i >= len(c.Args) {
			continue
		}
		if text, ok := f.text(file, c.Args[i]); ok {
			f.add(text, file)
		}
	}
}

// lastName gives the name of what a method is called on: reader of v.reader,
// c.reader() and p.Reader.
func lastName(e ast.Expr) string {
	switch e := e.(type) {
	case *ast.Ident:
		return strings.ToLower(e.Name)
	case *ast.SelectorExpr:
		return strings.ToLower(e.Sel.Name)
	case *ast.CallExpr:
		return lastName(e.Fun)
	}
	return ""
}

func (f *found) literal(file string, l *ast.CompositeLit) {
	of := ""
	switch kind := l.Type.(type) {
	case *ast.Ident:
		of = kind.Name
	case *ast.MapType:
		f.ofMap(file, l, kind)
		return
	case *ast.ArrayType: // []Option{{"", "…"}}
		if id, ok := kind.Elt.(*ast.Ident); ok {
			for _, e := range l.Elts {
				if inner, ok := e.(*ast.CompositeLit); ok && inner.Type == nil {
					f.parts(file, inner, id.Name)
				}
			}
		}
		return
	}
	f.parts(file, l, of)
}

// ofMap takes the words of maps to a vocabulary.
func (f *found) ofMap(file string, l *ast.CompositeLit, kind *ast.MapType) {
	id, ok := kind.Value.(*ast.Ident)
	if !ok {
		return
	}
	for _, e := range l.Elts {
		pair, ok := e.(*ast.KeyValueExpr)
		if !ok {
			continue
		}
		if slices.Contains(vocabularies, path.Base(path.Dir(file))+"."+id.Name) {
			if text, ok := f.text(file, pair.Value); ok {
				f.add(text, file)
			}
			if inner, ok := pair.Value.(*ast.CompositeLit); ok {
				for _, e := range inner.Elts {
					if text, ok := f.text(file, e); ok {
						f.add(text, file)
					}
				}
			}
		}
	}
}

func (f *found) parts(file string, l *ast.CompositeLit, of string) {
	if !isCustomers(file, f.function) {
		return
	}
	for i, e := range l.Elts {
		name, value := "", e
		if pair, ok := e.(*ast.KeyValueExpr); ok {
			name, value = fmt.Sprint(pair.Key), pair.Value
		} else if i < len(places[of]) {
			name = places[of][i]
		}
		if !slices.Contains(shown[of], name) {
			continue
		}
		if text, ok := f.text(file, value); ok {
			f.add(text, file)
		}
	}
}

// readTemplates finds what {{t}} and {{tn}} say.
func (f *found) readTemplates() {
	err := filepath.WalkDir("../../templates", func(file string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || path.Ext(file) != ".html" {
			return err
		}
		body, err := os.ReadFile(file)
		if err != nil {
			return err
		}
		set, err := template.New(path.Base(file)).Funcs(template.FuncMap{
			"asset": func(string) string { return "" }, "t": func(any, ...any) string { return "" }, "tn": func(int, string, string, ...any) string { return "" }, "charge": func(string) string { return "" }, "unit": func(string) string { return "" }, "picture": func(string, string) string { return "" },
		}).Parse(string(body))
		if err != nil {
			return err
		}
		for _, one := range set.Templates() {
			if one.Tree != nil {
				f.node(one.Tree.Root, filepath.Base(file))
			}
		}
		return nil
	})
	if err != nil {
		f.t.Fatal(err)
	}
}

func (f *found) node(n parse.Node, at string) {
	switch n := n.(type) {
	case *parse.ListNode:
		if n == nil {
			return
		}
		for _, one := range n.Nodes {
			f.node(one, at)
		}
	case *parse.ActionNode:
		f.node(n.Pipe, at)
	case *parse.TemplateNode:
		f.node(n.Pipe, at)
	case *parse.IfNode:
		f.branch(n.BranchNode, at)
	case *parse.RangeNode:
		f.branch(n.BranchNode, at)
	case *parse.WithNode:
		f.branch(n.BranchNode, at)
	case *parse.PipeNode:
		if n == nil {
			return
		}
		for _, c := range n.Cmds {
			f.command(c, at)
		}
	}
}

func (f *found) branch(n parse.BranchNode, at string) {
	f.node(n.Pipe, at)
	f.node(n.List, at)
	f.node(n.ElseList, at)
}

// command notes the texts of a call of t or tn, those in an (or …) within too.
func (f *found) command(c *parse.CommandNode, at string) {
	name, _ := c.Args[0].(*parse.IdentifierNode)
	for i, arg := range c.Args {
		if pipe, ok := arg.(*parse.PipeNode); ok {
			if name != nil && name.Ident == "t" && i == 1 {
				for _, inner := range pipe.Cmds {
					for _, a := range inner.Args {
						if s, ok := a.(*parse.StringNode); ok {
							f.add(s.Text, at)
						}
					}
				}
			}
			f.node(pipe, at)
		}
		s, ok := arg.(*parse.StringNode)
		if !ok || name == nil {
			continue
		}
		if name.Ident == "t" && i == 1 || name.Ident == "tn" && (i == 2 || i == 3) {
			f.add(s.Text, at)
		}
	}
}
