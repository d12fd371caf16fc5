package load

import (
	"fmt"
	"math"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
)

const (
	shortArticle = 5 * measure.Foot
	tieDownStep  = 10 * measure.Foot
	lightArticle = 1100.0 // lb
	coilRulesLb  = 5000.0 // 49 CFR 393.120(a)
)

// The tie-down rules, as FMCSA's securement rule summary quotes them.
var (
	ruleShortLight = Rule{"49 CFR 393.110(b)(1)", "not blocked forward, 5 ft or less and 1,100 lb or less: 1 tie-down"}
	ruleTwo        = Rule{"49 CFR 393.110(b)(2)", "not blocked forward, 5 ft or less and over 1,100 lb, or over 5 ft up to 10 ft: 2 tie-downs"}
	ruleLong       = Rule{"49 CFR 393.110(b)(3)", "not blocked forward, over 10 ft: 2 tie-downs for the first 10 ft and 1 for each further 10 ft or fraction"}
	ruleBlocked    = Rule{"49 CFR 393.110(c)", "blocked, braced or immobilized forward: 1 tie-down for each 10 ft or fraction"}
	ruleStrength   = Rule{"49 CFR 393.106(d)", "aggregate working load limit at least half the weight of the cargo"}
	ruleCoils      = Rule{"49 CFR 393.120", "metal coils that weigh 5,000 lb or more, singly or grouped"}
)

// TieDowns gives the least number of tie-downs for an article or group, and the
// rule that says so. Strength is a second test that always applies as well.
func TieDowns(length measure.Length, lb float64, blocked bool) (int, Rule) {
	steps := func(l measure.Length) int { return int(l.Up(tieDownStep) / tieDownStep) }
	switch {
	case blocked:
		return max(1, steps(length)), ruleBlocked
	case length <= shortArticle && lb <= lightArticle:
		return 1, ruleShortLight
	case length <= tieDownStep:
		return 2, ruleTwo
	}
	return 2 + steps(length-tieDownStep), ruleLong
}

// Arrangement is the way a tie-down runs, which decides how much of its working
// load limit counts: 49 CFR 393.106(d).
type Arrangement string

// The arrangements.
const (
	OverTop  Arrangement = "over"   // from one side over or through the cargo to the other: all of it
	SameSide Arrangement = "same"   // from the vehicle through the cargo back to the same side: half
	Direct   Arrangement = "direct" // from the vehicle to the cargo: half
)

func (a Arrangement) share() float64 {
	if a == OverTop {
		return 1
	}
	return 0.5
}

// TieDown is some equal tie-downs of a vehicle's stock.
type TieDown struct {
	Name        string
	Count       int
	WLL         float64 // working load limit of one, lb, as its tag says
	Arrangement Arrangement
}

// UnmarkedWebbing gives the working load limit in lb of synthetic webbing that
// carries no mark, by its width: 49 CFR 393.108. False for other widths.
func UnmarkedWebbing(width measure.Length) (float64, bool) {
	lb, ok := map[measure.Length]float64{
		7 * measure.Inch / 4: 1750, 2 * measure.Inch: 2000, 3 * measure.Inch: 3000, 4 * measure.Inch: 4000,
	}[width]
	return lb, ok
}

// AggregateWLL gives the working load limit that counts, lb.
func AggregateWLL(stock []TieDown) float64 {
	sum := 0.0
	for _, t := range stock {
		sum += float64(t.Count) * t.WLL * t.Arrangement.share()
	}
	return sum
}

// RequiredWLL gives the least aggregate working load limit for a cargo weight.
func RequiredWLL(lb float64) float64 { return lb / 2 }

// CheckTieDowns gives what is wrong with a stock of tie-downs at
// tiedowns.0.count and so on.
func CheckTieDowns(stock []TieDown) error {
	var bad fault.List
	for i, t := range stock {
		at := fmt.Sprintf("tiedowns.%d.", i)
		if t.Count < 0 || t.Count > 200 {
			bad.Addf(at+"count", "give the number of tie-downs, 0 to 200")
		}
		if !sensible(t.WLL, 100_000) {
			bad.Addf(at+"wll", "give the working load limit from the tag, in lb")
		}
		switch t.Arrangement {
		case OverTop, SameSide, Direct:
		default:
			bad.Addf(at+"arrangement", "say how the tie-down runs: over the load, back to the same side, or from vehicle to cargo")
		}
	}
	return bad.Err()
}

// sensible reports whether n is a figure from 0 to most.
func sensible(n, most float64) bool { return !math.IsNaN(n) && n >= 0 && n <= most }

// weighStraps gives the verdicts on number and strength: what the rules ask at
// least, and a refusal where the vehicle's stock falls short.
func weighStraps(stock []TieDown, lb float64, need int) []Verdict {
	out := []Verdict{
		{Note, Rule{"49 CFR 393.110", "least number of tie-downs by length and blocking"},
			fmt.Sprintf("Tie-downs: at least %d.", need)},
		{Note, ruleStrength, fmt.Sprintf("Aggregate working load limit: at least %s lb for %s lb of cargo.", pounds(RequiredWLL(lb)), pounds(lb))},
	}
	have := 0
	for _, t := range stock {
		have += t.Count
	}
	if have < need {
		out = append(out, Verdict{Refuse, Rule{"49 CFR 393.110", "least number of tie-downs by length and blocking"},
			fmt.Sprintf("The vehicle carries %d tie-downs; the load needs at least %d.", have, need)})
	}
	if got := AggregateWLL(stock); got < RequiredWLL(lb) {
		out = append(out, Verdict{Refuse, ruleStrength,
			fmt.Sprintf("The vehicle's tie-downs count for %s lb; the load needs at least %s lb.", pounds(got), pounds(RequiredWLL(lb)))})
	}
	return out
}

// CoilNotice gives the notice for coils on the load by their weight in lb,
// singly or grouped; false below the threshold, where the general rules hold.
func CoilNotice(lb float64) (Verdict, bool) {
	if lb < coilRulesLb {
		return Verdict{}, false
	}
	return Verdict{Warn, ruleCoils, fmt.Sprintf(
		"%s lb of metal coils: the coil rules apply beside the general ones. They ask for tie-downs and blocking by the way the eye points, and nailed wood alone is no restraint. Read them before loading.",
		pounds(lb))}, true
}

// pounds writes a weight rounded up to the pound with thousands apart, so that
// no printed figure is lighter than the computed one.
func pounds(lb float64) string {
	n := int64(math.Ceil(lb - 1e-6))
	if n < 1000 {
		return fmt.Sprint(n)
	}
	return fmt.Sprintf("%s,%03d", pounds(float64(n/1000)), n%1000)
}
