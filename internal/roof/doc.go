// Package roof takes off a metal roof: a person states its planes, and gets the
// panels that cover them with their lengths and marks, what is wasted, and the
// trim, clips, fasteners, closures and tape that go with them.
//
// A plane is looked at square to its own slope: x runs along the eave from its
// left corner, seen from outside, and y up the slope. Panels run up the slope,
// each covering the product's coverage, from the edge that the person starts at;
// a panel is as long as the plane reaches anywhere under its cover, so that on a
// hip or valley it is cut on site from its long point.
//
// Lengths are exact (measure.Length). A square root is rounded up to the next
// nanometre in one place (root), a panel up to the step of the rules, and an
// edge up to 1/16 in. Areas are exact fractions.
//
// Geometry, for a rise of r inches in 12 of run: the common rafter is the run
// times sqrt(1+(r/12)²), a regular hip or valley sqrt(2+(r/12)²).
//
// The usual values of Rules are common practice, no published source; the
// maker's instructions govern, and field measurement and local code before all.
// The package knows no catalogue, price or page.
package roof

import (
	"slices"

	"ribdesk/internal/measure"
)

// Limits of one take-off.
const (
	MaxPlanes   = 24
	MaxCopies   = 50
	MaxOpenings = 20
	MaxCorners  = 24
	MaxPanels   = 400  // of one plane
	MaxInAll    = 2000 // of all planes, each counted once
	MaxReach    = 500 * measure.Foot
)

// Edge is what a side of a plane meets.
type Edge string

// The edges. Ridge, hip, valley and transition lie between two planes, which
// share their trim; the others belong to one.
const (
	Eave       Edge = "eave"
	Ridge      Edge = "ridge"
	Peak       Edge = "peak" // the high side of a single slope
	Hip        Edge = "hip"
	Valley     Edge = "valley"
	Rake       Edge = "rake"
	Sidewall   Edge = "sidewall"
	Endwall    Edge = "endwall"
	Transition Edge = "transition" // to a plane of another pitch

	// ZClosure is no edge but a trim: it closes the pans of a seamed roof under
	// its ridge, hips and peaks.
	ZClosure Edge = "z-closure"
)

// Edges lists the edges in the order of a list of trim.
var Edges = []Edge{Eave, Ridge, Peak, Hip, Valley, Rake, Sidewall, Endwall, Transition}

func (e Edge) known() bool { return slices.Contains(Edges, e) }

// shared reports whether two planes meet at the edge.
func (e Edge) shared() bool { return e == Ridge || e == Hip || e == Valley || e == Transition }

// Shape is how a plane is stated.
type Shape string

// The shapes.
const (
	Rectangle Shape = "rectangle" // both sides straight up
	Trapezoid Shape = "trapezoid" // a ridge, with hips, valleys or straight sides
	Triangle  Shape = "triangle"  // sides that meet in a point
	Corners   Shape = "corners"   // any outline, corner by corner
)

// Plane is one plane of a roof as it is stated. In plan, its heights (Up, those
// of corners and openings) are level, and its pitch makes them slope; else they
// are measured on the slope.
type Plane struct {
	Name     string         `json:"name,omitempty"`
	Copies   int            `json:"copies"` // how often the roof has it
	Shape    Shape          `json:"shape"`
	Pitch    Pitch          `json:"pitch"`
	OnSlope  bool           `json:"on_slope,omitempty"`
	Up       measure.Length `json:"up,omitempty"`    // eave to ridge: the run, or the rafter on the slope
	Eave     measure.Length `json:"eave,omitempty"`  // length of the eave
	Ridge    measure.Length `json:"ridge,omitempty"` // of a trapezoid; 0 takes what regular hips and valleys leave
	Start    measure.Length `json:"start,omitempty"` // where ridge or point begin, along the eave from its left corner; beyond it, where Left is a valley; 0 is not stated
	Left     Edge           `json:"left,omitempty"`
	Right    Edge           `json:"right,omitempty"`
	Top      Edge           `json:"top,omitempty"`
	Bottom   Edge           `json:"bottom,omitempty"`
	Corners  []Corner       `json:"corners,omitempty"`
	Openings []Opening      `json:"openings,omitempty"`
}

// Point is a place on a plane.
type Point struct {
	X measure.Length `json:"x"`
	Y measure.Length `json:"y"`
}

// Corner is a corner of an outline and the edge that begins there, going round
// counter-clockwise.
type Corner struct {
	Point
	Edge Edge `json:"edge"`
}

// OpeningKind is what stands in an opening.
type OpeningKind string

// The kinds. A skylight brings its own flashing; a chimney's is made from the
// sidewall and endwall trim.
const (
	Skylight OpeningKind = "skylight"
	Chimney  OpeningKind = "chimney"
)

// Opening is a rectangle that isn't roofed.
type Opening struct {
	Kind   OpeningKind    `json:"kind"`
	Left   measure.Length `json:"left"` // of its left side from the left corner of the eave
	Up     measure.Length `json:"up"`   // of its lower side from the eave, measured as the plane is
	Width  measure.Length `json:"width"`
	Height measure.Length `json:"height"` // measured as the plane is
}

// Fixing is how a product is held down.
type Fixing string

// The ways.
const (
	Clips  Fixing = "clips"  // hidden in the seams
	Screws Fixing = "screws" // through the panel
)

// Product is what the take-off needs to know of a panel.
type Product struct {
	Coverage measure.Length `json:"coverage"`
	Shortest measure.Length `json:"shortest"`
	Longest  measure.Length `json:"longest"`             // the machine makes
	Haul     measure.Length `json:"haul,omitempty"`      // longest that is hauled; 0 is any
	SlopeMin int            `json:"slope_min,omitempty"` // least rise in 12; 0 is none
	Fixing   Fixing         `json:"fixing"`
}

// Roof is everything a take-off is made from.
type Roof struct {
	Planes  []Plane `json:"planes"`
	Product Product `json:"product"`
	Rules   Rules   `json:"rules"`
}
