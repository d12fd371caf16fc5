package nest

import (
	"encoding/json"
	"errors"
	"io"
	"slices"
	"strings"

	"ribdesk/internal/fault"
)

// maxFile is the largest problem file, in bytes.
const maxFile = 16 << 20

// Decode reads one problem; exactly one of the two results isn't nil. The
// format is described at the head of the package.
func Decode(r io.Reader) (*CoilProblem, *TrimProblem, error) {
	data, err := io.ReadAll(io.LimitReader(r, maxFile+1))
	if err != nil {
		return nil, nil, err
	}
	if len(data) > maxFile {
		return nil, nil, fault.Invalidf("", "the file is larger than %d MB", maxFile>>20)
	}
	v, err := tree(data)
	if err != nil {
		return nil, nil, err
	}
	var l fault.List
	o := open(v, "", &l)
	h := head(o)
	var coil *CoilProblem
	var trim *TrimProblem
	switch h.Kind {
	case "coil":
		coil = coilFile(o, h)
	case "trim":
		trim = trimFile(o, h)
	default:
		if len(l) == 0 {
			l.Addf("kind", `must be "coil" or "trim", not %.40q`, h.Kind)
		}
		return nil, nil, l.Err()
	}
	o.done()
	if len(l) > 0 {
		slices.SortStableFunc(l, func(a, b *fault.Fault) int { return strings.Compare(a.Field, b.Field) })
		return nil, nil, l
	}
	if coil != nil {
		return coil, nil, coil.Validate()
	}
	return nil, trim, trim.Validate()
}

func head(o object) Head {
	h := Head{ID: o.text("id", true), Kind: o.text("kind", true), Name: o.text("name", false),
		Unit: o.text("unit", false), Note: o.text("note", false)}
	if v, ok := o.take("material", false); ok {
		raw, err := json.Marshal(v)
		if err != nil {
			o.faults.Add("material", errors.New("can't be kept"))
		}
		h.Material = raw
	}
	return h
}

func coilFile(o object, h Head) *CoilProblem {
	p := &CoilProblem{Head: h, Coils: []Coil{}, Lines: []Line{}}
	if v, ok := o.take("params", true); ok {
		q := open(v, "params", o.faults)
		p.Params = CoilParams{
			LeadIn: q.whole("lead_in"), LeadOut: q.whole("lead_out"), Slug: q.whole("slug"),
			ScrapMax: q.whole("scrap_max"), UsefulMin: q.whole("useful_min"), Mat: q.whole("mat"),
			AwkwardPct: q.whole("awkward_pct"), Keep: q.whole("keep"), Change: q.whole("change"),
			LotSplit: q.whole("lot_split"), Short: q.whole("short"),
		}
		q.done()
	}
	o.each("coils", func(c object) {
		p.Coils = append(p.Coils, Coil{ID: c.text("id", true), Length: c.whole("length"), Lot: c.text("lot", true),
			Remnant: c.flag("remnant"), Mounted: c.flag("mounted")})
	})
	o.each("lines", func(n object) {
		p.Lines = append(p.Lines, Line{ID: n.text("id", true), Order: n.text("order", true),
			Length: n.whole("length"), Qty: n.whole("qty")})
	})
	return p
}

func trimFile(o object, h Head) *TrimProblem {
	p := &TrimProblem{Head: h, Stock: []Stock{}, Items: []Item{}}
	if v, ok := o.take("params", true); ok {
		q := open(v, "params", o.faults)
		p.Params = TrimParams{
			EdgeTrim: q.whole("edge_trim"), Saw: q.whole("saw"), MaxStrips: q.whole("max_strips"),
			MinCut: q.whole("min_cut"), MaxCut: q.whole("max_cut"), Setup: q.whole("setup"),
			DropMin: q.whole("drop_min"), DropCredit: q.whole("drop_credit"), Pass: q.whole("pass"),
		}
		q.done()
	}
	o.each("stock", func(s object) {
		k := Stock{ID: s.text("id", true), Form: s.text("form", true), Width: s.whole("width")}
		if k.Form == CoilForm {
			k.CostPerUnit = s.whole("cost_per_unit")
		} else {
			k.Length, k.Cost = s.whole("length"), s.whole("cost")
		}
		k.Count = s.maybeWhole("count")
		p.Stock = append(p.Stock, k)
	})
	o.each("items", func(t object) {
		p.Items = append(p.Items, Item{ID: t.text("id", true), Name: t.text("name", false), Girth: t.whole("girth"),
			Length: t.whole("length"), Qty: t.whole("qty")})
	})
	return p
}
