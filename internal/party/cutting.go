package party

import (
	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
)

// Cutting is how the house cuts coil and slits trim: what an end is still good
// for and what trouble is worth. What a machine loses at threading and tail, and
// how many inches a folder takes, belong to the machine.
type Cutting struct {
	ScrapEnd   measure.Length `json:"scrap_end"`   // a shorter end isn't worth a place on the rack
	UsefulEnd  measure.Length `json:"useful_end"`  // a shorter one keeps only part of its value
	AwkwardPct int            `json:"awkward_pct"` // that such an end loses
	ThreadMin  int            `json:"thread_min"`  // minutes to put another coil of the same strip on
	RackCents  int64          `json:"rack_cents"`  // for the place that an opened coil takes
	LotCents   int64          `json:"lot_cents"`   // trouble of a second paint lot in one order
	Knives     int            `json:"knives"`      // strips of one slitting set-up
	SlitMin    int            `json:"slit_min"`    // minutes to set a different slit pattern
	EdgeTrim   measure.Length `json:"edge_trim"`   // off each side of what trim is slit from
	KeptDrop   measure.Length `json:"kept_drop"`   // a narrower drop beside the strips is scrap
}

// UsualCutting is where a new shop starts. Common practice, no published source.
func UsualCutting() Cutting {
	return Cutting{
		ScrapEnd: 4 * measure.Foot, UsefulEnd: 25 * measure.Foot, AwkwardPct: 40, ThreadMin: 10, RackCents: 200, LotCents: 5000,
		Knives: 12, SlitMin: 4, KeptDrop: 4 * measure.Inch,
	}
}

// check adds what can't be a house's way of cutting, at its field.
func (c Cutting) check(l *fault.List) {
	if c.ScrapEnd < 0 || c.ScrapEnd > 100*measure.Foot {
		l.Addf("scrap_end", "give 0 to 100 ft")
	}
	if c.UsefulEnd < c.ScrapEnd || c.UsefulEnd > 1000*measure.Foot {
		l.Addf("useful_end", "give a length from that of a scrap end to 1,000 ft")
	}
	if c.EdgeTrim < 0 || c.EdgeTrim > 2*measure.Inch {
		l.Addf("edge_trim", "give 0 to 2 in")
	}
	if c.KeptDrop < 0 || c.KeptDrop > 60*measure.Inch {
		l.Addf("kept_drop", "give 0 to 60 in")
	}
	for _, f := range []struct {
		field       string
		value       int64
		least, most int64
		unit        string
	}{
		{"awkward_pct", int64(c.AwkwardPct), 0, 100, "%"}, {"thread_min", int64(c.ThreadMin), 0, 240, "minutes"},
		{"rack_cents", c.RackCents, 0, 100_000, "cents"}, {"lot_cents", c.LotCents, 0, 1_000_000, "cents"},
		{"knives", int64(c.Knives), 1, 99, "strips"}, {"slit_min", int64(c.SlitMin), 0, 240, "minutes"},
	} {
		if f.value < f.least || f.value > f.most {
			l.Addf(f.field, "give %d to %d %s", f.least, f.most, f.unit)
		}
	}
}
