package picture_test

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"strings"
	"testing"

	"ribdesk/internal/picture"
)

func shot(t testing.TB) *image.RGBA {
	m := image.NewRGBA(image.Rect(0, 0, 40, 30))
	for x := range 40 {
		for y := range 30 {
			m.Set(x, y, color.RGBA{uint8(x * 6), uint8(y * 8), uint8(x * y), 255})
		}
	}
	return m
}

func asJPEG(t testing.TB) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, shot(t), nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// segment is one of JPEG's, after ITU-T T.81, B.1.1.4.
func segment(marker byte, body string) []byte {
	head := []byte{0xff, marker, 0, 0}
	binary.BigEndian.PutUint16(head[2:], uint16(len(body)+2))
	return append(head, body...)
}

// exif is a note as cameras write it (TIFF 6.0): the orientation, and a text that
// stands for a place.
func exif(way uint16) string {
	b := []byte("Exif\x00\x00II*\x00\x08\x00\x00\x00\x02\x00")
	b = append(b, 0x0e, 0x01, 2, 0, 4, 0, 0, 0, 'q', 'z', 'w', 0)
	b = append(b, 0x12, 0x01, 3, 0, 1, 0, 0, 0)
	b = binary.LittleEndian.AppendUint16(b, way)
	b = append(b, 0, 0, 0, 0, 0, 0)
	return string(b) + "41.40338 N, 82.17403 W"
}

func TestCleanJPEG(t *testing.T) {
	plain := asJPEG(t)
	want, err := jpeg.Decode(bytes.NewReader(plain))
	if err != nil {
		t.Fatal(err)
	}
	for way := range uint16(9) {
		taken := append([]byte{0xff, 0xd8}, segment(0xe1, exif(way))...)
		taken = append(taken, segment(0xfe, "at the barn")...)
		taken = append(taken, segment(0xe1, "another note: secret")...)
		taken = append(taken, segment(0xed, "a caption")...)
		taken = append(taken, plain[2:]...)
		taken = append(taken, "a film behind the picture"...)
		kind, clean, err := picture.Clean(taken)
		if err != nil || kind != picture.JPEG {
			t.Fatalf("way %d: %q, %v", way, kind, err)
		}
		for _, secret := range []string{"41.40338", "barn", "secret", "caption", "film", "qzw"} {
			if strings.Contains(string(clean), secret) {
				t.Errorf("way %d: %q is still there", way, secret)
			}
		}
		got, err := jpeg.Decode(bytes.NewReader(clean))
		if err != nil {
			t.Fatal(err)
		}
		if got.(*image.YCbCr).At(17, 9) != want.(*image.YCbCr).At(17, 9) || !bytes.Equal(got.(*image.YCbCr).Y, want.(*image.YCbCr).Y) {
			t.Errorf("way %d: the picture changed", way)
		}
		note := bytes.Contains(clean, []byte("\x01\x12\x00\x03\x00\x00\x00\x01\x00"+string(rune(way))))
		if turned := way > 1 && way < 9; note != turned {
			t.Errorf("way %d: the orientation is kept: %v", way, note)
		}
		if _, again, err := picture.Clean(clean); err != nil || !bytes.Equal(again, clean) {
			t.Errorf("way %d: cleaned twice it isn't the same: %v", way, err)
		}
	}
}

func TestCleanPNG(t *testing.T) {
	var b bytes.Buffer
	if err := png.Encode(&b, shot(t)); err != nil {
		t.Fatal(err)
	}
	plain := b.Bytes()
	text := []byte("\x00\x00\x00\x0ctEXtplace\x00secret\x00\x00\x00\x00")
	taken := append(append(bytes.Clone(plain[:33]), text...), plain[33:]...) // behind IHDR
	kind, clean, err := picture.Clean(append(taken, "tail"...))
	if err != nil || kind != picture.PNG || !bytes.Equal(clean, plain) {
		t.Errorf("%q, %v, %d bytes of %d", kind, err, len(clean), len(plain))
	}
}

func TestRefuses(t *testing.T) {
	good := asJPEG(t)
	huge := bytes.Clone(good)
	at := bytes.Index(huge, []byte{0xff, 0xc0})
	copy(huge[at+5:], []byte{0xff, 0xff, 0xff, 0xff})
	for name, b := range map[string][]byte{
		"nothing": nil, "text": []byte("hello"), "svg": []byte("<svg/>"), "gif": []byte("GIF89a\x01\x00\x01\x00\x00\x00\x00;"),
		"cut off": good[:at+6], "html": append([]byte("<html>"), good...), "huge": huge,
	} {
		if kind, _, err := picture.Clean(b); err == nil {
			t.Errorf("%s is taken as %s", name, kind)
		}
	}
}

func FuzzClean(f *testing.F) {
	f.Add(asJPEG(f))
	f.Add(append(append([]byte{0xff, 0xd8}, segment(0xe1, exif(6))...), asJPEG(f)[2:]...))
	f.Fuzz(func(t *testing.T, b []byte) {
		kind, clean, err := picture.Clean(b)
		if err != nil {
			return
		}
		if again, twice, err := picture.Clean(clean); err != nil || again != kind || !bytes.Equal(twice, clean) {
			t.Fatalf("cleaned twice: %q, %v", again, err)
		}
	})
}
