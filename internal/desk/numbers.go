package desk

import (
	"strconv"
	"strings"

	"ribdesk/internal/books"
	"ribdesk/internal/store"
)

// numbering is a series of numbers: how its count is written on paper and read
// off it. What is numbered takes its number here, is checked by it, and may have
// numbers passed over.
type numbering struct {
	series string // the store's counter
	write  func(int64) string
	read   func(string) (int64, bool)
}

var (
	orderNumbers    = counting("order", "", 1000)
	loadNumbers     = counting("load", "L", 100)
	ticketNumbers   = counting("ticket", "T", 1000)
	runSheetNumbers = counting("run sheet", "R", 1000)
	purchaseNumbers = counting("purchase list", "PL", 1000)
	coilTags        = counting("coil", "C", 1000)
	pileTags        = counting("pile", "S", 1000)
	shapeCodes      = counting("pattern", "TRIM-", 100)
)

// counting numbers like L101: a count that begins above a figure, so that the
// first is no 1.
func counting(series, prefix string, above int64) numbering {
	return numbering{
		series: series,
		write:  func(n int64) string { return prefix + strconv.FormatInt(above+n, 10) },
		read: func(number string) (int64, bool) {
			digits, ok := strings.CutPrefix(number, prefix)
			n, err := strconv.ParseInt(digits, 10, 64)
			return n - above, ok && err == nil
		},
	}
}

// bookNumbers numbers as the books do.
func bookNumbers(prefix string) numbering {
	return numbering{
		series: prefix,
		write:  func(n int64) string { return books.Series{Prefix: prefix, Next: n}.Number() },
		read: func(number string) (int64, bool) {
			n, err := books.Series{Prefix: prefix, Next: 1}.Count(number)
			return n, err == nil
		},
	}
}

// behindDash reads numbers like 1007-P12, a count behind the number of an order
// or coil.
func behindDash(series, letter string) numbering {
	return numbering{series: series, read: func(number string) (int64, bool) {
		i := strings.LastIndex(number, "-"+letter)
		if i < 0 {
			return 0, false
		}
		n, err := strconv.ParseInt(number[i+1+len(letter):], 10, 64)
		return n, err == nil
	}}
}

// take gives the next number of the series.
func (n numbering) take(tx *store.Tx) (string, error) {
	count, err := tx.NextNumber(n.series)
	if err != nil {
		return "", err
	}
	return n.write(count), nil
}
