// Package picture takes off a photo what the camera wrote beside it: where and
// when it was taken, with what, and smaller copies of it. The picture itself is
// not touched and loses nothing; the way up is kept.
//
// It knows JPEG (ITU-T T.81) and PNG (W3C Portable Network Graphics), and it
// neither shows nor scales anything.
package picture

import (
	"bytes"
	"encoding/binary"
	"image"
	_ "image/jpeg" // read by its header
	_ "image/png"
	"slices"

	"ribdesk/internal/fault"
)

// The kinds of picture.
const (
	JPEG = "image/jpeg"
	PNG  = "image/png"
)

// MostPixels is how large a picture may be when it is shown: a small file may
// unfold to gigabytes in somebody's browser.
const MostPixels = 60_000_000

var refused = fault.Invalidf("photo", "this isn't a picture that can be kept; take it as JPEG or PNG")

// Clean gives the kind of a picture, told by what is in it and not by its name,
// and the picture without what isn't one. The fault's field is "photo".
func Clean(b []byte) (kind string, clean []byte, err error) {
	size, format, err := image.DecodeConfig(bytes.NewReader(b))
	if err != nil || size.Width < 1 || size.Height < 1 {
		return "", nil, refused.Because(err)
	}
	if size.Width*size.Height > MostPixels {
		return "", nil, fault.Invalidf("photo", "this picture has more than %d million points; take it smaller", MostPixels/1_000_000)
	}
	ok := false
	switch format {
	case "jpeg":
		kind = JPEG
		clean, ok = cleanJPEG(b)
	case "png":
		kind = PNG
		clean, ok = cleanPNG(b)
	}
	if !ok {
		return "", nil, refused
	}
	return kind, clean, nil
}

// Markers of JPEG.
const (
	startOfImage = 0xd8
	endOfImage   = 0xd9
	startOfScan  = 0xda
	app0         = 0xe0 // JFIF
	app1         = 0xe1 // Exif and other notes
	app2         = 0xe2 // colour profile, among others
	app14        = 0xee // how the colours are coded
	app15        = 0xef
	comment      = 0xfe
)

// cleanJPEG copies the segments that make up the picture, up to its end.
func cleanJPEG(b []byte) ([]byte, bool) {
	if len(b) < 4 || b[0] != 0xff || b[1] != startOfImage {
		return nil, false
	}
	out := []byte{0xff, startOfImage}
	at, turned := 2, false
	for at+4 <= len(b) {
		if b[at] != 0xff {
			return nil, false
		}
		marker := b[at+1]
		switch {
		case marker == 0xff: // fill
			at++
			continue
		case marker == endOfImage:
			return append(out, 0xff, endOfImage), true
		}
		end := at + 2 + int(binary.BigEndian.Uint16(b[at+2:]))
		if end > len(b) || end < at+4 {
			return nil, false
		}
		segment := b[at:end]
		if marker == app1 && !turned {
			if way := orientation(segment[4:]); way > 1 {
				out, turned = append(out, wayUp(way)...), true
			}
		}
		if keptSegment(marker, segment[4:]) {
			out = append(out, segment...)
		}
		at = end
		if marker == startOfScan {
			next := endOfScan(b, at)
			out = append(out, b[at:next]...)
			at = next
		}
	}
	// A picture that ends without saying so, as some phones write them.
	return append(out, 0xff, endOfImage), at+2 >= len(b) && bytes.Contains(out, []byte{0xff, startOfScan})
}

func keptSegment(marker byte, body []byte) bool {
	switch {
	case marker == app0:
		return bytes.HasPrefix(body, []byte("JFIF\x00"))
	case marker == app2:
		return bytes.HasPrefix(body, []byte("ICC_PROFILE\x00"))
	case marker == app14:
		return bytes.HasPrefix(body, []byte("Adobe"))
	case marker >= app0 && marker <= app15, marker == comment:
		return false
	}
	return true
}

// endOfScan finds the marker after coded points: a 0xff that isn't followed by
// zero or a restart.
func endOfScan(b []byte, at int) int {
	for ; at+1 < len(b); at++ {
		if b[at] == 0xff && b[at+1] != 0 && b[at+1] != 0xff && (b[at+1] < 0xd0 || b[at+1] > 0xd7) {
			return at
		}
	}
	return len(b)
}

// orientation reads which way is up from an Exif note (TIFF 6.0, tag 274): 1 is
// as it lies, 2 to 8 are turned or mirrored.
func orientation(body []byte) uint16 {
	tiff, ok := bytes.CutPrefix(body, []byte("Exif\x00\x00"))
	if !ok || len(tiff) < 14 {
		return 1
	}
	var order binary.ByteOrder = binary.BigEndian
	if tiff[0] == 'I' {
		order = binary.LittleEndian
	}
	start := order.Uint32(tiff[4:])
	if start > uint32(len(tiff))-2 {
		return 1
	}
	entries := tiff[start+2:]
	for range order.Uint16(tiff[start:]) {
		if len(entries) < 12 {
			return 1
		}
		if order.Uint16(entries) == 274 {
			if way := order.Uint16(entries[8:]); way >= 1 && way <= 8 {
				return way
			}
			return 1
		}
		entries = entries[12:]
	}
	return 1
}

// wayUp is an Exif note that says the orientation and nothing else.
func wayUp(way uint16) []byte {
	note := []byte("Exif\x00\x00MM\x00*\x00\x00\x00\x08\x00\x01\x01\x12\x00\x03\x00\x00\x00\x01")
	note = binary.BigEndian.AppendUint16(note, way)
	note = append(note, 0, 0, 0, 0, 0, 0)
	head := []byte{0xff, app1, 0, 0}
	binary.BigEndian.PutUint16(head[2:], uint16(len(note)+2))
	return append(head, note...)
}

var (
	pngStart = []byte("\x89PNG\r\n\x1a\n")
	pngKept  = []string{"IHDR", "PLTE", "IDAT", "IEND", "tRNS", "gAMA", "cHRM", "sRGB", "iCCP", "sBIT", "pHYs", "bKGD"}
)

// cleanPNG copies the chunks that make up the picture.
func cleanPNG(b []byte) ([]byte, bool) {
	out := slices.Clone(pngStart)
	if !bytes.HasPrefix(b, pngStart) {
		return nil, false
	}
	for at := len(pngStart); at+12 <= len(b); {
		size := int64(binary.BigEndian.Uint32(b[at:]))
		end := int64(at) + 12 + size
		if end > int64(len(b)) {
			return nil, false
		}
		name := string(b[at+4 : at+8])
		if slices.Contains(pngKept, name) {
			out = append(out, b[at:end]...)
		}
		if name == "IEND" {
			return out, true
		}
		at = int(end)
	}
	return nil, false
}
