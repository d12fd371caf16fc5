package document_test

import (
	"bytes"
	"crypto/sha256"
	"errors"
	"flag"
	"fmt"
	"image"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"ribdesk/internal/document"
	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/words"
)

var update = flag.Bool("update", false, "rewrite the golden files")

// tool gives the path of an outside program; a test is skipped with a notice
// where it is missing, and fails for it in CI.
func tool(t testing.TB, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err == nil {
		return path
	}
	if os.Getenv("CI") != "" {
		t.Fatalf("%s isn't installed; the papers can't be checked", name)
	}
	t.Skipf("%s isn't installed: apt-get install poppler-utils qpdf zbar-tools", name)
	return ""
}

func run(t testing.TB, name string, args ...string) string {
	t.Helper()
	var errs bytes.Buffer
	cmd := exec.Command(tool(t, name), args...)
	cmd.Stderr = &errs
	out, err := cmd.Output()
	var exit *exec.ExitError
	if err != nil && !(errors.As(err, &exit) && name == "zbarimg") {
		t.Fatalf("%s %v: %v\n%s%s", name, args, err, out, errs.String())
	}
	return string(out)
}

func render(t testing.TB, d document.Document) []byte {
	t.Helper()
	b, err := document.Render(d)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func file(t testing.TB, pdf []byte) string {
	t.Helper()
	name := filepath.Join(t.TempDir(), "paper.pdf")
	if err := os.WriteFile(name, pdf, 0o600); err != nil {
		t.Fatal(err)
	}
	return name
}

// Every paper's text is what was reviewed, in both languages.
func TestGoldenText(t *testing.T) {
	for name, d := range everyPaper() {
		t.Run(name, func(t *testing.T) {
			golden(t, name+".txt", run(t, "pdftotext", "-layout", file(t, render(t, d)), "-"))
		})
	}
	q := quote()
	q.Language, q.Paper = words.Spanish, document.A4
	golden(t, "quote-es-a4.txt", run(t, "pdftotext", "-layout", file(t, render(t, q)), "-"))
}

func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s: the text differs from the golden file; look at the paper and run with -update\n%s", name, got)
	}
}

var sheetOf = regexp.MustCompile(`(?m)\b(\d+) (?:of|de) (\d+)\s*$`)

// sound checks a file by other programs: structure, fonts, page numbers, size.
func sound(t *testing.T, pdf []byte) {
	t.Helper()
	name := file(t, pdf)
	run(t, "qpdf", "--check", name)
	fonts := strings.Split(strings.TrimSpace(run(t, "pdffonts", name)), "\n")[2:]
	if len(fonts) == 0 {
		t.Error("no fonts")
	}
	for _, f := range fonts {
		if !regexp.MustCompile(`Identity-H\s+yes no\s+yes`).MatchString(f) {
			t.Errorf("a font isn't embedded with its text: %s", f)
		}
	}
	info := run(t, "pdfinfo", name)
	pages, _ := strconv.Atoi(regexp.MustCompile(`Pages:\s+(\d+)`).FindStringSubmatch(info)[1])
	if !regexp.MustCompile(`Title:\s+\S`).MatchString(info) {
		t.Error("no title")
	}
	if !bytes.Contains(pdf, []byte("/Lang (e")) {
		t.Error("no language")
	}
	sheets := strings.Split(run(t, "pdftotext", "-layout", name, "-"), "\f")
	if len(sheets) != pages+1 {
		t.Fatalf("%d pages of text, %d in the file", len(sheets)-1, pages)
	}
	for i, text := range sheets[:pages] {
		found := false
		for _, m := range sheetOf.FindAllStringSubmatch(text, -1) {
			found = found || m[1] == strconv.Itoa(i+1) && m[2] == strconv.Itoa(pages)
		}
		if !found {
			t.Errorf("page %d of %d doesn't say so:\n%s", i+1, pages, text)
		}
	}
}

func TestSound(t *testing.T) {
	for name, d := range everyPaper() {
		t.Run(name, func(t *testing.T) {
			pdf := render(t, d)
			sound(t, pdf)
			if len(pdf) > 120_000 {
				t.Errorf("%d bytes", len(pdf))
			}
		})
	}
}

// The record alone gives the same bytes, whatever the machine's zone.
func TestReprintIsTheSame(t *testing.T) {
	for name, d := range everyPaper() {
		first := render(t, d)
		record, err := document.Record(d)
		if err != nil {
			t.Fatal(err)
		}
		again, err := document.Reprint(d.Kind(), record)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(first, again) {
			t.Errorf("%s: the reprint differs", name)
		}
		back, err := document.Decode(d.Kind(), record)
		if err != nil {
			t.Fatal(err)
		}
		second, err := document.Record(back)
		if err != nil || !bytes.Equal(record, second) {
			t.Errorf("%s: the record doesn't survive reading: %v", name, err)
		}
	}
}

// TestEdition holds the bytes of all papers to the edition that printed them: who
// changes how any of them looks raises Edition, and runs this with -update.
func TestEdition(t *testing.T) {
	papers := everyPaper()
	all := sha256.New()
	for _, name := range slices.Sorted(maps.Keys(papers)) {
		all.Write(render(t, papers[name]))
	}
	got := fmt.Sprintf("%d %x\n", document.Edition, all.Sum(nil))
	path := filepath.Join("testdata", "edition.txt")
	kept, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	was, _, _ := strings.Cut(string(kept), " ")
	if *update && was != strconv.Itoa(document.Edition) {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if got != string(kept) {
		t.Errorf("papers print to other bytes: raise Edition and run with -update\nedition %skept    %s", got, kept)
	}
}

// Fifty at once give the bytes that one alone gives; run with -race.
func TestManyAtOnce(t *testing.T) {
	want := render(t, quote())
	var wg sync.WaitGroup
	for range 50 {
		wg.Go(func() {
			if got, err := document.Render(quote()); err != nil || !bytes.Equal(got, want) {
				t.Errorf("differs, %v", err)
			}
		})
	}
	wg.Wait()
}

// Labels go through a printer of 203 dots an inch: both codes must read back.
func TestLabelsScan(t *testing.T) {
	for name, want := range map[string][]string{
		"labels":   {"B-1042-1", "https://desk.example/b/B-1042-1"},
		"coil-tag": {"C-104", "https://desk.example/coils/C-104"},
	} {
		scanned := scan(t, render(t, everyPaper()[name]), 1, 203)
		for _, code := range want {
			if !strings.Contains(scanned, ":"+code+"\n") {
				t.Errorf("%s: %s isn't among\n%s", name, code, scanned)
			}
		}
	}
	long := labels(1)
	long.Labels[0].Code, long.Labels[0].Link = "B-0A9Z8Y-X12", "https://desk.fernhollow.example/bundles/"+strings.Repeat("q9", 24)
	if scanned := scan(t, render(t, long), 1, 203); !strings.Contains(scanned, ":B-0A9Z8Y-X12\n") || !strings.Contains(scanned, strings.Repeat("q9", 24)+"\n") {
		t.Errorf("the longest codes don't scan:\n%s", scanned)
	}
}

func TestQuoteScans(t *testing.T) {
	if scanned := scan(t, render(t, quote()), 1, 150); !strings.Contains(scanned, ":https://desk.example/p/Q-1042\n") {
		t.Errorf("got %s", scanned)
	}
}

func scan(t *testing.T, pdf []byte, page, dpi int) string {
	t.Helper()
	root := filepath.Join(t.TempDir(), "scan")
	n := strconv.Itoa(page)
	run(t, "pdftoppm", "-r", strconv.Itoa(dpi), "-f", n, "-l", n, "-gray", "-png", "-singlefile", file(t, pdf), root)
	return run(t, "zbarimg", "-q", root+".png")
}

// Nothing is drawn on or beyond the edge of the sheet: the outer 4 mm are white.
func TestNothingLeavesTheSheet(t *testing.T) {
	for name, d := range everyPaper() {
		if name == "labels" || name == "coil-tag" {
			continue
		}
		root := filepath.Join(t.TempDir(), "edge")
		run(t, "pdftoppm", "-r", "50", "-gray", "-singlefile", file(t, render(t, d)), root)
		img := readPGM(t, root+".pgm")
		const edge = 8 // pixels, 4 mm at 50 dpi
		for y := range img.Rect.Dy() {
			for x := range img.Rect.Dx() {
				outer := x < edge || y < edge || x >= img.Rect.Dx()-edge || y >= img.Rect.Dy()-edge
				if outer && img.GrayAt(x, y).Y < 250 {
					t.Fatalf("%s: ink at %d,%d of %v", name, x, y, img.Rect)
				}
			}
		}
	}
}

func readPGM(t *testing.T, path string) *image.Gray {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	var w, h, most int
	if _, err := fmt.Sscanf(string(b), "P5\n%d %d\n%d\n", &w, &h, &most); err != nil {
		t.Fatal(err)
	}
	return &image.Gray{Pix: b[len(b)-w*h:], Stride: w, Rect: image.Rect(0, 0, w, h)}
}

// A table that goes over the page repeats its head and its metal.
func TestTableHeadsRepeat(t *testing.T) {
	name := file(t, render(t, invoice(60)))
	for _, page := range []string{"2", "3"} {
		text := run(t, "pdftotext", "-layout", "-f", page, "-l", page, name, "-")
		if !strings.Contains(text, "unit price") || !strings.Contains(text, "continued") || !strings.Contains(text, "Trim") && !strings.Contains(text, "R-16") {
			t.Errorf("page %s begins without head or metal:\n%s", page, text)
		}
	}
}

// What a paper must carry stands on it.
func TestQuoteCarries(t *testing.T) {
	text := run(t, "pdftotext", "-layout", file(t, render(t, quote())), "-")
	for _, s := range []string{
		"Q-1042", "Jun 3, 2026", "22′ 4″", "9′ 6³⁄₁₆″", "Changeover", "Minimum", "Delivery", "Alone", "$4,113.84", "Sharing", "$4,019.62", "Deposit", "$2,009.81",
		"no cancellation", "girth 12 in", "Terms of sale, version 2026-01", "signature", "Not an engineering document", "calculated, not weighed", "7 %", "247.48",
	} {
		if !strings.Contains(text, s) {
			t.Errorf("%q isn't on the quote", s)
		}
	}
}

// Papers of the floor and the truck carry no money.
func TestNoPricesOnTheFloor(t *testing.T) {
	for _, name := range []string{"run-sheet", "labels", "pick-ticket", "delivery", "coil-tag"} {
		if text := run(t, "pdftotext", "-layout", file(t, render(t, everyPaper()[name])), "-"); strings.Contains(text, "$") {
			t.Errorf("%s shows money", name)
		}
	}
}

func TestRefusals(t *testing.T) {
	late, none, wrong, short, sums := quote(), quote(), quote(), labels(1), everyPaper()["statement"].(*document.Statement)
	late.ValidUntil = late.Issued.AddDate(0, 3, 1)
	none.ValidUntil = time.Time{}
	wide := labels(1)
	wide.Labels[0].Code = "B-0A9Z8Y-X12-QQQ"
	wrong.Number, wrong.Seller.Name = "", ""
	short.Labels[0].Code = "Ñ"
	sums.Balance = usd(1)
	run := everyPaper()["run-sheet"].(*document.RunSheet)
	run.Bundles[1].Cuts[0].Length = measure.Foot
	for field, d := range map[string]document.Document{
		"valid_until": late, "valid_until ": none, "number": wrong, "labels.0.code": short, "labels.0.code ": wide, "balance": sums, "bundles.1": run, "lines": &document.Quote{Head: head("Q"), ValidUntil: day(5, 5)},
	} {
		_, err := document.Render(d)
		if !fault.Is(err, fault.Invalid) || fault.All(err)[0].Field != strings.TrimSpace(field) {
			t.Errorf("%s: got %v", field, err)
		}
	}
	if _, err := document.Reprint("nothing", nil); !fault.Is(err, fault.Invalid) {
		t.Errorf("unknown kind: %v", err)
	}
	if _, err := document.Reprint(document.KindQuote, []byte("{")); !fault.Is(err, fault.Invalid) {
		t.Errorf("broken record: %v", err)
	}
}

// Whatever stands in the fields, a paper prints with its pages in order.
func TestHostileFields(t *testing.T) {
	for what, s := range map[string]string{
		"emoji": "roof 🏠 ½″ \u202e right-to-left \x00 مرحبا 漢字", "long word": strings.Repeat("W", 400), "long text": strings.Repeat("cut to length ", 70), "lines": strings.Repeat("line\n", 60),
	} {
		for name, d := range everyPaper() {
			if name == "invoice-60" || name == "delivery-signed" {
				continue // the same papers, longer
			}
			fill(reflect.ValueOf(d).Elem(), s)
			pdf, err := document.Render(d)
			if err != nil {
				t.Fatalf("%s, %s: %v", what, name, err)
			}
			if name == "quote" || what == "long text" && (name == "labels" || name == "delivery" || name == "run-sheet") {
				t.Run(name+" "+what, func(t *testing.T) { sound(t, pdf) })
			}
		}
	}
}

// fill puts s into every string of a paper but those with a form of their own.
func fill(v reflect.Value, s string) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			fill(v.Elem(), s)
		}
	case reflect.Slice:
		for i := range v.Len() {
			fill(v.Index(i), s)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			switch f := v.Type().Field(i); f.Name {
			case "Code", "Link", "Coil", "Language", "Paper", "Style", "Number":
			default:
				if f.IsExported() {
					fill(v.Field(i), s)
				}
			}
		}
	case reflect.String:
		v.SetString(s)
	}
}

func BenchmarkQuote(b *testing.B) {
	small := quote()
	small.Lines, small.Charges, small.Sections, small.Alone, small.Sharing = small.Lines[:1], small.Charges[:1], nil, nil, nil
	for name, q := range map[string]*document.Quote{"one page": small, "two pages, drawings": quote()} {
		b.Run(name, func(b *testing.B) {
			var pdf []byte
			for b.Loop() {
				pdf = render(b, q)
			}
			b.ReportMetric(float64(b.Elapsed().Microseconds())/1000/float64(b.N), "ms")
			b.ReportMetric(float64(len(pdf)), "bytes")
			b.ReportMetric(float64(bytes.Count(pdf, []byte("/Type /Page\n"))), "pages")
		})
	}
}

func BenchmarkInvoice500Lines(b *testing.B) {
	i := invoice(500)
	var size int
	for b.Loop() {
		size = len(render(b, i))
	}
	b.ReportMetric(float64(b.Elapsed().Microseconds())/1000/float64(b.N), "ms")
	b.ReportMetric(float64(size), "bytes")
}

func BenchmarkLabels10(b *testing.B) {
	l := labels(10)
	for b.Loop() {
		render(b, l)
	}
}

// What is held back stands among the sums, so that they lead to the amount due;
// a charge on a statement says what it is.
func TestHeldBackAndChargesAreTold(t *testing.T) {
	i := invoice(0)
	i.Retained = usd(100_01)
	i.Owed = i.Total.Sub(i.Paid).Sub(i.Retained)
	text := run(t, "pdftotext", "-layout", file(t, render(t, i)), "-")
	for _, want := range []string{"Held back by agreement until released", "-100.01", i.Owed.Format()} {
		if !strings.Contains(text, want) {
			t.Errorf("the invoice doesn't say %q", want)
		}
	}
	s := everyPaper()["statement"].(*document.Statement)
	s.Retained = usd(100_01)
	s.Items[0].What = "finance charge"
	text = run(t, "pdftotext", "-layout", file(t, render(t, s)), "-")
	for _, want := range []string{"finance charge", "Held back by agreement until released", "100.01"} {
		if !strings.Contains(text, want) {
			t.Errorf("the statement doesn't say %q", want)
		}
	}
}
