// Package caution is the one source of the warnings that papers, labels and
// pages print about sheet metal, machines, loads and lifting; their Spanish is in the
// catalogue of package words.
//
// It decides nothing: counts and limits come from package load. The texts name
// the usual care of the trade and end by deferring to local code, the site's
// safety plan and licensed professionals.
package caution

import "ribdesk/internal/words"

// Code names a caution on papers, C1 to C12.
type Code string

// The cautions.
const (
	Edges      Code = "C1"
	Wind       Code = "C2"
	Lifting    Code = "C3"
	Hoisting   Code = "C4"
	Bands      Code = "C5"
	Machine    Code = "C6"
	Coils      Code = "C7"
	Load       Code = "C8"
	Metals     Code = "C9"
	OilCanning Code = "C10"
	Movement   Code = "C11"
	Deference  Code = "C12"
)

// Paper is where cautions are printed.
type Paper string

// The papers.
const (
	Quote          Paper = "quote"
	Acknowledgment Paper = "acknowledgment"
	RunSheet       Paper = "run sheet"
	PickTicket     Paper = "pick ticket"
	BundleLabel    Paper = "bundle label"
	CoilTag        Paper = "coil tag"
	LoadSheet      Paper = "load sheet"
	DeliveryTicket Paper = "delivery ticket"
	OnSite         Paper = "delivery ticket of a job formed on its site"
	TakeOff        Paper = "roof take-off"
)

// Caution is one warning in one language.
type Caution struct {
	Code  Code
	Title string
	Text  string
}

type wording struct{ title, text string }

var order = []Code{Edges, Wind, Lifting, Hoisting, Bands, Machine, Coils, Load, Metals, OilCanning, Movement, Deference}

// The figures of C3 are the load constant of the revised NIOSH lifting equation,
// those of C8 49 CFR 393.87, 393.106, 393.110 and 392.9, those of C11 published
// panel notes (6.5 and 12.8 millionths per degree F).
var texts = map[Code]wording{
	Edges: {"Edges", "Cut edges are razor sharp. Cut-resistant gloves, sleeves, eye protection."},
	Wind:  {"Wind", "A long panel is a sail. Stop when gusts make it hard to hold. Secure open bundles."},
	Lifting: {"Lifting", "Weights are calculated, not weighed. Over 51 lb, or long and floppy: two or more people, or a machine. " +
		"51 lb is the limit only in the best of conditions."},
	Hoisting: {"Hoisting", "Never lift by the bands. Rated slings or spreader bar for the weight shown, several support points, tag line, nobody under the load."},
	Bands:    {"Bands", "Bands spring. Stand aside, cut with the proper tool."},
	Machine:  {"Machine", "Guards on. Power off and locked out before clearing a jam or changing tooling. Hands away from rolls and shear."},
	Coils:    {"Coils", "Chock against rolling. Lift only with gear rated for the coil weight. Strip end can whip."},
	Load: {"Load", "Tie-downs, at least: blocked in front, 1 for each 10 ft or part; not blocked, 2 for the first 10 ft and 1 for each further 10 ft or part " +
		"(5 ft or less: 1, or 2 above 1,100 lb). Combined working load limit at least half the cargo weight. Protect straps from edges. " +
		"Past the rear over 4 ft or the side over 4 in: red or orange flags 18 in square, lamps at night. " +
		"Check before the start, within 50 miles, then every 3 hours, 150 miles or change of duty, whichever comes first."},
	Metals:     {"Metals", "Keep copper and its run-off, treated lumber and wet mortar off steel, Al-Zn and aluminium. Matching fasteners."},
	OilCanning: {"Waviness", "Slight waviness in flats is inherent in light-gauge metal and alone no cause for rejection."},
	Movement:   {"Movement", "Per 100 ft and 100 °F: steel 0.78 in, aluminium 1.54 in. Fix one point, let the rest move."},
	Deference:  {"Whose word counts", "Follow local code, the site safety plan and the licensed professional. Not an engineering document."},
}

// papers names the cautions of each paper; C12 ends every one.
var papers = map[Paper][]Code{
	Quote:          {Metals, OilCanning, Movement},
	Acknowledgment: {Metals, OilCanning, Movement},
	RunSheet:       {Edges, Lifting, Hoisting, Bands, Machine, Coils},
	PickTicket:     {Edges, Lifting, Hoisting, Bands},
	BundleLabel:    {Edges, Wind, Lifting, Hoisting},
	CoilTag:        {Edges, Bands, Coils},
	LoadSheet:      {Edges, Wind, Lifting, Hoisting, Load},
	DeliveryTicket: {Edges, Wind, Lifting, Hoisting, Bands, Load},
	OnSite:         {Edges, Wind, Lifting, Machine, Coils, Load},
	TakeOff:        {Edges, Wind, Metals, OilCanning, Movement},
}

// Of gives one caution in a language; the zero Caution for an unknown code.
func Of(code Code, lang words.Language) Caution {
	w, ok := texts[code]
	if !ok {
		return Caution{}
	}
	r := words.Reader{Language: lang}
	return Caution{code, r.T(w.title), r.T(w.text)}
}

// All gives every caution in a language, C1 first.
func All(lang words.Language) []Caution { return list(order, lang) }

// For gives the cautions of a paper, C12 last. A paper it doesn't know gets C12
// alone.
func For(paper Paper, lang words.Language) []Caution {
	codes := append([]Code{}, papers[paper]...)
	return list(append(codes, Deference), lang)
}

func list(codes []Code, lang words.Language) []Caution {
	out := make([]Caution, len(codes))
	for i, c := range codes {
		out[i] = Of(c, lang)
	}
	return out
}
