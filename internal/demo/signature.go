package demo

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"math"
)

// signature draws a scrawl of its own for each number, as a finger leaves it on
// a phone.
func signature(seed int64) []byte {
	const wide, high = 240, 70
	img := image.NewPaletted(image.Rect(0, 0, wide, high), color.Palette{color.White, color.Black})
	s := float64(seed%17) + 3
	for i := range 4000 {
		u := float64(i) / 4000
		x := 12 + u*(wide-24) + 9*math.Sin(u*s*5)
		y := high/2 + (high/2-14)*math.Sin(u*s*3.1)*math.Cos(u*7)*(1-0.6*u)
		for _, at := range []image.Point{{0, 0}, {1, 0}, {0, 1}} {
			img.SetColorIndex(int(x)+at.X, int(y)+at.Y, 1)
		}
	}
	var out bytes.Buffer
	if err := png.Encode(&out, img); err != nil {
		panic("demo: a picture in memory can't fail: " + err.Error())
	}
	return out.Bytes()
}
