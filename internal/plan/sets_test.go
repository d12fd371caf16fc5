package plan_test

import (
	"context"
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
// setup the machine stands in, the other cities are lines, and the way back is
// the changeover to one more line, home, from which every other line is so far
// that it comes last.
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

// TestBr17 always runs: the 17-city instance br17 (Repetto) of TSPLIB, optimum 39
// (G. Reinelt, ORSA Journal on Computing 3, 1991).
func TestBr17(t *testing.T) {
	m := readNumbers(t, br17)
	p := tour("br17", 17, func(i, j int) int64 { return m[i*17+j] })
	r, err := plan.Solve(context.Background(), p, plan.Settings{Iterations: 500, Seed: 1})
	if err != nil || r.Objective.Changeover != 39 {
		t.Fatalf("%+v %v", r.Objective, err)
	}
	if r.Bound.Changeover > 39 {
		t.Errorf("bound %d above the optimum 39", r.Bound.Changeover)
	}
}

// TestPublishedSample plans a few instances of each set with few iterations: the
// published optimum is never undercut, nor overshot by the bound, and the gap is
// small. The benchmarks plan all of them for the published times.
func TestPublishedSample(t *testing.T) {
	solve := func(p plan.Problem, iterations int) plan.Result {
		r, err := plan.Solve(context.Background(), p, plan.Settings{Iterations: iterations, Seed: 1})
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	near := func(name string, ours, bound, best int64, percent float64) {
		if ours < best || bound > best || gap(ours, best) > percent {
			t.Errorf("%s: %d, bound %d, published %d", name, ours, bound, best)
		}
	}
	for name, best := range map[string]int64{"ftv33": 1286, "ftv44": 1613, "ft53": 6905, "ry48p": 14422} {
		r := solve(readTour(t, benchSets(t, "tsplib-atsp", name+".atsp")), 3000)
		near(name, r.Objective.Changeover, r.Bound.Changeover, best, 2)
	}
	best := optima(t)
	for _, k := range []int{41, 91, 120} {
		r := solve(readSetups(t, benchSets(t, "wtsds", fmt.Sprintf("wt_sds_%d.instance", k))), 500)
		near(fmt.Sprint("set-ups ", k), r.Objective.Late, r.Bound.Late, best[k], 5)
	}
	want := readNumbers(t, readFile(t, benchSets(t, "orlib-wt", "wtopt40.txt")))
	for i, p := range readTardiness(t, benchSets(t, "orlib-wt", "wt40.txt"), 40)[:12] {
		r := solve(p, 600)
		near(p.Name, r.Objective.Late, r.Bound.Late, want[i], 4)
	}
}

const br17 = `
0 3 5 48 48 8 8 5 5 3 3 0 3 5 8 8 5
3 0 3 48 48 8 8 5 5 0 0 3 0 3 8 8 5
5 3 0 72 72 48 48 24 24 3 3 5 3 0 48 48 24
48 48 74 0 0 6 6 12 12 48 48 48 48 74 6 6 12
48 48 74 0 0 6 6 12 12 48 48 48 48 74 6 6 12
8 8 50 6 6 0 0 8 8 8 8 8 8 50 0 0 8
8 8 50 6 6 0 0 8 8 8 8 8 8 50 0 0 8
5 5 26 12 12 8 8 0 0 5 5 5 5 26 8 8 0
5 5 26 12 12 8 8 0 0 5 5 5 5 26 8 8 0
3 0 3 48 48 8 8 5 5 0 0 3 0 3 8 8 5
3 0 3 48 48 8 8 5 5 0 0 3 0 3 8 8 5
0 3 5 48 48 8 8 5 5 3 3 0 3 5 8 8 5
3 0 3 48 48 8 8 5 5 0 0 3 0 3 8 8 5
5 3 0 72 72 48 48 24 24 3 3 5 3 0 48 48 24
8 8 50 6 6 0 0 8 8 8 8 8 8 50 0 0 8
8 8 50 6 6 0 0 8 8 8 8 8 8 50 0 0 8
5 5 26 12 12 8 8 0 0 5 5 5 5 26 8 8 0`
