package roof

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
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
	Text  string
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
	for i, p := range roof.Planes {
		l, err := lay(p, letterOf(i), roof.Product, roof.Rules)
		if err != nil {
			bad.Add("planes."+strconv.Itoa(i), err)
			continue
		}
		r.Planes = append(r.Planes, l)
		r.Net = r.Net.Add(l.Net.Times(p.Copies))
		r.Ordered = r.Ordered.Add(l.Ordered.Times(p.Copies))
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
		say := func(act bool, format string, args ...any) {
			out = append(out, Note{i, act, "Plane " + l.Letter + ": " + fmt.Sprintf(format, args...)})
		}
		if least := roof.Product.SlopeMin; least > 0 && l.Plane.Pitch.Rise < measure.Inch.Times(least) {
			say(true, "a pitch of %s is flatter than the %d in 12 that this panel needs.", l.Plane.Pitch, least)
		}
		first, last := l.Ends()
		for _, w := range []measure.Length{first, last} {
			if w > 0 && w < sliver {
				say(false, "an end panel is ripped to %s; another starting edge may spread it better.", w.Up(measure.Sixteenth).Pretty())
				break
			}
		}
		short := 0
		for _, p := range l.Panels {
			for _, piece := range p.Pieces {
				if piece.Short {
					short++
				}
			}
		}
		if short > 0 {
			say(false, "%d of its pieces are ordered at the %s that is the shortest the machine cuts.", short, roof.Product.Shortest.Pretty())
		}
	}
	for _, t := range r.Trims {
		if t.Alone > 0 {
			out = append(out, Note{-1, false, fmt.Sprintf("Only one plane was stated at %d of its %s edges; the trim there is counted whole. State the plane on the other side too, or leave it if it isn't roofed.", t.Alone, t.Kind)})
		}
	}
	return out
}
