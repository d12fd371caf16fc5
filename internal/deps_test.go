// Package internal_test holds the direction of the house: which room may import
// which, and in which one room each package from outside lives.
package internal_test

import (
	"go/parser"
	"go/token"
	"io/fs"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// domain are the rooms of plain values that most others speak in.
var domain = []string{"measure", "money", "fault", "metal", "party", "stock", "order"}

// cores compute: no web, no database, no clock.
var cores = []string{"price", "plan", "nest", "load", "roof", "books", "figures"}

// mayImport is the table: a room, and the rooms it may import.
var mayImport = map[string][]string{
	"words":    nil,
	"fault":    {"words"},
	"caution":  {"words"},
	"measure":  {"words", "fault"},
	"money":    {"fault"},
	"metal":    {"words", "measure", "fault"},
	"party":    {"words", "measure", "money", "fault"},
	"drawing":  {"measure"},
	"stock":    {"measure", "money", "metal", "fault"},
	"order":    {"words", "measure", "money", "metal", "fault", "party", "stock"},
	"price":    {"measure", "money", "fault"},
	"plan":     {"measure", "fault"},
	"nest":     {"measure", "fault"},
	"load":     {"measure", "metal", "fault"},
	"roof":     {"measure", "fault", "words"},
	"books":    {"money", "fault", "party"},
	"figures":  {"measure", "money", "stock", "order"},
	"nestview": {"measure", "nest", "drawing"},
	"calendar": nil,
	"picture":  {"fault"},
	"cutlist":  {"measure", "fault", "order", "words"},
	"totp":     nil,
	"mail":     {"words"},
	"einvoice": {"money", "fault", "party", "books"},
	"store":    rooms(domain, "words", "books"),
	"document": rooms(domain, "words", "books", "caution", "drawing"),
	"desk":     rooms(domain, "words", cores, "store", "document", "drawing", "picture", "einvoice", "calendar", "totp", "mail", "nestview"),
	"demo":     rooms(domain, cores, "desk"),
	"web":      rooms(domain, "words", cores, "desk", "document", "drawing", "picture", "caution", "cutlist", "calendar", "mail", "nestview", "templates", "static"),
	"cmd":      rooms(domain, cores, "store", "desk", "web", "demo", "mail", "drawing", "nestview"),
}

// livesIn names the one room of each package from outside, by the start of its
// path.
var livesIn = map[string]string{
	"github.com/shopspring/decimal": "money",
	"gorm.io/":                      "store",
	"github.com/jackc/pgx/":         "store",
	"modernc.org/sqlite":            "store",
	"golang.org/x/crypto/":          "desk",
	"github.com/johnfercher/":       "document",
	"github.com/boombuler/barcode":  "document",
	"github.com/arran4/golang-ical": "calendar",
	"github.com/xuri/excelize/":     "cutlist",
	"golang.org/x/text/encoding":    "cutlist",
	"github.com/wneessen/go-mail":   "mail",
	"github.com/gin-gonic/gin":      "web",
	"github.com/prometheus/":        "web",
	"github.com/chromedp/":          "web", // browsertest
	"golang.org/x/net/html":         "web", // webtest
}

// forTests are packages that only tests import; they start whole sites.
var forTests = []string{"drill/drilltest", "mail/mailtest", "store/storetest", "web/webtest", "web/browsertest"}

func rooms(lists ...any) []string {
	var all []string
	for _, l := range lists {
		switch l := l.(type) {
		case string:
			all = append(all, l)
		case []string:
			all = append(all, l...)
		}
	}
	return all
}

func TestImports(t *testing.T) {
	seen := map[string]bool{}
	err := filepath.WalkDir("..", func(file string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && (strings.HasPrefix(d.Name(), ".") && d.Name() != ".." || d.Name() == "testdata") {
			return filepath.SkipDir
		}
		if path.Ext(file) != ".go" || strings.HasSuffix(file, "_test.go") {
			return nil
		}
		folder := strings.TrimPrefix(filepath.ToSlash(filepath.Dir(file)), "../")
		room := roomOf(folder)
		seen[room] = true
		parsed, err := parser.ParseFile(token.NewFileSet(), file, nil, parser.ImportsOnly)
		if err != nil {
			return err
		}
		for _, spec := range parsed.Imports {
			imported, err := strconv.Unquote(spec.Path.Value)
			if err != nil {
				return err
			}
			check(t, filepath.ToSlash(file), folder, room, imported)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	for room := range mayImport {
		if !seen[room] {
			t.Errorf("the table has a room %s that isn't there", room)
		}
	}
}

// roomOf gives the room of a folder: internal/web/webtest is in web.
func roomOf(folder string) string {
	first, rest, _ := strings.Cut(folder, "/")
	if first != "internal" {
		return first
	}
	room, _, _ := strings.Cut(rest, "/")
	return room
}

func check(t *testing.T, file, folder, room, imported string) {
	t.Helper()
	isTest := slices.Contains(forTests, strings.TrimPrefix(folder, "internal/"))
	if ours, ok := strings.CutPrefix(imported, "ribdesk/"); ok {
		of := roomOf(ours)
		switch {
		case slices.Contains(forTests, strings.TrimPrefix(ours, "internal/")) && !isTest:
			t.Errorf("%s imports %s, which is for tests", file, imported)
		case isTest || of == room:
		case !slices.Contains(mayImport[room], of):
			t.Errorf("%s: %s may not import %s", file, room, of)
		}
		return
	}
	if !strings.Contains(strings.SplitN(imported, "/", 2)[0], ".") {
		return // the standard library
	}
	for prefix, home := range livesIn {
		if strings.HasPrefix(imported, prefix) {
			if home != room && !(home == "web" && isTest) && !(isTest && strings.HasPrefix(imported, "github.com/jackc/pgx/")) {
				t.Errorf("%s: %s lives in %s, not in %s", file, imported, home, room)
			}
			return
		}
	}
	t.Errorf("%s: %s has no room; give it one in the table, or do without it", file, imported)
}

// Core rooms are pure: no clock, no environment, no network, no unseeded chance.
func TestCoresArePure(t *testing.T) {
	forbidden := []string{"net", "net/http", "os", "os/exec", "database/sql", "log", "log/slog", "crypto/rand", "html/template"}
	for _, room := range append(slices.Clone(cores), "measure", "money", "metal", "fault", "stock", "order", "drawing", "caution") {
		files, err := filepath.Glob(room + "/*.go")
		if err != nil {
			t.Fatal(err)
		}
		for _, file := range files {
			if strings.HasSuffix(file, "_test.go") {
				continue
			}
			parsed, err := parser.ParseFile(token.NewFileSet(), file, nil, parser.ImportsOnly)
			if err != nil {
				t.Fatal(err)
			}
			for _, spec := range parsed.Imports {
				imported, err := strconv.Unquote(spec.Path.Value)
				if err != nil {
					t.Fatal(err)
				}
				if slices.Contains(forbidden, imported) && !(room == "drawing" && imported == "html/template") {
					t.Errorf("%s imports %s", file, imported)
				}
			}
		}
	}
}
