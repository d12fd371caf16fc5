package stock

import (
	"fmt"
	"sort"
	"time"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
)

// Machine makes pieces: a panel former, a gutter machine, a folder.
type Machine struct {
	Code      string            `json:"code"`
	Name      string            `json:"name"`
	Folder    bool              `json:"folder"`   // folds trim from blanks instead of forming profiles
	Profiles  []string          `json:"profiles"` // codes it can run; a folder has none
	MaxStrip  measure.Length    `json:"max_strip"`
	Speed     money.Rate        `json:"speed"`     // feet per minute
	Shear     money.Rate        `json:"shear"`     // seconds per cut
	Handling  money.Rate        `json:"handling"`  // seconds per piece
	Allowance money.Rate        `json:"allowance"` // share added to run time, .10 is 10 %
	LeadIn    measure.Length    `json:"lead_in"`   // scrap at each coil threaded
	LeadOut   measure.Length    `json:"lead_out"`
	Bend      money.Rate        `json:"bend"`     // folder: seconds per bend
	Hem       money.Rate        `json:"hem"`      // folder: seconds per hem
	Slit      money.Rate        `json:"slit"`     // folder: minutes per sheet slit
	MinLeg    measure.Length    `json:"min_leg"`  // folder: shortest leg it holds
	MaxFold   measure.Length    `json:"max_fold"` // folder: longest piece
	Rule      []ChangePart      `json:"rule"`
	Setup     map[string]string `json:"setup"` // what stands on it now, by attribute
	Week      []Window          `json:"week"`

	ServiceFeet    int `json:"service_feet"`    // a service every so many feet; 0 for none
	ServiceHours   int `json:"service_hours"`   // or every so many machine hours
	ServiceMinutes int `json:"service_minutes"` // how long one takes
}

func (m Machine) Shelf() Kind   { return Machines }
func (m Machine) Key() string   { return m.Code }
func (m Machine) Label() string { return m.Name }

// ChangePart is one part of the changeover rule, in order: when any of Keys
// differs between two runs, it counts, unless an earlier part that counted
// covers it.
type ChangePart struct {
	Name    string         `json:"name"`
	Keys    []string       `json:"keys"` // profile, material, gauge, width, colour, rib
	Minutes int            `json:"minutes"`
	Scrap   measure.Length `json:"scrap"`
	Covers  []string       `json:"covers"`
	Pairs   []ChangePair   `json:"pairs"`
}

// ChangePair overrides a part's minutes and scrap for one direction.
type ChangePair struct {
	From    string         `json:"from"`
	To      string         `json:"to"`
	Minutes int            `json:"minutes"`
	Scrap   measure.Length `json:"scrap"`
}

// SetupKeys are the attributes a changeover can depend on.
var SetupKeys = []string{"profile", "material", "gauge", "width", "colour", "rib"}

// Window is a weekly open time of a machine, in minutes of the local day.
type Window struct {
	Day  time.Weekday `json:"day"`
	From int          `json:"from"`
	To   int          `json:"to"`
}

// Makes reports whether the machine runs a profile.
func (m Machine) Makes(profile string) bool {
	for _, p := range m.Profiles {
		if p == profile {
			return true
		}
	}
	return false
}

// Check refuses what can't be a machine.
func (m Machine) Check() error {
	var l fault.List
	checkItem(&l, m.Code, m.Name)
	if m.Speed.Sign() <= 0 && !m.Folder {
		l.Addf("speed", "give the forming speed in feet per minute")
	}
	if m.MaxStrip <= 0 {
		l.Addf("max_strip", "give the widest strip or sheet it takes")
	}
	if m.Shear.Sign() < 0 || m.Handling.Sign() < 0 || m.Allowance.Sign() < 0 || m.Bend.Sign() < 0 || m.Hem.Sign() < 0 || m.Slit.Sign() < 0 {
		l.Addf("shear", "times can't be negative")
	}
	if m.LeadIn < 0 || m.LeadOut < 0 {
		l.Addf("lead_in", "lead-in and lead-out can't be negative")
	}
	if m.ServiceFeet < 0 || m.ServiceHours < 0 || m.ServiceMinutes < 0 || m.ServiceMinutes > 7*24*60 {
		l.Addf("service_feet", "the service interval can't be negative, nor a service longer than a week")
	}
	known := map[string]bool{}
	for _, k := range SetupKeys {
		known[k] = true
	}
	for i, p := range m.Rule {
		if p.Name == "" || len(p.Keys) == 0 {
			l.Addf(fmt.Sprintf("rule.%d.name", i+1), "a part needs a name and at least one of profile, material, gauge, width, colour, rib")
		}
		for _, k := range p.Keys {
			if !known[k] {
				l.Addf(fmt.Sprintf("rule.%d.keys", i+1), "“%s” isn't one of profile, material, gauge, width, colour, rib", k)
			}
		}
		if p.Minutes < 0 || p.Minutes > 24*60 || p.Scrap < 0 {
			l.Addf(fmt.Sprintf("rule.%d.minutes", i+1), "minutes must be 0 to 1440 and scrap not negative")
		}
	}
	l.Add("week", CheckWeek(m.Week))
	return l.Err()
}

// CheckWeek refuses open times that overlap or run backwards.
func CheckWeek(week []Window) error {
	ws := append([]Window(nil), week...)
	sort.Slice(ws, func(i, j int) bool {
		if ws[i].Day != ws[j].Day {
			return ws[i].Day < ws[j].Day
		}
		return ws[i].From < ws[j].From
	})
	for i, w := range ws {
		if w.From < 0 || w.To > 24*60 || w.From >= w.To {
			return fault.Invalidf("", "%s: the end must come after the start, within the day", w.Day)
		}
		if i > 0 && ws[i-1].Day == w.Day && ws[i-1].To > w.From {
			return fault.Invalidf("", "%s: two open times overlap", w.Day)
		}
	}
	return nil
}

// Block is a stretch in which a machine isn't open for outside work (an own
// job, a service, the operator away), or, with Open, an extra opening.
type Block struct {
	ID      int64
	Machine string
	From    time.Time
	To      time.Time
	Kind    BlockKind
	Reason  string
	Version int64
}

// BlockKind says why a machine is taken.
type BlockKind string

// The kinds of block.
const (
	OwnJob  BlockKind = "own job"
	Service BlockKind = "service"
	Down    BlockKind = "down"
	Away    BlockKind = "operator away"
	Opening BlockKind = "extra opening"
)

// Check refuses what can't be a block.
func (b Block) Check() error {
	var l fault.List
	if !b.To.After(b.From) {
		l.Addf("to", "the end must come after the start")
	} else if b.To.Sub(b.From) > 60*24*time.Hour {
		l.Addf("to", "a block is at most 60 days long")
	}
	switch b.Kind {
	case OwnJob, Service, Down, Away, Opening:
	default:
		l.Addf("kind", "choose what the time is taken for")
	}
	if b.Kind != Opening && b.Reason == "" {
		l.Addf("reason", "name the job or say why")
	}
	return l.Err()
}

// Span is a stretch of time, such as a machine is open for: [From, To).
type Span struct{ From, To time.Time }

// Both gives the time that lies in both spans, and false where they share none.
func (s Span) Both(o Span) (Span, bool) {
	s.From = Later(s.From, o.From)
	if o.To.Before(s.To) {
		s.To = o.To
	}
	return s, s.To.After(s.From)
}

// Later gives the later of two moments.
func Later(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}

// Open gives the open spans of a week's windows from one time to another, less
// the blocks and plus the extra openings, in the shop's time zone. Days with a
// change to or from summer time have their real length.
func Open(week []Window, blocks []Block, from, to time.Time, zone *time.Location) []Span {
	var spans []Span
	start := from.In(zone)
	for day := time.Date(start.Year(), start.Month(), start.Day(), 0, 0, 0, 0, zone); day.Before(to); day = day.AddDate(0, 0, 1) {
		for _, w := range week {
			if w.Day == day.Weekday() {
				spans = append(spans, Span{
					From: time.Date(day.Year(), day.Month(), day.Day(), 0, w.From, 0, 0, zone),
					To:   time.Date(day.Year(), day.Month(), day.Day(), 0, w.To, 0, 0, zone),
				})
			}
		}
	}
	for _, b := range blocks {
		if b.Kind == Opening {
			spans = append(spans, Span{b.From, b.To})
		}
	}
	spans = merge(spans)
	for _, b := range blocks {
		if b.Kind != Opening {
			spans = cutOut(spans, b.From, b.To)
		}
	}
	var out []Span
	for _, s := range spans {
		if part, ok := s.Both(Span{from, to}); ok {
			out = append(out, part)
		}
	}
	return out
}

func merge(spans []Span) []Span {
	sort.Slice(spans, func(i, j int) bool { return spans[i].From.Before(spans[j].From) })
	var out []Span
	for _, s := range spans {
		if n := len(out); n > 0 && !s.From.After(out[n-1].To) {
			if s.To.After(out[n-1].To) {
				out[n-1].To = s.To
			}
			continue
		}
		out = append(out, s)
	}
	return out
}

func cutOut(spans []Span, from, to time.Time) []Span {
	var out []Span
	for _, s := range spans {
		if !from.Before(s.To) || !to.After(s.From) {
			out = append(out, s)
			continue
		}
		if from.After(s.From) {
			out = append(out, Span{s.From, from})
		}
		if to.Before(s.To) {
			out = append(out, Span{to, s.To})
		}
	}
	return out
}
