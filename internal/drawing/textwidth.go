package drawing

import "strings"

// TextWidth estimates how wide a text sets, in the unit of its size, a little
// on the wide side. Builders use it to decide whether a label fits; nothing
// exact hangs on it, since page and paper set slightly different fonts.
func TextWidth(s string, size float64, bold bool) float64 {
	w := 0.0
	for _, r := range s {
		w += runeWidth(r)
	}
	if bold {
		w *= 1.07
	}
	return w * size
}

// runeWidth gives a width in ems; the classes are measured on a common open
// humanist sans and rounded up.
func runeWidth(r rune) float64 {
	switch {
	case strings.ContainsRune(" .,'′|il!:;jI", r):
		return 0.29
	case strings.ContainsRune("″\"-frt()/¹²³⁄", r):
		return 0.41
	case strings.ContainsRune("mwMW½¼¾⅛⅜⅝⅞@%", r):
		return 0.93
	case r >= 'A' && r <= 'Z':
		return 0.68
	}
	return 0.59
}

// Fit cuts a text to a width and marks the cut with an ellipsis; "" where not
// even three characters fit.
func Fit(s string, size float64, bold bool, width float64) string {
	if TextWidth(s, size, bold) <= width {
		return s
	}
	const ellipsis, least = "…", 3
	room := width - TextWidth(ellipsis, size, bold)
	n, at := 0, 0.0
	rs := []rune(s)
	for ; n < len(rs); n++ {
		if at += TextWidth(string(rs[n]), size, bold); at > room {
			break
		}
	}
	if n < least {
		return ""
	}
	return strings.TrimRight(string(rs[:n]), " ,;") + ellipsis
}
