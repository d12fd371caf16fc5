package metal

import (
	"fmt"
	"math"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
)

// Basis says what a sheet's thickness counts.
type Basis string

const (
	// WithCoating is the ordered thickness of coated steel, metallic coating
	// included and paint not (ASTM A924, from memory). It is the zero value.
	WithCoating Basis = ""
	// BaseOnly is the thickness of the base metal alone.
	BaseOnly Basis = "base"
)

// Sheet is what a panel, trim or coil is made of.
type Sheet struct {
	Family    Family         `json:"family"`
	Alloy     string         `json:"alloy,omitempty"` // aluminium only; "" takes the family's density
	Thickness measure.Length `json:"thickness"`
	Basis     Basis          `json:"basis,omitempty"`
	Coating   string         `json:"coating,omitempty"`   // designation, "" for none or unknown
	PaintMil  float64        `json:"paint_mil,omitempty"` // dry film on both sides together, 1/1000 in
}

// paintPerMil is lb/ft2 for each mil of dry film at 1.4 g/cm3; common practice,
// no published source.
const paintPerMil = 1.4 * poundsPerGram * 144 / 1000

// maxPaintMil is far above any coil coating, both sides together.
const maxPaintMil = 20

// Check gives what is wrong with the sheet, at family, alloy, thickness,
// coating and paint_mil; nil when it can be weighed.
func (s Sheet) Check() error {
	var bad fault.List
	if _, err := ParseFamily(string(s.Family)); err != nil {
		bad.Add("", err)
	}
	if s.Thickness < thinnest || s.Thickness > thickest {
		bad.Addf("thickness", "a sheet is from 0.005 to 0.25 in thick, not %s", trimInches(s.Thickness))
	}
	if _, ok := alloys[s.Alloy]; s.Alloy != "" && (!ok || s.Family != Aluminium) {
		bad.Addf("alloy", "“%s” isn't an aluminium alloy of the list", clip(s.Alloy))
	}
	if s.Basis != WithCoating && s.Basis != BaseOnly {
		bad.Addf("basis", "say whether the thickness counts the coating or the base metal alone")
	}
	if s.Coating != "" {
		c, err := CoatingOf(s.Coating)
		switch {
		case err != nil:
			bad.Add("", err)
		case !s.Family.takes(c):
			bad.Addf("coating", "%s is no coating of %s", c.Designation, s.Family.Name())
		}
	}
	if math.IsNaN(s.PaintMil) || s.PaintMil < 0 || s.PaintMil > maxPaintMil {
		bad.Addf("paint_mil", "paint is from 0 to %d mil, both sides together", maxPaintMil)
	}
	return bad.Err()
}

// Density gives the base metal's density in lb/in3.
func (s Sheet) Density() float64 {
	if g, ok := alloys[s.Alloy]; ok && s.Family == Aluminium {
		return g * poundsPerGram
	}
	return s.Family.Density()
}

// coating gives the sheet's coating, zero when it has none.
func (s Sheet) coating() Coating {
	if s.Coating == "" {
		return Coating{}
	}
	c, err := CoatingOf(s.Coating)
	if err != nil {
		return Coating{}
	}
	return c
}

func (s Sheet) coatingThickness() measure.Length {
	if c := s.coating(); c.OzPerFt2 > 0 {
		return c.Thickness()
	}
	return 0
}

// Base gives the thickness of the base metal.
func (s Sheet) Base() measure.Length {
	if s.Basis == BaseOnly {
		return s.Thickness
	}
	return max(0, s.Thickness-s.coatingThickness())
}

// Metal gives the thickness of base metal and metallic coating, the figure that
// bends and gauge tables use.
func (s Sheet) Metal() measure.Length {
	if s.Basis == BaseOnly {
		return s.Thickness + s.coatingThickness()
	}
	return s.Thickness
}

// Overall gives the thickness of metal and paint, the figure that a coil winds.
func (s Sheet) Overall() measure.Length {
	return s.Metal() + measure.FromInches(s.PaintMil/1000)
}

// PoundsPerSquareFoot gives the calculated weight: base metal at its density,
// plus the coating's designated weight, plus paint.
func (s Sheet) PoundsPerSquareFoot() float64 {
	return s.Base().InInches()*s.Density()*144 + s.coating().OzPerFt2/16 + s.PaintMil*paintPerMil
}

// PoundsPerFoot gives the calculated weight of a strip, lb for each foot run.
func (s Sheet) PoundsPerFoot(width measure.Length) float64 {
	return s.PoundsPerSquareFoot() * width.InFeet()
}

// PieceWeight gives the calculated weight of a panel or trim cut from a strip
// or blank of this width, in lb.
func (s Sheet) PieceWeight(width, length measure.Length) float64 {
	return s.PoundsPerFoot(width) * length.InFeet()
}

// String names the sheet for a paper: 0.0276 in Galvanized steel G90.
func (s Sheet) String() string {
	text := fmt.Sprintf("%s %s", trimInches(s.Thickness), s.Family.Name())
	if s.Basis == BaseOnly {
		text += " (base metal)"
	}
	if s.Coating != "" {
		text += " " + s.Coating
	}
	return text
}

// PanelsFor gives how many panels of a coverage close a width, and how much the
// last one covers beyond it.
func PanelsFor(width, coverage measure.Length) (n int, over measure.Length, err error) {
	var bad fault.List
	if width <= 0 {
		bad.Addf("width", "the width to cover must be more than 0")
	}
	if coverage <= 0 {
		bad.Addf("coverage", "a panel's coverage must be more than 0")
	}
	if bad != nil {
		return 0, 0, bad
	}
	closed := width.Up(coverage)
	return int(closed / coverage), closed - width, nil
}

// Movement gives how far a length moves over a temperature range in degrees F.
func (f Family) Movement(length measure.Length, degrees float64) measure.Length {
	return Movement(length, degrees, f.Expansion())
}

// Movement gives length x degrees x coefficient; degrees and coefficient in the
// same scale, F or C.
func Movement(length measure.Length, degrees, coefficient float64) measure.Length {
	return measure.Length(math.Round(float64(length) * degrees * coefficient))
}
