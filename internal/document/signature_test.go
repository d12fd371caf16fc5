package document_test

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"math"
	"path/filepath"
	"strings"
	"testing"

	"ribdesk/internal/document"
)

// scrawled is a signature as a canvas gives it: nothing but ink on a ground that
// isn't there. A block of ink makes its size on the paper easy to measure.
func scrawled(t *testing.T, wide, high int) []byte {
	t.Helper()
	img := image.NewNRGBA(image.Rect(0, 0, 600, 200))
	for y := range high {
		for x := range wide {
			img.Set(120+x, 40+y, color.NRGBA{0x15, 0x18, 0x1c, 0xff})
		}
	}
	var out bytes.Buffer
	if err := png.Encode(&out, img); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// darkPixels counts ink of a paper's pages at 100 dpi.
func darkPixels(t *testing.T, pdf []byte) (n int) {
	t.Helper()
	root := filepath.Join(t.TempDir(), "page")
	run(t, "pdftoppm", "-r", "100", "-gray", file(t, pdf), root)
	pages, err := filepath.Glob(root + "*.pgm")
	if err != nil {
		t.Fatal(err)
	}
	for _, page := range pages {
		for _, v := range readPGM(t, page).Pix {
			if v < 100 {
				n++
			}
		}
	}
	return n
}

// A drawn signature is printed over its line, cut to its ink and as large as the
// line allows; the record prints the same bytes again. What can't be read as a
// picture leaves the words that stand for it.
func TestSignatureIsPrinted(t *testing.T) {
	signed := *everyPaper()["delivery-signed"].(*document.DeliveryTicket)
	by := *signed.Signed
	signed.Signed = &by
	without := render(t, &signed)
	words := run(t, "pdftotext", "-layout", file(t, without), "-")
	by.Signature = scrawled(t, 200, 60)
	with := render(t, &signed)
	text := run(t, "pdftotext", "-layout", file(t, with), "-")
	if !strings.Contains(words, "signed on the driver's device") || strings.Contains(text, "signed on the driver's device") || !strings.Contains(text, "Sam Petrov") {
		t.Errorf("without a picture:\n%s\nwith one:\n%s", words, text)
	}
	const wide, high = 15.5 * 200 / 60, 15.5 // mm: 16 mm of paper, half of one free
	want := wide * high / 25.4 / 25.4 * 100 * 100
	said := darkPixels(t, without) // the words that it stands for are a few hundred
	if got := float64(darkPixels(t, with) - said); math.Abs(got-want) > 0.08*want {
		t.Errorf("the signature is %.0f pixels of ink, want about %.0f", got, want)
	}
	record, err := document.Record(&signed)
	if err != nil {
		t.Fatal(err)
	}
	again, err := document.Reprint(signed.Kind(), record)
	if err != nil || !bytes.Equal(with, again) {
		t.Errorf("the reprint differs: %v", err)
	}
	for name, picture := range map[string][]byte{"nothing drawn": scrawled(t, 0, 0), "not a picture": []byte("\x89PNG\r\n\x1a\nnonsense"), "cut short": scrawled(t, 50, 50)[:60]} {
		by.Signature = picture
		if !bytes.Equal(render(t, &signed), without) {
			t.Errorf("%s: the words are gone", name)
		}
	}
}
