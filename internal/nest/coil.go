package nest

import (
	"encoding/json"
	"fmt"

	"ribdesk/internal/fault"
)

// Bounds on the size of a problem. They keep every sum far inside 64 bits and
// a search inside a small server's memory.
const (
	maxRows   = 3_000                 // coils, lines, stock or items
	maxQty    = 100_000               // pieces of one line
	maxPieces = 200_000               // pieces of one problem
	maxLength = 10_000_000            // of a coil, line, sheet or item
	maxWidth  = 100_000               // of a sheet or girth
	maxMoney  = 1_000_000_000_000     // 10 million dollars in thousandths of a cent
	maxWorth  = 1_000_000_000_000_000 // of all metal of a problem
	maxRate   = 100_000_000           // money per unit of length
	maxText   = 200                   // bytes of an id or name
)

// Head is what every problem file carries beside its data.
type Head struct {
	ID       string          `json:"id"`
	Kind     string          `json:"kind"` // "coil" or "trim"
	Name     string          `json:"name,omitempty"`
	Unit     string          `json:"unit,omitempty"`
	Note     string          `json:"note,omitempty"`
	Material json.RawMessage `json:"material,omitempty"` // describes only
}

// CoilProblem is problem A: cut lines of panels out of coils of one material.
type CoilProblem struct {
	Head
	Params CoilParams `json:"params"`
	Coils  []Coil     `json:"coils"`
	Lines  []Line     `json:"lines"`

	// BuyLength is the length of a coil one can buy, in eighths of an inch; 0
	// when coils come in any length. It isn't part of the file and changes only
	// the Purchase.
	BuyLength int64 `json:"-"`
}

// CoilParams are lengths in eighths of an inch and money in thousandths of a cent.
type CoilParams struct {
	LeadIn     int64 `json:"lead_in"`     // lost when a coil is threaded
	LeadOut    int64 `json:"lead_out"`    // lost at the end of every used coil
	Slug       int64 `json:"slug"`        // lost with every cut
	ScrapMax   int64 `json:"scrap_max"`   // a shorter end is scrap
	UsefulMin  int64 `json:"useful_min"`  // a shorter end on the rack has lost value
	Mat        int64 `json:"mat"`         // money per eighth of an inch of strip
	AwkwardPct int64 `json:"awkward_pct"` // share lost by an end below useful_min
	Keep       int64 `json:"keep"`        // money for a place on the rack
	Change     int64 `json:"change"`      // money for threading a coil
	LotSplit   int64 `json:"lot_split"`   // money for each further lot in an order
	Short      int64 `json:"short"`       // money per eighth of an inch not cut
}

// Coil is a coil or a remnant on the rack.
type Coil struct {
	ID      string `json:"id"`
	Length  int64  `json:"length"`
	Lot     string `json:"lot"`     // paint lot
	Remnant bool   `json:"remnant"` // an opened coil, which holds a place on the rack
	Mounted bool   `json:"mounted"` // threaded in the machine now
}

// Line is a number of equal panels of one order.
type Line struct {
	ID     string `json:"id"`
	Order  string `json:"order"`
	Length int64  `json:"length"`
	Qty    int64  `json:"qty"`
}

// Cut is a number of pieces of a line from one coil.
type Cut struct {
	Coil string `json:"coil"`
	Line string `json:"line"`
	Qty  int64  `json:"qty"`
}

// lead is what a coil loses once it is used.
func (p *CoilProblem) lead(c Coil) int64 {
	if c.Mounted {
		return p.Params.LeadOut
	}
	return p.Params.LeadOut + p.Params.LeadIn
}

// endCost is the money lost with what is left of a used coil.
func (p CoilParams) endCost(rem int64) int64 {
	switch {
	case rem < p.ScrapMax:
		return p.Mat * rem
	case rem < p.UsefulMin:
		return p.Keep + p.Mat*rem*p.AwkwardPct/100
	}
	return p.Keep
}

// useCost is the cost of a coil with load eighths of pieces and slugs cut from
// it, or of an untouched one.
func (p *CoilProblem) useCost(c Coil, used bool, load int64) int64 {
	if !used {
		if c.Remnant {
			return p.Params.Keep
		}
		return 0
	}
	lead := p.lead(c)
	cost := p.Params.Mat*lead + p.Params.endCost(c.Length-lead-load)
	if !c.Mounted {
		cost += p.Params.Change
	}
	return cost
}

// Validate refuses what the solver can't take, at the field's path.
func (p *CoilProblem) Validate() error {
	var l fault.List
	if p.Kind != "" && p.Kind != "coil" {
		l.Addf("kind", `must be "coil" here`)
	}
	q := p.Params
	for _, f := range []struct {
		name  string
		value int64
		most  int64
	}{
		{"lead_in", q.LeadIn, maxLength}, {"lead_out", q.LeadOut, maxLength}, {"slug", q.Slug, maxLength},
		{"scrap_max", q.ScrapMax, maxLength}, {"useful_min", q.UsefulMin, maxLength},
		{"mat", q.Mat, maxRate}, {"awkward_pct", q.AwkwardPct, 100}, {"keep", q.Keep, maxMoney},
		{"change", q.Change, maxMoney}, {"lot_split", q.LotSplit, maxMoney}, {"short", q.Short, maxRate},
	} {
		inRange(&l, "params."+f.name, f.value, 0, f.most)
	}
	inRange(&l, "buy_length", p.BuyLength, 0, maxLength)
	tooMany(&l, "coils", len(p.Coils))
	tooMany(&l, "lines", len(p.Lines))
	ids := map[string]bool{}
	for i, c := range p.Coils {
		at := fmt.Sprintf("coils[%d]", i)
		newID(&l, at, c.ID, ids)
		inRange(&l, at+".length", c.Length, 0, maxLength)
	}
	ids = map[string]bool{}
	var pieces, strip int64
	for i, n := range p.Lines {
		at := fmt.Sprintf("lines[%d]", i)
		newID(&l, at, n.ID, ids)
		inRange(&l, at+".length", n.Length, 1, maxLength)
		inRange(&l, at+".qty", n.Qty, 0, maxQty)
		pieces += max(n.Qty, 0)
		if l.Err() == nil {
			strip += n.Qty * (n.Length + q.Slug)
		}
	}
	for _, c := range p.Coils {
		strip += max(c.Length, 0)
	}
	if dear := max(q.Mat, q.Short, 1); l.Err() == nil && strip > maxWorth/dear {
		l.Addf("params", "mat or short makes the metal worth more than any shop's")
	}
	if pieces > maxPieces {
		l.Addf("lines", "%d pieces are more than one problem takes; split it", pieces)
	}
	return l.Err()
}

func inRange(l *fault.List, at string, v, least, most int64) {
	if v < least || v > most {
		l.Addf(at, "must be %d to %d, not %d", least, most, v)
	}
}

func tooMany(l *fault.List, at string, n int) {
	if n > maxRows {
		l.Addf(at, "at most %d rows, not %d", maxRows, n)
	}
}

func newID(l *fault.List, at, id string, seen map[string]bool) {
	switch {
	case id == "":
		l.Addf(at+".id", "must not be empty")
	case len(id) > maxText:
		l.Addf(at+".id", "is longer than %d bytes", maxText)
	case seen[id]:
		l.Addf(at+".id", "%q is used twice", id)
	}
	seen[id] = true
}
