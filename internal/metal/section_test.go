package metal_test

import (
	"encoding/json"
	"math"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/metal"
)

func in(x float64) measure.Length { return measure.FromInches(x) }

func steel(thick float64) metal.Sheet {
	return metal.Sheet{Family: metal.BareSteel, Thickness: in(thick)}
}

// exact is a shop that folds with the given figures and doesn't round.
func exact(radius, k float64) metal.Folding {
	return metal.Folding{Mode: metal.BendAllowance, Radius: in(radius), K: k}
}

func girth(t *testing.T, s metal.Section, sheet metal.Sheet, f metal.Folding) metal.Blank {
	t.Helper()
	b, err := metal.Girth(s, sheet, f)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestGirthOfPublishedBends(t *testing.T) {
	// Legs 2.000 and 3.000 outside, 0.0598 steel, R 0.0625, K 0.44: 4.8949 in;
	// computed as the sum of outside legs less the bend deduction.
	angle := metal.Section{Legs: []metal.Leg{{Length: in(2), Turn: -90}, {Length: in(3), Turn: 90}}}
	if b := girth(t, angle, steel(0.0598), exact(0.0625, 0.44)); !near(b.Exact.InInches(), 4.8949, 0.00006) {
		t.Errorf("angle: %v in", b.Exact.InInches())
	}
	// FAA-H-8083-31, U-channel of 0.040 aluminium, R 0.16: legs 1.00, 2.00, 1.00.
	// Its formula (0.01743 R + 0.0078 T) N, K = 0.447, gives 3.758; the handbook
	// rounds the allowance on the way and prints 3.74.
	channel := metal.Section{Legs: []metal.Leg{{Length: in(1), Turn: -90}, {Length: in(2), Turn: 90}, {Length: in(1), Turn: 90}}}
	b := girth(t, channel, metal.Sheet{Family: metal.Aluminium, Thickness: in(0.040)}, exact(0.16, 0.447))
	if !near(b.Exact.InInches(), 3.758, 0.001) || !near(b.Exact.InInches(), 3.74, 0.02) {
		t.Errorf("channel: %v in", b.Exact.InInches())
	}
	for _, l := range b.Lines {
		if !near(l.Setback.InInches(), 0.20, 1e-6) || !near(l.Allowance.InInches(), 0.27, 0.01) {
			t.Errorf("channel bend: setback %v, allowance %v", l.Setback.InInches(), l.Allowance.InInches())
		}
	}
}

func TestGirthModesAndRounding(t *testing.T) {
	// t 0.024, r 0.03, K 0.4, 90 degrees: allowance 0.0622, deduction 0.0458 in.
	s := metal.Section{
		Legs: []metal.Leg{{Length: in(3)}, {Length: in(4), Turn: -90}},
		End:  metal.Edge{Kick: in(0.5), KickTurn: 30, Hem: metal.ClosedHem, HemDepth: in(0.5), HemSide: metal.Right, Allowance: in(0.02)},
	}
	f := exact(0.03, 0.4)
	b := girth(t, s, steel(0.024), f)
	if !near(b.Lines[0].Allowance.InInches(), 0.0622, 0.00005) || !near(b.Lines[0].Deduction.InInches(), 0.0458, 0.00005) {
		t.Errorf("line %+v", b.Lines[0])
	}
	if b.Bends != 2 || b.Hemmed != 1 || b.Legs != in(7.5) || b.Hems != in(0.52) {
		t.Errorf("blank %+v", b)
	}
	if want := b.Legs + b.Hems - b.Lines[0].Deduction - b.Lines[1].Deduction; b.Exact != want || b.Girth != want {
		t.Errorf("exact %v, want %v", b.Exact, want)
	}
	f.Step = measure.Sixteenth
	if up := girth(t, s, steel(0.024), f); up.Girth != b.Exact.Up(measure.Sixteenth) || up.Girth < up.Exact {
		t.Errorf("rounded %v", up.Girth)
	}
	f.Mode = metal.SumOfLegs
	if sum := girth(t, s, steel(0.024), f); sum.Exact != in(8.02) || sum.Lines[0].Deduction != 0 {
		t.Errorf("sum of legs %v", sum.Exact.InInches())
	}
}

func TestSectionFaults(t *testing.T) {
	hem := func(depth float64) metal.Edge {
		return metal.Edge{Hem: metal.ClosedHem, HemDepth: in(depth), HemSide: metal.Left}
	}
	legs := func(pairs ...float64) []metal.Leg {
		var out []metal.Leg
		for i := 0; i < len(pairs); i += 2 {
			out = append(out, metal.Leg{Length: in(pairs[i]), Turn: pairs[i+1]})
		}
		return out
	}
	usual := metal.UsualFolding()
	narrow := usual
	narrow.Blank = 4 * measure.Inch
	for name, c := range map[string]struct {
		section metal.Section
		folding metal.Folding
		fields  string
		says    string
	}{
		"none":       {metal.Section{}, usual, "legs", "at least one leg"},
		"short":      {metal.Section{Legs: legs(2, 0, 0.25, 90, 2, 90)}, usual, "legs.1.length", "can't hold less than 3/8"},
		"no length":  {metal.Section{Legs: legs(2, 0, 0, 90)}, usual, "legs.1.length", "no length"},
		"no bend":    {metal.Section{Legs: legs(2, 0, 2, 0)}, usual, "legs.1.turn", "no bend"},
		"too sharp":  {metal.Section{Legs: legs(2, 0, 2, 175)}, usual, "legs.1.turn", "make it a hem"},
		"crossing":   {metal.Section{Legs: legs(4, 0, 1, 90, 4, 120, 4, 90)}, usual, "legs.2.length", "can't cross itself"},
		"closed box": {metal.Section{Legs: legs(2, 0, 2, 90, 2, 90, 2, 90)}, usual, "legs.3.length", "can't cross itself"},
		"wide":       {metal.Section{Legs: legs(3, 0, 3, 90)}, narrow, "legs", "wider than the 4 in blank"},
		"deep hem":   {metal.Section{Legs: legs(0.5, 0, 3, 90), Start: hem(0.75)}, usual, "start.hem_depth", "only 1/2\" to lie on"},
		"hem side":   {metal.Section{Legs: legs(2, 0), End: metal.Edge{Hem: metal.OpenHem, HemDepth: in(0.5)}}, usual, "end.hem_side", "to which side"},
		"kick":       {metal.Section{Legs: legs(2, 0), End: metal.Edge{Kick: in(0.5)}}, usual, "end.kick_turn", "no bend"},
		"start kick": {metal.Section{Legs: legs(2, 0), Start: metal.Edge{Kick: in(0.5), KickTurn: 160}}, usual, "start.kick_turn", "sharper"},
		"many":       {metal.Section{Legs: legs(0.1, 0, 2, 170, 0.1, 90)}, usual, "legs.0.length legs.1.turn legs.2.length", "leg 1"},
	} {
		err := metal.Check(c.section, steel(0.0239), c.folding)
		var fields []string
		for _, f := range fault.All(err) {
			fields = append(fields, f.Field)
		}
		if got := strings.Join(fields, " "); got != c.fields || !strings.Contains(strings.ToLower(err.Error()), strings.ToLower(c.says)) {
			t.Errorf("%s: %q: %v", name, got, err)
		}
	}
	err := metal.Check(metal.Section{Legs: legs(2, 0)}, metal.Sheet{}, metal.Folding{K: math.NaN(), Radius: -1, Step: -1, MaxTurn: 180})
	if n := len(fault.All(err)); n != 7 {
		t.Errorf("%d faults: %v", n, err)
	}
}

// sections draws sections that needn't be foldable.
func sections(t *rapid.T) metal.Section {
	edge := func(name string) metal.Edge {
		e := metal.Edge{}
		if rapid.Bool().Draw(t, name+" kick") {
			e.Kick, e.KickTurn = in(0.5), rapid.Float64Range(-140, 140).Draw(t, name+" turn")
		}
		if rapid.Bool().Draw(t, name+" hem") {
			e.Hem, e.HemDepth, e.HemSide = metal.ClosedHem, in(0.5), metal.Left
		}
		return e
	}
	s := metal.Section{Start: edge("start"), End: edge("end"), Painted: metal.Left}
	for range rapid.IntRange(1, 7).Draw(t, "legs") {
		s.Legs = append(s.Legs, metal.Leg{
			Length: measure.Length(rapid.IntRange(4, 160).Draw(t, "length")) * measure.Sixteenth,
			Turn:   rapid.Float64Range(-145, 145).Draw(t, "turn"),
		})
	}
	return s
}

func TestSectionLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, f := sections(t), metal.UsualFolding()
		sheet := steel(0.0239)
		b, err := metal.Girth(s, sheet, f)
		m, mirrorErr := metal.Girth(s.Mirror(), sheet, f)
		if (err == nil) != (mirrorErr == nil) {
			t.Fatalf("mirror changes the verdict: %v, %v", err, mirrorErr)
		}
		twice := s.Mirror().Mirror()
		if !near(twice.Legs[0].Turn, s.Legs[0].Turn, 1e-9) {
			t.Fatal("mirrored twice heads elsewhere")
		}
		if twice.Legs[0] = s.Legs[0]; !reflect.DeepEqual(twice, s) {
			t.Fatalf("mirrored twice gives %+v", twice)
		}
		o := s.Outline()
		for i := 1; i < len(o.Segments); i++ {
			a, z := o.Segments[i-1], o.Segments[i]
			if a.Kind != metal.HemSegment && z.Kind != metal.HemSegment && a.To != z.From {
				t.Fatalf("outline is broken at %d", i)
			}
		}
		if err != nil {
			return
		}
		if m.Girth != b.Girth {
			t.Fatalf("mirror's girth %v, not %v", m.Girth, b.Girth)
		}
		f.Mode = metal.SumOfLegs
		sum, err := metal.Girth(s, sheet, f)
		if err != nil || sum.Girth < b.Girth || b.Girth-b.Exact >= f.Step || b.Girth < b.Exact {
			t.Fatalf("girth %v, sum of legs %v, %v", b, sum, err)
		}
		longer := s
		longer.Legs = append([]metal.Leg{}, s.Legs...)
		longer.Legs[0].Length += measure.Inch
		f.Mode = metal.BendAllowance
		if l, err := metal.Girth(longer, sheet, f); err == nil && l.Exact != b.Exact+measure.Inch {
			t.Fatalf("an inch more leg gives %v more girth", l.Exact-b.Exact)
		}
		var back metal.Section
		text, err := json.Marshal(s)
		if err == nil {
			err = json.Unmarshal(text, &back)
		}
		if err != nil || !reflect.DeepEqual(back, s) {
			t.Fatalf("stored and read back: %+v, %v", back, err)
		}
	})
}

func TestOutlineOfDripEdge(t *testing.T) {
	shape, err := metal.ShapeOf("rake")
	if err != nil {
		t.Fatal(err)
	}
	s, err := shape.Section(metal.Values{})
	if err != nil {
		t.Fatal(err)
	}
	o := s.Outline()
	var kinds []string
	for _, g := range o.Segments {
		kinds = append(kinds, string(g.Kind))
	}
	if got := strings.Join(kinds, " "); got != "hem leg leg kick hem" || len(o.Corners) != 2 {
		t.Fatalf("%s, %d corners", got, len(o.Corners))
	}
	top, face, kick := o.Segments[1], o.Segments[2], o.Segments[3]
	if !near(top.To.X, 3, 1e-9) || !near(face.To.Y, -4, 1e-9) || kick.To.X <= face.To.X {
		t.Errorf("top ends %v, face ends %v, kick ends %v", top.To, face.To, kick.To)
	}
	if hem := o.Segments[0]; hem.To.Y >= 0 || o.Segments[4].From.X >= kick.To.X+1e-9 && o.Segments[4].From.Y >= kick.To.Y {
		t.Errorf("hems lie on the outside: %+v", o.Segments)
	}
	if s.Summary().String() != "2 legs, 2 bends, 2 hems" {
		t.Error(s.Summary())
	}
	if points := o.Points(); len(points) != 8 || points[2] != top.From {
		t.Errorf("polyline %v", points)
	}
	if empty := (metal.Section{}).Outline(); len(empty.Segments) != 0 {
		t.Error("nothing has strokes")
	}
}

func TestKicksTurnOutAtBothEnds(t *testing.T) {
	shape, _ := metal.ShapeOf("coping")
	s, err := shape.Section(metal.Values{})
	if err != nil {
		t.Fatal(err)
	}
	// Seen from the end, both kicks of a coping point down and away from the wall.
	o := s.Outline()
	var legs, kicks []metal.Segment
	for _, g := range o.Segments {
		switch g.Kind {
		case metal.LegSegment:
			legs = append(legs, g)
		case metal.KickSegment:
			kicks = append(kicks, g)
		}
	}
	back, front := legs[0], legs[2]
	left, right := kicks[0].From, kicks[1].To
	if left.X >= back.From.X || left.Y >= back.From.Y || right.X <= front.To.X || right.Y >= front.To.Y {
		t.Errorf("kicks end at %v and %v, faces at %v and %v", left, right, back.From, front.To)
	}
}

func TestShapesFoldWithTheirDefaults(t *testing.T) {
	codes := map[string]bool{}
	for _, shape := range metal.Shapes() {
		if codes[shape.Code] || shape.Name == "" || shape.Use == "" {
			t.Errorf("%s is doubled or nameless", shape.Code)
		}
		codes[shape.Code] = true
		s, err := shape.Section(metal.Values{})
		if err != nil {
			t.Errorf("%s: %v", shape.Code, err)
			continue
		}
		b, err := metal.Girth(s, steel(0.0239), metal.UsualFolding())
		if err != nil || b.Girth <= 0 {
			t.Errorf("%s: %v", shape.Code, err)
		}
	}
	if len(codes) < 15 {
		t.Errorf("only %d shapes", len(codes))
	}
}

func TestShapeGeometry(t *testing.T) {
	turnOf := func(code string, numbers map[string]float64) float64 {
		shape, err := metal.ShapeOf(code)
		if err != nil {
			t.Fatal(err)
		}
		s, err := shape.Section(metal.Values{Numbers: numbers})
		if err != nil {
			t.Fatal(err)
		}
		return s.Legs[1].Turn
	}
	// 12 in 12 is 45 degrees: a ridge turns 90, and the square hip of two 45
	// degree roofs folds through 60 degrees (cos = cos2 45).
	for _, c := range []struct {
		code string
		want float64
	}{{"ridge-cap", -90}, {"hip-cap", -60}, {"valley-v", 60}, {"drip-edge", -45}, {"endwall", 45}} {
		if got := turnOf(c.code, map[string]float64{"pitch": 12}); !near(got, c.want, 1e-9) {
			t.Errorf("%s at 12 in 12 turns %v, want %v", c.code, got, c.want)
		}
	}
	ridge, _ := metal.ShapeOf("ridge-cap")
	_, err := ridge.Section(metal.Values{
		Lengths: map[string]measure.Length{"wing": 0, "nose": in(1)},
		Numbers: map[string]float64{"pitch": math.NaN()},
	})
	var fields []string
	for _, f := range fault.All(err) {
		fields = append(fields, f.Field)
	}
	if got := strings.Join(fields, " "); got != "wing pitch nose" {
		t.Errorf("got %q", got)
	}
	if _, err := metal.ShapeOf("nothing"); !fault.Is(err, fault.Invalid) {
		t.Error("unknown shape passes")
	}
}

func TestProfiles(t *testing.T) {
	for _, p := range metal.Profiles() {
		line, err := p.Outline(metal.Values{})
		if err != nil {
			t.Errorf("%s: %v", p.Code, err)
			continue
		}
		if len(line.Points) < 4 || line.Stretch < in(line.Max.X-line.Min.X) && !line.Closed {
			t.Errorf("%s: %d points, stretch %v", p.Code, len(line.Points), line.Stretch)
		}
	}
	// The stretch of a round pipe is near its circumference, of a box exact.
	round, _ := metal.ProfileOf("downspout-round")
	if line, _ := round.Outline(metal.Values{}); !near(line.Stretch.InInches(), 4*math.Pi, 0.02) {
		t.Errorf("round: %v", line.Stretch.InInches())
	}
	rect, _ := metal.ProfileOf("downspout-rect")
	if line, _ := rect.Outline(metal.Values{}); line.Stretch != 14*measure.Inch || !line.Closed {
		t.Errorf("rectangle: %v", line.Stretch.InInches())
	}
	five, _ := metal.ProfileOf("five-rib")
	if line, _ := five.Outline(metal.Values{}); !near(line.Max.X-line.Min.X, 38, 1e-9) || !near(line.Max.Y, 0.75, 1e-9) {
		t.Errorf("five-rib: %+v", line.Max)
	}
	if _, err := five.Outline(metal.Values{Numbers: map[string]float64{"ribs": 12, "minor_ribs": 4}}); !fault.Is(err, fault.Invalid) {
		t.Error("ribs on top of each other pass")
	}
	if _, err := five.Outline(metal.Values{Numbers: map[string]float64{"ribs": 4.5}}); !fault.Is(err, fault.Invalid) {
		t.Error("half a rib passes")
	}
	if _, err := metal.ProfileOf("nothing"); !fault.Is(err, fault.Invalid) {
		t.Error("unknown profile passes")
	}
}

func TestShapesAndProfilesNeverPanic(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		draw := func(params []metal.Param) metal.Values {
			v := metal.Values{Lengths: map[string]measure.Length{}, Numbers: map[string]float64{}}
			for _, p := range params {
				n := rapid.Float64Range(p.Least, p.Most).Draw(t, p.Name)
				switch p.Kind {
				case metal.LengthParam:
					v.Lengths[p.Name] = in(n)
				case metal.CountParam:
					v.Numbers[p.Name] = math.Trunc(n)
				default:
					v.Numbers[p.Name] = n
				}
			}
			return v
		}
		shape := rapid.SampledFrom(metal.Shapes()).Draw(t, "shape")
		if s, err := shape.Section(draw(shape.Params)); err == nil {
			s.Outline()
			if _, err := metal.Girth(s, steel(0.0239), metal.UsualFolding()); err != nil && fault.KindOf(err) != fault.Invalid {
				t.Fatal(err)
			}
		}
		profile := rapid.SampledFrom(metal.Profiles()).Draw(t, "profile")
		line, err := profile.Outline(draw(profile.Params))
		if err == nil && (math.IsNaN(line.Max.X) || len(line.Points) == 0) {
			t.Fatalf("%s: %+v", profile.Code, line)
		}
	})
}

func BenchmarkGirth(b *testing.B) {
	shape, _ := metal.ShapeOf("coping")
	s, _ := shape.Section(metal.Values{})
	sheet, f := steel(0.0239), metal.UsualFolding()
	for b.Loop() {
		if _, err := metal.Girth(s, sheet, f); err != nil {
			b.Fatal(err)
		}
	}
}
