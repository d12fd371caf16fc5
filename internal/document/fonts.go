package document

import (
	"bytes"
	_ "embed"
	"encoding/binary"
	"strings"

	"github.com/johnfercher/maroto/v2/pkg/consts/fontstyle"
	"github.com/johnfercher/maroto/v2/pkg/core/entity"
)

//go:embed fonts/open-sans-regular.ttf
var regularFont []byte

//go:embed fonts/open-sans-bold.ttf
var boldFont []byte

//go:embed fonts/open-sans-narrow-bold.ttf
var narrowFont []byte

// face is one cut of the papers' type.
type face struct{ family, style string }

var (
	regular = face{"sheet", ""}
	bold    = face{"sheet", "B"}
	narrow  = face{"narrow", "B"} // small heads
)

// customFonts hands out copies: the PDF library writes into the bytes it gets.
func customFonts() []*entity.CustomFont {
	return []*entity.CustomFont{
		{Family: "sheet", Style: fontstyle.Normal, Bytes: bytes.Clone(regularFont)},
		{Family: "sheet", Style: fontstyle.Bold, Bytes: bytes.Clone(boldFont)},
		{Family: "narrow", Style: fontstyle.Bold, Bytes: bytes.Clone(narrowFont)},
	}
}

// covered holds the characters the fonts have. A character that a font lacks
// vanishes from the sheet while it can still be copied from it, and one beyond
// U+FFFF stops the PDF library, so text is cleaned by this before it is set.
var covered = characters(regularFont)

// characters reads the segments of a TrueType font's Unicode table (cmap
// format 4, platform 3, encoding 1).
func characters(font []byte) map[rune]bool {
	u16 := func(at int) int { return int(binary.BigEndian.Uint16(font[at:])) }
	u32 := func(at int) int { return int(binary.BigEndian.Uint32(font[at:])) }
	set := map[rune]bool{}
	cmap := 0
	for i := range u16(4) {
		if entry := 12 + 16*i; string(font[entry:entry+4]) == "cmap" {
			cmap = u32(entry + 8)
		}
	}
	for i := range u16(cmap + 2) {
		record := cmap + 4 + 8*i
		table := cmap + u32(record+4)
		if u16(record) != 3 || u16(record+2) != 1 || u16(table) != 4 {
			continue
		}
		segments := u16(table+6) / 2
		ends, starts := table+14, table+16+2*segments
		for s := range segments {
			for c := u16(starts + 2*s); c <= u16(ends+2*s) && c != 0xFFFF; c++ {
				set[rune(c)] = true
			}
		}
	}
	return set
}

// clean leaves only what the fonts can set: white space becomes a space,
// anything else unknown a replacement mark that a reader notices.
func clean(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\n':
			return r
		case r == '\t' || r == '\r' || r == '\u2009' || r == '\u202f':
			return ' '
		case r < ' ' || r == 0xAD || (r >= 0x200B && r <= 0x200F) || r == 0xFEFF || (r >= 0xFE00 && r <= 0xFE0F):
			return -1
		case covered[r]:
			return r
		}
		return '\uFFFD'
	}, s)
}
