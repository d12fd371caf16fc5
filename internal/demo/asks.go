package demo

import (
	"math/rand/v2"

	"ribdesk/internal/measure"
	"ribdesk/internal/order"
)

// job is a kind of work that customers ask for.
type job struct {
	name   string
	weight int
	lines  func(r *rand.Rand) []order.Line
}

var jobs = []job{
	{"seam roof", 9, seamRoof}, {"barn roof", 9, barnRoof}, {"gutter", 7, gutterRun}, {"copper bay", 2, copperBay},
	{"wall panels", 3, wallPanels}, {"trim only", 5, trimOnly}, {"wainscot", 2, wainscot}, {"low slope roof", 3, lowSlope},
	{"fasteners", 3, fasteners}, {"repair", 4, repair},
}

// pick gives one of a list.
func pick[T any](r *rand.Rand, list ...T) T { return list[r.IntN(len(list))] }

func pickJob(r *rand.Rand) job {
	sum := 0
	for _, j := range jobs {
		sum += j.weight
	}
	n := r.IntN(sum)
	for _, j := range jobs {
		if n < j.weight {
			return j
		}
		n -= j.weight
	}
	return jobs[0]
}

// from says of what metal a line is.
type from struct{ material, gauge, colour string }

func formed(code string, m from, cuts ...order.CutItem) order.Line {
	return order.Line{Kind: order.Formed, Code: code, Material: m.material, Gauge: m.gauge, Colour: m.colour, Cuts: cuts}
}

func folded(code string, m from, qty int, feet int) order.Line {
	return order.Line{Kind: order.Trim, Code: code, Material: m.material, Gauge: m.gauge, Colour: m.colour, Cuts: []order.CutItem{cut(qty, measure.Foot.Times(feet))}}
}

func shelf(code string, count int) order.Line {
	return order.Line{Kind: order.Accessory, Code: code, Count: max(1, count)}
}

// cut gives a row of a cut list as a customer writes it.
func cut(qty int, l measure.Length) order.CutItem {
	return order.CutItem{Qty: qty, Length: l, Typed: l.FeetInches(16)}
}

// cuts gives some lengths of a roof between two limits in feet, to the quarter
// inch, and so many pieces of them in all.
func cuts(r *rand.Rand, rows, pieces, least, most int) []order.CutItem {
	var out []order.CutItem
	for i := range rows {
		quarters := least*48 + r.IntN((most-least)*48)
		if r.IntN(3) > 0 {
			quarters -= quarters % 4 // most people measure to the inch
		}
		item := cut(max(1, pieces/rows), measure.Inch/4*measure.Length(quarters))
		if rows > 1 {
			item.Mark = string(rune('A' + i))
		}
		out = append(out, item)
	}
	return out
}

func seamRoof(r *rand.Rand) []order.Line {
	m := from{"AZ50", "24 ga", pick(r, "CHAR", "CHAR", "WHT", "GRN", "BRZ")}
	pieces := 14 + r.IntN(34)
	lines := []order.Line{
		formed("SEAM16", m, cuts(r, 1+r.IntN(3), pieces, 9, 27)...),
		folded("RIDGE", m, 3+r.IntN(5), 10), folded("EAVE", m, 4+r.IntN(6), 10), folded("RAKE", m, 4+r.IntN(4), 10),
		shelf("CLIP-FIX", pieces*9), shelf("SCREW-PAN", 1+pieces/18),
	}
	if r.IntN(3) == 0 {
		lines = append(lines, folded("VALLEY", m, 2+r.IntN(3), 10), shelf("SEALANT", 4))
	}
	return lines
}

func lowSlope(r *rand.Rand) []order.Line {
	m := from{"AZ50", "24 ga", pick(r, "CHAR", "BRZ")}
	pieces := 16 + r.IntN(20)
	return []order.Line{
		formed("LOCK18", m, cuts(r, 1+r.IntN(2), pieces, 16, 38)...),
		folded("EAVE", m, 5, 10), folded("ENDWALL", m, 4, 10), shelf("CLIP-FLOAT", pieces*12), shelf("BUTYL", 4),
	}
}

func barnRoof(r *rand.Rand) []order.Line {
	gauge := pick(r, "29 ga", "29 ga", "26 ga")
	colour := pick(r, "WHT", "RED")
	if gauge == "29 ga" {
		colour = pick(r, "WHT", "RED", "BLU", "MILL")
	}
	pieces := 18 + r.IntN(30)
	trimMetal := from{"AZ50", "26 ga", pick(r, "WHT", "RED")}
	return []order.Line{
		formed("RIB36", from{"AZ50", gauge, colour}, cuts(r, 1+r.IntN(2), pieces, 10, 30)...),
		folded("RIDGE", trimMetal, 4+r.IntN(5), 10), shelf("SCREW-HEX", 2+pieces/9),
		shelf("CLOSURE-IN", pieces), shelf("CLOSURE-OUT", pieces), shelf("BUTYL", 3),
	}
}

func wainscot(r *rand.Rand) []order.Line {
	m := from{"G90", "26 ga", "MILL"}
	return []order.Line{
		formed("WAVE32", m, cuts(r, 1, 12+r.IntN(14), 3, 8)...),
		folded("JCHANNEL", m, 6+r.IntN(6), 10), shelf("SCREW-HEX", 2),
	}
}

func wallPanels(r *rand.Rand) []order.Line {
	m := from{"AZ50", "24 ga", pick(r, "WHT", "CHAR")}
	return []order.Line{
		formed("BATTEN12", m, cuts(r, 2, 22+r.IntN(26), 8, 14)...),
		folded("OUTCORNER", m, 4, 10), folded("INCORNER", m, 2, 10), folded("BASEDRIP", m, 6, 10), folded("JCHANNEL", m, 8, 10), shelf("SCREW-PAN", 2),
	}
}

func gutterRun(r *rand.Rand) []order.Line {
	colour := pick(r, "WHT", "WHT", "BRZ")
	m := from{"AL", "0.032 in", colour}
	code := pick(r, "OGEE5", "OGEE5", "OGEE6")
	lines := []order.Line{
		formed(code, m, cuts(r, 1+r.IntN(3), 2+r.IntN(5), 14, 42)...),
		formed("SPOUT34", m, cuts(r, 1, 2+r.IntN(5), 8, 14)...),
		shelf("HANGER", 40+r.IntN(80)), shelf("SEALANT", 2),
	}
	if code == "OGEE5" {
		lines = append(lines, shelf("ENDCAP-5", 4))
	}
	return lines
}

func copperBay(r *rand.Rand) []order.Line {
	m := from{"CU", "16 oz", "BARE"}
	return []order.Line{
		formed("SEAM16", m, cuts(r, 2, 8+r.IntN(6), 4, 9)...),
		formed("HALF6", m, cuts(r, 1, 2, 8, 16)...), shelf("CLIP-FIX", 60),
	}
}

func trimOnly(r *rand.Rand) []order.Line {
	m := pick(r, from{"AZ50", "24 ga", "CHAR"}, from{"AZ50", "24 ga", "WHT"}, from{"AZ50", "26 ga", "RED"}, from{"G90", "26 ga", "MILL"})
	var lines []order.Line
	for _, code := range []string{"SIDEWALL", "TRANSITION", "FASCIA", "HIP", "ZCLOSURE"} {
		if r.IntN(2) == 0 {
			lines = append(lines, folded(code, m, 2+r.IntN(8), 10))
		}
	}
	return append(lines, folded("EAVE", m, 3+r.IntN(8), 10), shelf("RIVET", 1+r.IntN(2)))
}

func fasteners(r *rand.Rand) []order.Line {
	return []order.Line{shelf("SCREW-HEX", 1+r.IntN(6)), shelf("SEALANT", 2+r.IntN(6)), shelf("SNOWGUARD", 12+r.IntN(30))}
}

func repair(r *rand.Rand) []order.Line {
	if r.IntN(2) == 0 {
		return []order.Line{formed("RIB36", from{"AZ50", "29 ga", pick(r, "WHT", "RED")}, cuts(r, 1, 2+r.IntN(3), 8, 16)...), shelf("SCREW-HEX", 1)}
	}
	return repairPanels(r)
}

func repairPanels(r *rand.Rand) []order.Line {
	m := from{"AZ50", "24 ga", "CHAR"}
	return []order.Line{formed("SEAM16", m, cuts(r, 1, 3+r.IntN(3), 6, 12)...), folded("RIDGE", m, 1, 10)}
}
