package money_test

import (
	"encoding/json"
	"testing"

	"pgregory.net/rapid"

	"ribdesk/internal/fault"
	"ribdesk/internal/money"
)

func TestRound(t *testing.T) {
	cases := []struct{ in, want, source string }{
		{"0.125", "0.13", "half away from zero"},
		{"-0.125", "-0.13", "half away from zero"},
		{"0.1249", "0.12", ""},
		{"37.4875", "37.49", "published markup example: cost 29.99 at 25 % (business calculator)"},
		{"156435.885", "156,435.89", "EN 16931 example pair BIS3_Invoice_positive"},
		{"-156435.885", "-156,435.89", "EN 16931 example pair BIS3_Invoice_negativ"},
		{"0.924775", "0.92", "SSUTA section 324: 10.42 at 8.875 %, not rounded twice"},
		{"0", "0.00", ""},
	}
	for _, c := range cases {
		a, err := money.Must(c.in).Round(money.USD)
		if err != nil || a.String() != c.want {
			t.Errorf("%s: got %s %v, want %s (%s)", c.in, a, err, c.want, c.source)
		}
	}
	if _, err := money.Must("10000000000000.01").Round(money.USD); !fault.Is(err, fault.Invalid) {
		t.Error("an amount beyond the bound isn't refused")
	}
	if up, _ := money.Must("1.0001").RoundUp(money.USD); up.Cents() != 101 {
		t.Errorf("round up gave %s", up)
	}
}

func TestReadAndFormat(t *testing.T) {
	good := map[string]string{
		"1234.5": "$1,234.50", "$1,234.50": "$1,234.50", "-12": "-$12.00", " 0.07 ": "$0.07", ".5": "$0.50", "12 USD": "$12.00",
	}
	for in, want := range good {
		a, err := money.Read(in, money.USD)
		if err != nil || a.Format() != want {
			t.Errorf("%q: got %s, %v", in, a.Format(), err)
		}
	}
	for _, in := range []string{"", "-", "1.234", "12,34", "1,2345", "abc", "1e5", "99999999999999", "1.", "--1"} {
		if a, err := money.Read(in, money.USD); !fault.Is(err, fault.Invalid) {
			t.Errorf("%q: got %s, %v", in, a, err)
		}
	}
}

func TestJSONKeepsTheDigits(t *testing.T) {
	var r money.Rate
	if err := json.Unmarshal([]byte("0.1"), &r); err != nil || r.String() != "0.1" {
		t.Fatalf("got %s %v", r, err)
	}
	a := money.Cents(-5, money.USD)
	b, _ := json.Marshal(a)
	var back money.Amount
	if err := json.Unmarshal(b, &back); err != nil || back != a {
		t.Fatalf("got %v %v", back, err)
	}
}

func TestSplitAddsUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		total := money.Cents(rapid.Int64Range(-1e9, 1e9).Draw(t, "total"), money.USD)
		var ws []money.Rate
		for _, w := range rapid.SliceOfN(rapid.Int64Range(0, 1000), 1, 12).Draw(t, "weights") {
			ws = append(ws, money.Int(w))
		}
		parts, err := money.Split(total, ws)
		if err != nil {
			return
		}
		if money.Sum(parts...).Cents() != total.Cents() {
			t.Fatalf("%v don't add up to %s", parts, total)
		}
		for i, w := range ws {
			if w.IsZero() && !parts[i].IsZero() {
				t.Fatalf("weight 0 got %s", parts[i])
			}
		}
	})
}

func TestSplitTies(t *testing.T) {
	parts, err := money.Split(money.Cents(100, money.USD), []money.Rate{money.Int(1), money.Int(1), money.Int(1)})
	if err != nil || parts[0].Cents() != 34 || parts[1].Cents() != 33 || parts[2].Cents() != 33 {
		t.Fatalf("got %v %v", parts, err)
	}
}

func FuzzRead(f *testing.F) {
	for _, s := range []string{"1,234.50", "$5", "-0.01", "1e9"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		a, err := money.Read(s, money.USD)
		if err != nil {
			return
		}
		b, err := money.Read(a.String(), money.USD)
		if err != nil || a != b {
			t.Fatalf("%q: %s doesn't read back: %v", s, a, err)
		}
	})
}

// What is stored must read back: a quotient has all its places.
func TestRateReadsBack(t *testing.T) {
	for _, r := range []money.Rate{money.Fraction(1, 3), money.Fraction(-20, 60), money.Fraction(200_000, 7), money.FromFloat(1.0 / 3), money.Must("0")} {
		text, err := r.MarshalText()
		if err != nil {
			t.Fatal(err)
		}
		var back money.Rate
		if err := back.UnmarshalText(text); err != nil || back.Cmp(r) != 0 {
			t.Errorf("%s came back as %s, %v", text, back, err)
		}
	}
}
