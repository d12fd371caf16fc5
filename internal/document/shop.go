package document

import (
	"time"

	"ribdesk/internal/caution"
	"ribdesk/internal/drawing"
	"ribdesk/internal/fault"
	"ribdesk/internal/measure"
	"ribdesk/internal/money"
)

// CoilUse is a coil as a run sheet names it.
type CoilUse struct {
	Number string         `json:"number"`
	Lot    string         `json:"lot,omitempty"`
	Heat   string         `json:"heat,omitempty"`
	Width  measure.Length `json:"width"`
	Before measure.Length `json:"before"` // on the coil when the run begins
	After  measure.Length `json:"after"`  // expected when it ends
}

// Check is a length to measure on the first piece.
type Check struct {
	What      string         `json:"what"`
	Nominal   measure.Length `json:"nominal"`
	Tolerance measure.Length `json:"tolerance"` // to either side
}

// RunSheet is what an operator runs from. It carries no prices.
type RunSheet struct {
	Head
	Goods         Goods     `json:"goods"`
	Machine       string    `json:"machine"`
	RollerSet     string    `json:"roller_set,omitempty"`
	SetUp         []string  `json:"set_up,omitempty"` // tooling, guides, ribs, hem or notch
	Coils         []CoilUse `json:"coils"`
	Batch         string    `json:"batch,omitempty"`      // such as run 2 of 5
	Changeover    string    `json:"changeover,omitempty"` // what changes before this run
	PlannedStart  time.Time `json:"planned_start,omitzero"`
	PlannedStop   time.Time `json:"planned_stop,omitzero"`
	Bundles       []Bundle  `json:"bundles"`
	Checks        []Check   `json:"checks,omitempty"`
	CoilFeetScrap string    `json:"scrap_note,omitempty"`

	Slits    []drawing.SlitPattern `json:"slits,omitempty"`    // how the width is slit, pattern by pattern
	Sections []drawing.Section     `json:"sections,omitempty"` // what is made
}

// Kind names the paper.
func (*RunSheet) Kind() Kind { return KindRunSheet }

func (s *RunSheet) check(l *fault.List) {
	if len(s.Bundles) == 0 {
		l.Addf("bundles", "a run sheet needs at least one bundle")
	}
	checkBundles(l, s.Bundles)
}

func (s *RunSheet) compose(c *composer) {
	c.floorHead(s.Goods,
		fact{c.t(wMachine), s.Machine}, fact{c.t(wRollers), s.RollerSet}, fact{c.t(wBatch), s.Batch},
		fact{c.t(wPlanned), c.span(s.PlannedStart, s.PlannedStop)},
	)
	if s.Changeover != "" || len(s.SetUp) > 0 {
		c.title(c.t(wChangeover) + " / " + c.t(wSetUp))
		if s.Changeover != "" {
			c.paragraphs(10, s.Changeover)
		}
		c.paragraphs(10, s.SetUp...)
	}
	s.coils(c)
	c.slits(s.Slits)
	c.drawn(s.Sections)
	for _, b := range s.Bundles {
		c.cutList(b, column{title: c.t(wGood), width: 14}, column{title: c.t(wScrapFt), width: 14})
	}
	s.firstPiece(c)
	c.title(c.t(wRecord))
	c.blanks(fact{c.t(wOperator), ""}, fact{c.t(wStart), ""}, fact{c.t(wStop), ""}, fact{c.t(wCoilUsed), ""})
	c.strips[len(c.strips)-1].keep = true
	c.blanks(fact{c.t(wScrap), s.CoilFeetScrap}, fact{c.t(wNotes), ""})
	c.cautions(caution.RunSheet)
}

// floorHead opens a paper of the shop floor: what it is and the metal, large.
func (c *composer) floorHead(g Goods, facts ...fact) {
	h := c.head
	left, right := c.sheet.left, c.sheet.width-c.sheet.right
	c.add(12, func(y float64) {
		c.say(left, y+7.6, bold, 22, c.thing)
		c.sayRight(right, y+7.6, bold, 22, h.Number)
		c.line(left, y+11, right, y+11, cutEdge, drawing.Ink)
	})
	if g != (Goods{}) {
		size, profile := c.fitting(bold, 17, 10, right-left-10, join("  ·  ", g.Profile, g.Colour))
		size2, rest := c.fitting(regular, 12, 8, right-left-10, join("  ·  ", g.Gauge, g.Material, g.Coating))
		c.add(15, func(y float64) {
			x := left
			if c.swatch(x, y+1.2, 6, g.ColourHex) {
				x += 9
			}
			c.say(x, y+6.4, bold, size, profile)
			c.say(x, y+12, regular, size2, rest)
		})
	}
	all := append([]fact{{c.t(wDate), c.date(h.Issued)}, {c.t(wCustomer), h.Customer.Name}, {c.t(wJob), h.Job}}, facts...)
	half := (len(all) + 1) / 2
	c.columns([]columnText{{"", c.factBlock(all[:half])}, {"", c.factBlock(all[half:])}})
}

func (s *RunSheet) coils(c *composer) {
	if len(s.Coils) == 0 {
		return // all from sheets, or still to be bought
	}
	c.title(c.t(wCoils))
	var rows []record
	for _, u := range s.Coils {
		rows = append(rows, record{cells: []string{
			u.Number, u.Lot, u.Heat, c.across(u.Width), s.Goods.Gauge, s.Goods.Colour,
			u.Before.Feet(), u.After.Feet(),
		}})
	}
	c.table([]column{
		{title: c.t(wCoil), width: 26, size: 12, face: bold}, {title: c.t(wLot), width: 22}, {title: c.t(wHeat), width: 20},
		{title: c.t(wWidth), width: 18}, {title: c.t(wGauge)}, {title: c.t(wColour), width: 26},
		{title: c.t(wBefore), width: 23, right: true}, {title: c.t(wAfter), width: 23, right: true},
	}, rows)
}

// cutList sets one bundle: lengths large, as people say them and as the
// machine's control takes them. The blanks are columns to fill in by hand.
func (c *composer) cutList(b Bundle, blanks ...column) {
	c.title(c.f(wBundleOf, b.Number, b.Of) + "    " + c.f(wBundleSum, b.Pieces, c.length(b.Longest), grouped(b.Pounds)))
	if len(b.Cuts) == 0 {
		return // all of it is counted, not cut
	}
	cols := []column{
		{title: c.t(wPieces), width: 19, right: true, size: 14, face: bold},
		{title: c.t(wLength), width: 42, right: true, size: 14, face: bold},
		{title: c.t(wMachineUnit), width: 27, right: true, size: 11},
		{title: c.t(wRunning), width: 24, right: true, size: 10},
		{title: c.t(wLb), width: 18, right: true, size: 10},
		{title: c.t(wOrder)},
	}
	var rows []record
	for _, cut := range b.Cuts {
		cells := []string{
			itoa(cut.Pieces), c.length(cut.Length), cut.Length.Inches(), cut.Running.Feet(), grouped(cut.Pounds),
			join("  ", cut.Order, cut.Mark),
		}
		for range blanks {
			cells = append(cells, "_____")
		}
		rows = append(rows, record{cells: cells, note: join("; ", cut.Customer, cut.Note)})
	}
	c.table(append(cols, blanks...), rows)
}

func (s *RunSheet) firstPiece(c *composer) {
	if len(s.Checks) == 0 {
		return
	}
	c.title(c.t(wFirstPiece))
	var rows []record
	for _, k := range s.Checks {
		rows = append(rows, record{cells: []string{k.What, c.length(k.Nominal), k.Nominal.Inches(), "± " + c.length(k.Tolerance), "__________", "________"}})
	}
	c.table([]column{
		{title: c.t(wWhat)}, {title: c.t(wNominal), width: 34, size: 12, face: bold, right: true}, {title: c.t(wMachineUnit), width: 26, right: true, size: 11},
		{title: c.t(wTolerance), width: 24, right: true}, {title: c.t(wMeasured), width: 30}, {title: c.t(wInitials), width: 24},
	}, rows)
}

// PickTicket gathers an order's bundles and counted goods. It carries no prices.
type PickTicket struct {
	Head
	Order   string   `json:"order"`
	Goods   Goods    `json:"goods"`
	Bundles []Bundle `json:"bundles"`
	Items   []Item   `json:"items,omitempty"`
	LoadAt  string   `json:"load_at,omitempty"`
	Pounds  int      `json:"pounds,omitempty"`
	Notes   []string `json:"notes,omitempty"`

	Sections []drawing.Section `json:"sections,omitempty"`
}

// Kind names the paper.
func (*PickTicket) Kind() Kind { return KindPickTicket }

func (t *PickTicket) check(l *fault.List) {
	if len(t.Bundles) == 0 && len(t.Items) == 0 {
		l.Addf("bundles", "a pick ticket needs something to pick")
	}
	checkBundles(l, t.Bundles)
}

func (t *PickTicket) compose(c *composer) {
	c.floorHead(t.Goods,
		fact{c.t(wOrder), t.Order}, fact{c.t(wPO), t.PO}, fact{c.t(wShipTo), join(", ", t.ShipTo.Name, t.ShipTo.Address.Line())},
		fact{c.t(wLoadAt), t.LoadAt}, fact{c.t(wWeight), c.pounds(t.Pounds)},
	)
	for _, b := range t.Bundles {
		c.cutList(b, column{title: c.t(wPicked), width: 18})
	}
	c.drawn(t.Sections)
	if len(t.Items) > 0 {
		c.title(c.t(wCountedToo))
		var rows []record
		for _, i := range t.Items {
			rows = append(rows, record{cells: []string{i.Name, number(i.Quantity), i.Unit, "_____"}})
		}
		c.table([]column{{title: c.t(wWhat), size: 11}, {title: c.t(wQuantity), width: 30, right: true, size: 14, face: bold}, {title: c.t(wUnit), width: 24, size: 11}, {title: c.t(wPicked), width: 24}}, rows)
	}
	if len(t.Notes) > 0 {
		c.title(c.t(wNotes))
		c.paragraphs(bodySize, t.Notes...)
	}
	c.space(3)
	c.blanks(fact{c.t(wPickedBy), ""}, fact{c.t(wCheckedBy), ""}, fact{c.t(wWhen), ""})
	c.cautions(caution.PickTicket)
}

// Purchase is one thing to buy and why.
type Purchase struct {
	Goods
	Name     string         `json:"name,omitempty"`
	Width    measure.Length `json:"width,omitempty"`
	Short    measure.Length `json:"short,omitempty"` // feet missing
	Quantity money.Rate     `json:"quantity"`
	Unit     string         `json:"unit"`
	Pounds   int            `json:"pounds,omitempty"`
	For      []string       `json:"for,omitempty"` // orders that wait for it
	By       time.Time      `json:"by,omitzero"`
	OneLot   bool           `json:"one_lot,omitempty"`
	Note     string         `json:"note,omitempty"`
}

// PurchaseList is what the plan is short of.
type PurchaseList struct {
	Head
	Supplier string     `json:"supplier,omitempty"`
	Lines    []Purchase `json:"lines"`
}

// Kind names the paper.
func (*PurchaseList) Kind() Kind { return KindPurchaseList }

func (p *PurchaseList) check(l *fault.List) {
	if len(p.Lines) == 0 {
		l.Addf("lines", "there is nothing to buy on this list")
	}
}

func (p *PurchaseList) compose(c *composer) {
	c.floorHead(Goods{}, fact{c.t(wSupplier), p.Supplier})
	c.title(c.t(wToBuyLines))
	var rows []record
	for _, b := range p.Lines {
		lot := ""
		if b.OneLot {
			lot = c.t(wLotNote)
		}
		short := ""
		if b.Short > 0 {
			short = c.f(wInFeet, b.Short.Feet())
		}
		rows = append(rows, record{
			cells: []string{
				join("  ·  ", b.Name, b.Goods.line()), c.across(b.Width), short,
				join(" ", number(b.Quantity), b.Unit), c.pounds(b.Pounds), c.date(b.By),
			},
			note: join("; ", lot, named(c.t(wNeededFor), join(", ", b.For...)), b.Note),
		})
	}
	c.table([]column{
		{title: c.t(wWhat), face: bold}, {title: c.t(wWidth), width: 20, right: true}, {title: c.t(wShort), width: 24, right: true},
		{title: c.t(wToBuy), width: 32, right: true, size: 11, face: bold}, {title: c.t(wWeight), width: 24, right: true}, {title: c.t(wNeededBy), width: 26, right: true},
	}, rows)
}
