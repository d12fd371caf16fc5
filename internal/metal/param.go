package metal

import (
	"math"
	"sort"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
)

// ParamKind is what a parameter of a standard shape measures.
type ParamKind string

// The kinds.
const (
	LengthParam ParamKind = "length"
	AngleParam  ParamKind = "angle" // degrees
	PitchParam  ParamKind = "pitch" // inches of rise in 12 of run
	CountParam  ParamKind = "count"
)

// Param is one parameter of a standard shape with its default.
type Param struct {
	Name   string // of the form's field
	Label  string
	Kind   ParamKind
	Length measure.Length // default of a length
	Number float64        // default of any other kind
	Least  float64        // allowed range, in inches for a length
	Most   float64
}

func length(name, label string, inches, least, most float64) Param {
	return Param{name, label, LengthParam, measure.FromInches(inches), 0, least, most}
}

func number(name, label string, kind ParamKind, n, least, most float64) Param {
	return Param{name, label, kind, 0, n, least, most}
}

// Values are parameters by name. A name left out takes its default.
type Values struct {
	Lengths map[string]measure.Length `json:"lengths,omitempty"`
	Numbers map[string]float64        `json:"numbers,omitempty"`
}

// slack lets a figure sit exactly on a limit that a float can't hold.
const slack = 1e-9

// filled gives the values with defaults, or what is wrong with them, each at
// the parameter's name.
func filled(params []Param, given Values) (Values, error) {
	v := Values{map[string]measure.Length{}, map[string]float64{}}
	var bad fault.List
	for _, p := range params {
		figure := p.Number
		if p.Kind == LengthParam {
			l, ok := given.Lengths[p.Name]
			if !ok {
				l = p.Length
			}
			v.Lengths[p.Name], figure = l, l.InInches()
		} else {
			if n, ok := given.Numbers[p.Name]; ok {
				figure = n
			}
			v.Numbers[p.Name] = figure
		}
		if math.IsNaN(figure) || figure < p.Least-slack || figure > p.Most+slack {
			bad.Addf(p.Name, "%s must be from %g to %g%s", p.Label, p.Least, p.Most, p.Kind.unit())
		}
		if p.Kind == CountParam && figure != math.Trunc(figure) {
			bad.Addf(p.Name, "%s must be a whole number", p.Label)
		}
	}
	for _, name := range unknown(params, given) {
		bad.Addf(name, "this shape has no such measure")
	}
	return v, bad.Err()
}

func (k ParamKind) unit() string {
	switch k {
	case LengthParam:
		return " in"
	case AngleParam:
		return " degrees"
	case PitchParam:
		return " in 12"
	}
	return ""
}

// unknown gives the names in given that no parameter has, sorted.
func unknown(params []Param, given Values) []string {
	known := map[string]bool{}
	for _, p := range params {
		known[p.Name] = true
	}
	var out []string
	for name := range given.Lengths {
		if !known[name] {
			out = append(out, name)
		}
	}
	for name := range given.Numbers {
		if !known[name] {
			out = append(out, name)
		}
	}
	sort.Strings(out)
	return out
}

// slope gives a pitch as degrees.
func slope(rise float64) float64 { return math.Atan2(rise, 12) * 180 / math.Pi }

// fold gives the degrees between two roofs of one pitch that meet at a square
// corner, at a hip or valley: cos of the fold = cos2 of the slope.
func fold(rise float64) float64 {
	c := math.Cos(slope(rise) * math.Pi / 180)
	return math.Acos(c*c) * 180 / math.Pi
}
