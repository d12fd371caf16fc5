package web

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"html/template"
	"regexp"
	"strings"

	"ribdesk/internal/books"
	"ribdesk/internal/desk"
	"ribdesk/internal/drawing"
	"ribdesk/internal/measure"
	"ribdesk/internal/party"
	"ribdesk/internal/stock"
)

// coilsPage is the rack: every coil a long bar to scale, by strip.
type coilsPage struct {
	Base
	Rack   desk.Rack
	Groups []coilGroup
	OnHand measure.Length
	Short  int // strips that open orders lack
}

func (coilsPage) file() string { return "coils" }

// Feet writes a length of strip.
func (*coilsPage) Feet(l measure.Length) string { return wholeFeet(l) }

type coilGroup struct {
	desk.RackStrip
	Swatch template.HTML
	Bars   []coilBar
}

// coilBar is a coil with its picture for a desk and for a phone.
type coilBar struct {
	stock.Coil
	Wide, Narrow template.HTML
	State        string // mounted on, remnant
}

const (
	wideBar   = 1040
	narrowBar = 312
)

// coilTabs are what else is on the Coils sheet.
func (v *visit) coilTabs(here string) []Link {
	return open(v.actor.Role, []Link{
		{Name: "Rack", Path: "/coils"}, {Name: "Receive", Path: "/coils/new"}, {Name: "Allocate", Path: "/coils/allocate"},
		{Name: "To buy", Path: "/coils/buy"}, {Name: "Trim plan", Path: "/coils/trim-plan"}, {Name: "Sheets", Path: "/coils/sheets"}, {Name: "Draw a trim", Path: "/trim"},
	}, here)
}

func showCoils(v *visit) error {
	rack, err := v.desk.Rack(v.ctx(), v.actor)
	if err != nil {
		return err
	}
	p := &coilsPage{Base: Base{Title: "Coils", Sheet: "Coils", Tabs: v.coilTabs("Rack"), Block: Block{Thing: "Coils on hand"}}, Rack: rack}
	for i, s := range rack.Strips {
		g := coilGroup{RackStrip: s, Swatch: swatchOf(s.Colour)}
		for _, c := range s.Coils {
			g.Bars = append(g.Bars, newCoilBar(c, s.Colour, rack.Longest))
		}
		g.Swatch = template.HTML(strings.Replace(string(g.Swatch), "swatch-", fmt.Sprintf("swatch-%d-", i), 1))
		p.Groups = append(p.Groups, g)
		p.OnHand += s.OnHand
	}
	return v.show(p)
}

func newCoilBar(c stock.Coil, colour stock.Colour, full measure.Length) coilBar {
	bar := coilBar{Coil: c}
	view := coilView(c, colour)
	view.Full = full
	view.ID, view.Width = "coil-"+c.Tag, wideBar
	bar.Wide = view.Picture().SVG()
	view.ID, view.Width = "coil-"+c.Tag+"-phone", narrowBar
	bar.Narrow = view.Picture().SVG()
	switch {
	case c.Mounted != "":
		bar.State = "on " + c.Mounted
	case c.Remnant:
		bar.State = "remnant"
	}
	return bar
}

// coilView draws a coil: what is gone, what is promised, what is free.
func coilView(c stock.Coil, colour stock.Colour) drawing.CoilBar {
	lot := c.Tag
	if c.Lot != "" {
		lot += ", lot " + c.Lot
	}
	free := max(0, c.Free())
	return drawing.CoilBar{
		Title: "Coil " + c.Tag, Lot: lot, Note: wholeFeet(c.OnHand) + " ft on hand", Metal: drawing.Swatch(colour.Name, colour.Swatch),
		Desc: fmt.Sprintf("Received %s ft; %s ft used, %s ft promised, %s ft free.", c.Original.Feet(), max(0, c.Original-c.OnHand).Feet(), c.Promised.Feet(), c.Free().Feet()),
		Parts: []drawing.CoilPart{
			{Kind: drawing.PartCut, Length: max(0, c.Original-c.OnHand), Label: "used " + wholeFeet(max(0, c.Original-c.OnHand)) + " ft"},
			{Kind: drawing.PartPromised, Length: min(c.Promised, c.OnHand), Label: "promised " + wholeFeet(c.Promised) + " ft"},
			{Kind: drawing.PartFree, Length: free, Label: "free " + wholeFeet(free) + " ft"},
		},
	}
}

// sendCoilsCSV gives the rack as a table for a spreadsheet; what coils cost is
// for the owner and the counter.
func sendCoilsCSV(v *visit) error {
	rack, err := v.desk.Rack(v.ctx(), v.actor)
	if err != nil {
		return err
	}
	costs := v.actor.Role != party.Operator
	head := []string{"tag", "material", "gauge", "width_in", "colour", "thickness_in", "lot", "supplier", "received", "remnant", "mounted", "received_ft", "on_hand_ft", "promised_ft", "free_ft"}
	if costs {
		head = append(head, "landed", "currency")
	}
	rows := [][]string{head}
	for _, s := range rack.Strips {
		for _, c := range s.Coils {
			row := []string{
				c.Tag, c.Strip.Material, c.Strip.Gauge, c.Strip.Width.Inches(), c.Strip.Colour, c.Thickness.Decimal(measure.Inch, 4), c.Lot, c.Supplier,
				c.Received.Format("2006-01-02"), yesNo(c.Remnant), c.Mounted, c.Original.Feet(), c.OnHand.Feet(), c.Promised.Feet(), c.Free().Feet(),
			}
			if costs {
				row = append(row, c.Landed.Plain(), string(c.Landed.Currency()))
			}
			rows = append(rows, row)
		}
	}
	return v.sendCSV("coils.csv", rows)
}

func yesNo(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}

// sendCSV sends a table as RFC 4180 has it. A cell that a spreadsheet would take
// for a formula is led by an apostrophe.
func (v *visit) sendCSV(name string, rows [][]string) error {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.UseCRLF = true
	for _, row := range rows {
		for i, cell := range row {
			if !numeric.MatchString(cell) {
				row[i] = books.SafeCell(cell)
			}
		}
		if err := w.Write(row); err != nil {
			return err
		}
	}
	w.Flush()
	if err := w.Error(); err != nil {
		return err
	}
	return v.sendFile("text/csv; charset=utf-8", name, false, b.Bytes())
}

// numeric is what stays a number in a spreadsheet; -1-1 would be reckoned.
var numeric = regexp.MustCompile(`^-?[0-9]+(\.[0-9]+)?$`)

// wholeFeet writes a length of strip as people speak of it: 1,204. The exact
// length stands in the ledger.
func wholeFeet(l measure.Length) string {
	s := l.Decimal(measure.Foot, 0)
	for i := len(s) - 3; i > 0 && s[i-1] != '-'; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	return s
}
