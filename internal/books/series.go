package books

import (
	"fmt"
	"strconv"
	"strings"

	"ribdesk/internal/fault"
)

// Series writes the numbers of one kind of document: a prefix and a counter
// that starts at 1 and never skips. The store takes Next and moves it on in the
// transaction that issues the document, so a number is used if and only if its
// document exists.
type Series struct {
	Prefix string // "INV-", "CM-", ...
	Next   int64
}

// Number gives the number that comes next: INV-00042. Above 99,999 it simply
// grows longer.
func (s Series) Number() string { return fmt.Sprintf("%s%05d", s.Prefix, s.Next) }

// After gives the series with its next number taken.
func (s Series) After() Series { return Series{s.Prefix, s.Next + 1} }

// Count reads the counter out of a number of this series.
func (s Series) Count(number string) (int64, error) {
	digits, ok := strings.CutPrefix(number, s.Prefix)
	n, err := strconv.ParseInt(digits, 10, 64)
	if !ok || err != nil || n < 1 || (Series{s.Prefix, n}).Number() != number {
		return 0, fault.Invalidf("number", "“%s” isn't a number of the series %s", number, s.Prefix)
	}
	return n, nil
}

// Gapless refuses numbers, in any order, that aren't exactly 1 to Next-1 of the
// series, and names the first one missing, doubled or foreign.
func (s Series) Gapless(numbers []string) error {
	seen := make(map[int64]bool, len(numbers))
	for _, number := range numbers {
		n, err := s.Count(number)
		if err != nil {
			return err
		}
		if seen[n] {
			return fault.Conflictf("%s was given twice", number)
		}
		if n >= s.Next {
			return fault.Conflictf("%s lies beyond the counter, which stands at %s", number, s.Number())
		}
		seen[n] = true
	}
	for n := int64(1); n < s.Next; n++ {
		if !seen[n] {
			return fault.Conflictf("%s is missing", Series{s.Prefix, n}.Number())
		}
	}
	return nil
}
