package load_test

import (
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"ribdesk/internal/fault"
	"ribdesk/internal/load"
	"ribdesk/internal/measure"
)

// truck is an invented flatbed: 16 ft deck, axles 4 ft ahead of its front edge
// and 11 ft behind it.
func truck() load.Vehicle {
	return load.Vehicle{
		Name: "flatbed", Deck: ft(16), Breadth: ft(8), DeckHeight: ft(3.5), Nose: ft(8), PayloadLb: 8000,
		Front:   load.Support{Name: "front axle", At: -ft(4), EmptyLb: 4000, LimitLb: 7000},
		Rear:    load.Support{Name: "rear axle", At: ft(11), EmptyLb: 3500, LimitLb: 11000},
		Blocked: true, MaxStack: ft(4), MaxRear: ft(8),
		TieDowns: []load.TieDown{{Name: "2 in strap", Count: 8, WLL: 3000, Arrangement: load.OverTop}},
	}
}

func bundle(no, stop int, long, lb float64) load.Bundle {
	return load.Bundle{No: no, Of: no, Stop: stop, Customer: "c", Longest: ft(long), Width: ft(3), Height: ft(1), Lb: lb, Balance: ft(long / 2)}
}

func federal(t testing.TB) load.Jurisdiction {
	j, err := load.JurisdictionOf("")
	if err != nil {
		t.Fatal(err)
	}
	return j
}

func TestAxleSharesByMoments(t *testing.T) {
	// 3000 lb at 8 ft behind the deck's front; the axles stand at -4 and 11 ft:
	// rear share 3000 x 12/15 = 2400 lb, front 600 lb (statics, by hand).
	plan, err := load.Assess(truck(), []load.Placed{{Bundle: bundle(1, 1, 16, 3000), Y: ft(2.5)}}, federal(t))
	if err != nil {
		t.Fatal(err)
	}
	front, rear := plan.Shares[0], plan.Shares[1]
	if math.Abs(front.LoadLb-600) > 1e-6 || math.Abs(rear.LoadLb-2400) > 1e-6 || rear.GrossLb != 5900 {
		t.Errorf("%+v", plan.Shares)
	}
	if plan.Center != [3]measure.Length{ft(8), ft(4), ft(0.5)} || plan.Lb != 3000 {
		t.Errorf("center %v", plan.Center)
	}
	// Blocked by the headboard: 16 ft is 2 tie-downs.
	if plan.TieDowns != 2 || plan.NeedWLL != 1500 || plan.HaveWLL != 24000 || !plan.Groups[0].Blocked {
		t.Errorf("%+v", plan)
	}
	if !slices.Equal(plan.Groups[0].At, []measure.Length{ft(4), ft(12)}) {
		t.Errorf("straps at %v", plan.Groups[0].At)
	}
}

func TestTieDownGroups(t *testing.T) {
	v := truck()
	v.Deck = ft(30)
	at := func(no int, x, y, long float64) load.Placed {
		return load.Placed{Bundle: bundle(no, 1, long, 500), X: ft(x), Y: ft(y)}
	}
	// Two side by side from the headboard and one behind them that starts where
	// they end: two groups. The second isn't against the headboard.
	plan, err := load.Assess(v, []load.Placed{at(3, 12, 1, 8), at(1, 0, 1, 12), at(2, 0, 4, 10)}, federal(t))
	if err != nil || len(plan.Groups) != 2 {
		t.Fatalf("%+v, %v", plan.Groups, err)
	}
	a, b := plan.Groups[0], plan.Groups[1]
	if a.Lb != 1000 || !a.Blocked || a.Count != 2 || a.To != ft(12) || b.Blocked || b.Count != 2 || plan.TieDowns != 4 {
		t.Errorf("%+v, %+v", a, b)
	}
	// One of a group stands off the headboard: the group isn't blocked, and as
	// one article of 14 ft it needs 3.
	plan, _ = load.Assess(v, []load.Placed{at(1, 0, 1, 12), at(2, 4, 4, 10)}, federal(t))
	if g := plan.Groups[0]; len(plan.Groups) != 1 || g.Blocked || g.Count != 3 || g.To != ft(14) {
		t.Errorf("%+v", plan.Groups)
	}
}

func TestOverhangs(t *testing.T) {
	long := load.Placed{Bundle: bundle(1, 1, 30, 500), X: -ft(10), Y: ft(5.5)}
	plan, err := load.Assess(truck(), []load.Placed{long}, federal(t))
	if err != nil {
		t.Fatal(err)
	}
	// The nose reaches 8 ft ahead of the deck, so 2 ft pass the front; 4 ft pass
	// the rear and 6 in the right side, which alone asks for flags.
	want := load.Projection{Front: ft(2), Rear: ft(4), Side: ft(0.5), ProjectingWidth: ft(3), Width: ft(8.5), Height: ft(4.5)}
	if plan.Projection != want || plan.Flags.Count != 2 {
		t.Errorf("%+v, %+v", plan.Projection, plan.Flags)
	}
	// 30 ft, not blocked, is 4; every suggested strap reaches the 16 ft deck.
	if at := plan.Groups[0].At; !slices.Equal(at, []measure.Length{ft(2), ft(6), ft(10), ft(14)}) {
		t.Errorf("straps at %v", at)
	}
	long.X, long.Y, long.Longest = -ft(9), ft(1), ft(24)
	if plan, _ = load.Assess(truck(), []load.Placed{long}, federal(t)); plan.Projection.ProjectingWidth != ft(3) || plan.Projection.Front != ft(1) {
		t.Errorf("%+v", plan.Projection)
	}
	// Over the cab but not past the nose nothing sticks out.
	long.X = -ft(8)
	if plan, _ = load.Assess(truck(), []load.Placed{long}, federal(t)); plan.Projection.ProjectingWidth != 0 || plan.Projection.Front != 0 {
		t.Errorf("%+v", plan.Projection)
	}
}

func TestShortBundleCarriesNoLongOne(t *testing.T) {
	v := truck()
	v.Deck, v.Breadth = ft(12), ft(4) // one lane, where lying on the short one would overhang less
	plan, err := load.Lay(v, []load.Bundle{bundle(1, 2, 4, 300), bundle(2, 1, 9, 300), bundle(3, 1, 5.5, 300)}, federal(t))
	if err != nil || len(plan.Placed) != 3 {
		t.Fatalf("%+v, %v", plan.Verdicts, err)
	}
	for _, b := range plan.Placed {
		if b.No == 2 && b.Z != 0 {
			t.Errorf("9 ft lie on 4 ft: %+v", b)
		}
	}
}

func TestLongBundleOverhangsAndIsFlagged(t *testing.T) {
	plan, err := load.Lay(truck(), []load.Bundle{bundle(1, 1, 21, 900)}, federal(t))
	if err != nil {
		t.Fatal(err)
	}
	if plan.Projection.Rear != ft(5) || plan.Flags.Count != 2 || plan.Projection.ProjectingWidth != ft(3) || plan.Projection.Height != ft(4.5) {
		t.Errorf("%+v, %+v", plan.Projection, plan.Flags)
	}
	texas, _ := load.JurisdictionOf("US-TX")
	plan, _ = load.Lay(truck(), []load.Bundle{bundle(1, 1, 21, 900)}, texas)
	if len(plan.Left) != 1 || load.Worst(plan.Verdicts) != load.Refuse {
		t.Errorf("Texas stops a load at 4 ft: %+v", plan)
	}
}

func TestFirstStopLiesOnTopOrAtTheRear(t *testing.T) {
	var bundles []load.Bundle
	for stop := 1; stop <= 3; stop++ {
		for no := 1; no <= 3; no++ {
			bundles = append(bundles, bundle(no, stop, 14, 500))
		}
	}
	tall := truck()
	tall.MaxStack = ft(5)
	plan, err := load.Lay(tall, bundles, federal(t))
	if err != nil || len(plan.Placed) != 9 {
		t.Fatalf("%d placed, %v, %+v", len(plan.Placed), err, plan.Verdicts)
	}
	for _, a := range plan.Placed {
		for _, b := range plan.Placed {
			if a.Lane == b.Lane && a.X < b.X+b.Longest && b.X < a.X+a.Longest && a.Z > b.Z && a.Stop > b.Stop {
				t.Errorf("stop %d lies on stop %d", a.Stop, b.Stop)
			}
		}
	}
}

func TestLoadIsMovedOffTheHitch(t *testing.T) {
	trailer := load.Vehicle{
		Name: "trailer", Deck: ft(24), Breadth: ft(8), PayloadLb: 10000,
		Front:      load.Support{Name: "hitch", At: -ft(4), EmptyLb: 300, LimitLb: 1500},
		Rear:       load.Support{Name: "axles", At: ft(14), EmptyLb: 2500, LimitLb: 12000},
		HitchLeast: 0.10, HitchMost: 0.15,
		TieDowns: []load.TieDown{{Count: 10, WLL: 3000, Arrangement: load.OverTop}},
	}
	plan, err := load.Lay(trailer, []load.Bundle{bundle(1, 1, 12, 6000)}, federal(t))
	if err != nil {
		t.Fatal(err)
	}
	if x := plan.Placed[0].X; x <= 0 {
		t.Errorf("at the front the hitch would carry %v lb; it stays at %s", 300+6000*(14-6)/18., x)
	}
	share := plan.Shares[0].GrossLb / (plan.Shares[0].GrossLb + plan.Shares[1].GrossLb)
	if share < 0.10 || share > 0.15 || plan.Shares[0].GrossLb > 1500 || load.Worst(plan.Verdicts) != load.Note {
		t.Errorf("hitch carries %v, %+v", share, plan.Verdicts)
	}
	// One bundle off the middle? A single lane is centered.
	if plan.Center[1] != ft(4) {
		t.Errorf("center %v", plan.Center)
	}
	// At the rear end it would lift the hitch.
	plan, _ = load.Assess(trailer, []load.Placed{{Bundle: bundle(1, 1, 12, 9000), X: ft(12), Y: ft(2.5)}}, federal(t))
	if !says(plan.Verdicts, load.Refuse, "lift the hitch") {
		t.Errorf("%+v", plan.Verdicts)
	}
}

func says(verdicts []load.Verdict, s load.Severity, words string) bool {
	for _, v := range verdicts {
		if v.Severity == s && strings.Contains(v.Sentence, words) {
			return true
		}
	}
	return false
}

func TestShortStockAndOverweightAreRefused(t *testing.T) {
	v := truck()
	v.TieDowns[0].Count, v.TieDowns[0].WLL = 1, 500
	v.PayloadLb = 2000
	placed := []load.Placed{{Bundle: bundle(1, 1, 16, 2500), X: ft(1)}, {Bundle: bundle(2, 1, 10, 300), X: ft(3), Z: ft(0.5)}}
	v.MaxStack = ft(1.25)
	plan, err := load.Assess(v, placed, federal(t))
	if err != nil {
		t.Fatal(err)
	}
	for _, words := range []string{"payload is 2,000 lb", "carries 1 tie-downs", "count for 500 lb", "lie in the same place", "the limit is 1' 3\""} {
		if !says(plan.Verdicts, load.Refuse, words) {
			t.Errorf("nothing says %q: %+v", words, plan.Verdicts)
		}
	}
	if !says(plan.Verdicts, load.Warn, "middle line") || plan.Verdicts[0].Severity != load.Refuse {
		t.Errorf("%+v", plan.Verdicts)
	}
	coil := load.Bundle{Coil: true, Longest: ft(2), Width: ft(4), Height: ft(4), Lb: 5200, Balance: ft(1)}
	plan, _ = load.Assess(truck(), []load.Placed{{Bundle: coil, X: ft(8), Y: ft(2)}}, federal(t))
	if !says(plan.Verdicts, load.Warn, "5,200 lb of metal coils") {
		t.Errorf("%+v", plan.Verdicts)
	}
}

func TestVehicleFaults(t *testing.T) {
	_, err := load.Lay(load.Vehicle{MaxRear: -1, HitchLeast: 2}, []load.Bundle{{}}, federal(t))
	var fields []string
	for _, f := range fault.All(err) {
		fields = append(fields, f.Field)
	}
	want := "vehicle.breadth vehicle.deck vehicle.front.limit vehicle.hitch vehicle.max_rear vehicle.payload vehicle.rear.at vehicle.rear.limit bundles.0"
	if got := strings.Join(fields, " "); got != want {
		t.Errorf("got %s", got)
	}
	plan, err := load.Lay(truck(), nil, federal(t))
	if err != nil || len(plan.Verdicts) != 0 || plan.TieDowns != 0 {
		t.Errorf("nothing loaded: %+v, %v", plan, err)
	}
}

// drawLoad draws a vehicle and bundles, some of them beyond every limit.
func drawLoad(t *rapid.T) (load.Vehicle, []load.Bundle) {
	v := truck()
	v.PayloadLb = rapid.Float64Range(500, 9000).Draw(t, "payload")
	v.Front.LimitLb = rapid.Float64Range(4000, 7000).Draw(t, "front")
	v.Rear.LimitLb = rapid.Float64Range(4000, 11000).Draw(t, "rear")
	v.MaxRear = ft(float64(rapid.IntRange(0, 6).Draw(t, "overhang")))
	v.TieDowns[0].Count = rapid.IntRange(0, 8).Draw(t, "straps")
	var bundles []load.Bundle
	for i := range rapid.IntRange(0, 9).Draw(t, "bundles") {
		b := bundle(i+1, rapid.IntRange(1, 3).Draw(t, "stop"), float64(rapid.IntRange(1, 30).Draw(t, "ft")), rapid.Float64Range(10, 3000).Draw(t, "lb"))
		b.Width = measure.Foot.Times(rapid.IntRange(1, 10).Draw(t, "wide"))
		bundles = append(bundles, b)
	}
	return v, bundles
}

// Whatever is laid, a limit that is passed is named; figured here again from
// the places alone.
func TestNoLimitIsPassedUnnoticed(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v, bundles := drawLoad(t)
		place := rapid.SampledFrom(load.Jurisdictions()).Draw(t, "place")
		laid, err := load.Lay(v, bundles, place)
		if err != nil {
			t.Fatal(err)
		}
		if len(laid.Placed)+len(laid.Left) != len(bundles) {
			t.Fatalf("%d placed and %d left of %d", len(laid.Placed), len(laid.Left), len(bundles))
		}
		if len(laid.Left) > 0 && !says(laid.Verdicts, load.Refuse, "No place") {
			t.Fatal("bundles are left without a word")
		}
		examine(t, v, laid)
		// A hand may put them anywhere.
		moved := slices.Clone(laid.Placed)
		for i := range moved {
			moved[i].X += measure.Foot.Times(rapid.IntRange(-20, 20).Draw(t, "x"))
			moved[i].Y += measure.Foot.Times(rapid.IntRange(-3, 3).Draw(t, "y"))
		}
		byHand, err := load.Assess(v, moved, place)
		if err != nil {
			t.Fatal(err)
		}
		examine(t, v, byHand)
		turned := slices.Clone(bundles)
		slices.Reverse(turned)
		if again, _ := load.Lay(v, turned, place); !reflect.DeepEqual(again.Placed, laid.Placed) {
			t.Fatal("the order of the bundles changes the load")
		}
	})
}

func examine(t *rapid.T, v load.Vehicle, p load.Plan) {
	lb, moment := 0.0, 0.0
	overlap, flag := false, false
	need := 0
	for i, b := range p.Placed {
		lb += b.Lb
		moment += b.Lb * (b.X + b.Balance - v.Front.At).InInches()
		rear := b.X + b.Longest - v.Deck
		flag = flag || rear > 4*measure.Foot || -b.Y > 4*measure.Inch || b.Y+b.Width-v.Breadth > 4*measure.Inch
		if v.MaxRear > 0 && rear > v.MaxRear && !says(p.Verdicts, load.Refuse, "overhangs the deck") {
			t.Fatalf("overhang of %s unnoticed", rear)
		}
		for _, c := range p.Placed[:i] {
			overlap = overlap || b.X < c.X+c.Longest && c.X < b.X+b.Longest && b.Y < c.Y+c.Width && c.Y < b.Y+b.Width && b.Z < c.Z+c.Height && c.Z < b.Z+b.Height
		}
		own, _ := load.TieDowns(b.Longest, b.Lb, v.Blocked)
		need = max(need, own)
	}
	back := moment / (v.Rear.At - v.Front.At).InInches()
	for name, passed := range map[string]bool{
		"payload is":                lb > v.PayloadLb+1e-6,
		"The rear axle would carry": v.Rear.EmptyLb+back > v.Rear.LimitLb+1e-6,
		"front axle would carry":    v.Front.EmptyLb+lb-back > v.Front.LimitLb+1e-6,
		"would lift the front axle": v.Front.EmptyLb+lb-back < -1e-6,
		"lie in the same place":     overlap,
		"tie-downs; the load needs": v.TieDowns[0].Count < need,
		"the load needs at least":   float64(v.TieDowns[0].Count)*3000 < lb/2-1e-6,
	} {
		if passed && !says(p.Verdicts, load.Refuse, name) {
			t.Fatalf("%q isn't said: %+v", name, p.Verdicts)
		}
	}
	if flag && p.Flags.Count == 0 {
		t.Fatalf("no flag: %+v", p.Projection)
	}
	if p.TieDowns < need {
		t.Fatalf("%d tie-downs, a bundle alone needs %d", p.TieDowns, need)
	}
	for _, w := range p.Verdicts {
		if w.Rule.Citation == "" || strings.Contains(w.Sentence, "OK") {
			t.Fatalf("%+v", w)
		}
	}
}

func TestLaidBundlesNeverOverlap(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v, bundles := drawLoad(t)
		plan, err := load.Lay(v, bundles, load.Jurisdictions()[0])
		if err != nil {
			t.Fatal(err)
		}
		if says(plan.Verdicts, load.Refuse, "same place") || says(plan.Verdicts, load.Refuse, "tip") || says(plan.Verdicts, load.Refuse, "payload is") {
			t.Fatalf("laid against its own rules: %+v", plan.Verdicts)
		}
	})
}

func BenchmarkLay(b *testing.B) {
	var bundles []load.Bundle
	for i := range 30 {
		bundles = append(bundles, bundle(i, i%6+1, float64(8+i%9), 200))
	}
	place := federal(b)
	for b.Loop() {
		if _, err := load.Lay(truck(), bundles, place); err != nil {
			b.Fatal(err)
		}
	}
}

func ExampleAssess() {
	us, _ := load.JurisdictionOf("")
	v := load.Vehicle{Name: "trailer", Deck: 16 * measure.Foot, Breadth: 8 * measure.Foot, PayloadLb: 5000,
		Front:    load.Support{Name: "hitch", At: -4 * measure.Foot, LimitLb: 1000},
		Rear:     load.Support{Name: "axles", At: 12 * measure.Foot, LimitLb: 6000},
		TieDowns: []load.TieDown{{Name: "2 in strap", Count: 4, WLL: 2000, Arrangement: load.OverTop}}}
	panels := load.Placed{Bundle: load.Bundle{No: 1, Stop: 1, Longest: 21 * measure.Foot, Width: 3 * measure.Foot, Height: measure.Foot,
		Lb: 1400, Balance: 126 * measure.Inch}, Y: 30 * measure.Inch}
	plan, _ := load.Assess(v, []load.Placed{panels}, us)
	for _, v := range plan.Verdicts {
		fmt.Printf("%s: %s (%s)\n", v.Severity, v.Sentence, v.Rule.Citation)
	}
	// Output:
	// warn: The load extends 5' past the rear: at least 2 flags, red or orange fluorescent, 1' 6" square or larger; lamps at night. (49 CFR 393.87(a))
	// note: Tie-downs: at least 4. (49 CFR 393.110)
	// note: Aggregate working load limit: at least 700 lb for 1,400 lb of cargo. (49 CFR 393.106(d))
	// note: Check the load before the start, within the first 50 miles, then every 3 hours, every 150 miles or at a change of duty status, whichever comes first. (49 CFR 392.9(b))
}
