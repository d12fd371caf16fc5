// Package load packs cut pieces into bundles, lays bundles on a deck, counts
// tie-downs and flags, weighs axles and hitch, checks hand lifting and orders
// the stops of a trip.
//
// It counts what named rules ask for and says so with the rule; it never says
// that a load is fine. Local law and the driver's judgement decide. It knows no
// prices, customers' records or pages. Weights are pounds and times minutes, as
// floats; every length is a measure.Length.
package load

// Rule is a rule with the place where it stands written.
type Rule struct {
	Citation string
	Text     string
}

// Severity says how far a verdict goes.
type Severity string

// The severities. There is none for "fine".
const (
	Refuse Severity = "refuse" // a limit is passed: don't drive so
	Warn   Severity = "warn"   // something must be done or decided first
	Note   Severity = "note"   // a count or a duty to know
)

// Verdict is what one rule says about a load.
type Verdict struct {
	Severity Severity
	Rule     Rule
	Sentence string // complete, for the person
}

// Deference stands under every list of verdicts.
const Deference = "Counted from the rules named here, on calculated weights. Local law and the driver's judgement decide."

// Recheck is the driver's duty on the road.
var Recheck = Verdict{Note,
	Rule{"49 CFR 392.9(b)", "inspection of cargo and securement"},
	"Check the load before the start, within the first 50 miles, then every 3 hours, every 150 miles or at a change of duty status, whichever comes first."}

// Worst gives the heaviest severity among verdicts, Note when there is none.
func Worst(verdicts []Verdict) Severity {
	worst := Note
	for _, v := range verdicts {
		switch {
		case v.Severity == Refuse:
			return Refuse
		case v.Severity == Warn:
			worst = Warn
		}
	}
	return worst
}
