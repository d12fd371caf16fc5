package metal

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
)

// System is a way of calling a thickness. The same number means a different
// thickness in each.
type System string

// The gauge systems.
const (
	USStandard            System = "us"        // 15 U.S.C. 206, by weight of wrought iron
	ManufacturersStandard System = "msg"       // uncoated steel, 41.82 lb/ft2 per inch
	GalvanizedGauge       System = "galv"      // nominal, with 2.5 oz/ft2 of zinc
	GalvanizedFloor       System = "galv-min"  // the minimum of the galvanized row, as roofing is sold
	BrownSharpe           System = "bs"        // nonferrous, ASTM B258
	CopperOunce           System = "copper-oz" // ounces per square foot, ASTM B370
	DecimalInch           System = "inch"
	ZincMillimetre        System = "mm"
)

// GaugeInfo is one row of a gauge system.
type GaugeInfo struct {
	System    System
	Label     string         // as a list shows it: 24 ga, 16 oz, 0.032 in, 0.70 mm
	Thickness measure.Length // nominal, to the nanometre; a floor system gives the minimum
	Min, Max  measure.Length // 0 where the system names none
	TableLb   float64        // the table's own weight in lb/ft2, 0 where it has none
}

var systemNames = map[System]string{
	USStandard:            "US standard gauge",
	ManufacturersStandard: "manufacturers' standard gauge",
	GalvanizedGauge:       "galvanized gauge, nominal",
	GalvanizedFloor:       "galvanized gauge, minimum",
	BrownSharpe:           "Brown & Sharpe gauge",
	CopperOunce:           "ounces per square foot",
	DecimalInch:           "decimal inch",
	ZincMillimetre:        "millimetres",
}

// Name gives the system in people's words.
func (s System) Name() string { return systemNames[s] }

// Systems gives every gauge system.
func Systems() []System {
	return []System{GalvanizedGauge, GalvanizedFloor, ManufacturersStandard, USStandard, BrownSharpe, CopperOunce, DecimalInch, ZincMillimetre}
}

// tenths gives a thickness from a whole count of 1/10000 in, which is 2540 nm.
func tenths(n int) measure.Length { return measure.Length(n) * (measure.Inch / 10_000) }

// steelOunces is the weight of a gauge number, 16 to 30, in oz/ft2. US standard
// and manufacturers' gauge share it: 15 U.S.C. 206; GNU units 2.22, plategauge
// and stdgauge (quoting the ASTM B258 appendix).
var steelOunces = [...]int{40, 36, 32, 28, 24, 22, 20, 18, 16, 14, 12, 11, 10, 9, 8}

const (
	firstGauge    = 16
	lastGauge     = 30
	zincAllowance = 2.5 // oz/ft2 the galvanized table adds, whatever the coating
)

// sheetSteel is the manufacturers' standard in 1/10000 in: nominal and the
// tolerance either way that sheet thickness charts print (0 where they stop).
var sheetSteel = [...]struct{ nominal, tolerance int }{
	{598, 50}, {538, 40}, {478, 40}, {418, 40}, {359, 30}, {329, 30}, {299, 30}, {269, 30},
	{239, 30}, {209, 30}, {179, 20}, {164, 20}, {149, 20}, {135, 0}, {120, 0},
}

// zincedSteel is the galvanized table in 1/10000 in and lb/ft2: SMACNA
// galvanized sheet thickness tolerances, after ASTM A924 and A653. Its nominal
// weights are gauge-table weights, its minimum weights real ones.
var zincedSteel = [...]struct {
	nominal, tolerance int
	lbMin              float64
}{
	{635, 60, 2.342}, {575, 50, 2.1381}, {516, 50, 1.8974}, {456, 50, 1.6526}, {396, 40, 1.4486},
	{366, 40, 1.3263}, {336, 40, 1.2038}, {306, 40, 1.0814}, {276, 40, 0.9590}, {247, 40, 0.8407},
	{217, 30, 0.7591}, {202, 30, 0.6979}, {187, 30, 0.6367}, {172, 30, 0.5755}, {157, 30, 0.5143},
}

// copperRows are ounces per square foot with thickness in 1/10000 in: Copper
// Development Association, Copper in Architecture Design Handbook, Table 1.1.3
// (sheet to ASTM B370).
var copperRows = []struct{ ounces, nominal, min int }{
	{12, 162, 150}, {16, 216, 204}, {20, 270, 258}, {24, 323, 308}, {32, 431, 411}, {48, 646, 621},
}

// Labels gives the labels of a system for a form's list, thickest first as
// gauge tables run; copper, decimal and metric run thinnest first.
func Labels(s System) []string {
	switch s {
	case CopperOunce:
		var out []string
		for _, r := range copperRows {
			out = append(out, strconv.Itoa(r.ounces)+" oz")
		}
		return out
	case DecimalInch: // usual thicknesses, common practice, no published source
		return []string{"0.019 in", "0.024 in", "0.027 in", "0.032 in", "0.040 in", "0.050 in", "0.063 in", "0.080 in"}
	case ZincMillimetre: // EN 988 series, from memory
		return []string{"0.65 mm", "0.70 mm", "0.80 mm", "1.00 mm"}
	}
	if _, ok := systemNames[s]; !ok {
		return nil
	}
	var out []string
	for n := firstGauge; n <= lastGauge; n++ {
		out = append(out, gaugeLabel(n))
	}
	return out
}

func gaugeLabel(n int) string { return strconv.Itoa(n) + " ga" }

// Gauge reads a label in a system: 24, 24 ga, 16 oz, .032, 0.70 mm. Decimal and
// metric systems take any thickness of sheet, the others only their table. The
// fault's field is "gauge".
func Gauge(s System, label string) (GaugeInfo, error) {
	switch s {
	case CopperOunce:
		return copperGauge(label)
	case DecimalInch:
		return decimalGauge(s, label, measure.Inches)
	case ZincMillimetre:
		return decimalGauge(s, label, measure.Millimetres)
	}
	if _, ok := systemNames[s]; !ok {
		return GaugeInfo{}, fault.Invalidf("gauge", "“%s” isn't a gauge system", clip(string(s)))
	}
	n, err := wholeBefore(label, "ga", "ga.", "gauge", "gage", "g", "#")
	if err != nil || n < firstGauge || n > lastGauge {
		return GaugeInfo{}, fault.Invalidf("gauge", "“%s” isn't in the table of %s; choose %d to %d ga or give the thickness", clip(label), s.Name(), firstGauge, lastGauge)
	}
	return tableGauge(s, n), nil
}

func tableGauge(s System, n int) GaugeInfo {
	row := n - firstGauge
	ounces := steelOunces[row]
	g := GaugeInfo{System: s, Label: gaugeLabel(n)}
	switch s {
	case USStandard:
		// The inch column is the weight in wrought iron at 480 lb/ft3: oz / 640.
		g.Thickness = (measure.Length(ounces)*measure.Inch + 320) / 640
		g.TableLb = float64(ounces) / 16
	case ManufacturersStandard:
		r := sheetSteel[row]
		g.Thickness, g.TableLb = tenths(r.nominal), float64(ounces)/16
		if r.tolerance > 0 {
			g.Min, g.Max = tenths(r.nominal-r.tolerance), tenths(r.nominal+r.tolerance)
		}
	case GalvanizedGauge, GalvanizedFloor:
		r := zincedSteel[row]
		g.Thickness, g.TableLb = tenths(r.nominal), (float64(ounces)+zincAllowance)/16
		g.Min, g.Max = tenths(r.nominal-r.tolerance), tenths(r.nominal+r.tolerance)
		if s == GalvanizedFloor {
			g.Thickness, g.TableLb = g.Min, r.lbMin
		}
	case BrownSharpe:
		// ASTM B258: 0.005 in x 92^((36-n)/39), printed to 0.0001 in.
		g.Thickness = measure.FromInches(0.005 * math.Pow(92, float64(36-n)/39)).Near(tenths(1))
	}
	return g
}

func copperGauge(label string) (GaugeInfo, error) {
	n, err := wholeBefore(label, "oz", "oz.", "ounce", "ounces")
	if err == nil {
		for _, r := range copperRows {
			if r.ounces == n {
				return GaugeInfo{System: CopperOunce, Label: strconv.Itoa(n) + " oz",
					Thickness: tenths(r.nominal), Min: tenths(r.min), TableLb: float64(n) / 16}, nil
			}
		}
	}
	return GaugeInfo{}, fault.Invalidf("gauge", "“%s” isn't a weight of copper sheet; choose %s", clip(label), strings.Join(Labels(CopperOunce), ", "))
}

// Thinnest and thickest that a roll former or hand folder of sheet ever sees.
const (
	thinnest = measure.Inch / 200
	thickest = measure.Inch / 4
)

func decimalGauge(s System, label string, unit measure.Unit) (GaugeInfo, error) {
	r, err := measure.Read(label, unit)
	if err != nil {
		return GaugeInfo{}, fault.Invalidf("gauge", "“%s” isn't a thickness; write it like %s", clip(label), Labels(s)[1])
	}
	if r.Length < thinnest || r.Length > thickest {
		return GaugeInfo{}, fault.Invalidf("gauge", "%s is no thickness of sheet; it must be from 0.005 to 0.25 in", clip(label))
	}
	text := trimInches(r.Length)
	if s == ZincMillimetre {
		text = fmt.Sprintf("%.2f mm", r.Length.InMetres()*1000)
	}
	return GaugeInfo{System: s, Label: text, Thickness: r.Length}, nil
}

// trimInches writes a thickness with 3 decimals, or 4 where it needs them.
func trimInches(t measure.Length) string {
	if t%measure.Mil == 0 {
		return t.Inches() + " in"
	}
	return fmt.Sprintf("%.4f in", t.InInches())
}

// wholeBefore reads a whole number with one of the words behind it or none.
func wholeBefore(label string, words ...string) (int, error) {
	s := strings.ToLower(strings.TrimSpace(label))
	digits := strings.TrimRight(s, "abcdefghijklmnopqrstuvwxyz.# ")
	word := strings.TrimSpace(s[len(digits):])
	if word != "" && !slices.Contains(words, word) {
		return 0, fmt.Errorf("unknown word %q", word)
	}
	return strconv.Atoi(digits)
}
