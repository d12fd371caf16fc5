package plan_test

import (
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"ribdesk/internal/plan"
)

// benchSets names the folder of the public benchmark sets, or skips.
func benchSets(t testing.TB, parts ...string) string {
	t.Helper()
	root := os.Getenv("BENCH_SETS")
	if root == "" {
		t.Skip("BENCH_SETS is unset: it names the folder that holds planner/tsplib-atsp, planner/wtsds and planner/orlib-wt")
	}
	return filepath.Join(append([]string{root, "planner"}, parts...)...)
}

func readNumbers(t testing.TB, text string) []int64 {
	t.Helper()
	var out []int64
	for _, f := range strings.Fields(text) {
		n, err := strconv.ParseInt(f, 10, 64)
		if err != nil {
			t.Fatalf("%q is no number", f)
		}
		out = append(out, n)
	}
	return out
}

func readFile(t testing.TB, path string) string {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// wide is one machine that is always free; the rule goes by profile alone.
func wide(name, initial string) plan.Problem {
	return plan.Problem{
		Name: name, Split: true, MinuteCents: 1,
		Rules:    map[string]plan.Rule{"set": {Attributes: []plan.Attribute{{Name: "set", Keys: []string{"profile"}}}}},
		Machines: []plan.Machine{{ID: "M1", Rule: "set", Initial: plan.Setup{Profile: initial}, Windows: []plan.Window{{Start: 0, End: 10_000_000}}}},
	}
}

func (b *builder) pair(from, to string, minutes int64) {
	b.pairs = append(b.pairs, plan.Pair{From: from, To: to, Minutes: minutes})
}

type builder struct{ pairs []plan.Pair }

// tour turns an asymmetric travelling-salesman matrix into a plan: city 0 is the
// setup the machine stands in, the other cities are lines, and the way back to
// city 0 is a changeover to a line pinned to come last by a due date that can
// only be kept... by nothing: the closing step is priced into a last line that
// every other line is far from.
func tour(name string, n int, d func(i, j int) int64) plan.Problem {
	p := wide(name, "0")
	var b builder
	city := func(i int) string { return strconv.Itoa(i) }
	const never = 900_000 // from the home line to any other
	for i := range n {
		if i > 0 {
			p.Lines = append(p.Lines, plan.Line{ID: city(i), Setup: plan.Setup{Profile: city(i)}, Minutes: map[string]int64{"M1": 1}, Due: 900_000_000})
			b.pair(city(i), "home", d(i, 0))
			b.pair("home", city(i), never)
		}
		for j := 1; j < n; j++ {
			if i != j {
				b.pair(city(i), city(j), d(i, j))
			}
		}
	}
	b.pair("0", "home", never)
	p.Lines = append(p.Lines, plan.Line{ID: "home", Setup: plan.Setup{Profile: "home"}, Minutes: map[string]int64{"M1": 1}, Due: 900_000_000})
	p.Rules["set"].Attributes[0].Pairs = b.pairs
	return p
}

// readTour reads a TSPLIB file with a full matrix.
func readTour(t testing.TB, path string) plan.Problem {
	head, body, ok := strings.Cut(readFile(t, path), "EDGE_WEIGHT_SECTION")
	if !ok {
		t.Fatalf("%s has no matrix", path)
	}
	_, dim, _ := strings.Cut(head, "DIMENSION:")
	n, err := strconv.Atoi(strings.Fields(dim)[0])
	if err != nil {
		t.Fatal(err)
	}
	body, _, _ = strings.Cut(body, "EOF")
	m := readNumbers(t, body)
	if len(m) != n*n {
		t.Fatalf("%s: %d numbers for %d cities", path, len(m), n)
	}
	return tour(filepath.Base(path), n, func(i, j int) int64 { return m[i*n+j] })
}

// readSetups reads one of Cicirello's instances (60 jobs, total weighted
// tardiness with sequence-dependent set-ups).
func readSetups(t testing.TB, path string) plan.Problem {
	text := readFile(t, path)
	section := func(from, to string) []int64 {
		_, rest, ok := strings.Cut(text, from)
		if !ok {
			t.Fatalf("%s has no %s", path, from)
		}
		rest, _, _ = strings.Cut(rest, to)
		return readNumbers(t, rest)
	}
	run, weight := section("Process Times:", "Weights:"), section("Weights:", "Duedates:")
	due, setups := section("Duedates:", "Setup Times:"), section("Setup Times:", "End Problem")
	p := wide(filepath.Base(path), "-1")
	for i := range run {
		id := strconv.Itoa(i)
		p.Lines = append(p.Lines, plan.Line{ID: id, Setup: plan.Setup{Profile: id}, Minutes: map[string]int64{"M1": run[i]}, Due: due[i], LateCents: weight[i]})
	}
	var b builder
	for i := 0; i+2 < len(setups); i += 3 {
		if setups[i] != setups[i+1] {
			b.pair(strconv.FormatInt(setups[i], 10), strconv.FormatInt(setups[i+1], 10), setups[i+2])
		}
	}
	p.Rules["set"].Attributes[0].Pairs = b.pairs
	return p
}

// readTardiness reads an OR-Library file of 125 instances without set-ups.
func readTardiness(t testing.TB, path string, jobs int) []plan.Problem {
	n := readNumbers(t, readFile(t, path))
	var out []plan.Problem
	for k := 0; k+3*jobs <= len(n); k += 3 * jobs {
		p := wide(fmt.Sprintf("wt%d-%d", jobs, len(out)+1), "")
		for i := range jobs {
			p.Lines = append(p.Lines, plan.Line{ID: strconv.Itoa(i), Minutes: map[string]int64{"M1": n[k+i]}, LateCents: n[k+jobs+i], Due: n[k+2*jobs+i]})
		}
		out = append(out, p)
	}
	return out
}

// optima reads the optimum of each of Cicirello's instances (Tanaka and Araki 2013).
func optima(t testing.TB) []int64 {
	f, err := os.Open(benchSets(t, "wtsds", "optima.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	out := make([]int64, len(rows))
	for _, row := range rows[1:] {
		k, err1 := strconv.Atoi(row[0])
		v, err2 := strconv.ParseInt(row[1], 10, 64)
		if err1 != nil || err2 != nil || k >= len(out) {
			t.Fatalf("optima.csv: %v", row)
		}
		out[k] = v
	}
	return out
}
