package main

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"strings"
	"testing"

	"ribdesk/internal/price"
)

const priceExample = "../../testdata/price-example.json"

// callPrice runs ribdesk price with a standard input.
func callPrice(t *testing.T, stdin string, args ...string) (code int, stdout, stderr string) {
	t.Helper()
	var out, errs bytes.Buffer
	code = run(context.Background(), env{args: append([]string{"price"}, args...), stdin: strings.NewReader(stdin), stdout: &out, stderr: &errs, getenv: os.Getenv})
	return code, out.String(), errs.String()
}

func TestPriceTable(t *testing.T) {
	code, out, errs := callPrice(t, "", priceExample)
	if code != exitOK || errs != "" {
		t.Fatalf("exit %d: %s", code, errs)
	}
	for _, want := range []string{
		"Standing seam panel, 16 in cover, 30 @ 22' 4\"    670.00 ft    3.14  2,103.80     3.05  2,043.50",
		"3,956.25", "1,978.13", "1,978.12", // the worked example's total, deposit, balance
		"How the price builds up, sharing", "floor", "the shop carries the difference",
	} {
		if !strings.Contains(out, want) {
			t.Errorf("no %q in\n%s", want, out)
		}
	}
	if strings.Contains(out, "recovery factor") {
		t.Error("the whole build-up is printed without --explain")
	}
	_, out, _ = callPrice(t, "", priceExample, "--explain")
	for _, want := range []string{"recovery factor", "12575.4229 $/year", "(feet/speed + pieces x (shear + handling)/60) x (1 + allowance)", "cost of a sheet"} {
		if !strings.Contains(out, want) {
			t.Errorf("no %q in\n%s", want, out)
		}
	}
}

func TestPriceJSONAndStandardInput(t *testing.T) {
	raw, err := os.ReadFile(priceExample)
	if err != nil {
		t.Fatal(err)
	}
	code, out, errs := callPrice(t, string(raw), "--json", "-")
	if code != exitOK {
		t.Fatal(errs)
	}
	var q price.Quote
	if err := json.Unmarshal([]byte(out), &q); err != nil || q.Shared.Total.String() != "3,956.25" {
		t.Errorf("got %v %v", q.Shared, err)
	}
}

func TestPriceTriesChanges(t *testing.T) {
	_, base, _ := callPrice(t, "", priceExample)
	code, dear, errs := callPrice(t, "", "--coil", "1.10", "--hour=1.05", "--margin", "-.02", priceExample)
	if code != exitOK || dear == base {
		t.Errorf("exit %d %s\n%s", code, errs, dear)
	}
}

func TestPriceBelowFloorSaysSo(t *testing.T) {
	raw, err := os.ReadFile(priceExample)
	if err != nil {
		t.Fatal(err)
	}
	cheap := strings.Replace(string(raw), `"group": "panel",`, `"group": "panel", "unit_price": "1.50",`, 1)
	if code, out, errs := callPrice(t, cheap, "-"); code != exitOK || !strings.Contains(out, "Not to be sold like this") {
		t.Errorf("exit %d %s\n%s", code, errs, out)
	}
}

func TestPriceRefusals(t *testing.T) {
	raw, err := os.ReadFile(priceExample)
	if err != nil {
		t.Fatal(err)
	}
	cases := []struct {
		name, stdin string
		args        []string
		code        int
		says        string
	}{
		{"no file", "", nil, exitUsage, "takes one file"},
		{"two files", "", []string{"a", "b"}, exitUsage, "takes one file"},
		{"unknown flag", "", []string{"--cheap", "a"}, exitUsage, "cheap"},
		{"flag that isn't a number", "", []string{"--coil", "much", "a"}, exitUsage, "isn't a number"},
		{"missing file", "", []string{"testdata/none.json"}, exitFailed, "none.json"},
		{"not JSON", "{", []string{"-"}, exitFailed, "line 1 isn't JSON"},
		{"unknown field", strings.Replace(string(raw), `"pieces": 18`, `"peices": 18`, 1), []string{"-"}, exitFailed, "order.items.1.formed.cuts.2.peices: there is no such field"},
		{"margin of 100 %", strings.Replace(string(raw), `"value": ".28"`, `"value": "1"`, 1), []string{"-"}, exitFailed, "shop.targets.1.value: a margin of 100 % can't be earned"},
	}
	for _, c := range cases {
		code, out, errs := callPrice(t, c.stdin, c.args...)
		if code != c.code || !strings.Contains(errs, c.says) || out != "" || strings.Count(errs, "\n") != 1 {
			t.Errorf("%s: exit %d, stdout %q, stderr %q", c.name, code, out, errs)
		}
	}
}

func TestPriceHelp(t *testing.T) {
	code, out, _ := callPrice(t, "", "--help")
	if code != exitOK || !strings.Contains(out, "testdata/price-example.json") {
		t.Errorf("exit %d %s", code, out)
	}
}
