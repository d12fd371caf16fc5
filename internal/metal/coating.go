package metal

import (
	"strings"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
)

// Coating is a metallic coating as it is ordered. Weights count both sides
// together unless they say otherwise.
type Coating struct {
	Designation string
	Metal       string  // zinc, zinc-iron or 55 % Al-Zn
	OzPerFt2    float64 // triple-spot minimum, both sides
	OneSide     float64 // triple-spot minimum on one side, oz/ft2; 0 where the standard names none
	SingleSpot  float64 // single-spot minimum, both sides, oz/ft2
}

// GramsPerOunce is g/m2 for each oz/ft2, NIST SP 811 (305 in GalvInfoNote 1.1).
const GramsPerOunce = 305.1517

// Densities of the coating metal, lb/ft3.
const (
	zincCoating = 446.0          // MetalForming Magazine, Dec 2019, p. 43
	alZnCoating = 3.75 * 62.4280 // 3.75 g/cm3: ASTM A792 thickness-mass relation, from memory
)

func ounces(designation, metal string, total, one, spot float64) Coating {
	return Coating{designation, metal, total, one, spot}
}

func grams(designation, metal string, total, one, spot float64) Coating {
	return Coating{designation, metal, total / GramsPerOunce, one / GramsPerOunce, spot / GramsPerOunce}
}

// coatings: zinc and zinc-iron from ASTM A653/A653M-15 Table 1; 55 % Al-Zn from
// ASTM A792/A792M Table 1, from memory, confirm before relying on a single spot.
var coatings = []Coating{
	ounces("G30", "zinc", 0.30, 0.10, 0.25),
	ounces("G40", "zinc", 0.40, 0.12, 0.30),
	ounces("G60", "zinc", 0.60, 0.20, 0.50),
	ounces("G90", "zinc", 0.90, 0.32, 0.80),
	ounces("G100", "zinc", 1.00, 0.36, 0.90),
	ounces("G115", "zinc", 1.15, 0.40, 1.00),
	ounces("G140", "zinc", 1.40, 0.48, 1.20),
	ounces("G165", "zinc", 1.65, 0.56, 1.40),
	ounces("G185", "zinc", 1.85, 0.64, 1.60),
	ounces("G210", "zinc", 2.10, 0.72, 1.80),
	ounces("G235", "zinc", 2.35, 0.80, 2.00),
	ounces("G300", "zinc", 3.00, 1.04, 2.60),
	ounces("G360", "zinc", 3.60, 1.28, 3.20),
	ounces("A25", "zinc-iron", 0.25, 0.08, 0.20),
	ounces("A40", "zinc-iron", 0.40, 0.12, 0.30),
	ounces("A60", "zinc-iron", 0.60, 0.20, 0.50),
	grams("Z90", "zinc", 90, 30, 75),
	grams("Z120", "zinc", 120, 36, 90),
	grams("Z180", "zinc", 180, 60, 150),
	grams("Z275", "zinc", 275, 94, 235),
	grams("Z305", "zinc", 305, 110, 275),
	grams("Z350", "zinc", 350, 120, 300),
	grams("Z450", "zinc", 450, 154, 385),
	grams("Z500", "zinc", 500, 170, 425),
	grams("Z550", "zinc", 550, 190, 475),
	grams("Z600", "zinc", 600, 204, 510),
	grams("Z700", "zinc", 700, 238, 595),
	grams("Z900", "zinc", 900, 316, 790),
	grams("Z1100", "zinc", 1100, 390, 975),
	ounces("AZ50", "55 % Al-Zn", 0.50, 0, 0.43),
	ounces("AZ55", "55 % Al-Zn", 0.55, 0, 0.50),
	ounces("AZ60", "55 % Al-Zn", 0.60, 0, 0.52),
	grams("AZM150", "55 % Al-Zn", 150, 0, 130),
	grams("AZM165", "55 % Al-Zn", 165, 0, 150),
	grams("AZM180", "55 % Al-Zn", 180, 0, 155),
}

// byDesignation finds a coating that is written as its standard does.
var byDesignation = func() map[string]int {
	at := map[string]int{}
	for i, c := range coatings {
		at[c.Designation] = i
	}
	return at
}()

// CoatingOf reads a designation: G90, g-90, AZ 55, Z275. The fault's field is
// "coating".
func CoatingOf(designation string) (Coating, error) {
	if i, ok := byDesignation[designation]; ok {
		return coatings[i], nil // as it is stored, which weights ask for all the time
	}
	want := strings.ToUpper(strings.NewReplacer(" ", "", "-", "").Replace(designation))
	for _, c := range coatings {
		if c.Designation == want {
			return c, nil
		}
	}
	return Coating{}, fault.Invalidf("coating", "“%s” isn't a coating designation; write it like G90, AZ50 or Z275", clip(designation))
}

// Thickness gives the coating's thickness on both sides together:
// oz/ft2 / 16 / density x 12 in. Real coating is thicker than the minimum.
func (c Coating) Thickness() measure.Length {
	density := zincCoating
	if strings.HasPrefix(c.Metal, "55") {
		density = alZnCoating
	}
	return measure.FromInches(c.OzPerFt2 / 16 / density * 12)
}

// GramsPerM2 gives the coating weight, both sides, in g/m2.
func (c Coating) GramsPerM2() float64 { return c.OzPerFt2 * GramsPerOunce }
