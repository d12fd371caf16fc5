package main

import (
	"bytes"
	"context"
	"encoding/json"
	"encoding/xml"
	"io"
	"os"
	"strings"
	"testing"

	"ribdesk/internal/nest"
)

const (
	nestCoilFile = "../../testdata/nest-coil-example.json"
	nestTrimFile = "../../testdata/nest-trim-example.json"
)

// callNest runs the command and gives its exit code and what it wrote.
func callNest(stdin string, args ...string) (code int, stdout, stderr string) {
	var out, errs bytes.Buffer
	code = run(context.Background(), env{args: append([]string{"nest"}, args...), stdin: strings.NewReader(stdin),
		stdout: &out, stderr: &errs, getenv: func(string) string { return "" }})
	return code, out.String(), errs.String()
}

func TestNestTables(t *testing.T) {
	for file, wants := range map[string][]string{
		nestCoilFile: {"week-coils: ", "39 pieces cut, 0 short", "back on the rack", "no plan costs less"},
		nestTrimFile: {"week-trim: ", "ridge cap", "no plan costs less"},
	} {
		code, out, errs := callNest("", "--iterations", "2000", file)
		if code != exitOK {
			t.Fatalf("%s: exit %d, %s", file, code, errs)
		}
		for _, want := range wants {
			if !strings.Contains(out, want) {
				t.Errorf("%s: no %q in\n%s", file, want, out)
			}
		}
	}
}

// The JSON answer is a plan that the checker accepts at the cost it names.
func TestNestJSONIsAPlan(t *testing.T) {
	type facts struct {
		ID      string     `json:"id"`
		Cuts    []nest.Cut `json:"cuts"`
		Runs    []nest.Run `json:"runs"`
		Cost    int64      `json:"cost"`
		Bound   int64      `json:"bound"`
		Status  string     `json:"status"`
		Seconds *float64   `json:"seconds"`
	}
	for _, file := range []string{nestCoilFile, nestTrimFile} {
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		coil, trim, err := nest.Decode(bytes.NewReader(data))
		if err != nil {
			t.Fatal(err)
		}
		code, out, errs := callNest(string(data), "--json", "--iterations", "3000", "--seed", "4", "-")
		if code != exitOK {
			t.Fatalf("%s: exit %d, %s", file, code, errs)
		}
		dec := json.NewDecoder(strings.NewReader(out))
		dec.DisallowUnknownFields()
		var a facts
		if err := dec.Decode(&a); err != nil {
			t.Fatal(err)
		}
		var cost int64
		if coil != nil {
			cost, err = nest.CheckCoils(coil, a.Cuts)
		} else {
			cost, err = nest.CheckTrim(trim, a.Runs)
		}
		if err != nil || cost != a.Cost || a.Bound > a.Cost || a.Seconds == nil || (a.Status != "feasible" && a.Status != "optimal") {
			t.Errorf("%s: checked cost %d, %v; answer %+v", file, cost, err, a)
		}
	}
}

func TestNestDrawingsAreSVG(t *testing.T) {
	for _, file := range []string{nestCoilFile, nestTrimFile} {
		code, out, errs := callNest("", "--svg", "--iterations", "500", file)
		if code != exitOK {
			t.Fatalf("%s: exit %d, %s", file, code, errs)
		}
		dec := xml.NewDecoder(strings.NewReader(out))
		titles := 0
		for {
			tok, err := dec.Token()
			if err == io.EOF {
				break
			}
			if err != nil {
				t.Fatalf("%s: %v", file, err)
			}
			if s, ok := tok.(xml.StartElement); ok && s.Name.Local == "title" {
				titles++
			}
		}
		if titles < 3 {
			t.Errorf("%s: %d titles for a screen reader", file, titles)
		}
	}
}

func TestNestRefusesInOneLine(t *testing.T) {
	for _, c := range []struct {
		name, stdin string
		args        []string
		code        int
		want        string
	}{
		{"no file", "", nil, exitUsage, "takes one file"},
		{"both forms", "", []string{"--json", "--svg", "-"}, exitUsage, "not both"},
		{"negative budget", "", []string{"--budget", "-1s", "-"}, exitUsage, "0 or more"},
		{"bad budget", "", []string{"--budget", "soon", "-"}, exitUsage, "budget"},
		{"missing file", "", []string{"nowhere.json"}, exitFailed, "nowhere.json"},
		{"not JSON", "{", []string{"-"}, exitFailed, "isn't JSON"},
		{"wrong field", `{"id":"a","kind":"coil","params":{},"coils":[],"lines":[]}`, []string{"-"}, exitFailed, "params.awkward_pct: is missing"},
	} {
		code, out, errs := callNest(c.stdin, c.args...)
		if code != c.code || out != "" || !strings.Contains(errs, c.want) || strings.Count(errs, "\n") != 1 {
			t.Errorf("%s: exit %d, stdout %q, stderr %q", c.name, code, out, errs)
		}
	}
}

func TestNestSaysWhatIsShort(t *testing.T) {
	data, err := os.ReadFile(nestCoilFile)
	if err != nil {
		t.Fatal(err)
	}
	long := strings.Replace(string(data), `"qty": 12`, `"qty": 120`, 1)
	code, out, errs := callNest(long, "--iterations", "2000", "-")
	if code != exitOK || !strings.Contains(out, "Short: ") || !strings.Contains(out, "Buy at least ") {
		t.Errorf("exit %d\n%s%s", code, out, errs)
	}
}
