package document

// Sheets lays strips, given by height, keep flag and height of the head they
// repeat, and gives each page as the numbers of its strips; -1 is the strip that
// continues, -2 a repeated head.
func Sheets(high []float64, keep []bool, head []float64, capacity float64) (pages [][]int, used []float64) {
	strips := make([]strip, len(high))
	drawn := 0
	mark := func(n int) func(float64) {
		return func(float64) { drawn = n }
	}
	for i := range strips {
		strips[i] = strip{high: high[i], keep: keep[i], draw: mark(i)}
		if head[i] > 0 {
			strips[i].head = []strip{{high: head[i], draw: mark(-2)}}
		}
	}
	for _, page := range paginate(strips, capacity, strip{high: 9, draw: mark(-1)}) {
		var numbers []int
		sum := 0.0
		for _, s := range page {
			s.draw(0)
			numbers = append(numbers, drawn)
			sum += s.high
		}
		pages, used = append(pages, numbers), append(used, sum)
	}
	return pages, used
}
