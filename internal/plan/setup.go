package plan

import (
	"cmp"
	"maps"
	"slices"
	"strings"
)

// Part is one counted attribute of a changeover.
type Part struct {
	Attribute     int // index in the rule
	Minutes, Feet int64
}

// Between gives the counted parts of a changeover from a to b: each attribute
// whose value differs and which no counted attribute before it covers. Under
// Max only the longest part keeps its minutes and only the one with the most
// scrap its feet, so that the parts add up in either case.
func (r Rule) Between(a, b Setup) []Part {
	if a == b {
		return nil
	}
	var parts []Part
	covered := map[string]bool{}
	for i, attr := range r.Attributes {
		from, to := attr.value(a), attr.value(b)
		if from == to || covered[attr.Name] {
			continue
		}
		minutes, feet := attr.takes(from, to)
		parts = append(parts, Part{i, minutes, feet})
		for _, c := range attr.Covers {
			covered[c] = true
		}
	}
	if r.Aggregate == Max {
		keepLargest(parts)
	}
	return parts
}

func (a Attribute) value(s Setup) string {
	if len(a.Keys) == 1 {
		return s.Part(a.Keys[0])
	}
	values := make([]string, len(a.Keys))
	for i, k := range a.Keys {
		values[i] = s.Part(k)
	}
	return strings.Join(values, "|")
}

func (a Attribute) takes(from, to string) (minutes, feet int64) {
	for _, p := range a.Pairs {
		if p.From == from && p.To == to {
			return p.Minutes, p.Feet
		}
	}
	return a.Minutes, a.Feet
}

func keepLargest(parts []Part) {
	var longest, most int
	for i, p := range parts {
		if p.Minutes > parts[longest].Minutes {
			longest = i
		}
		if p.Feet > parts[most].Feet {
			most = i
		}
	}
	for i := range parts {
		if i != longest {
			parts[i].Minutes = 0
		}
		if i != most {
			parts[i].Feet = 0
		}
	}
}

// table holds a rule's changeovers between all pairs of families, row = from.
// One family more than there are stands for "nothing follows", which is free.
type table struct {
	minutes []int32
	cents   []int64
	n       int       // families and the extra one
	near    [][]int32 // made row by row when first asked for, see nearest
}

// nearest gives the families in the order of what changing to them costs.
func (t *table) nearest(from int) []int32 {
	if t.near[from] == nil {
		row := make([]int32, t.n-1)
		for i := range row {
			row[i] = int32(i)
		}
		cents := t.cents[from*t.n:]
		slices.SortStableFunc(row, func(a, b int32) int { return cmp.Compare(cents[a], cents[b]) })
		t.near[from] = row
	}
	return t.near[from]
}

// fast is a rule with its values numbered, for filling a table.
type fast struct {
	rule   Rule
	values [][]int32 // [attribute][family]
	pairs  []map[[2]int32]Pair
	covers [][]bool // [attribute][attribute]
}

func newFast(r Rule, families []Setup) fast {
	f := fast{rule: r}
	for _, attr := range r.Attributes {
		number := map[string]int32{}
		id := func(s string) int32 {
			n, ok := number[s]
			if !ok {
				n = int32(len(number))
				number[s] = n
			}
			return n
		}
		values := make([]int32, len(families))
		for i, s := range families {
			values[i] = id(attr.value(s))
		}
		pairs := make(map[[2]int32]Pair, len(attr.Pairs))
		for _, p := range attr.Pairs {
			pairs[[2]int32{id(p.From), id(p.To)}] = p
		}
		covers := make([]bool, len(r.Attributes))
		for i, other := range r.Attributes {
			covers[i] = slices.Contains(attr.Covers, other.Name)
		}
		f.values, f.pairs, f.covers = append(f.values, values), append(f.pairs, pairs), append(f.covers, covers)
	}
	return f
}

// between gives the whole changeover from family a to b.
func (f *fast) between(a, b int, covered []bool) (minutes, feet int64) {
	clear(covered)
	for i := range f.values {
		from, to := f.values[i][a], f.values[i][b]
		if from == to || covered[i] {
			continue
		}
		m, ft := f.rule.Attributes[i].Minutes, f.rule.Attributes[i].Feet
		if len(f.pairs[i]) > 0 {
			if p, ok := f.pairs[i][[2]int32{from, to}]; ok {
				m, ft = p.Minutes, p.Feet
			}
		}
		if f.rule.Aggregate == Max {
			minutes, feet = max(minutes, m), max(feet, ft)
		} else {
			minutes, feet = minutes+m, feet+ft
		}
		for k, c := range f.covers[i] {
			covered[k] = covered[k] || c
		}
	}
	return minutes, feet
}

func newTable(p *Problem, r Rule, families []Setup) table {
	n := len(families) + 1
	t := table{make([]int32, n*n), make([]int64, n*n), n, make([][]int32, n)}
	f := newFast(r, families)
	covered := make([]bool, len(r.Attributes))
	for a := range families {
		for b := range families {
			if a == b {
				continue
			}
			minutes, feet := f.between(a, b, covered)
			t.minutes[a*n+b] = int32(minutes)
			t.cents[a*n+b] = minutes*p.MinuteCents + feet*p.FootCents
		}
	}
	return t
}

func sortedKeys[V any](m map[string]V) []string { return slices.Sorted(maps.Keys(m)) }
