package web_test

import (
	"bytes"
	"fmt"
	"maps"
	"math/rand/v2"
	"mime/multipart"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"ribdesk/internal/cutlist"
	"ribdesk/internal/drill/drilltest"
	"ribdesk/internal/party"
	"ribdesk/internal/web"
	"ribdesk/internal/web/browsertest"
	"ribdesk/internal/web/webtest"
	"ribdesk/internal/words"
)

const listsOfCore = "../cutlist/testdata/lists"

// sendFile submits a form of a page with a file in it.
func sendFile(t testing.TB, site *webtest.Site, b *webtest.Browser, page *webtest.Page, selector, field, name string, body []byte, values url.Values) *webtest.Page {
	t.Helper()
	form := page.One(selector)
	var out bytes.Buffer
	w := multipart.NewWriter(&out)
	sent := url.Values{}
	for _, n := range webtest.Find(form, "input[type=hidden]") {
		sent.Set(webtest.Attr(n, "name"), webtest.Attr(n, "value"))
	}
	for name, v := range values {
		sent[name] = v
	}
	for name, v := range sent {
		for _, one := range v {
			if err := w.WriteField(name, one); err != nil {
				t.Fatal(err)
			}
		}
	}
	if body != nil {
		p, err := w.CreateFormFile(field, name)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := p.Write(body); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, site.URL+webtest.Attr(form, "action"), &out)
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", w.FormDataContentType())
	return b.Do(r)
}

func listOf(t testing.TB, name string) []byte {
	t.Helper()
	body, err := os.ReadFile(filepath.Join(listsOfCore, name))
	if err != nil {
		t.Fatal(err)
	}
	return body
}

// A list comes in as a file, its doubts are answered, and it stands in the tally,
// priced, with what was entered before; for everybody who may ask.
func TestBringInAList(t *testing.T) {
	site := webtest.Furnished(t)
	for _, role := range []party.Role{party.Visitor, party.Buyer, party.Counter} {
		b := site.As(t, role)
		counter := b.Get("/counter").Want(http.StatusOK)
		ask := counter.One("#ask")
		sent := url.Values{"do": {"list"}, "job": {"Miller barn"}, "lines.0.make": {seam}, "lines.0.metal": {charcoal}, "rows": {"1"}, "fulfil": {"pick-up"}}
		for _, n := range webtest.Find(ask, "input[type=hidden]") {
			if name := webtest.Attr(n, "name"); sent.Get(name) == "" {
				sent.Set(name, webtest.Attr(n, "value"))
			}
		}
		give := b.Post("/counter/list", sent).Want(http.StatusOK)
		read := sendFile(t, site, b, give, "#give", "file", "list.xlsx", listOf(t, "73-dates.xlsx"), url.Values{"do": {"read"}}).Want(http.StatusOK)
		if got := read.Text(".headline"); !strings.Contains(got, "1 row understood") || !strings.Contains(got, "3 rows to answer") {
			t.Fatalf("%s: %q", role, got)
		}
		if n := len(read.All(".rows tbody tr")); n != 5 {
			t.Errorf("%s: %d rows of 5 are shown", role, n)
		}
		// Adding now is refused at each row, and nothing is lost.
		refused := b.Submit(read, "#list", url.Values{"do": {"use"}, "s0.r.2.fix": {"4 @ what"}}).Want(http.StatusUnprocessableEntity)
		if got := refused.Text(".problems"); !strings.Contains(got, "3 things to put right") || !strings.Contains(got, "Row 3") {
			t.Errorf("%s: %q", role, got)
		}
		if got := webtest.Attr(refused.One("#f-s0-r-2-fix"), "value"); got != "4 @ what" {
			t.Errorf("%s: what was written is now %q", role, got)
		}
		pick := webtest.Attr(read.All("#f-s0-r-3-pick option")[1], "value")
		used := b.Submit(refused, "#list", url.Values{"do": {"use"}, "s0.r.2.fix": {"4 @ 6' 12\""}, "s0.r.3.pick": {pick}, "s0.r.5.out": {"yes"}}).Want(http.StatusOK)
		if got := used.Text("#echo-1 li"); !strings.Contains(got, "4 × 7′") || !strings.Contains(got, "3 × 12′ 6″") || !strings.Contains(got, "2 × 12′ 6″") {
			t.Errorf("%s: the tally says %q", role, got)
		}
		if got := webtest.Attr(used.One("[name=job]"), "value"); got != "Miller barn" {
			t.Errorf("%s: the job is now %q", role, got)
		}
		if got := used.Text("#slip"); !strings.Contains(got, "Alone") {
			t.Errorf("%s: no price: %q", role, got)
		}
		if role == party.Visitor {
			b.Submit(used, "#ask", url.Values{"do": {"quote"}}).Want(http.StatusSeeOther)
		}
	}
}

// Cells pasted from a sheet; columns said anew; the rest left to the shop.
func TestPasteAList(t *testing.T) {
	site := webtest.Furnished(t)
	b := site.As(t, party.Visitor)
	give := b.Get("/counter/list").Want(http.StatusOK)
	read := sendFile(t, site, b, give, "#give", "file", "", nil, url.Values{"do": {"read"}, "text": {"Stk\tLength\n4\t12'\n2\t9' 3\"\nx\t144\n"}}).Want(http.StatusOK)
	if got := read.Text(".headline"); !strings.Contains(got, "0 rows understood") {
		t.Fatalf("%q", got)
	}
	looked := b.Submit(read, "#list", url.Values{"do": {"look"}, "s0.c0": {"quantity"}}).Want(http.StatusOK)
	if got := looked.Text(".headline"); !strings.Contains(got, "2 rows understood") || !strings.Contains(got, "1 row to answer") {
		t.Fatalf("%q", got)
	}
	used := b.Submit(looked, "#list", url.Values{"do": {"note"}}).Want(http.StatusOK)
	if got := used.Text("#echo-1 li"); !strings.Contains(got, "4 × 12′") || !strings.Contains(got, "2 × 9′ 3″") {
		t.Errorf("the tally says %q", got)
	}
	if got := used.Text("[name=note]"); !strings.Contains(got, "x · 144") {
		t.Errorf("the note says %q", got)
	}
	// One answer for all bare numbers.
	read = sendFile(t, site, b, give, "#give", "file", "l.txt", listOf(t, "14-bare-inches.txt"), url.Values{"do": {"read"}})
	looked = b.Submit(read, "#list", url.Values{"do": {"look"}, "bare": {"in"}}).Want(http.StatusOK)
	if got := looked.Text(".headline"); !strings.Contains(got, "3 rows understood") {
		t.Errorf("%q", got)
	}
}

// Products and colours that a list names become lines of their own.
func TestListNamesProducts(t *testing.T) {
	site := webtest.Furnished(t)
	b := site.As(t, party.Counter)
	give := b.Get("/counter/list")
	names := map[string]string{}
	for _, o := range webtest.Find(b.Get("/counter").One("#f-lines-0-make"), "option") {
		names[webtest.Attr(o, "value")] = webtest.Text(o)
	}
	text := fmt.Sprintf("Product\tColor\tQty\tLength\n%s\tCharcoal\t4\t12'\n%s\t\t3\t9'\n%s\tCharcoal\t2\t8'\n", names[seam], names[rib], names[seam])
	read := sendFile(t, site, b, give, "#give", "file", "", nil, url.Values{"do": {"read"}, "text": {text}})
	used := b.Submit(read, "#list", url.Values{"do": {"use"}}).Want(http.StatusOK)
	if a, c := used.Text("#echo-1 li"), used.Text("#echo-2 li"); !strings.Contains(a, "4 × 12′") || !strings.Contains(a, "2 × 8′") || !strings.Contains(c, "3 × 9′") {
		t.Errorf("lines: %q and %q", a, c)
	}
	if got := webtest.Attr(used.One("#f-lines-0-make option[selected]"), "value"); got != seam {
		t.Errorf("the first line is %s", got)
	}
	if got := used.Text("#f-lines-0-metal option[selected]"); !strings.Contains(got, "Charcoal") {
		t.Errorf("its metal is %s", got)
	}
}

func TestListsThatAreRefused(t *testing.T) {
	site := webtest.Furnished(t)
	b := site.As(t, party.Visitor)
	give := b.Get("/counter/list")
	for says, body := range map[string][]byte{
		"a PDF": []byte("%PDF-1.7 x"), "a picture": []byte("\x89PNG\r\n\x1a\n"), "at most 2 MB": bytes.Repeat([]byte("4 @ 12'\n"), 300_000), "is empty": []byte("\n"),
	} {
		page := sendFile(t, site, b, give, "#give", "file", "list", body, url.Values{"do": {"read"}}).Want(http.StatusUnprocessableEntity)
		if got := page.Text("#f-file-error"); !strings.Contains(got, says) {
			t.Errorf("want %q, got %q", says, got)
		}
	}
	if got := sendFile(t, site, b, give, "#give", "file", "", nil, url.Values{"do": {"read"}}).Want(http.StatusUnprocessableEntity).Text(".problems"); !strings.Contains(got, "Choose a file") {
		t.Errorf("%q", got)
	}
	if got := sendFile(t, site, b, give, "#give", "file", "big", bytes.Repeat([]byte("x"), 11<<20), url.Values{"do": {"read"}}); got.Status != http.StatusRequestEntityTooLarge {
		t.Errorf("11 MB: %d", got.Status)
	}
}

// What is said of lists, in the language of brackets: only what stands on the
// list itself may be outside of them.
func TestListsAreInTheReadersLanguage(t *testing.T) {
	site := webtest.Furnished(t)
	web.Mark(site.Handler)
	b := readIn(t, site, party.Visitor, words.Marked)
	data := dataOf(t, site)
	give := b.Get("/counter/list")
	for _, name := range []string{"03-message.txt", "04-dashes.txt", "06-points.txt", "10-metric-comma.txt", "18-slips.txt", "28-inches-or-pieces.txt", "31-unit-in-heading.csv", "32-feet-inches-columns.csv",
		"45-text-quantities.csv", "47-qty-twice.csv", "48-totals.csv", "60-unnamed-quantity.csv", "64-inches-under-feet.csv", "72-formulas.xlsx", "73-dates.xlsx", "78-merged-length.xlsx", "82-errors.xlsx"} {
		body := listOf(t, name)
		sheets, err := cutlist.Open(body)
		if err != nil {
			t.Fatal(err)
		}
		of := maps.Clone(data)
		for _, w := range wordForm.FindAllString(cutlist.Rest(sheets), -1) {
			of[w] = true
		}
		page := sendFile(t, site, b, give, "#give", "file", name, body, url.Values{"do": {"read"}}).Want(http.StatusOK)
		wantBracketed(t, name, page, of)
		wantBracketed(t, name+", used", b.Submit(page, "#list", url.Values{"do": {"use"}}), of)
		wantBracketed(t, name+", noted", b.Submit(page, "#list", url.Values{"do": {"note"}}), of)
	}
	for _, bad := range []string{"", "%PDF-1.7", "PK\x03\x04", "\xd0\xcf\x11\xe0", "\x89PNG\r\n", strings.Repeat("4 @ 12'\n", 2500), "a\x00b"} {
		wantBracketed(t, fmt.Sprintf("%.8q", bad), sendFile(t, site, b, give, "#give", "file", "x", []byte(bad), url.Values{"do": {"read"}}), data)
	}
	wantBracketed(t, "a request", b.Submit(b.Get("/account/request"), "#request", url.Values{"email": {"nobody"}}), data)
}

// fuzzLists sends n damaged lists and damaged answers to them: never an answer of
// class 5xx, and each refusal says why. It gives the answers by class, and how
// long the slowest took.
func fuzzLists(t testing.TB, n int) (map[int]int, time.Duration) {
	site := webtest.Furnished(t)
	dice := rand.New(rand.NewPCG(2026, 4))
	files, err := filepath.Glob(filepath.Join(listsOfCore, "*.want"))
	if err != nil || len(files) == 0 {
		t.Fatal(err)
	}
	answers := map[int]int{}
	b := site.As(t, party.Visitor)
	give := b.Get("/counter/list")
	var slowest time.Duration
	start := time.Now()
	check := func(page *webtest.Page, what string) {
		slowest = max(slowest, time.Since(start))
		answers[page.Status/100*100]++
		switch {
		case page.Status >= 500:
			t.Errorf("%d to %s", page.Status, what)
		case page.Status == http.StatusUnprocessableEntity && page.Text(".problems") == "":
			t.Errorf("refused without a word: %s", what)
		}
	}
	for range n / 2 {
		name := strings.TrimSuffix(files[dice.IntN(len(files))], ".want")
		body, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		for range dice.IntN(6) {
			at := dice.IntN(len(body))
			if dice.IntN(3) == 0 {
				body = append(body[:at:at], body[min(at+dice.IntN(9), len(body)):]...)
			} else {
				body[at] = byte(dice.IntN(256))
			}
			if len(body) == 0 {
				body = []byte("4")
			}
		}
		start = time.Now()
		page := sendFile(t, site, b, give, "#give", "file", filepath.Base(name), body, url.Values{"do": {"read"}})
		check(page, "a damaged "+filepath.Base(name))
		start = time.Now()
		if len(page.All("#list")) == 0 {
			page = sendFile(t, site, b, give, "#give", "file", "", nil, url.Values{"do": {"read"}, "text": {string(bytes.ToValidUTF8(body, nil))}})
			check(page, "a damaged paste")
			continue
		}
		form := url.Values{}
		junk := func() string {
			return []string{"", "4 @ 12'", "\x00", "quantity", "length", "skip", "yes", "-1", "in", strings.Repeat("9", 300), "lines.0.make=x;%zz", `[{"rows":[[{"t":"4 @ 9'"}]]}]`, "{"}[dice.IntN(13)]
		}
		for _, field := range []string{"do", "ask", "rest", "bare", "dash", "point", "make.0", "s0.c0", "s0.c1", "s0.c2", "s0.r.1.fix", "s0.r.2.fix", "s0.r.2.pick", "s0.r.3.out", "s9.c9"} {
			if dice.IntN(4) == 0 {
				form.Set(field, junk())
			}
		}
		form.Set("do", []string{"look", "use", "note", "read", ""}[dice.IntN(5)])
		check(b.Submit(page, "#list", form), fmt.Sprintf("%v to %s", form, filepath.Base(name)))
	}
	return answers, slowest
}

// F10: damaged sheets, files and pastes. The full size takes minutes.
func TestFuzzedLists(t *testing.T) {
	n := drilltest.Times(60, 10_000)
	answers, slowest := fuzzLists(t, n)
	drilltest.Figure(t, "F10 damaged lists brought in, sheets and CSV", "0 of class 5xx, none over 2 s",
		"%d lists and answers: %d read, %d refused, %d of class 5xx, the slowest %d ms", answers[200]+answers[300]+answers[400]+answers[500],
		answers[200]+answers[300], answers[400], answers[500], slowest.Milliseconds())
	if drilltest.Full() && slowest > 2*time.Second {
		t.Errorf("one took %s", slowest)
	}
}

// The list on phone and desk: as it is given, with its doubts, and back at the
// counter.
func TestLookAtList(t *testing.T) {
	t.Parallel()
	b := browsertest.Start(t, webtest.Furnished(t))
	b.As(party.Visitor)
	for _, width := range browsertest.Widths {
		b.Size(width)
		b.Go("/counter")
		b.Do(chromedp.Click(`button[value="list"]`), chromedp.WaitVisible("#give"))
		if width < 400 {
			b.LookHere(fmt.Sprintf("list-give-%d", width))
		}
		browsertest.Ask[any](b, "document.querySelector('#f-text').value = 'North side\\nQty\\tLength\\tMark\\n4\\t12-6\\tA1\\n2\\t9\\' 3\"\\tA2\\n6\\t144\\tA3\\n3\\t12.6\\tA4\\n1\\tsee plan 2\\tA5\\nTotal\\t16'")
		b.Do(chromedp.Click(".act .primary"), chromedp.WaitVisible("#list"))
		b.Do(chromedp.Click(".act .primary"), chromedp.WaitVisible(".problems"))
		b.LookHere(fmt.Sprintf("list-read-%d", width))
		b.Do(chromedp.Click(`#list button[value="note"]`), chromedp.WaitVisible("#ask"))
		until(t, b, "price", `/Alone/.test(document.querySelector("#slip").innerText)`)
	}
}
