package web_test

import (
	"fmt"
	"maps"
	"net/url"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	"ribdesk/internal/web"
)

// A list with lists in its rows, as a form has it: adding a row and taking it
// off again changes nothing, and taking one off leaves the others as they were,
// in order, with all that is in them.
func TestRowsComeAndGo(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 12).Draw(t, "rows")
		form := url.Values{"rule.rows": {strconv.Itoa(n)}, "name": {"stays"}, "rule2.1.x": {"another list"}}
		for i := 1; i <= n; i++ {
			form.Set(fmt.Sprintf("rule.%d.name", i), fmt.Sprint("part ", i))
			form.Set(fmt.Sprintf("rule.%d.pairs.rows", i), "1")
			form.Set(fmt.Sprintf("rule.%d.pairs.1.from", i), fmt.Sprint("from ", i))
		}
		before := maps.Clone(form)
		web.Reshape(form, "add:rule")
		web.Reshape(form, fmt.Sprintf("remove:rule.%d", n+1))
		if !maps.EqualFunc(before, form, func(a, b []string) bool { return a[0] == b[0] }) {
			t.Fatalf("adding and taking off left %v of %v", form, before)
		}
		gone := rapid.IntRange(1, n).Draw(t, "gone")
		web.Reshape(form, fmt.Sprintf("remove:rule.%d", gone))
		if form.Get("rule.rows") != strconv.Itoa(n-1) || form.Get("name") != "stays" || form.Get("rule2.1.x") != "another list" {
			t.Fatalf("what is left: %v", form)
		}
		for i := 1; i < n; i++ {
			was := i
			if i >= gone {
				was++
			}
			if form.Get(fmt.Sprintf("rule.%d.name", i)) != fmt.Sprint("part ", was) || form.Get(fmt.Sprintf("rule.%d.pairs.1.from", i)) != fmt.Sprint("from ", was) {
				t.Fatalf("row %d isn't what was row %d: %v", i, was, form)
			}
		}
		if form.Has(fmt.Sprintf("rule.%d.name", n)) {
			t.Fatal("the last row is there twice")
		}
	})
}

// Whatever a button says, nothing breaks and no list grows beyond its bound.
func FuzzReshape(f *testing.F) {
	for _, do := range []string{"add:x", "remove:x.1", "remove:x", "remove:.", "swap:a=b", "add:", ":", "remove:x.-1", "remove:x.99999999999999999999"} {
		f.Add(do, "3")
	}
	f.Fuzz(func(t *testing.T, do, rows string) {
		form := url.Values{"x.rows": {rows}, "x.1.a": {"1"}, "x.2.a": {"2"}}
		web.Reshape(form, do)
		if n, err := strconv.Atoi(form.Get("x.rows")); err == nil && form.Get("x.rows") != rows && (n < 0 || n > 200) {
			t.Errorf("%q made %d rows of %q", do, n, rows)
		}
	})
}
