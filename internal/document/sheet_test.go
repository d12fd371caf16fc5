package document_test

import (
	"testing"

	"pgregory.net/rapid"

	"ribdesk/internal/document"
)

// Every strip stands once and in order, no page is fuller than it may be, and
// a page that begins inside a table begins with the table's head.
func TestSheets(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		const capacity = 200.0
		n := rapid.IntRange(1, 80).Draw(rt, "strips")
		high, keep, head := make([]float64, n), make([]bool, n), make([]float64, n)
		for i := range n {
			high[i] = rapid.Float64Range(1, 60).Draw(rt, "high")
			keep[i] = rapid.Bool().Draw(rt, "keep")
			if rapid.Bool().Draw(rt, "in table") {
				head[i] = 6
			}
		}
		pages, used := document.Sheets(high, keep, head, capacity)
		next := 0
		for p, page := range pages {
			if used[p] > capacity+1e-9 {
				rt.Fatalf("page %d holds %g of %g", p+1, used[p], capacity)
			}
			for i, s := range page {
				switch {
				case s == -1 && p > 0 && i == 0, s == -2 && p > 0 && i == 1:
				case s == next:
					if p > 0 && i == 1 && head[s] > 0 {
						rt.Fatalf("page %d begins with strip %d without its head", p+1, s)
					}
					next++
				default:
					rt.Fatalf("page %d: strip %d at place %d, want %d", p+1, s, i, next)
				}
			}
			if last := page[len(page)-1]; p+1 < len(pages) && last >= 0 && keep[last] && chain(high, keep, last) <= capacity-15 {
				rt.Fatalf("page %d ends with strip %d, which belongs to the next", p+1, last)
			}
		}
		if next != n {
			rt.Fatalf("%d of %d strips are set", next, n)
		}
	})
}

// chain gives the height of the strips that are kept together with strip i.
func chain(high []float64, keep []bool, i int) float64 {
	first := i
	for first > 0 && keep[first-1] {
		first--
	}
	sum := high[first]
	for j := first; keep[j] && j+1 < len(high); j++ {
		sum += high[j+1]
	}
	return sum
}
