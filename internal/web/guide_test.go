package web_test

import (
	"io/fs"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"ribdesk/internal/party"
	"ribdesk/internal/web"
	"ribdesk/internal/web/webtest"
	"ribdesk/internal/words"
	"ribdesk/static"
	"ribdesk/templates"
)

// heaviestChapter is what the pictures of a chapter may weigh together: a page
// is held to 150 kB, of which type, style and script take some 70.
const heaviestChapter = 75_000

// readChapters opens every chapter that a reader finds in the contents.
func readChapters(t *testing.T, b *webtest.Browser) map[string]*webtest.Page {
	t.Helper()
	read := map[string]*webtest.Page{}
	for _, a := range b.Get("/guide").Want(http.StatusOK).All(".chapters a") {
		to := webtest.Attr(a, "href")
		read[filepath.Base(to)] = b.Get(to).Want(http.StatusOK)
	}
	return read
}

// Every chapter opens for those it is for, each in their language, and no other;
// its links lead to pages, its pictures are there with words for who can't see
// them, and no chapter or picture lies unread.
func TestGuide(t *testing.T) {
	site := webtest.Start(t)
	used := map[string]bool{}
	look := func(folder string, chapters map[string]*webtest.Page) {
		t.Helper()
		for code, page := range chapters {
			used[folder+"/"+code] = true
			wantChapter(t, page, used)
		}
	}
	guest, buyer, owner := readChapters(t, site.As(t, party.Visitor)), readChapters(t, site.As(t, party.Buyer)), readChapters(t, site.As(t, party.Owner))
	look("en", guest)
	look("en", owner)
	look("es", readChapters(t, readIn(t, site, party.Visitor, words.Spanish)))
	if len(buyer) != len(guest) || len(guest) != len(web.CustomerChapters) || len(owner) != len(guest)+len(web.ShopChapters) {
		t.Errorf("a visitor reads %d chapters, a customer %d, the owner %d", len(guest), len(buyer), len(owner))
	}
	for code := range owner {
		if guest[code] == nil {
			site.As(t, party.Buyer).Get("/guide/" + code).Want(http.StatusNotFound)
		}
	}
	unread := func(files fs.FS, pattern, cut string) {
		t.Helper()
		names, err := fs.Glob(files, pattern)
		if err != nil || len(names) == 0 {
			t.Fatalf("nothing fits %s: %v", pattern, err)
		}
		for _, name := range names {
			if !used[strings.TrimSuffix(strings.TrimPrefix(name, "guide/"), cut)] {
				t.Errorf("%s is read by nobody", name)
			}
		}
	}
	unread(static.FS, "guide/*", "")
	unread(templates.FS, "guide/*/*.html", ".html")
}

// wantChapter checks one chapter as it is shown, and notes its pictures.
func wantChapter(t *testing.T, page *webtest.Page, used map[string]bool) {
	t.Helper()
	text := page.One("[data-guide]")
	if n := len(strings.Fields(webtest.Text(text))); n < 120 || n > 340 {
		t.Errorf("%s has %d words", page.Asked, n)
	}
	for _, a := range webtest.Find(text, "a") {
		if to := webtest.Attr(a, "href"); lineFor(to) == "" {
			t.Errorf("%s leads to %s, which isn't there", page.Asked, to)
		}
	}
	weight, pictures := 0, webtest.Find(text, "img")
	for _, img := range pictures {
		_, name, _ := strings.Cut(webtest.Attr(img, "src"), "/guide/")
		body, err := fs.ReadFile(static.FS, "guide/"+name)
		if err != nil || len(body) > heaviestPicture || webtest.Attr(img, "width") == "0" || len(webtest.Attr(img, "alt")) < 20 || webtest.Attr(img, "loading") != "lazy" {
			t.Errorf("%s: the picture %s (%d bytes, %v) isn't as it should be", page.Asked, name, len(body), err)
		}
		used[name] = true
		weight += len(body)
	}
	if len(pictures) > 3 || weight > heaviestChapter {
		t.Errorf("%s shows %d pictures of %d bytes", page.Asked, len(pictures), weight)
	}
}

// TestGuideInBothLanguages holds each chapter for customers in Spanish to the
// English one: the same steps, pictures, links and names of things, none of its
// texts left as it was.
func TestGuideInBothLanguages(t *testing.T) {
	site := webtest.Start(t)
	english, spanish := readChapters(t, site.As(t, party.Visitor)), readChapters(t, readIn(t, site, party.Visitor, words.Spanish))
	for code, en := range english {
		es := spanish[code]
		if es == nil {
			t.Errorf("%s isn't there in Spanish", code)
			continue
		}
		if lang := webtest.Attr(es.One("html"), "lang"); lang != "es" {
			t.Errorf("%s says it is in %q", code, lang)
		}
		for _, tag := range []string{"li", "img", "p", "b", "a", "code"} {
			if a, b := len(en.All(".guide "+tag)), len(es.All(".guide "+tag)); a != b {
				t.Errorf("%s has %d times %s in English, %d in Spanish", code, a, tag, b)
			}
		}
		said := sentences(en)
		for _, s := range sentences(es) {
			if slices.Contains(said, s) {
				t.Errorf("%s says in both languages: %s", code, s)
			}
		}
	}
}

// sentences are the texts of a chapter's paragraphs, steps and pictures.
func sentences(page *webtest.Page) (said []string) {
	for _, n := range slices.Concat(page.All(".guide p"), page.All(".guide li")) {
		said = append(said, webtest.Text(n))
	}
	for _, n := range page.All(".guide img") {
		said = append(said, webtest.Attr(n, "alt"))
	}
	return said
}

// What a chapter for the shop prints in bold is the name of something on its
// pages, as it is written there.
func TestGuideNamesWhatIsThere(t *testing.T) {
	var source strings.Builder
	for _, folder := range []string{".", "../../templates/pages", "../../templates/shared"} {
		names, err := os.ReadDir(folder)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range names {
			if d.IsDir() || strings.HasSuffix(d.Name(), "_test.go") {
				continue
			}
			body, err := os.ReadFile(filepath.Join(folder, d.Name()))
			if err != nil {
				t.Fatal(err)
			}
			source.Write(body)
		}
	}
	for _, c := range web.ShopChapters {
		body, err := fs.ReadFile(templates.FS, "guide/en/"+c+".html")
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range regexp.MustCompile(`<b>([^<]+)</b>`).FindAllStringSubmatch(string(body), -1) {
			name := html.UnescapeString(m[1])
			if !regexp.MustCompile(`[">(}]` + regexp.QuoteMeta(name) + `["<){]`).MatchString(source.String()) {
				t.Errorf("%s names %q, which no page has", c, name)
			}
		}
	}
}
