package metal

import (
	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
)

// Shape is a trade standard trim as a parametric section. The names are the
// trade's; the measures are this shop's own starting points, not a catalog's.
type Shape struct {
	Code   string // for the form and the store
	Name   string
	Use    string // one line for a person who doesn't know the name
	Params []Param
	build  func(v Values) Section
}

// Section gives the shape with these values; a value left out takes its
// default. The error is a fault.List at the parameters' names.
func (s Shape) Section(given Values) (Section, error) {
	v, err := filled(s.Params, given)
	if err != nil {
		return Section{}, err
	}
	out := s.build(v)
	out.Name = s.Name
	return out, nil
}

// Shapes gives the library in the order of a form's list.
func Shapes() []Shape { return shapes }

// ShapeOf finds a shape by its code; the fault's field is "shape".
func ShapeOf(code string) (Shape, error) {
	for _, s := range shapes {
		if s.Code == code {
			return s, nil
		}
	}
	return Shape{}, fault.Invalidf("shape", "“%s” isn't a shape of the library", clip(code))
}

var (
	hemParam   = length("hem", "Hem", 0.5, 0, 2)
	pitchParam = number("pitch", "Roof pitch", PitchParam, 4, 0.25, 24)
	kickParam  = length("kick", "Kick", 0.5, 0, 2)
)

// hemmed gives an edge with a closed hem, or a raw one for depth 0.
func hemmed(depth measure.Length, side Side) Edge {
	if depth == 0 {
		return Edge{}
	}
	return Edge{Hem: ClosedHem, HemDepth: depth, HemSide: side}
}

// hooked gives an edge with an open hem that catches a cleat.
func hooked(depth measure.Length, side Side) Edge {
	if depth == 0 {
		return Edge{}
	}
	return Edge{Hem: OpenHem, HemDepth: depth, HemSide: side, OpenGap: measure.Eighth}
}

// kicked gives an edge with a kick, turned by degrees, and a hem at its tip as
// deep as the kick lets it be.
func kicked(kick measure.Length, degrees float64, hem measure.Length, side Side) Edge {
	if kick == 0 {
		return hemmed(hem, side)
	}
	e := hemmed(min(hem, kick), side)
	e.Kick, e.KickTurn = kick, degrees
	return e
}

// All shapes walk so that the colour is on the left unless they say otherwise.
var shapes = []Shape{
	{"ridge-cap", "Ridge cap", "covers the ridge where two slopes meet",
		[]Param{length("wing", "Wing", 6, 1, 24), hemParam, pitchParam},
		func(v Values) Section {
			a := slope(v.Numbers["pitch"])
			return wings(v, a, -2*a, Right)
		}},
	{"hip-cap", "Hip cap", "covers a hip, where two roofs meet at an outside corner",
		[]Param{length("wing", "Wing", 5, 1, 24), hemParam, pitchParam},
		func(v Values) Section {
			a := fold(v.Numbers["pitch"])
			return wings(v, a/2, -a, Right)
		}},
	{"valley-v", "Valley, V", "lines a valley, where two roofs meet at an inside corner",
		[]Param{length("wing", "Wing", 10, 4, 24), hemParam, pitchParam},
		func(v Values) Section {
			a := fold(v.Numbers["pitch"])
			return wings(v, -a/2, a, Left)
		}},
	{"valley-w", "Valley, W", "a valley with a center rib that keeps the run-off of one slope from crossing to the other",
		[]Param{length("wing", "Wing", 9, 4, 24), length("rib", "Rib side", 1, 0.5, 3), number("rib_angle", "Rib angle", AngleParam, 60, 30, 70), hemParam, pitchParam},
		func(v Values) Section {
			down, up := fold(v.Numbers["pitch"])/2, v.Numbers["rib_angle"]
			w, r := v.Lengths["wing"], v.Lengths["rib"]
			return Section{Painted: Left,
				Legs:  []Leg{{w, -down}, {r, up + down}, {r, -2 * up}, {w, up + down}},
				Start: hemmed(v.Lengths["hem"], Left), End: hemmed(v.Lengths["hem"], Left)}
		}},
	{"drip-edge", "Drip edge, eave", "carries water off the eave, clear of the fascia",
		[]Param{length("flange", "Roof flange", 3, 1, 12), length("face", "Face", 2, 0.5, 12), kickParam, hemParam, pitchParam},
		func(v Values) Section {
			a := slope(v.Numbers["pitch"])
			return Section{Painted: Left,
				Legs: []Leg{{v.Lengths["flange"], -a}, {v.Lengths["face"], a - 90}},
				End:  kicked(v.Lengths["kick"], 45, v.Lengths["hem"], Right)}
		}},
	{"gutter-apron", "Gutter apron", "laps from under the roof edge into the gutter",
		[]Param{length("flange", "Roof flange", 4, 1, 12), length("drop", "Drop into the gutter", 2, 1, 8), hemParam, pitchParam},
		func(v Values) Section {
			a := slope(v.Numbers["pitch"])
			return Section{Painted: Left,
				Legs: []Leg{{v.Lengths["flange"], -a}, {v.Lengths["drop"], a - 75}},
				End:  hemmed(v.Lengths["hem"], Right)}
		}},
	{"rake", "Rake trim, gable", "covers the panel edge along the gable",
		[]Param{length("top", "Top", 3, 1, 12), length("face", "Face", 4, 1, 16), kickParam, hemParam},
		func(v Values) Section {
			return Section{Painted: Left,
				Legs:  []Leg{{v.Lengths["top"], 0}, {v.Lengths["face"], -90}},
				Start: hooked(v.Lengths["hem"], Right),
				End:   kicked(v.Lengths["kick"], 30, v.Lengths["hem"], Right)}
		}},
	{"inside-corner", "Inside corner", "closes wall panels at an inside corner",
		[]Param{length("wing", "Wing", 4, 1, 16), hemParam, number("corner", "Corner", AngleParam, 90, 45, 135)},
		func(v Values) Section { return wings(v, 0, 180-v.Numbers["corner"], Right) }},
	{"outside-corner", "Outside corner", "covers wall panels at an outside corner",
		[]Param{length("wing", "Wing", 4, 1, 16), hemParam, number("corner", "Corner", AngleParam, 90, 45, 135)},
		func(v Values) Section { return wings(v, 0, v.Numbers["corner"]-180, Right) }},
	{"transition", "Transition", "joins a steep roof above to a flatter one below",
		[]Param{length("upper", "Upper flange", 5, 1, 16), length("lower", "Lower flange", 6, 1, 16), hemParam,
			number("upper_pitch", "Upper pitch", PitchParam, 8, 0.25, 24), number("lower_pitch", "Lower pitch", PitchParam, 3, 0.25, 24)},
		func(v Values) Section {
			hi, lo := slope(v.Numbers["upper_pitch"]), slope(v.Numbers["lower_pitch"])
			return Section{Painted: Left,
				Legs: []Leg{{v.Lengths["upper"], -hi}, {v.Lengths["lower"], hi - lo}},
				End:  hemmed(v.Lengths["hem"], Right)}
		}},
	{"sidewall", "Sidewall", "turns the roof up a wall that runs with the slope",
		[]Param{length("wall", "Wall leg", 4, 2, 12), length("roof", "Roof leg", 5, 2, 16), kickParam, hemParam},
		func(v Values) Section {
			return Section{Painted: Left,
				Legs: []Leg{{v.Lengths["wall"], -90}, {v.Lengths["roof"], 90}},
				End:  kicked(v.Lengths["kick"], -30, v.Lengths["hem"], Right)}
		}},
	{"endwall", "Endwall", "turns the top of a slope up a wall across it",
		[]Param{length("wall", "Wall leg", 4, 2, 12), length("roof", "Roof leg", 6, 2, 16), kickParam, hemParam, pitchParam},
		func(v Values) Section {
			return Section{Painted: Left,
				Legs: []Leg{{v.Lengths["wall"], -90}, {v.Lengths["roof"], 90 - slope(v.Numbers["pitch"])}},
				End:  kicked(v.Lengths["kick"], -20, v.Lengths["hem"], Right)}
		}},
	{"j-channel", "J-channel", "receives the cut edge of a panel at an opening or soffit",
		[]Param{length("back", "Back leg", 2, 0.5, 6), length("pocket", "Pocket", 1, 0.5, 4), length("lip", "Front lip", 0.75, 0.375, 4), hemParam},
		func(v Values) Section {
			return Section{Painted: Right,
				Legs: []Leg{{v.Lengths["back"], -90}, {v.Lengths["pocket"], 90}, {v.Lengths["lip"], 90}},
				End:  hemmed(min(v.Lengths["hem"], v.Lengths["lip"]), Left)}
		}},
	{"z-closure", "Z-closure", "closes the end of ribs under a ridge or wall flashing",
		[]Param{length("top", "Top flange", 1, 0.5, 4), length("web", "Web", 1.75, 0.5, 4), length("foot", "Foot", 1, 0.5, 4)},
		func(v Values) Section {
			return Section{Painted: Left,
				Legs: []Leg{{v.Lengths["top"], 0}, {v.Lengths["web"], -90}, {v.Lengths["foot"], 90}}}
		}},
	{"fascia", "Fascia cover", "clads the fascia board",
		[]Param{length("top", "Top return", 0.75, 0.375, 4), length("face", "Face", 6, 2, 16), length("bottom", "Bottom return", 1, 0.375, 4), hemParam},
		func(v Values) Section {
			return Section{Painted: Left,
				Legs: []Leg{{v.Lengths["top"], 0}, {v.Lengths["face"], -90}, {v.Lengths["bottom"], -90}},
				End:  hemmed(min(v.Lengths["hem"], v.Lengths["bottom"]), Right)}
		}},
	{"drip-cap", "Drip cap", "sheds water over a window, door or trim board",
		[]Param{length("wall", "Wall leg", 2, 0.5, 8), length("ledge", "Ledge", 1.25, 0.5, 8), length("face", "Face", 0.75, 0.375, 4), number("fall", "Fall of the ledge", AngleParam, 10, 0, 45), hemParam},
		func(v Values) Section {
			fall := v.Numbers["fall"]
			return Section{Painted: Left,
				Legs: []Leg{{v.Lengths["wall"], -90}, {v.Lengths["ledge"], 90 - fall}, {v.Lengths["face"], fall - 90}},
				End:  hemmed(min(v.Lengths["hem"], v.Lengths["face"]), Right)}
		}},
	{"base-drip", "Base drip", "carries water past the foot of a wall panel",
		[]Param{length("wall", "Wall leg", 2, 0.5, 8), length("ledge", "Ledge", 1.5, 0.5, 6), length("face", "Face", 1, 0.375, 4), kickParam, hemParam},
		func(v Values) Section {
			return Section{Painted: Left,
				Legs: []Leg{{v.Lengths["wall"], -90}, {v.Lengths["ledge"], 80}, {v.Lengths["face"], -80}},
				End:  kicked(v.Lengths["kick"], 30, v.Lengths["hem"], Right)}
		}},
	{"counterflashing", "Counterflashing", "laps over a base flashing from a cut in the masonry",
		[]Param{length("reglet", "Leg in the wall", 1, 0.5, 3), length("face", "Face", 4, 1, 12), kickParam, hemParam},
		func(v Values) Section {
			return Section{Painted: Left,
				Legs: []Leg{{v.Lengths["reglet"], 0}, {v.Lengths["face"], -90}},
				End:  kicked(v.Lengths["kick"], 30, v.Lengths["hem"], Right)}
		}},
	{"coping", "Coping cap", "covers the top of a parapet wall",
		[]Param{length("top", "Top", 8, 2, 24), length("back", "Back face", 3, 1, 12), length("front", "Front face", 4, 1, 12), kickParam, hemParam},
		func(v Values) Section {
			edge := kicked(v.Lengths["kick"], 30, v.Lengths["hem"], Right)
			return Section{Painted: Left,
				Legs:  []Leg{{v.Lengths["back"], 90}, {v.Lengths["top"], -90}, {v.Lengths["front"], -90}},
				Start: edge, End: edge}
		}},
	{"cleat", "Continuous cleat", "holds a hemmed edge without a fastener in sight",
		[]Param{length("flange", "Nailing flange", 1.5, 0.5, 6), length("face", "Face", 2, 0.5, 8), kickParam},
		func(v Values) Section {
			return Section{
				Legs: []Leg{{v.Lengths["flange"], 0}, {v.Lengths["face"], -90}},
				End:  kicked(v.Lengths["kick"], 30, 0, Right)}
		}},
}

// wings gives the two-leg shapes: equal wings with a hem at each end.
func wings(v Values, heading, turn float64, hemSide Side) Section {
	w, edge := v.Lengths["wing"], hemmed(v.Lengths["hem"], hemSide)
	return Section{Painted: Left, Legs: []Leg{{w, heading}, {w, turn}}, Start: edge, End: edge}
}
