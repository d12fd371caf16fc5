package plan_test

import (
	"bytes"
	"context"
	"os"
	"strings"
	"testing"

	"ribdesk/internal/fault"
	"ribdesk/internal/plan"
)

const good = `{"format": 1, "name": "n", "split": false, "changeover_cents_per_min": 150, "scrap_cents_per_ft": 200,
 "objective": {"mode": "weighted", "weights": [1, 0.25, 0]},
 "rules": {"r": [{"name": "rollers", "keys": ["profile"], "minutes": 60, "scrap_ft": 6, "covers": ["rib"], "pairs": [{"from": "a", "to": "b", "minutes": 75, "scrap_ft": 6}]},
  {"name": "rib", "keys": ["rib"], "minutes": 5, "scrap_ft": 0, "covers": null, "pairs": null}]},
 "machines": [{"id": "M", "rule": "r", "initial": {"profile": "a"}, "windows": [[0, 100], [100, 900]]}],
 "lines": [{"id": "L", "order": "O", "setup": {"profile": "b"}, "minutes": {"M": 35}, "earliest": 0, "due": 720, "late_cents_per_min": 3}]}`

func TestDecode(t *testing.T) {
	p, err := plan.Decode(strings.NewReader(good))
	if err != nil {
		t.Fatal(err)
	}
	if p.Goal.Weights != [3]int64{100, 25, 0} || p.Goal.Scale != 100 {
		t.Errorf("weights %+v", p.Goal)
	}
	r, err := plan.Solve(context.Background(), p, plan.Settings{Iterations: 10})
	if err != nil {
		t.Fatal(err)
	}
	// 75 min and 6 ft: 75 x 150 + 6 x 200 = 12,450 cents, a quarter of it counts.
	if got := p.Goal.Number(r.Objective); got != "3112.5" {
		t.Errorf("objective %s of %+v", got, r.Objective)
	}
}

// TestDecodeRefuses changes one place of a good file each time.
func TestDecodeRefuses(t *testing.T) {
	for _, c := range []struct{ from, to, field string }{
		{`"format": 1`, `"format": 2`, "format"},
		{`"format": 1, `, ``, "format"},
		{`"name": "n"`, `"name": 7`, "name"},
		{`"split": false`, `"split": 0`, "split"},
		{`"split": false`, `"splits": false`, "splits"},
		{`"split": false`, `"split": false, "split": true`, "split"},
		{`"changeover_cents_per_min": 150`, `"changeover_cents_per_min": 1.5`, "changeover_cents_per_min"},
		{`"changeover_cents_per_min": 150`, `"changeover_cents_per_min": -1`, "changeover_cents_per_min"},
		{`"changeover_cents_per_min": 150`, `"changeover_cents_per_min": 99999999999999999999`, "changeover_cents_per_min"},
		{`"mode": "weighted"`, `"mode": "fast"`, "objective.mode"},
		{`[1, 0.25, 0]`, `[1, 0.25]`, "objective.weights"},
		{`[1, 0.25, 0]`, `[1, -1, 0]`, "objective.weights[1]"},
		{`[1, 0.25, 0]`, `[1e300, 1, 0]`, "objective.weights[0]"},
		{`"keys": ["profile"]`, `"keys": ["shape"]`, "rules.r[0].keys[0]"},
		{`"covers": ["rib"]`, `"covers": ["ribs"]`, "rules.r[0].covers[0]"},
		{`"from": "a"`, `"from": null`, "rules.r[0].pairs[0].from"},
		{`"minutes": 60, `, ``, "rules.r[0].minutes"},
		{`"rule": "r"`, `"rule": "q"`, "machines[0].rule"},
		{`[100, 900]`, `[90, 900]`, "machines[0].windows[1]"},
		{`[100, 900]`, `[900, 100]`, "machines[0].windows[1]"},
		{`[100, 900]`, `[100]`, "machines[0].windows[1]"},
		{`{"profile": "b"}`, `{"profile": ["b"]}`, "lines[0].setup.profile"},
		{`{"profile": "b"}`, `{"color": "b"}`, "lines[0].setup.color"},
		{`{"M": 35}`, `{"N": 35}`, "lines[0].minutes.N"},
		{`{"M": 35}`, `{"M": 0}`, "lines[0].minutes.M"},
		{`"due": 720`, `"due": "720"`, "lines[0].due"},
		{`"due": 720`, `"due": 7200000000`, "lines[0].due"},
		{`"id": "L"`, `"id": ""`, "lines[0].id"},
		{`"late_cents_per_min": 3}`, `"late_cents_per_min": 3}, {"id": "L", "setup": {}, "minutes": {}, "due": 1}`, "lines[1].id"},
		{`"order": "O"`, `"order": "O", "pin": {}`, "lines[0].pin"},
		{`3}]}`, `3}]} {}`, ""},
		{`3}]}`, `3}]`, ""},
	} {
		text := strings.Replace(good, c.from, c.to, 1)
		if text == good {
			t.Fatalf("%q isn't in the file", c.from)
		}
		_, err := plan.Decode(strings.NewReader(text))
		if !fault.Is(err, fault.Invalid) {
			t.Errorf("%s: %v", c.to, err)
			continue
		}
		if got := fault.All(err)[0].Field; got != c.field {
			t.Errorf("%s: refused at %q (%v), want %q", c.to, got, err, c.field)
		}
	}
}

// FuzzDecode: whatever is read either is refused by a fault or plans without a
// panic, and then stands up to the checker.
func FuzzDecode(f *testing.F) {
	f.Add([]byte(good))
	if example, err := os.ReadFile("../../testdata/plan-example.json"); err == nil {
		f.Add(example)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := plan.Decode(bytes.NewReader(data))
		if err != nil {
			if fault.KindOf(err) != fault.Invalid {
				t.Fatal(err)
			}
			return
		}
		if len(p.Lines) > 12 {
			return
		}
		r, err := plan.Solve(context.Background(), p, plan.Settings{Iterations: 2})
		if err != nil {
			if fault.KindOf(err) == 0 {
				t.Fatal(err)
			}
			return
		}
		if o, err := plan.Check(p, r.Plan); err != nil || o != r.Objective {
			t.Fatalf("checked %+v %v, reported %+v", o, err, r.Objective)
		}
	})
}
