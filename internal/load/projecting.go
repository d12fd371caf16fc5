package load

import (
	"fmt"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
)

// Threshold is a limit of a jurisdiction. The zero Threshold is none.
type Threshold struct {
	Limit measure.Length
	From  bool // reached at the limit already ("4 ft or more"), not only beyond it
	Rule  Rule
}

// passed reports whether l is past the threshold; none is never passed.
func (t Threshold) passed(l measure.Length) bool {
	if t.Rule.Citation == "" {
		return false
	}
	return l > t.Limit || t.From && l >= t.Limit
}

// Jurisdiction is the size and flag rules of one place as data. Any threshold
// may be none: the place, or this table, has no rule for it.
type Jurisdiction struct {
	Code          string
	Name          string
	SideFlag      Threshold
	RearFlag      Threshold
	FlagSize      measure.Length // side of the square
	FlagColour    string
	MaxWidth      Threshold
	MaxHeight     Threshold // above the ground
	FrontOverhang Threshold // beyond the vehicle's front
	RearOverhang  Threshold // beyond the bed, without other authority
}

const (
	wideLoad = 2 * measure.Foot // 49 CFR 393.87(b): above it two flags
	redFlag  = "red or orange fluorescent"
)

// jurisdictions: the federal rules, then places whose rules differ. Texts read
// in 49 CFR 393.87, 70 FR 48054 (2005); Code of Virginia; Texas Transportation
// Code; Municipal Code of Chicago; Columbia Code of Ordinances. The federal
// width is 23 CFR 658.15, from memory.
var jurisdictions = []Jurisdiction{
	{Code: "US", Name: "federal rules", FlagSize: 18 * measure.Inch, FlagColour: redFlag,
		SideFlag: Threshold{4 * measure.Inch, false, Rule{"49 CFR 393.87(a)", "flags when the load extends more than 4 in past a side"}},
		RearFlag: Threshold{4 * measure.Foot, false, Rule{"49 CFR 393.87(a)", "flags when the load extends more than 4 ft past the rear"}},
		MaxWidth: Threshold{102 * measure.Inch, false, Rule{"23 CFR 658.15", "width of 102 in at most"}}},
	{Code: "US-VA", Name: "Virginia", FlagSize: 18 * measure.Inch, FlagColour: redFlag,
		RearFlag:      Threshold{4 * measure.Foot, false, Rule{"Code of Virginia 46.2-1121", "flag when the load extends more than 4 ft past the rear"}},
		MaxWidth:      Threshold{102 * measure.Inch, false, Rule{"Code of Virginia 46.2-1105", "width of 102 in at most"}},
		MaxHeight:     Threshold{162 * measure.Inch, false, Rule{"Code of Virginia 46.2-1110", "height of 13.5 ft at most"}},
		FrontOverhang: Threshold{3 * measure.Foot, false, Rule{"Code of Virginia 46.2-1120", "front overhang of 3 ft at most"}}},
	{Code: "US-TX", Name: "Texas", FlagSize: 18 * measure.Inch, FlagColour: redFlag,
		FrontOverhang: Threshold{3 * measure.Foot, false, Rule{"Texas Transportation Code 621.206", "front overhang of 3 ft at most"}},
		RearOverhang:  Threshold{4 * measure.Foot, false, Rule{"Texas Transportation Code 621.206", "rear overhang of 4 ft at most without other authority"}}},
	{Code: "US-IL-CHI", Name: "Chicago", FlagSize: 16 * measure.Inch, FlagColour: redFlag,
		RearFlag: Threshold{4 * measure.Foot, true, Rule{"Municipal Code of Chicago 9-76-200(b)", "flag or red light when the load extends 4 ft or more to the rear"}}},
	{Code: "US-MO-COU", Name: "Columbia, Missouri", FlagSize: 16 * measure.Inch, FlagColour: redFlag,
		RearFlag: Threshold{5 * measure.Foot, false, Rule{"Columbia Code of Ordinances 14-138", "flag or red light when the load extends more than 5 ft to the rear"}}},
}

// Jurisdictions gives the table, the federal rules first.
func Jurisdictions() []Jurisdiction { return append([]Jurisdiction{}, jurisdictions...) }

// JurisdictionOf finds a place; "" is the federal rules. The fault's field is
// "jurisdiction".
func JurisdictionOf(code string) (Jurisdiction, error) {
	if code == "" {
		return jurisdictions[0], nil
	}
	for _, j := range jurisdictions {
		if j.Code == code {
			return j, nil
		}
	}
	return Jurisdiction{}, fault.Invalidf("jurisdiction", "no rules of that place are in the table; choose another or add them in Shop")
}

// Projection is how far a load sticks out, and its outer size. Front is beyond
// the vehicle's front, Rear beyond the bed, Side the larger of the two sides.
type Projection struct {
	Front, Rear, Side measure.Length
	ProjectingWidth   measure.Length // of the part that sticks out
	Width             measure.Length // over all
	Height            measure.Length // over all, above the ground; 0 when unknown
}

// Flags is what projecting-load rules ask for at least.
type Flags struct {
	Count    int
	Size     measure.Length // side of each square flag
	Colour   string
	Verdicts []Verdict
}

// Projecting gives flags and size limits for a load under the federal rules and
// a place's own, which add to each other: the more and the larger flag counts.
// At night lamps take the place of flags. The federal rule binds vehicles and
// combinations of 10,001 lb and up; it is applied to every load here.
func Projecting(p Projection, place Jurisdiction) Flags {
	var f Flags
	both := []Jurisdiction{jurisdictions[0]}
	if place.Code != both[0].Code {
		both = append(both, place)
	}
	for _, j := range both {
		f.flag(p, j)
		f.limits(p, j)
	}
	return f
}

func (f *Flags) flag(p Projection, j Jurisdiction) {
	count := 1
	if p.ProjectingWidth > wideLoad {
		count = 2
	}
	for _, edge := range []struct {
		limit Threshold
		by    measure.Length
		where string
	}{{j.RearFlag, p.Rear, "rear"}, {j.SideFlag, p.Side, "side"}} {
		if !edge.limit.passed(edge.by) {
			continue
		}
		f.Count = max(f.Count, count)
		f.Size, f.Colour = max(f.Size, j.FlagSize), j.FlagColour
		f.Verdicts = append(f.Verdicts, Verdict{Warn, edge.limit.Rule, fmt.Sprintf(
			"The load extends %s past the %s: at least %s, %s, %s square or larger; lamps at night.",
			edge.by.FeetInches(16), edge.where, many(count, "flag"), j.FlagColour, j.FlagSize.FeetInches(16))})
	}
}

func (f *Flags) limits(p Projection, j Jurisdiction) {
	for _, size := range []struct {
		limit Threshold
		is    measure.Length
		what  string
	}{
		{j.MaxWidth, p.Width, "The load is %s wide; %s stops at %s."},
		{j.MaxHeight, p.Height, "The load is %s high above the ground; %s stops at %s."},
		{j.FrontOverhang, p.Front, "The load overhangs the front by %s; %s stops at %s."},
		{j.RearOverhang, p.Rear, "The load overhangs the rear by %s; %s stops at %s without other authority."},
	} {
		if size.limit.passed(size.is) {
			f.Verdicts = append(f.Verdicts, Verdict{Refuse, size.limit.Rule,
				fmt.Sprintf(size.what, size.is.FeetInches(16), j.Name, size.limit.Limit.FeetInches(16))})
		}
	}
}

func many(n int, word string) string {
	if n == 1 {
		return "1 " + word
	}
	return fmt.Sprintf("%d %ss", n, word)
}
