package main

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"regexp"
	"strings"
	"testing"

	"ribdesk/internal/plan"
)

const planExample = "../../testdata/plan-example.json"

// callPlan runs ribdesk plan with a standard input.
func callPlan(t *testing.T, stdin string, args ...string) (code int, stdout, stderr string) {
	t.Helper()
	var out, errs bytes.Buffer
	code = run(context.Background(), env{args: append([]string{"plan"}, args...), stdin: strings.NewReader(stdin), stdout: &out, stderr: &errs, getenv: os.Getenv})
	return code, out.String(), errs.String()
}

func TestPlanTable(t *testing.T) {
	code, out, errs := callPlan(t, "", "--iterations", "50", planExample)
	if code != exitOK || errs != "" {
		t.Fatalf("exit %d: %s", code, errs)
	}
	for _, want := range []string{
		"75 min from day 1 10:50  day 1 12:35 to day 2 08:00  102-1 105-2  board and batten steel 24 20 bronze",
		"Late: 0 of 7 lines, $0.00", "Changeovers: 105 minutes and 23 ft of scrap, $203.50", "No plan is better",
	} {
		if !strings.Contains(out, want) {
			t.Errorf("no %q in\n%s", want, out)
		}
	}
}

// TestPlanJSON rebuilds the plan from the answer and gives it to the checker.
func TestPlanJSON(t *testing.T) {
	raw, err := os.ReadFile(planExample)
	if err != nil {
		t.Fatal(err)
	}
	code, out, errs := callPlan(t, string(raw), "-", "--json", "--budget", "100ms")
	if code != exitOK || errs != "" {
		t.Fatalf("exit %d: %s", code, errs)
	}
	var a struct {
		Case              string
		Machines          map[string][]planRun
		Objective         [3]int64
		ChangeoverMinutes int64 `json:"changeover_minutes"`
		LowerBound        []any `json:"lower_bound"`
		Status            string
		Seconds           float64
	}
	dec := json.NewDecoder(strings.NewReader(out))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&a); err != nil {
		t.Fatal(err)
	}
	p, err := plan.Decode(bytes.NewReader(raw))
	if err != nil {
		t.Fatal(err)
	}
	at := plan.Plan{}
	for id, runs := range a.Machines {
		seq := plan.Sequence{Machine: id}
		for _, r := range runs {
			seq.Jobs = append(seq.Jobs, plan.Job{Line: r.Line, Start: r.Start, End: r.End})
		}
		at.Machines = append(at.Machines, seq)
	}
	o, err := plan.Check(p, at)
	if err != nil || [3]int64{o.Late, o.Changeover, o.Ends} != a.Objective || o.Minutes != a.ChangeoverMinutes {
		t.Errorf("checked %+v (%v), answered %v and %d minutes", o, err, a.Objective, a.ChangeoverMinutes)
	}
	if a.Case != "week" || a.Status != "optimal" || len(a.LowerBound) != 3 {
		t.Errorf("got %+v", a)
	}
}

func TestPlanSVG(t *testing.T) {
	code, out, errs := callPlan(t, "", "--svg", "--iterations", "50", planExample)
	if code != exitOK || !strings.HasPrefix(out, "<svg") || !strings.Contains(out, "<title") || !strings.Contains(out, "<desc") {
		t.Fatalf("exit %d: %s %.80s", code, errs, out)
	}
}

func TestPlanRefuses(t *testing.T) {
	raw, err := os.ReadFile(planExample)
	if err != nil {
		t.Fatal(err)
	}
	full := strings.Replace(string(raw), `[[420, 600], [1860, 2040]]`, `[[420, 450]]`, 1)
	for name, c := range map[string]struct {
		stdin string
		args  []string
		code  int
		want  string
	}{
		"a line that fits nowhere": {full, []string{"-"}, exitFailed, `line "105-1" can't be planned: its 40 minutes are more than machine "GUTTER" is open in all, 30`},
		"a wrong field":            {`{"format": 1, "rules": {}, "machines": [], "lines": [{"setup": 3}]}`, []string{"-"}, exitFailed, "lines[0].setup: must be an object, not a number"},
		"no JSON":                  {`hello`, []string{"-"}, exitFailed, "this isn't JSON, in line 1"},
		"nothing":                  {" \n", []string{"-"}, exitFailed, "the problem is empty"},
		"a torn file":              {"{\"format\": 1,\n\"rules\": {", []string{"-"}, exitFailed, "rules: the JSON ends here in the middle, in line 2"},
		"two problems":             {"{\n}\n{}", []string{"-"}, exitFailed, "line 3: something stands behind"},
		"another encoding":         {"\xff\xfe{\x00}\x00", []string{"-"}, exitFailed, "UTF-8"},
		"a list":                   {"[1, 2]", []string{"-"}, exitFailed, "must be one object, not a list"},
		"a folder":                 {"", []string{t.TempDir()}, exitFailed, "is a directory"},
		"a budget without a unit":  {"", []string{"--budget", "5", planExample}, exitUsage, `invalid value "5"`},
		"a seed below 0":           {"", []string{"--seed", "-1", planExample}, exitUsage, `invalid value "-1"`},
		"no file":                  {"", []string{"nowhere.json"}, exitFailed, "nowhere.json"},
		"no argument":              {"", nil, exitUsage, "takes one file"},
		"both forms":               {"", []string{"--json", "--svg", "-"}, exitUsage, "not both"},
	} {
		code, out, errs := callPlan(t, c.stdin, c.args...)
		if code != c.code || out != "" || !strings.Contains(errs, c.want) || strings.Count(errs, "\n") != 1 {
			t.Errorf("%s: exit %d, %q, %q", name, code, out, errs)
		}
	}
	code, out, errs := callPlan(t, full, "--json", "-")
	if code != exitFailed || !strings.Contains(out, `"status": "infeasible"`) || strings.Count(errs, "\n") != 1 {
		t.Errorf("infeasible as JSON: exit %d, %s, %s", code, out, errs)
	}
}

// TestPlanShowsItsTextsPlainly: what stands in a file gives a terminal no orders,
// and a byte order mark in front of it is passed over.
func TestPlanShowsItsTextsPlainly(t *testing.T) {
	raw, err := os.ReadFile(planExample)
	if err != nil {
		t.Fatal(err)
	}
	nasty := "\xef\xbb\xbf" + strings.ReplaceAll(string(raw), `"101-1"`, `"\u001b[31m\u000a101"`)
	code, out, errs := callPlan(t, nasty, "--iterations", "5", "-")
	if code != exitOK || !strings.Contains(out, "?[31m?101") || strings.ContainsAny(out, "\x1b\r") {
		t.Errorf("exit %d: %s%q", code, errs, out)
	}
}

// TestPlanHelpNamesEveryField: each field of the example and of the answer stands
// in what 'ribdesk help plan' says of the format.
func TestPlanHelpNamesEveryField(t *testing.T) {
	raw, err := os.ReadFile(planExample)
	if err != nil {
		t.Fatal(err)
	}
	p, err := plan.Decode(bytes.NewReader(raw))
	if err != nil {
		t.Fatal(err)
	}
	_, answer, _ := callPlan(t, "", "--json", "--iterations", "5", planExample)
	for _, text := range []string{string(raw), answer} {
		for _, m := range regexp.MustCompile(`"([a-z_]+)":`).FindAllStringSubmatch(text, -1) {
			if _, rule := p.Rules[m[1]]; !rule && !regexp.MustCompile(`\b`+m[1]+`\b`).MatchString(plan.FileFormat) {
				t.Errorf("the format doesn't say what %q is", m[1])
			}
		}
	}
}
