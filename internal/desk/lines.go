package desk

import (
	"strings"

	"ribdesk/internal/price"
	"ribdesk/internal/words"
)

// The usual names of what is changed over on a machine, as the first word of a
// set-up's label, and the usual units, finishes and flats of the catalogue. An
// owner's own words beyond these are data and are shown as they are.
var _ = []string{
	words.Key("rollers"), words.Key("coil"), words.Key("rib"), words.Key("profile"),
	words.Key("each"), words.Key("roll"), words.Key("tube"), words.Key("bag"), words.Key("box"), words.Key("trip"), words.Key("bundle"),
	words.Key("fluoropolymer"), words.Key("silicone polyester"), words.Key("mill"), words.Key("bare"),
	words.Key("plain"), words.Key("pencil"), words.Key("striated"),
	words.Key("Minimum order"), words.Key("Mobilisation"),
}

// LineName names a line of a price for a reader.
func LineName(l price.Line, r words.Reader) string {
	switch first, rest, _ := strings.Cut(l.Label, " "); l.Kind {
	case price.CutLine:
		if l.Length > 0 && l.Label == l.Length.FeetInches(16) {
			return r.Read(l.Length)
		}
	case price.SetupLine:
		return strings.TrimSpace(r.Read(first) + " " + rest)
	case price.BreakLine:
		if of, ok := strings.CutPrefix(l.Label, "Quantity break, "); ok {
			return r.T("Quantity break, %s", of)
		}
	}
	return r.Read(l.Label)
}

// ChargeName names a charge or allowance of an invoice for a reader: its name, and
// behind a colon the reason.
func ChargeName(reason string, r words.Reader) string {
	if of, ok := strings.CutSuffix(reason, onTheGoods); ok {
		return r.T("%s on the goods", words.Say(of))
	}
	name, why, ok := strings.Cut(reason, ": ")
	if !ok {
		return r.Read(reason)
	}
	if what, of, ok := strings.Cut(why, " "); ok && r.Read(why) == why {
		why = r.Read(what) + " " + of
	} else {
		why = r.Read(why)
	}
	return r.Read(name) + ": " + why
}

// onTheGoods ends the reason of a discount on an invoice.
const onTheGoods = " on the goods"

// UnitName names the unit that something is sold by: a box of 250.
func UnitName(unit string, r words.Reader) string {
	if what, of, ok := strings.Cut(unit, " of "); ok {
		return r.T("%s of %s", words.Say(what), of)
	}
	return r.Read(unit)
}
