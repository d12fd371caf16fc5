package plan

// A machine's clock counts what the planner adds up. With splitting it is the
// number of open minutes so far, so that time is additive and a closed night
// doesn't exist; without it is the calendar minute. Behind the last window both
// go on without end: a plan that reaches there doesn't fit, by so many minutes.

// calendar turns minutes into a machine's clock and back.
type calendar struct {
	split   bool
	windows []Window
	opened  []int64 // open minutes in all windows before window i; one more for all
	byEnd   finder  // first window that ends after a minute
	byWork  finder  // first window that holds an open minute
	last    int64   // end of the last window
	even    bool    // one window and splitting: the clock is the minute less its start
}

func newCalendar(windows []Window, split bool) calendar {
	c := calendar{split: split, windows: windows, opened: make([]int64, len(windows)+1)}
	ends := make([]int64, len(windows))
	for i, w := range windows {
		c.opened[i+1] = c.opened[i] + w.End - w.Start
		ends[i] = w.End
		c.last = w.End
	}
	c.even = split && len(windows) == 1
	c.byEnd, c.byWork = newFinder(ends), newFinder(c.opened[1:])
	return c
}

// clock gives the clock at a minute: the same, or the open minutes before it.
func (c *calendar) clock(minute int64) int64 {
	if !c.split {
		return max(minute, 0)
	}
	i := c.byEnd.find(minute)
	if i == len(c.windows) {
		return c.opened[i] + max(0, minute-c.last)
	}
	return c.opened[i] + max(0, minute-c.windows[i].Start)
}

// minute gives the minute at which something starts that starts at this clock.
func (c *calendar) minute(clock int64) int64 {
	if !c.split {
		return clock
	}
	i := c.byWork.find(clock)
	if i == len(c.windows) {
		return c.last + clock - c.opened[i]
	}
	return c.windows[i].Start + clock - c.opened[i]
}

// ended gives the minute at which something ends that ends at this clock.
func (c *calendar) ended(clock int64) int64 {
	switch {
	case !c.split:
		return clock
	case c.even:
		return c.windows[0].Start + clock
	}
	return c.minute(clock-1) + 1
}

// limit is the clock at the end of the last window.
func (c *calendar) limit() int64 {
	if c.split {
		return c.opened[len(c.windows)]
	}
	return c.last
}

// fit gives the first minute from which a stretch lies in one window.
func (c *calendar) fit(from, length int64) int64 {
	for i := c.byEnd.find(from); i < len(c.windows); i++ {
		if s := max(from, c.windows[i].Start); s+length <= c.windows[i].End {
			return s
		}
	}
	return max(from, c.last)
}

// holds reports whether some window is as long as this stretch.
func (c *calendar) holds(length int64) bool {
	if c.split {
		return length <= c.limit()
	}
	for _, w := range c.windows {
		if w.End-w.Start >= length {
			return true
		}
	}
	return false
}

// finder finds the first of some increasing values that is above x, by a table
// of starting places so that a look-up takes constant time on usual calendars.
type finder struct {
	values []int64
	starts []int32
	shift  uint
}

func newFinder(values []int64) finder {
	f := finder{values: values}
	if len(values) == 0 {
		return f
	}
	top := values[len(values)-1]
	for top>>f.shift > int64(16*len(values)+64) {
		f.shift++
	}
	f.starts = make([]int32, top>>f.shift+1)
	i := 0
	for b := range f.starts {
		for i < len(values) && values[i] <= int64(b)<<f.shift {
			i++
		}
		f.starts[b] = int32(i)
	}
	return f
}

func (f *finder) find(x int64) int {
	b := x >> f.shift
	if b >= int64(len(f.starts)) {
		return len(f.values)
	}
	i := int(f.starts[max(b, 0)])
	for i < len(f.values) && f.values[i] <= x {
		i++
	}
	return i
}
