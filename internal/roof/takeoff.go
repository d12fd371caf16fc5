package roof

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/words"
)

// Group is all panels of one length.
type Group struct {
	Length measure.Length
	Qty    int
	Marks  []string // of one of each copied plane, in order
}

// Mark writes the group's marks so short that a cut list takes them: A1-A8, or
// A1-A3.B2; where even that is too long, the letters of its planes.
func (g Group) Mark() string {
	const room = 16 // of a mark in a cut list
	if s := strings.Join(ranges(g.Marks), "."); len(s) <= room {
		return s
	}
	var letters []string
	for _, m := range g.Marks {
		if l := m[:1]; !slices.Contains(letters, l) {
			letters = append(letters, l)
		}
	}
	if s := strings.Join(letters, "."); len(s) <= room {
		return s
	}
	return letters[0] + "-" + letters[len(letters)-1]
}

// AllMarks writes every mark, those in a row as a range.
func (g Group) AllMarks() string { return strings.Join(ranges(g.Marks), ", ") }

// ranges shortens A1, A2, A3, B1 to A1-A3, B1.
func ranges(marks []string) (out []string) {
	for i := 0; i < len(marks); {
		j := i
		for j+1 < len(marks) && follows(marks[j], marks[j+1]) {
			j++
		}
		if j > i+1 {
			out = append(out, marks[i]+"-"+marks[j])
		} else {
			out = append(out, marks[i:j+1]...)
		}
		i = j + 1
	}
	return out
}

// follows reports whether b is the panel after a on one plane.
func follows(a, b string) bool {
	n, err1 := strconv.Atoi(a[1:])
	m, err2 := strconv.Atoi(b[1:])
	return err1 == nil && err2 == nil && a[:1] == b[:1] && m == n+1
}

// Note is something to look at before the panels are ordered.
type Note struct {
	Plane int // index, -1 for the whole roof
	Act   bool
	Text  words.Text
}

// Result is a roof taken off.
type Result struct {
	Planes  []Laid
	Groups  []Group // longest first
	Pieces  int
	Feet    measure.Length // of all panels
	Net     Area           // of the roof without its openings
	Ordered Area
	Trims   []Trim
	Fixings Fixings
	Notes   []Note
}

// Waste is what is ordered beyond what is covered.
func (r Result) Waste() Area { return r.Ordered.Sub(r.Net) }

// TakeOff lays every plane and counts what the roof takes. Faults are at the
// places of the roof: planes.0.eave, rules.step, product.coverage.
func TakeOff(roof Roof) (Result, error) {
	var bad fault.List
	if len(roof.Planes) == 0 {
		bad.Addf("planes", "state at least one plane")
	}
	if len(roof.Planes) > MaxPlanes {
		bad.Addf("planes", "a take-off takes at most %d planes; repeat those that are alike, or make two of it", MaxPlanes)
	}
	bad.Add("product", roof.Product.Check())
	bad.Add("rules", roof.Rules.Check())
	if err := bad.Err(); err != nil {
		return Result{}, err
	}
	var r Result
	panels := 0
	for i, p := range roof.Planes {
		l, err := lay(p, letterOf(i), roof.Product, roof.Rules)
		if err != nil {
			bad.Add("planes."+strconv.Itoa(i), err)
			continue
		}
		r.Planes = append(r.Planes, l)
		r.Net = r.Net.Add(l.Net.Times(p.Copies))
		r.Ordered = r.Ordered.Add(l.Ordered.Times(p.Copies))
		if panels += len(l.Panels); panels > MaxInAll {
			bad.Addf("planes", "this roof would take more than %d panels; make two take-offs of it", MaxInAll)
			break
		}
	}
	if err := bad.Err(); err != nil {
		return Result{}, err
	}
	r.Groups = groups(r.Planes)
	for _, g := range r.Groups {
		r.Pieces += g.Qty
		r.Feet += g.Length.Times(g.Qty)
	}
	var screws int
	r.Trims, screws = trims(r.Planes, roof.Rules)
	r.Fixings = fixings(r.Planes, roof.Rules)
	r.Fixings.TrimScrews = screws
	r.Notes = notes(r, roof)
	return r, nil
}

// Groups gathers the pieces of one such plane by length, longest first.
func (l Laid) Groups() []Group {
	l.Plane.Copies = 1
	return groups([]Laid{l})
}

// groups gathers the pieces of one length, longest first.
func groups(planes []Laid) []Group {
	at := map[measure.Length]int{}
	var out []Group
	for _, l := range planes {
		for _, p := range l.Panels {
			for _, piece := range p.Pieces {
				i, ok := at[piece.Length]
				if !ok {
					i = len(out)
					at[piece.Length] = i
					out = append(out, Group{Length: piece.Length})
				}
				out[i].Qty += l.Plane.Copies
				out[i].Marks = append(out[i].Marks, piece.Mark)
			}
		}
	}
	slices.SortStableFunc(out, func(a, b Group) int { return cmp.Compare(b.Length, a.Length) })
	return out
}

// sliver is the cover below which a ripped panel is hardly worth hanging: common
// practice, no published source.
const sliver = 3 * measure.Inch

// notes says what a person should look at.
func notes(r Result, roof Roof) (out []Note) {
	for i, l := range r.Planes {
		say := func(act bool, text words.Text) {
			out = append(out, Note{i, act, words.Say("Plane %s: %s", l.Letter, text)})
		}
		if least := roof.Product.SlopeMin; least > 0 && l.Plane.Pitch.Rise < measure.Inch.Times(least) {
			say(true, words.Say("its pitch, %s, is flatter than the %d in 12 that this panel needs.", l.Plane.Pitch.String(), least))
		}
		if w := l.thinnest(); w > 0 && w < sliver {
			say(false, words.Say("an end panel is ripped to %s; another starting edge may spread it better.", w.Up(measure.Sixteenth).Across()))
		}
		if n := l.stretched(); n > 0 {
			say(false, words.Say("pieces ordered at the shortest length the machine cuts, %s: %d.", roof.Product.Shortest, n))
		}
	}
	for _, t := range r.Trims {
		if t.Alone > 0 {
			out = append(out, Note{-1, false, words.Say("Stated by one plane only, and counted whole: %s, %d times. State the plane on the other side too, or leave it if it isn't roofed.", t.Kind, t.Alone)})
		}
	}
	return out
}

// thinnest is the cover of the narrower ripped end, 0 where none is ripped.
func (l Laid) thinnest() measure.Length {
	first, last := l.Ends()
	if first == 0 || last != 0 && last < first {
		return last
	}
	return first
}

// stretched counts the pieces that are longer than needed because the machine
// cuts none so short.
func (l Laid) stretched() (n int) {
	for _, p := range l.Panels {
		for _, piece := range p.Pieces {
			if piece.Short {
				n++
			}
		}
	}
	return n
}
