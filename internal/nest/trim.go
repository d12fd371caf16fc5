package nest

import (
	"fmt"

	"ribdesk/internal/fault"
)

// TrimProblem is problem B: slit and cross-cut blanks out of sheet or coil.
type TrimProblem struct {
	Head
	Params TrimParams `json:"params"`
	Stock  []Stock    `json:"stock"`
	Items  []Item     `json:"items"`
}

// TrimParams are lengths in sixteenths of an inch and money in thousandths of a cent.
type TrimParams struct {
	EdgeTrim   int64 `json:"edge_trim"`   // lost along each edge of the stock
	Saw        int64 `json:"saw"`         // lost between two pieces of a strip
	MaxStrips  int64 `json:"max_strips"`  // strips of one set-up
	MinCut     int64 `json:"min_cut"`     // shortest piece of coil
	MaxCut     int64 `json:"max_cut"`     // longest piece of coil, the table
	Setup      int64 `json:"setup"`       // money for a different set-up
	DropMin    int64 `json:"drop_min"`    // width of a drop worth keeping
	DropCredit int64 `json:"drop_credit"` // money per square sixteenth of such a drop
	Pass       int64 `json:"pass"`        // money for slitting one sheet
}

// Forms of stock.
const (
	SheetForm = "sheet"
	CoilForm  = "coil"
)

// Stock is a size of sheet, or a coil that is cut to any length.
type Stock struct {
	ID          string `json:"id"`
	Form        string `json:"form"` // SheetForm or CoilForm
	Width       int64  `json:"width"`
	Length      int64  `json:"length,omitempty"`        // of a sheet
	Cost        int64  `json:"cost,omitempty"`          // of a sheet
	CostPerUnit int64  `json:"cost_per_unit,omitempty"` // of a sixteenth of an inch of coil
	Count       *int64 `json:"count"`                   // sheets (or coil cuts) there are; nil for any number
}

// Item is a number of equal blanks.
type Item struct {
	ID     string `json:"id"`
	Name   string `json:"name,omitempty"`
	Girth  int64  `json:"girth"`
	Length int64  `json:"length"`
	Qty    int64  `json:"qty"`
}

// Run is one set-up applied to a number of equal sheets or coil cuts.
type Run struct {
	Stock  string   `json:"stock"`
	Length int64    `json:"length"`
	Times  int64    `json:"times"`
	Strips []Strips `json:"strips"`
}

// Strips are Count equal strips, each cross-cut into the pieces.
type Strips struct {
	Girth  int64    `json:"girth"`
	Count  int64    `json:"count"`
	Pieces []Pieces `json:"pieces"`
}

// Pieces are a number of blanks of an item in one strip.
type Pieces struct {
	Item string `json:"item"`
	Qty  int64  `json:"qty"`
}

// Validate refuses what the solver can't take, at the field's path.
func (p *TrimProblem) Validate() error {
	var l fault.List
	if p.Kind != "" && p.Kind != "trim" {
		l.Addf("kind", `must be "trim" here`)
	}
	q := p.Params
	for _, f := range []struct {
		name        string
		value       int64
		least, most int64
	}{
		{"edge_trim", q.EdgeTrim, 0, maxLength}, {"saw", q.Saw, 0, maxLength}, {"max_strips", q.MaxStrips, 1, maxLength},
		{"min_cut", q.MinCut, 0, maxLength}, {"max_cut", q.MaxCut, 0, maxLength}, {"setup", q.Setup, 0, maxMoney},
		{"drop_min", q.DropMin, 0, maxLength}, {"drop_credit", q.DropCredit, 0, maxRate}, {"pass", q.Pass, 0, maxMoney},
	} {
		inRange(&l, "params."+f.name, f.value, f.least, f.most)
	}
	if q.MinCut > q.MaxCut {
		l.Addf("params.min_cut", "is more than max_cut")
	}
	tooMany(&l, "stock", len(p.Stock))
	tooMany(&l, "items", len(p.Items))
	ids := map[string]bool{}
	for i, s := range p.Stock {
		at := fmt.Sprintf("stock[%d]", i)
		newID(&l, at, s.ID, ids)
		p.validateStock(&l, at, s)
	}
	ids = map[string]bool{}
	var pieces int64
	for i, t := range p.Items {
		at := fmt.Sprintf("items[%d]", i)
		newID(&l, at, t.ID, ids)
		inRange(&l, at+".girth", t.Girth, 1, maxWidth)
		inRange(&l, at+".length", t.Length, 1, maxLength)
		inRange(&l, at+".qty", t.Qty, 0, maxQty)
		pieces += max(t.Qty, 0)
	}
	if pieces > maxPieces {
		l.Addf("items", "%d pieces are more than one problem takes; split it", pieces)
	}
	return l.Err()
}

func (p *TrimProblem) validateStock(l *fault.List, at string, s Stock) {
	inRange(l, at+".width", s.Width, 1, maxWidth)
	if s.Count != nil {
		inRange(l, at+".count", *s.Count, 0, maxPieces)
	}
	longest := p.Params.MaxCut
	switch s.Form {
	case SheetForm:
		inRange(l, at+".length", s.Length, 1, maxLength)
		inRange(l, at+".cost", s.Cost, 0, maxMoney)
		longest = s.Length
	case CoilForm:
		inRange(l, at+".cost_per_unit", s.CostPerUnit, 0, maxRate)
		if s.CostPerUnit > 0 && longest > maxMoney/s.CostPerUnit {
			l.Addf(at+".cost_per_unit", "times max_cut is more money than one piece of coil can cost")
		}
	default:
		l.Addf(at+".form", `must be "sheet" or "coil", not %q`, s.Form)
	}
	if q := p.Params; q.DropCredit > 0 && longest > 0 && s.Width > 0 {
		whole := maxMoney / q.DropCredit
		if s.Form == SheetForm {
			whole = s.Cost / q.DropCredit
		} else {
			whole = min(whole, s.CostPerUnit*longest/q.DropCredit)
		}
		if s.Width > whole/longest {
			l.Addf("params.drop_credit", "makes a drop worth more than the stock %q it comes from", s.ID)
		}
	}
}

// room is the width of a stock that strips can use.
func (p *TrimProblem) room(s Stock) int64 { return s.Width - 2*p.Params.EdgeTrim }

// sheetCost is the cost of one sheet or coil cut with used sixteenths of its
// width slit off in strips, its pass and its drop's credit in it.
func (p *TrimProblem) sheetCost(s Stock, length, used int64) int64 {
	cost := s.Cost
	if s.Form == CoilForm {
		cost = s.CostPerUnit * length
	}
	cost += p.Params.Pass
	if drop := p.room(s) - used; drop >= p.Params.DropMin {
		cost -= p.Params.DropCredit * drop * length
	}
	return cost
}
