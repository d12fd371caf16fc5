package document

import (
	"fmt"

	"github.com/boombuler/barcode"
	"github.com/boombuler/barcode/code128"
	"github.com/boombuler/barcode/qr"
)

// Codes are drawn as filled rectangles, which stay sharp at any size. A module
// on a label is a whole number of a 203 dpi printer's dots.
const (
	dot       = 25.4 / 203 // millimetres
	quietQR   = 4          // modules of white on each side (ISO/IEC 18004, read in secondary texts)
	quietBar  = 10         // modules of white at either end (ISO/IEC 15417, read in secondary texts)
	barModule = 3 * dot
	barHigh   = 12.7 // half an inch
)

// qrCode makes the square code of a text at error level M.
func qrCode(text string) (barcode.Barcode, error) {
	code, err := qr.Encode(text, qr.M, qr.Auto)
	if err != nil {
		return nil, fmt.Errorf("document: square code of %q: %w", text, err)
	}
	return code, nil
}

// square draws a square code with its quiet zone; its whole side is side
// millimetres.
func (p *press) square(code barcode.Barcode, x, y, side float64) {
	n := code.Bounds().Dx()
	module := side / float64(n+2*quietQR)
	p.pen.SetFillColor(0, 0, 0)
	for row := range n {
		for from := 0; from < n; from++ {
			to := from
			for to < n && dark(code, to, row) {
				to++
			}
			if to > from {
				p.pen.Rect(x+float64(quietQR+from)*module, y+float64(quietQR+row)*module, float64(to-from)*module, module, "F")
				from = to
			}
		}
	}
}

// bars draws a Code 128 that begins at x after its quiet zone, and gives its
// whole width.
func (p *press) bars(code barcode.Barcode, x, y float64) float64 {
	n := code.Bounds().Dx()
	p.pen.SetFillColor(0, 0, 0)
	for from := 0; from < n; from++ {
		to := from
		for to < n && dark(code, to, 0) {
			to++
		}
		if to > from {
			p.pen.Rect(x+float64(quietBar+from)*barModule, y, float64(to-from)*barModule, barHigh, "F")
			from = to
		}
	}
	return barsWidth(code)
}

func barsWidth(code barcode.Barcode) float64 {
	return float64(code.Bounds().Dx()+2*quietBar) * barModule
}

func dark(code barcode.Barcode, x, y int) bool {
	r, _, _, _ := code.At(x, y).RGBA()
	return r == 0
}

// barCode makes the Code 128 of a text, which must be printable ASCII.
func barCode(text string) (barcode.Barcode, error) {
	code, err := code128.Encode(text)
	if err != nil {
		return nil, fmt.Errorf("document: bar code of %q: %w", text, err)
	}
	return code, nil
}
