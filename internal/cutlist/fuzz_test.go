package cutlist_test

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"ribdesk/internal/cutlist"
	"ribdesk/internal/drill/drilltest"
	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/order"
)

// corpus gives the bytes of all lists of testdata.
func corpus(t testing.TB) (bodies [][]byte) {
	t.Helper()
	files, err := filepath.Glob("testdata/lists/*.want")
	if err != nil {
		t.Fatal(err)
	}
	for _, file := range files {
		body, err := os.ReadFile(strings.TrimSuffix(file, ".want"))
		if err != nil {
			t.Fatal(err)
		}
		bodies = append(bodies, body)
	}
	return bodies
}

// scribble changes bytes here and there.
func scribble(dice *rand.Rand, b []byte) []byte {
	b = bytes.Clone(b)
	for range dice.IntN(8) + 1 {
		if len(b) == 0 {
			return b
		}
		at := dice.IntN(len(b))
		switch dice.IntN(6) {
		case 0:
			b[at] = byte(dice.IntN(256))
		case 1:
			b = append(b[:at], b[min(at+dice.IntN(20)+1, len(b)):]...)
		case 2:
			bits := []string{"\x00", "\"", "\n", ",", "\t", "½", "’", "999999999999", "1E308", "-", "XFD1048576", "<row r=\"9\"/>", "é", "\xff", "'", "#REF!", ";", "12-6", "0"}
			b = append(b[:at], append([]byte(bits[dice.IntN(len(bits))]), b[at:]...)...)
		case 3:
			end := min(at+dice.IntN(60), len(b))
			b = append(b, b[at:end]...)
		case 4:
			b[at] ^= 1 << dice.IntN(8)
		default:
			b = b[:at]
		}
	}
	return b
}

// scribbleInside changes a part of a workbook and packs it anew, so that it gets
// past the zip's own checks.
func scribbleInside(dice *rand.Rand, b []byte) []byte {
	z, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
	if err != nil || len(z.File) == 0 {
		return b
	}
	chosen := dice.IntN(len(z.File))
	var out bytes.Buffer
	w := zip.NewWriter(&out)
	for i, f := range z.File {
		r, err := f.Open()
		if err != nil {
			return b
		}
		text, err := io.ReadAll(r)
		if err != nil {
			return b
		}
		if i == chosen {
			text = scribble(dice, text)
		}
		p, err := w.Create(f.Name)
		if err != nil {
			return b
		}
		if _, err := p.Write(text); err != nil {
			return b
		}
	}
	if err := w.Close(); err != nil {
		return b
	}
	return out.Bytes()
}

// fuzzFiles reads n damaged files and gives how many were read, refused, and
// refused because the library for workbooks panicked.
func fuzzFiles(t testing.TB, n int) (read, refused, panics int) {
	bodies := corpus(t)
	dice := rand.New(rand.NewPCG(2026, 9104))
	for range n {
		b := bodies[dice.IntN(len(bodies))]
		if bytes.HasPrefix(b, []byte("PK")) && dice.IntN(4) > 0 {
			b = scribbleInside(dice, b)
		} else {
			b = scribble(dice, b)
		}
		sheets, err := cutlist.Open(b)
		if err != nil {
			refused++
			if !fault.Is(err, fault.Invalid) {
				t.Errorf("a damaged file gives %v", err)
			}
			if f := fault.All(err)[0]; f.Cause != nil && strings.HasPrefix(f.Cause.Error(), "panic") {
				panics++
			}
			continue
		}
		read++
		answers := cutlist.Answers{Bare: []measure.Unit{"", measure.Inches, measure.Feet}[dice.IntN(3)], Dash: dice.IntN(2) == 0, Point: []cutlist.Pointed{"", cutlist.AsDecimals, cutlist.AsInches}[dice.IntN(3)]}
		for _, s := range sheets {
			for _, r := range cutlist.Understand(s, answers).Rows {
				if r.Status == cutlist.Understood && (r.Item.Qty < 1 || r.Item.Qty > order.MaxPieces || r.Item.Length <= 0) {
					t.Errorf("understood as %+v", r.Item)
				}
			}
		}
		if again, err := cutlist.Again(cutlist.Rest(sheets)); err != nil || cutlist.Rest(again) != cutlist.Rest(sheets) {
			t.Errorf("a list doesn't come back as it went: %v", err)
		}
	}
	return read, refused, panics
}

// F10: damaged files, CSV and workbooks.
func TestFuzzedFiles(t *testing.T) {
	n := drilltest.Times(400, 10_000)
	read, refused, panics := fuzzFiles(t, n)
	drilltest.Figure(t, "F10 damaged files", "0 panics reach anybody", "%d files: %d read, %d refused, of them %d where the library panicked", n, read, refused, panics)
	if read < n/4 {
		t.Errorf("only %d of %d could be read: the damage is too great to try anything", read, n)
	}
}

func FuzzOpen(f *testing.F) {
	for _, body := range corpus(f) {
		f.Add(body, "", false)
	}
	f.Fuzz(func(t *testing.T, body []byte, bare string, dash bool) {
		sheets, err := cutlist.Open(body)
		if err != nil {
			return
		}
		for _, s := range sheets {
			for _, r := range cutlist.Understand(s, cutlist.Answers{Bare: measure.Unit(bare), Dash: dash}).Rows {
				if r.Status == cutlist.Understood && (r.Item.Qty < 1 || r.Item.Length <= 0) {
					t.Fatalf("understood as %+v", r.Item)
				}
			}
		}
	})
}

// What is understood of a list is what its writer meant, however it was written.
// What could be meant otherwise may be asked about instead, never guessed.
func TestNeverMisread(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		inches := []string{"Qty", "Length (in)"}
		styles := []struct {
			head  []string
			write func(qty int, l measure.Length) []string
		}{
			{inches, func(q int, l measure.Length) []string { return []string{fmt.Sprint(q), l.Format(measure.StyleInches)} }},
			{inches, func(q int, l measure.Length) []string {
				return []string{fmt.Sprint(q) + " pcs", strings.TrimSuffix(l.Format(measure.StyleInches), " in")}
			}},
			{[]string{"Pcs", "Length"}, func(q int, l measure.Length) []string { return []string{fmt.Sprint(q), l.FeetInches(16)} }},
			{[]string{"Pcs", "Length"}, func(q int, l measure.Length) []string { return []string{fmt.Sprint(q), l.Pretty()} }},
			{[]string{"Cant.", "Largo mm"}, func(q int, l measure.Length) []string {
				return []string{fmt.Sprint(q), strings.TrimSuffix(l.Metric(measure.Millimetre), " mm")}
			}},
			{[]string{"Qty", "Feet", "Inches"}, func(q int, l measure.Length) []string {
				return []string{fmt.Sprint(q), fmt.Sprint(int(l / measure.Foot)), strings.TrimSuffix((l % measure.Foot).Format(measure.StyleInches), " in")}
			}},
			{[]string{"Length"}, func(q int, l measure.Length) []string { return []string{fmt.Sprintf("%d @ %s", q, l.FeetInches(16))} }},
			{nil, func(q int, l measure.Length) []string { return []string{fmt.Sprintf("(%d) %s", q, l.Pretty())} }},
			{nil, func(q int, l measure.Length) []string {
				return []string{fmt.Sprintf("%s - %d pcs", l.FeetInches(16), q)}
			}},
			{nil, func(q int, l measure.Length) []string { return []string{fmt.Sprint(q), l.FeetInches(16)} }},
			{[]string{"Qty", "Length (ft)"}, func(q int, l measure.Length) []string { return []string{fmt.Sprint(q), l.Decimal(measure.Foot, 2)} }},
			{[]string{"Qty", "Length"}, func(q int, l measure.Length) []string {
				return []string{fmt.Sprint(q), strings.NewReplacer("' ", "-", `"`, "").Replace(l.FeetInches(16))}
			}},
		}
		style := styles[rapid.IntRange(0, len(styles)-1).Draw(t, "style")]
		swap := rapid.Bool().Draw(t, "swap") && style.head != nil
		sep := rapid.SampledFrom([]string{"\t", ",", ";", "|"}).Draw(t, "separator")
		join := func(cells []string) string {
			cells = append([]string(nil), cells...)
			if swap {
				cells = append(cells[1:], cells[0])
			}
			for i, c := range cells {
				if strings.ContainsAny(c, sep+`"`) && sep != "\t" {
					cells[i] = `"` + strings.ReplaceAll(c, `"`, `""`) + `"`
				}
			}
			return strings.Join(cells, sep)
		}
		var text []string
		if style.head != nil {
			text = append(text, join(style.head))
		}
		type cut struct {
			qty int
			l   measure.Length
		}
		meant := map[int]cut{}
		for range rapid.IntRange(1, 6).Draw(t, "rows") {
			c := cut{rapid.IntRange(1, 200).Draw(t, "qty"), measure.Sixteenth.Times(rapid.IntRange(16, 16*12*60).Draw(t, "sixteenths"))}
			cells := style.write(c.qty, c.l)
			if style.head != nil && style.head[len(style.head)-1] == "Length (ft)" {
				c.l = c.l.Near(measure.Foot / 100) // as far as it was written
			}
			text = append(text, join(cells))
			meant[len(text)] = c
		}
		sheets, err := cutlist.Paste(strings.Join(text, "\n"))
		if err != nil {
			t.Fatal(err)
		}
		reading := cutlist.Understand(sheets[0], cutlist.Answers{})
		seen := map[int]bool{}
		for _, r := range reading.Rows {
			c, ok := meant[r.No]
			seen[r.No] = true
			off := (r.Item.Length - c.l).Abs()
			switch {
			case ok && r.Status == cutlist.Ignored:
				t.Fatalf("row %d of %q is passed over: %s", r.No, text, r.Why)
			case r.Status == cutlist.Understood && (!ok || r.Item.Qty != c.qty || off > measure.Tenth):
				t.Fatalf("row %d of %q is understood as %d of %s", r.No, text, r.Item.Qty, r.Item.Length)
			}
		}
		for no := range meant {
			if !seen[no] {
				t.Fatalf("row %d of %q is lost", no, text)
			}
		}
	})
}

// bomb is a workbook whose sheet is what fill writes.
func bomb(t *testing.T, fill func(io.Writer)) []byte {
	t.Helper()
	src, err := os.ReadFile("testdata/lists/70-simple.xlsx")
	if err != nil {
		t.Fatal(err)
	}
	z, err := zip.NewReader(bytes.NewReader(src), int64(len(src)))
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	w := zip.NewWriter(&out)
	for _, f := range z.File {
		p, err := w.Create(f.Name)
		if err != nil {
			t.Fatal(err)
		}
		if f.Name == "xl/worksheets/sheet1.xml" {
			fill(p)
			continue
		}
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		if _, err := io.Copy(p, r); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// Small files that unfold to a lot, or reach far, are refused before anything is
// made of them.
func TestBombs(t *testing.T) {
	const head, foot = `<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>`, `</sheetData></worksheet>`
	for _, c := range []struct {
		name, says string
		fill       func(io.Writer)
	}{
		{"unfolds", "unfolds to more than 12 MB", func(w io.Writer) {
			fmt.Fprint(w, head)
			for range 40 {
				_, _ = w.Write(bytes.Repeat([]byte(" "), 1<<20))
			}
			fmt.Fprint(w, foot)
		}},
		{"far down", "more than 2000 rows", func(w io.Writer) {
			fmt.Fprint(w, head, `<row r="1048576"><c r="A1048576"><v>1</v></c></row>`, foot)
		}},
		{"far right", "columns", func(w io.Writer) { fmt.Fprint(w, head, `<row r="1"><c r="XFD1"><v>1</v></c></row>`, foot) }},
		{"wide and long", "reaches too far", func(w io.Writer) {
			fmt.Fprint(w, head)
			for i := range 2000 {
				fmt.Fprintf(w, `<row r="%d"><c r="ALL%d"><v>1</v></c></row>`, i+1, i+1)
			}
			fmt.Fprint(w, foot)
		}},
	} {
		start := time.Now()
		_, err := cutlist.Open(bomb(t, c.fill))
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v", c.name, err)
		}
		t.Logf("%s: refused in %v", c.name, time.Since(start).Round(time.Millisecond))
	}
	for name, body := range map[string][]byte{
		"isn't read by machine": []byte("%PDF-1.7"), "a picture": []byte("\xff\xd8\xff\xe0"), "old kind": {0xd0, 0xcf, 0x11, 0xe0, 0xa1}, "is empty": []byte(" \n"),
		"damaged": []byte("PK\x03\x04 nothing"), "at most 2 MB": bytes.Repeat([]byte("4 @ 12'\n"), 300_000), "more than 2000 rows": bytes.Repeat([]byte("4 @ 12'\n"), 2001),
	} {
		if _, err := cutlist.Open(body); err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// What a person answers counts: columns, corrected rows, rows left out.
func TestAnswers(t *testing.T) {
	sheets, err := cutlist.Paste("Stk\tLength\tWhere\n4\t12-6\tN\n2\t9'\tS\n3\twhat\tS\n")
	if err != nil {
		t.Fatal(err)
	}
	a := cutlist.Answers{
		Roles: map[int]cutlist.Role{0: cutlist.Quantity, 1: cutlist.Length, 2: cutlist.Mark}, Dash: true,
		Lines: map[string]string{"4": "3 @ 8' #S"}, Out: map[string]bool{"3": true},
	}
	reading := cutlist.Understand(sheets[0], a)
	compare(t, reading, []string{"1 -", `2 = 4 @ 12' 6" #N`, "3 -", "4 = 3 @ 8' #S"})
	a.Lines["4"] = "nothing"
	if row := cutlist.Understand(sheets[0], a).Rows[3]; row.Status != cutlist.Flagged || !row.Mended || row.Ask.String() == "" {
		t.Errorf("a correction that can't be read: %+v", row)
	}
	if reading := cutlist.Understand(sheets[0], cutlist.Answers{}); reading.Doubts[cutlist.Dash] != 1 {
		t.Errorf("doubts: %v", reading.Doubts)
	}
}
