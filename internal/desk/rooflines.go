package desk

import (
	"cmp"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"ribdesk/internal/fault"
	"ribdesk/internal/order"
	"ribdesk/internal/party"
	"ribdesk/internal/roof"
	"ribdesk/internal/stock"
)

// RoofPart is something from the shelf that a roof takes.
type RoofPart string

// The parts.
const (
	PartClip       RoofPart = "clip"
	PartClipScrew  RoofPart = "clip-screw"
	PartPanelScrew RoofPart = "panel-screw"
	PartTrimScrew  RoofPart = "trim-screw"
	PartInside     RoofPart = "inside-closure"
	PartOutside    RoofPart = "outside-closure"
	PartTape       RoofPart = "butyl-tape"
)

// RoofParts lists the parts in the order of a form.
var RoofParts = []RoofPart{PartClip, PartClipScrew, PartPanelScrew, PartTrimScrew, PartInside, PartOutside, PartTape}

// RoofNeed is how much a roof takes of a part, and what is ordered for it.
type RoofNeed struct {
	Part  RoofPart
	Count int             // pieces; rolls of tape
	Item  stock.Accessory // empty where none is chosen
}

// tellsOf are words in the name of a shape or accessory by which the usual one
// of a kind is found; the person sees the choice and can change it.
var (
	tellsOfTrim = map[roof.Edge][]string{
		roof.Eave: {"eave", "drip edge"}, roof.Ridge: {"ridge"}, roof.Peak: {"peak", "rake", "gable"}, roof.Hip: {"hip", "ridge"}, roof.Valley: {"valley"},
		roof.Rake: {"rake", "gable"}, roof.Sidewall: {"sidewall"}, roof.Endwall: {"endwall"}, roof.Transition: {"transition"}, roof.ZClosure: {"z-closure", "z closure"},
	}
	tellsOfPart = map[RoofPart][]string{
		PartClip: {"clip, fixed", "clip"}, PartClipScrew: {"pancake"}, PartPanelScrew: {"hex", "panel screw"}, PartTrimScrew: {"hex", "trim screw", "screw"},
		PartInside: {"closure, inside", "inside closure"}, PartOutside: {"closure, outside", "outside closure"}, PartTape: {"butyl"},
	}
)

// usual finds the first item whose name has the earliest of the words.
func usual[T stock.Item](items []T, tells []string) string {
	for _, word := range tells {
		for _, it := range items {
			if strings.Contains(strings.ToLower(it.Label()), word) {
				return it.Key()
			}
		}
	}
	return ""
}

func (s *snapshot) usualTrim() map[roof.Edge]string {
	shapes := slices.DeleteFunc(byCode(s.shapes), func(sh stock.Shape) bool { return sh.Customer != 0 })
	out := map[roof.Edge]string{}
	for kind, tells := range tellsOfTrim {
		out[kind] = usual(shapes, tells)
	}
	return out
}

func (s *snapshot) usualParts() map[RoofPart]string {
	out := map[RoofPart]string{}
	for part, tells := range tellsOfPart {
		out[part] = usual(byCode(s.accessories), tells)
	}
	return out
}

// composeRoof makes the lines of an order from a roof taken off: panels, each
// shape of trim, each thing from the shelf.
func (s *snapshot) composeRoof(actor party.Actor, t *RoofTaken) {
	material, gauge, colour := t.Metal.Material.Code, t.Metal.Gauge, t.Metal.Colour.Code
	panels := order.Line{Kind: order.Formed, Code: t.Ask.Profile, Name: t.Profile.Name, Material: material, Gauge: gauge, Colour: colour, Rib: t.Ask.Rib}
	for _, g := range t.Result.Groups {
		panels.Cuts = append(panels.Cuts, order.CutItem{Qty: g.Qty, Length: g.Length, Typed: g.Length.String(), Mark: g.Mark()})
	}
	t.Lines = append(t.Lines, panels)
	s.composeTrim(actor, t, order.Line{Kind: order.Trim, Material: material, Gauge: gauge, Colour: colour})
	s.composeParts(t)
	o := order.Order{Fulfil: order.PickUp, Lines: slices.Clone(t.Lines)}
	var good []made
	for i := range o.Lines {
		m, err := s.resolveLine(&o.Lines[i])
		if err != nil {
			t.Refused = append(t.Refused, RoofRefusal{cmp.Or(o.Lines[i].Name, o.Lines[i].Code), fault.All(err)[0]})
			continue
		}
		if i == 0 {
			good = append(good, m)
		}
	}
	// The slope is weighed against the pitch stated, and hauling by the rules.
	for _, n := range s.notices(o, good) {
		if n.Kind != NoticeSlope && n.Kind != NoticeHaul {
			t.Notices = append(t.Notices, n)
		}
	}
}

func (s *snapshot) composeTrim(actor party.Actor, t *RoofTaken, like order.Line) {
	stick := t.Ask.Roof.Rules.Stick
	at := map[string]int{}
	for _, need := range t.Result.Trims {
		rt := RoofTrim{Trim: need}
		shape, ok := s.shapes[t.Ask.Trim[need.Kind]]
		if ok && (shape.Customer == 0 || actor.Sees(shape.Customer)) {
			rt.Shape = shape
			i, there := at[shape.Code]
			if !there {
				i = len(t.Lines)
				at[shape.Code] = i
				l := like
				l.Code, l.Name, l.Cuts = shape.Code, shape.Name, []order.CutItem{{Length: stick, Typed: stick.String()}}
				t.Lines = append(t.Lines, l)
			}
			t.Lines[i].Cuts[0].Qty += need.Pieces
		}
		t.Trims = append(t.Trims, rt)
	}
}

func (s *snapshot) composeParts(t *RoofTaken) {
	f := t.Result.Fixings
	counts := map[RoofPart]int{PartClip: f.Clips, PartClipScrew: f.ClipScrews, PartPanelScrew: f.PanelScrews, PartTrimScrew: f.TrimScrews, PartInside: f.Inside, PartOutside: f.Outside, PartTape: f.TapeRolls}
	var codes []string
	pieces := map[string]int{}
	for _, part := range RoofParts {
		if counts[part] == 0 {
			continue
		}
		need := RoofNeed{Part: part, Count: counts[part]}
		if item, ok := s.accessories[t.Ask.Parts[part]]; ok {
			need.Item = item
			if !slices.Contains(codes, item.Code) {
				codes = append(codes, item.Code)
			}
			pieces[item.Code] += need.Count
		}
		t.Parts = append(t.Parts, need)
	}
	for _, code := range codes {
		item := s.accessories[code]
		per := inPack(item.Unit)
		t.Lines = append(t.Lines, order.Line{Kind: order.Accessory, Code: code, Name: item.Name, Count: (pieces[code] + per - 1) / per})
	}
}

var packForm = regexp.MustCompile(`\bof ([1-9]\d{0,5})\b`)

// inPack tells how many pieces one unit of an accessory holds: 250 in a "box of
// 250".
func inPack(unit string) int {
	if m := packForm.FindStringSubmatch(unit); m != nil {
		if n, err := strconv.Atoi(m[1]); err == nil {
			return n
		}
	}
	return 1
}
