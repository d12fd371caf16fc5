package metal_test

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/metal"
)

// row is one line of a published table by column name. Every file has status
// and source columns: read in the source, from memory, or computed.
type row map[string]string

func table(t *testing.T, name string) []row {
	t.Helper()
	f, err := os.Open("testdata/" + name + ".csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []row
	for _, l := range lines[1:] {
		r := row{}
		for i, h := range lines[0] {
			r[h] = l[i]
		}
		out = append(out, r)
	}
	if len(out) == 0 {
		t.Fatalf("%s is empty", name)
	}
	return out
}

func (r row) num(t *testing.T, column string) float64 {
	t.Helper()
	n, err := strconv.ParseFloat(r[column], 64)
	if err != nil {
		t.Fatalf("%v: column %s: %v", r, column, err)
	}
	return n
}

func (r row) inches(t *testing.T, column string) measure.Length {
	t.Helper()
	return measure.FromInches(r.num(t, column))
}

// near reports whether got is want within the tolerance.
func near(got, want, tolerance float64) bool { return math.Abs(got-want) <= tolerance+1e-12 }

// printed gives half a unit of the last digit that a column prints.
func printed(r row, column string) float64 {
	_, frac, _ := strings.Cut(r[column], ".")
	return 0.5 * math.Pow(10, -float64(len(frac)))
}

func gauge(t *testing.T, s metal.System, label string) metal.GaugeInfo {
	t.Helper()
	g, err := metal.Gauge(s, label)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

func TestUSStandardGauge(t *testing.T) {
	for _, r := range table(t, "gauge_us_standard") { // 15 U.S.C. 206
		g := gauge(t, metal.USStandard, r["gauge"])
		if want := r.inches(t, "thickness_in"); (g.Thickness - want).Abs() > 1 {
			t.Errorf("%s ga: %d nm, want %d", r["gauge"], g.Thickness, want)
		}
		if g.TableLb != r.num(t, "weight_lb_per_ft2") {
			t.Errorf("%s ga: %v lb", r["gauge"], g.TableLb)
		}
	}
}

func TestManufacturersGauge(t *testing.T) {
	for _, r := range table(t, "gauge_manufacturers_standard") {
		g := gauge(t, metal.ManufacturersStandard, r["gauge"]+" ga")
		if g.Thickness != r.inches(t, "thickness_in") || g.TableLb != r.num(t, "weight_lb_per_ft2") {
			t.Errorf("%s ga: %+v", r["gauge"], g)
		}
		var lo, hi measure.Length
		if r["cold_rolled_min_in"] != "" {
			lo, hi = r.inches(t, "cold_rolled_min_in"), r.inches(t, "cold_rolled_max_in")
		}
		if g.Min != lo || g.Max != hi {
			t.Errorf("%s ga: %v to %v", r["gauge"], g.Min.InInches(), g.Max.InInches())
		}
		// The table's own law: oz / 16 / 41.82 lb/ft2 per inch, printed to 0.0001.
		if law := g.TableLb / metal.GaugePerInch; !near(law, g.Thickness.InInches(), 0.00011) {
			t.Errorf("%s ga: weight gives %.5f in", r["gauge"], law)
		}
	}
}

func TestGalvanizedGauge(t *testing.T) {
	for _, r := range table(t, "gauge_galvanized") { // SMACNA, after ASTM A924 and A653
		g := gauge(t, metal.GalvanizedGauge, r["gauge"])
		if g.Thickness != r.inches(t, "thickness_nominal_in") || g.Min != r.inches(t, "thickness_min_in") || g.Max != r.inches(t, "thickness_max_in") {
			t.Errorf("%s ga: %+v", r["gauge"], g)
		}
		if !near(g.TableLb, r.num(t, "weight_nominal_lb_per_ft2"), 0.00051) || g.TableLb*16 != r.num(t, "weight_oz_per_ft2") {
			t.Errorf("%s ga: %v lb", r["gauge"], g.TableLb)
		}
		floor := gauge(t, metal.GalvanizedFloor, r["gauge"])
		if floor.Thickness != r.inches(t, "thickness_min_in") || floor.TableLb != r.num(t, "weight_min_lb_per_ft2") {
			t.Errorf("%s ga floor: %+v", r["gauge"], floor)
		}
	}
}

func TestSameNumberInEachSystem(t *testing.T) {
	columns := map[string]metal.System{"us_standard_in": metal.USStandard, "manufacturers_standard_in": metal.ManufacturersStandard,
		"galvanized_in": metal.GalvanizedGauge, "brown_and_sharpe_in": metal.BrownSharpe} // last: ASTM B258 formula
	for _, r := range table(t, "gauge_same_number_compared") {
		for column, system := range columns {
			if g := gauge(t, system, r["gauge"]); !near(g.Thickness.InInches(), r.num(t, column), 0.00006) {
				t.Errorf("%s ga %s: %v", r["gauge"], system, g.Thickness.InInches())
			}
		}
	}
}

func TestCopperSheet(t *testing.T) {
	for _, r := range table(t, "copper_sheet") { // CDA Table 1.1.3, ASTM B370
		g := gauge(t, metal.CopperOunce, r["ounces_per_ft2"]+" oz")
		if g.Thickness != r.inches(t, "thickness_nominal_in") || g.Min != r.inches(t, "thickness_min_in") || g.TableLb != r.num(t, "weight_lb_per_ft2") {
			t.Errorf("%s oz: %+v", r["ounces_per_ft2"], g)
		}
		s := metal.Sheet{Family: metal.Copper, Thickness: g.Thickness}
		if !near(s.PoundsPerSquareFoot(), g.TableLb, 0.0001*0.322*144) {
			t.Errorf("%s oz weighs %v", r["ounces_per_ft2"], s.PoundsPerSquareFoot())
		}
	}
}

func TestAluminiumSheet(t *testing.T) {
	for _, r := range table(t, "aluminum_sheet") {
		g := gauge(t, metal.DecimalInch, r["thickness_in"])
		s := metal.Sheet{Family: metal.Aluminium, Alloy: r["alloy"], Thickness: g.Thickness}
		if !near(s.PoundsPerSquareFoot(), r.num(t, "weight_lb_per_ft2_from_kg_per_m3"), 0.0001) {
			t.Errorf("%s in %s: %v lb", r["thickness_in"], r["alloy"], s.PoundsPerSquareFoot())
		}
	}
}

func TestZincSheet(t *testing.T) {
	for _, r := range table(t, "zinc_sheet") { // EN 988
		g := gauge(t, metal.ZincMillimetre, r["thickness_mm"])
		s := metal.Sheet{Family: metal.Zinc, Thickness: g.Thickness}
		if !near(s.PoundsPerSquareFoot(), r.num(t, "weight_lb_per_ft2"), 0.0001) || !near(g.Thickness.InInches(), r.num(t, "thickness_in"), 0.00005) {
			t.Errorf("%s mm: %v lb", r["thickness_mm"], s.PoundsPerSquareFoot())
		}
	}
}

func TestDensities(t *testing.T) {
	want := map[string]float64{
		"carbon steel":              metal.BareSteel.Density(),
		"copper":                    metal.Copper.Density(),
		"zinc, titanium-zinc sheet": metal.Zinc.Density(),
	}
	for _, a := range metal.AluminiumAlloys() {
		want["aluminum "+a] = metal.Sheet{Family: metal.Aluminium, Alloy: a}.Density()
	}
	perInch3 := map[string]float64{"lb/in3": 1, "kg/m3": 1 / 27679.90, "g/cm3": 1 / 27.67990, "lb/ft3": 1. / 1728, "lb/ft2 per in thickness": 1. / 144}
	checked := 0
	for _, r := range table(t, "densities") {
		density, ok := want[r["material"]]
		factor, known := perInch3[r["unit"]]
		if !ok || !known {
			continue // ranges, coatings and bases of tables
		}
		checked++
		// The sources differ among themselves by up to 0.8 %.
		if published := r.num(t, "value") * factor; math.Abs(density/published-1) > 0.008 {
			t.Errorf("%s: %v lb/in3, published %v (%s)", r["material"], density, published, r["source"])
		}
	}
	if checked < 17 {
		t.Fatalf("only %d rows checked", checked)
	}
}

func TestCoatingDesignations(t *testing.T) {
	for _, r := range table(t, "coating_designations") { // ASTM A653 Table 1, A792 Table 1
		c, err := metal.CoatingOf(r["designation"])
		if err != nil {
			t.Error(err)
			continue
		}
		got, one, spot := c.OzPerFt2, c.OneSide, c.SingleSpot
		if r["unit"] == "g/m2" {
			got, one, spot = c.GramsPerM2(), one*metal.GramsPerOunce, spot*metal.GramsPerOunce
		}
		if !near(got, r.num(t, "triple_spot_total_both_sides"), 1e-9) || !near(spot, r.num(t, "single_spot_total_both_sides"), 1e-9) || c.Metal != r["coating"] {
			t.Errorf("%s: %+v", r["designation"], c)
		}
		if r["triple_spot_one_side"] != "" && !near(one, r.num(t, "triple_spot_one_side"), 1e-9) {
			t.Errorf("%s one side: %v", r["designation"], one)
		}
		// A653 footnote A: one side may carry as little as 40 % of the single spot.
		if one > 0 && (one < 0.38*spot || one > 0.42*spot) {
			t.Errorf("%s: one side %v of spot %v", r["designation"], one, spot)
		}
	}
}

func TestCoatingThickness(t *testing.T) {
	zinc, alZn := metal.Coating{Metal: "zinc", OzPerFt2: 1}, metal.Coating{Metal: "55 % Al-Zn", OzPerFt2: 1}
	g90, _ := metal.CoatingOf("G90")
	side := metal.Coating{Metal: "zinc", OzPerFt2: 0.20}
	least := metal.Coating{Metal: "zinc", OzPerFt2: 0.12}
	um := func(c metal.Coating) float64 { return c.Thickness().InMetres() * 1e6 }
	mil := func(c metal.Coating) float64 { return c.Thickness().InInches() * 1000 }
	got := []struct{ value, tolerance float64 }{
		{zinc.GramsPerM2(), 0.5},
		{mil(g90), 0.1}, // published 1.6, its density gives 1.51
		{mil(side) / 1000, 0.000005},
		{um(side), 0.1}, // 8.54 against a published 8.6
		{um(least), 0.2},
		{mil(zinc), 0.005},
		{um(metal.Coating{Metal: "zinc", OzPerFt2: 7.14 / metal.GramsPerOunce}), 0.005},
		{mil(alZn), 0.005},
		{um(metal.Coating{Metal: "55 % Al-Zn", OzPerFt2: 3.75 / metal.GramsPerOunce}), 0.005},
	}
	rows := table(t, "coating_thickness_examples")
	if len(rows) != len(got) {
		t.Fatalf("%d rows", len(rows))
	}
	for i, r := range rows {
		if !near(got[i].value, r.num(t, "value"), got[i].tolerance) {
			t.Errorf("%s %s: %v, published %s", r["case"], r["input"], got[i].value, r["value"])
		}
	}
}

func TestCoils(t *testing.T) {
	for _, r := range table(t, "coil_examples") {
		c := metal.Coil{OD: r.inches(t, "od_in"), ID: r.inches(t, "id_in")}
		thick := r.inches(t, "thickness_in")
		strip := c.Strip(thick)
		if !near(strip.InInches(), r.num(t, "length"), 0.01) {
			t.Errorf("%s: %v in", r["case"], strip.InInches())
		}
		if (metal.OutsideFor(strip, c.ID, thick) - c.OD).Abs() > 10 {
			t.Errorf("%s: winding back gives %v", r["case"], metal.OutsideFor(strip, c.ID, thick))
		}
		// The turns times the mean circumference are the strip.
		if mean := math.Pi * (c.OD + c.ID).InInches() / 2; !near(c.Turns(thick)*mean, strip.InInches(), 0.001) {
			t.Errorf("%s: %v turns", r["case"], c.Turns(thick))
		}
		if r["weight_lb"] == "" {
			continue
		}
		c.Width = r.inches(t, "width_in")
		lb := c.Pounds(r.num(t, "density_lb_per_in3"))
		if !near(lb, r.num(t, "weight_lb"), 0.006) {
			t.Errorf("%s: %v lb", r["case"], lb)
		}
		perFoot := thick.InInches() * c.Width.InInches() * 12 * r.num(t, "density_lb_per_in3")
		back, err := metal.StripFromWeight(lb, perFoot)
		if err != nil || !near(back.InInches(), strip.InInches(), 0.001) {
			t.Errorf("%s: weight gives %v back, %v", r["case"], back, err)
		}
	}
}

func TestThermalMovement(t *testing.T) {
	units := map[string]measure.Length{"ft": measure.Foot, "in": measure.Inch, "m": measure.Metre}
	for _, r := range table(t, "thermal_expansion_examples") {
		if strings.Contains(r["source"], "MISPRINT") {
			continue
		}
		from := measure.Length(math.Round(r.num(t, "length") * float64(units[r["length_unit"]])))
		got := metal.Movement(from, r.num(t, "delta_t"), r.num(t, "coefficient"))
		value := got.InInches()
		if r["expansion_unit"] == "mm" {
			value = got.InMetres() * 1000
		}
		if !near(value, r.num(t, "expansion"), printed(r, "expansion")) {
			t.Errorf("%s: %v, published %s", r["case"], value, r["expansion"])
		}
	}
}

func TestExpansionCoefficients(t *testing.T) {
	families := map[string]metal.Family{"steel": metal.BareSteel, "aluminum": metal.Aluminium, "copper": metal.Copper, "zinc, titanium-zinc along rolling": metal.Zinc}
	for _, r := range table(t, "thermal_expansion_coefficients") {
		f, ok := families[r["material"]]
		if !ok {
			continue // a doubtful data sheet and a pure alloy
		}
		published := r.num(t, "coefficient")
		if strings.HasPrefix(r["unit"], "per C") {
			published /= 1.8
		}
		// Copper's published figures differ by 5 % with the temperature range.
		if math.Abs(f.Expansion()/published-1) > 0.055 {
			t.Errorf("%s: %v, published %v", f, f.Expansion(), published)
		}
	}
}

func TestBendRulesAndKFactors(t *testing.T) {
	materials := map[string]metal.Family{"aluminum": metal.Aluminium, "cold-rolled steel": metal.BareSteel, "stainless steel": metal.Stainless}
	for _, r := range table(t, "bend_k_factors") { // Machinery's Handbook, 26th ed., as reprinted
		k := metal.KFactor(materials[r["material"]], r.inches(t, "thickness_in"), r.inches(t, "inside_radius_in"))
		if !near(k, r.num(t, "k_factor"), 1e-9) {
			t.Errorf("%s %s r %s: K %v", r["material"], r["thickness_in"], r["inside_radius_in"], k)
		}
	}
	for _, r := range table(t, "bend_rules") {
		if r["unit"] == "implied K" && strings.Contains(r["rule"], "soft copper") && metal.KFactor(metal.Copper, measure.Mil*20, measure.Mil*30) != r.num(t, "value") {
			t.Errorf("%s", r["rule"])
		}
	}
}

func TestBends(t *testing.T) {
	for _, r := range table(t, "bend_examples") {
		if r["k_factor"] == "" {
			continue // the handbook channel, tested whole below
		}
		b := metal.Bend{Degrees: r.num(t, "bend_angle_deg"), Radius: r.inches(t, "inside_radius_in"), Metal: r.inches(t, "thickness_in"), K: r.num(t, "k_factor")}
		if !near(b.Allowance().InInches(), r.num(t, "bend_allowance_in"), 0.00011) {
			t.Errorf("%s: allowance %v", r["case"], b.Allowance().InInches())
		}
		if r["bend_deduction_in"] != "" && !near(b.Deduction().InInches(), r.num(t, "bend_deduction_in"), 0.00011) {
			t.Errorf("%s: deduction %v", r["case"], b.Deduction().InInches())
		}
	}
}

func TestSheetWeight(t *testing.T) {
	// 0.0276 in with G90 = (0.0276 - 0.0015) x 40.8 + 0.056 = 1.121 lb/ft2,
	// against 1.156 in the galvanized gauge table; computed from ASTM relations.
	s := metal.Sheet{Family: metal.Galvanized, Thickness: measure.FromInches(0.0276), Coating: "G90"}
	if w := s.PoundsPerSquareFoot(); !near(w, 1.121, 0.0006) {
		t.Errorf("G90: %v lb/ft2", w)
	}
	base := s
	base.Thickness, base.Basis = s.Base(), metal.BaseOnly
	if !near(base.PoundsPerSquareFoot(), s.PoundsPerSquareFoot(), 1e-9) || base.Metal() != s.Thickness {
		t.Errorf("base metal figures differ: %v, %v", base.PoundsPerSquareFoot(), s.PoundsPerSquareFoot())
	}
	if w := s.PoundsPerFoot(20 * measure.Inch); !near(w, s.PoundsPerSquareFoot()*20/12, 1e-9) {
		t.Errorf("strip: %v lb/ft", w)
	}
	painted := s
	painted.PaintMil = 2
	if d := painted.PoundsPerSquareFoot() - s.PoundsPerSquareFoot(); d < 0.01 || d > 0.02 {
		t.Errorf("2 mil of paint weigh %v lb/ft2", d)
	}
	if err := s.Check(); err != nil {
		t.Error(err)
	}
}

func TestSheetFaults(t *testing.T) {
	s := metal.Sheet{Family: metal.Copper, Alloy: "3003", Thickness: measure.Inch, Coating: "G90", PaintMil: -1, Basis: "x"}
	var fields []string
	for _, f := range fault.All(s.Check()) {
		fields = append(fields, f.Field)
	}
	if got := strings.Join(fields, " "); got != "thickness alloy basis coating paint_mil" {
		t.Errorf("got %q", got)
	}
}

func TestGaugeFaults(t *testing.T) {
	for _, c := range []struct {
		system metal.System
		label  string
	}{
		{metal.USStandard, ""}, {metal.USStandard, "15"}, {metal.USStandard, "31 ga"}, {metal.USStandard, "24 oz"},
		{metal.CopperOunce, "17 oz"}, {metal.DecimalInch, "1 in"}, {metal.DecimalInch, "abc"}, {"nothing", "24"},
	} {
		if _, err := metal.Gauge(c.system, c.label); !fault.Is(err, fault.Invalid) || fault.All(err)[0].Field != "gauge" {
			t.Errorf("%s %q: %v", c.system, c.label, err)
		}
	}
}

func TestEveryLabelReads(t *testing.T) {
	for _, f := range metal.Families() {
		if f.Name() == "" || f.Density() <= 0 || f.Expansion() <= 0 {
			t.Errorf("%s lacks data", f)
		}
		for _, s := range f.Systems() {
			labels := metal.Labels(s)
			if len(labels) == 0 || s.Name() == "" {
				t.Errorf("%s has no labels", s)
			}
			for _, l := range labels {
				if g := gauge(t, s, l); g.Label != l || g.Thickness <= 0 {
					t.Errorf("%s %q reads as %+v", s, l, g)
				}
			}
		}
		for _, c := range f.Coatings() {
			sheet := metal.Sheet{Family: f, Thickness: measure.FromInches(0.024), Coating: c.Designation}
			if err := sheet.Check(); err != nil {
				t.Error(err)
			}
		}
	}
	if n := len(metal.Copper.Coatings()); n != 0 {
		t.Errorf("copper has %d coatings", n)
	}
}

func TestPanelsFor(t *testing.T) {
	for _, c := range []struct {
		width, coverage string
		n               int
		over            string
	}{{"40'", `16"`, 30, `0"`}, {`40' 1"`, `16"`, 31, `1' 3"`}, {`1"`, `36"`, 1, `2' 11"`}} {
		n, over, err := metal.PanelsFor(read(t, c.width), read(t, c.coverage))
		if err != nil || n != c.n || over.FeetInches(16) != c.over {
			t.Errorf("%s by %s: %d, %s, %v", c.width, c.coverage, n, over, err)
		}
	}
	if _, _, err := metal.PanelsFor(0, 0); len(fault.All(err)) != 2 {
		t.Errorf("got %v", err)
	}
}

func read(t *testing.T, s string) measure.Length {
	t.Helper()
	r, err := measure.Read(s, measure.NoUnit)
	if err != nil {
		t.Fatal(err)
	}
	return r.Length
}

func TestCoilFaults(t *testing.T) {
	if n := len(fault.All(metal.Coil{}.Check())); n != 3 {
		t.Errorf("%d faults of the empty coil", n)
	}
	for _, c := range [][2]float64{{0, 1}, {1, 0}, {math.NaN(), 1}, {1, math.Inf(1)}, {1e12, 1e-9}} {
		if _, err := metal.StripFromWeight(c[0], c[1]); !fault.Is(err, fault.Invalid) {
			t.Errorf("%v: %v", c, err)
		}
	}
}

func FuzzGauge(f *testing.F) {
	for _, s := range metal.Systems() {
		f.Add(string(s), "24 ga")
	}
	f.Add("copper-oz", "16 oz")
	f.Add("inch", ".032")
	f.Fuzz(func(t *testing.T, system, label string) {
		g, err := metal.Gauge(metal.System(system), label)
		if err != nil {
			if !fault.Is(err, fault.Invalid) {
				t.Fatalf("%q %q: %v is no fault", system, label, err)
			}
			return
		}
		if g.Thickness <= 0 || g.Thickness > measure.Inch {
			t.Fatalf("%q %q gives %v", system, label, g.Thickness)
		}
	})
}

func FuzzCoatingOf(f *testing.F) {
	f.Add("G90")
	f.Add("az-55")
	f.Fuzz(func(t *testing.T, s string) {
		if c, err := metal.CoatingOf(s); err == nil && c.Thickness() <= 0 {
			t.Fatalf("%q gives %+v", s, c)
		}
	})
}
