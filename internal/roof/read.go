package roof

import (
	"regexp"
	"strings"

	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
)

var cornerSplit = regexp.MustCompile(`\s*[;,\t]\s*`)

// ReadCorners understands an outline stated corner by corner, one a line, going
// round the plane: how far along the eave from its left corner, how far up, and
// the edge that begins there, with commas between: 12' 6", 8', hip. A minus
// before the first goes left of the corner. bare is the unit of bare numbers.
// The fault's field is "corners".
func ReadCorners(text string, bare measure.Unit) ([]Corner, error) {
	var out []Corner
	no := 0
	for raw := range strings.SplitSeq(strings.ReplaceAll(text, "\r\n", "\n"), "\n") {
		if raw = strings.TrimSpace(raw); raw == "" {
			continue
		}
		if no++; no > MaxCorners {
			return nil, fault.Invalidf("corners", "give at most %d corners", MaxCorners)
		}
		parts := cornerSplit.Split(raw, -1)
		if len(raw) > 120 || len(parts) != 3 {
			return nil, fault.Invalidf("corners", "corner %d: write along, up and the edge that begins there, with commas between, like 12' 6\", 8', hip", no)
		}
		c := Corner{Edge: Edge(strings.ToLower(parts[2]))}
		var err error
		if c.X, err = readPlace(parts[0], bare); err == nil {
			c.Y, err = readPlace(parts[1], bare)
		}
		if err != nil {
			return nil, fault.Invalidf("corners", "corner %d: %s", no, fault.All(err)[0])
		}
		if c.Y < 0 {
			return nil, fault.Invalidf("corners", "corner %d: a corner can't lie below the eave", no)
		}
		if !c.Edge.known() {
			return nil, fault.Invalidf("corners", "corner %d: “%s” isn't an edge; write eave, ridge, peak, hip, valley, rake, sidewall, endwall or transition", no, parts[2])
		}
		out = append(out, c)
	}
	return out, nil
}

// readPlace reads a distance that may be 0 or lie to the left.
func readPlace(s string, bare measure.Unit) (measure.Length, error) {
	rest := strings.TrimSpace(strings.TrimLeft(s, "-−–"))
	switch rest {
	case "0", `0"`, "0'":
		return 0, nil
	}
	r, err := measure.Read(rest, bare)
	if err == nil && rest != s {
		return -r.Length, nil
	}
	return r.Length, err
}

// WriteCorners writes corners so that they read back the same.
func WriteCorners(corners []Corner) string {
	lines := make([]string, len(corners))
	for i, c := range corners {
		lines[i] = writePlace(c.X) + ", " + writePlace(c.Y) + ", " + string(c.Edge)
	}
	return strings.Join(lines, "\n")
}

func writePlace(l measure.Length) string {
	text, err := l.MarshalText()
	if err != nil {
		return l.Metric(measure.Millimetre)
	}
	return string(text)
}
