package document

import "ribdesk/internal/drawing"

// Square draws the square code of a text for a page, with its quiet zone, black
// on white in whatever colours the page is: a phone reads nothing else surely.
func Square(text, title, desc string) (drawing.Picture, error) {
	code, err := qrCode(text)
	if err != nil {
		return drawing.Picture{}, err
	}
	const module = 4 // of the picture's units
	n := code.Bounds().Dx()
	side := float64(n+2*quietQR) * module
	p := drawing.Picture{Title: title, Desc: desc, Width: side, Height: side}
	p.Add(drawing.Rect{W: side, H: side, Fill: drawing.Swatch("", "#ffffff")})
	for row := range n {
		for from := 0; from < n; from++ {
			to := from
			for to < n && dark(code, to, row) {
				to++
			}
			if to > from {
				p.Add(drawing.Rect{X: float64(quietQR+from) * module, Y: float64(quietQR+row) * module, W: float64(to-from) * module, H: module, Fill: drawing.Swatch("", "#000000")})
				from = to
			}
		}
	}
	return p, nil
}
