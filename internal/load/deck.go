package load

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
)

// Support is an axle, axle group or hitch that carries the deck.
type Support struct {
	Name    string
	At      measure.Length // behind the deck's front edge; negative is ahead of it
	EmptyLb float64        // it carries without a load; 0 when LimitLb is what a load may add
	LimitLb float64
}

// Vehicle is a truck or trailer deck on two supports.
type Vehicle struct {
	Name       string
	Deck       measure.Length // length
	Breadth    measure.Length
	DeckHeight measure.Length // above the ground, 0 when unknown
	Nose       measure.Length // from the deck's front edge forward to the vehicle's front
	PayloadLb  float64
	Front      Support // front axle, or hitch of a trailer
	Rear       Support
	HitchLeast float64 // least share of a trailer's weight on its hitch, .10 is 10 %; 0 for no check
	HitchMost  float64
	Blocked    bool           // a headboard holds what stands against it
	MaxStack   measure.Length // highest stack above the deck, 0 for no limit of the vehicle's own
	MaxRear    measure.Length // longest overhang past the deck, 0 for no limit of the vehicle's own
	TieDowns   []TieDown
}

// Check gives what is wrong with the vehicle's data, at deck, payload,
// front.limit, tiedowns.0.wll and the like.
func (v Vehicle) Check() error {
	var bad fault.List
	if v.Deck <= 0 || v.Deck > 100*measure.Foot {
		bad.Addf("deck", "give the deck's length, at most 100 ft")
	}
	if v.Breadth <= 0 || v.Breadth > 20*measure.Foot {
		bad.Addf("breadth", "give the deck's width, at most 20 ft")
	}
	if !sensible(v.PayloadLb, 200_000) || v.PayloadLb == 0 {
		bad.Addf("payload", "give the payload in lb")
	}
	if v.Rear.At <= v.Front.At {
		bad.Addf("rear.at", "the rear axle must stand behind the front axle or hitch")
	}
	for _, s := range []struct {
		field string
		s     Support
	}{{"front", v.Front}, {"rear", v.Rear}} {
		if !sensible(s.s.LimitLb, 200_000) || s.s.LimitLb == 0 {
			bad.Addf(s.field+".limit", "give the weight it may carry in lb")
		}
		if math.IsNaN(s.s.EmptyLb) || math.Abs(s.s.EmptyLb) > 200_000 {
			bad.Addf(s.field+".empty", "give the weight it carries empty in lb")
		}
	}
	if !sensible(v.HitchLeast, 1) || !sensible(v.HitchMost, 1) || v.HitchMost < v.HitchLeast {
		bad.Addf("hitch", "the hitch's share runs from a smaller to a larger figure between 0 and 1")
	}
	for field, l := range map[string]measure.Length{"deck_height": v.DeckHeight, "nose": v.Nose, "max_stack": v.MaxStack, "max_rear": v.MaxRear} {
		if l < 0 {
			bad.Addf(field, "this measure can't be negative")
		}
	}
	slices.SortStableFunc(bad, func(a, b *fault.Fault) int { return cmp.Compare(a.Field, b.Field) })
	bad.Add("", CheckTieDowns(v.TieDowns))
	return bad.Err()
}

// Placed is a bundle where it lies. X runs from the deck's front edge to the
// rear, Y from its left edge to the right, Z from the deck up; all to the
// bundle's nearest lower corner. Its flush end points forward.
type Placed struct {
	Bundle
	X, Y, Z measure.Length
	Lane    int
	Layer   int
}

// Share is what one support carries.
type Share struct {
	Name    string
	LoadLb  float64 // of the load
	GrossLb float64 // with the empty vehicle
	LimitLb float64
}

// Group is bundles that one set of tie-downs holds: their stretches of deck
// overlap, so each strap crosses them all.
type Group struct {
	From, To measure.Length
	Lb       float64
	Blocked  bool
	Count    int // tie-downs, at least
	Rule     Rule
	At       []measure.Length // suggested places on the deck
}

// Plan is a load as it lies, with what follows from it.
type Plan struct {
	Placed     []Placed
	Left       []Bundle // found no place
	Lb         float64
	Center     [3]measure.Length // of weight: X, Y, Z
	Shares     []Share           // front, then rear
	Projection Projection
	Groups     []Group
	TieDowns   int     // at least
	NeedWLL    float64 // lb, at least
	HaveWLL    float64 // of the vehicle's stock, as it counts
	Flags      Flags
	Verdicts   []Verdict // refusals first
}

var (
	rulePayload  = Rule{"vehicle's own data", "payload"}
	ruleSupport  = Rule{"vehicle's own data", "weight on an axle or hitch"}
	ruleSpace    = Rule{"vehicle's own data", "room on the deck"}
	ruleHitch    = Rule{"common practice, no published source", "share of a trailer's weight on its hitch"}
	ruleMiddle   = Rule{"common practice, no published source", "weight near the deck's middle line"}
	ruleTopHeavy = Rule{"vehicle's own data", "height of a stack"}
)

// offMiddle is the part of a deck's breadth that the centre of weight may lie
// off its middle line before the plan warns; common practice, no published source.
const offMiddle = 20

// Assess figures a load that lies as given: weights, axle and hitch shares by
// moments, overhangs, tie-downs and flags, with every rule it passes named.
func Assess(v Vehicle, placed []Placed, place Jurisdiction) (Plan, error) {
	if err := v.Check(); err != nil {
		return Plan{}, err
	}
	return v.assess(placed, nil, place), nil
}

func (v Vehicle) assess(placed []Placed, left []Bundle, place Jurisdiction) Plan {
	p := Plan{Placed: placed, Left: left}
	p.weigh(v)
	p.project(v)
	p.group(v)
	p.NeedWLL, p.HaveWLL = RequiredWLL(p.Lb), AggregateWLL(v.TieDowns)
	p.Flags = Projecting(p.Projection, place)
	p.Verdicts = append(p.ownLimits(v), p.Flags.Verdicts...)
	if len(placed) > 0 {
		p.Verdicts = append(p.Verdicts, weighStraps(v.TieDowns, p.Lb, p.TieDowns)...)
		p.Verdicts = append(p.Verdicts, Recheck)
	}
	rank := map[Severity]int{Refuse: 0, Warn: 1, Note: 2}
	slices.SortStableFunc(p.Verdicts, func(a, b Verdict) int { return cmp.Compare(rank[a.Severity], rank[b.Severity]) })
	return p
}

// weigh figures the weight, its centre and what each support carries.
func (p *Plan) weigh(v Vehicle) {
	var moment [3]float64
	for _, b := range p.Placed {
		p.Lb += b.Lb
		for i, at := range []measure.Length{b.X + b.Balance, b.Y + b.Width/2, b.Z + b.Height/2} {
			moment[i] += b.Lb * at.InInches()
		}
	}
	rear := 0.0
	if p.Lb > 0 {
		for i := range moment {
			p.Center[i] = measure.FromInches(moment[i] / p.Lb)
		}
		// Moments about the front support.
		span := (v.Rear.At - v.Front.At).InInches()
		rear = (moment[0] - p.Lb*v.Front.At.InInches()) / span
	}
	p.Shares = []Share{
		{v.Front.Name, p.Lb - rear, p.Lb - rear + v.Front.EmptyLb, v.Front.LimitLb},
		{v.Rear.Name, rear, rear + v.Rear.EmptyLb, v.Rear.LimitLb},
	}
}

// project figures overhangs and outer size.
func (p *Plan) project(v Vehicle) {
	if len(p.Placed) == 0 {
		return
	}
	var out Projection
	left, right := measure.Length(0), v.Breadth
	var stickLeft, stickRight measure.Length
	sticks := false
	top := measure.Length(0)
	for _, b := range p.Placed {
		rear, side := b.X+b.Longest-v.Deck, max(-b.Y, b.Y+b.Width-v.Breadth)
		out.Front = max(out.Front, -b.X-v.Nose)
		out.Rear, out.Side = max(out.Rear, rear), max(out.Side, side)
		left, right = min(left, b.Y), max(right, b.Y+b.Width)
		top = max(top, b.Z+b.Height)
		if rear <= 0 && side <= 0 && -b.X <= v.Nose {
			continue
		}
		if !sticks {
			stickLeft, stickRight, sticks = b.Y, b.Y+b.Width, true
		}
		stickLeft, stickRight = min(stickLeft, b.Y), max(stickRight, b.Y+b.Width)
	}
	out.ProjectingWidth, out.Width = stickRight-stickLeft, right-left
	if v.DeckHeight > 0 {
		out.Height = v.DeckHeight + top
	}
	p.Projection = out
}

// atHeadboard is how near a bundle must stand to count as blocked; one that
// reaches over the headboard is held by nothing.
const atHeadboard = measure.Inch

// group gathers bundles whose stretches of deck overlap and counts tie-downs.
func (p *Plan) group(v Vehicle) {
	sorted := slices.Clone(p.Placed)
	slices.SortStableFunc(sorted, func(a, b Placed) int { return cmp.Compare(a.X, b.X) })
	for _, b := range sorted {
		blocked := v.Blocked && b.X.Abs() <= atHeadboard
		last := len(p.Groups) - 1
		if last < 0 || b.X >= p.Groups[last].To {
			p.Groups = append(p.Groups, Group{From: b.X, To: b.X + b.Longest, Lb: b.Lb, Blocked: blocked})
			continue
		}
		g := &p.Groups[last]
		g.To, g.Lb, g.Blocked = max(g.To, b.X+b.Longest), g.Lb+b.Lb, g.Blocked && blocked
	}
	for i := range p.Groups {
		g := &p.Groups[i]
		g.Count, g.Rule = TieDowns(g.To-g.From, g.Lb, g.Blocked)
		from, to := max(0, g.From), min(v.Deck, g.To)
		for n := range g.Count {
			g.At = append(g.At, from+(to-from)*measure.Length(2*n+1)/measure.Length(2*g.Count))
		}
		p.TieDowns += g.Count
	}
}

// ownLimits gives the verdicts from the vehicle's own data.
func (p *Plan) ownLimits(v Vehicle) []Verdict {
	var out []Verdict
	say := func(s Severity, r Rule, format string, args ...any) {
		out = append(out, Verdict{s, r, fmt.Sprintf(format, args...)})
	}
	if p.Lb > v.PayloadLb {
		say(Refuse, rulePayload, "The load is %s lb; the payload is %s lb.", pounds(p.Lb), pounds(v.PayloadLb))
	}
	for _, s := range p.Shares {
		if s.GrossLb > s.LimitLb {
			say(Refuse, ruleSupport, "The %s would carry %s lb; its limit is %s lb.", s.Name, pounds(s.GrossLb), pounds(s.LimitLb))
		}
		if s.GrossLb < 0 {
			say(Refuse, ruleSupport, "The load would lift the %s by %s lb.", s.Name, pounds(-s.GrossLb))
		}
	}
	if share, ok := p.hitchShare(v); ok && (share < v.HitchLeast || share > v.HitchMost) {
		say(Warn, ruleHitch, "The %s carries %.0f %% of the trailer's weight; from %.0f to %.0f %% is usual. Move the load.", v.Front.Name, share*100, v.HitchLeast*100, v.HitchMost*100)
	}
	if v.MaxRear > 0 && p.Projection.Rear > v.MaxRear {
		say(Refuse, ruleSpace, "The load overhangs the deck by %s; this vehicle's limit is %s.", p.Projection.Rear.FeetInches(16), v.MaxRear.FeetInches(16))
	}
	if off := (p.Center[1] - v.Breadth/2).Abs(); p.Lb > 0 && off > v.Breadth/offMiddle {
		say(Warn, ruleMiddle, "The weight lies %s off the deck's middle line. Spread it from side to side.", off.FeetInches(2))
	}
	out = append(out, p.bundleLimits(v)...)
	if len(p.Left) > 0 {
		say(Refuse, ruleSpace, "No place within the vehicle's limits for %s of %s lb. Take a second trip or another vehicle.", many(len(p.Left), "bundle"), pounds(sumLb(p.Left)))
	}
	return out
}

func sumLb(bundles []Bundle) float64 {
	sum := 0.0
	for _, b := range bundles {
		sum += b.Lb
	}
	return sum
}

// hitchShare gives the hitch's part of the whole trailer's weight, false when
// it isn't asked for or nothing is loaded.
func (p *Plan) hitchShare(v Vehicle) (float64, bool) {
	gross := p.Shares[0].GrossLb + p.Shares[1].GrossLb
	if v.HitchMost == 0 || p.Lb == 0 || gross <= 0 {
		return 0, false
	}
	return p.Shares[0].GrossLb / gross, true
}

// bundleLimits gives the verdicts on single bundles: stacks too high, two in
// one place, weight off the deck, and coils.
func (p *Plan) bundleLimits(v Vehicle) []Verdict {
	var out []Verdict
	coils := 0.0
	for i, b := range p.Placed {
		if b.Coil {
			coils += b.Lb
		}
		if top := b.Z + b.Height; v.MaxStack > 0 && top > v.MaxStack {
			out = append(out, Verdict{Refuse, ruleTopHeavy, fmt.Sprintf("%s reaches %s above the deck; the limit is %s.", b.name(), top.FeetInches(2), v.MaxStack.FeetInches(2))})
		}
		if at := b.X + b.Balance; at < 0 || at > v.Deck {
			out = append(out, Verdict{Refuse, ruleSpace, fmt.Sprintf("%s has its weight off the deck and would tip.", b.name())})
		}
		for _, c := range p.Placed[:i] {
			if b.overlaps(c) {
				out = append(out, Verdict{Refuse, ruleSpace, fmt.Sprintf("%s and %s lie in the same place.", c.name(), b.name())})
			}
		}
	}
	if notice, ok := CoilNotice(coils); ok {
		out = append(out, notice)
	}
	return out
}

func (b Bundle) name() string {
	if b.Coil {
		return "A coil"
	}
	return fmt.Sprintf("Bundle %d of stop %d", b.No, b.Stop)
}

// overlaps reports whether two bundles take up the same space.
func (b Placed) overlaps(c Placed) bool {
	apart := func(a, al, b, bl measure.Length) bool { return a+al <= b || b+bl <= a }
	return !apart(b.X, b.Longest, c.X, c.Longest) && !apart(b.Y, b.Width, c.Y, c.Width) && !apart(b.Z, b.Height, c.Z, c.Height)
}
