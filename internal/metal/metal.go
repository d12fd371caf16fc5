// Package metal knows sheet metal as a cut-and-drop shop meets it: families and
// their densities, gauge systems, metallic coatings, what a strip weighs, how
// many feet a coil holds, how far a panel moves with heat, and folded trim
// sections with their girth, checks and outlines.
//
// It knows no stock, machines or money. Weights and temperatures are floats;
// every length is a measure.Length. A gauge number is only ever a label here:
// the decimal thickness decides.
package metal

import (
	"strings"

	"ribdesk/internal/fault"
)

// Family is a kind of sheet with one density and one habit of calling gauges.
type Family string

// The families a shop stocks.
const (
	Galvanized Family = "galvanized" // zinc or zinc-iron coated steel, ASTM A653
	AlZn       Family = "al-zn"      // 55 % aluminium-zinc coated steel, ASTM A792
	BareSteel  Family = "steel"
	Stainless  Family = "stainless"
	Aluminium  Family = "aluminium"
	Copper     Family = "copper"
	Zinc       Family = "zinc" // titanium-zinc, EN 988
)

// properties of the base metal of a family.
type properties struct {
	name      string
	density   float64 // lb/in3
	expansion float64 // per degree F
	systems   []System
	coated    string // metal of the coating, "" for none
}

// SteelPerInch is the weight of real steel, lb/ft2 for each inch of thickness:
// 10.2 lb/ft2 for 1/4 in plate, Electromechanical Design Handbook, 3rd ed.,
// ch. 11; 0.2833 lb/in3, ASTM B258 appendix as quoted in GNU units 2.22.
const SteelPerInch = 40.8

// GaugePerInch is the weight of steel that the manufacturers' gauge table is
// built on, lb/ft2 for each inch: 2.5 % above real steel.
const GaugePerInch = 41.82

const (
	steelDensity   = SteelPerInch / 144
	poundsPerGram  = 1 / 27.67990 // lb/in3 for each g/cm3, NIST SP 811 (from memory)
	steelExpansion = 6.7e-6       // NRCA Roofing Manual 2016, metal panels
)

var families = map[Family]properties{
	Galvanized: {"Galvanized steel", steelDensity, steelExpansion, []System{GalvanizedGauge, GalvanizedFloor, DecimalInch}, "zinc"},
	AlZn:       {"55% Al-Zn coated steel", steelDensity, steelExpansion, []System{GalvanizedFloor, GalvanizedGauge, DecimalInch}, "55 % Al-Zn"},
	BareSteel:  {"Bare steel", steelDensity, steelExpansion, []System{ManufacturersStandard, USStandard, DecimalInch}, ""},
	// AISI 304: 8.0 g/cm3, 17.3e-6 per C; from memory, common data sheet values.
	Stainless: {"Stainless steel", 8.0 * poundsPerGram, 9.6e-6, []System{USStandard, DecimalInch}, ""},
	// Alloy 3105: 2720 kg/m3, aluminum structural design handbook Table 4.3;
	// 23e-6 per C, the same handbook, ch. 4.
	Aluminium: {"Aluminium", 2.72 * poundsPerGram, 23e-6 / 1.8, []System{DecimalInch, BrownSharpe}, ""},
	// Copper Development Association: 0.322 lb/in3, Copper in Architecture
	// Table 1.1A; 9.33e-6 per F for 77 to 212 F, the range of a roof.
	Copper: {"Copper", 0.322, 9.33e-6, []System{CopperOunce, DecimalInch, BrownSharpe}, ""},
	// 7.2 g/cm3 and 22e-6 per C along the rolling: producer data page for EN 988 alloy.
	Zinc: {"Zinc", 7.2 * poundsPerGram, 22e-6 / 1.8, []System{ZincMillimetre, DecimalInch}, ""},
}

// Families gives every family in the order of a form's list.
func Families() []Family {
	return []Family{Galvanized, AlZn, BareSteel, Stainless, Aluminium, Copper, Zinc}
}

// ParseFamily reads a family as it is stored; the fault's field is "family".
func ParseFamily(s string) (Family, error) {
	f := Family(strings.TrimSpace(s))
	if _, ok := families[f]; !ok {
		return "", fault.Invalidf("family", "“%s” isn't a metal of this shop's list", clip(s))
	}
	return f, nil
}

// Name gives the family in people's words.
func (f Family) Name() string { return families[f].name }

// Density gives the base metal's density in lb/in3, without any coating.
func (f Family) Density() float64 { return families[f].density }

// Expansion gives the linear expansion per degree F.
func (f Family) Expansion() float64 { return families[f].expansion }

// Systems gives the gauge systems that call this family's thickness, the usual
// one first.
func (f Family) Systems() []System { return families[f].systems }

// Coatings gives the coating designations this family is ordered with; none
// for metals that carry no metallic coating.
func (f Family) Coatings() []Coating {
	var out []Coating
	for _, c := range coatings {
		if f.takes(c) {
			out = append(out, c)
		}
	}
	return out
}

func (f Family) takes(c Coating) bool {
	metal := families[f].coated
	return metal != "" && strings.HasPrefix(c.Metal, metal)
}

// alloys are the aluminium alloys of roofing coil with their density in g/cm3,
// aluminum structural design handbook, Table 4.3.
var alloys = map[string]float64{"1100": 2.71, "3003": 2.73, "3004": 2.72, "3005": 2.73, "3105": 2.72}

// AluminiumAlloys gives the alloys a sheet can name.
func AluminiumAlloys() []string { return []string{"1100", "3003", "3004", "3005", "3105"} }

// clip shortens what a person typed for a sentence.
func clip(s string) string {
	r := []rune(strings.TrimSpace(s))
	if len(r) > 40 {
		return string(r[:40]) + "…"
	}
	return string(r)
}
