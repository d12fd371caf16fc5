package plan

import (
	_ "embed" // the words of the format
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"ribdesk/internal/fault"
)

// MaxFile bounds a problem file, in bytes.
const MaxFile = 32 << 20

// FileFormat describes problem files, and what they ask for, to whoever writes
// one.
//
//go:embed format.txt
var FileFormat string

// Decode reads a problem from its exchange format, which [FileFormat] describes.
// Anything that isn't in it, a wrong type, a field that stands twice or a
// reference to something that isn't there is an Invalid fault at the path of its
// field.
func Decode(r io.Reader) (Problem, error) {
	data, err := io.ReadAll(io.LimitReader(r, MaxFile+1))
	if err != nil {
		return Problem{}, fmt.Errorf("read the problem: %w", err)
	}
	if len(data) > MaxFile {
		return Problem{}, fault.Invalidf("", "the problem is longer than %d MB", MaxFile>>20)
	}
	tree, err := parseTree(data)
	if err != nil {
		return Problem{}, err
	}
	if tree.kind != 'o' {
		return Problem{}, fault.Invalidf("", "the problem must be one object, not %s", tree.words())
	}
	d := decoder{}
	p := d.problem(tree)
	if err := d.faults.Err(); err != nil {
		return Problem{}, err
	}
	return p, p.Validate()
}

// decoder gathers the faults of a tree while it reads it.
type decoder struct{ faults fault.List }

// object calls the reader of each field; needed fields must be there.
func (d *decoder) object(v value, readers map[string]func(value), needed ...string) {
	if v.kind != 'o' {
		d.wrong(v, "an object")
		return
	}
	have := map[string]bool{}
	for _, f := range v.fields {
		have[f.name] = true
		if read, ok := readers[f.name]; ok {
			read(f.value)
		} else {
			d.faults.Addf(f.path, "there is no such field here")
		}
	}
	for _, name := range needed {
		if !have[name] {
			d.faults.Addf(strings.TrimPrefix(v.path+"."+name, "."), "is missing")
		}
	}
}

func (d *decoder) wrong(v value, want string) {
	d.faults.Addf(v.path, "must be %s, not %s", want, v.words())
}

func (d *decoder) list(v value, nullable bool, each func(value)) {
	switch {
	case v.kind == 'a':
		for _, item := range v.items {
			each(item)
		}
	case !nullable || v.kind != '0':
		d.wrong(v, "a list")
	}
}

func (d *decoder) textTo(to *string) func(value) {
	return func(v value) {
		if v.kind != 's' {
			d.wrong(v, "a text")
			return
		}
		*to = v.text
	}
}

func (d *decoder) wholeTo(to *int64) func(value) {
	return func(v value) {
		if v.kind != 'n' {
			d.wrong(v, "a whole number")
			return
		}
		n, err := strconv.ParseInt(v.text, 10, 64)
		if err != nil {
			d.faults.Addf(v.path, "%s isn't a whole number that fits here", clip(v.text))
			return
		}
		*to = n
	}
}

func (d *decoder) boolTo(to *bool) func(value) {
	return func(v value) {
		if v.kind != 'b' {
			d.wrong(v, "true or false")
			return
		}
		*to = v.truth
	}
}

func (d *decoder) problem(v value) (p Problem) {
	var format int64
	var words string
	d.object(v, map[string]func(value){
		"format":                   d.wholeTo(&format),
		"name":                     d.textTo(&p.Name),
		"unit":                     d.textTo(&words),
		"note":                     d.textTo(&words),
		"material":                 d.textTo(&words),
		"split":                    d.boolTo(&p.Split),
		"changeover_cents_per_min": d.wholeTo(&p.MinuteCents),
		"scrap_cents_per_ft":       d.wholeTo(&p.FootCents),
		"objective":                func(v value) { d.goal(v, &p.Goal) },
		"rules":                    func(v value) { d.rules(v, &p) },
		"machines":                 func(v value) { d.list(v, false, func(v value) { p.Machines = append(p.Machines, d.machine(v)) }) },
		"lines":                    func(v value) { d.list(v, false, func(v value) { p.Lines = append(p.Lines, d.line(v)) }) },
	}, "format", "rules", "machines", "lines")
	if format != 1 && len(d.faults) == 0 {
		d.faults.Addf("format", "this program reads format 1, not %d", format)
	}
	return p
}

func (d *decoder) goal(v value, g *Goal) {
	var mode string
	var weights []string
	d.object(v, map[string]func(value){
		"mode": d.textTo(&mode),
		"weights": func(v value) {
			d.list(v, true, func(v value) {
				if v.kind != 'n' {
					d.wrong(v, "a number")
				}
				weights = append(weights, v.text)
			})
		},
	}, "mode")
	switch {
	case v.kind != 'o':
	case mode == "lex":
	case mode != "weighted":
		d.faults.Addf(v.path+".mode", "must be lex or weighted, not %q", clip(mode))
	case len(weights) != 3:
		d.faults.Addf(v.path+".weights", "must be three numbers")
	case len(d.faults) == 0:
		g.Weighted = true
		d.weights(v.path+".weights", weights, g)
	}
}

// weights turns decimal numbers into whole ones of a common scale.
func (d *decoder) weights(path string, texts []string, g *Goal) {
	const places = 6
	g.Scale = int64(math.Pow10(places))
	for i, text := range texts {
		whole, part, _ := strings.Cut(text, ".")
		n, err := strconv.ParseInt(whole+(part + strings.Repeat("0", places))[:max(places, len(part))], 10, 64)
		if err != nil || len(part) > places || n < 0 {
			d.faults.Addf(fmt.Sprintf("%s[%d]", path, i), "%s isn't a weight: use 0 or more with up to %d decimals", clip(text), places)
			return
		}
		g.Weights[i] = n
	}
	for g.Scale > 1 && g.Weights[0]%10 == 0 && g.Weights[1]%10 == 0 && g.Weights[2]%10 == 0 {
		g.Scale /= 10
		for i := range g.Weights {
			g.Weights[i] /= 10
		}
	}
}

func (d *decoder) rules(v value, p *Problem) {
	if v.kind != 'o' {
		d.wrong(v, "an object")
		return
	}
	p.Rules = map[string]Rule{}
	for _, f := range v.fields {
		var r Rule
		d.list(f.value, false, func(v value) { r.Attributes = append(r.Attributes, d.attribute(v)) })
		p.Rules[f.name] = r
	}
}

func (d *decoder) attribute(v value) (a Attribute) {
	texts := func(to *[]string) func(value) {
		return func(v value) {
			d.list(v, true, func(v value) {
				var s string
				d.textTo(&s)(v)
				*to = append(*to, s)
			})
		}
	}
	d.object(v, map[string]func(value){
		"name":     d.textTo(&a.Name),
		"keys":     texts(&a.Keys),
		"minutes":  d.wholeTo(&a.Minutes),
		"scrap_ft": d.wholeTo(&a.Feet),
		"covers":   texts(&a.Covers),
		"pairs":    func(v value) { d.list(v, true, func(v value) { a.Pairs = append(a.Pairs, d.pair(v)) }) },
	}, "name", "keys", "minutes")
	return a
}

func (d *decoder) pair(v value) (p Pair) {
	d.object(v, map[string]func(value){
		"from":     d.textTo(&p.From),
		"to":       d.textTo(&p.To),
		"minutes":  d.wholeTo(&p.Minutes),
		"scrap_ft": d.wholeTo(&p.Feet),
	}, "from", "to", "minutes")
	return p
}

func (d *decoder) setupTo(s *Setup) func(value) {
	return func(v value) {
		d.object(v, map[string]func(value){
			"profile":  d.textTo(&s.Profile),
			"material": d.textTo(&s.Material),
			"gauge":    d.textTo(&s.Gauge),
			"width":    d.textTo(&s.Width),
			"colour":   d.textTo(&s.Colour),
			"rib":      d.textTo(&s.Rib),
		})
	}
}

func (d *decoder) machine(v value) (m Machine) {
	d.object(v, map[string]func(value){
		"id":      d.textTo(&m.ID),
		"rule":    d.textTo(&m.Rule),
		"initial": d.setupTo(&m.Initial),
		"windows": func(v value) { d.list(v, false, func(v value) { m.Windows = append(m.Windows, d.window(v)) }) },
	}, "id", "rule", "initial", "windows")
	return m
}

func (d *decoder) window(v value) (w Window) {
	if v.kind != 'a' || len(v.items) != 2 {
		d.faults.Addf(v.path, "a window is a list of its start and end")
		return w
	}
	d.wholeTo(&w.Start)(v.items[0])
	d.wholeTo(&w.End)(v.items[1])
	return w
}

func (d *decoder) line(v value) (l Line) {
	l.Minutes = map[string]int64{}
	d.object(v, map[string]func(value){
		"id":    d.textTo(&l.ID),
		"order": d.textTo(&l.Order),
		"setup": d.setupTo(&l.Setup),
		"minutes": func(v value) {
			if v.kind != 'o' {
				d.wrong(v, "an object of machines and run minutes")
			}
			for _, f := range v.fields {
				var run int64
				d.wholeTo(&run)(f.value)
				l.Minutes[f.name] = run
			}
		},
		"earliest":           d.wholeTo(&l.Earliest),
		"due":                d.wholeTo(&l.Due),
		"late_cents_per_min": d.wholeTo(&l.LateCents),
	}, "id", "setup", "minutes", "due")
	return l
}
