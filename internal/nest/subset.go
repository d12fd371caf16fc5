package nest

import "math/bits"

// subsetSum finds which of some sizes add up to the most that isn't over a
// limit, by dynamic programming over a bit for every reachable sum. It keeps
// its memory from call to call.
type subsetSum struct {
	rows [][]uint64
	pick []int
}

// best gives the indices of the chosen sizes, in a slice that the next call
// overwrites. Sizes must be at least 1.
func (s *subsetSum) best(sizes []int64, limit int64) []int {
	s.pick = s.pick[:0]
	if limit <= 0 {
		return s.pick
	}
	words := int(limit/64) + 1
	for len(s.rows) <= len(sizes) {
		s.rows = append(s.rows, nil)
	}
	for i := range len(sizes) + 1 {
		if cap(s.rows[i]) < words {
			s.rows[i] = make([]uint64, words)
		}
		s.rows[i] = s.rows[i][:words]
	}
	clear(s.rows[0])
	s.rows[0][0] = 1
	for i, size := range sizes {
		shiftOr(s.rows[i+1], s.rows[i], size)
	}
	sum := highest(s.rows[len(sizes)], limit)
	for i := len(sizes) - 1; i >= 0 && sum > 0; i-- {
		if !has(s.rows[i], sum) {
			s.pick = append(s.pick, i)
			sum -= sizes[i]
		}
	}
	return s.pick
}

func has(row []uint64, i int64) bool { return row[i>>6]>>(i&63)&1 == 1 }

// shiftOr sets dst to src and src moved up by n bits.
func shiftOr(dst, src []uint64, n int64) {
	copy(dst, src)
	w, b := int(n>>6), uint(n&63)
	if w >= len(dst) {
		return
	}
	if b == 0 {
		for i := w; i < len(dst); i++ {
			dst[i] |= src[i-w]
		}
		return
	}
	dst[w] |= src[0] << b
	for i := w + 1; i < len(dst); i++ {
		dst[i] |= src[i-w]<<b | src[i-w-1]>>(64-b)
	}
}

// highest gives the highest set bit that isn't above limit; bit 0 is always set.
func highest(row []uint64, limit int64) int64 {
	w := limit >> 6
	word := row[w] & (^uint64(0) >> (63 - uint(limit&63)))
	for word == 0 {
		w--
		word = row[w]
	}
	return w<<6 + int64(bits.Len64(word)) - 1
}
