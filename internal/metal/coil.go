package metal

import (
	"math"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
)

// Coil is the size of a coil as a tape measure finds it.
type Coil struct {
	OD    measure.Length `json:"od"` // diameter
	ID    measure.Length `json:"id"` // diameter
	Width measure.Length `json:"width"`
}

// Check gives what is wrong with the coil's size at od, id and width.
func (c Coil) Check() error {
	var bad fault.List
	if c.ID <= 0 {
		bad.Addf("id", "the inside diameter must be more than 0")
	}
	if c.OD <= c.ID {
		bad.Addf("od", "the outside diameter must be larger than the inside one")
	}
	if c.OD > 20*measure.Foot {
		bad.Addf("od", "no coil is %s across", c.OD.FeetInches(16))
	}
	if c.Width <= 0 {
		bad.Addf("width", "the strip width must be more than 0")
	}
	return bad.Err()
}

// area gives the coil's face in square inches: pi/4 (OD2 - ID2).
func (c Coil) area() float64 {
	od, id := c.OD.InInches(), c.ID.InInches()
	return math.Pi / 4 * (od*od - id*id)
}

// Strip gives the strip length wound in the coil, L = pi (OD2 - ID2) / (4 t),
// with the thickness that winds (Sheet.Overall). Air between the wraps makes
// the true length shorter; trust a footage counter before it.
func (c Coil) Strip(thickness measure.Length) measure.Length {
	return measure.FromInches(c.area() / thickness.InInches())
}

// Turns gives the number of wraps, (OD - ID) / 2t.
func (c Coil) Turns(thickness measure.Length) float64 {
	return float64(c.OD-c.ID) / 2 / float64(thickness)
}

// Pounds gives the weight from the coil's size and a density in lb/in3.
func (c Coil) Pounds(density float64) float64 {
	return c.area() * c.Width.InInches() * density
}

// StripFromWeight gives the strip length in a net weight when a foot weighs
// lbPerFt: the coil's own measured figure, or Sheet.PoundsPerFoot, which stands
// on real density, not on gauge-table weight. Fields are "weight" and "per_foot".
func StripFromWeight(lb, lbPerFt float64) (measure.Length, error) {
	var bad fault.List
	if !(lb > 0) || math.IsInf(lb, 0) {
		bad.Addf("weight", "the coil's weight must be more than 0 lb")
	}
	if !(lbPerFt > 0) || math.IsInf(lbPerFt, 0) {
		bad.Addf("per_foot", "the strip's weight per foot must be more than 0 lb")
	}
	if bad == nil && lb/lbPerFt > measure.Longest.InFeet() {
		bad.Addf("weight", "that weight would be more strip than a coil can hold")
	}
	if bad != nil {
		return 0, bad
	}
	return measure.FromFeet(lb / lbPerFt), nil
}

// OutsideFor gives the outside diameter that a strip length winds up to.
func OutsideFor(strip, inside, thickness measure.Length) measure.Length {
	id := inside.InInches()
	return measure.FromInches(math.Sqrt(id*id + 4/math.Pi*strip.InInches()*thickness.InInches()))
}
