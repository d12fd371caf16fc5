package measure_test

import (
	"encoding/csv"
	"os"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
)

func TestRead(t *testing.T) {
	const half = measure.Inch / 2
	l1506 := 12*measure.Foot + 6*measure.Inch + half
	cases := []struct {
		typed string
		bare  measure.Unit
		want  measure.Length
	}{
		{`12' 6-1/2"`, measure.NoUnit, l1506},
		{`12-6 1/2`, measure.NoUnit, l1506},
		{`12 ft 6.5 in`, measure.NoUnit, l1506},
		{`150.5 in`, measure.NoUnit, l1506},
		{`12'6½`, measure.NoUnit, l1506},
		{`12′6½″`, measure.NoUnit, l1506},
		{`12’ 6 ½”`, measure.NoUnit, l1506},
		{`12' 6 1/2''`, measure.NoUnit, l1506},
		{`150 1/2"`, measure.NoUnit, l1506},
		{`150-1/2"`, measure.NoUnit, l1506},
		{`12FT. 6-1/2IN.`, measure.NoUnit, l1506},
		{`12-6-1/2`, measure.NoUnit, l1506},
		{`12' - 6 1/2"`, measure.NoUnit, l1506},
		{`12'`, measure.NoUnit, 12 * measure.Foot},
		{`12ft`, measure.NoUnit, 12 * measure.Foot},
		{`12.54 ft`, measure.NoUnit, 3_822_192_000},
		{`3.82 m`, measure.NoUnit, 3_820_000_000},
		{`382 cm`, measure.NoUnit, 3_820_000_000},
		{`3820 mm`, measure.NoUnit, 3_820_000_000},
		{`3820`, measure.Millimetres, 3_820_000_000},
		{`3.82`, measure.Metres, 3_820_000_000},
		{`150 1/2`, measure.Inches, l1506},
		{`12 1/2`, measure.Feet, 12*measure.Foot + 6*measure.Inch},
		{`1/2"`, measure.NoUnit, half},
		{`.5"`, measure.NoUnit, half},
		{`0-6`, measure.NoUnit, 6 * measure.Inch},
		{`12' ¹⁄₁₆"`, measure.NoUnit, 12*measure.Foot + measure.Sixteenth},
		{`12′ 6¹⁄₁₆″`, measure.NoUnit, 12*measure.Foot + 6*measure.Inch + measure.Sixteenth},
		{`12' 14"`, measure.NoUnit, 13*measure.Foot + 2*measure.Inch},
	}
	for _, c := range cases {
		r, err := measure.Read(c.typed, c.bare)
		if err != nil || r.Length != c.want {
			t.Errorf("%q (%s): got %s (%d), %v; want %s", c.typed, c.bare, r.Length, r.Length, err, c.want)
		}
	}
	if r, _ := measure.Read(`12' 14"`, measure.NoUnit); r.Note.Format == "" {
		t.Error("12 in or more after feet isn't noted")
	}
}

func TestReadRefuses(t *testing.T) {
	for _, c := range []struct {
		typed string
		bare  measure.Unit
	}{
		{"", measure.Feet}, {"12 6", measure.Feet}, {"3,82", measure.Metres}, {"3,820", measure.Millimetres},
		{"3820", measure.NoUnit}, {"12' 3/2\"", measure.Feet}, {"12' 1/3\"", measure.Feet}, {"12' 0/2\"", measure.Feet},
		{"1/128", measure.Inches}, {"-12'", measure.Feet}, {"0", measure.Feet}, {"0'", measure.Feet}, {"12' 6mm", measure.Feet},
		{"12.5' 6\"", measure.Feet}, {"12'-", measure.Feet}, {"12-", measure.Feet}, {"abc", measure.Feet}, {"12 yards", measure.Feet},
		{"1.5 1/2\"", measure.Feet}, {"3 1/2 m", measure.Feet}, {"99999999999'", measure.Feet}, {"1.1234567'", measure.Feet},
		{"12' 6\" 3", measure.Feet}, {"99999999 ft", measure.Feet}, {strings.Repeat("1", 300), measure.Feet}, {"12 6 1/2", measure.Feet},
	} {
		r, err := measure.Read(c.typed, c.bare)
		if !fault.Is(err, fault.Invalid) {
			t.Errorf("%q: got %s, %v", c.typed, r.Length, err)
		}
		if err != nil && fault.All(err)[0].Field != "length" {
			t.Errorf("%q: field %q", c.typed, fault.All(err)[0].Field)
		}
	}
}

// TestFeetInchTable checks the table of feet-inch-fraction equivalents: computed
// from 1 ft = 12 in and 1 in = 25.4 mm, exact (NIST Handbook 44, Appendix C).
func TestFeetInchTable(t *testing.T) {
	f, err := os.Open("testdata/feet_inch_cases.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil || len(rows) < 11 {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	for _, row := range rows[1:] {
		want, err := measure.Read(row[0], measure.NoUnit)
		if err != nil {
			t.Errorf("%s: %v", row[0], err)
			continue
		}
		for i, u := range map[int]measure.Unit{1: measure.Inches, 3: measure.Millimetres} {
			if got, err := measure.Read(row[i], u); err != nil || got.Length != want.Length {
				t.Errorf("%s: %s %s is %s, %v", row[0], row[i], u, got.Length, err)
			}
		}
		ft, err := measure.Read(row[2], measure.Feet)
		if d := (ft.Length - want.Length).Abs(); err != nil || d > measure.Foot/2_000_000+1 {
			t.Errorf("%s: %s ft is off by %d nm, %v", row[0], row[2], d, err)
		}
	}
}

func TestFormat(t *testing.T) {
	l := 12*measure.Foot + 6*measure.Inch + measure.Inch/2
	for got, want := range map[string]string{
		l.Format(measure.StyleFeetInches):          `12' 6-1/2"`,
		l.Format(measure.StyleInches):              "150.5 in",
		l.Format(measure.StyleFeet):                "12.54 ft",
		l.Format(measure.StyleMetric):              "3822.7 mm",
		l.Pretty():                                 "12′ 6½″",
		l.Inches():                                 "150.500",
		l.Feet():                                   "12.54",
		l.Metric(measure.Metre):                    "3.8227 m",
		measure.Length(0).String():                 `0"`,
		(10 * measure.Foot).String():               "10'",
		measure.Sixteenth.String():                 `1/16"`,
		(-measure.Foot).String():                   "-1'",
		(measure.Foot + measure.Inch/4*3).String(): `1' 0-3/4"`,
		(11*measure.Foot + 11*measure.Inch + 63*measure.SixtyFourth).FeetInches(16): "12'",
		(measure.Foot + measure.Sixteenth).Pretty():                                 "1′ 0¹⁄₁₆″",
	} {
		if got != want {
			t.Errorf("got %s, want %s", got, want)
		}
	}
}

func TestRounding(t *testing.T) {
	l := measure.Inch + 1
	if l.Up(measure.Inch) != 2*measure.Inch || l.Down(measure.Inch) != measure.Inch || l.Near(measure.Inch) != measure.Inch {
		t.Fatal("steps")
	}
	if (-l).Down(measure.Inch) != -2*measure.Inch || (-l).Up(measure.Inch) != -measure.Inch || (-l).Near(measure.Inch) != -measure.Inch {
		t.Fatal("negative steps")
	}
}

// What is written reads back, in every style that shows the whole value.
func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := measure.Length(rapid.IntRange(1, 64*12*5000).Draw(t, "64ths"))
		l := n * measure.SixtyFourth
		for _, s := range []string{l.String(), l.FeetInches(64)} {
			if r, err := measure.Read(s, measure.NoUnit); err != nil || r.Length != l {
				t.Fatalf("%s reads back as %s, %v", s, r.Length, err)
			}
		}
		l = n * measure.Sixteenth
		if r, err := measure.Read(l.Pretty(), measure.NoUnit); err != nil || r.Length != l {
			t.Fatalf("%s reads back as %s, %v", l.Pretty(), r.Length, err)
		}
		l = n * measure.Tenth
		for _, s := range []string{l.Metric(measure.Millimetre), l.Metric(measure.Metre)} {
			if r, err := measure.Read(s, measure.NoUnit); err != nil || r.Length != l {
				t.Fatalf("%s reads back as %s, %v", s, r.Length, err)
			}
		}
		l = measure.Length(rapid.Int64Range(-int64(measure.Longest), int64(measure.Longest)).Draw(t, "nm"))
		b, _ := l.MarshalText()
		var back measure.Length
		if err := back.UnmarshalText(b); err != nil || back != l {
			t.Fatalf("%s reads back as %d, want %d: %v", b, back, l, err)
		}
	})
}

func FuzzRead(f *testing.F) {
	for _, s := range []string{`12' 6-1/2"`, "12-6 1/2", "150.5 in", "12.54 ft", "3.82 m", "3820", "12 6", "3,82", "½", "12′6¹⁄₁₆″"} {
		f.Add(s, "in")
	}
	f.Fuzz(func(t *testing.T, s, unit string) {
		r, err := measure.Read(s, measure.Unit(unit))
		if err != nil {
			if !fault.Is(err, fault.Invalid) {
				t.Fatalf("%q: %v is no fault", s, err)
			}
			return
		}
		if r.Length <= 0 || r.Length > measure.Longest {
			t.Fatalf("%q: %d out of bounds", s, r.Length)
		}
		if r.Length%measure.SixtyFourth == 0 {
			back, err := measure.Read(r.Length.String(), measure.NoUnit)
			if err != nil || back.Length != r.Length {
				t.Fatalf("%q: %s doesn't read back: %v", s, r.Length, err)
			}
		}
	})
}

// What Exact writes is read back to the nanometre, and is what was typed where a
// person typed decimals.
func TestExact(t *testing.T) {
	for _, typed := range []string{`12' 6-1/2"`, "12.6 ft", "12.54 ft", "3820 mm", "3822.6 mm", "0.333 in", "1.2345 in"} {
		r, err := measure.Read(typed, measure.NoUnit)
		if err != nil || r.Length.Exact() != typed {
			t.Errorf("%s is written %s, %v", typed, r.Length.Exact(), err)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		l := measure.Length(rapid.Int64Range(1, int64(1000*measure.Foot)).Draw(t, "nm"))
		if r, err := measure.Read(l.Exact(), measure.NoUnit); err != nil || r.Length != l {
			t.Fatalf("%d nm is written %s and read as %d, %v", l, l.Exact(), r.Length, err)
		}
	})
}

// TestAcross: widths stay inches above a foot (common practice, no published
// source); the fractions are those of a rule with 64ths.
func TestAcross(t *testing.T) {
	for _, c := range []struct {
		l            measure.Length
		want, metric string
	}{
		{measure.Inch.Times(20) + measure.Eighth.Times(7), "20-7/8 in", "530.2 mm"},
		{measure.Foot.Times(4), "48 in", "1219.2 mm"},
		{measure.Foot.Times(3) + measure.Inch.Times(5) + measure.Sixteenth.Times(9), "41-9/16 in", "1055.7 mm"},
		{measure.SixtyFourth.Times(3), "3/64 in", "1.2 mm"},
		{-measure.Inch / 2, "-1/2 in", "-12.7 mm"},
		{0, "0 in", "0 mm"},
		{measure.Millimetre.Times(232), "9.134 in", "232 mm"},
	} {
		if got := c.l.Across().String(); got != c.want {
			t.Errorf("%d nm across is %q, want %q", c.l, got, c.want)
		}
		if got := c.l.Across().InUnits(string(measure.StyleMetric)); got != c.metric {
			t.Errorf("%d nm across in millimetres is %q, want %q", c.l, got, c.metric)
		}
		if got := c.l.Across().InUnits(string(measure.StyleFeet)); got != c.want {
			t.Errorf("%d nm across for who likes feet is %q, want %q", c.l, got, c.want)
		}
	}
}

// TestAcrossReadsBack: a width as it is printed can be typed again.
func TestAcrossReadsBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := measure.SixtyFourth.Times(rapid.IntRange(1, 72*64).Draw(t, "64ths"))
		r, err := measure.Read(l.Across().String(), measure.NoUnit)
		if err != nil || r.Length != l {
			t.Fatalf("%s reads back as %d nm, not %d (%v)", l.Across(), r.Length, l, err)
		}
	})
}
