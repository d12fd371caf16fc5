package document

import (
	"ribdesk/internal/caution"
	"ribdesk/internal/drawing"
	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
)

// TakeOffCut is panels of one length.
type TakeOffCut struct {
	Pieces int            `json:"pieces"`
	Length measure.Length `json:"length"`
	Marks  string         `json:"marks"`
	Note   string         `json:"note,omitempty"`
}

// TakeOffPlane is one plane of a roof with its panels.
type TakeOffPlane struct {
	Name    string            `json:"name"`  // Plane A, south side
	Facts   []string          `json:"facts"` // pitch, area, waste
	Drawing drawing.RoofPlane `json:"drawing"`
	Cuts    []TakeOffCut      `json:"cuts"` // of one such plane, by its marks
}

// TakeOffNeed is a kind of trim, or a thing from the shelf.
type TakeOffNeed struct {
	What   string `json:"what"`
	Need   string `json:"need"`             // 62' 6" of edge; 261 pieces
	Item   string `json:"item,omitempty"`   // what is taken for it
	Pieces string `json:"pieces,omitempty"` // 6 of 10'; 2 boxes
}

// TakeOff is a roof with its panels, for whoever lays it.
type TakeOff struct {
	Head
	Goods    Goods          `json:"goods"`
	Coverage measure.Length `json:"coverage"`
	Summary  []TakeOffNeed  `json:"summary"` // pieces, feet, areas, waste
	Planes   []TakeOffPlane `json:"planes"`
	Cuts     []TakeOffCut   `json:"cuts"` // of all planes, longest first
	Trim     []TakeOffNeed  `json:"trim,omitempty"`
	Parts    []TakeOffNeed  `json:"parts,omitempty"`
	Rules    []string       `json:"rules"` // how it was laid
	Says     []string       `json:"says"`  // what to look at, and whose word counts
}

// Kind names the paper.
func (*TakeOff) Kind() Kind { return KindTakeOff }

func (t *TakeOff) check(l *fault.List) {
	if len(t.Planes) == 0 || len(t.Cuts) == 0 {
		l.Addf("planes", "a take-off needs at least one plane with panels")
	}
}

func (t *TakeOff) compose(c *composer) {
	c.noGoods = true
	facts := []fact{{c.t(wDate), c.date(t.Issued)}, {c.t(wPanel), t.Goods.Profile}, {c.t(wCover), c.across(t.Coverage)},
		{c.t(wMetal), join(", ", t.Goods.Colour, t.Goods.Gauge, t.Goods.Material)}}
	for _, s := range t.Summary {
		facts = append(facts, fact{s.What, s.Need})
	}
	c.masthead(facts...)
	c.title(c.t(wVerify))
	c.paragraphs(bodySize, t.Says...)
	for _, p := range t.Planes {
		p.compose(c)
	}
	c.title(c.t(wAllPanels))
	c.takeOffCuts(t.Cuts)
	c.needs(c.t(wTrimNeeded), t.Trim)
	c.needs(c.t(wFromShelf), t.Parts)
	c.title(c.t(wLaidBy))
	c.paragraphs(bodySize, t.Rules...)
	c.cautions(caution.TakeOff)
}

// compose draws a plane, with its panels under it.
func (p TakeOffPlane) compose(c *composer) {
	c.title(p.Name)
	for _, f := range p.Facts {
		c.paragraphs(bodySize, f)
		c.strips[len(c.strips)-1].keep = true
	}
	const tallest = 95.0
	pic := p.Drawing.Picture()
	w := min(c.sheet.inner(), 150)
	high := min(tallest, w*pic.Height/pic.Width)
	c.add(high+2, func(y float64) {
		w := min(w, high*pic.Width/pic.Height)
		c.picture(pic, c.sheet.left+(c.sheet.inner()-w)/2, y+1, w, high)
	}).keep = true
	c.takeOffCuts(p.Cuts)
}

// takeOffCuts sets lengths large, as a shop ticket does.
func (c *composer) takeOffCuts(cuts []TakeOffCut) {
	var rows []record
	for _, k := range cuts {
		rows = append(rows, record{cells: []string{itoa(k.Pieces), c.length(k.Length), k.Marks}, note: k.Note})
	}
	c.table([]column{
		{title: c.t(wPieces), width: 19, right: true, size: 12, face: bold}, {title: c.t(wLength), width: 40, right: true, size: 14, face: bold},
		{title: c.t(wMarks)},
	}, rows)
}

func (c *composer) needs(title string, needs []TakeOffNeed) {
	if len(needs) == 0 {
		return
	}
	c.title(title)
	var rows []record
	for _, n := range needs {
		rows = append(rows, record{cells: []string{n.What, n.Need, n.Item, n.Pieces}})
	}
	c.table([]column{{title: c.t(wWhat), width: 46}, {title: c.t(wNeeded), width: 36}, {title: c.t(wTaken)}, {title: c.t(wPieces), width: 36, right: true}}, rows)
}
