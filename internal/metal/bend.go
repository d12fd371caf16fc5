package metal

import (
	"math"

	"ribdesk/internal/measure"
)

// Bend is one bend as a press or folder makes it.
type Bend struct {
	Degrees float64        // turned through, 0 to under 180
	Radius  measure.Length // inside
	Metal   measure.Length // thickness without paint
	K       float64        // neutral line as a share of the thickness
}

// Allowance gives the length of the neutral line through the bend,
// BA = (pi/180) A (R + K T). Several published bend references agree.
func (b Bend) Allowance() measure.Length { return measure.FromInches(b.allowance()) }

func (b Bend) allowance() float64 {
	return b.Degrees * math.Pi / 180 * (b.Radius.InInches() + b.K*b.Metal.InInches())
}

// Setback gives the outside setback, OSSB = (R + T) tan(A/2). FAA-H-8083-31
// writes K for tan(A/2), which is not the K of the neutral line.
func (b Bend) Setback() measure.Length { return measure.FromInches(b.setback()) }

func (b Bend) setback() float64 {
	return (b.Radius + b.Metal).InInches() * math.Tan(b.Degrees*math.Pi/360)
}

// Deduction gives what the blank is shorter than the two outside legs,
// BD = 2 OSSB - BA.
func (b Bend) Deduction() measure.Length {
	return measure.FromInches(2*b.setback() - b.allowance())
}

// kGrid is a K-factor table over thickness (columns) and inside radius (rows),
// both in inches.
type kGrid struct {
	thickness []float64
	radius    []float64
	k         [][]float64 // by radius, then thickness
}

var kRadii = []float64{0.030, 0.060, 0.090, 0.120, 0.188}

// kGrids: Machinery's Handbook, 26th ed., K-factor table as reprinted on a web
// page. Its 0.38 values for 0.100 in aluminium look out of line.
var (
	kAluminium = kGrid{[]float64{0.032, 0.063, 0.100, 0.125}, kRadii, [][]float64{
		{0.398, 0.404, 0.406, 0.407},
		{0.394, 0.402, 0.381, 0.407},
		{0.391, 0.401, 0.380, 0.406},
		{0.391, 0.401, 0.380, 0.406},
		{0.392, 0.401, 0.380, 0.406},
	}}
	kSteel = kGrid{[]float64{0.048, 0.060, 0.093}, kRadii, [][]float64{
		{0.438, 0.467, 0.459},
		{0.433, 0.463, 0.457},
		{0.433, 0.463, 0.456},
		{0.433, 0.463, 0.456},
		{0.420, 0.453, 0.450},
	}}
	kStainless = kGrid{[]float64{0.029, 0.078}, kRadii, [][]float64{
		{0.483, 0.449}, {0.479, 0.446}, {0.475, 0.446}, {0.475, 0.446}, {0.454, 0.438},
	}}
)

const (
	// kCopper is implied by L = 0.55 T + 1.57 R for soft copper at 90 degrees,
	// Machinery's Handbook, from memory.
	kCopper = 0.350
	// kUsual serves where no table does; common practice, no published source.
	kUsual = 0.40
)

// KFactor gives the K factor of a family at a thickness and inside radius, from
// the table where there is one: between its points by straight lines, beyond
// them the nearest edge. A shop's own measured figure is better.
func KFactor(f Family, thickness, radius measure.Length) float64 {
	t, r := thickness.InInches(), radius.InInches()
	switch f {
	case Aluminium:
		return kAluminium.at(t, r)
	case Galvanized, AlZn, BareSteel:
		return kSteel.at(t, r)
	case Stainless:
		return kStainless.at(t, r)
	case Copper:
		return kCopper
	}
	return kUsual
}

func (g kGrid) at(t, r float64) float64 {
	i, u := place(g.radius, r)
	j, v := place(g.thickness, t)
	between := func(row []float64) float64 { return row[j] + v*(row[j+1]-row[j]) }
	low, high := between(g.k[i]), between(g.k[i+1])
	return low + u*(high-low)
}

// place finds the step of a sorted axis that x lies in and the share of it,
// held to the axis's ends.
func place(axis []float64, x float64) (i int, share float64) {
	for i < len(axis)-2 && x > axis[i+1] {
		i++
	}
	return i, min(1, max(0, (x-axis[i])/(axis[i+1]-axis[i])))
}
